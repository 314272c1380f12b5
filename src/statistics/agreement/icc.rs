//! Intraclass correlation of several raters who each read every subject once.

use crate::statistics::descriptive::{compensated_sum, mean};
use crate::statistics::distribution::f_quantile;
use crate::statistics::error::{Result, StatisticsError, check_pairs, check_values};
use crate::statistics::interval::{Interval, upper_tail};
use crate::statistics::warning::{Warning, warn_few};

/// Which intraclass correlation, in the notation of Shrout & Fleiss 1979. Both are for a single reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IccForm {
    /// ICC(2,1): two-way random effects, absolute agreement. The raters stand for others like them, and their bias counts.
    AbsoluteAgreement,
    /// ICC(3,1): two-way mixed effects, consistency. These raters only; a constant bias between them does not count.
    Consistency,
}

/// Mean squares of the two-way analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanSquares {
    /// Between subjects.
    pub subjects: f64,
    /// Between raters.
    pub raters: f64,
    /// Residual.
    pub residual: f64,
}

/// An intraclass correlation.
#[derive(Debug, Clone, PartialEq)]
pub struct Icc {
    /// Which one.
    pub form: IccForm,
    /// The correlation; may be negative in a sample.
    pub value: f64,
    /// Its interval.
    pub interval: Interval,
    /// The analysis of variance.
    pub mean_squares: MeanSquares,
    /// Subjects.
    pub subjects: usize,
    /// Raters.
    pub raters: usize,
    /// Cautions.
    pub warnings: Vec<Warning>,
}

/// Intraclass correlation of readings, one slice for each rater, subjects in the same order.
///
/// With n subjects and k raters: `ICC(2,1) = (MSS - MSE) / (MSS + (k - 1) MSE + k (MSR - MSE) / n)`,
/// `ICC(3,1) = (MSS - MSE) / (MSS + (k - 1) MSE)`; intervals from F, for ICC(2,1) with Satterthwaite's degrees of freedom
/// (Shrout & Fleiss 1979 Psychol Bull 86:420-8; McGraw & Wong 1996 Psychol Methods 1:30-46).
///
/// # Errors
/// [`StatisticsError`] for fewer than two raters or three subjects, raters of unequal length, a value that is not finite, or readings without any
/// residual variation, where the interval has no formula.
pub fn icc(raters: &[&[f64]], form: IccForm, level: f64) -> Result<Icc> {
    if raters.len() < 2 {
        return Err(StatisticsError::TooFew {
            what: "raters",
            found: raters.len(),
            needed: 2,
        });
    }
    for readings in raters {
        check_values("readings of a rater", readings, 3)?;
        check_pairs(
            "readings of the first rater",
            raters[0].len(),
            "readings of another rater",
            readings.len(),
        )?;
    }
    let squares = mean_squares(raters);
    if squares.residual <= 0.0 {
        return Err(StatisticsError::NoVariation {
            what: "the residual of subjects and raters",
            hint: "the raters differ by a constant at most, so an interval has no formula",
        });
    }
    let (subjects, count) = (raters[0].len(), raters.len());
    let size = Size {
        n: subjects as f64,
        k: count as f64,
    };
    let tail = upper_tail(level)?;
    let (value, interval) = match form {
        IccForm::AbsoluteAgreement => absolute_agreement(&squares, &size, tail, level)?,
        IccForm::Consistency => consistency(&squares, &size, tail, level)?,
    };
    if !(interval.lower.is_finite() && interval.upper.is_finite()) {
        return Err(StatisticsError::NoVariation {
            what: "the subjects, against their readings,",
            hint: "the interval has no value: add subjects",
        });
    }
    let mut warnings = Vec::new();
    warn_few(&mut warnings, "subjects", subjects, 30);
    if value < 0.0 {
        warnings.push(Warning::WeakApproximation {
            what: "subjects differ less than readings of one subject do: the correlation is negative in this sample",
        });
    }
    Ok(Icc {
        form,
        value,
        interval,
        mean_squares: squares,
        subjects,
        raters: count,
        warnings,
    })
}

struct Size {
    n: f64,
    k: f64,
}

fn mean_squares(raters: &[&[f64]]) -> MeanSquares {
    let (n, k) = (raters[0].len(), raters.len());
    let rater_means: Vec<f64> = raters.iter().map(|r| mean(r)).collect();
    let subject_means: Vec<f64> = (0..n)
        .map(|i| compensated_sum(raters.iter().map(|r| r[i])) / k as f64)
        .collect();
    let grand = mean(&rater_means);
    let square = |v: f64| v * v;
    let of_subjects = compensated_sum(subject_means.iter().map(|m| square(m - grand))) * k as f64;
    let of_raters = compensated_sum(rater_means.iter().map(|m| square(m - grand))) * n as f64;
    let residuals = raters
        .iter()
        .zip(&rater_means)
        .flat_map(|(readings, rater_mean)| {
            let pairs = readings.iter().zip(&subject_means);
            pairs.map(move |(x, subject_mean)| square(x - subject_mean - rater_mean + grand))
        });
    MeanSquares {
        subjects: of_subjects / (n as f64 - 1.0),
        raters: of_raters / (k as f64 - 1.0),
        residual: compensated_sum(residuals) / ((n as f64 - 1.0) * (k as f64 - 1.0)),
    }
}

fn absolute_agreement(
    s: &MeanSquares,
    size: &Size,
    tail: f64,
    level: f64,
) -> Result<(f64, Interval)> {
    let Size { n, k } = *size;
    let value = (s.subjects - s.residual)
        / (s.subjects + (k - 1.0) * s.residual + k * (s.raters - s.residual) / n);
    let f_raters = s.raters / s.residual;
    let top = k * value * f_raters + n * (1.0 + (k - 1.0) * value) - k * value;
    let bottom = n * (1.0 + (k - 1.0) * value) - k * value;
    let freedom = (n - 1.0) * (k - 1.0) * top * top
        / ((n - 1.0) * k * k * value * value * f_raters * f_raters + bottom * bottom);
    let up = f_quantile(tail, n - 1.0, freedom)?;
    let down = f_quantile(tail, freedom, n - 1.0)?;
    let rest = k * s.raters + (k * n - k - n) * s.residual;
    Ok((
        value,
        Interval {
            lower: n * (s.subjects - up * s.residual) / (up * rest + n * s.subjects),
            upper: n * (down * s.subjects - s.residual) / (rest + n * down * s.subjects),
            level,
        },
    ))
}

fn consistency(s: &MeanSquares, size: &Size, tail: f64, level: f64) -> Result<(f64, Interval)> {
    let Size { n, k } = *size;
    let f = s.subjects / s.residual;
    let residual_freedom = (n - 1.0) * (k - 1.0);
    let low = f / f_quantile(tail, n - 1.0, residual_freedom)?;
    let high = f * f_quantile(tail, residual_freedom, n - 1.0)?;
    let back = |f: f64| (f - 1.0) / (f + k - 1.0);
    Ok((
        back(f),
        Interval {
            lower: back(low),
            upper: back(high),
            level,
        },
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statistics::oracle::{close, numbers};

    /// Shrout & Fleiss 1979 Psychol Bull 86:420-8, table 2: four judges, six targets (memory).
    const JUDGES: [[f64; 6]; 4] = [
        [9.0, 6.0, 8.0, 7.0, 10.0, 6.0],
        [2.0, 1.0, 4.0, 1.0, 5.0, 2.0],
        [5.0, 3.0, 6.0, 2.0, 6.0, 4.0],
        [8.0, 2.0, 8.0, 6.0, 9.0, 7.0],
    ];

    fn judges(form: IccForm) -> Icc {
        let raters: Vec<&[f64]> = JUDGES.iter().map(|j| &j[..]).collect();
        icc(&raters, form, 0.95).unwrap()
    }

    #[test]
    fn the_published_judges() {
        // Printed: ICC(2,1) = .29, ICC(3,1) = .71, mean squares 11.24, 32.49, 1.02 (memory).
        let found = judges(IccForm::AbsoluteAgreement);
        assert_eq!(format!("{:.2}", found.value), "0.29");
        assert_eq!(format!("{:.2}", judges(IccForm::Consistency).value), "0.71");
        let s = found.mean_squares;
        assert_eq!(
            format!("{:.2} {:.2} {:.2}", s.subjects, s.raters, s.residual),
            "11.24 32.49 1.02"
        );
    }

    #[test]
    fn intervals_agree_with_pingouin() {
        // pingouin.intraclass_corr(frame, "target", "judge", "score"): rows ICC(A,1) and ICC(C,1), value and CI95
        for (form, name) in [
            (IccForm::AbsoluteAgreement, "agreement"),
            (IccForm::Consistency, "consistency"),
        ] {
            let judge = numbers(&format!("icc.{name}"));
            let found = judges(form);
            close(found.value, judge[0], 1e-10);
            close(found.interval.lower, judge[1], 1e-8);
            close(found.interval.upper, judge[2], 1e-8);
        }
    }

    #[test]
    fn a_constant_bias_counts_for_agreement_only() {
        let shifted: Vec<f64> = JUDGES[0].iter().map(|v| v + 5.0).collect();
        let with = |second: &[f64], form| icc(&[&JUDGES[3], second], form, 0.95).unwrap().value;
        let same = with(&JUDGES[0], IccForm::Consistency);
        close(with(&shifted, IccForm::Consistency), same, 1e-12);
        assert!(
            with(&shifted, IccForm::AbsoluteAgreement)
                < with(&JUDGES[0], IccForm::AbsoluteAgreement)
        );
    }

    #[test]
    fn raters_that_copy_each_other_are_refused() {
        assert!(matches!(
            icc(&[&JUDGES[0], &JUDGES[0]], IccForm::Consistency, 0.95),
            Err(StatisticsError::NoVariation { .. })
        ));
        assert!(icc(&[&JUDGES[0]], IccForm::Consistency, 0.95).is_err());
        assert!(icc(&[&JUDGES[0], &JUDGES[1][..4]], IccForm::Consistency, 0.95).is_err());
    }
}
