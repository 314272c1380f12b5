//! Uncertainties row by row against one sheet a row, in memory and in files.

use std::num::NonZeroUsize;
use std::path::Path;

use super::test_support::{bound_by, read_parquet};
use super::*;
use crate::formula::CellId;
use crate::sheet::Sheet;
use crate::uncertainty::{Settings, propagate};

const SHEET: &str = "
use hemodynamics as before
use hemodynamics as after
use hemodynamics
compare before, after
central_venous_pressure = 8 mm[Hg] (u = 2 mm[Hg])
correlate before.lvot_vti, after.lvot_vti by 0.4
";

const BINDING: &str = r#"
uncertainty = ["change.stroke_volume"]
[columns."vti 1"]
cell = "before.lvot_vti"
uncertainty = "u = 5 %"
[columns."vti 1 u"]
cell = "before.lvot_vti"
part = "uncertainty"
unit = "mm"
[columns."vti 2"]
cell = "after.lvot_vti"
unit = "mm"
uncertainty = "within 8 mm"
[columns.sv]
cell = "before.stroke_volume"
[columns.mean_pressure]
cell = "after.mean_pressure"
"#;

const ASKED: [&str; 4] = [
    "change.stroke_volume",
    "before.stroke_volume_index",
    "after.cardiac_output",
    "after.systemic_vascular_resistance",
];

/// An invented table with all that a row may say or leave out.
fn table(rows: usize) -> String {
    let mut text =
        "id,lvot_diameter [mm],lvot_diameter (u) [%],vti 1,vti 1 u,vti 2,after.heart_rate,\
                    after.heart_rate (u),mean_pressure,height,weight,sv\n"
            .to_owned();
    for i in 0..rows {
        let pick = |every: usize, some: String, none: &str| match i % every {
            0 => none.to_owned(),
            _ => some,
        };
        let x = i as f64;
        text.push_str(&format!(
            "00{i},{},{},{},{},{},{},{},{},{},{},{}\n",
            pick(11, format!("{}", 18.0 + (x * 0.37) % 7.0), "unobtainable"),
            pick(3, format!("{}", 2.0 + (x * 0.1) % 4.0), ""),
            pick(13, format!("{}", 14.0 + (x * 0.91) % 9.0), "NA"),
            match i % 6 {
                // In a unit of its own.
                1 => format!("{} cm", 0.3 + (x * 0.07) % 0.6),
                _ => pick(4, format!("{}", 3.0 + (x * 0.7) % 6.0), "?"),
            },
            150.0 + (x * 7.3) % 80.0,
            60.0 + (x * 1.7) % 50.0,
            pick(5, format!("{}", 1.0 + x % 3.0), ""),
            60.0 + (x * 0.9) % 40.0,
            150.0 + (x * 1.1) % 40.0,
            50.0 + (x * 1.3) % 50.0,
            pick(
                1 + i % 17,
                String::new(),
                if i % 17 == 0 { "63" } else { "" }
            ),
        ));
    }
    text.push_str("7,wide,,18,,180,70,,70,170,70,\n8,20,-1,18,,180,70,,70,170,70,\n");
    text
}

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

fn options() -> Options {
    Options {
        uncertainty: ASKED[1..].iter().map(|name| (*name).to_owned()).collect(),
        ..bound_by(BINDING)
    }
}

fn in_memory(sheet: &Sheet, text: &str, options: &Options) -> Result<Cohort, CohortError> {
    let bytes = std::io::Cursor::new(text.to_owned().into_bytes());
    let table = Table::from_csv(Box::new(bytes), "t.csv".as_ref())?;
    Cohort::of(sheet, table, options)
}

/// What a sheet with the readings of a row says of its results.
fn by_sheet(
    sheet: &Sheet,
    binding: &Binding,
    line: &str,
) -> Vec<Option<(Option<u64>, Vec<String>)>> {
    let fields: Vec<&str> = line.split(',').collect();
    let row = RowReadings::read(sheet, binding, &fields).unwrap();
    let mut of_row = sheet.clone();
    for (cell, reading) in row.readings() {
        of_row.set(*cell, reading.clone()).unwrap();
    }
    // One sheet refuses a correlation with a reading that is not there; over rows it then says
    // nothing.
    let mut settings = Settings::of(&of_row);
    let is_there = |cell| of_row.reading(cell).is_some_and(|r| r.spread().is_some());
    settings
        .correlations
        .retain(|c| is_there(c.first) && is_there(c.second));
    let of = |name: &&str| {
        let cell = of_row.cell(name).unwrap();
        of_row.value(cell)?;
        let found = propagate(&of_row, cell, &settings).unwrap();
        // Rows name readings with a slope.
        let is_named = |cell: &&CellId| !found.unstated_without_slope.contains(cell);
        let names = found.unstated.iter().filter(is_named);
        let names = names.map(|cell| of_row.name(*cell));
        let standard = found.says_something().then_some(found.standard.to_bits());
        Some((standard, names.collect()))
    };
    ASKED.iter().map(of).collect()
}

fn agree(sheet_text: &str) -> Cohort {
    let (sheet, text) = (read(sheet_text), table(700));
    let cohort = in_memory(&sheet, &text, &options()).unwrap();
    assert_eq!((cohort.counts.read, cohort.counts.set_aside), (702, 2));
    let lines: Vec<&str> = text.lines().collect();
    let headings: Vec<String> = lines[0].split(',').map(str::to_owned).collect();
    let binding = options().bind(&sheet, &headings).unwrap();
    let (mut known, mut lower) = (0, 0);
    for (at, row) in cohort.rows().iter().enumerate() {
        for (name, expected) in ASKED.iter().zip(by_sheet(&sheet, &binding, lines[*row])) {
            let found = cohort.uncertainty(name).unwrap()[at].clone();
            let found = found.map(|u| (u.standard.map(f64::to_bits), u.unstated.to_vec()));
            assert_eq!(found, expected, "row {row}: {name}");
            known += usize::from(expected.as_ref().is_some_and(|(u, _)| u.is_some()));
            lower += usize::from(expected.is_some_and(|(u, n)| u.is_some() && !n.is_empty()));
        }
    }
    let counts = &cohort.uncertainties;
    assert_eq!(counts.iter().map(|c| c.known).sum::<usize>(), known);
    assert_eq!(counts.iter().map(|c| c.lower_bound).sum::<usize>(), lower);
    assert!(known > 1500, "{known}");
    cohort
}

#[test]
fn a_row_gets_the_bits_of_one_sheet_and_names_what_is_not_stated() {
    let cohort = agree(SHEET);
    assert!(cohort.uncertainties.iter().any(|c| c.lower_bound > 500));
}

#[test]
fn published_repeatability_stands_in_and_is_named() {
    let cohort = agree(&format!("{SHEET}repeatability robson_1988\n"));
    let output = &cohort.uncertainties[2];
    assert!(
        output
            .published
            .iter()
            .any(|(name, source)| { name == "after.heart_rate" && source.contains("Robson") })
    );
    assert!(
        output
            .to_string()
            .contains("where it states none, is taken from")
    );
}

fn run(folder: &Path, out: &str, options: &Options) -> Summary {
    let table_file = folder.join("t.csv");
    let text = table(700);
    let (head, rows) = text.split_once('\n').unwrap();
    std::fs::write(&table_file, format!("{head}\n{}", rows.repeat(5))).unwrap();
    let sheet = read(SHEET);
    apply_to_file_with(&sheet, &table_file, &folder.join(out), options, &mut |_| {}).unwrap()
}

fn fields(path: &Path) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_path(path)
        .unwrap();
    let rows = reader.records().map(Result::unwrap);
    rows.map(|r| r.iter().map(str::to_owned).collect())
        .collect()
}

#[test]
fn files_hold_what_memory_holds_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let with_threads = |threads: usize, out: &str| {
        let options = Options {
            threads: NonZeroUsize::new(threads),
            ..options()
        };
        run(folder.path(), out, &options)
    };
    let one = with_threads(1, "one.csv");
    assert_eq!(
        one,
        Summary {
            set_aside: one.set_aside.clone(),
            ..with_threads(3, "three.csv")
        }
    );
    with_threads(1, "one.parquet");
    with_threads(2, "two.parquet");
    let bytes = |name: &str| std::fs::read(folder.path().join(name)).unwrap();
    assert!(bytes("one.csv") == bytes("three.csv"));
    assert!(bytes("one.parquet") == bytes("two.parquet"));

    let rows = fields(&folder.path().join("one.csv"));
    let frame = read_parquet(&folder.path().join("one.parquet"));
    let cohort = in_memory(&read(SHEET), &table(700), &options()).unwrap();
    for (name, unit) in ASKED.iter().zip(["%", "mL/m2", "L/min", "dyn.s/cm5"]) {
        let heading = match unit {
            // Points of its value: `[%]` would say shares.
            "%" => format!("{name} (u)"),
            unit => format!("{name} (u) [{unit}]"),
        };
        assert!(one.results.contains(&heading), "{:?}", one.results);
        let at = rows[0].iter().position(|h| *h == heading).unwrap();
        let column = frame.column(&heading).unwrap().f64().unwrap();
        let memory = cohort.uncertainty(name).unwrap().iter().cycle();
        for ((row, of_frame), u) in rows[1..].iter().zip(column.iter()).zip(memory) {
            let u = u.as_ref().and_then(|u| u.standard);
            assert_eq!(row[at].parse::<f64>().ok(), u, "{heading}");
            assert_eq!(of_frame, u, "{heading}");
        }
    }
}

#[test]
fn without_the_option_nothing_changes() {
    let folder = tempfile::tempdir().unwrap();
    let plain = Options {
        binding: Some(BindingFile {
            uncertainty: Vec::new(),
            ..options().binding.unwrap()
        }),
        ..Options::default()
    };
    assert_eq!(run(folder.path(), "plain.csv", &plain).uncertainties, []);
    run(folder.path(), "with.csv", &options());
    let [plain, with] = ["plain.csv", "with.csv"].map(|n| fields(&folder.path().join(n)));
    let new: Vec<usize> = (0..with[0].len())
        .filter(|at| with[0][*at].contains(" (u)") && !plain[0].contains(&with[0][*at]))
        .collect();
    assert_eq!(new.len(), ASKED.len());
    for (plain, with) in plain.iter().zip(&with) {
        let kept = (0..with.len()).filter(|at| !new.contains(at));
        let kept: Vec<&String> = kept.map(|at| &with[at]).collect();
        let (plain_remarks, others) = plain.split_last().unwrap();
        assert_eq!(others.iter().collect::<Vec<_>>(), kept[..kept.len() - 1]);
        assert!(kept[kept.len() - 1].starts_with(plain_remarks.as_str()));
    }
}

#[test]
fn remarks_say_which_uncertainty_is_a_lower_bound_and_which_is_none() {
    let folder = tempfile::tempdir().unwrap();
    let (table, out) = (folder.path().join("t.csv"), folder.path().join("r.csv"));
    std::fs::write(
        &table,
        "lvot_diameter,lvot_diameter (u),lvot_vti\n2,0.1,20\n2,,20\n2,0.1,\n",
    )
    .unwrap();
    let options = Options {
        uncertainty: vec!["stroke_volume".into(), "lvot_area".into()],
        ..Options::default()
    };
    let sheet = read("use hemodynamics");
    let summary = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
    let rows = fields(&out);
    let [value, area, remarks] = ["stroke_volume (u) [mL]", "lvot_area (u) [cm2]", "remarks"]
        .map(|h| rows[0].iter().position(|x| x == h).unwrap());
    // π/4 · 2 · D · VTI · u(D) = 6.28 mL; the area by the same without the VTI.
    assert!((rows[1][value].parse::<f64>().unwrap() - 2.0 * std::f64::consts::PI).abs() < 1e-12);
    assert!((rows[1][area].parse::<f64>().unwrap() - 0.1 * std::f64::consts::PI).abs() < 1e-12);
    assert_eq!(
        rows[1][remarks],
        "no uncertainty is stated for lvot_vti: stroke_volume (u) at least"
    );
    assert_eq!((rows[2][value].as_str(), rows[2][area].as_str()), ("", ""));
    assert_eq!(
        rows[2][remarks],
        "no uncertainty is stated for lvot_diameter, lvot_vti: no stroke_volume (u) | \
         no uncertainty is stated for lvot_diameter: no lvot_area (u)"
    );
    assert_eq!(rows[3][value], "");
    assert_eq!(
        summary.uncertainties[0].to_string(),
        "standard uncertainty of stroke_volume in 1 row, in 1 of them a lower bound; 1 row with the \
         value and no uncertainty; none is stated for lvot_vti in 2 rows, lvot_diameter in 1 row"
    );
}

/// Asked twice, in the binding and beside it, it is one column; a column of that heading that is
/// there already is not written over.
#[test]
fn a_result_has_one_column_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let (table, out) = (folder.path().join("t.csv"), folder.path().join("r.csv"));
    let options = Options {
        binding: Some(
            BindingFile::parse("b.toml".as_ref(), "uncertainty = [\"lvot_area\"]").unwrap(),
        ),
        uncertainty: vec!["lvot_area".into(), "lvot_area".into()],
        ..Options::default()
    };
    let sheet = read("use hemodynamics");
    std::fs::write(&table, "lvot_diameter,lvot_diameter (u)\n2,0.1\n").unwrap();
    let done = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
    let columns = done.results.iter().filter(|h| **h == "lvot_area (u) [cm2]");
    assert_eq!((columns.count(), done.uncertainties.len()), (1, 1));
    std::fs::write(&table, "lvot_diameter,lvot_area (u) [cm2]\n2,0.1\n").unwrap();
    let refused = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap_err();
    assert!(
        matches!(refused, CohortError::Collision { .. }),
        "{refused}"
    );
}

#[test]
fn what_cannot_be_asked_for_is_refused_with_the_way_out() {
    let refused = |binding: &str, names: &[&str]| {
        let options = Options {
            uncertainty: names.iter().map(|n| (*n).to_owned()).collect(),
            ..bound_by(binding)
        };
        in_memory(
            &read("use hemodynamics"),
            "lvot_diameter,lvot_vti\n2,20\n",
            &options,
        )
        .unwrap_err()
        .to_string()
    };
    assert!(refused("", &["stroke_volum"]).contains("did you mean `stroke_volume`?"));
    assert!(refused("", &["cardiac_output"]).contains("not among the results"));
    assert!(refused("", &["lvot_vti"]).contains("not among the results"));
    assert!(refused("uncertainty = [\"nothing\"]", &[]).contains("no cell `nothing`"));
    for (said, words) in [
        ("u = -5 %", "makes no sense"),
        ("u = 5 kg", "no uncertainty"),
        ("n = 3", "write `u = 1 mm`"),
        ("5 %", "no uncertainty"),
    ] {
        let binding = format!("[columns.lvot_vti]\ncell = \"lvot_vti\"\nuncertainty = \"{said}\"");
        let found = refused(&binding, &[]);
        assert!(
            found.contains(words) && found.contains("columns.\"lvot_vti\""),
            "{found}"
        );
    }
}
