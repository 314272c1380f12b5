//! Readings that two exams share, in tables that have a column for the one, or only for an exam.

use semilunar::cohort::{Cohort, Options, Table, apply_to_file};
use semilunar::notebook::ask;
use semilunar::sheet::Sheet;

const USES: &str = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after\n";

fn written(text: &str) -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("rows.csv");
    std::fs::write(&table, text).unwrap();
    (folder, table)
}

/// Two exams with one diameter: each exam's own is known where the shared one is.
#[test]
fn an_input_passed_on_from_a_shared_column_is_known() {
    let (_folder, table) = written(
        "lvot_diameter [cm],before.lvot_vti [cm],after.lvot_vti [cm]\n2.0,18,20\n,18,20\n2.2,17,20\n",
    );
    let asked = "completeness of before.lvot_diameter, lvot_diameter, before.stroke_volume";
    let text = ask(USES, &table, None, asked).unwrap().text;
    assert_eq!(text.matches("(2 of 3)").count(), 4, "{text}");
    let sheet = Sheet::read(USES).unwrap().sheet;
    let cohort = Cohort::of(&sheet, Table::open(&table).unwrap(), &Options::default()).unwrap();
    let values = |name: &str| -> Vec<Option<f64>> {
        let column = cohort.column(name).unwrap();
        column.iter().map(|v| v.map(|v| v.value)).collect()
    };
    assert_eq!(values("after.lvot_diameter"), [Some(2.0), None, Some(2.2)]);
    assert_eq!(values("before.lvot_diameter"), values("lvot_diameter"));
    // What is listed without being asked for stands once.
    let listed = |name: &str| cohort.names().contains(&name);
    assert!(listed("lvot_diameter") && !listed("before.lvot_diameter"));
    assert_eq!(cohort.column("before.height"), None);
}

/// A reading of the sheet's own stands in the exam that states it.
#[test]
fn an_exam_with_a_reading_of_its_own_passes_nothing_on() {
    let (_folder, table) = written("lvot_diameter [cm],after.lvot_vti [cm]\n2.0,20\n2.2,21\n");
    let text = format!("{USES}before.lvot_diameter = 1.9 cm");
    let sheet = Sheet::read(&text).unwrap().sheet;
    let cohort = Cohort::of(&sheet, Table::open(&table).unwrap(), &Options::default()).unwrap();
    assert!(cohort.column("before.lvot_diameter").is_none());
    assert!(cohort.column("after.lvot_diameter").is_some());
}

/// A remark names the column that the analyst has: the exam's, where the shared cell has none.
#[test]
fn remarks_name_the_cell_whose_column_is_blank() {
    for (heading, named) in [
        (
            "before.systolic_pressure [mm[Hg]]",
            "before.systolic_pressure has no reading",
        ),
        (
            "systolic_pressure [mm[Hg]]",
            "systolic_pressure has no reading",
        ),
    ] {
        let (folder, table) = written(&format!(
            "{heading},before.lvot_vti [cm],lvot_diameter [cm]\n110,18,2.0\n,18,2.0\n"
        ));
        let out = folder.path().join("out.csv");
        let sheet = Sheet::read(USES).unwrap().sheet;
        apply_to_file(&sheet, &table, &out, &mut |_| {}).unwrap();
        let text = std::fs::read_to_string(&out).unwrap();
        let row = text.lines().nth(2).unwrap();
        assert!(
            row.contains(&format!("{named}: no before.arterial_elastance")),
            "{row}"
        );
        let is_shared = !heading.starts_with("before");
        assert_eq!(
            row.contains("before.systolic_pressure has no"),
            !is_shared,
            "{row}"
        );
    }
}
