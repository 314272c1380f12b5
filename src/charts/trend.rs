//! A quantity over time or over exams, with error bars.

use super::axis::{Axis, Size};
use super::canvas::{Canvas, Plot};
use super::data::{Place, Reference, ReferenceDirection, check_count, check_references, reaching};
use super::error::ChartError;
use super::frame::{Frame, NumberAxis, XAxis};
use super::header::{Header, KeyEntry, Sample};
use super::layers::paint_interval;
use super::look::Role;
use super::number::signed;
use super::overlay::{Marked, Overlay, headroom};
use super::placed::Placed;
use super::range::Range;
use super::svg::Words;
use super::thin;
use super::trend_data::{TrendPoint, TrendScale, TrendSeries, exam};
use super::words;

/// A quantity over time or exams.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trend {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// What the values follow.
    pub x: TrendScale,
    /// The quantity.
    pub y: Axis,
    /// What the error bars are, for instance `95 % interval`; empty where there are none.
    pub error_name: String,
    /// Up to six series.
    pub series: Vec<TrendSeries>,
    /// Lines at values worth comparing with.
    pub references: Vec<Reference>,
}

const EMPTY: &str = "No values to draw.";
const SINGLE: &str = "Only one value: it shows no trend.";

impl Trend {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn, an error bar is upside down, a point belongs to no named exam,
    /// or there are more than six series.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.svg_reaching(size, &[]).map(|placed| placed.svg)
    }

    /// The same drawing with an upward axis that also reaches these values, and where its axes lie.
    ///
    /// # Errors
    /// As [`Trend::svg`].
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
        let header = Header::lay_out(size, &self.title, &self.notes(), &self.entries());
        let y = NumberAxis {
            axis: &self.y,
            range: y,
            whole: false,
        };
        let x = match &self.x {
            TrendScale::Time(axis) => XAxis::Numbers(NumberAxis {
                axis,
                range: x,
                whole: false,
            }),
            TrendScale::Exams { label, names } => XAxis::Names { label, names },
        };
        let frame = Frame::numbers(size, header, &x, &y);
        Placed::in_frame(size, &words, &frame, |canvas| {
            self.paint(canvas, &frame, size)
        })
    }

    /// The chart in words: each series' first and last value, their change, and the marked values.
    pub fn description(&self) -> String {
        let over = match &self.x {
            TrendScale::Time(axis) => axis.name(),
            TrendScale::Exams { label, names } => format!("{label} ({})", names.join(", ")),
        };
        let mut text = format!("Trend of {} over {over}: ", self.y.name());
        if self.count() == 0 {
            return text + EMPTY;
        }
        let list: Vec<String> = self
            .series
            .iter()
            .map(|series| self.series_in_words(series))
            .collect();
        text += &format!("{}.", list.join("; "));
        if self.count() == 1 {
            text += &format!(" {SINGLE}");
        }
        if !self.error_name.is_empty() {
            text += &format!(" Error bars: {}.", self.error_name);
        }
        let x = match &self.x {
            TrendScale::Time(axis) => axis.clone(),
            TrendScale::Exams { label, .. } => Axis::new(label.clone(), ""),
        };
        text + &words::references(&self.references, &x, &self.y)
    }

    fn series_in_words(&self, series: &TrendSeries) -> String {
        let points = &series.points;
        let mut text = format!(
            "{}, {}",
            series.name,
            words::count(points.len(), "value", "values")
        );
        let (Some(first), Some(last)) = (points.first(), points.last()) else {
            return text;
        };
        if points.len() == 1 {
            return text + &format!(", {}", self.point_in_words(first));
        }
        text += &format!(
            ", from {} to {}",
            self.point_in_words(first),
            self.point_in_words(last)
        );
        let change = last.y - first.y;
        text += &format!(
            ", change {}",
            self.y.with_unit(&signed(change, words::DIGITS))
        );
        let percent = 100.0 * change / first.y;
        if first.y > 0.0 && percent.is_finite() {
            text += &format!(" ({}\u{a0}% of the first)", signed(percent, 3));
        }
        let marked = points.iter().filter_map(|p| {
            let label = p.mark.as_ref()?;
            Some(format!("{label}: {}", self.point_in_words(p)))
        });
        let marked: Vec<String> = marked.collect();
        if !marked.is_empty() {
            text += &format!(", marked {}", marked.join(", "));
        }
        text
    }

    fn point_in_words(&self, point: &TrendPoint) -> String {
        let at = match &self.x {
            TrendScale::Time(axis) => words::value(axis, point.x),
            TrendScale::Exams { names, .. } => exam(point.x, names.len())
                .and_then(|index| names.get(index).cloned())
                .unwrap_or_else(|| words::value(&Axis::default(), point.x)),
        };
        format!("{} at {at}", words::value(&self.y, point.y))
    }

    fn points(&self) -> impl Iterator<Item = &TrendPoint> {
        self.series.iter().flat_map(|series| &series.points)
    }

    fn count(&self) -> usize {
        self.points().count()
    }

    fn check(&self) -> Result<(), ChartError> {
        check_count("series", self.series.len())?;
        for series in &self.series {
            for (index, point) in series.points.iter().enumerate() {
                let place = Place {
                    series: &series.name,
                    index,
                };
                place.finite("x", point.x)?;
                place.finite("y", point.y)?;
                if let Some(error) = point.error {
                    place.interval(error.low, error.high)?;
                }
                self.check_exam(&series.name, index, point.x)?;
            }
        }
        check_references(&self.references)?;
        let vertical = |r: &&Reference| r.direction == ReferenceDirection::Vertical;
        self.references
            .iter()
            .filter(vertical)
            .enumerate()
            .try_for_each(|(index, r)| self.check_exam(&r.label, index, r.at))
    }

    fn check_exam(&self, series: &str, index: usize, value: f64) -> Result<(), ChartError> {
        match &self.x {
            TrendScale::Exams { names, .. } if exam(value, names.len()).is_none() => {
                Err(ChartError::NoSuchExam {
                    series: series.to_owned(),
                    index,
                    value,
                    exams: names.len(),
                })
            }
            _ => Ok(()),
        }
    }

    fn ranges(&self, size: Size, also: &[f64]) -> Option<(Range, Range)> {
        let mut x = Range::of(self.points().map(|p| p.x))?;
        let mut y = Range::of(self.points().map(|p| p.y))?;
        for error in self.points().filter_map(|p| p.error) {
            y = y.including(error.low).including(error.high);
        }
        for value in also.iter().filter(|v| v.is_finite()) {
            y = y.including(*value);
        }
        (x, y) = reaching(&self.references, (x, y));
        let mut y = y.padded(0.08);
        // What can move may get a mark.
        if !also.is_empty() || self.points().any(|p| p.mark.is_some()) {
            y.high += y.span() * headroom(size);
        }
        Some((x.padded(0.05), y))
    }

    fn notes(&self) -> Vec<String> {
        let mut notes = Vec::new();
        if self.count() == 1 {
            notes.push(SINGLE.to_owned());
        }
        if !self.error_name.is_empty() && self.points().any(|p| p.error.is_some()) {
            notes.push(format!("Error bars: {}", self.error_name));
        }
        notes
    }

    fn entries(&self) -> Vec<KeyEntry> {
        if self.series.len() < 2 {
            return Vec::new();
        }
        let entry =
            |(i, s): (usize, &TrendSeries)| KeyEntry::new(&s.name, Sample::LineWithMarker(i));
        self.series.iter().enumerate().map(entry).collect()
    }

    /// Px along x that one value has to itself.
    fn slot(&self, plot: &Plot) -> f64 {
        let most = match &self.x {
            TrendScale::Exams { names, .. } => names.len(),
            TrendScale::Time(_) => self
                .series
                .iter()
                .map(|s| s.points.len())
                .max()
                .unwrap_or(1),
        };
        plot.rect.width() / most.max(1) as f64
    }

    fn paint(&self, canvas: &Canvas<'_>, frame: &Frame, size: Size) -> Result<(), ChartError> {
        let plot = frame.paint_back(canvas, size)?;
        let mut overlay = Overlay::new(canvas, &plot, frame.header.fonts.text);
        overlay.reference_lines(&self.references)?;
        let mut marks = Vec::new();
        for (index, series) in self.series.iter().enumerate() {
            let shift = sideways(index, self.series.len(), self.slot(&plot));
            let at = |p: &TrendPoint| shifted(plot.at(p.x, p.y), shift);
            let line: Vec<_> = series.points.iter().map(at).collect();
            canvas.line(&thin::vertices(&line), Role::Line(index))?;
            overlay.avoid_line(&thin::vertices(&line));
            for point in &series.points {
                paint_error(canvas, &plot, &mut overlay, point, index, shift)?;
            }
            for point in series.points.iter().filter(|p| p.mark.is_none()) {
                canvas.marker(at(point), index, 3.8)?;
            }
            for point in series.points.iter().filter(|p| p.mark.is_some()) {
                let label = point.mark.as_deref().unwrap_or_default();
                marks.push(Marked {
                    at: at(point),
                    series: index,
                    label,
                });
            }
        }
        frame.paint_front(canvas)?;
        overlay.marks(&marks)?;
        overlay.reference_labels(&self.references)
    }
}

/// Series stand a little beside each other, so that error bars of one time stay apart.
fn sideways(index: usize, count: usize, slot: f64) -> f64 {
    let step = (0.6 * slot / count as f64).min(5.0);
    (index as f64 - (count as f64 - 1.0) / 2.0) * step
}

fn shifted((x, y): (f64, f64), shift: f64) -> (f64, f64) {
    (x + shift, y)
}

fn paint_error(
    canvas: &Canvas<'_>,
    plot: &Plot,
    overlay: &mut Overlay<'_, '_>,
    point: &TrendPoint,
    series: usize,
    shift: f64,
) -> Result<(), ChartError> {
    let Some(error) = point.error else {
        return Ok(());
    };
    let (x, low) = shifted(plot.at(point.x, error.low), shift);
    let (_, high) = plot.at(point.x, error.high);
    paint_interval(canvas, overlay, x, [low, high], series)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exams() -> TrendScale {
        TrendScale::Exams {
            label: "Exam".into(),
            names: vec!["before".into(), "after".into()],
        }
    }

    fn trend(points: Vec<TrendPoint>) -> Trend {
        Trend {
            x: exams(),
            y: Axis::new("Stroke volume", "mL"),
            series: vec![TrendSeries {
                name: "bed 4".into(),
                points,
            }],
            ..Trend::default()
        }
    }

    #[test]
    fn the_description_says_the_change_and_its_share() {
        let chart = trend(vec![
            TrendPoint::new(0.0, 50.0),
            TrendPoint::new(1.0, 60.0).marked("fluid given"),
        ]);
        let text = chart.description();
        assert!(
            text.contains("from 50\u{a0}mL at before to 60\u{a0}mL at after"),
            "{text}"
        );
        assert!(
            text.contains("change +10\u{a0}mL (+20\u{a0}% of the first)"),
            "{text}"
        );
        assert!(
            text.contains("marked fluid given: 60\u{a0}mL at after"),
            "{text}"
        );
    }

    #[test]
    fn a_point_of_no_exam_is_refused() {
        let size = Size::new(320, 240).unwrap();
        for x in [2.0, 0.5, -1.0] {
            let error = trend(vec![TrendPoint::new(x, 50.0)]).svg(size).unwrap_err();
            assert!(
                matches!(
                    error,
                    ChartError::NoSuchExam {
                        index: 0,
                        exams: 2,
                        ..
                    }
                ),
                "{error}"
            );
        }
    }

    #[test]
    fn an_error_bar_upside_down_or_not_finite_is_refused() {
        let size = Size::new(320, 240).unwrap();
        let chart = trend(vec![TrendPoint::new(0.0, 50.0).between(55.0, 45.0)]);
        assert!(matches!(chart.svg(size), Err(ChartError::Reversed { .. })));
        let chart = trend(vec![
            TrendPoint::new(0.0, 50.0).between(45.0, f64::INFINITY),
        ]);
        assert!(matches!(
            chart.svg(size),
            Err(ChartError::NonFinite { part: "high", .. })
        ));
    }
}
