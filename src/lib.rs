//! Blood flow by bedside echocardiography, in typed cells that recompute.
//!
//! A formula is data: a short list of operations that many readers read. A sheet holds cells and
//! recomputes what an edit touches. The same sheet runs over one exam, over the rows of a table
//! and over the draws of a simulation.
//!
//! For education, audit and research. Not a medical device: a licensed clinician and local
//! protocols decide.
//!
//! # One exam
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
//! # How far to trust it
//!
//! The diameter counts twice, so one millimeter of it outweighs one centimeter of the VTI.
//!
//! ```
//! use semilunar::sheet::Sheet;
//! use semilunar::uncertainty::{Settings, propagate};
//!
//! let text = "use hemodynamics
//!             lvot_diameter = 2.0 cm (u = 1 mm)
//!             lvot_vti = 20 cm (u = 1 cm)";
//! let sheet = Sheet::read(text)?.sheet;
//! let stroke_volume = sheet.cell("stroke_volume").unwrap();
//! let found = propagate(&sheet, stroke_volume, &Settings::default())?;
//! assert!((found.standard - 7.02).abs() < 0.01); // mL
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # A cohort
//!
//! The same sheet over the rows of a table, with every row accounted for (feature `cohort`).
//!
//! ```
//! # #[cfg(feature = "cohort")] {
//! use semilunar::cohort::{Cohort, Options, Table};
//! use semilunar::sheet::Sheet;
//!
//! let sheet = Sheet::read("use hemodynamics")?.sheet;
//! let table = "lvot_diameter [cm],lvot_vti [cm]\n2.0,20\n2.1,\nwide,18\n"; // invented
//! let table = Table::from_csv(Box::new(table.as_bytes()), "table.csv".as_ref())?;
//! let counts = Cohort::of(&sheet, table, &Options::default())?.counts;
//! assert_eq!((counts.read, counts.used, counts.set_aside), (3, 2, 1));
//! # }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Does an index tell responders apart?
//!
//! ```
//! # #[cfg(feature = "statistics")] {
//! use semilunar::statistics::roc::{Direction, RocSample, area};
//!
//! // Invented: rise of stroke volume after leg raising in per cent, and response to fluid.
//! let rise = [3.0, 4.0, 6.0, 7.0, 9.0, 11.0, 12.0, 14.0, 15.0, 18.0];
//! let responded = [false, false, false, true, false, false, true, true, true, true];
//! let sample = RocSample::new(&rise, &responded, Direction::HigherIsPositive)?;
//! let found = area(&sample, 0.95)?;
//! assert_eq!(found.value, 0.92);
//! assert!(!found.warnings.is_empty()); // ten patients are few, and the result says so
//! # }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # A chart
//!
//! ```
//! # #[cfg(feature = "charts")] {
//! use semilunar::charts::{Axis, Scatter, Series, Size};
//!
//! // Invented: two readers of the same loops.
//! let chart = Scatter {
//!     title: "One quantity, two readers".into(),
//!     x: Axis::new("Stroke volume, first reader", "mL"),
//!     y: Axis::new("Stroke volume, second reader", "mL"),
//!     groups: vec![Series::new("exams", [(58.0, 61.5), (72.5, 70.0), (80.0, 84.0)])],
//!     ..Scatter::default()
//! };
//! assert!(chart.svg(Size::new(640, 400)?)?.starts_with("<svg"));
//! # }
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
//! | `kernel` | the same sessions over the Jupyter protocol |
//!
//! The first five are the core and build without the optional parts (`default-features = false`).
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::print_stdout))]

#[cfg(feature = "charts")]
pub mod charts;
#[cfg(feature = "cohort")]
pub mod cohort;
pub mod formula;
pub mod hemodynamics;
#[cfg(feature = "kernel")]
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
