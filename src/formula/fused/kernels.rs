//! Passes over a tile: a few rows that stay in the processor's first cache, and whose sum stays in
//! its vectors.
//!
//! A tile is so small that the processor is at several passes at once: while its one unit for
//! quotients and roots works on one, all others go on.

use super::pass::{Pass, code};
use crate::formula::lanes::ViewMut;
use crate::formula::simd::soon_read;
use crate::formula::slope_lanes::settled;

/// Numbers that one instruction takes where vectors are widest.
pub(super) type Vector = [f64; LANES];
const LANES: usize = 8;
pub(super) const VECTORS: usize = 4;
/// Rows of a tile.
pub(super) const TILE: usize = LANES * VECTORS;

/// The numbers of a tile.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub(super) struct Register(pub(super) [Vector; VECTORS]);

impl Register {
    pub(super) const ZERO: Register = Register([[0.0; LANES]; VECTORS]);
}

/// As many as a byte can tell apart.
pub(super) type Registers = [Register; 256];

/// The greatest of some numbers' bits, which tells whether one was out of bounds.
type Worst = [u64; LANES];

const INFINITY: u64 = f64::INFINITY.to_bits();

/// What passes work on.
pub(super) struct Work<'a, 'r, const W: usize> {
    pub(super) supplied: &'a [&'a [f64; W]],
    pub(super) registers: &'a mut Registers,
    pub(super) results: &'a mut [ViewMut<'r, W>],
    /// The tile of the block that is worked on.
    pub(super) tile: usize,
    /// A sum of squares that is not complete; else zeros.
    pub(super) sum: [Vector; VECTORS],
    pub(super) worst: Worst,
}

/// The size of a number by its bits; at least [`INFINITY`] for what is not finite.
#[inline(always)]
fn size(number: f64) -> u64 {
    number.to_bits() & (u64::MAX >> 1)
}

/// The same, where zero is out of bounds too.
#[inline(always)]
fn size_above_zero(number: f64) -> u64 {
    // Of a zero, the greatest of all.
    number.to_bits().wrapping_sub(1)
}

impl<const W: usize> Work<'_, '_, W> {
    /// Whether all numbers so far that were looked at are within their bounds.
    #[inline(always)]
    pub(super) fn is_plain(&self) -> bool {
        // One below for what is above zero: its infinity is the number before.
        self.worst.iter().all(|worst| *worst < INFINITY - 1)
    }

    #[inline(always)]
    pub(super) fn pass(&mut self, pass: &Pass) {
        macro_rules! chains {
            ($($number:literal)*) => {
                match pass.code {
                    $($number => self.chain::<$number>(pass),)*
                    code::TAKE => self.take(pass),
                    code::CHECK => self.check(pass),
                    code::KEEP_SUM => {
                        self.registers[usize::from(pass.out)].0 = self.sum;
                        self.sum = Register::ZERO.0;
                    }
                    code::RAISE => self.raise(pass.first),
                    code::ROOT_OF => self.root_of(pass),
                    code::ROOT => self.one(pass, |a| a.sqrt()),
                    code::ABSOLUTE => self.one(pass, |a| a.abs()),
                    code::AT_LEAST_ZERO => self.one(pass, |a| if a < 0.0 { 0.0 } else { a }),
                    code::POWER => self.power(pass),
                    code::ADD_NUMBER => self.one(pass, |a| a + pass.first),
                    code::TAKEN_FROM => self.one(pass, |a| pass.first - a),
                    code::OVER => self.one(pass, |a| a / pass.first),
                    code::UNDER => self.one(pass, |a| pass.first / a),
                    code::ADD => self.two(pass, |a, b| a + b),
                    code::SUBTRACT => self.two(pass, |a, b| a - b),
                    code::DIVIDE => self.two(pass, |a, b| a / b),
                    _ => self.two(pass, settled),
                }
            };
        }
        chains!(
            0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24 25 26 27 28 29 30 31
            32 33 34 35 36 37 38 39 40 41 42 43 44 45 46 47 48 49 50 51
        );
    }

    #[inline(always)]
    fn at(&self, register: u8) -> &[Vector; VECTORS] {
        &self.registers[usize::from(register)].0
    }

    /// The product of registers and numbers from the left, and what is done with it.
    #[inline(always)]
    fn chain<const CODE: u8>(&mut self, pass: &Pass) {
        let shape = const { code::shape(CODE) };
        for v in 0..VECTORS {
            let mut product = self.at(pass.lanes[0])[v];
            if shape.has_first {
                product = each(product, |a| pass.first * a);
            }
            for lane in 1..shape.count {
                let lane = self.at(pass.lanes[usize::from(lane)])[v];
                product = both(product, lane, |a, b| a * b);
            }
            if shape.has_last {
                product = each(product, |a| a * pass.last);
            }
            match shape.end {
                code::KEEP => self.registers[usize::from(pass.out)].0[v] = product,
                code::KEEP_OVER => {
                    let quotient = each(product, |a| a / pass.last);
                    self.registers[usize::from(pass.out)].0[v] = quotient;
                }
                end => {
                    let square = each(product, |a| a * a);
                    let sum = both(self.sum[v], square, |a, b| a + b);
                    self.sum[v] = sum;
                    if end == code::ROOT_OF_SUM {
                        self.sum[v] = [0.0; LANES];
                        self.result(pass.out, v, each(sum, f64::sqrt));
                    }
                }
            }
        }
    }

    /// Keeps numbers of a result, which must be above zero and finite.
    #[inline(always)]
    fn result(&mut self, number: u8, v: usize, numbers: Vector) {
        let (vectors, _) = self.results[usize::from(number)].values.as_chunks_mut();
        vectors[self.tile * VECTORS + v] = numbers;
        for (worst, number) in self.worst.iter_mut().zip(numbers) {
            *worst = (*worst).max(size_above_zero(number));
        }
    }

    #[inline(always)]
    fn root_of(&mut self, pass: &Pass) {
        for v in 0..VECTORS {
            let variance = self.at(pass.lanes[0])[v];
            self.result(pass.out, v, each(variance, f64::sqrt));
        }
    }

    /// Takes what is supplied, which must be within bounds. The rows of a block that comes next
    /// stand where this one ends: a tile reads too many columns for the processor to follow each.
    #[inline(always)]
    fn take(&mut self, pass: &Pass) {
        let (vectors, _) = self.supplied[usize::from(pass.lanes[0])].as_chunks();
        let register = &mut self.registers[usize::from(pass.out)].0;
        let mut is_out = [0_u64; LANES];
        for v in 0..VECTORS {
            let numbers: &Vector = &vectors[self.tile * VECTORS + v];
            soon_read(&numbers[0], W);
            for (is_out, number) in is_out.iter_mut().zip(numbers) {
                let is_within = (pass.first <= *number) & (*number <= pass.last);
                *is_out |= u64::from(!is_within);
            }
            register[v] = *numbers;
        }
        for (worst, is_out) in self.worst.iter_mut().zip(is_out) {
            *worst |= is_out << 63;
        }
    }

    /// Numbers that must be finite once they are scaled.
    #[inline(always)]
    fn check(&mut self, pass: &Pass) {
        for v in 0..VECTORS {
            let numbers = self.at(pass.lanes[0])[v];
            for (worst, number) in self.worst.iter_mut().zip(numbers) {
                *worst = (*worst).max(size(number));
            }
        }
    }

    #[inline(always)]
    fn raise(&mut self, k: f64) {
        for v in 0..VECTORS {
            self.sum[v] = each(self.sum[v], |sum| sum + k);
        }
    }

    #[inline(always)]
    fn one(&mut self, pass: &Pass, f: impl Fn(f64) -> f64) {
        for v in 0..VECTORS {
            let made = each(self.at(pass.lanes[0])[v], &f);
            self.registers[usize::from(pass.out)].0[v] = made;
        }
    }

    #[inline(always)]
    fn two(&mut self, pass: &Pass, f: impl Fn(f64, f64) -> f64) {
        for v in 0..VECTORS {
            let (a, b) = (self.at(pass.lanes[0])[v], self.at(pass.lanes[1])[v]);
            self.registers[usize::from(pass.out)].0[v] = both(a, b, &f);
        }
    }

    #[inline(always)]
    fn power(&mut self, pass: &Pass) {
        for v in 0..VECTORS {
            let made = powers(self.at(pass.lanes[0])[v], pass.first as i32);
            self.registers[usize::from(pass.out)].0[v] = made;
        }
    }
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
