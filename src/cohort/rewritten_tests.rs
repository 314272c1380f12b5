//! Under a heading stand numbers in its unit, in every kind of file of results.

use std::path::Path;

use polars::prelude::{Column, DataFrame, DataType, IntoColumn, NamedFrom, Series};

use super::apply_to_file_with;
use super::test_support::{bound_by, bound_with_key, read_parquet, write_parquet};
use crate::sheet::Sheet;

/// A diameter ten times too large, one in millimeters and one in centimeters, both said in the field; the uncertainties of three
/// rows in units of their own.
const TABLE: &str = "id,lvot_diameter [cm],lvot_diameter (u) [cm],lvot_vti [cm]\n\
    007,20.5,,20\n008,20.5 mm,1 mm,20\n009,2.05 cm,0.1,200mm\n010,2.1,5 %,20\n011,unobtainable,,20\n";

const BINDING: &str = "[columns.\"lvot_diameter [cm]\"]\ncell = \"lvot_diameter\"\nunit = \"cm\"\nfactor_ten = \"convert\"\n";

fn run(table: &Path, out: &Path) {
    let sheet = Sheet::read("use hemodynamics\nheight = 178 cm\nweight = 80 kg");
    let options = bound_by(BINDING);
    apply_to_file_with(&sheet.unwrap().sheet, table, out, &options, &mut |_| {}).unwrap();
}

/// The fields of a column of results, and remarks, as text.
fn column(path: &Path, heading: &str) -> Vec<String> {
    if path.extension().is_some_and(|e| e == "parquet") {
        let frame = read_parquet(path);
        let texts = frame.column(heading).unwrap().cast(&DataType::String);
        let texts = texts.unwrap().str().unwrap().clone();
        return texts
            .iter()
            .map(|t| t.unwrap_or_default().to_owned())
            .collect();
    }
    let mut reader = csv::Reader::from_path(path).unwrap();
    let at = reader.headers().unwrap().iter().position(|h| h == heading);
    let records = reader.records().map(Result::unwrap);
    records.map(|r| r[at.unwrap()].to_owned()).collect()
}

#[test]
fn numbers_leave_in_the_unit_of_their_heading_and_remarks_say_what_stood_there() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), TABLE).unwrap();
    // The same as Parquet, where columns of text leave as text.
    let mut reader = csv::Reader::from_path(at("t.csv")).unwrap();
    let headings = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let columns = headings.iter().enumerate().map(|(at, heading)| {
        let fields: Vec<&str> = rows.iter().map(|row| &row[at]).collect();
        Series::new(heading.into(), fields).into_column()
    });
    let frame = DataFrame::new(rows.len(), columns.collect()).unwrap();
    write_parquet(&at("t.parquet"), frame);

    for (table, out) in [
        ("t.csv", "r.csv"),
        ("t.csv", "r.parquet"),
        ("t.parquet", "p.csv"),
        ("t.parquet", "p.parquet"),
    ] {
        let (table, out) = (at(table), at(out));
        run(&table, &out);
        let shown = |heading: &str| column(&out, heading);
        let name = out.display();
        let diameters = shown("lvot_diameter [cm]");
        let numbers: Vec<Option<f64>> = diameters.iter().map(|d| d.parse().ok()).collect();
        let expected = [Some(2.05), Some(2.05), Some(2.05), Some(2.1), None];
        assert_eq!(numbers, expected, "{name}");
        let uncertainties = shown("lvot_diameter (u) [cm]");
        assert_eq!(uncertainties[1..3], ["0.1", "0.1"], "{name}");
        let integrals: Vec<f64> = shown("lvot_vti [cm]")
            .iter()
            .map(|v| v.parse().unwrap())
            .collect();
        assert_eq!(integrals, [20.0; 5], "{name}");
        assert_eq!(shown("id")[0], "007");
        let remarks = shown("remarks");
        assert!(
            remarks[0].contains("20.5 cm is ten times too large: taken as 2.05 cm"),
            "{name}: {remarks:?}"
        );
        assert!(
            remarks[1].contains("lvot_diameter [cm] says `20.5 mm`: 2.05 cm"),
            "{name}: {remarks:?}"
        );
        assert!(
            remarks[1].contains("lvot_diameter (u) [cm] says `1 mm`: 0.1 cm"),
            "{name}: {remarks:?}"
        );
        assert!(
            remarks[2].contains("lvot_diameter [cm] says `2.05 cm`: 2.05 cm"),
            "{name}: {remarks:?}"
        );
        assert!(
            remarks[2].contains("lvot_vti [cm] says `200mm`: 20 cm"),
            "{name}: {remarks:?}"
        );
        // pi/4 (2.05 cm)^2 20 cm, whichever way the diameter was written.
        for volume in &shown("stroke_volume [mL]")[..3] {
            let volume: f64 = volume.parse().unwrap();
            assert!((volume - 66.012_715_634).abs() < 1e-6, "{name}: {volume}");
        }
    }
}

/// A tenth of a whole number is none: the column leaves as one of numbers with fractions.
#[test]
fn whole_numbers_that_may_be_converted_leave_with_fractions() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let columns: Vec<Column> = vec![
        Series::new("lvot_diameter [cm]".into(), [21_i64, 2]).into_column(),
        Series::new("lvot_vti [cm]".into(), [20_i64, 20]).into_column(),
    ];
    let frame = DataFrame::new(2, columns).unwrap();
    write_parquet(&at("t.parquet"), frame);
    run(&at("t.parquet"), &at("r.parquet"));
    let frame = read_parquet(&at("r.parquet"));
    let diameters = frame.column("lvot_diameter [cm]").unwrap().f64().unwrap();
    assert_eq!(diameters.iter().collect::<Vec<_>>(), [Some(2.1), Some(2.0)]);
    assert_eq!(
        frame.column("lvot_vti [cm]").unwrap().dtype(),
        &DataType::Int64
    );
}

/// Fields that were written anew before they were read are quoted as they stood.
#[test]
fn remarks_quote_what_stood_in_the_table() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let table = "lvot_diameter;lvot_vti;fluid_given;heart_rate\n1,92 cm;185,3 mm;1.500 mL;80\n1,92;18,5;;x,5\n";
    std::fs::write(at("t.csv"), table).unwrap();
    let binding = "[file]\ndelimiter = \";\"\ndecimal = \",\"\nthousands = \".\"\n";
    let options = bound_by(binding);
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let (table, out) = (at("t.csv"), at("r.csv"));
    apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
    let remarks = &column(&out, "remarks")[0];
    for words in [
        "lvot_diameter says `1,92 cm`: 1.92 cm",
        "lvot_vti says `185,3 mm`: 18.53 cm",
        "fluid_given says `1.500 mL`: 1500 mL",
    ] {
        assert!(remarks.contains(words), "{remarks}");
    }
    let aside = std::fs::read_to_string(at("r.set_aside.csv")).unwrap();
    assert!(aside.contains("`x,5` is not a number"), "{aside}");
}

/// A time of day of a clock of twelve hours leaves by that of twenty-four, on a date that is shifted.
#[test]
fn shifted_dates_leave_in_iso_8601() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let table = "id,exam,lvot_diameter,lvot_vti\n1,3/7/2031 1:35 PM,2,20\n1,3/7/2031 8:47,2,20\n1,2031-03-07 8:47 am,2,20\n";
    std::fs::write(at("t.csv"), table).unwrap();
    let binding = "identifiers = [\"id\"]\n[file]\ndate_order = \"mdy\"\n\
        [shift]\ndates = [\"exam\"]\nof = \"id\"\nwithin_days = 365\n";
    let options = bound_with_key(binding);
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let (table, out) = (at("t.csv"), at("r.csv"));
    apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
    let exams = column(&out, "exam");
    let times: Vec<&str> = exams.iter().map(|exam| &exam[10..]).collect();
    assert_eq!(times, [" 13:35", " 08:47", " 08:47"]);
}

/// Texts of dates in a table with types are read as those of a text are.
#[test]
fn dates_in_columns_of_text_are_read_in_the_order_that_is_stated() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let texts = ["5/17/2031 1:35 PM", "5/17/2031 9:35 AM", "2031-05-17"];
    let columns: Vec<Column> = vec![
        Series::new("id".into(), ["1", "2", "3"]).into_column(),
        Series::new("exam".into(), texts).into_column(),
        Series::new("later".into(), ["2031-05-17 10:00"; 3]).into_column(),
        Series::new("lvot_diameter".into(), [2.0; 3]).into_column(),
        Series::new("lvot_vti".into(), [20.0; 3]).into_column(),
    ];
    let frame = DataFrame::new(3, columns).unwrap();
    write_parquet(&at("t.parquet"), frame);
    let binding = "identifiers = [\"id\"]\n[file]\ndate_order = \"mdy\"\n\
        [checks]\npatient = \"id\"\ntimes = [\"exam\", \"later\"]\n\
        [shift]\ndates = [\"exam\"]\nof = \"id\"\nwithin_days = 365\n";
    let options = bound_with_key(binding);
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    for out in ["r.csv", "r.parquet"] {
        let (table, out) = (at("t.parquet"), at(out));
        let summary = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
        let said: Vec<String> = summary.checks.iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            ["1 row set aside: an exam dated before the one that it should follow"]
        );
        let exams = column(&out, "exam");
        assert_eq!(
            exams.iter().map(|e| &e[10..]).collect::<Vec<_>>(),
            [" 09:35", ""]
        );
    }
}
