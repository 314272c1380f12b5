//! What may be joined with what, and how the result fits the cell it is shown in.

use super::*;

impl Reader<'_> {
    /// The two terms if they can be added, the second in the first's stead; or an error that
    /// names both sides.
    pub(super) fn alike(
        &mut self,
        verb: &str,
        a: (At, Term),
        b: (At, Term),
    ) -> Option<(Term, Term)> {
        let (x, y) = (self.quantity(a.0, a.1)?, self.quantity(b.0, b.1)?);
        match (x.is_withheld, y.is_withheld) {
            (true, _) => {
                return Some((
                    Term {
                        place: x.place,
                        ..y
                    },
                    y,
                ));
            }
            (_, true) => {
                return Some((
                    x,
                    Term {
                        place: y.place,
                        ..x
                    },
                ));
            }
            (false, false) => {}
        }
        if x.dimension != y.dimension {
            let message = format!(
                "`{}` {verb} {} {} {}",
                self.text(self.at),
                self.unit_of(a.0, &x),
                if verb == "adds" {
                    "to"
                } else if verb == "subtracts" {
                    "from"
                } else {
                    "and"
                },
                self.unit_of(b.0, &y),
            );
            self.refuse(message, None);
            return None;
        }
        if x.kind.meet(y.kind).is_none() {
            let message = format!(
                "`{}` {verb} {} and {}",
                self.text(self.at),
                with_article(x.kind),
                with_article(y.kind)
            );
            self.refuse(
                message,
                Some("they have the same unit but are unlike quantities"),
            );
            return None;
        }
        self.written_as(x.kind, b.0, y)?;
        self.written_as(y.kind, a.0, x)?;
        Some((x, y))
    }

    /// Refuses a plain length where a quantity per area is wanted: only its unit can tell.
    pub(super) fn written_as(&mut self, kind: Kind, at: At, term: Term) -> Option<()> {
        let is_plain = term.kind == Kind::Plain && term.written == Written::Otherwise;
        if !(kind.is_per_area() && is_plain) {
            return Some(());
        }
        let message = format!(
            "`{}` is {}, but {} is written per area",
            self.text(at),
            self.unit_of(at, &term),
            with_article(kind)
        );
        let hint = "write its unit in full, such as mL/m2 or L/min/m2";
        self.refuse(message, Some(hint)).map(|_| ())
    }

    pub(super) fn finish(mut self, result: Read) -> Result<Resolved, Vec<Misfit>> {
        self.at = self.formula.root();
        if self.formula.ops().is_empty() {
            self.refuse("the formula is empty".into(), None);
            return Err(self.misfits);
        }
        let fitted = result.and_then(|term| self.fit(term));
        if self.is_full && self.misfits.is_empty() {
            let message = format!("the formula has more than {MOST_REGISTERS} parts");
            self.refuse(message, Some("split it over several cells"));
        }
        match fitted {
            Some((register, unit, kind)) if self.misfits.is_empty() => Ok(Resolved {
                tape: Tape {
                    is_straight: !self.steps.iter().any(|s| s.looks_at_states()),
                    operands: self.operands.len() as u16,
                    uses_reading: self.formula.uses_reading(),
                    result: register,
                    steps: self.steps,
                    source: self.source,
                },
                unit,
                kind,
            }),
            _ => Err(self.misfits),
        }
    }

    /// Brings the result into the unit it is shown in.
    pub(super) fn fit(&mut self, term: Term) -> Option<(Reg, Unit, Kind)> {
        let root = self.formula.root();
        if self.target.condition {
            let term = self.condition(root, term)?;
            return Some((self.register(term.place), Unit::ONE, Kind::Plain));
        }
        let mut term = self.quantity(root, term)?;
        if term.is_withheld {
            let unit = self.target.unit.unwrap_or(Unit::ONE);
            term.dimension = unit.dimension();
            term.factor = unit.factor();
            term.kind = self.target.kind;
        }
        let Some(kind) = self.target.kind.meet(term.kind) else {
            let message = format!(
                "`{}` is {}, but this cell is {}",
                self.text(root),
                with_article(term.kind),
                with_article(self.target.kind)
            );
            self.refuse(message, None);
            return None;
        };
        let unit = match self.target.unit {
            Some(unit) => unit,
            None => self.natural_unit(&term)?,
        };
        if unit.dimension() != term.dimension {
            let message = format!(
                "`{}` is {}, which cannot be shown {} {}",
                self.text(root),
                self.unit_of(root, &term),
                if unit == Unit::ONE { "as" } else { "in" },
                named(unit)
            );
            self.refuse(message, Some(BRACKETS_HINT));
            return None;
        }
        self.written_as(kind, root, term)?;
        if let Some(message) = kind_refuses(kind, unit) {
            self.refuse(message, None);
            return None;
        }
        let scaled = self.scaled(term, unit.factor());
        Some((self.register(scaled.place), unit, kind))
    }

    /// The unit of an operand of the same dimension and size of thing, else a coherent one.
    pub(super) fn natural_unit(&mut self, term: &Term) -> Option<Unit> {
        let like = self
            .operands
            .iter()
            .find(|o| o.unit.dimension() == term.dimension && o.kind == term.kind);
        let literal = self.formula.ops().iter().find_map(|op| match op {
            Op::Number { unit, .. } if unit.dimension() == term.dimension => Some(*unit),
            _ => None,
        });
        if let Some(unit) = like.map(|o| o.unit).or(literal) {
            return Some(unit);
        }
        match Unit::parse(&term.dimension.coherent_unit()) {
            Ok(unit) => Some(unit),
            Err(error) => {
                self.refuse(error.to_string(), Some("state the unit in brackets"));
                None
            }
        }
    }
}

/// Why a unit cannot show a kind, if it cannot.
pub(crate) fn kind_refuses(kind: Kind, unit: Unit) -> Option<String> {
    let lengths = unit.dimension().exponents()[0] != 0;
    if kind.is_per_area() && !unit.is_per_area() {
        return Some(format!(
            "{} is shown per area, such as in mL/m2 or L/min/m2, not in {}",
            with_article(kind),
            named(unit)
        ));
    }
    let is_other_kind = kind != Kind::Plain && !kind.is_per_area();
    if is_other_kind && lengths && unit.is_per_area() {
        return Some(format!(
            "{} is not a quantity per area; {} does not show it",
            with_article(kind),
            unit.code()
        ));
    }
    None
}
