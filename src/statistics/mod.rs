//! Statistics of diagnostic accuracy, agreement, response and quality: plain slices in, named structs out.
mod accuracy;
pub mod agreement;
mod cluster;
mod descriptive;
mod distribution;
mod error;
mod gray_zone;
mod histogram;
mod interval;
mod proportion;
mod quantile;
mod resample;
pub mod response;
pub mod roc;
mod warning;

#[cfg(test)]
mod oracle;

pub use accuracy::*;
pub use cluster::Clusters;
pub use descriptive::{Summary, describe};
pub use error::{Result, StatisticsError};
pub use gray_zone::*;
pub use histogram::{Binning, Histogram, histogram};
pub use interval::Interval;
pub use proportion::{Proportion, proportion};
pub use quantile::{median, quantile, quantiles};
pub use resample::{Bootstrap, BootstrapInterval};
pub use warning::Warning;
