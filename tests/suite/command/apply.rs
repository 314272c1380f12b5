//! `apply`: every row accounted for, nothing written over, nothing half written.

use super::Desk;

const TABLE: &str = "id,lvot_vti [cm]\n007,20\n008,10\n009,far\n010,\n";

/// What a table of results needs, in a sheet that leaves the integral to the rows.
const SHEET: &str = "use hemodynamics\nlvot_diameter = 2 cm\nrequire stroke_volume\n";

fn desk() -> Desk {
    let desk = Desk::new();
    desk.put("rows.sheet", SHEET);
    desk.put("rows.csv", TABLE);
    desk
}

#[test]
fn rows_read_are_rows_used_and_rows_set_aside() {
    let desk = desk();
    let given = desk.run(&["apply", "rows.sheet", "rows.csv", "--out", "results.csv"]);
    assert_eq!(given.code, 0, "{}", given.err);
    let counts = "4 rows read = 2 used + 2 set aside\n";
    assert!(given.out.starts_with(counts), "{}", given.out);
    let results = desk.text("results.csv");
    assert_eq!(results.lines().count(), 3);
    assert!(
        results.lines().nth(1).unwrap().starts_with("007,20,"),
        "{results}"
    );
    assert!(
        results
            .lines()
            .next()
            .unwrap()
            .contains("stroke_volume [mL]")
    );
    let aside = desk.text("results.set_aside.csv");
    assert_eq!(aside.lines().count(), 3);
    assert!(aside.contains("`far` is not a number"), "{aside}");
    assert!(aside.contains("stroke_volume is required"), "{aside}");
}

#[test]
fn the_file_of_rows_set_aside_is_written_even_without_any() {
    let desk = desk();
    desk.put("rows.csv", "lvot_vti [cm]\n20\n");
    let given = desk.run(&["apply", "rows.sheet", "rows.csv", "--out", "results.csv"]);
    assert!(given.out.starts_with("1 row read = 1 used + 0 set aside\n"));
    assert_eq!(desk.text("results.set_aside.csv").lines().count(), 1);
}

#[test]
fn no_input_is_written_over() {
    let desk = desk();
    desk.put("x.set_aside.csv", TABLE);
    for (table, out) in [
        ("rows.csv", "rows.csv"),
        ("rows.csv", "./rows.csv"),
        ("x.set_aside.csv", "x.csv"),
        ("rows.csv", "rows.sheet"),
    ] {
        let given = desk.run(&["apply", "rows.sheet", table, "--out", out]);
        assert_eq!(given.code, 2, "{out}: {}", given.out);
        assert!(given.err.contains("another name"), "{}", given.err);
    }
    assert_eq!(desk.text("rows.csv"), TABLE);
    assert_eq!(desk.text("rows.sheet"), SHEET);
    assert_eq!(desk.files().len(), 4);
}

#[test]
fn what_cannot_be_used_leaves_no_file_behind() {
    let desk = desk();
    desk.put("bad.sheet", "lvot_vti = 20 furlong\n");
    desk.put("others.csv", "a,b\n1,2\n");
    desk.put("unit.csv", "lvot_vti [kg]\n1\n");
    desk.put("twice.csv", "lvot_vti,lvot_vti\n1,2\n");
    let before = desk.files();
    for (sheet, table, out, code, words) in [
        ("bad.sheet", "rows.csv", "r.csv", 2, "bad.sheet:1:"),
        (
            "rows.sheet",
            "others.csv",
            "r.csv",
            2,
            "no column supplies a cell",
        ),
        ("rows.sheet", "unit.csv", "r.csv", 2, "does not measure it"),
        ("rows.sheet", "twice.csv", "r.csv", 2, "both headed"),
        ("rows.sheet", "nowhere.csv", "r.csv", 3, "nowhere.csv"),
        ("nowhere.sheet", "rows.csv", "r.csv", 3, "nowhere.sheet"),
        ("rows.sheet", "rows.csv", "nowhere/r.csv", 3, "nowhere"),
    ] {
        let given = desk.run(&["apply", sheet, table, "--out", out]);
        assert_eq!(given.code, code, "{sheet} {table}: {}", given.err);
        assert!(
            given.out.is_empty() && given.err.contains(words),
            "{}",
            given.err
        );
        assert_eq!(desk.files(), before);
    }
}

#[test]
fn the_same_table_gives_the_same_bytes() {
    let desk = desk();
    desk.run(&["apply", "rows.sheet", "rows.csv", "--out", "a.csv"]);
    desk.run(&["apply", "rows.sheet", "rows.csv", "--out", "b.csv"]);
    assert_eq!(desk.text("a.csv"), desk.text("b.csv"));
}

/// π/4 · 2² · 1 cm = 3.14 mL for one centimeter of the integral; the diameter states none.
#[test]
fn uncertainties_are_columns_that_were_asked_for() {
    let desk = desk();
    desk.put("u.csv", "lvot_vti,lvot_vti (u)\n20,1\n10,\n");
    let names = ["--uncertainty", "stroke_volume,lvot_area", "--out", "r.csv"];
    let given = desk.run(&[&["apply", "rows.sheet", "u.csv"][..], &names].concat());
    assert_eq!(given.code, 2, "{}", given.out);
    assert!(given.err.contains("`lvot_area`"), "{}", given.err);
    let names = ["--uncertainty", "stroke_volume", "--out", "r.csv"];
    let given = desk.run(&[&["apply", "rows.sheet", "u.csv"][..], &names].concat());
    assert_eq!(given.code, 0, "{}", given.err);
    let said = "standard uncertainty of stroke_volume in 1 row, in 1 of them a lower bound; 1 row \
                with the value and no uncertainty; none is stated for lvot_diameter in 2 rows, \
                lvot_vti in 1 row\n";
    assert!(given.out.contains(said), "{}", given.out);
    let results = desk.text("r.csv");
    assert!(
        results.contains(",stroke_volume (u) [mL],remarks"),
        "{results}"
    );
    assert!(results.contains(",3.141592653589793,"), "{results}");
    let lower = "no uncertainty is stated for lvot_diameter: stroke_volume (u) at least";
    assert!(results.contains(lower), "{results}");
}

/// The resistance is withheld where the central venous pressure is not below the mean pressure: 5 mmHg
/// apart with standard uncertainties of 2 and 3 are 1.4 of them, √(2² + 3²) = 3.6 mmHg; 22 are 6.
#[test]
fn rows_in_which_linear_uncertainties_do_not_hold_are_named_and_counted() {
    let desk = desk();
    desk.put(
        "low.sheet",
        "use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)\nheart_rate = 80 /min (u = 2 /min)\n\
         mean_pressure = 30 mm[Hg] (u = 3 mm[Hg])\nlvot_vti = 20 cm (u = 1 cm)",
    );
    desk.put(
        "low.csv",
        "central_venous_pressure,central_venous_pressure (u)\n8,2\n25,2\n26,\n",
    );
    let asked = [
        "apply",
        "low.sheet",
        "low.csv",
        "--out",
        "r.csv",
        "--uncertainty",
    ];
    let given = desk.run(&[&asked[..], &["systemic_vascular_resistance"]].concat());
    assert_eq!(given.code, 0, "{}", given.err);
    let said = "linear figures do not hold in 2 rows: `central_venous_pressure >= mean_pressure` in \
                systemic_vascular_resistance may turn in 2 rows within reach of the readings' \
                uncertainties, mostly that of mean_pressure in 2 rows";
    assert!(given.out.contains(said), "{}", given.out);
    let remark = "`central_venous_pressure >= mean_pressure` in systemic_vascular_resistance may turn \
                  within reach of the readings' uncertainties, so that linear figures do not hold: \
                  systemic_vascular_resistance (u)";
    let results = desk.text("r.csv");
    let bent: Vec<bool> = results.lines().map(|l| l.contains(remark)).collect();
    assert_eq!(bent, [false, false, true, true], "{results}");

    // Without the option nothing is said, and nothing is looked for.
    let given = desk.run(&asked[..5]);
    assert!(!given.out.contains("linear"), "{}", given.out);
    assert!(!desk.text("r.csv").contains("within reach"));
}
