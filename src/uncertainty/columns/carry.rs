//! Variances carried on from cell to cell, written down as operations.

use super::Place;
use super::ground::{Cut, What};
use super::writer::Writer;
use crate::formula::{CellId, Code, Settled, Slope, Term};
use crate::uncertainty::apart::Apart;

/// What a slot brings to what leans on it.
#[derive(Clone, Copy, Debug)]
enum Carried {
    /// There is no cause that it could come from.
    Nothing,
    /// A standard uncertainty, of a cell of one cause; it may have a sign.
    Standard(Term),
    /// A variance, and whether it is nothing but zeros because no cause states anything.
    Variance(Term, bool),
}

/// One of the ends of a sweep.
struct End {
    what: What,
    at: Settled,
    carried: Carried,
}

/// Slots whose variances are known.
struct Carriers<'p> {
    apart: &'p Apart,
    known: Vec<Option<Carried>>,
}

impl Writer<'_, '_> {
    /// Writes down the standard uncertainties of slots, each variance once, and for each slot the
    /// operation that makes its.
    pub(super) fn carried(mut self, apart: &Apart, slots: &[usize]) -> (Code, Vec<usize>) {
        let known = vec![None; self.ground.program.slots()];
        let mut carriers = Carriers { apart, known };
        let standards = slots.iter().map(|slot| {
            let variance = match self.slot(&mut carriers, *slot) {
                Carried::Nothing => Term::Number(0.0),
                Carried::Standard(u) => self.code.add_part(None, u),
                Carried::Variance(variance, _) => variance,
            };
            self.code.root(variance)
        });
        let standards = standards.collect();
        (self.code, standards)
    }

    fn slot(&mut self, carriers: &mut Carriers<'_>, slot: usize) -> Carried {
        if let Some(known) = carriers.known[slot] {
            return known;
        }
        let made = self.new_slot(carriers, slot);
        carriers.known[slot] = Some(made);
        made
    }

    fn new_slot(&mut self, carriers: &mut Carriers<'_>, slot: usize) -> Carried {
        let course = self.ground.program.course(slot, self.ground.sheet);
        let (cell, row) = (course.cell, course.row);
        if course.is_companion {
            return Carried::Nothing;
        }
        let is_single = carriers.apart.is_single(cell);
        let Some((tape, _)) = course.formula else {
            return self.reading(cell, Place::Slot(slot), is_single);
        };
        let row = row.filter(|_| !tape.uses_reading());
        let by_formula = self.formula(carriers, cell, slot);
        match row {
            None => by_formula,
            Some(row) => self.reading_or(cell, row, by_formula, is_single),
        }
    }

    /// A reading where a row supplies the cell, and there its formula is of no account.
    fn reading_or(
        &mut self,
        cell: CellId,
        row: usize,
        by_formula: Carried,
        is_single: bool,
    ) -> Carried {
        let read = self.reading(cell, Place::Row(row), is_single);
        let given = self.ground.given(Place::Row(row));
        let zero = Term::Number(0.0);
        match (read, by_formula) {
            (Carried::Variance(read, is_zero), Carried::Variance(other, other_is_zero)) => {
                let variance = self.code.where_known_or(given, read, other);
                Carried::Variance(variance, is_zero && other_is_zero)
            }
            (Carried::Standard(read), Carried::Standard(other)) => {
                Carried::Standard(self.code.where_known_or(given, read, other))
            }
            (Carried::Standard(read), _) => {
                Carried::Standard(self.code.where_known_or(given, read, zero))
            }
            (Carried::Variance(read, is_zero), _) => {
                Carried::Variance(self.code.where_known_or(given, read, zero), is_zero)
            }
            (Carried::Nothing, other) => other,
        }
    }

    /// A reading; one that states nothing brings nothing, unless something has no finite slope in it.
    fn reading(&mut self, cell: CellId, value: Place, is_single: bool) -> Carried {
        let Some(cut) = self.ground.reading(cell, Slope::ONE, value) else {
            return Carried::Nothing;
        };
        let (_, u) = self.ground.stated(&mut self.code, &cut);
        let u = u.unwrap_or(Term::Number(0.0));
        match is_single {
            true => Carried::Standard(u),
            false => Carried::Variance(self.code.add_part(None, u), u == Term::Number(0.0)),
        }
    }

    fn formula(&mut self, carriers: &mut Carriers<'_>, cell: CellId, slot: usize) -> Carried {
        let stops = carriers.apart.stops(cell);
        let cuts = self.sweep_within(slot, |cell| stops.contains(&cell));
        let mut ends: Vec<End> = cuts
            .into_iter()
            .filter_map(|cut| self.end(carriers, &cut))
            .collect();
        ends.sort_by_key(|end| (end.what.cell(), end.what));
        match ends.as_slice() {
            [] => Carried::Nothing,
            [end]
                if carriers.apart.is_single(cell)
                    && matches!(end.carried, Carried::Standard(_)) =>
            {
                let Carried::Standard(u) = end.carried else {
                    return Carried::Nothing;
                };
                Carried::Standard(self.code.part(end.at, u))
            }
            ends => self.sum(ends),
        }
    }

    fn end(&mut self, carriers: &mut Carriers<'_>, cut: &Cut) -> Option<End> {
        let (at, carried) = match cut.what {
            What::Slot(_, slot) => {
                let carried = self.slot(carriers, slot);
                (self.code.settled(cut.slope), carried)
            }
            What::Reading(_) | What::Model(_) => {
                let (_, u) = self.ground.stated(&mut self.code, cut);
                let u = u.unwrap_or(Term::Number(0.0));
                (
                    self.code.settled_in_reading(cut.slope),
                    Carried::Standard(u),
                )
            }
        };
        let what = cut.what;
        (!matches!(carried, Carried::Nothing)).then_some(End { what, at, carried })
    }

    /// The sum of all variances, and what correlations add to it.
    fn sum(&mut self, ends: &[End]) -> Carried {
        let mut sum = None;
        let mut is_zero = true;
        for end in ends {
            sum = Some(match end.carried {
                Carried::Nothing => continue,
                Carried::Standard(u) => {
                    is_zero &= u == Term::Number(0.0);
                    self.code.add_stretched_part(sum, end.at, u)
                }
                Carried::Variance(variance, end_is_zero) => {
                    is_zero &= end_is_zero;
                    self.code.add_variance(sum, end.at, variance, end_is_zero)
                }
            });
        }
        let own = sum.unwrap_or(Term::Number(0.0));
        match self.shared(ends) {
            None => Carried::Variance(own, is_zero),
            Some(shared) => {
                let variance = self.code.add(own, shared);
                Carried::Variance(self.code.at_least_zero(variance), is_zero)
            }
        }
    }

    /// What correlations add; `None` where there are none.
    fn shared(&mut self, ends: &[End]) -> Option<Term> {
        let mut shared = None;
        for (i, a) in ends.iter().enumerate() {
            for b in &ends[i + 1..] {
                let (Carried::Standard(u), Carried::Standard(v)) = (a.carried, b.carried) else {
                    continue;
                };
                let correlation = self.ground.between(a.what, b.what);
                if correlation != 0.0 {
                    let (p, q) = (self.code.part(a.at, u), self.code.part(b.at, v));
                    let product = self.code.multiply(p, q);
                    let twice = Term::Number(2.0 * correlation);
                    let more = self.code.multiply(product, twice);
                    shared = Some(match shared {
                        Some(shared) => self.code.add(shared, more),
                        None => more,
                    });
                }
            }
        }
        shared
    }
}
