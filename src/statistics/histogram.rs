//! Counting values in bins.

use super::error::{Result, StatisticsError, check_values};
use super::quantile::quantile_of_sorted;

/// How to choose the bins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Binning<'a> {
    /// This many bins of one width, from the smallest to the largest value.
    Count(usize),
    /// Given edges, ascending; values outside are an error.
    Edges(&'a [f64]),
    /// `ceil(log2 n) + 1`-like count of Sturges 1926 J Am Stat Assoc 21:65-6: `range / (log2 n + 1)` as the width.
    Sturges,
    /// Width `2 IQR / n^(1/3)` of Freedman & Diaconis 1981 Z Wahrscheinlichkeitstheorie 57:453-76; Sturges when the IQR is zero.
    FreedmanDiaconis,
}

/// Counts between edges. Each bin holds its lower edge; the last holds both.
#[derive(Debug, Clone, PartialEq)]
pub struct Histogram {
    /// Edges, one more than bins.
    pub edges: Vec<f64>,
    /// Values in each bin.
    pub counts: Vec<usize>,
}

/// At most this many bins, so that one outlier cannot ask for more memory than there is.
const MOST_BINS: usize = 100_000;

/// Counts `values` in bins.
///
/// # Errors
/// [`StatisticsError`] for no values, a value that is not finite, edges that do not ascend, a value outside the
/// edges, or a count of bins outside 1 to 100 000.
pub fn histogram(values: &[f64], binning: Binning<'_>) -> Result<Histogram> {
    check_values("values", values, 1)?;
    let edges = edges(values, binning)?;
    let mut counts = vec![0; edges.len() - 1];
    for (index, value) in values.iter().enumerate() {
        let bin = bin_of(&edges, *value).ok_or(StatisticsError::OutOfDomain {
            what: "values",
            index,
            value: *value,
            allowed: "between the first and the last edge",
        })?;
        counts[bin] += 1;
    }
    Ok(Histogram { edges, counts })
}

fn bin_of(edges: &[f64], value: f64) -> Option<usize> {
    let last = edges.len() - 1;
    if value < edges[0] || value > edges[last] {
        return None;
    }
    let upper = edges.partition_point(|edge| *edge <= value);
    Some(upper.min(last) - 1)
}

fn edges(values: &[f64], binning: Binning<'_>) -> Result<Vec<f64>> {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let range = sorted[sorted.len() - 1] - sorted[0];
    super::error::check_finite("range of the values", range)?;
    let count = match binning {
        Binning::Edges(edges) => return checked_edges(edges),
        Binning::Count(count) => count as f64,
        Binning::Sturges => count_for(range, sturges_width(range, sorted.len())),
        Binning::FreedmanDiaconis => count_for(range, freedman_diaconis_width(&sorted, range)),
    };
    if !(count >= 1.0 && count <= MOST_BINS as f64) {
        return Err(StatisticsError::OutOfRange {
            what: "number of bins",
            value: count,
            allowed: "from 1 to 100000; give edges or a count instead",
        });
    }
    Ok(even_edges(
        sorted[0],
        sorted[sorted.len() - 1],
        count as usize,
    ))
}

fn checked_edges(edges: &[f64]) -> Result<Vec<f64>> {
    check_values("edges", edges, 2)?;
    match edges.windows(2).position(|pair| pair[0] >= pair[1]) {
        Some(index) => Err(StatisticsError::OutOfDomain {
            what: "edges",
            index: index + 1,
            value: edges[index + 1],
            allowed: "above the edge before it",
        }),
        None => Ok(edges.to_vec()),
    }
}

fn sturges_width(range: f64, count: usize) -> f64 {
    range / ((count as f64).log2() + 1.0)
}

fn freedman_diaconis_width(sorted: &[f64], range: f64) -> f64 {
    let spread = quantile_of_sorted(sorted, 0.75) - quantile_of_sorted(sorted, 0.25);
    if spread > 0.0 {
        2.0 * spread / libm::cbrt(sorted.len() as f64)
    } else {
        sturges_width(range, sorted.len())
    }
}

fn count_for(range: f64, width: f64) -> f64 {
    if width > 0.0 {
        (range / width).ceil().max(1.0)
    } else {
        1.0
    }
}

/// Values that are all equal get half a unit on each side.
fn even_edges(smallest: f64, largest: f64, bins: usize) -> Vec<f64> {
    let (low, high) = if smallest == largest {
        (smallest - 0.5, largest + 0.5)
    } else {
        (smallest, largest)
    };
    let step = (high - low) / bins as f64;
    (0..=bins)
        .map(|i| {
            if i == bins {
                high
            } else {
                low + step * i as f64
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{all_close, counts, numbers};
    use super::*;

    #[test]
    fn agrees_with_numpy() {
        let values = numbers("descriptive.sample");
        // numpy.histogram(x, bins=5), numpy.histogram(x, bins="sturges"), numpy.histogram(x, bins="fd")
        let cases = [
            (Binning::Count(5), "five"),
            (Binning::Sturges, "sturges"),
            (Binning::FreedmanDiaconis, "fd"),
        ];
        for (binning, name) in cases {
            let found = histogram(&values, binning).unwrap();
            let judged: Vec<u64> = found.counts.iter().map(|c| *c as u64).collect();
            assert_eq!(
                judged,
                counts(&format!("descriptive.histogram_{name}_counts"))
            );
            all_close(
                &found.edges,
                &numbers(&format!("descriptive.histogram_{name}_edges")),
                1e-14,
            );
        }
    }

    #[test]
    fn the_last_bin_holds_its_upper_edge() {
        let found = histogram(&[0.0, 1.0, 1.0, 2.0], Binning::Edges(&[0.0, 1.0, 2.0])).unwrap();
        assert_eq!(found.counts, [1, 3]);
    }

    #[test]
    fn nothing_is_lost_silently() {
        let outside = histogram(&[0.0, 5.0], Binning::Edges(&[0.0, 1.0]));
        assert!(matches!(
            outside,
            Err(StatisticsError::OutOfDomain { index: 1, .. })
        ));
        assert!(histogram(&[1.0, 2.0], Binning::Edges(&[1.0, 1.0])).is_err());
        assert!(histogram(&[1.0, 2.0], Binning::Count(0)).is_err());
        assert_eq!(
            histogram(&[2.0; 4], Binning::FreedmanDiaconis)
                .unwrap()
                .counts,
            [4]
        );
        // Two values so far apart that their range is not a number the bins could share.
        assert!(histogram(&[f64::MIN, f64::MAX], Binning::Count(3)).is_err());
    }
}
