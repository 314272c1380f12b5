//! Evaluating one cell: its reading, or its formula over the states of its operands.

use super::cell::{GUARDED, HAS_FORMULA, HAS_READING, Hot, NONE};
use super::sheet::Sheet;
use crate::formula::{Lane, Single, Status};
use crate::quantity::{Content, Reading};

impl Sheet {
    /// The state that a reading alone gives a cell; `None` where the formula decides.
    pub(super) fn reading_lane(&self, index: usize) -> Option<Lane> {
        self.lane_from(index, self.readings[index].as_deref()?)
    }

    /// The state that a reading would give a cell; `None` where it says nothing.
    pub(super) fn lane_from(&self, index: usize, reading: &Reading) -> Option<Lane> {
        let value = match reading.content() {
            Content::Magnitude { value, unit } => unit.convert(*value, self.forms[index].unit)?,
            Content::Word(word) => {
                let words = &self.about[index].as_ref()?.words;
                words.iter().position(|w| **w == **word)? as f64
            }
            Content::Unknown | Content::Unobtainable => return None,
        };
        Some(Lane {
            value,
            status: Status::known(reading.origin()),
        })
    }

    pub(super) fn refresh_reading(&mut self, index: usize) {
        let has = self.reading_lane(index).is_some();
        let flags = &mut self.hot[index].flags;
        *flags = *flags & !HAS_READING | if has { HAS_READING } else { 0 };
    }

    /// Sets a cell without a formula to its reading.
    pub(super) fn fill_input(&mut self, index: usize) {
        let next = self.evaluate(index);
        self.hot[index] = next;
    }

    pub(super) fn compute_now(&mut self, index: usize) {
        let next = self.evaluate(index);
        self.hot[index] = next;
    }

    #[inline]
    pub(super) fn evaluate(&mut self, index: usize) -> Hot {
        let hot = self.hot[index];
        let lane =
            if hot.flags & HAS_FORMULA != 0 && hot.flags & (HAS_READING | GUARDED) != HAS_READING {
                self.run(index)
            } else {
                self.reading_lane(index).unwrap_or(Lane::MISSING)
            };
        let reason = if lane.status.is_known() {
            0
        } else {
            self.find_reason(index, lane.status)
        };
        Hot {
            value: lane.value,
            reason,
            status: lane.status,
            flags: hot.flags,
        }
    }

    #[inline]
    fn run(&mut self, index: usize) -> Lane {
        let plan = self.plans[index];
        let tape = &self.tapes[plan.tape as usize];
        if !Single::<true>::fits(tape.registers()) {
            return self.run_large(index);
        }
        let start = plan.operands as usize;
        let operands = &self.operands[start..start + plan.count as usize];
        if tape.is_straight() && hot_is_plain(self.hot[index].flags) {
            let registers = &mut *self.straight;
            let mut joined = 0;
            for (register, operand) in registers.values.iter_mut().zip(operands) {
                let hot = &self.hot[*operand as usize];
                *register = hot.value;
                joined |= hot.status.0;
            }
            return registers.finish(tape, joined);
        }
        let own = match tape.uses_reading() {
            true => Some(self.reading_lane(index).unwrap_or(Lane::MISSING)),
            false => None,
        };
        let registers = &mut *self.tracked;
        for (i, operand) in operands.iter().enumerate() {
            let hot = &self.hot[*operand as usize];
            registers.values[i] = hot.value;
            registers.states[i] = hot.status.0;
        }
        if let Some(own) = own {
            registers.values[operands.len()] = own.value;
            registers.states[operands.len()] = own.status.0;
        }
        registers.finish(tape, 0)
    }

    fn run_large(&self, index: usize) -> Lane {
        let tape = &self.tapes[self.plans[index].tape as usize];
        crate::formula::evaluate_one(tape, &self.input_lanes(index))
    }

    /// The inputs of a cell's formula, in the order of its registers.
    pub(super) fn input_lanes(&self, index: usize) -> Vec<Lane> {
        let plan = self.plans[index];
        if plan.tape == NONE {
            return Vec::new();
        }
        let mut lanes: Vec<Lane> = self
            .operands_of(index)
            .iter()
            .map(|o| self.lane(*o as usize))
            .collect();
        if self.tapes[plan.tape as usize].uses_reading() {
            lanes.push(self.reading_lane(index).unwrap_or(Lane::MISSING));
        }
        lanes
    }
}

/// A reading plays no part in how the formula runs.
#[inline]
fn hot_is_plain(flags: u8) -> bool {
    flags & GUARDED == 0
}
