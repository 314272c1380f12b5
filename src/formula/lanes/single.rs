//! Registers of one lane, for a sheet that is edited cell by cell.

use super::{Lane, Registers, checked, is_unsettled, run};
use crate::formula::status::Status;
use crate::formula::tape::{Reg, Tape};

/// Room for the registers of one lane of a small formula, kept between formulas.
#[derive(Clone)]
pub(crate) struct Single<const TRACKED: bool> {
    pub(crate) values: [f64; 256],
    pub(crate) states: [u8; 256],
}

impl<const TRACKED: bool> Single<TRACKED> {
    pub(crate) fn new() -> Self {
        Single {
            values: [0.0; 256],
            states: [0; 256],
        }
    }

    /// Whether a formula of this many registers fits.
    pub(crate) fn fits(registers: usize) -> bool {
        registers <= 256
    }

    /// Runs a tape whose inputs have been put into the first registers, values and states;
    /// `joined` is the state of all inputs together.
    #[inline(always)]
    pub(crate) fn finish(&mut self, tape: &Tape, joined: u8) -> Lane {
        let mut filled = FilledSingle {
            room: self,
            next: tape.inputs() as u8,
            hidden: 0.0,
        };
        run(&tape.steps, &mut filled);
        let hidden = filled.hidden;
        let at = tape.result as u8 as usize;
        let value = self.values[at];
        let states = if TRACKED {
            self.states[at]
        } else if is_unsettled(value + hidden, joined) {
            return self.finish_tracked(tape, joined);
        } else {
            checked(value + hidden, joined)
        };
        Lane {
            value,
            status: Status(states).settled(),
        }
    }

    /// The same run with a state for each register.
    #[cold]
    #[inline(never)]
    fn finish_tracked(&self, tape: &Tape, joined: u8) -> Lane {
        let mut tracked = Single::<true>::new();
        let inputs = tape.inputs();
        tracked.values[..inputs].copy_from_slice(&self.values[..inputs]);
        tracked.states[..inputs].copy_from_slice(&self.states[..inputs]);
        tracked.finish(tape, joined)
    }
}

/// Registers of one lane: no bounds to check, no memory to ask for.
struct FilledSingle<'a, const TRACKED: bool> {
    room: &'a mut Single<TRACKED>,
    next: u8,
    hidden: f64,
}

impl<const TRACKED: bool> FilledSingle<'_, TRACKED> {
    #[inline(always)]
    fn put(&mut self, value: f64, states: u8) {
        let at = usize::from(self.next);
        self.room.values[at] = value;
        if TRACKED {
            self.room.states[at] = checked(value, states);
        }
        self.next = self.next.wrapping_add(1);
    }

    #[inline(always)]
    fn lane(&self, a: Reg) -> Lane {
        let a = a as u8 as usize;
        Lane {
            value: self.room.values[a],
            status: Status(self.room.states[a]),
        }
    }
}

impl<const TRACKED: bool> Registers for FilledSingle<'_, TRACKED> {
    #[inline(always)]
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64) {
        let a = self.lane(a);
        self.put(f(a.value), a.status.0);
    }
    #[inline(always)]
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64) {
        let (a, b) = (self.lane(a), self.lane(b));
        self.put(f(a.value, b.value), a.status.0 | b.status.0);
    }
    #[inline(always)]
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64) {
        let (a, b, c) = (self.lane(a), self.lane(b), self.lane(c));
        self.put(
            f(a.value, b.value, c.value),
            a.status.0 | b.status.0 | c.status.0,
        );
    }
    #[inline(always)]
    fn states(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(Lane, Lane, Lane) -> Lane) {
        let lane = f(self.lane(a), self.lane(b), self.lane(c));
        self.put(lane.value, lane.status.0);
    }
    #[inline(always)]
    fn fixed(&mut self, lane: Lane) {
        self.put(lane.value, lane.status.0);
    }
    #[inline(always)]
    fn guard(&mut self, a: Reg) {
        if !TRACKED {
            // Zero for a finite number, not a number for any other: once so, always so.
            self.hidden += self.room.values[a as u8 as usize] * 0.0;
        }
    }
}
