//! What operations stand on: the lanes that are given, and what rows and the sheet state.

use std::collections::HashMap;

use super::{Place, Stated, Where};
use crate::formula::{CellId, Code, Lane, Slope, Source, Term};
use crate::sheet::{Program, Sheet};
use crate::uncertainty::settings::Settings;
use crate::uncertainty::source;

/// A sheet, what rows supply of it, and what of that operations read.
pub(super) struct Ground<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) settings: &'a Settings,
    pub(super) program: &'a Program,
    bound: &'a [(CellId, Stated)],
    pub(super) places: Vec<Place>,
    numbers: HashMap<Place, u32>,
    pub(super) constants: Vec<Lane>,
    pub(super) columns: Vec<CellId>,
    pub(super) lent: Vec<(CellId, &'static str)>,
}

/// What a sweep back ends at. Those of one cell stand in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum What {
    /// A reading.
    Reading(CellId),
    /// The formula of a cell itself.
    Model(CellId),
    /// A slot whose variance is carried on.
    Slot(CellId, usize),
}

impl What {
    pub(super) fn cell(self) -> CellId {
        match self {
            What::Reading(cell) | What::Model(cell) | What::Slot(cell, _) => cell,
        }
    }
}

/// An end on the way to being written down.
pub(super) struct Cut {
    pub(super) what: What,
    pub(super) slope: Slope,
    /// Where the value stands.
    pub(super) value: Place,
}

/// What a reading of the sheet's own states.
fn own_standard(sheet: &Sheet, cell: CellId) -> Option<f64> {
    sheet.reading(cell)?.standard_uncertainty(sheet.unit(cell)?)
}

impl<'a> Ground<'a> {
    pub(super) fn new(
        sheet: &'a Sheet,
        bound: &'a [(CellId, Stated)],
        settings: &'a Settings,
        program: &'a Program,
    ) -> Ground<'a> {
        Ground {
            sheet,
            settings,
            program,
            bound,
            places: Vec::new(),
            numbers: HashMap::new(),
            constants: Vec::new(),
            columns: Vec::new(),
            lent: Vec::new(),
        }
    }

    pub(super) fn given(&mut self, place: Place) -> u32 {
        let next = self.places.len() as u32;
        *self.numbers.entry(place).or_insert_with(|| {
            self.places.push(place);
            next
        })
    }

    fn lanes(&mut self, place: Place) -> Term {
        Term::Lanes(Source::Given(self.given(place)))
    }

    /// Where the own reading of a cell stands whose formula uses it.
    pub(super) fn own_place(&mut self, slot: usize, row: Option<usize>) -> Place {
        if let Some(row) = row {
            return Place::Row(row);
        }
        let cell = self.program.course(slot, self.sheet).cell;
        let reading = self.sheet.reading(cell);
        let lane = reading.map_or(Lane::MISSING, |r| self.sheet.lane_of_reading(cell, r));
        let at = self.constants.iter().position(|known| *known == lane);
        Place::Constant(at.unwrap_or_else(|| {
            self.constants.push(lane);
            self.constants.len() - 1
        }))
    }

    pub(super) fn reading(&self, cell: CellId, slope: Slope, value: Place) -> Option<Cut> {
        let is_number = self.sheet.unit(cell).is_some() && self.sheet.words(cell).is_empty();
        let is_read = self.bound.iter().any(|(bound, _)| *bound == cell)
            || self.sheet.reading(cell).is_some();
        (is_number && is_read).then_some(Cut {
            what: What::Reading(cell),
            slope,
            value,
        })
    }

    pub(super) fn model(&self, cell: CellId, slope: Slope, slot: usize) -> Option<Cut> {
        let about = self.sheet.about(cell)?;
        about.model_uncertainty.map(|_| Cut {
            what: What::Model(cell),
            slope,
            value: Place::Slot(slot),
        })
    }

    /// In which rows a cause has a standard uncertainty, and which.
    pub(super) fn stated(&mut self, code: &mut Code, cut: &Cut) -> (Where, Option<Term>) {
        let always = |u: Option<Term>| match u {
            Some(_) => (Where::Always, u),
            None => (Where::Never, None),
        };
        let cell = match cut.what {
            What::Reading(cell) => cell,
            What::Slot(..) => return always(None),
            What::Model(cell) => {
                return always(source::model_uncertainty(self.sheet, cell).map(Term::Number));
            }
        };
        let bound = self.bound.iter().find(|(bound, _)| *bound == cell);
        match bound.map(|(_, stated)| *stated) {
            None => match own_standard(self.sheet, cell) {
                Some(u) => always(Some(Term::Number(u))),
                None => always(self.lent(code, cell, cut.value)),
            },
            Some(Stated::Constant(u)) => always(Some(Term::Number(u))),
            Some(Stated::Share(share)) => always(Some(self.share(code, share, cut.value))),
            Some(Stated::Unstated) => always(self.lent(code, cell, cut.value)),
            Some(Stated::Column) => {
                let column = self.column(cell);
                let given = self.given(Place::Column(column));
                match self.lent(code, cell, cut.value) {
                    Some(lent) => (Where::Always, Some(code.known_or(given, lent))),
                    None => {
                        let u = code.known_or(given, Term::Number(0.0));
                        (Where::Column(column), Some(u))
                    }
                }
            }
        }
    }

    fn column(&mut self, cell: CellId) -> usize {
        let at = self.columns.iter().position(|c| *c == cell);
        at.unwrap_or_else(|| {
            self.columns.push(cell);
            self.columns.len() - 1
        })
    }

    fn share(&mut self, code: &mut Code, share: f64, value: Place) -> Term {
        let value = self.lanes(value);
        let size = code.absolute(value);
        code.multiply(size, Term::Number(share))
    }

    /// What the published repeatability that the sheet asks for says of a reading.
    fn lent(&mut self, code: &mut Code, cell: CellId, value: Place) -> Option<Term> {
        let lent = source::lent(self.sheet, cell)?;
        if !self.lent.iter().any(|(known, _)| *known == cell) {
            self.lent.push((cell, lent.source));
        }
        Some(self.share(code, lent.share, value))
    }

    /// The correlation of two ends.
    pub(super) fn between(&self, a: What, b: What) -> f64 {
        match (a, b) {
            (What::Reading(a), What::Reading(b)) => self.settings.between(a, b),
            (a, b) => f64::from(u8::from(a == b)),
        }
    }
}
