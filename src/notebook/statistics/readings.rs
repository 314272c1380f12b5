//! Readings of one thing side by side.

use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::Rendering;

use super::rows::{Column, Rows};

/// Columns of readings, each known in every kept row.
pub(super) struct Readings<'r> {
    pub(super) rows: Rows<'r>,
    pub(super) columns: Vec<Column>,
    pub(super) values: Vec<Vec<f64>>,
}

impl<'r> Readings<'r> {
    pub(super) fn of(
        rendering: &'r Rendering<'r>,
        analysis: &'r Analysis,
    ) -> Result<Readings<'r>, Vec<Diagnostic>> {
        let mut rows = Rows::of(rendering, analysis)?;
        let columns = analysis
            .of
            .iter()
            .map(|subject| rows.numbers(&subject.name));
        let columns = columns.collect::<Result<Vec<Column>, _>>()?;
        if columns.iter().any(|column| column.unit != columns[0].unit) {
            return Err(rendering.error("readings that are compared are in one unit"));
        }
        for column in &columns {
            rows.keep_read(column)?;
        }
        let names: Vec<_> = analysis.of.iter().map(|s| &s.name).collect();
        rows.keep_apart(&names, &columns.iter().collect::<Vec<_>>())?;
        Ok(Readings {
            values: columns.iter().map(|c| rows.values_of(c)).collect(),
            rows,
            columns,
        })
    }

    pub(super) fn two(&self) -> Result<(&[f64], &[f64]), Vec<Diagnostic>> {
        match &self.values[..] {
            [first, second] => Ok((first, second)),
            _ => Err(self
                .rows
                .rendering
                .error("agreement is that of two readings")),
        }
    }

    pub(super) fn with_unit(&self, figure: &str) -> String {
        self.columns
            .first()
            .map_or_else(|| figure.to_owned(), |c| c.with_unit(figure))
    }
}
