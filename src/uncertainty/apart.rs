//! Which cells have causes in common, by the formulas alone.
//!
//! Where the operands of a formula share no cause, the variance of its cell is the sum of theirs,
//! each times the square of the slope in it: nothing need be known of where theirs come from. Where
//! they do, slopes are carried back from the cell until they come to cells that share none with
//! each other. Which these are does not depend on readings, so that one sheet and many rows add up
//! the same numbers in the same order.

use std::collections::{BTreeMap, BTreeSet};

use super::settings::Settings;
use super::source::model_uncertainty;
use crate::formula::CellId;
use crate::sheet::{Leaning, Sheet};

/// Cells, and what their causes have in common.
pub(super) struct Apart {
    cells: Vec<Leaning>,
    places: BTreeMap<CellId, usize>,
    /// For each cell the causes that it can be itself, as bits: a cell each, and a pair of
    /// correlated ones each.
    own: Vec<u64>,
    /// The same with those that it can come from.
    causes: Vec<u64>,
    /// Words of bits for a cell.
    words: usize,
    /// Whether a cell comes from one cause at most, over formulas of one operand.
    is_single: Vec<bool>,
}

impl Apart {
    /// What the cells under some others have in common.
    pub(super) fn under(sheet: &Sheet, wanted: &[CellId], settings: &Settings) -> Apart {
        let cells = sheet.leanings(wanted);
        let places = cells.iter().map(|leaning| leaning.cell).zip(0..).collect();
        let pairs = settings.correlations.iter();
        let pairs: Vec<[CellId; 2]> = pairs
            .filter(|c| c.value != 0.0 && c.first != c.second)
            .map(|c| [c.first, c.second])
            .collect();
        let words = (cells.len() + pairs.len()).div_ceil(64);
        let mut apart = Apart {
            own: vec![0; cells.len() * words],
            causes: vec![0; cells.len() * words],
            is_single: Vec::with_capacity(cells.len()),
            places,
            cells,
            words,
        };
        for at in 0..apart.cells.len() {
            let cell = apart.cells[at].cell;
            apart.set(at, at);
            for (pair, of) in pairs.iter().enumerate() {
                if of.contains(&cell) {
                    apart.set(at, apart.cells.len() + pair);
                }
            }
            for word in 0..words {
                let of = |on: &usize| apart.causes[on * words + word];
                let below = apart.cells[at].on.iter().map(of);
                let below = below.fold(0, |all, causes| all | causes);
                apart.causes[at * words + word] = apart.own[at * words + word] | below;
            }
            let leaning = &apart.cells[at];
            let is_single = match leaning.on.as_slice() {
                _ if !leaning.has_formula => true,
                _ if leaning.uses_reading || model_uncertainty(sheet, cell).is_some() => false,
                [] => true,
                [on] => apart.is_single[*on],
                _ => false,
            };
            apart.is_single.push(is_single);
        }
        apart
    }

    fn set(&mut self, at: usize, bit: usize) {
        self.own[at * self.words + bit / 64] |= 1 << (bit % 64);
    }

    fn causes(&self, at: usize) -> &[u64] {
        &self.causes[at * self.words..][..self.words]
    }

    /// Whether a cell comes from one cause at most, over formulas of one operand.
    pub(super) fn is_single(&self, cell: CellId) -> bool {
        self.places.get(&cell).is_some_and(|at| self.is_single[*at])
    }

    /// The cells with formulas at which a sweep back from a cell may stop: each comes from causes
    /// that nothing else on the way comes from.
    pub(super) fn stops(&self, cell: CellId) -> BTreeSet<CellId> {
        let mut stops = BTreeSet::new();
        let Some(from) = self.places.get(&cell).copied() else {
            return stops;
        };
        let mut waiting: BTreeSet<usize> = self.cells[from].on.iter().copied().collect();
        let mut passed: Vec<u64> = vec![0; self.words];
        self.pass(from, &mut passed);
        while let Some(at) = waiting.pop_last() {
            let is_apart = |other: &[u64]| {
                let both = self.causes(at).iter().zip(other);
                both.fold(0, |all, (a, b)| all | (a & b)) == 0
            };
            if is_apart(&passed) && waiting.iter().all(|other| is_apart(self.causes(*other))) {
                if self.cells[at].has_formula {
                    stops.insert(self.cells[at].cell);
                }
            } else {
                self.pass(at, &mut passed);
                waiting.extend(&self.cells[at].on);
            }
        }
        stops
    }

    /// Adds what a cell itself can be the cause of.
    fn pass(&self, at: usize, passed: &mut [u64]) {
        let own = &self.own[at * self.words..][..self.words];
        for (passed, own) in passed.iter_mut().zip(own) {
            *passed |= own;
        }
    }
}
