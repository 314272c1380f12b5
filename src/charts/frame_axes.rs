//! Labels along an axis: as many as have room, none over another.

use super::axis::{Axis, Size};
use super::place::Rect;
use super::range::Range;
use super::text::{Font, clean};
use super::ticks::{Tick, TickRule, ticks};

/// An axis of numbers.
pub(super) struct NumberAxis<'a> {
    pub axis: &'a Axis,
    pub range: Range,
    /// Counts: whole ticks only.
    pub whole: bool,
}

/// A label of an axis, in one or two lines around its place.
pub(super) struct Label {
    pub lines: Vec<String>,
    /// Along the axis, px.
    pub at: f64,
    /// Draw a grid line through it.
    pub grid: bool,
}

pub(super) fn upward(plot: Rect, y: &NumberAxis<'_>, font: Font) -> Vec<Tick> {
    let most = (plot.height() / (2.6 * font.size)).floor().clamp(2.0, 9.0) as usize;
    let rule = TickRule {
        most,
        whole: y.whole,
    };
    ticks(y.range, rule, |ticks| {
        plot.height() / y.range.span() * gap(ticks) >= 1.5 * font.size
    })
}

fn gap(ticks: &[Tick]) -> f64 {
    ticks
        .windows(2)
        .map(|pair| pair[1].value - pair[0].value)
        .fold(f64::INFINITY, f64::min)
}

/// Ticks along x; the plot gives way where a label at its end would leave the picture. With names, the places 1, 2, ... have
/// these for labels, and nothing else has one.
pub(super) fn along(
    size: Size,
    plot: &mut Rect,
    x: &NumberAxis<'_>,
    names: Option<&[String]>,
    font: Font,
) -> Vec<Label> {
    let edge = f64::from(size.width()) - 3.0;
    let mut labels = Vec::new();
    for _ in 0..4 {
        let place = |plot: &Rect, t: &Tick| {
            plot.left + (t.value - x.range.low) / x.range.span() * plot.width()
        };
        let most = (plot.width() / (5.0 * font.size)).floor().clamp(2.0, 11.0) as usize;
        let rule = TickRule {
            most,
            whole: x.whole,
        };
        let free = |ticks: &[Tick]| {
            let ticks = renamed(ticks, names);
            ticks.windows(2).all(|pair| {
                let half = (font.width(&pair[0].label) + font.width(&pair[1].label)) / 2.0;
                place(plot, &pair[1]) - place(plot, &pair[0]) >= half + 0.9 * font.size
            })
        };
        let found = renamed(&ticks(x.range, rule, free), names);
        let (mut left, mut right) = (0.0_f64, 0.0_f64);
        for tick in &found {
            let half = font.width(&tick.label) / 2.0;
            left = left.max(3.0 - (place(plot, tick) - half));
            right = right.max(place(plot, tick) + half - edge);
        }
        labels = found
            .iter()
            .map(|t| Label {
                lines: vec![t.label.clone()],
                at: place(plot, t),
                grid: true,
            })
            .collect();
        if left <= 0.0 && right <= 0.0 {
            break;
        }
        plot.left += left.min(plot.width() * 0.2);
        plot.right -= right.min(plot.width() * 0.2);
    }
    labels.retain(|label| {
        let half = label
            .lines
            .iter()
            .map(|line| font.width(line))
            .fold(0.0, f64::max)
            / 2.0;
        label.at - half >= 0.0 && label.at + half <= edge + 3.0
    });
    labels
}

/// The ticks that stand at one of the places 1, 2, ..., under its name; all as they are without names.
fn renamed(ticks: &[Tick], names: Option<&[String]>) -> Vec<Tick> {
    let Some(names) = names else {
        return ticks.to_vec();
    };
    let named = |tick: &Tick| {
        let name = names.get((tick.value as usize).checked_sub(1)?)?;
        Some(Tick {
            value: tick.value,
            label: clean(name),
        })
    };
    ticks.iter().filter_map(named).collect()
}

/// Names along x, each in its slot; where slots are too narrow, every second, third, ... name.
pub(super) fn named(size: Size, plot: Rect, names: &[String], font: Font) -> Vec<Label> {
    let slot = plot.width() / names.len().max(1) as f64;
    let names: Vec<String> = names.iter().map(|name| clean(name)).collect();
    let widest = names
        .iter()
        .map(|name| font.width(name))
        .fold(0.0, f64::max);
    let need = widest.min(4.5 * font.size) + 6.0;
    let every = (need / slot).ceil().max(1.0) as usize;
    let label = |(index, name): (usize, &String)| {
        let at = plot.left + (index as f64 + 0.5) * slot;
        let edge = 2.0 * (f64::from(size.width()) - 3.0 - at).min(at - 3.0);
        let room = (every as f64 * slot - 6.0).min(edge);
        Label {
            lines: font.wrap(name, room, 2),
            at,
            grid: false,
        }
    };
    names.iter().enumerate().step_by(every).map(label).collect()
}

/// Label and unit; where they are too long the label is shortened and the unit stays.
pub(super) fn fit_name(axis: &Axis, font: Font, width: f64) -> String {
    let axis = Axis::new(clean(&axis.label), clean(&axis.unit));
    let name = axis.name();
    if font.width(&name) <= width || axis.unit.is_empty() {
        return font.shorten(&name, width);
    }
    let unit = format!(" ({})", axis.unit);
    match font.shorten(&axis.label, width - font.width(&unit)) {
        label if label.is_empty() => font.shorten(&name, width),
        label => label + &unit,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_have_their_names_and_nothing_else_has_one() {
        let names: Vec<String> = (1..=28).map(|day| format!("2031-02-{day:02}")).collect();
        let axis = Axis::new("Exam at", "");
        let range = Range {
            low: 0.0,
            high: 29.0,
        };
        let x = NumberAxis {
            axis: &axis,
            range,
            whole: true,
        };
        let font = Font::normal(12.0);
        let mut plot = Rect {
            left: 40.0,
            top: 20.0,
            right: 560.0,
            bottom: 300.0,
        };
        let size = Size::new(600, 320).unwrap();
        let labels = along(size, &mut plot, &x, Some(&names), font);
        assert!(labels.len() >= 3, "{}", labels.len());
        for label in &labels {
            let place = (label.at - plot.left) / plot.width() * 29.0;
            let name = &names[place.round() as usize - 1];
            assert_eq!(label.lines, std::slice::from_ref(name));
        }
        let half = font.width(&names[0]) / 2.0;
        assert!(
            labels
                .windows(2)
                .all(|two| two[1].at - two[0].at > 2.0 * half)
        );
    }

    #[test]
    fn a_long_axis_name_keeps_its_unit() {
        let font = Font::normal(12.0);
        let axis = Axis::new(
            "Stroke volume, outflow tract, mean of three consecutive beats",
            "mL",
        );
        let name = fit_name(&axis, font, 200.0);
        assert!(
            name.ends_with("… (mL)") && font.width(&name) <= 200.0,
            "{name}"
        );
        assert_eq!(fit_name(&axis, font, 900.0), axis.name());
    }
}
