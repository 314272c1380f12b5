//! A share of observations of which several may be one patient's.

use super::cluster::Clusters;
use super::descriptive::compensated_sum;
use super::distribution::t_quantile;
use super::error::{Result, check_pairs};
use super::interval::{Interval, upper_tail};
use super::proportion::wilson;
use super::warning::{Warning, warn_few};

/// A share with an interval that allows for observations of one patient being alike.
#[derive(Debug, Clone, PartialEq)]
pub struct ClusteredProportion {
    /// The count.
    pub count: usize,
    /// Out of how many observations.
    pub of: usize,
    /// Of how many patients.
    pub patients: usize,
    /// `count / of`.
    pub value: f64,
    /// How many times the variance of independent observations this one is; at least 1.
    pub design_effect: f64,
    /// Independent observations that would tell as much: `of / design_effect`.
    pub effective: f64,
    /// Wilson's interval of the effective number, with Student's t over the patients.
    pub interval: Interval,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// The share of `positive` observations, several of which may be one patient's.
///
/// Variance of the share: `G / (G - 1) sum_g (sum of (y - p) in g)^2 / n^2` over G patients, the cluster-robust one; the design
/// effect is that over `p (1 - p) / n`, and at least 1, so that the interval is never narrower than that of independent observations.
/// The effective number replaces n in Wilson's interval, and Student's t on G - 1 degrees of freedom the normal quantile (Korn & Graubard
/// 1998 Surv Methodol 24:193-201 do so with the exact interval, memory). Where all or none are positive there is no variance to compare,
/// and patients are counted in place of observations.
///
/// ```
/// use semilunar::statistics::{Clusters, proportion_clustered};
///
/// let patients = Clusters::new(&["a", "a", "b", "b", "c", "c", "d", "d"])?;
/// let found = proportion_clustered(&[true, true, false, false, true, true, false, false], &patients, 0.95)?;
/// // Each patient's second answer repeats the first.
/// assert!(found.effective < 4.0);
/// # Ok::<(), semilunar::statistics::StatisticsError>(())
/// ```
///
/// # Errors
/// [`StatisticsError`](super::StatisticsError) for unequal lengths, fewer than two patients, or a level not between 0 and 1.
pub fn proportion_clustered(
    positive: &[bool],
    patients: &Clusters,
    level: f64,
) -> Result<ClusteredProportion> {
    check_pairs(
        "observations",
        positive.len(),
        "patient identifiers",
        patients.observations(),
    )?;
    let groups = patients.count();
    patients.check_two()?;
    let (count, of) = (positive.iter().filter(|p| **p).count(), positive.len());
    let (n, g) = (of as f64, groups as f64);
    let value = count as f64 / n;
    let alone = value * (1.0 - value) / n;
    let of_patient = |group: usize| {
        let members = patients.members(group).iter();
        let hits = members.filter(|m| positive[**m as usize]).count() as f64;
        let off = hits - value * patients.members(group).len() as f64;
        off * off
    };
    let together = g / (g - 1.0) * compensated_sum((0..groups).map(of_patient)) / (n * n);
    let design_effect = match alone > 0.0 {
        true => (together / alone).max(1.0),
        false => n / g,
    };
    let effective = n / design_effect;
    let t = t_quantile(upper_tail(level)?, g - 1.0)?;
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "patients", groups, 10);
    Ok(ClusteredProportion {
        count,
        of,
        patients: groups,
        value,
        design_effect,
        effective,
        interval: wilson(value, effective, t, level),
        warnings,
    })
}

#[cfg(test)]
mod tests {
    use super::super::oracle::{close, counts, numbers};
    use super::super::proportion::proportion;
    use super::*;

    #[test]
    fn agrees_with_statsmodels() {
        // statsmodels: OLS(y, 1).fit(cov_type="cluster", cov_kwds={"groups": patient}) gives the variance of the share;
        // proportion_confint(p * n / deff, n / deff, alpha, "wilson") with the alpha whose normal quantile is t(0.975, G - 1)
        let judge = numbers("clustered.share");
        let positive: Vec<bool> = counts("clustered.positive")
            .iter()
            .map(|p| *p == 1)
            .collect();
        let patients = Clusters::new(&counts("clustered.patient")).unwrap();
        let found = proportion_clustered(&positive, &patients, 0.95).unwrap();
        close(found.value, judge[0], 1e-14);
        close(found.design_effect, judge[1], 1e-11);
        close(found.interval.lower, judge[2], 1e-10);
        close(found.interval.upper, judge[3], 1e-10);
        assert!(found.design_effect > 1.5);
    }

    #[test]
    fn independent_observations_have_no_design_effect_above_their_noise() {
        // Law: patients with one observation each have sum (y - p)^2 = n p (1 - p), so the effect is n / (n - 1).
        let positive: Vec<bool> = (0..40).map(|i| i % 3 == 0).collect();
        let singles = Clusters::new(&(0..40).collect::<Vec<_>>()).unwrap();
        let found = proportion_clustered(&positive, &singles, 0.95).unwrap();
        close(found.design_effect, 40.0 / 39.0, 1e-12);
        let plain = proportion(14, 40, 0.95).unwrap();
        assert!(found.interval.width() > plain.wilson.width());
        close(found.interval.width(), plain.wilson.width(), 0.02);
    }

    #[test]
    fn copied_rows_do_not_narrow_the_interval() {
        let positive: Vec<bool> = (0..30).map(|i| i % 4 == 0).collect();
        let singles: Vec<usize> = (0..30).collect();
        let once = Clusters::new(&singles).unwrap();
        let once = proportion_clustered(&positive, &once, 0.9).unwrap();
        let twice = Clusters::new(&[singles.clone(), singles].concat()).unwrap();
        let twice =
            proportion_clustered(&[positive.clone(), positive].concat(), &twice, 0.9).unwrap();
        close(twice.interval.lower, once.interval.lower, 1e-12);
        close(twice.interval.upper, once.interval.upper, 1e-12);
    }

    #[test]
    fn none_at_all_counts_patients() {
        let patients = Clusters::new(&[1, 1, 1, 2, 2, 2, 3, 3, 3]).unwrap();
        let found = proportion_clustered(&[false; 9], &patients, 0.95).unwrap();
        assert_eq!((found.effective, found.interval.lower), (3.0, 0.0));
        let one = Clusters::new(&[1, 1]).unwrap();
        assert!(proportion_clustered(&[true, false], &one, 0.95).is_err());
        assert!(proportion_clustered(&[true], &patients, 0.95).is_err());
    }
}
