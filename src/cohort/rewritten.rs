//! Numbers that leave in another form than they came: a length converted by a factor of ten, a number that came with a unit of its
//! own. Under a heading stand numbers in the heading's unit only; what stood there is told in the remarks.

use std::collections::BTreeMap;

use super::binding::{Binding, BoundColumn, Part};
use super::field_unit::with_unit;
use super::plain_number::plain_number;
use super::row::says_nothing;
use super::rows::Rows;
use super::stood::Stood;
use super::withheld::Guard;
use crate::formula::notation::number;
use crate::quantity::without_rounding;

/// The numbers that fields become, by column and row.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Rewritten {
    numbers: BTreeMap<(usize, usize), f64>,
}

/// How a field that was rewritten is told.
pub(super) struct Told {
    pub(super) row: usize,
    pub(super) words: String,
}

impl Rewritten {
    pub(super) fn is_empty(&self) -> bool {
        self.numbers.is_empty()
    }

    /// Notes what the reading in a field of values is, in the column's unit; nothing where the field says so itself. The number
    /// that leaves comes back.
    pub(super) fn note(
        &mut self,
        bound: &BoundColumn,
        row: usize,
        field: &str,
        read: f64,
    ) -> Option<f64> {
        let leaves = match plain_number(field.trim()) {
            Some(said) if !is_other(said, read) => return None,
            Some(_) => read,
            None => without_rounding(read),
        };
        self.numbers.insert((bound.column, row), leaves);
        Some(leaves)
    }

    /// Notes the uncertainties in rows that came with a unit of their own, unless they are not shown at all.
    pub(super) fn note_uncertainties(&mut self, binding: &Binding, rows: &Rows) {
        let columns = binding.columns.iter();
        for bound in columns.filter(|bound| bound.part == Part::Uncertainty) {
            let guard = Guard::of(binding, bound.column);
            let texts = (0..rows.len()).filter(|row| !rows.is_number(*row, bound.column));
            for row in texts {
                let field = rows.field(row, bound.column);
                let field = field.trim();
                if plain_number(field).is_some() || says_nothing(bound, field) || guard.hides(field)
                {
                    continue;
                }
                // A share of the reading is no amount.
                let amount = with_unit(field).filter(|f| !f.unit.is_share());
                let amount = amount.and_then(|f| f.unit.convert(f.number, bound.unit));
                if let Some(amount) = amount {
                    self.numbers
                        .insert((bound.column, row), without_rounding(amount));
                }
            }
        }
    }

    /// The number that leaves in the place of a field.
    pub(super) fn number(&self, row: usize, column: usize) -> Option<f64> {
        self.numbers.get(&(column, row)).copied()
    }

    /// Whether any field of a column is rewritten.
    pub(super) fn concerns(&self, column: usize) -> bool {
        let all = (column, 0)..=(column, usize::MAX);
        self.numbers.range(all).next().is_some()
    }

    /// What stood in fields with units of their own; the check of a factor of ten tells its own.
    pub(super) fn told(&self, binding: &Binding, rows: &Rows, stood: &Stood) -> Vec<Told> {
        let mut told = Vec::new();
        for ((column, row), leaves) in &self.numbers {
            let field = rows.field(*row, *column);
            let bound = binding.bound(*column);
            let is_tenfold = |bound: &BoundColumn| {
                let amount =
                    with_unit(field.trim()).and_then(|f| f.unit.convert(f.number, bound.unit));
                amount.is_some_and(|amount| is_other(amount, *leaves))
            };
            if plain_number(field.trim()).is_some() || bound.is_some_and(is_tenfold) {
                continue;
            }
            let field = stood
                .field(rows.number(*row), *column)
                .map_or(field, Into::into);
            let unit = bound.map_or("", |bound| bound.unit.pretty());
            let (heading, leaves) = (binding.headings[*column].trim(), number(*leaves));
            told.push(Told {
                row: *row,
                words: format!("{heading} says `{}`: {leaves} {unit}", field.trim())
                    .trim_end()
                    .to_owned(),
            });
        }
        told
    }
}

/// Whether two numbers differ by more than rounding does: by a factor of ten.
fn is_other(said: f64, read: f64) -> bool {
    (said - read).abs() > 0.5 * said.abs()
}
