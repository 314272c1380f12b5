//! Statistical questions in a notebook: the numbers that reach a page, and what is said where there is no answer.

mod coupling;
mod crossings;
mod dates;
mod differences;
mod estimates;
mod guidance;
mod if_recorded;
mod judges;
mod lines;
mod passed_on;
mod refusals;
mod said;
mod settings;
mod unpaired;
mod withheld;

use std::fmt::Write as _;
use std::path::Path;

use semilunar::notebook::Session;

/// Every row has a stroke volume, so that none is set aside; the table's other columns are bound to no cell.
const SHEET: &str = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm";

/// A table as text, from columns.
struct Columns(Vec<(String, Vec<String>)>);

impl Columns {
    fn new() -> Columns {
        Columns(Vec::new())
    }

    fn with<T: ToString>(mut self, heading: &str, values: &[T]) -> Columns {
        let values = values.iter().map(ToString::to_string).collect();
        self.0.push((heading.to_owned(), values));
        self
    }

    fn text(&self) -> String {
        let headings: Vec<&str> = self.0.iter().map(|(h, _)| h.as_str()).collect();
        let mut text = format!("{},lvot_vti [cm]\n", headings.join(","));
        for row in 0..self.0[0].1.len() {
            for (_, values) in &self.0 {
                write!(text, "{},", values[row]).unwrap();
            }
            text.push_str("20\n");
        }
        text
    }
}

/// A session with the table as the cohort `rows`, and one cell that asks.
fn session(table: &str, statement: &str) -> (tempfile::TempDir, Session) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("rows.csv"), table).unwrap();
    let mut session = Session::new(folder.path());
    session.submit_all(&[
        ("sheet", SHEET),
        ("rows", "cohort rows from \"rows.csv\""),
        ("q", statement),
    ]);
    (folder, session)
}

/// What a question answers, as plain text.
fn answer(table: &Columns, statement: &str) -> String {
    let (_folder, session) = session(&table.text(), statement);
    let outputs = session.outputs("q");
    let text: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
    let text = text.join("\n");
    assert!(!outputs.iter().any(|o| o.is_error()), "{text}");
    text.replace('\u{a0}', " ")
}

/// Why a question has no answer.
fn refusal(table: &Columns, statement: &str) -> String {
    let (_folder, session) = session(&table.text(), statement);
    let outputs = session.outputs("q");
    let text: Vec<&str> = outputs.iter().map(|o| o.text.as_str()).collect();
    assert!(outputs.iter().all(|o| o.is_error()), "{}", text.join("\n"));
    text.join("\n")
}

/// The line of a text that starts with some words.
fn line<'t>(text: &'t str, start: &str) -> &'t str {
    let found = text
        .lines()
        .find(|line| line.trim_start().starts_with(start));
    found.unwrap_or_else(|| panic!("no line `{start}` in\n{text}"))
}

/// Cases as text over the bundled table: a line `=== STATEMENT`, and all that it answers.
///
/// `SEMILUNAR_BLESS=1 cargo test statistics` writes what comes now; read the difference.
#[test]
fn answers_over_the_bundled_table_are_as_they_were() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let file = root.join("tests/cases/statistics/answers.txt");
    let written = std::fs::read_to_string(&file).unwrap();
    let statements: Vec<&str> = written
        .lines()
        .filter_map(|l| l.strip_prefix("=== "))
        .collect();
    assert!(statements.len() >= 20);
    let mut session = Session::new(root.join("data"));
    let uses = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after\n\
                fluid_weight_basis = actual";
    let keys: Vec<String> = (0..statements.len()).map(|i| format!("q{i}")).collect();
    let mut cells = vec![
        ("uses", uses),
        ("rows", "cohort rows from \"first_cohort.csv\""),
    ];
    cells.extend(
        keys.iter()
            .map(String::as_str)
            .zip(statements.iter().copied()),
    );
    session.submit_all(&cells);
    let mut now = String::new();
    for (key, statement) in keys.iter().zip(&statements) {
        writeln!(now, "=== {statement}").unwrap();
        for output in session.outputs(key) {
            writeln!(now, "{}", output.text.replace('\u{a0}', " ")).unwrap();
        }
        now.push('\n');
    }
    if std::env::var_os("SEMILUNAR_BLESS").is_some() {
        std::fs::write(&file, &now).unwrap();
    }
    assert_eq!(
        written, now,
        "run with SEMILUNAR_BLESS=1 and read the difference"
    );
}

/// An answer says on the page what it says in text: the same shares, and a drawing that stands in both.
#[test]
fn page_and_text_say_the_same() {
    let table = Columns::new()
        .with("kept", &["yes"; 20])
        .with("who", &[["A"; 10], ["B"; 10]].concat());
    let (_folder, session) = session(
        &table.text(),
        "show completeness of kept is yes over rows by who",
    );
    let outputs = session.outputs("q");
    let output = &outputs[0];
    // On the page what is read together stays together.
    let html = output.html.replace('\u{a0}', " ");
    for words in ["100.0 % (20 of 20)", "A blank counts as not kept."] {
        assert!(
            html.contains(words) && output.text.contains(words),
            "{words}"
        );
    }
    let svg = output.svg.as_ref().unwrap();
    assert!(output.html.contains(svg.as_str()));
}

/// Whoever asks for other intervals, or brings another table, gets another answer; the same question is not asked twice.
#[test]
fn an_answer_follows_the_coverage_and_the_table() {
    let values: Vec<f64> = (0..30)
        .map(|i| f64::from(i % 7) + f64::from(i) / 100.0)
        .collect();
    let table = Columns::new().with("x", &values).with(
        "y",
        &values.iter().map(|v| v * 1.1 + 1.0).collect::<Vec<_>>(),
    );
    let (folder, mut session) = session(&table.text(), "show agreement of x, y over rows");
    let first = session.outputs("q");
    assert!(
        session
            .submit("more", "coverage 90 %")
            .changed
            .contains(&"q".to_owned())
    );
    let second = session.outputs("q");
    assert!(first[0].text.contains("95 % interval") && second[0].text.contains("90 % interval"));
    assert_eq!(session.submit("comment", "# nothing").changed, [""; 0]);
    std::fs::write(
        folder.path().join("rows.csv"),
        table.text().replace("\n0,1,20", ""),
    )
    .unwrap();
    assert!(
        session
            .submit("comment", "# again")
            .changed
            .contains(&"q".to_owned())
    );
    assert!(
        session.outputs("q")[0].text.contains("29 pairs"),
        "{}",
        session.outputs("q")[0].text
    );
}

/// A column's text is data: it comes to the page as text.
#[test]
fn words_of_a_table_are_no_markup() {
    let names = ["<script>alert(1)</script>", "\"><img src=x>"];
    let who: Vec<String> = (0..40)
        .map(|i| format!("\"{}\"", names[i % 2].replace('"', "\"\"")))
        .collect();
    let kept: Vec<&str> = (0..40)
        .map(|i| if i % 3 == 0 { "no" } else { "yes" })
        .collect();
    let table = Columns::new().with("kept", &kept).with("who", &who);
    let (_folder, session) = session(&table.text(), "show funnel of kept is yes over rows by who");
    let outputs = session.outputs("q");
    assert!(!outputs[0].is_error(), "{}", outputs[0].text);
    for bad in ["<script>alert", "<img"] {
        assert!(!outputs[0].html.contains(bad), "{bad}");
    }
    assert!(outputs[0].html.contains("&lt;script&gt;alert(1)"));
}
