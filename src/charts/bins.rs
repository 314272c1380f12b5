//! Bins of one round width, and how wide they should be.

use super::range::Range;
use super::ticks::Step;

/// The rule's bins are kept below this.
const MOST_RULE_BINS: f64 = 60.0;

/// Bins of one width; bin `i` holds what is at least `(first + i) * width` and less than the next edge.
pub(super) struct Bins {
    pub step: Step,
    first: f64,
    pub counts: Vec<usize>,
}

impl Bins {
    pub fn of(sorted: &[f64], step: Step) -> Bins {
        let position = |v: f64| step.position(v);
        let first = sorted.first().map_or(0.0, |v| position(*v));
        let last = sorted.last().map_or(0.0, |v| position(*v));
        let mut counts = vec![0; (last - first) as usize + 1];
        for value in sorted {
            let index = (position(*value) - first) as usize;
            if let Some(count) = counts.get_mut(index) {
                *count += 1;
            }
        }
        Bins {
            step,
            first,
            counts,
        }
    }

    pub fn edge(&self, index: usize) -> f64 {
        self.step.times(self.first + index as f64)
    }

    pub fn range(&self) -> Range {
        Range {
            low: self.edge(0),
            high: self.edge(self.counts.len()),
        }
    }

    pub fn most(&self) -> usize {
        self.counts.iter().copied().max().unwrap_or(0)
    }

    /// The fullest bin, the first on a tie.
    pub fn fullest(&self) -> usize {
        self.counts
            .iter()
            .position(|count| *count == self.most())
            .unwrap_or(0)
    }
}

/// Linear interpolation between order statistics (type 7 of Hyndman and Fan, Am Stat 1996;50:361-5).
pub(super) fn quantile(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return 0.0;
    };
    let position = share * last as f64;
    let below = position.floor() as usize;
    let (low, high) = (sorted[below], sorted[(below + 1).min(last)]);
    low + (high - low) * (position - below as f64)
}

/// Twice the interquartile range over the cube root of the count, or Sturges' rule where that range is zero.
pub(super) fn rule_width(sorted: &[f64], open: Range) -> f64 {
    let count = sorted.len() as f64;
    let quartiles = quantile(sorted, 0.75) - quantile(sorted, 0.25);
    let width = 2.0 * quartiles / count.cbrt();
    let sturges = open.span() / (count.log2().ceil() + 1.0);
    let width = if width > 0.0 { width } else { sturges };
    width.clamp(open.span() / MOST_RULE_BINS, open.span())
}

#[cfg(test)]
mod tests {
    use super::*;

    // R's quantile() of type 7 for 1, 2, 3, 4, 10: quartiles 2, 3 and 4 (from its definition).
    #[test]
    fn quantiles_are_of_type_7() {
        let sorted = [1.0, 2.0, 3.0, 4.0, 10.0];
        assert_eq!(
            [0.25, 0.5, 0.75].map(|p| quantile(&sorted, p)),
            [2.0, 3.0, 4.0]
        );
        assert_eq!(quantile(&[1.0, 2.0], 0.5), 1.5);
    }
}
