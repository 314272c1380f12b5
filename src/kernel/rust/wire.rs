//! What goes between the program and the process that compiles and runs cells: one JSON text a line.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::in_cell::{Event, Task};

/// From the program.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum Request {
    /// Run a cell.
    Run { code: String, task: Task },
    /// Stop the cell that runs.
    Stop,
}

/// To the program.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum Reply {
    /// Cells can be run.
    Ready,
    /// They cannot, and why.
    Unfit(String),
    /// A cell was run.
    Ran(Ran),
}

/// How a cell went.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Ran {
    pub(super) events: Vec<Event>,
    /// What it printed.
    pub(super) printed: String,
    pub(super) end: End,
    /// The variables that earlier cells left and this one lost.
    pub(super) lost: Vec<String>,
    /// The variables that are there now.
    pub(super) variables: Vec<String>,
}

/// How a cell ended.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) enum End {
    /// At its end.
    #[default]
    Done,
    /// It was not compiled.
    Refused(Vec<Refusal>),
    /// It ended before its end: by an error or a panic.
    Early {
        why: String,
        place: Option<Range<usize>>,
    },
    /// Its process ended.
    Died(String),
    /// It was stopped.
    Stopped,
}

/// What the compiler says.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Refusal {
    pub(super) message: String,
    pub(super) place: Option<Range<usize>>,
    /// Words for the place, and other places with theirs.
    pub(super) label: String,
    pub(super) also: Vec<(Range<usize>, String)>,
    /// Notes and help.
    pub(super) help: Vec<String>,
}
