//! Advisories: rules stored on the cell they concern, and what of them applies now.
//!
//! An advisory never changes a number. Rules are conditions over cells; they are evaluated when
//! somebody looks, on the cell and on everything its value came from.

use std::collections::BTreeSet;

use serde::{Serialize, Serializer};

use super::draft::RuleDraft;
use super::program::{Block, Program};
use super::sheet::Sheet;
use crate::formula::{CellId, Lanes, Scratch, View, evaluate, evaluate_one, used_inputs};
use crate::hemodynamics::Weight;

/// A condition on a cell and what to say when it holds.
#[derive(Clone, Debug)]
pub(super) struct Rule {
    pub(super) tape: u32,
    pub(super) operands: Vec<u32>,
    pub(super) text: String,
    pub(super) weight: Weight,
    pub(super) source: String,
}

/// Something to know about a value.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Advisory {
    /// The words.
    pub text: String,
    /// Note or caution.
    #[serde(serialize_with = "weight_word")]
    pub weight: Weight,
    /// Where it comes from.
    pub source: String,
}

fn weight_word<S: Serializer>(weight: &Weight, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(word_of(*weight))
}

/// The word of JSON and pages for a weight.
pub fn word_of(weight: Weight) -> &'static str {
    match weight {
        Weight::Note => "note",
        Weight::Caution => "caution",
    }
}

impl Sheet {
    /// What applies to a cell and to everything its value came from: cautions first, each text
    /// once.
    pub fn advisories(&self, cell: CellId) -> Vec<Advisory> {
        let Ok(index) = self.index_of(cell) else {
            return Vec::new();
        };
        let mut found: Vec<Advisory> = Vec::new();
        for at in self.came_from(index as u32) {
            for rule in self.rules.get(&at).into_iter().flatten() {
                let is_new = || !found.iter().any(|a| a.text == rule.text);
                if self.holds(rule) && is_new() {
                    found.push(Advisory {
                        text: rule.text.clone(),
                        weight: rule.weight,
                        source: rule.source.clone(),
                    });
                }
            }
        }
        found.sort_by_key(|a| std::cmp::Reverse(a.weight));
        found
    }

    pub(super) fn add_rule(
        &mut self,
        cell: CellId,
        tape: u32,
        operands: Vec<u32>,
        draft: &RuleDraft,
    ) {
        self.rules.entry(cell.index).or_default().push(Rule {
            tape,
            operands,
            text: draft.text.to_owned(),
            weight: draft.weight,
            source: draft.source.to_owned(),
        });
    }

    fn holds(&self, rule: &Rule) -> bool {
        let inputs: Vec<_> = rule
            .operands
            .iter()
            .map(|o| self.lane(*o as usize))
            .collect();
        let lane = evaluate_one(self.numbered_tape(rule.tape), &inputs);
        lane.status.is_known() && lane.value != 0.0
    }

    /// A cell and all that its present value used, through the branches taken, nearest first.
    pub(super) fn came_from(&self, index: u32) -> Vec<u32> {
        let mut met = BTreeSet::from([index]);
        let mut found = vec![index];
        let mut next = 0;
        while let Some(at) = found.get(next).copied() {
            next += 1;
            for operand in self.used_operands(at) {
                let operand = self.speaks_of.get(&operand).copied().unwrap_or(operand);
                if met.insert(operand) {
                    found.push(operand);
                }
            }
        }
        found
    }

    /// The operands that a cell's present value used; none where a reading stands in for it.
    pub(super) fn used_operands(&self, index: u32) -> Vec<u32> {
        let at = index as usize;
        let Some(tape) = self.tape(at) else {
            return Vec::new();
        };
        if self.is_given(at) && !tape.uses_reading() {
            return Vec::new();
        }
        let used = used_inputs(tape, &self.input_lanes(at));
        self.operands_of(at)
            .iter()
            .zip(used)
            .filter(|(_, used)| *used)
            .map(|(operand, _)| *operand)
            .collect()
    }

    /// The cells whose advice asks about this one.
    pub(super) fn rules_that_ask(&self, index: u32) -> Vec<u32> {
        let mut cells: Vec<u32> = self
            .rules
            .iter()
            .filter(|(cell, rules)| {
                **cell != index && rules.iter().any(|r| r.operands.contains(&index))
            })
            .map(|(cell, _)| *cell)
            .collect();
        cells.sort_unstable();
        cells
    }

    /// All cells that a cell, its value's origins and their advice can depend on.
    pub fn leans_on(&self, cell: CellId) -> Vec<CellId> {
        let Ok(index) = self.index_of(cell) else {
            return Vec::new();
        };
        let mut met = BTreeSet::from([index as u32]);
        let mut waiting = vec![index as u32];
        while let Some(at) = waiting.pop() {
            let of_rules = self.rules.get(&at).into_iter().flatten();
            let asked = of_rules.flat_map(|r| r.operands.iter().copied());
            let all: Vec<u32> = asked
                .chain(self.operands_of(at as usize).iter().copied())
                .collect();
            for operand in all {
                let operand = self.speaks_of.get(&operand).copied().unwrap_or(operand);
                if met.insert(operand) {
                    waiting.push(operand);
                }
            }
        }
        met.into_iter().map(|i| self.id_of(i)).collect()
    }
}

impl Sheet {
    /// The cells that the advice on `derived`, and on all they come from, asks about.
    pub fn rule_operands(&self, derived: &[CellId]) -> Vec<CellId> {
        let upstream = self.upstream(derived);
        self.rules_in_order()
            .filter(|(cell, _)| upstream.contains(cell))
            .flat_map(|(_, rule)| rule.operands.iter().map(|o| self.id_of(*o)))
            .collect()
    }

    /// All advice in a fixed order, each with the text and weight it would show.
    pub fn rule_texts(&self) -> Vec<Advisory> {
        self.rules_in_order()
            .map(|(_, rule)| Advisory {
                text: rule.text.clone(),
                weight: rule.weight,
                source: rule.source.clone(),
            })
            .collect()
    }

    /// Whether each piece of advice holds in each row of a block, in the order of
    /// [`Sheet::rule_texts`]; advice that the program does not reach holds nowhere.
    pub fn rules_over<const W: usize>(&self, program: &Program, block: &Block<W>) -> Vec<Lanes<W>> {
        let mut scratch = Scratch::new();
        self.rules_in_order()
            .map(|(cell, rule)| {
                let mut out = Lanes::MISSING;
                let inputs: Option<Vec<View<'_, W>>> = rule
                    .operands
                    .iter()
                    .map(|o| Some(block.lanes(program.slot(self.id_of(*o))?).view()))
                    .collect();
                if let Some(inputs) = inputs
                    && program.slot(self.id_of(cell)).is_some()
                {
                    evaluate(
                        self.numbered_tape(rule.tape),
                        &inputs,
                        out.view_mut(),
                        &mut scratch,
                    );
                }
                out
            })
            .collect()
    }

    fn rules_in_order(&self) -> impl Iterator<Item = (u32, &Rule)> {
        let mut cells: Vec<u32> = self.rules.keys().copied().collect();
        cells.sort_unstable();
        cells
            .into_iter()
            .flat_map(|cell| self.rules[&cell].iter().map(move |rule| (cell, rule)))
    }

    /// Cells and all that their formulas name, however far.
    fn upstream(&self, cells: &[CellId]) -> BTreeSet<u32> {
        let mut met: BTreeSet<u32> = cells.iter().map(|c| c.index).collect();
        let mut waiting: Vec<u32> = met.iter().copied().collect();
        while let Some(at) = waiting.pop() {
            for operand in self.operands_of(at as usize) {
                if met.insert(*operand) {
                    waiting.push(*operand);
                }
            }
        }
        met
    }
}
