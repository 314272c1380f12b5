//! A column of numbers as pages of Parquet.
//!
//! Most columns are numbers, so they are encoded here. Readings have few digits, so that few
//! distinct numbers occur: those go into a dictionary. Where there are many, numbers stand as they
//! are, compressed only if that makes them smaller. Everything else of the format comes from
//! `polars-parquet`.

use std::borrow::Cow;

use polars::prelude::PolarsResult;
use polars_arrow::array::PrimitiveArray;
use polars_arrow::bitmap::Bitmap;
use polars_parquet::parquet::encoding::uleb128;
use polars_parquet::parquet::metadata::Descriptor;
use polars_parquet::parquet::page::{DataPage, DataPageHeader, DataPageHeaderV1, DictPage, Page};
use polars_parquet::parquet::schema::types::PrimitiveType;
use polars_parquet::parquet::statistics::PrimitiveStatistics;
use polars_parquet::parquet::types::NativeType;
use polars_parquet::parquet::{CowBuffer, compression};
use polars_parquet::write::{
    CompressedPage, CompressionOptions, Encoding, Version, compress, write_def_levels,
};

use super::parquet_dictionary::{Dictionary, append_indices};

/// Rows of a page: a mebibyte of numbers.
const PAGE: usize = 1 << 17;

/// A sample of a column must become smaller than this part of itself, or the column is not
/// compressed.
const WORTHWHILE: f64 = 0.9;

/// Bytes of the sample.
const SAMPLE: usize = 1 << 16;

/// The pages of a column.
///
/// # Errors
/// What cannot be encoded or compressed.
pub(super) fn pages(
    numbers: &PrimitiveArray<f64>,
    kind: &PrimitiveType,
    compression: CompressionOptions,
) -> PolarsResult<Vec<CompressedPage>> {
    let starts = (0..numbers.len()).step_by(PAGE);
    let stretches: Vec<Stretch<'_>> = starts
        .map(|start| Stretch::of(numbers, start, PAGE.min(numbers.len() - start)))
        .collect();
    let indices = Dictionary::of(stretches.iter().map(|stretch| &*stretch.known));
    let mut made = Vec::with_capacity(stretches.len() + 1);
    match &indices {
        Some((dictionary, indices)) => {
            made.push(dictionary_page(dictionary));
            for (stretch, indices) in stretches.iter().zip(indices) {
                let append = |buffer: &mut Vec<u8>| append_indices(buffer, indices, dictionary);
                made.push(stretch.page(kind, Encoding::RleDictionary, append)?);
            }
        }
        None => {
            for stretch in &stretches {
                let append = |buffer: &mut Vec<u8>| {
                    append_numbers(buffer, &stretch.known);
                    Ok(())
                };
                made.push(stretch.page(kind, Encoding::Plain, append)?);
            }
        }
    }
    compressed(made, compression)
}

/// Pages compressed, or all as they are where a sample hardly becomes smaller.
fn compressed(
    pages: Vec<Page>,
    compression: CompressionOptions,
) -> PolarsResult<Vec<CompressedPage>> {
    let chosen = match is_worthwhile(&pages, compression)? {
        true => compression,
        false => CompressionOptions::Uncompressed,
    };
    let pages = pages.into_iter();
    let all = pages.map(|page| Ok(compress(page, Vec::new(), chosen)?));
    all.collect()
}

/// Whether a sample of the data becomes smaller.
fn is_worthwhile(pages: &[Page], compression: CompressionOptions) -> PolarsResult<bool> {
    let data = pages.iter().find_map(|page| match page {
        Page::Data(page) => Some(page.buffer()),
        Page::Dict(_) => None,
    });
    let data = data.unwrap_or_default();
    // From the middle, behind the marks of what is there.
    let sample = &data[data.len() / 2..];
    let sample = &sample[..sample.len().min(SAMPLE)];
    let mut compressed = Vec::new();
    compression::compress(compression, sample, &mut compressed)?;
    Ok((compressed.len() as f64) < WORTHWHILE * sample.len() as f64)
}

/// The rows of a page.
struct Stretch<'a> {
    rows: usize,
    /// Which numbers are there, where any is not.
    there: Option<Bitmap>,
    /// Those that are there.
    known: Cow<'a, [f64]>,
}

impl Stretch<'_> {
    fn of(numbers: &PrimitiveArray<f64>, start: usize, rows: usize) -> Stretch<'_> {
        let values = &numbers.values().as_slice()[start..start + rows];
        let there = numbers
            .validity()
            .map(|all| all.clone().sliced(start, rows));
        let there = there.filter(|there| there.unset_bits() > 0);
        let known = match &there {
            None => Cow::Borrowed(values),
            Some(there) => Cow::Owned(known(values, there)),
        };
        Stretch { rows, there, known }
    }

    /// A page, after whose marks of what is there `append` writes the numbers.
    fn page(
        &self,
        kind: &PrimitiveType,
        encoding: Encoding,
        append: impl FnOnce(&mut Vec<u8>) -> PolarsResult<()>,
    ) -> PolarsResult<Page> {
        let mut buffer = Vec::with_capacity(size_of::<f64>() * self.rows + self.rows / 4 + 64);
        self.append_marks(&mut buffer)?;
        append(&mut buffer)?;
        let range = range(&self.known);
        let statistics = PrimitiveStatistics::<f64> {
            primitive_type: kind.clone(),
            null_count: Some((self.rows - self.known.len()) as i64),
            distinct_count: None,
            min_value: range.map(|range| range.least.norm_min()),
            max_value: range.map(|range| range.greatest.norm_max()),
        };
        let header = DataPageHeader::V1(DataPageHeaderV1 {
            num_values: self.rows as i32,
            encoding: encoding.into(),
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
        let page = DataPage::new(header, buffer, descriptor, self.rows);
        Ok(Page::Data(page))
    }

    /// Writes which numbers are there.
    fn append_marks(&self, buffer: &mut Vec<u8>) -> PolarsResult<()> {
        let there = self.there.as_ref();
        match there.map(Bitmap::as_slice) {
            // Marks stand bit by bit in either format.
            Some((bytes, 0, rows)) => {
                let mut header = [0; 10];
                let used = uleb128::encode((rows.div_ceil(8) as u64) << 1 | 1, &mut header);
                buffer.extend_from_slice(&((used + bytes.len()) as u32).to_le_bytes());
                buffer.extend_from_slice(&header[..used]);
                buffer.extend_from_slice(bytes);
                Ok(())
            }
            _ => write_def_levels(buffer, true, there, self.rows, Version::V1),
        }
    }
}

/// The numbers that are there.
fn known(numbers: &[f64], there: &Bitmap) -> Vec<f64> {
    let mut known = Vec::with_capacity(numbers.len());
    let (mut marks, mut at) = (there.iter(), 0);
    while at < numbers.len() {
        let there = marks.take_leading_ones();
        known.extend_from_slice(&numbers[at..at + there]);
        at += there + marks.take_leading_zeros();
    }
    known
}

fn dictionary_page(dictionary: &Dictionary) -> Page {
    let mut buffer = Vec::new();
    append_numbers(&mut buffer, dictionary.numbers());
    let buffer = CowBuffer::Owned(buffer);
    Page::Dict(DictPage::new(buffer, dictionary.numbers().len(), false))
}

fn append_numbers(buffer: &mut Vec<u8>, numbers: &[f64]) {
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
        let (low, high) = (least[lane], greatest[lane]);
        least[lane] = if number < low { number } else { low };
        greatest[lane] = if number > high { number } else { high };
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_of_numbers_passes_over_nothing() {
        let numbers: Vec<f64> = (0..37).map(|n| f64::from((n * 17) % 37) - 18.0).collect();
        for len in 1..numbers.len() {
            let some = &numbers[..len];
            let found = range(some).unwrap();
            assert_eq!(
                found.least,
                some.iter().copied().fold(f64::INFINITY, f64::min)
            );
            assert_eq!(
                found.greatest,
                some.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            );
        }
        assert_eq!(range(&[]), None);
        assert_eq!(range(&[1.0, f64::NAN]), None);
    }

    #[test]
    fn numbers_that_are_not_there_are_left_out() {
        let there: Bitmap = [true, true, false, false, true, false]
            .into_iter()
            .collect();
        assert_eq!(
            known(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0], &there),
            [1.0, 2.0, 5.0]
        );
    }
}
