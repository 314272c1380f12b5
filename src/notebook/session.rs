//! Sessions: notebook cells by key, what each defines and shows.
//!
//! Submitting a cell again replaces what it defined; a forgotten cell defines nothing. The order
//! of submission does not matter: the definitions of all cells make one sheet. After each
//! submission, the outputs that depend on what changed are produced again, each once; others are
//! kept as they are. A cell with an error defines nothing, and cells that needed it say so.
//!
//! ```
//! use semilunar::notebook::Session;
//!
//! let mut session = Session::new(".");
//! session.submit("a", "show stroke_volume");
//! session.submit("b", "use hemodynamics\nlvot_diameter = 2 cm");
//! let update = session.submit("c", "lvot_vti = 20 cm");
//! assert_eq!(update.changed, ["a"]);
//! assert!(session.outputs("a")[0].text.contains("62.8 mL"));
//! ```

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use super::cohorts::Cohorts;
use super::output::Output;
use super::render::{Rendering, render};
use crate::formula::notation::{self, Diagnostic, Display, Sources, Statement, What};
use crate::sheet::{Sheet, defined_name};

/// What a submission did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Update {
    /// Keys of the cells whose outputs are now others, in the order of the cells.
    pub changed: Vec<String>,
}

/// Cells of a notebook and the sheet that they make together.
pub struct Session {
    base: PathBuf,
    cells: Vec<Cell>,
    instead: Vec<Statement>,
    sources: Sources,
    sheet: Sheet,
    cohorts: Cohorts,
}

struct Cell {
    key: String,
    source: u32,
    text: String,
    statements: Vec<Statement>,
    /// What is wrong in the text itself.
    unreadable: Vec<Diagnostic>,
    shown: Vec<Shown>,
}

/// An output with what it was made from.
#[derive(Clone)]
struct Shown {
    made_from: u64,
    output: Output,
}

impl Session {
    /// A session without cells; files are looked for from the folder `base`.
    pub fn new(base: impl Into<PathBuf>) -> Session {
        Session {
            base: base.into(),
            cells: Vec::new(),
            instead: Vec::new(),
            sources: Sources::default(),
            sheet: Sheet::new(),
            cohorts: Cohorts::default(),
        }
    }

    /// Lets readings given as `NAME`, `READING` take the place of the notebook's.
    ///
    /// # Errors
    /// All texts that are no readings, rendered with their places.
    pub fn put_instead(&mut self, readings: &[(String, String)]) -> Result<(), String> {
        let mut wrong = Vec::new();
        for (name, reading) in readings {
            let line = format!("{name} = {reading}");
            let source = self.sources.add(format!("{name}={reading}"), line.as_str());
            let (mut statements, mut found) = notation::statements(&line, source);
            self.instead.append(&mut statements);
            wrong.append(&mut found);
        }
        if wrong.is_empty() {
            Ok(())
        } else {
            Err(self.sources.render(&wrong))
        }
    }

    /// Submits a cell: new, or again.
    pub fn submit(&mut self, key: &str, text: &str) -> Update {
        let at = match self.cells.iter().position(|cell| cell.key == key) {
            Some(at) => at,
            None => {
                let source = self.sources.add("", "");
                self.cells.push(Cell {
                    key: key.to_owned(),
                    source,
                    text: String::new(),
                    statements: Vec::new(),
                    unreadable: Vec::new(),
                    shown: Vec::new(),
                });
                self.cells.len() - 1
            }
        };
        let name = format!("cell {}", at + 1);
        let cell = &mut self.cells[at];
        self.sources.replace(cell.source, name, text);
        cell.text = text.to_owned();
        (cell.statements, cell.unreadable) = notation::statements(text, cell.source);
        self.refresh()
    }

    /// Forgets a cell and what it defined.
    pub fn forget(&mut self, key: &str) -> Update {
        self.cells.retain(|cell| cell.key != key);
        self.refresh()
    }

    /// What a cell shows now.
    pub fn outputs(&self, key: &str) -> Vec<Output> {
        self.cells
            .iter()
            .filter(|cell| cell.key == key)
            .flat_map(|cell| cell.shown.iter().map(|shown| shown.output.clone()))
            .collect()
    }

    /// Whether any cell shows an error.
    pub fn has_errors(&self) -> bool {
        self.cells
            .iter()
            .any(|cell| cell.shown.iter().any(|shown| shown.output.is_error()))
    }

    /// The sheet that the cells make together.
    pub fn sheet(&self) -> &Sheet {
        &self.sheet
    }

    /// The folder from which files are looked for.
    pub fn base(&self) -> &Path {
        &self.base
    }

    fn refresh(&mut self) -> Update {
        let verdict = self.build();
        self.sheet = verdict.sheet;
        self.read_cohorts();
        let mut update = Update::default();
        for at in 0..self.cells.len() {
            let found = verdict.found.get(&self.cells[at].source);
            let shown = self.show_cell(at, found.map_or(&[], Vec::as_slice));
            let cell = &mut self.cells[at];
            let is_same = cell.shown.len() == shown.len()
                && cell
                    .shown
                    .iter()
                    .zip(&shown)
                    .all(|(a, b)| a.output == b.output);
            cell.shown = shown;
            if !is_same {
                update.changed.push(cell.key.clone());
            }
        }
        update
    }

    /// Builds the sheet from all cells without errors, leaving out one with an error after the
    /// other until it stands.
    fn build(&self) -> Verdict {
        let mut verdict = Verdict::default();
        let mut left_out: Vec<u32> = Vec::new();
        for cell in &self.cells {
            if !cell.unreadable.is_empty() {
                verdict.add(cell.source, cell.unreadable.clone());
                left_out.push(cell.source);
            }
        }
        loop {
            let statements = self.definitions(&left_out);
            let absent = self.absent(&left_out);
            let mut found = Vec::new();
            let sheet = Sheet::build_without(&statements, &absent, &mut found);
            let blamed = verdict.distribute(found, &self.sources_of_cells());
            if let Some(sheet) = sheet {
                verdict.sheet = sheet;
                return verdict;
            }
            let before = left_out.len();
            left_out.extend(blamed);
            left_out.sort_unstable();
            left_out.dedup();
            if left_out.len() == before {
                // Nothing to blame it on: the readings put in from outside do not fit.
                return verdict;
            }
        }
    }

    fn sources_of_cells(&self) -> Vec<u32> {
        self.cells.iter().map(|cell| cell.source).collect()
    }

    /// The defining statements of the cells that are not left out.
    fn definitions(&self, left_out: &[u32]) -> Vec<Statement> {
        let replaced: Vec<&str> = self
            .instead
            .iter()
            .filter_map(|s| defined_name(s).map(|n| n.text.as_str()))
            .collect();
        self.cells
            .iter()
            .filter(|cell| !left_out.contains(&cell.source))
            .flat_map(|cell| &cell.statements)
            .filter(|s| !matches!(s.what, What::Display(_)))
            .filter(|s| defined_name(s).is_none_or(|n| !replaced.contains(&n.text.as_str())))
            .chain(&self.instead)
            .cloned()
            .collect()
    }

    /// Names that only cells with errors define, and what to say of them.
    fn absent(&self, left_out: &[u32]) -> HashMap<String, String> {
        let mut absent = HashMap::new();
        for (at, cell) in self.cells.iter().enumerate() {
            if !left_out.contains(&cell.source) {
                continue;
            }
            for statement in &cell.statements {
                if let Some(name) = defined_name(statement) {
                    let why = format!("cell {} defines it, but has an error", at + 1);
                    absent.insert(name.text.clone(), why);
                }
            }
        }
        absent
    }

    fn read_cohorts(&mut self) {
        let wanted: Vec<(String, PathBuf)> = self
            .displays()
            .filter_map(|display| match display {
                Display::Cohort { name, file } => {
                    Some((name.text.clone(), self.base.join(&file.text)))
                }
                _ => None,
            })
            .collect();
        self.cohorts.read(&self.sheet, &wanted);
    }

    fn displays(&self) -> impl Iterator<Item = &Display> {
        let statements = self.cells.iter().flat_map(|cell| &cell.statements);
        statements.filter_map(|statement| match &statement.what {
            What::Display(display) => Some(display),
            _ => None,
        })
    }

    fn show_cell(&self, at: usize, found: &[Diagnostic]) -> Vec<Shown> {
        let cell = &self.cells[at];
        let mut shown = Vec::new();
        if !found.is_empty() {
            let text = self.sources.render(found);
            let id = format!("{}/diagnostics", cell.key);
            shown.push(Shown {
                made_from: 0,
                output: super::render::diagnostics(id, &text, found),
            });
        }
        if found.iter().any(Diagnostic::is_error) {
            return shown;
        }
        for (number, statement) in cell.statements.iter().enumerate() {
            let What::Display(display) = &statement.what else {
                continue;
            };
            let rendering = Rendering {
                sheet: &self.sheet,
                cohorts: &self.cohorts,
                sources: &self.sources,
                place: statement.place,
                id: format!("{}/{number}", cell.key),
            };
            let made_from = rendering.made_from(display);
            let kept = cell
                .shown
                .iter()
                .find(|old| old.made_from == made_from && old.output.id == rendering.id);
            shown.push(match kept {
                Some(old) => old.clone(),
                None => Shown {
                    made_from,
                    output: render(&rendering, display),
                },
            });
        }
        shown
    }
}

/// A sheet and what is wrong with the cells, by source.
#[derive(Default)]
struct Verdict {
    sheet: Sheet,
    found: HashMap<u32, Vec<Diagnostic>>,
}

impl Verdict {
    fn add(&mut self, source: u32, mut diagnostics: Vec<Diagnostic>) {
        let known = self.found.entry(source).or_default();
        diagnostics.retain(|d| !known.contains(d));
        known.append(&mut diagnostics);
    }

    /// Gives each diagnostic to its cell; returns the cells with errors.
    fn distribute(&mut self, found: Vec<Diagnostic>, cells: &[u32]) -> Vec<u32> {
        let mut blamed = Vec::new();
        for diagnostic in found {
            // What has no place in a cell is shown by the last one.
            let own = diagnostic.place().map(|p| p.source);
            let source = own.filter(|s| cells.contains(s)).or(cells.last().copied());
            if let Some(source) = source {
                if diagnostic.is_error() && own == Some(source) {
                    blamed.push(source);
                }
                self.add(source, vec![diagnostic]);
            }
        }
        blamed
    }
}
