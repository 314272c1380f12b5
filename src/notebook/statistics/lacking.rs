//! Which readings a cell lacks in all rows of a table: those to bind a column to, or to state.

use std::collections::BTreeMap;

use super::one_reading::rests_on;
use super::rows::in_code;
use crate::cohort::Cohort;
use crate::formula::CellId;
use crate::notebook::render::words_of_finding;
use crate::sheet::{Lack, Sheet};

/// Rows that are looked at: what no row has, the first ones lack too.
const LOOKED_AT: usize = 200;

/// What keeps a cell from being known.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Lacking {
    /// The names of readings that neither the sheet nor the table gives.
    pub(super) readings: Vec<String>,
    /// Why a formula withholds it, or what it rests on.
    pub(super) withheld: Option<String>,
}

impl Lacking {
    /// The way out, for a hint.
    pub(super) fn hint(&self) -> String {
        let give = format!(
            "neither the sheet nor a column gives {}: state it where it is the same in all rows, or bind a column",
            in_code(&self.readings)
        );
        match (&self.withheld, self.readings.is_empty()) {
            (Some(reason), true) => format!("it is withheld: {reason}"),
            (Some(reason), false) => format!("it is withheld: {reason}; {give}"),
            (None, true) => "its inputs are not among the columns of the table".to_owned(),
            (None, false) => give,
        }
    }
}

/// What keeps a cell from being known in the rows used, where it is known in none; of several kinds the most frequent.
pub(super) fn never_given(sheet: &Sheet, cohort: &Cohort, cell: CellId) -> Lacking {
    let Ok(readings) = cohort.readings(sheet) else {
        return Lacking::default();
    };
    let bound = readings.cells();
    let rests_on = rests_on(sheet, cell, |_| false);
    let is_given = |input: CellId| {
        let is_column = |cell: &CellId| *cell == input || sheet.inputs(*cell).contains(&input);
        bound.iter().filter(|c| rests_on.contains(c)).any(is_column)
    };
    let mut of_row = sheet.clone();
    let mut found: BTreeMap<Lacking, usize> = BTreeMap::new();
    for row in 0..cohort.counts.used.min(LOOKED_AT) {
        let Ok(read) = readings.row(row) else {
            continue;
        };
        let own = read.readings().iter();
        let own = own.filter(|(input, _)| rests_on.contains(input));
        if of_row.set_all(own.cloned().collect::<Vec<_>>()).is_err() {
            continue;
        }
        let lacking = lacking(&of_row, cell, &is_given);
        *found.entry(lacking).or_default() += 1;
    }
    let most = found.into_iter().max_by_key(|(_, count)| *count);
    most.map(|(lacking, _)| lacking).unwrap_or_default()
}

fn lacking(sheet: &Sheet, cell: CellId, is_given: &impl Fn(CellId) -> bool) -> Lacking {
    let mut found = Lacking::default();
    let add = |input: CellId, names: &mut Vec<String>| {
        let name = sheet.name(input);
        if !is_given(input) && !names.contains(&name) {
            names.push(name);
        }
    };
    for lack in sheet.lacks(cell) {
        match lack {
            Lack::Reading(input) => add(input, &mut found.readings),
            Lack::Withheld(withheld, reason) => {
                found.withheld = Some(reason.to_string());
                // What a formula asks before it withholds is a finding.
                let asked = sheet.inputs(withheld).into_iter();
                let unsaid = |input: &CellId| {
                    !words_of_finding(sheet, *input).is_empty()
                        && sheet
                            .lacks(*input)
                            .iter()
                            .any(|l| matches!(l, Lack::Reading(_)))
                };
                for input in asked.filter(unsaid) {
                    add(input, &mut found.readings);
                }
            }
            Lack::Obtained(_) | Lack::Value(_) => {}
        }
    }
    found
}
