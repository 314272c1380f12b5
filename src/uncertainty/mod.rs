//! How far to trust a cell: uncertainty through the whole sheet.
//!
//! [`propagate`] gives the linear answer (JCGM 100:2008, GUM) with its budget, [`coupling`] what
//! two cells share, [`difference`] what is left of it in their difference, [`change`] what a change
//! is held against, [`simulate`] the Monte Carlo answer (JCGM 101:2008), [`decide`] the questions
//! asked of them. A reading used twice is one cause. A reading that states no uncertainty is never
//! taken as exact: the result lists it and is a lower bound. Linear answers hold where formulas are
//! straight over all that the readings may be; [`bends`](bends()) says where they are not, which
//! the answers themselves do not ask, but for readings in which a slope is zero
//! ([`Propagated::unseen`]).
//!
//! ```
//! use semilunar::sheet::Sheet;
//! use semilunar::uncertainty::{Settings, propagate};
//!
//! let text = "
//!     use hemodynamics
//!     lvot_diameter = 2.0 cm (u = 1 mm)
//!     lvot_vti = 20 cm (u = 1 cm)
//! ";
//! let sheet = Sheet::read(text).unwrap().sheet;
//! let stroke_volume = sheet.cell("stroke_volume").unwrap();
//! let found = propagate(&sheet, stroke_volume, &Settings::default()).unwrap();
//! assert!((found.standard - 7.0248).abs() < 1e-4);
//! assert!(!found.is_lower_bound());
//! ```
//!
//! For education, audit and research. Not a medical device: a licensed clinician and local
//! protocols decide.

mod apart;
mod bends;
mod bounded;
mod carried;
mod columns;
mod crossing;
pub mod decide;
mod difference;
mod draws;
mod effect;
mod error;
mod exam;
mod flat;
mod linear;
mod propagation;
mod report;
mod rounded;
#[cfg(feature = "notebook")]
mod sentences;
mod settings;
mod simulate;
mod source;
mod student;
mod words;

pub use bends::{Bend, bends};
#[cfg(feature = "cohort")]
pub(crate) use bends::{Factors, Search, Watched};
pub use bounded::Bounded;
pub use columns::{Columns, Room, Standards, Stated};
pub use crossing::{Chances, Column, Crossings, Question, chances, crossings};
#[cfg(feature = "notebook")]
pub(crate) use difference::LEVEL as CHANGE_LEVEL;
pub use difference::{Change, Difference, change, difference};
#[cfg(feature = "cohort")]
pub(crate) use draws::philox;
#[cfg(feature = "notebook")]
pub(crate) use effect::cancelled;
pub use effect::{Effect, Off, effect};
pub use error::UncertaintyError;
pub use exam::Exam;
pub use linear::{Coupling, Coverage, Line, Propagated, coupling, propagate};
pub use propagation::Propagation;
#[cfg(feature = "notebook")]
pub(crate) use report::{FREEDOM_UNDEFINED, bounded_words, interval_words, limits_of};
#[cfg(feature = "cohort")]
pub(crate) use report::{NOT_LINEAR, bend_place};
pub use report::{
    bend_words, coverage_words, explained_text, explanation_text, limit_words, trust_in_full,
    trust_lines, trust_words,
};
pub use rounded::{to_place_of, value_and_uncertainty};
#[cfg(feature = "notebook")]
pub(crate) use sentences::{lower_bound_sentence, measure_first_sentence, published_sentence};
pub use settings::{Correlation, Settings};
pub use simulate::{Finite, Share, Simulated, Simulation, simulate};
#[cfg(feature = "notebook")]
pub(crate) use source::{lent, model_uncertainty};
pub use student::{coverage_factor, student_above, student_quantile};
#[cfg(feature = "notebook")]
pub(crate) use words::{NONE_STATED, names_of, unstated_note_about};
pub use words::{nothing_stated, unstated_note};
