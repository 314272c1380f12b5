//! The evaluator: one run of the steps over one lane, or over a block of lanes.
//!
//! One exam is one lane, a cohort is rows in blocks, a Monte Carlo run is draws in blocks. The
//! same function walks the steps for all of them; only the register file differs. Every lane
//! gets the same bits whatever the width: no fused multiply-add, no reordering.
//!
//! Faults are sticky. Along straight steps a number that is not finite stays so until it is
//! divided by, compared or held back; those steps look at it first. Steps that look at states
//! keep a state for each register, so that a branch not taken never faults.

use super::status::{Status, origin_bits};
use super::tape::{Order, Reg, StateTest, Step, Tape};
use super::{math, simd};

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

/// Room for the registers of one lane of a small formula, kept between formulas.
#[derive(Clone)]
pub(crate) struct Single<const TRACKED: bool> {
    pub(crate) values: [f64; 256],
    pub(crate) states: [u8; 256],
}

impl<const TRACKED: bool> Single<TRACKED> {
    pub(crate) fn new() -> Self {
        Single {
            values: [0.0; 256],
            states: [0; 256],
        }
    }

    /// Whether a formula of this many registers fits.
    pub(crate) fn fits(registers: usize) -> bool {
        registers <= 256
    }

    /// Runs a tape whose inputs have been put into the first registers, values and states;
    /// `joined` is the state of all inputs together.
    #[inline(always)]
    pub(crate) fn finish(&mut self, tape: &Tape, joined: u8) -> Lane {
        let mut filled = FilledSingle {
            room: self,
            next: tape.inputs() as u8,
            hidden: 0.0,
        };
        run(&tape.steps, &mut filled);
        let hidden = filled.hidden;
        let at = tape.result as u8 as usize;
        let value = self.values[at];
        let states = if TRACKED {
            self.states[at]
        } else if is_unsettled(value + hidden, joined) {
            return self.finish_tracked(tape, joined);
        } else {
            checked(value + hidden, joined)
        };
        Lane {
            value,
            status: Status(states).settled(),
        }
    }

    /// The same run with a state for each register.
    #[cold]
    #[inline(never)]
    fn finish_tracked(&self, tape: &Tape, joined: u8) -> Lane {
        let mut tracked = Single::<true>::new();
        let inputs = tape.inputs();
        tracked.values[..inputs].copy_from_slice(&self.values[..inputs]);
        tracked.states[..inputs].copy_from_slice(&self.states[..inputs]);
        tracked.finish(tape, joined)
    }
}

/// Registers of one lane: no bounds to check, no memory to ask for.
struct FilledSingle<'a, const TRACKED: bool> {
    room: &'a mut Single<TRACKED>,
    next: u8,
    hidden: f64,
}

impl<const TRACKED: bool> FilledSingle<'_, TRACKED> {
    #[inline(always)]
    fn put(&mut self, value: f64, states: u8) {
        let at = usize::from(self.next);
        self.room.values[at] = value;
        if TRACKED {
            self.room.states[at] = checked(value, states);
        }
        self.next = self.next.wrapping_add(1);
    }

    #[inline(always)]
    fn lane(&self, a: Reg) -> Lane {
        let a = a as u8 as usize;
        Lane {
            value: self.room.values[a],
            status: Status(self.room.states[a]),
        }
    }
}

impl<const TRACKED: bool> Registers for FilledSingle<'_, TRACKED> {
    #[inline(always)]
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64) {
        let a = self.lane(a);
        self.put(f(a.value), a.status.0);
    }
    #[inline(always)]
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64) {
        let (a, b) = (self.lane(a), self.lane(b));
        self.put(f(a.value, b.value), a.status.0 | b.status.0);
    }
    #[inline(always)]
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64) {
        let (a, b, c) = (self.lane(a), self.lane(b), self.lane(c));
        self.put(
            f(a.value, b.value, c.value),
            a.status.0 | b.status.0 | c.status.0,
        );
    }
    #[inline(always)]
    fn states(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(Lane, Lane, Lane) -> Lane) {
        let lane = f(self.lane(a), self.lane(b), self.lane(c));
        self.put(lane.value, lane.status.0);
    }
    #[inline(always)]
    fn fixed(&mut self, lane: Lane) {
        self.put(lane.value, lane.status.0);
    }
    #[inline(always)]
    fn guard(&mut self, a: Reg) {
        if !TRACKED {
            // Zero for a finite number, not a number for any other: once so, always so.
            self.hidden += self.room.values[a as u8 as usize] * 0.0;
        }
    }
}

/// The step of a straight formula that is one step over all its operands; most sums, products
/// and quotients are.
pub(crate) fn lone_step(tape: &Tape) -> Option<Step> {
    let [step] = tape.steps[..] else {
        return None;
    };
    let mut used = Used(0);
    run(&[step], &mut used);
    let is_whole = tape.is_straight
        && !tape.uses_reading
        && tape.inputs() <= 3
        && tape.result() == tape.inputs()
        && used.0 == (1 << tape.inputs()) - 1;
    is_whole.then_some(step)
}

/// Registers that only note which of the first few are used.
struct Used(u8);

impl Used {
    fn note(&mut self, reg: Reg) {
        self.0 |= 1u8.checked_shl(reg.into()).unwrap_or(0);
    }
}

impl Registers for Used {
    fn one(&mut self, a: Reg, _: impl Fn(f64) -> f64) {
        self.note(a);
    }
    fn two(&mut self, a: Reg, b: Reg, _: impl Fn(f64, f64) -> f64) {
        [a, b].into_iter().for_each(|reg| self.note(reg));
    }
    fn three(&mut self, a: Reg, b: Reg, c: Reg, _: impl Fn(f64, f64, f64) -> f64) {
        [a, b, c].into_iter().for_each(|reg| self.note(reg));
    }
    fn states(&mut self, a: Reg, b: Reg, c: Reg, _: impl Fn(Lane, Lane, Lane) -> Lane) {
        [a, b, c].into_iter().for_each(|reg| self.note(reg));
    }
    fn fixed(&mut self, _: Lane) {}
    fn guard(&mut self, _: Reg) {}
}

/// Runs a [`lone_step`] over operands where they stand: the same arithmetic as
/// [`Single::finish`], without registers in between.
#[inline(always)]
pub(crate) fn run_alone(step: Step, operand: impl Fn(Reg) -> Lane) -> Lane {
    let mut alone = Alone {
        operand,
        result: Lane::MISSING,
        hidden: 0.0,
    };
    run(&[step], &mut alone);
    let states = checked(alone.result.value + alone.hidden, alone.result.status.0);
    Lane {
        value: alone.result.value,
        status: Status(states).settled(),
    }
}

struct Alone<F> {
    operand: F,
    result: Lane,
    hidden: f64,
}

impl<F: Fn(Reg) -> Lane> Registers for Alone<F> {
    #[inline(always)]
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64) {
        let a = (self.operand)(a);
        self.result = Lane {
            value: f(a.value),
            status: a.status,
        };
    }
    #[inline(always)]
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64) {
        let (a, b) = ((self.operand)(a), (self.operand)(b));
        self.result = Lane {
            value: f(a.value, b.value),
            status: Status(a.status.0 | b.status.0),
        };
    }
    #[inline(always)]
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64) {
        let (a, b, c) = ((self.operand)(a), (self.operand)(b), (self.operand)(c));
        self.result = Lane {
            value: f(a.value, b.value, c.value),
            status: Status(a.status.0 | b.status.0 | c.status.0),
        };
    }
    #[inline(always)]
    fn states(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(Lane, Lane, Lane) -> Lane) {
        self.result = f((self.operand)(a), (self.operand)(b), (self.operand)(c));
    }
    #[inline(always)]
    fn fixed(&mut self, lane: Lane) {
        self.result = lane;
    }
    #[inline(always)]
    fn guard(&mut self, a: Reg) {
        self.hidden += (self.operand)(a).value * 0.0;
    }
}

/// Runs a formula over one lane. `inputs` are its operands in order, then the cell's own
/// reading where the formula uses it.
///
/// # Panics
/// When there are fewer or more inputs than [`Tape::inputs`].
pub fn evaluate_one(tape: &Tape, inputs: &[Lane]) -> Lane {
    let block: Vec<Lanes<1>> = inputs
        .iter()
        .map(|lane| Lanes {
            values: [lane.value],
            states: [lane.status.0],
        })
        .collect();
    let block: Vec<&Lanes<1>> = block.iter().collect();
    let mut out = Lanes::MISSING;
    evaluate(tape, &block, &mut out, &mut Scratch::new());
    out.lane(0)
}

/// Values and states of `W` lanes. Aligned, so that no vector of numbers lies across two lines of
/// the cache.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub struct Lanes<const W: usize> {
    /// The numbers.
    pub values: [f64; W],
    /// The states, as bits.
    pub states: [u8; W],
}

impl<const W: usize> Lanes<W> {
    /// All lanes missing.
    pub const MISSING: Self = Lanes {
        values: [1.0; W],
        states: [Status::MISSING_BIT; W],
    };

    /// The same in every lane.
    pub fn all(lane: Lane) -> Self {
        Lanes {
            values: [lane.value; W],
            states: [lane.status.0; W],
        }
    }

    /// One lane.
    pub fn lane(&self, i: usize) -> Lane {
        Lane {
            value: self.values[i],
            status: Status(self.states[i]),
        }
    }

    /// Sets one lane.
    pub fn set(&mut self, i: usize, lane: Lane) {
        self.values[i] = lane.value;
        self.states[i] = lane.status.0;
    }
}

/// Registers for a block of lanes: the inputs are borrowed, the steps append to `made`.
struct Block<'a, const W: usize, const TRACKED: bool> {
    inputs: &'a [&'a Lanes<W>],
    made: &'a mut [Lanes<W>],
    next: usize,
    hidden: [f64; W],
}

/// The registers that are filled.
#[derive(Clone, Copy)]
struct Filled<'a, const W: usize> {
    inputs: &'a [&'a Lanes<W>],
    made: &'a [Lanes<W>],
}

impl<'a, const W: usize> Filled<'a, W> {
    #[inline(always)]
    fn at(self, reg: Reg) -> &'a Lanes<W> {
        let reg = usize::from(reg);
        match self.inputs.get(reg) {
            Some(input) => input,
            None => &self.made[reg - self.inputs.len()],
        }
    }
}

impl<const W: usize, const TRACKED: bool> Block<'_, W, TRACKED> {
    #[inline(always)]
    fn split(&mut self) -> (Filled<'_, W>, &mut Lanes<W>) {
        let (made, rest) = self.made.split_at_mut(self.next);
        self.next += 1;
        let filled = Filled {
            inputs: self.inputs,
            made,
        };
        (filled, &mut rest[0])
    }
}

/// One of two numbers, by their bits: a choice that no compiler turns into one of places to load
/// from.
#[inline(always)]
fn mix(first: bool, a: f64, b: f64) -> f64 {
    let mask = u64::from(first).wrapping_neg();
    f64::from_bits((a.to_bits() & mask) | (b.to_bits() & !mask))
}

#[inline(always)]
fn track_one<const W: usize, const TRACKED: bool>(a: &Lanes<W>, out: &mut Lanes<W>) {
    if TRACKED {
        for i in 0..W {
            out.states[i] = checked(out.values[i], a.states[i]);
        }
    }
}

#[inline(always)]
fn track_two<const W: usize, const TRACKED: bool>(a: &Lanes<W>, b: &Lanes<W>, out: &mut Lanes<W>) {
    if TRACKED {
        for i in 0..W {
            out.states[i] = checked(out.values[i], a.states[i] | b.states[i]);
        }
    }
}

impl<const W: usize, const TRACKED: bool> Registers for Block<'_, W, TRACKED> {
    #[inline(always)]
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64) {
        let (filled, out) = self.split();
        let a = filled.at(a);
        for i in 0..W {
            out.values[i] = f(a.values[i]);
        }
        track_one::<W, TRACKED>(a, out);
    }
    #[inline(always)]
    fn exp(&mut self, a: Reg) {
        let (filled, out) = self.split();
        let a = filled.at(a);
        for i in 0..W {
            out.values[i] = math::exp(a.values[i]);
        }
        track_one::<W, TRACKED>(a, out);
    }
    #[inline(always)]
    fn ln(&mut self, a: Reg) {
        let (filled, out) = self.split();
        let a = filled.at(a);
        for i in 0..W {
            out.values[i] = math::ln(a.values[i]);
        }
        track_one::<W, TRACKED>(a, out);
    }
    #[inline(always)]
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64) {
        let (filled, out) = self.split();
        let (a, b) = (filled.at(a), filled.at(b));
        for i in 0..W {
            out.values[i] = f(a.values[i], b.values[i]);
        }
        track_two::<W, TRACKED>(a, b, out);
    }
    #[inline(always)]
    fn pow(&mut self, a: Reg, b: Reg) {
        let (filled, out) = self.split();
        let (a, b) = (filled.at(a), filled.at(b));
        for i in 0..W {
            out.values[i] = math::pow(a.values[i], b.values[i]);
        }
        track_two::<W, TRACKED>(a, b, out);
    }
    #[inline(always)]
    fn select(&mut self, a: Reg, b: Reg, c: Reg) {
        let (filled, out) = self.split();
        let (a, b, c) = (filled.at(a), filled.at(b), filled.at(c));
        // Number by number and state by state, which become vector code, as `select` says.
        for i in 0..W {
            let taken = mix(a.values[i] != 0.0, b.values[i], c.values[i]);
            out.values[i] = mix(Status(a.states[i]).is_known(), taken, a.values[i]);
        }
        let mut holds = [0; W];
        for (holds, value) in holds.iter_mut().zip(&a.values) {
            *holds = u8::from(*value != 0.0).wrapping_neg();
        }
        for (i, holds) in holds.into_iter().enumerate() {
            let taken = (b.states[i] & holds) | (c.states[i] & !holds);
            let known = u8::from(Status(a.states[i]).is_known()).wrapping_neg();
            out.states[i] = a.states[i] | (taken & known);
        }
        for i in 0..W {
            out.states[i] = checked(out.values[i], out.states[i]);
        }
    }
    #[inline(always)]
    fn or_else(&mut self, a: Reg, b: Reg) {
        let (filled, out) = self.split();
        let (a, b) = (filled.at(a), filled.at(b));
        for i in 0..W {
            let missing = Status(a.states[i]).is_missing();
            out.values[i] = mix(missing, b.values[i], a.values[i]);
        }
        for i in 0..W {
            let missing = u8::from(Status(a.states[i]).is_missing()).wrapping_neg();
            out.states[i] = (b.states[i] & missing) | (a.states[i] & !missing);
        }
        for i in 0..W {
            out.states[i] = checked(out.values[i], out.states[i]);
        }
    }
    #[inline(always)]
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64) {
        let (filled, out) = self.split();
        let (a, b, c) = (filled.at(a), filled.at(b), filled.at(c));
        for i in 0..W {
            out.values[i] = f(a.values[i], b.values[i], c.values[i]);
        }
        if TRACKED {
            for i in 0..W {
                let states = a.states[i] | b.states[i] | c.states[i];
                out.states[i] = checked(out.values[i], states);
            }
        }
    }
    #[inline(always)]
    fn states(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(Lane, Lane, Lane) -> Lane) {
        let (filled, out) = self.split();
        let (a, b, c) = (filled.at(a), filled.at(b), filled.at(c));
        for i in 0..W {
            let lane = f(a.lane(i), b.lane(i), c.lane(i));
            out.values[i] = lane.value;
            out.states[i] = checked(lane.value, lane.status.0);
        }
    }
    #[inline(always)]
    fn fixed(&mut self, lane: Lane) {
        let (_, out) = self.split();
        out.values = [lane.value; W];
        out.states = [checked(lane.value, lane.status.0); W];
    }
    #[inline(always)]
    fn guard(&mut self, a: Reg) {
        if !TRACKED {
            let filled = Filled {
                inputs: self.inputs,
                made: &self.made[..self.next],
            };
            let a = filled.at(a);
            for i in 0..W {
                // Zero for a finite number, not a number for any other: once so, always so.
                self.hidden[i] += a.values[i] * 0.0;
            }
        }
    }
}

/// Room for the registers of a block, kept between formulas.
#[derive(Default)]
pub struct Scratch<const W: usize> {
    made: Vec<Lanes<W>>,
}

impl<const W: usize> Scratch<W> {
    /// No room yet; it grows to the largest formula it meets.
    pub fn new() -> Self {
        Scratch { made: Vec::new() }
    }

    /// What a step of the formula that ran last made. Its states mean something only where the
    /// formula looks at states.
    #[inline]
    pub(crate) fn made(&self, step: usize) -> &Lanes<W> {
        &self.made[step]
    }
}

/// Runs a formula over `W` lanes at once. `inputs` are its operands in order, then the cell's
/// own reading where the formula uses it.
///
/// # Panics
/// When there are fewer or more inputs than [`Tape::inputs`].
pub fn evaluate<const W: usize>(
    tape: &Tape,
    inputs: &[&Lanes<W>],
    out: &mut Lanes<W>,
    scratch: &mut Scratch<W>,
) {
    assert_eq!(inputs.len(), tape.inputs(), "one input for each operand");
    if scratch.made.len() < tape.steps.len() {
        scratch.made.resize(tape.steps.len(), Lanes::MISSING);
    }
    simd::widest(Evaluation {
        tape,
        inputs,
        out,
        made: &mut scratch.made,
    });
}

/// One run of a formula over a block.
struct Evaluation<'a, const W: usize> {
    tape: &'a Tape,
    inputs: &'a [&'a Lanes<W>],
    out: &'a mut Lanes<W>,
    made: &'a mut [Lanes<W>],
}

impl<const W: usize> simd::Job for Evaluation<'_, W> {
    #[inline(always)]
    fn run(self) {
        block(self.tape, self.inputs, self.out, self.made);
    }
}

/// One body for every instruction set.
#[inline(always)]
fn block<const W: usize>(
    tape: &Tape,
    inputs: &[&Lanes<W>],
    out: &mut Lanes<W>,
    made: &mut [Lanes<W>],
) {
    if tape.is_straight && straight(tape, inputs, out, made) {
        return;
    }
    walk::<W, true>(tape, inputs, made);
    let result = Filled { inputs, made }.at(tape.result);
    for i in 0..W {
        out.values[i] = result.values[i];
        out.states[i] = settle(result.states[i]);
    }
}

/// Runs straight steps without states; whether that told the state of every lane.
#[inline(always)]
fn straight<const W: usize>(
    tape: &Tape,
    inputs: &[&Lanes<W>],
    out: &mut Lanes<W>,
    made: &mut [Lanes<W>],
) -> bool {
    let hidden = walk::<W, false>(tape, inputs, made);
    let result = Filled { inputs, made }.at(tape.result);
    let mut joined = [0; W];
    for input in inputs {
        for (joined, states) in joined.iter_mut().zip(&input.states) {
            *joined |= states;
        }
    }
    let mut unsettled = false;
    for i in 0..W {
        let value = result.values[i] + hidden[i];
        out.values[i] = result.values[i];
        out.states[i] = settle(checked(value, joined[i]));
        unsettled |= is_unsettled(value, joined[i]);
    }
    !unsettled
}

#[inline(always)]
fn settle(states: u8) -> u8 {
    // As `Status::settled`, in arithmetic that vectorizes.
    let faulty = (states >> 3) & 1;
    let missing = (states >> 2) & 1 & !faulty;
    let known = (1 - faulty) & (1 - missing);
    let assumed = (states >> 1) & 1;
    let estimated = states & 1 & (1 - assumed);
    (faulty << 3) | (missing << 2) | (known & assumed) << 1 | (known & estimated)
}

#[inline(always)]
fn walk<const W: usize, const TRACKED: bool>(
    tape: &Tape,
    inputs: &[&Lanes<W>],
    made: &mut [Lanes<W>],
) -> [f64; W] {
    let mut registers = Block::<W, TRACKED> {
        inputs,
        made,
        next: 0,
        hidden: [0.0; W],
    };
    run(&tape.steps, &mut registers);
    registers.hidden
}
