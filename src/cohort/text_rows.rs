//! Records of delimited text taken apart into fields.

use csv_core::ReadRecordResult;

use super::apply::counted;
use super::checks::Why;
use super::dialect::Dialect;
use super::short_text::ShortText;

/// The rows of a piece that have a field for each heading, all of them text.
#[derive(Clone, Debug)]
pub(super) struct TextRows {
    text: String,
    /// Where each field starts, row by row, and the last ends.
    bounds: Vec<usize>,
    width: usize,
    /// Number of each row in the piece, from 0.
    numbers: Vec<usize>,
    /// Of each field, whether it is a number that the table holds as one, not as a text; empty
    /// where all fields are texts.
    is_number: Vec<bool>,
}

/// A row of text.
#[derive(Clone, Copy, Debug)]
pub(super) struct TextRow<'r> {
    text: &'r str,
    /// Where each field starts, and the last ends.
    bounds: &'r [usize],
}

impl<'r> TextRow<'r> {
    #[inline]
    pub(super) fn field(self, column: usize) -> &'r str {
        &self.text[self.bounds[column]..self.bounds[column + 1]]
    }

    /// A field that is short, where it can be taken in one step.
    #[inline]
    pub(super) fn short(self, column: usize) -> Option<ShortText> {
        ShortText::within(self.text, self.bounds[column], self.bounds[column + 1])
    }
}

/// A row that cannot be used, for a reason that is known before its fields are read.
#[derive(Debug, PartialEq)]
pub(super) struct Refused {
    /// Number of the row in the piece, from 0.
    pub(super) number: usize,
    /// Its fields, as well as they can be shown.
    pub(super) fields: Vec<String>,
    /// Whether the fields are text under the headings, so that an identifier among them is known.
    pub(super) is_regular: bool,
    /// Why, for rows counted together.
    pub(super) why: Why,
    /// Why, in words.
    pub(super) reason: String,
}

/// A piece taken apart.
#[derive(Debug, Default)]
pub(super) struct Split {
    pub(super) rows: TextRows,
    pub(super) refused: Vec<Refused>,
    /// All rows of the piece.
    pub(super) count: usize,
}

impl TextRows {
    pub(super) fn len(&self) -> usize {
        self.numbers.len()
    }

    pub(super) fn number(&self, row: usize) -> usize {
        self.numbers[row]
    }

    #[inline]
    pub(super) fn field(&self, row: usize, column: usize) -> &str {
        let at = row * self.width + column;
        &self.text[self.bounds[at]..self.bounds[at + 1]]
    }

    /// A row to take several fields from.
    #[inline]
    pub(super) fn row(&self, row: usize) -> TextRow<'_> {
        let from = row * self.width;
        TextRow {
            text: &self.text,
            bounds: &self.bounds[from..=from + self.width],
        }
    }

    /// No rows of so many fields.
    pub(super) fn of_width(width: usize) -> TextRows {
        TextRows {
            text: String::new(),
            bounds: first_bound(0),
            width,
            numbers: Vec::new(),
            is_number: Vec::new(),
        }
    }

    /// Whether a field is a number that the table holds as one.
    pub(super) fn is_number(&self, row: usize, column: usize) -> bool {
        let at = row * self.width + column;
        self.is_number.get(at).copied().unwrap_or(false)
    }

    /// Adds a field to the row that is being added.
    pub(super) fn push_field(&mut self, field: &str, is_number: bool) {
        self.text.push_str(field);
        self.bounds.push(self.text.len());
        self.is_number.push(is_number);
    }

    /// Ends the row that is being added: it has this number in its piece.
    pub(super) fn end_row(&mut self, number: usize) {
        debug_assert_eq!(self.bounds.len(), (self.numbers.len() + 1) * self.width + 1);
        self.numbers.push(number);
    }
}

/// Room for the fields of a record at first, in bytes; longer records make more of it.
const FIELDS_AT_FIRST: usize = if cfg!(test) { 1 } else { 1 << 12 };

/// The bounds of no fields, with room for those of `fields`.
fn first_bound(fields: usize) -> Vec<usize> {
    let mut bounds = Vec::with_capacity(fields + 1);
    bounds.push(0);
    bounds
}

impl Default for TextRows {
    fn default() -> TextRows {
        TextRows::of_width(0)
    }
}

/// Takes whole records apart; `width` is the number of headings.
pub(super) fn split(piece: &[u8], dialect: Dialect, width: usize) -> Split {
    let mut reader = dialect.reader();
    let mut splitter = Splitter {
        text: vec![0; FIELDS_AT_FIRST],
        ends: vec![0; width + 1],
        split: Split::default(),
        width,
    };
    // Room for numbers of two digits and more; longer fields need less of it.
    splitter.split.rows = TextRows {
        text: String::with_capacity(piece.len()),
        bounds: first_bound(piece.len() / 3),
        numbers: Vec::with_capacity(piece.len() / (3 * width.max(1))),
        ..TextRows::of_width(width)
    };
    let mut rest = piece;
    loop {
        let (mut text_at, mut ends_at) = (0, 0);
        loop {
            let (result, read, wrote, fields) = reader.read_record(
                rest,
                &mut splitter.text[text_at..],
                &mut splitter.ends[ends_at..],
            );
            rest = &rest[read..];
            text_at += wrote;
            ends_at += fields;
            match result {
                ReadRecordResult::Record => break,
                ReadRecordResult::End => return splitter.split,
                // Nothing is left: the reader is told so by an empty input.
                ReadRecordResult::InputEmpty => {}
                ReadRecordResult::OutputFull => splitter.text.resize(text_at * 2 + 64, 0),
                ReadRecordResult::OutputEndsFull => splitter.ends.resize(ends_at * 2, 0),
            }
        }
        splitter.take(text_at, ends_at);
    }
}

struct Splitter {
    /// The fields of the record at hand.
    text: Vec<u8>,
    /// Where they end.
    ends: Vec<usize>,
    split: Split,
    width: usize,
}

impl Splitter {
    fn take(&mut self, text_end: usize, fields: usize) {
        let number = self.split.count;
        self.split.count += 1;
        let (text, ends) = (&self.text[..text_end], &self.ends[..fields]);
        let reason = if fields != self.width {
            let fields = counted(fields, "field", "fields");
            format!("the row has {fields}, the heading {}", self.width)
        } else {
            let rows = &mut self.split.rows;
            match whole_text(text, ends) {
                Some(text) => {
                    let before = rows.text.len();
                    rows.text.push_str(text);
                    rows.bounds.extend(ends.iter().map(|end| before + end));
                    rows.numbers.push(number);
                    return;
                }
                None => "a field is not UTF-8 text".into(),
            }
        };
        let starts = std::iter::once(0).chain(ends.iter().copied());
        let pieces = starts.zip(ends).map(|(start, end)| &text[start..*end]);
        self.split.refused.push(Refused {
            number,
            is_regular: false,
            why: Why::Shape,
            fields: pieces
                .map(|field| String::from_utf8_lossy(field).into_owned())
                .collect(),
            reason,
        });
    }
}

/// The record as text, if each of its fields is.
fn whole_text<'t>(text: &'t [u8], ends: &[usize]) -> Option<&'t str> {
    let whole = std::str::from_utf8(text).ok()?;
    // Two halves of a character in neighboring fields would make one.
    let is_apart = |end: &usize| whole.is_char_boundary(*end);
    ends.iter().all(is_apart).then_some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(rows: &TextRows, row: usize) -> Vec<&str> {
        (0..rows.width).map(|c| rows.field(row, c)).collect()
    }

    #[test]
    fn fields_are_taken_apart_and_rows_that_do_not_fit_keep_their_numbers() {
        let split = split(
            b"1,\"a\nb\"\n2\n3,\"x\"\"y\"\n\n4,5,6\n7,\xff\n8,9",
            Dialect::by(b','),
            2,
        );
        assert_eq!(split.count, 6);
        assert_eq!(split.rows.len(), 3);
        assert_eq!(fields(&split.rows, 0), ["1", "a\nb"]);
        assert_eq!(fields(&split.rows, 1), ["3", "x\"y"]);
        assert_eq!(fields(&split.rows, 2), ["8", "9"]);
        assert_eq!(split.rows.number(1), 2);
        let refused: Vec<(usize, &str)> = split
            .refused
            .iter()
            .map(|r| (r.number, &*r.reason))
            .collect();
        assert_eq!(
            refused,
            [
                (1, "the row has 1 field, the heading 2"),
                (3, "the row has 3 fields, the heading 2"),
                (4, "a field is not UTF-8 text"),
            ]
        );
        assert_eq!(split.refused[1].fields, ["4", "5", "6"]);
    }

    #[test]
    fn a_character_does_not_span_fields() {
        // é is c3 a9: half in each field is text in neither.
        let split = split(b"\xc3,\xa9\n", Dialect::by(b','), 2);
        assert_eq!((split.rows.len(), split.refused.len()), (0, 1));
    }

    /// What the csv crate reads from the whole is what comes out of the piece.
    #[test]
    fn fields_are_those_of_the_csv_crate() {
        let table = "a,\"b,\"\"c\"\"\",d\r\n,,\n\"\",x y,\"\r\n\"\n1,5\" tube,\u{e9}\u{1f600}\n";
        let split = split(table.as_bytes(), Dialect::by(b','), 3);
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(table.as_bytes());
        let expected: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(split.rows.len(), expected.len());
        for (row, record) in expected.iter().enumerate() {
            assert_eq!(fields(&split.rows, row), record.iter().collect::<Vec<_>>());
        }
    }
}
