//! Sheets as text, with the cells or the diagnostics that come of them.
//!
//! The files in tests/cases/sheet hold cases: a line `=== SENTENCE`, lines of directions, the sheet,
//! a line `---`, and what comes of it. Directions start with `> `:
//!
//! - `show NAME, …`: these cells, each with its state, its reasons and its origin; `show *` for all
//!   that a person is shown without asking;
//! - `advise NAME`: what there is to know of this cell, from it and upstream;
//! - `explain NAME`: all that can be said of it, and its symbols in LaTeX;
//! - `json NAME`: the cell in JSON;
//! - `full NAME`: its value to all digits, with its UCUM unit;
//! - `instead NAME = READING`: as on the command line;
//! - `set NAME = READING`: an edit after loading, one for each line, with what it changed;
//! - `crlf`, `bom`: how the file of the sheet was written;
//! - `chain N`: N more lines, each cell one more than the one before it, the last called `last`.
//!
//! `SEMILUNAR_BLESS=1 cargo test sheet_cases` writes what comes now into the files; read the
//! difference before you keep it.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use semilunar::formula::notation::number;
use semilunar::sheet::{Loaded, Sheet, State, word_of};

struct Case {
    /// The sentence, the directions and the sheet, as written.
    written: String,
    expected: String,
}

#[derive(Default)]
struct Directions {
    show: Vec<String>,
    advise: Vec<String>,
    explain: Vec<String>,
    json: Vec<String>,
    full: Vec<String>,
    instead: Vec<(String, String)>,
    set: Vec<(String, String)>,
    crlf: bool,
    bom: bool,
    chain: usize,
}

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/sheet");
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "txt"))
        .collect();
    files.sort();
    files
}

fn cases(text: &str) -> (String, Vec<Case>) {
    let mut parts = text.split("=== ");
    let head = parts.next().unwrap_or_default().to_owned();
    let cases = parts
        .map(|part| {
            let (written, expected) = part.split_once("\n---\n").unwrap_or((part, ""));
            Case {
                written: written.trim_end().to_owned(),
                expected: expected.trim_end().to_owned(),
            }
        })
        .collect();
    (head, cases)
}

fn pair(text: &str) -> (String, String) {
    let (name, reading) = text.split_once(" = ").expect("NAME = READING");
    (name.to_owned(), reading.to_owned())
}

/// The directions of a case, and its sheet.
fn read(case: &Case) -> (Directions, String) {
    let mut directions = Directions::default();
    let mut sheet = String::new();
    for line in case.written.lines().skip(1) {
        let Some(direction) = line.strip_prefix("> ") else {
            sheet += line;
            sheet.push('\n');
            continue;
        };
        let (word, rest) = direction.split_once(' ').unwrap_or((direction, ""));
        let list = rest.split(", ").map(str::to_owned);
        match word {
            "show" => directions.show.extend(list),
            "advise" => directions.advise.extend(list),
            "explain" => directions.explain.extend(list),
            "json" => directions.json.extend(list),
            "full" => directions.full.extend(list),
            "instead" => directions.instead.push(pair(rest)),
            "set" => directions.set.push(pair(rest)),
            "crlf" => directions.crlf = true,
            "bom" => directions.bom = true,
            "chain" => directions.chain = rest.parse().unwrap(),
            other => panic!("`{other}` is no direction"),
        }
    }
    for link in (1..=directions.chain).rev() {
        let name = match link {
            last if last == directions.chain => "last".to_owned(),
            link => format!("link_{link}"),
        };
        let former = match link {
            1 => "first".to_owned(),
            link => format!("link_{}", link - 1),
        };
        writeln!(sheet, "{name} = {former} + 1").unwrap();
    }
    if directions.crlf {
        sheet = sheet.replace('\n', "\r\n");
    }
    if directions.bom {
        sheet.insert(0, '\u{feff}');
    }
    (directions, sheet)
}

fn outcome(case: &Case) -> String {
    let (directions, text) = read(case);
    match Sheet::read_named("exam", &text, &directions.instead) {
        Err(error) => {
            assert!(error.diagnostics.iter().any(|d| d.is_error()));
            error.to_string()
        }
        Ok(loaded) => of_cells(loaded, &directions),
    }
}

fn of_cells(loaded: Loaded, directions: &Directions) -> String {
    let mut out = loaded.sources.render(&loaded.warnings);
    if !out.is_empty() {
        out += "\n\n";
    }
    let mut sheet = loaded.sheet;
    show(&mut out, &sheet, directions);
    for (name, reading) in &directions.set {
        writeln!(out, "\nset {name} = {reading}").unwrap();
        match sheet.set_text(name, reading) {
            Err(error) => writeln!(out, "refused: {}", error.message()).unwrap(),
            Ok(edit) => {
                let edit = edit.clone();
                let changed: Vec<String> = edit.changed.iter().map(|c| sheet.name(*c)).collect();
                match changed.len() {
                    many if many > 100 => writeln!(out, "changed: {many} cells").unwrap(),
                    _ => writeln!(out, "changed: {}", changed.join(" ")).unwrap(),
                }
            }
        }
        show(&mut out, &sheet, directions);
    }
    match out.is_empty() {
        true => format!("{} cells", sheet.len()),
        false => out,
    }
}

fn show(out: &mut String, sheet: &Sheet, directions: &Directions) {
    for name in &directions.show {
        if name == "*" {
            out.push_str(&sheet.to_text());
        } else {
            show_cell(out, sheet, name);
        }
    }
    for name in &directions.full {
        let cell = sheet.cell(name).expect("a cell");
        let value = sheet.value(cell).map_or("unknown".into(), number);
        let unit = sheet.unit(cell).unwrap().code();
        writeln!(out, "{name} = {value} {unit}").unwrap();
    }
    for name in &directions.explain {
        let cell = sheet.cell(name).expect("a cell");
        let explanation = sheet.explain(cell).unwrap();
        writeln!(out, "{explanation}").unwrap();
        if let Some(symbols) = &explanation.with_symbols {
            writeln!(out, "LaTeX: {symbols}").unwrap();
        }
    }
    for name in &directions.json {
        let cell = &sheet.to_json()["cells"][name];
        writeln!(out, "{}", serde_json::to_string_pretty(cell).unwrap()).unwrap();
    }
    for name in &directions.advise {
        writeln!(out, "of {name}:").unwrap();
        for advisory in sheet.advisories(sheet.cell(name).expect("a cell")) {
            let (word, text) = (word_of(advisory.weight), advisory.text);
            writeln!(out, "  {word}: {text} ({})", advisory.source).unwrap();
        }
    }
}

fn show_cell(out: &mut String, sheet: &Sheet, name: &str) {
    let Some(cell) = sheet.cell(name) else {
        writeln!(out, "{name}: no cell").unwrap();
        return;
    };
    match sheet.state(cell).unwrap() {
        State::Known => {
            let origin = sheet.origin(cell).unwrap().word();
            writeln!(out, "{name} = {}, {origin}", sheet.shown(cell)).unwrap();
        }
        state => writeln!(out, "{name} is {}", state.word()).unwrap(),
    }
    for because in sheet.because(cell) {
        writeln!(out, "  because {because}").unwrap();
    }
}

#[test]
fn what_comes_of_each_sheet_is_as_written() {
    let bless = std::env::var_os("SEMILUNAR_BLESS").is_some();
    let mut wrong = String::new();
    let mut count = 0;
    for file in files() {
        let (head, cases) = cases(&fs::read_to_string(&file).unwrap());
        let mut blessed = head;
        for case in &cases {
            count += 1;
            let out = outcome(case);
            let out: Vec<&str> = out.lines().map(str::trim_end).collect();
            let out = out.join("\n").trim().to_owned();
            write!(blessed, "=== {}\n---\n{out}\n\n", case.written).unwrap();
            if out != case.expected {
                write!(wrong, "=== {}\n---\n{out}\n\n", case.written).unwrap();
            }
        }
        if bless {
            fs::write(&file, blessed.trim_end().to_owned() + "\n").unwrap();
        }
    }
    assert!(count > 60, "{count} cases");
    assert!(bless || wrong.is_empty(), "other than written:\n\n{wrong}");
}
