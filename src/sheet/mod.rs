//! Sheets: cells, their graph, recomputation and explanation.
//!
//! Start with [`Sheet::read`] for a sheet in the notation, [`Sheet::set`] to change a reading,
//! [`Sheet::explain`] for everything that can be said of a cell.
//!
//! ```
//! use semilunar::sheet::{Sheet, State};
//!
//! let text = "
//!     use hemodynamics
//!     lvot_diameter = 2.05 cm
//!     lvot_vti = beats(17.8, 18.4, 18.1) cm
//!     heart_rate = ? /min
//! ";
//! let sheet = Sheet::read(text).unwrap().sheet;
//! let cardiac_output = sheet.cell("cardiac_output").unwrap();
//! assert_eq!(sheet.state(cardiac_output), Some(State::Missing));
//! assert_eq!(sheet.because(cardiac_output), ["heart_rate has no reading"]);
//! ```
//!
//! Not here: uncertainty propagation, tables of many exams, and anything that draws.

mod advice;
mod buffer;
mod build;
mod cache_size;
mod causes;
mod cell;
mod columns;
mod correlations;
mod dirty;
mod draft;
mod edit;
mod error;
mod evaluate;
mod explain;
mod facets;
mod figure;
mod gate;
mod lacks;
mod load;
mod near;
mod order;
mod outline;
mod parts;
mod program;
mod reachable;
mod reasons;
mod report;
mod restructure;
#[allow(clippy::module_inception)]
mod sheet;
mod slopes;
pub mod typed;
mod users;
mod view;
mod what_if;

pub use advice::{Advisory, word_of};
pub use buffer::{Buffer, Held};
pub use cell::About;
pub(crate) use columns::Feed;
pub use columns::{Calculation, Column, Computed};
pub(crate) use correlations::{factor, stated_between};
#[cfg(feature = "cohort")]
pub(crate) use draft::is_way;
pub use error::EditError;
pub use explain::{Explanation, InputLine};
pub(crate) use figure::level_words;
pub use figure::{
    figure, figure_as_given, figure_with_unit, in_sentence, join_unit, name_in_words,
};
pub use gate::Gate;
pub use lacks::Lack;
pub use load::{Loaded, SheetError, defined_name, exam_cell};
pub use outline::{Outline, OutlineCell, OutlineFormula, OutlineRule};
pub(crate) use parts::{Part, Stretch, in_stretches};
#[cfg(feature = "cohort")]
pub(crate) use program::Behind;
pub(crate) use program::Course;
pub use program::{Block, Program, RowInput};
pub use report::{CellReport, FORMAT};
pub use sheet::{Asked, Edit, Sheet};
pub(crate) use slopes::{Local, Running};
pub use view::State;
pub(crate) use what_if::WhatIf;
