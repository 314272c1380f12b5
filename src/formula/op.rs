//! Operations: what a formula is made of.
//!
//! A [`Formula`] is a list of operations whose operands are earlier entries; the last entry is
//! the result. It names no cells: its operands are numbered, so that one formula serves every
//! exam and every renamed cell. All readers match on [`Op`] without a wildcard, so a new
//! operation does not compile until each of them knows it.

use std::hash::{Hash, Hasher};
use std::sync::Arc;

use crate::quantity::{Origin, Unit};

/// Index of an earlier operation.
pub type At = u32;

/// A finite number that is equal to itself and can be looked up: equality is of the bits.
#[derive(Clone, Copy, Debug)]
pub struct Exact(pub f64);

impl PartialEq for Exact {
    fn eq(&self, other: &Self) -> bool {
        self.0.to_bits() == other.0.to_bits()
    }
}
impl Eq for Exact {}
impl Hash for Exact {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.0.to_bits().hash(state);
    }
}

/// Functions and signs of one argument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unary {
    /// Change of sign.
    Negate,
    /// Square root.
    Sqrt,
    /// Natural exponential; of a bare number.
    Exp,
    /// Natural logarithm; of a bare number.
    Ln,
    /// Cosine; of an angle.
    Cos,
    /// Absolute value.
    Abs,
}

/// Operators of two arguments.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Binary {
    /// Sum of like quantities.
    Add,
    /// Difference of like quantities.
    Subtract,
    /// Product.
    Multiply,
    /// Quotient.
    Divide,
    /// Power.
    Power,
}

/// Functions of any number of like quantities.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Many {
    /// The least.
    Min,
    /// The greatest.
    Max,
    /// The arithmetic mean.
    Mean,
}

/// Comparisons of like quantities; equality within 1e-9 relative.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Comparison {
    /// Less than.
    Less,
    /// Less than or equal to.
    LessEqual,
    /// Greater than.
    Greater,
    /// Greater than or equal to.
    GreaterEqual,
}

/// What a formula asks of a cell: its value, or something said about its reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Facet {
    /// The cell's value and state.
    Value,
    /// The number of beats behind the reading.
    Beats,
    /// 1 where the largest beat was taken, else 0.
    Largest,
    /// 1 where the reading could not be obtained, else 0.
    Unobtainable,
    /// 1 where there is a number in the reading, else 0; asked only of a cell's own reading.
    Given,
}

/// One operation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Op {
    /// A literal with its unit.
    Number {
        /// The magnitude, in `unit`.
        value: Exact,
        /// The unit.
        unit: Unit,
    },
    /// The ratio of a circle's circumference to its diameter.
    Pi,
    /// The value of an operand.
    Cell(u32),
    /// The reading of the cell that the formula belongs to.
    Reading,
    /// A function of one argument.
    Unary(Unary, At),
    /// An operator.
    Binary(Binary, At, At),
    /// A function of `len` arguments that stand in [`Formula::args`] from `start`.
    Many(Many, u32, u32),
    /// The first, held between the second and the third.
    Clamp(At, At, At),
    /// The second where the first holds, else the third.
    If(At, At, At),
    /// The first, or the second where the first is missing.
    Else(At, At),
    /// A comparison.
    Compare(Comparison, At, At),
    /// Both hold.
    And(At, At),
    /// One of them holds.
    Or(At, At),
    /// It does not hold.
    Not(At),
    /// Operand `.0` is stated to be the word `.1` of the texts of its formula.
    Is(u32, u32),
    /// Both findings are stated and their words are not the same.
    Differs(u32, u32),
    /// How many beats stand behind operand `.0`.
    BeatCount(u32),
    /// Missing, with the reason `.0` of the texts of its formula.
    Withheld(u32),
    /// The same value with an origin no better than this.
    Marked(Origin, At),
}

impl Op {
    /// The operation in another formula: entries shifted, operands and texts renumbered.
    fn moved(self, base: u32, args: u32, operands: &[u32], texts: &[u32]) -> Op {
        let operand = |k: u32| operands[k as usize];
        let text = |t: u32| texts[t as usize];
        match self {
            Op::Number { .. } | Op::Pi | Op::Reading => self,
            Op::Cell(k) => Op::Cell(operand(k)),
            Op::Unary(unary, a) => Op::Unary(unary, a + base),
            Op::Binary(binary, a, b) => Op::Binary(binary, a + base, b + base),
            Op::Many(many, start, len) => Op::Many(many, start + args, len),
            Op::Clamp(a, b, c) => Op::Clamp(a + base, b + base, c + base),
            Op::If(a, b, c) => Op::If(a + base, b + base, c + base),
            Op::Else(a, b) => Op::Else(a + base, b + base),
            Op::Compare(comparison, a, b) => Op::Compare(comparison, a + base, b + base),
            Op::And(a, b) => Op::And(a + base, b + base),
            Op::Or(a, b) => Op::Or(a + base, b + base),
            Op::Not(a) => Op::Not(a + base),
            Op::Is(k, t) => Op::Is(operand(k), text(t)),
            Op::Differs(a, b) => Op::Differs(operand(a), operand(b)),
            Op::BeatCount(k) => Op::BeatCount(operand(k)),
            Op::Withheld(t) => Op::Withheld(text(t)),
            Op::Marked(origin, a) => Op::Marked(origin, a + base),
        }
    }
}

/// A formula: operations, the last of which is the result.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Formula {
    ops: Vec<Op>,
    args: Vec<At>,
    texts: Vec<Arc<str>>,
    operands: Vec<Facet>,
}

impl Formula {
    /// The operations, in order of evaluation.
    pub fn ops(&self) -> &[Op] {
        &self.ops
    }

    /// Arguments of functions of many arguments.
    pub fn args(&self, start: u32, len: u32) -> &[At] {
        let start = start as usize;
        &self.args[start..start + len as usize]
    }

    /// A word or reason.
    pub fn text(&self, index: u32) -> &Arc<str> {
        &self.texts[index as usize]
    }

    /// What is asked of each operand.
    pub fn operands(&self) -> &[Facet] {
        &self.operands
    }

    /// Index of the result.
    pub fn root(&self) -> At {
        (self.ops.len() as u32).saturating_sub(1)
    }

    /// Whether the formula uses the reading of its own cell.
    pub fn uses_reading(&self) -> bool {
        self.ops.contains(&Op::Reading)
    }

    /// The operand whose value the formula merely passes on.
    pub fn passes_on(&self) -> Option<u32> {
        match self.ops[..] {
            [Op::Cell(operand)] => Some(operand),
            _ => None,
        }
    }

    /// Appends an operation and gives its index.
    pub(crate) fn push(&mut self, op: Op) -> At {
        self.ops.push(op);
        self.root()
    }

    /// Adds an operand and gives its number.
    pub(crate) fn add_operand(&mut self, facet: Facet) -> u32 {
        self.operands.push(facet);
        self.operands.len() as u32 - 1
    }

    pub(crate) fn add_text(&mut self, text: &str) -> u32 {
        if let Some(i) = self.texts.iter().position(|t| **t == *text) {
            return i as u32;
        }
        self.push_text(text)
    }

    /// Adds a text that is known to be new and gives its number.
    pub(crate) fn push_text(&mut self, text: &str) -> u32 {
        self.texts.push(text.into());
        self.texts.len() as u32 - 1
    }

    /// Appends a function of many arguments.
    pub(crate) fn push_many(&mut self, many: Many, args: &[At]) -> At {
        let start = self.args.len() as u32;
        self.args.extend_from_slice(args);
        self.push(Op::Many(many, start, args.len() as u32))
    }

    /// Appends another formula, its operands renumbered by `map`; gives the index of its result.
    pub(crate) fn append(&mut self, other: &Formula, map: &[u32]) -> At {
        let base = self.ops.len() as u32;
        let args = self.args.len() as u32;
        self.args.extend(other.args.iter().map(|a| a + base));
        let texts: Vec<u32> = other.texts.iter().map(|t| self.add_text(t)).collect();
        for op in &other.ops {
            self.ops.push(op.moved(base, args, map, &texts));
        }
        self.root()
    }

    /// Calls `f` with each earlier entry that `op` uses.
    pub fn each_argument(&self, op: Op, mut f: impl FnMut(At)) {
        match op {
            Op::Number { .. } | Op::Pi | Op::Cell(_) | Op::Reading => {}
            Op::Is(..) | Op::Differs(..) | Op::BeatCount(_) | Op::Withheld(_) => {}
            Op::Unary(_, a) | Op::Not(a) | Op::Marked(_, a) => f(a),
            Op::Binary(_, a, b)
            | Op::Else(a, b)
            | Op::Compare(_, a, b)
            | Op::And(a, b)
            | Op::Or(a, b) => [a, b].into_iter().for_each(f),
            Op::Clamp(a, b, c) | Op::If(a, b, c) => [a, b, c].into_iter().for_each(f),
            Op::Many(_, start, len) => self.args(start, len).iter().copied().for_each(f),
        }
    }
}
