//! Blood flow by bedside echocardiography, in typed cells that recompute.
//!
//! A formula is data: a short list of operations that many readers read. A sheet holds cells and
//! recomputes what an edit touches. The same sheet runs over one exam, over the rows of a table
//! and over the draws of a simulation.
//!
//! For education, audit and research. Not a medical device: a licensed clinician and local
//! protocols decide.
//!
//! # The whole idea
//!
//! ```
//! use semilunar::sheet::{Sheet, State};
//!
//! let mut sheet = Sheet::read(
//!     "use hemodynamics
//!      lvot_diameter = 2.0 cm
//!      lvot_vti = 20 cm
//!      heart_rate = ? /min                      # not known yet
//!      stroke_work [J] = stroke_volume * mean_pressure",
//! )?
//! .sheet;
//!
//! // What can be known is known; the rest says what it waits for.
//! let stroke_volume = sheet.cell("stroke_volume").unwrap();
//! let output = sheet.cell("cardiac_output").unwrap();
//! assert_eq!(sheet.shown(stroke_volume), "62.8 mL");
//! assert_eq!(sheet.state(output), Some(State::Missing));
//! assert_eq!(sheet.because(output), ["heart_rate has no reading"]);
//!
//! // An edit recomputes what depends on it, and says so.
//! let edit = sheet.set_text("heart_rate", "70 bpm").unwrap();
//! assert!(edit.changed.contains(&output) && !edit.changed.contains(&stroke_volume));
//! assert_eq!(sheet.shown(output), "4.40 L/min");
//!
//! // And a cell can explain itself.
//! let explained = sheet.explain(stroke_volume)?;
//! assert_eq!(explained.formula.as_deref(), Some("lvot_area * stroke_distance"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The map, in reading order
//!
//! | module | what it is for |
//! |---|---|
//! | [`quantity`] | dimensions, kinds, units, readings, origins |
//! | [`formula`] | operations, the notation, the typed face, and one file per reader |
//! | [`hemodynamics`] | the catalogue: every formula of the trade, as data, with its source |
//! | [`sheet`] | cells, graph, recomputation, explanation, programs over rows |
//! | [`uncertainty`] | how far to trust it: propagation, simulation, decisions |
//! | `statistics` | plain slices in, named structs out |
//! | `cohort` | tables: binding columns, setting rows aside, applying a sheet |
//! | `charts` | drawings in one look |
//! | `notebook` | notebook files, sessions, pages |
//!
//! The first five are the core and build without the optional parts (`default-features = false`).
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::print_stdout))]

#[cfg(feature = "charts")]
pub mod charts;
#[cfg(feature = "cohort")]
pub mod cohort;
pub mod formula;
pub mod hemodynamics;
#[cfg(feature = "rust-cells")]
pub mod kernel;
#[cfg(feature = "notebook")]
pub mod notebook;
pub mod quantity;
pub mod sheet;
#[cfg(feature = "statistics")]
pub mod statistics;
pub mod uncertainty;

/// The examples of the README run as tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
pub struct Readme;
