//! A column of numbers as pages of Parquet.
//!
//! Most columns of results are numbers, so they are encoded here: bytes are copied in stretches,
//! least and greatest are found in the same walk, and a column that compression hardly makes
//! smaller is stored as it is, which is quicker to write and to read. Everything else of the
//! format comes from `polars-parquet`.

use std::borrow::Cow;

use polars::prelude::PolarsResult;
use polars_arrow::array::PrimitiveArray;
use polars_arrow::bitmap::Bitmap;
use polars_parquet::parquet::CowBuffer;
use polars_parquet::parquet::metadata::Descriptor;
use polars_parquet::parquet::page::{DataPage, DataPageHeader, DataPageHeaderV1, Page};
use polars_parquet::parquet::schema::types::PrimitiveType;
use polars_parquet::parquet::statistics::PrimitiveStatistics;
use polars_parquet::parquet::types::NativeType;
use polars_parquet::write::{
    CompressedPage, CompressionOptions, Encoding, Version, compress, write_def_levels,
};

/// Rows of a page: a mebibyte of numbers.
const PAGE: usize = 1 << 17;

/// The first page must become smaller than this part of itself, or the column is not compressed.
const WORTHWHILE: f64 = 0.9;

/// The pages of a column.
///
/// # Errors
/// What cannot be compressed.
pub(super) fn pages(
    numbers: &PrimitiveArray<f64>,
    kind: &PrimitiveType,
    compression: CompressionOptions,
) -> PolarsResult<Vec<CompressedPage>> {
    let mut chosen = compression;
    let mut pages = Vec::with_capacity(numbers.len() / PAGE + 1);
    for start in (0..numbers.len()).step_by(PAGE) {
        let len = PAGE.min(numbers.len() - start);
        let stretch = numbers.clone().sliced(start, len);
        let mut page = compress(plain(&stretch, kind)?, Vec::new(), chosen)?;
        if start == 0 && !is_worthwhile(&page) {
            chosen = CompressionOptions::Uncompressed;
            page = compress(plain(&stretch, kind)?, Vec::new(), chosen)?;
        }
        pages.push(page);
    }
    Ok(pages)
}

fn is_worthwhile(page: &CompressedPage) -> bool {
    let CompressedPage::Data(page) = page else {
        return true;
    };
    (page.compressed_size() as f64) < WORTHWHILE * page.uncompressed_size() as f64
}

/// Numbers as they are, after the marks of those that are not there.
fn plain(numbers: &PrimitiveArray<f64>, kind: &PrimitiveType) -> PolarsResult<Page> {
    let rows = numbers.len();
    let validity = numbers
        .validity()
        .filter(|validity| validity.unset_bits() > 0);
    let mut buffer = Vec::with_capacity(size_of::<f64>() * rows + rows / 4 + 64);
    write_def_levels(&mut buffer, true, validity, rows, Version::V1)?;
    let known = match validity {
        None => Cow::Borrowed(numbers.values().as_slice()),
        Some(validity) => Cow::Owned(known(numbers.values(), validity)),
    };
    append(&mut buffer, &known);
    let range = range(&known);
    let statistics = PrimitiveStatistics::<f64> {
        primitive_type: kind.clone(),
        null_count: Some((rows - known.len()) as i64),
        distinct_count: None,
        min_value: range.map(|range| range.least.norm_min()),
        max_value: range.map(|range| range.greatest.norm_max()),
    };
    let header = DataPageHeader::V1(DataPageHeaderV1 {
        num_values: rows as i32,
        encoding: Encoding::Plain.into(),
        definition_level_encoding: Encoding::Rle.into(),
        repetition_level_encoding: Encoding::Rle.into(),
        statistics: Some(statistics.serialize()),
    });
    // The levels stand in the description of the file; a page is asked for its type only.
    let descriptor = Descriptor {
        primitive_type: kind.clone(),
        max_def_level: 0,
        max_rep_level: 0,
    };
    let buffer = CowBuffer::Owned(buffer);
    Ok(Page::Data(DataPage::new(header, buffer, descriptor, rows)))
}

/// The numbers that are there.
fn known(numbers: &[f64], validity: &Bitmap) -> Vec<f64> {
    let mut known = Vec::with_capacity(numbers.len());
    let (mut marks, mut at) = (validity.iter(), 0);
    while at < numbers.len() {
        let there = marks.take_leading_ones();
        known.extend_from_slice(&numbers[at..at + there]);
        at += there + marks.take_leading_zeros();
    }
    known
}

fn append(buffer: &mut Vec<u8>, numbers: &[f64]) {
    let start = buffer.len();
    buffer.resize(start + size_of_val(numbers), 0);
    let (places, _) = buffer[start..].as_chunks_mut();
    for (place, number) in places.iter_mut().zip(numbers) {
        *place = number.to_le_bytes();
    }
}

/// From the least to the greatest number.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Range {
    least: f64,
    greatest: f64,
}

/// Least and greatest; none where there are no numbers, or one is not a number.
fn range(numbers: &[f64]) -> Option<Range> {
    /// Numbers looked at side by side, so that they become vector code.
    const WIDTH: usize = 16;
    let (mut least, mut greatest) = ([f64::INFINITY; WIDTH], [f64::NEG_INFINITY; WIDTH]);
    let mut is_number = [true; WIDTH];
    let mut look = |lane: usize, number: f64| {
        least[lane] = if number < least[lane] { number } else { least[lane] };
        greatest[lane] = if number > greatest[lane] { number } else { greatest[lane] };
        is_number[lane] &= !number.is_nan();
    };
    let (rows, rest) = numbers.as_chunks::<WIDTH>();
    for row in rows {
        for (lane, number) in row.iter().enumerate() {
            look(lane, *number);
        }
    }
    for (lane, number) in rest.iter().enumerate() {
        look(lane, *number);
    }
    let is_told = !numbers.is_empty() && is_number.iter().all(|is| *is);
    let least = least.into_iter().fold(f64::INFINITY, f64::min);
    let greatest = greatest.into_iter().fold(f64::NEG_INFINITY, f64::max);
    is_told.then_some(Range { least, greatest })
}
