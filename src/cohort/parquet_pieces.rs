//! Parquet in pieces: row groups, or parts of them where they are large.

use std::fs::File;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use polars::prelude::{
    ArrowDataType, DataFrame, Field, ParquetReader, PolarsResult, Schema, SerReader,
};

use super::error::CohortError;
use super::whole::file_error;

/// Rows of a piece, at most.
const PIECE: usize = 1 << 19;

pub(super) struct ParquetPieces {
    path: PathBuf,
    file: File,
    schema: Schema,
    /// Rows of each row group.
    groups: Vec<usize>,
    /// The row group at hand, and the rows of it that were handed out.
    group: usize,
    within: usize,
    /// Rows handed out.
    done: usize,
}

impl ParquetPieces {
    pub(super) fn new(file: File, path: &Path) -> Result<ParquetPieces, CohortError> {
        let mut reader = ParquetReader::new(handle(&file, path)?);
        let (schema, groups) = guarded(path, || {
            let schema = reader.schema()?;
            let groups = &reader.get_metadata()?.row_groups;
            let groups: Vec<usize> = groups.iter().map(|group| group.num_rows()).collect();
            Ok((schema, groups))
        })?;
        for field in schema.iter_values() {
            if !is_plain(field.dtype()) {
                return Err(CohortError::ColumnType {
                    heading: field.name.to_string(),
                    message: "its values are neither numbers, text, truth values nor dates".into(),
                });
            }
        }
        let schema = Schema::from_iter(schema.iter_values().map(Field::from));
        if schema.is_empty() {
            return Err(CohortError::NoHeading {
                path: path.to_owned(),
            });
        }
        Ok(ParquetPieces {
            path: path.to_owned(),
            file,
            schema,
            groups,
            group: 0,
            within: 0,
            done: 0,
        })
    }

    pub(super) fn headings(&self) -> Vec<String> {
        self.schema.iter_names().map(ToString::to_string).collect()
    }

    pub(super) fn schema(&self) -> Schema {
        self.schema.clone()
    }

    /// The next rows, if there are any.
    ///
    /// # Errors
    /// What cannot be read as Parquet.
    pub(super) fn next(&mut self) -> Result<Option<DataFrame>, CohortError> {
        let Some(size) = self.next_size() else {
            return Ok(None);
        };
        let file = handle(&self.file, &self.path)?;
        let slice = Some((self.done, size));
        let frame = guarded(&self.path, || {
            ParquetReader::new(file).with_slice(slice).finish()
        })?;
        if frame.height() != size {
            return Err(CohortError::Table {
                path: self.path.clone(),
                message: format!(
                    "rows {} to {} are announced, and {} of them are there",
                    self.done + 1,
                    self.done + size,
                    frame.height()
                ),
            });
        }
        self.done += size;
        self.within += size;
        Ok(Some(frame))
    }

    /// Rows of the next piece, which lies in one row group.
    fn next_size(&mut self) -> Option<usize> {
        while self.within == *self.groups.get(self.group)? {
            self.group += 1;
            self.within = 0;
        }
        let rows = self.groups[self.group];
        // Alike in size: pieces go round the threads, and none should get all the small ones.
        let share = rows.div_ceil(rows.div_ceil(PIECE));
        Some((rows - self.within).min(share))
    }
}

fn handle(file: &File, path: &Path) -> Result<File, CohortError> {
    file.try_clone().map_err(|source| file_error(path, source))
}

/// Columns that can be looked at row by row, as a number or as text.
fn is_plain(data_type: &ArrowDataType) -> bool {
    use ArrowDataType as T;
    match data_type {
        T::Dictionary(_, values, _) => is_plain(values),
        other => matches!(
            other,
            T::Null
                | T::Boolean
                | T::Int8
                | T::Int16
                | T::Int32
                | T::Int64
                | T::UInt8
                | T::UInt16
                | T::UInt32
                | T::UInt64
                | T::Float32
                | T::Float64
                | T::Date32
                | T::Date64
                | T::Timestamp(..)
                | T::Time32(_)
                | T::Time64(_)
                | T::Utf8
                | T::LargeUtf8
                | T::Utf8View
                | T::Decimal(..)
                | T::Decimal32(..)
                | T::Decimal64(..)
        ),
    }
}

/// Runs a reader of foreign bytes: damage that it did not foresee is an error, not an end.
fn guarded<T>(path: &Path, read: impl FnOnce() -> PolarsResult<T>) -> Result<T, CohortError> {
    let message = match catch_unwind(AssertUnwindSafe(read)) {
        Ok(Ok(read)) => return Ok(read),
        Ok(Err(e)) => e.to_string(),
        Err(_) => "the file is damaged".into(),
    };
    Err(CohortError::Table {
        path: path.to_owned(),
        message: format!("it cannot be read as Parquet: {message}"),
    })
}
