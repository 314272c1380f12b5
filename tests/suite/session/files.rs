//! Cohorts in sessions: files that appear, change and go.

use semilunar::notebook::Session;

use super::{has_error, shown};

const TWO_EXAMS: &str = "use hemodynamics\nlvot_diameter = 2 cm";

#[test]
fn a_cohort_is_read_again_when_its_file_changes() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("use", TWO_EXAMS),
        ("rows", "cohort rows from \"rows.csv\""),
        ("v", "show stroke_volume over rows"),
        ("alone", "show lvot_area"),
    ]);
    assert!(has_error(&session, "rows"));
    assert!(shown(&session, "rows").contains("rows.csv"));
    assert!(has_error(&session, "v"));

    std::fs::write(&file, "lvot_vti [cm]\n20\n").unwrap();
    assert_eq!(session.submit("x", "").changed, ["rows", "v"]);
    assert_eq!(
        shown(&session, "rows"),
        "rows: 1 row read, 1 used, 0 set aside"
    );
    assert!(shown(&session, "v").contains("median 62.8"));

    std::fs::write(&file, "lvot_vti [cm]\n20\n20\nfar\n").unwrap();
    assert_eq!(session.submit("x", "").changed, ["rows", "v"]);
    assert!(shown(&session, "rows").contains("3 rows read, 2 used, 1 set aside"));
    assert!(shown(&session, "rows").contains("row 3: lvot_vti [cm]: `far` is not a number"));

    assert_eq!(session.submit("x", "").changed, [""; 0]);
    std::fs::remove_file(&file).unwrap();
    assert_eq!(session.submit("x", "").changed, ["rows", "v"]);
    assert!(has_error(&session, "v"));
}

#[test]
fn a_cohort_follows_the_sheet() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), "lvot_vti [cm]\n20\n10\n").unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("use", TWO_EXAMS),
        ("rows", "cohort rows from \"rows.csv\""),
        ("v", "show stroke_volume over rows"),
    ]);
    assert!(
        shown(&session, "v").contains("median 47.1"),
        "{}",
        shown(&session, "v")
    );
    let update = session.submit("use", "use hemodynamics\nlvot_diameter = 2.1 cm");
    assert_eq!(update.changed, ["v"]);
    // A cell that is required decides which rows are used, and has no value of its own here.
    let update = session.submit("require", "require cardiac_output");
    assert_eq!(update.changed, ["rows", "v"]);
    assert!(shown(&session, "rows").contains("0 used, 2 set aside"));
}

/// Which rows are used depends on every definition, so a count without one of them is not right.
#[test]
fn a_cohort_is_not_computed_while_a_cell_that_defines_has_an_error() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), "lvot_vti [cm]\n20\n").unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("use", TWO_EXAMS),
        ("rows", "cohort rows from \"rows.csv\""),
        ("v", "show stroke_volume over rows"),
        ("bad", "require nothing"),
    ]);
    for key in ["rows", "v"] {
        let text = shown(&session, key);
        assert!(
            text.contains("the rows of `rows` are not computed: cell 4 has an error"),
            "{text}"
        );
    }
    // An error in what is only shown does not touch the rows.
    session.submit("bad", "show )(");
    assert!(has_error(&session, "bad"));
    assert!(shown(&session, "v").contains("median 62.8"));
}

#[test]
fn a_cohort_may_be_named_like_a_cell() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), "lvot_vti [cm]\n20\n").unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("use", TWO_EXAMS),
        ("rows", "cohort stroke_volume from \"rows.csv\""),
        ("v", "show stroke_volume over stroke_volume"),
    ]);
    assert!(!session.has_errors());
    assert!(shown(&session, "v").contains("median 62.8"));
}

#[test]
fn findings_over_a_cohort_are_counted_by_word() {
    let folder = tempfile::tempdir().unwrap();
    let table =
        "lvot_vti [cm],lvot_vti (n),rhythm\n20,3,regular\n20,3,regular\n21,5,irregular\n22,3,\n";
    std::fs::write(folder.path().join("rows.csv"), table).unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("use", TWO_EXAMS),
        ("rows", "cohort rows from \"rows.csv\""),
        ("v", "show rhythm over rows"),
        ("d", "draw rhythm against lvot_vti over rows"),
    ]);
    let text = shown(&session, "v");
    assert_eq!(text, "rhythm (regular 2, irregular 1): known 3, missing 1");
    assert!(has_error(&session, "d"));
}

#[test]
fn a_table_that_fits_nothing_is_an_error_at_its_file() {
    let folder = tempfile::tempdir().unwrap();
    for (table, words) in [
        ("", "has no heading line"),
        ("a,b\n1,2\n", "no column supplies a cell"),
        ("lvot_vti [kg]\n1\n", "does not measure it"),
        ("lvot_vti,lvot_vti\n1,2\n", "both headed"),
    ] {
        std::fs::write(folder.path().join("rows.csv"), table).unwrap();
        let mut session = Session::new(folder.path());
        session.submit_all(&[
            ("use", TWO_EXAMS),
            ("rows", "cohort rows from \"rows.csv\""),
        ]);
        let text = shown(&session, "rows");
        assert!(has_error(&session, "rows"));
        assert!(
            text.contains(words) && text.contains("cell 2:1:19"),
            "{text}"
        );
    }
}

/// The same rows as text under headings of their own, and the binding that reads them.
#[test]
fn a_cohort_is_bound_by_a_file_and_follows_it() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    write("rows.csv", "VTI,who\n200,Ann\n100,Bob\n");
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("use", TWO_EXAMS),
        (
            "rows",
            "cohort rows from \"rows.csv\" bound by \"rows.toml\"",
        ),
        ("v", "show stroke_volume over rows"),
    ]);
    assert!(has_error(&session, "rows"));
    assert!(shown(&session, "rows").contains("rows.toml"));

    write(
        "rows.toml",
        "[columns.VTI]\ncell = \"lvot_vti\"\nunit = \"mm\"\n",
    );
    assert_eq!(session.submit("x", "").changed, ["rows", "v"]);
    assert!(shown(&session, "v").contains("median 47.1"));
    write(
        "rows.toml",
        "[columns.VTI]\ncell = \"lvot_vti\"\nunit = \"Pa\"\n",
    );
    assert_eq!(session.submit("x", "").changed, ["rows", "v"]);
    assert!(shown(&session, "rows").contains("Pa does not measure it"));

    let wrong = |line: &str| {
        let mut session = Session::new(folder.path());
        session.submit("a", line);
        shown(&session, "a")
    };
    assert!(wrong("cohort rows from \"rows.csv\" bound \"b\"").contains("`by` and a binding file"));
    assert!(wrong("cohort rows from \"rows.csv\" bound by b").contains("in quotation marks"));
}

/// 20 cm lies 0.5 standard uncertainties from the bend, 22 cm 2.5: within 95 % (1.96) the first alone does,
/// within 99 % (2.58) both.
#[test]
fn a_cohort_says_in_how_many_rows_linear_figures_do_not_hold() {
    let folder = tempfile::tempdir().unwrap();
    let table = "lvot_vti [cm],lvot_vti (u) [cm]\n20,1\n22,1\n";
    std::fs::write(folder.path().join("rows.csv"), table).unwrap();
    let mut session = Session::new(folder.path());
    let asked = "cohort rows from \"rows.csv\" with uncertainty of bounded, doubled";
    let sheet = "use hemodynamics\nbounded = min(lvot_vti, 19.5 cm)\ndoubled = lvot_vti * 2";
    session.submit_all(&[
        ("use", sheet),
        ("rows", asked),
        ("v", "show bounded over rows"),
    ]);
    for place in ["rows", "v"] {
        let said = shown(&session, place);
        assert!(
            said.contains("Rows in which linear figures do not hold 1"),
            "{said}"
        );
        let note = "linear figures do not hold in 1 row: `min(lvot_vti, 19.5 cm)` in bounded bends in \
                    1 row within reach of the readings' uncertainties, mostly that of lvot_vti in 1 row";
        assert!(said.contains(note), "{said}");
    }
    let rows = shown(&session, "rows");
    assert!(
        rows.contains("doubled (u)") && !rows.contains("in doubled"),
        "{rows}"
    );
    session.submit("more", "coverage 99 %");
    let both = "Rows in which linear figures do not hold 2";
    assert!(
        shown(&session, "v").contains(both),
        "{}",
        shown(&session, "v")
    );
}

/// 3.14 mL for one centimeter of the integral, by hand; the diameter states none.
#[test]
fn a_cohort_brings_the_uncertainties_that_it_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let table = "lvot_vti [cm],lvot_vti (u) [cm]\n20,1\n10,\n";
    std::fs::write(folder.path().join("rows.csv"), table).unwrap();
    let mut session = Session::new(folder.path());
    let asked = "cohort rows from \"rows.csv\" with uncertainty of stroke_volume";
    session.submit_all(&[
        ("use", TWO_EXAMS),
        ("rows", asked),
        ("v", "show stroke_volume over rows"),
    ]);
    let u = "stroke_volume (u): Rows with one 1; Median 3.14 mL";
    assert!(
        shown(&session, "rows").contains(u),
        "{}",
        shown(&session, "rows")
    );
    assert!(shown(&session, "v").contains(u));
    assert!(shown(&session, "v").contains("none is stated for lvot_diameter in 2 rows"));
    let update = session.submit("use", "use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)");
    assert_eq!(update.changed, ["rows", "v"]);
    // 6.28 cm² of slope · 20 cm · 0.1 cm and the 3.14 mL above, in quadrature: 7.02 mL.
    assert!(
        shown(&session, "v").contains("Median 5.08 mL"),
        "{}",
        shown(&session, "v")
    );
    session.submit(
        "rows",
        "cohort rows from \"rows.csv\" with uncertainty of lvot_area",
    );
    assert!(has_error(&session, "rows"));
    session.submit("rows", "cohort rows from \"rows.csv\" with u");
    assert!(shown(&session, "rows").contains("`uncertainty of` and the names of results"));
}
