//! One statistical question, without a notebook.

use std::path::Path;

use super::output::Output;
use super::session::{Session, Typed};
use crate::cohort::Identifiers;

/// Why a question has no answer.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AskError {
    /// The sheet cannot be used; diagnostics with their places.
    #[error("the sheet cannot be used:\n{0}")]
    BadSheet(String),
    /// The table cannot be used.
    #[error("the table cannot be used:\n{0}")]
    BadTable(String),
    /// The question cannot be read, or has no answer over these rows.
    #[error("{0}")]
    NoAnswer(String),
}

/// Asks one question of the rows of a table that a sheet can use. The question is what stands between `show` and `over` in a
/// notebook; columns are bound by their headings, or by a binding file.
///
/// ```
/// use semilunar::notebook::ask;
///
/// // Invented: whether a measurement was saved, in five exams.
/// let folder = tempfile::tempdir()?;
/// let table = folder.path().join("exams.csv");
/// std::fs::write(&table, "lvot_vti [cm],saved\n18,yes\n20,yes\n16,no\n21,yes\n19,yes\n")?;
///
/// let sheet = "use hemodynamics\nlvot_diameter = 2 cm";
/// let answer = ask(sheet, &table, None, "completeness of saved is yes, lvot_vti")?;
/// assert!(answer.text.contains("saved — Kept: 80.0 % (4 of 5)"));
/// assert!(answer.svg.is_some());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`AskError`].
pub fn ask(
    sheet: &str,
    table: &Path,
    binding: Option<&Path>,
    question: &str,
) -> Result<Output, AskError> {
    let asked = Question {
        sheet_name: "the sheet",
        sheet,
        table,
        binding,
        words: question,
        identifiers: Identifiers::default(),
    };
    asked.answer()
}

/// One question with all that it is asked of.
#[derive(Clone, Debug)]
pub struct Question<'a> {
    /// What messages call the sheet: its file.
    pub sheet_name: &'a str,
    /// The sheet's text.
    pub sheet: &'a str,
    /// The table's file.
    pub table: &'a Path,
    /// The binding file; columns are bound by their headings where there is none.
    pub binding: Option<&'a Path>,
    /// The question: what stands between `show` and `over` in a notebook.
    pub words: &'a str,
    /// How identifiers that the binding names, and dates to shift, are shown.
    pub identifiers: Identifiers,
}

/// What stands after every question.
const OVER: &str = " over table";

impl Question<'_> {
    /// The answer.
    ///
    /// # Errors
    /// [`AskError`], which shows the question as it was written and names the sheet's file.
    pub fn answer(self) -> Result<Output, AskError> {
        let words = self.words.trim();
        if words.contains(['\n', '\r']) {
            let words = "one question is one line; ask each by itself";
            return Err(AskError::NoAnswer(words.into()));
        }
        let mut session = Session::new("");
        let named = |file: &Path| vec![("table".to_owned(), file.to_owned())];
        let bindings = self.binding.map_or_else(Vec::new, named);
        session.show_identifiers(self.identifiers);
        session.put_tables_instead(&named(self.table), &bindings);
        // Whoever copies a question from a notebook may bring this along.
        let shown = if words.starts_with("show ") {
            ""
        } else {
            "show "
        };
        let statement = format!("{shown}{words}{OVER}");
        let typed = |place: &str, bytes| Typed {
            place: place.to_owned(),
            bytes,
        };
        session.submit_typed(vec![
            (
                "sheet",
                self.sheet,
                typed(self.sheet_name, 0..self.sheet.len()),
            ),
            // What is wrong with a table or a binding names its file.
            ("table", "cohort table from \"table\"", typed("", 0..0)),
            (
                "question",
                &statement,
                typed("the question", shown.len()..statement.len() - OVER.len()),
            ),
        ]);
        if let Some(words) = failed(&session, "sheet") {
            return Err(AskError::BadSheet(words));
        }
        if let Some(words) = failed(&session, "table") {
            return Err(AskError::BadTable(words));
        }
        if let Some(found) = failed(&session, "question") {
            let says_over = words.split_whitespace().any(|word| word == "over");
            let hint = if says_over { WITHOUT_OVER } else { "" };
            return Err(AskError::NoAnswer(found + hint));
        }
        let answer = session.outputs("question").pop();
        answer.ok_or_else(|| AskError::NoAnswer("this asks nothing".into()))
    }
}

const WITHOUT_OVER: &str =
    "\n  = help: leave out `over` and the name after it: the question is asked of the table";

/// The errors of a cell.
fn failed(session: &Session, key: &str) -> Option<String> {
    let outputs = session.outputs(key).into_iter();
    let failed: Vec<String> = outputs.filter(Output::is_error).map(|o| o.text).collect();
    (!failed.is_empty()).then(|| failed.join("\n"))
}
