//! Sessions: what a submission replaces, what it produces again, and what errors do to the rest.

mod errors;
mod files;
mod hostile;
mod order;
mod rust;

use semilunar::notebook::Session;

/// A session without files.
fn session(cells: &[(&str, &str)]) -> Session {
    let mut session = Session::new(".");
    session.submit_all(cells);
    session
}

/// Everything a cell shows, as plain text.
fn shown(session: &Session, key: &str) -> String {
    let outputs = session.outputs(key);
    let texts: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
    // Drawings hold numbers and units together by a space that does not break.
    texts.join("\n").replace('\u{a0}', " ")
}

fn has_error(session: &Session, key: &str) -> bool {
    session.outputs(key).iter().any(|o| o.is_error())
}

/// 2 cm and 20 cm: an area of 3.14 cm² and a stroke volume of 62.8 mL, by hand.
const EXAM: &str = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm\nheart_rate = 70 /min";

#[test]
fn submitting_a_cell_again_replaces_what_it_defined() {
    let mut session = session(&[("exam", EXAM), ("v", "show stroke_volume")]);
    assert!(shown(&session, "v").starts_with("stroke_volume: 62.8 mL"));
    let update = session.submit("exam", &EXAM.replace("20 cm", "10 cm"));
    assert_eq!(update.changed, ["v"]);
    assert!(shown(&session, "v").starts_with("stroke_volume: 31.4 mL"));
    session.submit("exam", "use hemodynamics\nlvot_vti = 10 cm");
    let text = shown(&session, "v");
    assert!(text.contains("lvot_diameter has no reading"), "{text}");
}

#[test]
fn a_forgotten_cell_defines_nothing() {
    let mut session = session(&[
        ("exam", "use hemodynamics\nlvot_diameter = 2 cm"),
        ("vti", "lvot_vti = 20 cm"),
        ("v", "show stroke_volume"),
        ("d", "show lvot_diameter"),
    ]);
    let update = session.forget("vti");
    assert_eq!(update.changed, ["v"]);
    assert!(shown(&session, "v").contains("lvot_vti has no reading"));
    assert!(session.outputs("vti").is_empty());
    assert_eq!(session.forget("never there").changed, [""; 0]);
}

#[test]
fn only_outputs_that_depend_on_a_change_are_others_and_each_is_told_once() {
    let mut session = session(&[
        ("area", "show lvot_area"),
        (
            "flow",
            "show stroke_volume, cardiac_output\nexplain cardiac_output",
        ),
        ("rate", "show heart_rate"),
        ("exam", "use hemodynamics\nlvot_diameter = 2 cm"),
        ("vti", "lvot_vti = 20 cm"),
        ("beat", "heart_rate = 70 /min"),
        (
            "curve",
            "draw stroke_volume against lvot_vti from 10 cm to 30 cm",
        ),
    ]);
    let cases: [(&str, &str, &[&str]); 6] = [
        ("vti", "lvot_vti = 18 cm", &["flow", "curve"]),
        ("beat", "heart_rate = 80 /min", &["flow", "rate"]),
        ("beat", "heart_rate = 80 /min  # the same", &[]),
        (
            "exam",
            "use hemodynamics\nlvot_diameter = 2.1 cm",
            &["area", "flow", "curve"],
        ),
        ("mine", "twice_the_area [cm2] = 2 * lvot_area", &[]),
        // Advice is part of what is shown: an irregular rhythm with one beat withholds the flow.
        ("found", "rhythm = irregular", &["flow", "curve"]),
    ];
    for (key, text, changed) in cases {
        assert_eq!(session.submit(key, text).changed, changed, "{text}");
    }
}

#[test]
fn cells_that_only_comment_or_hold_nothing_show_nothing() {
    let session = session(&[
        ("a", "# words only"),
        ("b", ""),
        ("c", "\n\n"),
        ("d", "show"),
    ]);
    for key in ["a", "b", "c"] {
        assert!(session.outputs(key).is_empty());
    }
    assert!(!session.has_errors());
    assert!(!Session::new(".").has_errors());
    assert!(Session::new(".").outputs("a").is_empty());
}

#[test]
fn warnings_stand_beside_what_is_shown() {
    let session = session(&[(
        "a",
        "use hemodynamics\nlvot_diamter = 2 cm\nshow lvot_diamter",
    )]);
    let outputs = session.outputs("a");
    assert_eq!(outputs.len(), 2);
    assert!(
        outputs[0].text.starts_with("warning"),
        "{}",
        outputs[0].text
    );
    assert!(outputs[0].text.contains("did you mean `lvot_diameter`?"));
    assert_eq!(
        outputs[1].text,
        "lvot_diamter: 2 cm (no uncertainty stated)"
    );
    assert!(!session.has_errors());
}

#[test]
fn findings_are_shown_by_their_words_and_are_not_drawn() {
    let session = session(&[
        ("exam", &format!("{EXAM}\nrhythm = regular")),
        ("show", "show rhythm"),
        ("explain", "explain rhythm"),
        ("curve", "draw stroke_volume against rhythm from 1 to 2"),
        ("up", "draw rhythm against lvot_vti from 10 cm to 20 cm"),
        ("effect", "draw stroke_volume when rhythm is off by 1"),
    ]);
    assert_eq!(shown(&session, "show"), "rhythm: regular");
    assert!(shown(&session, "explain").contains("regular"));
    for key in ["curve", "up", "effect"] {
        let text = shown(&session, key);
        assert!(has_error(&session, key));
        assert!(text.contains("its words are regular, irregular"), "{text}");
    }
}

/// With an irregular rhythm one beat gives no flow; a chart that varies the reading of three
/// beats must keep that they are three.
#[test]
fn a_chart_that_varies_a_reading_keeps_its_beats() {
    let session = session(&[
        (
            "use",
            "use hemodynamics\nlvot_diameter = 2 cm\nrhythm = irregular",
        ),
        ("vti", "lvot_vti = beats(19, 20, 21) cm"),
        (
            "curve",
            "draw stroke_volume against lvot_vti from 10 cm to 20 cm",
        ),
        ("effect", "draw stroke_volume when lvot_vti is off by 2 cm"),
    ]);
    let curve = shown(&session, "curve");
    assert!(curve.contains("31.42 mL at 10 cm"), "{curve}");
    // 62.83 mL less and more a tenth of it.
    let effect = shown(&session, "effect");
    assert!(effect.contains("56.5 mL to 69.1 mL"), "{effect}");
}

#[test]
fn readings_put_in_take_the_place_of_a_cells_own() {
    let mut session = Session::new(".");
    let given = |name: &str, reading: &str| [(name.to_owned(), reading.to_owned())];
    session.put_instead(&given("lvot_vti", "10 cm")).unwrap();
    session.submit_all(&[("exam", EXAM), ("v", "show stroke_volume")]);
    assert!(shown(&session, "v").starts_with("stroke_volume: 31.4 mL"));
    assert_eq!(session.refused_readings(), None);
    for bad in ["1 +", "", "lvot_area * 2", "1 cm\nuse hemodynamics as x"] {
        let refused = session.put_instead(&given("lvot_vti", bad)).unwrap_err();
        assert!(refused.starts_with("error"), "{bad}: {refused}");
    }
    assert!(shown(&session, "v").starts_with("stroke_volume: 31.4 mL"));
}

#[test]
fn readings_put_in_that_fit_no_cell_are_refused_and_change_nothing() {
    for (name, reading, words) in [
        ("lvot_vit", "10 cm", "did you mean `lvot_vti`?"),
        ("lvot_vti", "10 kg", "in kg does not fit"),
        ("lvot_vti", "1000 cm", "possible are"),
        ("rhythm", "jazz", "jazz"),
    ] {
        let mut session = Session::new(".");
        session
            .put_instead(&[(name.to_owned(), reading.to_owned())])
            .unwrap();
        session.submit_all(&[("exam", EXAM), ("v", "show stroke_volume")]);
        let refused = session.refused_readings().unwrap();
        assert!(refused.contains(words), "{refused}");
        assert!(
            refused.contains(&format!("{name}={reading}:1:")),
            "{refused}"
        );
        assert!(shown(&session, "v").starts_with("stroke_volume: 62.8 mL"));
        assert!(!session.has_errors());
    }
}

/// By hand: `x` is above 1 for one half, and above 9 for none of the draws.
#[test]
fn a_probability_can_be_counted_from_draws() {
    let cells = [
        ("x", "x = 1 (within 1)\ny = (x - 1)^2"),
        ("half", "show probability of x > 1 by simulation"),
        ("none", "show probability of x > 9 by simulation"),
        ("all", "show probability of x < 9 by simulation"),
        ("bad", "show probability of x > 1 by draws"),
        ("linear", "show probability of y > 1"),
        ("budget", "z = x - x\nshow budget of z"),
        ("drawn", "simulate y"),
    ];
    let session = session(&cells);
    let half = shown(&session, "half");
    let (_, share) = half.split_once(" is above 1 is ").unwrap();
    let (share, rest) = share.split_once(" % ").unwrap();
    assert!((share.parse::<f64>().unwrap() - 50.0).abs() < 0.4, "{half}");
    let end = "by 204800 draws with seed 1.";
    assert!(rest.starts_with("(standard error 0.11 % by the number of draws), "));
    assert!(rest.ends_with(end), "{rest}");
    // Three in 204,800.
    assert!(shown(&session, "none").contains("less than 0.00146 % (no draw lies there)"));
    assert!(shown(&session, "all").contains("all but less than 0.00146 % (every draw"));
    assert!(shown(&session, "bad").contains("`simulation` belongs here"));
    let linear = shown(&session, "linear");
    assert!(
        linear.contains("the slope in x is zero where it stands"),
        "{linear}"
    );
    assert!(linear.contains("with `by simulation` behind it the statement counts draws"));
    let budget = shown(&session, "budget");
    assert!(
        budget
            .contains("`z` has no uncertainty: no reading moves it, since what enters it cancels"),
        "{budget}"
    );
    let drawn = shown(&session, "drawn");
    for part in [
        "; symmetric 95 % interval 0.00",
        ": stable to the digits shown (JCGM 101:2008, 7.9).",
        " Shortest 95 % interval 0.000",
        ", its ends settled within 0.0",
    ] {
        assert!(drawn.contains(part), "{drawn}");
    }
}

/// Draws of four beats reach far beyond what can be seen; the drawing leaves them out and says so.
#[test]
fn far_draws_stay_outside_the_drawing_and_are_counted() {
    let session = session(&[
        (
            "v",
            "v = beats(16, 17, 18, 17) cm\nw = v + 1 cm\nz = 5 cm (u = 1 cm)",
        ),
        ("w", "simulate w"),
        ("z", "simulate z"),
    ]);
    let far = shown(&session, "w");
    assert!(far.contains(" Outside the drawing: "), "{far}");
    let first = far.lines().next().unwrap();
    let (_, range) = first.split_once(" values from ").unwrap();
    let (low, range) = range.split_once(" cm to ").unwrap();
    let (high, _) = range.split_once(" cm,").unwrap();
    // Four quartile ranges of t(3), 1.53 · 0.408 cm, beyond the quartiles: at most 2.9 cm off 18 cm.
    let [low, high] = [low, high].map(|end| end.parse::<f64>().unwrap());
    assert!(
        15.0 < low && low < 16.0 && 20.0 < high && high < 21.0,
        "{first}"
    );
    let near = shown(&session, "z");
    assert!(!near.contains("Outside"), "{near}");
}
