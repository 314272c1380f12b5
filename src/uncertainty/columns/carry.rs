//! Variances carried on from cell to cell, written down as operations.

use std::collections::BTreeMap;
use std::iter::Peekable;
use std::vec::IntoIter;

use super::Place;
use super::ground::{Cut, What};
use super::writer::Writer;
use crate::formula::{CellId, Code, Settled, Slope, Term};
use crate::uncertainty::apart::{Apart, Ways};

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

/// What slots bring that were worked out, and how further ones are.
struct Carriers<'p> {
    apart: &'p Apart,
    ways: Ways<'p>,
    known: &'p mut BTreeMap<usize, Carried>,
}

/// A slot whose formula was swept back.
struct Open {
    slot: usize,
    /// What the sweep ended at and that was not looked at yet.
    cuts: Peekable<IntoIter<Cut>>,
    ends: Vec<End>,
}

impl Writer<'_, '_> {
    /// Writes down the standard uncertainties of slots, each variance once, and for each slot the
    /// operation that makes its.
    pub(super) fn carried(mut self, apart: &Apart, slots: &[usize]) -> (Code, Vec<usize>) {
        let mut known = BTreeMap::new();
        let standards = slots.iter().map(|slot| {
            if !known.contains_key(slot) {
                let cell = self.course(*slot).cell;
                let known = &mut known;
                let ways = apart.ways(cell);
                self.slot(&mut Carriers { apart, ways, known }, *slot);
            }
            let variance = match known[slot] {
                Carried::Nothing => Term::Number(0.0),
                Carried::Standard(u) => self.code.add_part(None, u),
                Carried::Variance(variance, _) => variance,
            };
            self.code.root(variance)
        });
        let standards = standards.collect();
        (self.code, standards)
    }

    /// Works out what a slot brings, and what those bring that it is carried on from; not by
    /// recursion, since one may stand behind the other in any number.
    fn slot(&mut self, carriers: &mut Carriers<'_>, slot: usize) {
        let mut open = Vec::new();
        open.extend(self.open(carriers, slot));
        while let Some(last) = open.last_mut() {
            let behind = last.cuts.peek().and_then(|cut| match cut.what {
                What::Slot(_, behind) => Some(behind),
                What::Reading(_) | What::Model(_) => None,
            });
            let behind = behind.filter(|behind| !carriers.known.contains_key(behind));
            if let Some(behind) = behind {
                open.extend(self.open(carriers, behind));
            } else if let Some(cut) = last.cuts.next() {
                last.ends.extend(self.end(carriers, &cut));
            } else if let Some(last) = open.pop() {
                let made = self.close(carriers, last.slot, last.ends);
                carriers.known.insert(last.slot, made);
            }
        }
    }

    /// Sweeps back over the formula of a slot; one without is known at once.
    fn open(&mut self, carriers: &mut Carriers<'_>, slot: usize) -> Option<Open> {
        let course = self.course(slot);
        let cell = course.cell;
        if course.is_companion {
            carriers.known.insert(slot, Carried::Nothing);
            return None;
        }
        if course.formula.is_none() {
            let made = self.reading(cell, Place::Slot(slot), carriers.apart.is_single(cell));
            carriers.known.insert(slot, made);
            return None;
        }
        let stops = carriers.ways.stops(cell);
        let cuts = self.sweep_within(slot, |cell| stops.contains(&cell));
        Some(Open {
            slot,
            cuts: cuts.into_iter().peekable(),
            ends: Vec::new(),
        })
    }

    /// What a slot brings whose formula comes from these.
    fn close(&mut self, carriers: &Carriers<'_>, slot: usize, mut ends: Vec<End>) -> Carried {
        let course = self.course(slot);
        let (cell, row) = (course.cell, course.row);
        let takes_reading = course.formula.is_some_and(|(tape, _)| tape.uses_reading());
        let is_single = carriers.apart.is_single(cell);
        ends.sort_by_key(|end| (end.what.cell(), end.what));
        let by_formula = match ends.as_slice() {
            [] => Carried::Nothing,
            [
                End {
                    at,
                    carried: Carried::Standard(u),
                    ..
                },
            ] if is_single => Carried::Standard(self.code.part(*at, *u)),
            ends => self.sum(ends),
        };
        match row.filter(|_| !takes_reading) {
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

    fn end(&mut self, carriers: &Carriers<'_>, cut: &Cut) -> Option<End> {
        let (at, carried) = match cut.what {
            What::Slot(_, slot) => (self.code.settled(cut.slope), carriers.known[&slot]),
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
