//! Intermediate values: where they are, in what unit, and how they are brought to another.

use super::*;

/// Where an intermediate value is.
#[derive(Clone, Copy, Debug)]
pub(super) enum Place {
    Register(Reg),
    /// Not yet in a register: a literal, which later steps may take in.
    Literal(f64),
}

/// Whether lengths in the unit were written per area, which the dimension cannot tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Written {
    PerArea,
    Otherwise,
    /// The product of a computation.
    Computed,
}

/// An intermediate value as the reader knows it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Term {
    pub(super) place: Place,
    pub(super) dimension: Dimension,
    /// Coherent units in one unit of the magnitude.
    pub(super) factor: f64,
    pub(super) kind: Kind,
    pub(super) written: Written,
    pub(super) is_condition: bool,
    /// Never has a value, so that it fits any quantity.
    pub(super) is_withheld: bool,
}

impl Reader<'_> {
    /// Appends a step. Where there is no register left for it nothing is appended, and the
    /// formula is refused at the end.
    pub(super) fn emit(&mut self, step: Step) -> Place {
        let register = self.inputs + self.steps.len();
        if register >= MOST_REGISTERS {
            self.is_full = true;
            return Place::Register(0);
        }
        self.steps.push(step);
        self.source.push(self.at);
        Place::Register(register as Reg)
    }

    pub(super) fn literal(&self, value: Exact, unit: Unit) -> Term {
        Term {
            place: Place::Literal(value.0),
            dimension: unit.dimension(),
            factor: unit.factor(),
            kind: Kind::Plain,
            written: written(unit),
            is_condition: false,
            is_withheld: false,
        }
    }

    pub(super) fn own_reading(&self) -> Term {
        let unit = self.target.unit.unwrap_or(Unit::ONE);
        Term {
            place: Place::Register(self.operands.len() as Reg),
            dimension: unit.dimension(),
            factor: unit.factor(),
            kind: self.target.kind,
            written: written(unit),
            is_condition: false,
            is_withheld: false,
        }
    }

    /// A missing value fits any quantity.
    pub(super) fn withheld(&mut self) -> Read {
        Some(withheld(self.emit(Step::Withheld)))
    }

    /// Brings two terms of one dimension to one size of unit.
    pub(super) fn one_size(&mut self, x: Term, y: Term) -> (Term, Term) {
        match (x.place, y.place) {
            // A literal is converted here and costs nothing later.
            (Place::Literal(_), Place::Register(_)) => (self.scaled(x, y.factor), y),
            _ => (x, self.scaled(y, x.factor)),
        }
    }

    /// The term, if its unit has a size that can be held.
    pub(super) fn sized(&mut self, term: Term) -> Read {
        if term.factor.is_normal() {
            return Some(term);
        }
        let message = format!("the unit of `{}` is too small or large", self.text(self.at));
        self.refuse(
            message,
            Some("convert a part to another unit in a cell of its own"),
        )
    }

    /// The term in a unit of `factor` coherent units.
    pub(super) fn scaled(&mut self, term: Term, factor: f64) -> Term {
        let scale = Scale::between(term.factor, factor);
        let place = match (term.place, scale) {
            (place, Scale::Same) => place,
            (Place::Literal(k), scale) if scale.apply(k).is_finite() => {
                Place::Literal(scale.apply(k))
            }
            // A literal too large for the other unit faults when it is used, not before.
            (place, Scale::Times(k)) => {
                let a = self.register(place);
                self.emit(Step::Times(a, k))
            }
            (place, Scale::Over(k)) => {
                let a = self.register(place);
                self.emit(Step::Over(a, k))
            }
        };
        Term {
            place,
            factor,
            ..term
        }
    }

    pub(super) fn map(&mut self, term: Term, step: fn(Reg) -> Step, f: fn(f64) -> f64) -> Term {
        let place = match term.place {
            Place::Literal(k) if f(k).is_finite() => Place::Literal(f(k)),
            place => {
                let a = self.register(place);
                self.emit(step(a))
            }
        };
        Term { place, ..term }
    }

    pub(super) fn register(&mut self, place: Place) -> Reg {
        match place {
            Place::Register(register) => register,
            Place::Literal(k) => match self.emit(Step::Constant(k)) {
                Place::Register(register) => register,
                Place::Literal(_) => 0,
            },
        }
    }
}

pub(super) fn written(unit: Unit) -> Written {
    if unit.is_per_area() {
        Written::PerArea
    } else {
        Written::Otherwise
    }
}

pub(super) fn bare(place: Place) -> Term {
    Term {
        place,
        dimension: Dimension::NONE,
        factor: 1.0,
        kind: Kind::Plain,
        written: Written::Computed,
        is_condition: false,
        is_withheld: false,
    }
}

pub(super) fn withheld(place: Place) -> Term {
    Term {
        is_withheld: true,
        ..bare(place)
    }
}

pub(super) fn condition(place: Place) -> Term {
    Term {
        is_condition: true,
        ..bare(place)
    }
}

pub(super) fn plain_computed(term: Term) -> Term {
    Term {
        kind: Kind::Plain,
        written: Written::Computed,
        ..term
    }
}

/// The result of joining two terms of one dimension and size.
pub(super) fn joined(x: Term, y: Term, place: Place) -> Term {
    let written = if x.written == y.written {
        x.written
    } else {
        Written::Computed
    };
    Term {
        place,
        kind: x.kind.meet(y.kind).unwrap_or(Kind::Plain),
        written,
        ..x
    }
}
