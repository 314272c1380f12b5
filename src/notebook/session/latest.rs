//! Cells that have no name of their own, as a console or an executor submits them: what is said
//! last holds.

use super::{Session, Update};
use crate::formula::notation::{Statement, What};
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
        let is_new = |key: &str, other: &str| key == other;
        let settled: Vec<Settles> = self
            .cells
            .iter()
            .filter(|cell| is_new(key, &cell.key))
            .flat_map(|cell| cell.statements.iter().filter_map(settles))
            .collect();
        for cell in &mut self.cells {
            if is_new(key, &cell.key) {
                cell.yields = true;
            } else if cell.yields {
                cell.statements
                    .retain(|old| settles(old).is_none_or(|old| !settled.contains(&old)));
            }
        }
        self.refresh()
    }

    /// Forgets all cells.
    pub fn forget_all(&mut self) -> Update {
        let changed = self.cells.drain(..).map(|cell| cell.key).collect();
        self.refresh();
        Update { changed }
    }

    /// The text of all cells, as one file, and the keys of those that are left out because they
    /// cannot be read.
    pub fn text(&self) -> (String, Vec<String>) {
        let (good, bad): (Vec<_>, Vec<_>) = self
            .cells
            .iter()
            .partition(|cell| cell.unreadable.is_empty());
        let text: String = good
            .iter()
            .filter(|cell| !cell.text.trim().is_empty())
            .map(|cell| format!("{}\n", cell.text.trim_end()))
            .collect();
        (text, bad.iter().map(|cell| cell.key.clone()).collect())
    }
}

fn settles(statement: &Statement) -> Option<Settles> {
    let text = |name: &Option<crate::formula::notation::Name>| {
        name.as_ref().map_or(String::new(), |n| n.text.clone())
    };
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
    fn all_is_forgotten_and_a_sheet_is_written_without_what_cannot_be_read() {
        let mut session = Session::new(".");
        session.submit("a", "x = 1 cm   # a comment");
        session.submit("b", "x = = 2");
        assert_eq!(
            session.text(),
            ("x = 1 cm   # a comment\n".to_owned(), vec!["b".to_owned()])
        );
        assert_eq!(session.forget_all().changed, ["a", "b"]);
        assert!(session.sheet().is_empty());
    }
}
