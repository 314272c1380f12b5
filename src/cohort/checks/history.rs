//! What is remembered of rows before, patient by patient.

use foldhash::HashMap;

use super::digest::TextDigest;
use super::long::Long;

/// Exams of a patient that are looked through one by one; with more of them they are found by their digests.
const FEW: usize = 32;

/// The rows before, as far as telling what comes again takes.
#[derive(Default)]
pub(super) struct History {
    /// Where each patient stands in `people`, by the digest of the identifier.
    patients: HashMap<TextDigest, usize>,
    people: Long<Person>,
    exams: Long<Exam>,
    /// Numbers of rows by patient, times and what they say, and of first rows by patient and times, of those with more than a few.
    crowded: HashMap<(usize, u64, Option<u64>), usize>,
}

#[derive(Clone, Copy, Default)]
struct Person {
    /// Where the newest exam stands in `exams`, if there is any.
    newest: usize,
    count: usize,
}

/// A row, as it is recognized by.
#[derive(Clone, Copy)]
struct Exam {
    row: Row,
    /// Where the patient's exam before stands, if this is not the first.
    before: usize,
}

/// A row of a patient by digests.
#[derive(Clone, Copy)]
pub(super) struct Row {
    pub(super) times: u64,
    /// What it says besides.
    pub(super) said: u64,
    pub(super) number: usize,
}

/// Numbers of rows before that a row is like.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Before {
    /// The first of the patient at the same times.
    pub(super) at_the_same_times: Option<usize>,
    /// The one that says the same.
    pub(super) same: Option<usize>,
}

impl History {
    /// The places of patients among those met so far.
    pub(super) fn patients(&mut self, identifiers: &[TextDigest]) -> Vec<usize> {
        // Memory is waited for once for many of them, not once for each, as long as nothing is added.
        let known = identifiers
            .iter()
            .map(|one| self.patients.get(one).copied());
        let known: Vec<Option<usize>> = known.collect();
        let all = identifiers.iter().zip(known);
        all.map(|(one, known)| known.unwrap_or_else(|| self.patient(*one)))
            .collect()
    }

    fn patient(&mut self, identifier: TextDigest) -> usize {
        let next = self.people.len();
        let place = *self.patients.entry(identifier).or_insert(next);
        if place == next {
            self.people.push(Person::default());
        }
        place
    }

    /// What rows of the patient before are like this one, which is remembered unless one says the same.
    pub(super) fn meet(&mut self, patient: usize, row: Row) -> Before {
        let before = match self.people[patient].count > FEW {
            true => self.found(patient, row),
            false => self.walked(patient, row),
        };
        if before.same.is_none() {
            self.remember(patient, row);
        }
        before
    }

    fn found(&self, patient: usize, row: Row) -> Before {
        let of = |said| self.crowded.get(&(patient, row.times, said)).copied();
        Before {
            at_the_same_times: of(None),
            same: of(Some(row.said)),
        }
    }

    /// From the newest to the oldest, so that the last found is the first in the table.
    fn walked(&self, patient: usize, row: Row) -> Before {
        let mut before = Before::default();
        for exam in self.exams_of(patient) {
            if exam.times == row.times {
                before.at_the_same_times = Some(exam.number);
                if exam.said == row.said {
                    before.same = Some(exam.number);
                }
            }
        }
        before
    }

    /// The exams of a patient, the newest first.
    fn exams_of(&self, patient: usize) -> impl Iterator<Item = Row> {
        let Person { newest, count } = self.people[patient];
        let mut next = newest;
        (0..count).map(move |_| {
            let Exam { row, before } = self.exams[next];
            next = before;
            row
        })
    }

    fn remember(&mut self, patient: usize, row: Row) {
        let place = self.exams.len();
        let person = &mut self.people[patient];
        let before = std::mem::replace(&mut person.newest, place);
        person.count += 1;
        let count = person.count;
        self.exams.push(Exam { row, before });
        if count == FEW + 1 {
            let rows: Vec<Row> = self.exams_of(patient).collect();
            let oldest_first = rows.into_iter().rev();
            oldest_first.for_each(|row| self.crowd(patient, row));
        } else if count > FEW {
            self.crowd(patient, row);
        }
    }

    fn crowd(&mut self, patient: usize, row: Row) {
        let Row {
            times,
            said,
            number,
        } = row;
        self.crowded.entry((patient, times, None)).or_insert(number);
        self.crowded.insert((patient, times, Some(said)), number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(times: u64, said: u64, number: usize) -> Row {
        Row {
            times,
            said,
            number,
        }
    }

    #[test]
    fn patients_keep_their_places() {
        let mut history = History::default();
        let mut places = |names: &[&str]| {
            let digests: Vec<TextDigest> = names.iter().map(|name| TextDigest::of(name)).collect();
            history.patients(&digests)
        };
        assert_eq!(places(&["a", "a", "b", "a"]), [0, 0, 1, 0]);
        assert!(places(&[]).is_empty());
        assert_eq!(places(&["c", "b", "d", "b", "d", "a"]), [2, 1, 3, 1, 3, 0]);
    }

    /// The slow obvious judge: all rows before, one by one.
    #[test]
    fn few_exams_and_many_are_remembered_alike() {
        let mut history = History::default();
        let patient = history.patient(TextDigest::of("a"));
        let other = history.patient(TextDigest::of("b"));
        let mut met: Vec<Row> = Vec::new();
        for number in 1..=400 {
            // Times come again after seven rows or eleven, what is said after 55.
            let row = row(
                (number % 7 * number % 11) as u64,
                (number % 55) as u64,
                number,
            );
            let at_once = met.iter().filter(|m| m.times == row.times);
            let expected = Before {
                at_the_same_times: at_once.clone().map(|m| m.number).next(),
                same: at_once
                    .filter(|m| m.said == row.said)
                    .map(|m| m.number)
                    .next(),
            };
            assert_eq!(history.meet(patient, row), expected, "{number}");
            met.push(row);
        }
        assert!(history.people[patient].count > FEW);
        assert_eq!(history.meet(other, row(0, 0, 401)), Before::default());
    }
}
