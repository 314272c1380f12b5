//! Edits: readings put in, and recomputation of what they reach.

use super::cell::{Form, HAS_FACETS, HAS_FORMULA, Hot};
use super::error::EditError;
use super::sheet::{Edit, Sheet};
use crate::formula::{CellId, kind_refuses};
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
        let mut readings: Vec<(CellId, Reading)> = readings.into_iter().collect();
        for (cell, reading) in &readings {
            let index = self.index_of(*cell)?;
            self.check_reading(index, reading)?;
        }
        keep_last(&mut readings);
        self.edit.clear();
        for (cell, reading) in readings {
            self.put_reading(cell.index(), reading);
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
        self.check_reading(index, &reading)?;
        self.edit.clear();
        self.put_reading(index, reading);
        self.settle();
        Ok(&self.edit)
    }

    /// What the last edit did.
    pub fn last_edit(&self) -> &Edit {
        &self.edit
    }

    /// Whether a reading fits a cell.
    pub(super) fn check_reading(&self, index: usize, reading: &Reading) -> Result<(), EditError> {
        let form = self.forms[index];
        let about = self.about[index].as_deref();
        let words = about.map_or(&[][..], |a| &a.words);
        let cell = || self.display_name(index as u32).to_owned();
        match reading.content() {
            Content::Unobtainable => Ok(()),
            Content::Unknown => match reading.unit_to_come() {
                None => Ok(()),
                Some(_) if !words.is_empty() => Err(EditError::NumberForFinding {
                    cell: cell(),
                    words: words.join(", "),
                }),
                Some(unit) => self.check_unit(index, unit, 0.0).map(|_| ()),
            },
            Content::Word(word) if words.is_empty() => Err(EditError::WordForQuantity {
                cell: cell(),
                unit: form.unit,
                word: word.clone(),
            }),
            Content::Word(word) => match words.iter().any(|w| **w == **word) {
                true => Ok(()),
                false => Err(EditError::NotAWord {
                    cell: cell(),
                    word: word.clone(),
                    words: words.join(", "),
                }),
            },
            Content::Magnitude { .. } if !words.is_empty() => Err(EditError::NumberForFinding {
                cell: cell(),
                words: words.join(", "),
            }),
            Content::Magnitude {
                value: given_value,
                unit,
            } => {
                let value = self.check_unit(index, *unit, *given_value)?;
                self.check_domain(index, value)
            }
        }
    }

    /// Whether a number in a unit fits a cell; the number in the cell's own unit.
    fn check_unit(&self, index: usize, given: Unit, magnitude: f64) -> Result<f64, EditError> {
        let Form { unit, kind, .. } = self.forms[index];
        let cell = || self.display_name(index as u32).to_owned();
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
        match kind_refuses(kind, given).filter(|_| given != unit) {
            Some(message) => Err(EditError::KindMismatch {
                cell: cell(),
                message,
            }),
            None => Ok(value),
        }
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

    /// Stores a reading that fits and marks what it touches.
    fn put_reading(&mut self, index: usize, reading: Reading) {
        self.edit.restated.push(self.id_of(index as u32));
        match &mut self.readings[index] {
            Some(slot) => **slot = reading,
            slot => *slot = Some(Box::new(reading)),
        }
        self.refresh_reading(index);
        let flags = self.hot[index].flags;
        if flags & HAS_FACETS != 0 {
            self.put_facets(index as u32);
        }
        if flags & HAS_FORMULA != 0 {
            self.mark(index as u32);
        } else {
            let next = self.evaluate(index);
            self.settle_cell(index, next);
        }
    }

    #[inline]
    pub(super) fn mark(&mut self, index: u32) {
        self.dirty.insert(self.rank[index as usize]);
    }

    /// Stores a cell's new state; where it is another, marks what depends on it.
    #[inline]
    fn settle_cell(&mut self, index: usize, next: Hot) {
        if self.hot[index].same(&next) {
            return;
        }
        self.hot[index] = next;
        self.edit.changed.push(CellId {
            sheet: self.id,
            index: index as u32,
        });
        for user in &self.dependents[index] {
            self.dirty.insert(self.rank[*user as usize]);
        }
    }

    pub(super) fn settle(&mut self) {
        while let Some(rank) = self.dirty.take_least() {
            let index = self.order[rank as usize] as usize;
            let next = self.evaluate(index);
            self.edit.recomputed.push(CellId {
                sheet: self.id,
                index: index as u32,
            });
            self.settle_cell(index, next);
        }
        if !self.speaks_of.is_empty() {
            let hidden = &self.speaks_of;
            let seen = |cell: &CellId| !hidden.contains_key(&cell.index);
            self.edit.recomputed.retain(seen);
            self.edit.changed.retain(seen);
        }
    }
}

/// Keeps the last reading of each cell, so that no cell is settled twice.
fn keep_last(readings: &mut Vec<(CellId, Reading)>) {
    if readings.is_sorted_by(|(a, _), (b, _)| a.index < b.index) {
        return;
    }
    let mut met = std::collections::HashSet::with_capacity(readings.len());
    readings.reverse();
    readings.retain(|(cell, _)| met.insert(cell.index));
    readings.reverse();
}
