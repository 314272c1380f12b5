//! The reader of dimensions and kinds: checks that a formula makes sense in units, and resolves
//! it into steps with every conversion folded in.
//!
//! Each cell keeps its magnitude in the unit it is shown in, so 2.05 cm stays 2.05. The reader
//! tracks the size of each intermediate unit and inserts a conversion only where two sizes meet.

use std::sync::Arc;

use super::notation::write_op;
use super::op::{At, Binary, Comparison, Exact, Facet, Formula, Many, Op, Unary};
use super::tape::{MOST_REGISTERS, Order, Reg, StateTest, Step, Tape};
use crate::quantity::{Dimension, Kind, Origin, Scale, Unit};

/// What the reader must know of an operand.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct OperandFacts {
    /// The unit its magnitude is kept in.
    pub unit: Unit,
    /// Its kind.
    pub kind: Kind,
    /// The words of a finding; empty for a quantity.
    pub words: Arc<[Arc<str>]>,
}

impl OperandFacts {
    /// A plain quantity in a unit.
    pub fn plain(unit: Unit) -> Self {
        OperandFacts {
            unit,
            kind: Kind::Plain,
            words: Arc::from([]),
        }
    }
}

/// What the formula's own cell must be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Target {
    /// The unit it is shown in, where one is stated.
    pub unit: Option<Unit>,
    /// Its kind.
    pub kind: Kind,
    /// Whether a condition is wanted rather than a quantity.
    pub condition: bool,
}

/// A formula that makes sense.
#[derive(Clone, Debug)]
pub struct Resolved {
    /// The steps.
    pub tape: Tape,
    /// The unit of the result.
    pub unit: Unit,
    /// The kind of the result.
    pub kind: Kind,
}

/// The way out of a unit that does not fit a formula of one's own.
pub(crate) const BRACKETS_HINT: &str = "write a unit of that dimension in the brackets";

/// A place where a formula makes no sense.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misfit {
    /// The operation.
    pub op: At,
    /// What is wrong, naming both sides.
    pub message: String,
    /// The way out.
    pub hint: Option<String>,
}

/// Resolves a formula, or says all that is wrong with it. `names` are the operands' names, for
/// messages; `own` is the reading's unit where the formula uses its cell's own reading.
///
/// # Errors
/// One [`Misfit`] for each place that makes no sense; places that merely follow from another
/// are not listed.
pub fn resolve(
    formula: &Formula,
    operands: &[OperandFacts],
    names: &[&str],
    target: Target,
) -> Result<Resolved, Vec<Misfit>> {
    let mut reader = Reader {
        formula,
        operands,
        names,
        inputs: operands.len() + usize::from(formula.uses_reading()),
        steps: Vec::new(),
        at: 0,
        misfits: Vec::new(),
        is_full: false,
        target,
    };
    if operands.len() != formula.operands().len() {
        let message = format!(
            "the formula has {} operands, but {} are described",
            formula.operands().len(),
            operands.len()
        );
        reader.refuse(message, None);
        return Err(reader.misfits);
    }
    let mut terms: Vec<Option<Term>> = Vec::with_capacity(formula.ops().len());
    for (at, op) in formula.ops().iter().enumerate() {
        reader.at = at as u32;
        let term = reader.read(*op, &terms);
        terms.push(term);
    }
    let result = terms.pop().flatten();
    reader.finish(result)
}

/// Where an intermediate value is.
#[derive(Clone, Copy, Debug)]
enum Place {
    Register(Reg),
    /// Not yet in a register: a literal, which later steps may take in.
    Literal(f64),
}

/// Whether lengths in the unit were written per area, which the dimension cannot tell.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Written {
    PerArea,
    Otherwise,
    /// The product of a computation.
    Computed,
}

/// An intermediate value as the reader knows it.
#[derive(Clone, Copy, Debug)]
struct Term {
    place: Place,
    dimension: Dimension,
    /// Coherent units in one unit of the magnitude.
    factor: f64,
    kind: Kind,
    written: Written,
    is_condition: bool,
    /// Never has a value, so that it fits any quantity.
    is_withheld: bool,
}

struct Reader<'a> {
    formula: &'a Formula,
    operands: &'a [OperandFacts],
    names: &'a [&'a str],
    /// Registers filled before the first step.
    inputs: usize,
    steps: Vec<Step>,
    at: At,
    misfits: Vec<Misfit>,
    /// A step found no register left.
    is_full: bool,
    target: Target,
}

/// Greatest whole exponent of a quantity that has a unit.
const MOST_WHOLE: f64 = 64.0;

/// Longest text of a part that a message shows, in characters.
const LONGEST_SHOWN: usize = 120;

/// A term, or nothing where an error was noted already.
type Read = Option<Term>;

impl Reader<'_> {
    /// Appends a step. Where there is no register left for it nothing is appended, and the
    /// formula is refused at the end.
    fn emit(&mut self, step: Step) -> Place {
        let register = self.inputs + self.steps.len();
        if register >= MOST_REGISTERS {
            self.is_full = true;
            return Place::Register(0);
        }
        self.steps.push(step);
        Place::Register(register as Reg)
    }

    fn refuse(&mut self, message: String, hint: Option<&str>) -> Read {
        self.misfits.push(Misfit {
            op: self.at,
            message,
            hint: hint.map(str::to_owned),
        });
        None
    }

    /// A part as it was written, without its middle where it is long.
    fn text(&self, at: At) -> String {
        let text = write_op(self.formula, at, self.names);
        let length = text.chars().count();
        if length <= LONGEST_SHOWN {
            return text;
        }
        let side = LONGEST_SHOWN / 2 - 2;
        let start: String = text.chars().take(side).collect();
        let end: String = text.chars().skip(length - side).collect();
        format!("{start} … {end}")
    }

    fn name(&self, operand: u32) -> &str {
        self.names.get(operand as usize).copied().unwrap_or("…")
    }

    /// The unit of a part, as a message names it.
    fn unit_of(&self, at: At, term: &Term) -> String {
        let own = match self.formula.ops()[at as usize] {
            Op::Cell(k) => Some(self.operands[k as usize].unit),
            Op::Number { unit, .. } => Some(unit),
            Op::Reading => self.target.unit,
            _ => None,
        };
        match own {
            Some(unit) => named(unit).to_owned(),
            _ if term.dimension.is_none() => "a bare number".to_owned(),
            _ => term.dimension.coherent_unit(),
        }
    }

    fn read(&mut self, op: Op, terms: &[Option<Term>]) -> Read {
        if self.is_full || self.inputs >= MOST_REGISTERS {
            self.is_full = true;
            return None;
        }
        let get = |at: At| terms[at as usize];
        match op {
            Op::Number { value, unit } => Some(self.literal(value, unit)),
            Op::Pi => Some(bare(Place::Literal(std::f64::consts::PI))),
            Op::Cell(k) => self.operand(k),
            Op::Reading => Some(self.own_reading()),
            Op::Unary(unary, a) => self.unary(unary, a, get(a)?),
            Op::Binary(Binary::Power, a, b) => self.power((a, get(a)?), (b, get(b)?)),
            Op::Binary(binary, a, b) => self.binary(binary, (a, get(a)?), (b, get(b)?)),
            Op::Many(many, start, len) => {
                let args = self.formula.args(start, len);
                let parts = args
                    .iter()
                    .map(|a| get(*a).map(|t| (*a, t)))
                    .collect::<Option<Vec<_>>>()?;
                self.many(many, &parts)
            }
            Op::Clamp(a, b, c) => self.clamp((a, get(a)?), (b, get(b)?), (c, get(c)?)),
            Op::If(c, a, b) => self.choose((c, get(c)?), (a, get(a)), (b, get(b))),
            Op::Else(a, b) => {
                let (x, y) = self.alike("chooses between", (a, get(a)?), (b, get(b)?))?;
                let (x, y) = self.one_size(x, y);
                let (a, b) = (self.register(x.place), self.register(y.place));
                let place = self.emit(Step::Else(a, b));
                Some(joined(x, y, place))
            }
            Op::Compare(comparison, a, b) => self.compare(comparison, (a, get(a)?), (b, get(b)?)),
            Op::And(a, b) => self.logic((a, get(a)?), (b, get(b)?), Step::And),
            Op::Or(a, b) => self.logic((a, get(a)?), (b, get(b)?), Step::Or),
            Op::Not(a) => {
                let term = self.condition(a, get(a)?)?;
                let a = self.register(term.place);
                let place = self.emit(Step::Not(a));
                Some(condition(place))
            }
            Op::Is(k, text) => self.is(k, text),
            Op::Differs(a, b) => self.differs(a, b),
            Op::BeatCount(k) => Some(bare(Place::Register(k as Reg))),
            Op::Withheld(_) => self.withheld(),
            Op::Marked(origin, a) => {
                let term = self.quantity(a, get(a)?)?;
                let a = self.register(term.place);
                let place = self.emit(Step::Marked(origin, a));
                Some(Term { place, ..term })
            }
        }
    }

    fn literal(&self, value: Exact, unit: Unit) -> Term {
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

    fn operand(&mut self, k: u32) -> Read {
        let facts = &self.operands[k as usize];
        if !facts.words.is_empty() && self.formula.ops().len() > 1 {
            let message = format!("`{}` is a finding, not a quantity", self.name(k));
            let hint = format!("ask `{} is {}`", self.name(k), facts.words[0]);
            return self.refuse(message, Some(&hint));
        }
        Some(Term {
            place: Place::Register(k as Reg),
            dimension: facts.unit.dimension(),
            factor: facts.unit.factor(),
            kind: facts.kind,
            written: if facts.kind.is_per_area() {
                Written::PerArea
            } else {
                written(facts.unit)
            },
            is_condition: false,
            is_withheld: false,
        })
    }

    fn own_reading(&self) -> Term {
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
    fn withheld(&mut self) -> Read {
        Some(withheld(self.emit(Step::Withheld)))
    }

    fn unary(&mut self, unary: Unary, a: At, term: Term) -> Read {
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

    fn of_number(&mut self, name: &str, a: At, term: Term, step: fn(Reg) -> Step) -> Read {
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

    fn binary(&mut self, binary: Binary, a: (At, Term), b: (At, Term)) -> Read {
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

    fn sum(&mut self, x: Term, y: Term) -> Term {
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

    fn difference(&mut self, x: Term, y: Term) -> Term {
        let place = match (x.place, y.place) {
            (Place::Register(a), Place::Literal(k)) => self.emit(Step::AddNumber(a, -k)),
            _ => {
                let (a, b) = (self.register(x.place), self.register(y.place));
                self.emit(Step::Subtract(a, b))
            }
        };
        joined(x, y, place)
    }

    fn product(&mut self, x: Term, y: Term) -> Read {
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

    fn quotient(&mut self, x: Term, y: Term) -> Read {
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
    fn scaled_kind(&self, x: Term, y: Term) -> Term {
        let is_bare = |t: Term| t.dimension.is_none() && t.kind == Kind::Plain;
        if is_bare(y) {
            x
        } else if is_bare(x) {
            y
        } else {
            plain_computed(x)
        }
    }

    fn power(&mut self, (a, x): (At, Term), (b, y): (At, Term)) -> Read {
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

    fn whole_power(&mut self, x: Term, n: i32) -> Read {
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

    fn many(&mut self, many: Many, parts: &[(At, Term)]) -> Read {
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

    fn clamp(&mut self, a: (At, Term), low: (At, Term), high: (At, Term)) -> Read {
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

    fn choose(&mut self, c: (At, Term), a: (At, Read), b: (At, Read)) -> Read {
        let chosen = self.condition(c.0, c.1);
        let (x, y) = self.alike("chooses between", (a.0, a.1?), (b.0, b.1?))?;
        let (x, y) = self.one_size(x, y);
        let c = self.register(chosen?.place);
        let (a, b) = (self.register(x.place), self.register(y.place));
        let place = self.emit(Step::Select(c, a, b));
        Some(joined(x, y, place))
    }

    fn compare(&mut self, comparison: Comparison, a: (At, Term), b: (At, Term)) -> Read {
        let (x, y) = self.alike("compares", a, b)?;
        let (x, y) = self.one_size(x, y);
        let (a, b) = (self.register(x.place), self.register(y.place));
        let step = match comparison {
            Comparison::Less => Step::Compare(Order::Less, a, b),
            Comparison::LessEqual => Step::Compare(Order::LessEqual, a, b),
            Comparison::Greater => Step::Compare(Order::Less, b, a),
            Comparison::GreaterEqual => Step::Compare(Order::LessEqual, b, a),
        };
        Some(condition(self.emit(step)))
    }

    fn logic(&mut self, a: (At, Term), b: (At, Term), step: fn(Reg, Reg) -> Step) -> Read {
        let (x, y) = (self.condition(a.0, a.1), self.condition(b.0, b.1));
        let (a, b) = (self.register(x?.place), self.register(y?.place));
        Some(condition(self.emit(step(a, b))))
    }

    fn is(&mut self, k: u32, text: u32) -> Read {
        let word = self.formula.text(text).clone();
        let facts = &self.operands[k as usize];
        let register = k as Reg;
        let step = match self.formula.operands()[k as usize] {
            // 1 or 0 already: asked of the reading, not of the value.
            Facet::Largest | Facet::Unobtainable | Facet::Given => {
                return Some(condition(Place::Register(register)));
            }
            Facet::Beats | Facet::Value => {
                if let Some(number) = facts.words.iter().position(|w| **w == *word) {
                    Step::IsWord(register, number as u16)
                } else if let Some(test) = state_test(&word) {
                    Step::IsState(register, test)
                } else {
                    let message = format!("`{}` is never `{word}`", self.name(k));
                    let mut words: Vec<&str> = facts.words.iter().map(|w| &**w).collect();
                    words.extend([
                        "known",
                        "missing",
                        "unobtainable",
                        "measured",
                        "estimated",
                        "assumed",
                    ]);
                    let hint = format!("its words are {}", words.join(", "));
                    return self.refuse(message, Some(&hint));
                }
            }
        };
        Some(condition(self.emit(step)))
    }

    fn differs(&mut self, a: u32, b: u32) -> Read {
        let (x, y) = (&self.operands[a as usize], &self.operands[b as usize]);
        if x.words.is_empty() || x.words != y.words {
            let message = format!(
                "`differs` compares two findings with the same words, not `{}` and `{}`",
                self.name(a),
                self.name(b)
            );
            return self.refuse(message, None);
        }
        Some(condition(self.emit(Step::Differs(a as Reg, b as Reg))))
    }

    /// A term that is a quantity, or an error.
    fn quantity(&mut self, at: At, term: Term) -> Read {
        if term.is_condition {
            let message = format!("`{}` holds or not; it is not a quantity", self.text(at));
            return self.refuse(message, Some("choose by it: `if … then … else …`"));
        }
        Some(term)
    }

    /// A term that is a condition, or an error.
    fn condition(&mut self, at: At, term: Term) -> Read {
        if !term.is_condition {
            let message = format!("`{}` is a quantity, not a condition", self.text(at));
            return self.refuse(message, Some("compare it with something: `… > 2 cm`"));
        }
        Some(term)
    }

    /// The two terms if they can be added, the second in the first's stead; or an error that
    /// names both sides.
    fn alike(&mut self, verb: &str, a: (At, Term), b: (At, Term)) -> Option<(Term, Term)> {
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
    fn written_as(&mut self, kind: Kind, at: At, term: Term) -> Option<()> {
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

    /// Brings two terms of one dimension to one size of unit.
    fn one_size(&mut self, x: Term, y: Term) -> (Term, Term) {
        match (x.place, y.place) {
            // A literal is converted here and costs nothing later.
            (Place::Literal(_), Place::Register(_)) => (self.scaled(x, y.factor), y),
            _ => (x, self.scaled(y, x.factor)),
        }
    }

    /// The term, if its unit has a size that can be held.
    fn sized(&mut self, term: Term) -> Read {
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
    fn scaled(&mut self, term: Term, factor: f64) -> Term {
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

    fn map(&mut self, term: Term, step: fn(Reg) -> Step, f: fn(f64) -> f64) -> Term {
        let place = match term.place {
            Place::Literal(k) if f(k).is_finite() => Place::Literal(f(k)),
            place => {
                let a = self.register(place);
                self.emit(step(a))
            }
        };
        Term { place, ..term }
    }

    fn register(&mut self, place: Place) -> Reg {
        match place {
            Place::Register(register) => register,
            Place::Literal(k) => match self.emit(Step::Constant(k)) {
                Place::Register(register) => register,
                Place::Literal(_) => 0,
            },
        }
    }

    fn finish(mut self, result: Read) -> Result<Resolved, Vec<Misfit>> {
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
                },
                unit,
                kind,
            }),
            _ => Err(self.misfits),
        }
    }

    /// Brings the result into the unit it is shown in.
    fn fit(&mut self, term: Term) -> Option<(Reg, Unit, Kind)> {
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
    fn natural_unit(&mut self, term: &Term) -> Option<Unit> {
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

/// A unit in a message.
fn named(unit: Unit) -> &'static str {
    match unit {
        Unit::ONE => "a bare number",
        unit => unit.code(),
    }
}

/// "an outflow area".
fn with_article(kind: Kind) -> String {
    let label = kind.label();
    let article = match label.starts_with(['a', 'e', 'i', 'o', 'u']) {
        true => "an",
        false => "a",
    };
    format!("{article} {label}")
}

fn state_test(word: &str) -> Option<StateTest> {
    match word {
        "known" => Some(StateTest::Known),
        "missing" => Some(StateTest::Missing),
        word => Origin::from_word(word).map(StateTest::Origin),
    }
}

fn written(unit: Unit) -> Written {
    if unit.is_per_area() {
        Written::PerArea
    } else {
        Written::Otherwise
    }
}

fn bare(place: Place) -> Term {
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

fn withheld(place: Place) -> Term {
    Term {
        is_withheld: true,
        ..bare(place)
    }
}

fn condition(place: Place) -> Term {
    Term {
        is_condition: true,
        ..bare(place)
    }
}

fn plain_computed(term: Term) -> Term {
    Term {
        kind: Kind::Plain,
        written: Written::Computed,
        ..term
    }
}

/// The result of joining two terms of one dimension and size.
fn joined(x: Term, y: Term, place: Place) -> Term {
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
