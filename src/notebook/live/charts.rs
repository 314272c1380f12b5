//! Charts that move: drawn with axes that reach every place the readings can be moved to.

use serde_json::{Value, json};

use super::adjust::Adjustable;
use super::serial::{LEAST, OPEN, RULE, normal_factor, serial_of};
use crate::charts::{Effect, Placed, Scale, Share};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Display};
use crate::notebook::charts_of::{self, Figure, STEPS};
use crate::notebook::effects_of::{self, Measure, STILL};
use crate::notebook::output::Output;
use crate::notebook::render::Rendering;
use crate::notebook::trust::budget_of;
use crate::sheet::{Outline, Sheet, exam_cell, in_sentence};
use crate::uncertainty::CHANGE_LEVEL;
use crate::uncertainty::decide::{EXCEEDS, WITHIN};

/// Most readings of which every combination of ends is looked at.
const MOST_COMBINED: usize = 5;

/// A chart with what the script needs to draw it again.
pub(super) struct Moving {
    pub output: Output,
    pub data: Value,
}

impl Moving {
    fn figure(rendering: &Rendering<'_>, figure: Figure, data: Value) -> Moving {
        Moving {
            output: charts_of::output(rendering, figure),
            data,
        }
    }
}

/// Sheets with the readings at the ends of their ranges.
pub(super) fn corners(sheet: &Sheet, adjustables: &[Adjustable]) -> Vec<Sheet> {
    let count = adjustables.len();
    let masks: Vec<u32> = match count <= MOST_COMBINED {
        true => (0..1u32 << count).collect(),
        // One at a time, for each end, where combinations are too many.
        false => (0..count.min(31))
            .flat_map(|k| [1 << k, !(1u32 << k)])
            .collect(),
    };
    let at_end = |mask: u32| {
        let mut moved = sheet.clone();
        for (k, one) in adjustables.iter().enumerate() {
            let end = match mask >> k.min(31) & 1 {
                1 => one.to(),
                _ => one.from,
            };
            let reading = sheet.reading(one.cell)?.moved_to(end, one.unit)?;
            moved.set(one.cell, reading).ok()?;
        }
        Some(moved)
    };
    masks.into_iter().filter_map(at_end).collect()
}

fn scale(scale: Scale) -> Value {
    json!({ "l": scale.low, "h": scale.high, "p": scale.low_px, "q": scale.high_px })
}

/// The words before what the script adds to a description.
fn opening(description: &str) -> String {
    let opening = description.split(": ").next().unwrap_or_default();
    format!("{opening}:")
}

/// The cells whose outline a moving chart needs.
pub(super) fn needs(rendering: &Rendering<'_>, display: &Display) -> Vec<CellId> {
    let cell = |name: &crate::formula::notation::Name| rendering.sheet.cell(&name.text);
    match display {
        Display::Curve { y, x, .. } => y.iter().chain([x]).filter_map(cell).collect(),
        Display::Effects { y, off, .. } => {
            let readings = off.iter().map(|(name, _)| name);
            readings.chain([y]).filter_map(cell).collect()
        }
        Display::Budget(name) => cell(name).into_iter().collect(),
        Display::Serial { y, exams, .. } => exams
            .iter()
            .filter_map(|exam| rendering.sheet.cell(&exam_cell(&exam.text, &y.text)))
            .collect(),
        _ => Vec::new(),
    }
}

/// A budget whose lines and bars move.
pub(super) fn budget(
    rendering: &Rendering<'_>,
    display: &Display,
    corners: &[Sheet],
    outline: &Outline,
) -> Result<Option<Moving>, Vec<Diagnostic>> {
    let Display::Budget(name) = display else {
        return Ok(None);
    };
    let drawn = budget_of(rendering, name)?;
    let mut also: Vec<Share> = Vec::new();
    for corner in corners {
        if let Ok(there) = budget_of(&rendering.on(corner), name) {
            also.extend(there.chart.shares);
        }
    }
    let placed = drawn
        .chart
        .svg_reaching(charts_of::size(rendering)?, &also)
        .map_err(|e| rendering.error(e.to_string()))?;
    let (Some(scales), Some(place)) = (placed.scales, outline.place(drawn.cell)) else {
        return Ok(None);
    };
    let data = json!({
        "id": rendering.id, "c": place, "n": scales.y.high.round(), "ax": scale(scales.x),
        "top": scales.y.high_px, "bottom": scales.y.low_px,
        "d": opening(&drawn.chart.description()),
    });
    let output = drawn.output(rendering, placed.svg);
    Ok(Some(Moving { output, data }))
}

/// A serial chart whose points move.
pub(super) fn serial(
    rendering: &Rendering<'_>,
    display: &Display,
    corners: &[Sheet],
    outline: &Outline,
) -> Result<Option<Moving>, Vec<Diagnostic>> {
    let Display::Serial { y, exams, title } = display else {
        return Ok(None);
    };
    let title = title.as_deref();
    let drawn = serial_of(rendering, y, exams, title)?;
    let mut also = Vec::new();
    for corner in corners {
        if let Ok(there) = serial_of(&rendering.on(corner), y, exams, title) {
            for point in there.chart.series.iter().flat_map(|series| &series.points) {
                also.push(point.y);
                also.extend(point.error.iter().flat_map(|error| [error.low, error.high]));
            }
        }
    }
    let placed = drawn
        .chart
        .svg_reaching(charts_of::size(rendering)?, &also)
        .map_err(|e| rendering.error(e.to_string()))?;
    let Placed {
        svg,
        scales: Some(scales),
    } = placed
    else {
        return Ok(None);
    };
    let mut each = Vec::new();
    for (cell, exam) in drawn.cells.iter().zip(exams) {
        let Some(place) = outline.place(*cell) else {
            return Ok(None);
        };
        each.push(json!({ "c": place, "n": exam.text.replace('_', " ") }));
    }
    let description = drawn.chart.description();
    let data = json!({
        "id": rendering.id, "e": each, "level": CHANGE_LEVEL, "normal": normal_factor(),
        "called": LEAST, "more": EXCEEDS, "within": WITHIN, "open": OPEN, "rule": RULE,
        "ax": scale(scales.x), "ay": scale(scales.y),
        "d": opening(&description),
    });
    let figure = Figure {
        svg,
        description,
        caption: drawn.caption,
    };
    Ok(Some(Moving::figure(rendering, figure, data)))
}

/// Curves whose mark and course move.
pub(super) fn curves(
    rendering: &Rendering<'_>,
    display: &Display,
    corners: &[Sheet],
    outline: &Outline,
) -> Result<Option<Moving>, Vec<Diagnostic>> {
    let Display::Curve {
        y,
        x,
        from,
        to,
        title,
    } = display
    else {
        return Ok(None);
    };
    let title = title.as_deref();
    let drawn = charts_of::curves_of(rendering, (y, x), (from, to), title)?;
    let mut also = Vec::new();
    for corner in corners {
        let there = rendering.on(corner);
        if let Ok(there) = charts_of::curves_of(&there, (y, x), (from, to), title) {
            let points = there.chart.curves.iter().flat_map(|c| &c.line.points);
            also.extend(points.map(|point| point.y));
        }
    }
    let placed = drawn
        .chart
        .svg_reaching(charts_of::size(rendering)?, &also)
        .map_err(|e| rendering.error(e.to_string()))?;
    let Placed {
        svg,
        scales: Some(scales),
    } = placed
    else {
        return Ok(None);
    };
    let places: Option<Vec<usize>> = drawn.ys.iter().map(|y| outline.place(*y)).collect();
    let (Some(ys), Some(x)) = (places, outline.place(drawn.x)) else {
        return Ok(None);
    };
    let description = drawn.chart.description();
    let data = json!({
        "id": rendering.id, "x": x, "y": ys, "lo": drawn.low, "hi": drawn.high, "n": STEPS,
        "ax": scale(scales.x), "ay": scale(scales.y), "d": opening(&description),
    });
    let figure = Figure {
        svg,
        description,
        caption: drawn.caption,
    };
    Ok(Some(Moving::figure(rendering, figure, data)))
}

/// Bars of effects that move.
pub(super) fn effects(
    rendering: &Rendering<'_>,
    display: &Display,
    corners: &[Sheet],
    outline: &Outline,
) -> Result<Option<Moving>, Vec<Diagnostic>> {
    let Display::Effects { y, off, title } = display else {
        return Ok(None);
    };
    let title = title.as_deref();
    let drawn = effects_of::effects_of(rendering, y, off, title)?;
    let mut also: Vec<Effect> = Vec::new();
    for corner in corners {
        if let Ok(there) = effects_of::effects_of(&rendering.on(corner), y, off, title) {
            also.extend(there.bars(drawn.measure));
        }
    }
    let placed = drawn
        .chart
        .svg_reaching(charts_of::size(rendering)?, &also)
        .map_err(|e| rendering.error(e.to_string()))?;
    let Some(scales) = placed.scales else {
        return Ok(None);
    };
    let mut rows = Vec::new();
    for row in &drawn.rows {
        let Some(x) = outline.place(row.cell) else {
            return Ok(None);
        };
        let mut one = json!({ "x": x, "l": row.label, "by": row.by, "on": row.is_rested_on });
        let (key, amount) = row.share.map_or(("a", row.amount), |share| ("s", share));
        one[key] = json!(amount);
        rows.push(one);
    }
    let Some(y) = outline.place(drawn.y) else {
        return Ok(None);
    };
    let difference = match drawn.measure {
        Measure::Share => None,
        Measure::Difference(unit) => Some(unit),
    };
    let data = json!({
        "id": rendering.id, "y": y, "rows": rows, "ax": scale(scales.x), "m": difference,
        // Rows beyond the room of the picture are in the words and in the table alone.
        "n": scales.y.high.round().max(0.0), "still": STILL, "label": in_sentence(&rendering.sheet.label(drawn.y)),
        "top": scales.y.high_px, "bottom": scales.y.low_px, "d": opening(&drawn.chart.description()),
    });
    let output = drawn.output(rendering, placed.svg);
    Ok(Some(Moving { output, data }))
}
