//! The judge's value together with a bound of the rounding error that any order of conversion
//! may cause: running error analysis (Higham, Accuracy and Stability of Numerical Algorithms,
//! 2nd ed., section 3.3; from memory).
//!
//! Where a decision (a comparison, a fault, a bound) lies within the error, nothing can be said
//! and the case is unsure.

use crate::formula::{Binary, Comparison, Facet, Formula, Given, Many, Op, Unary};

/// Error of one operation and one conversion, relative to the result.
const STEP: f64 = 1e-14;

/// Beyond these sizes a coherent unit may overflow or lose digits where another does not.
const LEAST: f64 = 1e-200;
const MOST: f64 = 1e200;

#[derive(Clone, Copy, Debug)]
pub(super) enum Bound {
    /// Within `error` of `value`.
    Known {
        value: f64,
        error: f64,
    },
    Missing,
    Faulty,
    /// Rounding decides.
    Unsure,
}

type WordOf<'a> = &'a dyn Fn(u32, &str) -> Option<u16>;

/// Evaluates in coherent units; `inputs` are the operands, then the own reading where used.
pub(super) fn bound(formula: &Formula, inputs: &[Given], word_of: WordOf<'_>) -> Bound {
    let mut done: Vec<Bound> = Vec::new();
    for op in formula.ops() {
        let found = one(formula, *op, &done, inputs, word_of);
        done.push(found);
    }
    done.pop().unwrap_or(Bound::Unsure)
}

fn exact(value: f64) -> Bound {
    Bound::Known { value, error: 0.0 }
}

fn truth(holds: bool) -> Bound {
    exact(f64::from(u8::from(holds)))
}

fn near(value: f64, error: f64) -> Bound {
    let error = error + STEP * value.abs();
    if (value == 0.0 || (LEAST..MOST).contains(&value.abs())) && error < MOST {
        Bound::Known { value, error }
    } else {
        Bound::Unsure
    }
}

fn given(given: &Given) -> Bound {
    match given {
        Given::Known { value, .. } => near(*value, 0.0),
        Given::Missing => Bound::Missing,
        Given::Faulty => Bound::Faulty,
    }
}

fn one(formula: &Formula, op: Op, done: &[Bound], inputs: &[Given], word_of: WordOf<'_>) -> Bound {
    let get = |at: u32| done[at as usize];
    match op {
        Op::Number { value, unit } => near(value.0 * unit.factor(), 0.0),
        Op::Pi => near(std::f64::consts::PI, 0.0),
        Op::Cell(k) | Op::BeatCount(k) => given(&inputs[k as usize]),
        Op::Reading => given(&inputs[formula.operands().len()]),
        Op::Unary(unary, a) => strict(&[get(a)], |v| apply_unary(unary, v[0])),
        Op::Binary(binary, a, b) => strict(&[get(a), get(b)], |v| apply_binary(binary, v[0], v[1])),
        Op::Many(many, start, len) => {
            let args: Vec<Bound> = formula.args(start, len).iter().map(|a| get(*a)).collect();
            strict(&args, |v| apply_many(many, v))
        }
        Op::Clamp(a, b, c) => strict(&[get(a), get(b), get(c)], |v| {
            let [x, low, high] = [v[0], v[1], v[2]];
            let slack = low.1 + high.1;
            if slack > 0.0 && (low.0 - high.0).abs() <= slack {
                Bound::Unsure
            } else if low.0 > high.0 {
                Bound::Faulty
            } else {
                near(x.0.max(low.0).min(high.0), x.1.max(low.1).max(high.1))
            }
        }),
        Op::Compare(comparison, a, b) => {
            strict(&[get(a), get(b)], |v| compare(comparison, v[0], v[1]))
        }
        Op::Not(a) => strict(&[get(a)], |v| exact(1.0 - v[0].0)),
        Op::And(a, b) => decide(get(a), get(b), 0.0),
        Op::Or(a, b) => decide(get(a), get(b), 1.0),
        Op::If(c, a, b) => match get(c) {
            Bound::Known { value, .. } => get(if value != 0.0 { a } else { b }),
            other => other,
        },
        Op::Else(a, b) => match get(a) {
            Bound::Missing => get(b),
            other => other,
        },
        Op::Is(k, text) => is(formula, k, text, &inputs[k as usize], word_of),
        Op::Differs(a, b) => match (&inputs[a as usize], &inputs[b as usize]) {
            (Given::Faulty, _) | (_, Given::Faulty) => Bound::Faulty,
            (Given::Known { value: x, .. }, Given::Known { value: y, .. }) => truth(x != y),
            _ => truth(false),
        },
        Op::Withheld(_) => Bound::Missing,
        Op::Marked(_, a) => get(a),
    }
}

fn is(formula: &Formula, k: u32, text: u32, input: &Given, word_of: WordOf<'_>) -> Bound {
    let word = formula.text(text);
    if formula.operands()[k as usize] != Facet::Value {
        return given(input);
    }
    match (word_of(k, word), input) {
        (Some(_), Given::Faulty) => Bound::Faulty,
        (Some(number), Given::Known { value, .. }) => truth(*value == f64::from(number)),
        (None, Given::Known { origin, .. }) => {
            truth(**word == *"known" || **word == *origin.word())
        }
        (None, Given::Missing) => truth(**word == *"missing"),
        _ => truth(false),
    }
}

fn strict(args: &[Bound], f: impl FnOnce(&[(f64, f64)]) -> Bound) -> Bound {
    if args.iter().any(|a| matches!(a, Bound::Faulty)) {
        return Bound::Faulty;
    }
    if args.iter().any(|a| matches!(a, Bound::Unsure)) {
        return Bound::Unsure;
    }
    let values: Option<Vec<(f64, f64)>> = args
        .iter()
        .map(|a| match a {
            Bound::Known { value, error } => Some((*value, *error)),
            _ => None,
        })
        .collect();
    values.map_or(Bound::Missing, |v| f(&v))
}

fn decide(a: Bound, b: Bound, decisive: f64) -> Bound {
    for side in [a, b] {
        if matches!(side, Bound::Known { value, .. } if value == decisive) {
            return exact(decisive);
        }
    }
    if matches!((a, b), (Bound::Unsure, _) | (_, Bound::Unsure)) {
        return Bound::Unsure;
    }
    strict(&[a, b], |_| exact(1.0 - decisive))
}

/// The value is below zero, or not, whatever the error; `None` where the error decides.
fn sign((x, e): (f64, f64)) -> Option<f64> {
    if x.abs() > e {
        Some(x.signum())
    } else if x == 0.0 && e == 0.0 {
        Some(0.0)
    } else {
        None
    }
}

fn apply_unary(unary: Unary, (x, e): (f64, f64)) -> Bound {
    match (unary, sign((x, e))) {
        (Unary::Negate, _) => near(-x, e),
        (Unary::Abs, _) => near(x.abs(), e),
        (Unary::Exp, _) if x.abs() < 400.0 => near(x.exp(), x.exp() * (2.0 * e).exp_m1()),
        (Unary::Exp, _) => Bound::Unsure,
        (Unary::Cos, _) if x.abs() < 1e5 => near(x.cos(), e + STEP),
        (Unary::Cos, _) | (Unary::Sqrt | Unary::Ln, None) => Bound::Unsure,
        (Unary::Sqrt, Some(s)) if s < 0.0 => Bound::Faulty,
        (Unary::Sqrt, Some(0.0)) => exact(0.0),
        (Unary::Sqrt, Some(_)) => near(x.sqrt(), e / (x - e).sqrt()),
        (Unary::Ln, Some(s)) if s <= 0.0 => Bound::Faulty,
        (Unary::Ln, Some(_)) => near(x.ln(), e / (x - e) + STEP),
    }
}

fn apply_binary(binary: Binary, a: (f64, f64), b: (f64, f64)) -> Bound {
    let ((x, ex), (y, ey)) = (a, b);
    match binary {
        Binary::Add => near(x + y, ex + ey + STEP * (x.abs() + y.abs())),
        Binary::Subtract => near(x - y, ex + ey + STEP * (x.abs() + y.abs())),
        Binary::Multiply if x == 0.0 && ex == 0.0 || y == 0.0 && ey == 0.0 => exact(0.0),
        Binary::Multiply if x * y == 0.0 && x != 0.0 && y != 0.0 => Bound::Unsure,
        Binary::Multiply => near(x * y, x.abs() * ey + y.abs() * ex + ex * ey),
        Binary::Divide => match sign(b) {
            None => Bound::Unsure,
            Some(0.0) => Bound::Faulty,
            Some(_) if x == 0.0 && ex == 0.0 => exact(0.0),
            Some(_) if x != 0.0 && x / y == 0.0 => Bound::Unsure,
            Some(_) => {
                let quotient = x / y;
                near(quotient, (ex + quotient.abs() * ey) / (y.abs() - ey))
            }
        },
        Binary::Power => match power(a, b) {
            Bound::Known { value: 0.0, .. } if x != 0.0 => Bound::Unsure,
            found => found,
        },
    }
}

fn power((x, ex): (f64, f64), (y, ey): (f64, f64)) -> Bound {
    let is_exact_whole = y.fract() == 0.0 && ey <= STEP * y.abs();
    match sign((x, ex)) {
        // Rounding of a whole exponent is that of a literal, which is none.
        Some(0.0) if is_exact_whole || y.abs() > ey => {
            if y < 0.0 {
                Bound::Faulty
            } else {
                exact(if y == 0.0 { 1.0 } else { 0.0 })
            }
        }
        Some(s) if s > 0.0 => {
            let change = y.abs() * ex / (x - ex) + ey * (x.ln().abs() + ex / (x - ex));
            let value = x.powf(y);
            near(value, value * (2.0 * change + y.abs() * STEP).exp_m1())
        }
        Some(s) if s < 0.0 && is_exact_whole && y.abs() < 1e3 => {
            let change = y.abs() * ex / (x.abs() - ex);
            let value = x.powf(y);
            near(
                value,
                value.abs() * (2.0 * change + y.abs() * STEP).exp_m1(),
            )
        }
        Some(s) if s < 0.0 && (y - y.round()).abs() > ey => Bound::Faulty,
        _ => Bound::Unsure,
    }
}

fn apply_many(many: Many, v: &[(f64, f64)]) -> Bound {
    let worst = v.iter().map(|x| x.1).fold(0.0, f64::max);
    let values = v.iter().map(|x| x.0);
    match many {
        Many::Min => near(values.fold(f64::INFINITY, f64::min), worst),
        Many::Max => near(values.fold(f64::NEG_INFINITY, f64::max), worst),
        Many::Mean => {
            let size: f64 = v.iter().map(|x| x.0.abs()).sum();
            let error = worst + STEP * size * v.len() as f64;
            near(values.sum::<f64>() / v.len() as f64, error)
        }
    }
}

fn compare(comparison: Comparison, (x, ex): (f64, f64), (y, ey): (f64, f64)) -> Bound {
    let slack = ex + ey;
    let gap = (x - y).abs();
    let threshold = 1e-9 * x.abs().max(y.abs());
    if slack > 0.0 && (gap - threshold).abs() <= 2.0 * slack {
        return Bound::Unsure;
    }
    let equal = gap <= threshold;
    truth(match comparison {
        Comparison::Less => x < y && !equal,
        Comparison::LessEqual => x < y || equal,
        Comparison::Greater => x > y && !equal,
        Comparison::GreaterEqual => x > y || equal,
    })
}
