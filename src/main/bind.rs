//! `bind`: a binding drafted from a table.

use clap::{Arg, ArgAction, ArgMatches, Command};
use semilunar::cohort::draft_binding;

use crate::{Done, FILE, Stop, load, out, path, path_given, print, sheet, table, warn, write};

const ABOUT: &str = "Draft a binding of a table from its headings, units and values";

const LONG_ABOUT: &str = "\
Draft a binding of a table from its headings, the units in them, and the values of the first rows. The draft says what it is \
unsure of, and why; it loads as it stands, and is there to be read and edited before a sheet is applied with it.

  semilunar bind export.csv --sheet exam.sheet --out export.toml
  semilunar apply exam.sheet export.csv --binding export.toml --key KEYFILE --out results.csv";

pub(super) fn arguments() -> Command {
    Command::new("bind")
        .about(ABOUT)
        .long_about(LONG_ABOUT)
        .arg(table())
        .arg(
            sheet()
                .long("sheet")
                .help("A sheet in the notation, whose cells the columns may supply"),
        )
        .arg(out().help("The binding file; it is printed where none is named"))
        .arg(
            Arg::new("overwrite")
                .long("overwrite")
                .action(ArgAction::SetTrue)
                .requires("out")
                .help("Write over a file that is there, with what was edited in it"),
        )
}

pub(super) fn bind(matches: &ArgMatches) -> Done {
    let loaded = load(matches)?;
    warn(&loaded);
    let draft = draft_binding(&loaded.sheet, &path(matches, "table"))?;
    let Some(out) = path_given(matches, "out") else {
        return print(&draft.text);
    };
    if out.exists() && !matches.get_flag("overwrite") {
        let words = format!(
            "{} is there already, and may have been edited: name another file, or say --overwrite",
            out.display()
        );
        return Err(Stop(FILE, words));
    }
    write(&out, draft.text.as_bytes())?;
    print(&format!(
        "bound {} of {} columns, {} places to look at: {}",
        draft.bound,
        draft.columns,
        draft.unsure,
        out.display()
    ))
}
