//! Where records of delimited text end, and quotation marks that are never closed.
//!
//! A field that starts with a quotation mark goes on to the next one that is not doubled (RFC 4180), over the ends of lines too.
//! So one mark too many makes one field of all that follows, up to the next mark: rows would be lost, and nothing would look
//! wrong. Both traces of it are found here: a field that is not closed, and one over several lines after whose closing mark
//! more text follows, which no program writes.

use super::dialect::Dialect;

/// Most bytes of one quoted field: a mark that is not closed is told without reading a table to its end.
pub(super) const LONGEST_FIELD: usize = if cfg!(test) { 1 << 18 } else { 1 << 24 };

/// What some bytes that start with a record are made of.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Quotes {
    /// Where the last record that surely ends in them ends.
    pub(super) last_end: Option<usize>,
    /// Where a quotation mark stands that opens a field and is not closed in them.
    pub(super) open: Option<usize>,
    /// Where one stands whose field goes over several lines, and where the mark that closes it stands in the midst of text.
    pub(super) broken: Option<(usize, usize)>,
}

impl Quotes {
    /// Looks at bytes that start with a record; nothing follows them where they are `whole`.
    pub(super) fn of(bytes: &[u8], dialect: Dialect, is_whole: bool) -> Quotes {
        let mut quotes = Quotes::default();
        if !dialect.is_quoted {
            quotes.take_ends(bytes, 0);
            return quotes;
        }
        let delimiter = dialect.delimiter;
        // From where on nothing is quoted.
        let (mut outside, mut at) = (0, 0);
        while let Some(found) = memchr::memchr(b'"', &bytes[at..]) {
            let mark = at + found;
            let before = mark.checked_sub(1).map(|at| bytes[at]);
            if !before.is_none_or(|byte| [delimiter, b'\n', b'\r'].contains(&byte)) {
                // Within a field it is an ordinary character.
                at = mark + 1;
                continue;
            }
            quotes.take_ends(&bytes[..mark], outside);
            let Some(close) = closing(bytes, mark, is_whole) else {
                quotes.open = Some(mark);
                return quotes;
            };
            let ends = [delimiter, b'\n', b'\r'];
            let is_blank = |byte: &u8| matches!(byte, b' ' | b'\t') && *byte != delimiter;
            let mut after = bytes[close + 1..].iter();
            if after
                .find(|byte| !is_blank(byte))
                .is_some_and(|next| !ends.contains(next))
                && memchr::memchr(b'\n', &bytes[mark..close]).is_some()
            {
                quotes.broken = Some((mark, close));
                return quotes;
            }
            (outside, at) = (close + 1, close + 1);
        }
        quotes.take_ends(bytes, outside);
        quotes
    }

    /// Takes the last end of a line from some place on.
    fn take_ends(&mut self, bytes: &[u8], from: usize) {
        if let Some(end) = memchr::memrchr(b'\n', &bytes[from..]) {
            self.last_end = Some(from + end + 1);
        }
    }
}

/// The mark that closes the one at `mark`.
fn closing(bytes: &[u8], mark: usize, is_whole: bool) -> Option<usize> {
    let mut at = mark + 1;
    loop {
        let close = at + memchr::memchr(b'"', bytes.get(at..)?)?;
        match bytes.get(close + 1) {
            Some(b'"') => at = close + 2,
            // It may be the first of two.
            None if !is_whole => return None,
            _ => return Some(close),
        }
    }
}

/// The way out where whoever wrote the table does not use marks to quote.
const OR_ORDINARY: &str = "; if quotation marks are ordinary characters in all of this file, say so in a binding file, as `[file]` with `quotes = \"none\"`";

/// What a mark that is not closed does: the next one, if any, stands in the midst of text in line `closed_in`.
pub(super) fn what_it_does(closed_in: Option<usize>) -> String {
    match closed_in {
        None => "a quotation mark opens a field there and is not closed, so that the rows from there on would be one field".into(),
        Some(end) => format!(
            "a quotation mark opens a field there, and the next one, in line {end}, stands in the midst of text, so that the lines \
             between would be one field"
        ),
    }
}

/// What is said of it where a table is refused for it.
pub(super) fn not_closed(line: usize, closed_in: Option<usize>) -> String {
    let close = match closed_in {
        None => "close it",
        Some(_) => "close it in its line",
    };
    format!(
        "line {line}: {}: {close}, double it where it is part of the text (\"\"), or take it out{OR_ORDINARY}",
        what_it_does(closed_in)
    )
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn of(text: &str) -> Quotes {
        Quotes::of(text.as_bytes(), Dialect::by(b','), true)
    }

    #[test]
    fn a_mark_that_is_not_closed_is_found_where_it_opens() {
        assert_eq!(of("1,\"a\n2,b\n").open, Some(2));
        assert_eq!(of("1,\"a\"\n2,\"b\"\"\n3,c\n").open, Some(8));
        assert_eq!(of("1,\"a\n2,\"b\"\n").broken, Some((2, 7)));
        assert_eq!(of("1,\"a\n2,5\" tube\n").broken, Some((2, 8)));
        for fine in [
            "1,\"a\nb\"\n2,\"c\"\"\nd\"\n",
            "5\" tube,1\n6\" tube,2\n",
            "\"5\" tube\",1\n",
            "\"a\nb\" ,2\n",
            "\"\",\"\"\n",
            "\"\"\"\"\n1,\"a\"",
        ] {
            let found = of(fine);
            assert_eq!((found.open, found.broken), (None, None), "{fine}");
        }
        // What follows may double it.
        assert_eq!(
            Quotes::of(b"1,\"a\"", Dialect::by(b','), false).open,
            Some(2)
        );
    }

    #[test]
    fn where_nothing_is_quoted_every_line_is_a_record() {
        let plain = Dialect {
            is_quoted: false,
            ..Dialect::by(b',')
        };
        let found = Quotes::of(b"1,\"a\n2,b\n3", plain, true);
        assert_eq!(
            (found.last_end, found.open, found.broken),
            (Some(9), None, None)
        );
    }

    fn records(bytes: &[u8]) -> Vec<csv::ByteRecord> {
        let mut reader = Dialect::by(b',').records(bytes);
        reader.byte_records().map(Result::unwrap).collect()
    }

    proptest! {
        /// Cut where a record ends, a text has the records that the csv crate reads from the whole.
        #[test]
        fn records_end_where_the_csv_crate_ends_them(text in "[a,\"\n]{0,40}") {
            let found = Quotes::of(text.as_bytes(), Dialect::by(b','), false);
            if let (Some(end), None) = (found.last_end, found.broken) {
                let (head, tail) = text.as_bytes().split_at(end);
                let mut parts = records(head);
                parts.extend(records(tail));
                prop_assert_eq!(parts, records(text.as_bytes()));
            }
        }
    }
}
