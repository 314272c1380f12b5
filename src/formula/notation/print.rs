//! The reader of notation: from operations back to the text a person would write.
//!
//! Printing and reading are inverse: a printed formula reads back as the same operations.

use super::expression::OWN_READING;
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

/// The notation of the part of a formula that ends at operation `at`.
pub fn write_op(formula: &Formula, at: At, names: &[&str]) -> String {
    let mut done: Vec<(String, Bond)> = Vec::with_capacity(at as usize + 1);
    for op in &formula.ops()[..=at as usize] {
        let text = one(formula, *op, names, &mut done);
        done.push(text);
    }
    done.pop().map(|(text, _)| text).unwrap_or_default()
}

/// Takes the text of a part, in parentheses if it is looser than `least`.
fn part(done: &mut [(String, Bond)], at: At, least: Bond) -> String {
    // Each part is used once, so its text can be taken rather than copied.
    let (text, bond) = std::mem::replace(&mut done[at as usize], (String::new(), Bond::Atom));
    if bond < least {
        format!("({text})")
    } else {
        text
    }
}

fn one(formula: &Formula, op: Op, names: &[&str], done: &mut [(String, Bond)]) -> (String, Bond) {
    let name = |k: u32| names.get(k as usize).copied().unwrap_or("…");
    let atom = |text: String| (text, Bond::Atom);
    match op {
        Op::Number { value, unit } => atom(quantity(value.0, unit)),
        Op::Pi => atom("pi".into()),
        Op::Cell(k) => atom(name(k).into()),
        Op::Reading => atom(OWN_READING.into()),
        Op::Unary(Unary::Negate, a) => (format!("-{}", part(done, a, Bond::Sign)), Bond::Sign),
        Op::Unary(unary, a) => {
            let function = match unary {
                Unary::Sqrt => "sqrt",
                Unary::Exp => "exp",
                Unary::Ln => "ln",
                Unary::Cos => "cos",
                Unary::Abs | Unary::Negate => "abs",
            };
            atom(format!("{function}({})", part(done, a, Bond::Else)))
        }
        Op::Binary(binary, a, b) => write_binary(binary, a, b, done),
        Op::Many(many, start, len) => {
            let function = match many {
                Many::Min => "min",
                Many::Max => "max",
                Many::Mean => "mean",
            };
            let args: Vec<String> = formula
                .args(start, len)
                .iter()
                .map(|a| part(done, *a, Bond::Else))
                .collect();
            atom(format!("{function}({})", args.join(", ")))
        }
        Op::Clamp(a, b, c) => {
            let [a, b, c] = [a, b, c].map(|x| part(done, x, Bond::Else));
            atom(format!("clamp({a}, {b}, {c})"))
        }
        Op::If(c, a, b) => {
            let [c, a] = [c, a].map(|x| part(done, x, Bond::Or));
            let b = part(done, b, Bond::Else);
            (format!("if {c} then {a} else {b}"), Bond::Else)
        }
        Op::Else(a, b) => {
            let a = left_of_else(formula, a, done);
            (format!("{a} else {}", part(done, b, Bond::Or)), Bond::Else)
        }
        Op::Compare(comparison, a, b) => {
            let sign = match comparison {
                Comparison::Less => "<",
                Comparison::LessEqual => "<=",
                Comparison::Greater => ">",
                Comparison::GreaterEqual => ">=",
            };
            let [a, b] = [a, b].map(|x| part(done, x, Bond::Sum));
            (format!("{a} {sign} {b}"), Bond::Comparison)
        }
        Op::And(a, b) => {
            let a = part(done, a, Bond::And);
            (format!("{a} and {}", part(done, b, Bond::Not)), Bond::And)
        }
        Op::Or(a, b) => {
            let a = part(done, a, Bond::Or);
            (format!("{a} or {}", part(done, b, Bond::And)), Bond::Or)
        }
        Op::Not(a) => (format!("not {}", part(done, a, Bond::Not)), Bond::Not),
        Op::Is(k, text) => atom(format!("{} is {}", name(k), formula.text(text))),
        Op::Differs(a, b) => atom(format!("differs({}, {})", name(a), name(b))),
        Op::BeatCount(k) => atom(format!("beat_count({})", name(k))),
        Op::Withheld(text) => atom(format!("withheld \"{}\"", formula.text(text))),
        Op::Marked(origin, a) => {
            let word = origin.word();
            atom(format!("{word}({})", part(done, a, Bond::Else)))
        }
    }
}

/// A branch on the left of `else` would swallow it: `(if … else x) else y`.
fn left_of_else(formula: &Formula, a: At, done: &mut [(String, Bond)]) -> String {
    let least = match formula.ops()[a as usize] {
        Op::If(..) => Bond::Or,
        _ => Bond::Else,
    };
    part(done, a, least)
}

fn write_binary(binary: Binary, a: At, b: At, done: &mut [(String, Bond)]) -> (String, Bond) {
    let (sign, bond, left, right) = match binary {
        Binary::Add => (" + ", Bond::Sum, Bond::Sum, Bond::Product),
        Binary::Subtract => (" - ", Bond::Sum, Bond::Sum, Bond::Product),
        Binary::Multiply => (" * ", Bond::Product, Bond::Product, Bond::Sign),
        Binary::Divide => (" / ", Bond::Product, Bond::Product, Bond::Sign),
        Binary::Power => ("^", Bond::Power, Bond::Atom, Bond::Sign),
    };
    let mut text = part(done, a, left);
    if binary == Binary::Power
        && text.ends_with(|c: char| c.is_alphanumeric() || "%]'°".contains(c))
        && text.contains(' ')
    {
        // `2 cm^2` would be two square centimeters.
        text = format!("({text})");
    }
    text.push_str(sign);
    text.push_str(&part(done, b, right));
    (text, bond)
}

/// A number with its unit, as the notation reads it back bit for bit.
pub fn quantity(value: f64, unit: Unit) -> String {
    if unit == Unit::ONE {
        number(value)
    } else {
        format!("{} {}", number(value), unit.code())
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
    text
}

fn beats(rule: &str, values: &[f64], unit: Unit) -> String {
    let values: Vec<String> = values.iter().map(|v| number(*v)).collect();
    let unit = if unit == Unit::ONE {
        String::new()
    } else {
        format!(" {}", unit.code())
    };
    format!("{rule}({}){unit}", values.join(", "))
}

fn write_spread(spread: Spread) -> String {
    let amount = quantity(spread.amount(), spread.unit());
    match spread.form() {
        SpreadForm::Standard => format!(" (u = {amount})"),
        SpreadForm::Within => format!(" (within {amount})"),
        SpreadForm::Triangular => format!(" (triangular {amount})"),
        SpreadForm::Expanded { factor } => format!(" ± {amount} (k = {})", number(factor)),
    }
}

/// Whether a text can name a cell.
pub fn is_name(text: &str) -> bool {
    let mut cursor = super::cursor::Cursor::new(text, 0);
    cursor.name().is_some_and(|(name, _)| name == text) && !super::cursor::RESERVED.contains(&text)
}
