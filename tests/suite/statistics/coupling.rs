//! What is said below drawings of two quantities that share readings, against the linear rule by
//! hand (JCGM 100:2008, 5.2.2 and 5.1.2).

use super::{Columns, refusal, session};

const VTI: [[f64; 2]; 3] = [[18.0, 21.0], [20.0, 19.0], [16.0, 20.0]];
const UNCERTAIN: [f64; 3] = [0.8, 1.0, 0.6];
const DIAMETER: f64 = 2.0;
const DIAMETER_U: f64 = 0.1;

/// What a statement shows over three exams before and after, that share a diameter.
fn shown(statement: &str, with_uncertainty: bool) -> String {
    let mut table = Columns::new()
        .with("lvot_diameter", &[DIAMETER; 3])
        .with("before.lvot_vti", &VTI.map(|v| v[0]))
        .with("after.lvot_vti", &VTI.map(|v| v[1]));
    if with_uncertainty {
        table = table
            .with("lvot_diameter (u)", &[DIAMETER_U; 3])
            .with("before.lvot_vti (u)", &UNCERTAIN)
            .with("after.lvot_vti (u)", &UNCERTAIN);
    }
    let (_folder, mut session) = session(&table.text(), "");
    let exams = "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after";
    session.submit("exams", exams);
    session.submit("q", statement);
    let outputs = session.outputs("q");
    assert!(!outputs[0].is_error(), "{}", outputs[0].text);
    assert!(outputs[0].html.contains("Coupling: "));
    outputs[0].text.replace('\u{a0}', " ")
}

/// Correlation of two results from their slopes to independent readings.
fn correlation(slopes: impl Fn(f64, f64) -> [[f64; 3]; 2], row: usize) -> f64 {
    let u = [DIAMETER_U, UNCERTAIN[row], UNCERTAIN[row]];
    let [a, b] = slopes(VTI[row][0], VTI[row][1]);
    let dot = |x: [f64; 3], y: [f64; 3]| (0..3).map(|i| x[i] * y[i] * u[i] * u[i]).sum::<f64>();
    dot(a, b) / (dot(a, a) * dot(b, b)).sqrt()
}

fn span(rows: [f64; 3], middle: usize) -> String {
    let number = |r: f64| format!("{r:.2}").replace('-', "−");
    let least = rows.iter().copied().fold(f64::INFINITY, f64::min);
    let greatest = rows.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    format!(
        "by {} to {}, in the middle one by {} (3 rows looked at",
        number(least),
        number(greatest),
        number(rows[middle])
    )
}

/// Slopes of the volume before, with a circle's area, to diameter and both integrals.
fn before(b: f64, _: f64) -> [f64; 3] {
    let quarter = std::f64::consts::FRAC_PI_4;
    [
        quarter * 2.0 * DIAMETER * b,
        quarter * DIAMETER * DIAMETER,
        0.0,
    ]
}

fn after(_: f64, a: f64) -> [f64; 3] {
    let [by_diameter, by_integral, _] = before(a, 0.0);
    [by_diameter, 0.0, by_integral]
}

#[test]
fn a_change_drawn_against_its_start_says_what_error_alone_would_do() {
    let text = shown(
        "draw change.stroke_volume against before.stroke_volume over rows",
        true,
    );
    // 100 (a / b − 1): the diameter cancels.
    let change = |b: f64, a: f64| [0.0, -100.0 * a / (b * b), 100.0 / b];
    let by_hand = [0, 1, 2].map(|row| correlation(|b, a| [change(b, a), before(b, a)], row));
    let shared = "change.stroke_volume and before.stroke_volume share before.lvot_vti.";
    assert!(text.contains(shared), "{text}");
    // The row of 18 cm is the middle one.
    assert!(
        text.contains(&span(by_hand, 0)),
        "{} {text}",
        span(by_hand, 0)
    );
}

#[test]
fn a_difference_against_its_start_and_against_the_mean() {
    let difference = |b: f64, a: f64| {
        let (after, before) = (after(b, a), before(b, a));
        [0, 1, 2].map(|i| after[i] - before[i])
    };
    let text = shown(
        "show change of before.stroke_volume, after.stroke_volume over rows",
        true,
    );
    let by_hand = [0, 1, 2].map(|row| correlation(|b, a| [difference(b, a), before(b, a)], row));
    let held = "both axes hold before.stroke_volume and its error, and after.stroke_volume and \
                before.stroke_volume share lvot_diameter.";
    assert!(text.contains(held), "{text}");
    assert!(
        text.contains(&span(by_hand, 0)),
        "{} {text}",
        span(by_hand, 0)
    );

    let text = shown(
        "show agreement of before.stroke_volume, after.stroke_volume over rows",
        true,
    );
    let sum = |b: f64, a: f64| {
        let (after, before) = (after(b, a), before(b, a));
        [0, 1, 2].map(|i| after[i] + before[i])
    };
    let by_hand =
        [0, 1, 2].map(|row| correlation(|b, a| [difference(b, a).map(|d| -d), sum(b, a)], row));
    assert!(
        text.contains(&span(by_hand, 0)),
        "{} {text}",
        span(by_hand, 0)
    );
}

#[test]
fn without_a_stated_uncertainty_the_shared_readings_are_still_named() {
    let text = shown(
        "show dose_response of change.stroke_volume against before.stroke_volume over rows",
        false,
    );
    assert!(
        text.contains("share before.lvot_vti. No uncertainty is stated"),
        "{text}"
    );
}

#[test]
fn what_shares_nothing_says_so() {
    let text = shown(
        "draw after.stroke_distance against before.stroke_distance over rows",
        true,
    );
    assert!(
        text.contains("share no reading. Error alone would correlate what is drawn by 0.00"),
        "{text}"
    );
}

#[test]
fn what_shares_nothing_and_states_nothing_is_not_correlated_by_error() {
    let text = shown(
        "draw after.lvot_vti against before.lvot_vti over rows",
        false,
    );
    assert!(
        text.contains("share no reading, so error alone does not correlate them"),
        "{text}"
    );
}

/// What stands beside a response that shares readings with it: the correlation of the change in per
/// cent with the integral it starts from, by the linear rule.
#[test]
fn an_index_that_shares_readings_with_the_response_says_so() {
    // Slopes of 100 (a - b) / b to diameter and both integrals, beside b itself.
    let slopes = |b: f64, a: f64| [[0.0, -100.0 * a / (b * b), 100.0 / b], [0.0, 1.0, 0.0]];
    let expected = [2, 0, 1].map(|row| correlation(slopes, row));
    let table = |with: bool| {
        let vti: Vec<[f64; 2]> = (0..24).map(|i| VTI[i % 3]).collect();
        let mut table = Columns::new()
            .with("lvot_diameter", &[DIAMETER; 24])
            .with(
                "before.lvot_vti",
                &vti.iter().map(|v| v[0]).collect::<Vec<_>>(),
            )
            .with(
                "after.lvot_vti",
                &vti.iter().map(|v| v[1]).collect::<Vec<_>>(),
            )
            .with("apart", &(0..24).map(|i| i * 7 % 13).collect::<Vec<_>>());
        if with {
            let u: Vec<f64> = (0..24).map(|i| UNCERTAIN[i % 3]).collect();
            table = table
                .with("before.lvot_vti (u)", &u)
                .with("after.lvot_vti (u)", &u);
        }
        table
    };
    let uses = "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after";
    let ask = |statement: &str| {
        let (_folder, mut session) = session(&table(true).text(), "");
        session.submit("exams", uses);
        session.submit("q", statement);
        session.outputs("q")[0].text.replace('\u{a0}', " ")
    };
    let number = |r: f64| format!("{r:.2}").replace('-', "−");
    let least = expected.iter().copied().fold(f64::INFINITY, f64::min);
    let greatest = expected.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let by = format!(
        "correlate the two by {} to {}",
        number(least),
        number(greatest)
    );
    for question in ["roc", "gray_zone"] {
        let text = ask(&format!(
            "show {question} of low before.lvot_vti against change.stroke_distance > 10 % over rows"
        ));
        assert!(
            text.contains("share before.lvot_vti. Error alone would"),
            "{text}"
        );
        assert!(text.contains(&by), "{by}\n{text}");
        assert!(
            text.contains("shares readings with the response: error alone makes it look"),
            "{text}"
        );
        let apart = ask(&format!(
            "show {question} of apart against change.stroke_distance > 10 % over rows"
        ));
        assert!(
            apart.contains("Response: ") && !apart.contains("Coupling"),
            "{apart}"
        );
        let itself = ask(&format!(
            "show {question} of change.stroke_volume against change.stroke_volume > 10 % over rows"
        ));
        assert!(
            itself.contains("is both the index and the response"),
            "{itself}"
        );
    }
    let split = ask(
        "show responders of change.stroke_distance at 10 % over rows split before.lvot_vti at 17 cm",
    );
    assert!(split.contains(&by), "{by}\n{split}");
    assert!(
        split.contains("puts responders into some groups"),
        "{split}"
    );
    let refused = refusal(
        &table(false),
        "show responders of apart at 5 over rows split apart at 7",
    );
    assert!(
        refused.contains("is both the response and what its rows are split by"),
        "{refused}"
    );
}
