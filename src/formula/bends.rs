//! The reader that finds where a formula bends or branches: the quantities whose sign decides, and
//! the formula with every such decision in somebody's hand.
//!
//! A formula bends at zero of what stands in `abs`, where two arguments of `min` or `max` are equal
//! and at the bounds of `clamp`; it branches where a comparison turns. At such a place no slope
//! holds on both sides. [`decisions`] gives the quantity of each, as a formula of the same inputs, and one
//! formula in which the outcomes are inputs of their own: so both sides can be had at one place.

use super::tape::{MOST_REGISTERS, Order, Reg, Step, Tape};

/// A place where a formula bends or branches.
#[derive(Clone, Debug)]
pub(crate) struct Decision {
    /// The operation it stands in, in the formula.
    pub(crate) op: u32,
    /// Whether it is a comparison, at which the value may jump.
    pub(crate) is_branch: bool,
    /// The quantity whose sign decides, of the formula's inputs.
    pub(crate) quantity: Tape,
}

#[cfg(feature = "cohort")]
impl Decision {
    /// Whether the quantity takes the own reading of the formula's cell.
    pub(crate) fn takes_reading(&self) -> bool {
        let reading = self.quantity.operands;
        let mut takes = false;
        for step in &self.quantity.steps {
            step.each_argument(|a| takes |= a == reading);
        }
        takes && self.quantity.uses_reading
    }

    /// The quantity as a formula of another cell: where the formula uses the own reading of its
    /// cell, that is one more operand.
    pub(crate) fn of_another_cell(&self) -> Tape {
        let mut tape = self.quantity.clone();
        tape.operands += u16::from(tape.uses_reading);
        tape.uses_reading = false;
        tape
    }
}

/// All decisions of a formula.
#[derive(Clone, Debug)]
pub(crate) struct Decisions {
    /// In the order of the formula.
    pub(crate) list: Vec<Decision>,
    /// The formula with the outcomes as further inputs behind its own, one for each decision: 1
    /// where its quantity is taken as above zero, else 0.
    pub(crate) steered: Tape,
}

/// Whether a formula can have a decision.
pub(crate) fn may_decide(tape: &Tape) -> bool {
    tape.steps.iter().any(|step| how_many(*step) > 0)
}

fn how_many(step: Step) -> usize {
    match step {
        Step::Abs(_) | Step::Min(..) | Step::Max(..) | Step::Compare(..) => 1,
        Step::Clamp(..) => 2,
        Step::Constant(_)
        | Step::Negate(_)
        | Step::Sqrt(_)
        | Step::Exp(_)
        | Step::Ln(_)
        | Step::Cos(_)
        | Step::Add(..)
        | Step::AddNumber(..)
        | Step::Subtract(..)
        | Step::Multiply(..)
        | Step::Times(..)
        | Step::Divide(..)
        | Step::Over(..)
        | Step::Power(..)
        | Step::WholePower(..)
        // They choose by what a comparison or a state says.
        | Step::Select(..)
        | Step::Else(..)
        | Step::And(..)
        | Step::Or(..)
        | Step::Not(_)
        | Step::IsWord(..)
        | Step::IsState(..)
        | Step::Differs(..)
        | Step::Withheld
        | Step::Marked(..) => 0,
    }
}

/// The decisions of a formula; `None` where it has none, or would be too long with them as inputs.
pub(crate) fn decisions(tape: &Tape) -> Option<Decisions> {
    let count: usize = tape.steps.iter().map(|step| how_many(*step)).sum();
    if count == 0 || tape.registers() + 3 * count > MOST_REGISTERS {
        return None;
    }
    let mut writer = Writer::new(tape, count);
    for (at, step) in tape.steps.iter().enumerate() {
        writer.source = tape.source.get(at).copied().unwrap_or(0);
        writer.step(*step);
    }
    Some(writer.finish())
}

/// Writes the steered formula.
struct Writer<'t> {
    tape: &'t Tape,
    list: Vec<Decision>,
    steered: Tape,
    /// For each register of the formula that of the steered one.
    to: Vec<Reg>,
    source: u32,
}

impl<'t> Writer<'t> {
    fn new(tape: &'t Tape, count: usize) -> Writer<'t> {
        Writer {
            tape,
            list: Vec::new(),
            steered: Tape {
                steps: Vec::new(),
                source: Vec::new(),
                operands: (tape.inputs() + count) as u16,
                uses_reading: false,
                result: 0,
                is_straight: false,
            },
            to: (0..tape.inputs() as Reg).collect(),
            source: 0,
        }
    }

    fn step(&mut self, step: Step) {
        let at = |reg: Reg| self.to[usize::from(reg)];
        let written = match step {
            Step::Abs(a) => {
                let other = self.push(Step::Negate(self.to[usize::from(a)]));
                let steer = self.decide(false, |tape| tape.negated(a));
                self.push(Step::Select(steer, other, self.to[usize::from(a)]))
            }
            Step::Min(a, b) => {
                let (first, second) = (at(a), at(b));
                let steer = self.decide(false, |tape| tape.apart(a, b));
                self.push(Step::Select(steer, second, first))
            }
            Step::Max(a, b) => {
                let (first, second) = (at(a), at(b));
                let steer = self.decide(false, |tape| tape.apart(b, a));
                self.push(Step::Select(steer, second, first))
            }
            Step::Clamp(a, low, high) => {
                let (own, least, most) = (at(a), at(low), at(high));
                let below = self.decide(false, |tape| tape.apart(low, a));
                let above = self.decide(false, |tape| tape.apart(a, high));
                let bounded = self.push(Step::Select(above, most, own));
                self.push(Step::Select(below, least, bounded))
            }
            Step::Compare(Order::Less, a, b) => self.decide(true, |tape| tape.apart(b, a)),
            Step::Compare(Order::LessEqual, a, b) => {
                let fails = self.decide(true, |tape| tape.apart(a, b));
                self.push(Step::Not(fails))
            }
            other => {
                let moved = other.moved(at);
                self.push(moved)
            }
        };
        self.to.push(written);
    }

    fn push(&mut self, step: Step) -> Reg {
        self.steered.steps.push(step);
        self.steered.source.push(self.source);
        (self.steered.registers() - 1) as Reg
    }

    /// Lists a decision and gives the register of its outcome.
    fn decide(&mut self, is_branch: bool, quantity: impl Fn(Upto<'_>) -> Tape) -> Reg {
        let upto = Upto {
            tape: self.tape,
            steps: self.to.len() - self.tape.inputs(),
        };
        self.list.push(Decision {
            op: self.source,
            is_branch,
            quantity: quantity(upto),
        });
        (self.tape.inputs() + self.list.len() - 1) as Reg
    }

    fn finish(mut self) -> Decisions {
        self.steered.result = self.to[self.tape.result()];
        Decisions {
            list: self.list,
            steered: self.steered,
        }
    }
}

/// The first steps of a formula.
struct Upto<'t> {
    tape: &'t Tape,
    steps: usize,
}

impl Upto<'_> {
    /// −a.
    fn negated(&self, a: Reg) -> Tape {
        self.with(Step::Negate(a))
    }

    /// a − b.
    fn apart(&self, a: Reg, b: Reg) -> Tape {
        self.with(Step::Subtract(a, b))
    }

    /// One more step, and of those before it the ones that it needs.
    fn with(&self, last: Step) -> Tape {
        let inputs = self.tape.inputs();
        let steps = &self.tape.steps[..self.steps];
        let mut needed = vec![false; inputs + self.steps];
        last.each_argument(|a| needed[usize::from(a)] = true);
        for (at, step) in steps.iter().enumerate().rev() {
            if needed[inputs + at] {
                step.each_argument(|a| needed[usize::from(a)] = true);
            }
        }
        let mut cut = Tape {
            steps: Vec::new(),
            source: Vec::new(),
            operands: self.tape.operands,
            uses_reading: self.tape.uses_reading,
            result: 0,
            // Not even where no step looks at a state: inputs that are not needed have no say.
            is_straight: false,
        };
        let mut to: Vec<Reg> = (0..inputs as Reg).collect();
        for (at, step) in steps.iter().enumerate() {
            // What is not needed is never asked for.
            to.push(cut.registers() as Reg);
            if needed[inputs + at] {
                cut.steps.push(step.moved(|a| to[usize::from(a)]));
                cut.source
                    .push(self.tape.source.get(at).copied().unwrap_or(0));
            }
        }
        cut.result = cut.registers() as Reg;
        cut.steps.push(last.moved(|a| to[usize::from(a)]));
        cut.source
            .push(self.tape.source.get(self.steps).copied().unwrap_or(0));
        cut
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::lanes::{Lane, evaluate_one};
    use crate::formula::{OperandFacts, Target, notation, resolve};
    use crate::quantity::Unit;

    fn tape_of(formula: &str) -> Tape {
        let parsed = notation::formula(formula, 0).unwrap();
        let facts = vec![OperandFacts::plain(Unit::ONE); parsed.names.len()];
        let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
        let resolved = resolve(&parsed.formula, &facts, &names, Target::default());
        resolved.unwrap().tape
    }

    /// Steered as its quantities say, a formula is what it was, at any place and at ties.
    #[test]
    fn steered_by_its_own_quantities_a_formula_is_itself() {
        for formula in [
            "abs(x - 2)",
            "min(x, y, 2) * max(y, 2)",
            "clamp(x, 1, 2) + y",
            "if x < y then x * 2 else if x >= 2 and not (y > 2) then y else 7",
            "if x <= 2 or y < 1 then abs(y - x) else 0 * x",
        ] {
            let tape = tape_of(formula);
            let found = decisions(&tape).unwrap();
            for x in [0.0, 1.0, 1.5, 2.0, 2.5] {
                for y in [0.0, 1.0, 1.7, 2.0, 3.0] {
                    // Operands are numbered in the order in which they are named.
                    let own: Vec<Lane> = [x, y][..tape.inputs()]
                        .iter()
                        .map(|v| Lane::measured(*v))
                        .collect();
                    let outcomes = found.list.iter().map(|d| {
                        let quantity = evaluate_one(&d.quantity, &own).value;
                        Lane::measured(f64::from(u8::from(quantity > 0.0)))
                    });
                    let all: Vec<Lane> = own.iter().copied().chain(outcomes).collect();
                    let steered = evaluate_one(&found.steered, &all);
                    assert_eq!(steered, evaluate_one(&tape, &own), "{formula} {x} {y}");
                }
            }
        }
    }

    #[test]
    fn a_quantity_holds_what_it_needs_and_no_more() {
        let found = decisions(&tape_of("(x * 3 + 1) / 7 + min(2 * x, 5)")).unwrap();
        assert_eq!(found.list.len(), 1);
        let quantity = &found.list[0].quantity;
        assert_eq!(quantity.steps.len(), 3, "{:?}", quantity.steps);
        assert_eq!(evaluate_one(quantity, &[Lane::measured(4.0)]).value, 3.0);
        let found = decisions(&tape_of("y + min(x, 5)")).unwrap();
        let inputs = [Lane::MISSING, Lane::measured(4.0)];
        let quantity = evaluate_one(&found.list[0].quantity, &inputs);
        assert!(
            quantity.status.is_known(),
            "what is not needed may be missing"
        );
        assert!(decisions(&tape_of("x * 3")).is_none());
    }
}
