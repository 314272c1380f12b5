//! Results as comma-separated values.

use super::apply::{Application, Applied};
use super::error::CohortError;
use super::withheld::{Guard, guards};
use crate::formula::notation::number;

/// The line of headings.
pub(super) fn headings(all: &[String]) -> Result<Vec<u8>, CohortError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(all).map_err(in_memory)?;
    into_bytes(writer)
}

/// The rows used of a piece, as lines.
pub(super) fn lines(
    application: &Application<'_>,
    applied: &Applied,
) -> Result<Vec<u8>, CohortError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let width = application.binding.headings.len();
    let leave = &application.leave;
    let guards: Vec<(usize, Guard<'_>)> = guards(application.binding).collect();
    let derived = &applied.columns[..application.derived];
    let uncertain = || applied.uncertain.iter().map(|standards| &standards.values);
    for (at, row) in applied.used.iter().enumerate() {
        let mut fields = applied.rows.fields(*row, width);
        if !applied.rewritten.is_empty() {
            for (column, field) in fields.iter_mut().enumerate() {
                if let Some(leaves) = applied.rewritten.number(*row, column) {
                    *field = number(leaves).into();
                }
            }
        }
        for (column, guard) in &guards {
            fields[*column] = guard.shown(std::mem::take(&mut fields[*column]));
        }
        if leave.hides() {
            let whose = leave.of().map_or("", |of| &*fields[of]);
            for (column, field) in fields.iter().enumerate() {
                let field = leave.field(column, field, whose);
                writer.write_field(field).map_err(in_memory)?;
            }
        } else {
            for field in &fields {
                writer.write_field(&**field).map_err(in_memory)?;
            }
        }
        for values in derived.iter().chain(uncertain()) {
            let text = match values.states[at].is_known() {
                true => number(values.numbers[at]),
                false => String::new(),
            };
            writer.write_field(text).map_err(in_memory)?;
        }
        writer
            .write_field(&applied.remarks[at])
            .map_err(in_memory)?;
        writer.write_record(None::<&[u8]>).map_err(in_memory)?;
    }
    into_bytes(writer)
}

fn into_bytes(writer: csv::Writer<Vec<u8>>) -> Result<Vec<u8>, CohortError> {
    writer
        .into_inner()
        .map_err(|e| in_memory(e.into_error().into()))
}

/// Writing to memory fails only where there is none.
fn in_memory(error: csv::Error) -> CohortError {
    CohortError::Table {
        path: "results".into(),
        message: error.to_string(),
    }
}
