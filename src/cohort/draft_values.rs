//! What the fields of a column say of it: units, words, dates, identifiers.

use std::collections::BTreeMap;

use super::dates::{DateForm, DateOrder, dated};
use super::draft_names::WORDS;
use super::field_unit::with_unit;
use super::marks::Marks;
use super::plain_number::plain_number;
use super::row::is_nothing;
use crate::formula::CellId;
use crate::quantity::Unit;
use crate::sheet::Sheet;

/// Units that a column may be in, tried in this order after the cell's own.
const UNITS: &[&str] = &[
    "cm", "mm", "m", "[in_i]", "kg", "g", "[lb_av]", "mm[Hg]", "kPa", "cm[H2O]", "mL", "L", "/min",
    "/s", "m/s", "cm/s",
];

/// The fields of a column that say something.
pub(super) struct Fields<'t> {
    fields: Vec<&'t str>,
}

/// The unit that numbers seem to be in.
#[derive(Debug, PartialEq)]
pub(super) struct LikelyUnit {
    pub(super) unit: Unit,
    /// The middle number.
    pub(super) median: f64,
}

impl<'t> Fields<'t> {
    pub(super) fn new(fields: impl Iterator<Item = &'t str>) -> Fields<'t> {
        let fields = fields.map(str::trim).filter(|field| !is_nothing(field));
        Fields {
            fields: fields.collect(),
        }
    }

    /// What is said, row by row.
    pub(super) fn said(&self) -> &[&'t str] {
        &self.fields
    }

    pub(super) fn len(&self) -> usize {
        self.fields.len()
    }

    /// Whether most fields carry a unit of their own.
    pub(super) fn carry_units(&self, marks: Marks) -> bool {
        let has_unit = |field: &&&str| {
            let found = marks.plain(field).ok().flatten();
            found.is_some_and(|f| with_unit(&f.text()).is_some())
        };
        self.fields.iter().filter(has_unit).count() * 2 > self.len()
    }

    /// The numbers among the fields.
    pub(super) fn numbers(&self, marks: Marks) -> Vec<f64> {
        let number = |field: &&str| {
            let found = marks.plain(field).ok().flatten()?;
            plain_number(&found.plain).filter(|_| found.rest.trim().is_empty())
        };
        self.fields.iter().filter_map(number).collect()
    }

    /// The first unit in which the middle numbers are possible for a cell: its own before others. What lies outside is a slip in a row, or
    /// a row in another unit, and says nothing of the column.
    pub(super) fn likely_unit(
        &self,
        sheet: &Sheet,
        cell: CellId,
        marks: Marks,
    ) -> Option<LikelyUnit> {
        let numbers = self.ordered(marks);
        let median = *numbers.get(numbers.len() / 2)?;
        let own = sheet.unit(cell)?;
        let others = UNITS.iter().filter_map(|code| Unit::parse(code).ok());
        let others = others.filter(|unit| *unit != own && unit.dimension() == own.dimension());
        let mut candidates = std::iter::once(own).chain(others);
        candidates
            .find(|unit| {
                let gate = sheet.gate(cell, *unit);
                gate.is_some_and(|gate| middle(&numbers).iter().all(|n| gate.admit(*n).is_some()))
            })
            .map(|unit| LikelyUnit { unit, median })
    }

    /// Whether the middle numbers are not possible for a cell in a unit; of fewer than four, whether none is.
    pub(super) fn is_outside(&self, sheet: &Sheet, cell: CellId, unit: Unit, marks: Marks) -> bool {
        let Some(gate) = sheet.gate(cell, unit) else {
            return false;
        };
        let numbers = self.ordered(marks);
        let looked_at = match numbers.len() < FEW {
            true => &numbers[..],
            false => middle(&numbers),
        };
        !looked_at.is_empty() && looked_at.iter().all(|n| gate.admit(*n).is_none())
    }

    /// The numbers in order, without those that often stand for nothing.
    fn ordered(&self, marks: Marks) -> Vec<f64> {
        let mut numbers = self.numbers(marks);
        numbers.retain(|number| !is_stand_in(*number));
        numbers.sort_by(f64::total_cmp);
        numbers
    }

    /// Texts that are no numbers, with how often they stand there, the most frequent first.
    pub(super) fn texts(&self, marks: Marks) -> Vec<(&'t str, usize)> {
        let is_text =
            |field: &&&str| **field != "unobtainable" && !matches!(marks.plain(field), Ok(Some(_)));
        by_frequency(self.fields.iter().filter(is_text).copied())
    }

    /// Numbers such as 999 that often stand for nothing, where the cell does not admit them.
    pub(super) fn stand_ins(&self, sheet: &Sheet, cell: CellId, unit: Unit) -> Vec<&'t str> {
        let gate = sheet.gate(cell, unit);
        let stands_in = |field: &&str| {
            let admits = |n: f64| gate.as_ref().is_some_and(|gate| gate.admit(n).is_some());
            plain_number(field).is_some_and(|n| is_stand_in(n) && !admits(n))
        };
        let found = by_frequency(self.fields.iter().copied().filter(stands_in));
        found.into_iter().map(|(text, _)| text).collect()
    }

    /// The distinct words, with the word of the finding that each seems to mean.
    pub(super) fn words(&self, known: &[&str]) -> BTreeMap<&'t str, Option<String>> {
        let distinct = by_frequency(self.fields.iter().copied());
        let meant = |field: &str| {
            let said = field.to_lowercase();
            let by_ward = WORDS.iter().find(|(_, said_so)| said_so.contains(&&*said));
            let candidates = [
                Some(said.replace([' ', '-'], "_")),
                by_ward.map(|w| w.0.to_owned()),
            ];
            let mut candidates = candidates.into_iter().flatten();
            candidates.find(|word| known.contains(&&**word))
        };
        let words = distinct.into_iter().map(|(field, _)| (field, meant(field)));
        words.collect()
    }

    /// The orders in which all fields, or nearly all, are dates; years of two digits are dates only where `years_from` says which they are.
    pub(super) fn date_orders(&self, years_from: Option<u16>) -> Vec<DateOrder> {
        let is_order = |form: &DateForm| {
            let dates = self.fields.iter().filter(|f| dated(f, *form).is_some());
            self.len() > 0 && dates.count() * 100 >= self.len() * 95
        };
        let forms = DateForm::in_each_order(years_from).into_iter();
        forms.filter(is_order).map(|form| form.order).collect()
    }

    /// Whether each date is the same day in every order in which it is one, as those are that name the month.
    pub(super) fn dates_need_no_order(&self, years_from: Option<u16>) -> bool {
        self.fields.iter().all(|field| {
            let forms = DateForm::in_each_order(years_from);
            let days = forms.map(|form| dated(field, form).map(|dated| dated.day));
            days[0] == days[1] && days[1] == days[2]
        })
    }

    /// Whether nearly every field is another text that is no number.
    pub(super) fn look_like_identifiers(&self) -> bool {
        let texts = self.fields.iter().filter(|f| plain_number(f).is_none());
        let texts: std::collections::BTreeSet<&&str> = texts.collect();
        self.len() >= 5 && texts.len() * 10 >= self.len() * 9
    }
}

/// Numbers of which no half is the middle one.
const FEW: usize = 4;

/// The middle half of numbers in order; of fewer than four the middle one.
fn middle(ordered: &[f64]) -> &[f64] {
    let (count, quarter) = (ordered.len(), ordered.len() / 4);
    match count < FEW {
        true => ordered.get(count / 2..=count / 2).unwrap_or_default(),
        false => &ordered[quarter..count - quarter],
    }
}

/// Whether a number is one of those that often stand for nothing: 999, 9999, -9, -99.
fn is_stand_in(number: f64) -> bool {
    [999.0, 9999.0, 99999.0, -9.0, -99.0, -999.0].contains(&number)
}

/// Each text with how often it is met, the most frequent first.
fn by_frequency<'t>(texts: impl Iterator<Item = &'t str>) -> Vec<(&'t str, usize)> {
    let mut counts = BTreeMap::new();
    for text in texts {
        *counts.entry(text).or_insert(0) += 1;
    }
    let mut counts: Vec<(&str, usize)> = counts.into_iter().collect();
    // The sort is stable: texts met as often stand by name.
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    counts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unit_that_a_column_may_be_in_is_one() {
        for code in UNITS {
            assert_eq!(Unit::parse(code).expect(code).code(), *code);
        }
    }

    #[test]
    fn values_tell_units_words_dates_and_identifiers() {
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let cell = |name: &str| sheet.cell(name).unwrap();
        let fields = |texts: &'static [&'static str]| Fields::new(texts.iter().copied());
        let comma = Marks::stated((Some(","), None)).unwrap().unwrap();
        let diameters = fields(&["20,5", "19", "22,1", "", "n.d."]);
        let likely = diameters
            .likely_unit(&sheet, cell("lvot_diameter"), comma)
            .unwrap();
        assert_eq!((likely.unit.code(), likely.median), ("mm", 20.5));
        assert_eq!(diameters.texts(comma), [("n.d.", 1)]);
        let heights = fields(&["1.78", "1.62"]);
        let likely = heights
            .likely_unit(&sheet, cell("height"), Marks::PLAIN)
            .unwrap();
        assert_eq!(likely.unit.code(), "m");
        assert!(fields(&["2,05 cm", "20 mm"]).carry_units(comma));
        // One slip in four rows is no matter of the unit; neither are slips in a quarter of a hundred rows.
        let weight = cell("weight");
        let weights = fields(&["80.5", "8050", "71", "92"]);
        let likely = weights.likely_unit(&sheet, weight, Marks::PLAIN).unwrap();
        assert_eq!((likely.unit.code(), likely.median), ("kg", 92.0));
        let kilograms = Unit::parse("kg").unwrap();
        assert!(!weights.is_outside(&sheet, weight, kilograms, Marks::PLAIN));
        let many: Vec<&str> = std::iter::repeat_n(["80.5", "8050", "71", "92"], 25)
            .flatten()
            .collect();
        let many = Fields::new(many.into_iter());
        assert_eq!(
            many.likely_unit(&sheet, weight, Marks::PLAIN)
                .unwrap()
                .unit
                .code(),
            "kg"
        );
        // A column that says cm and holds millimeters is doubted, however few rows there are.
        let (diameter, centimeters) = (cell("lvot_diameter"), Unit::parse("cm").unwrap());
        for rows in [&["20.5", "21"][..], &["20.5", "21", "2.0", "19", "22"]] {
            let rows = Fields::new(rows.iter().copied());
            assert!(rows.is_outside(&sheet, diameter, centimeters, Marks::PLAIN));
        }
        let two = fields(&["20.5", "2.1"]);
        assert!(!two.is_outside(&sheet, diameter, centimeters, Marks::PLAIN));
        assert_eq!(
            fields(&["999", "80", "-99"]).stand_ins(
                &sheet,
                cell("heart_rate"),
                Unit::parse("/min").unwrap()
            ),
            ["-99", "999"]
        );
        let words = fields(&["SR", "AF", "paced"]).words(&["regular", "irregular"]);
        assert_eq!(words["SR"].as_deref(), Some("regular"));
        assert_eq!(words["paced"], None);
        use DateOrder::{DayMonthYear, MonthDayYear, YearMonthDay};
        assert_eq!(fields(&["27.2.2031"]).date_orders(None), [DayMonthYear]);
        assert_eq!(fields(&["27.2.31"]).date_orders(None), []);
        assert!(fields(&["27-Feb-31", "Feb 3, 31"]).dates_need_no_order(Some(1970)));
        assert!(!fields(&["03.02.31"]).dates_need_no_order(Some(1970)));
        assert_eq!(fields(&["27.2.31"]).date_orders(Some(1970)), [DayMonthYear]);
        assert_eq!(
            fields(&["1/2/2031"]).date_orders(None),
            [DayMonthYear, MonthDayYear]
        );
        assert_eq!(
            fields(&["2031-02-01"]).date_orders(None),
            [YearMonthDay, DayMonthYear, MonthDayYear]
        );
        assert!(fields(&["a", "b", "c", "d", "e"]).look_like_identifiers());
        assert!(!fields(&["a", "a", "c", "d", "e"]).look_like_identifiers());
        assert!(!fields(&["1", "2", "3", "4", "5"]).look_like_identifiers());
    }
}
