//! `draw … when … is off by …`: what finite errors of readings do to a cell, as bars and as a table.

use std::collections::BTreeMap;

use maud::{PreEscaped, html};

use super::charts_of::{Figure, as_written, output as figure_output, size, varied};
use super::output::Output;
use super::render::{Rendered, Rendering};
use super::rests_on::rests_on;
use super::tables::figures_table;
use crate::charts::{Axis, Effect, EffectBars};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::quantity::{Content, Deviation, Reading, Unit};
use crate::sheet::{figure, figure_with_unit, in_sentence};
use crate::uncertainty::cancelled;

/// What is said where an error cancels.
pub(super) const STILL: &str =
    " What both sides of a comparison share cancels in it; their absolute values still move.";

/// What the unit of differences between per cents is called.
pub(super) const POINTS: &str = "percentage points";

/// How the change of a cell is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Measure {
    /// In per cent of the cell as it stands.
    Share,
    /// As a difference in a unit of this name: of a cell in per cent, whose share of itself would
    /// be taken for points, and of a cell that is zero, of which there is no share.
    Difference(&'static str),
}

impl Measure {
    fn of(now: f64, unit: Unit) -> Measure {
        match (unit.pretty(), now == 0.0) {
            ("%", _) => Measure::Difference(POINTS),
            (unit, true) => Measure::Difference(unit),
            (_, false) => Measure::Share,
        }
    }

    fn axis_unit(self) -> &'static str {
        match self {
            Measure::Share => "%",
            Measure::Difference(unit) => unit,
        }
    }
}

/// Draws the statement.
pub(super) fn draw(
    rendering: &Rendering<'_>,
    y_name: &Name,
    off: &[(Name, Reading)],
    title: Option<&str>,
) -> Rendered {
    let drawn = effects_of(rendering, y_name, off, title)?;
    let svg = drawn.chart.svg(size(rendering)?);
    let svg = svg.map_err(|e| rendering.error(e.to_string()))?;
    Ok(drawn.output(rendering, svg))
}

/// Effects before they are drawn.
pub(super) struct EffectsOf {
    pub chart: EffectBars,
    pub caption: String,
    pub y: CellId,
    pub measure: Measure,
    pub rows: Vec<EffectRow>,
    now: f64,
    unit: Unit,
}

impl EffectsOf {
    /// The bars in a measure; none where the cell has no share.
    pub(super) fn bars(&self, measure: Measure) -> Vec<Effect> {
        if measure == Measure::Share && self.now == 0.0 {
            return Vec::new();
        }
        let change = |with: f64| match measure {
            Measure::Share => (with / self.now - 1.0) * 100.0,
            Measure::Difference(_) => with - self.now,
        };
        let bar = |row: &EffectRow| Effect::new(row.name(), change(row.minus), change(row.plus));
        self.rows.iter().map(bar).collect()
    }

    /// Drawing, words and table.
    pub(super) fn output(self, rendering: &Rendering<'_>, svg: String) -> Output {
        let (headings, fields) = self.table();
        let figure = Figure {
            description: self.chart.description(),
            caption: self.caption,
            svg,
        };
        let drawn = figure_output(rendering, figure);
        let table = figures_table("Effects of errors", &headings, &fields);
        let html = html! { (PreEscaped(&drawn.html)) (table) };
        let lines: Vec<String> = fields.iter().map(|row| row.join("; ")).collect();
        let text = format!("{}\n{}", drawn.text, lines.join("\n"));
        Output {
            html: html.into_string(),
            text,
            ..drawn
        }
    }

    /// The headings and, reading by reading, the fields below them.
    fn table(&self) -> (Vec<&'static str>, Vec<Vec<String>>) {
        let mut headings = vec![
            "Reading",
            "Off by",
            "Result, reading too low",
            "Result as it stands",
            "Result, reading too high",
            "Change",
        ];
        if self.measure == Measure::Share {
            headings.push("Change in per cent");
        }
        let bars = self.bars(self.measure);
        let rows = self.rows.iter().zip(&bars);
        let rows = rows.map(|(row, bar)| {
            let value = |value: f64| figure_with_unit(value, self.unit);
            let ways = |low: f64, high: f64, unit: &str| {
                let ways = format!("{}, {} {unit}", signed(low), signed(high));
                ways.trim_end().to_owned()
            };
            let own = match self.measure {
                Measure::Share => self.unit.pretty(),
                Measure::Difference(unit) => unit,
            };
            let mut fields = vec![
                row.label.clone(),
                row.by.clone(),
                value(row.minus),
                value(self.now),
                value(row.plus),
                ways(row.minus - self.now, row.plus - self.now, own),
            ];
            if self.measure == Measure::Share {
                fields.push(ways(bar.minus, bar.plus, "%"));
            }
            fields
        });
        (headings, rows.collect())
    }
}

fn signed(change: f64) -> String {
    let sign = if change > 0.0 { "+" } else { "" };
    format!("{sign}{}", figure(change))
}

/// What a statement of effects is to draw.
pub(super) fn effects_of(
    rendering: &Rendering<'_>,
    y_name: &Name,
    off: &[(Name, Reading)],
    title: Option<&str>,
) -> Result<EffectsOf, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let y = rendering.number_cell(y_name)?;
    let (Some(now), Some(unit)) = (sheet.value(y), sheet.unit(y)) else {
        let because = sheet.because(y).join("; ");
        let message = format!("`{}` is not known: {because}", y_name.text);
        return Err(vec![Diagnostic::error(message, y_name.place)]);
    };
    let of = Asked {
        y,
        now,
        rests_on: rests_on(sheet, y, |_| false),
        cancelled: cancelled(sheet, y),
    };
    let mut rows = Vec::new();
    for (name, by) in off {
        rows.push(effect(rendering, &of, name, by)?);
    }
    rows.sort_by(|a, b| b.widest(now).total_cmp(&a.widest(now)));
    let measure = Measure::of(now, unit);
    let label = in_sentence(&sheet.label(y));
    let mut drawn = EffectsOf {
        chart: EffectBars {
            title: title.map_or_else(
                || format!("What an error does to the {label}"),
                str::to_owned,
            ),
            key: rendering.id.clone(),
            axis: Axis::new(format!("Error of the {label}"), measure.axis_unit()),
            minus_name: "reading too low".into(),
            plus_name: "reading too high".into(),
            effects: Vec::new(),
        },
        caption: String::new(),
        y,
        measure,
        rows,
        now,
        unit,
    };
    drawn.chart.effects = drawn.bars(measure);
    drawn.caption = caption(&drawn, &label);
    Ok(drawn)
}

fn caption(drawn: &EffectsOf, label: &str) -> String {
    let said: Vec<String> = drawn
        .rows
        .iter()
        .map(|row| {
            let opening = format!("{} off by {}:", row.label, row.by);
            if !row.is_rested_on {
                return format!("{opening} the {label} does not depend on it");
            }
            if row.is_still(drawn.now) {
                return format!("{opening} does not move");
            }
            let [low, high] = [row.minus, row.plus].map(|v| figure_with_unit(v, drawn.unit));
            match low == high {
                true => format!("{opening} {low} either way"),
                false => format!("{opening} {low} to {high}"),
            }
        })
        .collect();
    let cancels = |row: &EffectRow| row.cancels && row.is_still(drawn.now);
    let still = if drawn.rows.iter().any(cancels) {
        STILL
    } else {
        ""
    };
    format!(
        "Exact, one reading at a time, from {}. {}.{still}",
        figure_with_unit(drawn.now, drawn.unit),
        said.join(". ")
    )
}

/// The cell that is asked.
struct Asked {
    y: CellId,
    now: f64,
    /// What its formulas come back to, itself among them.
    rests_on: Vec<CellId>,
    /// Readings whose ways to it cancel, and the sum of their slopes' sizes.
    cancelled: BTreeMap<CellId, f64>,
}

/// One reading, and the cell with it too low and too high.
pub(super) struct EffectRow {
    pub cell: CellId,
    pub label: String,
    pub by: String,
    /// How far it is off, in its unit.
    pub amount: f64,
    /// The amount is this share of the reading.
    pub share: Option<f64>,
    /// Whether the cell comes from the reading at all.
    pub is_rested_on: bool,
    cancels: bool,
    minus: f64,
    plus: f64,
}

impl EffectRow {
    fn name(&self) -> String {
        format!("{} ± {}", self.label, self.by)
    }

    /// From the lowest to the highest of the three values.
    fn widest(&self, now: f64) -> f64 {
        self.minus.max(self.plus).max(now) - self.minus.min(self.plus).min(now)
    }

    fn is_still(&self, now: f64) -> bool {
        self.minus == now && self.plus == now
    }
}

/// The cell, which has a value, with one reading too low and too high by the stated amount.
fn effect(
    rendering: &Rendering<'_>,
    of: &Asked,
    name: &Name,
    by: &Reading,
) -> Result<EffectRow, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let x = rendering.number_cell(name)?;
    let at_name = |message: String| vec![Diagnostic::error(message, name.place)];
    let Some(at) = sheet.value(x) else {
        return Err(at_name(format!("`{}` is not known", name.text)));
    };
    let unit = sheet.unit(x).unwrap_or(Unit::ONE);
    let Content::Magnitude {
        value,
        unit: by_unit,
    } = *by.content()
    else {
        return Err(at_name("the amount is not a number".into()));
    };
    let Some(off_by) = Deviation::of(value, by_unit, unit) else {
        let found = rendering.not_in_unit(name, unit, (value, by_unit));
        let value = as_written(value, Unit::ONE);
        let both = match by_unit {
            Unit::ONE => Some(format!(
                "write `off by {value} {unit}`, or `off by {value} %` for a share of it"
            )),
            _ => None,
        };
        return Err(found.into_iter().map(|e| e.hint_if(both.clone())).collect());
    };
    let share = match off_by {
        Deviation::Share(share) => Some(share),
        Deviation::Amount(_) => None,
    };
    if value <= 0.0 {
        return Err(at_name("the amount must be above zero".into()));
    }
    if share.is_some() && at == 0.0 {
        let message = format!(
            "`{}` is zero, and {} of zero is no error",
            name.text,
            as_written(value, by_unit)
        );
        let hint = match unit {
            Unit::ONE => "give an amount, a bare number".into(),
            unit => format!("give an amount, such as `off by 1 {unit}`"),
        };
        return Err(vec![Diagnostic::error(message, name.place).hint(hint)]);
    }
    let amount = off_by.beside(at);
    let cancelled = of.cancelled.get(&x);
    // What is left of ways that cancel is as small as the sum of their sizes lets it be.
    let size = cancelled.map_or(0.0, |slope| slope * at.abs().max(amount));
    let with = |at: f64| -> Result<f64, Vec<Diagnostic>> {
        let mut sheet = sheet.clone();
        let reading = varied(rendering.sheet, x, at, unit).map_err(|e| at_name(e.to_string()))?;
        sheet.set(x, reading).map_err(|e| at_name(e.to_string()))?;
        let found = sheet.value(of.y).ok_or_else(|| {
            at_name(format!(
                "nothing is known with `{}` off by that much",
                name.text
            ))
        })?;
        // Rounding is no effect.
        let is_rounding = (found - of.now).abs() <= 1e-12 * of.now.abs().max(size);
        Ok(if is_rounding { of.now } else { found })
    };
    Ok(EffectRow {
        cell: x,
        label: sheet.label(x),
        by: as_written(value, by_unit),
        amount,
        share,
        is_rested_on: of.rests_on.contains(&x),
        cancels: cancelled.is_some(),
        minus: with(at - amount)?,
        plus: with(at + amount)?,
    })
}

#[cfg(test)]
mod tests {
    use crate::notebook::said::said;

    fn drawn(readings: &str, draw: &str) -> String {
        said(&format!("{readings}\n{draw}"))
    }

    const EXAMS: &str = "use hemodynamics as before\nuse hemodynamics as after\n\
                         compare before, after\nlvot_diameter = 2 cm\nbefore.lvot_vti = 20 cm\n";

    /// 100 cm/s over cos 20° = 0.93969 is 106.4 cm/s, whichever way the angle is off.
    #[test]
    fn a_cell_that_moves_one_way_alone_moves() {
        let said = drawn(
            "speed = 100 cm/s\nangle = 0 deg\ntrue_speed [cm/s] = speed / cos(angle)",
            "draw true_speed when angle is off by 20 deg",
        );
        assert!(said.contains("106 cm/s either way."), "{said}");
        assert!(said.contains("+6.42, +6.42 %"), "{said}");
        assert!(!said.contains("cancels"), "{said}");
    }

    #[test]
    fn what_a_cell_does_not_depend_on_is_not_said_to_cancel() {
        let said = drawn(
            "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm\nheart_rate = 70 /min",
            "draw stroke_volume when heart_rate is off by 10 %",
        );
        let words = "Heart rate off by 10 %: the stroke volume does not depend on it.";
        assert!(said.contains(words) && !said.contains("cancels"), "{said}");
        let said = drawn(
            &format!("{EXAMS}after.lvot_vti = 24 cm"),
            "draw change.stroke_volume when lvot_diameter is off by 1 mm",
        );
        assert!(said.contains("does not move. What both sides"), "{said}");
    }

    /// 24/20 is +20 %, and of 18 cm and 22 cm before it is +33.3 and +9.09 %, by hand.
    #[test]
    fn a_change_in_per_cent_moves_by_points() {
        let said = drawn(
            &format!("{EXAMS}after.lvot_vti = 24 cm"),
            "draw change.stroke_volume when before.lvot_vti is off by 2 cm",
        );
        assert!(said.contains("percentage points"), "{said}");
        let row = "; 2 cm; 33.3 %; 20.0 %; 9.09 %; +13.3, −10.9 percentage points";
        assert!(said.contains(row), "{said}");
    }

    /// 20/18 is 11.1 % more, 20/22 is 9.09 % less.
    #[test]
    fn a_cell_that_is_zero_moves_by_differences() {
        let exams = format!("{EXAMS}after.lvot_vti = 20 cm");
        let off = "when before.lvot_vti is off by 2 cm, lvot_diameter is off by 1 mm";
        let said = drawn(&exams, &format!("draw change.stroke_volume {off}"));
        assert!(said.contains("+11.1, −9.09 percentage points"), "{said}");
        assert!(said.contains("does not move"), "{said}");
        // 2 cm times π cm2.
        let said = drawn(&exams, &format!("draw difference.stroke_volume {off}"));
        assert!(
            said.contains("6.28 mL; 0 mL; −6.28 mL; +6.28, −6.28 mL"),
            "{said}"
        );
    }

    /// π/4 · 20 cm times 1.9², 2² and 2.1² cm², by hand; 10.25 % to three digits.
    #[test]
    fn effects_are_a_table_too() {
        let said = drawn(
            "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm",
            "draw stroke_volume when lvot_diameter is off by 1 mm",
        );
        let row = "; 1 mm; 56.7 mL; 62.8 mL; 69.3 mL; −6.13, +6.44 mL; −9.75, +10.3 %";
        assert!(said.contains(row), "{said}");
    }
}
