//! The command: arguments in, library call, text out; no logic.

#[path = "main/ask.rs"]
mod ask;
#[path = "main/bind.rs"]
mod bind;
#[path = "main/kernel.rs"]
mod kernel;
#[path = "main/run.rs"]
mod run;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use clap::{Arg, ArgAction, ArgMatches, Command};
use semilunar::cohort::invented::{Plan, generate};
use semilunar::cohort::{
    BINDING_PAGE, BindingFile, CohortError, Identifiers, Key, Options, SHORTEST_KEY, Summary,
    apply_to_file_with, set_aside_path, write_whole,
};
use semilunar::formula::notation;
use semilunar::sheet::{Loaded, Sheet, word_of};
use semilunar::uncertainty::explained_text;

const ABOUT: &str = "Blood flow by bedside echocardiography: a sheet of cells that recompute";

const AFTER: &str = "\
Start here:
  semilunar show exam.sheet                          every cell of a sheet
  semilunar show exam.sheet 'lvot_vti=18 cm'         the same with another reading
  semilunar explain exam.sheet stroke_volume         where a number comes from
  semilunar apply exam.sheet table.csv --out r.csv   the sheet over every row of a table
  semilunar bind export.csv --sheet exam.sheet       a binding drafted for somebody else's table
  semilunar ask exam.sheet table.csv QUESTION        a statistical question of its rows
  semilunar run lesson.ipynb --out page.html         a notebook into a page
  semilunar kernel install                           notebooks that follow, in Jupyter
  semilunar notation                                 how a sheet is written, on one page
  semilunar binding                                  what a binding file says, and making a key

Exit codes:
  0  done; cells may be missing, and say so
  1  a cell of the notebook shows an error; what could be made was written
  2  the input cannot be used; diagnostics say where and why, nothing was written
  3  a file cannot be read or written
  4  run --check: the outputs in the notebook are not what running it makes
  5  run --check, run --in-place: Rust cells were not run, so nothing was checked or written
  130  stopped from the keyboard; nothing was written

For education, audit and research. Not a medical device: a licensed clinician and local
protocols decide.";

/// What stands below the help of each command.
const AFTER_EACH: &str = "\
Examples and exit codes: semilunar --help

For education, audit and research. Not a medical device: a licensed clinician and local
protocols decide.";

/// The input cannot be used.
const UNUSABLE: u8 = 2;
/// A file cannot be read or written.
const FILE: u8 = 3;
/// Stopped from the keyboard: what shells say of a program that was.
const STOPPED: u8 = 130;

/// Why the command stops, in words, with its exit code.
struct Stop(u8, String);

fn main() -> ExitCode {
    // First of all: the processes of Rust cells are this program too, and go no further.
    #[cfg(feature = "rust-cells")]
    semilunar::kernel::rust::hook();
    let matches = arguments().get_matches();
    let done = match matches.subcommand() {
        Some(("show", m)) => show(m),
        Some(("explain", m)) => explain(m),
        Some(("apply", m)) => apply(m),
        Some(("ask", m)) => ask::ask(m),
        Some(("bind", m)) => bind::bind(m),
        Some(("invent", m)) => invent(m),
        Some(("run", m)) => run::run(m),
        Some(("kernel", m)) => kernel::kernel(m),
        Some(("notation", _)) => print(notation::PAGE),
        Some(("binding", _)) => print(BINDING_PAGE),
        _ => Ok(ExitCode::SUCCESS),
    };
    match done {
        Ok(code) => code,
        Err(Stop(code, words)) => {
            complain(&words);
            ExitCode::from(code)
        }
    }
}

fn complain(words: &str) {
    let _ = writeln!(std::io::stderr(), "{words}");
}

fn arguments() -> Command {
    let readings = || {
        Arg::new("readings")
            .value_name("NAME=READING")
            .num_args(0..)
            .help("Readings that take the place of its own, such as 'lvot_vti=18 cm'")
    };
    Command::new("semilunar")
        .about(ABOUT)
        .after_help(AFTER)
        .version(env!("CARGO_PKG_VERSION"))
        .subcommand_required(true)
        .arg_required_else_help(true)
        .subcommand(
            Command::new("show")
                .about("Show every cell of a sheet: readings, results, what is missing and why")
                .arg(sheet())
                .arg(readings())
                .arg(
                    Arg::new("json")
                        .long("json")
                        .action(ArgAction::SetTrue)
                        .help("As JSON, at full precision, in the shown units"),
                ),
        )
        .subcommand(
            Command::new("explain")
                .about("Explain one cell: formula, numbers, inputs, source, what to know")
                .arg(sheet())
                .arg(
                    Arg::new("name")
                        .value_name("NAME")
                        .required(true)
                        .help("The cell"),
                )
                .arg(readings()),
        )
        .subcommand(
            Command::new("apply")
                .about("Apply a sheet to every row of a table")
                .long_about(
                    "Apply a sheet to every row of a table: comma-separated values, other delimited text, \
                     a spreadsheet (.xlsx) or Parquet.\n\n\
                     A column is bound to a cell by its heading: the cell's name and, if the unit \
                     is another, the unit in brackets, such as `before.lvot_vti [mm]`. Results \
                     are added as further columns; rows that cannot be used go to a second file \
                     with the reason and their number, counted from 1 below the headings. Rows read are always rows used and rows set aside.",
                )
                .arg(sheet())
                .arg(table().help(format!(
                    "{TABLES}; it may be larger than memory, a spreadsheet excepted"
                )))
                .arg(out().required(true).help(
                    "The file of results, .csv or .parquet; rows set aside go beside it, as \
                     `.set_aside.csv`",
                ))
                .arg(Arg::new("binding").long("binding").value_name("FILE").help(
                    "What columns supply, where their headings do not say it, how the file is written, and \
                     which columns hold identifiers or dates to shift",
                ))
                .arg(Arg::new("key").long("key").value_name("FILE").help(format!(
                    "The key of pseudonyms and shifted dates, at least {SHORTEST_KEY} random bytes: keep it apart \
                     from the results",
                )))
                .arg(
                    Arg::new("uncertainty")
                        .long("uncertainty")
                        .value_name("NAME")
                        .value_delimiter(',')
                        .action(ArgAction::Append)
                        .help(
                            "Results that get a column of standard uncertainties, `NAME (u)`; remarks say \
                             which readings stated none, and where a formula bends or branches within \
                             reach, so that linear uncertainties do not hold",
                        ),
                )
                .arg(
                    Arg::new("keep-identifiers")
                        .long("keep-identifiers")
                        .action(ArgAction::SetTrue)
                        .conflicts_with("key")
                        .help("Identifiers and dates leave as they are"),
                ),
        )
        .subcommand(
            Command::new("invent")
                .about("Invent a cohort to practice on: no patient in it is real")
                .arg(
                    Arg::new("plan")
                        .long("plan")
                        .value_name("PLAN")
                        .value_parser(["fluid_challenges", "first_cohort"])
                        .default_value("fluid_challenges")
                        .help("Which bundled plan to start from"),
                )
                .arg(number("seed", "Any number: the same gives the same bytes"))
                .arg(number("patients", "Patients, 1 to 9999"))
                .arg(number("challenges", "Fluid challenges, 1 to 12 for each patient"))
                .arg(out().required(true).help("The table, as comma-separated values")),
        )
        .subcommand(bind::arguments())
        .subcommand(ask::arguments())
        .subcommand(run::arguments())
        .subcommand(kernel::arguments())
        .subcommand(Command::new("notation").about("Print the notation on one page"))
        .subcommand(
            Command::new("binding").about("Print on one page what a binding file says, and how to make a key"),
        )
        .mut_subcommands(|command| command.after_help(AFTER_EACH))
}

/// How identifiers and dates to shift are shown on pages and in answers.
fn identifiers() -> [Arg; 2] {
    [
        Arg::new("key").long("key").value_name("FILE").help(
            "The key with which identifiers that a binding names are shown as pseudonyms, and dates shifted; \
             without it identifiers are numbered (patient 1, patient 2, and so on) and dates withheld",
        ),
        Arg::new("keep-identifiers")
            .long("keep-identifiers")
            .action(ArgAction::SetTrue)
            .conflicts_with("key")
            .help("Identifiers and dates are shown as they are"),
    ]
}

fn identifiers_asked(matches: &ArgMatches) -> Result<Identifiers, Stop> {
    Ok(match path_given(matches, "key") {
        Some(file) => Identifiers::Keyed(Key::read(&file)?),
        None if matches.get_flag("keep-identifiers") => Identifiers::Kept,
        None => Identifiers::Numbered,
    })
}

fn sheet() -> Arg {
    Arg::new("sheet")
        .value_name("SHEET")
        .required(true)
        .help("A sheet in the notation")
}

/// What a table may be.
const TABLES: &str = "A table with headings, .csv, .tsv, .txt, .xlsx or .parquet";

fn table() -> Arg {
    Arg::new("table")
        .value_name("TABLE")
        .required(true)
        .help(TABLES)
}

fn out() -> Arg {
    Arg::new("out").long("out").short('o').value_name("FILE")
}

fn number(name: &'static str, help: &'static str) -> Arg {
    Arg::new(name)
        .long(name)
        .value_name("N")
        .value_parser(clap::value_parser!(u64))
        .help(help)
}

type Done = Result<ExitCode, Stop>;

fn show(matches: &ArgMatches) -> Done {
    let loaded = load(matches)?;
    warn(&loaded);
    if matches.get_flag("json") {
        let json = serde_json::to_string_pretty(&loaded.sheet.to_json())
            .map_err(|e| Stop(UNUSABLE, e.to_string()))?;
        return print(&json);
    }
    print(&loaded.sheet.to_text())
}

fn explain(matches: &ArgMatches) -> Done {
    let loaded = load(matches)?;
    warn(&loaded);
    let name = text(matches, "name");
    let sheet = &loaded.sheet;
    let Some(cell) = sheet.cell(&name) else {
        return Err(no_cell(sheet, &name));
    };
    let text = explained_text(sheet, cell).map_err(|e| Stop(UNUSABLE, e.to_string()))?;
    print(&text)
}

fn apply(matches: &ArgMatches) -> Done {
    let loaded = load(matches)?;
    warn(&loaded);
    let (table, out) = (path(matches, "table"), path(matches, "out"));
    let (binding, key) = (path_given(matches, "binding"), path_given(matches, "key"));
    let sources = [Some(path(matches, "sheet")), binding.clone(), key.clone()];
    for source in sources.iter().flatten() {
        refuse_overwriting(source, &[&out, &set_aside_path(&out)])?;
    }
    let names = matches
        .get_many::<String>("uncertainty")
        .unwrap_or_default();
    let options = Options {
        binding: binding.map(|file| BindingFile::read(&file)).transpose()?,
        key: key.map(|file| Key::read(&file)).transpose()?,
        keep_identifiers: matches.get_flag("keep-identifiers"),
        uncertainty: names.map(|name| name.trim().to_owned()).collect(),
        threads: None,
        stop: Some(stopped_from_the_keyboard()?),
    };
    let mut progress = Progress::new("rows");
    let mut told = |rows| progress.at(rows);
    let summary = apply_to_file_with(&loaded.sheet, &table, &out, &options, &mut told)?;
    progress.end();
    print(&summary_text(&summary, &out))
}

fn invent(matches: &ArgMatches) -> Done {
    let mut plan = match text(matches, "plan").as_str() {
        "first_cohort" => Plan::first_cohort(),
        _ => Plan::fluid_challenges(),
    };
    let given = |name: &str| matches.get_one::<u64>(name).copied();
    let count = |name: &str| given(name).map(|n| usize::try_from(n).unwrap_or(usize::MAX));
    plan.seed = given("seed").unwrap_or(plan.seed);
    plan.patients = count("patients").unwrap_or(plan.patients);
    plan.challenges = count("challenges").unwrap_or(plan.challenges);
    // There is no option for repeats; a small unit has fewer of them.
    plan.repeats = plan.repeats.min(plan.patients);
    let out = path(matches, "out");
    let cohort = generate(&plan).map_err(|e| Stop(UNUSABLE, e.to_string()))?;
    let mut table = Vec::new();
    cohort
        .write_csv(&mut table)
        .map_err(|e| file_stop(&out, &e))?;
    write(&out, &table)?;
    print(&format!(
        "wrote {} invented rows to {}",
        cohort.rows.len(),
        out.display()
    ))
}

impl From<CohortError> for Stop {
    fn from(error: CohortError) -> Stop {
        let code = match error {
            CohortError::File { .. } => FILE,
            CohortError::Stopped { .. } => STOPPED,
            _ => UNUSABLE,
        };
        Stop(code, error.to_string())
    }
}

/// Set when somebody presses Ctrl-C, or asks the program to end.
fn stopped_from_the_keyboard() -> Result<Arc<AtomicBool>, Stop> {
    let stop = Arc::new(AtomicBool::new(false));
    let set = stop.clone();
    ctrlc::set_handler(move || set.store(true, Ordering::Relaxed))
        .map_err(|e| Stop(FILE, format!("the keyboard cannot be listened to: {e}")))?;
    Ok(stop)
}

fn summary_text(summary: &Summary, out: &Path) -> String {
    let counts = summary.counts;
    let mut text = format!(
        "{counts}\nresults    {}\nset aside  {}\n",
        out.display(),
        summary.set_aside.display()
    );
    if let Some(exams) = summary.exams {
        text.push_str(&format!(
            "{} exams read = 2 in each of {} pairs + {} set aside unpaired; a row is a pair, or an unpaired exam\n",
            exams.read, exams.pairs, exams.unpaired
        ));
    }
    for note in &summary.notes {
        text.push_str(&format!("note: the table: {note}\n"));
    }
    for heading in &summary.passed_over {
        text.push_str(&format!(
            "note: column `{heading}` is named like a derived cell and was left as it is\n"
        ));
    }
    for column in &summary.without_cell {
        text.push_str(&format!("note: {column}\n"));
    }
    for counts in &summary.uncertainties {
        text.push_str(&format!("{counts}\n"));
    }
    for found in &summary.checks {
        text.push_str(&format!("check: {found}\n"));
    }
    for (advisory, rows) in &summary.advisories {
        let word = word_of(advisory.weight);
        let in_rows = if *rows == 1 { "row" } else { "rows" };
        text.push_str(&format!("{word} in {rows} {in_rows}: {}\n", advisory.text));
    }
    text
}

fn refuse_overwriting(input: &Path, targets: &[&Path]) -> Result<(), Stop> {
    let whole = |path: &Path| path.canonicalize().ok();
    let is_input = |target: &&&Path| whole(target).is_some() && whole(target) == whole(input);
    match targets.iter().find(is_input) {
        None => Ok(()),
        Some(target) => {
            let words = format!(
                "{} is read here: give the results another name",
                target.display()
            );
            Err(Stop(UNUSABLE, words))
        }
    }
}

fn load(matches: &ArgMatches) -> Result<Loaded, Stop> {
    let file = path(matches, "sheet");
    let text = read(&file)?;
    let name = file.display().to_string();
    let readings = match matches.try_contains_id("readings") {
        Ok(true) => readings(matches)?,
        _ => Vec::new(),
    };
    if !readings.is_empty() {
        refuse_unknown(&name, &text, &readings)?;
    }
    Sheet::read_named(&name, &text, &readings).map_err(|e| Stop(UNUSABLE, e.to_string()))
}

/// A reading put in takes the place of a cell's own: of one that is there, not of a new one.
fn refuse_unknown(file: &str, text: &str, readings: &[(String, String)]) -> Result<(), Stop> {
    // What is wrong with the sheet itself is said when it is read with the readings.
    let Ok(own) = Sheet::read_named(file, text, &[]) else {
        return Ok(());
    };
    for (name, _) in readings {
        if own.sheet.cell(name).is_none() {
            return Err(no_cell(&own.sheet, name));
        }
    }
    Ok(())
}

fn no_cell(sheet: &Sheet, name: &str) -> Stop {
    let near = sheet.nearest_name(name);
    let hint = near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
    Stop(UNUSABLE, format!("no cell is named `{name}`{hint}"))
}

fn readings(matches: &ArgMatches) -> Result<Vec<(String, String)>, Stop> {
    let given = matches.get_many::<String>("readings").unwrap_or_default();
    given.map(|text| reading(text)).collect()
}

fn reading(text: &str) -> Result<(String, String), Stop> {
    match text.split_once('=') {
        // A line break would bring in further lines.
        Some((name, reading)) if !text.contains(['\n', '\r']) => {
            Ok((name.trim().to_owned(), reading.trim().to_owned()))
        }
        _ => {
            let words =
                format!("`{text}` is no reading: write NAME=READING, such as 'lvot_vti=18 cm'");
            Err(Stop(UNUSABLE, words))
        }
    }
}

fn warn(loaded: &Loaded) {
    if !loaded.warnings.is_empty() {
        let text = loaded.sources.render(&loaded.warnings);
        let _ = writeln!(std::io::stderr(), "{text}");
    }
}

fn text(matches: &ArgMatches, id: &str) -> String {
    matches.get_one::<String>(id).cloned().unwrap_or_default()
}

fn path(matches: &ArgMatches, id: &str) -> PathBuf {
    PathBuf::from(text(matches, id))
}

/// The file that an option names, if it is given.
fn path_given(matches: &ArgMatches, id: &str) -> Option<PathBuf> {
    matches.get_one::<String>(id).map(PathBuf::from)
}

fn read(file: &Path) -> Result<String, Stop> {
    let bytes = std::fs::read(file).map_err(|e| file_stop(file, &e))?;
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        let words = format!("{}: byte {at} is not UTF-8 text", file.display());
        Stop(UNUSABLE, words)
    })
}

fn write(file: &Path, contents: &[u8]) -> Result<(), Stop> {
    write_whole(file, contents).map_err(|e| file_stop(file, &e))
}

fn file_stop(file: &Path, error: &std::io::Error) -> Stop {
    Stop(FILE, format!("{}: {error}", file.display()))
}

/// Prints; a reader that went away is no error.
fn print(text: &str) -> Done {
    let mut out = std::io::stdout().lock();
    let end = if text.ends_with('\n') { "" } else { "\n" };
    match write!(out, "{text}{end}") {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Stop(FILE, e.to_string())),
        _ => Ok(ExitCode::SUCCESS),
    }
}

/// Tells how far long work has come, once a second.
struct Progress {
    what: &'static str,
    start: Instant,
    told: Instant,
    has_told: bool,
}

impl Progress {
    fn new(what: &'static str) -> Self {
        Progress {
            what,
            start: Instant::now(),
            told: Instant::now(),
            has_told: false,
        }
    }

    fn at(&mut self, count: usize) {
        if self.told.elapsed() > Duration::from_secs(1) {
            let rate = count as f64 / self.start.elapsed().as_secs_f64();
            let _ = write!(
                std::io::stderr(),
                "\r{count} {}, {rate:.0} a second",
                self.what
            );
            self.told = Instant::now();
            self.has_told = true;
        }
    }

    fn end(&self) {
        if self.has_told {
            let _ = writeln!(std::io::stderr());
        }
    }
}
