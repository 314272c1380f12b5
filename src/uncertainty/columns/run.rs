//! One block of rows, carried out.

use super::{Columns, Room};
use crate::formula::simd::{Job, widest};
use crate::formula::{Carrying, Code, LEAST_STANDARD, Lanes, Numbers, Status};

impl Columns {
    /// Computes the block whose rows and uncertainties are in the room.
    pub fn run<const W: usize>(&self, room: &mut Room<W>) {
        self.program.run_filled(&mut room.block);
        for column in &mut room.columns {
            widest(Sound { column });
        }
        room.has_causes = false;
        self.carry::<W, false>(room);
        let mut unusual = Vec::new();
        for (at, wanted) in self.wanted.iter().enumerate() {
            let states = room.block.lanes(wanted.slot).states;
            room.states[at] = states;
            // Almost every number is a plain positive one; the others are looked at one by one.
            let mut others = 0;
            let standards = self.standard(room, at);
            for row in 0..W {
                others += usize::from(!is_plain(standards.values[row]));
            }
            if others > 0 {
                let known = (0..W).filter(|row| standards.lane(*row).status.is_known());
                let known = known.filter(|row| !is_plain(standards.values[*row]));
                unusual.extend(known.map(|row| (at, row)));
            }
        }
        if !unusual.is_empty() {
            // So that nothing infinite leaks out of a branch that was not taken.
            self.carry::<W, true>(room);
            self.causes(room);
            for (at, row) in unusual {
                self.look(room, at, row);
            }
        }
    }

    fn carry<const W: usize, const GUARDED: bool>(&self, room: &mut Room<W>) {
        let mut made = std::mem::take(&mut room.carried);
        self.carry_out::<W, GUARDED>(&self.carried, room, &mut made);
        room.carried = made;
    }

    /// Works out slopes per cause, unless they are those of this block.
    pub(super) fn causes<const W: usize>(&self, room: &mut Room<W>) {
        if !room.has_causes {
            let mut made = std::mem::take(&mut room.by_cause);
            self.carry_out::<W, true>(&self.by_cause, room, &mut made);
            room.by_cause = made;
            room.has_causes = true;
        }
    }

    fn carry_out<const W: usize, const GUARDED: bool>(
        &self,
        code: &Code,
        room: &Room<W>,
        made: &mut [Numbers<W>],
    ) {
        widest(Carrying::<W, GUARDED, _> {
            code,
            supply: &self.given(room),
            room: made,
        });
    }

    /// A number that was not plain in haste: it is now, or that from slopes per cause counts.
    fn look<const W: usize>(&self, room: &mut Room<W>, at: usize, row: usize) {
        if is_plain(self.standard(room, at).values[row]) {
            return;
        }
        let by_cause = room.by_cause[self.wanted[at].standard].0[row];
        room.carried[self.standards[at]].0[row] = by_cause;
        room.states[at][row] = self.unusual(room, at, row).0;
    }

    /// The state of an uncertainty that may be zero or no finite number.
    fn unusual<const W: usize>(&self, room: &Room<W>, at: usize, row: usize) -> Status {
        let lane = self.standard(room, at).lane(row);
        if !lane.value.is_finite() {
            return Status::FAULTY;
        }
        let says_something = self.wanted[at].causes.iter().any(|cause| {
            self.is_stated(cause, room, row) && self.value(cause.slope, room, row) != 0.0
        });
        match says_something {
            true => lane.status,
            false => Status::MISSING,
        }
    }
}

/// Whether nothing was lost in squares.
#[inline(always)]
fn is_plain(u: f64) -> bool {
    let (is_large, is_finite) = (u >= LEAST_STANDARD, u < f64::INFINITY);
    is_large & is_finite
}

/// Turns what is no uncertainty into no number.
struct Sound<'a, const W: usize> {
    column: &'a mut Lanes<W>,
}

impl<const W: usize> Job for Sound<'_, W> {
    #[inline(always)]
    fn run(self) {
        for value in &mut self.column.values {
            let is_sound = (*value >= 0.0) & (*value < f64::INFINITY);
            *value = if is_sound { *value } else { f64::NAN };
        }
    }
}
