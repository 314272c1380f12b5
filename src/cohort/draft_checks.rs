//! `[checks]` and `[headings]` of a draft: rows compared with others of the same patient, and the names that questions ask for.

use std::fmt::Write as _;

use super::draft::{Drafting, PrivateColumns, one_line, quoted, quoted_list};
use super::draft_match::Match;
use super::draft_names::{EXAM_TIMES, INTERVENTIONS, OPERATORS, exam_words};
use super::draft_persons::whose;
use super::whom::{Whom, words};

/// What rows are told apart by.
struct Told {
    patient: usize,
    /// When exams were, in the order in which they should follow.
    times: Vec<usize>,
}

impl Drafting<'_> {
    /// Writes `[checks]` where it seems to be known whose rows they are, and `[headings]` with the names that notebooks ask for.
    pub(super) fn write_checks(
        &mut self,
        text: &mut String,
        matches: &[Option<Match>],
        private: &PrivateColumns,
    ) {
        let told = self.told(private);
        if let Some(told) = &told {
            self.unsure += 1;
            let heading = |column: &usize| self.headings[*column].as_str();
            let times = quoted_list(told.times.iter().map(heading));
            let (when, same_time) = match told.times[..] {
                [] => ("no column seems to say when exams were".to_owned(), ""),
                _ => (
                    format!("{} when exams were", times.replace('"', "`")),
                    "exams at one time, and ",
                ),
            };
            let doubt = format!(
                "unsure: `{}` seems to say whose rows they are, and {when}. A row that says the same as one before it is set aside; {same_time}\
                 numbers that are the same as in the exam before are told in the remarks.",
                heading(&told.patient)
            );
            _ = writeln!(
                text,
                "\n# {}\n[checks]\npatient = {}",
                one_line(&doubt),
                quoted(heading(&told.patient))
            );
            if !times.is_empty() {
                _ = writeln!(text, "times = [{times}]");
            }
        }
        let names = self.names(matches, told.as_ref());
        if !names.is_empty() {
            text.push_str(
                "\n# Names under which these columns leave, and that notebooks ask for.\n[headings]\n",
            );
            for (column, name) in names {
                _ = writeln!(text, "{} = \"{name}\"", quoted(&self.headings[column]));
            }
        }
    }

    fn told(&self, private: &PrivateColumns) -> Option<Told> {
        let column = |heading: &String| self.headings.iter().position(|own| own == heading);
        let patient = self
            .repeated(&private.identifiers)
            .or_else(|| whose(&private.identifiers).and_then(column))
            .filter(|column| Whom::could_be_patients(&self.headings[*column]))?;
        // Dates that may not be read so would be told in every row.
        let is_clear = private.order.is_some() || !private.is_order_unsure;
        let times = is_clear.then(|| self.exam_times(&private.dates));
        Some(Told {
            patient,
            times: times.unwrap_or_default(),
        })
    }

    /// The dates of the exams, with that of what was done between two of them.
    fn exam_times(&self, dates: &[usize]) -> Vec<usize> {
        let of_exam = |side: &str| {
            let mut dates = dates.iter().copied();
            dates.find(|column| self.says(*column, exam_words(side)))
        };
        let done = |column: &usize| self.says(*column, INTERVENTIONS);
        if let (Some(first), Some(second)) = (of_exam("before"), of_exam("after")) {
            let between = dates
                .iter()
                .copied()
                .find(|column| done(column) && ![first, second].contains(column));
            return [Some(first), between, Some(second)]
                .into_iter()
                .flatten()
                .collect();
        }
        let free: Vec<usize> = dates.iter().copied().filter(|c| !done(c)).collect();
        let named = free.iter().find(|column| self.says(**column, EXAM_TIMES));
        match (named, &free[..]) {
            (Some(named), _) => vec![*named],
            (None, [one]) => vec![*one],
            _ => Vec::new(),
        }
    }

    /// Columns that leave under the names that questions ask for.
    fn names(&self, matches: &[Option<Match>], told: Option<&Told>) -> Vec<(usize, &'static str)> {
        let mut operators = (0..self.headings.len()).filter(|column| {
            let words = words(&self.headings[*column]);
            let is_one = |word: &String| OPERATORS.iter().any(|own| word.starts_with(own));
            words.iter().any(is_one)
        });
        let day = told.and_then(|told| match told.times[..] {
            [one] => Some(one),
            _ => None,
        });
        let found = [
            (told.map(|told| told.patient), "patient"),
            (day, "day"),
            (operators.next(), "operator"),
        ];
        let is_free = |name: &str| {
            let is_heading = self.headings.iter().any(|own| own.trim() == name);
            !is_heading && self.sheet.cell(name).is_none()
        };
        let found = found
            .into_iter()
            .filter_map(|(column, name)| Some((column?, name)));
        found
            .filter(|(column, name)| matches[*column].is_none() && is_free(name))
            .collect()
    }
}
