//! Early cutoff: 10,000 cells over an absolute value. A change of sign must not reach them, a
//! change of size must; one of them is read after each edit.

use incremental::IncrState;
use semilunar::quantity::Unit;
use semilunar::sheet::Sheet;

use super::{formula, inputs};
use crate::contest::{Case, Runner};
use crate::peers::arena::Arena;

const OFFSETS: usize = 100;
const DEPENDENTS: usize = 10_000;
const READ: usize = 77;

/// Which value edit number `k` gives the input.
type Values = fn(usize) -> f64;

fn another_sign(k: usize) -> f64 {
    if k.is_multiple_of(2) { -1.0 } else { 1.0 }
}

fn another_size(k: usize) -> f64 {
    (k % 1000) as f64 + 2.0
}

/// The edits that stop early.
pub fn stopped() -> Case {
    case("an edit that stops before 10,000 dependents", another_sign)
}

/// The edits that do not.
pub fn passed() -> Case {
    case("an edit that reaches 10,000 dependents", another_size)
}

fn case(name: &'static str, values: Values) -> Case {
    Case {
        name,
        runners: vec![sheet(values), arena(values), incremental(values)],
        tolerance: 0.0,
    }
}

fn sheet(values: Values) -> Runner {
    let mut sheet = Sheet::new();
    let sum = formula("a + b");
    let input = inputs(&mut sheet, [1.0])[0];
    let offsets = inputs(&mut sheet, (0..OFFSETS).map(|i| i as f64));
    let size = sheet
        .add_formula(formula("abs(a)"), &[input], None)
        .unwrap();
    let above: Vec<_> = (0..DEPENDENTS)
        .map(|i| {
            sheet
                .add_formula(sum.clone(), &[size, offsets[i % OFFSETS]], None)
                .unwrap()
        })
        .collect();
    let mut k = 0;
    Runner::new("sheet", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            sheet.measure(input, values(k), Unit::ONE).unwrap();
            k += 1;
            sum += sheet.value(above[READ]).unwrap();
        }
        sum
    })
}

fn arena(values: Values) -> Runner {
    let mut graph = Arena::default();
    let input = graph.input(1.0);
    let offsets: Vec<u32> = (0..OFFSETS).map(|i| graph.input(i as f64)).collect();
    let size = graph.cell(|a| a[0].abs(), &[input]);
    let above: Vec<u32> = (0..DEPENDENTS)
        .map(|i| graph.cell(|a| a[0] + a[1], &[size, offsets[i % OFFSETS]]))
        .collect();
    let mut k = 0;
    Runner::new("arena by hand", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            graph.set(input, values(k));
            k += 1;
            graph.settle();
            sum += graph.value(above[READ]);
        }
        sum
    })
}

fn incremental(values: Values) -> Runner {
    let state = IncrState::new();
    let input = state.var(1.0f64);
    let size = input.map(|a| a.abs());
    let above: Vec<_> = (0..DEPENDENTS)
        .map(|i| {
            let offset = (i % OFFSETS) as f64;
            size.map(move |a| a + offset).observe()
        })
        .collect();
    state.stabilise();
    let mut k = 0;
    Runner::new("incremental", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            input.set(values(k));
            k += 1;
            state.stabilise();
            sum += above[READ].value();
        }
        sum
    })
}
