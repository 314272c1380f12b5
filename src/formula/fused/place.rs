//! Operations with a place in the processor's reach for all that they read and make.

use std::collections::HashMap;

use super::bounds::PlainBounds;

use super::operation::{Goal, MOST, One, Operation, Place, Two};
use super::pass::{Pass, code};

/// Writes operations down as passes over tiles, with a register for all that they make and for
/// what is supplied, which is taken where it is first read. `None` where registers do not suffice.
pub(super) fn placed(operations: &[Operation], bounds: &[PlainBounds]) -> Option<Vec<Pass>> {
    let mut placer = Placer {
        bounds,
        last_read: HashMap::new(),
        last_added: HashMap::new(),
        registers: HashMap::new(),
        is_taken: [false; 256],
        passes: Vec::new(),
    };
    for (at, operation) in operations.iter().enumerate() {
        operation.reads(|place| {
            placer.last_read.insert(place, at);
        });
        if let Some(sum) = operation.sum() {
            placer.last_added.insert(sum, at);
        }
    }
    for (at, operation) in operations.iter().enumerate() {
        placer.operation(at, operation)?;
    }
    // What nothing reads must be within its bounds too.
    for supplied in 0..bounds.len() {
        let place = Place::Supplied(supplied as u32);
        if !placer.last_read.contains_key(&place) {
            placer.take(place)?;
            placer.free(place);
        }
    }
    Some(placer.passes)
}

struct Placer<'b> {
    bounds: &'b [PlainBounds],
    /// The last operation that reads a place.
    last_read: HashMap<Place, usize>,
    /// The last operation on a sum.
    last_added: HashMap<u32, usize>,
    registers: HashMap<Place, u8>,
    is_taken: [bool; 256],
    passes: Vec<Pass>,
}

impl Placer<'_> {
    fn operation(&mut self, at: usize, operation: &Operation) -> Option<()> {
        let mut reads = Vec::with_capacity(MOST);
        operation.reads(|place| reads.push(place));
        let mut lanes = [0; MOST];
        for (lane, place) in lanes.iter_mut().zip(&reads) {
            if matches!(place, Place::Supplied(_)) && !self.registers.contains_key(place) {
                self.take(*place)?;
            }
            *lane = *self.registers.get(place)?;
        }
        // What is read here for the last time makes room for what is made.
        for place in reads {
            if self.last_read.get(&place) == Some(&at) {
                self.free(place);
            }
        }
        let is_read = |made| self.last_read.contains_key(&Place::Made(made));
        let is_looked_at = operation.makes().is_some_and(|made| !is_read(made));
        if let (true, Some(k)) = (is_looked_at, scale(operation)) {
            self.check(lanes, k);
            return Some(());
        }
        let out = match (operation.makes(), result(operation)) {
            (Some(made), _) => self.register(Place::Made(made))?,
            (None, Some(result)) => result.try_into().ok()?,
            (None, None) => 0,
        };
        let pass = pass(operation, lanes, out);
        self.passes.push(pass);
        if matches!(operation, Operation::Chain(_, Goal::Checked(_))) {
            self.check([out; MOST], 1.0);
        }
        if let (true, Some(made)) = (is_looked_at, operation.makes()) {
            self.free(Place::Made(made));
        }
        self.keep_sum(at, operation)
    }

    fn check(&mut self, lanes: [u8; MOST], k: f64) {
        self.passes.push(Pass {
            first: k,
            ..Pass::of(code::CHECK, lanes, 0)
        });
    }

    /// Keeps a sum that is complete, where it is read.
    fn keep_sum(&mut self, at: usize, operation: &Operation) -> Option<()> {
        let Some(sum) = operation.sum() else {
            return Some(());
        };
        let place = Place::Sum(sum);
        if self.last_added.get(&sum) == Some(&at) && self.last_read.contains_key(&place) {
            let out = self.register(place)?;
            self.passes.push(Pass::of(code::KEEP_SUM, [0; MOST], out));
        }
        Some(())
    }

    fn take(&mut self, place: Place) -> Option<()> {
        let Place::Supplied(number) = place else {
            return None;
        };
        let PlainBounds { low, high } = *self.bounds.get(number as usize)?;
        let lane = number.try_into().ok()?;
        let out = self.register(place)?;
        self.passes.push(Pass {
            first: low,
            last: high,
            ..Pass::of(code::TAKE, [lane; MOST], out)
        });
        Some(())
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

/// The result that an operation makes.
fn result(operation: &Operation) -> Option<u32> {
    match *operation {
        Operation::Chain(_, Goal::RootOfSquare(result) | Goal::RootOfSum(_, result))
        | Operation::RootOf(_, result) => Some(result),
        _ => None,
    }
}

/// The one number that lanes are multiplied with, to be looked at; `None` where there is more to do.
fn scale(operation: &Operation) -> Option<f64> {
    match operation {
        Operation::Chain(chain, Goal::Checked(_)) if chain.count == 1 && chain.over.is_none() => {
            match (chain.first, chain.last) {
                (Some(_), Some(_)) => None,
                (first, last) => Some(first.or(last).unwrap_or(1.0)),
            }
        }
        _ => None,
    }
}

fn pass(operation: &Operation, lanes: [u8; MOST], out: u8) -> Pass {
    let with = |code: u8, k: f64| Pass {
        first: k,
        ..Pass::of(code, lanes, out)
    };
    match *operation {
        Operation::Chain(chain, goal) => Pass {
            first: chain.first.unwrap_or(1.0),
            last: chain.over.or(chain.last).unwrap_or(1.0),
            ..Pass::of(code::of_chain(&chain, goal), lanes, out)
        },
        Operation::One(one, ..) => match one {
            One::Root => with(code::ROOT, 0.0),
            One::Absolute => with(code::ABSOLUTE, 0.0),
            One::AtLeastZero => with(code::AT_LEAST_ZERO, 0.0),
            One::Power(n) => with(code::POWER, f64::from(n)),
            One::Add(k) => with(code::ADD_NUMBER, k),
            One::TakenFrom(k) => with(code::TAKEN_FROM, k),
            One::Over(k) => with(code::OVER, k),
            One::Under(k) => with(code::UNDER, k),
        },
        Operation::Two(two, ..) => match two {
            Two::Add => with(code::ADD, 0.0),
            Two::Subtract => with(code::SUBTRACT, 0.0),
            Two::Divide => with(code::DIVIDE, 0.0),
            Two::Settled => with(code::SETTLED, 0.0),
        },
        Operation::Start(k, _) | Operation::Raise(k, _) => with(code::RAISE, k),
        Operation::RootOf(..) => with(code::ROOT_OF, 0.0),
        Operation::Check(_) => with(code::CHECK, 1.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sizes of `count` numbers, which are all there before any is added to the first.
    fn sizes(count: u32) -> Vec<Operation> {
        let sizes =
            (0..count).map(|at| Operation::One(One::Absolute, Place::Supplied(at % 200), at));
        let add = |at| Operation::Two(Two::Add, Place::Made(0), Place::Made(at), count + at);
        sizes.chain((1..count).map(add)).collect()
    }

    #[test]
    fn registers_are_used_again() {
        let bounds = [PlainBounds::between(0.0, 1.0); 2];
        let mut operations = vec![Operation::One(One::Absolute, Place::Supplied(0), 0)];
        operations
            .extend((0..999).map(|at| Operation::One(One::Add(1.0), Place::Made(at), at + 1)));
        let passes = placed(&operations, &bounds).unwrap();
        // What nothing reads is taken too.
        assert_eq!(passes.len(), 1002);
        assert!(passes.iter().all(|pass| pass.out <= 1));
    }

    #[test]
    fn more_numbers_than_registers_are_too_many() {
        let bounds = [PlainBounds::between(0.0, 1.0); 200];
        assert!(placed(&sizes(200), &bounds).is_some());
        assert!(placed(&sizes(257), &bounds).is_none());
    }
}
