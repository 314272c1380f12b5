//! Passes over a tile: a few rows that stay in the processor's first cache.
//!
//! A tile is so small that the processor is at several passes at once: while its one unit for
//! quotients and roots works on one, all others go on.

use super::bounds::PlainBounds;
use super::operation::{Look, MOST};
use super::pass::{Pass, code};
use crate::formula::lanes::ViewMut;
use crate::formula::simd::soon_read;
use crate::formula::slope_lanes::{LEAST_STANDARD, settled};

/// Numbers that one instruction takes where vectors are widest.
pub(super) type Vector = [f64; LANES];
const LANES: usize = 8;
pub(super) const VECTORS: usize = 4;
type Tile = [Vector; VECTORS];
/// Rows of a tile.
pub(super) const TILE: usize = LANES * VECTORS;

/// The numbers of a tile.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub(super) struct Register(pub(super) Tile);

impl Register {
    pub(super) const ZERO: Register = Register::all(0.0);

    pub(super) const fn all(number: f64) -> Register {
        Register([[number; LANES]; VECTORS])
    }
}

/// Lanes from this number on are those of what is supplied; those before stand in registers.
pub(super) const SUPPLIED: u8 = 192;

/// Registers of what passes make, and some for the worst of what was looked at: what stands among
/// registers stays in vectors.
pub(super) type Registers = [Register; SUPPLIED as usize + 4];
/// Columns take turns, so that none waits for the one before it.
const WORST_SUPPLIED: [usize; 2] = [SUPPLIED as usize, SUPPLIED as usize + 1];
const WORST_SIZE: usize = SUPPLIED as usize + 2;
const WORST_CARRIED: usize = SUPPLIED as usize + 3;

/// The bits of some numbers.
type Bits = [u64; LANES];

const INFINITY: u64 = f64::INFINITY.to_bits();

/// What passes work on.
pub(super) struct Work<'a, 'r, const W: usize> {
    supplied: &'a [&'a [f64; W]],
    registers: &'a mut Registers,
    results: &'a mut [ViewMut<'r, W>],
    /// The registers before this one hold the same number in every row.
    first_made: usize,
    /// The tile of the block that is worked on.
    pub(super) tile: usize,
}

/// The size of a number by its bits; at least [`INFINITY`] for what is not finite.
#[inline(always)]
fn size(number: f64) -> u64 {
    number.to_bits() & (u64::MAX >> 1)
}

/// How far a number is from the least one that is not too near zero; of one that is, or is below
/// it, more than of all others.
#[inline(always)]
fn size_carried(number: f64) -> u64 {
    number.to_bits().wrapping_sub(LEAST_STANDARD.to_bits())
}

impl<'a, 'r, const W: usize> Work<'a, 'r, W> {
    #[inline(always)]
    pub(super) fn new(
        supplied: &'a [&'a [f64; W]],
        registers: &'a mut Registers,
        results: &'a mut [ViewMut<'r, W>],
        first_made: usize,
    ) -> Work<'a, 'r, W> {
        registers[WORST_SUPPLIED[0]..].fill(Register::ZERO);
        Work {
            supplied,
            registers,
            results,
            first_made,
            tile: 0,
        }
    }

    /// Whether all numbers so far that were looked at are within their bounds.
    #[inline(always)]
    pub(super) fn is_plain(&self) -> bool {
        let is_below = |register: usize, bound: u64| {
            let worst = &self.registers[register].0[0];
            worst.iter().all(|worst| worst.to_bits() < bound)
        };
        let [first, second] = WORST_SUPPLIED;
        is_below(first, INFINITY)
            & is_below(second, INFINITY)
            & is_below(WORST_SIZE, INFINITY)
            & is_below(WORST_CARRIED, size_carried(f64::INFINITY))
    }

    /// Keeps the worse of two in each lane.
    #[inline(always)]
    fn keep_worst(&mut self, register: usize, bits: Bits) {
        let worst = &mut self.registers[register].0[0];
        for (worst, bits) in worst.iter_mut().zip(bits) {
            *worst = f64::from_bits(worst.to_bits().max(bits));
        }
    }

    /// Looks at what is supplied, which must be within bounds, and tells the processor what it will
    /// soon read: the rows of the block that comes next stand where this one ends, and these are too
    /// many columns for it to follow each.
    #[inline(always)]
    pub(super) fn look_at_supplied(&mut self, bounds: &[PlainBounds]) {
        for (column, PlainBounds { low, high }) in bounds.iter().enumerate() {
            let tile = self.supplied_lanes(column);
            let mut worst = Bits::default();
            for numbers in tile {
                soon_read(&numbers[0], W);
                // Of what is out of bounds one is negative, and so the greatest by its bits; of what
                // is no number both are none.
                let above = each(*numbers, |number| number - low);
                let below = each(*numbers, |number| high - number);
                for (worst, above) in worst.iter_mut().zip(above) {
                    *worst = (*worst).max(above.to_bits());
                }
                for (worst, below) in worst.iter_mut().zip(below) {
                    *worst = (*worst).max(below.to_bits());
                }
            }
            self.keep_worst(WORST_SUPPLIED[column % 2], worst);
        }
    }

    #[inline(always)]
    fn supplied_lanes(&self, column: usize) -> &Tile {
        let (vectors, _) = self.supplied[column].as_chunks();
        let (tiles, _) = vectors.as_chunks();
        &tiles[self.tile]
    }

    #[inline(always)]
    pub(super) fn pass(&mut self, pass: &Pass) {
        macro_rules! chains {
            ($($number:literal)*) => {
                match pass.code {
                    $($number => self.chain::<$number>(pass),)*
                    code::LOOK_FINITE => self.look(pass, Look::Finite),
                    code::LOOK_CARRIED => self.look(pass, Look::Carried),
                    code::ROOT_OF => self.root_of(pass),
                    code::ROOT => self.one(pass, |a| a.sqrt()),
                    code::ABSOLUTE => self.one(pass, |a| a.abs()),
                    code::AT_LEAST_ZERO => self.one(pass, |a| if a < 0.0 { 0.0 } else { a }),
                    code::POWER => self.power(pass),
                    code::ADD => self.two(pass, |a, b| a + b),
                    code::SUBTRACT => self.two(pass, |a, b| a - b),
                    _ => self.two(pass, settled),
                }
            };
        }
        chains!(0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24 25 26 27 28);
    }

    /// The number that is the same in every row, where a lane is such a one.
    #[inline(always)]
    fn number(&self, lane: u8) -> Option<f64> {
        let lane = usize::from(lane);
        (lane < self.first_made).then(|| self.registers[lane].0[0][0])
    }

    /// The rows of the tile in a register or in what is supplied.
    #[inline(always)]
    fn lanes(&self, lane: u8) -> &Tile {
        match lane.checked_sub(SUPPLIED) {
            None => &self.registers[usize::from(lane)].0,
            Some(column) => self.supplied_lanes(usize::from(column)),
        }
    }

    /// A product from the left; or over the last lane.
    #[inline(always)]
    fn product(&self, lanes: &[u8; MOST], count: u8, is_over: bool) -> Tile {
        let mut made = match self.number(lanes[0]) {
            Some(k) => Register::all(k).0,
            None => *self.lanes(lanes[0]),
        };
        let last = usize::from(count) - 1;
        let factors = if is_over { last - 1 } else { last };
        for lane in lanes[1..].iter().take(factors) {
            made = match self.number(*lane) {
                Some(k) => each_tile(made, |a| a * k),
                None => both_tiles(made, self.lanes(*lane), |a, b| a * b),
            };
        }
        match is_over {
            true => both_tiles(made, self.lanes(lanes[last]), |a, b| a / b),
            false => made,
        }
    }

    /// The product of lanes from the left, and what is done with it.
    #[inline(always)]
    fn chain<const CODE: u8>(&mut self, pass: &Pass) {
        let shape = const { code::shape(CODE) };
        let mut made = self.product(&pass.lanes, pass.count, shape.is_over);
        if shape.is_squared {
            made = each_tile(made, |a| a * a);
        }
        if shape.has_plus {
            made = both_tiles(made, self.lanes(pass.plus), |made, sum| sum + made);
        }
        if shape.has_second {
            let second = self.product(&pass.second, pass.second_count, false);
            made = both_tiles(made, &second, |sum, part| sum + part * part);
        }
        self.look_at(shape.look, &made);
        if shape.is_kept {
            self.registers[usize::from(pass.out)].0 = made;
        }
        if shape.has_root {
            self.result(pass.result, &each_tile(made, f64::sqrt));
        }
    }

    /// Keeps numbers of a result.
    #[inline(always)]
    fn result(&mut self, number: u8, numbers: &Tile) {
        let (vectors, _) = self.results[usize::from(number)].values.as_chunks_mut();
        let (tiles, _) = vectors.as_chunks_mut();
        tiles[self.tile] = *numbers;
        self.look_at(Look::Carried, numbers);
    }

    #[inline(always)]
    fn root_of(&mut self, pass: &Pass) {
        let root = each_tile(*self.lanes(pass.lanes[0]), f64::sqrt);
        self.result(pass.result, &root);
    }

    #[inline(always)]
    fn look(&mut self, pass: &Pass, look: Look) {
        let numbers = *self.lanes(pass.lanes[0]);
        self.look_at(look, &numbers);
    }

    /// Of what is a standard uncertainty is asked as much as of a variance.
    #[inline(always)]
    fn look_at(&mut self, look: Look, numbers: &Tile) {
        let worst_of = |size: fn(f64) -> u64| {
            let mut worst = Bits::default();
            for numbers in numbers {
                for (worst, number) in worst.iter_mut().zip(numbers) {
                    *worst = (*worst).max(size(*number));
                }
            }
            worst
        };
        match look {
            Look::No => {}
            Look::Finite => self.keep_worst(WORST_SIZE, worst_of(size)),
            Look::Carried => self.keep_worst(WORST_CARRIED, worst_of(size_carried)),
        }
    }

    #[inline(always)]
    fn one(&mut self, pass: &Pass, f: impl Fn(f64) -> f64) {
        let made = each_tile(*self.lanes(pass.lanes[0]), f);
        self.registers[usize::from(pass.out)].0 = made;
    }

    #[inline(always)]
    fn two(&mut self, pass: &Pass, f: impl Fn(f64, f64) -> f64) {
        let made = *self.lanes(pass.lanes[0]);
        let made = both_tiles(made, self.lanes(pass.lanes[1]), f);
        self.registers[usize::from(pass.out)].0 = made;
    }

    #[inline(always)]
    fn power(&mut self, pass: &Pass) {
        let mut made = *self.lanes(pass.lanes[0]);
        for numbers in &mut made {
            *numbers = powers(*numbers, pass.power);
        }
        self.registers[usize::from(pass.out)].0 = made;
    }
}

#[inline(always)]
fn each_tile(mut a: Tile, f: impl Fn(f64) -> f64) -> Tile {
    for a in &mut a {
        *a = each(*a, &f);
    }
    a
}

#[inline(always)]
fn both_tiles(mut a: Tile, b: &Tile, f: impl Fn(f64, f64) -> f64) -> Tile {
    for (a, b) in a.iter_mut().zip(b) {
        *a = both(*a, *b, &f);
    }
    a
}

#[inline(always)]
fn each(mut a: Vector, f: impl Fn(f64) -> f64) -> Vector {
    for a in &mut a {
        *a = f(*a);
    }
    a
}

#[inline(always)]
fn both(mut a: Vector, b: Vector, f: impl Fn(f64, f64) -> f64) -> Vector {
    for (a, b) in a.iter_mut().zip(b) {
        *a = f(*a, b);
    }
    a
}

/// [`whole_power`](crate::formula::lanes::whole_power) of each, step by step beside each other.
#[inline(always)]
fn powers(a: Vector, n: i32) -> Vector {
    let mut rest = n.unsigned_abs();
    let mut square = a;
    let mut product = [1.0; LANES];
    while rest > 0 {
        if rest & 1 == 1 {
            product = both(product, square, |a, b| a * b);
        }
        rest >>= 1;
        if rest > 0 {
            square = each(square, |a| a * a);
        }
    }
    match n < 0 {
        true => each(product, |a| 1.0 / a),
        false => product,
    }
}
