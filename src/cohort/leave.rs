//! What of a table's own fields leaves, and how: identifiers as pseudonyms, dates shifted.

use super::binding::Binding;
use super::dates::{DateForm, way_out};
use super::error::CohortError;
use super::pseudonym::Key;
use super::rows::Rows;
use super::shift::shifted;

/// How the fields of a table leave.
pub(super) struct Leave {
    key: Option<Key>,
    identifiers: Vec<usize>,
    dates: Option<Dates>,
}

/// Dates that leave shifted.
struct Dates {
    columns: Vec<usize>,
    /// The column that says whose dates they are.
    of: usize,
    within_days: u32,
    /// How the table's dates are written, as far as the binding says it.
    form: DateForm,
}

impl Leave {
    /// What a binding asks for.
    ///
    /// # Errors
    /// Identifiers or dates to shift without a key, unless they are kept explicitly.
    pub(super) fn new(
        binding: &Binding,
        key: Option<&Key>,
        keep_identifiers: bool,
    ) -> Result<Leave, CohortError> {
        let hides = !binding.identifiers.is_empty() || binding.shift.is_some();
        if keep_identifiers || !hides {
            return Ok(Leave::as_it_came());
        }
        let shift = binding.shift.as_ref();
        let dates = shift.map(|shift| Dates {
            columns: shift.dates.clone(),
            of: shift.of,
            within_days: shift.within_days,
            form: shift.form,
        });
        let Some(key) = key else {
            let columns = binding.identifiers.iter();
            let columns = columns.chain(dates.iter().flat_map(|dates| &dates.columns));
            let headings: Vec<&str> = columns.map(|c| &*binding.headings[*c]).collect();
            return Err(CohortError::NoKey {
                headings: headings.join(", "),
            });
        };
        Ok(Leave {
            key: Some(key.clone()),
            identifiers: binding.identifiers.clone(),
            dates,
        })
    }

    /// Whether any field leaves otherwise than it came.
    pub(super) fn hides(&self) -> bool {
        self.key.is_some()
    }

    /// The columns whose fields leave otherwise than they came.
    pub(super) fn columns(&self) -> impl Iterator<Item = usize> + '_ {
        let dates = self.dates.iter().flat_map(|dates| &dates.columns);
        self.identifiers.iter().chain(dates).copied()
    }

    /// Why a row may not be used: a date that cannot be shifted would leave as it is.
    pub(super) fn refusal(&self, rows: &Rows, row: usize, headings: &[String]) -> Option<String> {
        let (dates, key) = (self.dates.as_ref()?, self.key.as_ref()?);
        let whose = rows.field(row, dates.of);
        dates.columns.iter().find_map(|column| {
            let date = rows.field(row, *column);
            let heading = &headings[*column];
            match shifted(key, &whose, &date, dates.within_days) {
                Some(_) => None,
                None if whose.trim().is_empty() => Some(format!(
                    "{heading}: the date is nobody's, so it cannot be shifted: `{}` is blank",
                    headings[dates.of]
                )),
                // The field itself is not repeated: it may be a date in another form.
                None => Some(format!(
                    "{heading}: what stands there is no date such as 2031-05-17, so it cannot be shifted{}",
                    way_out(&date, dates.form)
                )),
            }
        })
    }

    /// Everything as it came.
    pub(super) fn as_it_came() -> Leave {
        Leave {
            key: None,
            identifiers: Vec::new(),
            dates: None,
        }
    }

    /// A field as it may leave; `whose` is the row's field in the column that dates belong to.
    pub(super) fn field(&self, column: usize, field: &str, whose: &str) -> String {
        let Some(key) = &self.key else {
            return field.to_owned();
        };
        if self.identifiers.contains(&column) {
            return key.pseudonym(field);
        }
        match &self.dates {
            Some(dates) if dates.columns.contains(&column) => {
                // What is no date leaves as nothing.
                shifted(key, whose, field, dates.within_days).unwrap_or_default()
            }
            _ => field.to_owned(),
        }
    }

    /// The column that says whose dates a row holds.
    pub(super) fn of(&self) -> Option<usize> {
        self.dates.as_ref().map(|dates| dates.of)
    }

    /// The fields of a row that has one for each heading as they may leave.
    pub(super) fn row(&self, fields: &[String]) -> Vec<String> {
        let whose = self.of().map_or("", |of| &*fields[of]);
        let shown = fields.iter().enumerate();
        shown
            .map(|(column, field)| self.field(column, field, whose))
            .collect()
    }
}
