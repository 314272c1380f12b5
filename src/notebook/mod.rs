//! Notebook documents, sessions, and the pages made of them.
//!
//! [`Document`] reads and writes notebook files, [`Session`] carries out their cells, [`run`]
//! does both and makes a page.

mod ask;
mod assembly;
pub mod assist;
mod charts_of;
mod cohort_trust;
mod cohorts;
mod coupled;
pub mod document;
mod effects_of;
mod live;
pub mod markdown;
pub mod mathml;
pub mod output;
pub mod page;
mod probability;
mod render;
mod rests_on;
mod run;
mod rust_cells;
#[cfg(test)]
mod said;
mod session;
mod sides;
mod simulated;
mod statistics;
mod tables;
mod trust;
#[cfg(test)]
mod trust_tests;
mod words;

pub use ask::{AskError, Question, ask};
pub use document::{Document, DocumentError};
pub use output::Output;
pub use run::{Inputs, Outdated, Run, RunError, run, run_with, run_with_rust};
pub use rust_cells::{RustCells, RustOutcome, RustProblem, RustShown, RustTask};
pub use session::{Session, Slider, Update};
