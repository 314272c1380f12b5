//! What a statement may set of a method, and whose the values of a chart or of a repeatability are.

use semilunar::sheet::figure;

use super::judges::numbers;
use super::{Columns, answer, line, refusal};

/// The judges' values in order of time; each patient has two rows, one right after the other, and a third some have later.
fn table() -> Columns {
    let values = numbers("quality.values");
    let count = values.len();
    let patient: Vec<String> = (0..count).map(|i| format!("P{}", i / 2 % 12)).collect();
    let who: Vec<&str> = (0..count).map(|i| ["A", "B"][i % 2]).collect();
    Columns::new()
        .with("x [mL]", &values)
        .with("patient", &patient)
        .with("who", &who)
        .with("alone", &(0..count).collect::<Vec<_>>())
        .with("day", &(1..=count).collect::<Vec<_>>())
}

/// The first value of each patient in order of time.
fn first_of_each() -> Vec<f64> {
    let mut first = numbers("quality.values");
    let mut at = 0;
    first.retain(|_| {
        at += 1;
        at % 2 == 1 && at <= 24
    });
    first
}

/// Center and standard deviation by hand, over the first value of each patient: mean, and mean moving range / 1.128 (NIST/SEMATECH
/// e-Handbook 6.3.2.2).
#[test]
fn a_chart_by_patient_takes_the_first_value_of_each() {
    let first = first_of_each();
    let read = numbers("quality.values").len();
    let center = first.iter().sum::<f64>() / first.len() as f64;
    let ranges = first.windows(2).map(|two| (two[1] - two[0]).abs());
    let sigma = ranges.sum::<f64>() / (first.len() as f64 - 1.0) / 1.128;
    for question in ["individuals", "ewma", "cusum"] {
        let text = answer(
            &table(),
            &format!("show {question} of x over rows along day baseline 12 by patient"),
        );
        assert!(
            line(&text, "Center —").contains(&format!("Value: {} mL", figure(center))),
            "{text}"
        );
        assert!(
            line(&text, "Standard deviation —").contains(&format!("Value: {} mL", figure(sigma))),
            "{text}"
        );
        assert!(
            text.contains("X in order of day, 12 values, the first of each patient; center and spread from the first 12."),
            "{text}"
        );
        let said = format!(
            "12 analyzed of {read} rows read; left out: later rows of a patient {}.",
            read - 12
        );
        assert!(text.contains(&said), "{said}\n{text}");
        assert!(
            !text.contains("exams of one patient it is too small"),
            "{text}"
        );
        assert!(!text.contains("Each by the own baseline"), "{text}");
    }
}

/// Where nobody repeats nothing is left out; where nobody is named the caution stands.
#[test]
fn the_caution_about_patients_stands_where_they_are_not_told_apart() {
    let caution = "where those are exams of one patient it is too small";
    let ask = |by: &str| {
        answer(
            &table(),
            &format!("show individuals of x over rows along day {by}"),
        )
    };
    let (alone, unsaid) = (ask("by alone"), ask(""));
    assert!(
        !alone.contains(caution) && !alone.contains("later rows"),
        "{alone}"
    );
    assert!(
        unsaid.contains(caution) && unsaid.contains("by patient"),
        "{unsaid}"
    );
    assert_eq!(line(&alone, "Center —"), line(&unsaid, "Center —"));
}

/// Names that have a baseline of their own are operators to cumulative sums, as before.
#[test]
fn operators_keep_their_own_baselines() {
    let text = answer(
        &table(),
        "show cusum of x over rows along day baseline 5 by who",
    );
    assert!(text.contains("Each by the own baseline"), "{text}");
    assert!(line(&text, "A —").contains("Values:"), "{text}");
    let named = refusal(
        &table(),
        "show cusum of x over rows along day baseline 39 by who",
    );
    assert!(named.contains("baseline"), "{named}");
    assert!(
        named.contains("if these are operators, say `by who as operators`"),
        "{named}"
    );
}

/// Whether names are operators or patients is taken from how many values they have: the answer says so, and the question can say it.
#[test]
fn what_names_are_taken_for_is_said_and_can_be_said() {
    let count = numbers("quality.values").len();
    let ask = |by: &str| {
        answer(
            &table(),
            &format!("show cusum of x over rows along day baseline 3 by {by}"),
        )
    };
    let most = count.div_ceil(2);
    let text = ask("who");
    let said = format!(
        "The names in `who` are taken as operators, since A has {most} values and a baseline takes 3"
    );
    assert!(text.contains(&said), "{said}\n{text}");
    assert!(
        text.contains("If they are patients, say `by who as patients`"),
        "{text}"
    );
    let text = ask("who as operators");
    assert!(!text.contains("taken as"), "{text}");
    assert!(text.contains("Each by the own baseline"), "{text}");
    // A patient who repeats so often would be taken for an operator.
    assert!(ask("patient").contains("are taken as operators"));
    let text = ask("patient as patients");
    assert!(
        text.contains("12 values, the first of each patient"),
        "{text}"
    );
    assert!(!text.contains("Each by the own baseline"), "{text}");
    let text = answer(
        &table(),
        "show cusum of x over rows along day baseline 12 by patient",
    );
    let said = "The names in `patient` are taken as patients, since none has the 12 values that a baseline takes (P0 has 4 values)";
    assert!(text.contains(said), "{text}");
    let text = answer(
        &table(),
        "show individuals of x over rows along day by patient",
    );
    assert!(
        text.contains("The names in `patient` are taken as patients. If they are operators, chart each alone, such as `where patient is NAME`"),
        "{text}"
    );
    for (question, words) in [
        (
            "cusum of x over rows along day baseline 3 as operators",
            "there is no `by`",
        ),
        (
            "cusum of x over rows along day baseline 3 by who as wards",
            "`operators` or `patients` belongs here",
        ),
        (
            "individuals of x over rows along day by who as operators",
            "`as` says nothing to `individuals`",
        ),
    ] {
        let named = refusal(&table(), &format!("show {question}"));
        assert!(named.contains(words), "{named}");
    }
}

/// pandas' moving average with another weight, and the definition of cumulative sums in plain Python (tests/oracles): the first point
/// beyond, and the limits `center ± width sigma root(weight / (2 - weight))`.
#[test]
fn weights_and_widths_can_be_set() {
    let values = numbers("quality.values");
    let baseline = &values[..12];
    let center = baseline.iter().sum::<f64>() / 12.0;
    let ranges = baseline.windows(2).map(|two| (two[1] - two[0]).abs());
    let sigma = ranges.sum::<f64>() / 11.0 / 1.128;
    let ask = |set: &str| {
        answer(
            &table(),
            &format!("show ewma of x over rows along day baseline 12 {set}"),
        )
    };
    for (set, weight, width) in [
        ("", 0.2, 3.0),
        ("weight 0.1 width 2.7", 0.1, 2.7),
        ("width 2 weight 20 %", 0.2, 2.0),
    ] {
        let half = width * sigma * f64::sqrt(weight / (2.0 - weight));
        let text = ask(set);
        let said = format!(
            "Value: {} to {} mL; weight {weight}, width {width}",
            figure(center - half),
            figure(center + half)
        );
        assert!(
            line(&text, "Limits of the average").ends_with(&said),
            "{said}\n{text}"
        );
    }
    let sums = |set: &str| {
        answer(
            &table(),
            &format!("show cusum of x over rows along day baseline 12 {set}"),
        )
    };
    let usual = sums("");
    assert!(
        line(&usual, "Slack —").ends_with("half a standard deviation"),
        "{usual}"
    );
    assert!(
        line(&usual, "Decision interval —").ends_with("5 standard deviations"),
        "{usual}"
    );
    let set = sums("slack 1 decision 4");
    let value = |count: f64| format!("Value: {} mL; ", figure(count * sigma));
    assert!(
        line(&set, "Slack —").ends_with(&(value(1.0) + "one standard deviation")),
        "{set}"
    );
    assert!(
        line(&set, "Decision interval —").ends_with(&(value(4.0) + "4 standard deviations")),
        "{set}"
    );
}

/// Counted by hand: with 10 % two more pairs lie outside the zone than with 15 %, and one of them agrees.
#[test]
fn the_zone_of_exclusion_can_be_set() {
    let table = Columns::new()
        .with("one [%]", &[20.0, 5.0, -18.0, 16.0, 12.0, -12.0])
        .with("other [%]", &[25.0, -4.0, -20.0, -3.0, 11.0, 13.0]);
    let ask = |set: &str| {
        answer(
            &table,
            &format!("show agreement of one, other over rows {set}"),
        )
    };
    let usual = ask("");
    assert!(
        usual.contains("66.7 % (2 of 3)") && usual.contains("both under 15 %: 3"),
        "{usual}"
    );
    let narrow = ask("exclusion 10 %");
    assert!(
        narrow.contains("60.0 % (3 of 5)") && narrow.contains("both under 10 %: 1"),
        "{narrow}"
    );
}

/// statistics_judges.py: the pooled standard deviation, and quantiles over resamples of whole patients; ours has other draws.
#[test]
fn repeatability_by_patient_draws_whole_patients() {
    let readings = numbers("repeatability.by_patient.readings");
    let every =
        |from: usize| -> Vec<f64> { readings.iter().skip(from).step_by(2).copied().collect() };
    let patient: Vec<String> = numbers("repeatability.by_patient.patient")
        .iter()
        .map(|p| format!("P{p}"))
        .collect();
    let table = Columns::new()
        .with("one [cm]", &every(0))
        .with("other [cm]", &every(1))
        .with("patient", &patient)
        .with("alone", &(0..patient.len()).collect::<Vec<_>>());
    let ask = |by: &str| {
        answer(
            &table,
            &format!("show repeatability of one, other over rows {by}"),
        )
    };
    let judge = numbers("repeatability.by_patient.judge");
    let text = ask("by patient");
    let found = line(&text, "Standard deviation within");
    let numbers: Vec<f64> = found
        .split(|c: char| !(c.is_ascii_digit() || c == '.'))
        .filter_map(|word| word.parse().ok())
        .collect();
    // `With 95 % interval: 0.868 (0.57 to 1.08) cm`
    let [_, value, lower, upper] = numbers[..] else {
        panic!("{found}");
    };
    for (ours, judges) in [(value, judge[0]), (lower, judge[1]), (upper, judge[2])] {
        assert!(
            (ours / judges - 1.0).abs() < 0.03,
            "{ours} {judges}\n{found}"
        );
    }
    for words in [
        "2000 resamples, seed 1, whole patients drawn",
        "40 observations come from 12 patients and are not independent",
        "The intervals of the ICC take rows as independent, although patients repeat.",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    assert!(!text.contains("Every row counts as a patient"), "{text}");
    let alone = ask("by alone");
    assert!(
        !alone.contains("resamples") && !alone.contains("Every row counts"),
        "{alone}"
    );
    assert!(ask("").contains("where patients repeat, the intervals are too narrow"));
}

/// statsmodels' `OLS(...).fit(cov_type="cluster")` of the judges' pairs (tests/oracles): the slope of `after - before` on `before`, which are
/// the difference and the mean of the pairs made here.
#[test]
fn the_slope_of_the_difference_allows_for_patients_who_repeat() {
    let (before, after) = (numbers("clustered.before"), numbers("clustered.after"));
    let pairs = || before.iter().zip(&after).map(|(b, a)| (*b, a - b));
    let patient: Vec<String> = numbers("clustered.patient")
        .iter()
        .map(|p| format!("P{p}"))
        .collect();
    let table = Columns::new()
        .with(
            "one [mL]",
            &pairs().map(|(b, d)| b + d / 2.0).collect::<Vec<_>>(),
        )
        .with(
            "other [mL]",
            &pairs().map(|(b, d)| b - d / 2.0).collect::<Vec<_>>(),
        )
        .with("patient", &patient);
    let text = answer(&table, "show agreement of one, other over rows by patient");
    let judge = numbers("clustered.line");
    let expected = format!(
        "{} ({} to {})",
        figure(judge[0]),
        figure(judge[1]),
        figure(judge[2])
    );
    assert!(
        line(&text, "Slope of the difference on the mean").contains(&expected),
        "{expected}\n{text}"
    );
    assert!(text.contains("has cluster-robust errors"), "{text}");
    assert!(!text.contains("take pairs as independent"), "{text}");
}

#[test]
fn settings_out_of_range_are_refused_at_their_place() {
    for (statement, words) in [
        (
            "individuals of x over rows along day baseline 13 by patient",
            "the first row of each patient makes 12 values",
        ),
        (
            "ewma of x over rows along day baseline 12 weight 0",
            "above 0 and at most 1, such as `weight 0.1`",
        ),
        (
            "ewma of x over rows along day baseline 12 weight 1.5",
            "above 0 and at most 1",
        ),
        (
            "ewma of x over rows along day baseline 12 weight 0.2 mL",
            "above 0 and at most 1",
        ),
        (
            "ewma of x over rows along day baseline 12 width 9",
            "such as `width 2.7`",
        ),
        (
            "cusum of x over rows along day baseline 12 slack -1",
            "such as `slack 0.5`",
        ),
        (
            "cusum of x over rows along day baseline 12 decision 0",
            "such as `decision 4`",
        ),
        (
            "cusum of x over rows along day baseline 12 weight 0.2",
            "`weight` says nothing to `cusum`",
        ),
        (
            "individuals of x over rows along day decision 4",
            "`decision` says nothing to `individuals`",
        ),
        (
            "agreement of x, day over rows exclusion 10 %",
            "in one unit",
        ),
        (
            "agreement of x, x over rows exclusion 100 %",
            "one reading serves both",
        ),
    ] {
        let text = refusal(&table(), &format!("show {statement}"));
        assert!(
            text.contains(words) && text.contains("cell 3:"),
            "{statement}\n{text}"
        );
    }
    let percents = Columns::new()
        .with("one [%]", &[20.0, 5.0, -18.0, 16.0])
        .with("other [%]", &[25.0, -4.0, -20.0, -3.0])
        .with("this [mL]", &[25.0, 4.0, 20.0, 3.0])
        .with("that [mL]", &[24.0, 5.0, 21.0, 2.0]);
    for (statement, words) in [
        (
            "agreement of one, other over rows exclusion 100 %",
            "from 0 to 99 %, such as `exclusion 10 %`",
        ),
        (
            "agreement of one, other over rows exclusion 10",
            "from 0 to 99 %",
        ),
        (
            "agreement of one, other over rows exclusion 3 mL",
            "from 0 to 99 %",
        ),
        (
            "agreement of this, that over rows exclusion 10 %",
            "that of changes in per cent, and these are none",
        ),
    ] {
        let text = refusal(&percents, &format!("show {statement}"));
        assert!(
            text.contains(words) && text.contains("cell 3:"),
            "{statement}\n{text}"
        );
    }
}
