//! One cohort, written in many ways, gives the same results, byte for byte.

use super::binding::Part;
use super::plain_number::plain_number;
use super::test_support::{bound_by, bound_with_key, bundled, read_parquet, two_exams as sheet};
use super::*;
use crate::sheet::Sheet;

/// What a file of results and its rows set aside hold.
#[derive(Debug, PartialEq)]
struct Came {
    counts: Counts,
    used: String,
    aside: String,
}

fn came(table: &[u8], name: &str, binding: &str) -> (Came, Vec<String>) {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at(name), table).unwrap();
    let options = bound_by(binding);
    let summary =
        apply_to_file_with(&sheet(), &at(name), &at("r.csv"), &options, &mut |_| {}).unwrap();
    let read = |name: &str| std::fs::read_to_string(at(name)).unwrap();
    let came = Came {
        counts: summary.counts,
        used: read("r.csv"),
        aside: read("r.set_aside.csv"),
    };
    (came, summary.notes)
}

/// The bundled table, but for the fault that is none with a decimal comma.
fn source() -> Vec<u8> {
    let text = std::fs::read_to_string(bundled("first_cohort.csv")).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for line in &mut lines {
        if let [before, field, after] = line.split('"').collect::<Vec<_>>()[..] {
            *line = format!("{before}{}{after}", field.replace(',', "."));
        }
    }
    (lines.join("\n") + "\n").into_bytes()
}

/// How a table is written.
struct Way {
    delimiter: u8,
    decimal: &'static str,
    thousands: &'static str,
    is_windows_1252: bool,
}

/// The bundled table with the fields of bound columns of numbers in another form.
fn written(way: &Way) -> Vec<u8> {
    let text = source();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(&text[..]);
    let mut writer = csv::WriterBuilder::new()
        .delimiter(way.delimiter)
        .from_writer(Vec::new());
    let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let headings: Vec<String> = records[0].iter().map(str::to_owned).collect();
    let binding = Binding::by_headings(&sheet(), &headings).unwrap();
    let is_number = |column: usize| {
        let mut bound = binding.columns.iter().filter(|b| b.column == column);
        bound.any(|b| b.takes_numbers && b.part == Part::Value)
    };
    writer.write_record(&records[0]).unwrap();
    for record in &records[1..] {
        let fields = record.iter().enumerate().map(|(column, field)| {
            let number = plain_number(field).filter(|_| is_number(column));
            number.map_or_else(|| field.to_owned(), |_| foreign(field, way))
        });
        writer.write_record(fields).unwrap();
    }
    let bytes = writer.into_inner().unwrap();
    match way.is_windows_1252 {
        false => bytes,
        true => {
            let text = String::from_utf8(bytes).unwrap();
            let (bytes, _, is_lossy) = encoding_rs::WINDOWS_1252.encode(&text);
            assert!(!is_lossy);
            bytes.into_owned()
        }
    }
}

fn foreign(field: &str, way: &Way) -> String {
    let (sign, digits) = match field.strip_prefix('-') {
        Some(digits) => ("-", digits),
        None => ("", field),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let mut grouped = String::from(sign);
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at).is_multiple_of(3) && way.thousands != "none" {
            grouped.push_str(way.thousands);
        }
        grouped.push(digit);
    }
    match fraction {
        "" => grouped,
        _ => format!("{grouped}{}{fraction}", way.decimal),
    }
}

#[test]
fn every_way_of_writing_gives_the_bytes_of_the_plain_table() {
    let (plain, notes) = came(&source(), "t.csv", "");
    assert_eq!((plain.counts.read, notes.len()), (200, 0));
    for delimiter in [b',', b';', b'\t', b'|'] {
        for (decimal, thousands) in [
            (".", "none"),
            (",", "none"),
            (",", "."),
            (".", ","),
            (",", "\u{202f}"),
            (".", "\u{2019}"),
        ] {
            for is_windows_1252 in [false, true] {
                if is_windows_1252 && thousands == "\u{202f}" {
                    continue;
                }
                let way = Way {
                    delimiter,
                    decimal,
                    thousands,
                    is_windows_1252,
                };
                let encoding = if is_windows_1252 {
                    "windows-1252"
                } else {
                    "utf-8"
                };
                let binding = format!(
                    "[file]\ndelimiter = {:?}\nencoding = \"{encoding}\"\ndecimal = \"{decimal}\"\nthousands = \"{thousands}\"\n",
                    char::from(delimiter).to_string()
                );
                let (foreign, notes) = came(&written(&way), "t.csv", &binding);
                assert_eq!(notes, [""; 0], "{binding}");
                assert_eq!(foreign.counts, plain.counts, "{binding}");
                assert_eq!(foreign.used, plain.used, "{binding}");
                let rows = |came: &Came| came.aside.lines().count();
                assert_eq!(rows(&foreign), rows(&plain), "{binding}");
            }
        }
    }
}

/// Without a binding the same comes out of the first records.
#[test]
fn what_is_not_stated_is_taken_from_the_first_records_and_said() {
    let (plain, _) = came(&source(), "t.csv", "");
    for (delimiter, decimal, thousands, name) in [
        (b';', ",", "none", "t.csv"),
        (b';', ",", ".", "t.csv"),
        (b'\t', ",", "none", "t.tsv"),
        (b'|', ",", "\u{a0}", "t.txt"),
    ] {
        let way = Way {
            delimiter,
            decimal,
            thousands,
            is_windows_1252: false,
        };
        let (foreign, notes) = came(&written(&way), name, "");
        assert_eq!(
            (foreign.counts, foreign.used),
            (plain.counts, plain.used.clone())
        );
        assert!(
            notes.iter().any(|n| n.contains("decimal comma")),
            "{notes:?}"
        );
    }
}

/// Marks that close nothing, at the start of fields: read as written, and written so that a reader of results has them back.
#[test]
fn quotation_marks_are_ordinary_characters_where_the_binding_says_so() {
    let table =
        "note,lvot_diameter [cm],lvot_vti [cm]\n\"see,2.0,20\n5\" tube,2.1,21\n\"quoted\",2.2,22\n";
    let (came, notes) = came(table.as_bytes(), "t.csv", "[file]\nquotes = \"none\"\n");
    assert_eq!((came.counts.used, notes), (3, Vec::new()));
    let mut reader = csv::Reader::from_reader(came.used.as_bytes());
    let notes: Vec<String> = reader.records().map(|r| r.unwrap()[0].to_owned()).collect();
    assert_eq!(notes, ["\"see", "5\" tube", "\"quoted\""]);
}

#[test]
fn numbers_with_units_leave_as_numbers_of_their_column_where_only_numbers_leave() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let table = "lvot_diameter [cm];lvot_vti [cm]\n20,5 mm;20,5\n2,05;205 mm\n";
    std::fs::write(at("t.csv"), table).unwrap();
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    apply_to_file(&sheet, &at("t.csv"), &at("r.parquet"), &mut |_| {}).unwrap();
    let frame = read_parquet(&at("r.parquet"));
    for (heading, number) in [("lvot_diameter [cm]", 2.05), ("lvot_vti [cm]", 20.5)] {
        let column = frame.column(heading).unwrap().f64().unwrap().clone();
        assert_eq!(column.iter().collect::<Vec<_>>(), [Some(number); 2]);
    }
    let remarks = frame.column("remarks").unwrap().str().unwrap().clone();
    assert_eq!(
        remarks.get(0),
        Some("lvot_diameter [cm] says `20,5 mm`: 2.05 cm")
    );
}

#[test]
fn dates_in_a_stated_order_leave_shifted() {
    let table = "patient,day,before.lvot_diameter,before.lvot_vti\n\
        Ann,17.05.2031 07:30,2,20\nAnn,20.05.2031,2,21\nAnn,05/17/2031,2,21\n";
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), table).unwrap();
    let text = "[file]\ndate_order = \"dmy\"\n\
        [shift]\ndates = [\"day\"]\nof = \"patient\"\nwithin_days = 100\n";
    let options = bound_with_key(text);
    let summary =
        apply_to_file_with(&sheet(), &at("t.csv"), &at("r.csv"), &options, &mut |_| {}).unwrap();
    assert_eq!((summary.counts.used, summary.counts.set_aside), (2, 1));
    let mut reader = csv::Reader::from_path(at("r.csv")).unwrap();
    let days: Vec<String> = reader.records().map(|r| r.unwrap()[1].to_owned()).collect();
    let day = |text: &str| chrono::NaiveDate::parse_from_str(&text[..10], "%Y-%m-%d").unwrap();
    assert_eq!((day(&days[1]) - day(&days[0])).num_days(), 3);
    assert!(days[0].ends_with(" 07:30"));
}

/// What says how the file is written is never passed over in silence.
#[test]
fn a_table_opened_without_what_the_binding_says_of_the_file_is_refused() {
    let text = "before.lvot_vti\n20\n";
    let table = Table::from_csv(Box::new(text.as_bytes()), "t.csv".as_ref()).unwrap();
    let file = BindingFile::parse("b.toml".as_ref(), "[file]\ndecimal = \",\"\n").unwrap();
    let options = Options {
        binding: Some(file),
        ..Options::default()
    };
    let refused = Cohort::of(&sheet(), table, &options).unwrap_err();
    assert!(refused.to_string().contains("Options::open"), "{refused}");
}
