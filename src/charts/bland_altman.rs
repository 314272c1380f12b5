//! Differences against means of paired measurements, with the limits of agreement and their intervals.

use super::axis::{Axis, Size};
use super::data::{Point, Reference, Series, check_count};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, Stage};
use super::look::Role;
use super::number::significant;
use super::range::Range;
use super::words;

/// A level with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The level.
    pub value: f64,
    /// Low end of its interval.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// Differences against means.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BlandAltman {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The mean of the two measurements.
    pub x: Axis,
    /// Their difference.
    pub y: Axis,
    /// Pairs in up to six groups: x the mean, y the difference.
    pub groups: Vec<Series>,
    /// The mean difference.
    pub bias: Option<Level>,
    /// The upper limit of agreement.
    pub upper: Option<Level>,
    /// The lower limit of agreement.
    pub lower: Option<Level>,
    /// What the intervals are, for instance `95 % interval of each line`.
    pub interval_name: String,
    /// A line through differences that change with magnitude.
    pub trend: Option<Series>,
}

const EMPTY: &str = "No pairs to draw.";

impl BlandAltman {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn, an interval is upside down or there are more than six groups.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        check_count("groups", self.groups.len())?;
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
            references: self.references(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: pairs, bias and limits, each with its interval.
    pub fn description(&self) -> String {
        let text = format!("{} against {}: ", self.y.name(), self.x.name());
        let count: usize = self.groups.iter().map(|g| g.points.len()).sum();
        if count == 0 {
            return text + EMPTY;
        }
        let mut text = format!("{text}{}", words::count(count, "pair", "pairs"));
        if self.groups.len() > 1 {
            let one = |g: &Series| format!("{} {}", g.name, g.points.len());
            let list: Vec<String> = self.groups.iter().map(one).collect();
            text += &format!(" ({})", list.join(", "));
        }
        let points = self.groups.iter().flat_map(|g| &g.points);
        if let Some(span) = words::span(&self.x, points.map(|p| p.x)) {
            text += &format!("; {span}");
        }
        text += ".";
        for (name, level) in self.levels() {
            text += &format!(
                " {name} {}, {} {} to {}.",
                words::value(&self.y, level.value),
                self.interval_name,
                significant(level.low, words::DIGITS),
                significant(level.high, words::DIGITS)
            );
        }
        if let Some(trend) = &self.trend {
            text += &format!(" {} is drawn.", trend.name);
        }
        text
    }

    /// The lines that there are, from the top.
    fn levels(&self) -> Vec<(&'static str, Level)> {
        let named = [
            ("Upper limit", self.upper),
            ("Mean difference", self.bias),
            ("Lower limit", self.lower),
        ];
        let known = |(name, level): (&'static str, Option<Level>)| Some((name, level?));
        named.into_iter().filter_map(known).collect()
    }

    fn layers(&self) -> Vec<Layer> {
        if self.groups.iter().all(|g| g.points.is_empty()) {
            return Vec::new();
        }
        let mut layers = Vec::new();
        for (index, (_, level)) in self.levels().into_iter().enumerate() {
            let Level { low, high, .. } = level;
            let strip = Drawn::Strip(Range { low, high }, Role::FitBand);
            layers.push(Layer {
                in_key: index == 0,
                ..Layer::new(&self.interval_name, strip)
            });
        }
        for (index, group) in self.groups.iter().enumerate() {
            let dots = Drawn::Dots(group.points.clone(), index);
            layers.push(Layer {
                in_key: self.groups.len() > 1,
                ..Layer::new(&group.name, dots)
            });
        }
        if let Some(trend) = &self.trend {
            let line: Vec<Point> = trend.points.clone();
            layers.push(Layer::new(&trend.name, Drawn::Line(line, Role::FitLine)));
        }
        layers
    }

    fn references(&self) -> Vec<Reference> {
        let line = |(name, level): (&str, Level)| {
            let value = significant(level.value, 3);
            Reference::horizontal(level.value, format!("{} {value}", name.to_lowercase()))
        };
        self.levels().into_iter().map(line).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Bland & Altman 1986 Lancet 327:307-10: 17 peak flows, mean difference -2.1 with 95 % interval -22.0 to 17.8.
    #[test]
    fn the_description_has_the_bias_with_its_interval() {
        let chart = BlandAltman {
            x: Axis::new("Mean", "L/min"),
            y: Axis::new("Difference", "L/min"),
            groups: vec![Series::new("pairs", [(503.0, -18.0), (412.0, 35.0)])],
            bias: Some(Level {
                value: -2.1,
                low: -22.0,
                high: 17.8,
            }),
            interval_name: "95 % interval".into(),
            ..BlandAltman::default()
        };
        let text = chart.description();
        let bias = "Mean difference −2.1\u{a0}L/min, 95 % interval −22 to 17.8.";
        assert!(text.contains(bias), "{text}");
    }

    #[test]
    fn an_interval_upside_down_is_refused() {
        let chart = BlandAltman {
            groups: vec![Series::new("pairs", [(1.0, 2.0)])],
            bias: Some(Level {
                value: 0.0,
                low: 1.0,
                high: -1.0,
            }),
            ..BlandAltman::default()
        };
        let error = chart.svg(Size::new(320, 240).unwrap()).unwrap_err();
        assert!(matches!(error, ChartError::Reversed { .. }), "{error}");
    }
}
