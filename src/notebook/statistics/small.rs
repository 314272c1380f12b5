//! Cautions beside shares of few rows, of few patients, or of hardly any rows on one side.

use super::page::{Answer, counted};

/// Rows of which each one is 5 % of a share (common practice, no source).
const ADVISED: usize = 20;
/// Patients below which an interval that is widened for them is a rough guide (common practice, no source).
const ADVISED_PATIENTS: usize = 10;
/// So many rows on each side of a share, or one row more or less moves it much (common practice, no source).
const ADVISED_OF_SIDE: usize = 5;
/// From so many rows on a share near its end is known well all the same.
const MANY: usize = 100;
/// Most that are named; the others are counted.
const MOST_NAMED: usize = 6;

/// The shares of an answer that rest on small numbers.
#[derive(Debug, Default)]
pub(super) struct Small {
    of_few_rows: Vec<String>,
    of_few_patients: Vec<String>,
    near_an_end: Vec<String>,
}

/// A share as it is looked at.
pub(super) struct Looked<'l> {
    /// Whose share it is.
    pub(super) rows: &'l str,
    /// The share itself.
    pub(super) share: &'l str,
    pub(super) count: usize,
    pub(super) of: usize,
    /// Where several rows may be one patient's.
    pub(super) patients: Option<usize>,
}

impl Small {
    /// A share of rows alone, whose end is no surprise.
    pub(super) fn look_rows(&mut self, rows: &str, of: usize) {
        self.look_few(format!("{rows} ({})", counted(of, "row", "rows")), of);
    }

    /// A share of so few, which are named in `words`.
    pub(super) fn look_few(&mut self, words: String, of: usize) {
        if of > 0 && of < ADVISED {
            once(&mut self.of_few_rows, words);
        }
    }

    pub(super) fn look(&mut self, at: &Looked<'_>) {
        let patients = at.patients.filter(|patients| *patients < at.of);
        if at.of < ADVISED
            && let Some(patients) = patients
        {
            once(&mut self.of_few_rows, of_patients(at, patients));
            return;
        }
        self.look_rows(at.rows, at.of);
        if at.of >= ADVISED && at.of < MANY && at.count.min(at.of - at.count) < ADVISED_OF_SIDE {
            let words = format!("{} ({} of {})", at.share, at.count, at.of);
            once(&mut self.near_an_end, words);
        }
        if let Some(patients) = patients.filter(|p| *p < ADVISED_PATIENTS) {
            once(&mut self.of_few_patients, of_patients(at, patients));
        }
    }

    pub(super) fn caution(self, answer: &mut Answer) {
        for (named, says) in [
            (
                self.of_few_rows,
                format!("each one is more than 5 % of a share of fewer than {ADVISED}"),
            ),
            (
                self.of_few_patients,
                format!(
                    "rows of fewer than {ADVISED_PATIENTS} patients, which tell less than as many rows of as many patients"
                ),
            ),
            (
                self.near_an_end,
                format!(
                    "fewer than {ADVISED_OF_SIDE} rows on one side of a share, so that one more or less moves it much"
                ),
            ),
        ] {
            if named.is_empty() {
                continue;
            }
            let rest = named.len().saturating_sub(MOST_NAMED);
            let mut shown = named[..named.len() - rest].join("; ");
            if rest > 0 {
                shown.push_str(&format!("; and {rest} more"));
            }
            answer.caution(format!("Small numbers: {says}: {shown}."));
        }
    }
}

/// `Change (6 rows of 1 patient)`.
fn of_patients(at: &Looked<'_>, patients: usize) -> String {
    let (rows, of) = (
        counted(at.of, "row", "rows"),
        counted(patients, "patient", "patients"),
    );
    format!("{} ({rows} of {of})", at.rows)
}

fn once(all: &mut Vec<String>, words: String) {
    if !all.contains(&words) {
        all.push(words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cautions(shares: &[(usize, usize, Option<usize>)]) -> Vec<String> {
        let mut small = Small::default();
        for (count, of, patients) in shares {
            small.look(&Looked {
                rows: "A",
                share: "A above 10 %",
                count: *count,
                of: *of,
                patients: *patients,
            });
        }
        let mut answer = Answer::default();
        small.caution(&mut answer);
        answer.cautions
    }

    #[test]
    fn small_numbers_are_named_once_and_large_ones_are_not() {
        assert_eq!(
            cautions(&[(10, 20, None), (0, 100, Some(10)), (0, 0, None)]),
            [""; 0]
        );
        let few = cautions(&[(4, 4, None), (1, 4, None)]);
        assert_eq!(few.len(), 1);
        assert!(few[0].ends_with(": A (4 rows)."), "{few:?}");
        let few = cautions(&[(6, 6, Some(1)), (30, 60, Some(9)), (4, 32, None)]);
        assert!(few[0].ends_with(": A (6 rows of 1 patient)."), "{few:?}");
        assert!(few[1].ends_with(": A (60 rows of 9 patients)."), "{few:?}");
        assert!(few[2].ends_with(": A above 10 % (4 of 32)."), "{few:?}");
    }
}
