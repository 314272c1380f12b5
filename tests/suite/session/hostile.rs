//! Text from outside in outputs: it is shown, never carried out.

use semilunar::notebook::Session;

use super::session;

const SCRIPT: &str = "<script>alert(1)</script>";

/// All HTML and drawings of a session's cells.
fn html(session: &Session, keys: &[&str]) -> String {
    let outputs = keys.iter().flat_map(|key| session.outputs(key));
    outputs
        .map(|o| o.html + o.svg.as_deref().unwrap_or(""))
        .collect()
}

fn assert_harmless(html: &str, what: &str) {
    assert!(
        html.contains("alert(1)"),
        "{what}: the text itself is shown: {html}"
    );
    for bad in ["<script", "<img", "onerror=alert(1)>"] {
        assert!(!html.contains(bad), "{what}: {html}");
    }
}

#[test]
fn titles_words_and_file_names_are_escaped() {
    let exam = super::EXAM;
    for statement in [
        format!("draw stroke_volume against lvot_vti from 10 cm to 20 cm titled \"{SCRIPT}\""),
        format!("draw stroke_volume when lvot_vti is off by 1 cm titled \"{SCRIPT}\""),
        format!("cohort rows from \"{SCRIPT}.csv\""),
        format!("show {SCRIPT}"),
        format!("show stroke_volume {SCRIPT}"),
        format!("rhythm = regular {SCRIPT}"),
        format!("note = 1 {SCRIPT}"),
        format!("# {SCRIPT}\nshow nothing {SCRIPT}"),
    ] {
        let session = session(&[("exam", exam), ("v", &statement)]);
        assert_harmless(&html(&session, &["v"]), &statement);
    }
}

#[test]
fn headings_and_cells_of_tables_are_escaped() {
    let folder = tempfile::tempdir().unwrap();
    let image = "<img src=x onerror=alert(1)>";
    for (name, table) in [
        ("heading", format!("{SCRIPT},x\n1,2\n")),
        ("unit", format!("lvot_vti [{SCRIPT}]\n1\n")),
        ("value", format!("lvot_vti [cm]\n{SCRIPT}\n20\n")),
        ("image", format!("lvot_vti [cm]\n{image}\n20\n")),
        ("word", format!("lvot_vti [cm],rhythm\n20,{SCRIPT}\n20,\n")),
        ("twice", format!("{SCRIPT},{SCRIPT}\n1,2\n")),
    ] {
        std::fs::write(folder.path().join("rows.csv"), table).unwrap();
        let mut session = Session::new(folder.path());
        session.submit_all(&[
            ("use", "use hemodynamics\nlvot_diameter = 2 cm"),
            ("rows", "cohort rows from \"rows.csv\""),
            ("v", "show stroke_volume over rows"),
        ]);
        assert_harmless(&html(&session, &["rows", "v"]), name);
    }
}

/// Kernels choose the keys of cells; they stand in identifiers of outputs and drawings.
#[test]
fn keys_of_cells_are_harmless() {
    let key = "\"><script>alert(1)</script>";
    let session = session(&[
        ("exam", super::EXAM),
        (
            key,
            "draw stroke_volume against lvot_vti from 10 cm to 20 cm",
        ),
    ]);
    let html = html(&session, &[key]);
    assert!(!html.contains("<script"), "{html}");
}
