//! The catalogue of hemodynamics: every quantity and formula of the trade, as data.
//!
//! This is the one place where the formulas stand. An [`Entry`] names a cell, the unit it is shown in,
//! where its value comes from, whom its usual ranges describe, what it assumes, who published it, and
//! what to tell the reader under which condition. The formulas are text in the sheet notation: what a
//! sheet, a derivative or a typeset page needs is read from them, and none of them is written twice.
//!
//! | topic | cells |
//! |---|---|
//! | body size | height, weight, body surface area by five formulas |
//! | outflow tract | diameter, measured or estimated, and area |
//! | beats | velocity-time integral, rhythm, signal, gate, angle, stroke distance |
//! | flow | heart rate, minute distance, stroke volume, cardiac output, and both indexed |
//! | resistance | pressures, resistances, elastance, power |
//! | fluid | fluid given, body weights, fluid per weight |
//!
//! Units do all conversion, so no conversion factor stands in a formula. Where results therefore differ from
//! a customary factor, the entry says by how much: 80 for resistance reads 0.009 % higher, 451 for cardiac power
//! 0.21 % lower.
//!
//! Usual ranges describe groups of adults. They are neither limits of safety nor targets, and sources
//! that disagree stand side by side. Advice never changes a number.
//!
//! The catalogue is for education, audit and research. It is not a medical device: a licensed clinician
//! and local protocols decide.
//!
//! ```
//! use semilunar::hemodynamics::{What, entry};
//!
//! let stroke_volume = entry("stroke_volume").expect("the catalogue has it");
//! assert_eq!(stroke_volume.unit, "mL");
//! assert_eq!(stroke_volume.what, What::Derived("lvot_area * stroke_distance"));
//! ```

mod beats;
mod body_size;
pub mod change;
mod entry;
mod flow;
mod fluid;
mod outflow_tract;
mod repeatability;
mod resistance;

#[cfg(test)]
mod structure;
#[cfg(test)]
mod words;

pub use change::ChangeAdvice;
pub use entry::{Advice, Domain, Entry, ModelUncertainty, UsualRange, Weight, What};
pub use repeatability::{Component, Published, REPEATABILITIES, Repeatability, repeatability};

/// The topics in the order in which they are taught: what is read comes before what is computed from it.
const TOPICS: [&[Entry]; 6] = [
    body_size::ENTRIES,
    outflow_tract::ENTRIES,
    beats::ENTRIES,
    flow::ENTRIES,
    resistance::ENTRIES,
    fluid::ENTRIES,
];

/// Every entry of the catalogue, in a fixed teaching order.
pub fn entries() -> impl Iterator<Item = &'static Entry> {
    TOPICS.into_iter().flatten()
}

/// The entry of that name, if the catalogue has one.
pub fn entry(name: &str) -> Option<&'static Entry> {
    entries().find(|entry| entry.name == name)
}
