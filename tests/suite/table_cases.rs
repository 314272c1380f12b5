//! Tables as text, with what comes of applying a sheet to them.
//!
//! The files in tests/cases/table hold cases: a line `=== SENTENCE`, the sheet, a binding after a
//! line `--- binding` where there is one, a line `--- table`, the table, a line `--- comes`, and what
//! comes of it: the counts, what was taken of the way the file is written, how far uncertainties that the binding asks
//! for can be trusted, the rows set aside with
//! the reason, and of each row used the cells that the sheet's comment `# look NAME, …` names; the
//! comment `# named FILE` gives the table another name. In the table `\xFF` and the like stand for a
//! byte, `\r` for a carriage return, `\t` for a tab, `\u{feff}` for a mark of byte order.
//!
//! `SEMILUNAR_BLESS=1 cargo test table_cases` writes what comes now; read the difference.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use semilunar::cohort::{BindingFile, Options, apply_to_file, apply_to_file_with, set_aside_path};
use semilunar::sheet::Sheet;

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/table");
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    files
}

/// The bytes of a table as written in a case.
fn bytes(table: &str) -> Vec<u8> {
    let table = table
        .replace("\\r", "\r")
        .replace("\\t", "\t")
        .replace("\\u{feff}", "\u{feff}");
    let mut bytes = Vec::new();
    for (at, part) in table.split("\\x").enumerate() {
        let (byte, part) = part.split_at(if at > 0 { 2 } else { 0 });
        if at > 0 {
            bytes.push(u8::from_str_radix(byte, 16).unwrap());
        }
        bytes.extend(part.as_bytes());
    }
    bytes
}

/// Names after `# look` in the sheet.
fn looked_at(sheet: &str) -> Vec<&str> {
    sheet
        .lines()
        .filter_map(|line| line.strip_prefix("# look "))
        .flat_map(|names| names.split(", "))
        .collect()
}

fn comes(sheet: &str, binding: Option<&str>, table: &str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let mut names = sheet.lines().filter_map(|l| l.strip_prefix("# named "));
    let (input, out) = (
        folder.path().join(names.next().unwrap_or("table.csv")),
        folder.path().join("out.csv"),
    );
    fs::write(&input, bytes(table)).unwrap();
    let binding = match binding.map(|text| BindingFile::parse("b.toml".as_ref(), text)) {
        None => None,
        Some(Ok(binding)) => Some(binding),
        Some(Err(error)) => return format!("refused: {error}\n"),
    };
    let options = Options {
        binding,
        keep_identifiers: true,
        ..Options::default()
    };
    let loaded = match Sheet::read(sheet) {
        Ok(loaded) => loaded,
        Err(error) => return format!("{error}\n"),
    };
    let summary = match apply_to_file_with(&loaded.sheet, &input, &out, &options, &mut |_| {}) {
        Ok(summary) => summary,
        Err(error) => {
            let left: Vec<_> = fs::read_dir(folder.path()).unwrap().collect();
            assert_eq!(left.len(), 1, "nothing is left behind after an error");
            let folder = folder.path().display().to_string();
            return format!("refused: {}\n", error.to_string().replace(&folder, ""));
        }
    };
    let counts = summary.counts;
    assert_eq!(counts.read, counts.used + counts.set_aside);
    let mut text = format!("{counts}\n");
    for note in &summary.notes {
        writeln!(text, "note: {note}").unwrap();
    }
    for heading in &summary.passed_over {
        writeln!(text, "left as it is: {heading}").unwrap();
    }
    for column in &summary.without_cell {
        writeln!(text, "note: {column}").unwrap();
    }
    for counts in &summary.uncertainties {
        writeln!(text, "{counts}").unwrap();
    }
    for row in records(&set_aside_path(&out)) {
        writeln!(text, "row {}: {}", row[0].1, row[1].1).unwrap();
    }
    let rows = records(&out);
    assert_eq!(rows.len(), counts.used);
    for row in rows {
        let said: Vec<String> = looked_at(sheet)
            .iter()
            .map(
                |name| match row.iter().find(|(heading, _)| heading == name) {
                    Some((_, value)) => format!("{name} = {value}"),
                    None => format!("no column {name}"),
                },
            )
            .collect();
        writeln!(text, "used: {}", said.join("; ")).unwrap();
    }
    text
}

/// The rows of a file of results, each field with its heading.
fn records(path: &Path) -> Vec<Vec<(String, String)>> {
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .from_path(path)
        .unwrap();
    let headings = reader.headers().unwrap().clone();
    reader
        .records()
        .map(|row| {
            let row = row.unwrap();
            let headings = headings.iter().chain(std::iter::repeat(""));
            headings
                .zip(row.iter())
                .map(|(heading, field)| (heading.to_owned(), field.to_owned()))
                .collect()
        })
        .collect()
}

#[test]
fn what_comes_of_each_table_is_as_written() {
    let (mut count, mut compared) = (0, Vec::new());
    for file in files() {
        let written = fs::read_to_string(&file).unwrap();
        let mut now = String::new();
        for case in written.split_inclusive("=== ").skip(1) {
            let case = case.strip_suffix("=== ").unwrap_or(case);
            let (before, rest) = case.split_once("--- table\n").unwrap();
            let (sheet, binding) = match before.split_once("--- binding\n") {
                Some((sheet, binding)) => (sheet, Some(binding)),
                None => (before, None),
            };
            let (_, sheet) = sheet.split_once('\n').unwrap();
            let (table, _) = rest.split_once("--- comes\n").unwrap_or((rest, ""));
            let came = comes(sheet, binding, table.strip_suffix('\n').unwrap_or(table));
            write!(now, "=== {before}--- table\n{table}--- comes\n{came}").unwrap();
            count += 1;
        }
        if std::env::var_os("SEMILUNAR_BLESS").is_some() {
            fs::write(&file, &now).unwrap();
        }
        compared.push((written, now));
    }
    for (written, now) in compared {
        assert_eq!(
            written, now,
            "run with SEMILUNAR_BLESS=1 and read the difference"
        );
    }
    assert!(count > 40);
}

#[test]
fn a_thousand_rows_and_four_hundred_columns_are_all_accounted_for() {
    let folder = tempfile::tempdir().unwrap();
    let (input, out) = (
        folder.path().join("wide.csv"),
        folder.path().join("out.csv"),
    );
    let mut table = String::from("lvot_diameter [cm],lvot_vti [cm]");
    for column in 0..400 {
        write!(table, ",c{column}").unwrap();
    }
    for row in 0..1000 {
        let vti = if row % 10 == 0 {
            "?".into()
        } else {
            format!("{}", 15 + row % 9)
        };
        let diameter = if row % 97 == 0 { "wide" } else { "2.0" };
        write!(table, "\n{diameter},{vti}").unwrap();
        for column in 0..400 {
            write!(table, ",{:03}", (row + column) % 8).unwrap();
        }
    }
    fs::write(&input, table).unwrap();
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let mut told = 0;
    let summary = apply_to_file(&sheet, &input, &out, &mut |rows| told = rows).unwrap();
    assert_eq!((summary.counts.read, told), (1000, 1000));
    assert_eq!(summary.counts.set_aside, 11);
    let rows = records(&out);
    assert_eq!(rows.len(), 989);
    // What is not bound passes through as it came, leading zeros included.
    assert!(
        rows[0]
            .iter()
            .any(|(heading, field)| heading == "c6" && field == "007")
    );
}

#[test]
fn rows_of_the_bundled_cohorts_are_what_the_sheet_makes_of_each() {
    let text = "use hemodynamics\nuse hemodynamics as before\nuse hemodynamics as after\ncompare before, after";
    for name in ["first_cohort.csv", "fluid_challenges.csv"] {
        let table = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("data")
            .join(name);
        let mut sheet = Sheet::read(text).unwrap().sheet;
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out.csv");
        let summary = apply_to_file(&sheet, &table, &out, &mut |_| {}).unwrap();
        assert!(summary.counts.used > 150);
        for row in records(&out) {
            let judged = judge_row(&mut sheet, &row, &summary.results);
            for (heading, field) in row.iter().filter(|(h, _)| summary.results.contains(h)) {
                assert_eq!(judged[heading.as_str()], *field, "{heading} in {name}");
            }
        }
    }
}

/// The same row through the sheet, one reading after the other: the exam-by-exam judge.
fn judge_row(
    sheet: &mut Sheet,
    row: &[(String, String)],
    results: &[String],
) -> std::collections::HashMap<String, String> {
    let mut counts = std::collections::HashMap::new();
    for (heading, field) in row {
        if let Some(name) = heading.strip_suffix(" (n)") {
            counts.insert(name.to_owned(), field.clone());
        }
    }
    for (heading, field) in row.iter().filter(|(h, _)| !results.contains(h)) {
        let (name, unit) = match heading.split_once(" [") {
            Some((name, unit)) => (name, unit.strip_suffix(']').unwrap()),
            None => (heading.as_str(), ""),
        };
        let Some(cell) = sheet.cell(name) else {
            continue;
        };
        let reading = match field.as_str() {
            "" => "?".to_owned(),
            "unobtainable" => field.clone(),
            _ if !sheet.words(cell).is_empty() => field.clone(),
            _ => match counts.get(name).filter(|n| !n.is_empty()) {
                Some(n) => format!("{field} {unit} (n = {n})"),
                None => format!("{field} {unit}"),
            },
        };
        sheet.set_text(name, &reading).unwrap();
    }
    results
        .iter()
        .map(|heading| {
            let name = heading
                .split_once(" [")
                .map_or(heading.as_str(), |(n, _)| n);
            let value = sheet.value(sheet.cell(name).unwrap());
            let text = value.map_or_else(String::new, semilunar::formula::notation::number);
            (heading.clone(), text)
        })
        .collect()
}
