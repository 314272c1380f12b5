//! Rust cells in a session: when they run, what comes of it, and when they are out of date.

use std::collections::HashMap;

use maud::html;

use super::{Cell, Session, Shown, assemble};
use crate::formula::notation::{self, Diagnostic, Place};
use crate::notebook::Output;
use crate::notebook::rust_cells::{
    Language, RustCells, RustOutcome, RustProblem, RustShown, RustTask, WAY_TO_RUST, WHY_NOT,
    language, without_opening,
};
use crate::sheet::Sheet;

/// Who runs Rust cells, or why nobody does.
pub(super) struct Runner(Result<Box<dyn RustCells>, String>);

impl Default for Runner {
    fn default() -> Self {
        Runner(Err(WHY_NOT.into()))
    }
}

/// What makes a cell a Rust cell.
pub(super) struct RustPart {
    /// Its code among the texts that places point into; the cell's own source holds the lines
    /// that it gave.
    source: u32,
    code: String,
    opening: std::ops::Range<usize>,
    again: bool,
    is_due: bool,
    /// How often it ran since the last submission.
    turns: usize,
    /// What it read, as it was then.
    read: Vec<(String, Seen)>,
    shown: Vec<Output>,
}

/// So many values are named in the mark of a cell that is out of date.
const MOST_NAMED: usize = 3;

/// A value as a cell saw it.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Seen {
    bits: Option<u64>,
    shown: String,
}

fn seen(sheet: &Sheet, name: &str) -> Seen {
    match sheet.cell(name) {
        Some(cell) => Seen {
            bits: sheet.value(cell).map(f64::to_bits),
            shown: match sheet.value(cell) {
                Some(_) => sheet.shown(cell),
                None => "without a value".into(),
            },
        },
        None => Seen {
            bits: None,
            shown: "not there".into(),
        },
    }
}

impl Session {
    /// Lets Rust cells run, with something that runs them. A Rust cell is a program: it can do
    /// whatever the person can who runs it.
    pub fn run_rust_with(&mut self, runner: Box<dyn RustCells>) {
        self.runner = Runner(Ok(runner));
    }

    /// Why its Rust cells were not run, and what to do about it; `None` where they were, and where
    /// there are none.
    pub fn rust_left_out(&self) -> Option<String> {
        let why = self.runner.0.as_ref().err()?;
        let has_rust = self.cells.iter().any(|cell| cell.rust.is_some());
        has_rust.then(|| format!("{why}; {WAY_TO_RUST}"))
    }

    /// Makes a cell a Rust cell or not, by its first line; says whether its text is notation.
    pub(super) fn put_language(&mut self, at: usize, text: &str) -> bool {
        let (language, opening) = language(text);
        let own = self.cells[at].source;
        match language {
            Language::Notation => self.cells[at].rust = None,
            Language::Unclear(place) => {
                let place = place_in(own, &place);
                let error = Diagnostic::error("this opens no cell", place).hint(
                    "write `in Rust`, or `in Rust, again on change` to have it run again when a \
                     value that it read is another",
                );
                let cell = &mut self.cells[at];
                cell.rust = None;
                cell.text = text.to_owned();
                (cell.statements, cell.unreadable) = (Vec::new(), vec![error]);
            }
            Language::Rust { again } => {
                let known = self.cells[at].rust.take();
                let source = known.map_or_else(|| self.sources.add("", ""), |rust| rust.source);
                let code = without_opening(text, &opening);
                let cell = &mut self.cells[at];
                if cell.is_notation {
                    // What it said in the notation is not what its Rust gave.
                    cell.text.clear();
                    cell.statements.clear();
                }
                cell.unreadable.clear();
                self.sources.replace(source, "", text);
                cell.rust = Some(RustPart {
                    source,
                    code,
                    opening,
                    again,
                    is_due: true,
                    turns: 0,
                    read: Vec::new(),
                    shown: Vec::new(),
                });
            }
        }
        self.cells[at].is_notation = language_is_notation(text);
        self.cells[at].is_notation
    }

    /// Builds the sheet, runs the Rust cells that are due one after the other, each on the sheet
    /// that the others leave, and gives what is wrong by source.
    pub(super) fn settle_with_rust(&mut self) -> HashMap<u32, Vec<Diagnostic>> {
        for rust in self.cells.iter_mut().filter_map(|cell| cell.rust.as_mut()) {
            rust.turns = 0;
        }
        let mut found = self.settle();
        while let Some(at) = self.next_due() {
            self.run_rust(at);
            found = self.settle();
        }
        found
    }

    fn next_due(&self) -> Option<usize> {
        let is_due = |cell: &Cell| cell.rust.as_ref().is_some_and(|rust| rust.is_due);
        let due = self.cells.iter().position(is_due);
        due.or_else(|| self.cells.iter().position(|cell| self.runs_again(cell)))
    }

    /// Whether a cell that wants to runs again: not without end, when it changes what it reads.
    fn runs_again(&self, cell: &Cell) -> bool {
        let Some(rust) = &cell.rust else { return false };
        let may = rust.again && self.runner.0.is_ok() && rust.turns <= self.cells.len();
        may && self.is_out_of_date(rust)
    }

    fn is_out_of_date(&self, rust: &RustPart) -> bool {
        rust.read
            .iter()
            .any(|(name, then)| seen(&self.sheet, name) != *then)
    }

    fn run_rust(&mut self, at: usize) {
        if let Some(rust) = &mut self.cells[at].rust {
            // What it gave before is not there while it runs.
            rust.is_due = true;
            rust.turns += 1;
        }
        let (sheet, text, absent) = {
            let parts = self.parts();
            let verdict = assemble(&parts, &self.instead);
            let statements = verdict.standing_definitions(&parts, &self.instead);
            let lines = statements
                .iter()
                .filter_map(|s| self.sources.slice(s.place));
            let text = lines.collect::<Vec<_>>().join("\n");
            let absent: Vec<_> = verdict.lost.names.into_iter().collect();
            (verdict.sheet, text, absent)
        };
        let Some(rust) = &self.cells[at].rust else {
            return;
        };
        let outcome = match &mut self.runner.0 {
            Ok(runner) => runner.run(&RustTask {
                code: &rust.code,
                sheet: &text,
                absent: &absent,
                base: &self.base,
            }),
            Err(why) => RustOutcome {
                problems: vec![RustProblem {
                    message: why.clone(),
                    place: Some(rust.opening.clone()),
                    help: vec![WAY_TO_RUST.into()],
                    ..RustProblem::default()
                }],
                ..RustOutcome::default()
            },
        };
        self.take_outcome(at, outcome, &sheet);
    }

    fn take_outcome(&mut self, at: usize, outcome: RustOutcome, sheet: &Sheet) {
        let cell = &mut self.cells[at];
        let Some(rust) = &mut cell.rust else { return };
        rust.is_due = false;
        rust.read = outcome
            .read
            .into_iter()
            .map(|name| {
                let then = seen(sheet, &name);
                (name, then)
            })
            .collect();
        let outputs = outcome.shown.into_iter().enumerate();
        let key = &cell.key;
        rust.shown = outputs
            .map(|(number, shown)| output_of(shown).with_id(format!("{key}/rust {number}")))
            .collect();
        if outcome.problems.is_empty() {
            cell.text = outcome.lines.join("\n");
            (cell.statements, cell.unreadable) = notation::statements(&cell.text, cell.source);
        } else {
            // The lines of its last run stay, as names that are lost for now.
            let problems = outcome.problems.into_iter();
            cell.unreadable = problems.map(|p| diagnostic(p, rust.source)).collect();
        }
    }

    /// What a Rust cell shows: that it is out of date, if it is, and what it showed.
    pub(super) fn shown_by_rust(&self, cell: &Cell) -> Vec<Shown> {
        let Some(rust) = &cell.rust else {
            return Vec::new();
        };
        let note = self.out_of_date(cell, rust);
        let outputs = note.into_iter().chain(rust.shown.iter().cloned());
        outputs
            .map(|output| Shown {
                made_from: 0,
                output,
            })
            .collect()
    }

    fn out_of_date(&self, cell: &Cell, rust: &RustPart) -> Option<Output> {
        let mut moved: Vec<String> = rust
            .read
            .iter()
            .filter_map(|(name, then)| {
                let now = seen(&self.sheet, name);
                let words = || {
                    format!(
                        "`{name}` was {} when it ran and is {} now",
                        then.shown, now.shown
                    )
                };
                (now != *then).then(words)
            })
            .collect();
        if moved.is_empty() {
            return None;
        }
        // Who looked at the whole sheet read all of it.
        if moved.len() > MOST_NAMED {
            let others = moved.len() - MOST_NAMED;
            moved.truncate(MOST_NAMED);
            moved.push(format!("{others} more have changed"));
        }
        let way_out = match rust.again {
            true => "it changes what it reads, so running it again does not end this",
            false => "run the cell again",
        };
        let words = format!("{}; {way_out}", moved.join("; "));
        let html = html! {
            ul.advisories { li.caution { b { "Out of date" } " " (words) } }
        };
        let output = Output::new("", format!("Out of date: {words}"), html.into_string());
        Some(output.with_id(mark_of(&cell.key)))
    }

    /// An empty output in the place where a Rust cell, which shows nothing of its own, would be
    /// marked as out of date; for front ends that replace outputs and cannot add any. `None` for
    /// cells that show something, and for those that read nothing.
    pub fn place_of_mark(&self, key: &str) -> Option<Output> {
        let cell = self.cells.iter().find(|cell| cell.key == key)?;
        let reads = cell.rust.as_ref().is_some_and(|rust| !rust.read.is_empty());
        let is_silent = reads && cell.shown.is_empty();
        is_silent.then(|| Output::new("", "", "").with_id(mark_of(key)))
    }
}

/// Identifier of the output that marks a cell as out of date.
fn mark_of(key: &str) -> String {
    format!("{key}/out of date")
}

fn language_is_notation(text: &str) -> bool {
    language(text).0 == Language::Notation
}

impl RustPart {
    /// The source of its code, for its name.
    pub(super) fn source(&self) -> u32 {
        self.source
    }

    /// Whether it has still to run, so that it gives nothing yet.
    pub(super) fn is_due(&self) -> bool {
        self.is_due
    }
}

fn place_in(source: u32, range: &std::ops::Range<usize>) -> Place {
    let at = |byte: usize| u32::try_from(byte).unwrap_or(u32::MAX);
    Place {
        source,
        start: at(range.start),
        end: at(range.end),
    }
}

fn diagnostic(problem: RustProblem, source: u32) -> Diagnostic {
    let lines = problem.message.lines().map(str::trim);
    let message = lines
        .filter(|l| !l.is_empty())
        .collect::<Vec<_>>()
        .join("; ");
    let error = match &problem.place {
        Some(place) => Diagnostic::error(message, place_in(source, place)),
        None => Diagnostic::general(message),
    };
    let error = problem.also.iter().fold(error, |error, (place, words)| {
        error.also(place_in(source, place), words.as_str())
    });
    let help: Vec<String> = problem
        .help
        .iter()
        .map(|help| help.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    error.hint_if((!help.is_empty()).then(|| help.join("; ")))
}

fn output_of(shown: RustShown) -> Output {
    let html = match (&shown.html, &shown.svg) {
        (Some(html), _) => html.clone(),
        (None, Some(svg)) => html! { figure { (maud::PreEscaped(svg)) } }.into_string(),
        (None, None) => html! { pre { (shown.text) } }.into_string(),
    };
    let output = Output::new("", shown.text, html);
    match shown.svg {
        Some(svg) => output.with_svg(svg),
        None => output,
    }
}
