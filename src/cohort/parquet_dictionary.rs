//! The distinct numbers of a column, for a dictionary of Parquet.

use std::collections::HashMap;

use foldhash::fast::FixedState;
use polars::prelude::PolarsResult;
use polars_parquet::parquet::encoding::hybrid_rle::{Encoder, encode};

/// So many distinct numbers are always worth a dictionary; beyond them, one in [`ROWS_PER_NUMBER`]
/// rows may bring a new one.
const FEW: usize = 8192;
const ROWS_PER_NUMBER: usize = 8;

/// Places where the number that was met last stands ready.
const PLACES: usize = 1 << 12;

/// Distinct numbers, by their bits.
pub(super) struct Dictionary {
    numbers: Vec<f64>,
    by_bits: HashMap<u64, u32, FixedState>,
    met: Vec<Met>,
}

/// A number that was met, and its index; beyond all indices where none was.
#[derive(Clone, Copy)]
struct Met {
    bits: u64,
    index: u32,
}

impl Dictionary {
    /// The dictionary of a column, and for each of its stretches the index of each number; none
    /// where too many numbers differ.
    pub(super) fn of<'n>(
        stretches: impl Iterator<Item = &'n [f64]>,
    ) -> Option<(Dictionary, Vec<Vec<u32>>)> {
        let vacant = Met {
            bits: 0,
            index: u32::MAX,
        };
        let mut dictionary = Dictionary {
            numbers: Vec::new(),
            by_bits: HashMap::default(),
            met: vec![vacant; PLACES],
        };
        let (mut indices, mut rows) = (Vec::new(), 0);
        for stretch in stretches {
            let mut here = Vec::with_capacity(stretch.len());
            for some in stretch.chunks(FEW) {
                here.extend(some.iter().map(|number| dictionary.index(*number)));
                rows += some.len();
                if dictionary.numbers.len() > FEW + rows / ROWS_PER_NUMBER {
                    return None;
                }
            }
            indices.push(here);
        }
        Some((dictionary, indices))
    }

    /// The distinct numbers.
    pub(super) fn numbers(&self) -> &[f64] {
        &self.numbers
    }

    #[inline]
    fn index(&mut self, number: f64) -> u32 {
        let bits = number.to_bits();
        // The upper bits of a product depend on all bits below.
        let place = (bits.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 52) as usize % PLACES;
        let met = self.met[place];
        if met.bits == bits && met.index != u32::MAX {
            return met.index;
        }
        let index = self.find(number);
        self.met[place] = Met { bits, index };
        index
    }

    fn find(&mut self, number: f64) -> u32 {
        let next = self.numbers.len() as u32;
        let index = *self.by_bits.entry(number.to_bits()).or_insert(next);
        if index == next {
            self.numbers.push(number);
        }
        index
    }
}

/// Writes indices into a dictionary.
///
/// # Errors
/// What cannot be encoded.
pub(super) fn append_indices(
    buffer: &mut Vec<u8>,
    indices: &[u32],
    dictionary: &Dictionary,
) -> PolarsResult<()> {
    let greatest = dictionary.numbers.len().saturating_sub(1) as u32;
    let bits = (u32::BITS - greatest.leading_zeros()).max(1);
    buffer.push(bits as u8);
    let again = indices.windows(2).filter(|pair| pair[0] == pair[1]).count();
    // Runs are looked for only where there are any.
    match again > indices.len() / 2 {
        true => encode(buffer, indices.iter().copied(), bits)?,
        false => u32::bitpacked_encode(buffer, indices.iter().copied(), bits as usize)?,
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_distinct_number_has_one_index() {
        let numbers: Vec<f64> = (0..20_000).map(|n| f64::from(n * 7 % 901) / 10.0).collect();
        let (first, second) = numbers.split_at(12_345);
        let (dictionary, indices) = Dictionary::of([first, second].into_iter()).unwrap();
        assert_eq!(dictionary.numbers().len(), 901);
        let back: Vec<f64> = indices
            .concat()
            .into_iter()
            .map(|index| dictionary.numbers()[index as usize])
            .collect();
        assert_eq!(back, numbers);
    }

    #[test]
    fn zeros_of_either_sign_stay_apart_and_many_numbers_have_no_dictionary() {
        let (dictionary, indices) = Dictionary::of([&[0.0, -0.0, 0.0][..]].into_iter()).unwrap();
        assert_eq!(indices, [[0, 1, 0]]);
        assert!(dictionary.numbers()[1].is_sign_negative());
        let many: Vec<f64> = (0..20_000).map(f64::from).collect();
        assert!(Dictionary::of([&many[..]].into_iter()).is_none());
    }
}
