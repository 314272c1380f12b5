//! What is remembered of rows before, patient by patient.

use foldhash::HashMap;

use super::digest::of_text;

/// Exams of a patient that are looked through one by one; with more of them they are found by their digests.
const FEW: usize = 32;

/// The rows before, as far as telling what comes again takes.
#[derive(Default)]
pub(super) struct History {
    /// Where each patient stands in `people`, by the digest of the identifier.
    patients: HashMap<[u64; 2], usize>,
    people: Vec<Person>,
    exams: Vec<Exam>,
    /// Numbers of rows by patient, times and what they say, and of first rows by patient and times, of those with more than a few.
    crowded: HashMap<(usize, u64, Option<u64>), usize>,
    /// The identifier of the row before, and where that patient stands: rows of a patient often follow each other.
    recent: (String, usize),
}

#[derive(Default)]
struct Person {
    /// Where the newest exam stands in `exams`.
    newest: Option<usize>,
    count: usize,
}

/// A row, as it is recognized by.
struct Exam {
    row: Row,
    /// The patient's exam before.
    before: Option<usize>,
}

/// A row of a patient by digests.
#[derive(Clone, Copy)]
pub(super) struct Row {
    pub(super) times: u64,
    /// All that it says.
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
    /// The place of a patient among those met so far.
    pub(super) fn patient(&mut self, identifier: &str) -> usize {
        if self.recent.0 == identifier && !self.people.is_empty() {
            return self.recent.1;
        }
        let next = self.people.len();
        let place = *self.patients.entry(of_text(identifier)).or_insert(next);
        if place == next {
            self.people.push(Person::default());
        }
        self.recent.0.clear();
        self.recent.0.push_str(identifier);
        self.recent.1 = place;
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
        let mut next = self.people[patient].newest;
        while let Some(exam) = next.map(|place| &self.exams[place]) {
            if exam.row.times == row.times {
                before.at_the_same_times = Some(exam.row.number);
                if exam.row.said == row.said {
                    before.same = Some(exam.row.number);
                }
            }
            next = exam.before;
        }
        before
    }

    fn remember(&mut self, patient: usize, row: Row) {
        let place = self.exams.len();
        let person = &mut self.people[patient];
        let before = person.newest.replace(place);
        person.count += 1;
        let count = person.count;
        self.exams.push(Exam { row, before });
        if count == FEW + 1 {
            let mut rows = Vec::with_capacity(count);
            let mut next = Some(place);
            while let Some(exam) = next.map(|place| &self.exams[place]) {
                rows.push(exam.row);
                next = exam.before;
            }
            rows.into_iter()
                .rev()
                .for_each(|row| self.crowd(patient, row));
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
        let places: Vec<usize> = ["a", "a", "b", "a", "c", "b", "b"]
            .iter()
            .map(|identifier| history.patient(identifier))
            .collect();
        assert_eq!(places, [0, 0, 1, 0, 2, 1, 1]);
    }

    /// The slow obvious judge: all rows before, one by one.
    #[test]
    fn few_exams_and_many_are_remembered_alike() {
        let mut history = History::default();
        let patient = history.patient("a");
        let other = history.patient("b");
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
