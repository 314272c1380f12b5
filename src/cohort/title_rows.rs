//! Lines above the headings of a text: titles, who exported it and when. A table is not guessed at: where its headings seem to stand in a
//! later line, that line is named, so that a binding can say it.

use super::dialect::Dialect;
use super::file_entry::DELIMITERS;

/// Records that are looked at.
const LOOKED_AT: usize = 60;

/// Records that show a table below.
const LEAST: usize = 2;

/// What seems to stand above the headings.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Titles {
    /// The line in which the headings seem to stand, from 1.
    pub(super) line: usize,
    /// Fields of the first record.
    pub(super) first: usize,
    /// Fields of the records from that line on.
    pub(super) fields: usize,
}

/// A record as far as its shape goes.
struct Shape {
    line: usize,
    fields: usize,
    filled: usize,
}

/// What seems to stand above the headings in the head of a text, by the delimiter that is stated or by that which most records agree on.
pub(super) fn titles(head: &[u8], stated: Option<u8>, is_quoted: bool) -> Option<Titles> {
    let delimiters = DELIMITERS.iter().map(|d| d.0);
    let candidates = delimiters.filter(|d| stated.is_none_or(|stated| stated == *d));
    let layouts = candidates.filter_map(|delimiter| {
        let dialect = Dialect {
            delimiter,
            is_quoted,
        };
        let shapes = shapes(head, dialect);
        let fields = usual_fields(&shapes)?;
        let alike = shapes.iter().filter(|shape| shape.fields == fields).count();
        Some((alike, fields, shapes))
    });
    let (alike, fields, shapes) = layouts.max_by_key(|(alike, fields, _)| (*alike, *fields))?;
    let table = shapes.iter().filter(|shape| shape.fields == fields);
    let widest = table.map(|shape| shape.filled).max()?;
    // A heading has as many fields as its rows, half of them filled; with fewer fields it is none.
    let is_heading = |shape: &Shape| match shape.fields == fields {
        true => 2 * shape.filled >= widest,
        false => 2 * shape.filled > widest,
    };
    let at = shapes.iter().position(is_heading)?;
    let is_below = at > 0 && shapes[at].fields == fields && alike >= LEAST;
    is_below.then(|| Titles {
        line: shapes[at].line,
        first: shapes[0].filled,
        fields,
    })
}

/// The number of fields that most records have, more than one; of two as frequent ones the greater.
fn usual_fields(shapes: &[Shape]) -> Option<usize> {
    let several = shapes.iter().filter(|shape| shape.fields > 1);
    several.map(|shape| shape.fields).max_by_key(|fields| {
        let alike = shapes.iter().filter(|shape| shape.fields == *fields);
        (alike.count(), *fields)
    })
}

fn shapes(head: &[u8], dialect: Dialect) -> Vec<Shape> {
    let mut reader = dialect.records(head);
    let mut record = csv::ByteRecord::new();
    let mut shapes = Vec::new();
    while shapes.len() < LOOKED_AT {
        // What a record holds before it ends is not looked at: only its shape is.
        match reader.read_byte_record(&mut record) {
            Ok(true) => shapes.push(Shape {
                line: record.position().map_or(1, |at| line_of(head, at)),
                fields: record.len(),
                filled: record.iter().filter(|f| !f.trim_ascii().is_empty()).count(),
            }),
            Ok(false) | Err(_) => break,
        }
    }
    shapes
}

/// The line of a record, which starts after blank lines.
fn line_of(head: &[u8], at: &csv::Position) -> usize {
    let from = head.get(at.byte() as usize..).unwrap_or_default();
    let blank = from.iter().take_while(|byte| matches!(byte, b'\r' | b'\n'));
    at.line() as usize + blank.filter(|byte| **byte == b'\n').count()
}

/// Headings that stand in several lines, joined column by column, each text once. A text stands over the blank fields right of it, as
/// merged headings do when they are saved as text, unless nothing stands below it.
pub(super) fn joined(lines: &[Vec<String>]) -> Vec<String> {
    let width = lines.iter().map(Vec::len).max().unwrap_or(0);
    let at = |line: usize, column: usize| lines[line].get(column).map_or("", |t| t.trim());
    let below =
        |line: usize, column: usize| (line + 1..lines.len()).any(|l| !at(l, column).is_empty());
    (0..width)
        .map(|column| {
            let mut parts: Vec<&str> = Vec::new();
            for line in 0..lines.len() {
                let mut text = at(line, column);
                if text.is_empty() && below(line, column) {
                    let left = (0..column).rev().find(|c| !at(line, *c).is_empty());
                    let left = left.filter(|c| (*c..column).all(|c| below(line, c)));
                    text = left.map_or("", |c| at(line, c));
                }
                if !text.is_empty() && !parts.contains(&text) {
                    parts.push(text);
                }
            }
            parts.join(" ")
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Option<(usize, usize, usize)> {
        let found = titles(text.as_bytes(), None, true)?;
        Some((found.line, found.first, found.fields))
    }

    #[test]
    fn titles_above_headings_are_seen() {
        for (text, expected) in [
            (
                "Export of echo data\nUnit: ICU\n\nMRN;VTI;HR\n7;20,5;80\n8;21;82\n",
                (4, 1, 3),
            ),
            (
                "Export, invented\nMRN,VTI,HR,LVOTd\n7,20,80,2.1\n8,21,82,2.0\n",
                (2, 2, 4),
            ),
            ("Export;;;\n;;;\nMRN;VTI;HR;LVOTd\n7;20,5;80;2\n", (3, 1, 4)),
            ("Export\nlvot_vti,lvot_diameter\n20,2\n", (2, 1, 2)),
            ("\"Export\nof two lines\"\nMRN|VTI|HR\n7|20|80\n", (3, 1, 3)),
        ] {
            assert_eq!(of(text), Some(expected), "{text}");
        }
    }

    #[test]
    fn tables_without_titles_are_left_alone() {
        for text in [
            "a,b\n1,2\n",
            ",a\n0,1\n1,2\n",
            "a,b\n1,2,3\n4,5,6\n",
            "a,b,,\n1,2,3,4\n",
            "a\n1\n2\n",
            "a\n1,5\n",
            "\"VTI\n(cm)\",\"HR\n(/min)\"\n20,80\n21,82\n",
            "a;b\n2,05;3\n2,1;4\n",
            "a, in cm;b\n2,05;3\n1;2\n",
            "a,b,c\n1,2\n3\n",
            "",
            "a",
        ] {
            assert_eq!(of(text), None, "{text}");
        }
    }

    #[test]
    fn headings_in_two_lines_are_joined() {
        let lines = |texts: &[&str]| -> Vec<Vec<String>> {
            let line = |text: &&str| text.split(',').map(str::to_owned).collect();
            texts.iter().map(line).collect()
        };
        assert_eq!(
            joined(&lines(&["Case,pre,,post,,Note", ",VTI,HR,VTI,HR,"])),
            ["Case", "pre VTI", "pre HR", "post VTI", "post HR", "Note"]
        );
        assert_eq!(
            joined(&lines(&["Case,,pre", ",Age,VTI"])),
            ["Case", "Age", "pre VTI"]
        );
        assert_eq!(
            joined(&lines(&["VTI,HR", "cm,/min"])),
            ["VTI cm", "HR /min"]
        );
        assert_eq!(joined(&lines(&["VTI,HR"])), ["VTI", "HR"]);
        assert_eq!(joined(&lines(&["VTI", "VTI"])), ["VTI"]);
    }
}
