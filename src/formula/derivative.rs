//! The reader of derivatives: exact partials with respect to every operand, in one sweep back
//! over the steps.
//!
//! At a place where a formula has a corner (the bound of a clamp, equal arguments of `min`, zero
//! in `abs`), the slope of the branch that was taken is given.

use super::lanes::{Lane, Registers, run};
use super::status::Status;
use super::tape::{Reg, Step, Tape};
use super::{lanes, math};

/// Value of a formula and its partials.
#[derive(Clone, Debug, PartialEq)]
pub struct Gradient {
    /// The value and state.
    pub result: Lane,
    /// ∂result/∂operand, in the result's unit per operand's unit, for each operand and, where
    /// the formula uses it, the cell's own reading. All zero where the result is not known; not
    /// finite where the formula has no slope (a root at 0) or one too large to hold.
    pub partials: Vec<f64>,
}

/// Evaluates a formula at one point together with its partials.
pub fn gradient(tape: &Tape, inputs: &[Lane]) -> Gradient {
    let mut forward = Forward {
        lanes: inputs.to_vec(),
    };
    run(&tape.steps, &mut forward);
    let lanes = forward.lanes;
    let result = lanes::evaluate_one(tape, inputs);
    let mut adjoint = vec![0.0; lanes.len()];
    if result.status.is_known() {
        adjoint[tape.result()] = 1.0;
        sweep_back(tape, &lanes, &mut adjoint);
    }
    adjoint.truncate(tape.inputs());
    Gradient {
        result,
        partials: adjoint,
    }
}

/// Slopes of a formula, each with the sum of the sizes of what it was added up from: a slope far
/// below its size is rounding left over where contributions cancel.
pub(crate) struct SizedSlopes {
    pub(crate) slopes: Vec<f64>,
    pub(crate) sizes: Vec<f64>,
}

/// The partials of [`gradient`] with their sizes.
pub(crate) fn sized_slopes(tape: &Tape, inputs: &[Lane]) -> SizedSlopes {
    let mut forward = Forward {
        lanes: inputs.to_vec(),
    };
    run(&tape.steps, &mut forward);
    let lanes = forward.lanes;
    let mut slopes = vec![0.0; lanes.len()];
    let mut sizes = vec![0.0; lanes.len()];
    (slopes[tape.result()], sizes[tape.result()]) = (1.0, 1.0);
    for (i, step) in tape.steps.iter().enumerate().rev() {
        let out = tape.inputs() + i;
        let (slope, size) = (slopes[out], sizes[out]);
        if size != 0.0 {
            each_slope(*step, &lanes, out, |a, partial| {
                slopes[usize::from(a)] += slope * partial;
                sizes[usize::from(a)] += size * partial.abs();
            });
        }
    }
    slopes.truncate(tape.inputs());
    sizes.truncate(tape.inputs());
    SizedSlopes { slopes, sizes }
}

/// All registers, kept for the way back.
struct Forward {
    lanes: Vec<Lane>,
}

impl Forward {
    fn at(&self, a: Reg) -> Lane {
        self.lanes[usize::from(a)]
    }

    fn push(&mut self, value: f64, states: u8) {
        self.lanes.push(Lane {
            value,
            status: Status(lanes::checked(value, states)),
        });
    }
}

impl Registers for Forward {
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64) {
        let a = self.at(a);
        self.push(f(a.value), a.status.0);
    }
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64) {
        let (a, b) = (self.at(a), self.at(b));
        self.push(f(a.value, b.value), a.status.0 | b.status.0);
    }
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64) {
        let (a, b, c) = (self.at(a), self.at(b), self.at(c));
        let states = a.status.0 | b.status.0 | c.status.0;
        self.push(f(a.value, b.value, c.value), states);
    }
    fn states(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(Lane, Lane, Lane) -> Lane) {
        let lane = f(self.at(a), self.at(b), self.at(c));
        self.push(lane.value, lane.status.0);
    }
    fn fixed(&mut self, lane: Lane) {
        self.push(lane.value, lane.status.0);
    }
    fn guard(&mut self, _: Reg) {}
}

fn sweep_back(tape: &Tape, lanes: &[Lane], adjoint: &mut [f64]) {
    for (i, step) in tape.steps.iter().enumerate().rev() {
        let out = tape.inputs() + i;
        let g = adjoint[out];
        // Also keeps an infinite slope off the branches that were not taken.
        if g != 0.0 {
            each_slope(*step, lanes, out, |a, slope| {
                adjoint[usize::from(a)] += g * slope;
            });
        }
    }
}

/// Calls `add` with each argument of a step that its result depends on, and the slope.
fn each_slope(step: Step, lanes: &[Lane], out: usize, mut add: impl FnMut(Reg, f64)) {
    each_partial(step, out as Reg, |a, partial| {
        let slope = partial.at(lanes);
        if slope != 0.0 || !partial.is_choice() {
            add(a, slope);
        }
    });
}

/// What the slope of a step in one of its arguments is made of: the registers that it looks at.
/// One description for one lane and for many.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Partial {
    /// A number, the same everywhere.
    Number(f64),
    /// The value of a register.
    Value(Reg),
    /// 1 / a.
    Over(Reg),
    /// −out / b, as −out · (1 / b), of which the second is needed anyway.
    MinusOver(Reg, Reg),
    /// 1 / (2 out), of a root.
    HalfOver(Reg),
    /// −sin a.
    MinusSine(Reg),
    /// −1 below 0, else 1.
    Sign(Reg),
    /// n aⁿ⁻¹.
    WholePower(Reg, i32),
    /// b aᵇ⁻¹ from out, a, b.
    Base(Reg, Reg, Reg),
    /// aᵇ ln a from out, a; 0 unless a is positive.
    Exponent(Reg, Reg),
    /// 1 on the branch that was taken, 0 on the others.
    If(Branch),
}

/// When a branch is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Branch {
    /// a < b.
    Less(Reg, Reg),
    /// Not a < b.
    NotLess(Reg, Reg),
    /// Within the bounds of a clamp, or below the upper where below the lower.
    Between(Reg, Reg, Reg),
    /// Above the upper bound of a clamp, and not below the lower: a, low, high.
    Above(Reg, Reg, Reg),
    /// The condition holds.
    Holds(Reg),
    /// The condition does not hold.
    Fails(Reg),
    /// Missing.
    Missing(Reg),
    /// Not missing.
    There(Reg),
}

impl Partial {
    /// Its number in one lane.
    fn at(self, lanes: &[Lane]) -> f64 {
        let v = |a: Reg| lanes[usize::from(a)].value;
        match self {
            Partial::Number(k) => k,
            Partial::Value(a) => v(a),
            Partial::Over(a) => 1.0 / v(a),
            Partial::MinusOver(out, b) => minus_over(v(out), 1.0 / v(b)),
            Partial::HalfOver(out) => 0.5 / v(out),
            Partial::MinusSine(a) => -math::sin(v(a)),
            Partial::Sign(a) => sign(v(a)),
            Partial::WholePower(a, n) => f64::from(n) * lanes::whole_power(v(a), n - 1),
            Partial::Base(out, a, b) => base(v(out), v(a), v(b)),
            Partial::Exponent(out, a) => exponent(v(out), v(a)),
            Partial::If(branch) => truth(branch.is_taken(lanes)),
        }
    }

    /// Whether a zero means a branch that was not taken, which an infinite slope must not reach.
    pub(crate) fn is_choice(self) -> bool {
        matches!(self, Partial::If(_))
    }
}

impl Branch {
    fn is_taken(self, lanes: &[Lane]) -> bool {
        let v = |a: Reg| lanes[usize::from(a)].value;
        let is_missing = |a: Reg| lanes[usize::from(a)].status.is_missing();
        match self {
            Branch::Less(a, b) => v(a) < v(b),
            Branch::NotLess(a, b) => is_not_less(v(a), v(b)),
            Branch::Between(a, low, high) => is_between(v(a), v(low), v(high)),
            Branch::Above(a, low, high) => is_above(v(a), v(low), v(high)),
            Branch::Holds(a) => v(a) != 0.0,
            Branch::Fails(a) => v(a) == 0.0,
            Branch::Missing(a) => is_missing(a),
            Branch::There(a) => !is_missing(a),
        }
    }
}

#[inline(always)]
pub(crate) fn minus_over(out: f64, per: f64) -> f64 {
    -out * per
}

#[inline(always)]
pub(crate) fn sign(a: f64) -> f64 {
    if a < 0.0 { -1.0 } else { 1.0 }
}

/// b aᵇ⁻¹ as b out / a, which spares a second power; at 0, where that has no value, by its limit.
#[inline(always)]
pub(crate) fn base(out: f64, a: f64, b: f64) -> f64 {
    let beyond = if b < 1.0 { b * f64::INFINITY } else { 0.0 };
    let at_zero = if b == 1.0 { 1.0 } else { beyond };
    let slope = if a == 0.0 { at_zero } else { b * out / a };
    // x⁰ is flat, even at 0.
    if b != 0.0 { slope } else { 0.0 }
}

#[inline(always)]
pub(crate) fn exponent(out: f64, a: f64) -> f64 {
    // The slope in the exponent exists for a positive base only.
    if a > 0.0 { out * math::ln(a) } else { 0.0 }
}

#[inline(always)]
pub(crate) fn truth(holds: bool) -> f64 {
    f64::from(u8::from(holds))
}

#[inline(always)]
#[allow(
    clippy::neg_cmp_op_on_partial_ord,
    reason = "all that `<` does not hold for"
)]
pub(crate) fn is_not_less(a: f64, b: f64) -> bool {
    !(a < b)
}

#[inline(always)]
pub(crate) fn is_between(a: f64, low: f64, high: f64) -> bool {
    is_not_less(a, low) & is_not_less(high, a)
}

#[inline(always)]
pub(crate) fn is_above(a: f64, low: f64, high: f64) -> bool {
    is_not_less(a, low) & (a > high)
}

/// Calls `add` with each argument of a step that its result can depend on, and what the slope is
/// made of; `out` is the register of the result.
pub(crate) fn each_partial(step: Step, out: Reg, mut add: impl FnMut(Reg, Partial)) {
    use Partial::{If, Number, Value};
    match step {
        Step::Negate(a) => add(a, Number(-1.0)),
        Step::Sqrt(a) => add(a, Partial::HalfOver(out)),
        Step::Exp(a) => add(a, Value(out)),
        Step::Ln(a) => add(a, Partial::Over(a)),
        Step::Cos(a) => add(a, Partial::MinusSine(a)),
        Step::Abs(a) => add(a, Partial::Sign(a)),
        Step::Add(a, b) => {
            add(a, Number(1.0));
            add(b, Number(1.0));
        }
        Step::AddNumber(a, _) => add(a, Number(1.0)),
        Step::Subtract(a, b) => {
            add(a, Number(1.0));
            add(b, Number(-1.0));
        }
        Step::Multiply(a, b) => {
            add(a, Value(b));
            add(b, Value(a));
        }
        Step::Times(a, k) => add(a, Number(k)),
        Step::Divide(a, b) => {
            add(a, Partial::Over(b));
            add(b, Partial::MinusOver(out, b));
        }
        Step::Over(a, k) => add(a, Number(1.0 / k)),
        Step::Power(a, b) => {
            add(a, Partial::Base(out, a, b));
            add(b, Partial::Exponent(out, a));
        }
        Step::WholePower(_, 0) => {}
        Step::WholePower(a, n) => add(a, Partial::WholePower(a, n)),
        Step::Min(a, b) => {
            add(a, If(Branch::NotLess(b, a)));
            add(b, If(Branch::Less(b, a)));
        }
        Step::Max(a, b) => {
            add(a, If(Branch::NotLess(a, b)));
            add(b, If(Branch::Less(a, b)));
        }
        Step::Clamp(a, low, high) => {
            add(a, If(Branch::Between(a, low, high)));
            add(low, If(Branch::Less(a, low)));
            add(high, If(Branch::Above(a, low, high)));
        }
        Step::Select(c, a, b) => {
            add(a, If(Branch::Holds(c)));
            add(b, If(Branch::Fails(c)));
        }
        Step::Else(a, b) => {
            add(a, If(Branch::There(a)));
            add(b, If(Branch::Missing(a)));
        }
        Step::Marked(_, a) => add(a, Number(1.0)),
        // Constants, and conditions, which are flat wherever they have a slope.
        Step::Constant(_)
        | Step::Withheld
        | Step::Compare(..)
        | Step::And(..)
        | Step::Or(..)
        | Step::Not(_)
        | Step::IsWord(..)
        | Step::IsState(..)
        | Step::Differs(..) => {}
    }
}

/// For each input of a formula, whether its present result used it: through the branches taken,
/// conditions included. Where the result is missing or faulty, what stood in the way counts.
pub fn used_inputs(tape: &Tape, inputs: &[Lane]) -> Vec<bool> {
    let mut forward = Forward {
        lanes: inputs.to_vec(),
    };
    run(&tape.steps, &mut forward);
    let lanes = forward.lanes;
    let mut used = vec![false; lanes.len()];
    if let Some(result) = used.get_mut(tape.result()) {
        *result = true;
    }
    for (i, step) in tape.steps.iter().enumerate().rev() {
        if used[tape.inputs() + i] {
            each_used(*step, &lanes, |a| used[usize::from(a)] = true);
        }
    }
    used.truncate(tape.inputs());
    used
}

/// Calls `mark` with each argument that a step's present result used.
fn each_used(step: Step, lanes: &[Lane], mut mark: impl FnMut(Reg)) {
    let lane = |a: Reg| lanes[usize::from(a)];
    match step {
        Step::Select(c, a, b) => {
            mark(c);
            if lane(c).status.is_known() {
                mark(if lane(c).value != 0.0 { a } else { b });
            }
        }
        Step::Else(a, b) => {
            if lane(a).status.is_missing() {
                mark(b);
                // A value that is missing on both sides waits for either.
                if lane(b).status.is_missing() {
                    mark(a);
                }
            } else {
                mark(a);
            }
        }
        all => all.each_argument(mark),
    }
}
