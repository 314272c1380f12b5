//! The cohorts of a session: read again when the file or the sheet is another.

use std::collections::HashMap;
use std::hash::{Hash, Hasher};
use std::path::{Path, PathBuf};

use crate::cohort::{Cohort, CohortError};
use crate::sheet::Sheet;

/// Cohorts by the name that a statement gave them.
#[derive(Default)]
pub(super) struct Cohorts {
    read: HashMap<String, ReadCohort>,
}

pub(super) struct ReadCohort {
    /// What it was made from: the sheet, the file's name, size and time.
    pub(super) made_from: u64,
    pub(super) result: Result<Cohort, CohortError>,
}

impl Cohorts {
    /// Reads the cohorts that are wanted, those that are the same excepted; drops the others.
    pub(super) fn read(&mut self, sheet: &Sheet, wanted: &[(String, PathBuf)]) {
        let mut old = std::mem::take(&mut self.read);
        if wanted.is_empty() {
            return;
        }
        let cells: Vec<_> = sheet.cells().collect();
        let required: Vec<String> = sheet.required().map(|cell| sheet.name(cell)).collect();
        let of_sheet = (sheet.fingerprint(&cells), required);
        for (name, path) in wanted {
            let made_from = identity(&of_sheet, path);
            // What could not be read is tried again: the reason may lie outside the file.
            let is_same = |c: &ReadCohort| c.made_from == made_from && c.result.is_ok();
            let kept = old.remove(name).filter(is_same);
            let cohort = kept.unwrap_or_else(|| ReadCohort {
                made_from,
                result: Cohort::read(sheet, path),
            });
            self.read.insert(name.clone(), cohort);
        }
    }

    /// Drops all cohorts.
    pub(super) fn clear(&mut self) {
        self.read.clear();
    }

    pub(super) fn get(&self, name: &str) -> Option<&ReadCohort> {
        self.read.get(name)
    }

    /// The names in use, sorted.
    pub(super) fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.read.keys().map(String::as_str).collect();
        names.sort_unstable();
        names
    }
}

fn identity(of_sheet: &impl Hash, path: &Path) -> u64 {
    let mut hasher = std::hash::DefaultHasher::new();
    of_sheet.hash(&mut hasher);
    path.hash(&mut hasher);
    if let Ok(facts) = path.metadata() {
        facts.len().hash(&mut hasher);
        if let Ok(time) = facts.modified() {
            time.hash(&mut hasher);
        }
    }
    hasher.finish()
}
