//! Statements that ask a statistical question of the rows of a cohort.
//!
//! All have one shape: `show QUESTION of SUBJECTS`, then clauses in any order, `over COHORT` among them. Which clauses a
//! question takes, and which it needs, stands in one table here. The words are not reserved: a cell may be called `digits`.

mod read;

use super::diagnostic::Place;
use super::statement::Name;
use crate::quantity::Reading;

pub(super) use read::analysis;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Question {
    /// `roc`: how well an index tells responders apart.
    Roc,
    /// `gray_zone`: where an index does not decide.
    GrayZone,
    /// `responders`: how many, beside those expected from error alone.
    Responders,
    /// `change`: forms of the per cent change, regression to the mean.
    Change,
    /// `dose_response`: a change against a dose.
    DoseResponse,
    /// `agreement`: of two measurements.
    Agreement,
    /// `repeatability`: of one measurement read again.
    Repeatability,
    /// `individuals`: single values in order of time.
    Individuals,
    /// `ewma`: their exponentially weighted moving average.
    Ewma,
    /// `cusum`: their cumulative sums.
    Cusum,
    /// `proportions`: a share over periods.
    Proportions,
    /// `funnel`: operators side by side.
    Funnel,
    /// `digits`: the last digits of readings.
    Digits,
    /// `drift`: one patient's readings over exams.
    Drift,
    /// `jumps`: two readings of one row.
    Jumps,
    /// `completeness`: what was kept.
    Completeness,
    /// `row_flow`: which rows a result rests on.
    RowFlow,
    /// `crossings`: which rows change side of a threshold when a reading is off.
    Crossings,
    /// `sample_size`: how many rows an interval of a stated width needs.
    SampleSize,
    /// `set_aside`: who was left out, beside those used.
    SetAside,
}

/// Words of the questions, the clauses each takes, and those it needs.
const QUESTIONS: &[(&str, Question, &[&str], &[&str])] = &[
    (
        "roc",
        Question::Roc,
        &["against", "by", "with", "error", "demanding", "row"],
        &["against"],
    ),
    (
        "gray_zone",
        Question::GrayZone,
        &["against", "by", "with", "demanding"],
        &["against"],
    ),
    (
        "responders",
        Question::Responders,
        &["at", "by", "split", "error", "with"],
        &["at"],
    ),
    ("change", Question::Change, &["by", "error", "with"], &[]),
    (
        "dose_response",
        Question::DoseResponse,
        &["against", "by", "marking", "with"],
        &["against"],
    ),
    (
        "agreement",
        Question::Agreement,
        &["by", "with", "exclusion"],
        &[],
    ),
    (
        "repeatability",
        Question::Repeatability,
        &["by", "with"],
        &[],
    ),
    (
        "individuals",
        Question::Individuals,
        &["along", "baseline", "by", "with"],
        &["along"],
    ),
    (
        "ewma",
        Question::Ewma,
        &["along", "baseline", "by", "weight", "width", "with"],
        &["along", "baseline"],
    ),
    (
        "cusum",
        Question::Cusum,
        &["along", "baseline", "by", "as", "slack", "decision", "with"],
        &["along", "baseline"],
    ),
    (
        "proportions",
        Question::Proportions,
        &["along", "per", "baseline", "with"],
        &["along", "per"],
    ),
    ("funnel", Question::Funnel, &["by", "with"], &["by"]),
    ("digits", Question::Digits, &["to", "by", "with"], &["to"]),
    (
        "drift",
        Question::Drift,
        &["by", "along", "beyond", "with"],
        &["by", "along", "beyond"],
    ),
    ("jumps", Question::Jumps, &["beyond", "with"], &["beyond"]),
    ("completeness", Question::Completeness, &["by", "with"], &[]),
    ("row_flow", Question::RowFlow, &["against", "with"], &[]),
    (
        "crossings",
        Question::Crossings,
        &["at", "when", "with"],
        &["at", "when"],
    ),
    (
        "sample_size",
        Question::SampleSize,
        &["against", "with", "width"],
        &["width"],
    ),
    ("set_aside", Question::SetAside, &[], &[]),
];

/// Clauses that every question takes.
const COMMON: &[&str] = &["over", "where", "titled", "briefly", "if"];

/// An example of each clause, for hints.
const CLAUSES: &[(&str, &str)] = &[
    ("over", "over challenges"),
    ("where", "where purpose is fluid and fluid_given > 0 mL"),
    ("titled", "titled \"A title of your own\""),
    ("briefly", "briefly"),
    ("if", "if recorded"),
    ("against", "against change.stroke_volume > 10 %"),
    ("by", "by patient"),
    ("as", "as operators"),
    ("with", "with estimated"),
    ("demanding", "demanding 90 %"),
    ("row", "row by row"),
    ("at", "at 10 %, 15 %"),
    ("split", "split fluid_given at 300 mL, 500 mL"),
    (
        "error",
        "error of 11 %`, `error of 8 mL` or `error from purpose is repeat_without_fluid",
    ),
    ("marking", "marking 10 %"),
    ("along", "along day"),
    ("baseline", "baseline 40"),
    ("per", "per 30"),
    ("to", "to 0.01 cm"),
    ("beyond", "beyond 2 mm"),
    ("when", "when lvot_diameter is off by 1 mm"),
    ("width", "width 10 %"),
    ("weight", "weight 0.1"),
    ("slack", "slack 0.5"),
    ("decision", "decision 4"),
    ("exclusion", "exclusion 10 %"),
];

/// What an analysis looks at: a column, read as low is positive, or whether it says a word.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    /// The cell or column.
    pub name: Name,
    /// `low NAME`: low values speak for the response.
    pub is_low: bool,
    /// `NAME is WORD`.
    pub word: Option<Name>,
}

/// What rows must meet.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// The cell or column.
    pub name: Name,
    /// What it must be.
    pub test: Test,
}

/// A test of one value.
#[derive(Clone, Debug, PartialEq)]
pub enum Test {
    /// `is WORD`.
    Is(Name),
    /// `is not WORD`.
    IsNot(Name),
    /// `is known`.
    Known,
    /// `> 5 mL`.
    Above(Reading),
    /// `>= 5 mL`.
    AtLeast(Reading),
    /// `< 5 mL`.
    Below(Reading),
    /// `<= 5 mL`.
    AtMost(Reading),
}

/// How far repeated measurements differ without any effect.
#[derive(Clone, Debug, PartialEq)]
pub enum ErrorOf {
    /// `error of 11 %`: the least significant change.
    LeastSignificantChange(Reading),
    /// `error from CONDITIONS`: from the rows that meet them, in which nothing was given.
    Rows(Vec<Condition>),
}

/// Whose the names after `by` are, where either can be meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Whose {
    /// `as patients`.
    Patients,
    /// `as operators`.
    Operators,
}

/// A statistical question with its clauses.
#[derive(Clone, Debug, PartialEq)]
pub struct Analysis {
    /// What is asked.
    pub question: Question,
    /// Its word.
    pub word: &'static str,
    /// What is looked at.
    pub of: Vec<Subject>,
    /// The cohort.
    pub over: Name,
    /// `against NAME` or `against NAME > 10 %`.
    pub against: Option<Condition>,
    /// `against NAME` alone, as of a dose.
    pub dose: Option<Name>,
    /// Thresholds after `at`, or lines after `marking`.
    pub at: Vec<Reading>,
    /// `by NAME`: patients who repeat, or operators.
    pub by: Option<Name>,
    /// `as operators` or `as patients`, with its place: whose the names after `by` are.
    pub whose: Option<(Whose, Place)>,
    /// `along NAME`: the order of time.
    pub along: Option<Name>,
    /// `where CONDITION and …`.
    pub conditions: Vec<Condition>,
    /// `split NAME at …`.
    pub split: Option<(Name, Vec<Reading>)>,
    /// `error …`.
    pub error: Option<ErrorOf>,
    /// `when A is off by 1 mm, …`: each reading, and how far it is off.
    pub off: Vec<(Name, Reading)>,
    /// The number after `demanding`, `per`, `to`, `beyond`, `baseline`, `width`, `weight`, `slack`, `decision` or `exclusion`, each by its
    /// word.
    pub amounts: Vec<(&'static str, Reading, Place)>,
    /// `with estimated`: values that rest on an estimated or assumed reading stay in.
    pub with_estimated: bool,
    /// `row by row`: what is said of all rows is told of each.
    pub row_by_row: bool,
    /// `if recorded`: what the table has no column for is said in words, and is no error.
    pub if_recorded: bool,
    /// `briefly`: tables and cautions alone.
    pub briefly: bool,
    /// A title of its own.
    pub title: Option<String>,
}

impl Analysis {
    /// The number after a clause's word.
    pub fn amount(&self, clause: &str) -> Option<&Reading> {
        let found = self.amounts.iter().find(|(word, ..)| *word == clause);
        found.map(|(_, reading, _)| reading)
    }

    /// The place of the number after a clause's word.
    pub fn amount_place(&self, clause: &str) -> Option<Place> {
        let found = self.amounts.iter().find(|(word, ..)| *word == clause);
        found.map(|(_, _, place)| *place)
    }

    /// Every name of a cell or column in it, for whoever must know what it rests on.
    pub fn names(&self) -> Vec<&Name> {
        let mut names: Vec<&Name> = self.of.iter().map(|subject| &subject.name).collect();
        names.extend(self.against.iter().map(|c| &c.name));
        names.extend(self.dose.iter().chain(&self.by).chain(&self.along));
        names.extend(self.conditions.iter().map(|c| &c.name));
        names.extend(self.split.iter().map(|(name, _)| name));
        names.extend(self.off.iter().map(|(name, _)| name));
        if let Some(ErrorOf::Rows(conditions)) = &self.error {
            names.extend(conditions.iter().map(|c| &c.name));
        }
        names
    }
}
