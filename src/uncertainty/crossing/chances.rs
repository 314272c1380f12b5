//! Errors that each row has for itself.

use super::asked::Asked;
use super::{Column, Question};
use crate::formula::simd::widest;
use crate::sheet::Sheet;
use crate::uncertainty::draws::{Draw, Shape, Stream, WIDTH};
use crate::uncertainty::error::UncertaintyError;

/// How likely rows change side when each is off for itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Chances {
    /// For each row the share of draws in which it changes side; `None` for a row without a value,
    /// or without the reading.
    pub of_row: Vec<Option<f64>>,
    /// How many rows change side on average.
    pub expected: f64,
    /// Draws for each row.
    pub draws: usize,
}

/// How likely each row changes side of a threshold when its reading has a normal error of its own,
/// with the amount as standard deviation. Draws that give no value count as not changing side.
/// `draws` is rounded up to a multiple of 256; the same `seed` gives the same figures.
///
/// # Errors
/// As [`crossings`](super::crossings), and [`UncertaintyError::Number`] for no draws.
pub fn chances(
    sheet: &Sheet,
    columns: &[Column],
    question: Question,
    draws: usize,
    seed: u64,
) -> Result<Chances, UncertaintyError> {
    if draws == 0 {
        return Err(UncertaintyError::Number {
            what: "the number of draws",
            value: 0.0,
            way_out: "use at least 1",
        });
    }
    let asked = Asked::of(sheet, columns, question)?;
    let mut block = asked.program.block::<WIDTH>();
    let blocks = draws.div_ceil(WIDTH);
    let rows = columns[asked.at].lanes.len();
    let mut of_row = Vec::with_capacity(rows);
    for row in 0..rows {
        asked.fill(&mut block, WIDTH, |_| row);
        let as_read = asked.result(&mut block)[0];
        let Some(as_read) = as_read.filter(|_| asked.has_reading(row)) else {
            of_row.push(None);
            continue;
        };
        let was_above = asked.is_above(as_read);
        let mut crossed = 0;
        for number in 0..blocks {
            let mut errors = [0.0; WIDTH];
            widest(Draw {
                stream: Stream {
                    seed,
                    block: number as u32,
                    cause: row as u32,
                },
                shape: Shape::Normal,
                out: &mut errors,
            });
            asked.put_off(&mut block, WIDTH, |i| (row, errors[i]));
            let values = asked.result(&mut block);
            let known = values.iter().flatten();
            crossed += known.filter(|v| asked.is_above(**v) != was_above).count();
        }
        of_row.push(Some(crossed as f64 / (blocks * WIDTH) as f64));
    }
    Ok(Chances {
        expected: of_row.iter().flatten().sum(),
        of_row,
        draws: blocks * WIDTH,
    })
}
