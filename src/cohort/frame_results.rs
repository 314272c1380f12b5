//! Results as columns: the table's own, the derived cells, the remarks.
//!
//! Columns that come from Parquet leave as they came, but for pseudonyms, shifted dates, numbers that
//! were converted and what is not shown. In comma-separated values everything is
//! text: a column that is bound as numbers leaves as numbers, with the words in it told in the
//! remarks; every other column leaves as text (`007` stays).

use polars::prelude::{
    BooleanChunked, Column, DataFrame, DataType, Field, Float64Chunked, IdxCa, IntoColumn,
    NewChunkedArray, PolarsError, Schema, StringChunked,
};
use polars_arrow::bitmap::Bitmap;

use super::apply::{Application, Applied, Values};
use super::binding::{Binding, BoundColumn};
use super::error::CohortError;
use super::leave::Leave;
use super::plain_number::plain_number;
use super::remarks::{REMARKS, remark};
use super::row::is_nothing;
use super::rows::Rows;
use super::withheld::{Guard, guards};
use crate::formula::notation::number;

/// The types of all columns of results; `own` are those of the table, where it has types.
pub(super) fn schema(
    own: Option<&Schema>,
    binding: &Binding,
    leave: &Leave,
    results: &[String],
) -> Schema {
    let leaving: Vec<usize> = leave.columns().collect();
    let fields = binding
        .headings
        .iter()
        .enumerate()
        .map(|(column, heading)| {
            let kept = own.and_then(|own| own.get(&binding.came[column]));
            let data_type = match kept {
                _ if leaving.contains(&column) => DataType::String,
                Some(kept) => leaves_as(kept, binding, column),
                None if is_number(binding, column) => DataType::Float64,
                None => DataType::String,
            };
            Field::new(heading.as_str().into(), data_type)
        });
    let results = results
        .iter()
        .map(|heading| Field::new(heading.as_str().into(), DataType::Float64));
    let remarks = Field::new(REMARKS.into(), DataType::String);
    Schema::from_iter(fields.chain(results).chain([remarks]))
}

/// The type that a column with one of its own leaves with: a tenth of a whole number is none.
fn leaves_as(own: &DataType, binding: &Binding, column: usize) -> DataType {
    let bound = binding.bound(column);
    let is_converted = bound.is_some_and(BoundColumn::converts_factor_ten);
    match own.is_integer() && is_converted {
        true => DataType::Float64,
        false => own.clone(),
    }
}

/// A column with the numbers that leave in the place of some fields.
fn rewritten(column: &Column, applied: &Applied, at: usize) -> Result<Column, PolarsError> {
    let leaves = |row: &usize| applied.rewritten.number(*row, at);
    let is_number = column.dtype().is_primitive_numeric();
    let as_type = if is_number {
        DataType::Float64
    } else {
        DataType::String
    };
    let plain = column.cast(&as_type)?;
    let heading = column.name().clone();
    let new = match is_number {
        true => {
            let own = plain.f64()?.iter().zip(&applied.used);
            let all = own.map(|(own, row)| leaves(row).or(own));
            Float64Chunked::from_iter_options(heading, all).into_column()
        }
        false => {
            let own = plain.str()?.iter().zip(&applied.used);
            let all = own.map(|(own, row)| match leaves(row) {
                Some(leaves) => Some(number(leaves)),
                None => own.map(str::to_owned),
            });
            StringChunked::from_iter_options(heading, all).into_column()
        }
    };
    Ok(new)
}

/// Whether a column is bound as numbers.
fn is_number(binding: &Binding, column: usize) -> bool {
    let bound = binding.bound(column);
    bound.is_some_and(BoundColumn::holds_numbers)
}

/// The rows used of a piece, as columns; its numbers go into them.
pub(super) fn frame(
    application: &Application<'_>,
    applied: &mut Applied,
    results: &[String],
) -> Result<DataFrame, CohortError> {
    let mut columns = match &applied.rows {
        Rows::Frame(_) => frame_columns(application, applied).map_err(failed)?,
        Rows::Text(_) => text_columns(application, applied),
    };
    let uncertain = applied.uncertain.iter_mut().map(|all| &mut all.values);
    let computed = applied.columns.iter_mut().chain(uncertain);
    for (values, heading) in computed.zip(results) {
        columns.push(known(heading, std::mem::take(values)));
    }
    let remarks =
        StringChunked::from_iter_values(REMARKS.into(), applied.remarks.iter().map(String::as_str));
    columns.push(remarks.into_column());
    DataFrame::new(applied.used.len(), columns).map_err(failed)
}

/// Values as a column, with nothing where they are not known.
fn known(heading: &str, values: Values) -> Column {
    let is_known = values.states.iter().map(|state| state.is_known());
    numbers(heading, values.numbers, is_known.collect())
}

/// Numbers as a column, with nothing where they are not `there`.
fn numbers(heading: &str, numbers: Vec<f64>, there: Bitmap) -> Column {
    let there = (there.unset_bits() > 0).then_some(there);
    Float64Chunked::from_vec_validity(heading.into(), numbers, there).into_column()
}

fn failed(error: PolarsError) -> CohortError {
    CohortError::Table {
        path: "results".into(),
        message: error.to_string(),
    }
}

/// The table's own columns, those that leave otherwise than they came excepted.
fn frame_columns(
    application: &Application<'_>,
    applied: &mut Applied,
) -> Result<Vec<Column>, PolarsError> {
    let Rows::Frame(rows) = &applied.rows else {
        return Ok(Vec::new());
    };
    let kept = if applied.used.len() == rows.len() {
        rows.frame.clone()
    } else {
        let mut is_used = vec![false; rows.len()];
        applied.used.iter().for_each(|row| is_used[*row] = true);
        rows.frame
            .filter(&BooleanChunked::from_slice("used".into(), &is_used))?
    };
    let mut columns = kept.columns().to_vec();
    let headings = &application.binding.headings;
    for (at, (column, heading)) in columns.iter_mut().zip(headings).enumerate() {
        if column.name() != heading {
            column.rename(heading.as_str().into());
        }
        let leaves_as = leaves_as(column.dtype(), application.binding, at);
        if applied.rewritten.concerns(at) {
            *column = rewritten(column, applied, at)?;
        }
        if *column.dtype() != leaves_as {
            *column = column.cast(&leaves_as)?;
        }
    }
    for (column, guard) in guards(application.binding) {
        if let Ok(texts) = columns[column].str() {
            let texts = texts.iter().map(|text| Some(guard.shown(text?)));
            let heading = columns[column].name().clone();
            columns[column] = StringChunked::from_iter_options(heading, texts).into_column();
        } else if let Some(there) = shown_rows(applied, column, guard) {
            columns[column] = only(&columns[column], &there)?;
            tell_words(application.binding, applied, &there, column);
        }
    }
    for column in application.leave.columns() {
        let heading = &application.binding.headings[column];
        columns[column] = leaving(application, applied, column, heading);
    }
    Ok(columns)
}

/// A column that leaves otherwise than it came.
fn leaving(
    application: &Application<'_>,
    applied: &Applied,
    column: usize,
    heading: &str,
) -> Column {
    let leave = &application.leave;
    let texts = applied.used.iter().map(|row| {
        let whose = leave.of().map(|of| applied.rows.field(*row, of));
        let field = applied.rows.field(*row, column);
        leave.field(column, &field, whose.as_deref().unwrap_or_default())
    });
    StringChunked::from_iter_values(heading.into(), texts).into_column()
}

/// The columns of a table that came as text.
fn text_columns(application: &Application<'_>, applied: &mut Applied) -> Vec<Column> {
    let headings = &application.binding.headings;
    let hidden: Vec<usize> = application.leave.columns().collect();
    let mut columns = Vec::with_capacity(headings.len());
    for (column, heading) in headings.iter().enumerate() {
        columns.push(if hidden.contains(&column) {
            leaving(application, applied, column, heading)
        } else if is_number(application.binding, column) {
            let guard = Guard::of(application.binding, column);
            let read = used_numbers(applied, column, guard);
            let there: Bitmap = read.iter().map(|number| !number.is_nan()).collect();
            if there.unset_bits() > 0 {
                tell_words(application.binding, applied, &there, column);
            }
            numbers(heading, read, there)
        } else {
            let (rows, used) = (&applied.rows, &applied.used);
            let texts = used.iter().map(|row| rows.field(*row, column));
            let guard = Guard::of(application.binding, column);
            let texts = texts.map(|text| guard.shown(text));
            StringChunked::from_iter_values(heading.as_str().into(), texts).into_column()
        });
    }
    columns
}

/// In which rows used the fields of a column are shown; nothing where in all.
fn shown_rows(applied: &Applied, column: usize, guard: Guard<'_>) -> Option<Bitmap> {
    let used = applied.used.iter();
    let is_shown = |row: &usize| !guard.hides(&applied.rows.field(*row, column));
    let there: Bitmap = used.map(is_shown).collect();
    (there.unset_bits() > 0).then_some(there)
}

/// A column with nothing in the rows that are not `there`.
fn only(column: &Column, there: &Bitmap) -> Result<Column, PolarsError> {
    let rows = (0..)
        .zip(there)
        .map(|(row, is_there)| is_there.then_some(row));
    column.take(&IdxCa::from_iter_options("rows".into(), rows))
}

/// The numbers in a column, over the rows used; not a number where a field holds none, or one that is not shown.
fn used_numbers(applied: &mut Applied, column: usize, guard: Guard<'_>) -> Vec<f64> {
    let are_all_used = applied.used.len() == applied.rows.len();
    let rows = applied.used.iter();
    match applied.numbers.get_mut(&column) {
        Some(numbers) if are_all_used => std::mem::take(numbers),
        Some(numbers) => rows.map(|row| numbers[*row]).collect(),
        // A column that says more of a reading, such as its beats.
        None => {
            let number = |row: &usize| {
                let said = || {
                    let field = applied.rows.field(*row, column);
                    plain_number(field.trim()).filter(|_| !guard.hides(&field))
                };
                let leaves = applied.rewritten.number(*row, column);
                leaves.or_else(said).unwrap_or(f64::NAN)
            };
            rows.map(number).collect()
        }
    }
}

/// Says in the remarks what stood in a column of numbers and is none.
fn tell_words(binding: &Binding, applied: &mut Applied, there: &Bitmap, column: usize) {
    let heading = &binding.headings[column];
    let rows = applied.remarks.iter_mut().zip(&applied.used);
    let guard = Guard::of(binding, column);
    for ((remarks, row), _) in rows.zip(there).filter(|(_, is_there)| !is_there) {
        let field = applied.rows.field(*row, column);
        let field = field.trim();
        if is_nothing(field) {
            continue;
        }
        let field = guard.shown(field);
        remark(remarks, &format!("{heading} says `{field}`"));
    }
}
