//! The `error` clause: how far a change is moved by measurement alone.

use crate::formula::notation::{Analysis, Diagnostic, ErrorOf, Name, is_name};
use crate::notebook::render::Rendering;
use crate::quantity::{Content, Reading, Unit};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::response::{ChangeError, ChangeScale};

use super::definition::Definition;
use super::level;
use super::page::{Answer, counted, level_words, refused};
use super::rows::{Column, LeftOut, Rows};
use super::settings::bare_number;

/// The error of a change, and where it comes from.
pub(super) struct Noise {
    pub(super) error: ChangeError,
    /// The changes seen without any effect; none where the error was stated.
    pub(super) repeats: Vec<f64>,
    /// Where it is from, in words.
    from: String,
    /// The rows without an effect in which the change is not known.
    left_out: Vec<LeftOut>,
    /// What is taken of it, in words.
    least: String,
    /// Said where most of the error is a shift that the repeats have in common.
    shift_caution: Option<String>,
}

/// What the clause speaks of: a change in per cent, or a difference in the unit of a column.
pub(super) struct Changing<'c> {
    pub(super) scale: ChangeScale,
    pub(super) column: &'c Column,
    pub(super) name: &'c Name,
}

/// Where a question has no such clause, what that leaves out, and how to ask for it.
pub(super) fn not_asked(what: &str) -> String {
    format!(
        "{what} is not asked; add `error of 11 %`, a least significant change, or `error from` rows in which nothing was given."
    )
}

impl Noise {
    /// What the clause says of the changes in a column; nothing without the clause.
    pub(super) fn of(
        rows: &Rows<'_>,
        analysis: &Analysis,
        change: &Name,
        column: &Column,
    ) -> Result<Option<Noise>, Vec<Diagnostic>> {
        if analysis.error.is_none() {
            return Ok(None);
        }
        let changing = Changing {
            scale: scale_of(rows, change, column)?,
            column,
            name: change,
        };
        let changes = |rows: &mut Rows<'_>| {
            rows.keep_known(column);
            rows.keep_measured(column);
            rows.values_of(column)
        };
        Noise::from_changes(rows, analysis, &changing, changes)
    }

    /// The same where the changes are made by the caller.
    pub(super) fn from_changes(
        rows: &Rows<'_>,
        analysis: &Analysis,
        changing: &Changing<'_>,
        changes: impl Fn(&mut Rows<'_>) -> Vec<f64>,
    ) -> Result<Option<Noise>, Vec<Diagnostic>> {
        let rendering = rows.rendering;
        match &analysis.error {
            None => Ok(None),
            Some(ErrorOf::LeastSignificantChange(reading)) => {
                changing.stated(rows, reading).map(Some)
            }
            Some(ErrorOf::Rows(conditions)) => {
                let mut repeats = rows.all();
                repeats.keep(conditions)?;
                let asked = repeats.left_out.len();
                let changes = changes(&mut repeats);
                let level = level(rendering);
                let error = match changing.scale {
                    ChangeScale::PerCent => ChangeError::of_per_cent_changes(&changes, level),
                    ChangeScale::Difference => ChangeError::of_differences(&changes, level),
                };
                let error = error.map_err(refused(rendering))?;
                let interval = error.interval.as_ref().map_or(String::new(), |interval| {
                    let least = |s: f64| {
                        figure(error.least_significant_change() * s / error.standard_deviation)
                    };
                    let upper = changing.with_unit(&least(interval.upper));
                    format!(
                        " ({} interval {} to {upper})",
                        level_words(level),
                        least(interval.lower)
                    )
                });
                let shift = changing.shift(&error, level);
                let least = changing.with_unit(&figure(error.least_significant_change()));
                Ok(Some(Noise {
                    from: format!(
                        "{}{}",
                        counted(changes.len(), "row", "rows"),
                        rows.all_in_words(" where ", conditions)
                    ),
                    left_out: repeats.left_out.split_off(asked),
                    least: format!(": least significant change {least}{interval}{shift}"),
                    shift_caution: changing.mostly_shift(&error),
                    error,
                    repeats: changes,
                }))
            }
        }
    }

    /// Where it is from, with the rows left out of that.
    pub(super) fn source(&self) -> String {
        let left = LeftOut::all_in_words(&self.left_out).join(", ");
        self.worded(&format!("left out: {left}"))
    }

    /// The same between other words.
    pub(super) fn definition(&self, before: &str, after: &str) -> Definition {
        let left: usize = self.left_out.iter().map(|left| left.count).sum();
        let above = self.worded(&format!("{left} left out, listed below"));
        Definition::with_reasons(
            format!("{before}{}{after}", self.source()),
            format!("{before}{above}{after}"),
            self.left_out.clone(),
        )
    }

    fn worded(&self, left_out: &str) -> String {
        match self.left_out.is_empty() {
            true => format!("{}{}", self.from, self.least),
            false => format!("{} ({left_out}){}", self.from, self.least),
        }
    }

    /// What to know of it.
    pub(super) fn caution(&self, answer: &mut Answer) {
        answer.warn(&self.error.warnings);
        answer.cautions.extend(self.shift_caution.clone());
    }

    /// What is taken of the error, for whoever reads what it would make.
    pub(super) fn assumption(&self, column: &Column) -> String {
        match self.error.scale {
            ChangeScale::PerCent => "ln(after / before) normal about zero".to_owned(),
            ChangeScale::Difference => format!(
                "the difference normal about zero with a standard deviation of {}, at all sizes of the reading",
                column.with_unit(&figure(self.error.standard_deviation))
            ),
        }
    }
}

impl Changing<'_> {
    fn with_unit(&self, figure: &str) -> String {
        match self.scale {
            ChangeScale::PerCent => format!("{figure} %"),
            ChangeScale::Difference => self.column.with_unit(figure),
        }
    }

    /// The mean shift of the repeats, told beside the error that it is part of.
    fn shift(&self, error: &ChangeError, level: f64) -> String {
        let Some(shift) = &error.shift else {
            return String::new();
        };
        let at = |point: f64| figure(error.point_as_change(point));
        let upper = self.with_unit(&at(shift.interval.upper));
        format!(
            " about zero; the repeats lie {} from their firsts on average ({} interval {} to {upper})",
            self.with_unit(&at(shift.mean)),
            level_words(level),
            at(shift.interval.lower)
        )
    }

    fn mostly_shift(&self, error: &ChangeError) -> Option<String> {
        let shift = error.mostly_shift()?;
        let direction = match shift.mean > 0.0 {
            true => "higher",
            false => "lower",
        };
        let size = figure(error.point_as_change(shift.mean).abs());
        let least =
            figure(error.least_significant_change() * shift.scatter / error.standard_deviation);
        Some(format!(
            "Most of this error is a shift that the repeats have in common, and no chance: on average they lie {} {direction} than their firsts. About \
             their own mean the least significant change is {}. The shift counts as error here, since who measures again may meet it again: \
             look for its cause.",
            self.with_unit(&size),
            self.with_unit(&least)
        ))
    }

    /// `error of 11 %` of a per cent change, `error of 8 mL` of a difference in a unit of volume.
    fn stated(&self, rows: &Rows<'_>, reading: &Reading) -> Result<Noise, Vec<Diagnostic>> {
        let rendering = rows.rendering;
        let (least, error) = match self.scale {
            ChangeScale::PerCent => {
                let least = per_cent(rendering, reading)?;
                (least, ChangeError::of_least_significant_change(least))
            }
            ChangeScale::Difference => {
                let least = self.in_own_unit(rows, reading)?;
                (least, ChangeError::of_least_significant_difference(least))
            }
        };
        Ok(Noise {
            error: error.map_err(refused(rendering))?,
            repeats: Vec::new(),
            shift_caution: None,
            from: format!(
                "a stated least significant change of {}",
                self.with_unit(&figure_as_given(least))
            ),
            left_out: Vec::new(),
            least: String::new(),
        })
    }

    /// A share says nothing of a difference, although both may be bare numbers.
    fn in_own_unit(&self, rows: &Rows<'_>, reading: &Reading) -> Result<f64, Vec<Diagnostic>> {
        let is_share = |unit: Unit| unit.pretty() == "%";
        match *reading.content() {
            Content::Magnitude { unit, .. } if is_share(unit) && !is_share(self.column.unit) => {
                let message = format!(
                    "`{}` is no per cent change: its least significant change is in its own unit",
                    self.name.text
                );
                let hint = match self.column.unit.pretty() {
                    "" => "such as `error of 3`".to_owned(),
                    unit => format!("such as `error of 8 {unit}`"),
                };
                Err(vec![Diagnostic::error(message, self.name.place).hint(hint)])
            }
            _ => rows.in_unit(self.column, self.name, reading),
        }
    }
}

/// Whether a column is a change in per cent, or the difference between two exams in its unit.
fn scale_of(rows: &Rows<'_>, name: &Name, column: &Column) -> Result<ChangeScale, Vec<Diagnostic>> {
    let sheet = rows.rendering.sheet;
    let cell = sheet.cell(&name.text);
    if cell.is_some_and(|cell| is_one_less_another(rows, sheet.formula_text(cell))) {
        return Ok(ChangeScale::Difference);
    }
    match (column.unit.pretty(), cell) {
        ("%", _) => Ok(ChangeScale::PerCent),
        // Of a column of the table nothing is known but its unit.
        (_, None) => Ok(ChangeScale::Difference),
        (_, Some(_)) => {
            let message = format!(
                "`{}` is neither a per cent change nor the difference between two exams: without an effect it is not zero",
                name.text
            );
            let hint = "such as `change.stroke_volume` or `difference.stroke_volume`, after `compare before, after`";
            Err(vec![Diagnostic::error(message, name.place).hint(hint)])
        }
    }
}

/// Whether a formula is `A - B` of two cells.
fn is_one_less_another(rows: &Rows<'_>, formula: Option<String>) -> bool {
    let is_cell = |side: &str| is_name(side) && rows.rendering.sheet.cell(side).is_some();
    formula.is_some_and(|text| {
        text.split_once(" - ")
            .is_some_and(|(one, other)| is_cell(one) && is_cell(other))
    })
}

fn per_cent(rendering: &Rendering<'_>, reading: &Reading) -> Result<f64, Vec<Diagnostic>> {
    bare_number(reading)
        .map(|share| 100.0 * share)
        .ok_or_else(|| {
            rendering.error("a least significant change is in per cent, such as `error of 11 %`")
        })
}
