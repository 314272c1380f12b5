//! Layers over one pair of axes: what the charts of the statistics are put together from.
//!
//! A chart says what it shows as layers, marks, references and notes; checking the numbers, choosing the axes, the key and
//! the places of labels is done here once for all of them.

use super::axis::{Axis, Size};
use super::canvas::{Canvas, Plot};
use super::data::{
    BandPoint, Mark, Place, Point, Reference, ReferenceDirection, check_band, check_marks,
    check_references,
};
use super::error::ChartError;
use super::frame::{Frame, NumberAxis, XAxis};
use super::header::{Header, KeyEntry, Sample};
use super::look::Role;
use super::overlay::{Marked, Overlay, headroom};
use super::place::Rect;
use super::range::Range;
use super::scatter::{paint_band, radius};
use super::svg::{Words, document};
use super::thin;
use super::words::empty_chart;

/// Above so many dots of a layer, those that cover each other are drawn once.
const MOST_DOTS: usize = 9000;
/// Half of the cap of an interval, px.
const CAP: f64 = 3.5;
/// Share of a slot that its column fills.
const COLUMN: f64 = 0.62;

/// What a layer draws.
pub(super) enum Drawn {
    /// The area between low and high ends, in order of x.
    Band(Vec<BandPoint>, Role),
    /// The part of the plot between two x.
    Region(Range, Role),
    /// The part of the plot between two y.
    Strip(Range, Role),
    /// Points joined in their order.
    Line(Vec<Point>, Role),
    /// Points in the shape of a series.
    Dots(Vec<Point>, usize),
    /// Upright bars with caps.
    Intervals(Vec<BandPoint>, usize),
    /// Columns from zero, one in each named slot.
    Columns(Vec<Point>, usize),
}

/// A layer, drawn over those before it.
pub(super) struct Layer {
    pub name: String,
    pub drawn: Drawn,
    /// Whether the key explains it.
    pub in_key: bool,
}

impl Layer {
    pub fn new(name: impl Into<String>, drawn: Drawn) -> Layer {
        Layer {
            name: name.into(),
            drawn,
            in_key: true,
        }
    }

    /// A layer that needs no explanation.
    pub fn silent(name: impl Into<String>, drawn: Drawn) -> Layer {
        Layer {
            in_key: false,
            ..Layer::new(name, drawn)
        }
    }

    fn check(&self) -> Result<(), ChartError> {
        match &self.drawn {
            Drawn::Band(band, _) | Drawn::Intervals(band, _) => check_band(&self.name, band),
            Drawn::Region(range, _) | Drawn::Strip(range, _) => Place {
                series: &self.name,
                index: 0,
            }
            .interval(range.low, range.high),
            Drawn::Line(points, _) | Drawn::Dots(points, _) | Drawn::Columns(points, _) => {
                points.iter().enumerate().try_for_each(|(index, point)| {
                    let place = Place {
                        series: &self.name,
                        index,
                    };
                    place.finite("x", point.x)?;
                    place.finite("y", point.y)
                })
            }
        }
    }

    fn xs(&self) -> Vec<f64> {
        match &self.drawn {
            Drawn::Band(band, _) | Drawn::Intervals(band, _) => band.iter().map(|p| p.x).collect(),
            Drawn::Region(range, _) => vec![range.low, range.high],
            Drawn::Strip(..) => Vec::new(),
            Drawn::Line(points, _) | Drawn::Dots(points, _) | Drawn::Columns(points, _) => {
                points.iter().map(|p| p.x).collect()
            }
        }
    }

    fn ys(&self) -> Vec<f64> {
        match &self.drawn {
            Drawn::Band(band, _) | Drawn::Intervals(band, _) => {
                band.iter().flat_map(|p| [p.low, p.high]).collect()
            }
            Drawn::Region(..) => Vec::new(),
            Drawn::Strip(range, _) => vec![range.low, range.high],
            Drawn::Line(points, _) | Drawn::Dots(points, _) => points.iter().map(|p| p.y).collect(),
            Drawn::Columns(points, _) => points.iter().map(|p| p.y).chain([0.0]).collect(),
        }
    }

    fn is_nothing(&self) -> bool {
        self.xs().is_empty() && self.ys().is_empty()
    }

    fn sample(&self) -> Sample {
        match self.drawn {
            Drawn::Band(_, role) | Drawn::Region(_, role) | Drawn::Strip(_, role) => match role {
                Role::Band(series) => Sample::Band(series),
                _ => Sample::FitBand,
            },
            Drawn::Line(_, role) => match role {
                Role::Line(series) => Sample::Line(series),
                Role::Reference => Sample::Reference,
                _ => Sample::Fit,
            },
            Drawn::Dots(_, series) => Sample::Marker(series),
            Drawn::Intervals(_, series) => Sample::LineWithMarker(series),
            Drawn::Columns(_, series) => Sample::Bar(series),
        }
    }
}

/// What stands along the bottom.
pub(super) enum Along<'a> {
    Numbers(&'a Axis),
    /// Whole numbers only: counts, or positions.
    Counts(&'a Axis),
    /// Places at 1, 2, ..., as many as fit with their names.
    Places {
        axis: &'a Axis,
        names: &'a [String],
    },
    /// Places at 0, 1, 2, ...
    Names {
        label: &'a str,
        names: &'a [String],
    },
}

/// A marked point and the series whose color it has.
pub(super) struct SeriesMark {
    pub series: usize,
    pub mark: Mark,
}

/// A chart as layers.
pub(super) struct Stage<'a> {
    pub title: &'a str,
    pub key: &'a str,
    pub description: String,
    pub x: Along<'a>,
    pub y: &'a Axis,
    /// Counts upward: whole ticks only.
    pub whole: bool,
    /// What an axis spans, where the layers do not decide.
    pub x_range: Option<Range>,
    pub y_range: Option<Range>,
    pub notes: Vec<String>,
    pub layers: Vec<Layer>,
    pub marks: Vec<SeriesMark>,
    pub references: Vec<Reference>,
    /// What is said where there is nothing to draw.
    pub empty: &'static str,
}

impl Stage<'_> {
    /// The drawing as SVG.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.check()?;
        let words = Words {
            title: self.title,
            description: &self.description,
            key: self.key,
        };
        let Some((x, y)) = self.ranges(size) else {
            return empty_chart(size, &words, self.empty);
        };
        let header = Header::lay_out(size, self.title, &self.notes, &self.entries());
        let y = NumberAxis {
            axis: self.y,
            range: y,
            whole: self.whole,
        };
        let along = |axis, whole| NumberAxis {
            axis,
            range: x,
            whole,
        };
        let x = match self.x {
            Along::Numbers(axis) => XAxis::Numbers(along(axis, false)),
            Along::Counts(axis) => XAxis::Numbers(along(axis, true)),
            Along::Places { axis, names } => XAxis::Places(along(axis, true), names),
            Along::Names { label, names } => XAxis::Names { label, names },
        };
        let frame = Frame::numbers(size, header, &x, &y);
        document(size, &words, |canvas| self.paint(canvas, &frame, size))
    }

    fn check(&self) -> Result<(), ChartError> {
        self.layers.iter().try_for_each(Layer::check)?;
        for mark in &self.marks {
            check_marks(&mark.mark.label, std::slice::from_ref(&mark.mark))?;
        }
        check_references(&self.references)
    }

    fn ranges(&self, size: Size) -> Option<(Range, Range)> {
        if self.layers.iter().all(Layer::is_nothing) {
            return None;
        }
        let mark = |f: fn(&Mark) -> f64| self.marks.iter().map(move |m| f(&m.mark));
        let at = |direction: ReferenceDirection| {
            let found = self.references.iter();
            found
                .filter(move |r| r.direction == direction)
                .map(|r| r.at)
        };
        let x = self.layers.iter().flat_map(Layer::xs).chain(mark(|m| m.x));
        let x = Range::of(x.chain(at(ReferenceDirection::Vertical)))?;
        let y = self.layers.iter().flat_map(Layer::ys).chain(mark(|m| m.y));
        let y = Range::of(y.chain(at(ReferenceDirection::Horizontal)))?;
        let from_zero = self
            .layers
            .iter()
            .any(|l| matches!(l.drawn, Drawn::Columns(..)));
        let mut padded = y.padded(0.06);
        if from_zero && y.low >= 0.0 {
            padded.low = 0.0;
        }
        if !self.marks.is_empty() {
            padded.high += padded.span() * headroom(size);
        }
        let x = self.x_range.unwrap_or_else(|| x.padded(0.04));
        Some((x, self.y_range.unwrap_or(padded)))
    }

    fn entries(&self) -> Vec<KeyEntry> {
        let told = self.layers.iter().filter(|l| l.in_key && !l.is_nothing());
        told.map(|l| KeyEntry::new(&l.name, l.sample())).collect()
    }

    fn paint(&self, canvas: &Canvas<'_>, frame: &Frame, size: Size) -> Result<(), ChartError> {
        let plot = frame.paint_back(canvas, size)?;
        let mut overlay = Overlay::new(canvas, &plot, frame.header.fonts.text);
        overlay.reference_lines(&self.references)?;
        for layer in &self.layers {
            paint_layer(canvas, &plot, &mut overlay, &layer.drawn, size)?;
        }
        frame.paint_front(canvas)?;
        let marks: Vec<Marked<'_>> = self
            .marks
            .iter()
            .map(|m| Marked {
                at: plot.at(m.mark.x, m.mark.y),
                series: m.series,
                label: &m.mark.label,
            })
            .collect();
        overlay.marks(&marks)?;
        overlay.reference_labels(&self.references)
    }
}

fn paint_layer(
    canvas: &Canvas<'_>,
    plot: &Plot,
    overlay: &mut Overlay<'_, '_>,
    drawn: &Drawn,
    size: Size,
) -> Result<(), ChartError> {
    let rect = plot.rect;
    match drawn {
        Drawn::Band(band, role) => paint_band(canvas, plot, band, *role),
        Drawn::Region(range, role) => {
            let (left, right) = (plot.at(range.low, 0.0).0, plot.at(range.high, 0.0).0);
            canvas.rect(
                Rect {
                    left,
                    right,
                    ..rect
                },
                *role,
            )
        }
        Drawn::Strip(range, role) => {
            let (top, bottom) = (plot.at(0.0, range.high).1, plot.at(0.0, range.low).1);
            canvas.rect(
                Rect {
                    top,
                    bottom,
                    ..rect
                },
                *role,
            )
        }
        Drawn::Line(points, role) => {
            let line: Vec<_> = points.iter().map(|p| plot.at(p.x, p.y)).collect();
            let line = thin::vertices(&line);
            overlay.avoid_line(&line);
            match line.len() {
                0 | 1 => Ok(()),
                _ => canvas.line(&line, *role),
            }
        }
        Drawn::Dots(points, series) => {
            let all: Vec<_> = points.iter().map(|p| plot.at(p.x, p.y)).collect();
            let dots = thin::dots(&all, MOST_DOTS);
            for dot in &dots {
                canvas.marker(*dot, *series, radius(points.len(), size))?;
            }
            overlay.avoid(dots);
            Ok(())
        }
        Drawn::Intervals(bars, series) => {
            for bar in bars {
                let (x, low) = plot.at(bar.x, bar.low);
                let (_, high) = plot.at(bar.x, bar.high);
                paint_interval(canvas, overlay, x, [low, high], *series)?;
            }
            Ok(())
        }
        Drawn::Columns(points, series) => {
            let half = (plot.at(1.0, 0.0).0 - plot.at(0.0, 0.0).0).abs() * COLUMN / 2.0;
            for point in points {
                let ((x, y), (_, zero)) = (plot.at(point.x, point.y), plot.at(point.x, 0.0));
                let column = Rect {
                    left: x - half,
                    right: x + half,
                    top: y.min(zero),
                    bottom: y.max(zero),
                };
                canvas.rect(column, Role::Bar(*series))?;
            }
            Ok(())
        }
    }
}

/// An upright bar with caps; all in px.
pub(super) fn paint_interval(
    canvas: &Canvas<'_>,
    overlay: &mut Overlay<'_, '_>,
    x: f64,
    [low, high]: [f64; 2],
    series: usize,
) -> Result<(), ChartError> {
    let bar = [(x, low), (x, high)];
    overlay.avoid_line(&bar);
    canvas.line(&bar, Role::ErrorBar(series))?;
    for y in [low, high] {
        canvas.line(&[(x - CAP, y), (x + CAP, y)], Role::ErrorBar(series))?;
    }
    Ok(())
}

/// Points as steps: each value holds from its x to the next.
pub(super) fn steps(points: &[Point]) -> Vec<Point> {
    let mut stepped = Vec::with_capacity(2 * points.len());
    for pair in points.windows(2) {
        stepped.extend([
            pair[0],
            Point {
                x: pair[1].x,
                y: pair[0].y,
            },
        ]);
    }
    stepped.extend(points.last());
    stepped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_hold_a_value_up_to_the_next() {
        let point = |x: f64, y: f64| Point { x, y };
        assert_eq!(
            steps(&[point(0.0, 1.0), point(2.0, 5.0)]),
            [point(0.0, 1.0), point(2.0, 1.0), point(2.0, 5.0)]
        );
        assert!(steps(&[]).is_empty());
    }

    #[test]
    fn columns_stand_on_zero() {
        let names = ["0".to_owned(), "1".to_owned()];
        let axis = Axis::new("Readings", "");
        let columns = [(0.0, 8.0), (1.0, 12.0)].map(Point::from).to_vec();
        let stage = Stage {
            title: "",
            key: "",
            description: String::new(),
            x: Along::Names {
                label: "Digit",
                names: &names,
            },
            y: &axis,
            whole: true,
            x_range: None,
            y_range: None,
            notes: Vec::new(),
            layers: vec![Layer::silent("counts", Drawn::Columns(columns, 0))],
            marks: Vec::new(),
            references: Vec::new(),
            empty: "No columns.",
        };
        let (_, y) = stage.ranges(Size::new(320, 240).unwrap()).unwrap();
        assert_eq!(y.low, 0.0);
        assert!(y.high > 12.0);
    }
}
