//! Bends and branches within reach of the uncertainties of a row, as one exam with the readings of
//! the row finds them.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::cohort::binding::Binding;
use crate::cohort::intake::Stretch;
use crate::formula::CellId;
use crate::quantity::Reading;
use crate::sheet::Sheet;
use crate::uncertainty::{Factors, Search, Settings, bend_place};

/// A bend or branch within reach, as remarks name it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(in crate::cohort) struct Bent {
    /// Where it is and what it does: "`a >= b` in c may turn".
    pub(in crate::cohort) place: Arc<str>,
    /// The reading that brings most of the uncertainty that it lies within reach of.
    pub(in crate::cohort) mostly_by: Option<CellId>,
}

/// A sheet that takes the readings of one row after the other.
pub(super) struct OneRow {
    sheet: Sheet,
    settings: Settings,
    factors: Factors,
    /// The cells that the results lean on.
    used: BTreeSet<CellId>,
}

impl OneRow {
    pub(super) fn of(sheet: &Sheet, wanted: &[CellId]) -> OneRow {
        let settings = Settings::of(sheet);
        OneRow {
            sheet: sheet.clone(),
            factors: Factors::of(&settings),
            settings,
            used: wanted.iter().flat_map(|c| sheet.leans_on(*c)).collect(),
        }
    }

    /// Takes the readings of a row and makes ready to look at it; nothing for one that cannot be read.
    pub(super) fn read(
        &mut self,
        (sheet, binding): (&Sheet, &Binding),
        stretch: &Stretch<'_>,
        lane: usize,
    ) -> Option<Search<'_>> {
        // Every column of values gives a reading, though it says nothing: none is left of the row
        // before.
        let (readings, _) = stretch.read_row(sheet, binding, lane).ok()?;
        let readings = readings.readings().iter();
        let used = readings.filter(|(cell, _)| self.used.contains(cell));
        let used: Vec<(CellId, Reading)> = used.cloned().collect();
        self.sheet.set_all(used).ok()?;
        Some(Search::of(&self.sheet, &self.settings, &self.factors))
    }
}

/// What is found for a cell that is known in a row.
pub(super) fn bent(sheet: &Sheet, search: &mut Search<'_>, cell: CellId) -> Vec<Bent> {
    let found = search.bends(cell);
    let bent = found.iter().map(|bend| Bent {
        place: bend_place(sheet, bend, None).into(),
        mostly_by: bend.mostly_by,
    });
    bent.collect()
}
