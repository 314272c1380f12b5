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
            return match analysis.whose {
                None => Ok(Taken {
                    who: Who::Unsaid,
                    words: None,
                }),
                Some((_, place)) => {
                    let message = "`as` says whose the names after `by` are, and there is no `by`";
                    let error = Diagnostic::error(message, place);
                    Err(vec![error.hint("such as `by operator as operators`")])
                }
            };
        };
        if analysis.question != Question::Cusum {
            return Ok(Taken {
                who: Who::Patients,
                words: Some(format!(
                    "The names in `{0}` are taken as patients. If they are operators, chart each alone, such as `where {0} is NAME`, or ask \
                     for `cusum`, which compares each with the own baseline.",
                    by.text
                )),
            });
        }
        let words_of_operators =
            "each is compared with the own baseline, the first values of that operator";
        let words_of_patients = "the first value of each is charted";
        Ok(match (analysis.whose, baseline) {
            (Some((Whose::Operators, _)), _) => Taken {
                who: Who::Operators,
                words: Some(format!(
                    "Of the operators in `{}` {words_of_operators}.",
                    by.text
                )),
            },
            (Some((Whose::Patients, _)), _) => Taken {
                who: Who::Patients,
                words: None,
            },
            (None, baseline) => {
                let (name, most) = most_frequent(rows, by)?;
                let needed = baseline.unwrap_or(usize::MAX);
                let has = format!("{name} has {}", counted(most, "value", "values"));
                let who = match most >= needed {
                    true => Who::Operators,
                    false => Who::Patients,
                };
                let words = match who {
                    Who::Operators => format!(
                        "The names in `{0}` are taken as operators, since {has} and a baseline takes {needed}: {words_of_operators}. If they are \
                         patients, say `by {0} as patients`: {words_of_patients} then.",
                        by.text
                    ),
                    _ => format!(
                        "The names in `{0}` are taken as patients, since none has the {needed} values that a baseline takes ({has}): \
                         {words_of_patients}. If they are operators, say `by {0} as operators`, with a baseline no longer than their values.",
                        by.text
                    ),
                };
                Taken {
                    who,
                    words: Some(words),
                }
            }
        })
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
