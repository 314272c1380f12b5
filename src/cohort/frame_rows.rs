//! Rows that came as columns.

use std::borrow::Cow;

use polars::prelude::{Column, DataFrame, DataType, Float64Chunked, Series};

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
