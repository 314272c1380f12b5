//! Rows in which something is not known, by the reason: a blank field is another thing than a value that is there and withheld.

use std::collections::HashMap;

use super::fields::Fields;
use super::row_by_row::RowByRow;
use super::rows::{Column, LeftOut, Rows};
use crate::formula::CellId;
use crate::sheet::{Lack, name_in_words};

impl Rows<'_> {
    /// Keeps the rows in which a column is known.
    pub(super) fn keep_known(&mut self, column: &Column) {
        self.keep_where_known(&column.name, &column.said(), |row| {
            column.value(row).is_some()
        });
    }

    /// Keeps the rows in which a cell or column is known; each reason why it is not is counted by itself, the most frequent first.
    pub(super) fn keep_where_known(
        &mut self,
        name: &str,
        said: &str,
        is_known: impl Fn(usize) -> bool,
    ) {
        let kept = self.kept.iter().copied();
        let unknown: Vec<usize> = kept.filter(|row| !is_known(*row)).collect();
        if unknown.is_empty() {
            return;
        }
        self.kept.retain(|row| is_known(*row));
        let reasons = self.unknown(name, said, &unknown);
        self.left_out.extend(reasons);
    }

    /// The kept rows in which a column is not known.
    pub(super) fn unknown_in(&self, column: &Column) -> Vec<usize> {
        let kept = self.kept.iter().copied();
        kept.filter(|row| column.value(*row).is_none()).collect()
    }

    /// Why something is not known in some rows, and in how many, the most frequent first.
    pub(super) fn unknown(&self, name: &str, said: &str, rows: &[usize]) -> Vec<LeftOut> {
        let reasons = match self.rendering.sheet.cell(name) {
            Some(cell) => self.of_cell_unknown(cell, rows),
            None => self.of_field_unknown(name, rows),
        };
        // In the order of the rows, so that reasons of one frequency stand in it too.
        let mut counts: Vec<LeftOut> = Vec::new();
        for why in reasons {
            match counts.iter_mut().find(|left| left.why == why) {
                Some(left) => left.count += 1,
                None => counts.push(LeftOut {
                    of: said.to_owned(),
                    why,
                    count: 1,
                }),
            }
        }
        counts.sort_by_key(|left| std::cmp::Reverse(left.count));
        counts
    }

    fn of_field_unknown(&self, name: &str, rows: &[usize]) -> Vec<String> {
        let fields = Fields::of(self.cohort, name);
        let texts: Vec<Option<&str>> = fields.iter().flat_map(|fields| fields.texts()).collect();
        let reason = |row: &usize| match texts.get(*row) {
            Some(Some(_)) => "cannot be read".to_owned(),
            _ => BLANK.to_owned(),
        };
        rows.iter().map(reason).collect()
    }

    fn of_cell_unknown(&self, cell: CellId, rows: &[usize]) -> Vec<String> {
        // A row used can be read: a cohort is computed again when the sheet is another.
        let Some(mut by_row) = RowByRow::of(self.rendering.sheet, self.cohort, cell) else {
            return vec![NOT_KNOWN.to_owned(); rows.len()];
        };
        let mut alike = Alike::default();
        let of_row = |row: &usize| {
            alike.reason(by_row.said(*row), || {
                let lacks = by_row.lacks(*row).map(|(lacks, _)| lacks);
                let rows = &by_row;
                Words { rows, cell }.of(&lacks.unwrap_or_default())
            })
        };
        rows.iter().map(of_row).collect()
    }
}

/// Different rows of which the reason is kept in mind; a table with more of them is no use to remember.
const REMEMBERED: usize = 1 << 16;

/// Reasons by what rows say, worked out once for all rows that say the same: few different readings of one thing occur, however many rows
/// there are, and to work one out computes a whole sheet.
#[derive(Default)]
struct Alike {
    met: HashMap<String, String>,
}

impl Alike {
    fn reason(&mut self, said: String, work_out: impl FnOnce() -> String) -> String {
        if let Some(known) = self.met.get(&said) {
            return known.clone();
        }
        let reason = work_out();
        if self.met.len() < REMEMBERED {
            self.met.insert(said, reason.clone());
        }
        reason
    }
}

const NOT_KNOWN: &str = "not known";
const BLANK: &str = "not known because the field is blank";

/// The words for what a cell lacks.
struct Words<'r> {
    rows: &'r RowByRow<'r>,
    cell: CellId,
}

impl Words<'_> {
    fn of(&self, lacks: &[Lack]) -> String {
        let mut withheld: Vec<String> = Vec::new();
        let mut because: Vec<String> = Vec::new();
        let once = |all: &mut Vec<String>, words: String| {
            if !all.contains(&words) {
                all.push(words);
            }
        };
        for lack in lacks {
            match lack {
                // What to do about it stands after the reason.
                Lack::Withheld(_, reason) => once(
                    &mut withheld,
                    reason.split(": ").next().unwrap_or(reason).to_owned(),
                ),
                lack => once(&mut because, self.because(lack)),
            }
        }
        match (withheld.is_empty(), because.is_empty()) {
            (true, true) => NOT_KNOWN.to_owned(),
            (true, false) => format!("not known because {}", because.join(" and ")),
            (false, true) => format!("withheld: {}", withheld.join(" and ")),
            (false, false) => format!(
                "withheld: {}, and {}",
                withheld.join(" and "),
                because.join(" and ")
            ),
        }
    }

    fn because(&self, lack: &Lack) -> String {
        match lack {
            Lack::Reading(input) => match self.rows.column_of(*input) {
                Some(column) if column == self.cell => "the field is blank".to_owned(),
                Some(_) => "a field it needs is blank".to_owned(),
                None => {
                    let name = name_in_words(&self.rows.sheet().name(*input));
                    format!("{name} is not recorded")
                }
            },
            Lack::Obtained(input) if *input == self.cell => "it could not be obtained".to_owned(),
            Lack::Obtained(_) => "a reading could not be obtained".to_owned(),
            Lack::Value(_) | Lack::Withheld(..) => "it cannot be computed".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::{Cohort, Options, Table};
    use crate::sheet::Sheet;

    #[test]
    fn a_reason_is_worked_out_once_for_rows_that_say_the_same() {
        let mut alike = Alike::default();
        let mut worked_out = 0;
        for row in 0..1000 {
            let said = format!("{}", row % 3);
            let reason = alike.reason(said.clone(), || {
                worked_out += 1;
                format!("because of {said}")
            });
            assert_eq!(reason, format!("because of {said}"));
        }
        assert_eq!(worked_out, 3);
    }

    /// Both exams have a column of their own for what they share: the one that is asked of counts, and not the first in the table.
    #[test]
    fn a_blank_field_is_that_of_the_cells_own_column() {
        let uses = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics";
        let sheet = Sheet::read(uses).unwrap().sheet;
        let text = "lvot_diameter [cm],after.lvot_diameter [cm],before.lvot_diameter [cm]\n2.0,2.1,2.0\n,2.1,\n,,\n";
        let table = Table::from_csv(Box::new(text.as_bytes()), "t.csv".as_ref()).unwrap();
        let cohort = Cohort::of(&sheet, table, &Options::default()).unwrap();
        for name in ["before.lvot_diameter", "after.lvot_diameter"] {
            let cell = sheet.cell(name).unwrap();
            let rows = RowByRow::of(&sheet, &cohort, cell).unwrap();
            let shared = sheet.inputs(cell)[0];
            assert_eq!(rows.column_of(shared), Some(cell), "{name}");
        }
    }

    #[test]
    fn rows_say_the_same_of_a_cell_whatever_else_they_say() {
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let table = "note,lvot_diameter [cm],lvot_vti [cm],heart_rate [/min],signal\n\
            a,2,20,70,good\nb, 2 ,20,80,good\nc,2,20,70,poor\nd,22,0.5,70,good\ne,2,20.5,70,good\n";
        let binding = "[checks]\nfactor_ten = \"mark\"\n";
        let options = Options {
            binding: Some(crate::cohort::BindingFile::parse("b".as_ref(), binding).unwrap()),
            ..Options::default()
        };
        let table = Table::from_csv(Box::new(table.as_bytes()), "t.csv".as_ref()).unwrap();
        let cohort = Cohort::of(&sheet, table, &options).unwrap();
        let readings = cohort.readings(&sheet).unwrap();
        let cell = |name: &str| sheet.cell(name).unwrap();
        let of = [cell("lvot_diameter"), cell("lvot_vti")];
        let said: Vec<String> = (0..cohort.counts.used)
            .map(|row| readings.said(row, &of))
            .collect();
        // A blank around a field and a heart rate make no difference; a finding and the readings themselves do.
        assert_eq!(said[0], said[1]);
        assert_ne!(said[0], said[2]);
        assert!(said[2..].iter().all(|other| *other != said[0]));
    }
}
