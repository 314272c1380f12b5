//! A fan: 100,000 cells, each the sum of one of 1,000 inputs and one of 100 offsets. An input
//! changes; the 100 cells over it are read.

use incremental::IncrState;
use semilunar::quantity::Unit;
use semilunar::sheet::Sheet;

use super::{formula, inputs};
use crate::contest::{Case, Runner};
use crate::peers::arena::Arena;

const INPUTS: usize = 1_000;
const OFFSETS: usize = 100;

/// The case.
pub fn case() -> Case {
    Case {
        name: "an edit of one of 1,000 inputs under 100,000 cells",
        runners: vec![sheet(), arena(), incremental()],
        tolerance: 0.0,
    }
}

/// The input that edit number `k` changes.
fn edited(k: usize) -> usize {
    (k * 7) % INPUTS
}

/// The offset of each cell; the input changes fastest.
fn cells<C>(mut cell: impl FnMut(usize, usize) -> C) -> Vec<C> {
    (0..INPUTS * OFFSETS)
        .map(|i| cell(i % INPUTS, i / INPUTS))
        .collect()
}

/// Performs edits: `set` one input, then `read` the cells over it.
fn edits<G>(
    mut graph: G,
    set: impl Fn(&mut G, usize, f64),
    read: impl Fn(&G, usize) -> f64,
) -> impl FnMut(usize) -> f64 {
    let mut k = 0;
    move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            let input = edited(k);
            set(&mut graph, input, k as f64);
            k += 1;
            for offset in 0..OFFSETS {
                sum += read(&graph, input + offset * INPUTS);
            }
        }
        sum
    }
}

fn sheet() -> Runner {
    let mut sheet = Sheet::new();
    let sum = formula("a + b");
    let below = inputs(&mut sheet, (0..INPUTS).map(|_| 1.0));
    let offsets = inputs(&mut sheet, (0..OFFSETS).map(|i| i as f64));
    let above = cells(|i, offset| {
        sheet
            .add_formula(sum.clone(), &[below[i], offsets[offset]], None)
            .unwrap()
    });
    Runner::new(
        "sheet",
        edits(
            sheet,
            move |sheet, i, value| {
                sheet.measure(below[i], value, Unit::ONE).unwrap();
            },
            move |sheet, i| sheet.value(above[i]).unwrap(),
        ),
    )
}

fn arena() -> Runner {
    let mut graph = Arena::default();
    let below: Vec<u32> = (0..INPUTS).map(|_| graph.input(1.0)).collect();
    let offsets: Vec<u32> = (0..OFFSETS).map(|i| graph.input(i as f64)).collect();
    let above = cells(|i, offset| graph.cell(|a| a[0] + a[1], &[below[i], offsets[offset]]));
    Runner::new(
        "arena by hand",
        edits(
            graph,
            move |graph, i, value| {
                graph.set(below[i], value);
                graph.settle();
            },
            move |graph, i| graph.value(above[i]),
        ),
    )
}

fn incremental() -> Runner {
    let state = IncrState::new();
    let below: Vec<_> = (0..INPUTS).map(|_| state.var(1.0f64)).collect();
    let above = cells(|i, offset| {
        let offset = offset as f64;
        below[i].map(move |a| a + offset).observe()
    });
    state.stabilise();
    Runner::new(
        "incremental",
        edits(
            state,
            move |state, i, value| {
                below[i].set(value);
                state.stabilise();
            },
            move |_, i| above[i].value(),
        ),
    )
}
