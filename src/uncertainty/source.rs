//! Causes: what the error of a cell comes from, and how strongly.

use std::collections::BTreeMap;

use crate::formula::CellId;
use crate::sheet::{Local, Sheet};

/// Whether a cause is a reading, or the formula of a cell itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Cause {
    /// The reading of a cell.
    Reading(CellId),
    /// The model uncertainty of a cell's formula.
    Model(CellId),
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

/// Contributions that cancel leave rounding behind; what is left below this share of what was
/// added up is none.
const CANCELLED: f64 = 1e-12;

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
        // An infinite slope must not look cancelled.
        match self.size.is_finite() && self.slope.abs() <= CANCELLED * self.size {
            true => 0.0,
            false => self.slope,
        }
    }
}

/// The causes of a known cell: one sweep from it back to the readings, each cell once. Causes
/// that the cell does not depend on are left out.
pub(super) fn sources(sheet: &Sheet, cell: CellId) -> Vec<Source> {
    let mut waiting: BTreeMap<(u32, CellId), Adjoint> = BTreeMap::new();
    let one = Adjoint {
        slope: 1.0,
        size: 1.0,
    };
    waiting.insert((sheet.place_in_order(cell), cell), one);
    let mut found = Vec::new();
    while let Some(((_, at), adjoint)) = waiting.pop_last() {
        match sheet.local(at) {
            Local::Reading => found.extend(reading(sheet, at, adjoint)),
            Local::Formula { operands, own } => {
                found.extend(model(sheet, at, adjoint));
                for (operand, slope, size) in operands {
                    if size != 0.0 {
                        let key = (sheet.place_in_order(operand), operand);
                        waiting.entry(key).or_default().add(adjoint, slope, size);
                    }
                }
                if let Some((slope, size)) = own.filter(|(_, size)| *size != 0.0) {
                    let mut own = Adjoint::default();
                    own.add(adjoint, slope, size);
                    found.extend(reading(sheet, at, own));
                }
            }
        }
    }
    found.sort_by_key(|source| source.cause);
    found
}

fn reading(sheet: &Sheet, cell: CellId, adjoint: Adjoint) -> Option<Source> {
    let slope = adjoint.settled();
    let (reading, unit) = (sheet.reading(cell)?, sheet.unit(cell)?);
    let is_word = !sheet.words(cell).is_empty();
    if slope == 0.0 || is_word {
        return None;
    }
    let freedom = match reading.spread() {
        Some(_) => None,
        None => reading
            .beats()
            .scatter()
            .map(|(_, freedom)| f64::from(freedom)),
    };
    let own = reading.standard_uncertainty(unit);
    let published = match own {
        Some(_) => None,
        None => sheet.said_together().repeatability,
    };
    let lent = published
        .and_then(|set| set.share_of(&sheet.name(cell)))
        .zip(sheet.value(cell))
        .map(|(share, value)| share * value.abs());
    Some(Source {
        cause: Cause::Reading(cell),
        slope,
        published: lent.and(published).map(|set| set.source),
        standard: own.or(lent),
        freedom: freedom.unwrap_or(f64::INFINITY),
    })
}

fn model(sheet: &Sheet, cell: CellId, adjoint: Adjoint) -> Option<Source> {
    let slope = adjoint.settled();
    let about = sheet.about(cell)?;
    let model = about.model_uncertainty.filter(|_| slope != 0.0)?;
    Some(Source {
        cause: Cause::Model(cell),
        slope,
        published: None,
        standard: about.stated_in.convert(model.standard, sheet.unit(cell)?),
        freedom: f64::INFINITY,
    })
}
