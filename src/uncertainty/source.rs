//! Causes: what the error of a cell comes from, and how strongly.

use std::collections::{BTreeMap, BTreeSet};

use crate::formula::{CellId, settled};
use crate::sheet::{Local, Sheet};

/// Whether a cause is a reading, or the formula of a cell itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Cause {
    /// The reading of a cell.
    Reading(CellId),
    /// The model uncertainty of a cell's formula.
    Model(CellId),
}

impl Cause {
    /// The cell of the reading or of the formula.
    pub(super) fn cell(self) -> CellId {
        match self {
            Cause::Reading(cell) | Cause::Model(cell) => cell,
        }
    }
}

/// A cause and what the asked cell has of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source {
    pub(super) cause: Cause,
    /// Slope of the asked cell, in its unit per unit of the cause's cell.
    pub(super) slope: f64,
    /// Standard uncertainty in the unit of the cause's cell; `None` where none was stated.
    pub(super) standard: Option<f64>,
    /// The publication that the uncertainty was taken from, where the reading stated none.
    pub(super) published: Option<&'static str>,
    /// Degrees of freedom of that uncertainty.
    pub(super) freedom: f64,
}

#[derive(Clone, Copy, Default)]
struct Adjoint {
    slope: f64,
    size: f64,
}

impl Adjoint {
    fn add(&mut self, from: Adjoint, slope: f64, size: f64) {
        self.slope += from.slope * slope;
        self.size += from.size * size;
    }

    fn settled(self) -> f64 {
        settled(self.slope, self.size)
    }
}

/// The causes of a known cell: one sweep from it back to the readings, each cell once.
pub(super) fn swept(sheet: &Sheet, cell: CellId) -> Swept {
    Sweep::from(sheet, cell).run(&mut |_, _| {})
}

/// What a sweep found.
pub(super) struct Swept {
    /// Causes with a slope.
    pub(super) sources: Vec<Source>,
    /// Readings in which the slopes of several ways cancel, and the sum of their sizes.
    pub(super) cancelled: BTreeMap<CellId, f64>,
    /// Whether the cell has a slope in all that it can come from while no reading comes or goes, as
    /// far as the sweep went.
    pub(super) is_whole: bool,
}

/// A cell at which a sweep stopped, and how the asked cell leans on it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stop {
    pub(super) cell: CellId,
    pub(super) slope: f64,
    /// Of what the slope was added up from.
    pub(super) size: f64,
}

/// The causes of a known cell up to cells at which the sweep stops, and these. Where the formula
/// of the cell itself is not what its value comes from, its reading.
pub(super) fn sources_and_stops(
    sheet: &Sheet,
    cell: CellId,
    stops: &BTreeSet<CellId>,
) -> (Vec<Source>, Vec<Stop>) {
    let mut found = Vec::new();
    let sweep = Sweep::from(sheet, cell);
    let swept = sweep.run_to(&mut |_, _| {}, &mut |at, adjoint| {
        let is_stop = at != cell && stops.contains(&at);
        if is_stop {
            found.push(Stop {
                cell: at,
                slope: adjoint.settled(),
                size: adjoint.size,
            });
        }
        is_stop
    });
    (swept.sources, found)
}

/// The cause that a reading is of itself.
pub(super) fn of_reading(sheet: &Sheet, cell: CellId) -> Option<Source> {
    reading(sheet, cell, 1.0)
}

/// The causes of a quantity within a cell's formula, from how it leans on the formula's operands
/// and on the cell's own reading.
pub(super) fn sources_within(
    sheet: &Sheet,
    cell: CellId,
    operands: &[(CellId, f64, f64)],
    own: Option<(f64, f64)>,
) -> Vec<Source> {
    let mut sweep = Sweep::empty(sheet);
    sweep.enter(cell, ONE, operands, own);
    sweep.run(&mut |_, _| {}).sources
}

/// The slope of a known cell in each cell whose formula it comes from, itself among them; cells
/// without one are those it does not move with.
pub(super) fn slopes_in(sheet: &Sheet, cell: CellId) -> BTreeMap<CellId, f64> {
    let mut found = BTreeMap::new();
    Sweep::from(sheet, cell).run(&mut |at, slope| {
        found.insert(at, slope);
    });
    found.retain(|_, slope| *slope != 0.0);
    found
}

const ONE: Adjoint = Adjoint {
    slope: 1.0,
    size: 1.0,
};

/// A sweep back: cells that wait, by their place in the order of evaluation, and causes found.
struct Sweep<'s> {
    sheet: &'s Sheet,
    waiting: BTreeMap<(u32, CellId), Adjoint>,
    found: Vec<Source>,
    cancelled: BTreeMap<CellId, f64>,
    is_whole: bool,
}

impl<'s> Sweep<'s> {
    fn empty(sheet: &'s Sheet) -> Sweep<'s> {
        Sweep {
            sheet,
            waiting: BTreeMap::new(),
            found: Vec::new(),
            cancelled: BTreeMap::new(),
            is_whole: true,
        }
    }

    fn from(sheet: &'s Sheet, cell: CellId) -> Sweep<'s> {
        let mut sweep = Sweep::empty(sheet);
        let key = (sheet.place_in_order(cell), cell);
        sweep.waiting.insert(key, ONE);
        sweep
    }

    /// Goes one step back through a formula.
    fn enter(
        &mut self,
        cell: CellId,
        adjoint: Adjoint,
        operands: &[(CellId, f64, f64)],
        own: Option<(f64, f64)>,
    ) {
        let sizes = operands.iter().map(|(.., size)| size);
        self.is_whole &= sizes
            .chain(own.iter().map(|(_, size)| size))
            .all(|size| *size != 0.0);
        for (operand, slope, size) in operands {
            if *size != 0.0 {
                let key = (self.sheet.place_in_order(*operand), *operand);
                let at = self.waiting.entry(key).or_default();
                at.add(adjoint, *slope, *size);
            }
        }
        if let Some((slope, size)) = own.filter(|(_, size)| *size != 0.0) {
            let mut own = Adjoint::default();
            own.add(adjoint, slope, size);
            self.reading(cell, own);
        }
    }

    fn reading(&mut self, cell: CellId, adjoint: Adjoint) {
        let slope = adjoint.settled();
        if slope == 0.0 {
            self.is_whole = false;
            self.cancelled.insert(cell, adjoint.size);
        } else {
            self.found.extend(reading(self.sheet, cell, slope));
        }
    }

    /// All causes; `met` hears of each formula on the way, and of the slope in its cell.
    fn run(self, met: &mut dyn FnMut(CellId, f64)) -> Swept {
        self.run_to(met, &mut |_, _| false)
    }

    /// The same, but for what is behind cells that `stops` says to stop at.
    fn run_to(
        mut self,
        met: &mut dyn FnMut(CellId, f64),
        stops: &mut dyn FnMut(CellId, Adjoint) -> bool,
    ) -> Swept {
        while let Some(((_, at), adjoint)) = self.waiting.pop_last() {
            // Not reached on any path: an infinite slope further back is none of its business.
            if adjoint.size == 0.0 {
                self.is_whole = false;
                continue;
            }
            if stops(at, adjoint) {
                continue;
            }
            match self.sheet.local(at) {
                Local::Reading => self.reading(at, adjoint),
                Local::Formula { operands, own } => {
                    let slope = adjoint.settled();
                    met(at, slope);
                    match slope == 0.0 {
                        true => self.is_whole = false,
                        false => self.found.extend(model(self.sheet, at, slope)),
                    }
                    self.enter(at, adjoint, &operands, own);
                }
            }
        }
        self.found.sort_by_key(|source| source.cause);
        Swept {
            sources: self.found,
            cancelled: self.cancelled,
            is_whole: self.is_whole,
        }
    }
}

/// The reading of a cell as a cause; `None` where it has none, or holds a word.
pub(super) fn reading(sheet: &Sheet, cell: CellId, slope: f64) -> Option<Source> {
    let (reading, unit) = (sheet.reading(cell)?, sheet.unit(cell)?);
    let is_word = !sheet.words(cell).is_empty();
    if is_word || sheet.is_answer(cell) {
        return None;
    }
    let own = reading.standard_uncertainty(unit);
    let lent = match own {
        Some(_) => None,
        None => lent(sheet, cell).zip(sheet.value(cell)),
    };
    Some(Source {
        cause: Cause::Reading(cell),
        slope,
        published: lent.map(|(lent, _)| lent.source),
        standard: own.or(lent.map(|(lent, value)| lent.share * value.abs())),
        freedom: reading.degrees_of_freedom(),
    })
}

/// What a publication lends a reading that states no uncertainty.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lent {
    /// Coefficient of variation, as a share of the value.
    pub(crate) share: f64,
    /// The publication.
    pub(crate) source: &'static str,
}

/// What the sheet's published repeatability lends a cell.
pub(crate) fn lent(sheet: &Sheet, cell: CellId) -> Option<Lent> {
    let set = sheet.said_together().repeatability?;
    Some(Lent {
        share: set.share_of(&sheet.name(cell))?,
        source: set.cited,
    })
}

/// The formula of a cell as a cause; `None` where it states no uncertainty of its own.
pub(super) fn model(sheet: &Sheet, cell: CellId, slope: f64) -> Option<Source> {
    sheet.about(cell)?.model_uncertainty?;
    Some(Source {
        cause: Cause::Model(cell),
        slope,
        published: None,
        standard: model_uncertainty(sheet, cell),
        freedom: f64::INFINITY,
    })
}

/// Standard uncertainty of a cell's own formula, in the cell's unit.
pub(crate) fn model_uncertainty(sheet: &Sheet, cell: CellId) -> Option<f64> {
    let about = sheet.about(cell)?;
    let model = about.model_uncertainty?;
    about.stated_in.convert(model.standard, sheet.unit(cell)?)
}

/// The causes of the difference of two cells in one unit: a cause of both counts once, and not at
/// all where it cancels.
pub(super) fn subtract(from: &[Source], what: &[Source]) -> Vec<Source> {
    left_of(from, what, less)
}

/// The causes of a change from one cell to another in one unit, held against no change. What the
/// error of a cause of both makes of no change is none where it shifts both alike, and none where it
/// scales both alike: whichever leaves less is left. `ratio` is the first value over the second.
pub(super) fn change(first: &[Source], second: &[Source], ratio: f64) -> Vec<Source> {
    let has_ratio = ratio.is_finite() && ratio > 0.0;
    left_of(second, first, |second, first| {
        let shifted = less(second, first);
        if !has_ratio || second == 0.0 || first == 0.0 {
            return shifted;
        }
        let scaled = less(second * ratio, first);
        match scaled.abs() < shifted.abs() {
            true => scaled,
            false => shifted,
        }
    })
}

/// One slope less another, without what is left where they cancel.
fn less(from: f64, what: f64) -> f64 {
    settled(from - what, from.abs() + what.abs())
}

/// All causes of two cells, each with what `left` leaves of its slopes in them, zero for one that a
/// cell does not have; those of which nothing is left are dropped.
fn left_of(from: &[Source], what: &[Source], left: impl Fn(f64, f64) -> f64) -> Vec<Source> {
    let mut slopes: BTreeMap<Cause, (Source, [f64; 2])> = BTreeMap::new();
    for (side, sources) in [from, what].into_iter().enumerate() {
        for source in sources {
            let (_, both) = slopes.entry(source.cause).or_insert((*source, [0.0; 2]));
            both[side] += source.slope;
        }
    }
    let settled = slopes.into_values().map(|(source, [from, what])| Source {
        slope: left(from, what),
        ..source
    });
    settled.filter(|source| source.slope != 0.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_many_beats_there_were_is_no_reading_without_an_uncertainty() {
        let text = "v = beats(20, 21, 19) cm\nx = 2 cm (u = 1 mm)\ncounted = beat_count(v) * x";
        let sheet = Sheet::read(text).unwrap().sheet;
        let found = swept(&sheet, sheet.cell("counted").unwrap());
        let causes: Vec<Cause> = found.sources.iter().map(|s| s.cause).collect();
        assert_eq!(causes, [Cause::Reading(sheet.cell("x").unwrap())]);
    }
}
