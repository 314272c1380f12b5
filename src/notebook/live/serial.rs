//! `draw … over exams`: the same cell of several exams, with changes that exceed measurement error
//! marked.

use crate::charts::{Axis, Trend, TrendPoint, TrendScale, TrendSeries};
use crate::cohort::counted;
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::notebook::charts_of;
use crate::notebook::render::{Rendered, Rendering};
use crate::quantity::Unit;
use crate::sheet::{Sheet, exam_cell, figure, join_unit};
use crate::uncertainty::decide::verdict;
use crate::uncertainty::{
    CHANGE_LEVEL, Change, Line, Settings, bend_words, bends, change as change_of, coverage_factor,
    propagate, published_sentence,
};

/// Coverage factor of 95 % for a normal distribution.
pub(super) fn normal_factor() -> f64 {
    coverage_factor(CHANGE_LEVEL, f64::INFINITY)
}

/// What is said of a change that cannot be held against anything.
pub(super) const OPEN: &str = "; whether that exceeds measurement error is open, as not everything \
                               it rests on states an uncertainty (a `repeatability` line takes in \
                               a published one)";

/// What a change is held against, in words.
pub(super) const LEAST: &str = "least significant change";

/// The rule that changes are held against.
pub(super) const RULE: &str = "Measurement error: 1.96 standard uncertainties of the difference, or \
                               the factor said; what shifts or scales both exams alike cancels.";

/// One exam with a value.
struct Exam<'n> {
    position: usize,
    name: &'n str,
    cell: CellId,
    value: f64,
    /// Standard uncertainty of what was stated; none where nothing was, or it has no slope.
    standard: Option<f64>,
    /// Everything it rests on states an uncertainty.
    is_complete: bool,
    budget: Vec<Line>,
}

impl<'n> Exam<'n> {
    /// An exam with a value.
    fn of(sheet: &Sheet, cell: CellId, position: usize, name: &'n Name) -> Option<Exam<'n>> {
        let value = sheet.value(cell)?;
        let found = propagate(sheet, cell, &Settings::of(sheet)).ok();
        Some(Exam {
            position,
            name: &name.text,
            cell,
            value,
            standard: found.as_ref().map(|f| f.standard).filter(|u| *u > 0.0),
            is_complete: found.as_ref().is_some_and(|f| !f.is_lower_bound()),
            budget: found.map_or_else(Vec::new, |f| f.budget),
        })
    }
}

/// A serial chart before it is drawn.
pub(super) struct Serial {
    pub chart: Trend,
    pub caption: String,
    /// The cells, exam by exam.
    pub cells: Vec<CellId>,
}

/// Draws the statement.
pub(in crate::notebook) fn draw(
    rendering: &Rendering<'_>,
    y: &Name,
    names: &[Name],
    title: Option<&str>,
) -> Rendered {
    let drawn = serial_of(rendering, y, names, title)?;
    let svg = drawn.chart.svg(charts_of::size(rendering)?);
    charts_of::finish(rendering, svg, drawn.chart.description(), drawn.caption)
}

/// What the statement is to draw.
pub(super) fn serial_of(
    rendering: &Rendering<'_>,
    y: &Name,
    names: &[Name],
    title: Option<&str>,
) -> Result<Serial, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let cells = cells(rendering, y, names)?;
    let Some(first_cell) = cells.first().copied() else {
        return Err(rendering.error("no exam is named"));
    };
    let unit = sheet.unit(first_cell).unwrap_or(Unit::ONE);
    if cells.iter().any(|cell| sheet.unit(*cell) != Some(unit)) {
        return Err(rendering.error("the exams show this cell in different units"));
    }
    let exams: Vec<Exam<'_>> = cells
        .iter()
        .zip(names)
        .enumerate()
        .filter_map(|(position, (cell, name))| Exam::of(sheet, *cell, position, name))
        .collect();
    let (points, said) = points(sheet, &exams, unit);
    let all_state = exams.iter().all(|e| e.is_complete);
    let label = plain_label(sheet, first_cell);
    let chart = Trend {
        title: title.map_or_else(|| format!("{label} over the exams"), str::to_owned),
        key: rendering.id.clone(),
        x: TrendScale::Exams {
            label: "Exam".into(),
            names: names.iter().map(|n| n.text.replace('_', " ")).collect(),
        },
        y: Axis::new(label.clone(), unit.pretty()),
        error_name: match all_state {
            true => "standard uncertainty, one each way".into(),
            false => "standard uncertainty of what was stated: a lower bound".into(),
        },
        series: vec![TrendSeries {
            name: label,
            points,
        }],
        references: Vec::new(),
    };
    let mut caption = said_of_changes(&exams, said);
    let published = published_sentence(sheet, exams.iter().flat_map(|exam| &exam.budget));
    caption.extend((!published.is_empty()).then(|| published.trim_start().to_owned()));
    caption.extend(exams.iter().filter_map(|exam| not_linear(sheet, exam)));
    caption.extend(not_drawn(sheet, &cells, names));
    Ok(Serial {
        chart,
        caption: caption.join(" "),
        cells,
    })
}

/// The points, and what is said of each change since the first.
fn points(sheet: &Sheet, exams: &[Exam<'_>], unit: Unit) -> (Vec<TrendPoint>, Vec<String>) {
    let mut points = Vec::new();
    let mut said = Vec::new();
    for exam in exams {
        let mut point = TrendPoint::new(exam.position as f64, exam.value);
        if let Some(u) = exam.standard {
            point = point.between(exam.value - u, exam.value + u);
        }
        if let Some(first) = exams.first().filter(|f| f.position != exam.position) {
            let (words, exceeds) = change(sheet, first, exam);
            said.push(words);
            if exceeds {
                point = point.marked(share(first.value, exam.value, unit));
            }
        }
        points.push(point);
    }
    (points, said)
}

/// A label without the exam's name behind it.
pub(super) fn plain_label(sheet: &Sheet, cell: CellId) -> String {
    let label = sheet.label(cell);
    let exam = sheet
        .name(cell)
        .split_once('.')
        .map(|(exam, _)| format!(" ({exam})"));
    let plain = exam.and_then(|exam| label.strip_suffix(&exam).map(str::to_owned));
    plain.unwrap_or(label)
}

fn cells(
    rendering: &Rendering<'_>,
    y: &Name,
    exams: &[Name],
) -> Result<Vec<CellId>, Vec<Diagnostic>> {
    let named: Vec<Name> = exams
        .iter()
        .map(|exam| Name {
            text: exam_cell(&exam.text, &y.text),
            place: exam.place,
        })
        .collect();
    rendering.cells(&named)
}

/// A change in per cent of the first; of a first that is zero, in its unit.
fn share(first: f64, now: f64, unit: Unit) -> String {
    let change = match first == 0.0 {
        true => now,
        false => (now / first - 1.0) * 100.0,
    };
    let sign = if change > 0.0 { "+" } else { "" };
    match first == 0.0 {
        true => format!("{sign}{}", join_unit(&figure(change), unit)),
        false => format!("{sign}{} %", figure(change)),
    }
}

/// What is said of the change since the first exam, and whether it exceeds measurement error.
fn change(sheet: &Sheet, first: &Exam<'_>, exam: &Exam<'_>) -> (String, bool) {
    let unit = sheet.unit(exam.cell).unwrap_or(Unit::ONE);
    let found = change_of(sheet, first.cell, exam.cell, &Settings::of(sheet)).ok();
    let found = found.filter(|c| c.least() > 0.0 && c.unstated.is_empty());
    let by = exam.value - first.value;
    let exceeds = found.as_ref().is_some_and(|c| by.abs() > c.least());
    let held = match found {
        Some(found) => {
            let against = share(first.value, first.value + found.least(), unit);
            let against = against.trim_start_matches(['+', '−']);
            let factor = factor_words(&found);
            format!(
                " ({LEAST} {against}{factor}), {}",
                verdict(by, found.least())
            )
        }
        None => OPEN.to_owned(),
    };
    let name = exam.name.replace('_', " ");
    let share = share(first.value, exam.value, unit);
    (format!("{name}: {share}{held}"), exceeds)
}

/// The factor behind a least significant change, where it is not the usual one.
fn factor_words(change: &Change) -> String {
    match change.freedom.is_finite() && figure(change.factor) != figure(normal_factor()) {
        true => format!(
            ", factor {} at {} of freedom",
            figure(change.factor),
            counted(change.freedom as usize, "degree", "degrees")
        ),
        false => String::new(),
    }
}

fn said_of_changes(exams: &[Exam<'_>], said: Vec<String>) -> Vec<String> {
    let Some(first) = exams.first().filter(|_| !said.is_empty()) else {
        return Vec::new();
    };
    let first = first.name.replace('_', " ");
    vec![
        format!("Change since {first}: {}.", said.join("; ")),
        RULE.to_owned(),
    ]
}

/// Where the linear figures of an exam do not hold.
fn not_linear(sheet: &Sheet, exam: &Exam<'_>) -> Option<String> {
    // What is wrong with the settings keeps intervals from being drawn too.
    let found = bends(sheet, exam.cell, &Settings::of(sheet)).unwrap_or_default();
    let words = bend_words(sheet, exam.cell, &found)?;
    Some(format!("In {}, {words}.", exam.name.replace('_', " ")))
}

fn not_drawn(sheet: &Sheet, cells: &[CellId], names: &[Name]) -> Vec<String> {
    let missing = cells.iter().zip(names);
    let missing = missing.filter(|(cell, _)| sheet.value(**cell).is_none());
    missing
        .map(|(cell, name)| {
            let because = sheet.because(*cell).join("; ");
            format!("Not drawn, {}: {because}.", name.text.replace('_', " "))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use crate::notebook::said::said;

    fn caption(readings: &str, y: &str) -> String {
        said(&format!(
            "use hemodynamics as first\nuse hemodynamics as second\n{readings}\ndraw {y} over exams first, second"
        ))
    }

    /// 11 % between exams by one operator (Jozwiak 2019 Crit Care 23:116) is 2√2 times the relative
    /// uncertainty of one, 3.889 %: of 20 and 22 cm, 1.96 · 3.889 % · √(20² + 22²) = 2.27 cm, 11.3 %
    /// of 20 cm; of 20 and 22.5 cm 11.5 %.
    #[test]
    fn a_published_repeatability_counts_where_it_is_asked_for_and_is_named() {
        let of = |second: &str, line: &str| {
            let readings = format!("first.lvot_vti = 20 cm\nsecond.lvot_vti = {second}\n{line}");
            caption(&readings, "stroke_distance")
        };
        let line = "repeatability jozwiak_2019_one_operator";
        let small = of("22 cm", line);
        let words = "second: +10.0 % (least significant change 11.3 %), within measurement error.";
        assert!(small.contains(words), "{small}");
        let words = "those of first.lvot_vti, second.lvot_vti are taken from Jozwiak 2019 Crit Care \
                     23:116 (exams by one operator, each the mean of its beats).";
        assert!(small.contains(words), "{small}");
        let large = of("22.5 cm", line);
        let words = "second: +12.5 % (least significant change 11.5 %), exceeds measurement error; \
                     cause not implied.";
        assert!(large.contains(words), "{large}");

        let silent = of("22.5 cm", "");
        assert!(silent.contains("is open"), "{silent}");
        assert!(!silent.contains("Jozwiak"), "{silent}");
    }

    /// u of the difference of two independent readings: √(1² + 1²) = 1.414 (JCGM 100:2008, 5.1.2);
    /// 1.96 of it is 2.77, 4.6 % of 60.
    #[test]
    fn stated_uncertainties_decide_elsewhere() {
        let readings =
            "first.heart_rate = 60 /min (u = 1 /min)\nsecond.heart_rate = 62 /min (u = 1 /min)";
        let said = caption(readings, "heart_rate");
        assert!(
            said.contains(
                "second: +3.33 % (least significant change 4.62 %), within measurement error."
            ),
            "{said}"
        );
        let silent = caption(
            "first.heart_rate = 60 /min\nsecond.heart_rate = 90 /min",
            "heart_rate",
        );
        assert!(silent.contains("is open"), "{silent}");
    }

    /// The resistance is withheld where the central venous pressure is not below the mean pressure:
    /// 5 mmHg apart with standard uncertainties of 2 and 3 are 1.4 of them, √(2² + 3²) = 3.6; 55 are 15.
    #[test]
    fn an_interval_that_rests_on_a_bend_says_so() {
        let readings = "lvot_diameter = 2 cm (u = 1 mm)\ncentral_venous_pressure = 15 mm[Hg] (u = 2 mm[Hg])\n\
                        first.lvot_vti = 20 cm (u = 1 cm)\nfirst.heart_rate = 80 /min (u = 2 /min)\n\
                        second.lvot_vti = 20 cm (u = 1 cm)\nsecond.heart_rate = 80 /min (u = 2 /min)\n\
                        first.mean_pressure = 70 mm[Hg] (u = 3 mm[Hg])\n\
                        second.mean_pressure = 20 mm[Hg] (u = 3 mm[Hg])";
        let said = caption(readings, "systemic_vascular_resistance");
        let words = "In second, `second.central_venous_pressure >= second.mean_pressure` may turn within \
                     reach of the readings' uncertainties, so that linear figures do not hold: \
                     `simulate second.systemic_vascular_resistance` gives those that do.";
        assert!(said.contains(words), "{said}");
        assert!(!said.contains("In first"), "{said}");
    }

    #[test]
    fn an_exam_without_a_value_says_why() {
        let said = caption("first.lvot_vti = 20 cm", "stroke_distance");
        assert!(
            said.contains("Not drawn, second: second.lvot_vti has no reading."),
            "{said}"
        );
    }

    /// A shared diameter makes no change of the stroke volume, so that both verdicts are one: u of
    /// the difference is 0.9 cm · √2, 6.36 % of 20 cm, and 1.96 of it 12.47 %.
    #[test]
    fn a_shared_diameter_does_not_decide_on_a_change() {
        let readings = |diameter: &str| {
            format!(
                "compare first, second\nlvot_diameter = {diameter}\n\
                 first.lvot_vti = 20 cm (u = 0.9 cm)\nsecond.lvot_vti = 22.5 cm (u = 0.9 cm)"
            )
        };
        for diameter in ["2.0 cm (u = 1 mm)", "2.0 cm"] {
            for y in ["stroke_distance", "stroke_volume"] {
                let said = caption(&readings(diameter), y);
                let words = "second: +12.5 % (least significant change 12.5 %), exceeds";
                assert!(said.contains(words), "{diameter}: {said}");
            }
        }
    }

    /// Means of three beats, u 0.3480 and 0.3480 cm of 15.27 cm: 2 + 2 degrees of freedom, so
    /// t95(4) = 2.776 (JCGM 100:2008, G.4.1 and table G.2); 2.776 · √2 · 0.3480 is 8.95 % of it.
    #[test]
    fn few_beats_make_the_least_change_larger() {
        let said = caption(
            "compare first, second\nlvot_diameter = 2.0 cm (u = 1 mm)\n\
             first.lvot_vti = beats(15.2, 14.7, 15.9) cm\nsecond.lvot_vti = beats(16.4, 17.1, 15.9) cm",
            "stroke_volume",
        );
        let words =
            "(least significant change 8.95 %, factor 2.78 at 4 degrees of freedom), within";
        assert!(said.contains(words), "{said}");
    }

    /// Two beats leave one degree: t95(1) = 12.71 (JCGM 100:2008, table G.2).
    #[test]
    fn one_degree_of_freedom_is_one_degree() {
        let said = caption(
            "first.lvot_vti = beats(15, 16) cm\nsecond.lvot_vti = 18 cm (u = 0.1 mm)",
            "stroke_distance",
        );
        assert!(
            said.contains(", factor 12.7 at 1 degree of freedom),"),
            "{said}"
        );
    }
}
