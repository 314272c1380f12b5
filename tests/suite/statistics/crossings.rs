//! Which rows change side of a threshold: figures by hand, and what stands still.

use super::{Columns, answer, line, refusal};

/// Diameters from 1.7 to 2.5 cm in steps of 0.02 cm; the integral is 20 cm in every row.
fn diameters() -> Vec<f64> {
    (0..41).map(|i| 1.7 + 0.02 * f64::from(i)).collect()
}

fn table() -> Columns {
    Columns::new().with("lvot_diameter", &diameters())
}

/// Stroke volume is π/4 · D² · VTI, by hand.
fn volume(d: f64) -> f64 {
    std::f64::consts::FRAC_PI_4 * d * d * 20.0
}

#[test]
fn a_shared_error_moves_the_rows_that_arithmetic_says() {
    let text = answer(
        &table(),
        "show crossings of stroke_volume at 60 mL when lvot_diameter is off by 1 mm over rows",
    );
    let above = |off: f64| {
        diameters()
            .iter()
            .filter(|d| volume(**d + off) > 60.0)
            .count()
    };
    let (as_read, high, low) = (above(0.0), above(0.1), above(-0.1));
    let share = |n: usize| format!("{n} ({:.1} %)", 100.0 * n as f64 / 41.0);
    let too_high = line(&text, "LVOT diameter 1 mm too high, at 60 mL");
    for words in [
        format!("Above as read: {}", share(as_read)),
        format!("Then above: {}", share(high)),
        format!("Come above: {}", share(high - as_read)),
        "Fall below: 0 (0.0 %)".to_owned(),
    ] {
        assert!(too_high.contains(&words), "{words}\n{text}");
    }
    let too_low = line(&text, "LVOT diameter 1 mm too low, at 60 mL");
    assert!(
        too_low.contains(&format!("Fall below: {}", share(as_read - low))),
        "{text}"
    );
    assert!(text.contains("does not average out"), "{text}");
    // Rows are numbered from 1, in the order of the table.
    let crossed = |from: f64, to: f64| -> Vec<String> {
        let rows = diameters().into_iter().enumerate();
        let rows = rows.filter(|(_, d)| volume(d + from) <= 60.0 && volume(d + to) > 60.0);
        rows.map(|(at, _)| (at + 1).to_string()).collect()
    };
    for (up, down) in [
        (crossed(0.0, 0.1).join(", "), "none".to_owned()),
        ("none".to_owned(), crossed(-0.1, 0.0).join(", ")),
    ] {
        let which = format!("Come above: {up}; Fall below: {down}");
        assert!(text.contains(&which), "{which}\n{text}");
    }
}

/// A row changes side where its error exceeds its distance to the diameter of 60 mL: by the
/// normal distribution, summed over the rows.
#[test]
fn errors_of_their_own_move_as_many_rows_as_the_normal_distribution_says() {
    let text = answer(
        &table(),
        "show crossings of stroke_volume at 60 mL when lvot_diameter is off by 1 mm over rows",
    );
    let edge = (60.0 / volume(1.0)).sqrt();
    let chance = |d: f64| 0.5 * libm::erfc((d - edge).abs() / 0.1 / std::f64::consts::SQRT_2);
    let expected: f64 = diameters().iter().map(|d| chance(*d)).sum();
    let row = line(&text, "LVOT diameter 1 mm, at 60 mL");
    let (_, figures) = row.split_once("Change side on average: ").unwrap();
    let found: f64 = figures.split(' ').next().unwrap().parse().unwrap();
    // 41 rows of 1024 draws: a standard deviation below 41 · 0.5 / √1024 / √41 = 0.1 rows.
    assert!((found - expected).abs() < 0.4, "{found} {expected}");
    assert!(text.contains("1024 draws for each row, seed 1"), "{text}");
}

#[test]
fn a_change_that_shares_the_reading_stands_still_and_says_what_to_ask() {
    let table = Columns::new()
        .with("lvot_diameter", &[2.0, 2.1, 2.2])
        .with("before.lvot_vti", &[18.0, 19.0, 20.0])
        .with("after.lvot_vti", &[20.0, 22.0, 21.0]);
    let (_folder, mut session) = super::session(&table.text(), "");
    session.submit(
        "exams",
        "use hemodynamics as before\nuse hemodynamics as after\ncompare before, after",
    );
    session.submit(
        "q",
        "show crossings of change.stroke_volume at 10 % when lvot_diameter is off by 1 mm, \
         after.lvot_vti is off by 10 % over rows",
    );
    let text = &session.outputs("q")[0].text;
    assert!(
        text.contains(
            "`change.stroke_volume` does not move in any row when `lvot_diameter` is off"
        ),
        "{text}"
    );
    assert!(text.contains("`after.stroke_volume_index`"), "{text}");
    // 10 % of the second integral: 11.1, 15.8 and 5.0 % become 22, 27 and 15.5 %.
    let high = line(text, "LVOT velocity-time integral");
    assert!(high.contains("Rows compared: 3"), "{text}");
    assert!(text.contains("Come above: 1 (33.3 %)"), "{text}");
}

/// Where the diameter could not be had it cannot be off; the estimate that stands in is no
/// reading.
#[test]
fn rows_without_the_reading_are_not_compared() {
    let table = Columns::new()
        .with("lvot_diameter", &["2.0", "unobtainable", "2.2"])
        .with("height", &[170, 171, 172])
        .with("weight", &[70, 71, 72])
        .with("sex", &["male", "male", "male"]);
    let ask = |with: &str| {
        let what = "stroke_volume at 60 mL when lvot_diameter is off by 1 mm";
        answer(&table, &format!("show crossings of {what} over rows{with}"))
    };
    let text = ask(" with estimated");
    assert!(
        text.contains("1 row has a result without that reading"),
        "{text}"
    );
    assert!(line(&text, "LVOT diameter 1 mm too low").contains("Rows compared: 2"));
    // Nobody measured the diameter that body size gives.
    let text = ask("");
    assert!(
        text.contains("2 analyzed of 3 rows read; left out: stroke volume estimated 1."),
        "{text}"
    );
    assert!(!text.contains("without that reading"), "{text}");
}

#[test]
fn what_cannot_be_asked_is_refused() {
    let ask = |what: &str| refusal(&table(), &format!("show crossings of {what} over rows"));
    for (what, words) in [
        (
            "stroke_volume at 60 mL when heart_rate is off by 5 /min",
            "does not rest on",
        ),
        (
            "stroke_volume at 60 mL when lvot_diameter is off by 1 s",
            "does not measure it",
        ),
        (
            "stroke_volume at 60 mL when lvot_diameter is off by 0.1",
            "0.1 has no unit",
        ),
        (
            "stroke_volume at 60 mL when lvot_diameter is off by -1 mm",
            "above zero",
        ),
        (
            "stroke_volume at 60 s when lvot_diameter is off by 1 mm",
            "60",
        ),
        (
            "stroke_volume, lvot_area at 60 mL when lvot_diameter is off by 1 mm",
            "one cell",
        ),
        (
            "rhythm at 1 when lvot_diameter is off by 1 mm",
            "is a finding",
        ),
        (
            "stroke_volume at 60 mL when height is off by 1 cm",
            "none of the columns",
        ),
    ] {
        let text = ask(what);
        assert!(text.contains(words), "{what}: {text}");
    }
}
