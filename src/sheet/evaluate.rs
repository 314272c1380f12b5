//! Evaluating one cell: its reading, or its formula over the states of its operands.

use super::cell::{GUARDED, HAS_FORMULA, HAS_READING, Hot, NONE, SharedTape, Way};
use super::sheet::Sheet;
use crate::formula::{Lane, Status, run_alone};
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
        let has = self.reading_lane(index).is_some() || self.is_refused(index);
        let flags = &mut self.hot[index].flags;
        *flags = *flags & !HAS_READING | if has { HAS_READING } else { 0 };
    }

    /// Whether an exam said that its own reading could not be obtained, so that the cell that
    /// all exams share does not stand in. A formula that uses the reading decides for itself.
    pub(super) fn is_refused(&self, index: usize) -> bool {
        let content = self.readings[index].as_deref().map(Reading::content);
        content == Some(&Content::Unobtainable) && self.shared.contains_key(&(index as u32))
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
        let flags = self.hot[index].flags;
        let lane = if flags & HAS_FORMULA != 0 && flags & (HAS_READING | GUARDED) != HAS_READING {
            self.run(index)
        } else {
            self.reading_lane(index).unwrap_or(Lane::MISSING)
        };
        self.with_reason(index, lane)
    }

    /// A cell's new state, with the reason where it is not known.
    #[inline]
    pub(super) fn with_reason(&mut self, index: usize, lane: Lane) -> Hot {
        let reason = if lane.status.is_known() {
            0
        } else {
            self.find_reason(index, lane.status)
        };
        Hot {
            value: lane.value,
            reason,
            status: lane.status,
            flags: self.hot[index].flags,
        }
    }

    #[inline]
    fn run(&mut self, index: usize) -> Lane {
        let plan = self.plans[index];
        let start = plan.operands as usize;
        let operands = &self.operands[start..start + plan.count as usize];
        let SharedTape { tape, way } = &self.tapes[plan.tape as usize];
        match way {
            Way::Alone(step) => run_alone(*step, |operand| {
                self.hot[operands[usize::from(operand)] as usize].lane()
            }),
            Way::Straight => {
                let registers = &mut *self.straight;
                let mut joined = 0;
                for (i, operand) in operands.iter().enumerate() {
                    let hot = &self.hot[*operand as usize];
                    registers.values[i] = hot.value;
                    registers.states[i] = hot.status.0;
                    joined |= hot.status.0;
                }
                registers.finish(tape, joined)
            }
            Way::Tracked => self.run_tracked(index),
            Way::Large => crate::formula::evaluate_one(tape, &self.input_lanes(index)),
        }
    }

    /// Runs steps that look at states, or at the cell's own reading.
    fn run_tracked(&mut self, index: usize) -> Lane {
        let plan = self.plans[index];
        let start = plan.operands as usize;
        let operands = &self.operands[start..start + plan.count as usize];
        let tape = &self.tapes[plan.tape as usize].tape;
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
        if self.tapes[plan.tape as usize].tape.uses_reading() {
            lanes.push(self.reading_lane(index).unwrap_or(Lane::MISSING));
        }
        lanes
    }
}
