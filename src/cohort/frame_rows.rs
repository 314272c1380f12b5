//! Rows that came as columns.

use std::borrow::Cow;

use polars::prelude::{
    Column, DataFrame, DataType, Float64Chunked, IntoSeries, NewChunkedArray, Series, StringChunked,
};

use super::error::CohortError;
use crate::formula::notation::number;

/// Some rows, with a view of every column that can be looked at row by row.
#[derive(Debug)]
pub(super) struct FrameRows {
    /// As they came.
    pub(super) frame: DataFrame,
    views: Vec<View>,
}

/// A column, for looking at.
#[derive(Debug)]
enum View {
    /// Floating-point numbers.
    Numbers(Series),
    /// Whole numbers, and the same as floating-point numbers.
    Whole { numbers: Series, texts: Series },
    /// Everything else, as text.
    Texts(Series),
}

impl FrameRows {
    /// Makes ready to look at the columns of a frame.
    ///
    /// # Errors
    /// A column that cannot be shown as text.
    pub(super) fn new(mut frame: DataFrame) -> Result<FrameRows, CohortError> {
        // One chunk, so that a row is found at once.
        frame.rechunk_mut();
        let views = frame
            .columns()
            .iter()
            .map(|column| {
                View::of(column).map_err(|e| CohortError::ColumnType {
                    heading: column.name().to_string(),
                    message: e.to_string(),
                })
            })
            .collect::<Result<_, _>>()?;
        Ok(FrameRows { frame, views })
    }

    /// Reads texts of a column as others, where `anew` gives any; columns of other types stay as they are.
    pub(super) fn read_texts(&mut self, column: usize, anew: impl Fn(&str) -> Option<String>) {
        if *self.frame.columns()[column].dtype() != DataType::String {
            return;
        }
        let View::Texts(series) = &mut self.views[column] else {
            return;
        };
        let read = series.str().ok().and_then(|texts| {
            let read: Vec<Option<String>> = texts.iter().map(|text| anew(text?)).collect();
            read.iter().any(Option::is_some).then(|| {
                let read = texts.iter().zip(read);
                let read = read.map(|(text, anew)| anew.or_else(|| text.map(str::to_owned)));
                StringChunked::from_iter_options(texts.name().clone(), read)
            })
        });
        if let Some(read) = read {
            *series = read.into_series();
        }
    }

    pub(super) fn len(&self) -> usize {
        self.frame.height()
    }

    /// A field as text; nothing is an empty text.
    pub(super) fn field(&self, row: usize, column: usize) -> Cow<'_, str> {
        match &self.views[column] {
            View::Numbers(numbers) => numbers
                .f64()
                .ok()
                .and_then(|numbers| numbers.get(row))
                .map_or(Cow::Borrowed(""), |value| number(value).into()),
            View::Whole { texts, .. } | View::Texts(texts) => texts
                .str()
                .ok()
                .and_then(|texts| texts.get(row))
                .unwrap_or_default()
                .into(),
        }
    }

    /// The numbers of a column of numbers.
    pub(super) fn numbers(&self, column: usize) -> Option<&Float64Chunked> {
        match &self.views[column] {
            View::Numbers(numbers) | View::Whole { numbers, .. } => numbers.f64().ok(),
            View::Texts(_) => None,
        }
    }
}

impl View {
    fn of(column: &Column) -> polars::prelude::PolarsResult<View> {
        let series = column.as_materialized_series();
        let data_type = series.dtype();
        Ok(if data_type.is_float() {
            View::Numbers(series.cast(&DataType::Float64)?)
        } else if data_type.is_integer() {
            View::Whole {
                numbers: series.cast(&DataType::Float64)?,
                texts: series.cast(&DataType::String)?,
            }
        } else {
            View::Texts(series.cast(&DataType::String)?)
        })
    }
}
