//! How numbers are written, as the first records of a table show it.
//!
//! A field speaks for a decimal mark where every way to read it that its cell admits has that
//! mark: `2,05` for the comma, and `18.125` in a column of centimeters for the point, since 18125 cm
//! is no velocity-time integral. `1,234` mL speaks for neither.

use std::cmp::Ordering;

use super::binding::{Binding, BoundColumn, Part};
use super::field_unit::with_unit;
use super::marks::{Decimal, Marks, Thousands};
use super::plain_number::plain_number;
use super::row::says_nothing;
use super::text_rows::TextRows;
use super::withheld::Guard;
use crate::sheet::Sheet;

/// What stands in numbers besides digits.
const MARKS: [char; 8] = [
    '.', ',', '\'', ' ', '\u{2019}', '\u{a0}', '\u{2009}', '\u{202f}',
];

/// What fields speak for.
#[derive(Debug, Default)]
pub(super) struct Shown {
    fields: Vec<ShownField>,
}

/// A field with marks in it.
#[derive(Debug)]
struct ShownField {
    /// As messages may show it.
    text: String,
    heading: String,
    /// The ways to read it that its cell admits, with the number that comes of each.
    ways: Vec<(Marks, f64)>,
}

/// The marks that were found.
#[derive(Debug)]
pub(super) struct Found {
    pub(super) marks: Marks,
    /// Says so, with an example.
    pub(super) note: String,
}

/// The marks of most numbers.
#[derive(Debug)]
pub(super) struct Majority {
    pub(super) marks: Marks,
    /// Says so, with an example of the others.
    pub(super) note: String,
}

impl Shown {
    /// Looks at fields of columns of numbers.
    pub(super) fn by(
        sheet: &Sheet,
        binding: &Binding,
        columns: &[&BoundColumn],
        rows: &TextRows,
    ) -> Shown {
        let mut shown = Shown::default();
        let guard = |bound: &BoundColumn| Guard::of(binding, bound.column);
        for row in 0..rows.len() {
            for bound in columns {
                let field = rows.field(row, bound.column).trim();
                let is_plain = rows.is_number(row, bound.column)
                    || says_nothing(bound, field)
                    || !field.contains(MARKS);
                if is_plain {
                    continue;
                }
                let ways = Marks::all().filter_map(|marks| {
                    let number = admitted(sheet, bound, marks, field)?;
                    Some((marks, number))
                });
                shown.fields.push(ShownField {
                    ways: ways.collect(),
                    text: guard(bound).shown(field).into_owned(),
                    heading: binding.headings[bound.column].clone(),
                });
            }
        }
        shown
    }

    /// Looks at fields of which no more is known than their headings.
    pub(super) fn of_texts<'t>(texts: impl IntoIterator<Item = (&'t str, &'t str)>) -> Shown {
        let mut shown = Shown::default();
        for (heading, field) in texts {
            if !field.contains(MARKS) {
                continue;
            }
            let ways = Marks::all().filter_map(|marks| {
                let found = marks.plain(field).ok()??;
                Some((marks, plain_number(&found.plain)?))
            });
            shown.fields.push(ShownField {
                ways: ways.collect(),
                text: field.to_owned(),
                heading: heading.to_owned(),
            });
        }
        shown
    }

    /// The marks that all fields together show, if they are not the plain ones; `None` where
    /// numbers are plain.
    ///
    /// # Errors
    /// Fields that can be read in two ways, or speak for two decimal marks.
    pub(super) fn marks(&self) -> Result<Option<Found>, String> {
        let of = |decimal| self.fields.iter().find(|field| field.speaks(decimal));
        let (decimal, by) = match (of(Decimal::Point), of(Decimal::Comma)) {
            (Some(point), Some(comma)) => return Err(two_marks(point, comma)),
            (Some(point), None) => (Decimal::Point, point),
            (None, Some(comma)) => (Decimal::Comma, comma),
            (None, None) => match self.fields.iter().find_map(ShownField::two_ways) {
                Some(message) => return Err(message),
                None => return Ok(self.grouped(Decimal::Point)),
            },
        };
        Ok(self.grouped(decimal).or_else(|| {
            let marks = Marks {
                decimal,
                thousands: Thousands::None,
            };
            (marks != Marks::PLAIN).then(|| by.found(marks))
        }))
    }

    /// The decimal mark of most fields that speak for one, where some speak for the other; `None` where all speak for one, or as many for
    /// each.
    pub(super) fn majority(&self) -> Option<Majority> {
        let of = |decimal| {
            let speaking = self
                .fields
                .iter()
                .filter(move |field| field.speaks(decimal));
            speaking.collect::<Vec<&ShownField>>()
        };
        let (points, commas) = (of(Decimal::Point), of(Decimal::Comma));
        let (decimal, most, fewer) = match points.len().cmp(&commas.len()) {
            Ordering::Greater => (Decimal::Point, points, commas),
            Ordering::Less => (Decimal::Comma, commas, points),
            Ordering::Equal => return None,
        };
        let other = fewer.first()?;
        let thousands = Thousands::None;
        let marks = Marks { decimal, thousands };
        Some(Majority {
            marks: self.grouped(decimal).map_or(marks, |found| found.marks),
            note: format!(
                "{} of its numbers are written with {marks}, and {} otherwise, such as `{}` (column `{}`): rows with those are set aside, \
                 until the table is mended or the column has a `decimal` of its own",
                most.len(),
                fewer.len(),
                other.text,
                other.heading
            ),
        })
    }

    /// The marks between thousands that fields show, where they show one kind.
    fn grouped(&self, decimal: Decimal) -> Option<Found> {
        let mut found: Option<Found> = None;
        for field in &self.fields {
            let of_decimal = field
                .ways
                .iter()
                .map(|way| way.0)
                .filter(|m| m.decimal == decimal);
            let kinds: Vec<Marks> = of_decimal.collect();
            if kinds.is_empty() || kinds.iter().any(|m| m.thousands == Thousands::None) {
                continue;
            }
            match (&found, &kinds[..]) {
                (None, [marks]) => found = Some(field.found(*marks)),
                (Some(before), [marks]) if before.marks == *marks => {}
                _ => return None,
            }
        }
        found
    }
}

impl ShownField {
    /// Whether every way to read the field has this decimal mark.
    fn speaks(&self, decimal: Decimal) -> bool {
        let mut ways = self.ways.iter().peekable();
        ways.peek().is_some() && ways.all(|(marks, _)| marks.decimal == decimal)
    }

    fn found(&self, marks: Marks) -> Found {
        Found {
            marks,
            note: format!(
                "its numbers are read with {marks}, as `{}` shows (column `{}`)",
                self.text, self.heading
            ),
        }
    }

    /// In words, if the field can be read in two ways.
    fn two_ways(&self) -> Option<String> {
        let first = self.ways.first()?;
        let other = self.ways.iter().find(|way| way.1 != first.1)?;
        Some(format!(
            "`{}` (column `{}`) is {} with {} and {} with {}, and no number of the first records tells which: say it in a binding file, as `decimal` and `thousands` of `[file]`",
            self.text, self.heading, first.1, first.0, other.1, other.0
        ))
    }
}

fn two_marks(point: &ShownField, comma: &ShownField) -> String {
    format!(
        "its numbers are written in two ways, `{}` (column `{}`) and `{}` (column `{}`): say which is meant in a binding file, as `decimal` of `[file]` or of a column",
        point.text, point.heading, comma.text, comma.heading
    )
}

/// The number that a field is with these marks, if the cell admits it.
fn admitted(sheet: &Sheet, bound: &BoundColumn, marks: Marks, field: &str) -> Option<f64> {
    let found = marks.plain(field).ok()??;
    let number = plain_number(&found.plain)?;
    let unit = match found.rest.trim() {
        "" => bound.unit,
        _ => with_unit(&found.text())?.unit,
    };
    match bound.part {
        Part::Value => sheet.gate(bound.cell, unit)?.admit(number).map(|_| number),
        _ => Some(number),
    }
}
