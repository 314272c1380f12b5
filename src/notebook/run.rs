//! Running a notebook without anybody at the keyboard.

use std::path::Path;

use maud::html;

use super::document::{Cell, CellKind, Document, DocumentError};
use super::live::Live;
use super::markdown::Markdown;
use super::page::{Block, Page};
use super::session::Session;

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
}

/// A notebook that was run.
pub struct Run {
    /// The notebook with its outputs.
    pub document: Document,
    /// The page made of it.
    pub page: String,
    /// Whether any cell shows an error.
    pub has_errors: bool,
}

/// Runs a notebook: all code cells in order through a session, then the outputs of each as they
/// stand after the last. `base` is the folder from which its files are looked for, `instead`
/// are readings that take the place of its own.
///
/// # Errors
/// [`RunError`]; errors inside cells are outputs, not errors of the run.
pub fn run(
    text: &str,
    name: &str,
    base: &Path,
    instead: &[(String, String)],
) -> Result<Run, RunError> {
    let mut document = Document::read(text, name)?;
    let mut session = Session::new(base);
    session.put_instead(instead).map_err(RunError::Readings)?;
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
    let page = page(&document, &session, name, instead);
    let code: Vec<(usize, String)> = document
        .cells()
        .filter(|cell| cell.kind == CellKind::Code)
        .map(|cell| (cell.index, cell.id.to_owned()))
        .collect();
    for (index, id) in code {
        document.set_outputs(index, &session.outputs(&id))?;
    }
    if !instead.is_empty() {
        document.note_readings(instead);
    }
    Ok(Run {
        has_errors: session.has_errors(),
        document,
        page,
    })
}

fn page(
    document: &Document,
    session: &Session,
    name: &str,
    instead: &[(String, String)],
) -> String {
    let mut page = Page::new(title(document, name));
    let live = Live::of(session);
    if !instead.is_empty() {
        page.push(Block::Markdown(notice(instead)));
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

/// Says which readings are not the notebook's: its own source, shown on the page, has others.
fn notice(instead: &[(String, String)]) -> String {
    let markup = html! {
        ul.advisories {
            li.note {
                b { "Note" } " Readings put in the place of the notebook's: "
                @for (at, (name, reading)) in instead.iter().enumerate() {
                    @if at > 0 { ", " }
                    code { (name) " = " (reading) }
                }
            }
        }
    };
    markup.into_string()
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

/// Writes a file so that it appears whole or not at all.
///
/// # Errors
/// What the system says.
pub fn write_whole(path: &Path, contents: &str) -> std::io::Result<()> {
    crate::cohort::write_whole(path, contents.as_bytes())
}
