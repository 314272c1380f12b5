//! What is said of the readings together, beside what each says of itself.

use super::error::UncertaintyError;
use crate::formula::CellId;
use crate::sheet::Sheet;

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
        let pair =
            |c: &&Correlation| (c.first, c.second) == (a, b) || (c.second, c.first) == (a, b);
        self.correlations.iter().find(pair).map_or(0.0, |c| c.value)
    }

    /// Checks each number for itself.
    pub(crate) fn check(&self, sheet: &Sheet) -> Result<(), UncertaintyError> {
        self.check_with(sheet, |cell| {
            let u = sheet.unit(cell).zip(sheet.reading(cell));
            u.and_then(|(unit, r)| r.standard_uncertainty(unit))
                .is_some()
        })
    }

    /// The same, where something else says which cells are readings with an uncertainty.
    pub(super) fn check_with(
        &self,
        sheet: &Sheet,
        is_uncertain: impl Fn(CellId) -> bool,
    ) -> Result<(), UncertaintyError> {
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
                if !is_uncertain(cell) {
                    let cell = sheet.name(cell);
                    return Err(UncertaintyError::NotUncertain { cell });
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
        // Correlations are typed by people: a pivot this close to zero is zero.
        const ZERO: f64 = 1e-12;
        let contradiction = |at: usize| UncertaintyError::Contradiction {
            cell: sheet.name(cells[at]),
        };
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(cells.len());
        for i in 0..cells.len() {
            let mut row: Vec<f64> = Vec::with_capacity(i + 1);
            for j in 0..i {
                let done: f64 = (0..j).map(|k| row[k] * rows[j][k]).sum();
                let rest = self.between(cells[i], cells[j]) - done;
                let pivot = rows[j][j];
                row.push(match pivot > 0.0 {
                    true => rest / pivot,
                    false if rest.abs() <= 1e-6 => 0.0,
                    false => return Err(contradiction(i)),
                });
            }
            let rest = 1.0 - row.iter().map(|x| x * x).sum::<f64>();
            if rest < -ZERO {
                return Err(contradiction(i));
            }
            row.push(if rest <= ZERO { 0.0 } else { rest.sqrt() });
            rows.push(row);
        }
        Ok(rows)
    }
}
