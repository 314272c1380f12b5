//! The order of operations: long ones apart from each other, with short ones between.
//!
//! A processor has one unit for quotients and roots, which takes as long for one as for several
//! products, and works beside all else. So whatever does not wait for that unit is spread over the
//! time that it is at work.

use std::collections::HashMap;

use super::operation::{Chain, Goal, One, Operation, Place, Two};

/// How many short operations take as long as a quotient, and as a root.
const QUOTIENT: u32 = 3;
const ROOT: u32 = 5;

/// The same operations, each after what it reads, those on one sum with none of another sum among
/// them. `None` where there is no such order.
pub(super) fn in_order(operations: &[Operation]) -> Option<Vec<Operation>> {
    let before = before(operations);
    let heights = heights(operations, &before);
    let mut is_done = vec![false; operations.len()];
    let mut order = Vec::with_capacity(operations.len());
    // The sum that is not complete.
    let mut open = None;
    // How long quotients and roots are at work yet.
    let mut owed = 0_u32;
    while order.len() < operations.len() {
        let is_next = |at: &usize| {
            let operation = &operations[*at];
            let is_free = open.is_none() || !operation.squares() || operation.sum() == open;
            !is_done[*at] && is_free && before[*at].iter().all(|b| is_done[*b])
        };
        let next = (0..operations.len()).filter(is_next).max_by_key(|at| {
            let is_long = long(&operations[*at]) > 0;
            (is_long == (owed == 0), heights[*at], operations.len() - at)
        })?;
        is_done[next] = true;
        order.push(operations[next]);
        owed = match long(&operations[next]) {
            0 => owed.saturating_sub(1),
            long => owed + long,
        };
        if let Some(sum) = operations[next].sum() {
            let is_of_it = |at: usize| operations[at].sum() == Some(sum);
            let is_complete = (0..operations.len()).all(|at| is_done[at] || !is_of_it(at));
            open = (!is_complete).then_some(sum);
        }
    }
    Some(order)
}

/// How long the unit for quotients and roots takes; 0 where it is not used.
fn long(operation: &Operation) -> u32 {
    match operation {
        Operation::Chain(_, Goal::RootOfSquare(_) | Goal::RootOfSum(..))
        | Operation::One(One::Root, ..)
        | Operation::RootOf(..) => ROOT,
        Operation::Chain(Chain { over: Some(_), .. }, _)
        | Operation::One(One::Over(_) | One::Under(_), ..)
        | Operation::Two(Two::Divide, ..) => QUOTIENT,
        _ => 0,
    }
}

/// For each operation those that must be done before it: what made what it reads, and the one
/// before it on the same sum. A sum is begun once all that is added to it can be.
fn before(operations: &[Operation]) -> Vec<Vec<usize>> {
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); operations.len()];
    let mut made: HashMap<u32, usize> = HashMap::new();
    // Of each sum the first operation and the last so far.
    let mut sums: HashMap<u32, (usize, usize)> = HashMap::new();
    for (at, operation) in operations.iter().enumerate() {
        let mut needed = Vec::new();
        operation.reads(|place| match place {
            Place::Supplied(_) => {}
            Place::Made(register) => needed.extend(made.get(&register)),
            Place::Sum(sum) => needed.extend(sums.get(&sum).map(|(_, last)| last)),
        });
        if let Some(sum) = operation.sum() {
            let (first, last) = sums.entry(sum).or_insert((at, at));
            if *last != at {
                before[at].push(*last);
            }
            *last = at;
            before[*first].extend(&needed);
        }
        before[at].extend(needed);
        if let Some(register) = operation.makes() {
            made.insert(register, at);
        }
    }
    before
}

/// For each operation how long it takes from its start to the end of all that waits for it.
fn heights(operations: &[Operation], before: &[Vec<usize>]) -> Vec<u32> {
    let mut heights: Vec<u32> = operations.iter().map(|o| 1 + long(o)).collect();
    for at in (0..operations.len()).rev() {
        for b in &before[at] {
            // What opens a sum may wait for what was written down after it.
            if *b < at {
                let own = 1 + long(&operations[*b]);
                heights[*b] = heights[*b].max(own + heights[at]);
            }
        }
    }
    heights
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square_of(register: u32, goal: Goal) -> Operation {
        Operation::Chain(Chain::of(Place::Made(register)), goal)
    }

    #[test]
    fn what_is_short_stands_between_what_is_long() {
        let supplied = Place::Supplied(0);
        let mut operations: Vec<Operation> = (0..2)
            .map(|at| Operation::One(One::Under(1.0), supplied, at))
            .collect();
        operations.extend((2..6).map(|at| Operation::One(One::Add(1.0), supplied, at)));
        let order = in_order(&operations).unwrap();
        let is_long: Vec<bool> = order.iter().map(|o| long(o) > 0).collect();
        assert_eq!(is_long, [true, false, false, false, true, false]);
    }

    #[test]
    fn no_other_square_comes_among_those_of_a_sum() {
        let made = |at| Operation::One(One::Absolute, Place::Supplied(at), at);
        let operations = [
            made(0),
            square_of(0, Goal::Square(0)),
            made(1),
            square_of(1, Goal::RootOfSquare(0)),
            made(2),
            square_of(2, Goal::AddSquare(0)),
            square_of(1, Goal::Square(1)),
            square_of(2, Goal::RootOfSum(1, 1)),
            square_of(1, Goal::RootOfSum(0, 2)),
        ];
        let order = in_order(&operations).unwrap();
        assert_eq!(order.len(), operations.len());
        let squares: Vec<Option<u32>> = order
            .iter()
            .filter(|operation| operation.squares())
            .map(Operation::sum)
            .collect();
        let mut runs = squares.clone();
        runs.dedup();
        assert_eq!((squares.len(), runs.len()), (6, 3));
    }
}
