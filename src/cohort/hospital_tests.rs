//! The bundled export of a hospital, bound by a draft, gives what the plain table gives.

use std::path::{Path, PathBuf};

use super::test_support::bundled;
use super::*;
use crate::sheet::Sheet;

fn sheet() -> Sheet {
    let text = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after";
    Sheet::read(text).unwrap().sheet
}

/// The columns of results, row by row, and the counts.
fn results(table: &Path, binding: Option<BindingFile>) -> (Counts, Vec<Vec<String>>) {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("r.csv");
    let options = Options {
        binding,
        keep_identifiers: true,
        ..Options::default()
    };
    let summary = apply_to_file_with(&sheet(), table, &out, &options, &mut |_| {}).unwrap();
    let mut reader = csv::Reader::from_path(&out).unwrap();
    let headings = reader.headers().unwrap().clone();
    let is_result = |heading: &str| summary.results.iter().any(|r| r == heading);
    let rows = reader.records().map(|record| {
        let record = record.unwrap();
        let fields = headings.iter().zip(&record).filter(|(h, _)| is_result(h));
        fields.map(|(h, field)| format!("{h} = {field}")).collect()
    });
    (summary.counts, rows.collect())
}

/// The rows that the export was made from, with the columns that it has.
fn plain(folder: &Path) -> PathBuf {
    let kept = [
        "patient",
        "sex",
        "height [cm]",
        "weight [kg]",
        "rhythm",
        "lvot_diameter [cm]",
        "before.lvot_vti [cm]",
        "before.lvot_vti (n)",
        "before.heart_rate [/min]",
        "after.lvot_vti [cm]",
        "after.lvot_vti (n)",
        "after.heart_rate [/min]",
    ];
    let mut reader = csv::Reader::from_path(bundled("first_cohort.csv")).unwrap();
    let headings = reader.headers().unwrap().clone();
    let at = kept.map(|heading| headings.iter().position(|h| h == heading).unwrap());
    let path = folder.join("plain.csv");
    let mut writer = csv::Writer::from_path(&path).unwrap();
    writer
        .write_record(kept.map(|h| h.replace("diameter [cm]", "diameter [mm]")))
        .unwrap();
    for record in reader.records().take(60).map(Result::unwrap) {
        // A planted decimal comma is none in the export.
        let mut fields = at.map(|column| record[column].replace(',', "."));
        // Both conversions from millimeters round alike; one to them would round once more.
        if let Ok(diameter) = fields[5].parse::<f64>() {
            fields[5] = format!("{:.1}", diameter * 10.0);
        }
        writer.write_record(fields).unwrap();
    }
    writer.flush().unwrap();
    path
}

#[test]
fn an_export_bound_by_its_draft_gives_what_the_plain_table_gives() {
    let folder = tempfile::tempdir().unwrap();
    let expected = results(&plain(folder.path()), None);
    assert_eq!(expected.0.read, 60);
    assert!(expected.0.used > 50);
    for name in EXPORTS {
        let draft = draft_binding(&sheet(), &bundled(name)).unwrap();
        assert_eq!((draft.columns, draft.bound), (14, 11), "{}", draft.text);
        let file = BindingFile::parse("draft.toml".as_ref(), &draft.text).unwrap();
        assert_eq!(results(&bundled(name), Some(file)), expected, "{name}");
    }
}

const EXPORTS: [&str; 2] = ["hospital_export.csv", "hospital_export.xlsx"];

/// Whatever stands in a heading or a field, the draft is a binding file.
#[test]
fn drafts_of_strange_tables_load() {
    let sheet = sheet();
    let folder = tempfile::tempdir().unwrap();
    for (at, text) in [
        "\"VTI \"\"pre\"\" \\ [cm]\",\"HR\npre\",\u{7},\n20,\"8\n0\",x,\n",
        "VTI pre;VTI before;VTI_pre\n1,5;2;3\n",
        "HR pre,note\n999,# a\n80,\"\"\"\"\n",
        "a\n",
        "date,MRN,HR pre\n01/02/2031,7,80\n",
        "SV pre,MAP pre,LVOT\nlow,70,2.0\n60,,banana\n",
    ]
    .iter()
    .enumerate()
    {
        let table = folder.path().join(format!("{at}.csv"));
        std::fs::write(&table, text).unwrap();
        let draft = draft_binding(&sheet, &table).unwrap();
        BindingFile::parse("draft.toml".as_ref(), &draft.text).unwrap();
    }
}

/// A heading that wards have for a volume stands over dates here: they must not leave as they are.
#[test]
fn dates_are_dates_whatever_their_heading() {
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("t.csv");
    std::fs::write(&table, "Patient;Bolus;VTI pre\n7;17.05.2031 09:10;18,5\n").unwrap();
    let text = draft_binding(&sheet(), &table).unwrap().text;
    assert!(text.contains("[shift]\ndates = [\"Bolus\"]"), "{text}");
    assert!(!text.contains("fluid_given"), "{text}");
}

/// Cells of many kinds, written by openpyxl (`tests/oracles/spreadsheet_cells.py`).
#[test]
fn every_kind_of_cell_of_a_spreadsheet_is_read_or_told() {
    let table = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/spreadsheet/cells.xlsx");
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("r.csv");
    let summary = apply_to_file(&sheet, &table, &out, &mut |_| {}).unwrap();
    assert_eq!(
        summary.notes,
        [
            "read from its sheet `Cells`",
            "its headings are taken from row 3",
            "1 field holds a formula without the value computed, the first in row 11 under `lvot_vti [cm]`, and read as blank: open \
             the file in a program that computes it, and save it there",
            "its numbers are read with a decimal comma, as `20,5` shows (column `lvot_vti [cm]`)"
        ]
    );
    let used = std::fs::read_to_string(&out).unwrap();
    let used: Vec<&str> = used
        .lines()
        .skip(1)
        .map(|l| &l[..l.len().min(60)])
        .collect();
    for (line, starts) in used.iter().zip([
        "number,20.5,7,20.5,",
        "text with a comma,20.5,007,20.5,",
        "text with a unit,20.5,2031-05-17,20.5,",
    ]) {
        assert!(line.starts_with(starts), "{line}");
    }
    let aside = std::fs::read_to_string(set_aside_path(&out)).unwrap();
    let expected = [
        "4,nothing can be derived from this row,blank,,2031-05-17 07:30:00",
        "5,lvot_vti [cm]: `true` is not a number,true,true,07:30:00",
        "6,lvot_vti [cm]: `2031-05-17` is not a number,date,2031-05-17,14.5 %",
        "7,lvot_vti [cm]: `#DIV/0!` is not a number,error,#DIV/0!,7 %",
        "8,nothing can be derived from this row,formula without a kept value,,90 min",
    ];
    assert_eq!(aside.lines().skip(1).collect::<Vec<_>>(), expected);
    let none = BindingFile::parse("b.toml".as_ref(), "[file]\nsheet = \"None\"\n").unwrap();
    let options = Options {
        binding: Some(none),
        ..Options::default()
    };
    let refused = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap_err();
    assert!(
        refused.to_string().contains("its sheets are Cells, Hidden"),
        "{refused}"
    );
    let two = apply_to_file(&sheet, &bundled("hospital_export.xlsx"), &out, &mut |_| {});
    assert!(
        two.unwrap_err()
            .to_string()
            .contains("several sheets, Notes, Echo")
    );
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(64))]

    /// Whatever bytes a file holds: a draft loads, rows are accounted for, or the table is refused.
    #[test]
    fn no_file_is_too_strange(
        head in "[a-z;,|\t\"' ]{0,12}",
        lines in proptest::collection::vec("[0-9.,;'\"\t| éV-]{0,16}", 0..12),
        raw in proptest::collection::vec(proptest::num::u8::ANY, 0..12),
        name in "t\\.(csv|tsv|txt|xlsx)",
    ) {
        let folder = tempfile::tempdir().unwrap();
        let table = folder.path().join(name);
        let mut bytes = format!("VTI pre;LVOT;{head}\n{}\n", lines.join("\n")).into_bytes();
        bytes.extend(raw);
        std::fs::write(&table, bytes).unwrap();
        let binding = match draft_binding(&sheet(), &table) {
            Ok(draft) => Some(BindingFile::parse("draft.toml".as_ref(), &draft.text).unwrap()),
            Err(_) => None,
        };
        let options = Options { binding, keep_identifiers: true, ..Options::default() };
        let out = folder.path().join("r.csv");
        if let Ok(summary) = apply_to_file_with(&sheet(), &table, &out, &options, &mut |_| {}) {
            let counts = summary.counts;
            proptest::prop_assert_eq!(counts.read, counts.used + counts.set_aside);
        }
    }
}

/// A text with title lines, and headings in two lines as merged ones are saved, in the way of the bundled spreadsheet.
#[test]
fn a_text_with_titles_and_two_lines_of_headings_is_refused_and_then_read_as_its_draft_says() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("export.csv");
    let table = "Export of echo data (invented);;;;\n;;;;\nMRN;LVOT diam;pre;;post\n;(cm);VTI (cm);HR;VTI (cm)\n\
                 7;2,05;18,5;80;20,5\n8;2,1;19;82;21,5\n";
    std::fs::write(&path, table).unwrap();
    let refused = Table::open(&path).err().unwrap().to_string();
    assert!(
        refused.ends_with("its first line has 1 field filled, and line 3 and those below have 5 fields: if the headings stand in line 3, say so in a binding file, as `[file]` with `header_row = 3` (or 1, if they stand in the first)"),
        "{refused}"
    );
    let draft = draft_binding(&sheet(), &path).unwrap();
    assert!(
        draft.text.contains("header_row = 3\nheader_rows = 2\n"),
        "{}",
        draft.text
    );
    let file = BindingFile::parse("b.toml".as_ref(), &draft.text).unwrap();
    let table = Table::open_as(&path, &file.file).unwrap();
    assert_eq!(
        table.headings(),
        [
            "MRN",
            "LVOT diam (cm)",
            "pre VTI (cm)",
            "pre HR",
            "post VTI (cm)"
        ]
    );
    let (counts, rows) = results(&path, Some(file));
    assert_eq!((counts.read, counts.used), (2, 2));
    let has = |text: &str| rows[0].iter().any(|field| field.starts_with(text));
    assert!(
        has("before.stroke_volume") && has("after.stroke_volume"),
        "{rows:?}"
    );
}
