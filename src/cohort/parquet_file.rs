//! Results as Parquet, row group by row group.

use std::fs::File;
use std::path::Path;

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
    /// Makes rows ready to be written to `out`.
    ///
    /// # Errors
    /// What cannot be encoded.
    pub(super) fn new(frame: DataFrame, pages: &Pages, out: &Path) -> Result<Ready, CohortError> {
        if frame.height() < GROUP {
            return Ok(Ready::Few(frame));
        }
        let group = pages.group(frame).map_err(|e| failed(out, &e))?;
        Ok(Ready::Group(group))
    }
}

/// The file being written.
pub(super) struct ParquetFile {
    pending: Pending,
    writer: BatchedWriter<File>,
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
            waiting: None,
        })
    }

    /// How rows are made ready for this file.
    pub(super) fn pages(&self, schema: &Schema) -> Result<Pages, CohortError> {
        Pages::new(schema).map_err(|e| failed(self.pending.path(), &e))
    }

    /// Writes on, in the order in which rows come.
    pub(super) fn take(&mut self, ready: Ready) -> Result<(), CohortError> {
        match ready {
            Ready::Few(frame) => self.join(frame),
            Ready::Group(group) => {
                if let Some(waiting) = self.waiting.take() {
                    self.write(waiting)?;
                }
                self.writer
                    .write_row_group(group.rows as u64, &group.pages)
                    .map_err(|e| failed(self.pending.path(), &e))
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
        if joined.height() < GROUP {
            self.waiting = Some(joined);
            return Ok(());
        }
        self.write(joined)
    }

    fn write(&mut self, mut frame: DataFrame) -> Result<(), CohortError> {
        if frame.height() == 0 {
            return Ok(());
        }
        frame.rechunk_mut();
        self.writer
            .write_batch(&frame)
            .map_err(|e| failed(self.pending.path(), &e))
    }

    pub(super) fn appear(mut self) -> Result<(), CohortError> {
        if let Some(rest) = self.waiting.take() {
            self.write(rest)?;
        }
        self.writer
            .finish()
            .map_err(|e| failed(self.pending.path(), &e))?;
        self.pending.appear()
    }
}

fn failed(path: &Path, error: &dyn std::fmt::Display) -> CohortError {
    CohortError::Table {
        path: path.to_owned(),
        message: format!("it cannot be written as Parquet: {error}"),
    }
}
