//! How the uncertainties of cells are written down as operations over blocks.

use super::{Columns, Found, Place, Stated, Wanted, Where};
use crate::formula::{CellId, Code, Lane, Slope, Source, Tape, Term};
use crate::sheet::{Program, Sheet};
use crate::uncertainty::error::UncertaintyError;
use crate::uncertainty::settings::Settings;
use crate::uncertainty::source::{self, Cause};

pub(super) fn columns(
    sheet: &Sheet,
    wanted: &[CellId],
    bound: &[(CellId, Stated)],
    settings: &Settings,
) -> Result<Columns, UncertaintyError> {
    check(sheet, wanted, bound)?;
    settings.check(sheet)?;
    let cells: Vec<CellId> = bound.iter().map(|(cell, _)| *cell).collect();
    let program = Program::new(sheet, wanted, &cells);
    let mut maker = Maker {
        sheet,
        bound,
        settings,
        locals: vec![None; program.slots()],
        program: &program,
        code: Code::default(),
        places: Vec::new(),
        constants: Vec::new(),
        columns: Vec::new(),
        lent: Vec::new(),
    };
    let mut made = Vec::with_capacity(wanted.len());
    for cell in wanted {
        let slot = program.slot(*cell).ok_or_else(|| unknown(sheet, *cell))?;
        made.push(maker.wanted(slot));
    }
    let Maker {
        code,
        places,
        constants,
        columns,
        lent,
        ..
    } = maker;
    Ok(Columns {
        program,
        code,
        places,
        constants,
        columns,
        wanted: made,
        lent,
    })
}

fn unknown(sheet: &Sheet, cell: CellId) -> UncertaintyError {
    UncertaintyError::NotKnown {
        cell: sheet.name(cell),
    }
}

fn check(
    sheet: &Sheet,
    wanted: &[CellId],
    bound: &[(CellId, Stated)],
) -> Result<(), UncertaintyError> {
    let cells = wanted.iter().chain(bound.iter().map(|(cell, _)| cell));
    for cell in cells {
        sheet.unit(*cell).ok_or_else(|| unknown(sheet, *cell))?;
    }
    if let Some(word) = wanted.iter().find(|cell| !sheet.words(**cell).is_empty()) {
        return Err(unknown(sheet, *word));
    }
    for (_, stated) in bound {
        if let Stated::Constant(u) | Stated::Share(u) = stated
            && !(*u >= 0.0 && u.is_finite())
        {
            return Err(UncertaintyError::Number {
                what: "a standard uncertainty",
                value: *u,
                way_out: "it is zero or more",
            });
        }
    }
    Ok(())
}

/// What a reading of the sheet's own states.
fn own_standard(sheet: &Sheet, cell: CellId) -> Option<f64> {
    sheet.reading(cell)?.standard_uncertainty(sheet.unit(cell)?)
}

struct Maker<'a> {
    sheet: &'a Sheet,
    bound: &'a [(CellId, Stated)],
    settings: &'a Settings,
    program: &'a Program,
    code: Code,
    places: Vec<Place>,
    constants: Vec<Lane>,
    columns: Vec<CellId>,
    lent: Vec<(CellId, &'static str)>,
    /// Slopes of the formula of each slot, once they were needed.
    locals: Vec<Option<Vec<Option<Slope>>>>,
}

/// A cause on the way to being written down.
struct Cut {
    cause: Cause,
    slope: Slope,
    /// Where the value of a reading stands.
    value: Place,
}

impl Maker<'_> {
    fn given(&mut self, place: Place) -> u32 {
        let at = self.places.iter().position(|p| *p == place);
        at.unwrap_or_else(|| {
            self.places.push(place);
            self.places.len() - 1
        }) as u32
    }

    fn lanes(&mut self, place: Place) -> Term {
        Term::Lanes(Source::Given(self.given(place)))
    }

    fn wanted(&mut self, slot: usize) -> Wanted {
        let mut cuts = self.sweep(slot);
        cuts.sort_by_key(|cut| cut.cause);
        let mut causes = Vec::new();
        let mut parts = Vec::new();
        for cut in cuts {
            let slope = self.code.settle(cut.slope);
            let (stated, u) = self.stated(&cut);
            causes.push(Found {
                cell: cut.cause.cell(),
                slope,
                stated,
            });
            parts.push(Part {
                cause: cut.cause,
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

    /// One sweep from a cell back to its causes, each cell once.
    fn sweep(&mut self, from: usize) -> Vec<Cut> {
        let mut waiting: Vec<Option<Slope>> = vec![None; from + 1];
        waiting[from] = Some(Slope::ONE);
        let mut cuts = Vec::new();
        for slot in (0..=from).rev() {
            let Some(slope) = waiting[slot] else {
                continue;
            };
            let course = self.program.course(slot, self.sheet);
            if course.is_companion {
                continue;
            }
            let Some((tape, operands)) = course.formula else {
                cuts.extend(self.reading(course.cell, slope, Place::Slot(slot)));
                continue;
            };
            let slope = match course.row.filter(|_| !tape.uses_reading()) {
                None => Some(slope),
                Some(row) => {
                    let read = self.branch(slope, row, true);
                    let read = read.and_then(|s| self.reading(course.cell, s, Place::Row(row)));
                    cuts.extend(read);
                    self.branch(slope, row, false)
                }
            };
            let Some(slope) = slope else {
                continue;
            };
            cuts.extend(self.model(course.cell, slope, slot));
            let local = self.local(slot, tape, operands, course.row);
            for (at, step) in local.into_iter().enumerate() {
                let Some(more) = step.and_then(|step| self.code.carry(slope, step, true)) else {
                    continue;
                };
                match operands.get(at) {
                    Some(operand) => {
                        let before = waiting[*operand];
                        waiting[*operand] = Some(self.code.sum(before, more));
                    }
                    None => {
                        let place = self.own_place(slot, course.row);
                        cuts.extend(self.reading(course.cell, more, place));
                    }
                }
            }
        }
        cuts
    }

    /// A slope where a row supplies the cell, or where it does not.
    fn branch(&mut self, slope: Slope, row: usize, is_read: bool) -> Option<Slope> {
        let given = self.given(Place::Row(row));
        let step = Slope {
            slope: self.code.where_known(given, is_read),
            size: None,
        };
        self.code.carry(slope, step, true)
    }

    /// Where the own reading of a cell stands whose formula uses it.
    fn own_place(&mut self, slot: usize, row: Option<usize>) -> Place {
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

    fn local(
        &mut self,
        slot: usize,
        tape: &Tape,
        operands: &[usize],
        row: Option<usize>,
    ) -> Vec<Option<Slope>> {
        if let Some(known) = &self.locals[slot] {
            return known.clone();
        }
        let own = tape.uses_reading().then(|| self.own_place(slot, row));
        let numbers: Vec<u32> = (0..tape.registers())
            .map(|reg| {
                let step = Place::Step(slot, reg.saturating_sub(tape.inputs()));
                let own = own.filter(|_| reg < tape.inputs()).unwrap_or(step);
                let operand = operands.get(reg).map(|o| Place::Slot(*o));
                self.given(operand.unwrap_or(own))
            })
            .collect();
        let local = self.code.slopes(tape, |reg| numbers[usize::from(reg)]);
        self.locals[slot] = Some(local.clone());
        local
    }

    fn reading(&self, cell: CellId, slope: Slope, value: Place) -> Option<Cut> {
        let is_number = self.sheet.unit(cell).is_some() && self.sheet.words(cell).is_empty();
        let is_read = self.bound.iter().any(|(bound, _)| *bound == cell)
            || self.sheet.reading(cell).is_some();
        (is_number && is_read).then_some(Cut {
            cause: Cause::Reading(cell),
            slope,
            value,
        })
    }

    fn model(&self, cell: CellId, slope: Slope, slot: usize) -> Option<Cut> {
        let about = self.sheet.about(cell)?;
        about.model_uncertainty.map(|_| Cut {
            cause: Cause::Model(cell),
            slope,
            value: Place::Slot(slot),
        })
    }

    /// In which rows a cause has a standard uncertainty, and which.
    fn stated(&mut self, cut: &Cut) -> (Where, Option<Term>) {
        let always = |u: Option<Term>| match u {
            Some(_) => (Where::Always, u),
            None => (Where::Never, None),
        };
        let cell = match cut.cause {
            Cause::Reading(cell) => cell,
            Cause::Model(cell) => {
                return always(source::model_uncertainty(self.sheet, cell).map(Term::Number));
            }
        };
        let bound = self.bound.iter().find(|(bound, _)| *bound == cell);
        match bound.map(|(_, stated)| *stated) {
            None => match own_standard(self.sheet, cell) {
                Some(u) => always(Some(Term::Number(u))),
                None => always(self.lent(cell, cut.value)),
            },
            Some(Stated::Constant(u)) => always(Some(Term::Number(u))),
            Some(Stated::Share(share)) => always(Some(self.share(share, cut.value))),
            Some(Stated::Unstated) => always(self.lent(cell, cut.value)),
            Some(Stated::Column) => {
                let column = self.column(cell);
                let given = self.given(Place::Column(column));
                match self.lent(cell, cut.value) {
                    Some(lent) => (Where::Always, Some(self.code.known_or(given, lent))),
                    None => {
                        let u = self.code.known_or(given, Term::Number(0.0));
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

    fn share(&mut self, share: f64, value: Place) -> Term {
        let value = self.lanes(value);
        let size = self.code.absolute(value);
        self.code.multiply(size, Term::Number(share))
    }

    /// What the published repeatability that the sheet asks for says of a reading.
    fn lent(&mut self, cell: CellId, value: Place) -> Option<Term> {
        let lent = source::lent(self.sheet, cell)?;
        if !self.lent.iter().any(|(known, _)| *known == cell) {
            self.lent.push((cell, lent.source));
        }
        Some(self.share(lent.share, value))
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
            others.into_iter().any(|(_, b)| self.between(a, b) != 0.0)
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
                let correlation = self.between(a, b);
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

    fn between(&self, a: &Part, b: &Part) -> f64 {
        match (a.cause, b.cause) {
            (Cause::Reading(a), Cause::Reading(b)) => self.settings.between(a, b),
            (a, b) => f64::from(u8::from(a == b)),
        }
    }
}

/// A stated cause of a wanted cell.
struct Part {
    cause: Cause,
    slope: Term,
    u: Term,
}
