//! Rows encoded and compressed as Parquet by whichever thread made them, so that the thread that
//! writes the file only writes.

use std::path::{Path, PathBuf};

use polars::io::parquet::write::{StatisticsOptions, get_encodings};
use polars::prelude::{
    ArrayRef, CompatLevel, DataFrame, PolarsError, PolarsResult, Schema, SchemaExt,
};
use polars_arrow::array::PrimitiveArray;
use polars_parquet::parquet::error::ParquetError;
use polars_parquet::parquet::schema::Repetition;
use polars_parquet::write::{
    CompressedPage, CompressionOptions, Compressor, Encoding, ParquetType, Version, WriteOptions,
    ZstdLevel, array_to_columns, to_parquet_schema,
};

use super::error::CohortError;
use super::parquet_file::failed;
use super::parquet_numbers;

/// How columns become pages; any number of threads can ask it.
pub(super) struct Pages {
    /// The file that they are for.
    path: PathBuf,
    types: Vec<ParquetType>,
    encodings: Vec<Vec<Encoding>>,
    options: WriteOptions,
}

/// A row group, ready to be written.
pub(super) struct RowGroup {
    pub(super) rows: usize,
    /// Of each column.
    pub(super) pages: Vec<Vec<CompressedPage>>,
}

impl Pages {
    /// For rows of this schema on their way to the file in `out`.
    ///
    /// # Errors
    /// A type of column that Parquet has not.
    pub(super) fn new(schema: &Schema, out: &Path) -> Result<Pages, CohortError> {
        let schema = schema.to_arrow(CompatLevel::newest());
        let described = to_parquet_schema(&schema).map_err(|e| failed(out, &e))?;
        Ok(Pages {
            path: out.to_owned(),
            types: described.fields().to_vec(),
            encodings: get_encodings(&schema).to_vec(),
            options: WriteOptions {
                statistics: StatisticsOptions::default(),
                version: Version::V1,
                compression: CompressionOptions::Zstd(ZstdLevel::try_new(1).ok()),
                data_page_size: None,
            },
        })
    }

    /// Rows as a row group.
    ///
    /// # Errors
    /// What cannot be encoded.
    pub(super) fn group(&self, mut frame: DataFrame) -> Result<RowGroup, CohortError> {
        frame.rechunk_mut();
        let mut pages = Vec::new();
        for batch in frame.iter_chunks(CompatLevel::newest(), false) {
            let columns = batch.columns().iter().zip(&self.types);
            for ((column, kind), encoding) in columns.zip(&self.encodings) {
                let made = self.columns(column, kind, encoding);
                pages.extend(made.map_err(|e| failed(&self.path, &e))?);
            }
        }
        Ok(RowGroup {
            rows: frame.height(),
            pages,
        })
    }

    fn columns(
        &self,
        column: &ArrayRef,
        kind: &ParquetType,
        encoding: &[Encoding],
    ) -> PolarsResult<Vec<Vec<CompressedPage>>> {
        let numbers = column.as_any().downcast_ref::<PrimitiveArray<f64>>();
        if let (Some(numbers), ParquetType::PrimitiveType(kind)) = (numbers, kind)
            && kind.field_info.repetition == Repetition::Optional
        {
            let compression = self.options.compression;
            return Ok(vec![parquet_numbers::pages(numbers, kind, compression)?]);
        }
        let leaves = array_to_columns(column, kind.clone(), self.options, encoding)?;
        let compressed = leaves.into_iter().map(|pages| {
            let pages = pages
                .map(|page| page.map_err(|e| ParquetError::FeatureNotSupported(e.to_string())));
            Compressor::new(pages, self.options.compression, Vec::new())
                .collect::<Result<Vec<_>, _>>()
                .map_err(PolarsError::from)
        });
        compressed.collect()
    }
}
