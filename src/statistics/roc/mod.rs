//! Receiver operating characteristic: how well a score tells two classes apart.
//!
//! Start with [`RocSample::new`], then ask for the [`RocSample::curve`], the [`area`] under it, a
//! [`compare`]d second score, or a threshold by a [`ThresholdRule`]. When a patient contributes more than one
//! observation use [`area_clustered`] and [`compare_clustered`].
//!
//! Conventions, everywhere in this module:
//! - the [`Direction`] is always given, never guessed from the data;
//! - a test is positive when the score is at the threshold or beyond it in that direction; thresholds are observed scores;
//! - a tie between a positive and a negative counts one half in the area.

mod area;
mod area_bootstrap;
mod band;
mod clustered;
mod compare;
mod key;
mod optimism;
mod remeasured;
mod sample;
mod threshold;
mod threshold_interval;

pub use area::{Area, area};
pub use area_bootstrap::area_bootstrap;
pub use band::{BandAt, band};
pub use clustered::{area_clustered, compare_clustered};
pub use compare::{AreaComparison, compare};
pub use optimism::{CorrectedAccuracy, CorrectedShare, corrected_accuracy};
#[cfg(feature = "notebook")]
pub(crate) use remeasured::DOUBT;
pub use remeasured::{MeasuredResponse, Remeasured, remeasured};
pub use sample::{Direction, RocPoint, RocSample};
pub(crate) use threshold::is_beyond;
pub use threshold::{ChosenThreshold, ThresholdRule, threshold};
pub use threshold_interval::{ThresholdInterval, threshold_interval};

#[cfg(test)]
pub(super) mod fixtures;
