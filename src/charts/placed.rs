//! A drawing together with where its axes lie, for a page that moves what is drawn.

use super::axis::Size;
use super::canvas::Canvas;
use super::error::ChartError;
use super::frame::Frame;
use super::range::Range;
use super::svg::{Words, document};
use super::words::empty_chart;

/// An axis on the picture: two values and where they lie, in px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// The low end.
    pub low: f64,
    /// The high end, above `low`.
    pub high: f64,
    /// Where the low end lies.
    pub low_px: f64,
    /// Where the high end lies.
    pub high_px: f64,
}

impl Scale {
    pub(super) fn new(range: Range, low_px: f64, high_px: f64) -> Scale {
        Scale {
            low: range.low,
            high: range.high,
            low_px,
            high_px,
        }
    }
}

/// A drawing and its axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The drawing.
    pub svg: String,
    /// The axis along the bottom and the area upward; `None` where there is nothing to draw.
    pub scales: Option<Scales>,
}

impl Placed {
    /// A chart that says that there is nothing to draw.
    pub(super) fn empty(size: Size, words: &Words<'_>, said: &str) -> Result<Placed, ChartError> {
        let svg = empty_chart(size, words, said)?;
        Ok(Placed { svg, scales: None })
    }

    /// A drawing in its frame.
    pub(super) fn in_frame(
        size: Size,
        words: &Words<'_>,
        frame: &Frame,
        paint: impl FnOnce(&Canvas<'_>) -> Result<(), ChartError>,
    ) -> Result<Placed, ChartError> {
        Ok(Placed {
            svg: document(size, words, paint)?,
            scales: Some(frame.scales()),
        })
    }
}

/// Both directions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scales {
    /// Along the bottom.
    pub x: Scale,
    /// Upward; of rows from 0 at the bottom to their count.
    pub y: Scale,
}
