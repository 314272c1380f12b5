//! Exams of a long table paired around an intervention, one pair a row.
//!
//! All exams are held in memory. Exams read = two for each pair + exams set aside, always: what is
//! not paired is refused with the reason, and everything after this sees a table of pairs.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use chrono::NaiveDateTime;

use super::checks::{Check, Why};
use super::dates::{DateForm, moment, way_out};
use super::error::CohortError;
use super::forms::Forms;
use super::pair_columns::Columns;
use super::pair_entry::{PairEntry, after, before};
use super::row::is_nothing;
use super::rows::row_told;
use super::table::Table;
use super::text_rows::{Refused, Split, TextRows};
use super::withheld::{NOT_SHOWN, not_repeated};

/// How many exams went where.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Exams {
    /// Exams read.
    pub read: usize,
    /// Pairs made of two exams each.
    pub pairs: usize,
    /// Exams that are in no pair.
    pub unpaired: usize,
}

/// A table of pairs.
pub(super) struct Paired {
    pub(super) headings: Vec<String>,
    pub(super) exams: Exams,
    pub(super) rows: Option<Split>,
    /// Whether the fields may be written in a way that they have to show.
    pub(super) is_open: bool,
}

/// An exam as it came.
struct Exam {
    /// Number of the row, from 0.
    number: usize,
    fields: Vec<String>,
    is_number: Vec<bool>,
}

impl Exam {
    /// The number by which people are told its row.
    fn row(&self) -> usize {
        row_told(0, self.number)
    }
}

/// Where an exam stands.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Placed {
    is_after: bool,
    at: Option<NaiveDateTime>,
}

impl Paired {
    /// Pairs the exams of a table. `withholds` tells whether a text in the place of a word for before or after is not repeated, since
    /// it may tell who somebody is.
    ///
    /// # Errors
    /// Columns that the table does not have, a rule that is not one, and a table that cannot be
    /// read.
    pub(super) fn of(
        mut table: Table,
        entry: &PairEntry,
        form: DateForm,
        withholds: bool,
    ) -> Result<Paired, CohortError> {
        let columns = Columns::of(&table, entry)?;
        let is_open = table.head()?.is_some();
        let width = table.headings().len();
        let mut exams = Vec::new();
        let (mut refused, mut read) = (Vec::new(), 0);
        while let Some(piece) = table.next_piece()? {
            let taken = piece.take_apart(width, &Forms::default())?;
            for row in 0..taken.rows.len() {
                exams.push(Exam {
                    number: read + taken.rows.number(row),
                    fields: taken.rows.owned_fields(row, width),
                    is_number: (0..width).map(|c| taken.rows.is_number(row, c)).collect(),
                });
            }
            refused.extend(taken.refused.into_iter().map(|one| Refused {
                number: read + one.number,
                ..one
            }));
            read += taken.count;
        }
        let pairing = Pairing {
            entry,
            form,
            withholds,
            columns,
            headings: table.headings().to_vec(),
        };
        Ok(pairing.table(exams, refused, read, is_open))
    }
}

struct Pairing<'e> {
    entry: &'e PairEntry,
    form: DateForm,
    withholds: bool,
    columns: Columns,
    headings: Vec<String>,
}

/// Exams of one person around one intervention.
type Episode = Vec<(Exam, Placed)>;

/// The rows that make a pair, by the numbers that people are told.
struct Chosen {
    first: usize,
    second: usize,
}

/// An exam that is in no pair.
struct Left {
    exam: Exam,
    is_after: bool,
    why: Why,
    reason: String,
}

impl Pairing<'_> {
    fn table(
        self,
        exams: Vec<Exam>,
        mut refused: Vec<Refused>,
        read: usize,
        is_open: bool,
    ) -> Paired {
        let mut episodes: BTreeMap<Vec<String>, Episode> = BTreeMap::new();
        let mut left = Vec::new();
        for exam in exams {
            match self.placed(&exam) {
                Ok(placed) => {
                    let key = self.key(&exam);
                    episodes.entry(key).or_default().push((exam, placed));
                }
                Err(reason) => left.push(Left {
                    exam,
                    is_after: false,
                    why: Why::Unpaired,
                    reason,
                }),
            }
        }
        let mut pairs: Vec<(Exam, Exam)> = Vec::new();
        for episode in episodes.into_values() {
            let episode = told_once(episode, &mut left);
            self.pair(episode, &mut pairs, &mut left);
        }
        pairs.sort_by_key(|(first, _)| first.number);
        let headings = self.wide_headings();
        let mut rows = TextRows::of_width(headings.len());
        for (first, second) in &pairs {
            self.write_pair(&mut rows, first, second);
        }
        refused.extend(left.iter().map(|left| self.refused(left)));
        refused.sort_by_key(|refused| refused.number);
        let exams = Exams {
            read,
            pairs: pairs.len(),
            unpaired: refused.len(),
        };
        let count = pairs.len() + refused.len();
        Paired {
            headings,
            exams,
            is_open,
            rows: (count > 0).then_some(Split {
                rows,
                refused,
                count,
            }),
        }
    }

    /// Whose exam it is, around which intervention.
    fn key(&self, exam: &Exam) -> Vec<String> {
        let columns = &self.columns;
        let all = [Some(columns.of), columns.episode, columns.intervention];
        let all = all.into_iter().flatten();
        all.map(|column| exam.fields[column].trim().to_owned())
            .collect()
    }

    /// Before or after, and when.
    fn placed(&self, exam: &Exam) -> Result<Placed, String> {
        let columns = &self.columns;
        let field = |column: usize| exam.fields[column].trim();
        let heading = |column: usize| self.headings[column].trim();
        for column in [Some(columns.of), columns.episode].into_iter().flatten() {
            if field(column).is_empty() {
                return Err(format!(
                    "`{}` is blank, so the exam cannot be paired",
                    heading(column)
                ));
            }
        }
        let when = |column: usize| {
            moment(field(column), self.form).ok_or_else(|| {
                format!(
                    "{}: what stands there is no date with or without a time of day, such as 2031-05-17 07:30{}",
                    heading(column),
                    way_out(field(column), self.form)
                )
            })
        };
        let at = columns.time.map(when).transpose()?;
        let is_after = match (columns.phase, columns.intervention) {
            (Some(column), _) => self.phase(heading(column), field(column))?,
            (None, Some(column)) => at > Some(when(column)?),
            (None, None) => return Err("nothing tells before from after".into()),
        };
        Ok(Placed { is_after, at })
    }

    fn phase(&self, heading: &str, field: &str) -> Result<bool, String> {
        match self.said(field) {
            (true, false) => Ok(false),
            (false, true) => Ok(true),
            _ => {
                let is = format!(
                    "is neither a word for before ({}) nor one for after ({})",
                    self.entry.before.join(", "),
                    self.entry.after.join(", ")
                );
                Err(match self.hides_phase(field) {
                    true => format!("{heading}: {}", not_repeated(&is)),
                    false => format!("{heading}: `{field}` {is}"),
                })
            }
        }
    }

    /// Whether a text is a word for before, and whether it is one for after.
    fn said(&self, field: &str) -> (bool, bool) {
        let field = field.trim().to_lowercase();
        let is_among = |words: &[String]| words.iter().any(|w| w.trim().to_lowercase() == field);
        (is_among(&self.entry.before), is_among(&self.entry.after))
    }

    /// Whether what stands in the column of phases is not repeated: it is no word of that column, and may be a name.
    fn hides_phase(&self, field: &str) -> bool {
        self.withholds && !is_nothing(field) && self.said(field) == (false, false)
    }

    /// The last before with the first after; everything else is left. No exam stands twice.
    fn pair(&self, episode: Episode, pairs: &mut Vec<(Exam, Exam)>, left: &mut Vec<Left>) {
        match self.chosen(&episode) {
            Ok(chosen) => {
                let (mut first, mut second) = (None, None);
                for (exam, placed) in episode {
                    if exam.row() == chosen.first {
                        first = Some(exam);
                    } else if exam.row() == chosen.second {
                        second = Some(exam);
                    } else {
                        let reason = match placed.is_after {
                            false => format!(
                                "not paired: the exam in row {} is later and still before",
                                chosen.first
                            ),
                            true => format!(
                                "not paired: the exam in row {} is earlier and already after",
                                chosen.second
                            ),
                        };
                        left.push(Left {
                            exam,
                            is_after: placed.is_after,
                            why: Why::Unpaired,
                            reason,
                        });
                    }
                }
                pairs.extend(first.zip(second));
            }
            Err(reason) => left.extend(episode.into_iter().map(|(exam, placed)| Left {
                exam,
                is_after: placed.is_after,
                why: Why::Unpaired,
                reason: reason.clone(),
            })),
        }
    }

    /// The exams that make the pair.
    fn chosen(&self, episode: &Episode) -> Result<Chosen, String> {
        let first = self.outermost(episode, false)?;
        let second = self.outermost(episode, true)?;
        let (first_row, second_row) = (first.0.row(), second.0.row());
        if let (Some(from), Some(to)) = (first.1.at, second.1.at) {
            if to <= from {
                return Err(format!(
                    "not paired: the exam after (row {second_row}) is not later than the one before (row {first_row})"
                ));
            }
            let hours = (to - from).as_seconds_f64() / 3600.0;
            if self.entry.within_hours.is_some_and(|most| hours > most) {
                return Err(format!(
                    "not paired: {hours:.1} hours lie between rows {first_row} and {second_row}"
                ));
            }
        }
        for column in &self.columns.kept {
            let (a, b) = (
                first.0.fields[*column].trim(),
                second.0.fields[*column].trim(),
            );
            if !a.is_empty() && !b.is_empty() && a != b {
                // What they are is not said: it may be a name or a date.
                return Err(format!(
                    "not paired: {} is not the same in rows {first_row} and {second_row}",
                    self.headings[*column]
                ));
            }
        }
        Ok(Chosen {
            first: first_row,
            second: second_row,
        })
    }

    /// The last exam before, or the first after.
    fn outermost<'e>(
        &self,
        episode: &'e Episode,
        is_after: bool,
    ) -> Result<&'e (Exam, Placed), String> {
        let mut exams: Vec<&(Exam, Placed)> = episode
            .iter()
            .filter(|e| e.1.is_after == is_after)
            .collect();
        exams.sort_by_key(|(_, placed)| placed.at);
        if !is_after {
            exams.reverse();
        }
        let side = if is_after { "after" } else { "before" };
        match exams[..] {
            [] => Err(format!("not paired: there is no exam {side}")),
            [one, other, ..] if one.1.at == other.1.at => {
                let (one, other) = (one.0.row(), other.0.row());
                Err(format!(
                    "not paired: rows {} and {} are both exams {side}, and no time tells them apart",
                    one.min(other),
                    one.max(other)
                ))
            }
            [one, ..] => Ok(one),
        }
    }

    fn wide_headings(&self) -> Vec<String> {
        let of = |columns: &[usize]| -> Vec<&str> {
            columns.iter().map(|c| &*self.headings[*c]).collect()
        };
        let kept = of(&self.columns.kept).into_iter().map(str::to_owned);
        let others = of(&self.columns.others);
        let befores = others.iter().map(|h| before(h));
        let afters = others.iter().map(|h| after(h));
        kept.chain(befores).chain(afters).collect()
    }

    fn write_pair(&self, rows: &mut TextRows, first: &Exam, second: &Exam) {
        for column in &self.columns.kept {
            // What one exam does not say the other may.
            let says = |exam: &&&Exam| !exam.fields[*column].trim().is_empty();
            let exam = [first, second]
                .iter()
                .find(says)
                .map_or(first, |exam| *exam);
            rows.push_field(&exam.fields[*column], exam.is_number[*column]);
        }
        for exam in [first, second] {
            for column in &self.columns.others {
                rows.push_field(&exam.fields[*column], exam.is_number[*column]);
            }
        }
        rows.end_row(first.number);
    }

    /// An exam alone, under the headings of its side.
    fn refused(&self, left: &Left) -> Refused {
        let shown = |column: &usize| {
            let field = &left.exam.fields[*column];
            match self.columns.phase == Some(*column) && self.hides_phase(field) {
                true => NOT_SHOWN.to_owned(),
                false => field.clone(),
            }
        };
        let blank = self.columns.others.iter().map(|_| String::new());
        let own = self.columns.others.iter().map(shown);
        let kept = self.columns.kept.iter().map(shown);
        let sides: Vec<String> = match left.is_after {
            false => own.chain(blank).collect(),
            true => blank.chain(own).collect(),
        };
        Refused {
            number: left.exam.number,
            fields: kept.chain(sides).collect(),
            is_regular: true,
            why: left.why,
            reason: left.reason.clone(),
        }
    }
}

/// An episode without exams that stand in the table twice: a row in which all fields say the same as in one before it is that exam once
/// more, which no pair is lost for.
fn told_once(episode: Episode, left: &mut Vec<Left>) -> Episode {
    let mut met: BTreeMap<Vec<String>, usize> = BTreeMap::new();
    let mut once = Episode::with_capacity(episode.len());
    for (exam, placed) in episode {
        let says = exam.fields.iter().map(|field| field.trim().to_owned());
        match met.entry(says.collect()) {
            Entry::Vacant(entry) => {
                entry.insert(exam.row());
                once.push((exam, placed));
            }
            Entry::Occupied(entry) => left.push(Left {
                reason: format!("the same as row {}: the exam is told twice", entry.get()),
                exam,
                is_after: placed.is_after,
                why: Why::Check(Check::SameRow),
            }),
        }
    }
    once
}
