//! What can be wrong with a chart's data.

use super::number;

/// Why a chart could not be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ChartError {
    /// A number is NaN or infinite.
    #[error(
        "`{series}`, {part} of entry {index} (counted from 0) is {value}, which cannot be drawn; leave the entry out or give a finite number"
    )]
    NonFinite {
        /// The series, curve, bar or reference line it stands in.
        series: String,
        /// Position in that series, counted from 0.
        index: usize,
        /// Which number of the entry: `x`, `y`, `low`, `high` and the like.
        part: &'static str,
        /// The value found.
        value: f64,
    },
    /// A number is too large for an axis (beyond ±1e150).
    #[error(
        "`{series}`, {part} of entry {index} (counted from 0) is {value:e}; a chart takes numbers up to ±1e150, so choose a larger unit"
    )]
    TooLarge {
        /// The series, curve, bar or reference line it stands in.
        series: String,
        /// Position in that series, counted from 0.
        index: usize,
        /// Which number of the entry.
        part: &'static str,
        /// The value found.
        value: f64,
    },
    /// A band or error bar whose low end lies above its high end.
    #[error(
        "`{series}`, entry {index} (counted from 0): the low end {} lies above the high end {}; swap them",
        number::significant(*low, 6),
        number::significant(*high, 6)
    )]
    Reversed {
        /// The series it stands in.
        series: String,
        /// Position in that series, counted from 0.
        index: usize,
        /// The low end given.
        low: f64,
        /// The high end given.
        high: f64,
    },
    /// A share that is none.
    #[error(
        "`{series}`, {part} of entry {index} (counted from 0) is {value}; a share lies between 0 and 1"
    )]
    NoShare {
        /// The series it stands in.
        series: String,
        /// Position in that series, counted from 0.
        index: usize,
        /// Which number of the entry.
        part: &'static str,
        /// The value found.
        value: f64,
    },
    /// More series than can be told apart.
    #[error(
        "{count} {what} cannot be told apart in one chart; draw at most {limit}, or several charts"
    )]
    TooMany {
        /// What there is too much of, for instance `groups`.
        what: &'static str,
        /// How many were given.
        count: usize,
        /// How many can be drawn.
        limit: usize,
    },
    /// A point of a trend that belongs to no named exam.
    #[error(
        "`{series}`, entry {index} (counted from 0): {value} is the position of none of the {exams} named exams; give a whole number from 0 to {}",
        exams.saturating_sub(1)
    )]
    NoSuchExam {
        /// The series it stands in.
        series: String,
        /// Position in that series, counted from 0.
        index: usize,
        /// The position given.
        value: f64,
        /// How many exams have names.
        exams: usize,
    },
    /// A count of bins a histogram cannot have.
    #[error("a histogram has 1 to {limit} bins, not {bins}")]
    Bins {
        /// The count asked for.
        bins: usize,
        /// The largest count.
        limit: usize,
    },
    /// A picture too small for its labels, or unreasonably large.
    #[error(
        "a chart of {width} by {height} px cannot be drawn; give 320 to 4000 px by 240 to 4000 px"
    )]
    Size {
        /// Width asked for, px.
        width: u32,
        /// Height asked for, px.
        height: u32,
    },
    /// The drawing library failed.
    #[error("the drawing failed: {0}")]
    Drawing(String),
}
