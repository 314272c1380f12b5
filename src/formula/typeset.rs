//! The reader for people: a formula in LaTeX, with symbols or with numbers put in.

use super::judge::Verdict;
use super::op::{At, Binary, Comparison, Formula, Many, Op, Unary};
use crate::quantity::{Origin, Unit};

/// What stands for each operand in the typeset formula.
#[derive(Clone, Copy, Debug)]
pub struct Shown<'a> {
    /// LaTeX for each operand: its symbol, or its number with unit.
    pub operands: &'a [String],
    /// LaTeX for the reading of the formula's own cell.
    pub reading: &'a str,
    /// The verdict on each operation, where only the branches taken are to be shown.
    pub taken: Option<&'a [Verdict]>,
}

impl Shown<'_> {
    /// Which of two branches to show alone, the first being `true`.
    fn branch(self, op: Op) -> Option<bool> {
        let verdicts = self.taken?;
        match op {
            Op::If(c, ..) => match verdicts[c as usize] {
                Verdict::Known { value, .. } => Some(value != 0.0),
                _ => None,
            },
            Op::Else(a, _) => Some(!matches!(verdicts[a as usize], Verdict::Missing(_))),
            _ => None,
        }
    }
}

/// How tightly a part holds together.
#[derive(Clone, Copy, PartialEq, PartialOrd)]
enum Bond {
    Loose,
    Sum,
    Product,
    Power,
    Atom,
}

/// The formula in LaTeX.
pub fn typeset(formula: &Formula, shown: Shown<'_>) -> String {
    let mut done: Vec<(String, Bond)> = Vec::with_capacity(formula.ops().len());
    for op in formula.ops() {
        let part = one(formula, *op, shown, &done);
        done.push(part);
    }
    done.pop().map(|(text, _)| text).unwrap_or_default()
}

fn one(formula: &Formula, op: Op, shown: Shown<'_>, done: &[(String, Bond)]) -> (String, Bond) {
    let operand = |k: u32| shown.operands[k as usize].clone();
    let part = |at: At, least: Bond| in_place(&done[at as usize], least);
    let plain = |at: At| done[at as usize].0.clone();
    let atom = |text: String| (text, Bond::Atom);
    if let (Op::If(_, a, b) | Op::Else(a, b), Some(first)) = (op, shown.branch(op)) {
        return done[if first { a } else { b } as usize].clone();
    }
    match op {
        Op::Number { value, unit } => (quantity(value.0, unit), Bond::Product),
        Op::Pi => atom(r"\pi ".into()),
        // A number put in for a symbol carries its unit, so it binds like a product.
        Op::Cell(k) => (operand(k), bond_of_operand(&operand(k))),
        Op::Reading => (shown.reading.into(), bond_of_operand(shown.reading)),
        Op::Unary(unary, a) => write_unary(unary, &plain(a), &part(a, Bond::Product)),
        Op::Binary(binary, a, b) => write_binary(binary, &done[a as usize], &done[b as usize]),
        Op::Many(many, start, len) => {
            let name = match many {
                Many::Min => r"\min",
                Many::Max => r"\max",
                Many::Mean => r"\operatorname{mean}",
            };
            let args: Vec<String> = formula.args(start, len).iter().map(|a| plain(*a)).collect();
            atom(format!(r"{name}\left({}\right)", args.join(r",\; ")))
        }
        Op::Clamp(a, b, c) => atom(format!(
            r"\min\left(\max\left({},\; {}\right),\; {}\right)",
            plain(a),
            plain(b),
            plain(c)
        )),
        Op::If(c, a, b) => atom(format!(
            r"\begin{{cases}} {} & \text{{if }} {} \\ {} & \text{{otherwise}} \end{{cases}}",
            plain(a),
            plain(c),
            plain(b)
        )),
        Op::Else(a, b) => (
            format!(r"{} \;\text{{, else }}\; {}", plain(a), plain(b)),
            Bond::Loose,
        ),
        Op::Compare(comparison, a, b) => {
            let sign = match comparison {
                Comparison::Less => "<",
                Comparison::LessEqual => r"\le ",
                Comparison::Greater => ">",
                Comparison::GreaterEqual => r"\ge ",
            };
            (format!("{} {sign} {}", plain(a), plain(b)), Bond::Loose)
        }
        Op::And(a, b) => (logic(&plain(a), "and", &plain(b)), Bond::Loose),
        Op::Or(a, b) => (logic(&plain(a), "or", &plain(b)), Bond::Loose),
        Op::Not(a) => (
            format!(r"\text{{not }}\left({}\right)", plain(a)),
            Bond::Loose,
        ),
        Op::Is(k, text) => (
            format!(
                r"{} \text{{ is {}}}",
                operand(k),
                escaped(formula.text(text))
            ),
            Bond::Loose,
        ),
        Op::Differs(a, b) => (format!(r"{} \ne {}", operand(a), operand(b)), Bond::Loose),
        Op::BeatCount(k) => atom(format!(r"n_{{\text{{beats}}}}\left({}\right)", operand(k))),
        Op::Withheld(text) => atom(format!(
            r"\text{{withheld: {}}}",
            escaped(formula.text(text))
        )),
        Op::Marked(origin, a) => match origin {
            Origin::Measured => (plain(a), done[a as usize].1),
            Origin::Estimated | Origin::Assumed => (
                format!(r"{} \;\text{{({})}}", plain(a), origin.word()),
                Bond::Loose,
            ),
        },
    }
}

fn in_place((text, bond): &(String, Bond), least: Bond) -> String {
    if *bond < least {
        format!(r"\left({text}\right)")
    } else {
        text.clone()
    }
}

fn bond_of_operand(latex: &str) -> Bond {
    match latex.starts_with(|c: char| c.is_ascii_digit() || c == '-') {
        true => Bond::Product,
        false => Bond::Atom,
    }
}

fn logic(a: &str, word: &str, b: &str) -> String {
    format!(r"{a} \text{{ {word} }} {b}")
}

fn write_unary(unary: Unary, plain: &str, tight: &str) -> (String, Bond) {
    match unary {
        Unary::Negate => (format!("-{tight}"), Bond::Sum),
        Unary::Sqrt => (format!(r"\sqrt{{{plain}}}"), Bond::Atom),
        Unary::Exp => (format!(r"\exp\left({plain}\right)"), Bond::Atom),
        Unary::Ln => (format!(r"\ln\left({plain}\right)"), Bond::Atom),
        Unary::Cos => (format!(r"\cos\left({plain}\right)"), Bond::Atom),
        Unary::Abs => (format!(r"\left|{plain}\right|"), Bond::Atom),
    }
}

fn write_binary(binary: Binary, a: &(String, Bond), b: &(String, Bond)) -> (String, Bond) {
    match binary {
        Binary::Add => (
            format!("{} + {}", in_place(a, Bond::Sum), in_place(b, Bond::Sum)),
            Bond::Sum,
        ),
        Binary::Subtract => (
            format!(
                "{} - {}",
                in_place(a, Bond::Sum),
                in_place(b, Bond::Product)
            ),
            Bond::Sum,
        ),
        Binary::Multiply => (
            format!(
                r"{} \cdot {}",
                in_place(a, Bond::Product),
                in_place(b, Bond::Product)
            ),
            Bond::Product,
        ),
        Binary::Divide => (format!(r"\frac{{{}}}{{{}}}", a.0, b.0), Bond::Product),
        Binary::Power => (
            format!("{{{}}}^{{{}}}", in_place(a, Bond::Atom), b.0),
            Bond::Power,
        ),
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
