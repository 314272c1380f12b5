//! Rust cells in a session, with a stand-in for what compiles and runs them: each line of a cell is
//! an instruction to it.

use semilunar::notebook::{RustCells, RustOutcome, RustProblem, RustShown, RustTask, Session};
use semilunar::sheet::Sheet;

use super::{EXAM, has_error, shown};

/// Carries out `read NAME`, `double NAME`, `give LINE`, `show TEXT` and `fail WORD`.
struct StandIn;

impl RustCells for StandIn {
    fn run(&mut self, task: &RustTask<'_>) -> RustOutcome {
        let mut outcome = RustOutcome::default();
        let sheet = Sheet::read(task.sheet).map(|loaded| loaded.sheet);
        for line in task.code.lines() {
            let (verb, rest) = line.trim().split_once(' ').unwrap_or_default();
            match verb {
                "read" => outcome.read.push(rest.to_owned()),
                "give" => outcome.lines.push(rest.to_owned()),
                "double" => {
                    let sheet = sheet.as_ref().unwrap();
                    let value = sheet.cell(rest).and_then(|cell| sheet.value(cell));
                    outcome.read.push(rest.to_owned());
                    let value = value.unwrap_or_default();
                    outcome.lines.push(format!("doubled = {} cm", 2.0 * value));
                }
                "show" => outcome.shown.push(RustShown {
                    text: rest.to_owned(),
                    ..RustShown::default()
                }),
                "fail" => {
                    let start = task.code.find(rest).unwrap();
                    outcome.problems.push(RustProblem {
                        message: format!("{rest} is wrong"),
                        place: Some(start..start + rest.len()),
                        help: vec!["leave it out".into()],
                        ..RustProblem::default()
                    });
                }
                _ => {}
            }
        }
        outcome
    }
}

fn session(cells: &[(&str, &str)]) -> Session {
    let mut session = Session::new(".");
    session.run_rust_with(Box::new(StandIn));
    session.submit_all(cells);
    session
}

#[test]
fn what_a_rust_cell_gives_is_one_batch_and_other_outputs_follow() {
    let mut session = session(&[
        ("v", "show stroke_work"),
        (
            "exam",
            "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm",
        ),
    ]);
    let rust = "in Rust\ngive mean_pressure = 75 mm[Hg]\ngive stroke_work [J] = stroke_volume * mean_pressure\nshow done";
    let update = session.submit("r", rust);
    assert_eq!(update.changed, ["v", "r"]);
    // 62.83 mL at 75 mmHg, 133.322 Pa each (SI Brochure, 8th edition, table 8): 0.628 J.
    let text = shown(&session, "v");
    assert!(text.starts_with("stroke_work: 0.628 J"), "{text}");
    assert_eq!(shown(&session, "r"), "done");
}

#[test]
fn running_a_cell_again_replaces_what_it_gave_and_forgetting_it_takes_it_away() {
    let mut session = session(&[("r", "in Rust\ngive a = 1 cm"), ("v", "show a")]);
    assert!(shown(&session, "v").contains("1 cm"));
    session.submit("r", "in Rust\ngive a = 2 cm");
    assert!(shown(&session, "v").contains("2 cm"));
    session.submit("r", "a = 3 cm");
    assert!(shown(&session, "v").contains("3 cm"));
    session.submit("r", "in Rust\ngive b = 1 cm");
    assert!(shown(&session, "v").contains("`a` is not a cell"));
    session.submit("r", "in Rust\ngive a = 4 cm");
    session.forget("r");
    assert!(has_error(&session, "v"));
}

#[test]
fn a_cell_that_read_another_value_is_out_of_date_until_it_runs_again() {
    let rust = "in Rust\ndouble lvot_vti";
    let mut session = session(&[("exam", EXAM), ("r", rust), ("v", "show doubled")]);
    assert!(shown(&session, "v").contains("40 cm"));
    assert_eq!(shown(&session, "r"), "");
    // A front end that cannot add outputs has an empty one in that place.
    let place = session.place_of_mark("r").unwrap();
    assert!(session.place_of_mark("v").is_none() && session.place_of_mark("exam").is_none());
    let update = session.submit("exam", &EXAM.replace("20 cm", "10 cm"));
    assert_eq!(update.changed, ["r"]);
    assert_eq!(session.outputs("r")[0].id, place.id);
    assert!(session.place_of_mark("r").is_none());
    let text = shown(&session, "r");
    assert_eq!(
        text,
        "Out of date: `lvot_vti` was 20 cm when it ran and is 10 cm now; run the cell again"
    );
    assert!(shown(&session, "v").contains("40 cm"));
    session.submit("r", rust);
    assert_eq!(shown(&session, "r"), "");
    assert!(shown(&session, "v").contains("20 cm"));
}

#[test]
fn the_mark_of_a_cell_that_read_much_stays_short() {
    let exam = "a = 1 cm\nb = 2 * a\nc = 3 * a\nd = 4 * a\ne = 5 * a";
    let rust = "in Rust\nread a\nread b\nread c\nread d\nread e";
    let mut session = session(&[("exam", exam), ("r", rust)]);
    session.submit("exam", &exam.replace("1 cm", "2 cm"));
    assert_eq!(
        shown(&session, "r"),
        "Out of date: `a` was 1 cm when it ran and is 2 cm now; `b` was 2.00 cm when it ran and is \
         4.00 cm now; `c` was 3.00 cm when it ran and is 6.00 cm now; 2 more have changed; run \
         the cell again"
    );
}

#[test]
fn a_cell_that_says_so_runs_again_by_itself() {
    let rust = "in Rust, again on change\ndouble lvot_vti";
    let mut session = session(&[("exam", EXAM), ("r", rust), ("v", "show doubled")]);
    let update = session.submit("exam", &EXAM.replace("20 cm", "10 cm"));
    assert_eq!(update.changed, ["v"]);
    assert!(shown(&session, "v").contains("20 cm"));
}

#[test]
fn a_cell_that_changes_what_it_reads_ends_and_says_so() {
    let mut session = session(&[("exam", "again [cm] = doubled + 1 cm\nshow again")]);
    session.submit("r", "in Rust, again on change\ndouble again");
    let text = shown(&session, "r");
    assert!(text.contains("it changes what it reads"), "{text}");
    assert!(!has_error(&session, "exam"));
}

#[test]
fn a_cell_in_error_points_into_itself_and_what_it_gave_is_lost_with_a_reason() {
    let mut session = session(&[("r", "in Rust\ngive a = 1 cm"), ("v", "show a")]);
    session.submit("r", "in Rust\nshow before\nfail this");
    let text = shown(&session, "r");
    assert!(text.contains("error: this is wrong"), "{text}");
    assert!(
        text.contains("cell 1:3:6") && text.contains("fail this"),
        "{text}"
    );
    assert!(
        text.contains("leave it out") && text.ends_with("before"),
        "{text}"
    );
    let text = shown(&session, "v");
    assert!(
        text.contains("cell 1 defines it, but has an error"),
        "{text}"
    );
}

#[test]
fn what_a_cell_gives_wrongly_is_shown_where_it_was_given() {
    let session = session(&[("exam", EXAM), ("r", "in Rust\ngive lvot_vti = 1 cm")]);
    for key in ["exam", "r"] {
        let text = shown(&session, key);
        assert!(text.contains("`lvot_vti` is given twice"), "{text}");
        assert!(text.contains("cell 2, given by its Rust:1"), "{text}");
    }
}

#[test]
fn without_anybody_to_run_it_a_rust_cell_says_how_to_get_that() {
    let mut session = Session::new(".");
    session.submit("r", "in Rust\n1 + 1");
    let text = shown(&session, "r");
    let way = match cfg!(feature = "rust-cells") {
        true => "semilunar run --rust",
        false => "--features rust-cells",
    };
    assert!(has_error(&session, "r") && text.contains(way), "{text}");
    assert!(text.contains("cell 1:1:1"), "{text}");
}

#[test]
fn an_opening_that_goes_on_otherwise_is_refused() {
    let session = session(&[("r", "in Rust, sometimes\nshow x")]);
    let text = shown(&session, "r");
    assert!(
        text.contains("this opens no cell") && text.contains("again on change"),
        "{text}"
    );
}
