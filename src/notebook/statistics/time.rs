//! The order of time that a question is asked along: numbers, such as days of a study, or dates.

use super::fields::Fields;
use super::rows::{Column, Rows, label_of};
use crate::cohort::{Private, date_of_days, moment_of_days, needs_date_order};
use crate::formula::notation::{Diagnostic, Name};
use crate::quantity::{Content, Reading, Unit};
use crate::sheet::figure_as_given;

/// When each row was; dates are days from 1970-01-01.
pub(super) struct Time {
    pub(super) column: Column,
    pub(super) is_date: bool,
}

impl Time {
    pub(super) fn value(&self, row: usize) -> Option<f64> {
        self.column.value(row)
    }

    pub(super) fn said(&self) -> String {
        self.column.said()
    }

    /// A time as a person reads it.
    pub(super) fn words(&self, time: f64) -> String {
        match self.is_date {
            true => moment_of_days(time),
            false => self.column.with_unit(&figure_as_given(time)),
        }
    }

    /// The day of each time, for an axis; nothing where times are numbers.
    pub(super) fn days(&self, times: &[f64]) -> Option<Vec<String>> {
        let days = || times.iter().map(|time| date_of_days(*time)).collect();
        self.is_date.then(days)
    }

    /// What to say of fields that are no times.
    pub(super) fn unreadable(&self) -> Option<String> {
        let what = if self.is_date { "date" } else { "number" };
        match self.column.unreadable {
            0 => None,
            1 => Some(format!("1 entry of {} is no {what}.", self.said())),
            count => Some(format!(
                "{count} entries of {} are no {what}s.",
                self.said()
            )),
        }
    }
}

impl Rows<'_> {
    /// When each row was: the numbers of a cell or column, or the dates of a column.
    pub(super) fn time(&self, name: &Name) -> Result<Time, Vec<Diagnostic>> {
        let is_cell = self.rendering.sheet.cell(&name.text).is_some();
        let fields = Fields::of(self.cohort, &name.text).filter(|_| !is_cell);
        let has_number = |fields: &Fields<'_>| {
            let number = |text: &str| text.parse::<f64>().is_ok_and(f64::is_finite);
            fields.texts().flatten().any(number)
        };
        let Some(fields) = fields.filter(|fields| !has_number(fields)) else {
            return Ok(Time {
                column: self.numbers(name)?,
                is_date: false,
            });
        };
        let (values, unreadable) = fields.read(|text| self.cohort.days(text));
        if values.iter().all(Option::is_none) {
            return Err(self.no_times(name, &fields));
        }
        Ok(Time {
            column: Column {
                name: name.text.clone(),
                label: label_of(&name.text),
                unit: Unit::ONE,
                values,
                unreadable,
            },
            is_date: true,
        })
    }

    fn no_times(&self, name: &Name, fields: &Fields<'_>) -> Vec<Diagnostic> {
        if fields.private == Some(Private::Date) {
            let message = format!(
                "`{}` of `{}` holds dates that the binding shifts, and without a key they are withheld",
                name.text, self.name.text
            );
            let hint = "give the key by `--key`: shifted dates keep their distances";
            return vec![Diagnostic::error(message, name.place).hint(hint)];
        }
        let is_unordered = fields.texts().flatten().any(needs_date_order);
        let (message, hint) = match is_unordered {
            true => (
                format!(
                    "`{}` of `{}` has dates, but not which of day and month comes first",
                    name.text, self.name.text
                ),
                "say `date_order = \"dmy\"` or `\"mdy\"` under `[file]` in a binding file; dates such as 2031-02-27 need none",
            ),
            false => (
                format!(
                    "`{}` of `{}` has no numbers and no dates in the rows used",
                    name.text, self.name.text
                ),
                "time is a number, such as the day of a study, a date such as 2031-02-27, or one in the order that a binding file \
                 states by `date_order`; a year has four digits",
            ),
        };
        vec![Diagnostic::error(message, name.place).hint(hint)]
    }

    /// The length of a period in the unit of a time; of dates it is in days, or in a unit of time.
    pub(super) fn period(
        &self,
        time: &Time,
        name: &Name,
        reading: &Reading,
    ) -> Result<f64, Vec<Diagnostic>> {
        let Content::Magnitude { value, unit } = *reading.content() else {
            return Err(self.rendering.error("a number belongs here"));
        };
        if !time.is_date {
            return self.in_unit(&time.column, name, reading);
        }
        let day = Unit::parse("d").ok();
        let days = day.and_then(|day| unit.convert(value, day));
        match days.or_else(|| unit.convert(value, Unit::ONE)) {
            Some(days) => Ok(days),
            None => Err(self
                .rendering
                .error("a period of dates is a number of days, such as `per 30`")),
        }
    }
}
