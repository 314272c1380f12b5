//! Blood flow by bedside echocardiography, in typed cells that recompute.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::print_stdout))]

#[cfg(feature = "charts")]
pub mod charts;
#[cfg(feature = "cohort")]
pub mod cohort;
pub mod formula;
pub mod hemodynamics;
#[cfg(feature = "notebook")]
pub mod notebook;
pub mod quantity;
pub mod sheet;
#[cfg(feature = "statistics")]
pub mod statistics;
pub mod uncertainty;
