//! Formulas of one step, which need no registers.

use super::{Lane, Registers, checked, run};
use crate::formula::status::Status;
use crate::formula::tape::{Reg, Step, Tape};

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
