//! Notebook documents, sessions, and the pages made of them.
//!
//! [`Document`] reads and writes notebook files, [`Session`] carries out their cells, [`run`]
//! does both and makes a page.

mod assembly;
pub mod assist;
mod charts_of;
mod cohorts;
pub mod document;
mod live;
pub mod markdown;
pub mod mathml;
pub mod output;
pub mod page;
mod render;
mod run;
mod session;
mod tables;
mod trust;

pub use document::{Document, DocumentError};
pub use output::Output;
pub use run::{Inputs, Outdated, Run, RunError, run, run_with};
pub use session::{Session, Slider, Update};
