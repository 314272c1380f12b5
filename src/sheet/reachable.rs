//! Which derived cells a table could make known, from its columns alone.

use super::sheet::Sheet;
use crate::formula::{CellId, Formula, Op};

impl Sheet {
    /// Derived cells that rows with these readings could make known.
    pub fn reachable(&self, bound: &[CellId]) -> Vec<CellId> {
        let can = self.can_be_known(bound);
        self.cells()
            .filter(|cell| self.is_derived(*cell) && !bound.contains(cell))
            .filter(|cell| can[cell.index()] && !self.repeats_shared(*cell, bound))
            .collect()
    }

    /// Cells of an exam that only repeat what all exams share, where rows with these readings could
    /// make it known: inputs that are passed on, and what is derived from nothing else.
    pub fn passed_on(&self, bound: &[CellId]) -> Vec<CellId> {
        let can = self.can_be_known(bound);
        self.cells()
            .filter(|cell| can[cell.index()] && !bound.contains(cell))
            .filter(|cell| self.repeats_shared(*cell, bound))
            .collect()
    }

    /// By index: whether rows with these readings, and nothing less, could make a cell known.
    fn can_be_known(&self, bound: &[CellId]) -> Vec<bool> {
        let mut has = vec![false; self.hot.len()];
        let mut touched = vec![false; self.hot.len()];
        for index in self.order_of_evaluation() {
            let i = index as usize;
            let speaker = self.speaks_of.get(&index).copied().unwrap_or(index);
            let is_bound = bound.contains(&self.id_of(speaker));
            let own = is_bound || self.is_given(i);
            let formula = self.formula_at(i);
            let computed = formula.is_some_and(|f| self.could_be_known(i, f, own, &has));
            has[i] = computed || (own && formula.is_none_or(|f| !f.uses_reading()));
            touched[i] = is_bound || self.operands_of(i).iter().any(|o| touched[*o as usize]);
        }
        has.iter()
            .zip(touched)
            .map(|(has, by)| *has && by)
            .collect()
    }

    /// Whether a formula could give a value when the operands in `has` can.
    fn could_be_known(&self, index: usize, formula: &Formula, own: bool, has: &[bool]) -> bool {
        let operands = self.operands_of(index);
        let operand = |k: u32| match has[operands[k as usize] as usize] {
            true => Prospect::Possible,
            false => Prospect::None,
        };
        let mut can: Vec<Prospect> = Vec::with_capacity(formula.ops().len());
        for op in formula.ops() {
            let at = |i: u32| can[i as usize];
            let prospect = match *op {
                Op::Number { .. } | Op::Pi => Prospect::Possible,
                // A finding that is never stated is never that word.
                Op::Is(k, text) => match (operand(k), &**formula.text(text)) {
                    (Prospect::None, word) if word != "missing" => Prospect::False,
                    _ => Prospect::Possible,
                },
                Op::Differs(a, b) => match (operand(a), operand(b)) {
                    (Prospect::Possible, Prospect::Possible) => Prospect::Possible,
                    _ => Prospect::False,
                },
                Op::Cell(k) | Op::BeatCount(k) => operand(k),
                Op::Reading if own => Prospect::Possible,
                Op::Reading | Op::Withheld(_) => Prospect::None,
                Op::If(c, a, b) => match at(c) {
                    Prospect::None => Prospect::None,
                    Prospect::False => at(b),
                    Prospect::Possible => at(a).or(at(b)),
                },
                Op::Else(a, b) => at(a).or(at(b)),
                Op::And(a, _) if at(a) == Prospect::False => at(a),
                Op::And(_, b) if at(b) == Prospect::False => at(b),
                Op::Or(a, b) if at(a) == Prospect::False => at(b),
                Op::Or(a, b) if at(b) == Prospect::False => at(a),
                Op::And(a, b) | Op::Or(a, b) => at(a).or(at(b)),
                Op::Not(a) if at(a) == Prospect::False => Prospect::Possible,
                Op::Unary(..)
                | Op::Binary(..)
                | Op::Many(..)
                | Op::Clamp(..)
                | Op::Compare(..)
                | Op::Not(_)
                | Op::Marked(..) => {
                    let mut all = Prospect::Possible;
                    formula.each_argument(*op, |a| {
                        if at(a) == Prospect::None {
                            all = Prospect::None;
                        }
                    });
                    all
                }
            };
            can.push(prospect);
        }
        can.last() == Some(&Prospect::Possible)
    }
}

/// What can become of a part of a formula.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Prospect {
    /// It can be known.
    Possible,
    /// It cannot.
    None,
    /// It is a condition that cannot hold.
    False,
}

impl Prospect {
    fn or(self, other: Prospect) -> Prospect {
        match self {
            Prospect::None => other,
            prospect => prospect,
        }
    }
}
