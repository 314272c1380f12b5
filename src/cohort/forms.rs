//! The forms that fields are written in: numbers with a decimal comma, dates in other orders.
//!
//! A field in such a form is written anew, as plain numbers and ISO 8601, before anything else
//! reads it; so all readers of rows know one form only. Fields of columns that are bound to
//! nothing stay as they came.

use super::binding::{Binding, BoundColumn};
use super::binding_file::BindingFile;
use super::checks::Why;
use super::dates::{DateForm, is_in_iso_form, iso};
use super::error::CohortError;
use super::frame_rows::FrameRows;
use super::marks::{Marks, NotSo};
use super::marks_shown::Shown;
use super::row::{is_nothing, says_nothing};
use super::rows::{Rows, Taken};
use super::stood::Stood;
use super::table::Table;
use super::text_rows::{Refused, Split, TextRows};
use super::withheld::guarded;
use crate::sheet::Sheet;

/// What is written in another form than a plain table's.
#[derive(Debug, Default)]
pub(super) struct Forms {
    numbers: Vec<Numbers>,
    dates: Vec<usize>,
    date_form: Option<DateForm>,
    headings: Vec<String>,
    /// Whether a field that cannot be read is not repeated where it may tell who somebody is.
    withholds: bool,
    /// What was taken that nothing states.
    pub(super) notes: Vec<String>,
}

/// A column of numbers that are not plain.
#[derive(Debug)]
struct Numbers {
    bound: BoundColumn,
    marks: Marks,
}

impl Forms {
    /// The forms of a table's bound columns: those that the binding states, and else those that
    /// the first records show.
    ///
    /// # Errors
    /// Numbers that can be read in two ways.
    pub(super) fn settle(
        sheet: &Sheet,
        binding: &Binding,
        file: Option<&BindingFile>,
        table: &mut Table,
    ) -> Result<Forms, CohortError> {
        let mut forms = Forms {
            headings: binding.headings.clone(),
            withholds: binding.withholds,
            notes: table.notes(),
            ..Forms::default()
        };
        let mut open = Vec::new();
        for bound in binding.columns.iter().filter(|bound| bound.holds_numbers()) {
            let heading = &binding.headings[bound.column];
            match file
                .map(|file| file.marks_of(heading))
                .transpose()?
                .flatten()
            {
                Some(marks) => forms.take(bound, marks),
                None => open.push(bound),
            }
        }
        if !forms.numbers.is_empty() && table.holds_columns() {
            return Err(CohortError::Unclear {
                path: table.path().to_owned(),
                message: "a decimal mark is stated, but Parquet holds numbers: leave it out of the binding".into(),
            });
        }
        if let Some(head) = table.head()?.filter(|_| !open.is_empty()) {
            let shown = Shown::by(sheet, binding, &open, &head);
            let found = shown.marks().map_err(|message| CohortError::Unclear {
                path: table.path().to_owned(),
                message,
            })?;
            if let Some(found) = found {
                forms.notes.push(found.note);
                open.iter().for_each(|bound| forms.take(bound, found.marks));
            }
        }
        if let Some(file) = file {
            forms.date_form = Some(file.file.date_form());
            let shifted = binding.shift.iter().flat_map(|s| &s.dates);
            let checked = binding.checks.iter().flat_map(|c| &c.times);
            forms.dates = shifted.chain(checked).copied().collect();
        }
        Ok(forms)
    }

    fn take(&mut self, bound: &BoundColumn, marks: Marks) {
        if marks != Marks::PLAIN {
            self.numbers.push(Numbers {
                bound: bound.clone(),
                marks,
            });
        }
    }

    /// Reads the fields of a piece; rows that cannot be read so are refused.
    pub(super) fn read(&self, split: Split) -> Taken {
        if self.numbers.is_empty() && self.holds_plain_dates(&split.rows) {
            return split.into();
        }
        let width = self.headings.len();
        let Split {
            rows,
            mut refused,
            count,
        } = split;
        let mut read = TextRows::of_width(width);
        for row in 0..rows.len() {
            let mut fields: Vec<String> = (0..width)
                .map(|column| rows.field(row, column).to_owned())
                .collect();
            let is_number = |column| rows.is_number(row, column);
            let wrong = self.read_row(&mut fields, is_number);
            if wrong.is_empty() {
                for (column, field) in fields.iter().enumerate() {
                    read.push_field(field, is_number(column));
                }
                read.end_row(rows.number(row));
            } else {
                refused.push(Refused {
                    number: rows.number(row),
                    fields,
                    is_regular: true,
                    why: Why::Field,
                    reason: wrong.join("; "),
                });
            }
        }
        Taken {
            rows: Rows::Text(read),
            stood: Stood::before(rows),
            refused,
            count,
        }
    }

    /// Reads texts of dates in columns that came as such.
    pub(super) fn read_frame(&self, rows: &mut FrameRows) {
        let Some(form) = self.date_form else {
            return;
        };
        for column in &self.dates {
            rows.read_texts(*column, |text| match is_plain_date(text) {
                true => None,
                false => iso(text, form),
            });
        }
    }

    /// Whether all dates stand as they are read later, as in most tables, so that nothing is written anew.
    fn holds_plain_dates(&self, rows: &TextRows) -> bool {
        let is_plain = |row: usize| {
            let mut fields = self.dates.iter().map(|column| rows.field(row, *column));
            fields.all(is_plain_date)
        };
        (0..rows.len()).all(is_plain)
    }

    /// Reads the fields of a row in place; what cannot be read so stays, and is told.
    fn read_row(&self, fields: &mut [String], is_number: impl Fn(usize) -> bool) -> Vec<String> {
        let mut wrong = Vec::new();
        for Numbers { bound, marks } in &self.numbers {
            let field = fields[bound.column].trim();
            if is_number(bound.column) || says_nothing(bound, field) {
                continue;
            }
            match marks.plain(field) {
                Ok(None) => {}
                Ok(Some(found)) => fields[bound.column] = found.text(),
                Err(NotSo) => {
                    let said = format!(
                        "`{field}` is not a number with {marks}; the binding can say otherwise, as `decimal` and `thousands`"
                    );
                    let said = guarded(self.withholds, bound, field, said);
                    wrong.push(format!("{}: {said}", self.headings[bound.column]));
                }
            }
        }
        if let Some(form) = self.date_form {
            for column in &self.dates {
                if let Some(date) = iso(&fields[*column], form) {
                    fields[*column] = date;
                }
            }
        }
        wrong
    }
}

/// Whether a field has the form of a date of ISO 8601, or says nothing; all others are looked at with care.
fn is_plain_date(field: &str) -> bool {
    is_in_iso_form(field) || is_nothing(field)
}
