//! Areas when a patient contributes more than one observation.

use super::area::{Area, Placements, check_two_each, finish as finish_area};
use super::compare::{AreaComparison, check_same_observations, finish as finish_comparison};
use super::sample::RocSample;
use crate::statistics::cluster::Clusters;
use crate::statistics::descriptive::compensated_sum;
use crate::statistics::error::{Result, check_pairs};
use crate::statistics::warning::{Warning, warn_few_of_each};

/// Area under the curve with a variance that allows for observations of one patient being alike.
///
/// Per patient i: sum of the placements of its m_i positives and n_i negatives, less `m_i A` and `n_i A`.
/// `var A = S10 / m + S01 / n + 2 S11 / (m n)` with `S10 = I10 / ((I10 - 1) m) sum_i x_i^2`,
/// `S01 = I01 / ((I01 - 1) n) sum_i y_i^2`, `S11 = I / (I - 1) sum_i x_i y_i`; I10 and I01 count the patients with at least one
/// positive and negative, I all patients (Obuchowski 1997 Biometrics 53:567-78). With one observation for each patient
/// this is DeLong's variance.
///
/// # Errors
/// [`UnequalLengths`](crate::statistics::StatisticsError::UnequalLengths);
/// [`TooFew`](crate::statistics::StatisticsError::TooFew) with fewer than two patients in a class; a level not
/// between 0 and 1.
pub fn area_clustered(sample: &RocSample, patients: &Clusters, level: f64) -> Result<Area> {
    let sums = PatientSums::new(sample, patients)?;
    let variance = sums.covariance(&sums);
    finish_area(sums.area, variance, sample, level, sums.warnings())
}

/// Compares two scores on the same observations of patients who may repeat.
///
/// The covariance takes the products of the two scores' sums in place of the squares (Obuchowski 1997, as above).
///
/// # Errors
/// As [`compare`](super::compare) and [`area_clustered`].
pub fn compare_clustered(
    first: &RocSample,
    second: &RocSample,
    patients: &Clusters,
    level: f64,
) -> Result<AreaComparison> {
    check_same_observations(first, second)?;
    let (a, b) = (
        PatientSums::new(first, patients)?,
        PatientSums::new(second, patients)?,
    );
    let variance = a.covariance(&a) + b.covariance(&b) - 2.0 * a.covariance(&b);
    finish_comparison(a.area, b.area, variance, level, a.warnings())
}

/// Centered placement sums of each patient, over its positives (x) and negatives (y).
struct PatientSums {
    area: f64,
    x: Vec<f64>,
    y: Vec<f64>,
    positives: usize,
    negatives: usize,
    patients_with_positives: usize,
    patients_with_negatives: usize,
}

impl PatientSums {
    fn new(sample: &RocSample, patients: &Clusters) -> Result<Self> {
        check_pairs(
            "scores",
            sample.classes().len(),
            "patient identifiers",
            patients.observations(),
        )?;
        let placements = Placements::new(sample)?;
        let count = patients.count();
        let mut sums = Self {
            area: placements.area,
            x: vec![0.0; count],
            y: vec![0.0; count],
            positives: sample.positives(),
            negatives: sample.negatives(),
            patients_with_positives: 0,
            patients_with_negatives: 0,
        };
        let (mut has_positive, mut has_negative) = (vec![false; count], vec![false; count]);
        let (mut positive_places, mut negative_places) = (
            placements.of_positives.iter(),
            placements.of_negatives.iter(),
        );
        for (observation, positive) in sample.classes().iter().enumerate() {
            let patient = patients.group_of(observation);
            let (places, sum, seen) = if *positive {
                (&mut positive_places, &mut sums.x, &mut has_positive)
            } else {
                (&mut negative_places, &mut sums.y, &mut has_negative)
            };
            sum[patient] += places.next().map_or(0.0, |place| place - sums.area);
            seen[patient] = true;
        }
        sums.patients_with_positives = has_positive.iter().filter(|seen| **seen).count();
        sums.patients_with_negatives = has_negative.iter().filter(|seen| **seen).count();
        sums.check()?;
        Ok(sums)
    }

    fn check(&self) -> Result<()> {
        check_two_each([
            ("patients with a positive", self.patients_with_positives),
            ("patients with a negative", self.patients_with_negatives),
        ])
    }

    fn covariance(&self, other: &Self) -> f64 {
        let products = |a: &[f64], b: &[f64]| compensated_sum(a.iter().zip(b).map(|(a, b)| a * b));
        let inflate = |count: usize| count as f64 / (count as f64 - 1.0);
        let (m, n) = (self.positives as f64, self.negatives as f64);
        let s10 = inflate(self.patients_with_positives) * products(&self.x, &other.x) / m;
        let s01 = inflate(self.patients_with_negatives) * products(&self.y, &other.y) / n;
        let crossed = 0.5 * (products(&self.x, &other.y) + products(&self.y, &other.x));
        let s11 = inflate(self.x.len()) * crossed;
        s10 / m + s01 / n + 2.0 * s11 / (m * n)
    }

    fn warnings(&self) -> Vec<Warning> {
        let mut warnings = Vec::new();
        let classes = [
            ("patients with a positive", self.patients_with_positives),
            ("patients with a negative", self.patients_with_negatives),
        ];
        warn_few_of_each(&mut warnings, classes);
        warnings
    }
}

#[cfg(test)]
mod tests {
    use super::super::area::area;
    use super::super::compare::compare;
    use super::super::fixtures::{classes, first_score, patients, second_score};
    use super::super::sample::Direction;
    use super::*;
    use crate::statistics::error::StatisticsError;
    use crate::statistics::oracle::{close, number};

    fn sample(scores: &[f64]) -> RocSample {
        RocSample::new(scores, &classes(), Direction::HigherIsPositive).unwrap()
    }

    #[test]
    fn agrees_with_the_formula_over_all_pairs() {
        // statistics_judges.py: obuchowski(first, first, positive, patient), the printed formula over all pairs in plain Python
        let clusters = Clusters::new(&patients()).unwrap();
        let found = area_clustered(&sample(&first_score()), &clusters, 0.95).unwrap();
        close(
            found.standard_error.powi(2),
            number("roc.obuchowski_var_first"),
            1e-12,
        );
        // sqrt of var(first) + var(second) - 2 obuchowski(first, second, positive, patient)
        let found = compare_clustered(
            &sample(&first_score()),
            &sample(&second_score()),
            &clusters,
            0.95,
        )
        .unwrap();
        close(
            found.standard_error,
            number("roc.obuchowski_se_difference"),
            1e-12,
        );
    }

    #[test]
    fn one_observation_for_each_patient_is_delong() {
        let singles: Vec<usize> = (0..classes().len()).collect();
        let clusters = Clusters::new(&singles).unwrap();
        let (first, second) = (sample(&first_score()), sample(&second_score()));
        close(
            area_clustered(&first, &clusters, 0.95)
                .unwrap()
                .standard_error,
            area(&first, 0.95).unwrap().standard_error,
            1e-13,
        );
        close(
            compare_clustered(&first, &second, &clusters, 0.95)
                .unwrap()
                .p_value,
            compare(&first, &second, 0.95).unwrap().p_value,
            1e-11,
        );
    }

    #[test]
    fn copied_patients_do_not_shrink_the_error() {
        // Law: every observation entered twice under its patient leaves the clustered variance as it was.
        let (scores, positive) = (first_score(), classes());
        let singles: Vec<usize> = (0..positive.len()).collect();
        let once =
            area_clustered(&sample(&scores), &Clusters::new(&singles).unwrap(), 0.95).unwrap();
        let twice_scores = [scores.clone(), scores].concat();
        let twice_positive = [positive.clone(), positive].concat();
        let twice_patients = [singles.clone(), singles].concat();
        let doubled =
            RocSample::new(&twice_scores, &twice_positive, Direction::HigherIsPositive).unwrap();
        let twice =
            area_clustered(&doubled, &Clusters::new(&twice_patients).unwrap(), 0.95).unwrap();
        close(twice.standard_error, once.standard_error, 1e-13);
    }

    #[test]
    fn a_single_patient_is_refused() {
        let clusters = Clusters::new(&vec![1; classes().len()]).unwrap();
        assert!(matches!(
            area_clustered(&sample(&first_score()), &clusters, 0.95),
            Err(StatisticsError::TooFew { found: 1, .. })
        ));
    }
}
