//! What a cohort in memory shows of identifiers and of dates that leave shifted: whatever is printed of it may be handed out.
//!
//! Without a key an identifier becomes `patient 1`, `patient 2` …, in the order in which they first appear in the table, and a date
//! is withheld. With a key both are what [`super::apply_to_file_with`] would write.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};

use super::apply::Applied;
use super::aside::Aside;
use super::binding::Binding;
use super::error::CohortError;
use super::leave::Leave;
use super::pseudonym::Key;
use super::whom::Whom;

/// How identifiers, and dates that leave shifted, are shown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Identifiers {
    /// `patient 1`, `patient 2` …, in the order in which they first appear; dates are withheld.
    #[default]
    Numbered,
    /// As keyed pseudonyms; dates are shifted.
    Keyed(Key),
    /// As they are.
    Kept,
}

/// What a binding names a column as, so that it does not leave as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Private {
    /// Identifiers.
    Identifier,
    /// Dates to shift.
    Date,
}

/// What stands for a date without a key.
const DATE_WITHHELD: &str = "date withheld";

/// What the fields of each private column become.
pub(super) struct Hidden {
    private: BTreeMap<usize, Private>,
    way: Way,
    headings: Vec<String>,
}

/// The private columns of a piece's rows, by column.
#[derive(Default)]
pub(super) struct ShownRows {
    pub(super) used: HashMap<usize, Vec<String>>,
    /// Nothing where a row has not a field for each heading.
    pub(super) aside: HashMap<usize, Vec<Option<String>>>,
}

enum Way {
    Kept,
    Keyed(Leave),
    /// By column, the number of each identifier met.
    Numbered(HashMap<usize, HashMap<String, usize>>),
}

impl Hidden {
    /// What a binding names, shown in this way.
    ///
    /// # Errors
    /// As [`Leave::new`].
    pub(super) fn of(binding: &Binding, shown: &Identifiers) -> Result<Hidden, CohortError> {
        let dates = binding.shift.iter().flat_map(|shift| &shift.dates);
        let dates = dates.map(|column| (*column, Private::Date));
        let identifiers = binding.identifiers.iter();
        let identifiers = identifiers.map(|column| (*column, Private::Identifier));
        Ok(Hidden {
            private: dates.chain(identifiers).collect(),
            way: match shown {
                Identifiers::Kept => Way::Kept,
                Identifiers::Keyed(key) => Way::Keyed(Leave::new(binding, Some(key), false)?),
                Identifiers::Numbered => Way::Numbered(HashMap::new()),
            },
            headings: binding.headings.clone(),
        })
    }

    /// What a column is named as.
    pub(super) fn private(&self, column: usize) -> Option<Private> {
        self.private.get(&column).copied()
    }

    /// The column that says whose dates stand in a row, where that matters.
    fn whose(&self) -> Option<usize> {
        match &self.way {
            Way::Keyed(leave) => leave.of(),
            Way::Kept | Way::Numbered(_) => None,
        }
    }

    /// A field of a private column as it is shown; `whose` is what its row says in the column that
    /// dates belong to. Rows come in the order of the table.
    fn show(&mut self, (column, private): (usize, Private), field: &str, whose: &str) -> String {
        match &mut self.way {
            Way::Kept => field.to_owned(),
            Way::Keyed(leave) => leave.field(column, field, whose),
            Way::Numbered(_) if super::row::is_nothing(field) => String::new(),
            Way::Numbered(met) => match private {
                Private::Date => DATE_WITHHELD.to_owned(),
                Private::Identifier => {
                    let met = met.entry(column).or_default();
                    let next = met.len() + 1;
                    let number = *met.entry(field.trim().to_owned()).or_insert(next);
                    format!("{} {number}", Whom::of(&self.headings[column]).word())
                }
            },
        }
    }

    /// The private columns of a piece's rows as they are shown, in the order of the table.
    pub(super) fn show_rows(&mut self, applied: &Applied) -> ShownRows {
        let mut shown = ShownRows::default();
        if self.private.is_empty() {
            return shown;
        }
        let columns: Vec<(usize, Private)> = self.private.iter().map(|(c, p)| (*c, *p)).collect();
        let of = self.whose();
        let mut aside = applied.aside.iter().peekable();
        for row in &applied.used {
            let number = applied.rows.number(*row);
            while let Some(before) = aside.next_if(|aside| aside.number < number) {
                self.show_aside(&columns, before, &mut shown);
            }
            let whose = of.map_or(Cow::Borrowed(""), |of| applied.rows.field(*row, of));
            for column in &columns {
                let field = applied.rows.field(*row, column.0);
                let field = self.show(*column, &field, &whose);
                shown.used.entry(column.0).or_default().push(field);
            }
        }
        aside.for_each(|row| self.show_aside(&columns, row, &mut shown));
        shown
    }

    fn show_aside(&mut self, columns: &[(usize, Private)], row: &Aside, shown: &mut ShownRows) {
        let fields = row.as_it_came(self.headings.len());
        let whose = fields
            .zip(self.whose())
            .map_or("", |(fields, of)| &*fields[of]);
        for column in columns {
            let field = fields.map(|fields| self.show(*column, &fields[column.0], whose));
            shown.aside.entry(column.0).or_default().push(field);
        }
    }

    /// What is shown in the place of what stands in the table, in words.
    pub(super) fn note(&self) -> Option<String> {
        let named = |wanted: Private| {
            let columns = 0..self.headings.len();
            let columns = columns.filter(|column| self.private(*column) == Some(wanted));
            let headings: Vec<&str> = columns.map(|at| self.headings[at].trim()).collect();
            (!headings.is_empty()).then(|| headings.join(", "))
        };
        let (numbered, dated) = match self.way {
            Way::Kept => return None,
            Way::Keyed(_) => ("as keyed pseudonyms", "shifted"),
            Way::Numbered(_) => ("by number, in the order of the table", "withheld"),
        };
        let identifiers = named(Private::Identifier);
        let identifiers = identifiers.map(|h| format!("identifiers ({h}) are shown {numbered}"));
        let dates = named(Private::Date).map(|h| format!("dates to shift ({h}) are {dated}"));
        let said: Vec<String> = identifiers.into_iter().chain(dates).collect();
        (!said.is_empty()).then(|| said.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::test_support::bound_by;
    use crate::cohort::{Cohort, Table};
    use crate::sheet::Sheet;

    const TABLE: &str = "mrn,sonographer,day,lvot_vti [cm]\n\
        1234567,Ada,2031-05-17,20\n\
        7654321,Ada,2031-05-18,far\n\
        7654321,Bo,2031-05-19,21\n \
        1234567 ,,2031-05-20,22\n\
        ,Bo,,23\n";

    fn cohort(identifiers: Identifiers) -> Cohort {
        let sheet = Sheet::read("use hemodynamics\nlvot_diameter = 2 cm");
        let table = Table::from_csv(Box::new(TABLE.as_bytes()), "t.csv".as_ref());
        let binding = "identifiers = [\"mrn\", \"sonographer\"]\n\
            [shift]\ndates = [\"day\"]\nof = \"mrn\"\nwithin_days = 100\n";
        let options = bound_by(binding);
        let options = options.showing(identifiers);
        Cohort::of(&sheet.unwrap().sheet, table.unwrap(), &options).unwrap()
    }

    #[test]
    fn identifiers_are_numbered_as_they_first_appear_and_dates_withheld() {
        let cohort = cohort(Identifiers::Numbered);
        let shown = |heading| cohort.fields(heading).unwrap();
        // The second patient is met in a row that is set aside.
        assert_eq!(shown("mrn"), ["patient 1", "patient 2", "patient 1", ""]);
        let aside = cohort.fields_aside("mrn").unwrap();
        assert_eq!(aside, [Some("patient 2".to_owned())]);
        assert_eq!(
            shown("sonographer"),
            ["operator 1", "operator 2", "", "operator 2"]
        );
        assert_eq!(
            shown("day"),
            [DATE_WITHHELD, DATE_WITHHELD, DATE_WITHHELD, ""]
        );
        assert_eq!(shown("lvot_vti [cm]"), ["20", "21", "22", "23"]);
        assert_eq!(cohort.private("mrn"), Some(Private::Identifier));
        assert_eq!(cohort.private("day"), Some(Private::Date));
        let note = "identifiers (mrn, sonographer) are shown by number, in the order of the table; \
                    dates to shift (day) are withheld";
        assert_eq!(cohort.notes, [note]);
    }

    #[test]
    fn with_a_key_they_are_what_files_of_results_hold() {
        let key = Key::from_bytes(b"0123456789abcdef");
        let cohort = cohort(Identifiers::Keyed(key.clone()));
        let shown = cohort.fields("mrn").unwrap();
        assert_eq!(shown[0], key.pseudonym("1234567"));
        assert_eq!(shown[0], shown[2]);
        // Three days lie between the patient's two exams, whatever the key moved them by.
        let days = cohort.fields("day").unwrap();
        let day = |at: usize| chrono::NaiveDate::parse_from_str(&days[at], "%Y-%m-%d").unwrap();
        assert_eq!((day(2) - day(0)).num_days(), 3);
        assert_ne!(days[0], "2031-05-17");
    }

    #[test]
    fn they_are_kept_only_where_that_is_said() {
        let cohort = cohort(Identifiers::Kept);
        assert_eq!(cohort.fields("mrn").unwrap()[0], "1234567");
        assert_eq!(cohort.fields("day").unwrap()[0], "2031-05-17");
        assert!(cohort.notes.is_empty());
    }
}
