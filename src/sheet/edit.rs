//! Edits: readings put in, and recomputation of what they reach.

use std::sync::Arc;

use super::cell::{Form, HAS_FACETS, HAS_FORMULA, HAS_READING, HIDDEN};
use super::error::EditError;
use super::sheet::{Edit, Sheet};
use crate::formula::{CellId, Lane, Status, kind_refuses};
use crate::quantity::{Content, Reading, Unit};

impl Sheet {
    /// Sets readings, all or none, and recomputes what depends on them: each affected cell
    /// once, in order, stopping where nothing changed. Of two readings of one cell the later
    /// counts.
    ///
    /// # Errors
    /// The first reading that does not fit its cell; the sheet is then as it was.
    pub fn set_all<'r>(
        &mut self,
        readings: impl IntoIterator<Item = (CellId, Reading)> + 'r,
    ) -> Result<&Edit, EditError> {
        let mut fitted = Vec::new();
        for (cell, reading) in readings {
            let index = self.index_of(cell)?;
            let given = self.fitted(index, &reading)?;
            fitted.push((index, reading, given));
        }
        keep_last(&mut fitted);
        self.edit.clear();
        for (index, reading, given) in fitted {
            self.put_reading(index, reading, given);
        }
        self.settle();
        Ok(&self.edit)
    }

    /// Sets one reading and recomputes what depends on it.
    ///
    /// # Errors
    /// As [`Sheet::set_all`].
    pub fn set(&mut self, cell: CellId, reading: Reading) -> Result<&Edit, EditError> {
        let index = self.index_of(cell)?;
        let given = self.fitted(index, &reading)?;
        self.edit.clear();
        self.put_reading(index, reading, given);
        self.settle();
        Ok(&self.edit)
    }

    /// Puts a measured number into a cell and recomputes what depends on it: as [`Sheet::set`]
    /// with a reading of which nothing more is said, for callers who edit many times a second.
    ///
    /// # Errors
    /// As [`Sheet::set`], and [`EditError::NotFinite`].
    pub fn measure(&mut self, cell: CellId, value: f64, unit: Unit) -> Result<&Edit, EditError> {
        let index = self.index_of(cell)?;
        if !value.is_finite() {
            return Err(self.not_finite(cell, value));
        }
        let given = Lane::measured(self.fitted_magnitude(index, value, unit)?);
        self.edit.clear();
        let is_taken = match &mut self.readings[index] {
            Some(reading) => reading.take_magnitude(value, unit),
            None => false,
        };
        if !is_taken {
            let reading = Reading::of(value, unit).map_err(|_| self.not_finite(cell, value))?;
            self.put_reading(index, reading, Some(given));
        } else if self.hot[index].flags & (HAS_FACETS | HAS_FORMULA) != 0 {
            self.take_up(index, Some(given));
        } else {
            // An input that had a number has another: nothing about it but the number is new.
            self.edit.restated.push(cell);
            self.settle_cell(index, given);
        }
        self.settle();
        Ok(&self.edit)
    }

    #[cold]
    fn not_finite(&self, cell: CellId, value: f64) -> EditError {
        let cell = self.display_name(cell.index).to_owned();
        EditError::NotFinite { cell, value }
    }

    /// What the last edit did.
    pub fn last_edit(&self) -> &Edit {
        &self.edit
    }

    /// Whether a reading fits a cell.
    pub(super) fn check_reading(&self, index: usize, reading: &Reading) -> Result<(), EditError> {
        self.fitted(index, reading).map(|_| ())
    }

    /// What a reading gives a cell that it fits; `None` where it says that there is nothing.
    /// Inlined, so that a number in the cell's own unit stays in registers.
    #[inline(always)]
    fn fitted(&self, index: usize, reading: &Reading) -> Result<Option<Lane>, EditError> {
        match *reading.content() {
            Content::Magnitude { value, unit }
                if self.about[index].is_none() && unit == self.forms[index].unit =>
            {
                Ok(Some(Lane {
                    value,
                    status: Status::known(reading.origin()),
                }))
            }
            _ => self.fitted_with_care(index, reading),
        }
    }

    #[inline(never)]
    fn fitted_with_care(&self, index: usize, reading: &Reading) -> Result<Option<Lane>, EditError> {
        let value = match reading.content() {
            Content::Unobtainable => return Ok(None),
            Content::Unknown => {
                if let Some(unit) = reading.unit_to_come() {
                    self.fitted_unit(index, 0.0, unit)?;
                }
                return Ok(None);
            }
            Content::Word(word) => self.fitted_word(index, word)?,
            Content::Magnitude { value, unit } => self.fitted_magnitude(index, *value, *unit)?,
        };
        Ok(Some(Lane {
            value,
            status: Status::known(reading.origin()),
        }))
    }

    /// The number of a finding's word.
    fn fitted_word(&self, index: usize, word: &str) -> Result<f64, EditError> {
        let words = self.words_of(index);
        if let Some(number) = words.iter().position(|w| **w == *word) {
            return Ok(number as f64);
        }
        let cell = self.display_name(index as u32).to_owned();
        let word = word.to_owned();
        Err(if words.is_empty() {
            let unit = self.forms[index].unit;
            EditError::WordForQuantity { cell, unit, word }
        } else {
            let words = words.join(", ");
            EditError::NotAWord { cell, word, words }
        })
    }

    /// A magnitude in the cell's unit, which must be possible.
    #[inline(always)]
    fn fitted_magnitude(&self, index: usize, value: f64, given: Unit) -> Result<f64, EditError> {
        if self.about[index].is_none() && given == self.forms[index].unit {
            // No words, no bounds, nothing to convert.
            return Ok(value);
        }
        let value = self.fitted_unit(index, value, given)?;
        self.check_domain(index, value)?;
        Ok(value)
    }

    /// A magnitude in the cell's unit.
    #[inline(always)]
    pub(super) fn fitted_unit(
        &self,
        index: usize,
        magnitude: f64,
        given: Unit,
    ) -> Result<f64, EditError> {
        let Form { unit, kind, .. } = self.forms[index];
        let cell = || self.display_name(index as u32).to_owned();
        let words = self.words_of(index);
        if !words.is_empty() {
            return Err(EditError::NumberForFinding {
                cell: cell(),
                words: words.join(", "),
            });
        }
        // Most readings come in the cell's own unit, where there is nothing to look up.
        if given == unit {
            return Ok(magnitude);
        }
        let Some(value) = given.convert(magnitude, unit) else {
            return Err(EditError::UnitMismatch {
                cell: cell(),
                unit,
                given,
            });
        };
        if !value.is_finite() {
            return Err(EditError::TooLarge {
                cell: cell(),
                value: magnitude,
                given,
                unit,
            });
        }
        match kind_refuses(kind, given) {
            Some(message) => Err(EditError::KindMismatch {
                cell: cell(),
                message,
            }),
            None => Ok(value),
        }
    }

    fn words_of(&self, index: usize) -> &[Arc<str>] {
        self.about[index].as_deref().map_or(&[], |a| &a.words)
    }

    fn check_domain(&self, index: usize, value: f64) -> Result<(), EditError> {
        let Some(about) = self.about[index].as_deref() else {
            return Ok(());
        };
        let Some(domain) = about.domain else {
            return Ok(());
        };
        let stated = self.forms[index].unit.convert(value, about.stated_in);
        match stated {
            Some(value) if !(domain.low <= value && value <= domain.high) => {
                Err(EditError::OutsideDomain {
                    cell: about.name.clone(),
                    value,
                    low: domain.low,
                    high: domain.high,
                    unit: about.stated_in,
                })
            }
            _ => Ok(()),
        }
    }

    /// Stores a reading that fits, and marks what it touches; `given` is what it gives the cell.
    fn put_reading(&mut self, index: usize, reading: Reading, given: Option<Lane>) {
        match &mut self.readings[index] {
            Some(slot) => **slot = reading,
            slot => *slot = Some(Box::new(reading)),
        }
        self.take_up(index, given);
    }

    /// Marks what a reading that was stored touches; `given` is what it gives the cell.
    #[inline]
    fn take_up(&mut self, index: usize, given: Option<Lane>) {
        self.edit.restated.push(self.id_of(index as u32));
        let has = given.is_some() || self.is_refused(index);
        let flags = &mut self.hot[index].flags;
        *flags = *flags & !HAS_READING | if has { HAS_READING } else { 0 };
        let flags = *flags;
        if flags & HAS_FACETS != 0 {
            self.put_facets(index as u32);
        }
        if flags & HAS_FORMULA != 0 {
            self.mark(index as u32);
        } else {
            self.settle_cell(index, given.unwrap_or(Lane::MISSING));
        }
    }

    #[inline]
    pub(super) fn mark(&mut self, index: u32) {
        self.dirty.insert(self.order.rank(index));
    }

    /// Stores a cell's new state; where it is another, marks what depends on it.
    #[inline(always)]
    fn settle_cell(&mut self, index: usize, lane: Lane) {
        if !self.store(index, lane) {
            return;
        }
        if self.hot[index].flags & HIDDEN == 0 {
            self.edit.changed.push(self.id_of(index as u32));
        }
        for user in self.dependents[index].iter() {
            self.dirty.insert(self.order.rank(*user));
        }
    }

    pub(super) fn settle(&mut self) {
        while let Some(rank) = self.dirty.take_least() {
            let index = self.order.at(rank);
            let lane = self.evaluate(index as usize);
            if self.hot[index as usize].flags & HIDDEN == 0 {
                self.edit.recomputed.push(self.id_of(index));
            }
            self.settle_cell(index as usize, lane);
        }
    }
}

/// Keeps the last reading of each cell, so that no cell is settled twice.
fn keep_last(readings: &mut Vec<(usize, Reading, Option<Lane>)>) {
    if readings.is_sorted_by(|(a, ..), (b, ..)| a < b) {
        return;
    }
    let mut met = std::collections::HashSet::with_capacity(readings.len());
    readings.reverse();
    readings.retain(|(index, ..)| met.insert(*index));
    readings.reverse();
}
