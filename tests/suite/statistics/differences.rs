//! Changes in a unit of their own: thresholds in milliliters, and what measurement error alone would make of them.

use std::fmt::Write as _;

use semilunar::notebook::Session;
use semilunar::sheet::figure;

use super::judges::numbers;
use super::{Columns, answer, line, refusal};

/// Twelve repeats with the judges' differences, and twenty rows in which fluid was given.
fn table() -> Columns {
    let mut deltas = numbers("change_error.repeats");
    let what = [vec!["repeat"; deltas.len()], vec!["fluid"; 20]].concat();
    deltas.extend((0..20).map(|i| f64::from(i) * 1.5 - 5.0));
    let index: Vec<usize> = (0..deltas.len()).map(|i| i * 5 % 13).collect();
    Columns::new()
        .with("delta [mL]", &deltas)
        .with("what", &what)
        .with("index", &index)
}

/// scipy's `norm.sf` and `chi2.ppf` (tests/oracles/statistics_judges.py): the share that a standard deviation of 8 / 1.96 mL carries
/// beyond 10 mL, and the error that the repeats show.
#[test]
fn responders_in_milliliters_stand_beside_those_of_error_alone() {
    let judge = numbers("change_error.difference");
    let ask = |error: &str| {
        answer(
            &table(),
            &format!(
                "show responders of delta at 10 mL, 0.006 L, -4 mL over rows where what is fluid {error}"
            ),
        )
    };
    let expected = |share: f64| format!("{:.1} % ({} of 20)", 100.0 * share, figure(20.0 * share));
    let text = ask("error of 8 mL");
    // 11.5 mL and more: the last nine.
    let found = line(&text, "Delta above 10 mL");
    assert!(found.contains("45.0 % (9 of 20)"), "{found}");
    assert!(found.ends_with(&expected(judge[0])), "{found}");
    assert!(
        line(&text, "Delta below −4 mL").ends_with(&expected(judge[1])),
        "{text}"
    );
    let said = format!(
        "Error of delta: a stated least significant change of 8 mL. Expected from it alone: the difference normal about zero with a \
         standard deviation of {} mL, at all sizes of the reading.",
        figure(8.0 / 1.96)
    );
    assert!(text.contains(&said), "{said}\n{text}");
    assert_eq!(
        text.replace("8 mL", ""),
        ask("error of 0.8 cL").replace("8 mL", "")
    );

    let text = ask("error from what is repeat");
    assert!(
        line(&text, "Delta above 6 mL").ends_with(&expected(judge[5])),
        "{text}"
    );
    let least = |deviation: f64| figure(1.96 * deviation);
    // numpy's mean of the repeats, with scipy's `t.interval(0.95, 11, mean, sem)`.
    let said = format!(
        "12 rows where what is repeat: least significant change {} mL (95 % interval {} to {} mL) about zero; the repeats lie 0.625 mL from \
         their firsts on average (95 % interval −2.63 to 3.88 mL); of these rows went 0 above 10 mL, 1 above 6 mL, 3 below −4 mL.",
        least(judge[2]),
        least(judge[3]),
        least(judge[4])
    );
    assert!(text.contains(&said), "{said}\n{text}");
    assert!(text.contains("Only 12 repeats: fewer than 30"), "{text}");
}

/// The response of a curve is measured once more in its own unit.
#[test]
fn a_response_in_milliliters_is_measured_once_more() {
    let ask = |error: &str| {
        answer(
            &table(),
            &format!("show roc of index against delta > 5.2 mL over rows error of {error}"),
        )
    };
    let (little, much) = (ask("0.01 mL"), ask("20 mL"));
    assert!(
        little.contains("0 of 32 rows lie so near the line"),
        "{little}"
    );
    assert!(
        line(&little, "Index: responders").ends_with("95 % of the draws: 15.0 to 15.0"),
        "{little}"
    );
    // Beyond 1.645 standard deviations of 20 / 1.96 mL from 5.2 mL lie 22 and 23.5 mL alone.
    assert!(
        much.contains("30 of 32 rows lie so near the line"),
        "{much}"
    );
    assert!(
        much.contains("Error of the response: a stated least significant change of 20 mL; the difference normal about zero"),
        "{much}"
    );
}

/// The slope that error alone gives: minus the error's variance within a patient over the variance of what was before.
#[test]
fn regression_to_the_mean_takes_an_error_in_milliliters() {
    let before: Vec<f64> = (0..30).map(|i| 50.0 + f64::from(i * 7 % 30)).collect();
    let after: Vec<f64> = before.iter().map(|b| b + 5.0).collect();
    let table = Columns::new()
        .with("before [mL]", &before)
        .with("after [mL]", &after);
    let text = answer(
        &table,
        "show change of before, after over rows error of 8 mL",
    );
    // 50 to 79, each once: variance 30 * 31 / 12 = 77.5.
    let slope = -(8.0_f64 / 1.96).powi(2) / 2.0 / 77.5;
    assert!(
        line(&text, "The same from error alone")
            .contains(&format!("With interval: {};", figure(slope))),
        "{slope}\n{text}"
    );
}

/// Cells that a comparison gives, and what is no change at all.
#[test]
fn a_difference_of_two_exams_is_told_from_a_reading() {
    let mut text = "before.lvot_vti [cm],after.lvot_vti [cm],lvot_diameter [cm]\n".to_owned();
    for row in 0..24 {
        writeln!(text, "{},{},2.0", 15 + row % 7, 16 + row % 5).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), text).unwrap();
    let ask = |statement: &str| {
        let mut session = Session::new(folder.path());
        let sheet = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after";
        session.submit_all(&[
            ("sheet", sheet),
            ("rows", "cohort rows from \"rows.csv\""),
            ("q", statement),
        ]);
        let outputs = session.outputs("q");
        let text: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
        text.join("\n").replace('\u{a0}', " ")
    };
    let text = ask("show responders of difference.stroke_volume at 10 mL over rows error of 8 mL");
    assert!(
        line(&text, "Difference in stroke volume above 10 mL").ends_with("0.7 % (0.171 of 24)"),
        "{text}"
    );
    let text = ask("show responders of after.stroke_volume at 60 mL over rows error of 8 mL");
    for words in [
        "`after.stroke_volume` is neither a per cent change nor the difference between two exams",
        "such as `change.stroke_volume` or `difference.stroke_volume`",
    ] {
        assert!(text.contains(words), "{text}");
    }
}

#[test]
fn an_error_in_another_unit_is_refused() {
    for (statement, words) in [
        (
            "show responders of delta at 10 mL over rows error of 11 %",
            ["`delta` is no per cent change", "such as `error of 8 mL`"],
        ),
        (
            "show responders of delta at 10 mL over rows error of 8 cm",
            ["`delta` is in mL, not in cm", "cell 3:"],
        ),
        (
            "show roc of index against delta > 5 mL over rows error of 11 %",
            ["`delta` is no per cent change", "cell 3:"],
        ),
        (
            "show responders of delta at 10 mL over rows error of 0 mL",
            ["least significant change", "cell 3:"],
        ),
        (
            "show responders of index at 10 over rows error of 11 %",
            ["`index` is no per cent change", "such as `error of 3`"],
        ),
    ] {
        let text = refusal(&table(), statement);
        for word in words {
            assert!(text.contains(word), "{statement}\n{text}");
        }
    }
}
