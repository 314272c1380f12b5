//! The part of a sheet that some cells lean on, as plain data in order of evaluation: what a page
//! needs to recompute them, and what uncertainty is traced through.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::cell::GUARDED;
use super::sheet::Sheet;
use crate::formula::notation::write_op;
use crate::formula::{CellId, Lane, Op, Tape};
use crate::hemodynamics::Weight;

/// A formula of an outline.
#[derive(Clone, Debug)]
pub struct OutlineFormula {
    /// The steps.
    pub tape: Arc<Tape>,
    /// Places of the operands in the outline.
    pub operands: Vec<usize>,
    /// The formula decides even where there is a reading.
    pub guarded: bool,
    /// For each operation at which a way can end the words of it: the reason of one that
    /// withholds, the text of another.
    pub stops: Vec<(u32, String)>,
}

/// A cell of an outline.
#[derive(Clone, Debug)]
pub struct OutlineCell {
    /// The cell; of a hidden one its own handle.
    pub cell: CellId,
    /// The place of the cell that a hidden one speaks of.
    pub speaks_of: Option<usize>,
    /// The formula.
    pub formula: Option<OutlineFormula>,
    /// What its reading alone gives, in the cell's unit.
    pub reading: Option<Lane>,
    /// Value and state now.
    pub now: Lane,
}

/// A piece of advice of an outline.
#[derive(Clone, Debug)]
pub struct OutlineRule {
    /// Place of the cell it stands on.
    pub cell: usize,
    /// The condition.
    pub tape: Arc<Tape>,
    /// Places of its operands.
    pub operands: Vec<usize>,
    /// The words.
    pub text: String,
    /// Note or caution.
    pub weight: Weight,
    /// Where it comes from.
    pub source: String,
}

/// Cells in order of evaluation, and the advice on them.
#[derive(Clone, Debug, Default)]
pub struct Outline {
    /// The cells, operands first.
    pub cells: Vec<OutlineCell>,
    /// The advice, in a fixed order.
    pub rules: Vec<OutlineRule>,
    places: BTreeMap<u32, usize>,
}

impl Outline {
    /// The place of a cell.
    pub fn place(&self, cell: CellId) -> Option<usize> {
        self.places.get(&cell.index).copied()
    }
}

impl Sheet {
    /// All that these cells, and the advice on what they come from, can lean on. Handles of other
    /// sheets are left out.
    pub fn outline(&self, cells: &[CellId]) -> Outline {
        let met = self.reach(cells);
        let in_order: Vec<u32> = self
            .order_of_evaluation()
            .filter(|index| met.contains(index))
            .collect();
        let places: BTreeMap<u32, usize> =
            in_order.iter().enumerate().map(|(p, i)| (*i, p)).collect();
        let place = |index: &u32| places.get(index).copied().unwrap_or(0);
        let outlined = |index: &u32| {
            let at = *index as usize;
            OutlineCell {
                cell: self.id_of(*index),
                speaks_of: self.speaks_of.get(index).map(place),
                formula: self.tape(at).map(|tape| OutlineFormula {
                    tape: tape.clone(),
                    operands: self.operands_of(at).iter().map(place).collect(),
                    guarded: self.hot[at].flags & GUARDED != 0,
                    stops: self.stops(at),
                }),
                reading: self.reading_lane(at),
                now: self.lane(at),
            }
        };
        let rules = in_order
            .iter()
            .flat_map(|index| {
                self.rules
                    .get(index)
                    .into_iter()
                    .flatten()
                    .map(move |r| (index, r))
            })
            .map(|(index, rule)| OutlineRule {
                cell: place(index),
                tape: self.numbered_tape(rule.tape).clone(),
                operands: rule.operands.iter().map(place).collect(),
                text: rule.text.clone(),
                weight: rule.weight,
                source: rule.source.clone(),
            })
            .collect();
        Outline {
            cells: in_order.iter().map(outlined).collect(),
            rules,
            places,
        }
    }

    fn stops(&self, index: usize) -> Vec<(u32, String)> {
        let Some(formula) = self.formula_at(index) else {
            return Vec::new();
        };
        let names = self.operand_names(index);
        let ops = formula.ops().iter().enumerate();
        ops.filter_map(|(at, op)| {
            let at = at as u32;
            match op {
                Op::Withheld(text) => Some((at, formula.text(*text).to_string())),
                Op::Unary(..) | Op::Binary(..) | Op::Many(..) | Op::Clamp(..) => {
                    Some((at, write_op(formula, at, &names)))
                }
                Op::Number { .. }
                | Op::Pi
                | Op::Cell(_)
                | Op::Reading
                | Op::If(..)
                | Op::Else(..)
                | Op::Compare(..)
                | Op::And(..)
                | Op::Or(..)
                | Op::Not(_)
                | Op::Is(..)
                | Op::Differs(..)
                | Op::BeatCount(_)
                | Op::Marked(..) => None,
            }
        })
        .collect()
    }

    fn reach(&self, cells: &[CellId]) -> BTreeSet<u32> {
        let mut waiting: Vec<u32> = cells
            .iter()
            .filter(|cell| self.index_of(**cell).is_ok())
            .map(|cell| cell.index)
            .collect();
        let mut met: BTreeSet<u32> = waiting.iter().copied().collect();
        while let Some(at) = waiting.pop() {
            let of_rules = self.rules.get(&at).into_iter().flatten();
            let asked = of_rules.flat_map(|rule| rule.operands.iter());
            let named = asked
                .chain(self.operands_of(at as usize))
                .chain(self.speaks_of.get(&at));
            for operand in named {
                if met.insert(*operand) {
                    waiting.push(*operand);
                }
            }
        }
        met
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_holds_operands_before_what_uses_them_and_nothing_else() {
        let text = "a = 1 cm\nb = 2 cm\nc = a * b\nd = 3 s\n";
        let sheet = Sheet::read(text).unwrap().sheet;
        let c = sheet.cell("c").unwrap();
        let outline = sheet.outline(&[c]);
        let names: Vec<String> = outline.cells.iter().map(|o| sheet.name(o.cell)).collect();
        assert_eq!(names, ["a", "b", "c"]);
        let formula = outline.cells[2].formula.as_ref().unwrap();
        assert_eq!(formula.operands, [0, 1]);
        assert_eq!(outline.place(c), Some(2));
    }
}
