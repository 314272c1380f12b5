//! y against x as curves, told apart by dash pattern and color.

use super::axis::{Axis, Size};
use super::canvas::Canvas;
use super::data::{BandPoint, Mark, Point, Reference, Series, reaching};
use super::data::{check_band, check_count, check_marks, check_references, check_series};
use super::error::ChartError;
use super::frame::{Frame, NumberAxis, XAxis};
use super::header::{Header, KeyEntry, Sample};
use super::look::Role;
use super::overlay::{Marked, Overlay, headroom};
use super::placed::Placed;
use super::range::Range;
use super::scatter::paint_band;
use super::svg::Words;
use super::thin;
use super::words;

/// A curve, its band and its marked points.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// Name and points, joined in their order.
    pub line: Series,
    /// A band around it, in order of x; empty for none.
    pub band: Vec<BandPoint>,
    /// Points with labels of their own.
    pub marks: Vec<Mark>,
}

/// Curves over one pair of axes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curves {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The axis along the bottom.
    pub x: Axis,
    /// The axis upward.
    pub y: Axis,
    /// Up to six curves.
    pub curves: Vec<Curve>,
    /// Lines at values worth comparing with.
    pub references: Vec<Reference>,
}

const EMPTY: &str = "No points to draw.";
const SINGLE: &str = "Only one point: it makes no curve.";

impl Curves {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn, a band is upside down or there are more than six curves.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.svg_reaching(size, &[]).map(|placed| placed.svg)
    }

    /// The same drawing with an upward axis that also reaches these values, and where its axes lie.
    ///
    /// # Errors
    /// As [`Curves::svg`].
    pub fn svg_reaching(&self, size: Size, also: &[f64]) -> Result<Placed, ChartError> {
        self.check()?;
        let description = self.description();
        let words = Words {
            title: &self.title,
            description: &description,
            key: &self.key,
        };
        let Some((x, y)) = self.ranges(size, also) else {
            return Placed::empty(size, &words, EMPTY);
        };
        let notes = if self.count() == 1 {
            vec![SINGLE.to_owned()]
        } else {
            Vec::new()
        };
        let header = Header::lay_out(size, &self.title, &notes, &self.entries());
        let x = NumberAxis {
            axis: &self.x,
            range: x,
            whole: false,
        };
        let y = NumberAxis {
            axis: &self.y,
            range: y,
            whole: false,
        };
        let frame = Frame::numbers(size, header, &XAxis::Numbers(x), &y);
        Placed::in_frame(size, &words, &frame, |canvas| {
            self.paint(canvas, &frame, size)
        })
    }

    /// The chart in words: each curve's points, ends and extremes, and the marked points.
    pub fn description(&self) -> String {
        let what = if self.curves.len() == 1 {
            "Curve"
        } else {
            "Curves"
        };
        let mut text = format!("{what} of {} against {}: ", self.y.name(), self.x.name());
        if self.count() == 0 {
            return text + EMPTY;
        }
        let list: Vec<String> = self
            .curves
            .iter()
            .map(|curve| self.curve_in_words(curve))
            .collect();
        text += &format!("{}.", list.join("; "));
        if self.count() == 1 {
            text += &format!(" {SINGLE}");
        }
        let marks: Vec<String> = self
            .curves
            .iter()
            .flat_map(|c| &c.marks)
            .map(|m| self.mark_in_words(m))
            .collect();
        if !marks.is_empty() {
            text += &format!(" Marked points: {}.", marks.join("; "));
        }
        text + &words::references(&self.references, &self.x, &self.y)
    }

    fn curve_in_words(&self, curve: &Curve) -> String {
        let points = &curve.line.points;
        let mut text = format!(
            "{}, {}",
            curve.line.name,
            words::count(points.len(), "point", "points")
        );
        let at = |p: &Point| {
            format!(
                "{} at {}",
                words::value(&self.y, p.y),
                words::value(&self.x, p.x)
            )
        };
        if let (Some(first), Some(last)) = (points.first(), points.last()) {
            text += &format!(", from {} to {}", at(first), at(last));
        }
        if points.len() > 2 {
            let lowest = points.iter().min_by(|a, b| a.y.total_cmp(&b.y));
            let highest = points.iter().max_by(|a, b| a.y.total_cmp(&b.y));
            if let (Some(low), Some(high)) = (lowest, highest) {
                text += &format!(", lowest {}, highest {}", at(low), at(high));
            }
        }
        if !curve.band.is_empty() {
            text += ", with a band";
        }
        text
    }

    fn mark_in_words(&self, mark: &Mark) -> String {
        format!(
            "{} ({}, {})",
            mark.label,
            words::value(&self.x, mark.x),
            words::value(&self.y, mark.y)
        )
    }

    fn count(&self) -> usize {
        self.curves
            .iter()
            .map(|curve| curve.line.points.len())
            .sum()
    }

    fn check(&self) -> Result<(), ChartError> {
        check_count("curves", self.curves.len())?;
        for curve in &self.curves {
            check_series(&curve.line)?;
            check_band(&curve.line.name, &curve.band)?;
            check_marks(&curve.line.name, &curve.marks)?;
        }
        check_references(&self.references)
    }

    fn ranges(&self, size: Size, also: &[f64]) -> Option<(Range, Range)> {
        let points = || self.curves.iter().flat_map(|c| &c.line.points);
        let mut x = Range::of(points().map(|p| p.x))?;
        let mut y = Range::of(points().map(|p| p.y))?;
        for curve in &self.curves {
            for point in &curve.band {
                x = x.including(point.x);
                y = y.including(point.low).including(point.high);
            }
            for mark in &curve.marks {
                (x, y) = (x.including(mark.x), y.including(mark.y));
            }
        }
        for value in also.iter().filter(|v| v.is_finite()) {
            y = y.including(*value);
        }
        (x, y) = reaching(&self.references, (x, y));
        let mut y = y.padded(0.07);
        // What can move may get a mark.
        if !also.is_empty() || self.curves.iter().any(|curve| !curve.marks.is_empty()) {
            y.high += y.span() * headroom(size);
        }
        Some((x.padded(0.03), y))
    }

    fn entries(&self) -> Vec<KeyEntry> {
        if self.curves.len() < 2 {
            return Vec::new();
        }
        let entry = |(i, c): (usize, &Curve)| KeyEntry::new(&c.line.name, Sample::Line(i));
        self.curves.iter().enumerate().map(entry).collect()
    }

    fn paint(&self, canvas: &Canvas<'_>, frame: &Frame, size: Size) -> Result<(), ChartError> {
        let plot = frame.paint_back(canvas, size)?;
        let mut overlay = Overlay::new(canvas, &plot, frame.header.fonts.text);
        for (index, curve) in self.curves.iter().enumerate() {
            paint_band(canvas, &plot, &curve.band, Role::Band(index))?;
        }
        overlay.reference_lines(&self.references)?;
        for (index, curve) in self.curves.iter().enumerate() {
            let line: Vec<_> = curve
                .line
                .points
                .iter()
                .map(|p| plot.at(p.x, p.y))
                .collect();
            match line.as_slice() {
                [only] => canvas.marker(*only, index, 4.0)?,
                line => canvas.line(&thin::vertices(line), Role::Line(index))?,
            }
            overlay.avoid_line(&thin::vertices(&line));
        }
        frame.paint_front(canvas)?;
        let marks: Vec<Marked<'_>> = self
            .curves
            .iter()
            .enumerate()
            .flat_map(|(series, curve)| curve.marks.iter().map(move |mark| (series, mark)))
            .map(|(series, mark)| Marked {
                at: plot.at(mark.x, mark.y),
                series,
                label: &mark.label,
            })
            .collect();
        overlay.marks(&marks)?;
        overlay.reference_labels(&self.references)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_names_ends_extremes_and_marked_points() {
        let chart = Curves {
            x: Axis::new("Time", "s"),
            y: Axis::new("Velocity", "cm/s"),
            curves: vec![Curve {
                line: Series::new("envelope", [(0.0, 0.0), (0.1, 95.0), (0.3, 5.0)]),
                marks: vec![Mark {
                    x: 0.1,
                    y: 95.0,
                    label: "peak".into(),
                }],
                ..Curve::default()
            }],
            ..Curves::default()
        };
        let text = chart.description();
        assert!(
            text.contains("highest 95\u{a0}cm/s at 0.1\u{a0}s"),
            "{text}"
        );
        assert!(
            text.contains("Marked points: peak (0.1\u{a0}s, 95\u{a0}cm/s)."),
            "{text}"
        );
    }

    #[test]
    fn a_band_upside_down_names_its_curve() {
        let chart = Curves {
            curves: vec![Curve {
                line: Series::new("a", [(0.0, 0.0)]),
                band: vec![BandPoint {
                    x: 0.0,
                    low: 1.0,
                    high: 0.0,
                }],
                ..Curve::default()
            }],
            ..Curves::default()
        };
        let error = chart.svg(Size::new(320, 240).unwrap()).unwrap_err();
        assert!(
            matches!(error, ChartError::Reversed { ref series, index: 0, .. } if series == "a")
        );
    }
}
