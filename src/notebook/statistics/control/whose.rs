//! Whose the names after `by` are: patients, of whom the first value of each is charted, or operators, each with a baseline of their own.
//!
//! To `cusum` both make sense. Where the question does not say which, by `as operators` or `as patients`, names of whom one has as
//! many values as a baseline needs are operators; the answer says what was taken, and how to say the other.

use crate::formula::notation::{Analysis, Diagnostic, Name, Question, Whose};
use crate::notebook::statistics::page::counted;
use crate::notebook::statistics::rows::Rows;

/// What `by` says of the values.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Who {
    /// Nothing: whose they are is not known.
    Unsaid,
    /// One value a patient, the first in time.
    Patients,
    /// Operators, each with a baseline of their own.
    Operators,
}

/// Whose they are, with what to say of it.
pub(super) struct Taken {
    pub(super) who: Who,
    pub(super) words: Option<String>,
}

/// What is charted of operators, and of patients.
const OF_OPERATORS: &str =
    "each is compared with the own baseline, the first values of that operator";
const OF_PATIENTS: &str = "the first value of each is charted";

impl Taken {
    /// Of rows before any are left out for it.
    ///
    /// # Errors
    /// `as` without `by`, and a column that has no names.
    pub(super) fn of(
        rows: &Rows<'_>,
        analysis: &Analysis,
        baseline: Option<usize>,
    ) -> Result<Taken, Vec<Diagnostic>> {
        let Some(by) = &analysis.by else {
            return Taken::of_nobody(analysis);
        };
        let name = &by.text;
        if analysis.question != Question::Cusum {
            return Ok(Taken::patients(Some(format!(
                "The names in `{name}` are taken as patients. If they are operators, chart each alone, such as `where {name} is NAME`, or ask \
                 for `cusum`, which compares each with the own baseline."
            ))));
        }
        Ok(match (analysis.whose, baseline) {
            (Some((Whose::Operators, _)), _) => {
                Taken::operators(format!("Of the operators in `{name}` {OF_OPERATORS}."))
            }
            // The notation asks for a baseline wherever both make sense.
            (Some((Whose::Patients, _)), _) | (None, None) => Taken::patients(None),
            (None, Some(needed)) => Taken::by_count(rows, by, needed)?,
        })
    }

    fn of_nobody(analysis: &Analysis) -> Result<Taken, Vec<Diagnostic>> {
        let Some((_, place)) = analysis.whose else {
            return Ok(Taken {
                who: Who::Unsaid,
                words: None,
            });
        };
        let message = "`as` says whose the names after `by` are, and there is no `by`";
        let error = Diagnostic::error(message, place);
        Err(vec![error.hint("such as `by operator as operators`")])
    }

    /// Of a question that does not say which: by whether one has the values that a baseline needs.
    fn by_count(rows: &Rows<'_>, by: &Name, needed: usize) -> Result<Taken, Vec<Diagnostic>> {
        let name = &by.text;
        let (most_frequent, most) = most_frequent(rows, by)?;
        let has = format!("{most_frequent} has {}", counted(most, "value", "values"));
        Ok(match most >= needed {
            true => Taken::operators(format!(
                "The names in `{name}` are taken as operators, since {has} and a baseline takes {needed}: {OF_OPERATORS}. If they are \
                 patients, say `by {name} as patients`: {OF_PATIENTS} then."
            )),
            false => Taken::patients(Some(format!(
                "The names in `{name}` are taken as patients, since none has the {needed} values that a baseline takes ({has}): \
                 {OF_PATIENTS}. If they are operators, say `by {name} as operators`, with a baseline no longer than their values."
            ))),
        })
    }

    fn operators(words: String) -> Taken {
        Taken {
            who: Who::Operators,
            words: Some(words),
        }
    }

    fn patients(words: Option<String>) -> Taken {
        Taken {
            who: Who::Patients,
            words,
        }
    }
}

/// The name with most values, the first of several, and how many they are.
fn most_frequent(rows: &Rows<'_>, by: &Name) -> Result<(String, usize), Vec<Diagnostic>> {
    let groups = rows.grouped(by)?;
    let counted = groups
        .into_iter()
        .map(|(name, members)| (name, members.len()));
    let most = counted.reduce(|most, next| if next.1 > most.1 { next } else { most });
    Ok(most.unwrap_or_else(|| ("none".to_owned(), 0)))
}
