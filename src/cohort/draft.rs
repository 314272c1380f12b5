//! A binding drafted from a table: headings matched to cells, units and words from values, and
//! what is unsure marked as such. A person reads and edits it.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

use super::binding::Binding;
use super::binding_file::BindingFile;
use super::draft_match::{Match, exams, matched};
use super::draft_persons::{could_be_a_persons, names_a_birth, names_a_person, whose};
use super::draft_sample::{Sample, unquoted};
use super::draft_values::Fields;
use super::error::CohortError;
use super::file_entry::FileEntry;
use super::marks::Marks;
use super::marks_shown::Shown;
use super::sniffed::sniffed;
use crate::sheet::Sheet;

/// A binding file to edit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// The file, which loads as it stands.
    pub text: String,
    /// Columns that it binds, or that their headings bind.
    pub bound: usize,
    /// Columns of the table.
    pub columns: usize,
    /// Places that are marked as unsure.
    pub unsure: usize,
}

/// Drafts a binding of a table to a sheet from headings, units in them, and the first rows.
///
/// ```
/// use semilunar::cohort::draft_binding;
/// use semilunar::sheet::Sheet;
///
/// // Invented.
/// let folder = tempfile::tempdir()?;
/// let table = folder.path().join("export.csv");
/// std::fs::write(&table, "MRN;LVOT diam;VTI (cm)\n7001;20,5;18,5\n7002;21,1;19\n")?;
/// let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
/// let draft = draft_binding(&sheet, &table)?;
/// assert!(draft.text.contains("delimiter = \";\"\ndecimal = \",\""));
/// assert!(draft.text.contains("[columns.\"LVOT diam\"]\ncell = \"lvot_diameter\"\nunit = \"mm\""));
/// assert!(draft.text.contains("identifiers = [\n    \"MRN\","));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// A table that cannot be read at all.
pub fn draft_binding(sheet: &Sheet, table: &Path) -> Result<Draft, CohortError> {
    let mut found = sniffed(table)?;
    let sample = match Sample::of(table, &found.entry) {
        Err(CohortError::OpenQuote {
            path,
            line,
            closed_in,
        }) => unquoted(&mut found, (path, line, closed_in))?,
        other => other?,
    };
    let mut drafting = Drafting {
        sheet,
        entry: found.entry,
        doubts: found.doubts,
        exams: exams(sheet),
        headings: sample.headings,
        rows: sample.rows,
        marks: Marks::PLAIN,
        taken: BTreeSet::new(),
        sure: BTreeSet::new(),
        bound: 0,
        unsure: 0,
    };
    drafting.settle_marks();
    let text = drafting.text();
    let file = BindingFile::parse("the draft".as_ref(), &text)?;
    // What does not bind is said by the draft itself.
    match Binding::by_file(sheet, &drafting.headings, &file) {
        Ok(_) | Err(CohortError::NothingBound { .. }) => {}
        Err(other) => return Err(other),
    }
    Ok(Draft {
        text,
        bound: drafting.bound,
        columns: drafting.headings.len(),
        unsure: drafting.unsure,
    })
}

pub(super) struct Drafting<'s> {
    pub(super) sheet: &'s Sheet,
    pub(super) entry: FileEntry,
    pub(super) doubts: Vec<String>,
    pub(super) exams: BTreeSet<String>,
    pub(super) headings: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
    pub(super) marks: Marks,
    /// What has a column.
    pub(super) taken: BTreeSet<(String, &'static str)>,
    /// What a heading names and nothing else.
    pub(super) sure: BTreeSet<(String, &'static str)>,
    pub(super) bound: usize,
    pub(super) unsure: usize,
}

/// Columns that leave otherwise than they came.
#[derive(Default)]
pub(super) struct PrivateColumns {
    pub(super) identifiers: Vec<String>,
    /// Columns whose values could be a person's, and why.
    perhaps: Vec<(String, &'static str)>,
    pub(super) dates: Vec<usize>,
    /// Words for `date_order`, where dates need it.
    pub(super) order: Option<&'static str>,
    pub(super) is_order_unsure: bool,
    /// Dates have years of two digits.
    has_short_years: bool,
}

/// The hundred years that a draft takes years of two digits from, to be looked at.
const YEARS_FROM: u16 = 1970;

/// The last of them.
const LAST_YEAR: u16 = YEARS_FROM + 99;

impl Drafting<'_> {
    pub(super) fn fields(&self, column: usize) -> Fields<'_> {
        Fields::new(self.rows.iter().map(move |row| &*row[column]))
    }

    /// How numbers are written, by the columns that seem to hold some.
    fn settle_marks(&mut self) {
        let mut texts = Vec::new();
        for (column, heading) in self.headings.iter().enumerate() {
            let found = matched(self.sheet, &self.exams, heading);
            if found.is_some_and(|m| self.sheet.words(m.cell).is_empty()) {
                let fields = self.rows.iter().map(|row| row[column].trim());
                texts.extend(fields.map(|field| (heading.as_str(), field)));
            }
        }
        let shown = Shown::of_texts(texts);
        match (shown.marks(), shown.majority()) {
            (Ok(None), _) => {}
            (Ok(Some(found)), _) => self.marks = found.marks,
            (Err(_), Some(most)) => {
                self.marks = most.marks;
                self.doubts.push(format!("decimal: {}", most.note));
                self.entry.decimal = Some(most.marks.words().0.into());
            }
            (Err(message), None) => {
                let is_comma = self.entry.delimiter.as_deref() == Some(";");
                let decimal = if is_comma { "," } else { "." };
                let stated = Marks::stated((Some(decimal), None)).ok().flatten();
                self.marks = stated.unwrap_or(Marks::PLAIN);
                self.doubts.push(format!("decimal: {message}"));
                self.entry.decimal = Some(decimal.into());
            }
        }
        if self.marks != Marks::PLAIN {
            let (decimal, thousands) = self.marks.words();
            self.entry.decimal = Some(decimal.into());
            self.entry.thousands = (thousands != "none").then(|| thousands.to_owned());
        }
    }

    /// The whole file.
    fn text(&mut self) -> String {
        let matches: Vec<Option<Match>> = self
            .headings
            .iter()
            .map(|heading| matched(self.sheet, &self.exams, heading))
            .collect();
        let sure = matches.iter().flatten().filter(|m| m.doubt.is_none());
        self.sure = sure
            .map(|m| (self.sheet.name(m.cell), m.part.word()))
            .collect();
        let private = self.private(&matches);
        self.entry.date_order = private.order.map(str::to_owned);
        if private.has_short_years {
            self.entry.two_digit_years_from = Some(YEARS_FROM);
            self.doubts.push(format!(
                "two_digit_years_from: years have two digits; as it stands {} is {YEARS_FROM} and {} is {LAST_YEAR}",
                YEARS_FROM % 100,
                LAST_YEAR % 100
            ));
        }
        let mut columns = String::new();
        for (column, found) in matches.iter().enumerate() {
            let is_private = private.identifiers.contains(&self.headings[column])
                || private.dates.contains(&column);
            match found {
                _ if is_private => {}
                Some(found) => self.write_column(&mut columns, column, found),
                None => self.write_unbound(&mut columns, column),
            }
        }
        let mut text = String::from(
            "# Drafted from the headings and the first rows of a table: read it, and mend what is wrong.\n\
             # What is unsure says so. Columns that are named nowhere pass through as they are.\n",
        );
        self.write_private(&mut text, &private);
        self.write_file(&mut text, &private);
        self.write_pair(&mut text, &matches, (&private.identifiers, &private.dates));
        self.write_checks(&mut text, &matches, &private);
        text.push_str(&columns);
        self.unsure += self.doubts.len();
        text
    }

    /// Identifiers and dates among the columns that seem to be no readings.
    fn private(&self, matches: &[Option<Match>]) -> PrivateColumns {
        let mut private = PrivateColumns::default();
        let mut is_order_needed = false;
        let mut orders: Option<Vec<super::dates::DateOrder>> = None;
        for (column, heading) in self.headings.iter().enumerate() {
            if heading.trim().is_empty() {
                continue;
            }
            let fields = self.fields(column);
            let mut of_column = fields.date_orders(None);
            let has_short_years = of_column.is_empty();
            if has_short_years {
                of_column = fields.date_orders(Some(YEARS_FROM));
            }
            if !of_column.is_empty() && !names_a_birth(heading) {
                private.dates.push(column);
                private.has_short_years |= has_short_years;
                is_order_needed |= has_short_years && !fields.dates_need_no_order(Some(YEARS_FROM));
                let left = orders.take().unwrap_or_else(|| of_column.clone());
                orders = Some(left.into_iter().filter(|o| of_column.contains(o)).collect());
            } else if matches[column].is_some() {
                // A reading, whatever else its heading says.
            } else if names_a_person(heading) {
                private.identifiers.push(heading.clone());
            } else if let Some(why) = could_be_a_persons(&fields) {
                private.perhaps.push((heading.clone(), why));
            }
        }
        // Where years of two digits can stand first or last, they hardly stand first.
        if let Some(orders) = orders.as_mut().filter(|o| is_order_needed && o.len() > 1) {
            orders.retain(|order| *order != super::dates::DateOrder::YearMonthDay);
        }
        match orders.as_deref() {
            None | Some([super::dates::DateOrder::YearMonthDay, ..]) => {}
            Some([one, rest @ ..]) => {
                private.order = Some(one.word());
                private.is_order_unsure = !rest.is_empty();
            }
            Some([]) => private.is_order_unsure = true,
        }
        private
    }

    fn write_private(&mut self, text: &mut String, private: &PrivateColumns) {
        if !private.identifiers.is_empty() || !private.perhaps.is_empty() {
            text.push_str(
                "\n# They leave as pseudonyms, made with a key that you keep.\nidentifiers = [\n",
            );
            for heading in &private.identifiers {
                _ = writeln!(text, "    {},", quoted(heading));
            }
            for (heading, why) in &private.perhaps {
                self.unsure += 1;
                _ = writeln!(text, "    # {},  # unsure: {why}", quoted(heading));
            }
            text.push_str("]\n");
        }
    }

    fn write_file(&mut self, text: &mut String, private: &PrivateColumns) {
        let entry = &self.entry;
        let words = [
            ("encoding", &entry.encoding),
            ("delimiter", &entry.delimiter),
            ("quotes", &entry.quotes),
            ("decimal", &entry.decimal),
            ("thousands", &entry.thousands),
            ("sheet", &entry.sheet),
            ("date_order", &entry.date_order),
        ];
        let numbers = [
            (
                "two_digit_years_from",
                entry.two_digit_years_from.map(u32::from),
            ),
            ("header_row", entry.header_row),
            ("header_rows", entry.header_rows),
        ];
        let mut lines = String::new();
        for (name, word) in words {
            if let Some(word) = word {
                _ = writeln!(lines, "{name} = {}", quoted(word));
            }
        }
        for (name, number) in numbers {
            if let Some(number) = number {
                _ = writeln!(lines, "{name} = {number}");
            }
        }
        if private.is_order_unsure {
            self.doubts.push(
                "date_order: the dates can be read in more than one order, or are in several"
                    .into(),
            );
        }
        if !lines.is_empty() || !self.doubts.is_empty() {
            text.push_str("\n# How the file is written.\n[file]\n");
            text.push_str(&lines);
            for doubt in &self.doubts {
                _ = writeln!(text, "# unsure of {}", one_line(doubt));
            }
        }
        if let ([_, ..], Some(of)) = (&private.dates[..], whose(&private.identifiers)) {
            let dates = private.dates.iter().map(|d| &self.headings[*d]);
            let mark = if private.is_order_unsure { "# " } else { "" };
            _ = writeln!(
                text,
                "\n# Dates leave shifted, each person's by other days.\n{mark}[shift]\n{mark}dates = [{}]\n{mark}of = {}\n{mark}within_days = 365",
                quoted_list(dates),
                quoted(of)
            );
        }
    }
}

/// A text as a basic string of TOML.
pub(super) fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            '\t' => quoted.push_str("\\t"),
            c if c.is_control() => _ = write!(quoted, "\\u{:04X}", u32::from(c)),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

/// Texts as the strings of a list of TOML, without its brackets.
pub(super) fn quoted_list<T: AsRef<str>>(texts: impl IntoIterator<Item = T>) -> String {
    let texts = texts.into_iter().map(|text| quoted(text.as_ref()));
    texts.collect::<Vec<String>>().join(", ")
}

/// A text that a comment can hold.
pub(super) fn one_line(text: &str) -> String {
    text.replace(|c: char| c.is_control(), " ")
}
