//! Fused operations, carried out over a block, tile by tile.

use super::kernels::{Register, Registers, TILE, Work};
use super::place::Placed;
use crate::formula::lanes::ViewMut;
use crate::formula::simd::{Job, widest};

/// Operations ready to run over blocks of plain rows.
#[derive(Clone, Debug)]
pub(crate) struct Fused {
    placed: Placed,
}

/// Room for what operations make.
pub(crate) struct FusedRoom {
    registers: Box<Registers>,
}

impl Fused {
    pub(super) fn new(placed: Placed) -> Fused {
        Fused { placed }
    }

    /// Room for any blocks.
    pub(crate) fn room(&self) -> FusedRoom {
        let mut registers = Box::new([Register::ZERO; _]);
        for (register, number) in registers.iter_mut().zip(&self.placed.numbers) {
            *register = Register::all(*number);
        }
        FusedRoom { registers }
    }

    /// Computes a block of rows from numbers that are all known. Whether all was plain: what is
    /// supplied is within its bounds, what must be finite is, and each result and each variance on
    /// the way is finite and far enough from zero for squares. Where not, the results mean nothing.
    pub(crate) fn run<const W: usize>(
        &self,
        supplied: &[&[f64; W]],
        room: &mut FusedRoom,
        results: &mut [ViewMut<'_, W>],
    ) -> bool {
        const { assert!(W.is_multiple_of(TILE)) }
        let mut is_plain = false;
        widest(Carry {
            placed: &self.placed,
            supplied,
            room,
            results,
            is_plain: &mut is_plain,
        });
        is_plain
    }
}

struct Carry<'a, 'r, const W: usize> {
    placed: &'a Placed,
    supplied: &'a [&'a [f64; W]],
    room: &'a mut FusedRoom,
    results: &'a mut [ViewMut<'r, W>],
    is_plain: &'a mut bool,
}

impl<const W: usize> Job for Carry<'_, '_, W> {
    #[inline(always)]
    fn run(self) {
        let Placed {
            passes,
            numbers,
            bounds,
        } = self.placed;
        let registers = &mut self.room.registers;
        let mut work = Work::new(self.supplied, registers, self.results, numbers.len());
        while work.tile < W / TILE {
            work.look_at_supplied(bounds);
            for pass in passes {
                work.pass(pass);
            }
            work.tile += 1;
        }
        *self.is_plain = work.is_plain();
    }
}
