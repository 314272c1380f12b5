//! What a result would be off by, were each reading off by its uncertainty.

use super::axis::{Axis, Size};
use super::bars::{EndLabel, Rows, paint_end, range, rows};
use super::canvas::{Canvas, Plot};
use super::data::Place;
use super::error::ChartError;
use super::frame::Frame;
use super::header::{Header, KeyEntry, Sample};
use super::look::Role;
use super::number::signed;
use super::place::Rect;
use super::placed::Placed;
use super::svg::Words;
use super::words;

/// The effect of one reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// The reading, as a person knows it.
    pub name: String,
    /// Change of the result when the reading is lower, in the axis' unit.
    pub minus: f64,
    /// Change of the result when the reading is higher.
    pub plus: f64,
}

impl Effect {
    /// The effect of one reading being lower and being higher.
    pub fn new(name: impl Into<String>, minus: f64, plus: f64) -> Self {
        Effect {
            name: name.into(),
            minus,
            plus,
        }
    }

    fn larger(&self) -> f64 {
        self.minus.abs().max(self.plus.abs())
    }
}

/// Two-sided bars around zero, one row for each reading, in the caller's order.
#[derive(Debug, Clone, PartialEq)]
pub struct EffectBars {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The change that is drawn, for instance `Change of stroke volume` in `mL`.
    pub axis: Axis,
    /// What the open bars are.
    pub minus_name: String,
    /// What the filled bars are.
    pub plus_name: String,
    /// The rows, the first on top.
    pub effects: Vec<Effect>,
}

impl Default for EffectBars {
    fn default() -> Self {
        EffectBars {
            title: String::new(),
            key: String::new(),
            axis: Axis::default(),
            minus_name: "reading lower".into(),
            plus_name: "reading higher".into(),
            effects: Vec::new(),
        }
    }
}

const EMPTY: &str = "No effects to draw.";

/// Digits at a bar's end.
const DIGITS: usize = 3;

impl EffectBars {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where an effect is not finite or too large.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.svg_reaching(size, &[]).map(|placed| placed.svg)
    }

    /// The same drawing with an axis that also has room for these effects, and where its axes lie.
    ///
    /// # Errors
    /// As [`EffectBars::svg`].
    pub fn svg_reaching(&self, size: Size, also: &[Effect]) -> Result<Placed, ChartError> {
        self.check()?;
        let description = self.description();
        let words = Words {
            title: &self.title,
            description: &description,
            key: &self.key,
        };
        if self.effects.is_empty() {
            return Placed::empty(size, &words, EMPTY);
        }
        let entries = [
            KeyEntry::new(&self.minus_name, Sample::OpenBar(1)),
            KeyEntry::new(&self.plus_name, Sample::Bar(0)),
        ];
        let header = |note: Option<&str>| {
            let notes: Vec<String> = note.map(str::to_owned).into_iter().collect();
            Header::lay_out(size, &self.title, &notes, &entries)
        };
        let Rows { drawn, note } = rows(self.effects.len(), |note| {
            Frame::row_capacity(size, &header(note))
        });
        let header = header(note.as_deref());
        let font = header.fonts.text;
        let effects = &self.effects[..drawn];
        let names: Vec<String> = effects.iter().map(|effect| effect.name.clone()).collect();
        let labels: Vec<EndLabel> = effects.iter().chain(also).flat_map(end_labels).collect();
        let frame = Frame::rows(size, header, &names, &self.axis, |width| {
            range(&labels, font, width)
        });
        Placed::in_frame(size, &words, &frame, |canvas| {
            paint(canvas, &frame, effects, size)
        })
    }

    /// The chart in words: every effect, and the largest.
    pub fn description(&self) -> String {
        let mut text = format!("Bars of {} by reading: ", self.axis.name());
        let Some(largest) = self
            .effects
            .iter()
            .max_by(|a, b| a.larger().total_cmp(&b.larger()))
        else {
            return text + EMPTY;
        };
        text += &format!(
            "{}. ",
            words::count(self.effects.len(), "reading", "readings")
        );
        text += &format!("The largest effect has {}. ", largest.name);
        let value = |v: f64| self.axis.with_unit(&signed(v, words::DIGITS));
        let one = |e: &Effect| {
            format!(
                "{}: {} {}, {} {}",
                e.name,
                self.minus_name,
                value(e.minus),
                self.plus_name,
                value(e.plus)
            )
        };
        let list: Vec<String> = self.effects.iter().map(one).collect();
        text + &list.join("; ") + "."
    }

    fn check(&self) -> Result<(), ChartError> {
        for (index, effect) in self.effects.iter().enumerate() {
            let place = Place {
                series: &effect.name,
                index,
            };
            place.finite("minus", effect.minus)?;
            place.finite("plus", effect.plus)?;
        }
        Ok(())
    }
}

/// Both effects on one side of zero.
fn one_sided(effect: &Effect) -> bool {
    effect.minus * effect.plus > 0.0
}

/// One label at each end; where both bars lie on one side, one label for both.
fn end_labels(effect: &Effect) -> Vec<EndLabel> {
    let label = |v: f64| signed(v, DIGITS);
    if one_sided(effect) {
        let left = effect.minus < 0.0;
        let at = if effect.minus.abs() > effect.plus.abs() {
            effect.minus
        } else {
            effect.plus
        };
        let text = format!("{}, {}", label(effect.minus), label(effect.plus));
        return vec![EndLabel {
            at,
            left,
            alone: true,
            text,
        }];
    }
    let minus_left = effect.minus < 0.0 || (effect.minus == 0.0 && effect.plus >= 0.0);
    vec![
        EndLabel {
            at: effect.minus,
            left: minus_left,
            alone: false,
            text: label(effect.minus),
        },
        EndLabel {
            at: effect.plus,
            left: !minus_left,
            alone: false,
            text: label(effect.plus),
        },
    ]
}

fn paint(
    canvas: &Canvas<'_>,
    frame: &Frame,
    effects: &[Effect],
    size: Size,
) -> Result<(), ChartError> {
    let plot = frame.paint_back(canvas, size)?;
    let count = effects.len() as f64;
    let thick = (plot.rect.height() / count * 0.62).min(30.0);
    let middle = |row: usize| plot.at(0.0, count - row as f64 - 0.5).1;
    for (row, effect) in effects.iter().enumerate() {
        paint_pair(canvas, &plot, effect, middle(row), thick)?;
    }
    let zero = plot.at(0.0, 0.0).0;
    canvas.line(
        &[(zero, plot.rect.top), (zero, plot.rect.bottom)],
        Role::Zero,
    )?;
    frame.paint_front(canvas)?;
    for (row, effect) in effects.iter().enumerate() {
        for end in end_labels(effect) {
            paint_end(canvas, &plot, &end, middle(row), frame.header.fonts.text)?;
        }
    }
    Ok(())
}

/// Bars of full thickness on their sides; half each where they share one.
fn paint_pair(
    canvas: &Canvas<'_>,
    plot: &Plot,
    effect: &Effect,
    middle: f64,
    thick: f64,
) -> Result<(), ChartError> {
    let bar = |value: f64, top: f64, bottom: f64| {
        let (zero, end) = (plot.at(0.0, 0.0).0, plot.at(value, 0.0).0);
        Rect {
            left: zero.min(end),
            top: middle + top,
            right: zero.max(end),
            bottom: middle + bottom,
        }
    };
    let half = thick / 2.0;
    let (minus, plus) = if one_sided(effect) {
        (bar(effect.minus, -half, -0.5), bar(effect.plus, 0.5, half))
    } else {
        (
            bar(effect.minus, -half, half),
            bar(effect.plus, -half, half),
        )
    };
    canvas.rect(minus, Role::OpenBar(1))?;
    canvas.rect(plus, Role::Bar(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    // 1 mm at a diameter of 2.0 cm changes the area, and so the stroke volume, by factors 0.9025 and 1.1025
    // (computed from the area of a circle).
    #[test]
    fn the_description_names_the_largest_effect_and_all_values() {
        let chart = EffectBars {
            axis: Axis::new("Change of stroke volume", "%"),
            effects: vec![
                Effect::new("diameter", -9.75, 10.25),
                Effect::new("velocity integral", -5.0, 5.0),
            ],
            ..EffectBars::default()
        };
        let text = chart.description();
        assert!(text.contains("The largest effect has diameter."), "{text}");
        assert!(
            text.contains("reading lower −9.75\u{a0}%, reading higher +10.25\u{a0}%"),
            "{text}"
        );
    }

    #[test]
    fn effects_on_one_side_share_one_label() {
        let labels = end_labels(&Effect::new("angle", -1.5, -6.0));
        assert_eq!(labels.len(), 1);
        assert_eq!(
            (labels[0].text.as_str(), labels[0].at, labels[0].left),
            ("−1.5, −6", -6.0, true)
        );
    }

    #[test]
    fn an_inverse_effect_has_its_labels_outside() {
        let labels = end_labels(&Effect::new("pressure", 4.0, -4.0));
        assert!(!labels[0].left && labels[1].left);
        let labels = end_labels(&Effect::new("none", 0.0, 0.0));
        assert!(labels[0].left != labels[1].left);
    }
}
