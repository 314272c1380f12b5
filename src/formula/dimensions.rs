//! The reader of dimensions and kinds: checks that a formula makes sense in units, and resolves
//! it into steps with every conversion folded in.
//!
//! Each cell keeps its magnitude in the unit it is shown in, so 2.05 cm stays 2.05. The reader
//! tracks the size of each intermediate unit and inserts a conversion only where two sizes meet.

mod arithmetic;
mod choice;
mod fit;
mod message;
mod term;

pub(crate) use fit::kind_refuses;
use message::{named, with_article};
use term::{Place, Term, Written, bare, condition, joined, plain_computed, withheld, written};

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
        source: Vec::new(),
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

struct Reader<'a> {
    formula: &'a Formula,
    operands: &'a [OperandFacts],
    names: &'a [&'a str],
    /// Registers filled before the first step.
    inputs: usize,
    steps: Vec<Step>,
    /// For each step the operation it came from.
    source: Vec<u32>,
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
}
