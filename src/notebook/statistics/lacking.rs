//! Which readings a cell lacks in all rows of a table: those to bind a column to, or to state.

use std::collections::BTreeMap;

use super::row_by_row::RowByRow;
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
    let Some(mut rows) = RowByRow::of(sheet, cohort, cell) else {
        return Lacking::default();
    };
    let mut found: BTreeMap<Lacking, usize> = BTreeMap::new();
    for row in 0..cohort.counts.used.min(LOOKED_AT) {
        if let Some(lacking) = lacking(&mut rows, row) {
            *found.entry(lacking).or_default() += 1;
        }
    }
    let most = found.into_iter().max_by_key(|(_, count)| *count);
    most.map(|(lacking, _)| lacking).unwrap_or_default()
}

/// What keeps the cell from being known in one row; nothing where that cannot be read.
fn lacking(rows: &mut RowByRow<'_>, row: usize) -> Option<Lacking> {
    let (lacks, sheet) = rows.lacks(row)?;
    let mut withheld = None;
    let mut inputs = Vec::new();
    for lack in lacks {
        match lack {
            Lack::Reading(input) => inputs.push(input),
            Lack::Withheld(cell, reason) => {
                withheld = Some(reason.to_string());
                // What a formula asks before it withholds is a finding.
                let asked = sheet.inputs(cell).into_iter();
                let unsaid = |input: &CellId| {
                    !words_of_finding(sheet, *input).is_empty()
                        && sheet
                            .lacks(*input)
                            .iter()
                            .any(|l| matches!(l, Lack::Reading(_)))
                };
                inputs.extend(asked.filter(unsaid));
            }
            Lack::Obtained(_) | Lack::Value(_) => {}
        }
    }
    inputs.retain(|input| rows.column_of(*input).is_none());
    let mut readings = Vec::new();
    for name in inputs.iter().map(|input| rows.sheet().name(*input)) {
        if !readings.contains(&name) {
            readings.push(name);
        }
    }
    Some(Lacking { readings, withheld })
}
