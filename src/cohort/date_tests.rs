//! Dates as exports have them, wherever dates are read: shifted, in the order of exams, around an intervention, in a draft.

use polars::prelude::{Column, DataType, TimeUnit, TimeZone};

use super::test_support::{bound_with_key, two_exams as sheet, write_parquet};
use super::*;
use crate::sheet::Sheet;

/// What came of a table: dates that left, remarks, and reasons of the rows set aside.
struct Came {
    dates: Vec<String>,
    remarks: Vec<String>,
    reasons: Vec<String>,
    checks: Vec<String>,
}

fn came(sheet: &Sheet, table: &str, binding: &str) -> Came {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), table).unwrap();
    let options = bound_with_key(binding);
    let summary =
        apply_to_file_with(sheet, &at("t.csv"), &at("r.csv"), &options, &mut |_| {}).unwrap();
    let column = |name: &str, heading: &str| -> Vec<String> {
        let mut reader = csv::Reader::from_path(at(name)).unwrap();
        let place = reader.headers().unwrap().iter().position(|h| h == heading);
        let field = |record: csv::StringRecord| record[place.unwrap_or(1)].to_owned();
        reader.records().map(|r| field(r.unwrap())).collect()
    };
    Came {
        dates: column("r.csv", "day"),
        remarks: column("r.csv", "remarks"),
        reasons: column("r.set_aside.csv", "reason"),
        checks: summary.checks.iter().map(ToString::to_string).collect(),
    }
}

const SHIFT: &str = "[shift]\ndates = [\"day\"]\nof = \"patient\"\nwithin_days = 100\n";

#[test]
fn dates_that_name_the_month_leave_shifted_without_a_word_on_their_order() {
    let table = "patient,day,before.lvot_diameter,before.lvot_vti\n\
        Ann,3 Mar 2031,2,20\nAnn,06-MAR-2031 07:30,2,21\nAnn,\"March 9, 2031\",2,21\nAnn,2031-03-12,2,22\n";
    let came = came(&sheet(), table, SHIFT);
    assert!(came.reasons.is_empty(), "{:?}", came.reasons);
    let day = |text: &str| chrono::NaiveDate::parse_from_str(&text[..10], "%Y-%m-%d").unwrap();
    let days: Vec<chrono::NaiveDate> = came.dates.iter().map(|date| day(date)).collect();
    for pair in days.windows(2) {
        assert_eq!((pair[1] - pair[0]).num_days(), 3);
    }
    assert!(came.dates[1].ends_with(" 07:30"));
}

/// Whatever stands behind a day and is no time of it would leave as it is: such rows are set aside, and nothing of the field is told.
#[test]
fn what_stands_behind_a_day_does_not_leave_with_it() {
    let tails = ["or 2031-03-22", "seen by Mary", "07:30 MARY", "1234567"];
    let mut table = String::from("patient,day,before.lvot_diameter,before.lvot_vti\n");
    for tail in tails {
        table += &format!("Ann,2031-03-21 {tail},2,20\nAnn,21.3.2031 {tail},2,20\n");
    }
    table += "Ann,2031-03-21T07:30+02:00,2,20\nAnn,21.3.2031 7:30 PM CEST,2,20\nAnn,2031-03-21,2,far 2031-03-22\n";
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), &table).unwrap();
    let binding = format!("identifiers = [\"patient\"]\n[file]\ndate_order = \"dmy\"\n{SHIFT}");
    let options = bound_with_key(&binding);
    let apply = |out| apply_to_file_with(&sheet(), &at("t.csv"), &at(out), &options, &mut |_| {});
    for out in ["r.csv", "r.parquet"] {
        let counts = apply(out).unwrap().counts;
        assert_eq!((counts.read, counts.used, counts.set_aside), (11, 2, 9));
        let aside = std::fs::read_to_string(at("r.set_aside.csv")).unwrap();
        for secret in ["03-21", "03-22", "21.3", "Mary", "MARY", "1234567", "Ann"] {
            assert!(!aside.contains(secret), "{secret}: {aside}");
        }
        let reason = "day: what stands there is no date such as 2031-05-17, so it cannot be shifted; \
                      its day is read, its time of day is not";
        assert_eq!(aside.matches(reason).count(), 8, "{aside}");
    }
    let came = came(&sheet(), &table, &binding);
    assert!(came.dates.iter().all(|date| !date.contains("03-21")));
    assert!(came.dates[0].ends_with("T07:30:00+02:00") && came.dates[1].ends_with(" 7:30 PM CEST"));
    // A cohort in memory has no such rows set aside, and shows nothing in their place.
    let table = options.open(&at("t.csv")).unwrap();
    let cohort = Cohort::of(&sheet(), table, &options).unwrap();
    let shown = cohort.fields("day").unwrap();
    assert!(shown[..8].iter().all(String::is_empty), "{shown:?}");
    assert_eq!(shown[8..], came.dates);
}

/// Columns of dates become text by their types, those with a zone too.
#[test]
fn dates_of_columns_with_types_leave_shifted_with_their_times() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    // 2031-05-17 07:30 (POSIX.1-2017, 4.16).
    let seconds = 1_936_769_400_i64;
    let units = [
        (TimeUnit::Milliseconds, 1000, " 07:30:00.000,"),
        (TimeUnit::Microseconds, 1_000_000, " 07:30:00.000000,"),
        (TimeUnit::Nanoseconds, 1_000_000_000, " 07:30:00.000000000,"),
    ];
    let zones = [None, Some("UTC"), Some("Europe/Berlin")];
    for ((unit, times, tail), zone) in units.iter().flat_map(|unit| zones.map(|z| (unit, z))) {
        let zone = TimeZone::opt_try_new(zone).unwrap();
        let day = Column::new("day".into(), [seconds * times]);
        let mut frame = polars::df!(
            "patient" => ["Ann"],
            "before.lvot_diameter" => [2.0],
            "before.lvot_vti" => [20.0],
        )
        .unwrap();
        let typed = day.cast(&DataType::Datetime(*unit, zone)).unwrap();
        frame.with_column(typed).unwrap();
        write_parquet(&at("t.parquet"), frame);
        let options = bound_with_key(SHIFT);
        let (table, out) = (at("t.parquet"), at("r.csv"));
        let summary = apply_to_file_with(&sheet(), &table, &out, &options, &mut |_| {}).unwrap();
        assert_eq!(summary.counts.used, 1);
        let text = std::fs::read_to_string(out).unwrap();
        let is_shifted = text.contains(tail) && !text.contains("2031-05-17");
        assert!(is_shifted, "{text}");
    }
}

#[test]
fn years_of_two_digits_are_refused_with_the_way_out_which_works() {
    let table = "patient,day,before.lvot_diameter,before.lvot_vti\n\
        Ann,27.02.31,2,20\nAnn,28-Feb-31,2,21\n";
    let refused = came(&sheet(), table, SHIFT);
    assert_eq!(
        refused.reasons,
        [
            "day: what stands there is no date such as 2031-05-17, so it cannot be shifted; its year has two digits: say which hundred years they stand for, such as `[file]` with `two_digit_years_from = 1970` for 1970 to 2069",
            "day: what stands there is no date such as 2031-05-17, so it cannot be shifted; its year has two digits: say which hundred years they stand for, such as `[file]` with `two_digit_years_from = 1970` for 1970 to 2069",
        ]
    );
    let binding = format!("[file]\ndate_order = \"dmy\"\ntwo_digit_years_from = 1970\n{SHIFT}");
    let read = came(&sheet(), table, &binding);
    assert_eq!((read.reasons.len(), read.dates.len()), (0, 2));
    let year = |date: &String| date[..4].parse::<i32>().unwrap();
    assert!(
        read.dates
            .iter()
            .all(|date| (2030..=2031).contains(&year(date)))
    );
    // The order is still to be said where digits alone do not tell it.
    let binding = format!("[file]\ntwo_digit_years_from = 1970\n{SHIFT}");
    let half = came(&sheet(), table, &binding);
    assert_eq!(half.dates.len(), 1);
    assert!(half.reasons[0].ends_with("are said as `[file]` with `date_order`"));
    let wrong = BindingFile::parse("b.toml".as_ref(), "[file]\ntwo_digit_years_from = 70\n");
    let wrong = wrong.unwrap_err().to_string();
    assert!(
        wrong.ends_with("two_digit_years_from is a year from 1900 to 2100, not 70"),
        "{wrong}"
    );
}

#[test]
fn exams_with_named_months_are_in_order_or_not() {
    let table = "patient,at,after at,before.lvot_diameter,before.lvot_vti\n\
        Ann,17-MAY-2031 07:30,17 May 2031 08:00,2,20\n\
        Bob,17-MAY-2031 07:30,17-MAY-2031 07:00,2,21\n\
        Cem,17.05.31,17-MAY-2031 07:00,2,22\n";
    let binding = "[checks]\npatient = \"patient\"\ntimes = [\"at\", \"after at\"]\n";
    let came = came(&sheet(), table, binding);
    assert_eq!(came.reasons, ["`after at` is before `at`"]);
    assert_eq!(
        came.checks,
        [
            "1 row set aside: an exam dated before the one that it should follow",
            "1 row marked: a time that cannot be read, so that the order is not checked",
        ]
    );
    assert!(
        came.remarks[1].contains("two_digit_years_from"),
        "{:?}",
        came.remarks
    );
}

#[test]
fn exams_with_named_months_are_paired() {
    let sheet = Sheet::read("use hemodynamics as before\nuse hemodynamics as after")
        .unwrap()
        .sheet;
    let table = "patient,at,fluid,lvot_diameter,lvot_vti\n\
        Ann,17 May 2031 07:30,17-MAY-2031 08:00,2,20\n\
        Ann,17 May 2031 08:30,17-MAY-2031 08:00,2,21\n\
        Bob,17 May 31 07:30,17-MAY-2031 08:00,2,21\n";
    let binding = "[pair]\nof = \"patient\"\ntime = \"at\"\nintervention = \"fluid\"\n";
    let paired = came(&sheet, table, binding);
    assert_eq!((paired.remarks.len(), paired.reasons.len()), (1, 1));
    assert!(paired.reasons[0].contains("two_digit_years_from"));
}

#[test]
fn a_draft_says_how_short_years_would_be_read() {
    let folder = tempfile::tempdir().unwrap();
    let table = folder.path().join("t.csv");
    std::fs::write(&table, "MRN,day,VTI\n1,27.02.31,20\n2,28.02.31,21\n").unwrap();
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let draft = draft_binding(&sheet, &table).unwrap();
    for line in [
        "date_order = \"dmy\"\ntwo_digit_years_from = 1970\n",
        "# unsure of two_digit_years_from: years have two digits; as it stands 70 is 1970 and 69 is 2069\n",
        "dates = [\"day\"]\n",
    ] {
        assert!(draft.text.contains(line), "{}", draft.text);
    }
    std::fs::write(&table, "MRN,day,VTI\n1,27-FEB-2031,20\n2,28 Feb 2031,21\n").unwrap();
    let draft = draft_binding(&sheet, &table).unwrap();
    assert!(draft.text.contains("dates = [\"day\"]\n") && !draft.text.contains("[file]"));
    std::fs::write(&table, "MRN,day,VTI\n1,03-FEB-31,20\n2,4 Feb 31,21\n").unwrap();
    let draft = draft_binding(&sheet, &table).unwrap();
    assert!(
        draft.text.contains("two_digit_years_from = 1970\n") && !draft.text.contains("date_order")
    );
}
