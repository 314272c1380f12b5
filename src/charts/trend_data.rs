//! The values of a trend and what they follow.

use super::axis::Axis;

/// What the values follow.
#[derive(Debug, Clone, PartialEq)]
pub enum TrendScale {
    /// Time, or another number.
    Time(Axis),
    /// Named exams; a point's `x` is the exam's position, counted from 0.
    Exams {
        /// What the names are, for instance `Exam`.
        label: String,
        /// The names, from left to right.
        names: Vec<String>,
    },
}

impl Default for TrendScale {
    fn default() -> Self {
        TrendScale::Time(Axis::default())
    }
}

/// An error bar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ErrorBar {
    /// Low end, in the unit of y.
    pub low: f64,
    /// High end, not below `low`.
    pub high: f64,
}

/// One value of a trend.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrendPoint {
    /// The time, or the exam's position counted from 0.
    pub x: f64,
    /// The value.
    pub y: f64,
    /// Its error bar, where one is known.
    pub error: Option<ErrorBar>,
    /// A label that marks the point.
    pub mark: Option<String>,
}

impl TrendPoint {
    /// A value without error bar and mark.
    pub fn new(x: f64, y: f64) -> Self {
        TrendPoint {
            x,
            y,
            error: None,
            mark: None,
        }
    }

    /// The same value with an error bar from `low` to `high`.
    pub fn between(self, low: f64, high: f64) -> Self {
        TrendPoint {
            error: Some(ErrorBar { low, high }),
            ..self
        }
    }

    /// The same value, marked with a label.
    pub fn marked(self, label: impl Into<String>) -> Self {
        TrendPoint {
            mark: Some(label.into()),
            ..self
        }
    }
}

/// Values under one name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrendSeries {
    /// What a person reads in the key.
    pub name: String,
    /// The values, in the order they are joined.
    pub points: Vec<TrendPoint>,
}

/// The exam that a number names.
pub(super) fn exam(x: f64, exams: usize) -> Option<usize> {
    (x >= 0.0 && x.fract() == 0.0 && x < exams as f64).then_some(x as usize)
}
