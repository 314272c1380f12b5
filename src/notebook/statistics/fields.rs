//! The fields of a cohort's table as they came, for columns that are bound to no cell.

use super::rows::Value;
use crate::cohort::{Cohort, Private, is_nothing};
use crate::quantity::{Origin, Unit};

/// A column's fields over the rows used, with the unit of its heading.
pub(super) struct Fields<'c> {
    pub(super) unit: Unit,
    /// What the binding names the column as, so that it is not shown as it is.
    pub(super) private: Option<Private>,
    texts: &'c [String],
}

impl<'c> Fields<'c> {
    /// The column of a name: its heading, the unit in brackets left off or not.
    pub(super) fn of(cohort: &'c Cohort, name: &str) -> Option<Fields<'c>> {
        let headings = cohort.headings();
        let is_named = |heading: &&&str| name_of(heading) == name;
        // A heading as it stands, its brackets too, is understood as well.
        let heading = headings.iter().find(is_named);
        let heading = heading.or_else(|| headings.iter().find(|heading| **heading == name))?;
        Some(Fields {
            unit: unit_of(heading),
            private: cohort.private(heading),
            texts: cohort.fields(heading)?,
        })
    }

    /// What each row used says; nothing where it is blank.
    pub(super) fn texts(&self) -> impl Iterator<Item = Option<&'c str>> + use<'c> {
        let texts = self.texts.iter().map(|text| text.trim());
        texts.map(|text| (!is_nothing(text)).then_some(text))
    }
}

impl Fields<'_> {
    /// What the fields say, and how many say something that is not understood.
    pub(super) fn read(
        &self,
        understand: impl Fn(&str) -> Option<f64>,
    ) -> (Vec<Option<Value>>, usize) {
        let mut unreadable = 0;
        let values = self.texts().map(|text| {
            let value = understand(text?);
            unreadable += usize::from(value.is_none());
            value.map(|value| Value {
                value,
                origin: Origin::Measured,
            })
        });
        (values.collect(), unreadable)
    }
}

/// The names of a table's columns.
pub(super) fn names(cohort: &Cohort) -> Vec<&str> {
    cohort.headings().into_iter().map(name_of).collect()
}

pub(super) fn name_of(heading: &str) -> &str {
    heading.split('[').next().unwrap_or(heading).trim()
}

/// The unit in a heading's brackets, which may hold brackets of units.
pub(super) fn unit_of(heading: &str) -> Unit {
    let inside = heading
        .split_once('[')
        .and_then(|(_, rest)| rest.trim_end().strip_suffix(']'));
    let unit = inside.and_then(|text| Unit::parse(text.trim()).ok());
    unit.unwrap_or(Unit::ONE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_is_a_name_and_a_unit() {
        let heading = "before.systolic_pressure [mm[Hg]]";
        assert_eq!(name_of(heading), "before.systolic_pressure");
        assert_eq!(unit_of(heading).code(), "mm[Hg]");
        assert_eq!((name_of("day"), unit_of("day")), ("day", Unit::ONE));
    }
}
