//! One statistical question, without a notebook.

use std::path::Path;

use super::output::Output;
use super::session::Session;
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
    ask_showing(sheet, table, binding, question, Identifiers::default())
}

/// As [`ask`], with identifiers that the binding names, and dates to shift, shown in this way; [`ask`] numbers identifiers and
/// withholds dates.
///
/// # Errors
/// [`AskError`].
pub fn ask_showing(
    sheet: &str,
    table: &Path,
    binding: Option<&Path>,
    question: &str,
    identifiers: Identifiers,
) -> Result<Output, AskError> {
    let question = question.trim();
    if question.contains(['\n', '\r']) {
        let words = "one question is one line; ask each by itself";
        return Err(AskError::NoAnswer(words.into()));
    }
    let mut session = Session::new("");
    let named = |file: &Path| vec![("rows".to_owned(), file.to_owned())];
    let bindings = binding.map_or_else(Vec::new, named);
    session.show_identifiers(identifiers);
    session.put_tables_instead(&named(table), &bindings);
    let question = format!("show {question} over rows");
    session.submit_all(&[
        ("sheet", sheet),
        ("rows", "cohort rows from \"rows\""),
        ("question", &question),
    ]);
    let failed = |key: &str| {
        let outputs = session.outputs(key);
        let failed: Vec<String> = outputs
            .into_iter()
            .filter(Output::is_error)
            .map(|o| o.text)
            .collect();
        (!failed.is_empty()).then(|| failed.join("\n"))
    };
    if let Some(words) = failed("sheet") {
        return Err(AskError::BadSheet(words));
    }
    if let Some(words) = failed("rows") {
        return Err(AskError::BadTable(words));
    }
    if let Some(words) = failed("question") {
        return Err(AskError::NoAnswer(words));
    }
    session
        .outputs("question")
        .pop()
        .ok_or_else(|| AskError::NoAnswer("this asks nothing".into()))
}
