//! Help for whoever writes cells: is a text finished, what could stand here, what is this.
//!
//! Places are counted in characters (Unicode code points), as front ends count them.
//!
//! ```
//! use semilunar::notebook::Session;
//! use semilunar::notebook::assist::{Completeness, completeness};
//!
//! assert_eq!(completeness("a = (1 cm +"), Completeness::Incomplete);
//!
//! let mut session = Session::new(".");
//! session.submit("a", "use hemodynamics\nlvot_vti = 20 cm");
//! let found = session.complete("show stroke_v", 13);
//! assert_eq!(found.suggestions[0].text, "stroke_volume");
//! assert_eq!((found.start, found.end), (5, 13));
//! ```

mod suggest;

use super::Session;
use super::output::Output;
use super::rust_cells::{Language, language};
use crate::formula::notation::{self, Diagnostic};
use crate::hemodynamics::{self, Entry, What};
use crate::sheet::Sheet;
use crate::uncertainty::{explained_text, trust_words};

pub use suggest::{Completions, Suggestion};

/// Whether a text is a whole cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Completeness {
    /// It can be carried out.
    Complete,
    /// It goes on: what is missing can still follow.
    Incomplete,
    /// Whatever follows, it cannot be read.
    Invalid,
}

/// Whether a text is a whole cell, as far as its form tells.
pub fn completeness(text: &str) -> Completeness {
    if let (Language::Rust { .. }, _) = language(text) {
        // The compiler says what a Rust cell lacks.
        return Completeness::Complete;
    }
    let (_, found) = notation::statements(text, 0);
    let mut errors = found.iter().filter(|d| d.is_error()).peekable();
    if errors.peek().is_none() {
        return Completeness::Complete;
    }
    // A reader at its keyboard ends a text by an empty line; what is missing then is an error.
    let ends_empty = text.ends_with("\n\n");
    let end = notation::end_of_statements(text);
    let is_at_end = |d: &Diagnostic| d.place().is_some_and(|p| p.start as usize >= end);
    match errors.all(is_at_end) && !ends_empty {
        true => Completeness::Incomplete,
        false => Completeness::Invalid,
    }
}

impl Session {
    /// What could stand at a place of a text.
    pub fn complete(&self, text: &str, cursor: usize) -> Completions {
        suggest::complete(self.sheet(), self.base(), text, cursor)
    }

    /// What the word at a place of a text means: for a cell, all that explaining it says, with its
    /// value; for a name of the catalogue, its entry; for a word of the notation, its lines on the
    /// page of the notation.
    pub fn inspect(&self, text: &str, cursor: usize) -> Option<Output> {
        let word = word_at(text, cursor)?;
        let words = match self.sheet().cell(word) {
            Some(cell) => explained_text(self.sheet(), cell).ok()?,
            None => match hemodynamics::entry(word) {
                Some(entry) => entry_text(entry),
                None => lines_of_notation(word)?,
            },
        };
        let html = maud::html! { pre { (words) } }.into_string();
        Some(Output::new("", words, html))
    }

    /// The value of a cell or a formula, now, or diagnostics; `[UNIT]` before it says in which
    /// unit. The session is as it was.
    pub fn value_now(&mut self, formula: &str) -> Output {
        let formula = formula.trim();
        if formula.contains(['\n', '\r', '#']) {
            return Output::error("one formula on one line belongs here", "");
        }
        if let Some(value) = value_of(self.sheet(), formula) {
            return value;
        }
        let free = |name: &String| self.sheet().cell(name).is_none();
        let name = (0..).map(|n| format!("value_{n}")).find(free);
        let name = name.unwrap_or_default();
        let key = format!("value of {name}");
        let (unit, formula) = unit_before(formula);
        self.submit(&key, &format!("{name} {unit} = {formula}"));
        let error = self.outputs(&key).into_iter().find(Output::is_error);
        let value = value_of(self.sheet(), &name);
        self.forget(&key);
        error
            .or(value)
            .unwrap_or_else(|| Output::error(format!("`{formula}` has no value"), ""))
    }
}

/// The unit in brackets at the start of a text, and the rest. Units have brackets themselves:
/// `[mm[Hg]]`.
fn unit_before(text: &str) -> (&str, &str) {
    let mut depth = 0_u32;
    for (at, c) in text.char_indices() {
        match c {
            '[' => depth += 1,
            ']' if depth == 1 => return text.split_at(at + 1),
            ']' => depth = depth.saturating_sub(1),
            _ if depth == 0 => break,
            _ => {}
        }
    }
    ("", text)
}

/// A cell's value in words: with its uncertainty, or why it is not known.
fn value_of(sheet: &Sheet, name: &str) -> Option<Output> {
    let cell = sheet.cell(name)?;
    let mut words = match (sheet.word(cell), sheet.value(cell)) {
        (Some(word), _) => word.replace('_', " "),
        (None, Some(_)) => sheet.shown(cell),
        (None, None) => {
            let state = sheet.state(cell).map_or("missing", |state| state.word());
            format!("{state}: {}", sheet.because(cell).join("; "))
        }
    };
    if let Some(trust) = trust_words(sheet, cell) {
        words.push_str(&format!(" ({trust})"));
    }
    Some(Output::new("", words, ""))
}

fn entry_text(entry: &Entry) -> String {
    let what = match entry.what {
        What::Input | What::GuardedInput(_) => "a reading".to_owned(),
        What::Finding(words) => format!("a finding: {}", words.join(", ")),
        What::Derived(formula) => format!("computed: {formula}"),
    };
    format!(
        "{} [{}]\n{what}\nSource: {}\nIt is in the catalogue: `use hemodynamics` brings it here.",
        entry.label, entry.unit, entry.source
    )
}

/// The lines on the page of the notation that show a word.
fn lines_of_notation(word: &str) -> Option<String> {
    let has_word = |line: &&str| {
        line.split(|c: char| !is_in_word(c))
            .any(|piece| piece == word)
    };
    let examples = notation::PAGE
        .lines()
        .filter_map(|line| line.strip_prefix("    "));
    let lines: Vec<&str> = examples.filter(has_word).collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}

/// Whether a character can be inside a name.
pub(super) fn is_in_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_' || c == '.'
}

/// The byte at which so many characters end.
pub(super) fn byte_at(text: &str, characters: usize) -> usize {
    text.char_indices()
        .nth(characters)
        .map_or(text.len(), |(at, _)| at)
}

/// The word that a place lies in, or at the end of.
fn word_at(text: &str, cursor: usize) -> Option<&str> {
    let at = byte_at(text, cursor);
    let (before, after) = text.split_at(at);
    let start = before.len()
        - before
            .chars()
            .rev()
            .take_while(|c| is_in_word(*c))
            .map(char::len_utf8)
            .sum::<usize>();
    let end = at + after.find(|c| !is_in_word(c)).unwrap_or(after.len());
    let word = text[start..end].trim_matches('.');
    (!word.is_empty()).then_some(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_that_go_on_are_told_from_texts_that_cannot_be_read() {
        for whole in [
            "",
            "  \n",
            "# a comment",
            "a = 1 cm",
            "show",
            "use hemodynamics\n",
            "a = 2 cm # x",
        ] {
            assert_eq!(completeness(whole), Completeness::Complete, "{whole}");
        }
        for open in [
            "a = (1 cm +",
            "a = 1 cm +",
            "a =",
            "a = # the diameter",
            "a [cm] = if b > 1 cm then",
            "x = beats(17.8,",
            "x = beats(17.8, 18.4",
            "cohort c from",
            "draw a against",
            "show a,",
            "use",
            "a = 1 cm\nb = mean(a,\n  2 cm",
        ] {
            assert_eq!(completeness(open), Completeness::Incomplete, "{open}");
        }
        for wrong in [
            "a = = 1",
            "= 1",
            "a = 1 cm cm\nb = 2 +",
            "show a b",
            "a = )",
            "a =\n\n",
        ] {
            assert_eq!(completeness(wrong), Completeness::Invalid, "{wrong}");
        }
    }

    #[test]
    fn words_are_found_by_characters_and_not_by_bytes() {
        assert_eq!(word_at("µ = lvot_vti", 6), Some("lvot_vti"));
        assert_eq!(word_at("show before.lvot_vti", 20), Some("before.lvot_vti"));
        assert_eq!(word_at("a + b", 2), None);
        assert_eq!(word_at("a", 99), Some("a"));
        assert_eq!(word_at("", 0), None);
    }

    #[test]
    fn cells_entries_and_words_of_the_notation_are_inspected() {
        let mut session = Session::new(".");
        let early = session.inspect("stroke_volume", 3).unwrap();
        assert!(early.text.contains("`use hemodynamics` brings it here"));
        session.submit(
            "a",
            "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm",
        );
        let cell = session.inspect("show stroke_volume", 8).unwrap();
        assert!(cell.text.contains("62.8 mL"), "{}", cell.text);
        let word = session.inspect("draw a against b", 2).unwrap();
        assert!(word.text.contains("draw "));
        assert_eq!(session.inspect("no_such_cell", 3), None);
    }

    #[test]
    fn values_are_asked_without_a_trace() {
        let mut session = Session::new(".");
        session.submit("a", "x = 2 cm (u = 1 mm)\ny = ? cm");
        session.submit("b", "show");
        let before = session.outputs("b");
        assert!(session.value_now("x").text.starts_with("2 cm"));
        let area = session.value_now("[cm2] x * 3 cm");
        assert!(area.text.starts_with("6.00 cm² ("), "{}", area.text);
        let pressure = session.value_now("[mm[Hg]] 1 kPa + 0 mm[Hg]");
        assert_eq!(pressure.text, "7.50 mmHg");
        assert!(session.value_now("y").text.contains("missing"));
        assert!(session.value_now("x + 1 kg").text.contains("adds"));
        assert!(session.value_now("x\nz = 1").is_error());
        assert_eq!(session.outputs("b"), before);
    }
}
