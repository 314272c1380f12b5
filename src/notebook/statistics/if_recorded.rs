//! `if recorded`: a question that a table need not have the columns for. What of it the table lacks is said in words, so that
//! one notebook serves tables with more columns and with fewer.

use maud::{PreEscaped, html};

use super::fields::Fields;
use super::lacking::never_given;
use super::rows::{exam_label, in_code, spaced};
use crate::cohort::Cohort;
use crate::formula::notation::{Analysis, Diagnostic, ErrorOf, Name, Question, Subject};
use crate::notebook::output::Output;
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::capitalized;
use crate::sheet::{Sheet, in_sentence};

/// Answers as far as the table goes, and says what it lacks.
pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let cohort = rendering.cohort(&analysis.over)?;
    let mut asked = Asked {
        sheet: rendering.sheet,
        analysis: Analysis {
            if_recorded: false,
            ..analysis.clone()
        },
        cohort,
        said: Vec::new(),
    };
    if let Some(why) = asked.leave_out() {
        return Ok(not_asked(rendering, analysis, &why));
    }
    let without = asked.without_error();
    let found = super::asked(rendering, &asked.analysis);
    let found = match (found, without) {
        (Err(why), Some(without)) => match super::asked(rendering, &without) {
            Ok(output) => {
                let why = words(&why);
                asked
                    .said
                    .push(format!("Nothing is said of error alone: {why}."));
                Ok(output)
            }
            Err(_) => Err(why),
        },
        (found, _) => found,
    };
    Ok(match found {
        Ok(output) => with_words(output, &asked.said),
        Err(why) => not_asked(rendering, analysis, &words(&why)),
    })
}

struct Asked<'c> {
    sheet: &'c Sheet,
    analysis: Analysis,
    cohort: &'c Cohort,
    /// What was left out, in sentences.
    said: Vec<String>,
}

impl Asked<'_> {
    fn is_recorded(&self, name: &Name) -> bool {
        Fields::of(self.cohort, &name.text).is_some() || self.cohort.column(&name.text).is_some()
    }

    /// Leaves out what the table has no column for; why nothing is left to ask, if so.
    fn leave_out(&mut self) -> Option<String> {
        let (kept, lost): (Vec<Subject>, Vec<Subject>) = {
            let of = self.analysis.of.iter().cloned();
            of.partition(|subject| self.is_recorded(&subject.name))
        };
        let lost: Vec<&Name> = lost.iter().map(|s| &s.name).collect();
        let stands_alone = kept.is_empty() || is_of_two(self.analysis.question);
        if !lost.is_empty() && stands_alone {
            return Some(self.lacks(&lost));
        }
        let needed: Vec<&Name> = {
            let a = &self.analysis;
            let conditions = a.against.iter().chain(&a.conditions).map(|c| &c.name);
            let others = a.dose.iter().chain(&a.along);
            let split = a.split.iter().map(|(name, _)| name);
            let off = a.off.iter().map(|(name, _)| name);
            let by = a.by.iter().filter(|_| is_by_someone(a.question));
            conditions
                .chain(others)
                .chain(split)
                .chain(off)
                .chain(by)
                .collect()
        };
        let absent: Vec<&Name> = needed
            .into_iter()
            .filter(|n| !self.is_recorded(n))
            .collect();
        if !absent.is_empty() {
            return Some(self.lacks(&absent));
        }
        if !lost.is_empty() {
            self.said.push(format!("Left out: {}.", self.lacks(&lost)));
        }
        self.analysis.of = kept;
        if let Some(by) = self.analysis.by.clone().filter(|by| !self.is_recorded(by)) {
            let lacks = self.lacks(&[&by]);
            self.said
                .push(format!("Not told apart by {}: {lacks}.", spaced(&by.text)));
            self.analysis.by = None;
        }
        None
    }

    /// `the table has no column for day`; of a cell that is computed, for what it is computed from.
    fn lacks(&self, names: &[&Name]) -> String {
        let mut absent: Vec<String> = Vec::new();
        let mut needed: Vec<String> = Vec::new();
        for name in names {
            let cell = self.sheet.cell(&name.text);
            let of = match cell.filter(|cell| self.sheet.is_derived(*cell)) {
                Some(cell) => never_given(self.sheet, self.cohort, cell).readings,
                None => Vec::new(),
            };
            if of.is_empty() {
                absent.push(name.text.clone());
                continue;
            }
            needed.push(name.text.clone());
            for input in of {
                if !absent.contains(&input) {
                    absent.push(input);
                }
            }
        }
        let lacks = format!("the table has no column for {}", in_code(&absent));
        match needed.is_empty() {
            true => lacks,
            false => format!("{lacks}, which {} rests on", in_code(&needed)),
        }
    }

    /// The same question without a clause `error from` rows, if it has one.
    fn without_error(&self) -> Option<Analysis> {
        let is_from_rows = matches!(self.analysis.error, Some(ErrorOf::Rows(_)));
        is_from_rows.then(|| Analysis {
            error: None,
            ..self.analysis.clone()
        })
    }
}

/// Questions that two quantities make together.
fn is_of_two(question: Question) -> bool {
    matches!(
        question,
        Question::Agreement | Question::Repeatability | Question::Jumps | Question::Change
    )
}

/// Questions that are about who is who.
fn is_by_someone(question: Question) -> bool {
    matches!(question, Question::Funnel | Question::Drift)
}

/// Diagnostics as part of a sentence.
fn words(found: &[Diagnostic]) -> String {
    let one = |found: &Diagnostic| match found.hint_text() {
        Some(hint) => format!("{}; {hint}", found.message()),
        None => found.message().to_owned(),
    };
    let all: Vec<String> = found.iter().map(one).collect();
    all.join("; ").trim_end_matches('.').to_owned()
}

/// What was asked, and why it has no answer here.
fn not_asked(rendering: &Rendering<'_>, analysis: &Analysis, why: &str) -> Output {
    let said = |name: &Name| match rendering.sheet.cell(&name.text) {
        Some(cell) => in_sentence(&exam_label(rendering.sheet.label(cell), &name.text)),
        None => spaced(&name.text),
    };
    let of: Vec<String> = analysis.of.iter().map(|s| said(&s.name)).collect();
    let asked = match &analysis.title {
        Some(title) => title.clone(),
        None => {
            let question = match analysis.question {
                Question::Roc => "ROC".to_owned(),
                _ => spaced(analysis.word),
            };
            capitalized(&match of.is_empty() {
                true => question,
                false => format!("{question} of {}", of.join(", ")),
            })
        }
    };
    let line = format!("{asked}: not answered over this table, because {why}.");
    let html = html! { p.definition { (super::page::with_code(&line)) } };
    Output::new(&rendering.id, line.replace('`', ""), html.into_string())
}

/// An answer with what was left out above it.
fn with_words(output: Output, said: &[String]) -> Output {
    if said.is_empty() {
        return output;
    }
    let lines: Vec<String> = said.iter().map(|line| line.replace('`', "")).collect();
    let html = html! {
        @for line in said { p.definition { (super::page::with_code(line)) } }
        (PreEscaped(&output.html))
    };
    Output {
        text: format!("{}\n{}", lines.join("\n"), output.text),
        html: html.into_string(),
        ..output
    }
}
