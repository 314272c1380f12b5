//! Funnel limits: operators side by side, each judged by how much they did.

use super::p_chart::check_counts;
use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::{compensated_sum, mean};
use crate::statistics::distribution::{binomial_cumulative, normal_quantile};
use crate::statistics::error::{
    Result, StatisticsError, check_finite, check_fraction, check_pairs, check_values,
};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// Level of the inner limits.
const INNER: f64 = 0.95;
/// Level of the outer limits.
const OUTER: f64 = 0.998;

/// Where an operator lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FunnelPosition {
    /// Within the 95 % limits.
    Inside,
    /// Beyond the 95 % limits: one in twenty steady operators is.
    BeyondInner,
    /// Beyond the 99.8 % limits.
    BeyondOuter,
}

/// One operator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FunnelPoint {
    /// Index of the operator: in the slices given for proportions, in the order of first sight for means.
    pub operator: usize,
    /// Exams.
    pub size: usize,
    /// Mean or proportion.
    pub value: f64,
    /// 95 % limits.
    pub inner: Interval,
    /// 99.8 % limits.
    pub outer: Interval,
    /// Where the value lies.
    pub position: FunnelPosition,
}

/// A funnel.
#[derive(Debug, Clone, PartialEq)]
pub struct Funnel {
    /// What every operator is compared with.
    pub target: f64,
    /// The operators.
    pub points: Vec<FunnelPoint>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Funnel of operators' means: limits `target ± z sd / sqrt(size)` with the pooled standard deviation within operators and normal quantiles
/// (Spiegelhalter 2005 Stat Med 24:1185-202). Without a target the mean of all values stands in.
///
/// # Errors
/// [`StatisticsError`] for fewer than three values, unequal lengths, a value that is not finite, fewer than two operators, no operator with two
/// values, or no variation within operators.
pub fn funnel_of_means(
    values: &[f64],
    operators: &Clusters,
    target: Option<f64>,
) -> Result<Funnel> {
    check_values("values", values, 3)?;
    check_pairs(
        "values",
        values.len(),
        "operators",
        operators.observations(),
    )?;
    if let Some(target) = target {
        check_finite("target", target)?;
    }
    check_operators(operators.count())?;
    let target = target.unwrap_or_else(|| mean(values));
    let own = |group: usize| -> Vec<f64> {
        operators
            .members(group)
            .iter()
            .map(|i| values[*i as usize])
            .collect()
    };
    let deviation = pooled_deviation(values.len(), operators, &own)?;
    let mut points = Vec::with_capacity(operators.count());
    for operator in 0..operators.count() {
        let own = own(operator);
        let error = deviation / (own.len() as f64).sqrt();
        let limits = |level: f64| -> Result<Interval> {
            Ok(Interval::around(
                target,
                normal_quantile(upper_tail(level)?)? * error,
                level,
            ))
        };
        points.push(point(
            operator,
            own.len(),
            mean(&own),
            limits(INNER)?,
            limits(OUTER)?,
        ));
    }
    Ok(finish(target, points))
}

/// Funnel of operators' proportions: exact binomial limits, interpolated between counts. With `r` the smallest count whose cumulative
/// probability F(r) exceeds p, the lower limit is `(r - (F(r) - p) / (F(r) - F(r - 1))) / size` (Spiegelhalter 2005 Stat Med 24:1185-202,
/// appendix, memory). The upper limit is that of what is not counted, mirrored, `1 - lower limit at 1 - target`, so that a share and its
/// complement get one verdict: a count is beyond a limit where the chance of it, or of one further out, is at most p. (The formula at `1 - p`
/// would lie one count lower.) Without a target the proportion over all stands in.
///
/// # Errors
/// [`StatisticsError`] for unequal lengths, a size of zero, a count above its size, fewer than two operators, or a target not strictly between 0 and 1.
pub fn funnel_of_proportions(
    counts: &[usize],
    sizes: &[usize],
    target: Option<f64>,
) -> Result<Funnel> {
    check_counts(counts, sizes)?;
    check_operators(counts.len())?;
    let target = match target {
        Some(target) => {
            check_fraction("target", target)?;
            target
        }
        None => super::p_chart::pooled(counts, sizes)?,
    };
    let mut points = Vec::with_capacity(counts.len());
    for (operator, (count, size)) in counts.iter().zip(sizes).enumerate() {
        let limits = |level: f64| Interval {
            lower: lower_limit(0.5 - level / 2.0, *size, target),
            upper: 1.0 - lower_limit(0.5 - level / 2.0, *size, 1.0 - target),
            level,
        };
        let value = *count as f64 / *size as f64;
        points.push(point(operator, *size, value, limits(INNER), limits(OUTER)));
    }
    Ok(finish(target, points))
}

fn check_operators(found: usize) -> Result<()> {
    if found < 2 {
        return Err(StatisticsError::TooFew {
            what: "operators",
            found,
            needed: 2,
        });
    }
    Ok(())
}

fn pooled_deviation(
    count: usize,
    operators: &Clusters,
    own: &dyn Fn(usize) -> Vec<f64>,
) -> Result<f64> {
    let freedom = count - operators.count();
    if freedom == 0 {
        return Err(StatisticsError::TooFew {
            what: "values of any one operator",
            found: 1,
            needed: 2,
        });
    }
    let squares = (0..operators.count()).map(|group| {
        let own = own(group);
        crate::statistics::descriptive::squares_about(&own, mean(&own))
    });
    let deviation = (compensated_sum(squares) / freedom as f64).sqrt();
    if deviation > 0.0 {
        Ok(deviation)
    } else {
        Err(StatisticsError::NoVariation {
            what: "the values within operators",
            hint: "limits would have no width: record with a finer resolution",
        })
    }
}

fn lower_limit(p: f64, size: usize, target: f64) -> f64 {
    let cumulative = |r: usize| binomial_cumulative(r, size, target);
    let (mut low, mut high) = (0, size);
    while low < high {
        let middle = low + (high - low) / 2;
        if cumulative(middle) > p {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    let (here, before) = (
        cumulative(low),
        if low == 0 { 0.0 } else { cumulative(low - 1) },
    );
    let limit = (low as f64 - (here - p) / (here - before)) / size as f64;
    limit.clamp(0.0, 1.0)
}

fn point(
    operator: usize,
    size: usize,
    value: f64,
    inner: Interval,
    outer: Interval,
) -> FunnelPoint {
    let position = if !outer.contains(value) {
        FunnelPosition::BeyondOuter
    } else if !inner.contains(value) {
        FunnelPosition::BeyondInner
    } else {
        FunnelPosition::Inside
    };
    FunnelPoint {
        operator,
        size,
        value,
        inner,
        outer,
        position,
    }
}

fn finish(target: f64, points: Vec<FunnelPoint>) -> Funnel {
    let mut warnings: Vec<Warning> = Warning::many_looks(points.len(), 1.0 - INNER)
        .into_iter()
        .collect();
    let smallest = points.iter().map(|p| p.size).min().unwrap_or(0);
    warn_few(
        &mut warnings,
        "exams of the operator with the fewest",
        smallest,
        10,
    );
    Funnel {
        target,
        points,
        warnings,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, counts, numbers};

    #[test]
    fn limits_of_proportions_agree_with_scipy() {
        // r = scipy.stats.binom.ppf(p, n, 0.2); F = scipy.stats.binom.cdf; (r - (F(r) - p) / (F(r) - F(r - 1))) / n
        // for p = .025, .001 and n = 12, 40, 400; upper limits: 1 less the same of a share of 0.8
        let judge = numbers("quality.funnel_binomial");
        let found = funnel_of_proportions(&[3, 20, 80], &[12, 40, 400], Some(0.2)).unwrap();
        for (point, judge) in found.points.iter().zip(judge.chunks(4)) {
            close(point.inner.lower, judge[0].max(0.0), 1e-11);
            close(point.inner.upper, judge[1], 1e-11);
            close(point.outer.lower, judge[2].max(0.0), 1e-11);
            close(point.outer.upper, judge[3], 1e-11);
        }
        assert_eq!(found.points[1].position, FunnelPosition::BeyondOuter);
        assert_eq!(found.points[2].position, FunnelPosition::Inside);
    }

    #[test]
    fn verdicts_are_those_of_exact_tails() {
        // min(scipy.stats.binom.cdf(k, n, p), scipy.stats.binom.sf(k - 1, n, p)) at most 0.001: 2; at most 0.025: 1; else 0
        let mut judge = counts("quality.funnel_places").into_iter();
        for size in [1, 2, 6, 12, 30] {
            for target in [0.1, 0.5, 0.878] {
                for count in 0..=size {
                    let ask = |count: usize, target: f64| {
                        let found = funnel_of_proportions(&[count, 0], &[size, 1], Some(target));
                        found.unwrap().points[0].position
                    };
                    let expected = match judge.next() {
                        Some(0) => FunnelPosition::Inside,
                        Some(1) => FunnelPosition::BeyondInner,
                        _ => FunnelPosition::BeyondOuter,
                    };
                    let found = ask(count, target);
                    assert_eq!(found, expected, "{count} of {size} at {target}");
                    assert_eq!(ask(size - count, 1.0 - target), found);
                }
            }
        }
        assert_eq!(judge.next(), None);
    }

    #[test]
    fn limits_of_means_narrow_with_the_number_of_exams() {
        let values = [19.0, 21.0, 20.0, 20.5, 19.5, 20.0, 20.0, 21.0, 24.0, 25.0];
        let operators = Clusters::new(&["a", "a", "a", "a", "a", "a", "a", "a", "b", "b"]).unwrap();
        let found = funnel_of_means(&values, &operators, Some(20.0)).unwrap();
        let [a, b] = &found.points[..] else {
            panic!("two operators")
        };
        // Pooled sd by hand: a has sum of squares 3.375 about 20.125, b 0.5; 8 degrees of freedom.
        let deviation = (3.375_f64 + 0.5).sqrt() / 8.0_f64.sqrt();
        close(
            a.inner.width(),
            2.0 * 1.959963984540054 * deviation / 8.0_f64.sqrt(),
            1e-12,
        );
        close(b.inner.width() / a.inner.width(), 2.0, 1e-12);
        assert_eq!(
            (a.position, b.position),
            (FunnelPosition::Inside, FunnelPosition::BeyondOuter)
        );
        assert!(matches!(
            found.warnings[0],
            Warning::ManyLooks { looks: 2, .. }
        ));
    }

    #[test]
    fn a_single_operator_is_refused() {
        assert!(funnel_of_proportions(&[1], &[10], None).is_err());
        assert!(
            funnel_of_means(&[1.0, 2.0, 3.0], &Clusters::new(&[1, 1, 1]).unwrap(), None).is_err()
        );
        assert!(
            funnel_of_means(&[1.0, 2.0, 3.0], &Clusters::new(&[1, 2, 3]).unwrap(), None).is_err()
        );
        assert!(funnel_of_proportions(&[1, 2], &[10, 10], Some(0.0)).is_err());
    }
}
