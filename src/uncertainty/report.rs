//! Values with their uncertainty, for people and for JSON.

use serde_json::{Map, Value, json};

use super::bends::{Bend, bends};
use super::bounded::Bounded;
use super::error::UncertaintyError;
use super::linear::{Propagated, propagate};
use super::rounded::{interval_figures, value_and_uncertainty};
use super::settings::Settings;
use super::words::{NONE_STATED, names_of, published_words, silent_words, unstated_note};
use crate::formula::CellId;
use crate::sheet::{EditError, Explanation, FORMAT, Sheet, join_unit, level_words};

/// How far to trust a cell, in words: value and standard uncertainty rounded together, which
/// readings stated none, and where the linear answer does not hold; that none is stated where none
/// is; `None` where there is nothing that could be uncertain.
pub fn trust_words(sheet: &Sheet, cell: CellId) -> Option<String> {
    Trust::of(sheet, cell)?.words(sheet, cell, false)
}

/// The same with the coverage interval, and its degrees of freedom where they are limited.
pub fn trust_in_full(sheet: &Sheet, cell: CellId) -> Option<String> {
    Trust::of(sheet, cell)?.words(sheet, cell, true)
}

/// What there is to say of how far to trust a cell.
struct Trust {
    found: Result<Propagated, UncertaintyError>,
    bends: Vec<Bend>,
}

impl Trust {
    /// `None` for a cell without a number.
    fn of(sheet: &Sheet, cell: CellId) -> Option<Trust> {
        // A cell without a number has no uncertainty, and says why by its state.
        if sheet.value(cell).is_none() || !sheet.words(cell).is_empty() {
            return None;
        }
        let settings = Settings::of(sheet);
        Some(Trust {
            found: propagate(sheet, cell, &settings),
            // What is wrong with the settings, propagation says.
            bends: bends(sheet, cell, &settings).unwrap_or_default(),
        })
    }

    /// All in one line.
    fn words(&self, sheet: &Sheet, cell: CellId, with_interval: bool) -> Option<String> {
        match (&self.found, self.limits(sheet, cell)) {
            (Err(error), _) => Some(format!("no uncertainty: {error}")),
            (Ok(found), limits) if !found.says_something() => {
                let silent = (!found.unstated.is_empty()).then(|| NONE_STATED.to_owned());
                let said: Vec<String> = silent.into_iter().chain(limits).collect();
                (!said.is_empty()).then(|| said.join("; "))
            }
            (Ok(found), limits) => {
                let words = words(sheet, cell, found, with_interval);
                let also = limits.map_or_else(String::new, |limits| format!("; {limits}"));
                Some(words + &also)
            }
        }
    }

    /// Where linear figures do not hold; `None` where they do.
    fn limits(&self, sheet: &Sheet, cell: CellId) -> Option<String> {
        limits(sheet, cell, &self.bends, self.found.as_ref().ok())
    }
}

fn limits(
    sheet: &Sheet,
    cell: CellId,
    bends: &[Bend],
    found: Option<&Propagated>,
) -> Option<String> {
    let of_bends = bend_words(sheet, cell, bends);
    of_bends.or_else(|| unseen_words(sheet, cell, &found?.unseen))
}

/// Why linear figures of a cell do not hold, and what to do: bends and branches within reach, or
/// readings whose slope is zero where they stand; `None` where there are none.
pub fn limit_words(sheet: &Sheet, cell: CellId) -> Option<String> {
    Trust::of(sheet, cell)?.limits(sheet, cell)
}

/// The same of linear figures that were found with the sheet's settings.
#[cfg(feature = "notebook")]
pub(crate) fn limits_of(sheet: &Sheet, cell: CellId, found: &Propagated) -> Option<String> {
    let bends = bends(sheet, cell, &Settings::of(sheet)).unwrap_or_default();
    limits(sheet, cell, &bends, Some(found))
}

/// Which readings linear figures leave out since their slope is zero, and what to do.
fn unseen_words(sheet: &Sheet, cell: CellId, unseen: &[CellId]) -> Option<String> {
    let names: Vec<String> = unseen.iter().map(|c| sheet.name(*c)).collect();
    let (slopes, their) = match names.len() {
        0 => return None,
        1 => (
            "the slope in",
            "is zero where it stands, so that linear figures leave its",
        ),
        _ => (
            "the slopes in",
            "are zero where they stand, so that linear figures leave their",
        ),
    };
    Some(format!(
        "{slopes} {} {their} uncertainty out: `simulate {}` gives those that hold it",
        names.join(", "),
        sheet.name(cell),
    ))
}

/// Which bends and branches lie within reach of the uncertainties of the readings, and what to do;
/// `None` where there are none.
pub fn bend_words(sheet: &Sheet, cell: CellId, found: &[Bend]) -> Option<String> {
    if found.is_empty() {
        return None;
    }
    let name = sheet.name(cell);
    let places = found.iter().map(|b| bend_place(sheet, b, Some(cell)));
    let places: Vec<String> = places.collect();
    let places = places.join(" and ");
    Some(format!(
        "{places} {NOT_LINEAR}: `simulate {name}` gives those that do"
    ))
}

/// What follows from places that bend or may turn.
pub(crate) const NOT_LINEAR: &str =
    "within reach of the readings' uncertainties, so that linear figures do not hold";

/// One place with what it does, and with the cell that it stands in unless that is the `own` one.
pub(crate) fn bend_place(sheet: &Sheet, bend: &Bend, own: Option<CellId>) -> String {
    let does = if bend.is_branch { "may turn" } else { "bends" };
    match own == Some(bend.cell) {
        true => format!("`{}` {does}", bend.text),
        false => format!("`{}` in {} {does}", bend.text, sheet.name(bend.cell)),
    }
}

/// What a coverage factor is of, where one reading with bounds is all that is uncertain.
pub(crate) fn bounded_words(bounded: Bounded) -> String {
    format!("of a {} distribution, within its bounds", bounded.word())
}

/// Limited degrees of freedom: in tenths where those make a difference.
fn freedom_words(freedom: f64) -> String {
    let decimals = usize::from(freedom < FEW_DEGREES);
    format!("{freedom:.decimals$} effective degrees of freedom")
}

/// From here on the coverage factor of 95 % falls by less than 0.001 from one to the next.
const FEW_DEGREES: f64 = 50.0;

/// Why degrees of freedom are not said.
pub(crate) const FREEDOM_UNDEFINED: &str = "effective degrees of freedom are not defined for \
    correlated readings; the coverage factor is that of a normal distribution";

fn words(sheet: &Sheet, cell: CellId, found: &Propagated, with_interval: bool) -> String {
    let [value, u] = value_and_uncertainty(found.value, found.standard);
    let unit = sheet.unit(cell).unwrap_or(crate::quantity::Unit::ONE);
    let mut words = format!(
        "{} with standard uncertainty {}",
        join_unit(&value, unit),
        join_unit(&u, unit)
    );
    if with_interval && found.standard > 0.0 {
        let [low, high] = interval_figures(found);
        words.push_str(&format!(
            ", {} coverage {low} to {}",
            level_words(found.coverage.level),
            join_unit(&high, unit),
        ));
        if found.freedom.is_finite() {
            words.push_str(&format!(" with {}", freedom_words(found.freedom)));
        } else if found.freedom_undefined {
            words.push_str(&format!(" ({FREEDOM_UNDEFINED})"));
        }
    }
    if found.is_lower_bound() {
        let names = names_of(sheet, &found.unstated);
        words.push_str(&format!(", a lower bound: none is stated for {names}"));
    }
    if let Some(published) = published_words(sheet, &found.budget) {
        words.push_str(&format!(", {published}"));
    }
    words
}

/// The explanation of a cell for a terminal, with how far to trust it and its coverage interval.
///
/// # Errors
/// [`EditError::ForeignHandle`].
pub fn explained_text(sheet: &Sheet, cell: CellId) -> Result<String, EditError> {
    let explained = sheet.explain(cell)?;
    Ok(explanation_text(&explained, &trust_lines(sheet, cell)))
}

/// How far to trust a cell, its coverage interval, and where neither holds, a line each; none where
/// there is nothing that could be uncertain.
pub fn trust_lines(sheet: &Sheet, cell: CellId) -> Vec<String> {
    let Some(trust) = Trust::of(sheet, cell) else {
        return Vec::new();
    };
    let limits = trust.limits(sheet, cell);
    let (words, coverage) = match &trust.found {
        Err(_) => (trust.words(sheet, cell, false), None),
        Ok(found) if !found.says_something() => (silent_words(sheet, cell, found), None),
        Ok(found) => (
            Some(words(sheet, cell, found, false)),
            interval_words(sheet, cell, found),
        ),
    };
    words.into_iter().chain(coverage).chain(limits).collect()
}

/// An explanation for a terminal, with the lines of [`trust_lines`].
pub fn explanation_text(explained: &Explanation, trust: &[String]) -> String {
    let mut text = explained.to_string();
    if !trust.is_empty() {
        text.push_str("\nHow far to trust it\n");
        for line in trust {
            text.push_str(&format!("  {line}\n"));
        }
    }
    text
}

/// The coverage interval of a cell and its degrees of freedom, in words; `None` where there is no
/// linear uncertainty, or none was stated.
pub fn coverage_words(sheet: &Sheet, cell: CellId) -> Option<String> {
    let found = propagate(sheet, cell, &Settings::of(sheet)).ok()?;
    interval_words(sheet, cell, &found)
}

/// The same of what was found.
pub(crate) fn interval_words(sheet: &Sheet, cell: CellId, found: &Propagated) -> Option<String> {
    if !found.says_something() {
        return None;
    }
    let unit = sheet.unit(cell)?;
    let [low, high] = interval_figures(found);
    let freedom = match found.bounded {
        Some(bounded) => bounded_words(bounded),
        None if found.freedom.is_finite() => freedom_words(found.freedom),
        None if found.freedom_undefined => FREEDOM_UNDEFINED.to_owned(),
        None => "degrees of freedom not limited".to_owned(),
    };
    Some(format!(
        "{} coverage interval {low} to {} (factor {:.2}, {freedom})",
        level_words(found.coverage.level),
        join_unit(&high, unit),
        found.coverage.factor,
    ))
}

impl Sheet {
    /// All named cells in JSON: `{"format": 1, "cells": {…}}`, with propagated uncertainties.
    pub fn to_json(&self) -> Value {
        let mut cells = Map::new();
        for cell in self.cells() {
            let report = serde_json::to_value(self.report(cell)).unwrap_or(Value::Null);
            let report = match report {
                Value::Object(fields) => Value::Object(self.with_trust(fields, cell)),
                other => other,
            };
            cells.insert(self.name(cell), report);
        }
        let mut document = Map::new();
        document.insert("format".into(), FORMAT.into());
        document.insert("cells".into(), Value::Object(cells));
        Value::Object(document)
    }

    /// A table for a terminal: readings, results, how far to trust them, what is missing and why.
    pub fn to_text(&self) -> String {
        let note = unstated_note(self, &self.cells_worth_showing());
        let notes: Vec<String> = note.into_iter().map(|n| format!("note: {n}")).collect();
        self.text_with(&|cell| trust_in_full(self, cell), &notes)
    }

    fn with_trust(&self, mut fields: Map<String, Value>, cell: CellId) -> Map<String, Value> {
        let trust = Trust::of(self, cell);
        let (found, because) = match trust.as_ref().map(|trust| &trust.found) {
            Some(Ok(found)) => (Some(found), Value::Null),
            Some(Err(error)) => (None, Value::String(error.to_string())),
            None => (None, Value::Null),
        };
        let stated = found.filter(|f| f.says_something());
        let unstated = found.iter().flat_map(|f| &f.unstated);
        let names: Vec<String> = unstated.map(|c| self.name(*c)).collect();
        let coverage = stated.map(|f| {
            json!({
                "level": f.coverage.level,
                "factor": f.coverage.factor,
                "low": f.coverage.low,
                "high": f.coverage.high,
            })
        });
        let published: Map<String, Value> = stated
            .iter()
            .flat_map(|f| &f.budget)
            .filter_map(|line| Some((self.name(line.cell), line.published?.into())))
            .collect();
        // JSON has no infinity: null says that the degrees of freedom are not limited, or with a
        // reason beside it that there are none.
        let freedom = stated.map(|f| f.freedom).filter(|f| f.is_finite());
        let undefined = stated.filter(|f| f.freedom_undefined);
        let bends = trust.iter().flat_map(|trust| &trust.bends);
        let bends: Vec<Value> = bends.map(|bend| self.bend_report(bend)).collect();
        let unseen = found.iter().flat_map(|f| &f.unseen);
        let unseen: Vec<String> = unseen.map(|c| self.name(*c)).collect();
        fields.insert(
            "standard_uncertainty".into(),
            json!(stated.map(|f| f.standard)),
        );
        fields.insert("lower_bound".into(), json!(!names.is_empty()));
        fields.insert("unstated".into(), json!(names));
        fields.insert("coverage".into(), json!(coverage));
        fields.insert("degrees_of_freedom".into(), json!(freedom));
        fields.insert("uncertainty_because".into(), because);
        fields.insert("published".into(), Value::Object(published));
        let why = undefined.map(|_| FREEDOM_UNDEFINED);
        fields.insert("degrees_of_freedom_because".into(), json!(why));
        fields.insert("bends_within_reach".into(), Value::Array(bends));
        fields.insert("without_slope".into(), json!(unseen));
        fields
    }

    fn bend_report(&self, bend: &Bend) -> Value {
        json!({
            "cell": self.name(bend.cell),
            "at": bend.text,
            "kind": if bend.is_branch { "branch" } else { "bend" },
            "standard_uncertainties_away": bend.standards,
            "mostly_by": bend.mostly_by.map(|cell| self.name(cell)),
        })
    }
}
