//! A chain: each cell adds one to the one before. The head changes; the tail is read.

use incremental::IncrState;
use semilunar::quantity::Unit;
use semilunar::sheet::Sheet;

use super::{formula, inputs};
use crate::contest::{Case, Runner};
use crate::peers::arena::Arena;

const LENGTH: usize = 10_000;

/// The case.
pub fn case() -> Case {
    Case {
        name: "an edit at the head of a chain of 10,000",
        runners: vec![sheet(), arena(), incremental()],
        tolerance: 0.0,
    }
}

fn sheet() -> Runner {
    let mut sheet = Sheet::new();
    let plus_one = formula("a + 1");
    let head = inputs(&mut sheet, [-1.0])[0];
    let mut tail = head;
    for _ in 0..LENGTH {
        tail = sheet.add_formula(plus_one.clone(), &[tail], None).unwrap();
    }
    let mut k = 0;
    Runner::new("sheet", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            sheet.measure(head, k as f64, Unit::ONE).unwrap();
            k += 1;
            sum += sheet.value(tail).unwrap();
        }
        sum
    })
}

fn arena() -> Runner {
    let mut graph = Arena::default();
    let head = graph.input(-1.0);
    let mut tail = head;
    for _ in 0..LENGTH {
        tail = graph.cell(|a| a[0] + 1.0, &[tail]);
    }
    let mut k = 0;
    Runner::new("arena by hand", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            graph.set(head, k as f64);
            k += 1;
            graph.settle();
            sum += graph.value(tail);
        }
        sum
    })
}

fn incremental() -> Runner {
    let state = IncrState::new_with_height(LENGTH + 16);
    let head = state.var(-1.0f64);
    let mut tail = head.watch();
    for _ in 0..LENGTH {
        tail = tail.map(|a| a + 1.0);
    }
    let tail = tail.observe();
    state.stabilise();
    let mut k = 0;
    Runner::new("incremental", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            head.set(k as f64);
            k += 1;
            state.stabilise();
            sum += tail.value();
        }
        sum
    })
}
