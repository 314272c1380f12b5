//! Numbers on the page against the committed values of outside judges (tests/oracles) and published examples.

use semilunar::sheet::figure;
use serde_json::Value;

use super::{Columns, answer, line};

fn oracle(path: &str) -> Value {
    let files = [
        include_str!("../../oracles/statistics.json"),
        include_str!("../../oracles/statistics_r.json"),
    ];
    files
        .iter()
        .find_map(|text| {
            let root: Value = serde_json::from_str(text).unwrap();
            path.split('.')
                .try_fold(root, |node, key| node.get(key).cloned())
        })
        .unwrap_or_else(|| panic!("no committed value at {path}"))
}

fn number(path: &str) -> f64 {
    oracle(path).as_f64().unwrap()
}

pub(super) fn numbers(path: &str) -> Vec<f64> {
    oracle(path)
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

fn words(path: &str) -> Vec<String> {
    oracle(path)
        .as_array()
        .unwrap()
        .iter()
        .map(Value::to_string)
        .collect()
}

fn with_interval(judge: &[f64]) -> String {
    format!(
        "{} ({} to {})",
        figure(judge[0]),
        figure(judge[1]),
        figure(judge[2])
    )
}

fn indexes() -> Columns {
    Columns::new()
        .with("patient", &words("roc.patient"))
        .with("responded", &words("roc.positive"))
        .with("first", &words("roc.first"))
        .with("second", &words("roc.second"))
}

/// Area and interval: pROC 1.18 `ci.auc(roc, method = "delong")`; threshold, sensitivity and specificity at the maximal Youden
/// index: scikit-learn's `roc_curve`.
#[test]
fn the_area_and_its_interval_are_those_of_delong() {
    let text = answer(
        &indexes(),
        "show roc of first against responded is true over rows",
    );
    let interval = numbers("r_proc_ci");
    let expected = format!(
        "First — Area: {}; 95 % interval: {} to {}",
        figure(number("r_proc_auc")),
        figure(interval[0]),
        figure(interval[1])
    );
    assert!(text.contains(&expected), "{expected}\n{text}");
    let youden = numbers("roc.youden_first");
    let chosen = line(&text, "maximal Youden index");
    assert!(chosen.contains(&format!("≥ {}", youden[0])), "{chosen}");
    let shares = [youden[1], youden[2]].map(|s| format!("{:.1} %", 100.0 * s));
    assert!(
        chosen.contains(&format!(
            "Sensitivity: {}; Specificity: {}",
            shares[0], shares[1]
        )),
        "{chosen}"
    );
    let fixed = numbers("roc.fixed_first");
    assert!(
        line(&text, "sensitivity at least 90 %").contains(&format!("≥ {}", fixed[0])),
        "{text}"
    );
    assert!(
        line(&text, "specificity at least 90 %").contains(&format!("≥ {}", fixed[1])),
        "{text}"
    );
}

/// Obuchowski's variance by the judge's own formulas (statistics_judges.py); interval area ± 1.959964 root of it.
#[test]
fn patients_who_repeat_change_the_interval() {
    let text = answer(
        &indexes(),
        "show roc of first against responded is true over rows by patient",
    );
    let half = 1.959_963_984_540_054 * number("roc.obuchowski_var_first").sqrt();
    let area = number("roc.sklearn_auc_first");
    let expected = format!(
        "95 % interval: {} to {}",
        figure(area - half),
        figure(area + half)
    );
    assert!(
        line(&text, "First —").contains(&expected),
        "{expected}\n{text}"
    );
    assert!(text.contains("are not independent"), "{text}");
}

/// scikit-learn: the area of the negated score; here the score itself, with low values for a response.
#[test]
fn low_values_can_speak_for_a_response() {
    let text = answer(
        &indexes(),
        "show roc of low first against responded is true over rows",
    );
    let area = figure(number("roc.sklearn_auc_minus_first"));
    assert!(
        line(&text, "First —").contains(&format!("Area: {area};")),
        "{text}"
    );
    assert!(line(&text, "First —").contains("low values"), "{text}");
}

/// pROC `roc.test(method = "delong", paired = TRUE)`: z, p, and the interval of the difference.
#[test]
fn two_indexes_are_compared_in_pairs() {
    let text = answer(
        &indexes(),
        "show roc of first, second against responded is true over rows",
    );
    let judge = numbers("r_proc_compare");
    let found = line(&text, "First less second");
    assert!(
        found.contains(&format!("({} to {})", figure(judge[2]), figure(judge[3]))),
        "{found}"
    );
    assert!(found.contains(&format!("p = {:.3}", judge[1])), "{found}");
}

/// statistics_judges.py: thresholds of 90 % sensitivity and specificity, and the share between.
#[test]
fn the_gray_zone_is_the_judges() {
    let text = answer(
        &indexes(),
        "show gray_zone of first against responded is true over rows",
    );
    let judge = numbers("roc.gray_accuracy");
    let found = line(&text, "sensitivity and specificity of 90.0 %");
    let expected = format!(
        "Ruled out: < {}; Ruled in: ≥ {}; Neither: rows in the zone: {:.1} %",
        judge[0],
        judge[1],
        100.0 * judge[2]
    );
    assert!(found.contains(&expected), "{expected}\n{found}");
}

/// statistics_judges.py with scipy: three forms of the change in per cent.
#[test]
fn the_forms_of_a_change_are_the_judges() {
    let table = Columns::new()
        .with("before", &words("change.before"))
        .with("after", &words("change.after"));
    let text = answer(&table, "show change of before, after over rows");
    for (start, path) in [
        ("Mean of the per cents", "change.mean_of_per_cents"),
        ("Per cent of the means", "change.per_cent_of_means"),
        ("From the mean log ratio", "change.geometric"),
    ] {
        let expected = with_interval(&numbers(path));
        assert!(line(&text, start).contains(&expected), "{expected}\n{text}");
    }
}

/// Bland & Altman 1986 Lancet 327:307-10, first readings of 17 peak flows: printed mean difference -2.1, SD 38.8; the interval of
/// the bias, -22.0 to 17.8, computed from the same readings.
#[test]
fn the_peak_flows_of_1986_agree_as_printed() {
    let wright = [
        494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427,
    ];
    let mini = [
        512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451,
    ];
    let table = Columns::new()
        .with("wright [L/min]", &wright)
        .with("mini [L/min]", &mini);
    let text = answer(&table, "show agreement of wright, mini over rows");
    assert!(
        line(&text, "Mean difference").contains("−2.12 (−22.0 to 17.8) L/min"),
        "{text}"
    );
    assert!(
        line(&text, "Standard deviation").contains("38.8 L/min"),
        "{text}"
    );
}

/// statistics_judges.py: limits' interval, percentage error and slope of the difference on the mean (scipy `linregress`).
#[test]
fn agreement_says_the_percentage_error_and_the_slope() {
    let table = Columns::new()
        .with("a", &words("agreement.first"))
        .with("b", &words("agreement.second"));
    let text = answer(&table, "show agreement of a, b over rows");
    let judge = numbers("agreement.limits");
    assert!(
        line(&text, "Lower limit").contains(&format!(
            "({} to {})",
            figure(judge[0]),
            figure(judge[1])
        )),
        "{text}"
    );
    assert!(
        line(&text, "Percentage error").contains(&figure(judge[2])),
        "{text}"
    );
    assert!(
        line(&text, "Slope of the difference").contains(&figure(judge[3])),
        "{text}"
    );
    assert!(
        line(&text, "Percentage error").contains("above 30 %"),
        "{text}"
    );
}

/// statistics_judges.py (pingouin's analysis of variance): three readings of each of twelve subjects; within-subject standard
/// deviation with its interval, and the coefficient of variation.
#[test]
fn repeatability_is_the_judges() {
    let readings = words("repeatability.readings");
    let nth = |n: usize| {
        readings
            .iter()
            .skip(n)
            .step_by(3)
            .cloned()
            .collect::<Vec<String>>()
    };
    let table = Columns::new()
        .with("a", &nth(0))
        .with("b", &nth(1))
        .with("c", &nth(2));
    let text = answer(&table, "show repeatability of a, b, c over rows");
    let judge = numbers("repeatability.judge");
    assert!(
        line(&text, "Standard deviation within").contains(&with_interval(&judge[..3])),
        "{text}"
    );
    assert!(
        line(&text, "Coefficient of variation").contains(&figure(judge[3])),
        "{text}"
    );
}

/// NIST/SEMATECH e-Handbook 6.3.2.2: flow rates of ten batches, printed mean 50.81 and limits 55.8041 and 45.8159.
#[test]
fn individuals_have_the_handbooks_limits() {
    let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    let order: Vec<usize> = (1..=10).collect();
    let table = Columns::new().with("flow", &flow).with("batch", &order);
    let text = answer(&table, "show individuals of flow over rows along batch");
    assert!(line(&text, "Center —").contains("50.8"), "{text}");
    assert!(line(&text, "Limits —").contains("45.8 to 55.8"), "{text}");
    assert!(
        text.contains("Center 50.81, limits 45.82 to 55.8"),
        "{text}"
    );
}

/// Order comes from the column of time and not from the file.
#[test]
fn values_are_charted_in_order_of_time() {
    let values = [10.0, 11.0, 10.5, 10.2, 30.0, 10.1, 10.4, 10.8];
    let forward: Vec<usize> = (1..=8).collect();
    let backward: Vec<usize> = (1..=8).rev().collect();
    let ask = "show individuals of x over rows along day baseline 4";
    let a = answer(
        &Columns::new().with("x", &values).with("day", &forward),
        ask,
    );
    let reversed: Vec<f64> = values.iter().rev().copied().collect();
    let b = answer(
        &Columns::new().with("x", &reversed).with("day", &backward),
        ask,
    );
    let limits = |text: &str| line(text, "Limits —").to_owned();
    assert_eq!(limits(&a), limits(&b));
    assert!(line(&a, "5 — Day: 5; Row: 5").contains("30"), "{a}");
    assert!(line(&b, "5 — Day: 5; Row: 4").contains("30"), "{b}");
}

/// statistics_judges.py with numpy: EWMA and CUSUM of one series; here that both signal where theirs pass their limits is
/// tested in the library, and on the page that the first signal of the sums has its day.
#[test]
fn sums_tell_when_the_run_began() {
    let values: Vec<f64> = (0..40)
        .map(|i| {
            if i < 20 {
                f64::from(i % 2)
            } else {
                4.0 + f64::from(i % 2)
            }
        })
        .collect();
    let days: Vec<usize> = (1..=40).map(|d| 2 * d).collect();
    let table = Columns::new().with("x", &values).with("day", &days);
    let text = answer(&table, "show cusum of x over rows along day baseline 20");
    // Sigma is 1 / 1.128 = 0.887: a value adds what it has above 0.5 + 0.443. The 1 of day 40 adds 0.057, the 4 of day 42
    // adds 3.057, the 5 of day 44 adds 4.057, which carries the sum beyond 5 sigma = 4.433.
    let first = line(&text, "First signal");
    assert!(
        first.contains("44; the run that led to it began at 40"),
        "{first}"
    );
    let text = answer(&table, "show ewma of x over rows along day baseline 20");
    // With weight 0.2 the 4 of day 42 moves the average by 0.7; its limits lie 3 x 0.887 x sqrt(0.2 / 1.8) = 0.887 from the
    // center of 0.5, so the 5 of day 44 carries it beyond.
    assert!(
        line(&text, "22 — Day: 44").contains("the moving average is beyond its limits"),
        "{text}"
    );
}

/// statistics_judges.py with scipy `chisquare`.
#[test]
fn digits_are_counted_as_the_judge_does() {
    let table = Columns::new().with("x [cm]", &words("quality.digits_values"));
    let text = answer(&table, "show digits of x to 1 mm over rows");
    let counts = words("quality.digits_counts");
    let listed: Vec<String> = counts
        .iter()
        .enumerate()
        .map(|(d, n)| format!("{d}: {n}"))
        .collect();
    assert!(text.contains(&listed.join(", ")), "{text}");
    let chi = format!(
        "chi-square {:.1}, p < 0.001",
        number("quality.digits_chi_square")
    );
    assert!(line(&text, "all —").contains(&chi), "{text}");
}

/// 20 of 21: Wilson 77.3 to 99.2 % (statsmodels `proportion_confint`); 14 of 18: 54.8 to 91.0 %.
#[test]
fn completeness_has_wilsons_interval() {
    let said = |yes: usize, no: usize| [vec!["yes"; yes], vec!["no"; no]].concat();
    let text = answer(
        &Columns::new().with("saved", &said(20, 1)),
        "show completeness of saved is yes over rows",
    );
    let wilson = |key: &str| {
        format!(
            "{:.1} to {:.1} %",
            100.0 * number(&format!("proportion.{key}.wilson_lower")),
            100.0 * number(&format!("proportion.{key}.wilson_upper"))
        )
    };
    assert!(
        line(&text, "saved").contains(&format!(
            "95.2 % (20 of 21); 95 % interval, Wilson: {}",
            wilson("k20_n21")
        )),
        "{text}"
    );
    let text = answer(
        &Columns::new().with("saved", &said(14, 4)),
        "show completeness of saved is yes over rows",
    );
    assert!(line(&text, "saved").contains(&wilson("k14_n18")), "{text}");
}

/// By hand: 11 % is 1.96 s, s = 5.612 %, ln 1.1 / s = 1.698, normal tail 4.5 % (tables); of 200 rows 8.95. Up by 12 % in every
/// fourth row: 50 of 200.
#[test]
fn responders_stand_beside_those_of_error_alone() {
    let changes: Vec<f64> = (0..200)
        .map(|i| if i % 4 == 0 { 12.0 } else { 3.0 })
        .collect();
    let fluid: Vec<f64> = (0..200)
        .map(|i| if i < 100 { 250.0 } else { 500.0 })
        .collect();
    let table = Columns::new()
        .with("rise [%]", &changes)
        .with("fluid [mL]", &fluid);
    let text = answer(
        &table,
        "show responders of rise at 10 % over rows error of 11 %",
    );
    let found = line(&text, "Rise above 10 %");
    assert!(found.contains("25.0 % (50 of 200)"), "{found}");
    assert!(found.contains("4.5 % (8.95 of 200)"), "{found}");
    let text = answer(
        &table,
        "show responders of rise at 10 % over rows split fluid at 300 mL",
    );
    assert!(
        line(&text, "Rise above 10 %, fluid under 300 mL").contains("(25 of 100)"),
        "{text}"
    );
    assert!(
        line(&text, "Rise above 10 %, fluid 300 mL or more").contains("(25 of 100)"),
        "{text}"
    );
    assert!(text.contains("2 counts were looked at"), "{text}");
}

/// R `lm`: slope with interval; here per hundred, so the predictor is a hundredth of R's.
#[test]
fn the_line_is_that_of_r() {
    let x: Vec<f64> = numbers("line.x").iter().map(|v| v * 100.0).collect();
    let table = Columns::new()
        .with("dose [mL]", &x)
        .with("change [%]", &words("line.y"));
    let text = answer(
        &table,
        "show dose_response of change against dose over rows",
    );
    // statistics_judges.R: `confint(f)["x", ]` and the p value stand last.
    let judge = numbers("r_line");
    let found = line(&text, "straight line —");
    let interval = format!("({} to {})", figure(judge[5]), figure(judge[6]));
    assert!(
        found.contains(&interval) && found.contains("p < 0.001"),
        "{interval}\n{found}"
    );
    assert!(text.contains("association and not an effect"), "{text}");
}

/// By hand: s = 11 % / 1.96 = 5.61 %. A change within 1.645 s of the line in logarithms, 10 % to either side, changes its class more
/// than once in twenty: ln 1.1 - 1.645 x 0.0561 = 0.0030, ln 1.1 + 0.0923 = 0.1876, so those from 0.3 % to 20.6 %: of the changes
/// 1 to 24 per cent the first twenty.
#[test]
fn rows_near_the_line_are_counted() {
    let changes: Vec<usize> = (1..=24).collect();
    let scores: Vec<usize> = (1..=24).map(|i| i / 2).collect();
    let table = Columns::new().with("rise [%]", &changes).with("x", &scores);
    let text = answer(
        &table,
        "show roc of x against rise > 10 % over rows error of 11 %",
    );
    assert!(
        text.contains("20 of 24 rows lie so near the line"),
        "{text}"
    );
    assert!(
        line(&text, "X: responders —").contains("Here: 14"),
        "{text}"
    );
}

/// Rows used beside rows set aside: tableone 0.9.6 (tests/oracles/statistics_judges.py), quartiles by hand.
#[test]
fn those_set_aside_are_compared_as_the_judge_does() {
    let used = [
        14.5, 14.2, 18.8, 20.1, 16.0, 17.3, 12.9, 15.5, 19.0, 14.8, 16.6,
    ];
    let aside = [12.1, 10.4, 15.9, 9.8, 13.3, 18.2];
    let rates = ["80"; 11]
        .into_iter()
        .chain(["fast"; 6])
        .collect::<Vec<_>>();
    let values: Vec<f64> = used.iter().chain(&aside).copied().collect();
    let table = Columns::new()
        .with("heart_rate [/min]", &rates)
        .with("index [%]", &values);
    let text = answer(&table, "show set_aside of index over rows");
    let judge = numbers("standardized_difference.means");
    let half = 1.959963984540054 * judge[1];
    let expected = with_interval(&[judge[0], judge[0] - half, judge[0] + half]);
    let found = line(&text, "Index");
    assert!(found.contains(&expected), "{expected}\n{text}");
    assert!(
        found.contains("Used: median 16.0 % (14.7 to 18.1); Known: 11 of 11"),
        "{text}"
    );
    assert!(
        found.contains("Set aside: median 12.7 % (10.8 to 15.2); Known of these: 6 of 6"),
        "{text}"
    );
    assert!(
        text.contains("17 rows read, 11 used and 6 set aside"),
        "{text}"
    );
    assert!(text.contains("Only 6 rows were set aside"), "{text}");

    let rates = ["80"; 40]
        .into_iter()
        .chain(["fast"; 25])
        .collect::<Vec<_>>();
    let words = ["no"; 32]
        .into_iter()
        .chain(["yes"; 8])
        .chain(["no"; 14])
        .chain(["yes"; 11]);
    let table = Columns::new()
        .with("heart_rate [/min]", &rates)
        .with("ventilated", &words.collect::<Vec<_>>());
    let text = answer(&table, "show set_aside over rows");
    let judge = numbers("standardized_difference.shares");
    let half = 1.959963984540054 * judge[1];
    let expected = with_interval(&[judge[0], judge[0] - half, judge[0] + half]);
    let found = line(&text, "Ventilated: yes");
    assert!(found.contains(&expected), "{expected}\n{text}");
    assert!(
        found.contains("Used: 20.0 % (8)") && found.contains("Set aside: 44.0 % (11)"),
        "{text}"
    );
}

/// Patients who repeat widen the intervals: statsmodels (tests/oracles/statistics_judges.py).
#[test]
fn intervals_over_repeating_patients_are_the_judges() {
    let table = Columns::new()
        .with("patient", &words("clustered.patient"))
        .with("first", &numbers("clustered.before"))
        .with("second", &numbers("clustered.after"));
    let text = answer(&table, "show change of first, second over rows by patient");
    let judge = numbers("clustered.mean_of_per_cents");
    assert!(
        line(&text, "Mean of the per cents").contains(&with_interval(&judge)),
        "{text}"
    );
    let judge = numbers("clustered.per_cent_of_means");
    assert!(
        line(&text, "Per cent of the means").contains(&with_interval(&judge)),
        "{text}"
    );
    let judge = numbers("clustered.line");
    let found = line(&text, "Change on the value before");
    assert!(found.contains(&with_interval(&judge[..3])), "{text}");
    assert!(
        text.contains("37 rows come from 14 patients: intervals are widened for it"),
        "{text}"
    );

    let (before, after) = (numbers("clustered.before"), numbers("clustered.after"));
    let changes = before
        .iter()
        .zip(&after)
        .map(|(b, a)| 100.0 * (a / b - 1.0));
    let table = Columns::new()
        .with("patient", &words("clustered.patient"))
        .with("change [%]", &changes.collect::<Vec<_>>());
    let text = answer(
        &table,
        "show responders of change at 10 % over rows by patient",
    );
    let judge = numbers("clustered.share");
    let expected = format!("{:.1} to {:.1} %", 100.0 * judge[2], 100.0 * judge[3]);
    assert!(
        line(&text, "Change above 10 %").contains(&expected),
        "{expected}\n{text}"
    );
    assert!(
        text.contains("Wilson, widened for patients who repeat"),
        "{text}"
    );
}

/// Rows needed for a width, with these rows as the pilot: the counts of statsmodels and scipy (tests/oracles/statistics_judges.py).
#[test]
fn rows_needed_for_a_width_are_the_judges() {
    // 40 responders, of whom 36 are at 1 or above; 60 others, of whom 51 are below: sensitivity 90 %, specificity 85 %.
    let index = [vec![1; 36], vec![0; 4], vec![1; 9], vec![0; 51]].concat();
    let responds = [vec!["yes"; 40], vec!["no"; 60]].concat();
    let table = Columns::new()
        .with("index", &index)
        .with("responds", &responds);
    let ask = |width: &str| {
        answer(
            &table,
            &format!("show sample_size of index against responds is yes over rows width {width}"),
        )
    };
    let (wide, narrow) = (ask("20 %"), ask("10 %"));
    let needed = |path: &str, at: usize| numbers(path)[at] as usize;
    let found = line(&wide, "sensitivity of ≥ 1, Wilson");
    let n = needed("sample_size.wilson", 0);
    assert!(found.contains("In these rows: 90.0 %"), "{wide}");
    assert!(found.contains(&format!("{n} with the response")), "{wide}");
    // Two in five have the response.
    assert!(
        found.ends_with(&format!(": {}", (n * 5).div_ceil(2))),
        "{wide}"
    );
    let n = needed("sample_size.exact", 1);
    assert!(
        line(&narrow, "specificity of ≥ 1, exact").contains(&format!("{n} without it")),
        "{narrow}"
    );

    // Differences of -1 and 1 and 0 in turn, scaled to a standard deviation of 1.
    let scale = (29.0_f64 / 20.0).sqrt();
    let second: Vec<f64> = (0..30)
        .map(|i| 10.0 + scale * f64::from(i % 3 - 1))
        .collect();
    let table = Columns::new()
        .with("first [mL]", &[10.0; 30])
        .with("second [mL]", &second);
    let text = answer(
        &table,
        "show sample_size of first, second over rows width 0.5 mL",
    );
    let n = needed("sample_size.mean", 0);
    assert!(
        line(&text, "mean difference").contains(&format!("Needed: {n} rows")),
        "{text}"
    );
    let n = needed("sample_size.limit", 0);
    assert!(
        line(&text, "each limit of agreement").contains(&format!("Needed: {n} rows")),
        "{text}"
    );
}
