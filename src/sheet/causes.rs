//! Why a cell is not known, from the judge; off the fast path.

use super::cell::{GUARDED, HAS_READING};
use super::reasons::Cause;
use super::sheet::Sheet;
use crate::formula::{
    At, Because, Formula, Given, Lane, Status, Trouble, Verdict, branches_taken, judge,
};
use crate::quantity::{Content, Reading};

impl Sheet {
    /// Why a cell is not known, from the judge; off the fast path.
    #[cold]
    pub(super) fn find_reason(&mut self, index: usize, status: Status) -> u32 {
        let own = self.speaks_of.get(&(index as u32)).copied();
        let speaker = own.unwrap_or(index as u32);
        // Without a formula, or where the reading keeps it from running.
        let is_own = self.hot[index].flags & (HAS_READING | GUARDED) == HAS_READING;
        let causes = match self.formula_at(index).filter(|_| !is_own).cloned() {
            None => vec![self.no_reading(speaker)],
            Some(formula) => {
                let verdict = self.judged(index, &formula);
                self.causes(index, speaker, &formula, verdict, status)
            }
        };
        self.reasons.number(causes)
    }

    fn no_reading(&self, index: u32) -> Cause {
        match self.readings[index as usize]
            .as_deref()
            .map(Reading::content)
        {
            Some(Content::Unobtainable) => Cause::Unobtainable(index),
            _ => Cause::NoReading(index),
        }
    }

    /// The judge's verdict on a cell's formula, in coherent units.
    pub(super) fn judged(&self, index: usize, formula: &Formula) -> Verdict {
        self.with_inputs(index, |operands, own, word_of| {
            judge(formula, operands, own, word_of)
        })
    }

    /// The branch that each operation of a cell's formula took.
    pub(super) fn branches(&self, index: usize, formula: &Formula) -> Vec<Option<At>> {
        self.with_inputs(index, |operands, own, word_of| {
            branches_taken(formula, operands, own, word_of)
        })
    }

    /// Calls `f` with what the judge must know of a cell's inputs.
    fn with_inputs<R>(
        &self,
        index: usize,
        f: impl FnOnce(&[Given], &Given, &dyn Fn(u32, &str) -> Option<u16>) -> R,
    ) -> R {
        let operands = self.operands_of(index);
        let inputs: Vec<Given> = operands
            .iter()
            .map(|o| {
                given(
                    self.lane(*o as usize),
                    self.forms[*o as usize].unit.factor(),
                )
            })
            .collect();
        let own = given(
            self.reading_lane(index).unwrap_or(Lane::MISSING),
            self.forms[index].unit.factor(),
        );
        let word_of = |k: u32, word: &str| {
            let about = self.about[operands[k as usize] as usize].as_ref()?;
            about
                .words
                .iter()
                .position(|w| **w == *word)
                .map(|n| n as u16)
        };
        f(&inputs, &own, &word_of)
    }

    fn causes(
        &self,
        index: usize,
        speaker: u32,
        formula: &Formula,
        verdict: Verdict,
        status: Status,
    ) -> Vec<Cause> {
        let because = match verdict {
            Verdict::Missing(because) if status.is_missing() => because,
            Verdict::Faulty(because) => vec![because],
            // The judge computes in other units; only a number at the edge of what can be held
            // makes the two disagree.
            _ => return vec![Cause::Fault(speaker, formula.root(), Trouble::TooLarge)],
        };
        let operands = self.operands_of(index);
        let mut causes = Vec::new();
        for because in because {
            match because {
                Because::Operand(k) => {
                    let reason = self.hot[operands[k as usize] as usize].reason;
                    causes.extend_from_slice(self.reasons.causes(reason));
                }
                Because::OwnReading => causes.push(self.no_reading(speaker)),
                Because::Withheld(text) => {
                    causes.push(Cause::Withheld(speaker, formula.text(text).clone()));
                }
                Because::Fault(op, trouble) => causes.push(Cause::Fault(speaker, op, trouble)),
            }
        }
        causes
    }
}

/// A lane as the judge sees it; `factor` is the size of the cell's unit in coherent ones.
pub(super) fn given(lane: Lane, factor: f64) -> Given {
    if lane.status.is_faulty() {
        Given::Faulty
    } else if lane.status.is_missing() {
        Given::Missing
    } else {
        Given::Known {
            value: lane.value * factor,
            origin: lane.status.origin(),
        }
    }
}
