//! Evaluating one cell: its reading, or its formula over the states of its operands.

use super::cell::{GUARDED, HAS_FORMULA, HAS_READING, NONE, SharedTape, Way};
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

    /// Computes a cell that is new, before anything depends on it.
    pub(super) fn compute_now(&mut self, index: usize) {
        let lane = self.evaluate(index);
        self.store(index, lane);
    }

    /// What a cell's reading, or its formula over the present states of its operands, gives.
    #[inline(always)]
    pub(super) fn evaluate(&mut self, index: usize) -> Lane {
        let flags = self.hot[index].flags;
        if flags & HAS_FORMULA != 0 && flags & (HAS_READING | GUARDED) != HAS_READING {
            self.run(index)
        } else {
            self.reading_lane(index).unwrap_or(Lane::MISSING)
        }
    }

    /// Stores a cell's state, with the reason where it is not known; whether it is another.
    #[inline(always)]
    pub(super) fn store(&mut self, index: usize, lane: Lane) -> bool {
        if !lane.status.is_known() {
            return self.store_unknown(index, lane);
        }
        // Field by field: a copy of the whole would wait for the stores it was put together from.
        let hot = &mut self.hot[index];
        if hot.status == lane.status && hot.value.to_bits() == lane.value.to_bits() {
            return false;
        }
        hot.value = lane.value;
        hot.status = lane.status;
        hot.reason = 0;
        true
    }

    #[cold]
    fn store_unknown(&mut self, index: usize, lane: Lane) -> bool {
        let reason = self.find_reason(index, lane.status);
        let hot = &mut self.hot[index];
        if hot.status == lane.status && hot.reason == reason {
            return false;
        }
        hot.value = lane.value;
        hot.status = lane.status;
        hot.reason = reason;
        true
    }

    #[inline(always)]
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
