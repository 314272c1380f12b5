//! Variances carried on from cell to cell, as operations over blocks.
//!
//! [`square`] and [`stretched`] say what is added up, for one sheet and for many rows. A sum of
//! squares that came out too small to be a sum of squares of all its parts is no number: whoever
//! asks falls back on slopes per cause.

use super::{Code, Make, Slope, Source, Term};

/// Least variance that is carried on: all that was lost on the way to it, because no number is so
/// small, is no matter beside it.
const LEAST_VARIANCE: f64 = f64::from_bits((1023 - 969) << 52);

/// Least standard uncertainty of such a variance, with a little room.
pub(crate) const LEAST_STANDARD: f64 = f64::from_bits((1023 - 484) << 52);

/// The least number above zero.
const TINY: f64 = f64::from_bits(1);

/// part², and no zero but of zero.
#[inline(always)]
pub(crate) fn square(part: f64) -> f64 {
    let square = part * part;
    match (square == 0.0) & (part != 0.0) {
        true => TINY,
        false => square,
    }
}

/// What a variance becomes over a slope, and no zero but of zero; not a number where the variance
/// is too small to be carried on.
#[inline(always)]
pub(crate) fn stretched(variance: f64, slope: f64) -> f64 {
    let made = sound(variance) * slope * slope;
    match (made == 0.0) & (variance != 0.0) & (slope != 0.0) {
        true => TINY,
        false => made,
    }
}

#[inline(always)]
fn sound(variance: f64) -> f64 {
    match (variance < LEAST_VARIANCE) & (variance != 0.0) {
        true => f64::NAN,
        false => variance,
    }
}

/// The same in haste: not a number also for a variance of zero.
#[inline(always)]
pub(super) fn stretched_above_zero(variance: f64, slope: f64) -> f64 {
    let variance = match variance < LEAST_VARIANCE {
        true => f64::NAN,
        false => variance,
    };
    variance * slope * slope
}

/// a · b; 0 where the guard is 0.
#[inline(always)]
pub(crate) fn guarded(guard: f64, a: f64, b: f64) -> f64 {
    let product = a * b;
    if guard != 0.0 { product } else { 0.0 }
}

/// What a cell or a reading adds to the variance of what leans on it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stretch {
    pub(super) sum: Option<Source>,
    /// 0 on a path not taken, on which what it is of means nothing.
    pub(super) guard: Option<Source>,
    pub(super) slope: Source,
    /// A standard uncertainty or a variance.
    pub(super) of: Source,
}

/// A slope of which what cancelled was taken out.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settled {
    slope: Term,
    guard: Option<Term>,
}

impl Code {
    /// Takes what cancelled out of a slope in something that may be of no account.
    pub(crate) fn settled(&mut self, slope: Slope) -> Settled {
        let guard = slope.size.unwrap_or(slope.slope);
        Settled {
            slope: self.settle(slope),
            guard: Some(guard),
        }
    }

    /// The same of a slope in a reading, whose uncertainty must be one whatever the slope is.
    pub(crate) fn settled_in_reading(&mut self, slope: Slope) -> Settled {
        Settled {
            slope: self.settle(slope),
            guard: None,
        }
    }

    /// slope · u.
    pub(crate) fn part(&mut self, at: Settled, u: Term) -> Term {
        match at.guard {
            Some(guard) => self.guarded(guard, None, at.slope, u),
            None => self.multiply(at.slope, u),
        }
    }

    /// sum + part².
    pub(crate) fn add_part(&mut self, sum: Option<Term>, part: Term) -> Term {
        match (sum, part) {
            (sum, Term::Number(part)) => self.add_known(sum, square(part)),
            (sum, Term::Lanes(part)) => {
                let sum = sum.map(|sum| self.source(sum));
                self.put(Make::Part(sum, part))
            }
        }
    }

    /// sum + (slope · u)², in one operation.
    pub(crate) fn add_stretched_part(&mut self, sum: Option<Term>, at: Settled, u: Term) -> Term {
        match (at.slope, u) {
            (Term::Number(1.0), part) | (part, Term::Number(1.0)) => self.add_part(sum, part),
            (Term::Number(slope), Term::Number(u)) => self.add_known(sum, square(slope * u)),
            _ => {
                let stretch = self.stretch(sum, at, u);
                self.put(Make::StretchedPart(stretch))
            }
        }
    }

    /// sum + variance · slope · slope. One that `is_zero` has nothing but zeros in it.
    pub(crate) fn add_variance(
        &mut self,
        sum: Option<Term>,
        at: Settled,
        variance: Term,
        is_zero: bool,
    ) -> Term {
        if let (Term::Number(slope), Term::Number(variance)) = (at.slope, variance) {
            return self.add_known(sum, stretched(variance, slope));
        }
        let stretch = self.stretch(sum, at, variance);
        self.put(Make::Variance(stretch, is_zero))
    }

    fn stretch(&mut self, sum: Option<Term>, at: Settled, of: Term) -> Stretch {
        Stretch {
            sum: sum.map(|sum| self.source(sum)),
            guard: at.guard.map(|guard| self.source(guard)),
            slope: self.source(at.slope),
            of: self.source(of),
        }
    }

    fn add_known(&mut self, sum: Option<Term>, k: f64) -> Term {
        match sum {
            // Nothing is added by zero.
            Some(sum) if k == 0.0 => sum,
            Some(sum) => self.add(sum, Term::Number(k)),
            None => Term::Number(k),
        }
    }
}
