//! A sheet applied to a file, results to a file.

use std::borrow::Cow;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use super::apply::{Application, Applied, Counts};
use super::aside::Aside;
use super::aside_file::{AsideFile, set_aside_path};
use super::binding::{Binding, or_near, result_heading};
use super::binding_file::BindingFile;
use super::checks::{Checked, Fed, Feed, Tally};
use super::csv_results;
use super::error::CohortError;
use super::forms::Forms;
use super::frame_results;
use super::hidden::Identifiers;
use super::in_order::Line;
use super::leave::Leave;
use super::pair::Exams;
use super::parquet_file::{ParquetFile, Ready};
use super::parquet_pages::Pages;
use super::pseudonym::Key;
use super::remarks::REMARKS;
use super::table::{Kind, Table};
use super::uncertain::{UncertaintyCounts, uncertainty_heading};
use super::whole::Pending;
use super::without_cell::WithoutCell;
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
    /// Columns named like a reading of the sheet's exams, which found no cell.
    pub without_cell: Vec<WithoutCell>,
    /// Advice that held, with the number of rows in which it did.
    pub advisories: Vec<(Advisory, usize)>,
    /// How far the uncertainties that were asked for can be trusted.
    pub uncertainties: Vec<UncertaintyCounts>,
    /// What was taken of the way the table is written that nothing states.
    pub notes: Vec<String>,
    /// How many exams went where, if exams were paired: the rows are pairs and unpaired exams then.
    pub exams: Option<Exams>,
    /// What checks of rows found, with the number of rows.
    pub checks: Vec<Checked>,
}

/// How a sheet is applied, beyond what headings say.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What columns supply, where their headings do not say it.
    pub binding: Option<BindingFile>,
    /// The key of pseudonyms and of shifted dates.
    pub key: Option<Key>,
    /// Identifiers leave as they are, and so do dates.
    pub keep_identifiers: bool,
    /// Names of results that get a column of standard uncertainties, besides those that the
    /// binding names.
    pub uncertainty: Vec<String>,
    /// How many threads compute; as many as the machine has processors where this is `None`. The
    /// results do not depend on it.
    pub threads: Option<NonZeroUsize>,
    /// Set from elsewhere, it stops the work; nothing is left behind then.
    pub stop: Option<Arc<AtomicBool>>,
}

impl Options {
    /// How a cohort in memory shows identifiers, and dates that leave shifted.
    pub(super) fn identifiers(&self) -> Identifiers {
        match &self.key {
            _ if self.keep_identifiers => Identifiers::Kept,
            Some(key) => Identifiers::Keyed(key.clone()),
            None => Identifiers::Numbered,
        }
    }

    /// The same with identifiers, and dates that leave shifted, shown in this way.
    #[must_use]
    pub fn showing(self, identifiers: Identifiers) -> Options {
        Options {
            keep_identifiers: identifiers == Identifiers::Kept,
            key: match identifiers {
                Identifiers::Keyed(key) => Some(key),
                Identifiers::Numbered | Identifiers::Kept => None,
            },
            ..self
        }
    }

    pub(super) fn threads(&self) -> usize {
        let all = || std::thread::available_parallelism().ok();
        self.threads.or_else(all).map_or(1, NonZeroUsize::get)
    }

    pub(super) fn is_stopped(&self) -> bool {
        let is_set = |stop: &Arc<AtomicBool>| stop.load(Ordering::Relaxed);
        self.stop.as_ref().is_some_and(is_set)
    }

    /// Opens a table, written as the binding says; its exams are paired if the binding says so. What stands in the place of a word
    /// for before or after is then not repeated where the binding names identifiers that are not kept.
    ///
    /// # Errors
    /// As [`Table::open_as`], and what the binding says of pairs that does not fit the table.
    pub fn open(&self, table: &Path) -> Result<Table, CohortError> {
        let Some(file) = &self.binding else {
            return Table::open(table);
        };
        let opened = Table::open_as(table, &file.file)?;
        match &file.pair {
            Some(pair) => {
                let withholds = file.names_somebody() && !self.keep_identifiers;
                opened.paired(pair, file.file.date_form(), withholds)
            }
            None => Ok(opened),
        }
    }

    /// What the binding says of the table as it is opened.
    pub(super) fn binding_file(&self) -> Option<Cow<'_, BindingFile>> {
        let file = self.binding.as_ref()?;
        Some(match &file.pair {
            Some(pair) => Cow::Owned(pair.widened(file)),
            None => Cow::Borrowed(file),
        })
    }

    /// The binding of a table, and the forms in which its fields are written.
    ///
    /// # Errors
    /// What the binding says that does not fit the table, and fields that can be read in two ways.
    pub(super) fn settle(
        &self,
        sheet: &Sheet,
        table: &mut Table,
    ) -> Result<(Binding, Forms), CohortError> {
        let binding = self.binding(sheet, table)?;
        let forms = Forms::settle(sheet, &binding, self.binding_file().as_deref(), table)?;
        Ok((binding, forms))
    }

    /// The binding of a table.
    pub(super) fn binding(&self, sheet: &Sheet, table: &Table) -> Result<Binding, CohortError> {
        // What it says of the file would not have been heard.
        if let Some(file) = self.binding_file()
            && (file.file != *table.entry() || file.pair.is_some() != table.exams().is_some())
        {
            return Err(file.wrong(
                "the table was opened without what `[file]` and `[pair]` say: open it by `Options::open`".into(),
            ));
        }
        self.bind(sheet, table.headings())
    }

    /// The binding of columns under these headings.
    pub(super) fn bind(&self, sheet: &Sheet, headings: &[String]) -> Result<Binding, CohortError> {
        let mut binding = match self.binding_file() {
            Some(file) => Binding::by_file(sheet, headings, &file),
            None => Binding::by_headings(sheet, headings),
        }?;
        binding.withholds &= !self.keep_identifiers;
        for name in &self.uncertainty {
            let cell = sheet.cell(name).ok_or_else(|| {
                let near = or_near(sheet, name);
                CohortError::Uncertainty {
                    name: name.clone(),
                    message: format!("the sheet has no such cell{near}"),
                }
            })?;
            binding.want_uncertainty(cell);
        }
        Ok(binding)
    }
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
/// pseudonyms, and dates that it names leave shifted, in the file of rows set aside too. An
/// identifier that no file names is not guessed at: it passes through.
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
    let mut table = options.open(table)?;
    let (binding, forms) = options.settle(sheet, &mut table)?;
    let exams = table.exams();
    let leave = Leave::new(&binding, options.key.as_ref(), options.keep_identifiers)?;
    let application = Application::new(sheet, &binding, leave, false)?;
    let mut results = Results::create(&application, &table, out)?;
    let (pages, headings) = (results.pages(), results.headings.clone());
    let width = binding.headings.len();
    let mut feed = Feed::new(&mut table, &binding);
    let line = Line {
        next: || match options.is_stopped() {
            true => Ok(None),
            false => feed.next(),
        },
        make: || {
            let mut workspace = application.workspace();
            let (application, headings, forms) = (&application, &headings, &forms);
            let pages = pages.as_deref();
            move |fed: Fed<'_>| {
                let applied = application.apply(fed.open(width, forms)?, &mut workspace);
                Made::new(application, applied, headings, pages)
            }
        },
        take: |made: Result<Made, CohortError>| {
            results.take(&application, made?)?;
            progress(results.counts.read);
            Ok(())
        },
    };
    line.run(options.threads())?;
    if options.is_stopped() {
        let rows = results.counts.read;
        return Err(CohortError::Stopped { rows });
    }
    let summary = results.appear(&application, out)?;
    Ok(Summary {
        notes: forms.notes,
        exams,
        ..summary
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

/// A piece of results, ready to be written.
struct Made {
    used: Used,
    aside: Vec<Aside>,
    held: Vec<usize>,
    tally: Tally,
    counts: Counts,
    uncertainties: Vec<UncertaintyCounts>,
}

enum Used {
    Lines(Vec<u8>),
    Rows(Ready),
}

impl Made {
    fn new(
        application: &Application<'_>,
        mut applied: Applied,
        results: &[String],
        pages: Option<&Pages>,
    ) -> Result<Made, CohortError> {
        let uncertainties = application.count_uncertainties(&applied);
        let used = match pages {
            None => Used::Lines(csv_results::lines(application, &applied)?),
            Some(pages) => {
                let frame = frame_results::frame(application, &mut applied, results)?;
                Used::Rows(Ready::new(frame, pages)?)
            }
        };
        Ok(Made {
            used,
            uncertainties,
            aside: applied.aside,
            held: applied.held,
            tally: applied.tally,
            counts: applied.counts,
        })
    }
}

/// The two files of results.
struct Results {
    /// Headings of the columns of results.
    headings: Vec<String>,
    used: UsedFile,
    aside: AsideFile,
    held: Vec<usize>,
    tally: Tally,
    counts: Counts,
    uncertainties: Vec<UncertaintyCounts>,
}

enum UsedFile {
    Csv(Pending),
    Parquet(Box<ParquetFile>),
}

impl Results {
    fn create(
        application: &Application<'_>,
        table: &Table,
        out: &Path,
    ) -> Result<Results, CohortError> {
        let (sheet, binding) = (application.sheet, application.binding);
        let headings: Vec<String> = application
            .derived()
            .iter()
            .map(|cell| result_heading(sheet, *cell))
            .chain(
                binding
                    .uncertainty
                    .iter()
                    .map(|cell| uncertainty_heading(sheet, *cell)),
            )
            .collect();
        let remarks = REMARKS.to_owned();
        for heading in headings.iter().chain([&remarks]) {
            if binding.headings.iter().any(|h| h.trim() == *heading) {
                return Err(CohortError::Collision {
                    heading: heading.clone(),
                });
            }
        }
        let used = match Kind::of_results(out)? {
            Kind::Csv => {
                let all = binding.headings.iter().chain(&headings).chain([&remarks]);
                let all: Vec<String> = all.cloned().collect();
                let mut pending = Pending::create(out)?;
                pending.write(&csv_results::headings(&all)?)?;
                UsedFile::Csv(pending)
            }
            Kind::Spreadsheet => {
                return Err(CohortError::Kind {
                    path: out.to_owned(),
                });
            }
            Kind::Parquet => {
                let own = table.schema();
                let leave = &application.leave;
                let schema = frame_results::schema(own.as_ref(), binding, leave, &headings);
                UsedFile::Parquet(Box::new(ParquetFile::create(out, &schema)?))
            }
        };
        Ok(Results {
            headings,
            used,
            aside: AsideFile::create(out, &binding.headings)?,
            held: vec![0; application.advice.distinct.len()],
            tally: Tally::default(),
            counts: Counts::default(),
            uncertainties: Vec::new(),
        })
    }

    /// How rows become Parquet, where they do.
    fn pages(&self) -> Option<Arc<Pages>> {
        match &self.used {
            UsedFile::Csv(_) => None,
            UsedFile::Parquet(file) => Some(file.pages()),
        }
    }

    fn take(&mut self, application: &Application<'_>, made: Made) -> Result<(), CohortError> {
        match (&mut self.used, made.used) {
            (UsedFile::Csv(file), Used::Lines(lines)) => file.write(&lines)?,
            (UsedFile::Parquet(file), Used::Rows(ready)) => file.take(ready)?,
            // A piece is made for the kind of file that there is.
            (UsedFile::Csv(_), Used::Rows(_)) | (UsedFile::Parquet(_), Used::Lines(_)) => {}
        }
        self.aside.take(application, self.counts.read, made.aside)?;
        for (all, more) in self.held.iter_mut().zip(made.held) {
            *all += more;
        }
        self.tally.add(&made.tally);
        self.counts.add(made.counts);
        UncertaintyCounts::join(&mut self.uncertainties, made.uncertainties);
        Ok(())
    }

    fn appear(self, application: &Application<'_>, out: &Path) -> Result<Summary, CohortError> {
        self.aside.appear()?;
        match self.used {
            UsedFile::Csv(file) => file.appear()?,
            UsedFile::Parquet(file) => file.appear()?,
        }
        Ok(Summary {
            counts: self.counts,
            set_aside: set_aside_path(out),
            results: self.headings,
            passed_over: application.binding.passed_over.clone(),
            without_cell: application.binding.without_cell.clone(),
            advisories: application.advice.with_counts(&self.held),
            uncertainties: self.uncertainties,
            notes: Vec::new(),
            exams: None,
            checks: self.tally.found(),
        })
    }
}
