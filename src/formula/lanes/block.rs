//! Registers of a block of lanes.

use super::{Lane, Registers, checked, is_unsettled, run};
use crate::formula::status::Status;
use crate::formula::tape::{Reg, Tape};
use crate::formula::{math, simd};

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
    #[inline(always)]
    pub fn lane(&self, i: usize) -> Lane {
        self.view().lane(i)
    }

    /// Sets one lane.
    pub fn set(&mut self, i: usize, lane: Lane) {
        self.values[i] = lane.value;
        self.states[i] = lane.status.0;
    }

    /// These lanes to read.
    #[inline(always)]
    pub fn view(&self) -> View<'_, W> {
        View {
            values: &self.values,
            states: &self.states,
        }
    }

    /// These lanes to write.
    #[inline(always)]
    pub fn view_mut(&mut self) -> ViewMut<'_, W> {
        ViewMut {
            values: &mut self.values,
            states: &mut self.states,
        }
    }
}

/// Lanes to read, wherever their numbers and states stand.
#[derive(Clone, Copy, Debug)]
pub struct View<'a, const W: usize> {
    /// The numbers.
    pub values: &'a [f64; W],
    /// The states, as bits.
    pub states: &'a [u8; W],
}

impl<const W: usize> View<'_, W> {
    /// One lane.
    #[inline(always)]
    pub fn lane(&self, i: usize) -> Lane {
        Lane {
            value: self.values[i],
            status: Status(self.states[i]),
        }
    }
}

/// Lanes to write, wherever their numbers and states stand.
#[derive(Debug)]
pub struct ViewMut<'a, const W: usize> {
    /// The numbers.
    pub values: &'a mut [f64; W],
    /// The states, as bits.
    pub states: &'a mut [u8; W],
}

impl<const W: usize> ViewMut<'_, W> {
    /// The same lanes for a while.
    #[inline(always)]
    pub fn reborrow(&mut self) -> ViewMut<'_, W> {
        ViewMut {
            values: self.values,
            states: self.states,
        }
    }

    /// The same lanes to read.
    #[inline(always)]
    pub fn view(&self) -> View<'_, W> {
        View {
            values: self.values,
            states: self.states,
        }
    }
}

/// Registers for a block of lanes: the inputs are borrowed, the steps append to `made`.
struct Block<'a, const W: usize, const TRACKED: bool> {
    inputs: &'a [View<'a, W>],
    made: &'a mut [Lanes<W>],
    next: usize,
    /// The step that writes to `out` instead.
    aside: Option<usize>,
    out: ViewMut<'a, W>,
    hidden: [f64; W],
    /// Whether any register was guarded; `hidden` is zero where not.
    is_guarded: bool,
}

/// The registers that are filled.
#[derive(Clone, Copy)]
struct Filled<'a, const W: usize> {
    inputs: &'a [View<'a, W>],
    made: &'a [Lanes<W>],
}

impl<'a, const W: usize> Filled<'a, W> {
    #[inline(always)]
    fn at(self, reg: Reg) -> View<'a, W> {
        let reg = usize::from(reg);
        match self.inputs.get(reg) {
            Some(input) => *input,
            None => self.made[reg - self.inputs.len()].view(),
        }
    }
}

impl<const W: usize, const TRACKED: bool> Block<'_, W, TRACKED> {
    #[inline(always)]
    fn split(&mut self) -> (Filled<'_, W>, ViewMut<'_, W>) {
        let (made, rest) = self.made.split_at_mut(self.next);
        let filled = Filled {
            inputs: self.inputs,
            made,
        };
        let out = match Some(self.next) == self.aside {
            true => self.out.reborrow(),
            false => rest[0].view_mut(),
        };
        self.next += 1;
        (filled, out)
    }
}

/// One of two numbers, by their bits: a choice that no compiler turns into one of places to load
/// from.
#[inline(always)]
fn mix(first: bool, a: f64, b: f64) -> f64 {
    let mask = u64::from(first).wrapping_neg();
    f64::from_bits((a.to_bits() & mask) | (b.to_bits() & !mask))
}

/// Whether all are the same number, bit by bit.
#[inline(always)]
fn is_same<const W: usize>(numbers: &[f64; W], number: f64) -> bool {
    let differing = numbers.iter().fold(0, |differing, other| {
        differing | (other.to_bits() ^ number.to_bits())
    });
    differing == 0
}

/// Whether all are bases of powers that need no care for special cases.
#[inline(always)]
fn are_ordinary_bases<const W: usize>(numbers: &[f64; W]) -> bool {
    let mut odd = 0;
    for number in numbers {
        odd += u64::from(!math::is_ordinary_base(*number));
    }
    odd == 0
}

#[inline(always)]
fn track_one<const W: usize, const TRACKED: bool>(a: View<'_, W>, out: ViewMut<'_, W>) {
    if TRACKED {
        for i in 0..W {
            out.states[i] = checked(out.values[i], a.states[i]);
        }
    }
}

#[inline(always)]
fn track_two<const W: usize, const TRACKED: bool>(
    a: View<'_, W>,
    b: View<'_, W>,
    out: ViewMut<'_, W>,
) {
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
        let (mut upper, mut lower) = ([0.0; W], [0.0; W]);
        let exponent = b.values[0];
        // Most exponents are numbers of the formula: what concerns them alone is done once.
        let is_one_exponent = is_same(b.values, exponent);
        if is_one_exponent && math::is_ordinary_exponent(exponent) && are_ordinary_bases(a.values) {
            for i in 0..W {
                let log = math::log_for_ordinary_pow(a.values[i]);
                (upper[i], lower[i]) = (log.hi, log.lo);
            }
            for i in 0..W {
                let log = math::Sum {
                    hi: upper[i],
                    lo: lower[i],
                };
                out.values[i] = math::ordinary_pow_by_log(log, exponent);
            }
            track_two::<W, TRACKED>(a, b, out);
            return;
        }
        for i in 0..W {
            let log = math::log_for_pow(a.values[i]);
            (upper[i], lower[i]) = (log.hi, log.lo);
        }
        let log = |i: usize| math::Sum {
            hi: upper[i],
            lo: lower[i],
        };
        if is_one_exponent {
            for i in 0..W {
                out.values[i] = math::pow_by_log(a.values[i], log(i), exponent);
            }
        } else {
            for i in 0..W {
                out.values[i] = math::pow_by_log(a.values[i], log(i), b.values[i]);
            }
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
        for (holds, value) in holds.iter_mut().zip(a.values) {
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
        *out.values = [lane.value; W];
        *out.states = [checked(lane.value, lane.status.0); W];
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
            self.is_guarded = true;
        }
    }
}

/// Room for the registers of a block, kept between formulas.
#[derive(Default)]
pub struct Scratch<const W: usize> {
    made: Vec<Lanes<W>>,
    /// Whether what every step made can be looked at later.
    keeps: bool,
}

impl<const W: usize> Scratch<W> {
    /// No room yet; it grows to the largest formula it meets.
    pub fn new() -> Self {
        Scratch {
            made: Vec::new(),
            keeps: false,
        }
    }

    /// Room whose steps can be looked at later.
    pub(crate) fn keeping() -> Self {
        Scratch {
            made: Vec::new(),
            keeps: true,
        }
    }

    /// What a step of the formula that ran last made. Its states mean something only where the
    /// formula looks at states.
    #[inline]
    pub(crate) fn made(&self, step: usize) -> &Lanes<W> {
        debug_assert!(self.keeps);
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
    inputs: &[View<'_, W>],
    out: ViewMut<'_, W>,
    scratch: &mut Scratch<W>,
) {
    assert_eq!(inputs.len(), tape.inputs(), "one input for each operand");
    if scratch.made.len() < tape.steps.len() {
        scratch.made.resize(tape.steps.len(), Lanes::MISSING);
    }
    let last = tape.steps.len().checked_sub(1);
    let ends_there = |last: &usize| tape.result() == tape.inputs() + last;
    simd::widest(Evaluation {
        tape,
        inputs,
        out,
        aside: last.filter(|last| ends_there(last) && !scratch.keeps),
        made: &mut scratch.made,
    });
}

/// One run of a formula over a block.
struct Evaluation<'a, const W: usize> {
    tape: &'a Tape,
    inputs: &'a [View<'a, W>],
    out: ViewMut<'a, W>,
    /// The step that makes the result, where it writes it where it is wanted.
    aside: Option<usize>,
    made: &'a mut [Lanes<W>],
}

impl<const W: usize> simd::Job for Evaluation<'_, W> {
    #[inline(always)]
    fn run(mut self) {
        if self.tape.is_straight && self.straight() {
            return;
        }
        self.walk::<true>();
        self.fetch();
        for i in 0..W {
            self.out.states[i] = settle(self.out.states[i]);
        }
    }
}

impl<const W: usize> Evaluation<'_, W> {
    /// Runs straight steps without states; whether that told the state of every lane.
    #[inline(always)]
    fn straight(&mut self) -> bool {
        let walked = self.walk::<false>();
        let mut joined = [0; W];
        for input in self.inputs {
            for (joined, states) in joined.iter_mut().zip(input.states) {
                *joined |= states;
            }
        }
        self.fetch();
        let values = &*self.out.values;
        let is_finite = match walked.is_guarded {
            true => are_finite(|i| values[i] + walked.hidden[i], W),
            false => are_finite(|i| values[i], W),
        };
        if is_finite {
            for (out, joined) in self.out.states.iter_mut().zip(joined) {
                *out = settle(joined);
            }
            return true;
        }
        let mut unsettled = false;
        for (i, joined) in joined.into_iter().enumerate() {
            let value = self.out.values[i] + walked.hidden[i];
            self.out.states[i] = settle(checked(value, joined));
            unsettled |= is_unsettled(value, joined);
        }
        !unsettled
    }

    /// Puts the result where it is wanted, unless its step did.
    #[inline(always)]
    fn fetch(&mut self) {
        if self.aside.is_none() {
            let filled = Filled {
                inputs: self.inputs,
                made: self.made,
            };
            let result = filled.at(self.tape.result);
            *self.out.values = *result.values;
            *self.out.states = *result.states;
        }
    }

    #[inline(always)]
    fn walk<const TRACKED: bool>(&mut self) -> Walked<W> {
        let mut registers = Block::<W, TRACKED> {
            inputs: self.inputs,
            made: self.made,
            next: 0,
            aside: self.aside,
            out: self.out.reborrow(),
            hidden: [0.0; W],
            is_guarded: false,
        };
        run(&self.tape.steps, &mut registers);
        Walked {
            hidden: registers.hidden,
            is_guarded: registers.is_guarded,
        }
    }
}

/// What a walk without states found out.
struct Walked<const W: usize> {
    /// No numbers where a guarded register was not finite.
    hidden: [f64; W],
    /// Whether any register was guarded.
    is_guarded: bool,
}

/// Whether all numbers are finite.
#[inline(always)]
fn are_finite(number: impl Fn(usize) -> f64, count: usize) -> bool {
    // The bits of sizes are in the order of sizes, and those of no number above all.
    let mut greatest = 0;
    for i in 0..count {
        greatest = number(i).abs().to_bits().max(greatest);
    }
    greatest < f64::INFINITY.to_bits()
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

/// Runs a formula over one lane. `inputs` are its operands in order, then the cell's own
/// reading where the formula uses it.
///
/// # Panics
/// When there are fewer or more inputs than [`Tape::inputs`].
pub fn evaluate_one(tape: &Tape, inputs: &[Lane]) -> Lane {
    let block: Vec<Lanes<1>> = inputs.iter().map(|lane| Lanes::all(*lane)).collect();
    let block: Vec<View<'_, 1>> = block.iter().map(Lanes::view).collect();
    let mut out = Lanes::MISSING;
    evaluate(tape, &block, out.view_mut(), &mut Scratch::new());
    out.lane(0)
}
