//! Where the headings of a sheet stand: title rows above them, merged headings in several rows.

use super::file_entry::FileEntry;
use super::spreadsheet::{Grid, Merged, SheetField};

/// Rows among which headings are looked for.
const LOOKED_AT: usize = 50;

/// The rows of the headings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Layout {
    /// The first, from 0.
    pub(super) first: usize,
    /// How many.
    pub(super) rows: usize,
}

impl Layout {
    /// The rows that are stated, or the first that is filled at least half as far as any row
    /// after it, with the rows into which its fields are merged; `None` for a sheet without.
    pub(super) fn of(grid: &Grid, entry: &FileEntry) -> Option<Layout> {
        let first = match entry.header_row {
            Some(row) => (row as usize).checked_sub(1)?,
            None => grid.likely_first()?,
        };
        if first < grid.start.0 || first >= grid.start.0 + grid.rows.len() {
            return None;
        }
        let rows = entry
            .header_rows
            .map_or_else(|| grid.levels(first), |rows| rows as usize);
        Some(Layout { first, rows })
    }

    /// In words.
    pub(super) fn said(self) -> String {
        match self.rows {
            1 => format!("row {}", self.first + 1),
            rows => format!("rows {} to {}", self.first + 1, self.first + rows),
        }
    }
}

impl Grid {
    fn likely_first(&self) -> Option<usize> {
        let head = self.rows.iter().take(LOOKED_AT);
        let filled: Vec<usize> = head
            .map(|row| row.iter().filter(|f| !f.text.is_empty()).count())
            .collect();
        let widest = filled.iter().copied().max().filter(|count| *count > 0)?;
        let at = filled.iter().position(|count| count * 2 >= widest)?;
        Some(self.start.0 + at)
    }

    /// How many rows the headings that start in a row fill: more than one where fields of the
    /// row are merged, over columns or over rows.
    fn levels(&self, first: usize) -> usize {
        let starting = self.merged.iter().filter(|merged| merged.top == first);
        let down = starting
            .clone()
            .map(|merged| merged.bottom - merged.top + 1);
        let across = starting.filter(|merged| merged.right > merged.left);
        let down = down.max().unwrap_or(1);
        let last = self.start.0 + self.rows.len();
        let wanted = if across.count() > 0 {
            down.max(2)
        } else {
            down
        };
        wanted.min(last - first)
    }

    /// A field by its place; a merged one is that in which the merged fields start.
    fn at(&self, row: usize, column: usize) -> Option<&SheetField> {
        let holds = |merged: &&Merged| {
            (merged.top..=merged.bottom).contains(&row)
                && (merged.left..=merged.right).contains(&column)
        };
        let merged = self.merged.iter().find(holds);
        let (row, column) = merged.map_or((row, column), |merged| (merged.top, merged.left));
        let (row, column) = (
            row.checked_sub(self.start.0)?,
            column.checked_sub(self.start.1)?,
        );
        self.rows.get(row)?.get(column)
    }
}

/// The heading of each column: what stands above it in the rows of the headings, each text once.
pub(super) fn headings(grid: &Grid, layout: &Layout) -> Vec<String> {
    let width = grid.rows.iter().map(Vec::len).max().unwrap_or(0);
    let mut headings: Vec<String> = (0..width)
        .map(|column| {
            let mut parts: Vec<String> = Vec::new();
            for row in layout.first..layout.first + layout.rows {
                let text = grid
                    .at(row, grid.start.1 + column)
                    .map_or("", |f| f.text.trim());
                // A line break in a heading is a matter of its width.
                let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
                if !text.is_empty() && !parts.contains(&text) {
                    parts.push(text);
                }
            }
            parts.join(" ")
        })
        .collect();
    let below = layout.first + layout.rows - grid.start.0;
    let is_blank = |column: usize| {
        let mut rows = grid.rows.iter().skip(below);
        rows.all(|row| row.get(column).is_none_or(|f| f.text.trim().is_empty()))
    };
    while headings.last().is_some_and(String::is_empty) && is_blank(headings.len() - 1) {
        headings.pop();
    }
    headings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(start: (usize, usize), rows: &[&[&str]], merged: &[[usize; 4]]) -> Grid {
        let field = |text: &&str| SheetField {
            text: (*text).to_owned(),
            is_number: false,
        };
        Grid {
            start,
            rows: rows
                .iter()
                .map(|row| row.iter().map(field).collect())
                .collect(),
            merged: merged
                .iter()
                .map(|[top, left, bottom, right]| Merged {
                    top: *top,
                    left: *left,
                    bottom: *bottom,
                    right: *right,
                })
                .collect(),
        }
    }

    #[test]
    fn title_rows_are_passed_over_and_merged_headings_joined() {
        // Starts in row 2, column 1; `pre` over two columns, `Case` over two rows.
        let grid = grid(
            (2, 1),
            &[
                &["A title", "", "", ""],
                &["", "", "", ""],
                &["Case", "pre", "", ""],
                &["", "VTI\n(cm)", "HR", ""],
                &["7", "20", "80", ""],
            ],
            &[[2, 1, 2, 4], [4, 1, 5, 1], [4, 2, 4, 3]],
        );
        let layout = Layout::of(&grid, &FileEntry::default()).unwrap();
        assert_eq!(layout, Layout { first: 4, rows: 2 });
        assert_eq!(layout.said(), "rows 5 to 6");
        assert_eq!(headings(&grid, &layout), ["Case", "pre VTI (cm)", "pre HR"]);
        let stated = FileEntry {
            header_row: Some(6),
            header_rows: Some(1),
            ..FileEntry::default()
        };
        let layout = Layout::of(&grid, &stated).unwrap();
        assert_eq!(headings(&grid, &layout), ["Case", "VTI (cm)", "HR"]);
        let far = FileEntry {
            header_row: Some(60),
            ..FileEntry::default()
        };
        assert_eq!(Layout::of(&grid, &far), None);
    }
}
