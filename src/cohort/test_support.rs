//! What tests of several subjects share.

use std::path::{Path, PathBuf};

use crate::sheet::Sheet;

/// Two exams and what they share.
pub(super) fn two_exams() -> Sheet {
    let text = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics";
    Sheet::read(text).unwrap().sheet
}

/// A file of the bundled data.
pub(super) fn bundled(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data")
        .join(name)
}
