//! The standard uncertainty of a cell of one sheet, its variance carried on from cell to cell.
//!
//! The numbers are added up as [`Columns`](super::Columns) add them up over many rows, to the bit.

use std::collections::BTreeMap;

use super::apart::{Apart, Ways};
use super::settings::Settings;
use super::source::{Cause, Source, Stop, of_reading, sources_and_stops};
use crate::formula::{CellId, LEAST_STANDARD, guarded, square, stretched};
use crate::sheet::Sheet;

/// The standard uncertainty of a known cell; `None` where a number on the way is too small or too
/// large for its square, and where nothing is stated.
pub(super) fn standard(sheet: &Sheet, cell: CellId, settings: &Settings) -> Option<f64> {
    let apart = Apart::under(sheet, &[cell], settings);
    let mut walk = Walk {
        sheet,
        settings,
        apart: &apart,
        ways: apart.ways(cell),
        known: BTreeMap::new(),
    };
    let variance = match walk.of(cell) {
        Carried::Nothing => return None,
        Carried::Standard(u) => square(u),
        Carried::Variance(variance) => variance,
    };
    let standard = variance.sqrt();
    (standard.is_finite() && standard >= LEAST_STANDARD).then_some(standard)
}

/// What a cell brings to what leans on it.
#[derive(Clone, Copy, Debug)]
enum Carried {
    /// There is no cause that it comes from.
    Nothing,
    /// A standard uncertainty, of a cell of one cause; it may have a sign.
    Standard(f64),
    Variance(f64),
}

/// What a sweep back from a cell ends at.
struct End {
    /// The reading that it is, if it is one.
    reading: Option<CellId>,
    slope: f64,
    guard: f64,
    carried: Carried,
}

struct Walk<'s> {
    sheet: &'s Sheet,
    settings: &'s Settings,
    apart: &'s Apart,
    ways: Ways<'s>,
    known: BTreeMap<CellId, Carried>,
}

/// A cell and what a sweep back over its formula ended at.
struct Ended {
    cell: CellId,
    sources: Vec<Source>,
    stops: Vec<Stop>,
}

impl Walk<'_> {
    /// What the asked cell brings, and before it what those bring that it is carried on from; not
    /// by recursion, since one may stand behind the other in any number.
    fn of(&mut self, cell: CellId) -> Carried {
        let mut all = Vec::new();
        let mut waiting = vec![cell];
        while let Some(cell) = waiting.pop() {
            if self.sheet.is_read(cell) {
                self.known.insert(cell, self.reading(cell));
                continue;
            }
            let stops = self.ways.stops(cell);
            let (sources, stops) = sources_and_stops(self.sheet, cell, &stops);
            waiting.extend(stops.iter().map(|stop| stop.cell));
            all.push(Ended {
                cell,
                sources,
                stops,
            });
        }
        // Nothing else leads to what a sweep stops at, so that each was met once, after its user.
        while let Some(ended) = all.pop() {
            let cell = ended.cell;
            let made = self.formula(ended);
            self.known.insert(cell, made);
        }
        self.known[&cell]
    }

    fn reading(&self, cell: CellId) -> Carried {
        match of_reading(self.sheet, cell).map(|s| s.standard.unwrap_or(0.0)) {
            None => Carried::Nothing,
            Some(u) if self.apart.is_single(cell) => Carried::Standard(u),
            Some(u) => Carried::Variance(square(u)),
        }
    }

    fn formula(&self, ended: Ended) -> Carried {
        let is_single = self.apart.is_single(ended.cell);
        let ends = self.ends(ended);
        match ends.as_slice() {
            [] if is_single => Carried::Standard(0.0),
            [
                End {
                    slope,
                    guard,
                    carried: Carried::Standard(u),
                    ..
                },
            ] if is_single => Carried::Standard(guarded(*guard, *slope, *u)),
            ends => Carried::Variance(self.sum(ends)),
        }
    }

    /// What a sweep back ended at, in the order in which it is added up.
    fn ends(&self, ended: Ended) -> Vec<End> {
        let mut ends: BTreeMap<(CellId, u8), End> = BTreeMap::new();
        for source in ended.sources {
            let (reading, kind) = match source.cause {
                Cause::Reading(cell) => (Some(cell), 0),
                Cause::Model(_) => (None, 1),
            };
            let end = End {
                reading,
                slope: source.slope,
                guard: 1.0,
                carried: Carried::Standard(source.standard.unwrap_or(0.0)),
            };
            ends.insert((source.cause.cell(), kind), end);
        }
        for Stop { cell, slope, size } in ended.stops {
            let end = End {
                reading: None,
                slope,
                guard: size,
                carried: self.known[&cell],
            };
            ends.insert((cell, 2), end);
        }
        ends.into_values().collect()
    }

    /// The sum of all variances, and what correlations add to it.
    fn sum(&self, ends: &[End]) -> f64 {
        let own = ends.iter().map(|end| match end.carried {
            Carried::Nothing => 0.0,
            Carried::Standard(u) => square(guarded(end.guard, end.slope, u)),
            Carried::Variance(_) if end.guard == 0.0 => 0.0,
            Carried::Variance(variance) => stretched(variance, end.slope),
        });
        let own: f64 = own.sum();
        let mut shared = None;
        for (i, a) in ends.iter().enumerate() {
            for b in &ends[i + 1..] {
                let (Some(first), Some(second)) = (a.reading, b.reading) else {
                    continue;
                };
                let (Carried::Standard(u), Carried::Standard(v)) = (a.carried, b.carried) else {
                    continue;
                };
                let correlation = self.settings.between(first, second);
                if correlation != 0.0 {
                    let more = (a.slope * u) * (b.slope * v) * (2.0 * correlation);
                    shared = Some(shared.unwrap_or(0.0) + more);
                }
            }
        }
        match shared.map(|shared| own + shared) {
            None => own,
            Some(variance) if variance < 0.0 => 0.0,
            Some(variance) => variance,
        }
    }
}

#[cfg(test)]
mod tests;
