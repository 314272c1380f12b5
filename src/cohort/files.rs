//! A sheet applied to a file, results to a file.

use std::path::{Path, PathBuf};

use super::apply::{Counts, Runner, Sink, UsedRow};
use super::binding::{Binding, result_heading};
use super::binding_file::BindingFile;
use super::error::CohortError;
use super::pseudonym::Key;
use super::remarks::{HeldAdvice, remarks};
use super::table::{RawRow, TableReader, TableWriter};
use crate::formula::CellId;
use crate::formula::notation::number;
use crate::sheet::{Advisory, Sheet};

/// What came of applying a sheet to a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// How many rows went where.
    pub counts: Counts,
    /// The file of the rows set aside.
    pub set_aside: PathBuf,
    /// Headings of the columns of results.
    pub results: Vec<String>,
    /// Headings that name a derived cell, which a heading alone does not bind.
    pub passed_over: Vec<String>,
    /// Advice that held, with the number of rows in which it did.
    pub advisories: Vec<(Advisory, usize)>,
}

/// `results.csv` becomes `results.set_aside.csv`.
pub fn set_aside_path(out: &Path) -> PathBuf {
    match out.extension() {
        Some(extension) => {
            let mut ending = std::ffi::OsString::from("set_aside.");
            ending.push(extension);
            out.with_extension(ending)
        }
        None => out.with_extension("set_aside"),
    }
}

/// How a sheet is applied, beyond what headings say.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What columns supply, where their headings do not say it.
    pub binding: Option<BindingFile>,
    /// The key of pseudonyms.
    pub key: Option<Key>,
    /// Identifiers leave as they are.
    pub keep_identifiers: bool,
}

/// Applies a sheet to the table in `table` and writes the results to `out`. `progress` is told
/// the number of rows read from time to time.
///
/// # Errors
/// [`CohortError`]; nothing is left behind then.
pub fn apply_to_file(
    sheet: &Sheet,
    table: &Path,
    out: &Path,
    progress: &mut dyn FnMut(usize),
) -> Result<Summary, CohortError> {
    apply_to_file_with(sheet, table, out, &Options::default(), progress)
}

/// As [`apply_to_file`], with a binding file. Columns that it names as identifiers leave as
/// pseudonyms, in the file of rows set aside too. An identifier that no file names is not
/// guessed at: it passes through.
///
/// # Errors
/// As [`apply_to_file`]; identifiers without a key, unless they are kept explicitly.
pub fn apply_to_file_with(
    sheet: &Sheet,
    table: &Path,
    out: &Path,
    options: &Options,
    progress: &mut dyn FnMut(usize),
) -> Result<Summary, CohortError> {
    refuse_same_file(table, out)?;
    let mut reader = TableReader::open(table)?;
    let binding = match &options.binding {
        Some(file) => Binding::by_file(sheet, reader.headings(), file)?,
        None => Binding::by_headings(sheet, reader.headings())?,
    };
    let hidden = Hidden::of(&binding, options)?;
    let hides = hidden.key.is_some();
    let derived = sheet.reachable(&binding.cells());
    let mut sink = FileSink::create(sheet, &binding, hidden, &derived, out)?;
    let mut runner = Runner::new(sheet, &binding, derived, &[]);
    while let Some(row) = reader.next_row()? {
        match row {
            RawRow::Fields(fields) => runner.row(fields, &mut sink)?,
            RawRow::NotText(fields) => {
                // An identifier that is no text has no pseudonym that is its own.
                let shown: &[String] = if hides { &[] } else { &fields };
                runner.refused(shown, "a field is not UTF-8 text", &mut sink)?;
            }
        }
        progress(runner.counts().read);
    }
    let counts = runner.finish(&mut sink)?;
    let (results, advisories) = sink.appear()?;
    Ok(Summary {
        counts,
        set_aside: set_aside_path(out),
        results,
        passed_over: binding.passed_over.clone(),
        advisories,
    })
}

fn refuse_same_file(table: &Path, out: &Path) -> Result<(), CohortError> {
    for target in [out.to_owned(), set_aside_path(out)] {
        if let (Ok(a), Ok(b)) = (table.canonicalize(), target.canonicalize())
            && a == b
        {
            return Err(CohortError::SameFile { path: target });
        }
    }
    Ok(())
}

/// The columns that leave as pseudonyms.
struct Hidden {
    columns: Vec<usize>,
    key: Option<Key>,
    width: usize,
}

impl Hidden {
    fn of(binding: &Binding, options: &Options) -> Result<Hidden, CohortError> {
        let width = binding.headings.len();
        if binding.identifiers.is_empty() || options.keep_identifiers {
            return Ok(Hidden {
                columns: Vec::new(),
                key: None,
                width,
            });
        }
        let Some(key) = options.key.clone() else {
            let headings = binding.identifiers.iter();
            let headings: Vec<&str> = headings.map(|c| &*binding.headings[*c]).collect();
            return Err(CohortError::NoKey {
                headings: headings.join(", "),
            });
        };
        Ok(Hidden {
            columns: binding.identifiers.clone(),
            key: Some(key),
            width,
        })
    }

    /// The fields as they may leave.
    fn fields(&self, fields: &[String]) -> Vec<String> {
        let Some(key) = &self.key else {
            return fields.to_vec();
        };
        // In a ragged row an identifier may stand under any heading.
        if fields.len() != self.width {
            return vec![String::new(); self.width];
        }
        let mut shown = fields.to_vec();
        for column in &self.columns {
            shown[*column] = key.pseudonym(&fields[*column]);
        }
        shown
    }
}

struct FileSink<'s> {
    sheet: &'s Sheet,
    derived: Vec<CellId>,
    headings: Vec<String>,
    texts: Vec<Advisory>,
    held: HeldAdvice,
    hidden: Hidden,
    used: TableWriter,
    aside: TableWriter,
}

impl<'s> FileSink<'s> {
    fn create(
        sheet: &'s Sheet,
        binding: &Binding,
        hidden: Hidden,
        derived: &[CellId],
        out: &Path,
    ) -> Result<Self, CohortError> {
        let results: Vec<String> = derived.iter().map(|c| result_heading(sheet, *c)).collect();
        let added: Vec<&str> = results
            .iter()
            .map(String::as_str)
            .chain(["remarks"])
            .collect();
        for heading in &added {
            if binding.headings.iter().any(|h| h.trim() == *heading) {
                return Err(CohortError::Collision {
                    heading: (*heading).to_owned(),
                });
            }
        }
        let mut used = TableWriter::create(out)?;
        used.write(binding.headings.iter().map(String::as_str).chain(added))?;
        let mut aside = TableWriter::create(&set_aside_path(out))?;
        let own = ["set_aside.row", "set_aside.reason"];
        aside.write(
            own.into_iter()
                .chain(binding.headings.iter().map(String::as_str)),
        )?;
        let texts = sheet.rule_texts();
        Ok(FileSink {
            sheet,
            derived: derived.to_vec(),
            headings: results,
            held: HeldAdvice::new(&texts),
            texts,
            hidden,
            used,
            aside,
        })
    }

    #[allow(clippy::type_complexity)]
    fn appear(self) -> Result<(Vec<String>, Vec<(Advisory, usize)>), CohortError> {
        self.aside.appear()?;
        self.used.appear()?;
        let advisories = self.held.into_counts();
        Ok((self.headings, advisories))
    }
}

impl Sink for FileSink<'_> {
    type Error = CohortError;

    fn used(&mut self, row: &UsedRow<'_>) -> Result<(), CohortError> {
        self.held.count(row);
        let values = self.derived.iter().map(|cell| match row.lane(*cell) {
            Some(lane) if lane.status.is_known() => number(lane.value),
            _ => String::new(),
        });
        let remark = remarks(self.sheet, row, &self.derived, &self.texts);
        let fields = self
            .hidden
            .fields(row.fields)
            .into_iter()
            .chain(values)
            .chain([remark]);
        self.used.write(fields)
    }

    fn set_aside(
        &mut self,
        row: usize,
        fields: &[String],
        reason: &str,
    ) -> Result<(), CohortError> {
        let own = [row.to_string(), reason.to_owned()];
        self.aside
            .write(own.into_iter().chain(self.hidden.fields(fields)))
    }
}
