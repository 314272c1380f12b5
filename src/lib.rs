//! Blood flow by bedside echocardiography, in typed cells that recompute.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::print_stdout))]

#[cfg(feature = "charts")]
pub mod charts;
#[cfg(feature = "cohort")]
pub mod cohort;
#[cfg(feature = "notebook")]
pub mod notebook;
#[cfg(feature = "statistics")]
pub mod statistics;
