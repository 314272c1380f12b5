//! The reader of notation: from operations back to the text a person would write.
//!
//! Printing and reading are inverse: a printed formula reads back as the same operations.

use super::expression::OWN_READING;
use crate::formula::Shown;
use crate::formula::op::{At, Binary, Comparison, Formula, Many, Op, Unary};
use crate::quantity::{Beats, Content, Origin, Reading, Spread, SpreadForm, Unit};

/// How tightly a text holds together; parentheses go around what is looser than its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Bond {
    Else,
    Or,
    And,
    Not,
    Comparison,
    Sum,
    Product,
    Sign,
    Power,
    Atom,
}

/// The notation of a formula.
pub fn write_formula(formula: &Formula, names: &[&str]) -> String {
    write_op(formula, formula.root(), names)
}

/// The notation of the part of a formula that ends at operation `at`; empty where there is no
/// such operation.
pub fn write_op(formula: &Formula, at: At, names: &[&str]) -> String {
    write(formula, at, names, None)
}

/// A formula with figures put in for its operands, as `shown` has them, and only the branches that
/// were taken: for people, not to be read back.
pub(crate) fn write_figures(formula: &Formula, shown: Shown<'_>) -> String {
    let figures: Vec<&str> = shown.operands.iter().map(String::as_str).collect();
    write(formula, formula.root(), &figures, Some(shown))
}

fn write(formula: &Formula, at: At, names: &[&str], figures: Option<Shown<'_>>) -> String {
    if at as usize >= formula.ops().len() {
        return String::new();
    }
    let mut writer = Writer {
        formula,
        names,
        figures,
        first: first_within(formula, at),
        uses: Vec::new(),
        done: Vec::new(),
    };
    writer.count_uses(at);
    for (i, op) in formula.ops()[writer.first..=at as usize].iter().enumerate() {
        let text = (writer.uses[i] > 0).then(|| writer.one(*op));
        writer.done.push(text);
    }
    writer.part(at, Bond::Else)
}

/// The first operation that `at` is made of.
fn first_within(formula: &Formula, at: At) -> usize {
    let (mut first, mut i) = (at as usize, at as usize);
    loop {
        formula.each_argument(formula.ops()[i], |a| first = first.min(a as usize));
        if i == first {
            return first;
        }
        i -= 1;
    }
}

struct Writer<'a> {
    formula: &'a Formula,
    names: &'a [&'a str],
    /// Where figures stand for the operands: those of the cell's own reading, and the branches.
    figures: Option<Shown<'a>>,
    /// Number of the first operation that is written; the lists below start there.
    first: usize,
    /// Uses of each operation that are still to come.
    uses: Vec<u32>,
    done: Vec<Option<(String, Bond)>>,
}

impl Writer<'_> {
    /// Counts how often each operation is used on the way to `at`: one that is not, need not be
    /// written.
    fn count_uses(&mut self, at: At) {
        let (formula, first) = (self.formula, self.first);
        let mut uses = vec![0; at as usize + 1 - first];
        uses[at as usize - first] = 1;
        for i in (0..uses.len()).rev() {
            if uses[i] > 0 {
                let op = formula.ops()[first + i];
                formula.each_argument(op, |a| uses[a as usize - first] += 1);
            }
        }
        self.uses = uses;
    }

    /// The text of a part, in parentheses if it is looser than `least`.
    fn part(&mut self, at: At, least: Bond) -> String {
        let at = at as usize - self.first;
        self.uses[at] -= 1;
        // The last use takes the text: copying it at each step would take the square of a
        // formula's length.
        let text = match self.uses[at] {
            0 => self.done[at].take(),
            _ => self.done[at].clone(),
        };
        match text {
            Some((text, bond)) if bond < least => format!("({text})"),
            Some((text, _)) => text,
            None => String::new(),
        }
    }

    /// Two parts with a sign between them.
    fn pair(&mut self, a: (At, Bond), sign: &str, b: (At, Bond)) -> String {
        let mut text = self.part(a.0, a.1);
        text.push_str(sign);
        text.push_str(&self.part(b.0, b.1));
        text
    }

    /// The operation that a choice among figures took its value from, if it took one.
    fn taken(&self) -> Option<At> {
        let here = self.first + self.done.len();
        self.figures?.taken.get(here).copied().flatten()
    }

    fn one(&mut self, op: Op) -> (String, Bond) {
        if let Some(taken) = self.taken() {
            let text = self.done[taken as usize - self.first].clone();
            return text.unwrap_or((String::new(), Bond::Atom));
        }
        let names = self.names;
        let name = |k: u32| names.get(k as usize).copied().unwrap_or("…");
        let atom = |text: String| (text, Bond::Atom);
        match op {
            Op::Number { value, unit } => {
                let text = match (self.figures.is_some(), unit.pretty()) {
                    (false, _) | (true, "") => quantity(value.0, unit),
                    (true, pretty) => format!("{} {pretty}", number(value.0)),
                };
                (text, bond_of(value.0, unit))
            }
            Op::Pi => atom("pi".into()),
            Op::Cell(k) if self.figures.is_some() => (name(k).into(), bond_of_figure(name(k))),
            Op::Cell(k) => atom(name(k).into()),
            Op::Reading => match self.figures {
                Some(shown) => (shown.reading.into(), bond_of_figure(shown.reading)),
                None => atom(OWN_READING.into()),
            },
            Op::Unary(Unary::Negate, a) => (format!("-{}", self.part(a, Bond::Sign)), Bond::Sign),
            Op::Unary(unary, a) => {
                let function = match unary {
                    Unary::Sqrt => "sqrt",
                    Unary::Exp => "exp",
                    Unary::Ln => "ln",
                    Unary::Cos => "cos",
                    Unary::Abs | Unary::Negate => "abs",
                };
                atom(format!("{function}({})", self.part(a, Bond::Else)))
            }
            Op::Binary(binary, a, b) => self.binary(binary, a, b),
            Op::Many(many, start, len) => {
                let function = match many {
                    Many::Min => "min",
                    Many::Max => "max",
                    Many::Mean => "mean",
                };
                let args = self.formula.args(start, len).iter();
                let args: Vec<String> = args.map(|a| self.part(*a, Bond::Else)).collect();
                atom(format!("{function}({})", args.join(", ")))
            }
            Op::Clamp(a, b, c) => {
                let [a, b, c] = [a, b, c].map(|x| self.part(x, Bond::Else));
                atom(format!("clamp({a}, {b}, {c})"))
            }
            Op::If(c, a, b) => {
                let [c, a] = [c, a].map(|x| self.part(x, Bond::Or));
                let b = self.part(b, Bond::Else);
                (format!("if {c} then {a} else {b}"), Bond::Else)
            }
            Op::Else(a, b) => {
                let left = left_of_else(self.formula, a);
                let text = self.pair((a, left), " else ", (b, Bond::Or));
                (text, Bond::Else)
            }
            Op::Compare(comparison, a, b) => {
                let sign = match comparison {
                    Comparison::Less => " < ",
                    Comparison::LessEqual => " <= ",
                    Comparison::Greater => " > ",
                    Comparison::GreaterEqual => " >= ",
                };
                let text = self.pair((a, Bond::Sum), sign, (b, Bond::Sum));
                (text, Bond::Comparison)
            }
            Op::And(a, b) => {
                let text = self.pair((a, Bond::And), " and ", (b, Bond::Not));
                (text, Bond::And)
            }
            Op::Or(a, b) => (self.pair((a, Bond::Or), " or ", (b, Bond::And)), Bond::Or),
            Op::Not(a) => (format!("not {}", self.part(a, Bond::Not)), Bond::Not),
            Op::Is(k, text) => atom(format!("{} is {}", name(k), self.formula.text(text))),
            Op::Differs(a, b) => atom(format!("differs({}, {})", name(a), name(b))),
            Op::BeatCount(k) => atom(format!("beat_count({})", name(k))),
            Op::Withheld(text) => atom(format!("withheld \"{}\"", self.formula.text(text))),
            Op::Marked(origin, a) => {
                let word = origin.word();
                atom(format!("{word}({})", self.part(a, Bond::Else)))
            }
        }
    }

    fn binary(&mut self, binary: Binary, a: At, b: At) -> (String, Bond) {
        let (sign, bond, left, right) = match binary {
            Binary::Add => (" + ", Bond::Sum, Bond::Sum, Bond::Product),
            Binary::Subtract => (" - ", Bond::Sum, Bond::Sum, Bond::Product),
            Binary::Multiply => (" * ", Bond::Product, Bond::Product, Bond::Sign),
            Binary::Divide => (" / ", Bond::Product, Bond::Product, Bond::Sign),
            Binary::Power => ("^", Bond::Power, Bond::Atom, Bond::Sign),
        };
        (self.pair((a, left), sign, (b, right)), bond)
    }
}

/// `2 cm^2` would be two square centimeters, and `-5^2` the opposite of a square.
fn bond_of(value: f64, unit: Unit) -> Bond {
    if value.is_sign_negative() {
        Bond::Sign
    } else if unit != Unit::ONE {
        Bond::Power
    } else {
        Bond::Atom
    }
}

/// The same of a figure for people; what is divided by `4.4 L/min` is not divided by minutes.
fn bond_of_figure(figure: &str) -> Bond {
    if figure.starts_with('−') {
        Bond::Sum
    } else if figure.contains('/') {
        Bond::Product
    } else if figure.contains(' ') {
        Bond::Power
    } else {
        Bond::Atom
    }
}

/// A branch on the left of `else` would swallow it: `(if … else x) else y`.
fn left_of_else(formula: &Formula, a: At) -> Bond {
    match formula.ops()[a as usize] {
        Op::If(..) => Bond::Or,
        _ => Bond::Else,
    }
}

/// A number with its unit, as the notation reads it back bit for bit.
pub fn quantity(value: f64, unit: Unit) -> String {
    if unit == Unit::ONE {
        number(value)
    } else {
        format!("{} {}", number(value), unit_text(unit))
    }
}

/// The code of a unit as it can stand after a number, where a digit would belong to the number.
fn unit_text(unit: Unit) -> &'static str {
    let code = unit.code();
    match code.strip_prefix('1') {
        Some(rest) if rest.starts_with('/') => rest,
        _ => code,
    }
}

/// The shortest text that reads back as the same number.
pub fn number(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && !(1e-5..1e16).contains(&size) {
        format!("{value:e}")
    } else {
        format!("{value}")
    }
}

/// The notation of a reading.
pub fn write_reading(reading: &Reading) -> String {
    let mut text = match reading.content() {
        Content::Unknown => {
            return match reading.unit_to_come() {
                Some(unit) => format!("? {}", unit.code()),
                None => "?".into(),
            };
        }
        Content::Unobtainable => return "unobtainable".into(),
        Content::Word(word) => word.clone(),
        Content::Magnitude { value, unit } => match reading.beats() {
            // A list of one would ask for a scatter that it has not.
            Beats::Mean(values) if values.len() == 1 && reading.spread().is_none() => {
                format!("{} (n = 1)", quantity(*value, *unit))
            }
            Beats::Mean(values) => beats("beats", values, *unit),
            Beats::Largest(values) => beats("largest", values, *unit),
            Beats::Unstated | Beats::Averaged(_) => quantity(*value, *unit),
        },
    };
    if reading.origin() != Origin::Measured {
        text.push(' ');
        text.push_str(reading.origin().word());
    }
    if let Beats::Averaged(n) = reading.beats() {
        text.push_str(&format!(" (n = {n})"));
    }
    if let Some(spread) = reading.spread() {
        text.push_str(&write_spread(spread));
    }
    if let Some(between) = reading.between() {
        let amount = quantity(between.spread().amount(), between.spread().unit());
        let freedom = between.freedom();
        let freedom = freedom.map_or(String::new(), |n| format!(" freedom {n}"));
        text.push_str(&format!(" (between {amount}{freedom})"));
    }
    text
}

fn beats(rule: &str, values: &[f64], unit: Unit) -> String {
    let values: Vec<String> = values.iter().map(|v| number(*v)).collect();
    let unit = if unit == Unit::ONE {
        String::new()
    } else {
        format!(" {}", unit_text(unit))
    };
    format!("{rule}({}){unit}", values.join(", "))
}

fn write_spread(spread: Spread) -> String {
    let amount = quantity(spread.amount(), spread.unit());
    let freedom = spread.freedom();
    let freedom = freedom.map_or(String::new(), |n| format!(" freedom {n}"));
    match spread.form() {
        SpreadForm::Standard => format!(" (u = {amount}{freedom})"),
        SpreadForm::Within => format!(" (within {amount}{freedom})"),
        SpreadForm::Triangular => format!(" (triangular {amount}{freedom})"),
        SpreadForm::Expanded { factor } => {
            format!(" ± {amount} (k = {}{freedom})", number(factor))
        }
    }
}

/// Whether a text can name a cell.
pub fn is_name(text: &str) -> bool {
    let mut cursor = super::cursor::Cursor::new(text, 0);
    cursor.name().is_some_and(|(name, _)| name == text) && !super::cursor::RESERVED.contains(&text)
}
