//! A process over time against its limits: single values, shares, moving averages, cumulative sums.

use super::axis::{Axis, Size};
use super::data::{Point, Reference};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, Stage, steps};
use super::look::Role;
use super::number::significant;
use super::words;

/// What is charted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ControlKind {
    /// Single values against the limits of their moving range.
    #[default]
    Individuals,
    /// Shares of periods, with limits by their size.
    Proportions,
    /// An exponentially weighted moving average.
    MovingAverage,
    /// Cumulative sums above and below the target.
    CumulativeSums,
}

impl ControlKind {
    fn words(self) -> &'static str {
        match self {
            ControlKind::Individuals => "Control chart of individual values",
            ControlKind::Proportions => "Control chart of proportions",
            ControlKind::MovingAverage => {
                "Control chart of an exponentially weighted moving average"
            }
            ControlKind::CumulativeSums => "Control chart of cumulative sums",
        }
    }
}

/// One point of a control chart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControlPoint {
    /// Along the bottom: a number, or the position of a name counted from 0.
    pub x: f64,
    /// The value, share, average or upward sum.
    pub value: f64,
    /// The downward sum of a CUSUM, as a number not above zero.
    pub below: Option<f64>,
    /// Lower limit here.
    pub lower: f64,
    /// Upper limit here.
    pub upper: f64,
    /// Why the point stands out, for instance `beyond 3 sigma`.
    pub signal: Option<String>,
}

/// What stands along the bottom of a control chart.
#[derive(Debug, Clone, PartialEq)]
pub enum ControlScale {
    /// Numbers from 1, for instance of batches.
    Number(Axis),
    /// The position in an order, from 1.
    Positions {
        /// What the points are in order of, for instance `day`.
        order: String,
    },
    /// The same, each position with a name, for instance its date.
    Places {
        /// What the names are, for instance `Exam at`.
        axis: Axis,
        /// The names of positions 1, 2, ...
        names: Vec<String>,
    },
    /// Named periods; a point's `x` is its position, counted from 0.
    Periods {
        /// What the names are, for instance `Month`.
        label: String,
        /// The names, from left to right.
        names: Vec<String>,
    },
}

impl Default for ControlScale {
    fn default() -> Self {
        ControlScale::Number(Axis::default())
    }
}

/// A control chart of any kind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ControlChart {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// What is charted.
    pub kind: ControlKind,
    /// Along the bottom.
    pub x: ControlScale,
    /// The quantity.
    pub y: Axis,
    /// The center line.
    pub center: f64,
    /// The points, in order of time.
    pub points: Vec<ControlPoint>,
    /// Where the baseline ends that gave the limits, along x.
    pub baseline_end: Option<f64>,
}

const EMPTY: &str = "No values to draw.";
/// The series of what stands out.
const SIGNAL: usize = 1;
/// That of downward sums.
const DOWN: usize = 2;
const DOWNWARD: &str = "downward sum";

impl ControlChart {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn, limits are upside down, or a point belongs to no named period.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.check()?;
        let positions;
        let x = match &self.x {
            ControlScale::Number(axis) => Along::Counts(axis),
            ControlScale::Positions { order } => {
                positions = Axis::new(format!("Position in order of {order}"), "");
                Along::Counts(&positions)
            }
            ControlScale::Places { axis, names } => Along::Places { axis, names },
            ControlScale::Periods { label, names } => Along::Names { label, names },
        };
        Stage {
            title: &self.title,
            key: &self.key,
            description: self.description(),
            x,
            y: &self.y,
            whole: false,
            x_range: None,
            y_range: None,
            notes: self
                .limits_in_words()
                .into_iter()
                .chain(self.signals_in_words())
                .collect(),
            layers: self.layers(),
            marks: Vec::new(),
            references: self.baseline(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: center, limits, and every point that stands out.
    pub fn description(&self) -> String {
        let text = format!("{}, {}: ", self.kind.words(), self.y.name());
        if self.points.is_empty() {
            return text + EMPTY;
        }
        let mut text = format!(
            "{text}{}",
            words::count(self.points.len(), "point", "points")
        );
        if let Some(limits) = self.limits_in_words() {
            text += &format!("; {limits}");
        }
        let values = self.points.iter().map(|p| p.value);
        if let Some(span) = words::span(&self.y, values) {
            text += &format!("; {span}");
        }
        text += ".";
        if let Some(end) = self.baseline_end {
            // The end lies between two points.
            let points = words::count(end.max(0.0) as usize, "point", "points");
            text += &match self.x {
                ControlScale::Number(_) | ControlScale::Positions { .. } => {
                    format!(" The limits come from the first {points}.")
                }
                _ => format!(
                    " The limits come from the first {points}, up to {}.",
                    self.place(end.floor())
                ),
            };
        }
        let signals = self.runs_in_words();
        match signals.len() {
            0 => text + " No point stands out.",
            _ => text + &format!(" Standing out: {}.", signals.join("; ")),
        }
    }

    /// Points that stand out, those next to each other for one reason told together.
    fn runs_in_words(&self) -> Vec<String> {
        let runs = self.points.chunk_by(|a, b| a.signal == b.signal);
        let told = runs.filter_map(|run| {
            let (first, last) = (run.first()?, run.last()?);
            let why = first.signal.as_ref()?;
            Some(match run.len() {
                1 => format!(
                    "{} at {} ({why})",
                    words::value(&self.y, shown(first)),
                    self.place(first.x)
                ),
                count => format!(
                    "{count} points from {} to {}, the last {} ({why})",
                    self.place(first.x),
                    self.place(last.x),
                    words::value(&self.y, shown(last))
                ),
            })
        });
        told.collect()
    }

    fn place(&self, x: f64) -> String {
        match &self.x {
            ControlScale::Number(axis) => {
                let label = axis.label.trim();
                format!("{label} {}", words::value(axis, x))
                    .trim_start()
                    .to_owned()
            }
            ControlScale::Positions { order } => {
                format!(
                    "position {} in order of {order}",
                    significant(x, words::DIGITS)
                )
            }
            ControlScale::Places { names, .. } => names
                .get((x as usize).saturating_sub(1))
                .cloned()
                .unwrap_or_else(|| significant(x, words::DIGITS)),
            ControlScale::Periods { names, .. } => names
                .get(x.max(0.0).round() as usize)
                .cloned()
                .unwrap_or_else(|| significant(x, words::DIGITS)),
        }
    }

    /// `center 50.8, limits 45.8 to 55.8 cm`; limits that change are told at their last place.
    fn limits_in_words(&self) -> Option<String> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        let number = |value: f64| significant(value, words::DIGITS);
        let varies = self
            .points
            .iter()
            .any(|p| p.lower != first.lower || p.upper != first.upper);
        Some(format!(
            "Center {}, limits {}{} to {}",
            number(self.center),
            if varies { "at the last point " } else { "" },
            number(last.lower),
            words::value(&self.y, last.upper)
        ))
    }

    fn check(&self) -> Result<(), ChartError> {
        let ControlScale::Periods { names, .. } = &self.x else {
            return Ok(());
        };
        let is_place = |x: f64| x >= 0.0 && x.fract() == 0.0 && (x as usize) < names.len();
        match self.points.iter().position(|p| !is_place(p.x)) {
            None => Ok(()),
            Some(index) => Err(ChartError::NoSuchExam {
                series: self.y.label.clone(),
                index,
                value: self.points[index].x,
                exams: names.len(),
            }),
        }
    }

    fn layers(&self) -> Vec<Layer> {
        if self.points.is_empty() {
            return Vec::new();
        }
        let over = |f: fn(&ControlPoint) -> f64| {
            let at = |p: &ControlPoint| Point { x: p.x, y: f(p) };
            self.points.iter().map(at).collect::<Vec<Point>>()
        };
        let is_named = matches!(self.x, ControlScale::Periods { .. });
        let limit = |points: Vec<Point>| {
            let line = match is_named {
                true => around(&points),
                false => steps(&points),
            };
            Drawn::Line(line, Role::Reference)
        };
        let center = over(|_| 0.0).into_iter().map(|p| Point {
            y: self.center,
            ..p
        });
        let center = match is_named {
            true => around(&center.collect::<Vec<_>>()),
            false => center.collect(),
        };
        let mut layers = vec![
            Layer::new("center", Drawn::Line(center, Role::FitLine)),
            Layer::new("limits", limit(over(|p| p.upper))),
            Layer::silent("limits", limit(over(|p| p.lower))),
            Layer::silent(
                self.value_name(),
                Drawn::Line(over(|p| p.value), Role::Line(0)),
            ),
        ];
        let down: Vec<Point> = self
            .points
            .iter()
            .filter_map(|p| {
                Some(Point {
                    x: p.x,
                    y: p.below?,
                })
            })
            .collect();
        if !down.is_empty() {
            layers.push(Layer::silent(DOWNWARD, Drawn::Line(down, Role::Line(DOWN))));
        }
        let within = || self.points.iter().filter(|p| p.signal.is_none());
        let dots = |is_down: bool| {
            let own = within().filter(move |p| is_shown_by_below(p) == is_down);
            own.map(at_value).collect::<Vec<Point>>()
        };
        layers.push(Layer::new(self.value_name(), Drawn::Dots(dots(false), 0)));
        if self.points.iter().any(|p| p.below.is_some()) {
            layers.push(Layer::new(DOWNWARD, Drawn::Dots(dots(true), DOWN)));
        }
        let out = self.points.iter().filter(|p| p.signal.is_some());
        layers.push(Layer::new(
            "standing out",
            Drawn::Dots(out.map(at_value).collect(), SIGNAL),
        ));
        layers
    }

    fn value_name(&self) -> &'static str {
        match self.kind {
            ControlKind::Individuals => "value",
            ControlKind::Proportions => "share",
            ControlKind::MovingAverage => "moving average",
            ControlKind::CumulativeSums => "upward sum",
        }
    }

    /// `3 of 45 points stand out: beyond 3 sigma.`
    fn signals_in_words(&self) -> Option<String> {
        let mut reasons: Vec<&str> = Vec::new();
        let mut count = 0_usize;
        for why in self.points.iter().filter_map(|p| p.signal.as_deref()) {
            count += 1;
            if !reasons.contains(&why) {
                reasons.push(why);
            }
        }
        let verb = if count == 1 {
            "point stands"
        } else {
            "points stand"
        };
        let of = self.points.len();
        (count > 0).then(|| format!("{count} of {of} {verb} out: {}", reasons.join("; ")))
    }

    fn baseline(&self) -> Vec<Reference> {
        let line = |at| Reference::vertical(at, "baseline ends");
        self.baseline_end.map(line).into_iter().collect()
    }
}

/// The number that a point is shown by: of two sums, the one further from zero.
fn shown(point: &ControlPoint) -> f64 {
    match point.below {
        Some(below) if is_shown_by_below(point) => below,
        _ => point.value,
    }
}

fn is_shown_by_below(point: &ControlPoint) -> bool {
    point.below.is_some_and(|below| -below > point.value)
}

fn at_value(point: &ControlPoint) -> Point {
    Point {
        x: point.x,
        y: shown(point),
    }
}

/// Limits of named periods: each holds over the whole of its slot.
fn around(points: &[Point]) -> Vec<Point> {
    let slot = |p: &Point| [p.x - 0.5, p.x + 0.5].map(|x| Point { x, y: p.y });
    points.iter().flat_map(slot).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // NIST/SEMATECH e-Handbook 6.3.2.2: mean 50.81, limits 45.8159 and 55.8041.
    fn flow_rate() -> ControlChart {
        let values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 57.0];
        let point = |(index, value): (usize, f64)| ControlPoint {
            x: index as f64 + 1.0,
            value,
            lower: 45.8159,
            upper: 55.8041,
            signal: (value > 55.8041).then(|| "beyond 3 sigma".to_owned()),
            ..ControlPoint::default()
        };
        ControlChart {
            x: ControlScale::Number(Axis::new("Batch", "")),
            y: Axis::new("Flow rate", ""),
            center: 50.81,
            points: values.into_iter().enumerate().map(point).collect(),
            ..ControlChart::default()
        }
    }

    #[test]
    fn the_description_has_limits_and_what_stands_out() {
        let text = flow_rate().description();
        assert!(
            text.contains("Center 50.81, limits 45.82 to 55.8"),
            "{text}"
        );
        let out = "Standing out: 57 at Batch 10 (beyond 3 sigma).";
        assert!(text.ends_with(out), "{text}");
    }

    #[test]
    fn positions_are_told_with_their_order() {
        let chart = ControlChart {
            x: ControlScale::Positions {
                order: "day".to_owned(),
            },
            ..flow_rate()
        };
        let text = chart.description();
        assert!(
            text.ends_with("57 at position 10 in order of day (beyond 3 sigma)."),
            "{text}"
        );
        let svg = chart.svg(Size::new(640, 400).unwrap()).unwrap();
        assert!(svg.contains("Position in order of day"), "{svg}");
    }

    #[test]
    fn named_positions_are_told_by_their_names() {
        let names = (1..=10).map(|day| format!("2031-03-{day:02}")).collect();
        let chart = ControlChart {
            x: ControlScale::Places {
                axis: Axis::new("Exam at", ""),
                names,
            },
            baseline_end: Some(4.5),
            ..flow_rate()
        };
        let text = chart.description();
        assert!(
            text.contains("from the first 4 points, up to 2031-03-04."),
            "{text}"
        );
        assert!(
            text.ends_with("57 at 2031-03-10 (beyond 3 sigma)."),
            "{text}"
        );
        let svg = chart.svg(Size::new(640, 400).unwrap()).unwrap();
        assert!(svg.contains("2031-03-0"), "{svg}");
    }

    #[test]
    fn a_point_of_no_period_is_refused() {
        let chart = ControlChart {
            x: ControlScale::Periods {
                label: "Month".into(),
                names: vec!["1".into()],
            },
            ..flow_rate()
        };
        let error = chart.svg(Size::new(320, 240).unwrap()).unwrap_err();
        assert!(
            matches!(error, ChartError::NoSuchExam { index: 0, .. }),
            "{error}"
        );
    }

    #[test]
    fn dots_of_either_sum_are_drawn_as_that_sum() {
        let point = |x: f64, up: f64, down: f64| ControlPoint {
            x,
            value: up,
            below: Some(-down),
            lower: -5.0,
            upper: 5.0,
            signal: None,
        };
        let chart = ControlChart {
            kind: ControlKind::CumulativeSums,
            points: vec![
                point(1.0, 1.0, 0.0),
                point(2.0, 0.0, 2.0),
                point(3.0, 0.0, 3.0),
            ],
            ..ControlChart::default()
        };
        let dots = |name: &str| -> Vec<f64> {
            let layers = chart.layers().into_iter();
            let of_name = layers.filter(|layer| layer.name == name);
            let found = of_name.filter_map(|layer| match layer.drawn {
                Drawn::Dots(points, _) => Some(points),
                _ => None,
            });
            found.flatten().map(|p| p.y).collect()
        };
        assert_eq!(dots("upward sum"), [1.0]);
        assert_eq!(dots("downward sum"), [-2.0, -3.0]);
        let text = ControlChart {
            x: ControlScale::Positions {
                order: "day".to_owned(),
            },
            baseline_end: Some(2.5),
            ..chart
        }
        .description();
        assert!(text.contains("come from the first 2 points."), "{text}");
    }

    #[test]
    fn of_two_sums_the_larger_is_shown() {
        let point = ControlPoint {
            value: 1.0,
            below: Some(-3.0),
            ..ControlPoint::default()
        };
        assert_eq!(shown(&point), -3.0);
    }
}
