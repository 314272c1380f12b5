//! Rows checked: each kind of finding, in remarks, in the set-aside file, in the counts.

use std::num::NonZeroUsize;
use std::path::Path;

use super::*;
use crate::cohort::test_support::bound_by;
use crate::cohort::{BindingFile, Cohort, Options, Table, apply_to_file_with, set_aside_path};
use crate::sheet::Sheet;

const SHEET: &str = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics";

fn sheet() -> Sheet {
    Sheet::read(SHEET).unwrap().sheet
}

fn options(binding: &str, threads: usize) -> Options {
    Options {
        keep_identifiers: true,
        threads: NonZeroUsize::new(threads),
        ..bound_by(binding)
    }
}

fn cohort(table: &str, binding: &str) -> Cohort {
    let bytes: &'static [u8] = table.to_owned().leak().as_bytes();
    let table = Table::from_csv(Box::new(bytes), "t.csv".as_ref()).unwrap();
    Cohort::of(&sheet(), table, &options(binding, 1)).unwrap()
}

/// Counts, reasons of the rows set aside, and remarks of the rows used, all from a file.
fn comes(table: &str, binding: &str) -> Vec<String> {
    let folder = tempfile::tempdir().unwrap();
    let (input, out) = (folder.path().join("t.csv"), folder.path().join("o.csv"));
    std::fs::write(&input, table).unwrap();
    let options = options(binding, 2);
    let summary = apply_to_file_with(&sheet(), &input, &out, &options, &mut |_| {}).unwrap();
    let counts = summary.counts;
    assert_eq!(counts.read, counts.used + counts.set_aside);
    // A cohort in memory finds the same.
    let opened = options.open(&input).unwrap();
    let cohort = Cohort::of(&sheet(), opened, &options).unwrap();
    assert_eq!(cohort.checks, summary.checks);
    let mut said: Vec<String> = summary.checks.iter().map(ToString::to_string).collect();
    for record in csv::Reader::from_path(set_aside_path(&out))
        .unwrap()
        .records()
    {
        let record = record.unwrap();
        said.push(format!("row {} aside: {}", &record[0], &record[1]));
    }
    for record in csv::Reader::from_path(&out).unwrap().records() {
        let record = record.unwrap();
        let remarks = record[record.len() - 1].split(" | ");
        said.extend(
            remarks
                .filter(|r| r.starts_with("check: "))
                .map(str::to_owned),
        );
    }
    said
}

#[test]
fn a_length_wrong_by_a_factor_of_ten_is_named_and_set_aside() {
    let table = "before.lvot_diameter [cm],before.lvot_vti [cm],after.lvot_vti [mm]\n\
                 21,18,180\n0.21,18,180\n2.1,180,180\n2.1,1.8,180\n2.1,18,18\n2.1,18,1800\n2.1,18,180\n5.5,18,180\n";
    let said = comes(table, "");
    assert_eq!(
        said,
        [
            "6 rows set aside: a length wrong by a factor of ten",
            "row 1 aside: before.lvot_diameter [cm]: 21 cm is ten times too large: 2.1 cm would be plausible",
            "row 2 aside: before.lvot_diameter [cm]: 0.21 cm is ten times too small: 2.1 cm would be plausible",
            "row 3 aside: before.lvot_vti [cm]: 180 cm is ten times too large: 18 cm would be plausible",
            "row 4 aside: before.lvot_vti [cm]: 1.8 cm is ten times too small: 18 cm would be plausible",
            "row 5 aside: after.lvot_vti [mm]: 18 mm is ten times too small: 180 mm would be plausible",
            "row 6 aside: after.lvot_vti [mm]: 1800 mm is ten times too large: 180 mm would be plausible",
            "row 8 aside: before.lvot_diameter [cm]: `before.lvot_diameter` cannot be 5.5 cm: possible are 0.3 to 5 cm",
        ]
    );
}

/// Numbers at the ends of what is plausible are met alike by the quick way and the careful one.
#[test]
fn ends_of_the_plausible_are_as_written() {
    let mut table = String::from("before.lvot_vti [cm],before.lvot_diameter [cm]\n");
    let vtis = ["0.59", "0.6", "3.3", "3.31", "59", "61", "99", "33", "6"];
    for vti in vtis {
        table.push_str(&format!("{vti},2\n"));
    }
    let cohort = cohort(&table, "");
    // 0.59 and 3.31 times ten, and a tenth of 59, are not plausible either way.
    let aside: Vec<&str> = cohort.set_aside.iter().map(|a| vtis[a.row - 1]).collect();
    assert_eq!(aside, ["0.6", "3.3", "61", "99"]);
}

#[test]
fn only_a_binding_has_it_converted_or_left() {
    let table = "before.lvot_diameter [cm],before.lvot_vti [cm],before.lvot_diameter (u) [cm]\n\
                 20.3,18,\n21,18,0.1\n2.1,1.8,\n";
    let convert = "[columns.\"before.lvot_diameter [cm]\"]\ncell = \"before.lvot_diameter\"\nunit = \"cm\"\nfactor_ten = \"convert\"\n";
    let said = comes(table, convert);
    assert_eq!(
        said,
        [
            "2 rows set aside, 1 row marked: a length wrong by a factor of ten",
            "row 2 aside: before.lvot_diameter [cm]: 21 cm is ten times too large: 2.1 cm would be plausible; it is not \
             converted, because its uncertainty may be in either unit",
            "row 3 aside: before.lvot_vti [cm]: 1.8 cm is ten times too small: 18 cm would be plausible",
            "check: before.lvot_diameter [cm]: 20.3 cm is ten times too large: taken as 2.03 cm",
        ]
    );
    let read = cohort(table, convert);
    let value = |name: &str, row: usize| read.column(name).unwrap()[row].unwrap().value;
    assert_eq!(value("before.lvot_diameter", 0), 2.03);
    // The field itself stays as it came.
    assert_eq!(read.fields("before.lvot_diameter [cm]").unwrap(), ["20.3"]);

    let said = comes(table, "[checks]\nfactor_ten = \"mark\"\n");
    assert_eq!(
        said,
        [
            "2 rows set aside, 1 row marked: a length wrong by a factor of ten",
            // What is not possible cannot be left as it is.
            "row 1 aside: before.lvot_diameter [cm]: 20.3 cm is ten times too large: 2.03 cm would be plausible",
            "row 2 aside: before.lvot_diameter [cm]: 21 cm is ten times too large: 2.1 cm would be plausible",
            "check: before.lvot_vti [cm]: 1.8 cm is ten times too small: 18 cm would be plausible",
        ]
    );
}

/// A field with a unit of its own is looked at in that unit, and told as it stood.
#[test]
fn a_unit_in_the_field_does_not_hide_a_factor_of_ten() {
    let table = "lvot_diameter;lvot_vti\n2,0 cm;20 mm\n2,0;2,0\n2,0;2,0 cm\n2,1 mm;20\n20 cm;20\n1,90 mm;200 mm\n\
                 2,0 cm;200 mm\n20,5 mm;20\n2,0;20 kg\n55 mm;20\n";
    let file = "[file]\ndelimiter = \";\"\ndecimal = \",\"\n[columns.lvot_diameter]\ncell = \"lvot_diameter\"\n";
    let said = comes(table, file);
    assert_eq!(
        said,
        [
            "6 rows set aside: a length wrong by a factor of ten",
            "row 1 aside: lvot_vti: `20 mm` is ten times too small: 200 mm would be plausible",
            "row 2 aside: lvot_vti: 2,0 cm is ten times too small: 20 cm would be plausible",
            "row 3 aside: lvot_vti: `2,0 cm` is ten times too small: 20 cm would be plausible",
            "row 4 aside: lvot_diameter: `2,1 mm` is ten times too small: 21 mm would be plausible",
            "row 5 aside: lvot_diameter: `20 cm` is ten times too large: 2 cm would be plausible",
            "row 6 aside: lvot_diameter: `1,90 mm` is ten times too small: 19 mm would be plausible",
            "row 9 aside: lvot_vti: `20 kg`: `lvot_vti` is in cm; a reading in kg does not fit",
            "row 10 aside: lvot_diameter: `55 mm`: `lvot_diameter` cannot be 5.5 cm: possible are 0.3 to 5 cm",
        ]
    );
    let convert = format!("{file}[checks]\nfactor_ten = \"convert\"\n");
    let said = comes(table, &convert);
    assert_eq!(said[0], "6 rows marked: a length wrong by a factor of ten");
    for words in [
        "check: lvot_vti: `20 mm` is ten times too small: taken as 200 mm",
        "check: lvot_vti: 2,0 cm is ten times too small: taken as 20 cm",
        "check: lvot_diameter: `1,90 mm` is ten times too small: taken as 19 mm",
        "check: lvot_diameter: `20 cm` is ten times too large: taken as 2 cm",
    ] {
        assert!(said.iter().any(|one| one == words), "{words}: {said:?}");
    }
}

/// By either clock, in the order that is stated; a way out that does not name what is stated already.
#[test]
fn times_of_a_clock_of_twelve_hours_are_compared() {
    let table = "pat,t1,t2,lvot_diameter,lvot_vti\n\
                 1,5/17/2031 1:35 PM,5/17/2031 9:35 AM,2,18\n2,5/17/2031 9:35 AM,5/17/2031 1:35 PM,2,18\n\
                 3,5/17/2031 11:50 AM,5/17/2031 12:10 PM,2,18\n4,5/17/2031 25:00,5/17/2031 1:35 PM,2,18\n\
                 5,2031-05-17T07:30+02:00,2031-05-17T05:20Z,2,18\n";
    let binding = "[file]\ndate_order = \"mdy\"\n[checks]\npatient = \"pat\"\ntimes = [\"t1\", \"t2\"]\ncopied = \"off\"\n";
    assert_eq!(
        comes(table, binding),
        [
            "2 rows set aside: an exam dated before the one that it should follow",
            "1 row marked: a time that cannot be read, so that the order is not checked",
            "row 1 aside: `t2` is before `t1`",
            "row 5 aside: `t2` is before `t1`",
            "check: `t1` is no time such as 2031-05-17 07:30: its order is not checked; its day is read, its time of day is \
             not: that is written as 07:30, 07:30:15 or 7:30 PM",
        ]
    );
}

#[test]
fn usual_ranges_of_adults_do_not_judge_a_child() {
    let table =
        "age_group,lvot_diameter [cm],lvot_vti [cm]\nchild,1.1,3\nadult,1.1,3\nchild,11,12\n";
    let said = comes(table, "");
    assert_eq!(
        said,
        [
            "1 row set aside: a length wrong by a factor of ten",
            "row 2 aside: lvot_vti [cm]: 3 cm is ten times too small: 30 cm would be plausible",
            "row 3 aside: lvot_diameter [cm]: `lvot_diameter` cannot be 11 cm: possible are 0.3 to 5 cm",
        ]
    );
}

const FOLLOWED: &str = "\
patient,at,after at,lvot_diameter [cm],before.lvot_vti [cm],after.lvot_vti [cm],before.heart_rate [/min]
P1,2031-05-17 07:30,2031-05-17 08:00,2.0,18.1,19.2,80
P1,2031-05-18 07:30,2031-05-18 07:10,2.0,17.0,19.0,81
P2,2031-05-17 07:30,2031-05-17,2.1,15.0,15.0,90
P1,2031-05-17T07:30:00,2031-05-17 08:00,2.0,18.4,20.1,79
P1,2031-05-17 07:30,2031-05-17 08:00,2.0,18.1,19.2,80
P2,soon,2031-05-19 09:00,2.2,15.0,16.0,90
,2031-05-17 07:30,2031-05-17 08:00,2.0,18.1,19.2,80
P3,,2031-05-17 08:00,2.0,18.1,,80
";

#[test]
fn rows_are_compared_with_their_times_and_with_rows_before_them() {
    let said = comes(
        FOLLOWED,
        "[checks]\npatient = \"patient\"\ntimes = [\"at\", \"after at\"]\n",
    );
    assert_eq!(
        said,
        [
            "1 row set aside: an exam dated before the one that it should follow",
            "1 row marked: a time that cannot be read, so that the order is not checked",
            "1 row set aside: the same row as one before it",
            "1 row marked: the same patient and time as in a row before it",
            "2 rows marked: a velocity-time integral or heart rate the same as in the exam before, by copying or by chance",
            "1 row marked: a diameter carried forward, as is right",
            "1 row marked: no patient, so not compared with other rows",
            "row 2 aside: `after at` is before `at`",
            "row 5 aside: the same as row 1 in patient, times and all bound columns",
            "check: `after.lvot_vti [cm]` is the same number as in `before.lvot_vti [cm]`: copied, or by chance",
            "check: the same patient and time as row 1",
            "check: `lvot_diameter [cm]` is carried forward: the same as in row 1, the patient's exam before",
            "check: `at` is no time such as 2031-05-17 07:30: its order is not checked",
            "check: `before.lvot_vti [cm]` is the same number as in row 3, the patient's exam before: copied, or by chance",
            "check: `before.heart_rate [/min]` is the same number as in row 3, the patient's exam before: copied, or by chance",
            "check: no patient: not compared with other rows",
        ]
    );
}

#[test]
fn a_binding_says_what_is_done() {
    let said = comes(
        FOLLOWED,
        "[checks]\npatient = \"patient\"\ntimes = [\"at\", \"after at\"]\norder = \"mark\"\nsame_row = \"off\"\n\
         same_time = \"set_aside\"\ncopied = \"off\"\n",
    );
    assert_eq!(
        said,
        [
            "1 row marked: an exam dated before the one that it should follow",
            "1 row marked: a time that cannot be read, so that the order is not checked",
            "2 rows set aside: the same patient and time as in a row before it",
            "1 row marked: no patient, so not compared with other rows",
            "row 4 aside: the same patient and time as row 1",
            "row 5 aside: the same patient and time as row 1",
            "check: `after at` is before `at`",
            "check: `at` is no time such as 2031-05-17 07:30: its order is not checked",
            "check: no patient: not compared with other rows",
        ]
    );
    // Without [checks] none of it is looked for.
    assert!(comes(FOLLOWED, "").is_empty());
}

/// A table in several pieces: what is found reaches over their ends, on any number of threads.
#[test]
fn the_number_of_threads_changes_no_byte() {
    let folder = tempfile::tempdir().unwrap();
    let input = folder.path().join("t.csv");
    let mut table = String::from("patient,day,lvot_diameter [cm],lvot_vti [cm],note\n");
    for row in 0..40_000 {
        let (patient, day) = (row % 997, row / 997);
        let vti = 12 + (row * 7 + day) % 5;
        table.push_str(&format!(
            "P{patient},{day},2.{},{vti},{}\n",
            patient % 3,
            "x".repeat(60)
        ));
    }
    // The first rows once more, behind all others.
    let again: String = table
        .lines()
        .skip(1)
        .take(30)
        .map(|l| format!("{l}\n"))
        .collect();
    table.push_str(&again);
    std::fs::write(&input, table).unwrap();
    let binding = "[checks]\npatient = \"patient\"\ntimes = [\"day\"]\n";
    let run = |threads: usize, out: &Path| {
        let options = options(binding, threads);
        let summary = apply_to_file_with(&sheet(), &input, out, &options, &mut |_| {}).unwrap();
        let aside = std::fs::read(set_aside_path(out)).unwrap();
        (summary.checks, std::fs::read(out).unwrap(), aside)
    };
    let one = run(1, &folder.path().join("one.csv"));
    let three = run(3, &folder.path().join("three.csv"));
    assert!(one == three);
    let again = one.0.iter().find(|c| c.check == Check::SameRow).unwrap();
    assert_eq!((again.set_aside, again.marked), (30, 0));
    let aside = String::from_utf8(one.2).unwrap();
    assert!(
        aside.contains("40001,\"the same as row 1 in patient, times"),
        "{aside}"
    );
}

#[test]
fn a_binding_that_asks_for_what_cannot_be_is_refused_with_the_way_out() {
    let table = "patient,at,lvot_diameter [cm],lvot_vti [cm],heart_rate [/min]\nP1,1,2,18,80\n";
    for (binding, said) in [
        ("[checks]\n", "say `patient = HEADING`"),
        ("[checks]\ncopied = \"off\"\n", "say `patient = HEADING`"),
        (
            "[checks]\npatient = \"patient\"\ntimes = [\"at\"]\norder = \"mark\"\n",
            "two columns of times",
        ),
        (
            "[checks]\npatient = \"patient\"\nsame_time = \"mark\"\n",
            "say `times = [HEADING]`",
        ),
        ("[checks]\npatient = \"who\"\n", "no column `who`"),
        (
            "[checks]\npatient = \"patient\"\ntimes = [\"when\"]\n",
            "no column `when`",
        ),
        (
            "[checks]\npatient = \"patient\"\ncopied = \"set_aside\"\n",
            "checks: copied is mark or off, not `set_aside`",
        ),
        (
            "[checks]\nfactor_ten = \"guess\"\n",
            "factor_ten is set_aside, convert or mark, not `guess`",
        ),
        (
            "[checks]\npatients = \"patient\"\n",
            "unknown field `patients`",
        ),
        (
            "[columns.\"heart_rate [/min]\"]\ncell = \"heart_rate\"\nunit = \"/min\"\nfactor_ten = \"mark\"\n",
            "columns.\"heart_rate [/min]\": factor_ten is for readings of a length",
        ),
    ] {
        let read = BindingFile::parse("b.toml".as_ref(), binding).and_then(|file| {
            let options = Options {
                binding: Some(file),
                ..Options::default()
            };
            let table = Table::from_csv(Box::new(table.as_bytes()), "t.csv".as_ref())?;
            Cohort::of(&sheet(), table, &options)
        });
        let message = read.unwrap_err().to_string();
        assert!(message.contains(said), "{binding}: {message}");
    }
}

#[test]
fn reasons_are_kept_with_the_rows_set_aside_and_their_fields() {
    let table = "lvot_diameter [cm],lvot_vti [cm],ward\n2,wide,A\n21,18,B\n2,18\n,,C\n";
    let cohort = cohort(table, "");
    let whys: Vec<Why> = cohort.set_aside.iter().map(|a| a.why).collect();
    let expected = [
        Why::Field,
        Why::Check(Check::FactorTen),
        Why::Shape,
        Why::NothingDerived,
    ];
    assert_eq!(whys, expected);
    let wards = cohort.fields_aside("ward").unwrap();
    let wards: Vec<Option<&str>> = wards.iter().map(Option::as_deref).collect();
    assert_eq!(wards, [Some("A"), Some("B"), None, Some("C")]);
}
