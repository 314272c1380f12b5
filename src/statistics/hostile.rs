//! Law: whatever the input, a statistic answers with finite numbers or a typed error, and never panics.

use super::agreement::*;
use super::quality::*;
use super::response::*;
use super::roc::*;
use super::sample_size::*;
use super::*;
use proptest::prelude::*;
use std::fmt::Debug;

/// Numbers that break careless formulas: ties, zeros of both signs, tiny, huge and not finite.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => (-6_i32..7).prop_map(f64::from),
        8 => -100.0..100.0_f64,
        2 => 0.001..50.0_f64,
        1 => Just(-0.0),
        1 => Just(1e-30),
        1 => Just(5e-324),
        1 => Just(1e30),
        1 => Just(-1e29),
        1 => Just(f64::MAX),
        1 => Just(f64::NAN),
        1 => Just(f64::NEG_INFINITY),
    ]
}

/// Mostly one scale, so that many cases get past the first check.
fn numbers() -> impl Strategy<Value = Vec<f64>> {
    prop_oneof![
        prop::collection::vec(number(), 0..12),
        prop::collection::vec((1_i32..9).prop_map(f64::from), 0..24),
        prop::collection::vec(0.01..1e3_f64, 0..24),
        prop::collection::vec(prop_oneof![Just(1e-30), Just(1e30), Just(1.0)], 0..12),
    ]
}

fn finite<T: Debug>(what: &str, result: Result<T>) {
    if let Ok(found) = result {
        let text = format!("{found:?}");
        assert!(
            !text.contains("NaN") && !text.contains("inf"),
            "{what}: {text}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, rng_seed: proptest::test_runner::RngSeed::Fixed(4), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn one_sample(x in numbers(), p in number()) {
        finite("describe", describe(&x, 0.95));
        finite("level", describe(&x, p));
        finite("quantile", quantile(&x, p));
        for binning in [Binning::Count(x.len()), Binning::Sturges, Binning::FreedmanDiaconis, Binning::Edges(&x)] {
            finite("histogram", histogram(&x, binning));
        }
        finite("holm", holm(&x));
        finite("digits", terminal_digits(&x, 0.5, 0.95));
        finite("digits", terminal_digits(&x, p, 0.95));
        finite("individuals", individuals(&x, None));
        finite("ewma", ewma(&x, 1.0, p, 0.3, 3.0));
        finite("cusum", cusum(&x, p, 0.5, 4.0));
        finite("rules", run_rules(&x, 1.0, p, &RunRule::ALL));
        finite("precision", precision_of_mean(p, x.len(), 2.0));
    }

    #[test]
    fn pairs(x in numbers(), seed in any::<u64>(), p in number()) {
        let y: Vec<f64> = x.iter().enumerate().map(|(i, v)| match (seed >> (i % 60)) & 3 {
            0 => *v,
            1 => v * 0.5 + 1.0,
            2 => 3.0,
            _ => -v,
        }).collect();
        let names: Vec<u64> = (0..x.len()).map(|i| (seed >> (i % 50)) & 7).collect();
        finite("line", fit_line(&x, &y, 0.9).and_then(|line| line.at(p)));
        finite("line", fit_line(&x, &y, 0.9));
        finite("lowess", lowess(&x, &y, 0.6, 2));
        finite("saturation", fit_saturation(&x, &y, Baseline::Fitted, 0.9));
        finite("saturation", fit_saturation(&x, &y, Baseline::Zero, 0.9));
        finite("changes", changes(&x, &y, 0.9));
        finite("difference", standardized_difference(&x, &y, 0.9));
        finite("concordance", concordance(&x, &y, 1.0, Exclusion::MeanSmall, 0.9));
        finite("icc", icc(&[&x, &y], IccForm::AbsoluteAgreement, 0.9));
        finite("icc", icc(&[&x, &y], IccForm::Consistency, 0.9));
        let options = AgreementOptions::default();
        finite("agreement", agreement(&x, &y, &options));
        if let Ok(clusters) = Clusters::new(&names) {
            finite("repeated", agreement_repeated(&x, &y, &clusters, &options));
            finite("replicates", agreement_of_replicates(&x, &names, &y, &names, &options));
            finite("repeatability", repeatability(&x, &clusters, 2.0, 0.9));
            finite("funnel", funnel_of_means(&x, &clusters, None));
            finite("changes", changes_clustered(&x, &y, &clusters, 0.9));
            finite("line", fit_line_clustered(&x, &y, &clusters, 0.9).and_then(|line| line.at(p)));
            let positive: Vec<bool> = x.iter().map(|x| *x > 2.0).collect();
            finite("share", proportion_clustered(&positive, &clusters, 0.9));
            let bootstrap = Bootstrap::seeded(seed).with_resamples(100);
            finite("median", median_interval(&x, Some(&clusters), 0.9, &bootstrap));
        }
    }

    #[test]
    fn two_classes(x in numbers(), seed in any::<u64>(), p in 0.0..1.0_f64) {
        let positive: Vec<bool> = (0..x.len()).map(|i| (seed >> (i % 60)) & 1 == 1).collect();
        let names: Vec<u64> = (0..x.len()).map(|i| (seed >> (i % 40)) & 7).collect();
        let Ok(sample) = RocSample::new(&x, &positive, Direction::LowerIsPositive) else { return Ok(()) };
        let clusters = Clusters::new(&names).unwrap();
        let bootstrap = Bootstrap::seeded(seed).with_resamples(100);
        finite("area", area(&sample, 0.95));
        finite("clustered", area_clustered(&sample, &clusters, 0.95));
        for rule in [ThresholdRule::MaximalYouden, ThresholdRule::SensitivityAtLeast(p), ThresholdRule::SpecificityAtLeast(p)] {
            finite("threshold", threshold(&sample, rule));
            finite("interval", threshold_interval(&sample, rule, None, 0.9, &bootstrap));
            finite("interval", threshold_interval(&sample, rule, Some(&clusters), 0.9, &bootstrap));
            finite("corrected", corrected_accuracy(&sample, rule, Some(&clusters), &bootstrap));
        }
        finite("gray", gray_zone(&sample, GrayZoneDemand::Accuracy { sensitivity: p, specificity: 0.8 }, 0.9));
        finite("gray", gray_zone(&sample, GrayZoneDemand::PostTest { before: 0.4, ruled_out: 0.4 * p, ruled_in: 0.4 + 0.6 * p }, 0.9));
        let y: Vec<f64> = x.iter().rev().copied().collect();
        if let Ok(other) = RocSample::new(&y, &positive, Direction::HigherIsPositive) {
            finite("compare", compare(&sample, &other, 0.95));
            finite("compare", compare_clustered(&sample, &other, &clusters, 0.95));
        }
    }

    #[test]
    fn counts(counts in prop::collection::vec((0_usize..30, 0_usize..40), 0..10), a in 0_usize..9, b in 0_usize..9, p in number()) {
        let (events, sizes): (Vec<usize>, Vec<usize>) = counts.into_iter().unzip();
        finite("p chart", p_chart(&events, &sizes, None));
        finite("funnel", funnel_of_proportions(&events, &sizes, None));
        finite("funnel", funnel_of_proportions(&events, &sizes, Some(p)));
        let table = TwoByTwo { true_positive: a, false_positive: b, false_negative: b / 2, true_negative: a / 3 };
        finite("accuracy", accuracy(table, 0.95));
        finite("proportion", proportion(a, b, p));
        finite("proportion", proportion(a, a + b, 0.95));
        finite("predictive", predictive_values(p, 0.9, 0.3));
        finite("difference", standardized_difference_of_shares((a, 8), (b, 8), 0.95));
        for interval in [ShareInterval::Exact, ShareInterval::Wilson, ShareInterval::Normal] {
            finite("size", for_share(p, 0.1, interval, 0.95));
            finite("size", for_share(0.9, p, interval, 0.95));
        }
        for variance in [AreaVariance::HanleyMcNeil, AreaVariance::Binormal] {
            finite("size", for_area(p, 0.1, 1.0, variance, 0.95));
            finite("size", for_area(0.8, 0.1, p, variance, 0.95));
        }
        finite("size", for_mean(p, 1.0, 0.95));
        finite("size", for_limit(1.0, p, 2.0, LimitError::FromVariance, 0.95));
        finite("size", to_enroll(a, p));
    }
}
