//! The reader of derivatives over many lanes: a formula's slopes as a list of operations over
//! blocks, made once and run for every block.
//!
//! The numbers are those of [`sized_slopes`](super::sized_slopes), to the bit: the same sweep back
//! over the steps, written down instead of carried out. What is known when it is written down
//! (slopes that are numbers, products with 1, branches of constants) costs nothing later.

mod carried;
mod plain;
mod run;

use std::collections::HashMap;

pub(crate) use carried::{LEAST_STANDARD, Settled, guarded, square, stretched};
pub(crate) use run::Carrying;

use super::derivative::{Branch, Partial, each_partial};
use super::lanes::{Lane, Lanes, Registers};
use super::tape::{Reg, Tape};
use carried::Stretch;

/// Lanes to work with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Source {
    /// Supplied by the caller, by its number.
    Given(u32),
    /// Made by an earlier operation.
    Made(u32),
}

/// A number, or lanes of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Term {
    /// The same in every lane.
    Number(f64),
    /// Lanes.
    Lanes(Source),
}

/// A slope, and the size of what it was added up from where more than one thing was added.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slope {
    /// The slope.
    pub(crate) slope: Term,
    /// The size; that of the slope itself where `None`.
    pub(crate) size: Option<Term>,
}

impl Slope {
    /// Of a thing in itself.
    pub(crate) const ONE: Slope = Slope {
        slope: Term::Number(1.0),
        size: None,
    };
}

/// Contributions that cancel leave rounding behind; what is left below this share of what was
/// added up is none.
const CANCELLED: f64 = 1e-12;

/// A slope without what is left of contributions that cancel.
#[inline(always)]
pub(crate) fn settled(slope: f64, size: f64) -> f64 {
    // An infinite slope must not look cancelled. Both are asked, so that this is vector code.
    match size.is_finite() & (slope.abs() <= CANCELLED * size) {
        true => 0.0,
        false => slope,
    }
}

/// One operation; its result goes to the next register.
#[derive(Clone, Copy, Debug)]
enum Make {
    Number(f64),
    Negate(Source),
    Absolute(Source),
    Root(Source),
    Reciprocal(Source),
    HalfOver(Source),
    MinusSine(Source),
    Sign(Source),
    WholePower(Source, i32),
    Base(Source, Source, Source),
    Exponent(Source, Source),
    MinusOver(Source, Source),
    Add(Source, Source),
    Subtract(Source, Source),
    Multiply(Source, Source),
    /// a · k; 0 where a is 0.
    Times(Source, f64),
    /// a · b; 0 where the guard is 0.
    Product(Source, Source, Source),
    /// a · b; 0 where one of the two guards is 0.
    Link(Source, Source, Source, Source),
    Settled(Source, Source),
    AtLeastZero(Source),
    /// a + (b · c)².
    AddSquare(Source, Source, Source),
    /// (b · c)².
    Square(Source, Source),
    If(Choice),
    /// The second where the given lanes are known, else the third.
    WhereKnown(u32, Source, Source),
    /// sum + part².
    Part(Option<Source>, Source),
    /// sum + (slope · u)².
    StretchedPart(Stretch),
    /// sum + variance · slope²; whether the variance is nothing but zeros.
    Variance(Stretch, bool),
}

/// A branch over lanes.
#[derive(Clone, Copy, Debug)]
enum Choice {
    Less(Source, Source),
    NotLess(Source, Source),
    Between(Source, Source, Source),
    Above(Source, Source, Source),
    Holds(Source),
    Fails(Source),
    Missing(u32),
    There(u32),
    Known(u32),
    NotKnown(u32),
}

/// The results of one operation, aligned as [`Lanes`] are.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
pub(crate) struct Numbers<const W: usize>(pub(crate) [f64; W]);

/// A list of operations over blocks of lanes.
#[derive(Clone, Debug, Default)]
pub(crate) struct Code {
    makes: Vec<Make>,
    /// The operations that make numbers, by their bits.
    numbers: HashMap<u64, u32>,
}

/// Where the given lanes of a block stand.
pub(crate) trait Supply<const W: usize> {
    /// The given lanes of this number.
    fn given(&self, number: u32) -> &Lanes<W>;
}

impl Code {
    /// Room for the results of all operations.
    pub(crate) fn room<const W: usize>(&self) -> Vec<Numbers<W>> {
        vec![Numbers([0.0; W]); self.makes.len()]
    }

    fn put(&mut self, make: Make) -> Term {
        self.makes.push(make);
        Term::Lanes(Source::Made(self.makes.len() as u32 - 1))
    }

    fn source(&mut self, term: Term) -> Source {
        match term {
            Term::Lanes(source) => source,
            Term::Number(k) => {
                let next = self.makes.len() as u32;
                let made = *self.numbers.entry(k.to_bits()).or_insert(next);
                if made == next {
                    self.makes.push(Make::Number(k));
                }
                Source::Made(made)
            }
        }
    }

    /// −a.
    pub(crate) fn negate(&mut self, a: Term) -> Term {
        match a {
            Term::Number(k) => Term::Number(-k),
            Term::Lanes(a) => self.put(Make::Negate(a)),
        }
    }

    /// |a|.
    pub(crate) fn absolute(&mut self, a: Term) -> Term {
        match a {
            Term::Number(k) => Term::Number(k.abs()),
            Term::Lanes(a) => self.put(Make::Absolute(a)),
        }
    }

    /// √a, always as an operation, whose number it gives.
    pub(crate) fn root(&mut self, a: Term) -> usize {
        let a = self.source(a);
        self.makes.push(Make::Root(a));
        self.makes.len() - 1
    }

    /// a + b.
    pub(crate) fn add(&mut self, a: Term, b: Term) -> Term {
        match (a, b) {
            (Term::Number(a), Term::Number(b)) => Term::Number(a + b),
            _ => {
                let (a, b) = (self.source(a), self.source(b));
                self.put(Make::Add(a, b))
            }
        }
    }

    /// a − b.
    pub(crate) fn subtract(&mut self, a: Term, b: Term) -> Term {
        match (a, b) {
            (Term::Number(a), Term::Number(b)) => Term::Number(a - b),
            _ => {
                let (a, b) = (self.source(a), self.source(b));
                self.put(Make::Subtract(a, b))
            }
        }
    }

    /// a · b.
    pub(crate) fn multiply(&mut self, a: Term, b: Term) -> Term {
        match (a, b) {
            (Term::Number(a), Term::Number(b)) => Term::Number(a * b),
            (Term::Number(1.0), x) | (x, Term::Number(1.0)) => x,
            _ => {
                let (a, b) = (self.source(a), self.source(b));
                self.put(Make::Multiply(a, b))
            }
        }
    }

    /// a, or 0 below it.
    pub(crate) fn at_least_zero(&mut self, a: Term) -> Term {
        match a {
            Term::Number(k) => Term::Number(k.max(0.0)),
            Term::Lanes(a) => self.put(Make::AtLeastZero(a)),
        }
    }

    /// sum + (a · b)².
    pub(crate) fn add_square(&mut self, sum: Option<Term>, a: Term, b: Term) -> Term {
        if let (Some(Term::Number(_)) | None, Term::Number(_), Term::Number(_)) = (sum, a, b) {
            let part = self.multiply(a, b);
            let square = self.multiply(part, part);
            return match sum {
                Some(sum) => self.add(sum, square),
                None => square,
            };
        }
        let (a, b) = (self.source(a), self.source(b));
        match sum {
            Some(sum) => {
                let sum = self.source(sum);
                self.put(Make::AddSquare(sum, a, b))
            }
            None => self.put(Make::Square(a, b)),
        }
    }

    /// The value of given lanes where they are known, else another.
    pub(crate) fn known_or(&mut self, given: u32, other: Term) -> Term {
        self.where_known_or(given, Term::Lanes(Source::Given(given)), other)
    }

    /// One where given lanes are known, else another.
    pub(crate) fn where_known_or(&mut self, given: u32, known: Term, other: Term) -> Term {
        let (known, other) = (self.source(known), self.source(other));
        self.put(Make::WhereKnown(given, known, other))
    }

    /// 1 where given lanes are known, else 0; or, unless `is`, the other way round.
    pub(crate) fn where_known(&mut self, given: u32, is: bool) -> Term {
        self.put(Make::If(match is {
            true => Choice::Known(given),
            false => Choice::NotKnown(given),
        }))
    }

    /// A slope with what cancelled taken out.
    pub(crate) fn settle(&mut self, slope: Slope) -> Term {
        let Some(size) = slope.size else {
            return slope.slope;
        };
        match (slope.slope, size) {
            (Term::Number(slope), Term::Number(size)) => Term::Number(settled(slope, size)),
            (slope, size) => {
                let (slope, size) = (self.source(slope), self.source(size));
                self.put(Make::Settled(slope, size))
            }
        }
    }

    /// The sum of two contributions to one slope.
    pub(crate) fn sum(&mut self, before: Option<Slope>, more: Slope) -> Slope {
        let Some(before) = before else {
            return more;
        };
        let (a, b) = (self.size_of(before), self.size_of(more));
        Slope {
            slope: self.add(before.slope, more.slope),
            size: Some(self.add(a, b)),
        }
    }

    fn size_of(&mut self, slope: Slope) -> Term {
        match slope.size {
            Some(size) => size,
            None => self.absolute(slope.slope),
        }
    }

    /// A slope carried on over one more step; `None` where that is flat. With `both`, a zero of
    /// the step stands for a path not taken, whatever the slope up to it.
    pub(crate) fn carry(&mut self, slope: Slope, step: Slope, both: bool) -> Option<Slope> {
        let is_flat = step.slope == Term::Number(0.0) && step.size.is_none();
        let is_number = matches!(slope.slope, Term::Number(k) if k.is_finite());
        // Where no number is the slope up to here, as that of a root at 0, there is none after a
        // step of 0 either.
        if is_flat && (both || is_number) {
            return None;
        }
        let guard = slope.size.unwrap_or(slope.slope);
        let other = both.then(|| step.size.unwrap_or(step.slope));
        let carried = self.guarded(guard, other, slope.slope, step.slope);
        let is_single = slope.size.is_none() && step.size.is_none();
        let size = (!is_single).then(|| {
            let (a, b) = (self.size_of(slope), self.size_of(step));
            self.guarded(guard, other, a, b)
        });
        Some(Slope {
            slope: carried,
            size,
        })
    }

    /// a · b; 0 where a guard is 0.
    fn guarded(&mut self, guard: Term, other: Option<Term>, a: Term, b: Term) -> Term {
        match (a, b) {
            (Term::Number(a), Term::Number(b)) => Term::Number(a * b),
            // Where a guard is 0 so is what it guards, or 0 times something finite.
            (Term::Number(1.0), x) | (x, Term::Number(1.0)) => x,
            (Term::Number(-1.0), x) | (x, Term::Number(-1.0)) => self.negate(x),
            (Term::Number(k), Term::Lanes(x)) | (Term::Lanes(x), Term::Number(k)) => {
                self.put(Make::Times(x, k))
            }
            (Term::Lanes(a), Term::Lanes(b)) => {
                let guard = self.source(guard);
                match other {
                    None => self.put(Make::Product(guard, a, b)),
                    Some(other) => {
                        let other = self.source(other);
                        self.put(Make::Link(guard, other, a, b))
                    }
                }
            }
        }
    }

    /// The slopes of a formula with respect to its inputs; `None` where it is flat. `place` tells
    /// which given lanes hold a register.
    pub(crate) fn slopes(&mut self, tape: &Tape, place: impl Fn(Reg) -> u32) -> Vec<Option<Slope>> {
        let constants = constants(tape);
        let term = |reg: Reg| match constants[usize::from(reg)] {
            Some(k) => Term::Number(k),
            None => Term::Lanes(Source::Given(place(reg))),
        };
        let mut slopes: Vec<Option<Slope>> = vec![None; tape.registers()];
        slopes[tape.result()] = Some(Slope::ONE);
        let mut reciprocals: Vec<(Reg, Term)> = Vec::new();
        for (i, step) in tape.steps.iter().enumerate().rev() {
            let out = tape.inputs() + i;
            let Some(slope) = slopes[out] else {
                continue;
            };
            each_partial(*step, out as Reg, |a, partial| {
                if constants[usize::from(a)].is_some() {
                    return;
                }
                let is_choice = partial.is_choice();
                let partial = self.partial(partial, &term, &place, &mut reciprocals);
                let step = Slope {
                    slope: partial,
                    size: None,
                };
                if let Some(more) = self.carry(slope, step, is_choice) {
                    let before = slopes[usize::from(a)];
                    slopes[usize::from(a)] = Some(self.sum(before, more));
                }
            });
        }
        slopes.truncate(tape.inputs());
        slopes
    }

    fn partial(
        &mut self,
        partial: Partial,
        term: &impl Fn(Reg) -> Term,
        place: &impl Fn(Reg) -> u32,
        reciprocals: &mut Vec<(Reg, Term)>,
    ) -> Term {
        match partial {
            Partial::Number(k) => Term::Number(k),
            Partial::Value(a) => term(a),
            Partial::Over(a) => self.reciprocal(a, term, reciprocals),
            Partial::MinusOver(out, b) => {
                let per = self.reciprocal(b, term, reciprocals);
                let (out, per) = (self.source(term(out)), self.source(per));
                self.put(Make::MinusOver(out, per))
            }
            Partial::HalfOver(out) => {
                let out = self.source(term(out));
                self.put(Make::HalfOver(out))
            }
            Partial::MinusSine(a) => {
                let a = self.source(term(a));
                self.put(Make::MinusSine(a))
            }
            Partial::Sign(a) => {
                let a = self.source(term(a));
                self.put(Make::Sign(a))
            }
            Partial::WholePower(a, n) => {
                let a = self.source(term(a));
                self.put(Make::WholePower(a, n))
            }
            Partial::Base(out, a, b) => {
                let (a, b) = (self.source(term(a)), self.source(term(b)));
                let out = self.source(term(out));
                self.put(Make::Base(out, a, b))
            }
            Partial::Exponent(out, a) => {
                let (out, a) = (self.source(term(out)), self.source(term(a)));
                self.put(Make::Exponent(out, a))
            }
            Partial::If(branch) => self.choice(branch, term, place),
        }
    }

    fn reciprocal(
        &mut self,
        a: Reg,
        term: &impl Fn(Reg) -> Term,
        reciprocals: &mut Vec<(Reg, Term)>,
    ) -> Term {
        if let Some((_, made)) = reciprocals.iter().find(|(reg, _)| *reg == a) {
            return *made;
        }
        let made = match term(a) {
            Term::Number(k) => Term::Number(1.0 / k),
            Term::Lanes(lanes) => self.put(Make::Reciprocal(lanes)),
        };
        reciprocals.push((a, made));
        made
    }

    fn choice(
        &mut self,
        branch: Branch,
        term: &impl Fn(Reg) -> Term,
        place: &impl Fn(Reg) -> u32,
    ) -> Term {
        let mut lanes = |reg: Reg| self.source(term(reg));
        let choice = match branch {
            Branch::Less(a, b) => Choice::Less(lanes(a), lanes(b)),
            Branch::NotLess(a, b) => Choice::NotLess(lanes(a), lanes(b)),
            Branch::Between(a, low, high) => Choice::Between(lanes(a), lanes(low), lanes(high)),
            Branch::Above(a, low, high) => Choice::Above(lanes(a), lanes(low), lanes(high)),
            Branch::Holds(a) => Choice::Holds(lanes(a)),
            Branch::Fails(a) => Choice::Fails(lanes(a)),
            Branch::Missing(a) => Choice::Missing(place(a)),
            Branch::There(a) => Choice::There(place(a)),
        };
        self.put(Make::If(choice))
    }
}

/// The registers of a formula that hold the same number whatever its inputs.
fn constants(tape: &Tape) -> Vec<Option<f64>> {
    let mut constants = Constants {
        numbers: vec![None; tape.inputs()],
    };
    super::lanes::run(&tape.steps, &mut constants);
    constants.numbers
}

struct Constants {
    numbers: Vec<Option<f64>>,
}

impl Registers for Constants {
    fn one(&mut self, a: Reg, f: impl Fn(f64) -> f64) {
        let number = self.numbers[usize::from(a)].map(f);
        self.numbers.push(number);
    }
    fn two(&mut self, a: Reg, b: Reg, f: impl Fn(f64, f64) -> f64) {
        let both = self.numbers[usize::from(a)].zip(self.numbers[usize::from(b)]);
        self.numbers.push(both.map(|(a, b)| f(a, b)));
    }
    fn three(&mut self, a: Reg, b: Reg, c: Reg, f: impl Fn(f64, f64, f64) -> f64) {
        let at = |reg: Reg| self.numbers[usize::from(reg)];
        let all = at(a).zip(at(b)).zip(at(c));
        self.numbers.push(all.map(|((a, b), c)| f(a, b, c)));
    }
    fn states(&mut self, _: Reg, _: Reg, _: Reg, _: impl Fn(Lane, Lane, Lane) -> Lane) {
        self.numbers.push(None);
    }
    fn fixed(&mut self, lane: Lane) {
        self.numbers
            .push(lane.status.is_known().then_some(lane.value));
    }
    fn guard(&mut self, _: Reg) {}
}
