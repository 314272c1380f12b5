//! The judge: the slow, obvious evaluation of one formula for one exam, with reasons.
//!
//! It works on the formula as written, in coherent units, and shares nothing with the resolved
//! steps but the meaning. The sheet asks it why a value is missing or faulty; the tests ask it
//! whether every other reader is right.

use super::lanes::COMPARISON_TOLERANCE;
use super::op::{At, Binary, Comparison, Facet, Formula, Many, Op, Unary};
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
///
/// # Panics
/// When there are fewer operands than the formula has.
pub fn judge(
    formula: &Formula,
    operands: &[Given],
    own: &Given,
    word_of: &dyn Fn(u32, &str) -> Option<u16>,
) -> Verdict {
    let court = Court::hold(formula, operands, own, word_of);
    match court.found.last() {
        Some(Found::Known { value, origin }) => Verdict::Known {
            value: *value,
            origin: *origin,
        },
        Some(Found::Faulty(because)) => Verdict::Faulty(because.clone()),
        Some(Found::Missing) => Verdict::Missing(court.reasons()),
        None => Verdict::Missing(Vec::new()),
    }
}

/// For each operation that chooses, the one it takes its value from; none for the others, and
/// where the condition is not known.
///
/// # Panics
/// When there are fewer operands than the formula has.
pub fn branches_taken(
    formula: &Formula,
    operands: &[Given],
    own: &Given,
    word_of: &dyn Fn(u32, &str) -> Option<u16>,
) -> Vec<Option<At>> {
    let court = Court::hold(formula, operands, own, word_of);
    formula.ops().iter().map(|op| court.taken(*op)).collect()
}

/// What was found of one operation. The reasons of a missing value are gathered at the end, and
/// only those of the result: to carry them along would take the square of a formula's length.
#[derive(Clone, Debug)]
enum Found {
    Known { value: f64, origin: Origin },
    Missing,
    Faulty(Because),
}

struct Court<'a> {
    formula: &'a Formula,
    operands: &'a [Given],
    own: &'a Given,
    word_of: &'a dyn Fn(u32, &str) -> Option<u16>,
    found: Vec<Found>,
}

impl<'a> Court<'a> {
    /// Finds what every operation gives.
    fn hold(
        formula: &'a Formula,
        operands: &'a [Given],
        own: &'a Given,
        word_of: &'a dyn Fn(u32, &str) -> Option<u16>,
    ) -> Court<'a> {
        let mut court = Court {
            formula,
            operands,
            own,
            word_of,
            found: Vec::with_capacity(formula.ops().len()),
        };
        for (at, op) in formula.ops().iter().enumerate() {
            let found = court.find(*op, at as At);
            court.found.push(found);
        }
        court
    }

    fn at(&self, at: At) -> &Found {
        &self.found[at as usize]
    }

    fn find(&self, op: Op, at: At) -> Found {
        match op {
            Op::Number { value, unit } => finite(value.0 * unit.factor(), Origin::Measured, at),
            Op::Pi => known(std::f64::consts::PI),
            Op::Cell(k) | Op::BeatCount(k) => take(&self.operands[k as usize], Because::Operand(k)),
            Op::Reading => take(self.own, Because::OwnReading),
            Op::Unary(unary, a) => self.strict(&[a], at, |v| apply_unary(unary, v[0])),
            Op::Binary(binary, a, b) => {
                self.strict(&[a, b], at, |v| apply_binary(binary, v[0], v[1]))
            }
            Op::Many(many, start, len) => {
                let args = self.formula.args(start, len);
                self.strict(args, at, |v| Ok(apply_many(many, v)))
            }
            Op::Clamp(a, b, c) => self.strict(&[a, b, c], at, |v| {
                if v[1] > v[2] {
                    Err(Trouble::BoundsCross)
                } else {
                    Ok(v[0].max(v[1]).min(v[2]))
                }
            }),
            Op::Compare(comparison, a, b) => {
                self.strict(&[a, b], at, |v| Ok(truth(compare(comparison, v[0], v[1]))))
            }
            Op::Not(a) => self.strict(&[a], at, |v| Ok(1.0 - v[0])),
            Op::And(a, b) => self.decide(a, b, 0.0, at),
            Op::Or(a, b) => self.decide(a, b, 1.0, at),
            Op::If(c, ..) => match (self.at(c), self.taken(op)) {
                (Found::Known { origin, .. }, Some(taken)) => worsen(self.at(taken), *origin),
                (other, _) => other.clone(),
            },
            Op::Else(a, _) => self.at(self.taken(op).unwrap_or(a)).clone(),
            Op::Is(k, text) => self.is(k, text),
            Op::Differs(a, b) => self.differs(a, b),
            Op::Withheld(_) => Found::Missing,
            Op::Marked(origin, a) => worsen(self.at(a), origin),
        }
    }

    /// Which operation a choice takes its value from; none where its condition is not known.
    fn taken(&self, op: Op) -> Option<At> {
        match op {
            Op::If(c, a, b) => match self.at(c) {
                Found::Known { value, .. } => Some(if *value != 0.0 { a } else { b }),
                _ => None,
            },
            Op::Else(a, b) => Some(match self.at(a) {
                Found::Missing => b,
                _ => a,
            }),
            _ => None,
        }
    }

    /// All arguments are needed: a fault outweighs what is missing.
    fn strict(&self, args: &[At], at: At, f: impl FnOnce(&[f64]) -> Result<f64, Trouble>) -> Found {
        let mut values = Vec::with_capacity(args.len());
        let mut worst = Origin::Measured;
        for arg in args {
            match self.at(*arg) {
                Found::Known { value, origin } => {
                    values.push(*value);
                    worst = worst.max(*origin);
                }
                Found::Missing => {}
                Found::Faulty(because) => return Found::Faulty(because.clone()),
            }
        }
        if values.len() < args.len() {
            return Found::Missing;
        }
        match f(&values) {
            Ok(value) => finite(value, worst, at),
            Err(trouble) => Found::Faulty(Because::Fault(at, trouble)),
        }
    }

    /// One known side that decides is enough; else both are needed.
    fn decide(&self, a: At, b: At, decisive: f64, at: At) -> Found {
        for side in [a, b] {
            let side = self.at(side);
            if matches!(side, Found::Known { value, .. } if *value == decisive) {
                return side.clone();
            }
        }
        self.strict(&[a, b], at, |_| Ok(1.0 - decisive))
    }

    /// False, not missing, of what is not stated.
    fn is(&self, operand: u32, text: u32) -> Found {
        let given = &self.operands[operand as usize];
        let word = self.formula.text(text);
        match self.formula.operands()[operand as usize] {
            // 1 or 0 already, whatever the word.
            Facet::Largest | Facet::Unobtainable | Facet::Given => {
                return take(given, Because::Operand(operand));
            }
            Facet::Value | Facet::Beats => {}
        }
        if let Some(number) = (self.word_of)(operand, word) {
            return match given {
                Given::Known { value, origin } => Found::Known {
                    value: truth(*value == f64::from(number)),
                    origin: *origin,
                },
                Given::Missing => known(0.0),
                Given::Faulty => Found::Faulty(Because::Operand(operand)),
            };
        }
        let holds = match (&**word, given) {
            ("known", Given::Known { .. }) | ("missing", Given::Missing) => true,
            (word, Given::Known { origin, .. }) => Origin::from_word(word) == Some(*origin),
            _ => false,
        };
        known(truth(holds))
    }

    fn differs(&self, a: u32, b: u32) -> Found {
        match (&self.operands[a as usize], &self.operands[b as usize]) {
            (Given::Faulty, _) => Found::Faulty(Because::Operand(a)),
            (_, Given::Faulty) => Found::Faulty(Because::Operand(b)),
            (
                Given::Known {
                    value: x,
                    origin: o,
                },
                Given::Known {
                    value: y,
                    origin: p,
                },
            ) => Found::Known {
                value: truth(x != y),
                origin: *o.max(p),
            },
            _ => known(0.0),
        }
    }

    /// What the missing result waits for, sorted.
    fn reasons(&self) -> Vec<Because> {
        let mut reasons = Vec::new();
        let mut seen = vec![false; self.found.len()];
        let mut open = vec![self.formula.root()];
        while let Some(at) = open.pop() {
            if !matches!(self.at(at), Found::Missing)
                || std::mem::replace(&mut seen[at as usize], true)
            {
                continue;
            }
            let op = self.formula.ops()[at as usize];
            match op {
                Op::Cell(k) | Op::BeatCount(k) | Op::Is(k, _) => {
                    reasons.push(Because::Operand(k));
                }
                Op::Reading => reasons.push(Because::OwnReading),
                Op::Withheld(text) => reasons.push(Because::Withheld(text)),
                Op::If(c, ..) => open.push(self.taken(op).unwrap_or(c)),
                Op::Else(_, b) => open.push(b),
                Op::Number { .. }
                | Op::Pi
                | Op::Unary(..)
                | Op::Binary(..)
                | Op::Many(..)
                | Op::Clamp(..)
                | Op::Compare(..)
                | Op::And(..)
                | Op::Or(..)
                | Op::Not(_)
                | Op::Differs(..)
                | Op::Marked(..) => self.formula.each_argument(op, |a| open.push(a)),
            }
        }
        reasons.sort();
        reasons.dedup();
        reasons
    }
}

fn known(value: f64) -> Found {
    Found::Known {
        value,
        origin: Origin::Measured,
    }
}

fn finite(value: f64, origin: Origin, at: At) -> Found {
    if value.is_finite() {
        Found::Known { value, origin }
    } else {
        Found::Faulty(Because::Fault(at, Trouble::TooLarge))
    }
}

fn truth(holds: bool) -> f64 {
    f64::from(u8::from(holds))
}

fn take(given: &Given, because: Because) -> Found {
    match given {
        Given::Known { value, origin } => Found::Known {
            value: *value,
            origin: *origin,
        },
        Given::Missing => Found::Missing,
        Given::Faulty => Found::Faulty(because),
    }
}

fn worsen(found: &Found, by: Origin) -> Found {
    match found {
        Found::Known { value, origin } => Found::Known {
            value: *value,
            origin: (*origin).max(by),
        },
        other => other.clone(),
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
