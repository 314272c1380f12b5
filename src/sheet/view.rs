//! Looking at a sheet: values, states, reasons, names.

use std::sync::Arc;

use super::cell::{About, HAS_READING, REMOVED};
use super::reasons::{Cause, MOST_CAUSES};
use super::sheet::Sheet;
use crate::formula::CellId;
use crate::formula::notation::{number, write_formula, write_op};
use crate::quantity::{Kind, Origin, Reading, Unit};

/// Whether a cell has a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// It has one.
    Known,
    /// It waits for something.
    Missing,
    /// Something went wrong on the way.
    Faulty,
}

impl State {
    /// The word of JSON and pages.
    pub fn word(self) -> &'static str {
        match self {
            State::Known => "known",
            State::Missing => "missing",
            State::Faulty => "faulty",
        }
    }
}

/// What messages call a cell without a name.
const NAMELESS: &str = "an unnamed cell";

impl Sheet {
    /// The cell of a name.
    pub fn cell(&self, name: &str) -> Option<CellId> {
        self.names.get(name).map(|index| self.id_of(*index))
    }

    /// All named cells, in the order in which people are shown them.
    pub fn cells(&self) -> impl Iterator<Item = CellId> + '_ {
        self.listing.iter().map(|index| self.id_of(*index))
    }

    /// How many cells there are, hidden ones not counted.
    pub fn len(&self) -> usize {
        let removed = self.hot.iter().filter(|hot| hot.flags & REMOVED != 0);
        self.hot.len() - removed.count() - self.speaks_of.len()
    }

    /// Whether there is no cell.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// What a person is told of a cell; `None` for a cell without a name.
    pub fn about(&self, cell: CellId) -> Option<&About> {
        let index = self.index_of(cell).ok()?;
        self.about[index].as_deref()
    }

    /// A cell's name; words that say so for a cell that has none or is of another sheet.
    pub fn name(&self, cell: CellId) -> String {
        match self.index_of(cell) {
            Ok(_) => self.display_name(cell.index).to_owned(),
            Err(_) => NAMELESS.to_owned(),
        }
    }

    /// The name for messages.
    pub(super) fn display_name(&self, index: u32) -> &str {
        let speaker = self.speaks_of.get(&index).copied().unwrap_or(index);
        match self.about.get(speaker as usize) {
            Some(Some(about)) => &about.name,
            _ => NAMELESS,
        }
    }

    /// The value, in the cell's unit; `None` unless known. Of a finding, the number of its word.
    #[inline]
    pub fn value(&self, cell: CellId) -> Option<f64> {
        let hot = self.hot.get(cell.index())?;
        (hot.status.is_known() && cell.sheet == self.id).then_some(hot.value)
    }

    /// Whether the cell has a value; `None` for a handle of another sheet.
    pub fn state(&self, cell: CellId) -> Option<State> {
        let hot = &self.hot[self.index_of(cell).ok()?];
        Some(if hot.status.is_known() {
            State::Known
        } else if hot.status.is_faulty() {
            State::Faulty
        } else {
            State::Missing
        })
    }

    /// The worst origin of what a known value used.
    pub fn origin(&self, cell: CellId) -> Option<Origin> {
        let hot = &self.hot[self.index_of(cell).ok()?];
        hot.status.is_known().then(|| hot.status.origin())
    }

    /// The unit the cell is shown in.
    pub fn unit(&self, cell: CellId) -> Option<Unit> {
        self.index_of(cell).ok().map(|index| self.forms[index].unit)
    }

    /// The kind of the quantity.
    pub fn kind(&self, cell: CellId) -> Option<Kind> {
        self.index_of(cell).ok().map(|index| self.forms[index].kind)
    }

    /// The reading that was put in, `?` included.
    pub fn reading(&self, cell: CellId) -> Option<&Reading> {
        self.readings[self.index_of(cell).ok()?].as_deref()
    }

    /// Whether the value is a reading rather than computed.
    pub(super) fn is_given(&self, index: usize) -> bool {
        self.hot[index].flags & HAS_READING != 0
    }

    /// The word of a finding.
    pub fn word(&self, cell: CellId) -> Option<&Arc<str>> {
        let value = self.value(cell)?;
        self.about(cell)?.words.get(value as usize)
    }

    /// The words of a finding; empty for a quantity.
    pub fn words(&self, cell: CellId) -> &[Arc<str>] {
        self.about(cell).map_or(&[], |about| &about.words)
    }

    /// Whether the cell's value is computed when it has no reading of its own.
    pub fn is_derived(&self, cell: CellId) -> bool {
        self.index_of(cell).is_ok_and(|index| {
            self.formula_at(index).is_some_and(|f| !f.uses_reading())
                && !self.shared.contains_key(&cell.index)
        })
    }

    /// Cells that a row must have, or be set aside.
    pub fn required(&self) -> impl Iterator<Item = CellId> + '_ {
        self.required.iter().map(|index| self.id_of(*index))
    }

    /// The formula in the notation, with the operands' present names.
    pub fn formula_text(&self, cell: CellId) -> Option<String> {
        let index = self.index_of(cell).ok()?;
        let formula = self.formula_at(index)?;
        Some(write_formula(formula, &self.operand_names(index)))
    }

    pub(super) fn operand_names(&self, index: usize) -> Vec<&str> {
        let own = |operand: u32| self.speaks_of.get(&operand) == Some(&(index as u32));
        self.operands_of(index)
            .iter()
            .map(|operand| match own(*operand) {
                true => crate::formula::notation::OWN_READING,
                false => self.display_name(*operand),
            })
            .collect()
    }

    /// The cells that a cell's formula names.
    pub fn inputs(&self, cell: CellId) -> Vec<CellId> {
        let Ok(index) = self.index_of(cell) else {
            return Vec::new();
        };
        let mut inputs = Vec::new();
        for operand in self.operands_of(index) {
            let operand = self.speaks_of.get(operand).copied().unwrap_or(*operand);
            let id = self.id_of(operand);
            if operand != index as u32 && !inputs.contains(&id) {
                inputs.push(id);
            }
        }
        inputs
    }

    /// Why a cell is missing or faulty, in words; empty for a known one.
    pub fn because(&self, cell: CellId) -> Vec<String> {
        let Ok(index) = self.index_of(cell) else {
            return Vec::new();
        };
        let causes = self.reasons.causes(self.hot[index].reason);
        let told = causes.iter().take(MOST_CAUSES);
        let mut words: Vec<String> = told.map(|c| self.cause_words(c)).collect();
        words.dedup();
        if causes.len() > MOST_CAUSES {
            words.push("there are more reasons like these".into());
        }
        words
    }

    /// The inputs that a missing cell waits for.
    pub fn waits_for(&self, cell: CellId) -> Vec<CellId> {
        let Ok(index) = self.index_of(cell) else {
            return Vec::new();
        };
        let causes = self.reasons.causes(self.hot[index].reason);
        causes
            .iter()
            .filter_map(|cause| match cause {
                Cause::NoReading(input) | Cause::Unobtainable(input) => Some(self.id_of(*input)),
                Cause::Withheld(..) | Cause::Fault(..) => None,
            })
            .collect()
    }

    pub(super) fn cause_words(&self, cause: &Cause) -> String {
        match cause {
            Cause::NoReading(input) => format!("{} has no reading", self.display_name(*input)),
            Cause::Unobtainable(input) => {
                format!("{} could not be obtained", self.display_name(*input))
            }
            Cause::Withheld(cell, reason) => {
                format!("{} is withheld: {reason}", self.display_name(*cell))
            }
            Cause::Fault(cell, op, trouble) => {
                let index = *cell as usize;
                let what = self.formula_at(index).map_or(String::new(), |formula| {
                    let names = self.operand_names(index);
                    format!(": `{}`", write_op(formula, *op, &names))
                });
                format!("{} {}{what}", self.display_name(*cell), trouble.words())
            }
        }
    }

    /// One line of the notation for each cell that has a reading, `?` included.
    pub fn reading_lines(&self) -> Vec<String> {
        self.cells()
            .filter_map(|cell| {
                let reading = self.reading(cell)?;
                let text = crate::formula::notation::write_reading(reading);
                Some(format!("{} = {text}", self.name(cell)))
            })
            .collect()
    }

    /// What a formula asked of a reading beyond its value, for a person: "3 beats".
    pub fn beat_words(&self, cell: CellId) -> Option<String> {
        let reading = self.reading(cell)?;
        let beats = reading.beats();
        match beats {
            crate::quantity::Beats::Unstated => None,
            _ if beats.count() == 1 => Some("1 beat".into()),
            crate::quantity::Beats::Largest(v) => Some(format!("largest of {} beats", v.len())),
            _ => Some(format!(
                "mean of {} beats",
                number(f64::from(beats.count()))
            )),
        }
    }

    /// A number that changes when anything a person could be told of these cells does: value,
    /// state, reason, origin, reading, formula, unit.
    pub fn fingerprint(&self, cells: &[CellId]) -> u64 {
        use std::hash::{Hash, Hasher};
        let mut hasher = std::hash::DefaultHasher::new();
        // Coverage and correlations can touch the uncertainty of every cell.
        self.said.coverage.map(f64::to_bits).hash(&mut hasher);
        self.said
            .repeatability
            .map(|set| set.name)
            .hash(&mut hasher);
        for (first, second, value) in &self.said.correlations {
            (first.index, second.index, value.to_bits()).hash(&mut hasher);
        }
        for cell in cells {
            self.name(*cell).hash(&mut hasher);
            self.value(*cell).map(f64::to_bits).hash(&mut hasher);
            self.state(*cell).map(State::word).hash(&mut hasher);
            self.origin(*cell).hash(&mut hasher);
            self.because(*cell).hash(&mut hasher);
            self.unit(*cell).hash(&mut hasher);
            self.formula_text(*cell).hash(&mut hasher);
            let reading = self.reading(*cell);
            let text = reading.map(crate::formula::notation::write_reading);
            text.hash(&mut hasher);
        }
        hasher.finish()
    }

    /// Place of a cell in the order of evaluation.
    pub(super) fn rank_of(&self, index: u32) -> u32 {
        self.order.rank(index)
    }

    /// All cells, hidden ones too, operands first.
    pub(super) fn order_of_evaluation(&self) -> impl Iterator<Item = u32> + '_ {
        (0..self.hot.len() as u32).map(|rank| self.order.at(rank))
    }
}
