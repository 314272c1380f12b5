//! The reader for people: a formula in LaTeX, with symbols or with numbers put in.

use super::op::{At, Binary, Comparison, Formula, Many, Op, Unary};
use crate::quantity::{Origin, Unit};

/// What stands for each operand in a formula that is typeset, or written with figures.
#[derive(Clone, Copy, Debug)]
pub struct Shown<'a> {
    /// What stands for each operand: in LaTeX its symbol, or its number with unit.
    pub operands: &'a [String],
    /// The same for the reading of the formula's own cell.
    pub reading: &'a str,
    /// For each operation the branch it took, where only those are to be shown; empty to show
    /// all branches.
    pub taken: &'a [Option<At>],
}

const CASES: &str = r"\begin{cases} ";
const END: &str = r" \end{cases}";

/// How tightly a part holds together.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
enum Bond {
    Else,
    Or,
    And,
    Comparison,
    Sum,
    Product,
    Power,
    Atom,
}

/// The formula in LaTeX.
pub fn typeset(formula: &Formula, shown: Shown<'_>) -> String {
    let mut uses = vec![0u32; formula.ops().len()];
    for op in formula.ops() {
        formula.each_argument(*op, |a| uses[a as usize] += 1);
    }
    let mut writer = Writer {
        formula,
        shown,
        uses,
        done: Vec::with_capacity(formula.ops().len()),
    };
    for (at, op) in formula.ops().iter().enumerate() {
        let part = match shown.taken.get(at).copied().flatten() {
            Some(branch) => writer.done[branch as usize].clone(),
            None => writer.one(*op),
        };
        writer.done.push(part);
    }
    writer.done.pop().map(|(text, _)| text).unwrap_or_default()
}

struct Writer<'a> {
    formula: &'a Formula,
    shown: Shown<'a>,
    /// Uses of each operation that are still to come.
    uses: Vec<u32>,
    done: Vec<(String, Bond)>,
}

impl Writer<'_> {
    /// The text of a part, in parentheses if it is looser than `least`.
    fn part(&mut self, at: At, least: Bond) -> String {
        let (mut text, bond) = self.take(at);
        if bond < least {
            text.insert_str(0, r"\left(");
            text.push_str(r"\right)");
        }
        text
    }

    /// The text of a part where nothing around it can be mistaken for a part of it.
    fn plain(&mut self, at: At) -> String {
        self.take(at).0
    }

    fn take(&mut self, at: At) -> (String, Bond) {
        let at = at as usize;
        self.uses[at] -= 1;
        let (text, bond) = &mut self.done[at];
        // The last use takes the text: copying it at each step would take the square of a
        // formula's length.
        let text = match self.uses[at] {
            0 => std::mem::take(text),
            _ => text.clone(),
        };
        (text, *bond)
    }

    /// Two parts with a sign between them.
    fn pair(&mut self, a: (At, Bond), sign: &str, b: (At, Bond)) -> String {
        let mut text = self.part(a.0, a.1);
        text.push_str(sign);
        text.push_str(&self.part(b.0, b.1));
        text
    }

    fn operand(&self, k: u32) -> &str {
        self.shown.operands.get(k as usize).map_or("", |s| s)
    }

    fn one(&mut self, op: Op) -> (String, Bond) {
        let atom = |text: String| (text, Bond::Atom);
        match op {
            Op::Number { value, unit } => {
                let text = quantity(value.0, unit);
                let bond = bond_of_shown(&text);
                (text, bond)
            }
            Op::Pi => atom(r"\pi".into()),
            Op::Cell(k) => shown_as_is(self.operand(k)),
            Op::Reading => shown_as_is(self.shown.reading),
            Op::Unary(unary, a) => self.unary(unary, a),
            Op::Binary(binary, a, b) => self.binary(binary, a, b),
            Op::Many(many, start, len) => {
                let name = match many {
                    Many::Min => r"\min",
                    Many::Max => r"\max",
                    Many::Mean => r"\operatorname{mean}",
                };
                let args = self.formula.args(start, len).iter();
                let args: Vec<String> = args.map(|a| self.plain(*a)).collect();
                atom(format!(r"{name}\left({}\right)", args.join(r",\; ")))
            }
            Op::Clamp(a, b, c) => {
                let [a, b, c] = [a, b, c].map(|x| self.plain(x));
                atom(format!(
                    r"\min\left(\max\left({a},\; {b}\right),\; {c}\right)"
                ))
            }
            Op::If(c, a, b) => {
                let is_chain = matches!(self.formula.ops()[b as usize], Op::If(..));
                let [c, a, b] = [c, a, b].map(|x| self.plain(x));
                // `else if` goes on in the same braces.
                let rest = match b.strip_prefix(CASES).and_then(|b| b.strip_suffix(END)) {
                    Some(rows) if is_chain => rows.to_owned(),
                    _ => format!(r"{b} & \text{{otherwise}}"),
                };
                let text = format!(r"{CASES}{a} & \text{{if }} {c} \\ {rest}{END}");
                (text, Bond::Else)
            }
            Op::Else(a, b) => {
                let text = self.pair((a, Bond::Else), r" \;\text{, else }\; ", (b, Bond::Or));
                (text, Bond::Else)
            }
            Op::Compare(comparison, a, b) => {
                let sign = match comparison {
                    Comparison::Less => " < ",
                    Comparison::LessEqual => r" \le ",
                    Comparison::Greater => " > ",
                    Comparison::GreaterEqual => r" \ge ",
                };
                let text = self.pair((a, Bond::Sum), sign, (b, Bond::Sum));
                (text, Bond::Comparison)
            }
            Op::And(a, b) => {
                let text = self.pair((a, Bond::And), r" \text{ and } ", (b, Bond::Comparison));
                (text, Bond::And)
            }
            Op::Or(a, b) => {
                let text = self.pair((a, Bond::Or), r" \text{ or } ", (b, Bond::And));
                (text, Bond::Or)
            }
            Op::Not(a) => {
                let text = format!(r"\text{{not }}\left({}\right)", self.plain(a));
                (text, Bond::Comparison)
            }
            Op::Is(k, text) => {
                let word = escaped(self.formula.text(text));
                let text = format!(r"{} \text{{ is {word}}}", self.operand(k));
                (text, Bond::Comparison)
            }
            Op::Differs(a, b) => {
                let text = format!(r"{} \ne {}", self.operand(a), self.operand(b));
                (text, Bond::Comparison)
            }
            Op::BeatCount(k) => atom(format!(
                r"n_{{\text{{beats}}}}\left({}\right)",
                self.operand(k)
            )),
            Op::Withheld(text) => {
                let words = format!("withheld: {}", self.formula.text(text));
                atom(in_lines(&words))
            }
            Op::Marked(Origin::Measured, a) => self.take(a),
            Op::Marked(origin @ (Origin::Estimated | Origin::Assumed), a) => {
                let text = self.part(a, Bond::Sum);
                (
                    format!(r"{text} \;\text{{({})}}", origin.word()),
                    Bond::Else,
                )
            }
        }
    }

    fn unary(&mut self, unary: Unary, a: At) -> (String, Bond) {
        let within = |before: &str, text: String, after: &str| {
            (format!("{before}{text}{after}"), Bond::Atom)
        };
        match unary {
            Unary::Negate => (format!("-{}", self.part(a, Bond::Product)), Bond::Sum),
            Unary::Sqrt => within(r"\sqrt{", self.plain(a), "}"),
            Unary::Exp => within(r"\exp\left(", self.plain(a), r"\right)"),
            Unary::Ln => within(r"\ln\left(", self.plain(a), r"\right)"),
            Unary::Cos => within(r"\cos\left(", self.plain(a), r"\right)"),
            Unary::Abs => within(r"\left|", self.plain(a), r"\right|"),
        }
    }

    fn binary(&mut self, binary: Binary, a: At, b: At) -> (String, Bond) {
        // After a sign another one, `a + -b`, would read badly.
        let after_sign = |writer: &Self| match writer.done[b as usize].0.starts_with('-') {
            true => Bond::Product,
            false => Bond::Sum,
        };
        match binary {
            Binary::Add => {
                let right = after_sign(self);
                let text = self.pair((a, Bond::Sum), " + ", (b, right));
                (text, Bond::Sum)
            }
            Binary::Subtract => {
                let text = self.pair((a, Bond::Sum), " - ", (b, Bond::Product));
                (text, Bond::Sum)
            }
            Binary::Multiply => {
                let text = self.pair((a, Bond::Product), r" \cdot ", (b, Bond::Product));
                (text, Bond::Product)
            }
            Binary::Divide => {
                let (a, b) = (self.plain(a), self.plain(b));
                (format!(r"\frac{{{a}}}{{{b}}}"), Bond::Product)
            }
            Binary::Power => {
                let (a, b) = (self.part(a, Bond::Atom), self.plain(b));
                (format!("{{{a}}}^{{{b}}}"), Bond::Power)
            }
        }
    }
}

fn shown_as_is(latex: &str) -> (String, Bond) {
    (latex.to_owned(), bond_of_shown(latex))
}

/// A number with a unit or a power of ten binds like a product, a negative one like a sum.
fn bond_of_shown(latex: &str) -> Bond {
    if latex.starts_with('-') {
        Bond::Sum
    } else if latex.starts_with(|c: char| c.is_ascii_digit()) && latex.contains('\\') {
        Bond::Product
    } else {
        Bond::Atom
    }
}

/// A number with its unit in LaTeX.
pub(crate) fn quantity(value: f64, unit: Unit) -> String {
    let number = super::notation::number(value).replace('e', r"\times 10^");
    let number = match number.split_once('^') {
        Some((mantissa, exponent)) => format!("{mantissa}^{{{exponent}}}"),
        None => number,
    };
    if unit.latex().is_empty() {
        number
    } else {
        format!(r"{number}\,{}", unit.latex())
    }
}

/// Words as one line, or as several where they would push the rest off a page.
fn in_lines(words: &str) -> String {
    const LONGEST: usize = 40;
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_inclusive(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + word.trim_end().chars().count() <= LONGEST => {
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let set = |line: &str| format!(r"\text{{{}}}", escaped(line));
    if lines.len() < 2 {
        return set(words);
    }
    let set: Vec<String> = lines.iter().map(|line| set(line.trim_end())).collect();
    format!(r"\begin{{array}}{{l}} {} \end{{array}}", set.join(r" \\ "))
}

/// Text inside `\text{…}` with TeX's own characters made harmless.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '{' | '}' => {}
            '%' | '$' | '#' | '&' | '_' => {
                out.push('\\');
                out.push(c);
            }
            '^' | '~' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
