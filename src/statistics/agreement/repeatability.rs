//! One method against itself: how much must a reading move before it has moved?

use super::repeated::OneWay;
use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::{compensated_sum, mean, squares_about};
use crate::statistics::distribution::chi_square_quantile;
use crate::statistics::error::{
    Result, StatisticsError, check_pairs, check_positive, check_values,
};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::resample::{Bootstrap, BootstrapInterval, Draws};
use crate::statistics::warning::{Warning, warn_few};

/// Repeatability from replicates.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeatability {
    /// Subjects.
    pub subjects: usize,
    /// Readings.
    pub readings: usize,
    /// Standard deviation of readings within a subject.
    pub within_standard_deviation: f64,
    /// Its interval.
    pub within_interval: Interval,
    /// `factor sqrt(2) within`: two readings of an unchanged subject differ by less in 95 of 100 pairs (factor 1.96).
    pub repeatability_coefficient: f64,
    /// Its interval.
    pub repeatability_interval: Interval,
    /// Root mean square of the subjects' coefficients of variation, per cent; `None` unless every subject's mean is above zero.
    pub coefficient_of_variation: Option<f64>,
    /// Its interval, per cent; `None` without the coefficient, and by [`repeatability`] where no readings of a subject differ.
    pub coefficient_interval: Option<Interval>,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Within-subject standard deviation and repeatability coefficient of replicated readings.
///
/// `within^2` is the residual mean square of a one-way analysis of variance (for duplicates `sum d^2 / 2n`); coefficient
/// `factor sqrt(2) within` (Bland & Altman 1986 Lancet 327:307-10; 1996 BMJ 313:744). Interval by chi-square on N - k degrees of
/// freedom. Coefficient of variation: `100 sqrt(mean((s_i / mean_i)^2))` over subjects with at least two readings (Bland, root mean square method, memory),
/// its interval by chi-square on the same degrees of freedom, as of a standard deviation: right where errors are in proportion to the reading and small
/// beside it, and subjects have equally many readings.
///
/// # Errors
/// [`StatisticsError`] for fewer than two subjects, no subject with two readings, unequal lengths, a value that is
/// not finite, a factor not above zero, or a level not between 0 and 1.
pub fn repeatability(
    readings: &[f64],
    subjects: &Clusters,
    factor: f64,
    level: f64,
) -> Result<Repeatability> {
    check_values("readings", readings, 3)?;
    check_pairs(
        "readings",
        readings.len(),
        "subject identifiers",
        subjects.observations(),
    )?;
    check_positive("factor", factor)?;
    let tail = upper_tail(level)?;
    let parts = OneWay::new(readings, subjects)?;
    let freedom = parts.count - parts.groups;
    let within = parts.within_square.sqrt();
    let within_interval = Interval {
        lower: within * (freedom / chi_square_quantile(tail, freedom)?).sqrt(),
        upper: within * (freedom / chi_square_quantile(1.0 - tail, freedom)?).sqrt(),
        level,
    };
    let stretch = factor * std::f64::consts::SQRT_2;
    let coefficient = coefficient_of_variation(readings, subjects);
    let in_proportion = |cv: f64| Interval {
        lower: cv * within_interval.lower / within,
        upper: cv * within_interval.upper / within,
        level,
    };
    let coefficient_interval = coefficient.filter(|_| within > 0.0).map(in_proportion);
    let mut warnings = Vec::new();
    warn_few(
        &mut warnings,
        "degrees of freedom within subjects",
        freedom as usize,
        30,
    );
    Ok(Repeatability {
        subjects: subjects.count(),
        readings: readings.len(),
        within_standard_deviation: within,
        within_interval,
        repeatability_coefficient: stretch * within,
        repeatability_interval: Interval {
            lower: stretch * within_interval.lower,
            upper: stretch * within_interval.upper,
            level,
        },
        coefficient_of_variation: coefficient,
        coefficient_interval,
        warnings,
    })
}

/// [`repeatability`] where several subjects, such as exams, are of one patient and scatter alike: the intervals are percentiles over
/// resamples of whole patients.
///
/// `patients` groups the subjects, in the order in which `subjects` first names them. A resample draws as many patients as there are, with
/// all their subjects, and takes `within^2` as the sum of squares over the degrees of freedom within all subjects drawn, and the coefficient of variation
/// over all subjects drawn (patients as the unit: Davison & Hinkley 1997, Bootstrap Methods and their Application, section 3.8, memory).
///
/// # Errors
/// As [`repeatability`]; another number of subjects than `patients` groups, fewer than two patients, more than a tenth of resamples without two
/// readings of any subject, or fewer than 100 resamples.
pub fn repeatability_clustered(
    readings: &[f64],
    subjects: &Clusters,
    patients: &Clusters,
    factor: f64,
    level: f64,
    bootstrap: &Bootstrap,
) -> Result<Repeatability> {
    let mut found = repeatability(readings, subjects, factor, level)?;
    check_pairs(
        "subjects",
        subjects.count(),
        "patient identifiers",
        patients.observations(),
    )?;
    patients.check_two()?;
    let scatter: Vec<Scatter> = (0..patients.count())
        .map(|patient| Scatter::of(readings, subjects, patients.members(patient)))
        .collect();
    let draw = |_: &mut (), draws: &mut Draws| {
        let mut drawn = Scatter::default();
        for _ in 0..scatter.len() {
            let one = &scatter[draws.below(scatter.len())];
            drawn.squares += one.squares;
            drawn.freedom += one.freedom;
            drawn.shares += one.shares;
            drawn.subjects += one.subjects;
        }
        drawn
    };
    let drawn = bootstrap.run(|| (), draw)?;
    let within = drawn.iter().map(|d| (d.squares / d.freedom).sqrt());
    let percentiles = BootstrapInterval::percentile(within.collect(), level, bootstrap)?;
    if found.coefficient_of_variation.is_some() {
        let coefficients = drawn.iter().map(|d| 100.0 * (d.shares / d.subjects).sqrt());
        let of_coefficient =
            BootstrapInterval::percentile(coefficients.collect(), level, bootstrap)?;
        found.coefficient_interval = Some(of_coefficient.interval);
    }
    let stretch = factor * std::f64::consts::SQRT_2;
    found.within_interval = percentiles.interval;
    found.repeatability_interval = Interval {
        lower: stretch * percentiles.interval.lower,
        upper: stretch * percentiles.interval.upper,
        level,
    };
    warn_few(&mut found.warnings, "patients", patients.count(), 30);
    found.warnings.push(Warning::Repeated {
        observations: subjects.count(),
        patients: patients.count(),
    });
    percentiles.warn(&mut found.warnings);
    Ok(found)
}

/// What the subjects of one patient scatter within themselves.
#[derive(Debug, Clone, Copy, Default)]
struct Scatter {
    squares: f64,
    freedom: f64,
    /// Sum of `(s / mean)^2` over subjects with at least two readings, and how many those are.
    shares: f64,
    subjects: f64,
}

impl Scatter {
    fn of(readings: &[f64], subjects: &Clusters, members: &[u32]) -> Self {
        let mut all = Self::default();
        for subject in members {
            let own = subjects.members(*subject as usize).iter();
            let own: Vec<f64> = own.map(|i| readings[*i as usize]).collect();
            let (center, freedom) = (mean(&own), own.len() as f64 - 1.0);
            let squares = squares_about(&own, center);
            all.squares += squares;
            all.freedom += freedom;
            if freedom > 0.0 {
                all.shares += squares / freedom / (center * center);
                all.subjects += 1.0;
            }
        }
        all
    }
}

fn coefficient_of_variation(readings: &[f64], subjects: &Clusters) -> Option<f64> {
    let mut squares = Vec::new();
    for subject in 0..subjects.count() {
        let members = subjects.members(subject);
        if members.len() < 2 {
            continue;
        }
        let own: Vec<f64> = members.iter().map(|i| readings[*i as usize]).collect();
        let center = mean(&own);
        if center <= 0.0 {
            return None;
        }
        squares.push(squares_about(&own, center) / (own.len() as f64 - 1.0) / (center * center));
    }
    let count = squares.len() as f64;
    Some(100.0 * (compensated_sum(squares) / count).sqrt())
}

/// Precision of a mean of several readings, in the unit of the coefficient of variation given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// `factor cv / sqrt(n)`.
    pub precision: f64,
    /// `sqrt(2) precision`: the smallest change between two such means that is more than noise.
    pub least_significant_change: f64,
}

/// Precision and least significant change of the mean of `readings` readings whose coefficient of variation is `cv`.
///
/// `precision = factor cv / sqrt(n)`, `least significant change = sqrt(2) precision` (Monnet 2011 Crit Care 15:R204 with factor 2; other papers take
/// 1.96, so the factor is a parameter). `cv` may be a fraction or per cent; the results are in the same unit.
///
/// # Errors
/// [`StatisticsError`] for no readings, or a coefficient or factor that is not finite and above zero.
pub fn precision_of_mean(cv: f64, readings: usize, factor: f64) -> Result<Precision> {
    check_positive("coefficient of variation", cv)?;
    check_positive("factor", factor)?;
    if readings == 0 {
        return Err(StatisticsError::TooFew {
            what: "readings averaged",
            found: 0,
            needed: 1,
        });
    }
    let precision = factor * cv / (readings as f64).sqrt();
    Ok(Precision {
        precision,
        least_significant_change: std::f64::consts::SQRT_2 * precision,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, numbers};

    #[test]
    fn least_significant_change_of_seven_per_cent() {
        // Rule: Monnet 2011 Crit Care 15:R204. CV 7 %: two readings 14.0 %, three 11.4 %.
        let by = |n| precision_of_mean(7.0, n, 2.0).unwrap();
        close(by(2).least_significant_change, 14.0, 1e-14);
        assert_eq!(format!("{:.1}", by(3).least_significant_change), "11.4");
        close(by(2).precision, 14.0 / std::f64::consts::SQRT_2, 1e-14);
        assert!(precision_of_mean(7.0, 2, 1.96).unwrap().precision < by(2).precision);
    }

    #[test]
    fn the_peak_flow_meters_of_1986() {
        // Bland & Altman 1986 Lancet 327:307-10, large meter, both readings (memory); printed coefficient of repeatability
        // 43.2 L/min = 2 x 21.6, the standard deviation of the differences about zero. In our terms: factor 2.
        let first = [
            494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0,
            267.0, 478.0, 178.0, 423.0, 427.0,
        ];
        let second = [
            490.0, 397.0, 512.0, 401.0, 470.0, 611.0, 415.0, 431.0, 638.0, 429.0, 420.0, 633.0,
            275.0, 492.0, 165.0, 372.0, 421.0,
        ];
        let readings = [first, second].concat();
        let subjects: Vec<usize> = (0..17).chain(0..17).collect();
        let found =
            repeatability(&readings, &Clusters::new(&subjects).unwrap(), 2.0, 0.95).unwrap();
        let squares: f64 = first
            .iter()
            .zip(&second)
            .map(|(a, b)| (a - b) * (a - b))
            .sum();
        close(
            found.within_standard_deviation,
            (squares / 34.0).sqrt(),
            1e-13,
        );
        // Printed from the rounded 21.6: tolerance 0.1.
        assert!(
            (found.repeatability_coefficient - 43.2).abs() < 0.1,
            "{found:?}"
        );
    }

    #[test]
    fn intervals_agree_with_scipy() {
        // anova_lm(ols("x ~ C(subject)", frame).fit()).mean_sq["Residual"] ** 0.5 = s, its df f;
        // [s, s * sqrt(f / chi2.ppf(.975, f)), s * sqrt(f / chi2.ppf(.025, f)), 100 * sqrt(mean((sd_i / mean_i) ** 2)) by pandas]
        let judge = numbers("repeatability.judge");
        let subjects =
            Clusters::new(&crate::statistics::oracle::counts("repeatability.subject")).unwrap();
        let found =
            repeatability(&numbers("repeatability.readings"), &subjects, 1.96, 0.95).unwrap();
        close(found.within_standard_deviation, judge[0], 1e-12);
        close(found.within_interval.lower, judge[1], 1e-12);
        close(found.within_interval.upper, judge[2], 1e-12);
        close(found.coefficient_of_variation.unwrap(), judge[3], 1e-12);
        close(
            found.repeatability_coefficient,
            1.96 * std::f64::consts::SQRT_2 * judge[0],
            1e-12,
        );
    }

    #[test]
    fn intervals_over_patients_agree_with_numpy() {
        // statistics_judges.py: 40000 resamples of whole patients, pooled within; quantiles 0.025 and 0.975
        let readings = numbers("repeatability.by_patient.readings");
        let subjects: Vec<usize> = (0..readings.len()).map(|i| i / 2).collect();
        let subjects = Clusters::new(&subjects).unwrap();
        let of_subject = crate::statistics::oracle::counts("repeatability.by_patient.patient");
        let patients = Clusters::new(&of_subject).unwrap();
        let draws = Bootstrap::seeded(5).with_resamples(8000);
        let found =
            repeatability_clustered(&readings, &subjects, &patients, 1.96, 0.95, &draws).unwrap();
        let judge = numbers("repeatability.by_patient.judge");
        close(found.within_standard_deviation, judge[0], 1e-13);
        close(found.within_interval.lower, judge[1], 0.02);
        close(found.within_interval.upper, judge[2], 0.02);
        let plain = repeatability(&readings, &subjects, 1.96, 0.95).unwrap();
        close(
            found.repeatability_coefficient,
            plain.repeatability_coefficient,
            1e-15,
        );
        // Patients differ in how much they scatter, so rows alone promise too much.
        let wide = |i: &Interval| i.upper - i.lower;
        assert!(wide(&found.within_interval) > 1.2 * wide(&plain.within_interval));
        assert!(
            found
                .warnings
                .iter()
                .any(|w| matches!(w, Warning::Repeated { patients: 12, .. }))
        );
    }

    #[test]
    fn one_patient_tells_nothing_of_others() {
        let subjects = Clusters::new(&[1, 1, 2, 2]).unwrap();
        let readings = [1.0, 2.0, 3.0, 5.0];
        let ask = |patients: &[u32]| {
            let patients = Clusters::new(patients).unwrap();
            let draws = Bootstrap::seeded(1);
            repeatability_clustered(&readings, &subjects, &patients, 1.96, 0.95, &draws)
        };
        assert!(ask(&[1, 1]).is_err());
        assert!(ask(&[1, 2, 3]).is_err());
        assert!(ask(&[1, 2]).is_ok());
    }

    #[test]
    fn readings_around_zero_have_no_coefficient_of_variation() {
        let subjects = Clusters::new(&[1, 1, 2, 2]).unwrap();
        let found = repeatability(&[-1.0, 1.0, 2.0, 3.0], &subjects, 1.96, 0.95).unwrap();
        assert_eq!(found.coefficient_of_variation, None);
    }

    #[test]
    fn nothing_to_average_is_refused() {
        assert!(precision_of_mean(7.0, 0, 2.0).is_err());
        assert!(precision_of_mean(-7.0, 2, 2.0).is_err());
        assert!(precision_of_mean(7.0, 2, f64::NAN).is_err());
    }
}
