//! Delimited text in pieces that end where a record ends.
//!
//! Only where records end is looked for here; fields are taken apart by whoever works on the
//! piece (`text_rows.rs`), so that several can.

use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

use super::apply::counted;
use super::decoded::Decoded;
use super::dialect::{self, Dialect};
use super::error::CohortError;
use super::file_entry::{DELIMITERS, FileEntry};
use super::quotes::{LONGEST_FIELD, Quotes};
use super::title_rows::{joined, titles};
use super::whole::file_error;

/// Bytes of a piece, or more where a record is longer; few in tests, so that small tables come in
/// several.
const PIECE: usize = if cfg!(test) { 1 << 16 } else { 3 << 20 };

/// The way out for text in another encoding.
const ANOTHER_ENCODING: &str = ": if the file is in another encoding, say so in a binding file, such as `[file]` with `encoding = \"windows-1252\"`";

/// What a mark of byte order looks like in UTF-8.
const MARK: &[u8] = "\u{feff}".as_bytes();

pub(super) struct CsvPieces {
    path: PathBuf,
    source: Box<dyn Read>,
    /// Read, and not handed out yet.
    held: Vec<u8>,
    is_at_end: bool,
    dialect: Dialect,
    /// Lines that ended before what is held.
    lines: usize,
    /// What was taken of the way the file is written that nothing states.
    notes: Vec<String>,
}

/// Bytes that are looked at before records are.
const HEAD: usize = 1 << 16;

impl CsvPieces {
    /// Takes the headings off.
    pub(super) fn new(
        source: Box<dyn Read>,
        path: &Path,
        entry: &FileEntry,
    ) -> Result<(CsvPieces, Vec<String>), CohortError> {
        let mut pieces = CsvPieces {
            path: path.to_owned(),
            source,
            held: Vec::new(),
            is_at_end: false,
            dialect: Dialect {
                is_quoted: entry.is_quoted(),
                ..Dialect::by(b',')
            },
            lines: 0,
            notes: Vec::new(),
        };
        pieces.read_up_to(HEAD)?;
        pieces.settle_encoding(entry)?;
        let said = dialect::separator_line(&pieces.held);
        // A stated line of the headings counts it.
        if let (Some(said), 0) = (said, entry.lines_before()) {
            pieces.hand_out(said.end);
        }
        pieces.pass_over(entry.lines_before())?;
        let stated = entry.delimiter().or(said.map(|said| said.delimiter));
        let stated = stated.or_else(|| dialect::delimiter_by_ending(&pieces.path));
        pieces.refuse_titles(entry, stated)?;
        match stated {
            Some(delimiter) => pieces.dialect.delimiter = delimiter,
            None => pieces.find_delimiter()?,
        }
        if let (Some(said), None) = (said, entry.delimiter()) {
            let name = delimiter_name(said.delimiter);
            pieces.notes.push(format!(
                "read as fields separated by {name}, which its first line says"
            ));
        }
        let mut lines = Vec::new();
        for _ in 0..entry.header_rows.unwrap_or(1) {
            lines.push(pieces.heading_line()?);
        }
        let headings = match lines.len() {
            1 => lines.remove(0),
            _ => joined(&lines),
        };
        Ok((pieces, headings))
    }

    /// The fields of a line of headings.
    fn heading_line(&mut self) -> Result<Vec<String>, CohortError> {
        let first = self.first_record()?;
        let path = &self.path;
        let first = first.ok_or_else(|| CohortError::NoHeading {
            path: path.to_owned(),
        })?;
        let mut headings = Vec::with_capacity(first.len());
        for (at, heading) in first.iter().enumerate() {
            let text = std::str::from_utf8(heading).map_err(|_| CohortError::Table {
                path: path.to_owned(),
                message: format!("heading {} is not UTF-8 text{ANOTHER_ENCODING}", at + 1),
            })?;
            // A mark of byte order at the start of a file is no part of a name.
            headings.push(text.trim_start_matches('\u{feff}').to_owned());
        }
        Ok(headings)
    }

    /// Refuses a text with lines above its headings, unless the binding says where those stand.
    fn refuse_titles(&self, entry: &FileEntry, stated: Option<u8>) -> Result<(), CohortError> {
        if entry.header_row.is_some() {
            return Ok(());
        }
        let Some(found) = titles(&self.held, stated, self.dialect.is_quoted) else {
            return Ok(());
        };
        Err(CohortError::Unclear {
            path: self.path.clone(),
            message: format!(
                "its first line has {} filled, and line {} and those below have {} fields: if the headings stand in line {}, say so in a binding file, as `[file]` with `header_row = {}` (or 1, if they stand in the first)",
                counted(found.first, "field", "fields"),
                found.line + self.lines,
                found.fields,
                found.line + self.lines,
                found.line + self.lines
            ),
        })
    }

    /// Decodes what is not UTF-8, if that is stated or marked.
    fn settle_encoding(&mut self, entry: &FileEntry) -> Result<(), CohortError> {
        if let Some(encoding) = dialect::encoding(&self.held, entry) {
            let raw = std::io::Cursor::new(std::mem::take(&mut self.held));
            let rest = std::mem::replace(&mut self.source, Box::new(std::io::empty()));
            self.source = Box::new(Decoded::new(raw.chain(rest), encoding));
            self.is_at_end = false;
            self.read_up_to(HEAD)?;
            if entry.encoding.is_none() {
                let name = encoding.name();
                self.notes
                    .push(format!("read as {name}, which its first bytes say"));
            }
        } else if let Err(e) = std::str::from_utf8(&self.held)
            && e.error_len().is_some()
        {
            self.notes.push(format!(
                "some of its bytes are not UTF-8 text, and rows with them are set aside{ANOTHER_ENCODING}"
            ));
        }
        Ok(())
    }

    /// Passes over lines before the headings.
    fn pass_over(&mut self, lines: usize) -> Result<(), CohortError> {
        for passed in 0..lines {
            let end = loop {
                if let Some(at) = memchr::memchr(b'\n', &self.held) {
                    break at + 1;
                }
                if self.is_at_end {
                    return Err(CohortError::Table {
                        path: self.path.clone(),
                        message: format!(
                            "the heading is said to be in line {}, and the file has {}",
                            lines + 1,
                            counted(passed + 1, "line", "lines")
                        ),
                    });
                }
                self.read_up_to(self.held.len() * 2)?;
            };
            self.hand_out(end);
        }
        self.read_up_to(HEAD)
    }

    /// Takes the delimiter that the first records show.
    fn find_delimiter(&mut self) -> Result<(), CohortError> {
        let end = match self.is_at_end {
            true => self.held.len(),
            // The last line may not be whole.
            false => memchr::memrchr(b'\n', &self.held).map_or(self.held.len(), |at| at + 1),
        };
        let found = dialect::delimiter(&self.held[..end], self.dialect.is_quoted);
        self.dialect.delimiter = found.map_err(|names| {
            CohortError::Unclear {
                path: self.path.clone(),
                message: format!(
                    "its fields may be separated by {}: say which in a binding file, as `[file] delimiter`",
                    names.join(" or by ")
                ),
            }
        })?;
        if self.dialect.delimiter != b',' {
            let name = delimiter_name(self.dialect.delimiter);
            self.notes.push(format!(
                "read as fields separated by {name}, which the first records show"
            ));
        }
        Ok(())
    }

    /// How records are taken apart.
    pub(super) fn dialect(&self) -> Dialect {
        self.dialect
    }

    /// What was taken of the way the file is written that nothing states.
    pub(super) fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The first records after the headings, as far as they are held, without taking them.
    ///
    /// # Errors
    /// What the system says while reading.
    pub(super) fn head(&mut self) -> Result<Vec<u8>, CohortError> {
        self.read_up_to(HEAD)?;
        let end = self.records_end()?.unwrap_or(0);
        Ok(guarded(self.held[..end].to_vec()))
    }

    /// The first record, which is taken off what is held.
    fn first_record(&mut self) -> Result<Option<csv::ByteRecord>, CohortError> {
        let mut record = csv::ByteRecord::new();
        let mut size = HEAD;
        loop {
            self.read_up_to(size)?;
            let mut reader = self.dialect.records(&self.held[..]);
            let found = reader
                .read_byte_record(&mut record)
                .map_err(|e| CohortError::Table {
                    path: self.path.clone(),
                    message: e.to_string(),
                })?;
            let end = reader.position().byte() as usize;
            // A record that ends with what was read so far may go on.
            if end < self.held.len() || self.is_at_end {
                let quotes = Quotes::of(&self.held[..end], self.dialect, true);
                self.refuse_unclosed(&quotes)?;
                self.hand_out(end.min(self.held.len()));
                return Ok(found.then_some(record));
            }
            self.records_end()?;
            size = self.held.len() * 2;
        }
    }

    /// The next whole records, if there are any.
    ///
    /// # Errors
    /// What the system says while reading.
    pub(super) fn next(&mut self) -> Result<Option<Vec<u8>>, CohortError> {
        let mut size = PIECE;
        loop {
            self.read_up_to(size)?;
            let end = self.records_end()?;
            if self.is_at_end {
                let rest = std::mem::take(&mut self.held);
                return Ok((!rest.is_empty()).then(|| guarded(rest)));
            }
            if let Some(end) = end {
                return Ok(Some(guarded(self.hand_out(end))));
            }
            size = self.held.len() * 2;
        }
    }

    /// Where the last record that surely ends in what is held ends.
    ///
    /// # Errors
    /// A quotation mark that is not closed.
    fn records_end(&self) -> Result<Option<usize>, CohortError> {
        let quotes = Quotes::of(&self.held, self.dialect, self.is_at_end);
        self.refuse_unclosed(&quotes)?;
        Ok(match self.is_at_end {
            true => Some(self.held.len()),
            false => quotes.last_end,
        })
    }

    fn refuse_unclosed(&self, quotes: &Quotes) -> Result<(), CohortError> {
        let line = |at: usize| self.lines + line_ends(&self.held[..at]) + 1;
        let is_endless = |open: &usize| self.is_at_end || self.held.len() - open > LONGEST_FIELD;
        let (open, close) = match (quotes.broken, quotes.open.filter(is_endless)) {
            (Some((open, close)), _) => (open, Some(close)),
            (None, Some(open)) => (open, None),
            (None, None) => return Ok(()),
        };
        Err(CohortError::OpenQuote {
            path: self.path.clone(),
            line: line(open),
            closed_in: close.map(line),
        })
    }

    /// Takes bytes off what is held.
    fn hand_out(&mut self, end: usize) -> Vec<u8> {
        let rest = self.held.split_off(end);
        let out = std::mem::replace(&mut self.held, rest);
        self.lines += line_ends(&out);
        out
    }

    /// Reads on until so many bytes are held, or the source ends.
    fn read_up_to(&mut self, size: usize) -> Result<(), CohortError> {
        while self.held.len() < size && !self.is_at_end {
            let from = self.held.len();
            self.held.resize(size, 0);
            let read = loop {
                match self.source.read(&mut self.held[from..]) {
                    Err(e) if e.kind() == ErrorKind::Interrupted => {}
                    other => break other,
                }
            };
            self.held.truncate(from + *read.as_ref().unwrap_or(&0));
            match read {
                Ok(0) => self.is_at_end = true,
                Ok(_) => {}
                Err(source) => return Err(file_error(&self.path, source)),
            }
        }
        Ok(())
    }
}

/// The reader of records drops a mark of byte order at the start of what it reads. Within a
/// table the mark is part of a field: an empty line before keeps it from the start.
fn guarded(piece: Vec<u8>) -> Vec<u8> {
    if piece.starts_with(MARK) {
        [b"\n", &piece[..]].concat()
    } else {
        piece
    }
}

fn delimiter_name(delimiter: u8) -> &'static str {
    let known = DELIMITERS.iter().find(|d| d.0 == delimiter);
    known.map_or("", |d| d.1)
}

/// Lines that end in some bytes.
fn line_ends(bytes: &[u8]) -> usize {
    memchr::memchr_iter(b'\n', bytes).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(table: &[u8]) -> String {
        let source: Box<dyn Read> = Box::new(std::io::Cursor::new(table.to_vec()));
        let opened = CsvPieces::new(source, "t.csv".as_ref(), &FileEntry::default());
        let (mut pieces, _) = match opened {
            Ok(opened) => opened,
            Err(refused) => return refused.to_string(),
        };
        loop {
            match pieces.next() {
                Ok(Some(_)) => {}
                Ok(None) => return String::new(),
                Err(refused) => return refused.to_string(),
            }
        }
    }

    #[test]
    fn a_mark_that_is_not_closed_ends_the_work_and_its_line_is_named() {
        let said = |table: &str| refused(table.as_bytes());
        let open = said("a,b\n1,x\n2,\"see\n3,x\n4,y\n");
        assert!(
            open.starts_with("t.csv: line 3: a quotation mark opens"),
            "{open}"
        );
        let closed = said("a,b\n1,x\n2,\"see\n3,x\n4,\"y\"\n");
        assert!(
            closed.contains("line 3") && closed.contains("line 5"),
            "{closed}"
        );
        assert!(said("a,\"b\n1,x\n").contains("line 1: a quotation mark"));
        assert_eq!(said("a,b\n1,\"x\ny\"\n2,\"z\"\n"), "");
    }

    #[test]
    fn a_first_line_of_the_delimiter_is_no_heading() {
        for (table, entry, note) in [
            (&b"sep=;\na;b\n1;2\n"[..], FileEntry::default(), 1),
            (
                b"\xef\xbb\xbfsep=,\r\na,b\r\n1;2\r\n",
                FileEntry::default(),
                1,
            ),
            // A binding counts lines from the file's first.
            (
                b"sep=;\nExport, invented\na;b\n1;2\n",
                FileEntry {
                    header_row: Some(3),
                    ..FileEntry::default()
                },
                1,
            ),
            (
                b"sep=;\na|b\n1|2\n",
                FileEntry {
                    delimiter: Some("|".into()),
                    ..FileEntry::default()
                },
                0,
            ),
        ] {
            let source: Box<dyn Read> = Box::new(table);
            let (pieces, headings) = CsvPieces::new(source, "t.csv".as_ref(), &entry).unwrap();
            assert_eq!(headings, ["a", "b"]);
            assert_eq!(pieces.notes().len(), note);
        }
    }

    #[test]
    fn it_is_named_in_tables_larger_than_a_piece_without_reading_them_to_the_end() {
        let mut table = b"a,b\n".to_vec();
        let mut lines = 1;
        let mut add = |table: &mut Vec<u8>, size: usize| {
            while table.len() < size {
                table.extend(b"1,\"x\ny\"\n2,z\n");
                lines += 3;
            }
            lines
        };
        let before = add(&mut table, 5 * PIECE);
        table.extend(b"1,\"see\n");
        let end = table.len();
        for _ in 0..LONGEST_FIELD {
            table.extend(b"1,z\n");
        }
        let said = refused(&table);
        assert!(said.contains(&format!("line {}:", before + 1)), "{said}");
        // A mark in a later piece that closes it is found too.
        table.truncate(end + 3 * PIECE / 4 * 4);
        table.extend(b"2,\"y\"\n");
        let said = refused(&table);
        assert!(said.contains(&format!("line {}:", before + 1)), "{said}");
    }

    /// A source that gives a few bytes at a time.
    struct Slow<'a>(&'a [u8], usize);

    impl Read for Slow<'_> {
        fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
            let n = self.1.min(self.0.len()).min(into.len());
            into[..n].copy_from_slice(&self.0[..n]);
            self.0 = &self.0[n..];
            Ok(n)
        }
    }

    #[test]
    fn no_byte_is_lost_between_pieces() {
        let mut table = b"\xef\xbb\xbfa,b\r\n".to_vec();
        for row in 0..200_000 {
            table.extend(format!("{row},\"x\n{row}\"\r\n").bytes());
        }
        let source: &'static [u8] = table.clone().leak();
        let (mut pieces, headings) = CsvPieces::new(
            Box::new(Slow(source, 100_003)),
            "t.csv".as_ref(),
            &FileEntry::default(),
        )
        .unwrap();
        assert_eq!(headings, ["a", "b"]);
        let (mut whole, mut count) = (Vec::new(), 0);
        while let Some(piece) = pieces.next().unwrap() {
            whole.extend(piece);
            count += 1;
        }
        assert!(count > 2);
        let text = String::from_utf8(whole).unwrap();
        let rows = text.trim_start();
        assert!(rows.starts_with("0,\"x\n0\"") && rows.ends_with("199999\"\r\n"));
        assert_eq!(rows.len(), table.len() - 8);
    }
}
