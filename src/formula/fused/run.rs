//! Fused operations, carried out over a block.

use super::chain::{
    AddToSum, INFINITY, Keep, KeepFinite, NOTHING, OVER, RootOfSquare, RootOfSum, Sink, StartSum,
    TIMES, Worst, products, size, size_above_zero,
};
use super::operation::{Chain, Fused, Goal, MOST, One, Operation, Place, Two};
use crate::formula::lanes::{ViewMut, whole_power};
use crate::formula::simd::{Job, widest};
use crate::formula::slope_lanes::settled;

/// The numbers of one register, and room behind them: registers must not lie a multiple of a page
/// apart, or the processor takes them for one another.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
struct Numbers<const W: usize> {
    numbers: [f64; W],
    _behind: [f64; 8],
}

impl<const W: usize> Numbers<W> {
    const NONE: Self = Numbers {
        numbers: [0.0; W],
        _behind: [0.0; 8],
    };
}

/// Room for what operations make.
pub(crate) struct FusedRoom<const W: usize> {
    made: Vec<Numbers<W>>,
    sums: Vec<Numbers<W>>,
}

impl Fused {
    /// Room for blocks of `W` rows.
    pub(crate) fn room<const W: usize>(&self) -> FusedRoom<W> {
        FusedRoom {
            made: vec![Numbers::NONE; self.made],
            sums: vec![Numbers::NONE; self.sums],
        }
    }

    /// Computes a block of rows from numbers that are all known. Whether all was plain: what is
    /// supplied is within its bounds, what must be finite is, and each result is positive and
    /// finite. Where not, the results mean nothing.
    pub(crate) fn run<const W: usize>(
        &self,
        supplied: &[&[f64; W]],
        bounds: &[PlainBounds],
        room: &mut FusedRoom<W>,
        results: &mut [ViewMut<'_, W>],
    ) -> bool {
        let mut is_plain = false;
        widest(Carry {
            operations: &self.operations,
            supplied,
            bounds,
            room,
            results,
            is_plain: &mut is_plain,
        });
        is_plain
    }
}

/// Between which numbers one counts as plain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum PlainBounds {
    /// Any finite number; what comes of one that is not finite shows that.
    Finite,
    /// Numbers whose bits are at most so far above the first.
    Within {
        /// The bits of the least.
        least: u64,
        /// How far those of the greatest are above them.
        above: u64,
    },
    /// Between two numbers of which the first is negative.
    Between(f64, f64),
}

impl PlainBounds {
    /// All numbers from `low` to `high` that are finite. A zero with a sign may count as none.
    pub(crate) fn between(low: f64, high: f64) -> PlainBounds {
        let high = high.min(f64::MAX);
        if low < -f64::MAX && high == f64::MAX {
            return PlainBounds::Finite;
        }
        // The bits of numbers that are not negative are in their order, and below all others.
        if low >= 0.0 && high >= low {
            let least = low.abs().to_bits();
            let above = high.to_bits() - least;
            return PlainBounds::Within { least, above };
        }
        PlainBounds::Between(low.max(-f64::MAX), high)
    }

    #[inline(always)]
    fn hold<const W: usize>(self, numbers: &[f64; W]) -> bool {
        match self {
            PlainBounds::Finite => true,
            PlainBounds::Within { least, above } => {
                let farther = |far: u64, n: &f64| n.to_bits().wrapping_sub(least).max(far);
                numbers.iter().fold(0, farther) <= above
            }
            PlainBounds::Between(low, high) => {
                let is_out = |n: &f64| u64::from(!((low <= *n) & (*n <= high)));
                numbers.iter().map(is_out).sum::<u64>() == 0
            }
        }
    }
}

struct Carry<'a, 'r, const W: usize> {
    operations: &'a [Operation],
    supplied: &'a [&'a [f64; W]],
    bounds: &'a [PlainBounds],
    room: &'a mut FusedRoom<W>,
    results: &'a mut [ViewMut<'r, W>],
    is_plain: &'a mut bool,
}

/// The numbers that are made before an operation.
#[derive(Clone, Copy)]
struct Filled<'a, const W: usize> {
    supplied: &'a [&'a [f64; W]],
    made: &'a [Numbers<W>],
    sums: &'a [Numbers<W>],
}

impl<'a, const W: usize> Filled<'a, W> {
    #[inline(always)]
    fn at(self, from: Place) -> &'a [f64; W] {
        match from {
            Place::Supplied(at) => self.supplied[at as usize],
            Place::Made(at) => &self.made[at as usize].numbers,
            Place::Sum(at) => &self.sums[at as usize].numbers,
        }
    }
}

impl<const W: usize> Job for Carry<'_, '_, W> {
    #[inline(always)]
    fn run(self) {
        let Carry {
            operations,
            supplied,
            bounds,
            room,
            results,
            is_plain,
        } = self;
        let is_within = supplied.iter().zip(bounds);
        if !is_within.fold(true, |all, (numbers, bounds)| all & bounds.hold(numbers)) {
            *is_plain = false;
            return;
        }
        let mut worst: Worst = 0;
        for operation in operations {
            match *operation {
                Operation::Chain(chain, goal) => {
                    let here = match goal {
                        Goal::Made(out) => {
                            let (filled, out) = room.before(supplied, out);
                            filled.chain(&chain, Keep { out })
                        }
                        Goal::Checked(out) => {
                            let (filled, out) = room.before(supplied, out);
                            filled.chain(&chain, KeepFinite { out, worst: 0 })
                        }
                        Goal::Square(sum) => {
                            let (filled, sum) = room.sum(supplied, sum);
                            filled.chain(&chain, StartSum { sum })
                        }
                        Goal::AddSquare(sum) => {
                            let (filled, sum) = room.sum(supplied, sum);
                            filled.chain(&chain, AddToSum { sum })
                        }
                        Goal::RootOfSquare(result) => {
                            let out = &mut *results[result as usize].values;
                            let filled = room.filled(supplied);
                            filled.chain(&chain, RootOfSquare { out, worst: 0 })
                        }
                        Goal::RootOfSum(sum, result) => {
                            let out = &mut *results[result as usize].values;
                            let filled = room.filled(supplied);
                            let sum = filled.at(Place::Sum(sum));
                            let worst = 0;
                            filled.chain(&chain, RootOfSum { sum, out, worst })
                        }
                    };
                    worst = worst.max(here);
                }
                Operation::One(one, a, out) => {
                    let (filled, out) = room.before(supplied, out);
                    filled.one(one, a, out);
                }
                Operation::Two(two, a, b, out) => {
                    let (filled, out) = room.before(supplied, out);
                    filled.two(two, a, b, out);
                }
                Operation::Start(k, sum) => room.sums[sum as usize].numbers = [k; W],
                Operation::Raise(k, sum) => {
                    for sum in &mut room.sums[sum as usize].numbers {
                        *sum += k;
                    }
                }
                Operation::RootOf(a, result) => {
                    let a = room.filled(supplied).at(a);
                    let out = &mut *results[result as usize].values;
                    let mut here = 0;
                    for i in 0..W {
                        out[i] = a[i].sqrt();
                        here = here.max(size_above_zero(out[i]));
                    }
                    worst = worst.max(here);
                }
                Operation::Check(a) => {
                    let a = room.filled(supplied).at(a);
                    worst = worst.max(a.iter().fold(0, |here, a| here.max(size(*a))));
                }
            }
        }
        // One below for what is above zero: its infinity is the number before.
        *is_plain = worst < INFINITY - 1;
    }
}

impl<const W: usize> FusedRoom<W> {
    #[inline(always)]
    fn filled<'a>(&'a self, supplied: &'a [&'a [f64; W]]) -> Filled<'a, W> {
        Filled {
            supplied,
            made: &self.made,
            sums: &self.sums,
        }
    }

    /// What was made before a register, and that register.
    #[inline(always)]
    fn before<'a>(
        &'a mut self,
        supplied: &'a [&'a [f64; W]],
        out: u32,
    ) -> (Filled<'a, W>, &'a mut [f64; W]) {
        let (made, rest) = self.made.split_at_mut(out as usize);
        let filled = Filled {
            supplied,
            made,
            sums: &self.sums,
        };
        (filled, &mut rest[0].numbers)
    }

    /// What was made, and a sum; nothing that is added to a sum looks at sums.
    #[inline(always)]
    fn sum<'a>(
        &'a mut self,
        supplied: &'a [&'a [f64; W]],
        sum: u32,
    ) -> (Filled<'a, W>, &'a mut [f64; W]) {
        let filled = Filled {
            supplied,
            made: &self.made,
            sums: &[],
        };
        (filled, &mut self.sums[sum as usize].numbers)
    }
}

impl<const W: usize> Filled<'_, W> {
    /// Puts the product of each row where it goes; what is worst among what came of it.
    #[inline(always)]
    fn chain(self, chain: &Chain, sink: impl Sink) -> Worst {
        match chain.count {
            1 => self.chain_of::<1>(chain, sink),
            2 => self.chain_of::<2>(chain, sink),
            3 => self.chain_of::<3>(chain, sink),
            _ => self.chain_of::<MOST>(chain, sink),
        }
    }

    #[inline(always)]
    fn chain_of<const N: usize>(self, chain: &Chain, sink: impl Sink) -> Worst {
        let lanes = std::array::from_fn(|k| self.at(chain.lanes[k]));
        let (first, last) = (chain.first.unwrap_or(1.0), chain.last.unwrap_or(1.0));
        match (chain.first, chain.last, chain.over) {
            (_, _, Some(over)) => products::<N, W, false, OVER>(lanes, first, over, sink),
            (None, None, None) => products::<N, W, false, NOTHING>(lanes, first, last, sink),
            (None, Some(_), None) => products::<N, W, false, TIMES>(lanes, first, last, sink),
            (Some(_), None, None) => products::<N, W, true, NOTHING>(lanes, first, last, sink),
            (Some(_), Some(_), None) => products::<N, W, true, TIMES>(lanes, first, last, sink),
        }
    }

    #[inline(always)]
    fn one(self, one: One, a: Place, out: &mut [f64; W]) {
        let a = self.at(a);
        match one {
            One::Root => singles(a, out, f64::sqrt),
            One::Absolute => singles(a, out, f64::abs),
            One::AtLeastZero => singles(a, out, |a| if a < 0.0 { 0.0 } else { a }),
            One::Power(n) => singles(a, out, |a| whole_power(a, n)),
            One::Add(k) => singles(a, out, |a| a + k),
            One::TakenFrom(k) => singles(a, out, |a| k - a),
            One::Over(k) => singles(a, out, |a| a / k),
            One::Under(k) => singles(a, out, |a| k / a),
        }
    }

    #[inline(always)]
    fn two(self, two: Two, a: Place, b: Place, out: &mut [f64; W]) {
        let (a, b) = (self.at(a), self.at(b));
        match two {
            Two::Add => pairs(a, b, out, |a, b| a + b),
            Two::Subtract => pairs(a, b, out, |a, b| a - b),
            Two::Divide => pairs(a, b, out, |a, b| a / b),
            Two::Settled => pairs(a, b, out, settled),
        }
    }
}

#[inline(always)]
fn singles<const W: usize>(a: &[f64; W], out: &mut [f64; W], f: impl Fn(f64) -> f64) {
    for i in 0..W {
        out[i] = f(a[i]);
    }
}

#[inline(always)]
fn pairs<const W: usize>(
    a: &[f64; W],
    b: &[f64; W],
    out: &mut [f64; W],
    f: impl Fn(f64, f64) -> f64,
) {
    for i in 0..W {
        out[i] = f(a[i], b[i]);
    }
}
