//! How a text of fields is written: its encoding and its delimiter.
//!
//! What a binding states holds. Else both are taken from the first records: the encoding from a
//! mark of byte order (UTF-8 without one), the delimiter from the number of fields that records
//! have by it. A delimiter that fits as well as another is not guessed.

use std::path::Path;

use csv_core::{ReadRecordResult, Reader, ReaderBuilder};
use encoding_rs::Encoding;

use super::file_entry::{DELIMITERS, FileEntry};

/// Records that are looked at.
const LOOKED_AT: usize = 1000;

/// The encoding that the bytes at the start of a file are in, if it is not UTF-8.
///
/// A mark of byte order tells more than a binding.
pub(super) fn encoding(head: &[u8], entry: &FileEntry) -> Option<&'static Encoding> {
    let marked = Encoding::for_bom(head).map(|(encoding, _)| encoding);
    let stated = entry.encoding.as_deref();
    let stated = stated.and_then(|label| Encoding::for_label(label.as_bytes()));
    marked
        .or(stated)
        .filter(|encoding| *encoding != encoding_rs::UTF_8)
}

/// A first line that says by what fields are separated, as spreadsheet programs write it: `sep=;`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct SeparatorLine {
    pub(super) delimiter: u8,
    /// Bytes up to the next line.
    pub(super) end: usize,
}

/// The line of the delimiter at the start of a text, if there is one.
pub(super) fn separator_line(head: &[u8]) -> Option<SeparatorLine> {
    let marked = head.strip_prefix("\u{feff}".as_bytes()).unwrap_or(head);
    let end = memchr::memchr(b'\n', marked)?;
    let line = marked[..end].trim_ascii_start();
    let line = line.strip_suffix(b"\r").unwrap_or(line);
    let line = line
        .strip_prefix(b"\"")
        .map_or(line, |quoted| quoted.strip_suffix(b"\"").unwrap_or(quoted));
    let (word, rest) = line.split_at_checked(4)?;
    let [delimiter] = rest else {
        return None;
    };
    let is_known = DELIMITERS.iter().any(|d| d.0 == *delimiter);
    (word.eq_ignore_ascii_case(b"sep=") && is_known).then_some(SeparatorLine {
        delimiter: *delimiter,
        end: head.len() - marked.len() + end + 1,
    })
}

/// How records are taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dialect {
    pub(super) delimiter: u8,
    /// Whether a field may stand in quotation marks; else they are ordinary characters.
    pub(super) is_quoted: bool,
}

impl Dialect {
    /// Fields between these, in quotation marks or not (RFC 4180).
    pub(super) fn by(delimiter: u8) -> Dialect {
        Dialect {
            delimiter,
            is_quoted: true,
        }
    }

    /// A reader of records.
    pub(super) fn reader(self) -> Reader {
        ReaderBuilder::new()
            .delimiter(self.delimiter)
            .quoting(self.is_quoted)
            .build()
    }

    /// The same of the csv crate, for records with any number of fields and no headings.
    pub(super) fn records<R: std::io::Read>(self, from: R) -> csv::Reader<R> {
        csv::ReaderBuilder::new()
            .flexible(true)
            .has_headers(false)
            .delimiter(self.delimiter)
            .quoting(self.is_quoted)
            .from_reader(from)
    }
}

/// The delimiter that the ending of a file's name says.
pub(super) fn delimiter_by_ending(path: &Path) -> Option<u8> {
    let ending = path.extension()?;
    let is_tabs = ["tsv", "tab"]
        .iter()
        .any(|t| ending.eq_ignore_ascii_case(t));
    is_tabs.then_some(b'\t')
}

/// The delimiter of a text that starts with whole records, whose fields may stand in quotation marks or not.
///
/// # Errors
/// Delimiters between which the records do not decide, by name.
pub(super) fn delimiter(head: &[u8], is_quoted: bool) -> Result<u8, Vec<&'static str>> {
    let mut fitting: Vec<(f64, u8, &str)> = DELIMITERS
        .iter()
        .filter_map(|(delimiter, name)| {
            let dialect = Dialect {
                delimiter: *delimiter,
                is_quoted,
            };
            let counts = field_counts(head, dialect);
            let (first, rest) = counts.split_first().filter(|(first, _)| **first > 1)?;
            let alike = rest.iter().filter(|count| *count == first).count();
            let share = alike as f64 / rest.len().max(1) as f64;
            Some((share, *delimiter, *name))
        })
        .collect();
    fitting.sort_by(|a, b| b.0.total_cmp(&a.0));
    match fitting[..] {
        // One column, or nothing to go by.
        [] => Ok(b','),
        [(_, only, _)] => Ok(only),
        [first, second, ..] if first.0 > second.0 => Ok(first.1),
        [first, ..] => Err(fitting
            .iter()
            .filter(|f| f.0 == first.0)
            .map(|f| f.2)
            .collect()),
    }
}

/// How many fields the first records have.
fn field_counts(head: &[u8], dialect: Dialect) -> Vec<usize> {
    let mut reader = dialect.reader();
    let (mut text, mut ends) = (vec![0; 4096], vec![0; 256]);
    let (mut counts, mut fields, mut rest) = (Vec::new(), 0, head);
    while counts.len() < LOOKED_AT {
        let (result, read, _, ended) = reader.read_record(rest, &mut text, &mut ends);
        rest = &rest[read..];
        fields += ended;
        match result {
            ReadRecordResult::Record => counts.push(std::mem::take(&mut fields)),
            ReadRecordResult::End => break,
            ReadRecordResult::InputEmpty
            | ReadRecordResult::OutputFull
            | ReadRecordResult::OutputEndsFull => {}
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_delimiter_is_the_one_by_which_records_have_the_same_fields() {
        for (text, expected) in [
            ("a,b\n1,2\n", b','),
            ("a;b\n2,05;3\n", b';'),
            ("a, in cm;b\n2,05;3\n1;2\n", b';'),
            ("a\tb\n1\t2\n", b'\t'),
            ("a|b\n1|2\n", b'|'),
            ("\"a;b\",c\n1,2\n", b','),
            ("a;b,c\n1,2\n2,3\n", b','),
            ("a\n1\n", b','),
            ("", b','),
            // Ragged, and comma-separated all the same.
            ("a,b\n1,2,3\n1\n", b','),
        ] {
            assert_eq!(delimiter(text.as_bytes(), true), Ok(expected), "{text}");
        }
        let refused = delimiter(b"a;b,c\n1;2,3\n", true).unwrap_err();
        assert_eq!(refused, ["commas", "semicolons"]);
    }

    #[test]
    fn a_first_line_may_say_the_delimiter() {
        let found = |text: &str| separator_line(text.as_bytes()).map(|l| (l.delimiter, l.end));
        assert_eq!(found("sep=;\na;b\n"), Some((b';', 6)));
        assert_eq!(found("SEP=,\r\na,b\r\n"), Some((b',', 7)));
        assert_eq!(found("sep=\t\na\tb\n"), Some((b'\t', 6)));
        assert_eq!(found("\u{feff}\"sep=;\"\na;b\n"), Some((b';', 11)));
        for other in [
            "sep=\na\n",
            "sep=:\na\n",
            "sep=;",
            "sep=;b\na\n",
            "a;b\nsep=;\n",
            "",
        ] {
            assert_eq!(found(other), None, "{other}");
        }
    }

    #[test]
    fn the_encoding_is_stated_or_marked() {
        let stated = |label: &str| FileEntry {
            encoding: Some(label.into()),
            ..FileEntry::default()
        };
        let none = FileEntry::default();
        assert_eq!(encoding(b"a;b", &none), None);
        assert_eq!(encoding(b"\xff\xfea\0", &none), Some(encoding_rs::UTF_16LE));
        assert_eq!(
            encoding(b"a;b", &stated("latin1")),
            Some(encoding_rs::WINDOWS_1252)
        );
        assert_eq!(encoding(b"\xef\xbb\xbfa", &stated("windows-1252")), None);
    }
}
