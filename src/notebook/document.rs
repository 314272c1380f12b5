//! Jupyter notebook documents: reading, putting outputs in, writing.
//!
//! The format is the Jupyter notebook format 4.5 (`nbformat` 4, minor 5); older 4.x files are
//! upgraded while they are read, other versions are refused. A document keeps everything it does
//! not understand: unknown fields, metadata of other tools and outputs of other kernels stay where
//! they were, in their order.
//!
//! ```
//! use semilunar::notebook::document::{CellKind, Document};
//! use semilunar::notebook::output::Output;
//!
//! let text = r#"{"cells": [{"cell_type": "code", "execution_count": null, "id": "area",
//!     "metadata": {}, "outputs": [], "source": ["lvot_diameter = 2.0 cm"]}],
//!     "metadata": {}, "nbformat": 4, "nbformat_minor": 5}"#;
//! let mut document = Document::read(text, "area.ipynb")?;
//! let first = document.cells().next().expect("the document has one cell");
//! assert_eq!((first.kind, first.source), (CellKind::Code, "lvot_diameter = 2.0 cm"));
//!
//! document.set_outputs(0, &[Output::new("area", "3.14 cm²", "<p>3.14 cm²</p>")])?;
//! assert!(document.write().contains("3.14 cm²"));
//! # Ok::<(), semilunar::notebook::document::DocumentError>(())
//! ```
//!
//! # What is written
//!
//! The text is laid out as Jupyter itself lays it out (one space of indent, non-ASCII unescaped, a
//! newline at the end, numbers as Python prints them), so that a file saved by Jupyter and read
//! and written here has the same bytes. Nothing comes from a clock or from randomness.
//!
//! # What is not handled
//!
//! Whole numbers beyond 64 bits in foreign metadata become floating-point numbers. When a name occurs twice
//! in one JSON object the last one counts, as in Jupyter.

mod check;
mod error;
mod layout;

pub use error::{DocumentError, DocumentErrorKind, Position};

use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::{Map, Value};

use super::output::Output;
use super::run::Inputs;
use error::{CellPlace, Problem};

/// The largest text that [`Document::read`] accepts, in bytes (200 MB).
pub const LARGEST_DOCUMENT: usize = 200_000_000;

/// What a cell of a notebook holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellKind {
    /// CommonMark text with formulas.
    Markdown,
    /// Sheet notation and statements.
    Code,
    /// Text for other tools; neither run nor shown.
    Raw,
}

/// A look at one cell of a [`Document`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell<'a> {
    /// Position in the document, from 0, as [`Document::set_outputs`] takes it.
    pub index: usize,
    /// The cell's identifier: 1 to 64 ASCII letters, digits, `-` and `_`, unique in the document.
    pub id: &'a str,
    /// What the cell holds.
    pub kind: CellKind,
    /// Its text, lines joined.
    pub source: &'a str,
    /// Whether it is there to show an error: it has the tag `raises-exception`, which tools that
    /// run Jupyter notebooks know.
    pub means_error: bool,
}

/// A notebook document in memory.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// The name errors carry: a file name, usually.
    name: String,
    /// The top level of the file. Its `cells` entry holds the place only: see `cells`.
    top: Map<String, Value>,
    cells: Vec<CellRecord>,
}

/// One cell: the fields that we use beside the JSON object that is written.
#[derive(Clone, Debug, PartialEq)]
struct CellRecord {
    id: String,
    kind: CellKind,
    source: String,
    fields: Map<String, Value>,
}

impl CellRecord {
    fn has_tag(&self, tag: &str) -> bool {
        let metadata = self.fields.get("metadata");
        let tags = metadata.and_then(|m| m.get("tags")?.as_array());
        tags.is_some_and(|tags| tags.iter().any(|t| t == tag))
    }
}

impl Document {
    /// Reads a notebook from its text. `name` is what errors call it: the file's name, usually.
    ///
    /// A leading byte order mark is skipped. Cells of files older than 4.5 get the identifiers
    /// `cell-1`, `cell-2` and so on. A document that names no kernel gets ours.
    ///
    /// # Errors
    ///
    /// [`DocumentError`] when the text is over [`LARGEST_DOCUMENT`], is not JSON, is nested deeper
    /// than 127 levels, is not a notebook of version 4, lacks a required field or has one of the
    /// wrong type, or when two cells have the same identifier.
    pub fn read(text: &str, name: &str) -> Result<Self, DocumentError> {
        check::read(text, name)
    }

    /// The cells in their order.
    pub fn cells(&self) -> impl Iterator<Item = Cell<'_>> {
        self.cells.iter().enumerate().map(|(index, cell)| Cell {
            index,
            id: &cell.id,
            kind: cell.kind,
            source: &cell.source,
            means_error: cell.has_tag("raises-exception"),
        })
    }

    /// The name of the kernel the document asks for.
    #[must_use]
    pub fn kernel(&self) -> Option<&str> {
        self.top
            .get("metadata")?
            .get("kernelspec")?
            .get("name")?
            .as_str()
    }

    /// Notes in the notebook's own metadata which readings, tables and bindings its outputs were made with in
    /// place of those in its cells, so that a copy does not contradict itself.
    pub fn note_inputs(&mut self, inputs: &Inputs) {
        let text = |(name, text): (&String, String)| (name.clone(), Value::String(text));
        let readings = inputs.readings.iter().map(|(n, r)| text((n, r.clone())));
        let files = |files: &[(String, std::path::PathBuf)]| -> Map<_, _> {
            let files = files.iter();
            files
                .map(|(n, file)| text((n, file.display().to_string())))
                .collect()
        };
        let mut noted = Map::new();
        for (what, all) in [
            ("readings", readings.collect::<Map<_, _>>()),
            ("tables", files(&inputs.tables)),
            ("bindings", files(&inputs.bindings)),
        ] {
            if !all.is_empty() {
                noted.insert(what.into(), Value::Object(all));
            }
        }
        let metadata = self
            .top
            .entry("metadata")
            .or_insert_with(|| Value::Object(Map::new()));
        if let Value::Object(metadata) = metadata {
            metadata.insert("semilunar".into(), Value::Object(noted));
        }
    }

    /// Replaces the outputs of the code cell at `index` (from 0), and numbers the cell with its
    /// place among the code cells, from 1: the number says nothing about when it ran, so that the
    /// same notebook gives the same bytes each time.
    ///
    /// # Errors
    ///
    /// [`DocumentErrorKind::NoSuchCell`] and [`DocumentErrorKind::NotCode`].
    pub fn set_outputs(&mut self, index: usize, outputs: &[Output]) -> Result<(), DocumentError> {
        let count = self.cells.len();
        let Some(cell) = self.cells.get(index) else {
            let problem = Problem::NoSuchCell {
                number: index.saturating_add(1),
                count,
            };
            return Err(DocumentError::new(&self.name, None, problem));
        };
        if cell.kind != CellKind::Code {
            let place = CellPlace::new(index, Some(&cell.id));
            return Err(DocumentError::new(
                &self.name,
                Some(place),
                Problem::NotCode,
            ));
        }
        let number = self.cells[..=index]
            .iter()
            .filter(|cell| cell.kind == CellKind::Code)
            .count();
        let fields = &mut self.cells[index].fields;
        set(fields, "execution_count", Value::from(number));
        let outputs = outputs.iter().map(Output::to_notebook).collect();
        set(fields, "outputs", Value::Array(outputs));
        Ok(())
    }

    /// Takes the outputs and the numbers of all code cells away.
    pub fn clear(&mut self) {
        for cell in &mut self.cells {
            if cell.kind == CellKind::Code {
                set(&mut cell.fields, "execution_count", Value::Null);
                set(&mut cell.fields, "outputs", Value::Array(Vec::new()));
            }
        }
    }

    /// The document's text, as Jupyter lays it out, with a newline at the end.
    #[must_use]
    pub fn write(&self) -> String {
        layout::write(self)
    }
}

impl Serialize for Document {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.top.len()))?;
        for (key, value) in &self.top {
            if key == "cells" {
                map.serialize_entry(key, &self.cells)?;
            } else {
                map.serialize_entry(key, value)?;
            }
        }
        map.end()
    }
}

impl Serialize for CellRecord {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.fields.serialize(serializer)
    }
}

/// Sets a field: in place when it is there, else where alphabetical order wants it, because
/// Jupyter sorts the names and a file should not change more than it must.
fn set(fields: &mut Map<String, Value>, key: &str, value: Value) {
    if let Some(place) = fields.get_mut(key) {
        *place = value;
        return;
    }
    let index = fields
        .keys()
        .position(|other| other.as_str() > key)
        .unwrap_or(fields.len());
    fields.shift_insert(index, key.to_owned(), value);
}

/// A text as the notebook format stores it: a list of lines, each with its newline.
pub(super) fn lines(text: &str) -> Value {
    Value::Array(text.split_inclusive('\n').map(Value::from).collect())
}

#[cfg(test)]
mod tests;
