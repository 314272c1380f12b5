//! Which of its inputs a formula can lean on.

use super::derivative::{Partial, each_partial};
use super::tape::{Reg, Tape};

/// For each input of a formula whether it can have a slope there, whatever the inputs are; what
/// only decides between branches has none.
pub(crate) fn leans(tape: &Tape) -> Vec<bool> {
    let mut leans = vec![false; tape.registers()];
    leans[tape.result()] = true;
    for (i, step) in tape.steps.iter().enumerate().rev() {
        let out = tape.inputs() + i;
        if leans[out] {
            each_partial(*step, out as Reg, |a, partial| {
                leans[usize::from(a)] |= partial != Partial::Number(0.0);
            });
        }
    }
    leans.truncate(tape.inputs());
    leans
}
