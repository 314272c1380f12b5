//! Correlations between readings that a sheet states together.

use crate::formula::CellId;

/// The correlation of two readings among those that are stated, whichever stands first; 0 where
/// none is.
pub(crate) fn stated_between(
    mut stated: impl Iterator<Item = (CellId, CellId, f64)>,
    a: CellId,
    b: CellId,
) -> f64 {
    let found = stated.find(|pair| is_pair(pair, a, b));
    found.map_or(0.0, |(_, _, value)| value)
}

/// Whether a correlation is one of these two readings, whichever stands first.
pub(super) fn is_pair((first, second, _): &(CellId, CellId, f64), a: CellId, b: CellId) -> bool {
    [(a, b), (b, a)].contains(&(*first, *second))
}

/// The Cholesky factor of a matrix of correlations, row by row; `between` tells them.
///
/// # Errors
/// The first row at which the correlations contradict those before: no readings can have them all
/// at once.
pub(crate) fn factor(
    size: usize,
    between: impl Fn(usize, usize) -> f64,
) -> Result<Vec<Vec<f64>>, usize> {
    // Correlations are typed by people: a pivot this close to zero is zero.
    const ZERO: f64 = 1e-12;
    let mut rows: Vec<Vec<f64>> = Vec::with_capacity(size);
    for i in 0..size {
        let mut row: Vec<f64> = Vec::with_capacity(i + 1);
        for (j, above) in rows.iter().enumerate() {
            let done: f64 = row
                .iter()
                .zip(above)
                .map(|(here, above)| here * above)
                .sum();
            let rest = between(i, j) - done;
            let pivot = above[j];
            row.push(match pivot > 0.0 {
                true => rest / pivot,
                false if rest.abs() <= 1e-6 => 0.0,
                false => return Err(i),
            });
        }
        let rest = 1.0 - row.iter().map(|x| x * x).sum::<f64>();
        if rest < -ZERO {
            return Err(i);
        }
        row.push(if rest <= ZERO { 0.0 } else { rest.sqrt() });
        rows.push(row);
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_factor_times_itself_gives_the_correlations_back() {
        let stated = [[1.0, 0.5, -0.25], [0.5, 1.0, 0.1], [-0.25, 0.1, 1.0]];
        let rows = factor(3, |i, j| stated[i][j]).unwrap();
        for (i, row) in rows.iter().enumerate() {
            for (j, other) in rows.iter().enumerate().take(i + 1) {
                let product: f64 = row.iter().zip(other).map(|(a, b)| a * b).sum();
                assert!((product - stated[i][j]).abs() < 1e-15);
            }
        }
    }

    #[test]
    fn a_contradiction_shows_at_the_row_that_brings_it() {
        let stated = [[1.0, 0.9, -0.9], [0.9, 1.0, 0.9], [-0.9, 0.9, 1.0]];
        assert_eq!(factor(3, |i, j| stated[i][j]), Err(2));
    }
}
