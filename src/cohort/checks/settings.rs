//! What a binding file asks of checks.

use serde::Deserialize;

use super::Action;
use crate::cohort::binding::{Binding, Part};
use crate::cohort::binding_file::BindingFile;
use crate::cohort::dates::DateForm;
use crate::cohort::error::CohortError;
use crate::sheet::Sheet;

/// The table `[checks]` of a binding file.
///
/// ```toml
/// [checks]
/// patient = "patient"                  # heading of the column that says whose rows they are
/// times = ["before at", "after at"]    # times of the exams, in the order in which they should follow
/// factor_ten = "convert"               # set_aside (so where absent), convert or mark
/// order = "mark"                       # set_aside (so where absent) or mark
/// same_row = "mark"                    # set_aside (so where absent), mark or off
/// same_time = "set_aside"              # mark (so where absent), set_aside or off
/// copied = "off"                       # mark (so where absent) or off
/// ```
///
/// Times are of ISO 8601 (`2031-05-17 07:30`), name the month (`17 May 2031`), stand in the order that `[file]` states, by either clock
/// (`5/17/2031 1:35 PM`), or are numbers. With a patient, rows are compared with
/// the rows before them: `same_row` asks whether patient, times, identifiers and all bound columns
/// say the same, `same_time` whether patient and times do, `copied` whether a velocity-time
/// integral or heart rate, or a diameter, is the same number as in the patient's exam before.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChecksEntry {
    /// Heading of the column that says whose rows they are.
    pub patient: Option<String>,
    /// Headings of the times of the exams, in the order in which they should follow.
    #[serde(default)]
    pub times: Vec<String>,
    /// Lengths wrong by a factor of ten: set_aside, convert or mark.
    pub factor_ten: Option<String>,
    /// An exam dated before the one that it should follow: set_aside or mark.
    pub order: Option<String>,
    /// The same row once more: set_aside, mark or off.
    pub same_row: Option<String>,
    /// The same patient and time once more: set_aside, mark or off.
    pub same_time: Option<String>,
    /// The same number in the exam before: mark or off.
    pub copied: Option<String>,
}

/// What is done with a length that is wrong by a factor of ten.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::cohort) enum OnFactorTen {
    /// The row is set aside.
    #[default]
    SetAside,
    /// The number is corrected, and a remark says so.
    Convert,
    /// The number stands, and a remark says so.
    Mark,
}

impl OnFactorTen {
    /// What a file says of all columns.
    pub(in crate::cohort) fn of_all(file: &BindingFile) -> Result<OnFactorTen, CohortError> {
        let word = file.checks.as_ref().and_then(|c| c.factor_ten.as_deref());
        word.map_or(Ok(OnFactorTen::default()), |word| {
            OnFactorTen::from_word(file, "checks", word)
        })
    }

    /// What a file says of one column.
    pub(in crate::cohort) fn of_column(
        file: &BindingFile,
        heading: &str,
    ) -> Result<Option<OnFactorTen>, CohortError> {
        let mut columns = file.columns.iter();
        let entry = columns.find(|(own, _)| own.trim() == heading);
        let word = entry.and_then(|(_, entry)| entry.factor_ten.as_deref());
        let place = format!("columns.\"{heading}\"");
        word.map(|word| OnFactorTen::from_word(file, &place, word))
            .transpose()
    }

    fn from_word(file: &BindingFile, place: &str, word: &str) -> Result<OnFactorTen, CohortError> {
        match word {
            "set_aside" => Ok(OnFactorTen::SetAside),
            "convert" => Ok(OnFactorTen::Convert),
            "mark" => Ok(OnFactorTen::Mark),
            _ => Err(file.wrong(format!(
                "{place}: factor_ten is set_aside, convert or mark, not `{word}`"
            ))),
        }
    }
}

/// Checks that compare columns and rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Checks {
    /// The column that says whose rows they are, by number from 0.
    pub patient: Option<usize>,
    /// The columns of times, in the order in which they should follow.
    pub times: Vec<usize>,
    /// How times are written, as far as the binding says it.
    pub(super) form: DateForm,
    pub(super) order: Action,
    pub(super) same_row: Action,
    pub(super) same_time: Action,
    pub(super) copied: Action,
    /// Columns whose numbers are compared from exam to exam.
    pub(super) watched: Vec<Watched>,
}

/// One quantity, exam by exam.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Watched {
    /// Positions in [`Binding::columns`], in the order of the columns.
    pub(super) columns: Vec<usize>,
    /// Carrying its number forward is right practice.
    pub(super) is_carried: bool,
}

/// Quantities that are compared from exam to exam, and whether carrying them forward is right.
const WATCHED: [(&str, bool); 3] = [
    ("lvot_vti", false),
    ("heart_rate", false),
    ("lvot_diameter", true),
];

impl Checks {
    /// Whether whole rows are compared with those before.
    pub(super) fn compares_rows(&self) -> bool {
        self.same_row != Action::Off || self.same_time != Action::Off
    }

    /// What a file asks for; `None` where rows are not compared.
    pub(in crate::cohort) fn of(
        sheet: &Sheet,
        binding: &Binding,
        file: &BindingFile,
    ) -> Result<Option<Checks>, CohortError> {
        let Some(entry) = &file.checks else {
            return Ok(None);
        };
        let wrong = |message: &str| Err(file.wrong(format!("checks: {message}")));
        let of_rows = [&entry.same_row, &entry.same_time, &entry.copied];
        if entry.patient.is_none() && of_rows.iter().any(|word| word.is_some()) {
            return wrong(
                "rows are compared with those of the same patient: say `patient = HEADING`",
            );
        }
        if entry.times.len() < 2 && entry.order.is_some() {
            return wrong("an order takes two columns of times: say `times = [HEADING, HEADING]`");
        }
        if entry.times.is_empty() && entry.same_time.is_some() {
            return wrong("`same_time` takes a column of times: say `times = [HEADING]`");
        }
        if entry.patient.is_none() && entry.times.len() < 2 {
            return match entry.factor_ten {
                Some(_) => Ok(None),
                None => wrong(
                    "nothing is asked for: say `patient = HEADING`, `times = [HEADING, HEADING]` or `factor_ten = \"convert\"`",
                ),
            };
        }
        let column = |place: &str, heading: &String| binding.column_headed(file, place, heading);
        let patient = entry.patient.as_ref();
        let times = entry.times.iter();
        let checks = Checks {
            patient: patient.map(|h| column("checks.patient", h)).transpose()?,
            times: times
                .map(|h| column("checks.times", h))
                .collect::<Result<_, _>>()?,
            form: file.file.date_form(),
            order: action(
                file,
                "order",
                &entry.order,
                Action::SetAside,
                &[Action::Mark],
            )?,
            same_row: action(
                file,
                "same_row",
                &entry.same_row,
                Action::SetAside,
                &[Action::Mark, Action::Off],
            )?,
            same_time: action(
                file,
                "same_time",
                &entry.same_time,
                Action::Mark,
                &[Action::SetAside, Action::Off],
            )?,
            copied: action(file, "copied", &entry.copied, Action::Mark, &[Action::Off])?,
            watched: watched(sheet, binding),
        };
        Ok(Some(checks))
    }
}

/// What a file says of a check, or what is done where it says nothing.
fn action(
    file: &BindingFile,
    key: &str,
    word: &Option<String>,
    usual: Action,
    others: &[Action],
) -> Result<Action, CohortError> {
    let Some(word) = word else {
        return Ok(usual);
    };
    let name = |action: Action| match action {
        Action::SetAside => "set_aside",
        Action::Mark => "mark",
        Action::Off => "off",
    };
    let mut known = std::iter::once(usual).chain(others.iter().copied());
    known.find(|action| name(*action) == word).ok_or_else(|| {
        let names: Vec<&str> = std::iter::once(&usual)
            .chain(others)
            .map(|a| name(*a))
            .collect();
        file.wrong(format!(
            "checks: {key} is {}, not `{word}`",
            names.join(" or ")
        ))
    })
}

fn watched(sheet: &Sheet, binding: &Binding) -> Vec<Watched> {
    let of = |(name, is_carried): (&str, bool)| {
        let mut columns: Vec<usize> = (0..binding.columns.len())
            .filter(|at| {
                let bound = &binding.columns[*at];
                let cell = sheet.name(bound.cell);
                bound.part == Part::Value && cell.rsplit('.').next() == Some(name)
            })
            .collect();
        columns.sort_by_key(|at| binding.columns[*at].column);
        Watched {
            columns,
            is_carried,
        }
    };
    let all = WATCHED.into_iter().map(of);
    all.filter(|watched| !watched.columns.is_empty()).collect()
}
