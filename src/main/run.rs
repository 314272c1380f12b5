//! `run`: notebooks into pages and copies with outputs, or a look whether outputs are current.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Arg, ArgAction, ArgMatches, Command};
use semilunar::notebook::{self, Inputs, Run};

use crate::{
    Done, Stop, UNUSABLE, identifiers, identifiers_asked, out, path_given, print, read, reading,
    refuse_overwriting, write,
};

/// A cell of the notebook shows an error.
const CELL_ERROR: u8 = 1;
/// The outputs of a notebook are not what running it makes.
const OUTDATED: u8 = 4;
/// Rust cells were not run, so that nothing can be said of the outputs.
const NOT_RUN: u8 = 5;

const ABOUT: &str = "Run notebooks: each into a copy with outputs, and into one page";

const LONG_ABOUT: &str = "\
Run notebooks: each into a copy with outputs, and into one page that can be handed out.

One notebook serves new data: readings, tables and bindings given here take the place of its own, and the page says so. \
With several notebooks the greatest exit code counts, 5 only where there is no other.

  semilunar run exam.ipynb 'lvot_vti=18 cm' --out bed_7.html
  semilunar run response.ipynb --table challenges=new.csv --binding challenges=new.toml
  semilunar run notebooks/*.ipynb --check";

pub(super) fn arguments() -> Command {
    Command::new("run")
        .about(ABOUT)
        .long_about(LONG_ABOUT)
        .override_usage("semilunar run [OPTIONS] <NOTEBOOK>... [NAME=READING]...")
        .arg(
            Arg::new("given")
                .value_name("NOTEBOOK")
                .num_args(1..)
                .required(true)
                .help(
                    "Jupyter notebooks with cells in the notation; NAME=READING among them is a \
                     reading that takes the place of their own, such as 'lvot_vti=18 cm'",
                ),
        )
        .arg(
            of_a_cohort("table")
                .help("A table that takes the place of the one the notebook names for a cohort"),
        )
        .arg(
            of_a_cohort("binding")
                .help("A binding file that says what the columns of a cohort's table supply"),
        )
        .args(identifiers())
        .arg(out().help(
            "The page, or a folder for pages; without this, beside the notebook. A copy of the \
             notebook with its outputs goes beside the page, `.with_outputs.ipynb` at its end",
        ))
        .arg(
            Arg::new("in-place")
                .long("in-place")
                .action(ArgAction::SetTrue)
                // What stands in a notebook is the same for everybody.
                .conflicts_with_all(["key", "keep-identifiers"])
                .help("Write the outputs into the notebook itself, not into a copy"),
        )
        .arg(
            Arg::new("check")
                .long("check")
                .action(ArgAction::SetTrue)
                .conflicts_with_all(["out", "in-place", "table", "binding", "key", "keep-identifiers"])
                .help("Write nothing; say whether the notebook holds the outputs that running it makes"),
        )
        .arg(Arg::new("rust").long("rust").action(ArgAction::SetTrue).help(
            "Run Rust cells too: they are programs that can do all that you can do on this \
             computer, so only with notebooks that you trust",
        ))
}

/// An option that gives a file for a cohort, once or more.
fn of_a_cohort(name: &'static str) -> Arg {
    Arg::new(name)
        .long(name)
        .value_name("NAME=FILE")
        .action(ArgAction::Append)
}

/// What was asked for.
struct Asked {
    notebooks: Vec<PathBuf>,
    inputs: Inputs,
    out: Option<PathBuf>,
    in_place: bool,
    check: bool,
    rust: bool,
    key: Option<PathBuf>,
}

pub(super) fn run(matches: &ArgMatches) -> Done {
    let asked = asked(matches)?;
    let several = asked.notebooks.len() > 1;
    let mut worst = 0;
    for file in &asked.notebooks {
        match one(&asked, file) {
            Ok(()) => {}
            // One notebook ends with its own words, several name the one that is meant.
            Err(stop) if !several => return Err(stop),
            Err(Stop(code, words)) => {
                crate::complain(&format!("{}: {words}", file.display()));
                worst = graver(worst, code);
            }
        }
    }
    Ok(ExitCode::from(worst))
}

/// The code that counts of two: the greatest, and that of Rust cells that were not run only where
/// there is no other.
fn graver(one: u8, other: u8) -> u8 {
    match (one, other) {
        (NOT_RUN, code) | (code, NOT_RUN) if code != 0 => code,
        (one, other) => one.max(other),
    }
}

fn asked(matches: &ArgMatches) -> Result<Asked, Stop> {
    let (mut notebooks, mut inputs) = (Vec::new(), Inputs::default());
    for given in matches.get_many::<String>("given").unwrap_or_default() {
        let is_notebook = given.ends_with(".ipynb") || Path::new(given).exists();
        match is_notebook {
            true => notebooks.push(PathBuf::from(given)),
            false => inputs.readings.push(reading(given)?),
        }
    }
    inputs.tables = named_files(matches, "table", "challenges=new.csv")?;
    inputs.bindings = named_files(matches, "binding", "challenges=new.toml")?;
    inputs.identifiers = identifiers_asked(matches)?;
    let asked = Asked {
        notebooks,
        inputs,
        out: path_given(matches, "out"),
        in_place: matches.get_flag("in-place"),
        check: matches.get_flag("check"),
        rust: matches.get_flag("rust"),
        key: path_given(matches, "key"),
    };
    asked.refuse_what_clashes()?;
    Ok(asked)
}

/// The files that an option gives, each with the name of a cohort.
fn named_files(
    matches: &ArgMatches,
    option: &str,
    example: &str,
) -> Result<Vec<(String, PathBuf)>, Stop> {
    let given = matches.get_many::<String>(option).unwrap_or_default();
    let named = |given: &String| match given.split_once('=') {
        Some((name, file)) if !name.trim().is_empty() && !file.is_empty() => {
            Ok((name.trim().to_owned(), PathBuf::from(file)))
        }
        _ => Err(Stop(
            UNUSABLE,
            format!("`{given}` is no {option}: write NAME=FILE, such as {example}"),
        )),
    };
    given.map(named).collect()
}

impl Asked {
    fn refuse_what_clashes(&self) -> Result<(), Stop> {
        let refuse = |words: String| Err(Stop(UNUSABLE, words));
        if self.notebooks.is_empty() {
            return refuse("no notebook is named: write semilunar run NOTEBOOK".into());
        }
        if !self.inputs.is_empty() && (self.in_place || self.check) {
            return refuse(
                "readings, tables and bindings that take the place of a notebook's own stay out of it: \
                 leave out --in-place and --check"
                    .into(),
            );
        }
        if let Some(out) = self.out.as_ref().filter(|out| !out.is_dir())
            && self.notebooks.len() > 1
        {
            return refuse(format!(
                "{} is no folder: several notebooks make several pages, so name a folder for them",
                out.display()
            ));
        }
        let mut pages: Vec<PathBuf> = self.notebooks.iter().map(|n| self.page_of(n)).collect();
        pages.sort();
        if let Some(twice) = pages.windows(2).find(|pair| pair[0] == pair[1]) {
            let page = twice[0].display();
            return refuse(format!(
                "two notebooks would both make {page}: run them apart"
            ));
        }
        Ok(())
    }

    fn page_of(&self, notebook: &Path) -> PathBuf {
        match &self.out {
            Some(folder) if folder.is_dir() => {
                let name = notebook.file_name().unwrap_or_default();
                folder.join(name).with_extension("html")
            }
            Some(page) => page.clone(),
            None => notebook.with_extension("html"),
        }
    }
}

fn one(asked: &Asked, file: &Path) -> Result<(), Stop> {
    let text = read(file)?;
    let base = file.parent().unwrap_or(Path::new(""));
    let name = file
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let run = match asked.rust {
        true => notebook::run_with_rust(&text, &name, base, &asked.inputs, rust_runner()?),
        false => notebook::run_with(&text, &name, base, &asked.inputs),
    };
    let run = run.map_err(|e| Stop(UNUSABLE, e.to_string()))?;
    if let Some(why) = run
        .rust_left_out
        .as_ref()
        .filter(|_| asked.check || asked.in_place)
    {
        let left = if asked.check {
            "not checked"
        } else {
            "not written"
        };
        let words = format!("{left}, since its Rust cells were not run: {why}");
        return Err(Stop(NOT_RUN, words));
    }
    if asked.check {
        return check(file, &text, &run);
    }
    for (target, contents) in targets(asked, file, &run)? {
        write(&target, contents.as_bytes())?;
        print(&format!("wrote {}", target.display()))?;
    }
    errors(
        &run,
        "some cells show an error; the page and the notebook say where and why",
    )
}

/// What runs Rust cells; what they wait for goes to the terminal.
#[cfg(feature = "rust-cells")]
fn rust_runner() -> Result<Box<dyn notebook::RustCells>, Stop> {
    let runner = semilunar::kernel::rust::RustProcess::new(crate::complain);
    runner
        .map(|runner| Box::new(runner) as Box<dyn notebook::RustCells>)
        .map_err(|e| Stop(crate::FILE, e.to_string()))
}

#[cfg(not(feature = "rust-cells"))]
fn rust_runner() -> Result<Box<dyn notebook::RustCells>, Stop> {
    let words = "this program was built without Rust cells; build it with them: \
                 `cargo install --path . --features rust-cells`";
    Err(Stop(UNUSABLE, words.into()))
}

fn check(file: &Path, text: &str, run: &Run) -> Result<(), Stop> {
    if let Some(outdated) = run.outdated(text) {
        return Err(Stop(
            OUTDATED,
            format!("the outputs are not current, from {outdated} on: run it with --in-place"),
        ));
    }
    print(&format!("{}: the outputs are current", file.display()))?;
    errors(
        run,
        "some cells show an error; the outputs are current and say where and why",
    )
}

fn errors(run: &Run, words: &str) -> Result<(), Stop> {
    match run.has_errors {
        true => Err(Stop(CELL_ERROR, words.into())),
        false => Ok(()),
    }
}

/// The files that a run writes, with their contents; checked before the first is written.
fn targets(asked: &Asked, file: &Path, run: &Run) -> Result<Vec<(PathBuf, String)>, Stop> {
    let page = asked.page_of(file);
    // A name that nobody gives to a notebook of their own, so that none is written over.
    let notebook = match asked.in_place {
        true => file.to_owned(),
        false => page.with_extension("with_outputs.ipynb"),
    };
    let read: Vec<&Path> = asked
        .notebooks
        .iter()
        .chain(asked.inputs.tables.iter().map(|(_, table)| table))
        .chain(asked.inputs.bindings.iter().map(|(_, binding)| binding))
        .chain(&asked.key)
        .map(PathBuf::as_path)
        .collect();
    for input in read {
        refuse_overwriting(input, &[&page])?;
        if !asked.in_place {
            refuse_overwriting(input, &[&notebook])?;
        }
    }
    Ok(vec![
        (notebook, run.document.write()),
        (page, run.page.clone()),
    ])
}
