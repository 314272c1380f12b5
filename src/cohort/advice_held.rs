//! The advice that holds in rows.

use super::apply::WIDTH;
use crate::hemodynamics::Weight;
use crate::sheet::{Advisory, Block, Program, Sheet};

/// The advice of a sheet, each text once though several cells may have it.
pub(super) struct AdviceOf {
    pub(super) distinct: Vec<Advisory>,
    /// Which of them each rule of the sheet would show.
    of_rule: Vec<usize>,
}

/// Where advice holds in a stretch of rows.
pub(super) struct Held {
    /// Of the distinct texts that hold in any row: number, weight, rows.
    texts: Vec<HeldText>,
    /// The rows in which any caution holds.
    pub(super) cautions: [bool; WIDTH],
}

struct HeldText {
    at: usize,
    weight: Weight,
    rows: [bool; WIDTH],
}

impl AdviceOf {
    pub(super) fn new(texts: &[Advisory]) -> AdviceOf {
        let mut distinct: Vec<Advisory> = Vec::new();
        let of_rule = texts
            .iter()
            .map(|advisory| {
                let known = distinct.iter().position(|a| a.text == advisory.text);
                known.unwrap_or_else(|| {
                    distinct.push(advisory.clone());
                    distinct.len() - 1
                })
            })
            .collect();
        AdviceOf { distinct, of_rule }
    }

    /// Where the advice holds in a stretch of rows.
    pub(super) fn over(&self, sheet: &Sheet, program: &Program, block: &Block<WIDTH>) -> Held {
        let mut texts: Vec<HeldText> = Vec::new();
        let mut cautions = [false; WIDTH];
        for (rule, lanes) in sheet.rules_over(program, block).iter().enumerate() {
            let holds = |lane: usize| {
                let lane = lanes.lane(lane);
                lane.status.is_known() && lane.value != 0.0
            };
            let rows: [bool; WIDTH] = std::array::from_fn(holds);
            if !rows.contains(&true) {
                continue;
            }
            let at = self.of_rule[rule];
            let weight = self.distinct[at].weight;
            if weight == Weight::Caution {
                join(&mut cautions, &rows);
            }
            match texts.iter_mut().find(|text| text.at == at) {
                Some(text) => join(&mut text.rows, &rows),
                None => texts.push(HeldText { at, weight, rows }),
            }
        }
        // The order in which texts are shown does not depend on the rows around.
        texts.sort_by_key(|text| text.at);
        Held { texts, cautions }
    }

    /// The advice that held at all with its rows, cautions first, then by how often.
    pub(super) fn with_counts(&self, rows: &[usize]) -> Vec<(Advisory, usize)> {
        let mut counts: Vec<(Advisory, usize)> = self
            .distinct
            .iter()
            .cloned()
            .zip(rows.iter().copied())
            .filter(|(_, rows)| *rows > 0)
            .collect();
        counts.sort_by_key(|(advisory, rows)| std::cmp::Reverse((advisory.weight, *rows)));
        counts
    }
}

impl Held {
    /// Counts a row: once for each text, on however many cells it holds.
    pub(super) fn count(&self, lane: usize, counts: &mut [usize]) {
        for text in &self.texts {
            counts[text.at] += usize::from(text.rows[lane]);
        }
    }

    /// The cautions that hold in a row, by number, in the order of the sheet's rules.
    pub(super) fn cautions_in(&self, lane: usize) -> impl Iterator<Item = usize> + '_ {
        self.texts
            .iter()
            .filter(move |text| text.weight == Weight::Caution && text.rows[lane])
            .map(|text| text.at)
    }
}

fn join(rows: &mut [bool; WIDTH], more: &[bool; WIDTH]) {
    for (row, more) in rows.iter_mut().zip(more) {
        *row |= more;
    }
}
