//! Statements that draw.

use maud::{PreEscaped, html};

use super::coupled::{self, Drawn};
use super::output::Output;
use super::render::{Rendered, Rendering};
use crate::charts::{
    Axis, BandPoint, ChartError, Curve, Curves, Fit, Mark, Reference, Scatter, Series, Size,
};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Display, Name, number};
use crate::quantity::{Beats, Content, Origin, Reading, ReadingError, Unit};
use crate::sheet::{Sheet, figure, figure_with_unit, in_sentence, join_unit};
use crate::statistics::response::fit_line;

/// Width and height of a chart in a notebook, in px.
pub(super) const SIZE: (u32, u32) = (720, 440);

/// Points along a curve.
pub(super) const STEPS: usize = 121;

/// Points along a fitted line.
const LINE_STEPS: usize = 41;

/// Level of the interval around a fitted line.
const LEVEL: f64 = 0.95;

/// Draws a statement.
pub(super) fn draw(rendering: &Rendering<'_>, display: &Display) -> Rendered {
    match display {
        Display::Scatter {
            y,
            x,
            over,
            marking,
            title,
        } => scatter(rendering, (y, x, over), marking, title.as_deref()),
        Display::Curve {
            y,
            x,
            from,
            to,
            title,
        } => curve(rendering, (y, x), (from, to), title.as_deref()),
        Display::Effects { y, off, title } => {
            super::effects_of::draw(rendering, y, off, title.as_deref())
        }
        Display::Serial { y, exams, title } => {
            super::live::serial::draw(rendering, y, exams, title.as_deref())
        }
        Display::Show { .. }
        | Display::Explain(_)
        | Display::Cohort { .. }
        | Display::Adjust(_)
        | Display::Budget(_)
        | Display::Coupling(..)
        | Display::Probability { .. }
        | Display::Simulate(_)
        | Display::Describe(_)
        | Display::Analysis(_) => Err(rendering.error("this statement draws nothing")),
    }
}

/// An SVG drawing with its caption.
pub(super) struct Figure {
    pub(super) svg: String,
    pub(super) description: String,
    pub(super) caption: String,
}

pub(super) fn output(rendering: &Rendering<'_>, figure: Figure) -> Output {
    let html = html! {
        figure.chart tabindex="0" {
            (PreEscaped(&figure.svg))
            figcaption { (figure.caption) }
        }
    };
    let text = format!("{}\n{}", figure.description, figure.caption);
    Output::new(&rendering.id, text, html.into_string()).with_svg(figure.svg)
}

/// The output of a drawing, or why it cannot be drawn.
pub(super) fn finish(
    rendering: &Rendering<'_>,
    svg: Result<String, ChartError>,
    description: String,
    caption: String,
) -> Rendered {
    let svg = svg.map_err(|e| rendering.error(e.to_string()))?;
    let figure = Figure {
        svg,
        description,
        caption,
    };
    Ok(output(rendering, figure))
}

pub(super) fn axis(sheet: &Sheet, cell: CellId) -> Axis {
    let unit = sheet.unit(cell).map_or("", |u| u.pretty());
    Axis::new(sheet.label(cell), unit)
}

pub(super) fn size(rendering: &Rendering<'_>) -> Result<Size, Vec<Diagnostic>> {
    Size::new(SIZE.0, SIZE.1).map_err(|e| rendering.error(e.to_string()))
}

fn scatter(
    rendering: &Rendering<'_>,
    (y_name, x_name, over): (&Name, &Name, &Name),
    marking: &[Reading],
    title: Option<&str>,
) -> Rendered {
    let sheet = rendering.sheet;
    let cohort = rendering.cohort(over)?;
    let (x, y) = (
        rendering.number_cell(x_name)?,
        rendering.number_cell(y_name)?,
    );
    for name in [x_name, y_name] {
        if cohort.column(&name.text).is_none() {
            let message = format!("no row of `{}` could make `{}` known", over.text, name.text);
            let error = Diagnostic::error(message, name.place);
            return Err(vec![
                error.hint("its inputs are not among the columns of the table"),
            ]);
        }
    }
    let pairs = cohort.pairs(&x_name.text, &y_name.text);
    let groups = [Origin::Measured, Origin::Estimated, Origin::Assumed]
        .into_iter()
        .filter_map(|origin| {
            let of_origin = pairs
                .iter()
                .filter(|(_, x, y)| x.origin.max(y.origin) == origin);
            let points: Vec<(f64, f64)> = of_origin.map(|(_, x, y)| (x.value, y.value)).collect();
            (!points.is_empty()).then(|| Series::new(origin.word(), points))
        })
        .collect();
    let xs: Vec<f64> = pairs.iter().map(|(_, x, _)| x.value).collect();
    let ys: Vec<f64> = pairs.iter().map(|(_, _, y)| y.value).collect();
    let (fit, said) = fitted(sheet, (x, y), &xs, &ys);
    let mut references = Vec::new();
    for mark in marking {
        let (at, text) = in_unit_of(rendering, (y_name, y), mark)?;
        references.push(Reference::horizontal(at, text));
    }
    let default_title = format!(
        "{} against {}",
        sheet.label(y),
        in_sentence(&sheet.label(x))
    );
    let chart = Scatter {
        title: title.map_or(default_title, str::to_owned),
        key: rendering.id.clone(),
        x: axis(sheet, x),
        y: axis(sheet, y),
        groups,
        fit,
        references,
    };
    let svg = chart.svg(size(rendering)?);
    let left_out = cohort.counts.used - pairs.len();
    let caption = format!(
        "{} rows drawn; {left_out} rows used lack one of the two, {} of {} rows read were set aside. {said}",
        pairs.len(),
        cohort.counts.set_aside,
        cohort.counts.read,
    );
    let mut caption = caption.trim_end().to_owned();
    let rows = coupled::from_left_to_right(pairs.iter().map(|(row, x, _)| (*row, x.value)));
    if let Some(told) = coupled::words(rendering, cohort, Drawn::against(y, x), &rows) {
        let words = told.text;
        caption.push_str(&format!(" {words}"));
    }
    finish(rendering, svg, chart.description(), caption)
}

/// The line through the points with its band, and what it says in words.
fn fitted(
    sheet: &Sheet,
    (x, y): (CellId, CellId),
    xs: &[f64],
    ys: &[f64],
) -> (Option<Fit>, String) {
    let Ok(line) = fit_line(xs, ys, LEVEL) else {
        return (None, String::new());
    };
    let at = |i: usize| {
        let share = i as f64 / (LINE_STEPS - 1) as f64;
        line.smallest_x + share * (line.largest_x - line.smallest_x)
    };
    let predictions: Vec<_> = (0..LINE_STEPS)
        .filter_map(|i| line.at(at(i)).ok())
        .collect();
    let points: Vec<(f64, f64)> = predictions.iter().map(|p| (p.x, p.value)).collect();
    let band = predictions
        .iter()
        .map(|p| BandPoint {
            x: p.x,
            low: p.mean_interval.lower,
            high: p.mean_interval.upper,
        })
        .collect();
    let unit = |cell| sheet.unit(cell).map_or("", Unit::pretty);
    let slope = &line.slope;
    let said = format!(
        "The line is an association, not an effect: {} for each {} (95 % interval {} to {}); the band is that interval of the mean.",
        join_unit(&figure(slope.value), sheet.unit(y).unwrap_or(Unit::ONE)),
        match unit(x) {
            "" => "step of one".to_owned(),
            unit => unit.to_owned(),
        },
        figure(slope.interval.lower),
        figure(slope.interval.upper),
    );
    let fit = Fit {
        line: Series::new("line of least squares", points),
        band_name: "95 % interval of the mean".into(),
        band,
    };
    (Some(fit), said)
}

fn curve(
    rendering: &Rendering<'_>,
    names: (&[Name], &Name),
    range: (&Reading, &Reading),
    title: Option<&str>,
) -> Rendered {
    let drawn = curves_of(rendering, names, range, title)?;
    let svg = drawn.chart.svg(size(rendering)?);
    finish(rendering, svg, drawn.chart.description(), drawn.caption)
}

/// Curves before they are drawn.
pub(super) struct CurvesOf {
    pub chart: Curves,
    pub caption: String,
    pub x: CellId,
    pub ys: Vec<CellId>,
    pub low: f64,
    pub high: f64,
}

/// What a statement of curves is to draw.
pub(super) fn curves_of(
    rendering: &Rendering<'_>,
    (y_names, x_name): (&[Name], &Name),
    (from, to): (&Reading, &Reading),
    title: Option<&str>,
) -> Result<CurvesOf, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let x = rendering.number_cell(x_name)?;
    let ys = rendering.cells(y_names)?;
    for name in y_names {
        rendering.number_cell(name)?;
    }
    let (low, _) = in_unit_of(rendering, (x_name, x), from)?;
    let (high, _) = in_unit_of(rendering, (x_name, x), to)?;
    if low >= high {
        return Err(rendering.error("the range is empty: its end is not beyond its start"));
    }
    let first = ys
        .first()
        .copied()
        .ok_or_else(|| rendering.error("nothing to draw"))?;
    let unit = sheet.unit(first);
    if let Some(other) = ys.iter().position(|y| sheet.unit(*y) != unit) {
        let message = format!(
            "`{}` and `{}` have different units: draw them apart",
            y_names[0].text, y_names[other].text
        );
        return Err(rendering.error(message));
    }
    let lines = sweep(rendering, x, &ys, low, high)?;
    if lines.iter().all(Vec::is_empty) {
        let message = format!("nothing is known along this range of `{}`", x_name.text);
        return Err(rendering.error(message));
    }
    let gaps: usize = lines.iter().map(|line| STEPS - line.len()).sum();
    let curves = ys
        .iter()
        .zip(lines)
        .map(|(y, points)| Curve {
            line: Series::new(sheet.label(*y), points),
            band: Vec::new(),
            marks: present_mark(sheet, x, *y, low, high),
        })
        .collect();
    let y_axis = match ys.len() {
        1 => axis(sheet, first),
        _ => Axis::new("Value", unit.map_or("", Unit::pretty)),
    };
    let default_title = format!(
        "{} against {}",
        sheet.label(first),
        in_sentence(&sheet.label(x))
    );
    let chart = Curves {
        title: title.map_or(default_title, str::to_owned),
        key: rendering.id.clone(),
        x: axis(sheet, x),
        y: y_axis,
        curves,
        references: Vec::new(),
    };
    let mut caption = format!(
        "Every other reading stays as it is; only {} is varied.",
        in_sentence(&sheet.label(x))
    );
    if gaps > 0 {
        let of = STEPS * ys.len();
        caption.push_str(&format!(
            " At {gaps} of {of} points the value is not known; the line passes over them."
        ));
    }
    Ok(CurvesOf {
        chart,
        caption,
        x,
        ys,
        low,
        high,
    })
}

/// The cells along a range of one reading, computed by a copy of the sheet.
fn sweep(
    rendering: &Rendering<'_>,
    x: CellId,
    ys: &[CellId],
    low: f64,
    high: f64,
) -> Result<Vec<Vec<(f64, f64)>>, Vec<Diagnostic>> {
    let mut sheet = rendering.sheet.clone();
    let unit = sheet.unit(x).unwrap_or(Unit::ONE);
    let mut lines = vec![Vec::with_capacity(STEPS); ys.len()];
    for step in 0..STEPS {
        let at = low + (high - low) * step as f64 / (STEPS - 1) as f64;
        let reading =
            varied(rendering.sheet, x, at, unit).map_err(|e| rendering.error(e.to_string()))?;
        sheet
            .set(x, reading)
            .map_err(|e| rendering.error(e.to_string()))?;
        for (line, y) in lines.iter_mut().zip(ys) {
            if let Some(value) = sheet.value(*y) {
                line.push((at, value));
            }
        }
    }
    Ok(lines)
}

/// The reading of a cell with another number: beats and origin stay, since formulas ask for them.
pub(super) fn varied(
    sheet: &Sheet,
    cell: CellId,
    at: f64,
    unit: Unit,
) -> Result<Reading, ReadingError> {
    let Some(present) = reading_behind(sheet, cell) else {
        return Reading::of(at, unit);
    };
    let beats = present.beats();
    let reading = match beats {
        Beats::Largest(values) => Reading::of_beats(Beats::Largest(vec![at; values.len()]), unit)?,
        Beats::Mean(_) | Beats::Averaged(_) => {
            Reading::of(at, unit)?.with_beat_count(beats.count())?
        }
        Beats::Unstated => Reading::of(at, unit)?,
    };
    Ok(reading.with_origin(present.origin()))
}

/// The reading of a cell, or of the one that its exam shares with the others.
fn reading_behind(sheet: &Sheet, cell: CellId) -> Option<&Reading> {
    if let Some(reading) = sheet.reading(cell) {
        return Some(reading);
    }
    let (_, own) = sheet.about(cell)?.name.rsplit_once('.')?;
    match sheet.inputs(cell)[..] {
        [shared] if sheet.about(shared)?.name == own => sheet.reading(shared),
        _ => None,
    }
}

fn present_mark(sheet: &Sheet, x: CellId, y: CellId, low: f64, high: f64) -> Vec<Mark> {
    match (sheet.value(x), sheet.value(y), sheet.unit(y)) {
        (Some(at), Some(value), Some(unit)) if (low..=high).contains(&at) => vec![Mark {
            x: at,
            y: value,
            label: format!("now {}", figure_with_unit(value, unit)),
        }],
        _ => Vec::new(),
    }
}

/// A number in the unit of a cell, and its words.
pub(super) fn in_unit_of(
    rendering: &Rendering<'_>,
    (name, cell): (&Name, CellId),
    reading: &Reading,
) -> Result<(f64, String), Vec<Diagnostic>> {
    let unit = rendering.sheet.unit(cell).unwrap_or(Unit::ONE);
    let Content::Magnitude { value, unit: given } = *reading.content() else {
        return Err(rendering.error("a number with its unit belongs here"));
    };
    match given.convert(value, unit) {
        Some(at) => Ok((at, as_written(value, given))),
        None => Err(rendering.not_in_unit(name, unit, (value, given))),
    }
}

/// A number of the notation as it was written: `1 mm`, not `1.0 mm`.
pub(super) fn as_written(value: f64, unit: Unit) -> String {
    join_unit(&number(value).replace('-', "−"), unit)
}
