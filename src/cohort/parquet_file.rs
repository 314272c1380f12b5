//! Results as Parquet, row group by row group.

use std::fs::File;
use std::path::Path;
use std::sync::Arc;

use polars::io::parquet::write::BatchedWriter;
use polars::prelude::{DataFrame, ParquetWriter, Schema};

use super::error::CohortError;
use super::parquet_pages::{Pages, RowGroup};
use super::whole::Pending;

/// Rows of the smallest row group; pieces with fewer are joined.
const GROUP: usize = 1 << 15;

/// Rows on their way into the file.
pub(super) enum Ready {
    /// A row group of its own.
    Group(RowGroup),
    /// Too few for one.
    Few(DataFrame),
}

impl Ready {
    /// Makes rows ready to be written.
    ///
    /// # Errors
    /// What cannot be encoded.
    pub(super) fn new(frame: DataFrame, pages: &Pages) -> Result<Ready, CohortError> {
        match frame.height() < GROUP {
            true => Ok(Ready::Few(frame)),
            false => Ok(Ready::Group(pages.group(frame)?)),
        }
    }
}

/// The file being written.
pub(super) struct ParquetFile {
    pending: Pending,
    writer: BatchedWriter<File>,
    pages: Arc<Pages>,
    /// Rows that wait for their row group to be full.
    waiting: Option<DataFrame>,
}

impl ParquetFile {
    pub(super) fn create(out: &Path, schema: &Schema) -> Result<ParquetFile, CohortError> {
        let pending = Pending::create(out)?;
        let file = pending.handle()?;
        let writer = ParquetWriter::new(file)
            .batched(schema)
            .map_err(|e| failed(out, &e))?;
        Ok(ParquetFile {
            pending,
            writer,
            pages: Arc::new(Pages::new(schema, out)?),
            waiting: None,
        })
    }

    /// How rows are made ready for this file.
    pub(super) fn pages(&self) -> Arc<Pages> {
        self.pages.clone()
    }

    /// Writes on, in the order in which rows come.
    pub(super) fn take(&mut self, ready: Ready) -> Result<(), CohortError> {
        match ready {
            Ready::Few(frame) => self.join(frame),
            Ready::Group(group) => {
                self.write_waiting()?;
                self.write(&group)
            }
        }
    }

    fn join(&mut self, frame: DataFrame) -> Result<(), CohortError> {
        let mut joined = frame;
        if let Some(mut waiting) = self.waiting.take() {
            waiting
                .vstack_mut_owned(joined)
                .map_err(|e| failed(self.pending.path(), &e))?;
            joined = waiting;
        }
        let is_full = joined.height() >= GROUP;
        self.waiting = Some(joined);
        match is_full {
            true => self.write_waiting(),
            false => Ok(()),
        }
    }

    fn write_waiting(&mut self) -> Result<(), CohortError> {
        match self.waiting.take() {
            Some(frame) if frame.height() > 0 => self.write(&self.pages.clone().group(frame)?),
            _ => Ok(()),
        }
    }

    fn write(&mut self, group: &RowGroup) -> Result<(), CohortError> {
        self.writer
            .write_row_group(group.rows as u64, &group.pages)
            .map_err(|e| failed(self.pending.path(), &e))
    }

    pub(super) fn appear(mut self) -> Result<(), CohortError> {
        self.write_waiting()?;
        self.writer
            .finish()
            .map_err(|e| failed(self.pending.path(), &e))?;
        self.pending.appear()
    }
}

pub(super) fn failed(path: &Path, error: &dyn std::fmt::Display) -> CohortError {
    CohortError::Table {
        path: path.to_owned(),
        message: format!("it cannot be written as Parquet: {error}"),
    }
}
