//! The `error` clause: how far a change is moved by measurement alone.

use crate::formula::notation::{Analysis, Diagnostic, ErrorOf, Name};
use crate::notebook::render::Rendering;
use crate::quantity::{Content, Unit};
use crate::sheet::figure;
use crate::statistics::response::ChangeError;

use super::level;
use super::page::{counted, level_words, refused};
use super::rows::Rows;

/// The error of a change, and where it comes from.
pub(super) struct Noise {
    pub(super) error: ChangeError,
    /// The changes seen without any effect; none where the error was stated.
    pub(super) repeats: Vec<f64>,
    pub(super) source: String,
}

impl Noise {
    /// What the clause says of the per cent changes in `change`; nothing without the clause.
    pub(super) fn of(
        rows: &Rows<'_>,
        analysis: &Analysis,
        change: &Name,
    ) -> Result<Option<Noise>, Vec<Diagnostic>> {
        let changes = |rows: &mut Rows<'_>| {
            let column = rows.numbers(change)?;
            rows.keep_known(&column);
            rows.keep_measured(&column);
            Ok(rows.values_of(&column))
        };
        Noise::from_changes(rows, analysis, changes)
    }

    /// The same where the changes are made by the caller, in per cent.
    pub(super) fn from_changes(
        rows: &Rows<'_>,
        analysis: &Analysis,
        changes: impl Fn(&mut Rows<'_>) -> Result<Vec<f64>, Vec<Diagnostic>>,
    ) -> Result<Option<Noise>, Vec<Diagnostic>> {
        let rendering = rows.rendering;
        match &analysis.error {
            None => Ok(None),
            Some(ErrorOf::LeastSignificantChange(reading)) => {
                let per_cent = per_cent(rendering, reading)?;
                let error = ChangeError::of_least_significant_change(per_cent)
                    .map_err(refused(rendering))?;
                Ok(Some(Noise {
                    error,
                    repeats: Vec::new(),
                    source: format!(
                        "a stated least significant change of {} %",
                        figure(per_cent)
                    ),
                }))
            }
            Some(ErrorOf::Rows(conditions)) => {
                let mut repeats = rows.all();
                repeats.keep(conditions)?;
                let asked = repeats.left_out.len();
                let changes = changes(&mut repeats)?;
                let left = repeats.left_out[asked..].iter();
                let left: Vec<String> = left.map(|l| format!(", {} {}", l.why, l.count)).collect();
                let level = level(rendering);
                let error = ChangeError::of_per_cent_changes(&changes, level)
                    .map_err(refused(rendering))?;
                let interval = error.interval.as_ref().map_or(String::new(), |interval| {
                    let least = |s: f64| {
                        figure(error.least_significant_change() * s / error.standard_deviation)
                    };
                    format!(
                        " ({} interval {} to {} %)",
                        level_words(level),
                        least(interval.lower),
                        least(interval.upper)
                    )
                });
                let source = format!(
                    "{}{}{}: least significant change {} %{interval}",
                    counted(changes.len(), "row", "rows"),
                    rows.all_in_words(" where ", conditions),
                    match left.is_empty() {
                        true => String::new(),
                        false => format!(" (left out{})", left.concat().replacen(',', ":", 1)),
                    },
                    figure(error.least_significant_change()),
                );
                Ok(Some(Noise {
                    error,
                    repeats: changes,
                    source,
                }))
            }
        }
    }
}

fn per_cent(
    rendering: &Rendering<'_>,
    reading: &crate::quantity::Reading,
) -> Result<f64, Vec<Diagnostic>> {
    let share = match *reading.content() {
        Content::Magnitude { value, unit } => unit.convert(value, Unit::ONE),
        _ => None,
    };
    share.map(|share| 100.0 * share).ok_or_else(|| {
        rendering.error("a least significant change is in per cent, such as `error of 11 %`")
    })
}
