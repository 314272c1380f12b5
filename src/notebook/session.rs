//! Sessions: notebook cells by key, what each defines and shows.
//!
//! Submitting a cell again replaces what it defined; a forgotten cell defines nothing. The order
//! of submission does not matter: the definitions of all cells make one sheet. After each
//! submission, the outputs that depend on what changed are produced again, each once; others are
//! kept as they are. A cell with an error defines nothing, and what would rest on it says so
//! instead of showing what the other cells alone make of it. Files of cohorts are looked at again
//! with each submission, not in between. A cell opened by `in Rust` runs when it is submitted, and
//! its lines count as its text: see [`RustCells`](super::RustCells).
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

mod edits;
mod latest;
mod moves;
mod rust;

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use self::rust::{Runner, RustPart};
use super::assembly::{Lost, Part, Verdict, assemble};
use super::cohorts::{Cohorts, Wanted};
use super::output::Output;
use super::render::{Rendering, render};
use crate::cohort::Identifiers;
use crate::formula::notation::{self, Diagnostic, Display, Name, Place, Sources, Statement, What};
use crate::sheet::Sheet;

pub use moves::Slider;

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
    tables: BTreeMap<String, PathBuf>,
    bindings: BTreeMap<String, PathBuf>,
    sources: Sources,
    sheet: Sheet,
    lost: Lost,
    refused: Vec<Diagnostic>,
    /// What is wrong with cells, by their source.
    found: HashMap<u32, Vec<Diagnostic>>,
    /// Readings moved by hand, by the name of their cell.
    moved: BTreeMap<String, moves::Moved>,
    /// Set from elsewhere, it interrupts the work.
    stop: Arc<AtomicBool>,
    cohorts: Cohorts,
    identifiers: Identifiers,
    runner: Runner,
}

struct Cell {
    key: String,
    typed: Option<Typed>,
    source: u32,
    /// Its text in the notation; of a Rust cell, the lines that it gave.
    text: String,
    is_notation: bool,
    rust: Option<RustPart>,
    statements: Vec<Statement>,
    /// What is wrong in the text itself.
    unreadable: Vec<Diagnostic>,
    shown: Vec<Shown>,
    /// Whether its lines yield to later ones that define the same.
    yields: bool,
    /// Whether later lines took the place of all of its own.
    is_replaced: bool,
}

/// What of a cell a person wrote, where that is no cell of a notebook, and where it stands.
pub(super) struct Typed {
    pub(super) place: String,
    /// Its bytes in the cell's text.
    pub(super) bytes: Range<usize>,
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
            tables: BTreeMap::new(),
            bindings: BTreeMap::new(),
            sources: Sources::default(),
            sheet: Sheet::new(),
            lost: Lost::default(),
            refused: Vec::new(),
            found: HashMap::new(),
            moved: BTreeMap::new(),
            stop: Arc::default(),
            cohorts: Cohorts::default(),
            identifiers: Identifiers::default(),
            runner: Runner::default(),
        }
    }

    /// Lets readings given as `NAME`, `READING` take the place of the notebook's. Whether they
    /// fit its cells shows when those are submitted: see [`Session::refused_readings`].
    ///
    /// # Errors
    /// All texts that are no readings, rendered with their places.
    pub fn put_instead(&mut self, readings: &[(String, String)]) -> Result<(), String> {
        let (mut instead, mut wrong) = (Vec::new(), Vec::new());
        for (name, reading) in readings {
            let line = format!("{name} = {reading}");
            let source = self.sources.add(format!("{name}={reading}"), line.as_str());
            match one_reading(&line, source) {
                Ok(statement) => instead.push(statement),
                Err(mut found) => wrong.append(&mut found),
            }
        }
        if wrong.is_empty() {
            self.instead.append(&mut instead);
            self.refresh();
            Ok(())
        } else {
            Err(self.sources.render(&wrong))
        }
    }

    /// Why readings that were put in are not taken: no cell of that name, or one they do not fit.
    pub fn refused_readings(&self) -> Option<String> {
        (!self.refused.is_empty()).then(|| self.sources.render(&self.refused))
    }

    /// Lets tables and binding files given as the name of a cohort and a file take the place of
    /// those that the notebook names. Whether there is such a cohort shows when its cells are submitted: see
    /// [`Session::refused_tables`].
    pub fn put_tables_instead(
        &mut self,
        tables: &[(String, PathBuf)],
        bindings: &[(String, PathBuf)],
    ) {
        self.tables.extend(tables.iter().cloned());
        self.bindings.extend(bindings.iter().cloned());
        self.refresh();
    }

    /// How identifiers that a cohort's binding names, and its dates to shift, are shown from now on; numbered and withheld without
    /// a word on it.
    pub fn show_identifiers(&mut self, how: Identifiers) {
        if self.identifiers != how {
            self.identifiers = how;
            self.cohorts.clear();
            self.refresh();
        }
    }

    /// Why tables and bindings that were put in are not taken: no cohort of that name.
    pub fn refused_tables(&self) -> Option<String> {
        let names: BTreeSet<&str> = self.cohort_names().collect();
        let mut given = self.tables.keys().chain(self.bindings.keys());
        let unknown = given.find(|name| !names.contains(&***name))?;
        let known: Vec<&str> = names.into_iter().collect();
        Some(match known.is_empty() {
            true => format!("no cohort is named `{unknown}`: the notebook reads no table"),
            false => format!(
                "no cohort is named `{unknown}`; the notebook has {}",
                known.join(", ")
            ),
        })
    }

    fn cohort_names(&self) -> impl Iterator<Item = &str> {
        self.displays().filter_map(|display| match display {
            Display::Cohort { name, .. } => Some(&*name.text),
            _ => None,
        })
    }

    /// Submits a cell: new, or again.
    pub fn submit(&mut self, key: &str, text: &str) -> Update {
        match self.edit(key, text) {
            Some(update) => update,
            None => self.submit_all(&[(key, text)]),
        }
    }

    /// Submits several cells at once, given by key and text. The outputs are those of submitting
    /// one after the other, produced once.
    pub fn submit_all(&mut self, cells: &[(&str, &str)]) -> Update {
        for (key, text) in cells {
            self.put(key, text);
        }
        self.refresh()
    }

    /// Submits cells that are made of texts from elsewhere: diagnostics name where those stand and show no more than them.
    pub(super) fn submit_typed(&mut self, cells: Vec<(&str, &str, Typed)>) -> Update {
        for (key, text, typed) in cells {
            self.put(key, text);
            if let Some(cell) = self.cells.iter_mut().find(|cell| cell.key == key) {
                cell.typed = Some(typed);
            }
        }
        self.refresh()
    }

    fn put(&mut self, key: &str, text: &str) {
        let at = match self.cells.iter().position(|cell| cell.key == key) {
            Some(at) => at,
            None => {
                let source = self.sources.add("", "");
                self.cells.push(Cell {
                    key: key.to_owned(),
                    typed: None,
                    source,
                    text: String::new(),
                    is_notation: true,
                    rust: None,
                    statements: Vec::new(),
                    unreadable: Vec::new(),
                    shown: Vec::new(),
                    yields: false,
                    is_replaced: false,
                });
                self.cells.len() - 1
            }
        };
        if !self.put_language(at, text) {
            return;
        }
        let cell = &mut self.cells[at];
        cell.text = text.to_owned();
        (cell.statements, cell.unreadable) = notation::statements(text, cell.source);
    }

    /// Forgets a cell and what it defined.
    pub fn forget(&mut self, key: &str) -> Update {
        self.cells.retain(|cell| cell.key != key);
        self.refresh()
    }

    /// The flag that, set from another thread, interrupts the work: tables are not read to their
    /// end, and what was not shown yet says so. While it is set, nothing more is done; whoever
    /// set it clears it. The next submission does what was left.
    pub fn stop_flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.stop)
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

    /// What a statement is rendered from as things stand.
    fn rendering(&self, place: Place, id: String) -> Rendering<'_> {
        Rendering {
            sheet: &self.sheet,
            cohorts: &self.cohorts,
            lost: &self.lost,
            sources: &self.sources,
            place,
            id,
        }
    }

    /// Each statement that shows something without an error, as it was rendered.
    pub(super) fn renderings(&self) -> Vec<(Rendering<'_>, &Display)> {
        let mut all = Vec::new();
        for cell in &self.cells {
            for (number, statement) in cell.statements.iter().enumerate() {
                let id = format!("{}/{number}", cell.key);
                let stands = cell
                    .shown
                    .iter()
                    .any(|shown| shown.output.id == id && !shown.output.is_error());
                if let (true, What::Display(display)) = (stands, &statement.what) {
                    all.push((self.rendering(statement.place, id), display));
                }
            }
        }
        all
    }

    fn refresh(&mut self) -> Update {
        self.found = self.settle_with_rust();
        self.move_again();
        self.read_cohorts();
        self.show()
    }

    /// Produces the outputs that depend on what changed.
    fn show(&mut self) -> Update {
        let mut update = Update::default();
        for at in 0..self.cells.len() {
            let found = self.found.get(&self.cells[at].source);
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

    /// Makes the sheet of what the cells say now; gives what is wrong by source.
    fn settle(&mut self) -> HashMap<u32, Vec<Diagnostic>> {
        for (at, cell) in self.cells.iter().enumerate() {
            let mut name = format!("cell {}", at + 1);
            if let Some(rust) = &cell.rust {
                self.sources.rename(rust.source(), name.as_str());
                name.push_str(", given by its Rust");
            }
            match &cell.typed {
                Some(Typed { place, bytes }) => {
                    self.sources
                        .replace(cell.source, place.as_str(), cell.text.as_str());
                    self.sources.typed(cell.source, bytes.clone());
                }
                None => self.sources.replace(cell.source, name, cell.text.as_str()),
            }
        }
        let Verdict {
            sheet,
            found,
            lost,
            refused,
            ..
        } = assemble(&self.parts(), &self.instead);
        self.sheet = sheet;
        self.lost = lost;
        self.refused = refused;
        found
    }

    fn parts(&self) -> Vec<Part<'_>> {
        self.cells
            .iter()
            .enumerate()
            .map(|(at, cell)| Part {
                source: cell.source,
                number: at + 1,
                text: &cell.text,
                statements: &cell.statements,
                unreadable: &cell.unreadable,
                is_waiting: cell.rust.as_ref().is_some_and(RustPart::is_due),
            })
            .collect()
    }

    fn read_cohorts(&mut self) {
        let lost = &self.lost.cohorts;
        let wanted: Vec<Wanted> = self
            .displays()
            .filter_map(|display| match display {
                Display::Cohort {
                    name,
                    file,
                    binding,
                    uncertainty,
                } if !lost.contains_key(&name.text) => {
                    let own = |file: &Name| self.base.join(&file.text);
                    let table = self.tables.get(&name.text).cloned();
                    let instead = self.bindings.get(&name.text).cloned();
                    Some(Wanted {
                        name: name.text.clone(),
                        table: table.unwrap_or_else(|| own(file)),
                        binding: instead.or_else(|| binding.as_ref().map(own)),
                        uncertainty: uncertainty.iter().map(|n| n.text.clone()).collect(),
                        identifiers: self.identifiers.clone(),
                    })
                }
                _ => None,
            })
            .collect();
        match self.lost.rows {
            Some(_) => self.cohorts.clear(),
            None => self.cohorts.read(&self.sheet, &wanted, &self.stop),
        }
    }

    /// The statements that show something, in cells that can be read.
    fn displays(&self) -> impl Iterator<Item = &Display> {
        let cells = self.cells.iter().filter(|cell| cell.unreadable.is_empty());
        let statements = cells.flat_map(|cell| &cell.statements);
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
        shown.extend(self.shown_by_rust(cell));
        if found.iter().any(Diagnostic::is_error) {
            return shown;
        }
        for (number, statement) in cell.statements.iter().enumerate() {
            let What::Display(display) = &statement.what else {
                continue;
            };
            let rendering = self.rendering(statement.place, format!("{}/{number}", cell.key));
            let made_from = rendering.made_from(display);
            // An error names other cells and places in them: it is always said anew.
            let kept = cell.shown.iter().find(|old| {
                old.made_from == made_from
                    && old.output.id == rendering.id
                    && !old.output.is_error()
            });
            shown.push(match kept {
                Some(old) => old.clone(),
                None if self.stop.load(Ordering::Relaxed) => Shown {
                    made_from: 0,
                    output: interrupted(rendering.id),
                },
                None => Shown {
                    made_from,
                    output: render(&rendering, display),
                },
            });
        }
        shown
    }
}

/// What stands in the place of an output that an interrupt left out.
fn interrupted(id: String) -> Output {
    let words = "interrupted before this was shown: run any cell to show it";
    let html = maud::html! { pre.diagnostic { (words) } }.into_string();
    Output::error(words, html).with_id(id)
}

/// The one reading that a text is.
fn one_reading(line: &str, source: u32) -> Result<Statement, Vec<Diagnostic>> {
    let (statements, mut found) = notation::statements(line, source);
    let is_reading = |s: &Statement| matches!(s.what, What::Reading { .. } | What::Word { .. });
    match <[Statement; 1]>::try_from(statements) {
        Ok([statement]) if found.is_empty() && is_reading(&statement) => Ok(statement),
        Ok([statement]) if found.is_empty() => Err(vec![not_a_reading(statement.place)]),
        Ok(_) => Err(found),
        Err(statements) => {
            if found.is_empty() {
                let place = statements.first().map(|s| s.place).unwrap_or_default();
                found.push(not_a_reading(notation::Place { source, ..place }));
            }
            Err(found)
        }
    }
}

fn not_a_reading(place: notation::Place) -> Diagnostic {
    Diagnostic::error("this is not a reading", place)
        .hint("write NAME=READING, such as 'lvot_vti=18 cm'")
}
