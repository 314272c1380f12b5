//! How a cell went, as a notebook takes it.

use super::in_cell::{Event, Shown};
use super::wire::{End, Ran, Refusal};
use crate::notebook::{RustOutcome, RustProblem, RustShown};

/// What a cell gave and showed; nothing that it gave, when it did not come to its end.
pub(super) fn outcome(ran: Ran) -> RustOutcome {
    let mut outcome = RustOutcome::default();
    let printed = ran.printed.trim_end();
    if !printed.is_empty() {
        outcome.shown.push(RustShown {
            text: printed.to_owned(),
            ..RustShown::default()
        });
    }
    for event in ran.events {
        match event {
            Event::Read(name) if !outcome.read.contains(&name) => outcome.read.push(name),
            Event::Line(line) => outcome.lines.push(line),
            Event::Shown(Shown { text, html, svg }) => {
                outcome.shown.push(RustShown { text, html, svg });
            }
            Event::Read(_) | Event::Panic(..) | Event::Done => {}
        }
    }
    outcome.problems = problems(ran.end);
    if !outcome.problems.is_empty() {
        outcome.lines.clear();
    }
    if !ran.lost.is_empty()
        && let Some(problem) = outcome.problems.first_mut()
    {
        let names: Vec<String> = ran.lost.iter().map(|name| format!("`{name}`")).collect();
        problem
            .help
            .push(format!("variables lost: {}", names.join(", ")));
    }
    outcome
}

fn problems(end: End) -> Vec<RustProblem> {
    match end {
        End::Done => Vec::new(),
        End::Refused(refusals) => refusals.into_iter().map(of_refusal).collect(),
        End::Early { why, place } => vec![RustProblem {
            message: why,
            place,
            ..RustProblem::default()
        }],
        End::Died(why) => {
            let why = format!("this cell ended its process: {why}");
            let mut problem = RustProblem::without_place(why);
            problem
                .help
                .push("the next Rust cell starts a new one".into());
            vec![problem]
        }
        End::Stopped => vec![RustProblem::without_place("this cell was stopped")],
    }
}

fn of_refusal(refusal: Refusal) -> RustProblem {
    let mut also = refusal.also;
    if let Some(place) = &refusal.place
        && !refusal.label.is_empty()
    {
        also.insert(0, (place.clone(), refusal.label));
    }
    RustProblem {
        message: refusal.message,
        place: refusal.place,
        also,
        help: refusal.help,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_cell_gave_before_it_ended_early_takes_no_effect() {
        let ran = Ran {
            events: vec![Event::Line("a = 1 cm".into()), Event::Read("b".into())],
            end: End::Died("signal 6".into()),
            lost: vec!["x".into(), "y".into()],
            ..Ran::default()
        };
        let outcome = outcome(ran.clone());
        assert!(outcome.lines.is_empty());
        assert_eq!(outcome.read, ["b"]);
        let help = outcome.problems[0].help.join("; ");
        assert!(help.contains("variables lost: `x`, `y`"), "{help}");
        let done = super::outcome(Ran {
            end: End::Done,
            ..ran
        });
        assert_eq!(done.lines, ["a = 1 cm"]);
    }
}
