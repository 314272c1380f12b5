//! Results as Parquet, row group by row group.

use std::fs::File;
use std::path::Path;

use polars::io::parquet::write::BatchedWriter;
use polars::prelude::{DataFrame, ParquetWriter, Schema};

use super::error::CohortError;
use super::whole::Pending;

/// Rows of a row group, about.
const GROUP: usize = 1 << 18;

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

    pub(super) fn take(&mut self, frame: DataFrame) -> Result<(), CohortError> {
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
