//! The operations over one block.

use super::carried::{Stretch, guarded, square, stretched, stretched_above_zero};
use super::{Choice, Code, Make, Numbers, Source, Supply, settled};
use crate::formula::derivative::{
    base, exponent, is_above, is_between, is_not_less, minus_over, sign, truth,
};
use crate::formula::lanes::whole_power;
use crate::formula::math;
use crate::formula::simd::Job;
use crate::formula::status::Status;

/// One run of the operations over a block; their results go to `room`.
///
/// Not `GUARDED`, it multiplies by what a zero guards against too. The result is then the same, or
/// not a number: 0 times a slope that is not finite.
pub(crate) struct Carrying<'a, const W: usize, const GUARDED: bool, S> {
    /// The operations.
    pub(crate) code: &'a Code,
    /// The given lanes.
    pub(crate) supply: &'a S,
    /// Room of [`Code::room`].
    pub(crate) room: &'a mut [Numbers<W>],
}

impl<const W: usize, const GUARDED: bool, S: Supply<W>> Job for Carrying<'_, W, GUARDED, S> {
    #[inline(always)]
    fn run(self) {
        for (at, make) in self.code.makes.iter().enumerate() {
            let (made, rest) = self.room.split_at_mut(at);
            let filled = Filled {
                made,
                supply: self.supply,
            };
            filled.make::<GUARDED>(*make, &mut rest[0].0);
        }
    }
}

struct Filled<'a, const W: usize, S> {
    made: &'a [Numbers<W>],
    supply: &'a S,
}

impl<const W: usize, S: Supply<W>> Filled<'_, W, S> {
    #[inline(always)]
    fn at(&self, source: Source) -> &[f64; W] {
        match source {
            Source::Made(made) => &self.made[made as usize].0,
            Source::Given(given) => &self.supply.given(given).values,
        }
    }

    #[inline(always)]
    fn one(&self, a: Source, out: &mut [f64; W], f: impl Fn(f64) -> f64) {
        let a = self.at(a);
        for i in 0..W {
            out[i] = f(a[i]);
        }
    }

    #[inline(always)]
    fn two(&self, a: Source, b: Source, out: &mut [f64; W], f: impl Fn(f64, f64) -> f64) {
        let (a, b) = (self.at(a), self.at(b));
        for i in 0..W {
            out[i] = f(a[i], b[i]);
        }
    }

    #[inline(always)]
    fn three(&self, [a, b, c]: [Source; 3], out: &mut [f64; W], f: impl Fn(f64, f64, f64) -> f64) {
        let (a, b, c) = (self.at(a), self.at(b), self.at(c));
        for i in 0..W {
            out[i] = f(a[i], b[i], c[i]);
        }
    }

    #[inline(always)]
    fn make<const GUARDED: bool>(&self, make: Make, out: &mut [f64; W]) {
        match make {
            Make::Number(k) => *out = [k; W],
            Make::Negate(a) => self.one(a, out, |a| -a),
            Make::Absolute(a) => self.one(a, out, f64::abs),
            Make::Root(a) => self.one(a, out, f64::sqrt),
            Make::Reciprocal(a) => self.one(a, out, |a| 1.0 / a),
            Make::HalfOver(a) => self.one(a, out, |a| 0.5 / a),
            Make::MinusSine(a) => self.one(a, out, |a| -math::sin(a)),
            Make::Sign(a) => self.one(a, out, sign),
            // The same product as in general, without the loop that keeps lanes apart.
            Make::WholePower(a, 2) => self.one(a, out, |a| 2.0 * a),
            Make::WholePower(a, n) => {
                self.one(a, out, |a| f64::from(n) * whole_power(a, n - 1));
            }
            Make::Base(out_of, a, b) => self.three([out_of, a, b], out, base),
            // A loop of its own, as for the long functions themselves: it becomes vector code.
            Make::Exponent(a, b) => {
                let (a, b) = (self.at(a), self.at(b));
                for i in 0..W {
                    out[i] = exponent(a[i], b[i]);
                }
            }
            Make::MinusOver(a, b) => self.two(a, b, out, minus_over),
            Make::Add(a, b) => self.two(a, b, out, |a, b| a + b),
            Make::Subtract(a, b) => self.two(a, b, out, |a, b| a - b),
            Make::Multiply(a, b) => self.two(a, b, out, |a, b| a * b),
            Make::Times(a, k) if GUARDED => self.one(a, out, |a| guarded(a, a, k)),
            Make::Times(a, k) => self.one(a, out, |a| a * k),
            Make::Product(_, a, b) | Make::Link(_, _, a, b) if !GUARDED => {
                self.two(a, b, out, |a, b| a * b);
            }
            Make::Product(guard, a, b) => self.three([guard, a, b], out, guarded),
            Make::Link(first, second, a, b) => {
                let second = self.at(second);
                let (first, a, b) = (self.at(first), self.at(a), self.at(b));
                for i in 0..W {
                    out[i] = guarded(first[i], a[i], b[i]);
                }
                for i in 0..W {
                    out[i] = if second[i] != 0.0 { out[i] } else { 0.0 };
                }
            }
            Make::Settled(a, b) => self.two(a, b, out, settled),
            Make::AtLeastZero(a) => self.one(a, out, |a| if a < 0.0 { 0.0 } else { a }),
            Make::AddSquare(a, b, c) => {
                self.three([a, b, c], out, |a, b, c| a + (b * c) * (b * c));
            }
            Make::Square(a, b) => self.two(a, b, out, |a, b| (a * b) * (a * b)),
            Make::If(choice) => self.choice(choice, out),
            Make::WhereKnown(given, a, b) => {
                let states = &self.supply.given(given).states;
                let (a, b) = (self.at(a), self.at(b));
                for i in 0..W {
                    let is_known = Status(states[i]).is_known();
                    out[i] = if is_known { a[i] } else { b[i] };
                }
            }
            Make::Part(sum, part) if GUARDED => {
                self.one(part, out, square);
                self.add_to(sum, out);
            }
            Make::Part(sum, part) => {
                self.one(part, out, |part| part * part);
                self.add_to(sum, out);
            }
            Make::StretchedPart(stretch) if GUARDED => {
                self.stretch(stretch, out, |guard, slope, u| {
                    square(guarded(guard, slope, u))
                });
            }
            Make::StretchedPart(Stretch { sum, slope, of, .. }) => {
                self.two(slope, of, out, |slope, u| (slope * u) * (slope * u));
                self.add_to(sum, out);
            }
            Make::Variance(stretch, _) if GUARDED => {
                self.stretch(stretch, out, |guard, slope, variance| {
                    let made = stretched(variance, slope);
                    if guard != 0.0 { made } else { 0.0 }
                });
            }
            Make::Variance(Stretch { sum, slope, of, .. }, true) => {
                self.two(slope, of, out, |slope, zero| zero * slope * slope);
                self.add_to(sum, out);
            }
            Make::Variance(Stretch { sum, slope, of, .. }, false) => {
                self.two(of, slope, out, stretched_above_zero);
                self.add_to(sum, out);
            }
        }
    }

    #[inline(always)]
    fn stretch(&self, at: Stretch, out: &mut [f64; W], f: impl Fn(f64, f64, f64) -> f64) {
        match at.guard {
            Some(guard) => self.three([guard, at.slope, at.of], out, f),
            None => self.two(at.slope, at.of, out, |slope, of| f(1.0, slope, of)),
        }
        self.add_to(at.sum, out);
    }

    #[inline(always)]
    fn add_to(&self, sum: Option<Source>, out: &mut [f64; W]) {
        if let Some(sum) = sum {
            let sum = self.at(sum);
            for i in 0..W {
                out[i] += sum[i];
            }
        }
    }

    #[inline(always)]
    fn choice(&self, choice: Choice, out: &mut [f64; W]) {
        match choice {
            Choice::Less(a, b) => self.two(a, b, out, |a, b| truth(a < b)),
            Choice::NotLess(a, b) => self.two(a, b, out, |a, b| truth(is_not_less(a, b))),
            Choice::Between(a, b, c) => {
                self.three([a, b, c], out, |a, low, high| {
                    truth(is_between(a, low, high))
                });
            }
            Choice::Above(a, b, c) => {
                self.three([a, b, c], out, |a, low, high| truth(is_above(a, low, high)));
            }
            Choice::Holds(a) => self.one(a, out, |a| truth(a != 0.0)),
            Choice::Fails(a) => self.one(a, out, |a| truth(a == 0.0)),
            Choice::Missing(given) => self.state(given, out, Status::is_missing),
            Choice::There(given) => self.state(given, out, |status| !status.is_missing()),
            Choice::Known(given) => self.state(given, out, Status::is_known),
            Choice::NotKnown(given) => self.state(given, out, |status| !status.is_known()),
        }
    }

    #[inline(always)]
    fn state(&self, given: u32, out: &mut [f64; W], is: impl Fn(Status) -> bool) {
        let states = &self.supply.given(given).states;
        for i in 0..W {
            out[i] = truth(is(Status(states[i])));
        }
    }
}
