//! Rows as they stood in the table, where fields were written anew before they were read: remarks quote what stood there.

use super::text_rows::TextRows;

/// The fields of a row, as they are read and as they stood in the table.
#[derive(Clone, Copy)]
pub(super) struct RowFields<'r> {
    read: &'r [&'r str],
    /// Where fields were written anew.
    stood: Option<&'r [&'r str]>,
}

impl<'r> RowFields<'r> {
    /// Fields that are read as they stand.
    pub(super) fn plain(read: &'r [&'r str]) -> RowFields<'r> {
        RowFields { read, stood: None }
    }

    /// Fields, with what stood in their places.
    pub(super) fn anew(read: &'r [&'r str], stood: Option<&'r [&'r str]>) -> RowFields<'r> {
        RowFields { read, stood }
    }

    /// A field as it is read, without blanks around it.
    pub(super) fn read(&self, column: usize) -> &'r str {
        self.read[column].trim()
    }

    /// The same as it stood in the table.
    pub(super) fn stood(&self, column: usize) -> &'r str {
        self.stood.unwrap_or(self.read)[column].trim()
    }
}

/// The rows of a piece as they stood; nothing where they are read so.
#[derive(Debug, Default)]
pub(super) struct Stood(Option<TextRows>);

impl Stood {
    /// Rows in whose place others are read, which keep their numbers in the piece.
    pub(super) fn before(rows: TextRows) -> Stood {
        Stood(Some(rows))
    }

    /// A field of the row with this number in the piece.
    pub(super) fn field(&self, number: usize, column: usize) -> Option<&str> {
        let rows = self.0.as_ref()?;
        Some(rows.field(place(rows, number)?, column))
    }

    /// The fields of the row with this number in the piece.
    pub(super) fn fields(&self, number: usize, width: usize) -> Option<Vec<&str>> {
        let rows = self.0.as_ref()?;
        let row = place(rows, number)?;
        Some((0..width).map(|column| rows.field(row, column)).collect())
    }
}

/// Where the row with this number stands; numbers only grow.
fn place(rows: &TextRows, number: usize) -> Option<usize> {
    let (mut from, mut to) = (0, rows.len());
    while from < to {
        let middle = from + (to - from) / 2;
        match rows.number(middle) < number {
            true => from = middle + 1,
            false => to = middle,
        }
    }
    (from < rows.len() && rows.number(from) == number).then_some(from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_found_by_their_numbers() {
        let mut rows = TextRows::of_width(1);
        for (field, number) in [("a", 0), ("b", 2), ("c", 5)] {
            rows.push_field(field, false);
            rows.end_row(number);
        }
        let stood = Stood::before(rows);
        let found: Vec<Option<&str>> = (0..7).map(|number| stood.field(number, 0)).collect();
        assert_eq!(
            found,
            [Some("a"), None, Some("b"), None, None, Some("c"), None]
        );
        assert_eq!(Stood::default().field(0, 0), None);
    }
}
