//! Files in and out: comma-separated values and Parquet, one thread and several.

use std::num::NonZeroUsize;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use polars::prelude::{
    Column, DataFrame, DataType, IntoColumn, NamedFrom, NewChunkedArray, ParquetWriter, Series,
    StringChunked, TimeUnit,
};

use super::plain_number::plain_number;
use super::test_support::{bundled, read_parquet, two_exams as sheet, write_parquet};
use super::*;
use crate::sheet::Sheet;

fn options() -> Options {
    Options {
        binding: Some(BindingFile::read(&bundled("fluid_challenges.toml")).unwrap()),
        key: Some(Key::from_bytes(b"0123456789abcdef")),
        ..Options::default()
    }
}

/// Every field of a file of results as text, headings first.
fn fields_of_csv(path: &Path) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_path(path)
        .unwrap();
    let row = |record: csv::StringRecord| record.iter().map(str::to_owned).collect();
    reader
        .records()
        .map(|record| row(record.unwrap()))
        .collect()
}

/// The bundled table, many times over, so that it comes in several pieces.
fn long_table() -> String {
    let text = std::fs::read_to_string(bundled("fluid_challenges.csv")).unwrap();
    let (head, rows) = text.split_once('\n').unwrap();
    format!("{head}\n{}", rows.repeat(3))
}

#[test]
fn any_number_of_threads_writes_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: String| folder.path().join(name);
    std::fs::write(at("t.csv".into()), long_table()).unwrap();
    for ending in ["csv", "parquet"] {
        let run = |threads: usize| {
            let out = at(format!("r{threads}.{ending}"));
            let options = Options {
                threads: NonZeroUsize::new(threads),
                ..options()
            };
            let table = at("t.csv".into());
            let mut told = Vec::new();
            let summary =
                apply_to_file_with(&sheet(), &table, &out, &options, &mut |n| told.push(n))
                    .unwrap();
            assert!(told.len() > 4, "the table comes in pieces");
            assert_eq!(told.last(), Some(&summary.counts.read));
            let aside = std::fs::read(set_aside_path(&out)).unwrap();
            (
                std::fs::read(&out).unwrap(),
                aside,
                summary.counts,
                summary.advisories,
            )
        };
        let one = run(1);
        assert_eq!(one.2.read, 966 * 3);
        assert_eq!(one.2.read, one.2.used + one.2.set_aside);
        for threads in [2, 3] {
            assert!(run(threads) == one, "{ending} with {threads} threads");
        }
    }
}

/// Row numbers count through the pieces.
#[test]
fn rows_set_aside_keep_their_numbers_over_pieces() {
    let text = std::fs::read_to_string(bundled("fluid_challenges.csv")).unwrap();
    let cohort = |text: String| {
        let bytes = std::io::Cursor::new(text.into_bytes());
        let table = Table::from_csv(Box::new(bytes), "t.csv".as_ref()).unwrap();
        Cohort::of(&sheet(), table, &options()).unwrap()
    };
    let (once, many) = (cohort(text), cohort(long_table()));
    let first: Vec<usize> = once.set_aside.iter().map(|s| s.row).collect();
    let expected = (0..3).flat_map(|n| first.iter().map(move |row| row + 966 * n));
    let rows: Vec<usize> = many.set_aside.iter().map(|s| s.row).collect();
    assert_eq!(rows, expected.collect::<Vec<_>>());
    assert_eq!(many.rows().len(), 3 * once.rows().len());
    // The bundled table's first patient, by a key.
    let shown = Key::from_bytes(b"0123456789abcdef").pseudonym("P0001");
    assert_eq!(many.fields("patient").unwrap()[0], shown);
}

/// The same table through comma-separated values and through Parquet, in and out.
#[test]
fn parquet_and_text_hold_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let table = bundled("fluid_challenges.csv");
    let run = |table: &Path, out: &Path| {
        apply_to_file_with(&sheet(), table, out, &options(), &mut |_| {}).unwrap()
    };
    let text = run(&table, &at("r.csv"));
    let columns = run(&table, &at("r.parquet"));
    assert_eq!(text.counts, columns.counts);
    assert_eq!(columns.set_aside, at("r.set_aside.csv"));

    // The table itself as Parquet, with types: numbers where all fields are.
    let fields = fields_of_csv(&table);
    let frame: Vec<Column> = (0..fields[0].len())
        .map(|column| {
            typed(
                &fields[0][column],
                fields[1..].iter().map(|row| &*row[column]),
            )
        })
        .collect();
    let mut frame = DataFrame::new(fields.len() - 1, frame).unwrap();
    assert!(frame.dtypes().contains(&DataType::Float64));
    let file = std::fs::File::create(at("t.parquet")).unwrap();
    ParquetWriter::new(file)
        .with_row_group_size(Some(100))
        .finish(&mut frame)
        .unwrap();
    let from_parquet = run(&at("t.parquet"), &at("p.csv"));
    assert_eq!(from_parquet.counts, text.counts);
    assert_eq!(from_parquet.advisories, text.advisories);
    let back = run(&at("t.parquet"), &at("p.parquet"));
    assert_eq!(back.counts, text.counts);

    let (of_text, of_columns) = (fields_of_csv(&at("r.csv")), read_parquet(&at("r.parquet")));
    let (of_frame, through) = (fields_of_csv(&at("p.csv")), read_parquet(&at("p.parquet")));
    assert_eq!(of_columns.height(), of_text.len() - 1);
    for (column, heading) in of_text[0].iter().enumerate() {
        let is_result = text.results.contains(heading);
        for (row, fields) in of_text[1..].iter().enumerate() {
            let number = |frame: &DataFrame| {
                let value = frame.column(heading).unwrap().get(row).unwrap();
                value.extract::<f64>()
            };
            if is_result {
                let expected = fields[column].parse::<f64>().ok();
                assert_eq!(number(&of_columns), expected, "row {row} {heading}");
                assert_eq!(number(&through), expected, "row {row} {heading}");
                assert_eq!(of_frame[row + 1][column], fields[column]);
            }
        }
    }
    // Identifiers left as pseudonyms everywhere.
    let pseudonyms = |frame: &DataFrame| {
        let column = frame.column("patient").unwrap().str().unwrap().clone();
        column.get(0).unwrap().to_owned()
    };
    assert_eq!(pseudonyms(&of_columns), of_text[1][0]);
    assert_eq!(pseudonyms(&through), of_text[1][0]);
    assert_eq!(of_text[1][0].len(), 32);
}

/// A column with the narrowest type that holds it.
fn typed<'f>(heading: &str, fields: impl Iterator<Item = &'f str> + Clone) -> Column {
    let is_number = |field: &str| field.is_empty() || plain_number(field).is_some();
    if fields.clone().all(is_number) {
        let numbers: Vec<Option<f64>> = fields.map(plain_number).collect();
        return Series::new(heading.into(), numbers).into_column();
    }
    StringChunked::from_iter_values(heading.into(), fields).into_column()
}

#[test]
fn words_in_a_column_of_numbers_are_told_where_only_numbers_leave() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let table = "lvot_diameter [cm],lvot_vti [cm],code,height,weight\n\
        unobtainable,20,007,178,80\n2,NA,008,178,80\n2,20,009,,\n";
    std::fs::write(at("t.csv"), table).unwrap();
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    apply_to_file(&sheet, &at("t.csv"), &at("r.parquet"), &mut |_| {}).unwrap();
    let frame = read_parquet(&at("r.parquet"));
    let text = |heading: &str, row: usize| {
        let column = frame.column(heading).unwrap().str().unwrap().clone();
        column.get(row).map(str::to_owned)
    };
    assert_eq!(text("code", 0).as_deref(), Some("007"));
    let remarks = text("remarks", 0).unwrap();
    assert!(
        remarks.contains("lvot_diameter [cm] says `unobtainable`"),
        "{remarks}"
    );
    // A plain NA says no more than nothing does.
    assert!(!text("remarks", 1).unwrap().contains("says"));
    let diameters = frame
        .column("lvot_diameter [cm]")
        .unwrap()
        .f64()
        .unwrap()
        .clone();
    assert_eq!(
        diameters.iter().collect::<Vec<_>>(),
        [None, Some(2.0), Some(2.0)]
    );
}

#[test]
fn every_type_of_column_passes_through_or_is_refused_by_name() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let numbers = |values: [f64; 2]| Series::new("lvot_diameter".into(), values.to_vec());
    let days = Series::new("day".into(), [21000_i32, 21001]);
    let columns: Vec<Column> = vec![
        numbers([2.0, f64::NAN]).into_column(),
        Series::new("lvot_vti".into(), [20_i64, 21]).into_column(),
        days.cast(&DataType::Date).unwrap().into_column(),
        Series::new("at".into(), [1_i64, 2])
            .cast(&DataType::Datetime(TimeUnit::Microseconds, None))
            .unwrap()
            .into_column(),
        Series::new("kept".into(), [true, false]).into_column(),
        Series::new("count".into(), [1_u8, 2]).into_column(),
        Series::new("cost".into(), ["1.50", "2.25"])
            .cast(&DataType::Decimal(10, 2))
            .unwrap()
            .into_column(),
    ];
    let frame = DataFrame::new(2, columns).unwrap();
    let types = frame.dtypes();
    write_parquet(&at("t.parquet"), frame);
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let summary = apply_to_file(&sheet, &at("t.parquet"), &at("r.parquet"), &mut |_| {}).unwrap();
    // A diameter that is no number is set aside, as text would be.
    assert_eq!((summary.counts.used, summary.counts.set_aside), (1, 1));
    let aside = std::fs::read_to_string(at("r.set_aside.csv")).unwrap();
    assert!(
        aside.contains("lvot_diameter: `NaN` is not a number"),
        "{aside}"
    );
    assert_eq!(read_parquet(&at("r.parquet")).dtypes()[..7], types[..]);
    apply_to_file(&sheet, &at("t.parquet"), &at("r.csv"), &mut |_| {}).unwrap();
    let text = std::fs::read_to_string(at("r.csv")).unwrap();
    let line = text.lines().nth(1).unwrap();
    assert!(
        line.starts_with("2,20,2027-07-01,1970-01-01 00:00:00.000001,true,1,1.50,"),
        "{line}"
    );

    std::fs::write(at("damaged.parquet"), b"PAR1 nothing of the kind PAR1").unwrap();
    let refused = apply_to_file(&sheet, &at("damaged.parquet"), &at("d.csv"), &mut |_| {});
    assert!(matches!(refused, Err(CohortError::Table { .. })));
    assert!(!at("d.csv").exists());
}

#[test]
fn dates_leave_shifted_by_the_days_of_their_patient() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let table = "patient,day,lvot_diameter,lvot_vti\n\
        Ann,2031-05-17,2,20\nAnn,2031-05-20,2,21\nBob,17 May,2,20\n,2031-05-17,2,20\nBob,,2,20\n";
    std::fs::write(at("t.csv"), table).unwrap();
    let text = "identifiers = [\"patient\"]\n\
        [shift]\ndates = [\"day\"]\nof = \"patient\"\nwithin_days = 100\n";
    let binding = |text: &str| BindingFile::parse("b.toml".as_ref(), text).unwrap();
    let options = Options {
        binding: Some(binding(text)),
        ..options()
    };
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let run = |options: &Options| {
        apply_to_file_with(&sheet, &at("t.csv"), &at("r.csv"), options, &mut |_| {})
    };
    let counts = run(&options).unwrap().counts;
    assert_eq!((counts.used, counts.set_aside), (3, 2));
    let rows = fields_of_csv(&at("r.csv"));
    let day = |row: usize| chrono::NaiveDate::parse_from_str(&rows[row][1], "%Y-%m-%d").unwrap();
    assert_eq!((day(2) - day(1)).num_days(), 3);
    let moved = (day(1) - chrono::NaiveDate::from_ymd_opt(2031, 5, 17).unwrap()).num_days();
    assert!((1..=100).contains(&moved.abs()), "{moved}");
    assert_eq!(rows[3][1], "");
    let aside = std::fs::read_to_string(at("r.set_aside.csv")).unwrap();
    assert!(
        aside.contains("day: what stands there is no date such as 2031-05-17"),
        "{aside}"
    );
    assert!(
        !aside.contains("17 May"),
        "what cannot be shifted does not leave"
    );
    assert!(aside.contains("`patient` is blank"), "{aside}");

    let without_key = Options {
        key: None,
        ..options.clone()
    };
    assert!(matches!(run(&without_key), Err(CohortError::NoKey { .. })));
    let wide = binding(&text.replace("100", "4000"));
    let refused = run(&Options {
        binding: Some(wide),
        ..options
    });
    assert!(refused.unwrap_err().to_string().contains("from 1 to 3650"));
}

#[test]
fn work_that_is_stopped_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), long_table()).unwrap();
    let stop = Arc::new(AtomicBool::new(false));
    let options = Options {
        stop: Some(stop.clone()),
        threads: NonZeroUsize::new(1),
        ..options()
    };
    let mut progress = |_| stop.store(true, std::sync::atomic::Ordering::Relaxed);
    let stopped = apply_to_file_with(
        &sheet(),
        &at("t.csv"),
        &at("r.csv"),
        &options,
        &mut progress,
    );
    assert!(matches!(stopped, Err(CohortError::Stopped { rows }) if rows > 0));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}
