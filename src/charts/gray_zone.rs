//! Sensitivity and specificity over all thresholds, and the zone where neither suffices.

use super::axis::{Axis, Size};
use super::data::{Place, Point, Reference};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, Stage};
use super::look::Role;
use super::number::significant;
use super::range::Range;
use super::roc::share;
use super::words;

/// Where a test neither rules in nor rules out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zone {
    /// Low end, in the unit of the index.
    pub low: f64,
    /// High end.
    pub high: f64,
    /// Share in it of what is counted.
    pub inside: f64,
    /// What is counted: `rows`, or `patients` where each has one row.
    pub of: &'static str,
}

/// Two curves against the threshold, and the gray zone between.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GrayZonePlot {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The index, with its unit.
    pub x: Axis,
    /// Sensitivity, a share, at each threshold.
    pub sensitivity: Vec<Point>,
    /// Specificity, a share, at each threshold.
    pub specificity: Vec<Point>,
    /// What both have to reach, a share; drawn as a line.
    pub demand: Option<f64>,
    /// The zone; none where the two ends leave no gap.
    pub zone: Option<Zone>,
    /// The threshold chosen, for instance at the maximal Youden index.
    pub threshold: Option<f64>,
}

const EMPTY: &str = "No thresholds to draw.";

impl GrayZonePlot {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number is no share or cannot be drawn, or the zone is upside down.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.check()?;
        let y = axis();
        Stage {
            title: &self.title,
            key: &self.key,
            description: self.description(),
            x: Along::Numbers(&self.x),
            y: &y,
            whole: false,
            x_range: None,
            y_range: Some(Range {
                low: -2.0,
                high: 104.0,
            }),
            notes: self.zone_in_words().into_iter().collect(),
            layers: self.layers(),
            marks: Vec::new(),
            references: self.references(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: the zone, what was demanded, and the threshold.
    pub fn description(&self) -> String {
        let text = format!(
            "Sensitivity and specificity against thresholds of {}: ",
            self.x.name()
        );
        if self.is_empty() {
            return text + EMPTY;
        }
        let thresholds = self.sensitivity.iter().chain(&self.specificity);
        let span = words::span(&self.x, thresholds.map(|p| p.x)).unwrap_or_default();
        let zone = self
            .zone_in_words()
            .unwrap_or_else(|| "No gray zone".to_owned());
        format!(
            "{text}{span}. {zone}.{}",
            words::references(&self.references(), &self.x, &axis())
        )
    }

    fn is_empty(&self) -> bool {
        self.sensitivity.is_empty() && self.specificity.is_empty()
    }

    fn zone_in_words(&self) -> Option<String> {
        let zone = self.zone?;
        let low = significant(zone.low, words::DIGITS);
        Some(format!(
            "Gray zone from {low} to {}, with {} of the {}",
            words::value(&self.x, zone.high),
            percent(zone.inside),
            zone.of
        ))
    }

    fn check(&self) -> Result<(), ChartError> {
        for (series, points) in [
            ("sensitivity", &self.sensitivity),
            ("specificity", &self.specificity),
        ] {
            for (index, point) in points.iter().enumerate() {
                share(Place { series, index }, "y", point.y)?;
            }
        }
        let place = Place {
            series: "gray zone",
            index: 0,
        };
        if let Some(zone) = &self.zone {
            share(place, "share inside", zone.inside)?;
        }
        self.demand
            .map_or(Ok(()), |demand| share(place, "demand", demand))
    }

    fn layers(&self) -> Vec<Layer> {
        if self.is_empty() {
            return Vec::new();
        }
        let line = |points: &[Point], series: usize| {
            let points = points.iter().map(|p| Point {
                x: p.x,
                y: 100.0 * p.y,
            });
            Drawn::Line(points.collect(), Role::Line(series))
        };
        let mut layers = Vec::new();
        if let Some(Zone { low, high, .. }) = self.zone {
            let zone = Drawn::Region(Range { low, high }, Role::FitBand);
            layers.push(Layer::new("gray zone", zone));
        }
        layers.push(Layer::new("sensitivity", line(&self.sensitivity, 0)));
        layers.push(Layer::new("specificity", line(&self.specificity, 1)));
        layers
    }

    fn references(&self) -> Vec<Reference> {
        let mut references = Vec::new();
        if let Some(demand) = self.demand {
            references.push(Reference::horizontal(100.0 * demand, "demanded"));
        }
        if let Some(at) = self.threshold {
            references.push(Reference::vertical(at, "threshold"));
        }
        references
    }
}

fn axis() -> Axis {
    Axis::new("Sensitivity, specificity", "%")
}

fn percent(share: f64) -> String {
    format!("{}\u{a0}%", significant(100.0 * share, 3))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_names_the_zone_and_its_share() {
        let chart = GrayZonePlot {
            x: Axis::new("Pulse pressure variation", "%"),
            sensitivity: vec![Point { x: 4.0, y: 0.95 }, Point { x: 17.0, y: 0.4 }],
            specificity: vec![Point { x: 4.0, y: 0.3 }, Point { x: 17.0, y: 0.95 }],
            demand: Some(0.9),
            zone: Some(Zone {
                low: 4.0,
                high: 17.0,
                inside: 0.62,
                of: "rows",
            }),
            ..GrayZonePlot::default()
        };
        let text = chart.description();
        let zone = "Gray zone from 4 to 17\u{a0}%, with 62\u{a0}% of the rows.";
        assert!(text.contains(zone), "{text}");
        assert!(text.ends_with("demanded at 90\u{a0}%."), "{text}");
    }
}
