//! Fused operations, carried out over a block, tile by tile.

use super::kernels::{Register, Registers, TILE, VECTORS, Work};
use super::pass::Pass;
use crate::formula::lanes::ViewMut;
use crate::formula::simd::{Job, widest};

/// Operations ready to run over blocks of plain rows.
#[derive(Clone, Debug)]
pub(crate) struct Fused {
    pub(super) passes: Vec<Pass>,
}

/// Room for what operations make.
pub(crate) struct FusedRoom {
    registers: Box<Registers>,
}

impl Fused {
    /// Room for any blocks.
    pub(crate) fn room(&self) -> FusedRoom {
        FusedRoom {
            registers: Box::new([Register::ZERO; 256]),
        }
    }

    /// Computes a block of rows from numbers that are all known. Whether all was plain: what is
    /// supplied is within its bounds, what must be finite is, and each result is positive and
    /// finite. Where not, the results mean nothing.
    pub(crate) fn run<const W: usize>(
        &self,
        supplied: &[&[f64; W]],
        room: &mut FusedRoom,
        results: &mut [ViewMut<'_, W>],
    ) -> bool {
        const { assert!(W.is_multiple_of(TILE)) }
        let mut is_plain = false;
        widest(Carry {
            passes: &self.passes,
            supplied,
            room,
            results,
            is_plain: &mut is_plain,
        });
        is_plain
    }
}

struct Carry<'a, 'r, const W: usize> {
    passes: &'a [Pass],
    supplied: &'a [&'a [f64; W]],
    room: &'a mut FusedRoom,
    results: &'a mut [ViewMut<'r, W>],
    is_plain: &'a mut bool,
}

impl<const W: usize> Job for Carry<'_, '_, W> {
    #[inline(always)]
    fn run(self) {
        let mut work = Work {
            supplied: self.supplied,
            registers: &mut self.room.registers,
            results: self.results,
            tile: 0,
            sum: [[0.0; _]; VECTORS],
            worst: [0; _],
        };
        while work.tile < W / TILE {
            for pass in self.passes {
                work.pass(pass);
            }
            work.tile += 1;
        }
        *self.is_plain = work.is_plain();
    }
}
