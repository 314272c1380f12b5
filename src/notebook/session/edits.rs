//! Submissions that change numbers and nothing else: the sheet is edited, not built anew.

use super::{Session, Update};
use crate::formula::CellId;
use crate::formula::notation::{self, Diagnostic, Statement, What};
use crate::quantity::Reading;

impl Session {
    /// Submits a cell again if only numbers of its readings are others; `None`, and nothing is
    /// changed, where more is. What the cells show is the same either way, since editing a sheet
    /// gives what building it anew gives.
    pub(super) fn edit(&mut self, key: &str, text: &str) -> Option<Update> {
        let at = self.cells.iter().position(|cell| cell.key == key)?;
        // What a Rust cell read is looked at when the sheet is made anew.
        let is_other = |cell: &super::Cell| cell.rust.is_some() || cell.typed.is_some();
        if self.cells.iter().any(is_other) {
            return None;
        }
        let is_sound = self.found.values().all(Vec::is_empty) && self.refused.is_empty();
        if !is_sound || !self.instead.is_empty() || !self.cells[at].unreadable.is_empty() {
            return None;
        }
        let (statements, wrong): (_, Vec<Diagnostic>) =
            notation::statements(text, self.cells[at].source);
        if !wrong.is_empty() {
            return None;
        }
        let edits = self.numbers(at, text, &statements)?;
        self.sheet.set_all(edits).ok()?;
        let cell = &mut self.cells[at];
        cell.text = text.to_owned();
        cell.statements = statements;
        let name = format!("cell {}", at + 1);
        self.sources.replace(cell.source, name, text);
        self.read_cohorts();
        Some(self.show())
    }

    /// The readings with other numbers, if nothing else differs.
    fn numbers(
        &self,
        at: usize,
        text: &str,
        statements: &[Statement],
    ) -> Option<Vec<(CellId, Reading)>> {
        let cell = &self.cells[at];
        if cell.statements.len() != statements.len() {
            return None;
        }
        let mut edits = Vec::new();
        for (old, new) in cell.statements.iter().zip(statements) {
            if said(&cell.text, old)? == said(text, new)? {
                continue;
            }
            let (
                What::Reading {
                    name: old_name,
                    unit: old_unit,
                    reading: old,
                    ..
                },
                What::Reading {
                    name,
                    unit,
                    reading,
                    ..
                },
            ) = (&old.what, &new.what)
            else {
                return None;
            };
            let is_number = reading.unit().is_some() && reading.unit() == old.unit();
            let is_same = name.text == old_name.text && unit == old_unit;
            if !is_number || !is_same || self.moved.contains_key(&name.text) {
                return None;
            }
            edits.push((self.sheet.cell(&name.text)?, reading.clone()));
        }
        Some(edits)
    }
}

fn said<'t>(text: &'t str, statement: &Statement) -> Option<&'t str> {
    text.get(statement.place.start as usize..statement.place.end as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OTHERS: &[(&str, &str)] = &[
        ("b", "show stroke_volume, cardiac_output, lvot_vti"),
        ("c", "explain stroke_volume"),
        ("d", "show budget of cardiac_output"),
        ("e", "adjust heart_rate from 30 /min to 200 /min by 1 /min"),
        ("f", "show"),
    ];

    /// Each text in turn gives what a session gives that has never seen another.
    #[test]
    fn an_edited_sheet_shows_what_a_new_one_shows() {
        let texts = [
            "lvot_diameter = 2 cm (u = 1 mm)\nlvot_vti = 20 cm\nheart_rate = 70 /min",
            "lvot_diameter = 2.05 cm (u = 1 mm)\nlvot_vti = 20 cm\nheart_rate = 70 /min",
            "lvot_diameter = 2.05 cm\nlvot_vti = beats(17, 18, 19) cm\nheart_rate = 1.2e2 /min assumed",
            "lvot_diameter = 2.05 cm\nlvot_vti = 18 cm # mean\n\nheart_rate = 90 /min",
            "lvot_diameter = 2.05 cm\nlvot_vti = 180 mm\nheart_rate = 90 /min",
            "lvot_diameter = 2.05 cm\nlvot_vti = 900 cm\nheart_rate = 90 /min",
            "lvot_diameter = 2.05 cm\nlvot_vti = ? cm\nheart_rate = 90 /min",
            "lvot_diameter = 2.1 cm\nlvot_vti = 19 cm\nheart_rate = 90 /min\nrhythm = regular",
            "lvot_diameter = 2.1 cm\nlvot_vti = 19 cm\nheart_rate = 90 /min\nrhythm = irregular",
        ];
        let mut edited = Session::new(".");
        edited.submit("0", "use hemodynamics");
        edited.submit_all(OTHERS);
        for text in texts.iter().chain(texts.iter().rev()) {
            edited.submit("a", text);
            let mut new = Session::new(".");
            new.submit("0", "use hemodynamics");
            new.submit_all(OTHERS);
            new.submit("a", text);
            for key in ["a", "b", "c", "d", "e", "f"] {
                assert_eq!(edited.outputs(key), new.outputs(key), "{key}: {text}");
            }
        }
    }

    #[test]
    fn numbers_are_edited_and_anything_else_is_not() {
        let mut session = Session::new(".");
        session.submit("a", "x = 1 cm\ny = x * 2");
        session.submit("b", "show y");
        assert_eq!(
            session.edit("a", "x = 2 cm\ny = x * 2").unwrap().changed,
            ["b"]
        );
        assert!(session.outputs("b")[0].text.contains("4.00 cm"));
        for other in [
            "x = 2 cm\ny = x * 3",
            "x = 2 mm\ny = x * 2",
            "x = 2 cm",
            "x = ? cm\ny = x * 2",
            "z = 2 cm\ny = x * 2",
            "x = = 2 cm\ny = x * 2",
        ] {
            assert!(session.edit("a", other).is_none(), "{other}");
        }
        assert!(session.edit("new", "x = 2 cm").is_none());
    }
}
