//! What can be wrong with a question about uncertainty.

use crate::sheet::level_words;

/// Why an uncertainty cannot be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum UncertaintyError {
    /// The cell has no value.
    #[error("`{cell}` is not known, so there is nothing to be uncertain of")]
    NotKnown {
        /// The cell.
        cell: String,
    },
    /// The cell holds a word.
    #[error("`{cell}` is a finding: it has a word, no number that could be uncertain")]
    Finding {
        /// The cell.
        cell: String,
    },
    /// The cell comes from nothing that could be off.
    #[error(
        "`{cell}` has no uncertainty: no reading moves it, since what enters it cancels or is a constant"
    )]
    Exact {
        /// The cell.
        cell: String,
    },
    /// The coverage is not inside 0 to 1.
    #[error("a coverage of {} cannot be met: give more than 0 % and less than 100 %", level_words(*.level))]
    Coverage {
        /// The coverage as a share.
        level: f64,
    },
    /// A correlation is not inside −1 to 1.
    #[error(
        "a correlation of {value} between `{first}` and `{second}` is impossible: it lies between -1 and 1"
    )]
    Correlation {
        /// One reading.
        first: String,
        /// The other.
        second: String,
        /// The correlation.
        value: f64,
    },
    /// None of the readings that a cell depends on states an uncertainty.
    #[error(
        "nothing is known of the uncertainty of `{cell}`: state that of a reading, such as `x = 2.0 cm (u = 1 mm)`"
    )]
    NothingKnown {
        /// The cell.
        cell: String,
    },
    /// A correlation names a cell that is computed.
    #[error("`{cell}` is computed: correlations are between readings")]
    NotReading {
        /// The cell.
        cell: String,
    },
    /// The correlations contradict each other.
    #[error(
        "the correlations of `{cell}` with the readings before it contradict each other: no readings can have them all at once"
    )]
    Contradiction {
        /// The reading at which it shows.
        cell: String,
    },
    /// A slope is infinite or undefined.
    #[error("`{cell}` has no finite slope with respect to `{reading}` here: use the simulation")]
    NoSlope {
        /// The cell.
        cell: String,
        /// The reading.
        reading: String,
    },
    /// The cells of a difference are not in one unit.
    #[error("`{first}` and `{second}` are not in one unit, so they have no difference")]
    Unlike {
        /// One cell.
        first: String,
        /// The other.
        second: String,
    },
    /// The draws gave too few values.
    #[error(
        "only {known} of {draws} draws gave `{cell}` a value: the readings reach where it has none"
    )]
    TooFewKnown {
        /// The cell.
        cell: String,
        /// Draws with a value.
        known: usize,
        /// All draws.
        draws: usize,
    },
    /// A number that the question needs makes no sense.
    #[error("{what} cannot be {value}: {way_out}")]
    Number {
        /// What it is.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What would do.
        way_out: &'static str,
    },
    /// The amount does not fit the reading.
    #[error("`{cell}` cannot be off by that: {why}")]
    Off {
        /// The reading.
        cell: String,
        /// What is wrong.
        why: String,
    },
}
