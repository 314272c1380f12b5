//! The order of operations: long ones apart from each other, with short ones between.
//!
//! A processor has one unit for quotients and roots, which takes as long for one as for several
//! products, and works beside all else. So whatever does not wait for that unit is spread over the
//! time that it is at work.

use std::collections::HashMap;

use super::operation::{Chain, End, One, Operation, Place};

/// How many short operations take as long as a quotient, and as a root.
const QUOTIENT: u32 = 3;
const ROOT: u32 = 5;

/// How many short operations stand behind a long one while there are such. They are fewer than it
/// leaves time for, since long ones further on need some too.
const BETWEEN: u32 = 1;

/// The same operations, each after what it reads. `None` where there is no such order.
pub(super) fn in_order(operations: &[Operation]) -> Option<Vec<Operation>> {
    let before = before(operations);
    let heights = heights(operations, &before);
    let mut is_done = vec![false; operations.len()];
    let mut order = Vec::with_capacity(operations.len());
    // How many short ones are due.
    let mut owed = 0_u32;
    while order.len() < operations.len() {
        let is_next = |at: &usize| !is_done[*at] && before[*at].iter().all(|b| is_done[*b]);
        let next = (0..operations.len()).filter(is_next).max_by_key(|at| {
            let is_long = long(&operations[*at]) > 0;
            (is_long == (owed == 0), heights[*at], operations.len() - at)
        })?;
        is_done[next] = true;
        order.push(operations[next]);
        owed = match long(&operations[next]) {
            0 => owed.saturating_sub(1),
            _ => owed + BETWEEN,
        };
    }
    Some(order)
}

/// How long the unit for quotients and roots takes; 0 where it is not used.
fn long(operation: &Operation) -> u32 {
    match operation {
        Operation::Chain(_, End { root: Some(_), .. })
        | Operation::One(One::Root, ..)
        | Operation::RootOf(..) => ROOT,
        Operation::Chain(Chain { is_over: true, .. }, _) => QUOTIENT,
        _ => 0,
    }
}

/// For each operation those that made what it reads.
fn before(operations: &[Operation]) -> Vec<Vec<usize>> {
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); operations.len()];
    let mut made: HashMap<u32, usize> = HashMap::new();
    for (at, operation) in operations.iter().enumerate() {
        operation.reads(|place| {
            if let Place::Made(register) = place {
                before[at].extend(made.get(&register));
            }
        });
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
            let own = 1 + long(&operations[*b]);
            heights[*b] = heights[*b].max(own + heights[at]);
        }
    }
    heights
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_short_stands_between_what_is_long() {
        let supplied = Place::Supplied(0);
        let mut operations: Vec<Operation> = (0..2)
            .map(|at| Operation::Chain(Chain::of(supplied).over(supplied), End::kept(at)))
            .collect();
        operations.extend((2..6).map(|at| Operation::One(One::Absolute, supplied, at)));
        let order = in_order(&operations).unwrap();
        let is_long: Vec<bool> = order.iter().map(|o| long(o) > 0).collect();
        assert_eq!(is_long, [true, false, true, false, false, false]);
    }

    #[test]
    fn what_reads_comes_after_what_makes() {
        let operations = [
            Operation::Chain(Chain::of(Place::Supplied(0)), End::kept(0)),
            Operation::Chain(
                Chain::of(Place::Supplied(1)),
                End {
                    plus: Some(Place::Made(0)),
                    root: Some(0),
                    ..End::kept(1)
                },
            ),
            Operation::Chain(Chain::of(Place::Made(1)).over(Place::Made(0)), End::kept(2)),
        ];
        assert_eq!(in_order(&operations).unwrap(), operations);
    }
}
