//! Operations with a place in the processor's reach for all that they read and make.

use std::collections::HashMap;

use super::bounds::PlainBounds;
use super::kernels::SUPPLIED;
use super::operation::{Chain, Look, MOST, One, Operation, Place, Two};
use super::pass::{Pass, code};

/// Passes over tiles, the numbers that are the same in every row, which are the first of all lanes,
/// and the bounds of what is supplied.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    pub(super) passes: Vec<Pass>,
    pub(super) numbers: Vec<f64>,
    pub(super) bounds: Vec<PlainBounds>,
}

/// Writes operations down as passes over tiles, with a register for all that they make. `None` where
/// registers do not suffice, or more is supplied than a pass can tell apart.
pub(super) fn placed(operations: &[Operation], bounds: &[PlainBounds]) -> Option<Placed> {
    if bounds.len() > usize::from(u8::MAX - SUPPLIED) {
        return None;
    }
    let mut placer = Placer {
        last_read: HashMap::new(),
        registers: HashMap::new(),
        is_taken: [false; SUPPLIED as usize],
        passes: Vec::new(),
        numbers: Vec::new(),
    };
    for (at, operation) in operations.iter().enumerate() {
        operation.reads(|place| {
            placer.last_read.insert(place, at);
        });
    }
    placer.numbers(operations)?;
    for (at, operation) in operations.iter().enumerate() {
        placer.operation(at, operation)?;
    }
    Some(Placed {
        passes: placer.passes,
        numbers: placer.numbers,
        bounds: bounds.to_vec(),
    })
}

struct Placer {
    /// The last operation that reads a place.
    last_read: HashMap<Place, usize>,
    registers: HashMap<Place, u8>,
    is_taken: [bool; SUPPLIED as usize],
    passes: Vec<Pass>,
    numbers: Vec<f64>,
}

impl Placer {
    /// Gives each number a register of its own, the first of all, which nothing else is ever kept in.
    fn numbers(&mut self, operations: &[Operation]) -> Option<()> {
        let mut read = Vec::new();
        for operation in operations {
            operation.reads(|place| read.push(place));
        }
        for place in read {
            if let Place::Number(bits) = place
                && !self.registers.contains_key(&place)
            {
                self.register(place)?;
                self.numbers.push(f64::from_bits(bits));
            }
        }
        Some(())
    }

    fn operation(&mut self, at: usize, operation: &Operation) -> Option<()> {
        let mut pass = self.pass(operation)?;
        // What is read here for the last time makes room for what is made.
        operation.reads(|place| {
            if self.last_read.get(&place) == Some(&at) && matches!(place, Place::Made(_)) {
                self.free(place);
            }
        });
        if let Some(made) = operation.makes() {
            let made = Place::Made(made);
            pass.out = self.register(made)?;
            if !self.last_read.contains_key(&made) {
                self.free(made);
            }
        }
        self.passes.push(pass);
        Some(())
    }

    fn lanes_of(&self, place: Place) -> Option<u8> {
        match place {
            Place::Supplied(number) => SUPPLIED.checked_add(number.try_into().ok()?),
            place => self.registers.get(&place).copied(),
        }
    }

    fn product(&self, chain: &Chain) -> Option<[u8; MOST]> {
        let mut lanes = [0; MOST];
        for (lane, place) in lanes.iter_mut().zip(chain.lanes).take(chain.count) {
            *lane = self.lanes_of(place)?;
        }
        Some(lanes)
    }

    fn pass(&self, operation: &Operation) -> Option<Pass> {
        let of = |place: Place| self.lanes_of(place);
        let one = |code: u8, a: Place| Some(Pass::of(code, [of(a)?; MOST]));
        match *operation {
            Operation::Chain(chain, end) => {
                let mut pass = Pass::of(code::of_chain(&chain, &end)?, self.product(&chain)?);
                pass.count = chain.count.try_into().ok()?;
                if let Some(second) = end.second {
                    pass.second = self.product(&second)?;
                    pass.second_count = second.count.try_into().ok()?;
                }
                if let Some(plus) = end.plus {
                    pass.plus = of(plus)?;
                }
                pass.result = end.root.unwrap_or(0).try_into().ok()?;
                Some(pass)
            }
            Operation::One(what, a, _) => match what {
                One::Root => one(code::ROOT, a),
                One::Absolute => one(code::ABSOLUTE, a),
                One::AtLeastZero => one(code::AT_LEAST_ZERO, a),
                One::Power(power) => Some(Pass {
                    power,
                    ..one(code::POWER, a)?
                }),
            },
            Operation::Two(what, a, b, _) => {
                let code = match what {
                    Two::Add => code::ADD,
                    Two::Subtract => code::SUBTRACT,
                    Two::Settled => code::SETTLED,
                };
                let mut pass = one(code, a)?;
                pass.lanes[1] = of(b)?;
                Some(pass)
            }
            Operation::RootOf(a, result) => Some(Pass {
                result: result.try_into().ok()?,
                ..one(code::ROOT_OF, a)?
            }),
            Operation::Look(Look::Carried, a) => one(code::LOOK_CARRIED, a),
            Operation::Look(_, a) => one(code::LOOK_FINITE, a),
        }
    }

    fn register(&mut self, place: Place) -> Option<u8> {
        let free = self.is_taken.iter().position(|is_taken| !is_taken)?;
        self.is_taken[free] = true;
        let register = free.try_into().ok()?;
        self.registers.insert(place, register);
        Some(register)
    }

    fn free(&mut self, place: Place) {
        if let Some(register) = self.registers.remove(&place) {
            self.is_taken[usize::from(register)] = false;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::operation::End;
    use super::*;

    /// The sizes of `count` numbers, which are all there before any is added to the first.
    fn sizes(count: u32) -> Vec<Operation> {
        let sizes =
            (0..count).map(|at| Operation::One(One::Absolute, Place::Supplied(at % 50), at));
        let add = |at| Operation::Two(Two::Add, Place::Made(0), Place::Made(at), count + at);
        sizes.chain((1..count).map(add)).collect()
    }

    #[test]
    fn registers_are_used_again_but_those_of_numbers() {
        let bounds = [PlainBounds::between(0.0, 1.0); 2];
        let mut operations = vec![Operation::One(One::Absolute, Place::Supplied(0), 0)];
        let seven = Place::Number(7.0_f64.to_bits());
        operations.extend((0..999).map(|at| {
            let chain = Chain::of(Place::Made(at)).times(seven);
            Operation::Chain(chain, End::kept(at + 1))
        }));
        let placed = placed(&operations, &bounds).unwrap();
        assert_eq!(placed.passes.len(), 1000);
        assert_eq!(placed.numbers, [7.0]);
        assert!(placed.passes.iter().all(|pass| pass.out == 1));
    }

    #[test]
    fn more_numbers_than_registers_are_too_many() {
        let bounds = [PlainBounds::between(0.0, 1.0); 63];
        assert!(placed(&sizes(192), &bounds).is_some());
        assert!(placed(&sizes(193), &bounds).is_none());
        let bounds = [PlainBounds::between(0.0, 1.0); 64];
        assert!(placed(&sizes(2), &bounds).is_none());
    }
}
