//! Rows set aside, and what may be handed out of them.

use super::binding::{Binding, BoundColumn};
use super::checks::Why;
use super::leave::Leave;
use super::rows::Rows;
use super::text_rows::Refused;
use super::withheld;

/// A row set aside.
pub(super) struct Aside {
    /// Number of the row in its piece, from 0.
    pub(super) number: usize,
    pub(super) why: Why,
    pub(super) reason: String,
    /// As they came: [`Aside::shown`] and [`Aside::leaving`] tell what may be handed out.
    fields: Vec<String>,
    /// Whether the fields are text under the headings, so that an identifier among them is known.
    is_regular: bool,
    /// The columns whose fields are not shown.
    withheld: Vec<usize>,
}

impl From<Refused> for Aside {
    fn from(refused: Refused) -> Aside {
        Aside {
            number: refused.number,
            why: refused.why,
            reason: refused.reason,
            fields: refused.fields,
            is_regular: refused.is_regular,
            withheld: Vec::new(),
        }
    }
}

impl Aside {
    /// A row that has a field for each of `width` headings.
    pub(super) fn of(
        (rows, row): (&Rows, usize),
        width: usize,
        (why, reason): (Why, String),
    ) -> Aside {
        Aside {
            number: rows.number(row),
            why,
            reason,
            fields: rows.owned_fields(row, width),
            is_regular: true,
            withheld: Vec::new(),
        }
    }

    /// Withholds fields that may tell who somebody is; `is_read` tells whether one supplies a reading for all that.
    pub(super) fn withhold(
        &mut self,
        binding: &Binding,
        is_read: impl Fn(&BoundColumn, &str) -> bool,
    ) {
        if self.is_regular {
            self.withheld = withheld::columns(binding, &self.fields, is_read);
        }
    }

    /// The fields as they came, where there is one under each of `width` headings. In other rows an identifier may stand under any.
    pub(super) fn as_it_came(&self, width: usize) -> Option<&[String]> {
        (self.is_regular && self.fields.len() == width).then_some(&*self.fields)
    }

    /// A field of a row that has one for each heading, as it may be shown where its column is not private.
    pub(super) fn shown(&self, column: usize) -> &str {
        match self.withheld.contains(&column) {
            true => withheld::NOT_SHOWN,
            false => &self.fields[column],
        }
    }

    /// The fields as they may leave: nothing under any of `width` headings where it is not known which of them hides somebody.
    pub(super) fn leaving(&self, leave: &Leave, width: usize) -> Vec<String> {
        let mut fields = match self.as_it_came(width) {
            Some(fields) => leave.row(fields),
            None if leave.hides() => vec![String::new(); width],
            None => self.fields.clone(),
        };
        for column in &self.withheld {
            withheld::NOT_SHOWN.clone_into(&mut fields[*column]);
        }
        fields
    }
}
