//! What can be wrong with an edit.

use crate::formula::Misfit;
use crate::formula::notation::number;
use crate::quantity::{Unit, without_rounding};

/// Why an edit was refused; the sheet is as it was.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EditError {
    /// No cell has this name.
    #[error("no cell is named `{name}`{}", suggestion(.near))]
    NoSuchCell {
        /// The name.
        name: String,
        /// A name that is close to it.
        near: Option<String>,
    },
    /// The handle belongs to another sheet, or its cell was removed.
    #[error("this handle is of another sheet, or of a cell that was removed")]
    ForeignHandle,
    /// The name is taken.
    #[error("a cell named `{name}` exists already")]
    NameTaken {
        /// The name.
        name: String,
    },
    /// The text cannot name a cell.
    #[error(
        "`{name}` cannot name a cell: use letters, digits and `_`, starting with a letter, and no word of the notation"
    )]
    BadName {
        /// The text.
        name: String,
    },
    /// The number is infinite or not a number.
    #[error("`{cell}` cannot be {value}: a reading is a finite number")]
    NotFinite {
        /// The cell.
        cell: String,
        /// The number.
        value: f64,
    },
    /// The reading's unit does not fit the cell.
    #[error("`{cell}` is in {unit}; a reading in {given} does not fit")]
    UnitMismatch {
        /// The cell.
        cell: String,
        /// Its unit.
        unit: Unit,
        /// The reading's unit.
        given: Unit,
    },
    /// The unit has the dimension but belongs to another kind of quantity.
    #[error("`{cell}`: {message}")]
    KindMismatch {
        /// The cell.
        cell: String,
        /// What is wrong.
        message: String,
    },
    /// The reading lies outside what is possible.
    #[error("`{cell}` cannot be {} {}: possible are {low} to {high} {}", without_rounding(*.value), unit.pretty(), unit.pretty())]
    OutsideDomain {
        /// The cell.
        cell: String,
        /// The reading, in `unit`.
        value: f64,
        /// Lowest possible.
        low: f64,
        /// Highest possible.
        high: f64,
        /// The unit.
        unit: Unit,
    },
    /// The reading is too large to be held in the cell's unit.
    #[error("`{cell}` cannot be {} {given}: in {unit} the number is too large to be held", number(*.value))]
    TooLarge {
        /// The cell.
        cell: String,
        /// The reading, in `given`.
        value: f64,
        /// The reading's unit.
        given: Unit,
        /// The cell's unit.
        unit: Unit,
    },
    /// The formula asks for another number of operands than it was given.
    #[error("the formula has {wanted} operands, not {given}")]
    OperandCount {
        /// How many it has.
        wanted: usize,
        /// How many were given.
        given: usize,
    },
    /// The word is not one of the finding's.
    #[error("`{cell}` cannot be `{word}`: its words are {words}")]
    NotAWord {
        /// The finding.
        cell: String,
        /// The word.
        word: String,
        /// The words it has.
        words: String,
    },
    /// A word was given to a quantity.
    #[error("`{cell}` is a quantity in {unit}, not a finding: `{word}` is no reading of it")]
    WordForQuantity {
        /// The cell.
        cell: String,
        /// Its unit.
        unit: Unit,
        /// The word.
        word: String,
    },
    /// A number or a formula was given to a finding.
    #[error("`{cell}` is a finding: its words are {words}")]
    NumberForFinding {
        /// The finding.
        cell: String,
        /// The words it has.
        words: String,
    },
    /// The formula makes no sense in units.
    #[error("{}", .misfits.first().map_or("the formula makes no sense", |m| m.message.as_str()))]
    Misfits {
        /// Each place that makes no sense.
        misfits: Vec<Misfit>,
    },
    /// The definition would make a cell depend on itself.
    #[error("this would be a circle: {}", .path.join(" → "))]
    Cycle {
        /// The cells along the circle; the first is also the last.
        path: Vec<String>,
    },
    /// Other cells use it.
    #[error("`{name}` is used by {}", .dependents.join(", "))]
    InUse {
        /// The cell.
        name: String,
        /// The cells that use it.
        dependents: Vec<String>,
    },
}

fn suggestion(near: &Option<String>) -> String {
    near.as_ref()
        .map(|name| format!("; did you mean `{name}`?"))
        .unwrap_or_default()
}
