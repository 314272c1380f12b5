//! Statistics of diagnostic accuracy, agreement, response and quality: plain slices in, named structs out.
//!
//! | question | start with |
//! |---|---|
//! | how well does an index tell responders apart? | [`roc::RocSample`], [`roc::area`], [`roc::compare`] |
//! | which threshold, and how sure is it? | [`roc::threshold_interval()`], [`roc::corrected_accuracy`] |
//! | how accurate is a yes-or-no test? | [`TwoByTwo`], [`accuracy()`], [`accuracy_clustered`], [`proportion()`], [`proportion_clustered`] |
//! | where does the index not decide? | [`gray_zone()`] |
//! | how much does flow change with a dose? | [`response`] |
//! | do two methods, observers or readings agree? | [`agreement`] |
//! | is an operator or a process steady? | [`quality`] |
//! | how far do two groups lie apart? | [`standardized_difference()`], [`standardized_difference_of_shares`] |
//! | how many observations make an interval narrow enough? | [`sample_size`] |
//! | what does one sample look like? | [`describe`], [`quantiles`], [`histogram()`] |
//!
//! Everywhere: a level is a fraction (0.95); input that has no answer is a [`StatisticsError`] that names the place; small numbers,
//! many looks and shaky assumptions are [`Warning`]s in the result and never change a number; no result holds a number that is not finite;
//! a bootstrap depends on its seed and not on the number of threads.
//!
//! Not handled: missing values (set rows aside first), weights, censoring, mixed models. For education, audit and research; not a medical
//! device: a licensed clinician and local protocols decide.
//!
//! ```
//! use semilunar::statistics::roc::{Direction, RocSample, ThresholdRule, area, threshold};
//!
//! // Invented: stroke volume rise after leg raising, per cent, and whether the patient responded to fluid.
//! let rise = [3.0, 4.0, 6.0, 7.0, 9.0, 11.0, 12.0, 14.0, 15.0, 18.0];
//! let responded = [false, false, false, true, false, false, true, true, true, true];
//! let sample = RocSample::new(&rise, &responded, Direction::HigherIsPositive)?;
//!
//! let found = area(&sample, 0.95)?;
//! assert_eq!(found.value, 0.92);
//! // Five responders are few, and the result says so.
//! assert_eq!(found.warnings[0].to_string(), "only 5 positives: fewer than 20, and each one is 20 % of the sensitivity, so the interval is a rough guide");
//!
//! let chosen = threshold(&sample, ThresholdRule::MaximalYouden)?;
//! assert_eq!((chosen.threshold, chosen.sensitivity, chosen.specificity), (12.0, 0.8, 1.0));
//! # Ok::<(), semilunar::statistics::StatisticsError>(())
//! ```

mod accuracy;
pub mod agreement;
mod cluster;
mod clustered_accuracy;
mod clustered_proportion;
mod descriptive;
mod distribution;
mod error;
mod gray_zone;
mod histogram;
mod incomplete_beta;
mod interval;
mod many_looks;
mod proportion;
pub mod quality;
mod quantile;
mod resample;
pub mod response;
pub mod roc;
pub mod sample_size;
mod standardized_difference;
mod warning;

#[cfg(test)]
mod coverage;
#[cfg(test)]
mod hostile;
#[cfg(test)]
mod oracle;

pub use accuracy::{
    Accuracy, LikelihoodRatio, PredictiveValues, TwoByTwo, accuracy, predictive_values,
};
pub use cluster::Clusters;
pub use clustered_accuracy::{ClusteredAccuracy, accuracy_clustered};
pub use clustered_proportion::{ClusteredProportion, proportion_clustered};
pub use descriptive::{Summary, describe};
pub use error::{Result, StatisticsError};
pub use gray_zone::{DemandedRatios, GrayZone, GrayZoneDemand, gray_zone};
pub use histogram::{Binning, Histogram, histogram};
pub use interval::Interval;
pub use many_looks::holm;
pub use proportion::{Proportion, proportion};
pub use quantile::{median, quantile, quantiles};
pub use resample::{Bootstrap, BootstrapInterval};
pub use standardized_difference::{
    StandardizedDifference, standardized_difference, standardized_difference_of_shares,
};
pub use warning::Warning;
