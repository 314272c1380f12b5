//! Operators side by side, each judged by how much they did.

use super::axis::{Axis, Size};
use super::data::{BandPoint, Mark, Point};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, SeriesMark, Stage};
use super::look::Role;
use super::words;

/// Where an operator lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FunnelPlace {
    /// Within the inner limits.
    #[default]
    Inside,
    /// Beyond the inner limits.
    BeyondInner,
    /// Beyond the outer limits.
    BeyondOuter,
}

/// One operator.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FunnelMark {
    /// Who, for instance `C`.
    pub label: String,
    /// How many exams.
    pub size: f64,
    /// Mean or share.
    pub value: f64,
    /// Where the value lies.
    pub place: FunnelPlace,
}

/// A funnel plot.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FunnelPlot {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// What counts the size, for instance `Exams`.
    pub x: Axis,
    /// The mean or share.
    pub y: Axis,
    /// What every operator is compared with.
    pub target: f64,
    /// The inner limits over sizes, in order of x.
    pub inner: Vec<BandPoint>,
    /// The outer limits over sizes, in order of x.
    pub outer: Vec<BandPoint>,
    /// What the inner limits are, for instance `95 % limits`.
    pub inner_name: String,
    /// What the outer limits are, for instance `99.8 % limits`.
    pub outer_name: String,
    /// The operators.
    pub points: Vec<FunnelMark>,
}

/// Most characters of a name in the drawing.
const LONGEST: usize = 16;

const EMPTY: &str = "No operators to draw.";

impl FunnelPlot {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn or limits are upside down.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        Stage {
            title: &self.title,
            key: &self.key,
            description: self.description(),
            x: Along::Counts(&self.x),
            y: &self.y,
            whole: false,
            x_range: None,
            y_range: None,
            notes: Vec::new(),
            layers: self.layers(),
            marks: self.marks(),
            references: Vec::new(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: every operator, and who lies beyond which limits.
    pub fn description(&self) -> String {
        let text = format!("Funnel of {} against {}: ", self.y.name(), self.x.name());
        if self.points.is_empty() {
            return text + EMPTY;
        }
        let one = |p: &FunnelMark| {
            let place = match p.place {
                FunnelPlace::Inside => String::new(),
                FunnelPlace::BeyondInner => format!(", beyond the {}", self.inner_name),
                FunnelPlace::BeyondOuter => format!(", beyond the {}", self.outer_name),
            };
            format!(
                "{} {} of {}{place}",
                p.label,
                words::value(&self.y, p.value),
                words::value(&self.x, p.size)
            )
        };
        let list: Vec<String> = self.points.iter().map(one).collect();
        format!(
            "{text}{}; all together {}. {}.",
            words::count(self.points.len(), "operator", "operators"),
            words::value(&self.y, self.target),
            list.join("; ")
        )
    }

    fn layers(&self) -> Vec<Layer> {
        if self.points.is_empty() {
            return Vec::new();
        }
        let sizes = || self.points.iter().map(|p| p.size);
        let limits = || self.outer.iter().chain(&self.inner).map(|p| p.x);
        let ends: Vec<f64> = sizes().chain(limits()).collect();
        let ends = [
            ends.iter().copied().fold(f64::INFINITY, f64::min),
            ends.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        ];
        let target = ends.map(|x| Point { x, y: self.target });
        let dots = self.points.iter().map(|p| Point {
            x: p.size,
            y: p.value,
        });
        vec![
            Layer::new(
                &self.outer_name,
                Drawn::Band(self.outer.clone(), Role::Band(0)),
            ),
            Layer::new(
                &self.inner_name,
                Drawn::Band(self.inner.clone(), Role::FitBand),
            ),
            Layer::new("all together", Drawn::Line(target.to_vec(), Role::FitLine)),
            Layer::silent("operators", Drawn::Dots(dots.collect(), 0)),
        ]
    }

    fn marks(&self) -> Vec<SeriesMark> {
        let mark = |p: &FunnelMark| SeriesMark {
            series: usize::from(p.place != FunnelPlace::Inside),
            mark: Mark {
                x: p.size,
                y: p.value,
                label: shortened(&p.label),
            },
        };
        self.points.iter().map(mark).collect()
    }
}

/// A name that is not much longer than others beside the dots; the description has it in full.
fn shortened(label: &str) -> String {
    match label.char_indices().nth(LONGEST) {
        Some(_) => {
            let start: String = label.chars().take(LONGEST - 1).collect();
            format!("{}…", start.trim_end())
        }
        None => label.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_is_shortened_in_the_drawing_and_whole_in_the_description() {
        let name = "Visiting physician, second half of the year";
        let mark = |label: &str, size: f64| FunnelMark {
            label: label.into(),
            size,
            value: 3.0,
            ..FunnelMark::default()
        };
        let chart = FunnelPlot {
            points: vec![
                mark(name, 1.0),
                mark("B", 2.0),
                mark("Ärztin im Dienst", 3.0),
            ],
            target: 3.0,
            ..FunnelPlot::default()
        };
        let svg = chart.svg(Size::new(720, 420).unwrap()).unwrap();
        assert!(svg.contains(">Visiting physic…<"), "{svg}");
        assert!(svg.contains(">Ärztin im Dienst<"));
        assert!(chart.description().contains(name));
        // Rows are counted: no tick between whole numbers.
        let along = svg
            .lines()
            .filter(|l| l.contains("class=\"tick\"") && l.contains("text-anchor=\"middle\""));
        let along = along.filter_map(|l| l.split_once('>')?.1.split('<').next());
        assert_eq!(along.collect::<Vec<_>>(), ["1", "2", "3"]);
    }

    #[test]
    fn the_description_says_who_lies_beyond_which_limits() {
        let chart = FunnelPlot {
            x: Axis::new("Exams", ""),
            y: Axis::new("Saved", "%"),
            target: 80.0,
            inner_name: "95 % limits".into(),
            outer_name: "99.8 % limits".into(),
            points: vec![
                FunnelMark {
                    label: "A".into(),
                    size: 120.0,
                    value: 82.0,
                    ..FunnelMark::default()
                },
                FunnelMark {
                    label: "D".into(),
                    size: 90.0,
                    value: 40.0,
                    place: FunnelPlace::BeyondOuter,
                },
            ],
            ..FunnelPlot::default()
        };
        let text = chart.description();
        assert!(
            text.contains("A 82\u{a0}% of 120; D 40\u{a0}% of 90, beyond the 99.8 % limits."),
            "{text}"
        );
    }
}
