//! Statements: the lines of a sheet, and of a notebook cell.

use super::analysis::Analysis;
use super::cursor::{Cursor, RESERVED, Stop, brief};
use super::diagnostic::{Diagnostic, Place};
use super::expression::{self, Parsed};
use super::literal;
use crate::quantity::{Content, Origin, Reading, Unit};

/// A name and where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Name {
    /// The name, dotted parts included.
    pub text: String,
    /// Where it stands.
    pub place: Place,
}

/// One statement.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// What it says.
    pub what: What,
    /// Where it stands.
    pub place: Place,
}

/// What a statement says.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// `use hemodynamics` or `use hemodynamics as before`.
    Use {
        /// The catalogue.
        catalogue: Name,
        /// The prefix of its names.
        prefix: Option<Name>,
    },
    /// `NAME [UNIT] = READING`.
    Reading {
        /// The cell.
        name: Name,
        /// The unit it is shown in, where the line says so.
        unit: Option<Unit>,
        /// The reading.
        reading: Reading,
        /// Where the reading stands.
        at: Place,
    },
    /// `NAME = WORD`: a finding's word, or the name of a cell passed on.
    Word {
        /// The cell.
        name: Name,
        /// The unit it is shown in, where the line says so.
        unit: Option<Unit>,
        /// The word.
        word: Name,
        /// The origin said of a finding.
        origin: Origin,
    },
    /// `NAME [UNIT] = FORMULA`.
    Formula {
        /// The cell.
        name: Name,
        /// The unit it is shown in, where the line says so.
        unit: Option<Unit>,
        /// The formula.
        parsed: Parsed,
    },
    /// `compare BEFORE, AFTER`.
    Compare {
        /// Prefix of the earlier exam.
        before: Name,
        /// Prefix of the later exam.
        after: Name,
        /// Prefix of the changes, where there are several comparisons.
        prefix: Option<Name>,
    },
    /// `require NAME, …`: a row without these is set aside.
    Require(Vec<Name>),
    /// `correlate NAME, NAME by 0.5`: the correlation between the errors of two readings.
    Correlate {
        /// One reading.
        first: Name,
        /// The other.
        second: Name,
        /// The correlation coefficient, −1 to 1.
        value: f64,
    },
    /// `coverage 95 %`: the coverage of the intervals that are shown, as a share.
    Coverage(f64),
    /// `repeatability robson_1988`: a published set, for readings that state no uncertainty.
    Repeatability(Name),
    /// A statement that shows something; of a notebook, not of a sheet.
    Display(Display),
}

/// A statement that shows something.
#[derive(Clone, Debug, PartialEq)]
pub enum Display {
    /// `show NAME, …`, or `show` alone for every cell that says something; `over COHORT` for a
    /// summary of rows.
    Show {
        /// The cells.
        names: Vec<Name>,
        /// The cohort.
        over: Option<Name>,
    },
    /// `explain NAME`.
    Explain(Name),
    /// `cohort NAME from "FILE"`, with `bound by "FILE"` where headings do not say it, and
    /// `with uncertainty of NAME, …` for the standard uncertainties of results.
    Cohort {
        /// The name the cohort goes by.
        name: Name,
        /// The file.
        file: Name,
        /// The binding file.
        binding: Option<Name>,
        /// The results whose uncertainties are wanted, row by row.
        uncertainty: Vec<Name>,
    },
    /// `show budget of NAME`: what each reading adds to the uncertainty.
    Budget(Name),
    /// `show coupling of NAME, NAME`: what two cells share, and how error alone would correlate
    /// them.
    Coupling(Name, Name),
    /// `show probability of NAME > 15 %`, by slopes, or with `by simulation` behind it by random
    /// draws.
    Probability {
        /// The cell.
        name: Name,
        /// Whether beyond means above.
        above: bool,
        /// The threshold.
        threshold: Reading,
        /// Whether draws are counted.
        by_simulation: bool,
    },
    /// `simulate NAME`: the uncertainty by random draws.
    Simulate(Name),
    /// `show QUESTION of … over COHORT`: a statistical question.
    Analysis(Box<Analysis>),
    /// `draw Y against X over COHORT`, with lines at `marking` values of Y.
    Scatter {
        /// Upward.
        y: Name,
        /// To the right.
        x: Name,
        /// The cohort.
        over: Name,
        /// Values of Y to draw a line at.
        marking: Vec<Reading>,
        /// The title.
        title: Option<String>,
    },
    /// `draw Y, … against X from A to B`: the exact effect of one reading.
    Curve {
        /// Upward.
        y: Vec<Name>,
        /// The reading that is varied.
        x: Name,
        /// Start of the range.
        from: Reading,
        /// End of the range.
        to: Reading,
        /// The title.
        title: Option<String>,
    },
    /// `draw Y when A is off by 1 mm, B is off by 10 %`.
    Effects {
        /// The cell.
        y: Name,
        /// Each reading, and how far it is off.
        off: Vec<(Name, Reading)>,
        /// The title.
        title: Option<String>,
    },
    /// `draw Y over exams A, B, C`: the same cell of several exams, in their order.
    Serial {
        /// The cell, without an exam's name.
        y: Name,
        /// The exams.
        exams: Vec<Name>,
        /// The title.
        title: Option<String>,
    },
    /// `adjust NAME from A to B by STEP`: a reading that the reader of a page can move.
    Adjust(Adjust),
    /// `describe EXAM`: the exam in plain words; `exam` alone for cells without an exam's name.
    Describe(Name),
}

/// A reading that the reader of a page can move.
#[derive(Clone, Debug, PartialEq)]
pub struct Adjust {
    /// The cell.
    pub name: Name,
    /// The least.
    pub from: Reading,
    /// The greatest.
    pub to: Reading,
    /// From one place to the next.
    pub by: Reading,
}

/// The version of the notation that a first line may name.
pub const VERSION_LINE: &str = "semilunar 1";

/// Longest text that is read, in bytes.
const LONGEST: usize = 64 << 20;

/// After this many errors the rest of a text is not read.
const MOST_ERRORS: usize = 1000;

/// Reads all statements of a text, going on after each error with the next line. After a
/// thousand errors, and in a text of more than 64 MiB, it says so and stops.
pub fn statements(text: &str, source: u32) -> (Vec<Statement>, Vec<Diagnostic>) {
    let mut cursor = Cursor::new(text, source);
    let (mut statements, mut found) = (Vec::new(), Vec::new());
    if let Err(stop) = fits(text, &cursor) {
        return (statements, vec![*stop]);
    }
    cursor.skip_lines();
    if let Err(stop) = version_line(&mut cursor) {
        found.push(*stop);
        cursor.skip_line();
    }
    loop {
        cursor.skip_lines();
        if cursor.peek().is_none() {
            return (statements, found);
        }
        if found.len() >= MOST_ERRORS {
            let message = format!("there are {MOST_ERRORS} errors; from here on I read no more");
            found.push(*cursor.error(message));
            return (statements, found);
        }
        let start = cursor.at();
        let mut reader = cursor;
        let read = statement(&mut reader).and_then(|what| line_end(&mut reader).map(|()| what));
        match read {
            Ok(what) => {
                cursor = reader;
                statements.push(Statement {
                    what,
                    place: cursor.place(start),
                });
            }
            Err(stop) => {
                let at = stop.place().map_or(start, |place| place.start as usize);
                found.push(*stop);
                cursor.recover(at);
            }
        }
    }
}

/// Reads one formula that is the whole text.
///
/// # Errors
/// A diagnostic at the place that cannot be read.
pub fn formula(text: &str, source: u32) -> Result<Parsed, Diagnostic> {
    let mut cursor = Cursor::new(text, source);
    fits(text, &cursor).map_err(|stop| *stop)?;
    cursor.skip_lines();
    let read = expression::formula(&mut cursor).and_then(|parsed| {
        cursor.skip_lines();
        match cursor.peek() {
            None => Ok(parsed),
            Some(_) => Err(cursor.goes_on("the formula ends here, but the text goes on")),
        }
    });
    read.map_err(|stop| *stop)
}

/// Reads one reading that is the whole text, as on the command line or in a table's cell.
///
/// # Errors
/// A diagnostic at the place that cannot be read.
pub fn reading(text: &str, source: u32) -> Result<Reading, Diagnostic> {
    let mut cursor = Cursor::new(text, source);
    whole_reading(text, &mut cursor).map_err(|stop| *stop)
}

fn whole_reading(text: &str, cursor: &mut Cursor<'_>) -> Result<Reading, Stop> {
    fits(text, cursor)?;
    cursor.skip_lines();
    let read = match literal::reading(cursor)? {
        Some(reading) => Some(reading),
        None => {
            literal::lone_word(cursor).map(|(word, origin)| Reading::word(word).with_origin(origin))
        }
    };
    let Some(reading) = read else {
        let mut ahead = *cursor;
        if literal::plain(&mut ahead)?.is_some() {
            ahead.skip_space();
            return Err(ahead.goes_on("the reading ends here, but the text goes on"));
        }
        let stop = cursor.error("this is not a reading");
        return Err(Box::new(stop.hint(
            "a reading is a number with its unit, such as 2.05 cm, or a finding's word",
        )));
    };
    cursor.skip_lines();
    match cursor.peek() {
        None => Ok(reading),
        Some(_) => Err(cursor.goes_on("the reading ends here, but the text goes on")),
    }
}

/// Places are counted in 32 bits, and a longer text is no sheet.
fn fits(text: &str, cursor: &Cursor<'_>) -> Result<(), Stop> {
    if text.len() <= LONGEST {
        return Ok(());
    }
    let message = format!(
        "this text has {} bytes; at most {LONGEST} are read",
        text.len()
    );
    Err(cursor.error(message))
}

fn version_line(cursor: &mut Cursor<'_>) -> Result<(), Stop> {
    let before = *cursor;
    if !cursor.take_word("semilunar") {
        return Ok(());
    }
    if cursor.take("=") || cursor.take("[") {
        *cursor = before;
        return Ok(());
    }
    match cursor.number()? {
        Some(("1", ..)) if cursor.is_line_end() => Ok(()),
        _ => {
            *cursor = before;
            let stop = cursor.error("this sheet is not of a version that I read");
            Err(Box::new(
                stop.hint(format!("the first line may be `{VERSION_LINE}`")),
            ))
        }
    }
}

fn line_end(cursor: &mut Cursor<'_>) -> Result<(), Stop> {
    if cursor.is_line_end() {
        return Ok(());
    }
    if let Some(stop) = literal::uncertainty_of_none(cursor) {
        return Err(stop);
    }
    Err(cursor.goes_on("the statement ends here, but the line goes on"))
}

fn statement(cursor: &mut Cursor<'_>) -> Result<What, Stop> {
    if cursor.take_word("use") {
        return use_catalogue(cursor);
    }
    if cursor.take_word("compare") {
        return compare(cursor);
    }
    if cursor.take_word("require") {
        return names(cursor).map(What::Require);
    }
    if cursor.take_word("correlate") {
        return correlate(cursor);
    }
    if cursor.take_word("coverage") {
        return coverage(cursor);
    }
    if cursor.take_word("repeatability") {
        return name(cursor, "the name of a published set").map(What::Repeatability);
    }
    if let Some(display) = super::display::display(cursor)? {
        return Ok(What::Display(display));
    }
    definition(cursor)
}

fn use_catalogue(cursor: &mut Cursor<'_>) -> Result<What, Stop> {
    let catalogue = name(cursor, "the name of a catalogue")?;
    let prefix = match cursor.take_word("as") {
        true => Some(prefix(cursor)?),
        false => None,
    };
    Ok(What::Use { catalogue, prefix })
}

fn compare(cursor: &mut Cursor<'_>) -> Result<What, Stop> {
    let before = prefix(cursor)?;
    if !cursor.take(",") {
        let stop = cursor.error("a comma and the second exam belong here");
        return Err(Box::new(stop.hint("such as `compare before, after`")));
    }
    let after = prefix(cursor)?;
    let prefix = match cursor.take_word("as") {
        true => Some(prefix(cursor)?),
        false => None,
    };
    Ok(What::Compare {
        before,
        after,
        prefix,
    })
}

fn correlate(cursor: &mut Cursor<'_>) -> Result<What, Stop> {
    const HINT: &str = "such as `correlate lvot_vti, lvot_diameter by 0.5`";
    let first = name(cursor, "the name of a reading")?;
    if !cursor.take(",") {
        let stop = cursor.error("a comma and the second reading belong here");
        return Err(Box::new(stop.hint(HINT)));
    }
    let second = name(cursor, "the name of a reading")?;
    if !cursor.take_word("by") {
        let stop = cursor.error("`by` and a correlation belong here");
        return Err(Box::new(stop.hint(HINT)));
    }
    cursor.skip_space();
    let start = cursor.at();
    let value = share(cursor)?.filter(|value| value.abs() <= 1.0);
    let value = value.ok_or_else(|| {
        let message = "a correlation is a bare number from -1 to 1";
        Box::new(Diagnostic::error(message, cursor.place(start)).hint(HINT))
    })?;
    Ok(What::Correlate {
        first,
        second,
        value,
    })
}

fn coverage(cursor: &mut Cursor<'_>) -> Result<What, Stop> {
    cursor.skip_space();
    let start = cursor.at();
    let level = share(cursor)?.filter(|level| *level > 0.0 && *level < 1.0);
    let level = level.ok_or_else(|| {
        let message = "a coverage is more than 0 % and less than 100 %";
        Box::new(Diagnostic::error(message, cursor.place(start)).hint("such as `coverage 95 %`"))
    })?;
    Ok(What::Coverage(level))
}

/// A number without dimension, as a share.
fn share(cursor: &mut Cursor<'_>) -> Result<Option<f64>, Stop> {
    let Some(reading) = literal::plain(cursor)? else {
        return Ok(None);
    };
    Ok(match reading.content() {
        Content::Magnitude { value, unit } => unit.convert(*value, Unit::ONE),
        _ => None,
    })
}

/// The name of an exam: one word, without dots.
fn prefix(cursor: &mut Cursor<'_>) -> Result<Name, Stop> {
    let name = name(cursor, "the name of an exam")?;
    if name.text.contains('.') {
        let message = format!(
            "`{}` has a dot; an exam's name is one word",
            brief(&name.text)
        );
        return Err(Box::new(Diagnostic::error(message, name.place)));
    }
    Ok(name)
}

pub(super) fn name(cursor: &mut Cursor<'_>, what: &str) -> Result<Name, Stop> {
    let before = *cursor;
    match cursor.name() {
        Some((text, place)) if !RESERVED.contains(&text) => Ok(Name {
            text: text.to_owned(),
            place,
        }),
        Some((text, _)) => {
            *cursor = before;
            cursor.skip_space();
            Err(cursor.error(format!("`{text}` is a word of the notation, not {what}")))
        }
        None => Err(cursor.error(format!("{what} belongs here"))),
    }
}

pub(super) fn names(cursor: &mut Cursor<'_>) -> Result<Vec<Name>, Stop> {
    names_of(cursor, "the name of a cell")
}

/// Names with commas between them; `what` says what belongs there.
pub(super) fn names_of(cursor: &mut Cursor<'_>, what: &str) -> Result<Vec<Name>, Stop> {
    let mut names = vec![name(cursor, what)?];
    while cursor.take(",") {
        cursor.skip_lines();
        names.push(name(cursor, what)?);
    }
    Ok(names)
}

/// `NAME [UNIT] = …`.
fn definition(cursor: &mut Cursor<'_>) -> Result<What, Stop> {
    let before = *cursor;
    let name = match name(cursor, "the name of a cell") {
        Ok(name) => name,
        Err(stop) if cursor.peek().is_some_and(char::is_alphabetic) => return Err(stop),
        Err(_) => {
            *cursor = before;
            let stop = cursor.error("a statement starts with a name or a word of the notation");
            return Err(Box::new(stop.hint("such as `lvot_diameter = 2.05 cm`")));
        }
    };
    let unit = match cursor.bracketed()? {
        Some(("", place)) => {
            let stop = Diagnostic::error("the brackets are empty", place);
            return Err(Box::new(stop.hint(
                "the brackets hold the unit it is shown in, such as [mL], or [1] for a bare number",
            )));
        }
        Some((text, place)) => Some(Unit::parse(text).map_err(|e| {
            let hint = "the brackets hold the unit it is shown in, such as [mL]";
            Box::new(Diagnostic::error(e.to_string(), place).hint(hint))
        })?),
        None => None,
    };
    if !cursor.take("=") {
        let name = brief(&name.text);
        let stop = cursor.error(format!("`=` belongs after `{name}`"));
        return Err(Box::new(stop.hint(format!("such as `{name} = 2.05 cm`"))));
    }
    if cursor.is_line_end() {
        let stop = cursor.error(format!("nothing stands after `{} =`", brief(&name.text)));
        return Err(Box::new(stop.hint("write `?` for what is not known yet")));
    }
    let start = cursor.at();
    // A cell that is not known yet still has the unit that its line gives.
    let unit = unit.or_else(|| literal::unit_of_unknown(cursor));
    if let Some(reading) = literal::reading(cursor)? {
        return Ok(What::Reading {
            name,
            unit,
            reading,
            at: cursor.place(start),
        });
    }
    if let Some((word, origin)) = literal::lone_word(cursor) {
        let word = Name {
            text: word,
            place: cursor.place(start),
        };
        return Ok(What::Word {
            name,
            unit,
            word,
            origin,
        });
    }
    let parsed = expression::formula(cursor)?;
    Ok(What::Formula { name, unit, parsed })
}
