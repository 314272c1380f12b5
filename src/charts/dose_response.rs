//! A change against the dose: points, a line with its interval, a smooth course, a curve that saturates.

use super::axis::{Axis, Size};
use super::correlation::correlation;
use super::data::{BandPoint, Fit, Point, Reference, Series};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, Stage};
use super::look::Role;
use super::number::significant;
use super::words;

/// The median of a group of doses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupMedian {
    /// Where the group stands along the dose.
    pub x: f64,
    /// The median.
    pub value: f64,
    /// Low end of its interval.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// Change against dose.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DoseResponse {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The dose.
    pub x: Axis,
    /// The change.
    pub y: Axis,
    /// What a point is, for instance `one challenge`.
    pub points: Series,
    /// A straight line with its interval.
    pub line: Option<Fit>,
    /// A smooth course, for instance LOWESS.
    pub smooth: Option<Series>,
    /// A curve that levels off.
    pub saturating: Option<Series>,
    /// Medians of groups, named.
    pub medians: Vec<GroupMedian>,
    /// What the medians are, for instance `median with 95 % interval`.
    pub medians_name: String,
    /// Lines at values worth comparing with.
    pub references: Vec<Reference>,
}

const EMPTY: &str = "No points to draw.";
/// Series of the smooth course, the saturating curve and the medians; the points are series 0.
const SMOOTH: usize = 1;
const SATURATING: usize = 2;
const MEDIANS: usize = 3;

impl DoseResponse {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn or an interval is upside down.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        Stage {
            title: &self.title,
            key: &self.key,
            description: self.description(),
            x: Along::Numbers(&self.x),
            y: &self.y,
            whole: false,
            x_range: None,
            y_range: None,
            notes: Vec::new(),
            layers: self.layers(),
            marks: Vec::new(),
            references: self.references.clone(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: the points, each course's ends, and the medians.
    pub fn description(&self) -> String {
        let text = format!("{} against {}: ", self.y.name(), self.x.name());
        let points = &self.points.points;
        if points.is_empty() {
            return text + EMPTY;
        }
        let spans = [
            words::span(&self.x, points.iter().map(|p| p.x)),
            words::span(&self.y, points.iter().map(|p| p.y)),
        ];
        let spans: Vec<String> = spans.into_iter().flatten().collect();
        let mut text = format!(
            "{text}{}; {}.",
            words::count(points.len(), "point", "points"),
            spans.join(", ")
        );
        if let Some(r) = correlation(points) {
            text += &format!(" Correlation r = {}.", significant(r, 3));
        }
        let line = self.line.as_ref().map(|fit| &fit.line);
        for course in [line, self.smooth.as_ref(), self.saturating.as_ref()] {
            text += &course.map_or_else(String::new, |c| self.ends(c));
        }
        if !self.medians.is_empty() {
            let one = |m: &GroupMedian| {
                format!(
                    "{} ({} to {}) at {}",
                    words::value(&self.y, m.value),
                    significant(m.low, words::DIGITS),
                    significant(m.high, words::DIGITS),
                    words::value(&self.x, m.x)
                )
            };
            let list: Vec<String> = self.medians.iter().map(one).collect();
            text += &format!(" {}: {}.", self.medians_name, list.join("; "));
        }
        text + &words::references(&self.references, &self.x, &self.y)
    }

    fn ends(&self, course: &Series) -> String {
        let end = |p: &Point| {
            format!(
                "{} at {}",
                words::value(&self.y, p.y),
                words::value(&self.x, p.x)
            )
        };
        match (course.points.first(), course.points.last()) {
            (Some(first), Some(last)) => {
                format!(" {} from {} to {}.", course.name, end(first), end(last))
            }
            _ => String::new(),
        }
    }

    fn layers(&self) -> Vec<Layer> {
        if self.points.points.is_empty() {
            return Vec::new();
        }
        let mut layers = Vec::new();
        if let Some(fit) = &self.line {
            let band = Drawn::Band(fit.band.clone(), Role::FitBand);
            layers.push(Layer::new(&fit.band_name, band));
        }
        let dots = Drawn::Dots(self.points.points.clone(), 0);
        layers.push(Layer::new(&self.points.name, dots));
        if let Some(fit) = &self.line {
            layers.push(course(&fit.line, Role::FitLine));
        }
        layers.extend(self.smooth.iter().map(|s| course(s, Role::Line(SMOOTH))));
        layers.extend(
            self.saturating
                .iter()
                .map(|s| course(s, Role::Line(SATURATING))),
        );
        let bars = self.medians.iter().map(|m| BandPoint {
            x: m.x,
            low: m.low,
            high: m.high,
        });
        layers.push(Layer::new(
            &self.medians_name,
            Drawn::Intervals(bars.collect(), MEDIANS),
        ));
        let medians = self.medians.iter().map(|m| Point { x: m.x, y: m.value });
        layers.push(Layer::silent(
            &self.medians_name,
            Drawn::Dots(medians.collect(), MEDIANS),
        ));
        layers
    }
}

fn course(series: &Series, role: Role) -> Layer {
    Layer::new(&series.name, Drawn::Line(series.points.clone(), role))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_tells_where_each_course_begins_and_ends() {
        let chart = DoseResponse {
            x: Axis::new("Fluid", "mL"),
            y: Axis::new("Change", "%"),
            points: Series::new("one challenge", [(250.0, 8.0), (500.0, 14.0)]),
            saturating: Some(Series::new(
                "saturating curve",
                [(250.0, 9.0), (500.0, 13.0)],
            )),
            medians: vec![GroupMedian {
                x: 250.0,
                value: 8.0,
                low: 4.0,
                high: 11.0,
            }],
            medians_name: "Medians".into(),
            ..DoseResponse::default()
        };
        let text = chart.description();
        let course = "saturating curve from 9\u{a0}% at 250\u{a0}mL to 13\u{a0}% at 500\u{a0}mL.";
        assert!(text.contains(course), "{text}");
        assert!(
            text.contains("Medians: 8\u{a0}% (4 to 11) at 250\u{a0}mL."),
            "{text}"
        );
    }
}
