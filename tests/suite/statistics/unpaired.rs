//! Rows set aside from a table of pairs: exams in no pair have every field under their headings, and are told so.

use semilunar::notebook::ask;

/// Twelve invented pairs, an exam without another, one whose phase is another word, and one that is told twice.
fn table() -> String {
    let mut table = String::from("who,at,phase,lvot_diameter,lvot_vti\n");
    for patient in 1..=12 {
        let vti = 15 + patient % 5;
        table += &format!("{patient},2031-05-{patient:02} 07:30,pre,2.1,{vti}\n");
        table += &format!(
            "{patient},2031-05-{patient:02} 08:30,post,2.1,{}\n",
            vti + 2
        );
    }
    table += "12,2031-05-12 08:30,post,2.1,19\n";
    table += "13,2031-05-13 07:30,pre,2.1,16\n14,2031-05-14 07:30,during,2.1,16\n";
    table
}

const BINDING: &str = "[pair]\nof = \"who\"\ntime = \"at\"\nphase = \"phase\"\n";

#[test]
fn exams_in_no_pair_are_not_said_to_lack_fields() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("rows.csv"), table()).unwrap();
    std::fs::write(at("rows.toml"), BINDING).unwrap();
    let sheet = "use hemodynamics\nuse hemodynamics as before\nuse hemodynamics as after\ncompare before, after";
    let found = ask(
        sheet,
        &at("rows.csv"),
        Some(&at("rows.toml")),
        "set_aside of before.lvot_vti, after.lvot_vti",
    );
    let text = found.unwrap().text;
    for said in [
        "15 rows read, 12 used and 3 set aside",
        "an exam in no pair — Rows: 2;",
        "the same row as one before it — Rows: 1;",
        // The half that an exam does not have is in neither group: two exams before, one after.
        "Known of these: 2 of 2",
        "Known of these: 1 of 1",
        "2 rows set aside are exams in no pair: of each only the columns of its own side are compared.",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    for said in ["not as many fields", "says nothing"] {
        assert!(!text.contains(said), "{said}: {text}");
    }
}
