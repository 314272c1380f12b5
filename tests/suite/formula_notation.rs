//! The notation seen from outside: what is malformed is refused with a message that someone has
//! read, and no text panics.
//!
//! The files in tests/cases/notation hold cases: a line `=== KIND` (`sheet`, `formula` or
//! `reading`), the text, a line `---`, and what is said of it. A case of the kind `units` gives
//! operands first (`NAME: UNIT KIND`, `NAME is WORD WORD`, `to UNIT KIND`), then a formula of them. In the text `\u{…}`, `\r`, `\t` and
//! `\\` stand for characters that an editor would hide. `SEMILUNAR_BLESS=1 cargo test` writes what
//! is said now into the files; read the difference before you keep it.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use proptest::prelude::*;
use semilunar::formula::notation::{
    Diagnostic, Sources, What, formula, reading, statements, write_formula, write_reading,
};
use semilunar::formula::{OperandFacts, Target, resolve};
use semilunar::quantity::{Kind, Unit};

#[derive(Clone, Copy, Debug, PartialEq)]
enum Form {
    Sheet,
    Formula,
    Reading,
    Units,
}

struct Case {
    form: Form,
    written: String,
    said: String,
}

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/notation");
    let mut files: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "txt"))
        .collect();
    files.sort();
    files
}

/// The lines before the first case, and the cases.
fn read(text: &str) -> (String, Vec<Case>) {
    let mut parts = text.split("=== ");
    let head = parts.next().unwrap_or_default().to_owned();
    let cases = parts
        .map(|part| {
            let (kind, rest) = part.split_once('\n').unwrap();
            let (written, said) = rest.split_once("\n---\n").unwrap_or((rest, ""));
            Case {
                form: match kind.trim() {
                    "sheet" => Form::Sheet,
                    "formula" => Form::Formula,
                    "reading" => Form::Reading,
                    "units" => Form::Units,
                    other => panic!("`{other}` is no kind of case"),
                },
                written: written.trim_end_matches('\n').to_owned(),
                said: said.trim_end().to_owned(),
            }
        })
        .collect();
    (head, cases)
}

/// The characters that the escapes of a case stand for.
fn unescaped(written: &str) -> String {
    let mut out = String::new();
    let mut rest = written;
    while let Some((before, after)) = rest.split_once('\\') {
        out.push_str(before);
        let mut chars = after.chars();
        match chars.next() {
            Some('r') => out.push('\r'),
            Some('t') => out.push('\t'),
            Some('\\') => out.push('\\'),
            Some('u') => {
                let (code, _) = after[2..].split_once('}').unwrap();
                out.push(char::from_u32(u32::from_str_radix(code, 16).unwrap()).unwrap());
                rest = &after[3 + code.len()..];
                continue;
            }
            other => panic!("`\\{other:?}` is no escape"),
        }
        rest = chars.as_str();
    }
    out + rest
}

/// What is said of a text: the diagnostics, or what was read.
fn said_of(form: Form, text: &str) -> String {
    let mut sources = Sources::default();
    let source = sources.add("case", text);
    match form {
        Form::Sheet => {
            let (read, found) = statements(text, source);
            let mut said = String::new();
            for statement in &read {
                let at = sources.slice(statement.place).unwrap();
                writeln!(said, "read: {}", at.escape_debug()).unwrap();
            }
            said + &sources.render(&found)
        }
        Form::Formula => match formula(text, source) {
            Ok(parsed) => {
                let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
                format!("read: {}", write_formula(&parsed.formula, &names))
            }
            Err(found) => sources.render(&[found]),
        },
        Form::Reading => match reading(text, source) {
            Ok(reading) => format!("read: {}", write_reading(&reading)),
            Err(found) => sources.render(&[found]),
        },
        Form::Units => said_of_units(text),
    }
}

const KINDS: [Kind; 9] = [
    Kind::Plain,
    Kind::BodyHeight,
    Kind::OutflowDiameter,
    Kind::VelocityTimeIntegral,
    Kind::MinuteDistance,
    Kind::OutflowArea,
    Kind::BodySurfaceArea,
    Kind::StrokeVolumeIndex,
    Kind::CardiacIndex,
];

/// A unit and, after it, the label of a kind.
fn unit_and_kind(text: &str) -> (Unit, Kind) {
    let (code, label) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
    let kind = KINDS.into_iter().find(|k| k.label() == label.trim());
    assert!(label.is_empty() || kind.is_some(), "`{label}` is no kind");
    (Unit::parse(code).unwrap(), kind.unwrap_or_default())
}

/// What the reader of dimensions says of a formula of the operands that a case gives.
fn said_of_units(case: &str) -> String {
    let (operands, text) = case.rsplit_once('\n').unwrap_or(("", case));
    let mut target = Target::default();
    let mut given: Vec<(&str, OperandFacts)> = Vec::new();
    for line in operands.lines() {
        if let Some(shown) = line.strip_prefix("to ") {
            let (unit, kind) = unit_and_kind(shown);
            target.unit = Some(unit);
            target.kind = kind;
        } else if let Some((name, words)) = line.split_once(" is ") {
            let words = words.split(' ').map(Arc::from).collect();
            let plain = OperandFacts::plain(Unit::ONE);
            given.push((name, OperandFacts { words, ..plain }));
        } else {
            let (name, what) = line.split_once(':').unwrap();
            let (unit, kind) = unit_and_kind(what);
            let plain = OperandFacts::plain(unit);
            given.push((name, OperandFacts { kind, ..plain }));
        }
    }
    let parsed = formula(text, 0).unwrap();
    let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
    let one = |name: &&str| given.iter().find(|(n, _)| n == name).unwrap().1.clone();
    let facts: Vec<OperandFacts> = names.iter().map(one).collect();
    match resolve(&parsed.formula, &facts, &names, target) {
        Ok(found) => format!("gives {}, {}", found.unit, found.kind.label()),
        Err(misfits) => {
            let mut said = String::new();
            for misfit in misfits {
                writeln!(said, "{}", misfit.message).unwrap();
                if let Some(hint) = misfit.hint {
                    writeln!(said, "  help: {hint}").unwrap();
                }
            }
            said
        }
    }
}

#[test]
fn what_is_said_of_each_case_is_as_written() {
    let bless = std::env::var_os("SEMILUNAR_BLESS").is_some();
    let mut wrong = String::new();
    let mut count = 0;
    for file in files() {
        let (head, cases) = read(&fs::read_to_string(&file).unwrap());
        let mut blessed = head;
        for case in &cases {
            count += 1;
            let said = said_of(case.form, &unescaped(&case.written));
            let said: Vec<&str> = said.lines().map(str::trim_end).collect();
            let said = said.join("\n").trim_end().to_owned();
            let kind = format!("{:?}", case.form).to_lowercase();
            write!(blessed, "=== {kind}\n{}\n---\n{said}\n\n", case.written).unwrap();
            if said != case.said {
                write!(wrong, "{}\nis said:\n{said}\n\n", case.written).unwrap();
            }
        }
        if bless {
            fs::write(&file, blessed.trim_end().to_owned() + "\n").unwrap();
        }
    }
    assert!(count > 100, "{count} cases");
    assert!(bless || wrong.is_empty(), "{wrong}");
}

/// A diagnostic points into the text, at whole characters, and can be shown.
fn is_sound(found: &Diagnostic, text: &str) {
    let place = found.place().expect("every error in a text has a place");
    let (start, end) = (place.start as usize, place.end as usize);
    assert!(text.get(start..end).is_some(), "{found:?} in {text:?}");
    assert!(!found.message().is_empty());
    let mut sources = Sources::default();
    sources.add("text", text);
    let shown = sources.render(std::slice::from_ref(found));
    let unseen = |c: char| c.is_control() && c != '\n';
    assert!(!shown.contains(unseen), "{shown:?}");
}

fn all_readers(text: &str) {
    let (read, found) = statements(text, 0);
    for statement in read {
        let place = statement.place;
        assert!(text.get(place.start as usize..place.end as usize).is_some());
    }
    found.iter().for_each(|d| is_sound(d, text));
    if let Err(found) = formula(text, 0) {
        is_sound(&found, text);
    }
    if let Err(found) = reading(text, 0) {
        is_sound(&found, text);
    }
}

const SHEET: &str = r#"semilunar 1
use hemodynamics as before
lvot_diameter = 2.05(10) cm (n = 2)   # calipers
lvot_vti = beats(17.8, 18.4, 18.1) cm estimated
mean_pressure = 68 mm[Hg] ± 6 mm[Hg] (k = 2)
weight = ? kg
height = unobtainable
rhythm = regular assumed
stroke_work [J] = if rhythm is not irregular and beat_count(lvot_vti) >= 3
    then stroke_volume * mean_pressure else withheld "no rhythm"
area [cm²] = (pi/4 * lvot_diameter^2 + 1e-3 cm²) else clamp(a, 1 cm2, -2 cm²) # π
compare before, after as change
require stroke_work, area
show area, stroke_work over challenges
cohort challenges from "challenges.csv"
draw area against weight from 40 kg to 120 kg titled "Area"
draw area when weight is off by 10 %, height is off by 1 cm
explain area
"#;

/// The sheet with a few stretches replaced by something else.
fn mutated() -> impl Strategy<Value = String> {
    let pieces = prop_oneof![
        any::<char>().prop_map(String::from),
        prop::sample::select(vec![
            "", "(", ")", "[", "]", "\"", "±", "^", "²", "⁻", "/", "1e999", "\n", "\r\n", "\t",
            "\0", "\u{feff}", "\u{202e}", "if", "else", "is", "=", "%", "mm[Hg]", "{", "-", "−",
            "?", "#", ",", ".", "..", "beats(", "k = ", "１２",
        ])
        .prop_map(str::to_owned),
    ];
    prop::collection::vec((any::<prop::sample::Index>(), 0usize..6, pieces), 1..8).prop_map(
        |edits| {
            let mut chars: Vec<char> = SHEET.chars().collect();
            for (at, length, piece) in edits {
                let at = at.index(chars.len());
                let end = (at + length).min(chars.len());
                chars.splice(at..end, piece.chars());
            }
            chars.into_iter().collect()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 600,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn no_text_panics(text in any::<String>()) {
        all_readers(&text);
    }

    #[test]
    fn no_bytes_read_as_text_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        all_readers(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn no_mutated_sheet_panics(text in mutated()) {
        all_readers(&text);
        for line in text.lines() {
            all_readers(line);
            if let Some((_, right)) = line.split_once('=') {
                all_readers(right);
            }
        }
    }
}

#[test]
fn the_sheet_that_is_mutated_reads_without_errors() {
    let (read, found) = statements(SHEET, 0);
    assert_eq!(found, []);
    assert_eq!(read.len(), 16);
}

#[test]
fn deep_nesting_is_refused_and_does_not_exhaust_the_stack() {
    for (open, close) in [
        ("(", ")"),
        ("-", ""),
        ("not ", ""),
        ("sqrt(", ")"),
        ("x^", ""),
        ("if x > 1 then ", " else 1"),
        ("if x > 1 then 1 else ", ""),
        ("min(1, ", ")"),
    ] {
        let text = format!("{}x{}", open.repeat(10_000), close.repeat(10_000));
        let error = formula(&text, 0).unwrap_err();
        assert_eq!(error.message(), "nested more than 100 deep", "{open}");
        is_sound(&error, &text);
    }
}

/// Lines of about `size` bytes.
fn huge_lines(size: usize) -> Vec<String> {
    vec![
        "x".repeat(size),
        format!("{} = 1", "x".repeat(size)),
        format!("x = {}", "9".repeat(size)),
        format!("x = 0.{}1", "0".repeat(size)),
        format!("x = 2 {}", "m".repeat(size)),
        format!("x = {}", "(".repeat(size)),
        format!("x = \"{}", "y".repeat(size)),
        format!("x [{}", "[".repeat(size)),
        format!("x = 1{}", " ".repeat(size)),
        format!("x = withheld \"{}\"", "y".repeat(size)),
        format!("x = 2²{}", "²".repeat(size / 2)),
    ]
}

#[test]
fn huge_lines_are_read_or_refused_with_a_short_message() {
    for text in huge_lines(10_000_000) {
        for found in statements(&text, 0).1 {
            let length = found.message().len();
            assert!(length < 300, "{length}");
        }
    }
    for text in huge_lines(100_000) {
        let (_, found) = statements(&text, 0);
        let mut sources = Sources::default();
        sources.add("huge", text.as_str());
        let shown = sources.render(&found).len();
        assert!(shown < 3000, "{shown} bytes for {}", &text[..12]);
    }
}

#[test]
fn a_text_of_errors_stops_at_a_thousand() {
    let text = "x y\n".repeat(200_000);
    let (read, found) = statements(&text, 0);
    assert!(read.is_empty());
    assert_eq!(found.len(), 1001);
    let last = found.last().unwrap();
    assert_eq!(
        last.message(),
        "there are 1000 errors; from here on I read no more"
    );
    let mut sources = Sources::default();
    sources.add("errors", text.as_str());
    assert!(sources.render(&found).contains("errors:1001:1"));
}

#[test]
fn a_text_that_is_too_long_for_a_sheet_is_refused() {
    let text = " ".repeat((64 << 20) + 1);
    let message = "this text has 67108865 bytes; at most 67108864 are read";
    assert_eq!(statements(&text, 0).1[0].message(), message);
    assert_eq!(formula(&text, 0).unwrap_err().message(), message);
    assert_eq!(reading(&text, 0).unwrap_err().message(), message);
}

#[test]
fn a_cell_that_is_not_known_yet_keeps_its_unit() {
    let (read, found) = statements("weight = ? kg\nheight [cm] = ? m\nx = ?", 0);
    assert_eq!(found, []);
    let units: Vec<Option<&str>> = read
        .iter()
        .map(|statement| match &statement.what {
            What::Reading { unit, .. } => unit.map(|u| u.code()),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(units, [Some("kg"), Some("cm"), None]);
}
