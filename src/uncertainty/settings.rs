//! What is said of the readings together, beside what each says of itself.

use super::error::UncertaintyError;
use crate::formula::CellId;
use crate::sheet::{Sheet, factor, stated_between};

/// A correlation between the errors of two readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correlation {
    /// One reading.
    pub first: CellId,
    /// The other.
    pub second: CellId,
    /// The correlation coefficient, −1 to 1.
    pub value: f64,
}

/// Coverage and correlations.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Coverage of intervals, as a share between 0 and 1; 0.95 where nothing is said.
    pub coverage: f64,
    /// Correlations; readings that are not named are independent.
    pub correlations: Vec<Correlation>,
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            coverage: 0.95,
            correlations: Vec::new(),
        }
    }
}

impl Settings {
    /// What the sheet's own lines say.
    pub fn of(sheet: &Sheet) -> Settings {
        let said = sheet.said_together();
        let correlations = said.correlations.iter();
        Settings {
            coverage: said.coverage.unwrap_or(0.95),
            correlations: correlations
                .map(|(first, second, value)| Correlation {
                    first: *first,
                    second: *second,
                    value: *value,
                })
                .collect(),
        }
    }

    /// The correlation of two readings.
    pub fn between(&self, a: CellId, b: CellId) -> f64 {
        if a == b {
            return 1.0;
        }
        let stated = self.correlations.iter();
        stated_between(stated.map(|c| (c.first, c.second, c.value)), a, b)
    }

    /// Checks each number for itself, and all correlations together. A correlation of a reading
    /// that states no uncertainty is no error: there is nothing that it could be about, and what
    /// depends on the reading is a lower bound anyway.
    pub(crate) fn check(&self, sheet: &Sheet) -> Result<(), UncertaintyError> {
        if !(self.coverage > 0.0 && self.coverage < 1.0) {
            let level = self.coverage;
            return Err(UncertaintyError::Coverage { level });
        }
        for c in &self.correlations {
            if c.value.is_nan() || c.value.abs() > 1.0 || (c.first == c.second && c.value != 1.0) {
                return Err(UncertaintyError::Correlation {
                    first: sheet.name(c.first),
                    second: sheet.name(c.second),
                    value: c.value,
                });
            }
            for cell in [c.first, c.second] {
                if sheet.is_derived(cell) && sheet.reading(cell).is_none() {
                    let cell = sheet.name(cell);
                    return Err(UncertaintyError::NotReading { cell });
                }
            }
        }
        self.factor(sheet, &self.named()).map(|_| ())
    }

    /// The readings that correlations name, each once, in order.
    pub(crate) fn named(&self) -> Vec<CellId> {
        let mut cells: Vec<CellId> = self
            .correlations
            .iter()
            .flat_map(|c| [c.first, c.second])
            .collect();
        cells.sort_unstable();
        cells.dedup();
        cells
    }

    /// Cholesky factor of the correlations of `cells`, row by row.
    pub(super) fn factor(
        &self,
        sheet: &Sheet,
        cells: &[CellId],
    ) -> Result<Vec<Vec<f64>>, UncertaintyError> {
        let between = |i: usize, j: usize| self.between(cells[i], cells[j]);
        factor(cells.len(), between).map_err(|at| UncertaintyError::Contradiction {
            cell: sheet.name(cells[at]),
        })
    }
}
