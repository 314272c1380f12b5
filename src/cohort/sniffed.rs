//! How a file seems to be written, for a draft: here a guess is allowed, because a person reads it.

use std::io::Read;
use std::path::Path;

use super::decoded::Decoded;
use super::dialect;
use super::error::CohortError;
use super::file_entry::{DELIMITERS, FileEntry};
use super::plain_number::plain_number;
use super::sheet_layout::Layout;
use super::spreadsheet::Book;
use super::table::Kind;
use super::title_rows::titles;
use super::whole::file_error;

/// Bytes that are looked at.
const HEAD: u64 = 1 << 16;

/// What a file seems to be.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Sniffed {
    pub(super) entry: FileEntry,
    /// What of it is a guess, and why.
    pub(super) doubts: Vec<String>,
}

/// Looks at the start of a file.
///
/// # Errors
/// A file that cannot be read.
pub(super) fn sniffed(path: &Path) -> Result<Sniffed, CohortError> {
    let mut found = Sniffed::default();
    match Kind::of(path)? {
        Kind::Csv => {}
        Kind::Parquet => return Ok(found),
        Kind::Spreadsheet => {
            found.settle_sheet(path)?;
            return Ok(found);
        }
    }
    let file = std::fs::File::open(path).map_err(|source| file_error(path, source))?;
    let mut head = Vec::new();
    file.take(HEAD)
        .read_to_end(&mut head)
        .map_err(|source| file_error(path, source))?;
    let text = found.text(head, path)?;
    // The last line may not be whole.
    let is_cut = text.len() as u64 >= HEAD / 4;
    let end = match text.rfind('\n') {
        Some(at) if is_cut => at + 1,
        _ => text.len(),
    };
    let text = &text[..end];
    match dialect::separator_line(text.as_bytes()) {
        None => found.settle_layout(text, path),
        Some(said) => {
            found.settle_layout(&text[said.end..], path);
            found.entry.delimiter = Some(char::from(said.delimiter).to_string());
            found.doubts.retain(|doubt| !doubt.starts_with("delimiter"));
            // The line counts among those of the file.
            found.entry.header_row = found.entry.header_row.map(|row| row + 1);
        }
    }
    Ok(found)
}

impl Sniffed {
    /// The head as text, and the encoding if it has to be stated.
    fn text(&mut self, head: Vec<u8>, path: &Path) -> Result<String, CohortError> {
        let marked = dialect::encoding(&head, &FileEntry::default());
        let is_utf_8 =
            std::str::from_utf8(&head).map_or_else(|e| e.error_len().is_none(), |_| true);
        let encoding = match (marked, is_utf_8) {
            (Some(marked), _) => marked,
            (None, true) => return Ok(String::from_utf8_lossy(&head).into_owned()),
            (None, false) => {
                self.entry.encoding = Some("windows-1252".into());
                self.doubts.push(
                    "encoding: the file is not UTF-8, and Windows-1252 is the usual other one; look at the letters with marks".into(),
                );
                encoding_rs::WINDOWS_1252
            }
        };
        let mut bytes = Vec::new();
        // A cut within a character is no damage.
        let even = head.len() & !1;
        Decoded::new(&head[..even], encoding)
            .read_to_end(&mut bytes)
            .map_err(|source| file_error(path, source))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }

    /// The sheet with most in it, and the rows of its headings.
    fn settle_sheet(&mut self, path: &Path) -> Result<(), CohortError> {
        let mut book = Book::open(path)?;
        let candidates = book.candidates()?;
        let Some(largest) = candidates.iter().max_by_key(|candidate| candidate.fields) else {
            return Ok(());
        };
        self.entry.sheet = Some(largest.name.clone());
        if candidates.len() > 1 {
            let names: Vec<&str> = candidates.iter().map(|c| &*c.name).collect();
            self.doubts
                .push(format!("sheet: of {} it has most in it", names.join(", ")));
        }
        let grid = book.grid(&largest.name)?;
        if let Some(layout) = Layout::of(&grid, &FileEntry::default()) {
            self.entry.header_row = u32::try_from(layout.first + 1).ok();
            self.entry.header_rows = u32::try_from(layout.rows).ok();
            if layout.first > 0 || layout.rows > 1 {
                self.doubts.push(format!(
                    "header_row: the headings seem to stand in {}",
                    layout.said()
                ));
            }
        }
        Ok(())
    }

    /// Delimiter, and lines before the headings.
    fn settle_layout(&mut self, text: &str, path: &Path) {
        let by_name = dialect::delimiter_by_ending(path);
        let candidates = DELIMITERS
            .iter()
            .filter(|d| by_name.is_none_or(|named| named == d.0));
        let layouts = candidates.filter_map(|(delimiter, name)| Lines::of(text, *delimiter, name));
        let mut layouts: Vec<Lines> = layouts.collect();
        // More records alike first; where as many are, more fields.
        layouts.sort_by_key(|layout| std::cmp::Reverse((layout.alike, layout.fields)));
        let Some(best) = layouts.first() else {
            return;
        };
        if best.delimiter != b',' && by_name.is_none() {
            self.entry.delimiter = Some(char::from(best.delimiter).to_string());
        }
        if let Some(other) = layouts.get(1).filter(|other| other.alike == best.alike) {
            self.entry.delimiter = Some(char::from(best.delimiter).to_string());
            self.doubts.push(format!(
                "delimiter: {} fit as well as {}",
                other.name, best.name
            ));
        }
        let mut first_line = best.first_line;
        if let Some(found) = titles(text.as_bytes(), Some(best.delimiter), true) {
            first_line = found.line - 1;
            self.doubts.push(
                "header_row: lines before it have fewer fields, or fewer that are filled".into(),
            );
        } else if first_line > 0 {
            self.doubts.push(format!(
                "header_row: before it there {} with another number of fields",
                match first_line {
                    1 => "is 1 line".to_owned(),
                    lines => format!("are {lines} lines"),
                }
            ));
        }
        if first_line > 0 {
            self.entry.header_row = u32::try_from(first_line + 1).ok();
        }
        let lines = text.lines().skip(first_line);
        if is_heading_in_two(lines, best.delimiter) {
            self.entry.header_rows = Some(2);
            self.doubts.push(
                "header_rows: the line below the headings holds no numbers, and fills their gaps"
                    .into(),
            );
        }
    }
}

/// Lines by a delimiter.
struct Lines {
    delimiter: u8,
    name: &'static str,
    /// The number of fields that most lines have, more than one.
    fields: usize,
    /// Lines that have so many.
    alike: usize,
    /// The first of them, from 0.
    first_line: usize,
}

impl Lines {
    fn of(text: &str, delimiter: u8, name: &'static str) -> Option<Lines> {
        let counts: Vec<usize> = text
            .lines()
            .map(|line| field_count(line, delimiter))
            .collect();
        let mut best: Option<Lines> = None;
        for (first_line, fields) in counts.iter().copied().enumerate() {
            let alike = counts.iter().filter(|count| **count == fields).count();
            let is_better = best.as_ref().is_none_or(|best| alike > best.alike);
            if fields > 1 && is_better {
                best = Some(Lines {
                    delimiter,
                    name,
                    fields,
                    alike,
                    first_line,
                });
            }
            // The lines of a head are alike soon; what comes late is no heading.
            if first_line > 50 {
                break;
            }
        }
        best
    }
}

/// Whether a second line seems to belong to the headings: it fills blank ones, and holds no number, which a line below it does.
fn is_heading_in_two<'t>(mut lines: impl Iterator<Item = &'t str>, delimiter: u8) -> bool {
    let mut next = || fields(lines.next()?, delimiter);
    let (Some(first), Some(second), Some(third)) = (next(), next(), next()) else {
        return false;
    };
    // A decimal comma may stand in it.
    let is_number = |field: &str| plain_number(&field.trim().replace(',', ".")).is_some();
    let mut pairs = first.iter().zip(&second);
    pairs.any(|(above, below)| above.trim().is_empty() && !below.trim().is_empty())
        && !second.iter().any(is_number)
        && third.iter().any(is_number)
}

fn fields(line: &str, delimiter: u8) -> Option<csv::StringRecord> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(delimiter)
        .from_reader(line.as_bytes());
    reader.records().next()?.ok()
}

fn field_count(line: &str, delimiter: u8) -> usize {
    fields(line, delimiter).map_or(0, |record| record.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(bytes: &[u8], name: &str) -> Sniffed {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join(name), bytes).unwrap();
        sniffed(&folder.path().join(name)).unwrap()
    }

    #[test]
    fn delimiter_encoding_and_the_line_of_headings_are_seen() {
        assert_eq!(of(b"a,b\n1,2\n", "t.csv"), Sniffed::default());
        let found = of(b"Export; invented\n\n\xd8;b;c\n1,5;2;3\n1;2;3\n", "t.csv");
        assert_eq!(found.entry.delimiter.as_deref(), Some(";"));
        assert_eq!(found.entry.encoding.as_deref(), Some("windows-1252"));
        assert_eq!(found.entry.header_row, Some(3));
        assert_eq!(found.doubts.len(), 2);
        for name in ["t.tsv", "t.tab"] {
            assert_eq!(of(b"a\tb\n1,5\t2,5\n", name).entry, FileEntry::default());
        }
        assert_eq!(of(b"alone\n1\n", "t.csv"), Sniffed::default());
        assert_eq!(of(b"", "t.csv"), Sniffed::default());
        let found = of(
            b"Export;;;;\n;;;;\nCase;pre;;post;\n;VTI;HR;VTI;HR\n7;20,5;80;21;82\n",
            "t.csv",
        );
        assert_eq!(
            (found.entry.header_row, found.entry.header_rows),
            (Some(3), Some(2))
        );
        assert_eq!(found.doubts.len(), 2);
        let said = of(b"sep=;\na;b\n1;2\n", "t.csv");
        assert_eq!(said.entry.delimiter.as_deref(), Some(";"));
        assert_eq!((said.entry.header_row, said.doubts.len()), (None, 0));
        let said = of(b"sep=;\nExport\na;b\n1;2\n1;3\n", "t.csv");
        assert_eq!(said.entry.header_row, Some(3));
    }
}
