//! What could stand at a place of a text.

use std::path::Path;

use super::{byte_at, is_in_word};
use crate::formula::notation;
use crate::hemodynamics::{self, Entry, What};
use crate::quantity::Unit;
use crate::sheet::Sheet;

/// What could stand from one place to another, in characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Completions {
    /// Where what is replaced starts.
    pub start: usize,
    /// Where it ends: the place that was asked about.
    pub end: usize,
    /// What could stand there, the nearest first.
    pub suggestions: Vec<Suggestion>,
}

/// Something that could stand at a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Suggestion {
    /// The text.
    pub text: String,
    /// What it is, in one word: `reading`, `result`, `finding`, `word`, `unit`, `function`,
    /// `statement`, `catalogue`, `file` or `folder`.
    pub kind: &'static str,
    /// What a person is told beside it: label and unit.
    pub note: String,
}

const FUNCTIONS: &[(&str, &str)] = &[
    ("sqrt", "square root"),
    ("exp", "exponential"),
    ("ln", "natural logarithm"),
    ("cos", "cosine"),
    ("abs", "magnitude without its sign"),
    ("min", "least of several"),
    ("max", "greatest of several"),
    ("mean", "arithmetic mean of several"),
    ("clamp", "a value kept between two bounds"),
    ("beat_count", "beats behind a reading"),
    ("differs", "whether two readings differ"),
    ("beats", "the mean of beats, with their scatter"),
    ("largest", "the largest of beats"),
];

/// Most suggestions of one answer.
const MOST: usize = 500;

pub(super) fn complete(sheet: &Sheet, base: &Path, text: &str, cursor: usize) -> Completions {
    let at = byte_at(text, cursor);
    let line = text[..at].rsplit('\n').next().unwrap_or("");
    let asked = Asked::of(line);
    let mut suggestions = match asked.place {
        Position::Comment => Vec::new(),
        Position::File => files(base, asked.prefix),
        Position::Unit => units(sheet),
        Position::WordOf(name) => words(sheet, name),
        Position::Name => names(sheet),
        Position::Start => statements().into_iter().chain(names(sheet)).collect(),
    };
    let prefix = asked.prefix;
    suggestions.retain(|s| s.text.starts_with(prefix) && s.text != prefix);
    suggestions.truncate(MOST);
    let end = text[..at].chars().count();
    Completions {
        start: end - prefix.chars().count(),
        end,
        suggestions,
    }
}

/// What is asked for: the piece that was begun, and what kind of thing it begins.
struct Asked<'t> {
    prefix: &'t str,
    place: Position<'t>,
}

enum Position<'t> {
    Comment,
    File,
    Unit,
    /// After `NAME =` or `NAME is`: perhaps a word of that finding.
    WordOf(&'t str),
    Name,
    /// At the start of a line.
    Start,
}

impl<'t> Asked<'t> {
    /// From a line up to the place that is asked about.
    fn of(line: &'t str) -> Asked<'t> {
        if let Some((before, quoted)) = line.rsplit_once('"')
            && before.matches('"').count().is_multiple_of(2)
        {
            return Asked {
                prefix: quoted,
                place: Position::File,
            };
        }
        if line.contains('#') {
            return Asked {
                prefix: "",
                place: Position::Comment,
            };
        }
        let unit = last_piece(line, |c| is_in_word(c) || "/[]'%°²³".contains(c));
        let before_unit = &line[..line.len() - unit.len()];
        let after_number = before_unit
            .strip_suffix(' ')
            .is_some_and(|rest| ends_in_number(rest.trim_end()));
        if after_number || before_unit.ends_with(' ') && unit.starts_with('[') {
            return Asked {
                prefix: unit.trim_start_matches('['),
                place: Position::Unit,
            };
        }
        let prefix = last_piece(line, is_in_word);
        let before = line[..line.len() - prefix.len()].trim();
        let named = |ending: &str| {
            let name = before.strip_suffix(ending)?.trim_end();
            let name = last_piece(name, is_in_word);
            (!name.is_empty()).then_some(name)
        };
        let place = match named("=").or_else(|| named(" is")) {
            Some(name) => Position::WordOf(name),
            None if before.is_empty() => Position::Start,
            None => Position::Name,
        };
        Asked { prefix, place }
    }
}

fn last_piece(text: &str, is_inside: impl Fn(char) -> bool) -> &str {
    let inside = text.chars().rev().take_while(|c| is_inside(*c));
    let length: usize = inside.map(char::len_utf8).sum();
    &text[text.len() - length..]
}

/// A number, or beats in parentheses, at the end of a text.
fn ends_in_number(text: &str) -> bool {
    if let Some(open) = text.strip_suffix(')').and_then(|t| t.rfind('(')) {
        let function = last_piece(&text[..open], is_in_word);
        return ["beats", "largest"].contains(&function) || ends_in_number(&text[..open]);
    }
    let piece = last_piece(text, is_in_word);
    piece.ends_with(|c: char| c.is_ascii_digit()) && piece.parse::<f64>().is_ok()
}

fn note(label: &str, unit: &str) -> String {
    match unit {
        "" => label.to_owned(),
        unit => format!("{label} [{unit}]"),
    }
}

/// Cells first, in their order; then functions, then what the catalogue would bring.
fn names(sheet: &Sheet) -> Vec<Suggestion> {
    let cells = sheet.cells().map(|cell| {
        let kind = match (sheet.words(cell).is_empty(), sheet.is_derived(cell)) {
            (false, _) => "finding",
            (true, true) => "result",
            (true, false) => "reading",
        };
        let unit = sheet.unit(cell).map_or("", |unit| unit.pretty());
        Suggestion {
            text: sheet.name(cell),
            kind,
            note: note(&sheet.label(cell), unit),
        }
    });
    let functions = FUNCTIONS.iter().map(|(name, what)| Suggestion {
        text: format!("{name}("),
        kind: "function",
        note: (*what).to_owned(),
    });
    let absent = |entry: &&Entry| sheet.cell(entry.name).is_none();
    let catalogue = hemodynamics::entries()
        .filter(absent)
        .map(|entry| Suggestion {
            text: entry.name.to_owned(),
            kind: "catalogue",
            note: format!("{}; `use hemodynamics` brings it", entry.label),
        });
    cells.chain(functions).chain(catalogue).collect()
}

fn words(sheet: &Sheet, name: &str) -> Vec<Suggestion> {
    let own = name.rsplit('.').next().unwrap_or(name);
    let words: Vec<String> = match (sheet.cell(name), hemodynamics::entry(own)) {
        (Some(cell), _) => sheet.words(cell).iter().map(|w| w.to_string()).collect(),
        (
            None,
            Some(Entry {
                what: What::Finding(words),
                ..
            }),
        ) => words.iter().map(|w| (*w).to_owned()).collect(),
        _ => Vec::new(),
    };
    if words.is_empty() {
        return names(sheet);
    }
    let suggestion = |text| Suggestion {
        text,
        kind: "word",
        note: format!("of {name}"),
    };
    words.into_iter().map(suggestion).collect()
}

/// Units that cells or the catalogue are shown in, in UCUM codes.
fn units(sheet: &Sheet) -> Vec<Suggestion> {
    let of_cells = sheet
        .cells()
        .filter_map(|cell| sheet.unit(cell))
        .map(Unit::code);
    let of_catalogue = hemodynamics::entries().map(|entry| entry.unit);
    let mut codes: Vec<&str> = of_cells.chain(of_catalogue).chain(["mm"]).collect();
    codes.sort_unstable();
    codes.dedup();
    codes
        .into_iter()
        .filter(|code| *code != "1")
        .map(|code| Suggestion {
            text: code.to_owned(),
            kind: "unit",
            note: String::new(),
        })
        .collect()
}

fn statements() -> Vec<Suggestion> {
    let first_words = notation::PAGE
        .lines()
        .filter_map(|line| line.strip_prefix("    ")?.split(' ').next());
    let mut words: Vec<&str> = first_words.filter(|w| notation::is_reserved(w)).collect();
    words.sort_unstable();
    words.dedup();
    let suggestion = |word: &str| Suggestion {
        text: word.to_owned(),
        kind: "statement",
        note: String::new(),
    };
    words.into_iter().map(suggestion).collect()
}

/// Files and folders that a begun path leads to.
fn files(base: &Path, begun: &str) -> Vec<Suggestion> {
    let folder = begun.rfind('/').map_or("", |at| &begun[..=at]);
    let Ok(entries) = std::fs::read_dir(base.join(folder).join(".")) else {
        return Vec::new();
    };
    let mut found: Vec<Suggestion> = entries
        .flatten()
        .filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let is_folder = entry.path().is_dir();
            let is_hidden = name.starts_with('.');
            (!is_hidden).then(|| Suggestion {
                text: format!("{folder}{name}{}", if is_folder { "/" } else { "" }),
                kind: if is_folder { "folder" } else { "file" },
                note: String::new(),
            })
        })
        .collect();
    found.sort_by(|a, b| a.text.cmp(&b.text));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Sheet {
        let text = "use hemodynamics\nuse hemodynamics as before\nlvot_vti = 20 cm";
        Sheet::read(text).unwrap().sheet
    }

    fn suggested(line: &str) -> Vec<String> {
        let found = complete(&sheet(), Path::new(""), line, line.chars().count());
        found.suggestions.into_iter().map(|s| s.text).collect()
    }

    #[test]
    fn names_come_with_label_and_unit() {
        let found = complete(&sheet(), Path::new(""), "show stroke_v", 13);
        let first = &found.suggestions[0];
        assert_eq!(
            (first.text.as_str(), first.kind),
            ("stroke_volume", "result")
        );
        assert_eq!(first.note, "Stroke volume [mL]");
        assert!(suggested("a = before.lvot_v").contains(&"before.lvot_vti".to_owned()));
    }

    #[test]
    fn units_follow_numbers_and_words_follow_findings() {
        assert!(suggested("lvot_vti = 20 c").contains(&"cm".to_owned()));
        assert!(suggested("p = 68 mm").contains(&"mm[Hg]".to_owned()));
        assert!(suggested("x = beats(1, 2) c").contains(&"cm".to_owned()));
        assert!(suggested("x = 2.05(10) c").contains(&"cm".to_owned()));
        assert!(suggested("stroke_work [L/m").contains(&"L/min".to_owned()));
        assert_eq!(suggested("rhythm = re"), ["regular"]);
        assert_eq!(suggested("f = if rhythm is ir"), ["irregular"]);
        assert!(suggested("output = cardiac_o").contains(&"cardiac_output".to_owned()));
    }

    #[test]
    fn a_line_starts_with_a_statement_or_a_name() {
        assert_eq!(suggested("us")[0], "use");
        assert!(suggested("coh").contains(&"cohort".to_owned()));
        assert!(suggested("a = sq").contains(&"sqrt(".to_owned()));
        assert!(suggested("# us").is_empty());
    }

    #[test]
    fn the_functions_are_those_of_the_notation() {
        for (name, _) in FUNCTIONS {
            let error = notation::formula(&format!("{name}()"), 0).unwrap_err();
            let words = error.message();
            assert!(!words.contains("is not a function"), "{words}");
        }
    }

    #[test]
    fn paths_are_completed_inside_quotation_marks() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join("tables")).unwrap();
        std::fs::write(folder.path().join("tables/one.csv"), "").unwrap();
        std::fs::write(folder.path().join(".hidden"), "").unwrap();
        let line = "cohort c from \"ta";
        let found = complete(&sheet(), folder.path(), line, line.len());
        assert_eq!(found.suggestions[0].text, "tables/");
        let line = "cohort c from \"tables/";
        let found = complete(&sheet(), folder.path(), line, line.len());
        assert_eq!(found.suggestions[0].text, "tables/one.csv");
        assert_eq!(found.start, 15);
    }
}
