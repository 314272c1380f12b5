//! What tests of several subjects share.

use std::fs::File;
use std::path::{Path, PathBuf};

use polars::prelude::{DataFrame, ParquetReader, ParquetWriter, SerReader};

use super::{BindingFile, Key, Options};
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

/// A table bound by the text of a binding file.
pub(super) fn bound_by(binding: &str) -> Options {
    Options {
        binding: Some(BindingFile::parse("b.toml".as_ref(), binding).unwrap()),
        ..Options::default()
    }
}

/// The same with a key for identifiers and dates.
pub(super) fn bound_with_key(binding: &str) -> Options {
    Options {
        key: Some(Key::from_bytes(b"0123456789abcdef")),
        ..bound_by(binding)
    }
}

pub(super) fn read_parquet(path: &Path) -> DataFrame {
    let file = File::open(path).unwrap();
    ParquetReader::new(file).finish().unwrap()
}

pub(super) fn write_parquet(path: &Path, mut frame: DataFrame) {
    let file = File::create(path).unwrap();
    ParquetWriter::new(file).finish(&mut frame).unwrap();
}
