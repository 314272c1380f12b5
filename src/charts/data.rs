//! The pieces of data that several charts share, and their checks.

use super::error::ChartError;
use super::range::Range;

/// One point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Along the x axis, in its unit.
    pub x: f64,
    /// Along the y axis, in its unit.
    pub y: f64,
}

impl From<(f64, f64)> for Point {
    fn from((x, y): (f64, f64)) -> Self {
        Point { x, y }
    }
}

/// Points under one name: a group of a scatter, the line of a curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// What a person reads in the key.
    pub name: String,
    /// The points, in the order they are joined.
    pub points: Vec<Point>,
}

impl Series {
    /// A series from points or pairs (x, y).
    pub fn new<P: Into<Point>>(
        name: impl Into<String>,
        points: impl IntoIterator<Item = P>,
    ) -> Self {
        Series {
            name: name.into(),
            points: points.into_iter().map(Into::into).collect(),
        }
    }
}

/// A band's low and high end at one x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandPoint {
    /// Along the x axis, in its unit.
    pub x: f64,
    /// Low end along the y axis.
    pub low: f64,
    /// High end along the y axis, not below `low`.
    pub high: f64,
}

/// A fitted line with its interval, as points that the caller computed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fit {
    /// The line, for instance `Deming regression`.
    pub line: Series,
    /// What the band is, for instance `95 % interval`.
    pub band_name: String,
    /// The band, in order of x; empty for none.
    pub band: Vec<BandPoint>,
}

/// A point that carries a label of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Along the x axis, in its unit.
    pub x: f64,
    /// Along the y axis, in its unit.
    pub y: f64,
    /// What a person reads beside it.
    pub label: String,
}

/// Which way a reference line runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReferenceDirection {
    /// At one y.
    Horizontal,
    /// At one x.
    Vertical,
}

/// A straight line at a value worth comparing with.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Which way the line runs.
    pub direction: ReferenceDirection,
    /// The y of a horizontal line, the x of a vertical one.
    pub at: f64,
    /// What a person reads beside it.
    pub label: String,
}

impl Reference {
    /// A line at one y.
    pub fn horizontal(at: f64, label: impl Into<String>) -> Self {
        Reference {
            direction: ReferenceDirection::Horizontal,
            at,
            label: label.into(),
        }
    }

    /// A line at one x.
    pub fn vertical(at: f64, label: impl Into<String>) -> Self {
        Reference {
            direction: ReferenceDirection::Vertical,
            at,
            label: label.into(),
        }
    }
}

/// Beyond this a span between two values, or its square, would overflow.
const LARGEST: f64 = 1e150;

/// Where a number stands, for the error that names it.
#[derive(Clone, Copy)]
pub(super) struct Place<'a> {
    pub series: &'a str,
    pub index: usize,
}

impl Place<'_> {
    /// Refuses what no axis can show.
    pub fn finite(self, part: &'static str, value: f64) -> Result<(), ChartError> {
        let (series, index) = (self.series.to_owned(), self.index);
        if !value.is_finite() {
            Err(ChartError::NonFinite {
                series,
                index,
                part,
                value,
            })
        } else if value.abs() > LARGEST {
            Err(ChartError::TooLarge {
                series,
                index,
                part,
                value,
            })
        } else {
            Ok(())
        }
    }

    /// Refuses an interval that cannot be drawn.
    pub fn interval(self, low: f64, high: f64) -> Result<(), ChartError> {
        self.finite("low", low)?;
        self.finite("high", high)?;
        if low > high {
            return Err(ChartError::Reversed {
                series: self.series.to_owned(),
                index: self.index,
                low,
                high,
            });
        }
        Ok(())
    }
}

/// Checks every point of a series.
pub(super) fn check_series(series: &Series) -> Result<(), ChartError> {
    for (index, point) in series.points.iter().enumerate() {
        let place = Place {
            series: &series.name,
            index,
        };
        place.finite("x", point.x)?;
        place.finite("y", point.y)?;
    }
    Ok(())
}

/// Checks every point of a band.
pub(super) fn check_band(name: &str, band: &[BandPoint]) -> Result<(), ChartError> {
    for (index, point) in band.iter().enumerate() {
        let place = Place {
            series: name,
            index,
        };
        place.finite("x", point.x)?;
        place.interval(point.low, point.high)?;
    }
    Ok(())
}

/// Checks every marked point.
pub(super) fn check_marks(name: &str, marks: &[Mark]) -> Result<(), ChartError> {
    for (index, mark) in marks.iter().enumerate() {
        let place = Place {
            series: name,
            index,
        };
        place.finite("x of the marked point", mark.x)?;
        place.finite("y of the marked point", mark.y)?;
    }
    Ok(())
}

/// Checks every reference line.
pub(super) fn check_references(references: &[Reference]) -> Result<(), ChartError> {
    for (index, reference) in references.iter().enumerate() {
        Place {
            series: &reference.label,
            index,
        }
        .finite("reference line", reference.at)?;
    }
    Ok(())
}

/// What two axes span with reference lines on them.
pub(super) fn reaching(references: &[Reference], (x, y): (Range, Range)) -> (Range, Range) {
    let each = references.iter();
    each.fold((x, y), |(x, y), reference| match reference.direction {
        ReferenceDirection::Horizontal => (x, y.including(reference.at)),
        ReferenceDirection::Vertical => (x.including(reference.at), y),
    })
}

/// Refuses more series than the look can tell apart.
pub(super) fn check_count(what: &'static str, count: usize) -> Result<(), ChartError> {
    let limit = super::theme::SERIES;
    if count > limit {
        return Err(ChartError::TooMany { what, count, limit });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_that_is_not_finite_is_named_with_series_index_and_part() {
        let series = Series::new("ward A", [(1.0, 2.0), (3.0, f64::NAN)]);
        let error = check_series(&series).unwrap_err();
        assert!(
            matches!(&error, ChartError::NonFinite { series, index: 1, part: "y", .. } if series == "ward A")
        );
        assert!(error.to_string().starts_with("`ward A`, y of entry 1"));
        let series = Series::new("ward A", [(f64::NEG_INFINITY, 2.0)]);
        assert!(matches!(
            check_series(&series),
            Err(ChartError::NonFinite {
                index: 0,
                part: "x",
                ..
            })
        ));
    }

    #[test]
    fn a_value_whose_span_would_overflow_is_refused() {
        let series = Series::new("a", [(1e200, 0.0)]);
        assert!(matches!(
            check_series(&series),
            Err(ChartError::TooLarge { part: "x", .. })
        ));
    }

    #[test]
    fn a_band_upside_down_is_refused() {
        let band = [BandPoint {
            x: 0.0,
            low: 2.0,
            high: 1.0,
        }];
        let error = check_band("b", &band).unwrap_err();
        assert!(
            error
                .to_string()
                .contains("low end 2 lies above the high end 1")
        );
    }

    #[test]
    fn seven_series_are_too_many_to_tell_apart() {
        assert!(check_count("groups", 6).is_ok());
        assert!(matches!(
            check_count("groups", 7),
            Err(ChartError::TooMany {
                count: 7,
                limit: 6,
                ..
            })
        ));
    }
}
