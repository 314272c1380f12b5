//! Uncertainties by slopes per cause, written down as operations.

use super::ground::What;
use super::writer::Writer;
use super::{Found, Wanted};
use crate::formula::{Code, Term};

/// A stated cause of a wanted cell.
struct Part {
    what: What,
    slope: Term,
    u: Term,
}

impl Writer<'_, '_> {
    /// Writes down the standard uncertainties of slots with all causes.
    pub(super) fn by_causes(mut self, slots: &[usize]) -> (Code, Vec<Wanted>) {
        let wanted = slots.iter().map(|slot| self.wanted(*slot)).collect();
        (self.code, wanted)
    }

    fn wanted(&mut self, slot: usize) -> Wanted {
        let mut cuts = self.sweep(slot, |_| false);
        cuts.sort_by_key(|cut| cut.what);
        let mut causes = Vec::new();
        let mut parts = Vec::new();
        for cut in cuts {
            let slope = self.code.settle(cut.slope);
            let (stated, u) = self.ground.stated(&mut self.code, &cut);
            causes.push(Found {
                cell: cut.what.cell(),
                slope,
                stated,
            });
            parts.push(Part {
                what: cut.what,
                slope,
                // Nothing is added for what is not stated, unless it has no finite slope.
                u: u.unwrap_or(Term::Number(0.0)),
            });
        }
        let variance = self.variance(&parts);
        Wanted {
            slot,
            standard: self.code.root(variance),
            causes,
        }
    }

    /// Σᵢ Σⱼ cᵢ uᵢ cⱼ uⱼ rᵢⱼ, in the order in which one sheet adds it up.
    fn variance(&mut self, parts: &[Part]) -> Term {
        let mut own = None;
        for part in parts {
            own = Some(self.code.add_square(own, part.slope, part.u));
        }
        let own = own.unwrap_or(Term::Number(0.0));
        let is_correlated = parts.iter().enumerate().any(|(i, a)| {
            let others = parts.iter().enumerate().filter(|(j, _)| i != *j);
            others
                .into_iter()
                .any(|(_, b)| self.ground.between(a.what, b.what) != 0.0)
        });
        if !is_correlated {
            return own;
        }
        let sizes: Vec<Term> = parts
            .iter()
            .map(|part| self.code.multiply(part.slope, part.u))
            .collect();
        let mut all = Term::Number(0.0);
        for (i, a) in parts.iter().enumerate() {
            for (j, b) in parts.iter().enumerate() {
                let correlation = self.ground.between(a.what, b.what);
                if correlation != 0.0 {
                    let product = self.code.multiply(sizes[i], sizes[j]);
                    let term = self.code.multiply(product, Term::Number(correlation));
                    all = self.code.add(all, term);
                }
            }
        }
        let shared = self.code.subtract(all, own);
        let variance = self.code.add(own, shared);
        self.code.at_least_zero(variance)
    }
}
