//! What the library does, seen from outside.
#![allow(clippy::unwrap_used)]

#[cfg(feature = "command")]
mod cohort_results;
mod command;
mod formula_catalogue;
mod formula_notation;
mod formula_typeset;
#[cfg(all(feature = "kernel", feature = "command"))]
mod kernel;
#[cfg(feature = "notebook")]
mod notebooks;
#[cfg(feature = "notebook")]
mod page;
mod project;
#[cfg(all(feature = "rust-cells", feature = "command"))]
mod rust_cells;
#[cfg(feature = "notebook")]
mod session;
mod sheet_cases;
mod sheet_compile;
mod sheet_exams;
mod sheet_laws;
mod sheet_model;
mod sheet_pair;
mod sheet_reference;
mod sheet_report;
mod sheet_scenarios;
mod sheet_support;
mod simulated;
#[cfg(feature = "notebook")]
mod statistics;
#[cfg(feature = "cohort")]
mod table_cases;
mod uncertainty;
mod uncertainty_limits;
