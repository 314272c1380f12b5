//! The judge: the slow, obvious evaluation of one formula for one exam, with reasons.
//!
//! It works on the formula as written, in coherent units, and shares nothing with the resolved
//! steps but the meaning. The sheet asks it why a value is missing or faulty; the tests ask it
//! whether every other reader is right.

use super::lanes::COMPARISON_TOLERANCE;
use super::op::{Binary, Comparison, Formula, Many, Op, Unary};
use crate::quantity::Origin;

/// What an operand is, as the judge sees it.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// A value in coherent units (of a finding: the number of its word, from 0).
    Known {
        /// The value.
        value: f64,
        /// Where it came from.
        origin: Origin,
    },
    /// Not known.
    Missing,
    /// Faulty upstream.
    Faulty,
}

/// One reason for a value not to be known.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Because {
    /// Operand of this number is missing or faulty.
    Operand(u32),
    /// The cell's own reading is missing.
    OwnReading,
    /// Withheld, with the reason of this number among the formula's texts.
    Withheld(u32),
    /// Operation `.0` gave no finite number.
    Fault(u32, Trouble),
}

/// How an operation failed to give a finite number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Trouble {
    /// Division by zero.
    DividesByZero,
    /// Root of a negative number.
    RootOfNegative,
    /// Logarithm of zero or less.
    LogOfNonPositive,
    /// A power that has no real value.
    PowerWithoutValue,
    /// The lower bound of a clamp exceeds the upper.
    BoundsCross,
    /// The result is too large to hold.
    TooLarge,
}

impl Trouble {
    /// The words for a message: "divides by zero".
    pub fn words(self) -> &'static str {
        match self {
            Trouble::DividesByZero => "divides by zero",
            Trouble::RootOfNegative => "takes the root of a negative number",
            Trouble::LogOfNonPositive => "takes the logarithm of zero or less",
            Trouble::PowerWithoutValue => "raises to a power that has no real value",
            Trouble::BoundsCross => "clamps between bounds that cross",
            Trouble::TooLarge => "gives a number too large to hold",
        }
    }
}

/// What the judge found.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// A value, in coherent units; a condition is 1 or 0.
    Known {
        /// The value.
        value: f64,
        /// The worst origin of what was used.
        origin: Origin,
    },
    /// Not known, for these reasons, sorted.
    Missing(Vec<Because>),
    /// Faulty, for this reason.
    Faulty(Because),
}

/// Evaluates a formula. `operands` and `own` are in coherent units; `word_of` gives the number
/// of a finding's word for an operand.
pub fn judge(
    formula: &Formula,
    operands: &[Given],
    own: &Given,
    word_of: &dyn Fn(u32, &str) -> Option<u16>,
) -> Verdict {
    judge_parts(formula, operands, own, word_of)
        .pop()
        .unwrap_or(Verdict::Missing(Vec::new()))
}

/// The verdict on each operation, as [`judge`] sees it.
pub fn judge_parts(
    formula: &Formula,
    operands: &[Given],
    own: &Given,
    word_of: &dyn Fn(u32, &str) -> Option<u16>,
) -> Vec<Verdict> {
    let mut done: Vec<Verdict> = Vec::with_capacity(formula.ops().len());
    for (at, op) in formula.ops().iter().enumerate() {
        let verdict = judge_op(formula, *op, at as u32, &done, operands, own, word_of);
        done.push(verdict);
    }
    done
}

fn judge_op(
    formula: &Formula,
    op: Op,
    at: u32,
    done: &[Verdict],
    operands: &[Given],
    own: &Given,
    word_of: &dyn Fn(u32, &str) -> Option<u16>,
) -> Verdict {
    let get = |i: u32| &done[i as usize];
    let number = |value| Verdict::Known {
        value,
        origin: Origin::Measured,
    };
    match op {
        Op::Number { value, unit } => number(value.0 * unit.factor()),
        Op::Pi => number(std::f64::consts::PI),
        Op::Cell(k) => take(&operands[k as usize], Because::Operand(k)),
        Op::BeatCount(k) => take(&operands[k as usize], Because::Operand(k)),
        Op::Reading => take(own, Because::OwnReading),
        Op::Unary(unary, a) => strict(&[get(a)], at, |v| apply_unary(unary, v[0])),
        Op::Binary(binary, a, b) => {
            strict(&[get(a), get(b)], at, |v| apply_binary(binary, v[0], v[1]))
        }
        Op::Many(many, start, len) => {
            let args: Vec<&Verdict> = formula.args(start, len).iter().map(|a| get(*a)).collect();
            strict(&args, at, |v| Ok(apply_many(many, v)))
        }
        Op::Clamp(a, b, c) => strict(&[get(a), get(b), get(c)], at, |v| {
            if v[1] > v[2] {
                Err(Trouble::BoundsCross)
            } else {
                Ok(v[0].max(v[1]).min(v[2]))
            }
        }),
        Op::Compare(comparison, a, b) => strict(&[get(a), get(b)], at, |v| {
            Ok(f64::from(u8::from(compare(comparison, v[0], v[1]))))
        }),
        Op::Not(a) => strict(&[get(a)], at, |v| Ok(1.0 - v[0])),
        Op::And(a, b) => decide(get(a), get(b), 0.0),
        Op::Or(a, b) => decide(get(a), get(b), 1.0),
        Op::If(c, a, b) => match get(c) {
            Verdict::Known { value, origin } => {
                worsen(if *value != 0.0 { get(a) } else { get(b) }, *origin)
            }
            other => other.clone(),
        },
        Op::Else(a, b) => match get(a) {
            Verdict::Missing(_) => get(b).clone(),
            other => other.clone(),
        },
        Op::Is(k, text) => is(formula, k, text, operands, word_of),
        Op::Differs(a_index, b_index) => {
            let (a, b) = (&operands[a_index as usize], &operands[b_index as usize]);
            match (a, b) {
                (
                    Given::Known {
                        value: x,
                        origin: o,
                    },
                    Given::Known {
                        value: y,
                        origin: p,
                    },
                ) => Verdict::Known {
                    value: f64::from(u8::from(x != y)),
                    origin: *o.max(p),
                },
                (Given::Faulty, _) => Verdict::Faulty(Because::Operand(a_index)),
                (_, Given::Faulty) => Verdict::Faulty(Because::Operand(b_index)),
                _ => number(0.0),
            }
        }
        Op::Withheld(text) => Verdict::Missing(vec![Because::Withheld(text)]),
        Op::Marked(origin, a) => worsen(get(a), origin),
    }
}

fn take(given: &Given, because: Because) -> Verdict {
    match given {
        Given::Known { value, origin } => Verdict::Known {
            value: *value,
            origin: *origin,
        },
        Given::Missing => Verdict::Missing(vec![because]),
        Given::Faulty => Verdict::Faulty(because),
    }
}

/// All arguments are needed: a fault outweighs what is missing.
fn strict(args: &[&Verdict], at: u32, f: impl FnOnce(&[f64]) -> Result<f64, Trouble>) -> Verdict {
    let mut values = Vec::with_capacity(args.len());
    let mut worst = Origin::Measured;
    let mut missing: Vec<Because> = Vec::new();
    for arg in args {
        match arg {
            Verdict::Known { value, origin } => {
                values.push(*value);
                worst = worst.max(*origin);
            }
            Verdict::Missing(reasons) => missing.extend(reasons.iter().cloned()),
            Verdict::Faulty(_) => return (*arg).clone(),
        }
    }
    if !missing.is_empty() || values.len() < args.len() {
        missing.sort();
        missing.dedup();
        return Verdict::Missing(missing);
    }
    match f(&values) {
        Ok(value) if value.is_finite() => Verdict::Known {
            value,
            origin: worst,
        },
        Ok(_) => Verdict::Faulty(Because::Fault(at, Trouble::TooLarge)),
        Err(trouble) => Verdict::Faulty(Because::Fault(at, trouble)),
    }
}

fn apply_unary(unary: Unary, a: f64) -> Result<f64, Trouble> {
    match unary {
        Unary::Negate => Ok(-a),
        Unary::Sqrt if a < 0.0 => Err(Trouble::RootOfNegative),
        Unary::Sqrt => Ok(a.sqrt()),
        Unary::Exp => Ok(a.exp()),
        Unary::Ln if a <= 0.0 => Err(Trouble::LogOfNonPositive),
        Unary::Ln => Ok(a.ln()),
        Unary::Cos => Ok(a.cos()),
        Unary::Abs => Ok(a.abs()),
    }
}

fn apply_binary(binary: Binary, a: f64, b: f64) -> Result<f64, Trouble> {
    match binary {
        Binary::Add => Ok(a + b),
        Binary::Subtract => Ok(a - b),
        Binary::Multiply => Ok(a * b),
        Binary::Divide if b == 0.0 => Err(Trouble::DividesByZero),
        Binary::Divide => Ok(a / b),
        Binary::Power => {
            let power = a.powf(b);
            if power.is_nan() || (a == 0.0 && b < 0.0) {
                Err(Trouble::PowerWithoutValue)
            } else {
                Ok(power)
            }
        }
    }
}

fn apply_many(many: Many, values: &[f64]) -> f64 {
    match many {
        Many::Min => values.iter().copied().fold(f64::INFINITY, f64::min),
        Many::Max => values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        Many::Mean => values.iter().sum::<f64>() / values.len() as f64,
    }
}

fn compare(comparison: Comparison, a: f64, b: f64) -> bool {
    let near = (a - b).abs() <= COMPARISON_TOLERANCE * a.abs().max(b.abs());
    match comparison {
        Comparison::Less => a < b && !near,
        Comparison::LessEqual => a < b || near,
        Comparison::Greater => a > b && !near,
        Comparison::GreaterEqual => a > b || near,
    }
}

/// One known side that decides is enough; else both are needed.
fn decide(a: &Verdict, b: &Verdict, decisive: f64) -> Verdict {
    for side in [a, b] {
        if matches!(side, Verdict::Known { value, .. } if *value == decisive) {
            return side.clone();
        }
    }
    strict(&[a, b], 0, |_| Ok(1.0 - decisive))
}

fn worsen(verdict: &Verdict, by: Origin) -> Verdict {
    match verdict {
        Verdict::Known { value, origin } => Verdict::Known {
            value: *value,
            origin: (*origin).max(by),
        },
        other => other.clone(),
    }
}

fn is(
    formula: &Formula,
    operand: u32,
    text: u32,
    operands: &[Given],
    word_of: &dyn Fn(u32, &str) -> Option<u16>,
) -> Verdict {
    let given = &operands[operand as usize];
    let word = formula.text(text);
    let truth = |holds: bool| Verdict::Known {
        value: f64::from(u8::from(holds)),
        origin: Origin::Measured,
    };
    if let Some(number) = word_of(operand, word) {
        return match given {
            Given::Known { value, origin } => worsen(&truth(*value == f64::from(number)), *origin),
            Given::Missing => truth(false),
            Given::Faulty => Verdict::Faulty(Because::Operand(operand)),
        };
    }
    match (&**word, given) {
        ("known", Given::Known { .. }) | ("missing", Given::Missing) => truth(true),
        // Asked of a facet that is 1 or 0.
        ("unobtainable" | "largest", Given::Known { value, .. }) => truth(*value != 0.0),
        (word, Given::Known { origin, .. }) => truth(Origin::from_word(word) == Some(*origin)),
        _ => truth(false),
    }
}
