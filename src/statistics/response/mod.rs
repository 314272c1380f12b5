//! How a response depends on a dose, and how big a change is.
//!
//! A straight line with its bands ([`fit_line`]), a smooth without a formula ([`lowess`]), a curve that saturates
//! ([`fit_saturation`]), medians with bootstrap intervals ([`median_interval`], [`medians_by_dose`]) and the three ways of
//! putting a change in per cent ([`changes`]), which are three different numbers.
//!
//! ```
//! use semilunar::statistics::response::changes;
//! // One small and one large flow, both up by 1 L/min: 50 % and 10 %.
//! let found = changes(&[2.0, 10.0, 5.0], &[3.0, 11.0, 6.0], 0.95)?;
//! assert_eq!(found.mean_of_per_cents.value.round(), 27.0);
//! assert_eq!(found.per_cent_of_means.value.round(), 18.0);
//! # Ok::<(), semilunar::statistics::StatisticsError>(())
//! ```

mod change;
mod line;
mod lowess;
mod median_interval;
mod noise;
mod normal_equations;
mod saturation;

pub use change::{Changes, Estimate, changes, changes_clustered};
pub use line::{Coefficient, Line, LinePrediction, fit_line, fit_line_clustered};
pub use lowess::lowess;
pub use median_interval::{
    DoseMedian, DoseMedians, MedianInterval, median_interval, medians_by_dose,
};
pub use noise::{ChangeError, ChangeScale, Shift};
pub use saturation::{Baseline, Saturation, fit_saturation};
