//! Remarks of rows that are alike, composed once.
//!
//! Where something is missing, and formulas only pass on what is missing, a row's remarks follow
//! from the states of its values alone. Few patterns of states occur, however many rows there
//! are.

use std::collections::HashMap;

use super::apply::WIDTH;
use crate::formula::{Lanes, Status};
use crate::sheet::{Block, Program};

/// Patterns that are kept in mind; a table with more of them is no use to remember.
const REMEMBERED: usize = 4096;

/// The remarks of rows by the states of their values.
pub(super) struct Alike {
    /// The results of which states tell everything.
    told: Vec<bool>,
    slots: usize,
    by_states: HashMap<Vec<u8>, String>,
    states: Vec<u8>,
}

impl Alike {
    /// For the results in these slots of a program.
    pub(super) fn new(program: &Program, results: &[usize]) -> Alike {
        let told = program.told_by_states();
        Alike {
            told: results.iter().map(|slot| told[*slot]).collect(),
            slots: program.slots(),
            by_states: HashMap::new(),
            states: Vec::new(),
        }
    }

    /// The remarks of a row; `compose` makes them where no row like it was met. `results` are the
    /// lanes of the results.
    pub(super) fn remarks(
        &mut self,
        block: &Block<WIDTH>,
        results: &[&Lanes<WIDTH>],
        lane: usize,
        compose: impl FnOnce() -> String,
    ) -> String {
        let of = |lanes: &&Lanes<WIDTH>| lanes.lane(lane).status;
        let is_told = |(status, told): (Status, &bool)| match status.is_faulty() {
            // Why depends on the numbers.
            true => false,
            false => status.is_known() || *told,
        };
        if !results.iter().map(of).zip(&self.told).all(is_told) {
            return compose();
        }
        self.states.clear();
        let slots = (0..self.slots).map(|slot| block.lanes(slot).states[lane]);
        self.states.extend(slots);
        if let Some(known) = self.by_states.get(&self.states) {
            return known.clone();
        }
        let made = compose();
        if self.by_states.len() < REMEMBERED {
            self.by_states.insert(self.states.clone(), made.clone());
        }
        made
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::apply_to_file;
    use crate::sheet::Sheet;

    const SHEET: &str = "
        a = 1 cm
        b = 2 cm
        c = 3 cm
        sum [cm] = a + b
        ratio = sum / c
        first [cm] = a else b
        larger [cm] = if a > b then c else sum
    ";

    /// The remarks of rows in one table.
    fn remarks(folder: &Path, rows: &[String]) -> Vec<String> {
        let (table, out) = (folder.join("t.csv"), folder.join("o.csv"));
        std::fs::write(&table, format!("a,b,c\n{}\n", rows.join("\n"))).unwrap();
        let sheet = Sheet::read(SHEET).unwrap().sheet;
        apply_to_file(&sheet, &table, &out, &mut |_| {}).unwrap();
        let mut reader = csv::Reader::from_path(&out).unwrap();
        let last = |record: csv::StringRecord| record.iter().next_back().unwrap().to_owned();
        reader.records().map(|r| last(r.unwrap())).collect()
    }

    /// A row says the same among others as it says alone.
    #[test]
    fn remarks_do_not_depend_on_the_rows_before() {
        let fields = ["", "1", "4", "0"];
        let mut rows = Vec::new();
        for at in 0..3 * 64_usize {
            let field = |by: usize| fields[at * 29 % 64 / by % 4];
            // Something can be derived from each.
            let row = format!("{},{},{}", field(1), field(4), field(16));
            if !row.starts_with(",,") {
                rows.push(row);
            }
        }
        let folder = tempfile::tempdir().unwrap();
        let together = remarks(folder.path(), &rows);
        assert_eq!(together.len(), rows.len());
        let distinct: std::collections::HashSet<&String> = together.iter().collect();
        assert!(distinct.len() > 6, "{distinct:?}");
        for (row, among) in rows.iter().zip(&together) {
            let alone = remarks(folder.path(), std::slice::from_ref(row));
            assert_eq!(alone, std::slice::from_ref(among), "{row}");
        }
    }
}
