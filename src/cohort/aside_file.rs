//! The file of rows set aside: comma-separated values whatever the table is, because people read
//! it, and because a row that does not fit the headings fits nowhere else.

use std::path::{Path, PathBuf};

use super::apply::Application;
use super::aside::Aside;
use super::error::CohortError;
use super::rows::row_told;
use super::whole::{Pending, file_error};

/// `results.csv` and `results.parquet` have `results.set_aside.csv`.
pub fn set_aside_path(out: &Path) -> PathBuf {
    match out.extension() {
        Some(ending) if !ending.eq_ignore_ascii_case("parquet") => {
            let mut whole = std::ffi::OsString::from("set_aside.");
            whole.push(ending);
            out.with_extension(whole)
        }
        Some(_) => out.with_extension("set_aside.csv"),
        None => out.with_extension("set_aside"),
    }
}

/// The file being written.
pub(super) struct AsideFile {
    pending: Pending,
    writer: csv::Writer<Vec<u8>>,
}

impl AsideFile {
    pub(super) fn create(out: &Path, headings: &[String]) -> Result<AsideFile, CohortError> {
        let mut file = AsideFile {
            pending: Pending::create(&set_aside_path(out))?,
            writer: csv::WriterBuilder::new()
                .flexible(true)
                .from_writer(Vec::new()),
        };
        let own = ["set_aside.row", "set_aside.reason"];
        file.write(own.into_iter().chain(headings.iter().map(String::as_str)))?;
        Ok(file)
    }

    /// Takes rows set aside from a piece before which `rows_before` were read.
    pub(super) fn take(
        &mut self,
        application: &Application<'_>,
        rows_before: usize,
        aside: Vec<Aside>,
    ) -> Result<(), CohortError> {
        for row in aside {
            let number = row_told(rows_before, row.number);
            let fields = row.leaving(&application.leave, application.binding.headings.len());
            let own = [number.to_string(), row.reason];
            self.write(own.into_iter().chain(fields))?;
        }
        self.flush()
    }

    fn write<F: AsRef<[u8]>>(
        &mut self,
        fields: impl IntoIterator<Item = F>,
    ) -> Result<(), CohortError> {
        self.writer
            .write_record(fields)
            .map_err(|e| CohortError::Table {
                path: self.pending.path().to_owned(),
                message: e.to_string(),
            })
    }

    /// Moves what the writer holds into the file.
    fn flush(&mut self) -> Result<(), CohortError> {
        let path = self.pending.path().to_owned();
        self.writer.flush().map_err(|e| file_error(&path, e))?;
        let fresh = csv::WriterBuilder::new()
            .flexible(true)
            .from_writer(Vec::new());
        let full = std::mem::replace(&mut self.writer, fresh);
        let bytes = full
            .into_inner()
            .map_err(|e| file_error(&path, e.into_error()))?;
        self.pending.write(&bytes)
    }

    pub(super) fn appear(mut self) -> Result<(), CohortError> {
        self.flush()?;
        self.pending.appear()
    }
}
