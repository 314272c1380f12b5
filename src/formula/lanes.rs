//! The evaluator: one run of the steps over one lane, or over a block of lanes.
//!
//! One exam is one lane, a cohort is rows in blocks, a Monte Carlo run is draws in blocks. The
//! same function walks the steps for all of them; only the register file differs. Every lane
//! gets the same bits whatever the width: no fused multiply-add, no reordering.
//!
//! Faults are sticky. Along straight steps a number that is not finite stays so until it is
//! divided by, compared or held back; those steps look at it first. Steps that look at states
//! keep a state for each register, so that a branch not taken never faults.

mod alone;
mod block;
mod single;

use super::math;
use super::status::{Status, origin_bits};
use super::tape::{Order, Reg, StateTest, Step};

pub(crate) use alone::{lone_step, run_alone};
pub use block::{Lanes, Scratch, View, ViewMut, evaluate, evaluate_one};
pub(crate) use single::Single;

/// Value and state of one lane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lane {
    /// The number; means nothing unless the state is known.
    pub value: f64,
    /// The state.
    pub status: Status,
}

impl Lane {
    /// Stands for a missing number: finite, so that it cannot look like a fault.
    pub const MISSING: Lane = Lane {
        value: 1.0,
        status: Status::MISSING,
    };

    /// Stands for a reading that could not be obtained: missing, and nothing else may stand in.
    pub const UNOBTAINABLE: Lane = Lane {
        value: 1.0,
        status: Status(Status::MISSING_BIT | Status::UNOBTAINABLE_BIT),
    };

    /// A number without faults.
    pub const fn measured(value: f64) -> Lane {
        Lane {
            value,
            status: Status::MEASURED,
        }
    }
}

/// Two numbers are equal for comparisons within this share of the greater.
pub const COMPARISON_TOLERANCE: f64 = 1e-9;

#[inline(always)]
fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= COMPARISON_TOLERANCE * a.abs().max(b.abs())
}

/// The comparison of the notation, as 1 or 0.
#[inline(always)]
pub(crate) fn compare(order: Order, a: f64, b: f64) -> f64 {
    let holds = match order {
        Order::Less => a < b && !near(a, b),
        Order::LessEqual => a < b || near(a, b),
    };
    f64::from(u8::from(holds))
}

/// A file of registers that steps append to.
pub(crate) trait Registers {
    /// Appends f of a register.
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64);
    /// Appends f of two registers.
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64);
    /// Appends f of three registers.
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64);
    /// Appends f of registers with their states; unused arguments repeat `a`.
    fn states(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(Lane, Lane, Lane) -> Lane);
    /// Appends a lane that depends on nothing.
    fn fixed(&mut self, lane: Lane);
    /// Remembers whether a register is not finite, before a step that could hide it.
    fn guard(&mut self, a: Reg);

    // The long functions have methods, which blocks of lanes replace by loops of their own: a
    // closure that holds so much is not inlined, and would be called lane after lane.

    /// Appends eᵃ.
    #[inline(always)]
    fn exp(&mut self, a: Reg) {
        self.one(a, math::exp);
    }
    /// Appends ln a.
    #[inline(always)]
    fn ln(&mut self, a: Reg) {
        self.one(a, math::ln);
    }
    /// Appends b where a holds, else c.
    #[inline(always)]
    fn select(&mut self, a: Reg, b: Reg, c: Reg) {
        self.states(a, b, c, select);
    }
    /// Appends a, or b where a is missing.
    #[inline(always)]
    fn or_else(&mut self, a: Reg, b: Reg) {
        self.states(a, b, a, |a, b, _| if a.status.is_missing() { b } else { a });
    }
    /// Appends aᵇ.
    #[inline(always)]
    fn pow(&mut self, a: Reg, b: Reg) {
        self.two(a, b, math::pow);
    }
}

/// Runs the steps.
#[inline(always)]
pub(crate) fn run<R: Registers>(steps: &[Step], r: &mut R) {
    for step in steps {
        match *step {
            Step::Constant(k) => r.fixed(Lane::measured(k)),
            Step::Negate(a) => r.one(a, |a| -a),
            Step::Sqrt(a) => r.one(a, f64::sqrt),
            Step::Exp(a) => {
                r.guard(a);
                r.exp(a);
            }
            Step::Ln(a) => r.ln(a),
            Step::Cos(a) => {
                r.guard(a);
                r.one(a, math::cos);
            }
            Step::Abs(a) => r.one(a, f64::abs),
            Step::Add(a, b) => r.two(a, b, |a, b| a + b),
            Step::AddNumber(a, k) => r.one(a, |a| a + k),
            Step::Subtract(a, b) => r.two(a, b, |a, b| a - b),
            Step::Multiply(a, b) => r.two(a, b, |a, b| a * b),
            Step::Times(a, k) => r.one(a, |a| a * k),
            Step::Divide(a, b) => {
                r.guard(b);
                r.two(a, b, |a, b| a / b);
            }
            Step::Over(a, k) => r.one(a, |a| a / k),
            Step::Power(a, b) => {
                r.guard(a);
                r.guard(b);
                r.pow(a, b);
            }
            Step::WholePower(a, n) => {
                r.guard(a);
                match n {
                    // The same products as in general, without the loop that keeps lanes apart.
                    2 => r.one(a, |a| a * a),
                    3 => r.one(a, |a| a * (a * a)),
                    _ => r.one(a, |a| whole_power(a, n)),
                }
            }
            Step::Min(a, b) => {
                r.guard(a);
                r.guard(b);
                r.two(a, b, |a, b| if b < a { b } else { a });
            }
            Step::Max(a, b) => {
                r.guard(a);
                r.guard(b);
                r.two(a, b, |a, b| if b > a { b } else { a });
            }
            Step::Clamp(a, b, c) => {
                r.guard(a);
                r.guard(b);
                r.guard(c);
                r.three(a, b, c, clamp);
            }
            Step::Compare(order, a, b) => {
                r.guard(a);
                r.guard(b);
                r.two(a, b, |a, b| compare(order, a, b));
            }
            Step::Not(a) => r.one(a, |a| 1.0 - a),
            Step::Select(a, b, c) => r.select(a, b, c),
            Step::Else(a, b) => r.or_else(a, b),
            Step::And(a, b) => r.states(a, b, a, |a, b, _| settle_by(a, b, 0.0)),
            Step::Or(a, b) => r.states(a, b, a, |a, b, _| settle_by(a, b, 1.0)),
            Step::IsWord(a, word) => {
                r.states(a, a, a, |a, _, _| truth(a.value == f64::from(word), a, a));
            }
            Step::IsState(a, test) => r.states(a, a, a, |a, _, _| state_is(a.status, test)),
            Step::Differs(a, b) => r.states(a, b, a, |a, b, _| truth(a.value != b.value, a, b)),
            Step::Withheld => r.fixed(Lane::MISSING),
            Step::Marked(origin, a) => r.states(a, a, a, |a, _, _| Lane {
                value: a.value,
                status: Status(a.status.0 | origin_bits(origin)),
            }),
        }
    }
}

/// aⁿ by squaring, the same products in the same order everywhere.
#[inline(always)]
pub(crate) fn whole_power(a: f64, n: i32) -> f64 {
    let mut rest = n.unsigned_abs();
    let mut square = a;
    let mut product = 1.0;
    while rest > 0 {
        if rest & 1 == 1 {
            product *= square;
        }
        rest >>= 1;
        if rest > 0 {
            square *= square;
        }
    }
    if n < 0 { 1.0 / product } else { product }
}

/// Bounds that cross are a fault, shown by a number that is none.
#[inline(always)]
fn clamp(a: f64, low: f64, high: f64) -> f64 {
    if low > high {
        f64::NAN
    } else if a < low {
        low
    } else if a > high {
        high
    } else {
        a
    }
}

#[inline(always)]
fn select(condition: Lane, yes: Lane, no: Lane) -> Lane {
    let taken = if condition.value != 0.0 { yes } else { no };
    if !condition.status.is_known() {
        return condition;
    }
    Lane {
        value: taken.value,
        status: Status(taken.status.0 | condition.status.0),
    }
}

/// `and` (decided by a 0) and `or` (decided by a 1): one side that decides is enough.
#[inline(always)]
fn settle_by(a: Lane, b: Lane, decisive: f64) -> Lane {
    let decides = |x: Lane| x.status.is_known() && x.value == decisive;
    if decides(a) {
        a
    } else if decides(b) {
        b
    } else {
        Lane {
            value: 1.0 - decisive,
            status: Status(a.status.0 | b.status.0),
        }
    }
}

/// True only of findings that are stated; a finding not stated makes it false, not missing.
#[inline(always)]
fn truth(holds: bool, a: Lane, b: Lane) -> Lane {
    let both = Status(a.status.0 | b.status.0);
    if both.is_faulty() {
        Lane {
            value: 0.0,
            status: Status::FAULTY,
        }
    } else if both.is_missing() {
        Lane::measured(0.0)
    } else {
        Lane {
            value: f64::from(u8::from(holds)),
            status: both,
        }
    }
}

#[inline(always)]
fn state_is(status: Status, test: StateTest) -> Lane {
    let holds = match test {
        StateTest::Known => status.is_known(),
        StateTest::Missing => status.is_missing(),
        StateTest::Origin(origin) => status.is_known() && status.origin() == origin,
    };
    Lane::measured(f64::from(u8::from(holds)))
}

/// Joins states and looks whether a number that should be finite is not.
#[inline(always)]
pub(super) fn checked(value: f64, states: u8) -> u8 {
    let bad = !value.is_finite() && states & Status::MISSING_BIT == 0;
    states | (u8::from(bad) * Status::FAULTY_BIT)
}

/// Whether only a state for each register can tell: with something missing, a number that is
/// not finite is a fault of the known operands or means nothing, being made of what stands for
/// the missing one.
#[inline(always)]
fn is_unsettled(value: f64, joined: u8) -> bool {
    joined & Status::MISSING_BIT != 0 && !value.is_finite()
}
