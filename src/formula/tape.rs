//! The resolved form of a formula: units settled, words numbered, literals folded in.
//!
//! Registers 0 to `operands` − 1 hold the operands, then the cell's own reading where it is
//! used, then one register for each step. The evaluator and the derivative run the steps as
//! they stand.

use crate::quantity::Origin;

/// A register.
pub type Reg = u16;

/// Most registers in one formula.
pub const MOST_REGISTERS: usize = 60_000;

/// What a state test asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StateTest {
    /// There is a value.
    Known,
    /// There is none, for want of something.
    Missing,
    /// Known, and of this origin.
    Origin(Origin),
}

/// How two numbers compare, with equality within 1e-9 relative.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Clearly less.
    Less,
    /// Not clearly greater.
    LessEqual,
}

/// One step; its result goes to the next register.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// A number.
    Constant(f64),
    /// −a.
    Negate(Reg),
    /// √a.
    Sqrt(Reg),
    /// eᵃ.
    Exp(Reg),
    /// ln a.
    Ln(Reg),
    /// cos a, a in radians.
    Cos(Reg),
    /// |a|.
    Abs(Reg),
    /// a + b.
    Add(Reg, Reg),
    /// a + k.
    AddNumber(Reg, f64),
    /// a − b.
    Subtract(Reg, Reg),
    /// a · b.
    Multiply(Reg, Reg),
    /// a · k.
    Times(Reg, f64),
    /// a / b.
    Divide(Reg, Reg),
    /// a / k.
    Over(Reg, f64),
    /// aᵇ.
    Power(Reg, Reg),
    /// aⁿ by repeated products.
    WholePower(Reg, i32),
    /// The lesser.
    Min(Reg, Reg),
    /// The greater.
    Max(Reg, Reg),
    /// a held between b and c; a fault where b exceeds c.
    Clamp(Reg, Reg, Reg),
    /// b where a holds, else c.
    Select(Reg, Reg, Reg),
    /// a, or b where a is missing.
    Else(Reg, Reg),
    /// Comparison as 1 or 0.
    Compare(Order, Reg, Reg),
    /// Both hold.
    And(Reg, Reg),
    /// One holds.
    Or(Reg, Reg),
    /// Does not hold.
    Not(Reg),
    /// The finding in `a` is stated and has this number among its words.
    IsWord(Reg, u16),
    /// A test of the state of `a`.
    IsState(Reg, StateTest),
    /// Both findings are stated and unlike.
    Differs(Reg, Reg),
    /// Missing.
    Withheld,
    /// a with an origin no better than this.
    Marked(Origin, Reg),
}

/// A formula ready to run.
#[derive(Clone, Debug)]
pub struct Tape {
    pub(crate) steps: Vec<Step>,
    /// For each step the operation it came from.
    pub(crate) source: Vec<u32>,
    pub(crate) operands: u16,
    pub(crate) uses_reading: bool,
    pub(crate) result: Reg,
    /// No step looks at a state: the state of the result is that of all it uses, joined.
    pub(crate) is_straight: bool,
}

impl Tape {
    /// The steps, in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// How many operands the formula has, its cell's own reading not counted.
    pub fn operands(&self) -> usize {
        self.operands.into()
    }

    /// Whether register [`Tape::operands`] holds the cell's own reading.
    pub fn uses_reading(&self) -> bool {
        self.uses_reading
    }

    /// Registers filled before the first step.
    pub fn inputs(&self) -> usize {
        self.operands() + usize::from(self.uses_reading)
    }

    /// Registers in all.
    pub fn registers(&self) -> usize {
        self.inputs() + self.steps.len()
    }

    /// The register of the result.
    pub fn result(&self) -> usize {
        self.result.into()
    }

    /// Whether no step looks at a state.
    pub fn is_straight(&self) -> bool {
        self.is_straight
    }

    /// Whether the formula compares values, so that another branch may be taken where they move.
    pub(crate) fn may_turn(&self) -> bool {
        let is_comparison = |step: &Step| matches!(step, Step::Compare(..));
        self.steps.iter().any(is_comparison)
    }

    /// Whether the formula withholds something.
    pub(crate) fn may_withhold(&self) -> bool {
        self.steps.contains(&Step::Withheld)
    }
}

impl Step {
    /// The step over other registers: each argument goes where `to` puts it.
    pub(crate) fn moved(self, mut to: impl FnMut(Reg) -> Reg) -> Step {
        match self {
            Step::Constant(_) | Step::Withheld => self,
            Step::Negate(a) => Step::Negate(to(a)),
            Step::Sqrt(a) => Step::Sqrt(to(a)),
            Step::Exp(a) => Step::Exp(to(a)),
            Step::Ln(a) => Step::Ln(to(a)),
            Step::Cos(a) => Step::Cos(to(a)),
            Step::Abs(a) => Step::Abs(to(a)),
            Step::AddNumber(a, k) => Step::AddNumber(to(a), k),
            Step::Times(a, k) => Step::Times(to(a), k),
            Step::Over(a, k) => Step::Over(to(a), k),
            Step::WholePower(a, n) => Step::WholePower(to(a), n),
            Step::Not(a) => Step::Not(to(a)),
            Step::IsWord(a, word) => Step::IsWord(to(a), word),
            Step::IsState(a, test) => Step::IsState(to(a), test),
            Step::Marked(origin, a) => Step::Marked(origin, to(a)),
            Step::Add(a, b) => Step::Add(to(a), to(b)),
            Step::Subtract(a, b) => Step::Subtract(to(a), to(b)),
            Step::Multiply(a, b) => Step::Multiply(to(a), to(b)),
            Step::Divide(a, b) => Step::Divide(to(a), to(b)),
            Step::Power(a, b) => Step::Power(to(a), to(b)),
            Step::Min(a, b) => Step::Min(to(a), to(b)),
            Step::Max(a, b) => Step::Max(to(a), to(b)),
            Step::Else(a, b) => Step::Else(to(a), to(b)),
            Step::Compare(order, a, b) => Step::Compare(order, to(a), to(b)),
            Step::And(a, b) => Step::And(to(a), to(b)),
            Step::Or(a, b) => Step::Or(to(a), to(b)),
            Step::Differs(a, b) => Step::Differs(to(a), to(b)),
            Step::Clamp(a, b, c) => Step::Clamp(to(a), to(b), to(c)),
            Step::Select(a, b, c) => Step::Select(to(a), to(b), to(c)),
        }
    }

    /// Calls `f` with each argument of the step.
    pub(crate) fn each_argument(self, mut f: impl FnMut(Reg)) {
        self.moved(|a| {
            f(a);
            a
        });
    }

    /// Whether the step looks at the states of its arguments.
    pub(crate) fn looks_at_states(self) -> bool {
        match self {
            Step::Select(..)
            | Step::Else(..)
            | Step::And(..)
            | Step::Or(..)
            | Step::IsWord(..)
            | Step::IsState(..)
            | Step::Differs(..)
            | Step::Withheld
            | Step::Marked(..) => true,
            Step::Constant(_)
            | Step::Negate(_)
            | Step::Sqrt(_)
            | Step::Exp(_)
            | Step::Ln(_)
            | Step::Cos(_)
            | Step::Abs(_)
            | Step::Add(..)
            | Step::AddNumber(..)
            | Step::Subtract(..)
            | Step::Multiply(..)
            | Step::Times(..)
            | Step::Divide(..)
            | Step::Over(..)
            | Step::Power(..)
            | Step::WholePower(..)
            | Step::Min(..)
            | Step::Max(..)
            | Step::Clamp(..)
            | Step::Compare(..)
            | Step::Not(_) => false,
        }
    }
}
