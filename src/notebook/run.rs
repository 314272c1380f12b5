//! Running a notebook without anybody at the keyboard.

use std::path::{Path, PathBuf};

use maud::{Markup, html};
use serde_json::Value;

use super::document::{Cell, CellKind, Document, DocumentError};
use super::live::Live;
use super::markdown::Markdown;
use super::page::{Block, Page};
use super::rust_cells::RustCells;
use super::session::Session;
use crate::cohort::Identifiers;

/// Why a notebook cannot be run.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RunError {
    /// The file is no notebook.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// A reading given instead is none, or does not fit the notebook.
    #[error("{0}")]
    Readings(String),
    /// A table given instead belongs to no cohort of the notebook.
    #[error("{0}")]
    Tables(String),
}

/// What takes the place of a notebook's own, so that one notebook serves new data.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Inputs {
    /// Readings, by the name of their cell, as the notation writes them.
    pub readings: Vec<(String, String)>,
    /// Tables, by the name of their cohort.
    pub tables: Vec<(String, PathBuf)>,
    /// Binding files, by the name of their cohort.
    pub bindings: Vec<(String, PathBuf)>,
    /// How identifiers that a binding names, and dates to shift, are shown.
    pub identifiers: Identifiers,
}

impl Inputs {
    /// Whether nothing takes the place of anything.
    pub fn is_empty(&self) -> bool {
        self.readings.is_empty() && self.tables.is_empty() && self.bindings.is_empty()
    }
}

/// A notebook that was run.
pub struct Run {
    /// The notebook with its outputs.
    pub document: Document,
    /// The page made of it.
    pub page: String,
    /// Whether any cell shows an error that is not there to show one.
    pub has_errors: bool,
    /// Why its Rust cells were not run, and the way to have them run; `None` where they were, and
    /// where there are none. Other outputs may rest on them.
    pub rust_left_out: Option<String>,
}

/// Runs a notebook: all code cells in order through a session, then the outputs of each as they
/// stand after the last. `base` is the folder from which its files are looked for, `instead`
/// are readings that take the place of its own. Rust cells do not run, and say so.
///
/// # Errors
/// [`RunError`]; errors inside cells are outputs, not errors of the run.
pub fn run(
    text: &str,
    name: &str,
    base: &Path,
    instead: &[(String, String)],
) -> Result<Run, RunError> {
    let inputs = Inputs {
        readings: instead.to_vec(),
        ..Inputs::default()
    };
    run_with(text, name, base, &inputs)
}

/// As [`run`], with tables and binding files too.
///
/// # Errors
/// As [`run`].
pub fn run_with(text: &str, name: &str, base: &Path, inputs: &Inputs) -> Result<Run, RunError> {
    run_in(Session::new(base), text, name, inputs)
}

/// As [`run_with`], with something that runs Rust cells. A notebook with Rust cells is a program,
/// which can do whatever the person can who runs it.
///
/// # Errors
/// As [`run`].
pub fn run_with_rust(
    text: &str,
    name: &str,
    base: &Path,
    inputs: &Inputs,
    runner: Box<dyn RustCells>,
) -> Result<Run, RunError> {
    let mut session = Session::new(base);
    session.run_rust_with(runner);
    run_in(session, text, name, inputs)
}

fn run_in(mut session: Session, text: &str, name: &str, inputs: &Inputs) -> Result<Run, RunError> {
    let mut document = Document::read(text, name)?;
    let readings = session.put_instead(&inputs.readings);
    readings.map_err(RunError::Readings)?;
    session.show_identifiers(inputs.identifiers.clone());
    session.put_tables_instead(&inputs.tables, &inputs.bindings);
    let code = |cell: &Cell<'_>| cell.kind == CellKind::Code;
    let cells: Vec<(&str, &str)> = document
        .cells()
        .filter(code)
        .map(|cell| (cell.id, cell.source))
        .collect();
    session.submit_all(&cells);
    if let Some(refused) = session.refused_readings() {
        return Err(RunError::Readings(refused));
    }
    if let Some(refused) = session.refused_tables() {
        return Err(RunError::Tables(refused));
    }
    let page = page(&document, &session, name, inputs);
    let has_errors = document.cells().any(|cell| {
        let outputs = session.outputs(cell.id);
        !cell.means_error && outputs.iter().any(|output| output.is_error())
    });
    let code: Vec<(usize, String)> = document
        .cells()
        .filter(|cell| cell.kind == CellKind::Code)
        .map(|cell| (cell.index, cell.id.to_owned()))
        .collect();
    for (index, id) in code {
        document.set_outputs(index, &session.outputs(&id))?;
    }
    if !inputs.is_empty() {
        document.note_inputs(inputs);
    }
    Ok(Run {
        has_errors,
        rust_left_out: session.rust_left_out(),
        document,
        page,
    })
}

fn page(document: &Document, session: &Session, name: &str, inputs: &Inputs) -> String {
    let mut page = Page::new(title(document, name));
    let live = Live::of(session);
    if !inputs.is_empty() {
        page.push(Block::Markdown(notice(inputs)));
    }
    let mut markdown = Markdown::new();
    for cell in document.cells() {
        match cell.kind {
            CellKind::Markdown => page.push(Block::Markdown(markdown.to_html(cell.source))),
            CellKind::Code => {
                page.push(Block::Source(cell.source.to_owned()));
                for output in session.outputs(cell.id) {
                    let output = live.as_ref().map_or(output.clone(), |l| l.output(output));
                    page.push(Block::Output(output));
                }
            }
            CellKind::Raw => {}
        }
    }
    match live {
        Some(live) => page.with_script(live.script).to_html(),
        None => page.to_html(),
    }
}

/// Says what is not the notebook's: its own source, shown on the page, has other readings and
/// names other tables and bindings.
fn notice(inputs: &Inputs) -> String {
    let shown = |files: &[(String, PathBuf)]| -> Vec<(String, String)> {
        let files = files.iter();
        files
            .map(|(name, file)| (name.clone(), file.display().to_string()))
            .collect()
    };
    let markup = html! {
        ul.advisories {
            (instead("Readings", " = ", &inputs.readings))
            (instead("Tables", " from ", &shown(&inputs.tables)))
            (instead("Bindings", " by ", &shown(&inputs.bindings)))
        }
    };
    markup.into_string()
}

fn instead(what: &str, between: &str, pairs: &[(String, String)]) -> Markup {
    html! {
        @if !pairs.is_empty() {
            li.note {
                b { "Note" } " " (what) " put in the place of the notebook's: "
                @for (at, (name, text)) in pairs.iter().enumerate() {
                    @if at > 0 { ", " }
                    code { (name) (between) (text) }
                }
            }
        }
    }
}

/// Where a notebook as it is committed first differs from what running it makes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outdated {
    /// The line, from 1.
    pub line: usize,
    /// The cell, from 1, and its identifier; none where the notebook around the cells differs.
    pub cell: Option<(usize, String)>,
}

impl std::fmt::Display for Outdated {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.cell {
            Some((number, id)) => write!(f, "cell {number} (`{id}`), line {}", self.line),
            None => write!(f, "line {}", self.line),
        }
    }
}

impl Run {
    /// Compares with the notebook as it was read; `None` where its outputs are current. Says nothing
    /// of use where Rust cells were left out.
    pub fn outdated(&self, committed: &str) -> Option<Outdated> {
        let made = self.document.write();
        // How the file is laid out, which programs that save notebooks do in their own ways, is no
        // output.
        let laid_out = Document::read(committed, "").map(|document| document.write());
        if made == committed || laid_out.is_ok_and(|laid_out| laid_out == made) {
            return None;
        }
        let (mut old, mut new) = (committed.lines(), made.lines());
        let same = old.by_ref().zip(new.by_ref()).take_while(|(a, b)| a == b);
        let line = same.count() + 1;
        Some(Outdated {
            line,
            cell: first_other_cell(committed, &made),
        })
    }
}

fn first_other_cell(committed: &str, made: &str) -> Option<(usize, String)> {
    let cells = |text: &str| -> Option<Vec<Value>> {
        let whole: Value = serde_json::from_str(text).ok()?;
        whole.get("cells")?.as_array().cloned()
    };
    let (old, new) = (cells(committed)?, cells(made)?);
    let at = old.iter().zip(&new).position(|(a, b)| a != b)?;
    let id = new[at].get("id").and_then(Value::as_str);
    Some((at + 1, id.unwrap_or_default().to_owned()))
}

/// The first heading, else the name of the file.
fn title(document: &Document, name: &str) -> String {
    let heading = |cell: Cell<'_>| {
        let mut is_code = false;
        let mut lines = cell.source.lines().filter(|line| {
            is_code ^= line.starts_with("```");
            !is_code
        });
        lines.find_map(|line| line.strip_prefix("# ").map(str::trim).map(str::to_owned))
    };
    document
        .cells()
        .filter(|cell| cell.kind == CellKind::Markdown)
        .find_map(heading)
        .unwrap_or_else(|| name.to_owned())
}
