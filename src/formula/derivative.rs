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
            each_partial(*step, &lanes, lanes[out].value, |a, partial| {
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
            each_partial(*step, lanes, lanes[out].value, |a, slope| {
                adjoint[usize::from(a)] += g * slope;
            });
        }
    }
}

/// Calls `add` with each argument of a step that its result depends on, and the slope.
fn each_partial(step: Step, lanes: &[Lane], out: f64, mut add: impl FnMut(Reg, f64)) {
    let v = |a: Reg| lanes[usize::from(a)].value;
    match step {
        Step::Negate(a) => add(a, -1.0),
        Step::Sqrt(a) => add(a, 0.5 / out),
        Step::Exp(a) => add(a, out),
        Step::Ln(a) => add(a, 1.0 / v(a)),
        Step::Cos(a) => add(a, -math::sin(v(a))),
        Step::Abs(a) => add(a, if v(a) < 0.0 { -1.0 } else { 1.0 }),
        Step::Add(a, b) => {
            add(a, 1.0);
            add(b, 1.0);
        }
        Step::AddNumber(a, _) => add(a, 1.0),
        Step::Subtract(a, b) => {
            add(a, 1.0);
            add(b, -1.0);
        }
        Step::Multiply(a, b) => {
            add(a, v(b));
            add(b, v(a));
        }
        Step::Times(a, k) => add(a, k),
        Step::Divide(a, b) => {
            add(a, 1.0 / v(b));
            add(b, -out / v(b));
        }
        Step::Over(a, k) => add(a, 1.0 / k),
        Step::Power(a, b) => {
            let (x, y) = (v(a), v(b));
            // x⁰ is flat, even at 0 where x⁻¹ has no value.
            if y != 0.0 {
                add(a, y * math::pow(x, y - 1.0));
            }
            // The slope in the exponent exists for a positive base only.
            if x > 0.0 {
                add(b, out * math::ln(x));
            }
        }
        Step::WholePower(_, 0) => {}
        Step::WholePower(a, n) => add(a, f64::from(n) * lanes::whole_power(v(a), n - 1)),
        Step::Min(a, b) => add(if v(b) < v(a) { b } else { a }, 1.0),
        Step::Max(a, b) => add(if v(b) > v(a) { b } else { a }, 1.0),
        Step::Clamp(a, low, high) => {
            let taken = if v(a) < v(low) {
                low
            } else if v(a) > v(high) {
                high
            } else {
                a
            };
            add(taken, 1.0);
        }
        Step::Select(c, a, b) => add(if v(c) != 0.0 { a } else { b }, 1.0),
        Step::Else(a, b) => {
            let is_missing = lanes[usize::from(a)].status.is_missing();
            add(if is_missing { b } else { a }, 1.0);
        }
        Step::Marked(_, a) => add(a, 1.0),
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
        Step::Constant(_) | Step::Withheld => {}
        Step::Negate(a)
        | Step::Sqrt(a)
        | Step::Exp(a)
        | Step::Ln(a)
        | Step::Cos(a)
        | Step::Abs(a)
        | Step::AddNumber(a, _)
        | Step::Times(a, _)
        | Step::Over(a, _)
        | Step::WholePower(a, _)
        | Step::Not(a)
        | Step::IsWord(a, _)
        | Step::IsState(a, _)
        | Step::Marked(_, a) => mark(a),
        Step::Add(a, b)
        | Step::Subtract(a, b)
        | Step::Multiply(a, b)
        | Step::Divide(a, b)
        | Step::Power(a, b)
        | Step::Min(a, b)
        | Step::Max(a, b)
        | Step::Compare(_, a, b)
        | Step::And(a, b)
        | Step::Or(a, b)
        | Step::Differs(a, b) => [a, b].into_iter().for_each(mark),
        Step::Clamp(a, b, c) => [a, b, c].into_iter().for_each(mark),
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
    }
}
