//! Cells that have no name of their own, as a console or an executor submits them: what is said
//! last holds.

use super::{Cell, Session, Update};
use crate::formula::notation::{Name, Place, Statement, What};
use crate::sheet::defined_name;

/// What a statement settles: of two that settle the same, a sheet takes one.
#[derive(PartialEq, Eq)]
enum Settles {
    Cell(String),
    Catalogue(String, String),
    Comparison(String),
    Coverage,
    Repeatability,
    Correlation(String, String),
}

impl Session {
    /// Submits a cell that can never be submitted again: what it defines takes the place of what
    /// earlier cells of this kind define, line by line. Cells submitted by key are as they were.
    pub fn submit_latest(&mut self, key: &str, text: &str) -> Update {
        self.put(key, text);
        let new = self.cells.iter().filter(|cell| cell.key == key);
        let settled: Vec<Settles> = new
            .flat_map(|cell| cell.statements.iter().filter_map(settles))
            .collect();
        for cell in &mut self.cells {
            if cell.key == key {
                cell.yields = true;
            } else if cell.yields {
                cell.yield_to(&settled);
            }
        }
        // What says nothing any more is gone, so that a long conversation stays quick.
        self.cells.retain(|cell| !cell.is_replaced);
        self.refresh()
    }

    /// Forgets all cells.
    pub fn forget_all(&mut self) -> Update {
        let changed = self.cells.drain(..).map(|cell| cell.key).collect();
        self.refresh();
        Update { changed }
    }

    /// The text of all cells as one sheet: without statements that show something, with each
    /// catalogue once. Cells that cannot be read are left out, and named.
    pub fn text(&self) -> (String, Vec<String>) {
        let (mut text, mut left_out) = (String::new(), Vec::new());
        let mut catalogues = Vec::new();
        for (at, cell) in self.cells.iter().enumerate() {
            if !cell.unreadable.is_empty() {
                left_out.push(format!("cell {}", at + 1));
                continue;
            }
            let mut lines = cell.text.clone();
            for statement in &cell.statements {
                let settles = settles(statement);
                let is_again = catalogues.contains(&settles);
                if is_again || matches!(statement.what, What::Display(_)) {
                    blank(&mut lines, statement.place);
                } else if matches!(settles, Some(Settles::Catalogue(..))) {
                    catalogues.push(settles);
                }
            }
            for line in lines.lines().filter(|line| !line.trim().is_empty()) {
                text.push_str(line.trim_end());
                text.push('\n');
            }
        }
        (text, left_out)
    }
}

impl Cell {
    /// Takes out the lines whose place others take.
    fn yield_to(&mut self, settled: &[Settles]) {
        let before = self.statements.len();
        let text = &mut self.text;
        self.statements.retain(|old| {
            let stays = settles(old).is_none_or(|old| !settled.contains(&old));
            if !stays {
                blank(text, old.place);
            }
            stays
        });
        self.is_replaced = before > 0 && self.statements.is_empty() && self.unreadable.is_empty();
    }
}

/// Puts spaces where a statement stands, so that the places of others stay.
fn blank(text: &mut String, place: Place) {
    let (start, end) = (place.start as usize, place.end as usize);
    if let Some(statement) = text.get(start..end) {
        let spaces: String = statement
            .bytes()
            .map(|b| if b == b'\n' { '\n' } else { ' ' })
            .collect();
        text.replace_range(start..end, &spaces);
    }
}

fn settles(statement: &Statement) -> Option<Settles> {
    let text = |name: &Option<Name>| name.as_ref().map_or(String::new(), |n| n.text.clone());
    if let Some(name) = defined_name(statement) {
        return Some(Settles::Cell(name.text.clone()));
    }
    match &statement.what {
        What::Use { catalogue, prefix } => {
            Some(Settles::Catalogue(catalogue.text.clone(), text(prefix)))
        }
        What::Compare { prefix, .. } => Some(Settles::Comparison(text(prefix))),
        What::Coverage(_) => Some(Settles::Coverage),
        What::Repeatability(_) => Some(Settles::Repeatability),
        What::Correlate { first, second, .. } => {
            let (a, b) = (first.text.clone(), second.text.clone());
            Some(Settles::Correlation(a.clone().min(b.clone()), a.max(b)))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_last_holds_line_by_line() {
        let mut session = Session::new(".");
        session.submit_latest(
            "1",
            "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm",
        );
        session.submit_latest("2", "show stroke_volume");
        let update = session.submit_latest("3", "use hemodynamics\nlvot_vti = 10 cm");
        assert_eq!(update.changed, ["2"]);
        assert!(!session.has_errors());
        assert!(session.outputs("2")[0].text.contains("31.4 mL"));
    }

    #[test]
    fn a_cell_with_a_key_does_not_yield() {
        let mut session = Session::new(".");
        session.submit("a", "x = 1 cm");
        session.submit_latest("1", "x = 2 cm");
        assert!(session.has_errors());
    }

    #[test]
    fn all_is_forgotten() {
        let mut session = Session::new(".");
        session.submit("a", "x = 1 cm");
        session.submit("b", "show x");
        assert_eq!(session.forget_all().changed, ["a", "b"]);
        assert!(session.sheet().is_empty());
    }

    #[test]
    fn the_text_is_a_sheet_without_what_shows_and_what_no_longer_holds() {
        let mut session = Session::new(".");
        session.submit("a", "use hemodynamics\nshow stroke_volume # µ");
        session.submit("b", "x = = 2");
        session.submit_latest("1", "lvot_vti = 20 cm  # first\nlvot_diameter = 2 cm");
        session.submit_latest("2", "use hemodynamics\nlvot_vti = 10 cm");
        let (text, left_out) = session.text();
        assert_eq!(left_out, ["cell 2"]);
        let sheet = crate::sheet::Sheet::read(&text).unwrap().sheet;
        let volume = sheet.cell("stroke_volume").unwrap();
        assert_eq!(sheet.shown(volume), "31.4 mL");
        assert!(!text.contains("show") && text.contains("# first"));
    }
}
