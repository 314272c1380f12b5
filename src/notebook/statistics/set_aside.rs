//! `show set_aside`: who was left out, beside those used, column by column, in the fields as they came.

use std::collections::{BTreeMap, BTreeSet};

use crate::cohort::{Cohort, Why};
use crate::formula::notation::{Analysis, Diagnostic, likeliest};
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::capitalized;
use crate::sheet::{figure, name_in_words};
use crate::statistics::{
    StandardizedDifference, proportion, quantiles, standardized_difference,
    standardized_difference_of_shares,
};

use super::fields::name_of;
use super::level;
use super::page::{
    Answer, Table, counted, level_words, percent, refused, share_span, wilson_heading,
    with_interval,
};
use super::rows::spaced;

/// Comparisons shown where no column is named; those that differ most.
const SHOWN: usize = 20;

/// The same for a meeting.
const SHOWN_BRIEFLY: usize = 6;

/// Different words up to which a column is compared word by word.
const WORDS: usize = 8;

/// Rows that a text of a column which supplies no cell stands in before it is shown: such a column may hold what somebody typed, and
/// what stands in one row or two may tell who that is.
const LEAST_ROWS: usize = 3;

/// The notation's word for what could not be measured.
const UNOBTAINABLE: &str = "unobtainable";

/// Share of the known fields that are numbers in a column of numbers.
const NUMBERS: f64 = 0.9;

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    if !analysis.conditions.is_empty() {
        let words = "nothing is computed in a row that was set aside, so `where` has nothing to ask: leave it out";
        return Err(rendering.error(words));
    }
    let cohort = rendering.cohort(&analysis.over)?;
    let level = level(rendering);
    let counts = cohort.counts;
    let mut answer = Answer::default();
    answer.define(format!(
        "{} read, {} used and {} set aside. Fields as they came from the table, in rows used beside rows set aside.",
        counted(counts.read, "row", "rows"),
        counts.used,
        counts.set_aside
    ));
    let mut columns = columns(rendering, cohort, analysis)?;
    if cohort.set_aside.is_empty() {
        answer.note("No row was set aside: there is nothing to compare.");
        return answer.output(rendering, analysis);
    }
    answer.tables.push(reasons(rendering, cohort, level)?);
    let private = columns.iter().filter(|column| column.is_private);
    let private: Vec<String> = private.map(|column| column.name.clone()).collect();
    columns.retain(|column| !column.is_private);
    let (mut lines, mut many_words) = (Vec::new(), Vec::new());
    for column in &columns {
        match column.lines(level) {
            Some(more) => lines.extend(more),
            None => many_words.push(column.name.clone()),
        }
    }
    let is_chosen = !analysis.of.is_empty();
    let shown = match (analysis.briefly, is_chosen) {
        (true, _) => SHOWN_BRIEFLY,
        (false, true) => lines.len(),
        (false, false) => SHOWN,
    };
    if !is_chosen || analysis.briefly {
        lines.sort_by(|a, b| b.distance().total_cmp(&a.distance()));
    }
    let rest = lines.split_off(shown.min(lines.len()));
    if !lines.is_empty() {
        answer.tables.push(table(&lines, level));
    }
    if let Some(nearest) = rest.first() {
        answer.note(match nearest.distance().is_finite() && nearest.distance() >= 0.0 {
            true => format!(
                "{} differ by {} or less either way, or cannot be compared; name columns to see them: `show set_aside of NAME over {}`.",
                counted(rest.len(), "further line", "further lines"),
                figure(nearest.distance()),
                analysis.over.text
            ),
            false => format!(
                "{} cannot be compared.",
                counted(rest.len(), "further line", "further lines")
            ),
        });
    }
    if !private.is_empty() {
        answer.note(format!(
            "Not compared, because the binding names them as identifiers or dates to shift: {}.",
            private.join(", ")
        ));
    }
    if !many_words.is_empty() {
        answer.note(format!(
            "Not compared, because more than {WORDS} different words stand there: {}.",
            many_words.join(", ")
        ));
    }
    cautions(cohort, &mut answer);
    answer.output(rendering, analysis)
}

fn cautions(cohort: &Cohort, answer: &mut Answer) {
    answer.caution(
        "Missing data are rarely missing at random: the sickest are the hardest to image. Where those set aside differ, what is found \
         in those used need not hold for them.",
    );
    if cohort.counts.set_aside < 10 {
        answer.caution(format!(
            "Only {} set aside: fewer than 10, so the differences are a rough guide.",
            counted(cohort.counts.set_aside, "row was", "rows were")
        ));
    }
    let shapeless = cohort.set_aside.iter().filter(|a| a.why == Why::Shape);
    let shapeless = shapeless.count();
    if shapeless > 0 {
        answer.caution(format!(
            "{} not as many fields as headings, and cannot be compared.",
            counted(shapeless, "row set aside has", "rows set aside have")
        ));
    }
    let unpaired = cohort.set_aside.iter().filter(|a| a.why == Why::Unpaired);
    let unpaired = unpaired.count();
    if unpaired > 0 {
        answer.note(format!(
            "{} in no pair: of each only the columns of its own side are compared.",
            counted(
                unpaired,
                "row set aside is an exam",
                "rows set aside are exams"
            )
        ));
    }
    answer.note(
        "Standardized difference: set aside less used, over the root of the mean of the two variances; 0.1 either way is often taken \
         as the least that matters (Austin 2009 Stat Med 28:3083-107, memory). Rows are taken as independent.",
    );
    answer.note(
        "Numbers for which rows were set aside, such as one in the wrong unit, stand among the fields compared: medians bear them, \
         standardized differences do not.",
    );
}

/// How many rows were set aside for each reason.
pub(super) fn by_reason(cohort: &Cohort) -> BTreeMap<Why, usize> {
    let mut counts = BTreeMap::new();
    for aside in &cohort.set_aside {
        *counts.entry(aside.why).or_default() += 1;
    }
    counts
}

/// Why rows were set aside.
fn reasons(
    rendering: &Rendering<'_>,
    cohort: &Cohort,
    level: f64,
) -> Result<Table, Vec<Diagnostic>> {
    let by_reason = by_reason(cohort);
    let interval = wilson_heading(level);
    let headings = ["Reason", "Rows", "Of rows read", &interval];
    let mut table = Table::new("Why rows were set aside", &headings);
    let mut row = |name: String, count: usize| -> Result<(), Vec<Diagnostic>> {
        let found = proportion(count, cohort.counts.read, level).map_err(refused(rendering))?;
        let span = share_span(&found.wilson);
        table.row([name, count.to_string(), percent(found.value), span]);
        Ok(())
    };
    let several = by_reason.len() > 1;
    for (why, count) in by_reason {
        row(why.words().to_owned(), count)?;
    }
    if several {
        row("all of these".to_owned(), cohort.counts.set_aside)?;
    }
    Ok(table)
}

/// One line of the comparison.
struct Line {
    name: String,
    used: String,
    known_of_used: String,
    aside: String,
    known_of_aside: String,
    difference: Option<StandardizedDifference>,
}

impl Line {
    /// How far apart; below zero where that has no answer.
    fn distance(&self) -> f64 {
        self.difference.as_ref().map_or(-1.0, |d| d.value.abs())
    }
}

fn table(lines: &[Line], level: f64) -> Table {
    let difference = format!("Standardized difference ({} interval)", level_words(level));
    let mut table = Table::new(
        "Rows used beside rows set aside",
        &[
            "What",
            "Used",
            "Known",
            "Set aside",
            "Known of these",
            &difference,
        ],
    );
    for line in lines {
        let difference = match &line.difference {
            Some(found) => with_interval(found.value, &found.interval),
            None => "no answer".to_owned(),
        };
        table.row([
            line.name.clone(),
            line.used.clone(),
            line.known_of_used.clone(),
            line.aside.clone(),
            line.known_of_aside.clone(),
            difference,
        ]);
    }
    table
}

/// A column of the table, in both groups; nothing where a field says nothing.
struct Column<'c> {
    name: String,
    unit: crate::quantity::Unit,
    /// Identifiers, or dates that leave shifted: a median of them may be one person's.
    is_private: bool,
    /// Whether it supplies a cell, so that its words are those of a finding.
    is_bound: bool,
    used: Vec<Option<&'c str>>,
    aside: Vec<Option<&'c str>>,
}

/// The columns asked for, or all, in the order of the table.
fn columns<'c>(
    rendering: &Rendering<'_>,
    cohort: &'c Cohort,
    analysis: &Analysis,
) -> Result<Vec<Column<'c>>, Vec<Diagnostic>> {
    let column = |heading: &str| {
        let said = |field: &'c String| {
            let field = field.trim();
            (!cohort.says_nothing(heading, field)).then_some(field)
        };
        let used = cohort.fields(heading).unwrap_or_default();
        let aside = cohort.fields_aside(heading).unwrap_or_default();
        Column {
            name: capitalized(&name_in_words(name_of(heading))),
            unit: super::fields::unit_of(heading),
            is_private: cohort.private(heading).is_some(),
            is_bound: cohort.is_bound(heading),
            used: used.iter().map(said).collect(),
            // A row without a field for each heading is in neither group.
            aside: aside.iter().flatten().map(said).collect(),
        }
    };
    if analysis.of.is_empty() {
        let headings = cohort.table_headings().iter();
        return Ok(headings.map(|heading| column(heading)).collect());
    }
    let mut found = Vec::new();
    for subject in &analysis.of {
        if subject.is_low || subject.word.is_some() {
            let message = "a column is compared as it is: `low` and `is` say nothing here";
            return Err(vec![Diagnostic::error(message, subject.name.place)]);
        }
        let mut headings = cohort.table_headings().iter();
        match headings.find(|heading| name_of(heading) == subject.name.text) {
            Some(heading) => found.push(column(heading)),
            None => {
                let message = format!(
                    "`{}` is no column of `{}`: rows set aside have fields, and nothing computed",
                    subject.name.text, analysis.over.text
                );
                let names: Vec<&str> = cohort.table_headings().iter().map(|h| name_of(h)).collect();
                let hint = match likeliest(&subject.name.text, names.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("its columns are {}", names.join(", ")),
                };
                let error = Diagnostic::error(message, subject.name.place);
                return Err(vec![error.hint(hint)]);
            }
        }
    }
    if found.is_empty() {
        return Err(rendering.error("there is no column to compare"));
    }
    Ok(found)
}

impl Column<'_> {
    /// The lines of the comparison; `None` for a column of too many different words.
    fn lines(&self, level: f64) -> Option<Vec<Line>> {
        let known = || self.used.iter().chain(&self.aside).flatten();
        // What could not be measured makes no column of words.
        let count = known().filter(|text| **text != UNOBTAINABLE).count();
        let numbers = known().filter(|text| number(text).is_some()).count();
        let mut lines = if count == 0 {
            Vec::new()
        } else if numbers as f64 >= NUMBERS * count as f64 {
            self.lines_of_numbers(level)
        } else {
            let mut words: BTreeSet<&str> = known().copied().collect();
            if words.len() > WORDS {
                return None;
            }
            if words.len() == 2 {
                // One of two words says what the other does: the rarer is more telling.
                let count = |word: &&&str| known().filter(|said| *said == *word).count();
                let commoner = words.iter().max_by_key(count).copied();
                commoner.map(|word| words.remove(word));
            }
            self.lines_of_words(words, level)
        };
        let blank = |fields: &[Option<&str>]| fields.iter().filter(|f| f.is_none()).count();
        let (used, aside) = (blank(&self.used), blank(&self.aside));
        if used + aside > 0 {
            lines.push(self.line_of_share(
                format!("{}: says nothing", self.name),
                (used, self.used.len()),
                (aside, self.aside.len()),
                level,
            ));
        }
        Some(lines)
    }

    /// One line for each of these words; those of a column that supplies no cell and stand in few rows are counted together.
    fn lines_of_words(&self, words: BTreeSet<&str>, level: f64) -> Vec<Line> {
        let count = |fields: &[Option<&str>], word: &str| {
            let said = fields.iter().flatten();
            said.filter(|said| **said == word).count()
        };
        let (shown, rare): (Vec<&str>, Vec<&str>) = words.into_iter().partition(|word| {
            self.is_bound || count(&self.used, word) + count(&self.aside, word) >= LEAST_ROWS
        });
        let mut lines: Vec<Line> = shown
            .into_iter()
            .map(|word| self.line_of_word(word, level))
            .collect();
        if !rare.is_empty() {
            let all = |fields: &[Option<&str>]| {
                let counts = rare.iter().map(|word| count(fields, word));
                (counts.sum(), fields.iter().flatten().count())
            };
            lines.push(self.line_of_share(
                format!("{}: texts in fewer than {LEAST_ROWS} rows", self.name),
                all(&self.used),
                all(&self.aside),
                level,
            ));
        }
        lines
    }

    /// The numbers, and how many entries are none, such as `unobtainable`: those are neither known nor blank.
    fn lines_of_numbers(&self, level: f64) -> Vec<Line> {
        let other = |fields: &[Option<&str>]| {
            let said = fields.iter().flatten();
            said.filter(|text| number(text).is_none()).count()
        };
        let (used, aside) = (other(&self.used), other(&self.aside));
        let mut lines = vec![self.line_of_numbers(level)];
        if used + aside > 0 {
            lines.push(self.line_of_share(
                format!("{}: an entry that is no number", self.name),
                (used, self.used.len()),
                (aside, self.aside.len()),
                level,
            ));
        }
        lines
    }

    fn line_of_numbers(&self, level: f64) -> Line {
        let numbers = |fields: &[Option<&str>]| -> Vec<f64> {
            fields.iter().flatten().filter_map(|f| number(f)).collect()
        };
        let (used, aside) = (numbers(&self.used), numbers(&self.aside));
        let quartiles = |values: &[f64]| match quantiles(values, &[0.5, 0.25, 0.75]) {
            Ok(found) => format!(
                "median {} ({} to {})",
                crate::sheet::join_unit(&figure(found[0]), self.unit),
                figure(found[1]),
                figure(found[2])
            ),
            Err(_) => String::new(),
        };
        Line {
            name: self.name.clone(),
            used: quartiles(&used),
            known_of_used: of(used.len(), self.used.len()),
            aside: quartiles(&aside),
            known_of_aside: of(aside.len(), self.aside.len()),
            difference: standardized_difference(&used, &aside, level).ok(),
        }
    }

    fn line_of_word(&self, word: &str, level: f64) -> Line {
        let counts = |fields: &[Option<&str>]| {
            let said = fields.iter().filter(|field| **field == Some(word)).count();
            (said, fields.iter().flatten().count())
        };
        let name = format!("{}: {}", self.name, spaced(word));
        let mut line = self.line_of_share(name, counts(&self.used), counts(&self.aside), level);
        line.known_of_used = of(counts(&self.used).1, self.used.len());
        line.known_of_aside = of(counts(&self.aside).1, self.aside.len());
        line
    }

    fn line_of_share(
        &self,
        name: String,
        used: (usize, usize),
        aside: (usize, usize),
        level: f64,
    ) -> Line {
        let share = |(count, of): (usize, usize)| match of {
            0 => String::new(),
            _ => format!("{} ({count})", percent(count as f64 / of as f64)),
        };
        Line {
            name,
            used: share(used),
            known_of_used: of(used.1, self.used.len()),
            aside: share(aside),
            known_of_aside: of(aside.1, self.aside.len()),
            difference: standardized_difference_of_shares(used, aside, level).ok(),
        }
    }
}

fn of(count: usize, all: usize) -> String {
    format!("{count} of {all}")
}

/// A finite number as the fields of a table write it.
fn number(text: &str) -> Option<f64> {
    text.parse::<f64>().ok().filter(|value| value.is_finite())
}
