//! Drawings in one look: plain data in, one SVG text out.
//!
//! ```
//! use semilunar::charts::{Axis, Reference, Scatter, Series, Size};
//!
//! // Invented demo data.
//! let chart = Scatter {
//!     title: "Two methods, one quantity".into(),
//!     x: Axis::new("Stroke volume, method A", "mL"),
//!     y: Axis::new("Stroke volume, method B", "mL"),
//!     groups: vec![Series::new("exams", [(58.0, 61.5), (72.5, 70.0), (80.0, 84.0)])],
//!     references: vec![Reference::horizontal(60.0, "lower limit")],
//!     ..Scatter::default()
//! };
//! let svg = chart.svg(Size::new(640, 400)?)?;
//! assert!(svg.contains(r#"role="img""#));
//! assert!(chart.description().starts_with("Scatter of Stroke volume, method B (mL)"));
//! # Ok::<(), semilunar::charts::ChartError>(())
//! ```
//!
//! | to show | use |
//! |---|---|
//! | y against x, in groups, with a fitted line | [`Scatter`] |
//! | curves with bands and marked points | [`Curves`] |
//! | what each reading being off would do to a result | [`EffectBars`] |
//! | an uncertainty budget | [`ShareBars`] |
//! | a quantity over time or exams | [`Trend`] |
//! | how values are distributed | [`Histogram`] |
//! | how well an index tells two classes apart | [`Roc`], [`GrayZonePlot`] |
//! | a change against the dose | [`DoseResponse`] |
//! | whether two measurements agree | [`BlandAltman`] |
//! | whether a process is steady | [`ControlChart`], [`FunnelPlot`], [`DigitColumns`] |
//! | which rows a result rests on | [`RowFlow`] |
//!
//! Every chart has `svg(size)` and `description()`, its alternative in words, which the SVG carries as `<desc>`. Text
//! stays text. Labels never overlap and never leave the picture: one that does not fit is wrapped, then shortened with
//! an ellipsis, in the most crowded pictures left out, and stands in full in the description. The same chart gives the
//! same bytes.
//!
//! # In a page
//!
//! Several SVGs can stand in one page: their ids come from their content and from each chart's `key`. Colors are CSS
//! variables that a page may set on any ancestor, with fallbacks for light and dark (`prefers-color-scheme`):
//! `--chart-paper`, `--chart-ink`, `--chart-muted`, `--chart-grid`, `--chart-line` (axes), and `--chart-series-1` to
//! `--chart-series-6`. Readers of SVG that know no CSS variables find the light colors as plain attributes.
//!
//! # Not handled
//!
//! Logarithmic axes, calendar dates, two y axes, more than six series, and movement.

mod axis;
mod bars;
mod bins;
mod bland_altman;
mod canvas;
mod control_chart;
mod correlation;
mod curves;
mod data;
mod digit_columns;
mod dose_response;
mod effect_bars;
mod error;
mod frame;
mod frame_axes;
mod funnel;
mod gray_zone;
mod header;
mod histogram;
mod layers;
mod look;
mod number;
mod overlay;
mod place;
mod placed;
mod range;
mod rewrite;
mod roc;
mod row_flow;
mod scatter;
mod shapes;
mod share_bars;
mod svg;
mod text;
mod theme;
mod thin;
mod ticks;
mod trend;
mod trend_data;
mod words;

#[cfg(test)]
mod check;
#[cfg(test)]
mod gallery;
#[cfg(test)]
mod samples;
#[cfg(test)]
mod samples_of_statistics;

pub use axis::{Axis, Size};
pub use bland_altman::{BlandAltman, Level};
pub use control_chart::{ControlChart, ControlKind, ControlPoint, ControlScale};
pub use curves::{Curve, Curves};
pub use data::{BandPoint, Fit, Mark, Point, Reference, ReferenceDirection, Series};
pub use digit_columns::DigitColumns;
pub use dose_response::{DoseResponse, GroupMedian};
pub use effect_bars::{Effect, EffectBars};
pub use error::ChartError;
pub use funnel::{FunnelMark, FunnelPlace, FunnelPlot};
pub use gray_zone::{GrayZonePlot, Zone};
pub use histogram::Histogram;
pub use placed::{Placed, Scale, Scales};
pub use roc::{CurveArea, Roc, RocCurve};
pub use row_flow::{FlowCount, FlowStep, RowFlow};
pub use scatter::Scatter;
pub use share_bars::{Share, ShareBars};
pub use trend::Trend;
pub use trend_data::{ErrorBar, TrendPoint, TrendScale, TrendSeries};
