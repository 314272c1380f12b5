//! A cohort held in memory, for tables and charts.

use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::path::Path;
use std::sync::Arc;

use super::apply::{Application, Applied, Counts};
use super::aside::Aside;
use super::binding::{Binding, BoundColumn};
use super::checks::{Checked, Fed, Feed, Tally, Why};
use super::dates::DateForm;
use super::error::CohortError;
use super::files::Options;
use super::hidden::{Hidden, Private, ShownRows};
use super::in_order::Line;
use super::leave::Leave;
use super::pair::Exams;
use super::pair_entry::absent_side;
use super::row::{RowReadings, is_nothing, says_nothing};
use super::rows::row_told;
use super::table::Table;
use super::uncertain::{Bent, UncertaintyCounts};
use super::withheld::Guard;
use crate::formula::CellId;
use crate::quantity::Origin;
use crate::sheet::{Advisory, Sheet};

/// A row that was set aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Number of the row, from 1, headings not counted.
    pub row: usize,
    /// Why, in words.
    pub reason: String,
    /// The kind of the reason.
    pub why: Why,
}

/// One value of a cohort's column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RowValue {
    /// The value in the cell's unit.
    pub value: f64,
    /// Where it came from.
    pub origin: Origin,
}

/// How uncertain one value of a cohort's column is.
#[derive(Clone, Debug, PartialEq)]
pub struct RowUncertainty {
    /// Standard uncertainty in the cell's unit; `None` where nothing was stated, or there is no
    /// finite slope.
    pub standard: Option<f64>,
    /// The readings that stated none: the uncertainty is a lower bound while there are any.
    pub unstated: Arc<[String]>,
    /// The bends and branches within reach of the row's uncertainties, in words: linear figures do
    /// not hold while there are any.
    pub bends: Arc<[String]>,
}

/// The rows of a table that a sheet could use, with all their known values.
#[derive(Clone, Debug, Default)]
pub struct Cohort {
    /// How many rows went where.
    pub counts: Counts,
    /// The rows set aside, in order.
    pub set_aside: Vec<SetAside>,
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
    /// By the name of the cell, which outlives the sheet that it was computed with.
    columns: HashMap<String, Vec<Option<RowValue>>>,
    /// Those of them that only repeat what all exams share.
    passed_on: HashSet<String>,
    /// In the order of the table.
    headings: Vec<String>,
    /// The same as the table has them, for reading rows again.
    came: Vec<String>,
    /// By heading: the columns that are bound.
    bound: HashMap<String, BoundColumn>,
    /// By heading: the fields of the rows used, as they are read and may be shown.
    fields: HashMap<String, Vec<String>>,
    /// The same of the rows set aside; nothing where a row has not a field for each heading.
    fields_aside: HashMap<String, Vec<Option<String>>>,
    rows: Vec<usize>,
    uncertain: HashMap<String, Vec<Option<RowUncertainty>>>,
    /// By heading: the columns that do not leave as they are.
    private: HashMap<String, Private>,
    /// What bound the columns, so that rows can be read again.
    bound_by: Options,
}

impl Cohort {
    /// Applies a sheet to the table in a file and keeps the results; columns are bound by their
    /// headings.
    ///
    /// # Errors
    /// [`CohortError`].
    pub fn read(sheet: &Sheet, table: &Path) -> Result<Cohort, CohortError> {
        Cohort::of(sheet, Table::open(table)?, &Options::default())
    }

    /// Applies a sheet to a table and keeps the results. No key is asked for: without one, identifiers that the binding names are
    /// numbered in the order in which they first appear, and dates to shift are withheld ([`Identifiers`](super::Identifiers)).
    ///
    /// # Errors
    /// [`CohortError`].
    pub fn of(sheet: &Sheet, mut table: Table, options: &Options) -> Result<Cohort, CohortError> {
        let (binding, forms) = options.settle(sheet, &mut table)?;
        let exams = table.exams();
        let application = Application::new(sheet, &binding, Leave::as_it_came(), true)?;
        let names: Vec<String> = application.kept.iter().map(|c| sheet.name(*c)).collect();
        let width = binding.headings.len();
        let mut cohort = Cohort {
            headings: binding
                .headings
                .iter()
                .map(|h| h.trim().to_owned())
                .collect(),
            came: binding.came.clone(),
            exams,
            bound: binding
                .columns
                .iter()
                .map(|bound| {
                    let heading = binding.headings[bound.column].trim();
                    (heading.to_owned(), bound.clone())
                })
                .collect(),
            passed_on: {
                let cells = sheet.passed_on(&binding.cells());
                cells.into_iter().map(|cell| sheet.name(cell)).collect()
            },
            ..Cohort::default()
        };
        let mut hidden = Hidden::of(&binding, &options.identifiers())?;
        for (column, heading) in binding.headings.iter().enumerate() {
            if let Some(private) = hidden.private(column) {
                cohort.private.insert(heading.trim().to_owned(), private);
            }
        }
        let mut held = vec![0; application.advice.distinct.len()];
        let mut tally = Tally::default();
        let mut feed = Feed::new(&mut table, &binding);
        let line = Line {
            next: || match options.is_stopped() {
                true => Ok(None),
                false => feed.next(),
            },
            make: || {
                let (application, forms) = (&application, &forms);
                let mut workspace = application.workspace();
                move |fed: Fed<'_>| Ok(application.apply(fed.open(width, forms)?, &mut workspace))
            },
            take: |applied: Result<Applied, CohortError>| {
                let applied = applied?;
                for (all, more) in held.iter_mut().zip(&applied.held) {
                    *all += more;
                }
                let counts = application.count_uncertainties(&applied);
                UncertaintyCounts::join(&mut cohort.uncertainties, counts);
                cohort.take_uncertainties(&application, &applied);
                tally.add(&applied.tally);
                let shown = hidden.show_rows(&applied);
                cohort.take(&names, &binding, applied, shown);
                Ok(())
            },
        };
        line.run(options.threads())?;
        if options.is_stopped() {
            let rows = cohort.counts.read;
            return Err(CohortError::Stopped { rows });
        }
        cohort.checks = tally.found();
        cohort.advisories = application.advice.with_counts(&held);
        cohort.bound_by = Options {
            binding: options.binding.clone(),
            ..Options::default()
        };
        cohort.notes = forms.notes;
        cohort.notes.extend(hidden.note());
        let without_cell = application.binding.without_cell.iter();
        cohort.notes.extend(without_cell.map(ToString::to_string));
        Ok(cohort)
    }

    /// Takes a piece in.
    fn take(
        &mut self,
        names: &[String],
        binding: &Binding,
        applied: Applied,
        mut shown: ShownRows,
    ) {
        let headings = &binding.headings;
        let before = self.counts.read;
        for (name, values) in names.iter().zip(&applied.columns) {
            let column = self.columns.entry(name.clone()).or_default();
            let states = values.states.iter();
            column.extend(values.known().zip(states).map(|(value, state)| {
                let origin = state.origin();
                value.map(|value| RowValue { value, origin })
            }));
        }
        for (column, heading) in headings.iter().enumerate() {
            let fields = self.fields.entry(heading.trim().to_owned()).or_default();
            if let Some(shown) = shown.used.remove(&column) {
                fields.extend(shown);
                continue;
            }
            let guard = Guard::of(binding, column);
            let used = applied.used.iter();
            let shown = used.map(|row| guard.shown(applied.rows.field(*row, column)));
            fields.extend(shown.map(Cow::into_owned));
        }
        let is_paired = self.exams.is_some();
        let asides = applied.aside.iter().map(|aside| {
            let fields = aside.as_it_came(headings.len())?;
            let absent = is_paired.then(|| absent_side(headings, fields)).flatten();
            Some((aside, absent))
        });
        let asides: Vec<Option<(&Aside, Option<&str>)>> = asides.collect();
        for (column, heading) in headings.iter().enumerate() {
            let fields = self.fields_aside.entry(heading.trim().to_owned());
            if let Some(shown) = shown.aside.remove(&column) {
                fields.or_default().extend(shown);
                continue;
            }
            let field = |aside: &Option<(&Aside, Option<&str>)>| {
                let (aside, absent) = (*aside)?;
                let is_there = absent.is_none_or(|side| !heading.starts_with(side));
                is_there.then(|| aside.shown(column).to_owned())
            };
            fields.or_default().extend(asides.iter().map(field));
        }
        let numbers = applied.used.iter();
        self.rows
            .extend(numbers.map(|row| row_told(before, applied.rows.number(*row))));
        self.set_aside
            .extend(applied.aside.into_iter().map(|aside| SetAside {
                row: row_told(before, aside.number),
                reason: aside.reason,
                why: aside.why,
            }));
        self.counts.add(applied.counts);
    }

    fn take_uncertainties(&mut self, application: &Application<'_>, applied: &Applied) {
        let sheet = application.sheet;
        let asked = application.binding.uncertainty.iter();
        // Rows differ little in what they do not state: the same names are kept once.
        let mut named: HashMap<Arc<[CellId]>, Arc<[String]>> = HashMap::new();
        let mut placed: HashMap<Arc<[Bent]>, Arc<[String]>> = HashMap::new();
        for (cell, found) in asked.zip(&applied.uncertain) {
            let Some(at) = application.kept.iter().position(|kept| kept == cell) else {
                continue;
            };
            let column = self.uncertain.entry(sheet.name(*cell)).or_default();
            let standards = found.values.known().zip(&found.unstated);
            let rows = standards.zip(&found.bends).zip(&applied.columns[at].states);
            column.extend(rows.map(|(((standard, unstated), bends), state)| {
                let names = || unstated.iter().map(|cell| sheet.name(*cell)).collect();
                let unstated = named.entry(unstated.clone()).or_insert_with(names);
                let places = || bends.iter().map(|bent| bent.place.to_string()).collect();
                let bends = placed.entry(bends.clone()).or_insert_with(places);
                state.is_known().then(|| RowUncertainty {
                    standard,
                    unstated: unstated.clone(),
                    bends: bends.clone(),
                })
            }));
        }
    }

    /// The standard uncertainties of a cell over the rows used, where they were asked for; a row
    /// without a value has none.
    pub fn uncertainty(&self, name: &str) -> Option<&[Option<RowUncertainty>]> {
        self.uncertain.get(name).map(Vec::as_slice)
    }

    /// The values of a cell over the rows used; `None` for a cell that no row could make known.
    pub fn column(&self, name: &str) -> Option<&[Option<RowValue>]> {
        self.columns.get(name).map(Vec::as_slice)
    }

    /// The names of the cells that have a column, sorted; without those of an exam that only repeat
    /// what all exams share.
    pub fn names(&self) -> Vec<&str> {
        let names = self.columns.keys().map(String::as_str);
        let mut names: Vec<&str> = names.filter(|n| !self.passed_on.contains(*n)).collect();
        names.sort_unstable();
        names
    }

    /// The fields under a heading of the rows used, as they are read: as they came, but for numbers with a decimal comma and dates that
    /// checks or a shift take, which are written as plain ones. What may tell who somebody is is hidden ([`Identifiers`](super::Identifiers)). `None` where the table has no
    /// such heading.
    pub fn fields(&self, heading: &str) -> Option<&[String]> {
        self.fields.get(heading.trim()).map(Vec::as_slice)
    }

    /// The same of the rows set aside, in the order of
    /// [`Cohort::set_aside`]: nothing for a row that has not a field for each heading.
    pub fn fields_aside(&self, heading: &str) -> Option<&[Option<String>]> {
        self.fields_aside.get(heading.trim()).map(Vec::as_slice)
    }

    /// How the table's binding says that dates are written.
    pub(super) fn date_form(&self) -> DateForm {
        let binding = self.bound_by.binding.as_ref();
        binding.map_or(DateForm::CLEAR, |binding| binding.file.date_form())
    }

    /// Whether a column supplies a cell.
    pub fn is_bound(&self, heading: &str) -> bool {
        self.bound.contains_key(heading.trim())
    }

    /// What the binding names a column as, so that it does not leave as it is.
    pub fn private(&self, heading: &str) -> Option<Private> {
        self.private.get(heading.trim()).copied()
    }

    /// The headings of the table, sorted.
    pub fn headings(&self) -> Vec<&str> {
        let mut headings: Vec<&str> = self.fields.keys().map(String::as_str).collect();
        headings.sort_unstable();
        headings
    }

    /// Whether a field under a heading says nothing, as the table's binding has it.
    pub fn says_nothing(&self, heading: &str, field: &str) -> bool {
        match self.bound.get(heading.trim()) {
            Some(bound) => says_nothing(bound, field.trim()),
            None => is_nothing(field),
        }
    }

    /// The headings in the order of the table, as its binding gives them.
    pub fn table_headings(&self) -> &[String] {
        &self.headings
    }

    /// Number of each used row in the table, from 1.
    pub fn rows(&self) -> &[usize] {
        &self.rows
    }

    /// The rows used as readings of a sheet: the one that the cohort was computed with, or the
    /// same sheet edited.
    ///
    /// # Errors
    /// As [`Cohort::of`], for a sheet that the table does not fit.
    pub fn readings<'c>(&'c self, sheet: &'c Sheet) -> Result<CohortReadings<'c>, CohortError> {
        let columns = self.headings.iter().map(|heading| self.fields(heading));
        Ok(CohortReadings {
            sheet,
            binding: self.bound_by.bind(sheet, &self.came)?,
            columns: columns.map(Option::unwrap_or_default).collect(),
        })
    }

    /// The rows in which both cells are known: number of the used row, and the two values.
    pub fn pairs(&self, x: &str, y: &str) -> Vec<(usize, RowValue, RowValue)> {
        let (Some(x), Some(y)) = (self.column(x), self.column(y)) else {
            return Vec::new();
        };
        x.iter()
            .zip(y)
            .enumerate()
            .filter_map(|(row, (x, y))| Some((row, (*x)?, (*y)?)))
            .collect()
    }
}

/// The rows used of a cohort, as readings of a sheet.
pub struct CohortReadings<'c> {
    sheet: &'c Sheet,
    binding: Binding,
    columns: Vec<&'c [String]>,
}

impl CohortReadings<'_> {
    /// The cells that rows supply.
    pub fn cells(&self) -> Vec<CellId> {
        self.binding.cells()
    }

    /// What one of the rows used says, by its position among them.
    ///
    /// # Errors
    /// What cannot be read, or is not possible in this sheet.
    pub fn row(&self, at: usize) -> Result<RowReadings, Vec<String>> {
        let fields = self.columns.iter();
        let fields: Vec<&str> = fields
            .map(|c| c.get(at).map_or("", String::as_str))
            .collect();
        RowReadings::read(self.sheet, &self.binding, &fields)
    }

    /// What one of the rows used says of these cells, as one text: rows that say the same supply the same readings of them.
    #[cfg(feature = "notebook")]
    pub(crate) fn said(&self, at: usize, of: &[CellId]) -> String {
        let columns = self.binding.columns.iter();
        // How a number is read may depend on a finding, such as who is a child.
        let matters = columns.filter(|c| !c.takes_numbers || of.contains(&c.cell));
        let mut said = String::new();
        for column in matters {
            let field = self.columns[column.column].get(at);
            super::row::add_to_key(&mut said, field.map_or("", |field| field.trim()));
        }
        said
    }

    /// The sheet with the readings of a row in the place of its own.
    ///
    /// # Errors
    /// As [`CohortReadings::row`].
    pub fn sheet_of(&self, at: usize) -> Result<Sheet, Vec<String>> {
        let row = self.row(at)?;
        let mut sheet = self.sheet.clone();
        for (cell, reading) in row.readings() {
            let set = sheet.set(*cell, reading.clone());
            set.map_err(|e| vec![e.to_string()])?;
        }
        Ok(sheet)
    }
}
