//! A count out of a total, with its intervals.

use super::distribution::{beta_quantile, normal_quantile};
use super::error::{Result, StatisticsError};
use super::interval::{Interval, upper_tail};

/// A proportion with two intervals. The exact one never covers less than its level; Wilson's covers it on average.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proportion {
    /// The count.
    pub count: usize,
    /// Out of how many.
    pub of: usize,
    /// `count / of`.
    pub value: f64,
    /// Clopper-Pearson interval.
    pub exact: Interval,
    /// Wilson interval, without continuity correction.
    pub wilson: Interval,
}

/// `count` out of `of`, with exact and Wilson intervals.
///
/// Exact (Clopper & Pearson 1934 Biometrika 26:404-13): the `a/2` quantile of beta(k, n - k + 1) and the `1 - a/2`
/// quantile of beta(k + 1, n - k), 0 for k = 0 and 1 for k = n.
/// Wilson (1927 J Am Stat Assoc 22:209-12): `(p + z^2/2n ± z sqrt(p (1 - p)/n + z^2/4n^2)) / (1 + z^2/n)`.
///
/// # Errors
/// [`StatisticsError`] when `of` is zero, `count` is larger than `of`, or the level is not between 0 and 1.
pub fn proportion(count: usize, of: usize, level: f64) -> Result<Proportion> {
    check_counts(
        count,
        of,
        ["numerator of a proportion", "denominator of a proportion"],
    )?;
    Ok(Proportion {
        count,
        of,
        value: count as f64 / of as f64,
        exact: exact_interval(count, of, level)?,
        wilson: wilson_interval(count, of, level)?,
    })
}

/// Refuses a share of none, and a count above its total; `names` are those of the two in messages.
pub(super) fn check_counts(
    count: usize,
    of: usize,
    [numerator, denominator]: [&'static str; 2],
) -> Result<()> {
    if of == 0 {
        return Err(StatisticsError::TooFew {
            what: denominator,
            found: 0,
            needed: 1,
        });
    }
    if count > of {
        return Err(StatisticsError::OutOfRange {
            what: numerator,
            value: count as f64,
            allowed: "at most its denominator",
        });
    }
    Ok(())
}

fn exact_interval(count: usize, of: usize, level: f64) -> Result<Interval> {
    exact(count as f64, of as f64, level)
}

/// The exact interval of `k` out of `n`, which need not be whole.
pub(super) fn exact(k: f64, n: f64, level: f64) -> Result<Interval> {
    let tail = upper_tail(level)?;
    Ok(Interval {
        lower: if k <= 0.0 {
            0.0
        } else {
            beta_quantile(1.0 - tail, k, n - k + 1.0)?
        },
        upper: if k >= n {
            1.0
        } else {
            beta_quantile(tail, k + 1.0, n - k)?
        },
        level,
    })
}

fn wilson_interval(count: usize, of: usize, level: f64) -> Result<Interval> {
    let z = normal_quantile(upper_tail(level)?)?;
    Ok(wilson(count as f64 / of as f64, of as f64, z, level))
}

/// Wilson's interval of a share `p` of `n`, which need not be whole, at the quantile `z`.
pub(super) fn wilson(p: f64, n: f64, z: f64, level: f64) -> Interval {
    let shrink = 1.0 + z * z / n;
    let center = (p + z * z / (2.0 * n)) / shrink;
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt() / shrink;
    Interval::around(center, half, level).clipped(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, number};
    use super::*;

    fn judge(found: &Proportion, name: &str) {
        // scipy.stats.binomtest(k, n).proportion_ci(0.95, method="exact") and method="wilson"
        close(
            found.exact.lower,
            number(&format!("proportion.{name}.exact_lower")),
            1e-12,
        );
        close(
            found.exact.upper,
            number(&format!("proportion.{name}.exact_upper")),
            1e-12,
        );
        close(
            found.wilson.lower,
            number(&format!("proportion.{name}.wilson_lower")),
            1e-12,
        );
        close(
            found.wilson.upper,
            number(&format!("proportion.{name}.wilson_upper")),
            1e-12,
        );
    }

    #[test]
    fn the_published_mini_fluid_counts() {
        // 20/21 and 14/18: counts of Muller 2011 Anesthesiology 115:541-7, intervals by scipy.
        judge(&proportion(20, 21, 0.95).unwrap(), "k20_n21");
        judge(&proportion(14, 18, 0.95).unwrap(), "k14_n18");
    }

    #[test]
    fn none_and_all_reach_the_ends() {
        let none = proportion(0, 12, 0.95).unwrap();
        let all = proportion(12, 12, 0.95).unwrap();
        judge(&none, "k0_n12");
        assert_eq!((none.exact.lower, all.exact.upper), (0.0, 1.0));
        close(none.exact.upper, 1.0 - all.exact.lower, 1e-13);
    }

    #[test]
    fn more_than_all_is_refused() {
        assert!(proportion(3, 2, 0.95).is_err());
        assert!(proportion(0, 0, 0.95).is_err());
        assert!(proportion(1, 2, 1.0).is_err());
    }
}
