//! Signs, sums, products, powers and functions: what they do to units.

use super::*;

impl Reader<'_> {
    pub(super) fn unary(&mut self, unary: Unary, a: At, term: Term) -> Read {
        let term = self.quantity(a, term)?;
        if term.is_withheld {
            return Some(term);
        }
        match unary {
            Unary::Negate => Some(self.map(term, Step::Negate, |x| -x)),
            Unary::Abs => Some(self.map(term, Step::Abs, f64::abs)),
            Unary::Sqrt => {
                let Some(dimension) = term.dimension.root() else {
                    let message = format!(
                        "`sqrt({})` takes the root of {}, which has no unit",
                        self.text(a),
                        self.unit_of(a, &term)
                    );
                    return self.refuse(message, Some("only even powers of units have a root"));
                };
                let root = self.map(term, Step::Sqrt, f64::sqrt);
                Some(Term {
                    dimension,
                    factor: term.factor.sqrt(),
                    kind: Kind::Plain,
                    written: Written::Computed,
                    ..root
                })
            }
            Unary::Exp => self.of_number("exp", a, term, Step::Exp),
            Unary::Ln => self.of_number("ln", a, term, Step::Ln),
            Unary::Cos => {
                if term.dimension != Dimension::ANGLE {
                    let message = format!(
                        "`cos` takes an angle, but `{}` is {}",
                        self.text(a),
                        self.unit_of(a, &term)
                    );
                    return self.refuse(message, Some("give the angle a unit, such as `20 deg`"));
                }
                let plain = self.scaled(term, 1.0);
                let register = self.register(plain.place);
                Some(bare(self.emit(Step::Cos(register))))
            }
        }
    }

    pub(super) fn of_number(
        &mut self,
        name: &str,
        a: At,
        term: Term,
        step: fn(Reg) -> Step,
    ) -> Read {
        if !term.dimension.is_none() {
            let message = format!(
                "`{name}` takes a bare number, but `{}` is {}",
                self.text(a),
                self.unit_of(a, &term)
            );
            return self.refuse(message, Some("divide by a unit first, such as `/ 1 kg`"));
        }
        let plain = self.scaled(term, 1.0);
        let register = self.register(plain.place);
        Some(bare(self.emit(step(register))))
    }

    pub(super) fn binary(&mut self, binary: Binary, a: (At, Term), b: (At, Term)) -> Read {
        let (x, y) = (self.quantity(a.0, a.1)?, self.quantity(b.0, b.1)?);
        match binary {
            Binary::Add => {
                let (x, y) = self.alike("adds", (a.0, x), (b.0, y))?;
                let (x, y) = self.one_size(x, y);
                Some(self.sum(x, y))
            }
            Binary::Subtract => {
                let (y, x) = self.alike("subtracts", (b.0, y), (a.0, x))?;
                let (x, y) = self.one_size(x, y);
                Some(self.difference(x, y))
            }
            Binary::Multiply => self.product(x, y),
            Binary::Divide => self.quotient(x, y),
            // Handled by the caller, with the literal exponent still in sight.
            Binary::Power => self.power((a.0, x), (b.0, y)),
        }
    }

    pub(super) fn sum(&mut self, x: Term, y: Term) -> Term {
        let place = match (x.place, y.place) {
            (Place::Register(a), Place::Literal(k)) => self.emit(Step::AddNumber(a, k)),
            (Place::Literal(k), Place::Register(b)) => self.emit(Step::AddNumber(b, k)),
            _ => {
                let (a, b) = (self.register(x.place), self.register(y.place));
                self.emit(Step::Add(a, b))
            }
        };
        joined(x, y, place)
    }

    pub(super) fn difference(&mut self, x: Term, y: Term) -> Term {
        let place = match (x.place, y.place) {
            (Place::Register(a), Place::Literal(k)) => self.emit(Step::AddNumber(a, -k)),
            _ => {
                let (a, b) = (self.register(x.place), self.register(y.place));
                self.emit(Step::Subtract(a, b))
            }
        };
        joined(x, y, place)
    }

    pub(super) fn product(&mut self, x: Term, y: Term) -> Read {
        let Some(dimension) = x.dimension.times(y.dimension) else {
            let message = format!(
                "the unit of `{}` has exponents beyond counting",
                self.text(self.at)
            );
            return self.refuse(message, None);
        };
        let place = match (x.place, y.place) {
            (place, Place::Literal(1.0)) | (Place::Literal(1.0), place) => place,
            (Place::Register(a), Place::Literal(k)) | (Place::Literal(k), Place::Register(a)) => {
                self.emit(Step::Times(a, k))
            }
            (Place::Literal(a), Place::Literal(b)) if (a * b).is_finite() => Place::Literal(a * b),
            _ => {
                let (a, b) = (self.register(x.place), self.register(y.place));
                self.emit(Step::Multiply(a, b))
            }
        };
        if x.is_withheld || y.is_withheld {
            return Some(withheld(place));
        }
        self.sized(Term {
            place,
            dimension,
            factor: x.factor * y.factor,
            ..self.scaled_kind(x, y)
        })
    }

    pub(super) fn quotient(&mut self, x: Term, y: Term) -> Read {
        let Some(dimension) = x.dimension.over(y.dimension) else {
            let message = format!(
                "the unit of `{}` has exponents beyond counting",
                self.text(self.at)
            );
            return self.refuse(message, None);
        };
        let place = match (x.place, y.place) {
            (place, Place::Literal(1.0)) => place,
            (Place::Register(a), Place::Literal(k)) if k != 0.0 => self.emit(Step::Over(a, k)),
            (Place::Literal(a), Place::Literal(b)) if (a / b).is_finite() => Place::Literal(a / b),
            _ => {
                let (a, b) = (self.register(x.place), self.register(y.place));
                self.emit(Step::Divide(a, b))
            }
        };
        if x.is_withheld || y.is_withheld {
            return Some(withheld(place));
        }
        let kind = if y.dimension.is_none() && y.kind == Kind::Plain {
            x
        } else {
            plain_computed(x)
        };
        self.sized(Term {
            place,
            dimension,
            factor: x.factor / y.factor,
            ..kind
        })
    }

    /// A product with a bare number keeps the kind; any other is plain.
    pub(super) fn scaled_kind(&self, x: Term, y: Term) -> Term {
        let is_bare = |t: Term| t.dimension.is_none() && t.kind == Kind::Plain;
        if is_bare(y) {
            x
        } else if is_bare(x) {
            y
        } else {
            plain_computed(x)
        }
    }

    pub(super) fn power(&mut self, (a, x): (At, Term), (b, y): (At, Term)) -> Read {
        let (x, y) = (self.quantity(a, x)?, self.quantity(b, y)?);
        if x.is_withheld || y.is_withheld {
            let (a, b) = (self.register(x.place), self.register(y.place));
            return Some(withheld(self.emit(Step::Power(a, b))));
        }
        if !y.dimension.is_none() {
            let message = format!(
                "an exponent must be a bare number, but `{}` is {}",
                self.text(b),
                self.unit_of(b, &y)
            );
            return self.refuse(message, None);
        }
        let y = self.scaled(y, 1.0);
        match y.place {
            Place::Literal(n) if n.fract() == 0.0 && n.abs() <= MOST_WHOLE => {
                self.whole_power(x, n as i32)
            }
            _ if x.dimension.is_none() => {
                let x = self.scaled(x, 1.0);
                let (a, b) = (self.register(x.place), self.register(y.place));
                Some(bare(self.emit(Step::Power(a, b))))
            }
            _ => {
                let message = format!(
                    "`{}` is {}: its exponent must be a whole number from -{MOST_WHOLE} to {MOST_WHOLE}",
                    self.text(a),
                    self.unit_of(a, &x)
                );
                self.refuse(message, Some("divide by a unit first, such as `/ 1 kg`"))
            }
        }
    }

    pub(super) fn whole_power(&mut self, x: Term, n: i32) -> Read {
        let Some(dimension) = x.dimension.power(n) else {
            let message = format!(
                "the unit of `{}` has exponents beyond counting",
                self.text(self.at)
            );
            return self.refuse(message, None);
        };
        let place = match (n, x.place) {
            (1, place) => place,
            (2, place) => {
                let a = self.register(place);
                self.emit(Step::Multiply(a, a))
            }
            (n, place) => {
                let a = self.register(place);
                self.emit(Step::WholePower(a, n))
            }
        };
        let kind = if n == 1 { x } else { plain_computed(x) };
        self.sized(Term {
            place,
            dimension,
            factor: x.factor.powi(n),
            ..kind
        })
    }

    pub(super) fn many(&mut self, many: Many, parts: &[(At, Term)]) -> Read {
        let mut total = self.quantity(parts[0].0, parts[0].1)?;
        let first = parts[0].0;
        for (at, term) in &parts[1..] {
            let term = self.quantity(*at, *term)?;
            let verb = match many {
                Many::Min | Many::Max => "compares",
                Many::Mean => "averages",
            };
            let (x, y) = self.alike(verb, (first, total), (*at, term))?;
            let (x, y) = self.one_size(x, y);
            total = match many {
                Many::Mean => self.sum(x, y),
                Many::Min | Many::Max => {
                    let (a, b) = (self.register(x.place), self.register(y.place));
                    let step = if many == Many::Min {
                        Step::Min(a, b)
                    } else {
                        Step::Max(a, b)
                    };
                    let place = self.emit(step);
                    joined(x, y, place)
                }
            };
        }
        if many == Many::Mean && parts.len() > 1 {
            let a = self.register(total.place);
            let place = self.emit(Step::Over(a, parts.len() as f64));
            total = Term { place, ..total };
        }
        Some(total)
    }

    pub(super) fn clamp(&mut self, a: (At, Term), low: (At, Term), high: (At, Term)) -> Read {
        let (x, low) = self.alike("clamps", a, low)?;
        let (x, high) = self.alike("clamps", (a.0, x), high)?;
        // All three to the size of one, so that a literal is not brought to two sizes in turn.
        let sizes = [x, low, high];
        let factor = sizes
            .iter()
            .find(|t| matches!(t.place, Place::Register(_)) && !t.is_withheld)
            .map_or(x.factor, |t| t.factor);
        let [x, low, high] = sizes.map(|t| self.scaled(t, factor));
        let [a, b, c] = [x, low, high].map(|t| self.register(t.place));
        let place = self.emit(Step::Clamp(a, b, c));
        Some(joined(joined(x, low, place), high, place))
    }
}
