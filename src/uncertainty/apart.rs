//! Which cells have causes in common, by the formulas alone.
//!
//! Where the operands of a formula share no cause, the variance of its cell is the sum of theirs,
//! each times the square of the slope in it: nothing need be known of where theirs come from. Where
//! they do, slopes are carried back from the cell until they come to cells that share none with
//! each other. Which these are does not depend on readings, so that one sheet and many rows add up
//! the same numbers in the same order.
//!
//! A cell shares no cause with others if every way from the asked cell to anything behind it leads
//! through it. So it is enough to know for each cell the nearest one that every way to it leads
//! through, and what is held grows with the cells and what they lean on, not with pairs of cells.

use std::collections::{BTreeMap, BTreeSet};

use super::settings::Settings;
use super::source::model_uncertainty;
use crate::formula::CellId;
use crate::sheet::Sheet;

/// Cells, and what each can come from one step back.
pub(super) struct Apart {
    nodes: Vec<Node>,
    places: BTreeMap<CellId, usize>,
}

/// A cell; or what two correlated readings have in common, as one more cause behind both.
struct Node {
    /// The cell, where it has a formula.
    with_formula: Option<CellId>,
    /// Whether a cell comes from one cause at most, over formulas of one operand.
    is_single: bool,
    /// What it can come from one step back, each once, by places before its own.
    on: Vec<usize>,
}

impl Apart {
    /// What the cells under some others have in common.
    pub(super) fn under(sheet: &Sheet, wanted: &[CellId], settings: &Settings) -> Apart {
        let pairs = settings.correlations.iter();
        let pairs: Vec<[CellId; 2]> = pairs
            .filter(|c| c.value != 0.0 && c.first != c.second)
            .map(|c| [c.first, c.second])
            .collect();
        let in_common = pairs.iter().map(|_| Node {
            with_formula: None,
            is_single: false,
            on: Vec::new(),
        });
        let mut nodes: Vec<Node> = in_common.collect();
        let mut places = BTreeMap::new();
        for leaning in sheet.leanings(wanted) {
            let cell = leaning.cell;
            let mut on: Vec<usize> = leaning.on.iter().map(|on| pairs.len() + on).collect();
            let is_single = match on.as_slice() {
                _ if !leaning.has_formula => true,
                _ if leaning.uses_reading || model_uncertainty(sheet, cell).is_some() => false,
                [] => true,
                [on] => nodes[*on].is_single,
                _ => false,
            };
            on.extend((0..pairs.len()).filter(|pair| pairs[*pair].contains(&cell)));
            places.insert(cell, nodes.len());
            nodes.push(Node {
                with_formula: leaning.has_formula.then_some(cell),
                is_single,
                on,
            });
        }
        Apart { nodes, places }
    }

    /// Whether a cell comes from one cause at most, over formulas of one operand.
    pub(super) fn is_single(&self, cell: CellId) -> bool {
        let place = self.places.get(&cell);
        place.is_some_and(|at| self.nodes[*at].is_single)
    }

    /// The ways from a cell to all that it can come from.
    pub(super) fn ways(&self, from: CellId) -> Ways<'_> {
        let Through { nearest, .. } = Through::ways(self, from);
        let mut is_apart = Vec::with_capacity(nearest.len());
        // The farthest place that ways to something behind a node part at.
        let mut part_at = vec![0; nearest.len()];
        for at in 0..nearest.len() {
            let on = self.nodes[at].on.iter();
            let farthest = on.map(|on| nearest[*on].max(part_at[*on])).max();
            part_at[at] = farthest.unwrap_or(at);
            is_apart.push(part_at[at] <= at);
        }
        Ways {
            apart: self,
            is_apart,
        }
    }
}

/// The ways from a cell to all that it can come from.
pub(super) struct Ways<'a> {
    apart: &'a Apart,
    /// For each node on a way, by its place, whether all ways to what is behind it lead through it.
    is_apart: Vec<bool>,
}

impl Ways<'_> {
    /// The cells with formulas at which a sweep back may stop: each comes from causes that nothing
    /// else on the way comes from. The sweep is one from the cell where the ways begin, or from one
    /// at which such a sweep stops.
    pub(super) fn stops(&self, cell: CellId) -> BTreeSet<CellId> {
        let mut stops = BTreeSet::new();
        let Some(from) = self.apart.places.get(&cell) else {
            return stops;
        };
        let on = |at: usize| self.apart.nodes[at].on.iter().copied();
        let mut waiting: BTreeSet<usize> = on(*from).collect();
        while let Some(at) = waiting.pop_last() {
            match self.is_apart[at] {
                true => stops.extend(self.apart.nodes[at].with_formula),
                false => waiting.extend(on(at)),
            }
        }
        stops
    }
}

/// For each node on a way from a cell the nearest other that every way to it leads through: a tree
/// with the cell at its root.
struct Through {
    /// By places up to that of the cell; a node that no way leads to stands for itself, as the cell
    /// does.
    nearest: Vec<usize>,
    /// How many steps of the tree lead from a node to the cell.
    depths: Vec<usize>,
    /// A node some steps on, so chosen that a few such strides lead to any of them; nodes of one
    /// depth have one as long.
    strides: Vec<usize>,
}

impl Through {
    fn ways(apart: &Apart, from: CellId) -> Through {
        let count = apart.places.get(&from).map_or(0, |from| from + 1);
        let mut through = Through {
            nearest: (0..count).collect(),
            depths: vec![0; count],
            strides: (0..count).collect(),
        };
        // All that lean on a node come before it.
        for at in (0..count).rev() {
            let is_root = at + 1 == count;
            match through.nearest[at] == at {
                true if !is_root => continue,
                true => {}
                false => through.enter(at),
            }
            for on in &apart.nodes[at].on {
                let before = through.nearest[*on];
                through.nearest[*on] = match before == *on {
                    true => at,
                    false => through.meet(before, at),
                };
            }
        }
        through
    }

    /// Sets depth and stride of a node whose nearest is known.
    fn enter(&mut self, at: usize) {
        let nearest = self.nearest[at];
        let middle = self.strides[nearest];
        let end = self.strides[middle];
        let [depth, of_middle, of_end] = [nearest, middle, end].map(|node| self.depths[node]);
        self.depths[at] = depth + 1;
        // Two strides of one length become one.
        self.strides[at] = match depth - of_middle == of_middle - of_end {
            true => end,
            false => nearest,
        };
    }

    /// The nearest node that all ways to either of two nodes lead through.
    fn meet(&self, mut a: usize, mut b: usize) -> usize {
        while a != b {
            if self.depths[a] < self.depths[b] {
                (a, b) = (b, a);
            }
            let least = self.depths[b];
            if self.depths[a] > least {
                let far = self.strides[a];
                let is_too_far = self.depths[far] < least;
                a = if is_too_far { self.nearest[a] } else { far };
            } else {
                let is_beyond = self.strides[a] != self.strides[b];
                let steps = if is_beyond {
                    &self.strides
                } else {
                    &self.nearest
                };
                (a, b) = (steps[a], steps[b]);
            }
        }
        a
    }
}

#[cfg(test)]
mod tests;
