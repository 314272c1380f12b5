//! Rust cells as a session sees them: how one is opened, what it is given and gives back.
//!
//! A cell whose first line is `in Rust` is Rust; with `in Rust, again on change` it also runs
//! again whenever a value that it read is another. Who runs it is not known here: a session holds
//! something that is [`RustCells`], or says why it does not.

use std::ops::Range;
use std::path::Path;

/// Runs Rust cells.
pub trait RustCells: Send {
    /// Runs one.
    fn run(&mut self, task: &RustTask<'_>) -> RustOutcome;
}

/// A Rust cell that is to run.
#[derive(Clone, Copy, Debug)]
pub struct RustTask<'t> {
    /// The cell, with blanks in the place of its opening line.
    pub code: &'t str,
    /// What the other cells define, in the notation.
    pub sheet: &'t str,
    /// Names that are not defined at present, and why.
    pub absent: &'t [(String, String)],
    /// The folder in which it runs.
    pub base: &'t Path,
}

/// What a Rust cell did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RustOutcome {
    /// Readings and formulas for the sheet, lines of the notation. They take effect together.
    pub lines: Vec<String>,
    /// What it showed.
    pub shown: Vec<RustShown>,
    /// The cells of the sheet whose values it read.
    pub read: Vec<String>,
    /// Why it did not come to its end; empty when it did.
    pub problems: Vec<RustProblem>,
}

/// Something that a Rust cell showed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RustShown {
    /// In plain text.
    pub text: String,
    /// As HTML, shown as it is.
    pub html: Option<String>,
    /// As a drawing.
    pub svg: Option<String>,
}

/// Something wrong with a Rust cell.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RustProblem {
    /// What is wrong.
    pub message: String,
    /// Where in the cell, in bytes.
    pub place: Option<Range<usize>>,
    /// Other places that matter, with words for them.
    pub also: Vec<(Range<usize>, String)>,
    /// Ways out.
    pub help: Vec<String>,
}

impl RustProblem {
    /// A problem of the whole cell.
    pub fn without_place(message: impl Into<String>) -> RustProblem {
        RustProblem {
            message: message.into(),
            ..RustProblem::default()
        }
    }
}

/// What opens a Rust cell.
const OPENING: &str = "in Rust";
/// What follows to have it run again.
const AGAIN: &str = ", again on change";

/// What the first line of a cell says it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Language {
    Notation,
    Rust {
        /// Whether it runs again when a value that it read is another.
        again: bool,
    },
    /// It opens like Rust, and goes on with something unknown, there.
    Unclear(Range<usize>),
}

/// The language of a cell, and where its opening line stands.
pub(super) fn language(text: &str) -> (Language, Range<usize>) {
    let start = text.len() - text.trim_start().len();
    let line = text[start..].lines().next().unwrap_or("").trim_end();
    let place = start..start + line.len();
    let language = match line.strip_prefix(OPENING) {
        Some("") => Language::Rust { again: false },
        Some(AGAIN) => Language::Rust { again: true },
        Some(rest) if !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_') => {
            Language::Unclear(place.clone())
        }
        None if is_meant(line) => Language::Unclear(place.clone()),
        _ => Language::Notation,
    };
    (language, place)
}

/// Whether a line opens a Rust cell but for small and capital letters.
fn is_meant(line: &str) -> bool {
    let (start, rest) = match line.split_at_checked(OPENING.len()) {
        Some(parts) => parts,
        None => return false,
    };
    start.eq_ignore_ascii_case(OPENING) && (rest.is_empty() || rest.starts_with(','))
}

/// The text of a Rust cell with blanks in the place of its opening line.
pub(super) fn without_opening(text: &str, opening: &Range<usize>) -> String {
    let mut code = text.to_owned();
    code.replace_range(opening.clone(), &" ".repeat(opening.len()));
    code
}

/// Why nobody runs Rust cells, unless a session is told otherwise.
pub(super) const WHY_NOT: &str = match cfg!(feature = "rust-cells") {
    true => {
        "a Rust cell is a program that can do all that you can do on this computer: it runs only \
         when you say so"
    }
    false => "this program was built without Rust cells",
};

/// What to do about it.
pub(super) const WAY_TO_RUST: &str = match cfg!(feature = "rust-cells") {
    true => "for a notebook that you trust: `semilunar run --rust NOTEBOOK`",
    false => "build it with them: `cargo install --path . --features rust-cells`",
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_line_says_the_language() {
        let of = |text| language(text).0;
        assert_eq!(of("in Rust\n1 + 1"), Language::Rust { again: false });
        assert_eq!(of("\n  in Rust  \n"), Language::Rust { again: false });
        assert_eq!(
            of("in Rust, again on change"),
            Language::Rust { again: true }
        );
        assert_eq!(of("in Rust, always"), Language::Unclear(0..15));
        assert_eq!(of("in rust\n1"), Language::Unclear(0..7));
        assert_eq!(of("In Rust, again on change"), Language::Unclear(0..24));
        assert_eq!(of("in rust = 3"), Language::Notation);
        assert_eq!(of("in Rusty = 3"), Language::Notation);
        assert_eq!(of("weight = 70 kg\nin Rust"), Language::Notation);
        assert_eq!(of(""), Language::Notation);
    }

    #[test]
    fn places_in_the_code_are_those_in_the_cell() {
        let text = "in Rust\nlet a = 1;";
        let (_, opening) = language(text);
        let code = without_opening(text, &opening);
        assert_eq!(code.len(), text.len());
        assert_eq!(code.find("let"), text.find("let"));
        assert!(code.starts_with("       \n"));
    }
}
