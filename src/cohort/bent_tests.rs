//! Rows whose linear uncertainties do not hold: what one exam with the readings of a row says, in
//! memory and in files.

use std::num::NonZeroUsize;

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;

use super::test_support::bound_by;
use super::*;
use crate::formula::CellId;
use crate::sheet::Sheet;
use crate::uncertainty::{Settings, bends};

/// Every way to bend and to branch, what decides by a reading of the sheet's own, by a correlation,
/// by a cell's own reading, by something asked beyond a value, and in a part that is not taken.
const SHEET: &str = "
use hemodynamics
central_venous_pressure = 8 mm[Hg] (u = 2 mm[Hg])
limit = beats(19, 21, 20.5) cm
correlate lvot_vti, heart_rate by 0.6
bounded = min(lvot_vti, limit)
apart = abs(lvot_vti - 20 cm)
held = clamp(lvot_diameter, 1.9 cm, 2.2 cm) * 1
class = if lvot_vti * heart_rate < 1500 cm/min or heart_rate > 90 /min then 1 else 2
lifted [cm] = max(if reading is known then reading else lvot_vti, 17 cm)
chosen = if lvot_vti < 24 cm then lvot_vti else abs(lvot_vti - 20 cm)
raised = lifted * 1
behind = apart * held + bounded * lifted
";

const ASKED: [&str; 9] = [
    "systemic_vascular_resistance",
    "stroke_volume",
    "bounded",
    "apart",
    "held",
    "class",
    "raised",
    "chosen",
    "behind",
];

const BINDING: &str = r#"
[columns.lvot_diameter]
cell = "lvot_diameter"
uncertainty = "u = 4 %"
[columns.mean_pressure]
cell = "mean_pressure"
[columns."mean_pressure (u)"]
cell = "mean_pressure"
part = "uncertainty"
[columns.lifted]
cell = "lifted"
uncertainty = "u = 5 mm"
"#;

fn options() -> Options {
    Options {
        uncertainty: ASKED.iter().map(|name| (*name).to_owned()).collect(),
        ..bound_by(BINDING)
    }
}

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

const HEADINGS: &str = "lvot_diameter,lvot_vti,lvot_vti (u),lvot_vti (n),heart_rate,heart_rate (u),\
                        mean_pressure,mean_pressure (u),height,weight,weight (u),lifted";

/// A number, or one of the ways to say that there is none.
fn field(low: f64, high: f64) -> impl Strategy<Value = String> {
    prop_oneof![
        12 => (low..high).prop_map(|number| format!("{number:.2}")),
        1 => Just(String::new()),
        1 => Just("?".to_owned()),
    ]
}

fn row() -> impl Strategy<Value = String> {
    let diameter = prop_oneof![4 => field(1.7, 2.5), 1 => Just("unobtainable".to_owned())];
    let beats = prop_oneof![
        Just(String::new()),
        Just("1".to_owned()),
        Just("3".to_owned())
    ];
    let vti = (field(15.0, 25.0), field(0.0, 2.0), beats);
    let pressure = (field(8.0, 40.0), field(0.0, 6.0));
    let size = (field(150.0, 190.0), field(55.0, 100.0), field(0.0, 4.0));
    let lifted = prop_oneof![2 => Just(String::new()), 1 => field(15.0, 19.0)];
    let rate = (field(60.0, 100.0), field(0.0, 9.0));
    (diameter, vti, rate, pressure, size, lifted).prop_map(|(d, vti, rate, p, size, lifted)| {
        [
            d, vti.0, vti.1, vti.2, rate.0, rate.1, p.0, p.1, size.0, size.1, size.2, lifted,
        ]
        .join(",")
    })
}

fn in_memory(sheet: &Sheet, text: &str) -> Cohort {
    let bytes = std::io::Cursor::new(text.to_owned().into_bytes());
    let table = Table::from_csv(Box::new(bytes), "t.csv".as_ref()).unwrap();
    Cohort::of(sheet, table, &options()).unwrap()
}

/// The names of the places that an exam with the readings of a row finds; nothing for what is not known.
fn by_exam(exam: &Sheet, cell: CellId) -> Option<Vec<String>> {
    exam.value(cell)?;
    let found = bends(exam, cell, &Settings::of(exam)).unwrap();
    let words = found.iter().map(|bend| {
        let does = if bend.is_branch { "may turn" } else { "bends" };
        format!("`{}` in {} {does}", bend.text, exam.name(bend.cell))
    });
    Some(words.collect())
}

/// Rows from a seed.
fn table(rows: usize) -> String {
    let mut runner = TestRunner::deterministic();
    let one = row();
    let rows = (0..rows).map(|_| one.new_tree(&mut runner).unwrap().current());
    let rows: Vec<String> = rows.collect();
    format!("{HEADINGS}\n{}\n", rows.join("\n"))
}

#[test]
fn a_row_says_what_one_exam_with_its_readings_says() {
    let (sheet, text) = (read(SHEET), table(600));
    let cohort = in_memory(&sheet, &text);
    let lines: Vec<&str> = text.lines().collect();
    let readings = cohort.readings(&sheet).unwrap();
    let mut bent = [0; ASKED.len()];
    for (at, row) in cohort.rows().iter().enumerate() {
        let exam = readings.sheet_of(at).unwrap();
        for (which, name) in ASKED.iter().enumerate() {
            let expected = by_exam(&exam, sheet.cell(name).unwrap());
            let found = cohort.uncertainty(name).unwrap()[at].as_ref();
            let found = found.map(|u| u.bends.to_vec());
            assert_eq!(found, expected, "{name}: row {row}, {}", lines[*row]);
            bent[which] += usize::from(expected.is_some_and(|found| !found.is_empty()));
        }
    }
    for (bent, counts) in bent.iter().zip(&cohort.uncertainties) {
        let name = &counts.name;
        assert_eq!(counts.not_linear, *bent, "{name}");
        // Each bends in some rows, and in others not.
        let rows = counts.known + counts.without;
        assert!(*bent > 9 && *bent < rows - 9, "{name}: {bent} of {rows}");
    }
}

#[test]
fn files_say_what_memory_says_on_any_number_of_threads() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = read(SHEET);
    let text = table(300);
    let (head, rows) = text.split_once('\n').unwrap();
    let input = folder.path().join("t.csv");
    std::fs::write(&input, format!("{head}\n{}", rows.repeat(6))).unwrap();
    let run = |threads: usize| {
        let options = Options {
            threads: NonZeroUsize::new(threads),
            ..options()
        };
        let out = folder.path().join(format!("{threads}.csv"));
        let summary = apply_to_file_with(&sheet, &input, &out, &options, &mut |_| {}).unwrap();
        (summary.uncertainties, std::fs::read(out).unwrap())
    };
    let (counts, bytes) = run(1);
    assert!((counts.clone(), bytes.clone()) == run(3));

    let cohort = in_memory(&sheet, &text);
    for (counts, once) in counts.iter().zip(&cohort.uncertainties) {
        assert_eq!(counts.not_linear, 6 * once.not_linear, "{}", counts.name);
    }
    let mut reader = csv::Reader::from_reader(&bytes[..]);
    let remarks = reader.records().map(|row| row.unwrap());
    let remarks: Vec<String> = remarks.map(|row| row[row.len() - 1].to_owned()).collect();
    for (at, remarks) in remarks.iter().enumerate() {
        for name in ASKED {
            let of_row = cohort.uncertainty(name).unwrap()[at % cohort.rows().len()].as_ref();
            let bends = of_row.map_or(&[][..], |u| &u.bends[..]);
            let said = remarks.split(" | ").find(|said| {
                let reason = said.split_once("do not hold: ");
                reason.is_some_and(|(_, of)| of.split(", ").any(|of| of == format!("{name} (u)")))
            });
            assert_eq!(said.is_some(), !bends.is_empty(), "{at}: {name}: {remarks}");
            assert!(bends.iter().all(|place| said.unwrap().contains(place)));
        }
    }
}

/// What is not asked for is not looked for, and costs nothing.
#[test]
fn nothing_is_said_where_no_uncertainty_is_asked_for() {
    let options = Options {
        uncertainty: Vec::new(),
        ..options()
    };
    let folder = tempfile::tempdir().unwrap();
    let (input, out) = (folder.path().join("t.csv"), folder.path().join("o.csv"));
    std::fs::write(&input, table(200)).unwrap();
    let summary = apply_to_file_with(&read(SHEET), &input, &out, &options, &mut |_| {}).unwrap();
    assert_eq!(summary.uncertainties, []);
    assert!(
        !std::fs::read_to_string(out)
            .unwrap()
            .contains("within reach")
    );
}
