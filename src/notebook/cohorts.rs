//! The cohorts of a session: read again when the file or the sheet is another.

use std::collections::HashMap;
use std::hash::{Hash, Hasher};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::cohort::{BindingFile, Cohort, CohortError, Identifiers, Options};
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

/// A cohort that a statement brings in.
pub(super) struct Wanted {
    /// The name it goes by.
    pub(super) name: String,
    /// The table.
    pub(super) table: PathBuf,
    /// What binds its columns, where their headings do not.
    pub(super) binding: Option<PathBuf>,
    /// The results whose uncertainties are wanted, row by row.
    pub(super) uncertainty: Vec<String>,
    /// How its identifiers are shown.
    pub(super) identifiers: Identifiers,
}

impl Wanted {
    fn read(&self, sheet: &Sheet, stop: &Arc<AtomicBool>) -> Result<Cohort, CohortError> {
        let binding = self.binding.as_deref().map(BindingFile::read).transpose()?;
        let options = Options {
            binding,
            uncertainty: self.uncertainty.clone(),
            stop: Some(Arc::clone(stop)),
            ..Options::default()
        };
        let options = options.showing(self.identifiers.clone());
        Cohort::of(sheet, options.open(&self.table)?, &options)
    }
}

impl Cohorts {
    /// Reads the cohorts that are wanted, those that are the same excepted; drops the others.
    /// What `stop` interrupts is tried again the next time.
    pub(super) fn read(&mut self, sheet: &Sheet, wanted: &[Wanted], stop: &Arc<AtomicBool>) {
        let mut old = std::mem::take(&mut self.read);
        if wanted.is_empty() {
            return;
        }
        let cells: Vec<_> = sheet.cells().collect();
        let required: Vec<String> = sheet.required().map(|cell| sheet.name(cell)).collect();
        let of_sheet = (sheet.fingerprint(&cells), required);
        for one in wanted {
            let made_from = identity(&of_sheet, one);
            // What could not be read is tried again: the reason may lie outside the file.
            let is_same = |c: &ReadCohort| c.made_from == made_from && c.result.is_ok();
            let kept = old.remove(&one.name).filter(is_same);
            let cohort = kept.unwrap_or_else(|| ReadCohort {
                made_from,
                result: one.read(sheet, stop),
            });
            self.read.insert(one.name.clone(), cohort);
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

fn identity(of_sheet: &impl Hash, wanted: &Wanted) -> u64 {
    let mut hasher = std::hash::DefaultHasher::new();
    of_sheet.hash(&mut hasher);
    wanted.uncertainty.hash(&mut hasher);
    for path in [Some(&wanted.table), wanted.binding.as_ref()] {
        path.hash(&mut hasher);
        if let Some(facts) = path.and_then(|path| path.metadata().ok()) {
            facts.len().hash(&mut hasher);
            if let Ok(time) = facts.modified() {
                time.hash(&mut hasher);
            }
        }
    }
    hasher.finish()
}
