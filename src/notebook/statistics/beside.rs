//! What the response shares with the index that is judged by it, or with what its rows are split by.

use super::outcome::Classes;
use super::page::Answer;
use super::rows::{Column, Rows};
use crate::formula::notation::{Analysis, Diagnostic, Name};
use crate::notebook::coupled::Drawn;

/// A quantity set beside itself says nothing.
pub(super) fn two_things(a: &Name, b: &Name, roles: &str) -> Result<(), Vec<Diagnostic>> {
    if a.text != b.text {
        return Ok(());
    }
    let message = format!("`{}` is both {roles}: it agrees with itself", a.text);
    let error = Diagnostic::error(message, a.place).also(b.place, "the same");
    Err(vec![
        error.hint("set it beside something measured apart from it"),
    ])
}

/// What each index shares with the response, and what that does to the answer.
pub(super) fn tell_coupling(analysis: &Analysis, classes: &Classes<'_>, answer: &mut Answer) {
    let Some(outcome) = &analysis.against else {
        return;
    };
    for (subject, index) in analysis.of.iter().zip(&classes.indexes) {
        let names = [&subject.name, &outcome.name];
        let does = format!(
            "{} shares readings with the response: error alone makes it look better or worse at telling responders apart than it is.",
            index.column.label
        );
        tell(&classes.rows, names, &index.column, does, answer);
    }
}

/// What a response shares with the quantity that its rows are split by.
pub(super) fn tell_split(rows: &Rows<'_>, names: [&Name; 2], split: &Column, answer: &mut Answer) {
    let does = format!(
        "{} shares readings with the response: error alone puts responders into some groups rather than others.",
        split.label
    );
    tell(rows, names, split, does, answer);
}

fn tell(rows: &Rows<'_>, names: [&Name; 2], right: &Column, does: String, answer: &mut Answer) {
    if let Some(told) = rows.coupling(names, Drawn::beside, right) {
        if told.is_shared {
            answer.caution(does);
        }
        answer.notes.push(told.text);
    }
}
