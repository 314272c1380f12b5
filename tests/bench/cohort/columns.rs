//! Invented rows: eight readings, one in a hundred not there.

use crate::Columns;
use crate::exam_columns::INPUTS;

/// Least reading, greatest, and decimals that a ward writes down.
const RANGES: [(f64, f64, i32); INPUTS.len()] = [
    (1.6, 2.6, 2),
    (10.0, 30.0, 1),
    (50.0, 140.0, 0),
    (150.0, 195.0, 0),
    (45.0, 140.0, 0),
    (80.0, 180.0, 0),
    (40.0, 80.0, 0),
    (0.0, 20.0, 0),
];

pub struct Rows {
    pub numbers: Columns,
    /// Bit `k % 8` of byte `k / 8` of each column tells whether row `k` is there.
    pub known: Vec<Vec<u8>>,
}

pub fn invented(rows: usize) -> Rows {
    // Knuth's MMIX generator; its high bits are good enough for a benchmark.
    let mut state = 7_u64;
    let mut next = move || {
        state = state
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        state >> 40
    };
    let mut numbers = Columns::new();
    let mut known = Vec::new();
    for (low, high, decimals) in RANGES {
        let scale = 10_f64.powi(decimals);
        let mut bits = vec![0_u8; rows.div_ceil(8)];
        let column = (0..rows).map(|row| {
            if next() % 100 != 0 {
                bits[row / 8] |= 1 << (row % 8);
            }
            let share = next() as f64 / (1_u64 << 24) as f64;
            ((low + (high - low) * share) * scale).round() / scale
        });
        numbers.push(column.collect());
        known.push(bits);
    }
    Rows { numbers, known }
}

impl Rows {
    pub fn is_known(&self, column: usize, row: usize) -> bool {
        self.known[column][row / 8] & (1 << (row % 8)) != 0
    }
}
