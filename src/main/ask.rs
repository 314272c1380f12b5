//! `ask`: one statistical question of the rows of a table.

use clap::{Arg, ArgMatches, Command};
use semilunar::notebook;

use crate::{
    Done, Stop, UNUSABLE, identifiers, identifiers_asked, path, path_given, print, read,
    refuse_overwriting, sheet, table, text, write,
};

const ABOUT: &str = "Ask a statistical question of the rows of a table";

const LONG_ABOUT: &str = "\
Ask a statistical question of the rows of a table: what is counted and over which rows, then the answer with its \
intervals, and what to beware of. A question is what stands between `show` and `over` in a notebook; \
`semilunar notation` lists them under \"Statistics over a cohort\".

  semilunar ask challenge.sheet table.csv 'roc of pulse_pressure_variation against change.stroke_volume > 15 % by patient'
  semilunar ask challenge.sheet table.csv 'funnel of measurement_saved is yes by operator' --drawing funnel.svg";

pub(super) fn arguments() -> Command {
    Command::new("ask")
        .about(ABOUT)
        .long_about(LONG_ABOUT)
        .arg(sheet())
        .arg(table())
        .arg(
            Arg::new("question")
                .value_name("QUESTION")
                .required(true)
                .help("The question, in quotation marks"),
        )
        .arg(
            Arg::new("binding")
                .long("binding")
                .value_name("FILE")
                .help("What columns supply, where their headings do not say it"),
        )
        .args(identifiers())
        .arg(
            Arg::new("drawing")
                .long("drawing")
                .value_name("FILE")
                .help("The drawing, as SVG"),
        )
}

pub(super) fn ask(matches: &ArgMatches) -> Done {
    let (sheet, table) = (path(matches, "sheet"), path(matches, "table"));
    let given = |name: &str| path_given(matches, name);
    let (binding, drawing, key) = (given("binding"), given("drawing"), given("key"));
    if let Some(target) = &drawing {
        for source in [Some(&sheet), Some(&table), binding.as_ref(), key.as_ref()]
            .into_iter()
            .flatten()
        {
            refuse_overwriting(source, &[target])?;
        }
    }
    let question = text(matches, "question");
    let shown = identifiers_asked(matches)?;
    let (sheet_name, sheet) = (sheet.display().to_string(), read(&sheet)?);
    let asked = notebook::Question {
        sheet_name: &sheet_name,
        sheet: &sheet,
        table: &table,
        binding: binding.as_deref(),
        words: &question,
        identifiers: shown,
    };
    let answer = asked.answer().map_err(|e| Stop(UNUSABLE, e.to_string()))?;
    if let Some(target) = drawing {
        let Some(svg) = &answer.svg else {
            return Err(Stop(
                UNUSABLE,
                "this question has no drawing: leave out --drawing".into(),
            ));
        };
        write(&target, svg.as_bytes())?;
    }
    print(&answer.text)
}
