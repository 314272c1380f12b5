//! The receiver operating characteristic: sensitivity against false positives over all thresholds.

use super::axis::{Axis, Size};
use super::data::{BandPoint, Mark, Place, Point, check_count};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, SeriesMark, Stage};
use super::look::Role;
use super::number::significant;
use super::range::Range;
use super::words;

/// An area under a curve with its interval, as shares of 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurveArea {
    /// The area.
    pub value: f64,
    /// Low end of its interval.
    pub low: f64,
    /// High end.
    pub high: f64,
}

/// One index.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RocCurve {
    /// The index, for instance `Passive leg raise`.
    pub name: String,
    /// From (0, 0) to (1, 1): x is one minus specificity, y sensitivity, both shares.
    pub points: Vec<Point>,
    /// The interval of sensitivity at each x, as shares; empty for none.
    pub band: Vec<BandPoint>,
    /// The area under it.
    pub area: Option<CurveArea>,
    /// Thresholds worth a label, at their place on the curve.
    pub marks: Vec<Mark>,
}

/// Curves of one or more indexes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Roc {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// Up to six curves.
    pub curves: Vec<RocCurve>,
    /// What the bands are, for instance `95 % band`.
    pub band_name: String,
}

const EMPTY: &str = "No curve to draw.";

impl Roc {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number is no share, a band is upside down or there are more than six curves.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        check_count("curves", self.curves.len())?;
        self.curves.iter().try_for_each(check_shares)?;
        let (x, y) = axes();
        let whole = Range {
            low: -2.0,
            high: 102.0,
        };
        Stage {
            title: &self.title,
            key: &self.key,
            description: self.description(),
            x: Along::Numbers(&x),
            y: &y,
            whole: false,
            x_range: Some(whole),
            y_range: Some(whole),
            notes: Vec::new(),
            layers: self.layers(),
            marks: self.marks(),
            references: Vec::new(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: each curve's area and marked thresholds.
    pub fn description(&self) -> String {
        let (x, y) = axes();
        let text = format!(
            "Receiver operating characteristic, {} against {}: ",
            y.name(),
            x.name()
        );
        if self.curves.iter().all(|curve| curve.points.is_empty()) {
            return text + EMPTY;
        }
        let list: Vec<String> = self.curves.iter().map(|c| self.in_words(c)).collect();
        format!("{text}{}. The diagonal is chance.", list.join("; "))
    }

    fn in_words(&self, curve: &RocCurve) -> String {
        let mut text = curve.name.clone();
        if let Some(area) = &curve.area {
            text += &format!(", area under the curve {}", area_in_words(area));
        }
        text += &format!(", {}", words::count(curve.points.len(), "point", "points"));
        if !curve.band.is_empty() {
            text += &format!(", with {}", self.band_name);
        }
        for mark in &curve.marks {
            text += &format!(
                ", {}: sensitivity {}, specificity {}",
                mark.label,
                percent(mark.y),
                percent(1.0 - mark.x)
            );
        }
        text
    }

    fn layers(&self) -> Vec<Layer> {
        if self.curves.iter().all(|curve| curve.points.is_empty()) {
            return Vec::new();
        }
        let mut layers = Vec::new();
        for (index, curve) in self.curves.iter().enumerate() {
            let band = curve.band.iter().map(|p| BandPoint {
                x: 100.0 * p.x,
                low: 100.0 * p.low,
                high: 100.0 * p.high,
            });
            let band = Drawn::Band(band.collect(), Role::Band(index));
            // One entry explains the bands of all.
            layers.push(Layer {
                in_key: index == 0,
                ..Layer::new(&self.band_name, band)
            });
        }
        let chance = [(0.0, 0.0), (100.0, 100.0)].map(Point::from).to_vec();
        layers.push(Layer::new("chance", Drawn::Line(chance, Role::Reference)));
        for (index, curve) in self.curves.iter().enumerate() {
            let name = match &curve.area {
                Some(area) => format!("{}: area {}", curve.name, area_in_words(area)),
                None => curve.name.clone(),
            };
            let line = curve.points.iter().map(in_per_cent).collect();
            layers.push(Layer::new(name, Drawn::Line(line, Role::Line(index))));
        }
        layers
    }

    fn marks(&self) -> Vec<SeriesMark> {
        let mut marks = Vec::new();
        for (series, curve) in self.curves.iter().enumerate() {
            marks.extend(curve.marks.iter().map(|mark| SeriesMark {
                series,
                mark: Mark {
                    x: 100.0 * mark.x,
                    y: 100.0 * mark.y,
                    label: mark.label.clone(),
                },
            }));
        }
        marks
    }
}

fn axes() -> (Axis, Axis) {
    (
        Axis::new("1 − specificity", "%"),
        Axis::new("Sensitivity", "%"),
    )
}

fn in_per_cent(point: &Point) -> Point {
    Point {
        x: 100.0 * point.x,
        y: 100.0 * point.y,
    }
}

fn percent(share: f64) -> String {
    format!("{}\u{a0}%", significant(100.0 * share, 3))
}

fn area_in_words(area: &CurveArea) -> String {
    let number = |value: f64| super::number::fixed(value, 2);
    format!(
        "{} ({} to {})",
        number(area.value),
        number(area.low),
        number(area.high)
    )
}

fn check_shares(curve: &RocCurve) -> Result<(), ChartError> {
    let name = &curve.name;
    for (index, point) in curve.points.iter().enumerate() {
        let place = Place {
            series: name,
            index,
        };
        share(place, "x", point.x)?;
        share(place, "y", point.y)?;
    }
    for (index, mark) in curve.marks.iter().enumerate() {
        let place = Place {
            series: name,
            index,
        };
        share(place, "x of the marked point", mark.x)?;
        share(place, "y of the marked point", mark.y)?;
    }
    for (index, point) in curve.band.iter().enumerate() {
        let place = Place {
            series: name,
            index,
        };
        share(place, "low", point.low)?;
        share(place, "high", point.high)?;
    }
    Ok(())
}

/// Refuses what is no share of 1.
pub(super) fn share(place: Place<'_>, part: &'static str, value: f64) -> Result<(), ChartError> {
    place.finite(part, value)?;
    if (0.0..=1.0).contains(&value) {
        return Ok(());
    }
    Err(ChartError::NoShare {
        series: place.series.to_owned(),
        index: place.index,
        part,
        value,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_has_area_and_thresholds() {
        let chart = Roc {
            curves: vec![RocCurve {
                name: "leg raise".into(),
                points: [(0.0, 0.0), (0.25, 0.75), (1.0, 1.0)]
                    .map(Point::from)
                    .to_vec(),
                area: Some(CurveArea {
                    value: 0.75,
                    low: 0.6,
                    high: 0.9,
                }),
                marks: vec![Mark {
                    x: 0.25,
                    y: 0.75,
                    label: "10 %".into(),
                }],
                ..RocCurve::default()
            }],
            ..Roc::default()
        };
        let text = chart.description();
        assert!(
            text.contains("area under the curve 0.75 (0.60 to 0.90)"),
            "{text}"
        );
        let mark = "10 %: sensitivity 75\u{a0}%, specificity 75\u{a0}%";
        assert!(text.contains(mark), "{text}");
    }

    #[test]
    fn what_is_no_share_is_refused_with_its_place() {
        let chart = Roc {
            curves: vec![RocCurve {
                name: "a".into(),
                points: [(0.0, 0.0), (0.5, 75.0)].map(Point::from).to_vec(),
                ..RocCurve::default()
            }],
            ..Roc::default()
        };
        let error = chart.svg(Size::new(320, 240).unwrap()).unwrap_err();
        assert!(
            matches!(
                error,
                ChartError::NoShare {
                    index: 1,
                    part: "y",
                    ..
                }
            ),
            "{error}"
        );
    }
}
