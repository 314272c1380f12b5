//! `[file]` of a binding file: how the table's file is written.
//!
//! ```toml
//! [file]
//! delimiter = ";"                # "," ";" "|" or "\t"
//! quotes = "none"                # quotation marks are ordinary characters; without it a field may stand in them
//! encoding = "windows-1252"      # a label of the WHATWG Encoding Standard
//! decimal = ","                  # the decimal mark of numbers, "." or ","
//! thousands = "."                # the mark between thousands: "." "," " " "'" or "none"
//! date_order = "dmy"             # of dates that are not ISO 8601: "dmy", "mdy", "ymd"
//! two_digit_years_from = 1970    # 70 is 1970, 31 is 2031; without it such years are refused
//! header_row = 4                 # the line of the headings, from 1
//! header_rows = 2                # lines that make one heading
//! sheet = "Echo"                 # of a spreadsheet
//! ```
//!
//! What it does not say is taken from the file's first records, and the summary says what was
//! taken; where they can be read in two ways the table is refused.

use std::path::Path;

use serde::Deserialize;

use super::dates::{DateForm, DateOrder};
use super::error::CohortError;

/// How the table's file is written, as far as a binding says it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FileEntry {
    /// Between fields: a comma, a semicolon, a vertical bar or a tab.
    pub delimiter: Option<String>,
    /// `none` where quotation marks are ordinary characters; `double` where a field may stand in them, as it may if nothing is said.
    pub quotes: Option<String>,
    /// A label of the WHATWG Encoding Standard, such as `utf-8` or `windows-1252`.
    pub encoding: Option<String>,
    /// The decimal mark: `.` or `,`.
    pub decimal: Option<String>,
    /// The mark between thousands: `.`, `,`, a blank (any kind), an apostrophe, or `none`.
    pub thousands: Option<String>,
    /// The order of day, month and year: `dmy`, `mdy` or `ymd`.
    pub date_order: Option<String>,
    /// The first of the hundred years that years of two digits stand for.
    pub two_digit_years_from: Option<u16>,
    /// The line of the headings, from 1; lines before it are passed over.
    pub header_row: Option<u32>,
    /// How many rows make one heading.
    pub header_rows: Option<u32>,
    /// The sheet of a spreadsheet.
    pub sheet: Option<String>,
}

/// Delimiters that a table may have, with their names.
pub(super) const DELIMITERS: [(u8, &str); 4] = [
    (b',', "commas"),
    (b';', "semicolons"),
    (b'\t', "tabs"),
    (b'|', "vertical bars"),
];

/// Most lines before the headings.
const LAST_HEADER_ROW: u32 = 10_000;

/// First years of a hundred in which exams may be.
const FIRST_YEARS: std::ops::RangeInclusive<u16> = 1900..=2100;

/// Most rows that make one heading.
const MOST_HEADER_ROWS: u32 = 5;

impl FileEntry {
    /// The delimiter that is stated.
    pub(super) fn delimiter(&self) -> Option<u8> {
        let stated = self.delimiter.as_deref()?.bytes().next();
        DELIMITERS.iter().map(|d| d.0).find(|d| stated == Some(*d))
    }

    /// Whether a field may stand in quotation marks.
    pub(super) fn is_quoted(&self) -> bool {
        self.quotes.as_deref() != Some("none")
    }

    /// Lines before the headings.
    pub(super) fn lines_before(&self) -> usize {
        self.header_row
            .map_or(0, |row| row.saturating_sub(1) as usize)
    }

    /// Whether anything is said that only a text has.
    pub(super) fn is_about_text(&self) -> bool {
        self.delimiter.is_some() || self.quotes.is_some() || self.encoding.is_some()
    }

    /// The same without what it says of dates.
    pub(super) fn without_dates(&self) -> FileEntry {
        FileEntry {
            date_order: None,
            two_digit_years_from: None,
            ..self.clone()
        }
    }

    /// Whether anything is said that only a spreadsheet has.
    pub(super) fn is_about_sheets(&self) -> bool {
        self.sheet.is_some()
    }

    /// Checks what is stated.
    ///
    /// # Errors
    /// A word that is none of those that are known.
    pub(super) fn check(&self, path: &Path) -> Result<(), CohortError> {
        let wrong = |message: String| CohortError::Binding {
            path: path.to_owned(),
            message,
        };
        if let Some(text) = &self.delimiter
            && (self.delimiter().is_none() || text.len() != 1)
        {
            return Err(wrong(format!(
                "file: delimiter is \",\", \";\", \"|\" or \"\\t\", not `{text}`"
            )));
        }
        if let Some(word) = &self.quotes
            && !["none", "double"].contains(&word.as_str())
        {
            return Err(wrong(format!(
                "file: quotes is \"double\" (a field may stand in quotation marks) or \"none\" (they are ordinary characters), not `{word}`"
            )));
        }
        if let Some(label) = &self.encoding
            && encoding_rs::Encoding::for_label(label.as_bytes()).is_none()
        {
            return Err(wrong(format!(
                "file: `{label}` is no encoding; known are utf-8, windows-1252, utf-16le and the other labels of the WHATWG Encoding Standard"
            )));
        }
        if let Some(row) = self.header_row
            && !(1..=LAST_HEADER_ROW).contains(&row)
        {
            return Err(wrong(format!(
                "file: header_row is from 1 to {LAST_HEADER_ROW}, not {row}"
            )));
        }
        if let Some(rows) = self.header_rows
            && !(1..=MOST_HEADER_ROWS).contains(&rows)
        {
            return Err(wrong(format!(
                "file: header_rows is from 1 to {MOST_HEADER_ROWS}, not {rows}"
            )));
        }
        let marks = (self.decimal.as_deref(), self.thousands.as_deref());
        super::marks::Marks::stated(marks).map_err(|m| wrong(format!("file: {m}")))?;
        if let Some(order) = &self.date_order {
            DateOrder::from_word(order).map_err(|m| wrong(format!("file: {m}")))?;
        }
        if let Some(from) = self.two_digit_years_from
            && !FIRST_YEARS.contains(&from)
        {
            return Err(wrong(format!(
                "file: two_digit_years_from is a year from {} to {}, not {from}",
                FIRST_YEARS.start(),
                FIRST_YEARS.end()
            )));
        }
        Ok(())
    }

    /// How dates are written; without a word on it, in ways that can be read in one way only.
    pub(super) fn date_form(&self) -> DateForm {
        let word = self.date_order.as_deref();
        let order = word.and_then(|word| DateOrder::from_word(word).ok());
        DateForm {
            order: order.unwrap_or(DateForm::CLEAR.order),
            years_from: self.two_digit_years_from,
        }
    }
}
