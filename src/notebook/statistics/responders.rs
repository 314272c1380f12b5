//! `show responders`: how many, by every definition asked for, beside those that error alone would make.

use crate::formula::notation::{Analysis, Diagnostic, Name, number};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::{figure, figure_as_given};
use crate::statistics::{Clusters, proportion, proportion_clustered};

use super::beside::{tell_split, two_things};
use super::definition::Definition;
use super::estimates::{ALTHOUGH_IT_CANCELS, is_change};
use super::level;
use super::noise::{Noise, not_asked};
use super::outcome::{WIDENED, accounting, clusters, clusters_among, rows_come_from};
use super::page::{
    Answer, OF_ONE_PATIENT, Table, counted, level_words, percent, refused, share, share_span,
};
use super::rows::{Column, LeftOut, Rows};
use super::small::{Looked, Small};
use crate::notebook::sides::{is_below, is_beyond};

/// The rows of one group.
struct Group {
    name: String,
    rows: Vec<usize>,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let rows = Rows::of(rendering, analysis)?;
    let level = level(rendering);
    let groups = groups(&rows, analysis)?;
    let patients = Patients::of(&rows, analysis)?;
    let way = match patients {
        Some(_) => "Wilson, widened for patients who repeat",
        None => "Wilson",
    };
    let headings = [
        "Response",
        "Rows with it known",
        "Responders",
        &format!("{} interval, {way}", level_words(level)),
        "From error alone, were there no effect",
    ];
    let mut answer = Answer::default();
    answer.define(format!(
        "Responders over {}{}.",
        counted(rows.kept.len(), "row", "rows"),
        rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    answer.define("A change that lies exactly at a line is neither above nor below it, and counts as no response.");
    let mut small = Small::default();
    let mut table = Table::new("Responders, observed beside expected", &headings);
    let mut definitions = 0;
    let mut formulas = Vec::new();
    let (mut rough, mut left_out, mut unknown) = (0, Vec::new(), Vec::new());
    for subject in &analysis.of {
        let column = rows.numbers(&subject.name)?;
        formulas.extend(rows.formula(&subject.name));
        let kept = rows.kept.iter();
        let estimated = kept.filter(|row| column.is_rough(**row)).count();
        match analysis.with_estimated {
            true => rough += estimated,
            false if estimated > 0 => left_out.push(format!("{} {estimated}", column.said())),
            false => {}
        }
        unknown.extend(not_known(&rows, &column));
        let noise = noise(&rows, analysis, &subject.name, &column, &mut answer)?;
        if let Some((split, _)) = &analysis.split {
            two_things(
                split,
                &subject.name,
                "the response and what its rows are split by",
            )?;
            let names = [&subject.name, split];
            tell_split(&rows, names, &rows.numbers(split)?, &mut answer);
        }
        for at in &analysis.at {
            let threshold = rows.in_unit(&column, &subject.name, at)?;
            for group in &groups {
                definitions += 1;
                let counts = Counted {
                    column: &column,
                    threshold,
                    group,
                    noise: noise.as_ref(),
                    patients: patients.as_ref(),
                    of: &rows,
                };
                table.row(counts.row(rendering, level, &mut small)?);
            }
        }
    }
    if !unknown.is_empty() {
        let words = LeftOut::all_in_words(&unknown).join(", ");
        answer.define(Definition::with_reasons(
            format!("Left out of the counts: {words}."),
            "Left out of the counts:".to_owned(),
            unknown,
        ));
    }
    if !left_out.is_empty() {
        answer.define(format!(
            "Left out of the counts, because they rest on an estimated or assumed reading: {}.",
            left_out.join(", ")
        ));
        if analysis.of.iter().any(|subject| is_change(&subject.name)) {
            answer.define(ALTHOUGH_IT_CANCELS);
        }
    }
    if !formulas.is_empty() {
        answer.define(formulas.join(" "));
    }
    answer.tables.push(table);
    small.caution(&mut answer);
    cautions(patients.as_ref(), analysis, definitions, rough, &mut answer);
    answer.output(rendering, analysis)
}

/// Why a response is not known, and in how many rows.
fn not_known(rows: &Rows<'_>, column: &Column) -> Vec<LeftOut> {
    rows.unknown(&column.name, &column.said(), &rows.unknown_in(column))
}

/// The error of the changes, told beside the results.
fn noise(
    rows: &Rows<'_>,
    analysis: &Analysis,
    name: &Name,
    column: &Column,
    answer: &mut Answer,
) -> Result<Option<Noise>, Vec<Diagnostic>> {
    let noise = Noise::of(rows, analysis, name, column)?;
    if let Some(noise) = &noise {
        noise.caution(answer);
        let mut seen = Vec::new();
        for at in &analysis.at {
            let threshold = rows.in_unit(column, name, at)?;
            let beyond = noise.repeats.iter().filter(|c| is_beyond(**c, threshold));
            seen.push(format!(
                "{} {}",
                beyond.count(),
                beyond_words(column, threshold)
            ));
        }
        let seen = match noise.repeats.is_empty() {
            true => String::new(),
            false => format!("; of these rows went {}", seen.join(", ")),
        };
        let before = format!("Error of {}: ", column.said());
        let assumption = noise.assumption(column);
        let after = format!("{seen}. Expected from it alone: {assumption}.");
        answer.define(noise.definition(&before, &after));
    }
    Ok(noise)
}

fn beyond_words(column: &Column, threshold: f64) -> String {
    let figure = column.with_unit(&figure_as_given(threshold));
    match threshold < 0.0 {
        true => format!("below {figure}"),
        false => format!("above {figure}"),
    }
}

/// One definition in one group.
struct Counted<'c> {
    column: &'c Column,
    threshold: f64,
    group: &'c Group,
    noise: Option<&'c Noise>,
    patients: Option<&'c Patients>,
    of: &'c Rows<'c>,
}

/// Whose the kept rows are, where a patient has several.
struct Patients {
    of_kept: Clusters,
    /// Where each row used stands among the kept ones.
    position: Vec<Option<usize>>,
}

impl Counted<'_> {
    fn row(
        &self,
        rendering: &Rendering<'_>,
        level: f64,
        small: &mut Small,
    ) -> Result<Vec<String>, Vec<Diagnostic>> {
        let rows = self.group.rows.iter().copied();
        let is_known = |row: &usize| self.column.value(*row).is_some();
        let rows = rows.filter(|row| is_known(row) && self.of.counts(self.column, *row));
        let rows: Vec<usize> = rows.collect();
        let known: Vec<f64> = rows
            .iter()
            .filter_map(|row| self.column.value(*row))
            .collect();
        let words = beyond_words(self.column, self.threshold);
        let name = match self.group.name.is_empty() {
            true => format!("{} {words}", self.column.label),
            false => format!("{} {words}, {}", self.column.label, self.group.name),
        };
        if known.is_empty() {
            return Ok(vec![name, "0".to_owned()]);
        }
        let is_beyond = |change: &f64| is_beyond(*change, self.threshold);
        let is_responder: Vec<bool> = known.iter().map(is_beyond).collect();
        let beyond = is_responder.iter().filter(|is_beyond| **is_beyond).count();
        let found = proportion(beyond, known.len(), level).map_err(refused(rendering))?;
        let patients = self.patients.map(|all| all.among(rendering, &rows));
        let patients = patients.transpose()?;
        small.look(&Looked {
            rows: match self.group.name.is_empty() {
                true => &self.column.label,
                false => &self.group.name,
            },
            share: &name,
            count: beyond,
            of: known.len(),
            patients: patients.as_ref().map(Clusters::count),
        });
        let span = match &patients {
            Some(patients) => widened_span(rendering, &is_responder, patients, level)?,
            None => share_span(&found.wilson),
        };
        let expected = match self.noise {
            None => "not asked".to_owned(),
            Some(noise) => {
                let share = noise
                    .error
                    .share_beyond(self.threshold)
                    .map_err(refused(rendering))?;
                format!(
                    "{} ({} of {})",
                    percent(share),
                    figure(share * known.len() as f64),
                    known.len()
                )
            }
        };
        Ok(vec![
            name,
            known.len().to_string(),
            share(&found),
            span,
            expected,
        ])
    }
}

impl Patients {
    /// The patients, where the statement says how to tell them and one of them has several rows.
    fn of(rows: &Rows<'_>, analysis: &Analysis) -> Result<Option<Patients>, Vec<Diagnostic>> {
        let of_kept = clusters(rows, analysis)?.filter(Clusters::repeat);
        Ok(of_kept.map(|of_kept| {
            let mut position = vec![None; rows.cohort.counts.used];
            for (at, row) in rows.kept.iter().enumerate() {
                position[*row] = Some(at);
            }
            Patients { of_kept, position }
        }))
    }

    /// Those whom some of the kept rows are of.
    fn among(
        &self,
        rendering: &Rendering<'_>,
        rows: &[usize],
    ) -> Result<Clusters, Vec<Diagnostic>> {
        let positions = rows.iter().filter_map(|row| self.position[*row]);
        clusters_among(rendering, &self.of_kept, &positions.collect::<Vec<_>>())
    }
}

/// The interval of a share of rows, several of which may be one patient's; of a single patient there is none.
fn widened_span(
    rendering: &Rendering<'_>,
    is_responder: &[bool],
    patients: &Clusters,
    level: f64,
) -> Result<String, Vec<Diagnostic>> {
    if patients.count() < 2 {
        return Ok(OF_ONE_PATIENT.to_owned());
    }
    let found = proportion_clustered(is_responder, patients, level);
    Ok(share_span(&found.map_err(refused(rendering))?.interval))
}

/// The rows in the groups of `split`, or all in one.
fn groups(rows: &Rows<'_>, analysis: &Analysis) -> Result<Vec<Group>, Vec<Diagnostic>> {
    let Some((name, ends)) = &analysis.split else {
        return Ok(vec![Group {
            name: String::new(),
            rows: rows.kept.clone(),
        }]);
    };
    let column = rows.numbers(name)?;
    let ends = ends.iter().map(|end| rows.in_unit(&column, name, end));
    let ends = ends.collect::<Result<Vec<f64>, _>>()?;
    if ends.windows(2).any(|pair| pair[0] >= pair[1]) {
        return Err(rows
            .rendering
            .error("the ends of the groups rise from one to the next"));
    }
    let at = |value: f64| column.with_unit(&number(value));
    let said = column.said();
    let mut groups = Vec::new();
    for index in 0..=ends.len() {
        let low = index.checked_sub(1).map(|i| ends[i]);
        let high = ends.get(index).copied();
        let name = match (low, high) {
            (None, Some(high)) => format!("{said} under {}", at(high)),
            (Some(low), None) => format!("{said} {} or more", at(low)),
            (Some(low), Some(high)) => format!("{said} {} to under {}", at(low), at(high)),
            (None, None) => String::new(),
        };
        let inside = |row: &usize| {
            column.value(*row).is_some_and(|v| {
                low.is_none_or(|low| !is_below(v, low)) && high.is_none_or(|high| is_below(v, high))
            })
        };
        groups.push(Group {
            name,
            rows: rows.kept.iter().copied().filter(inside).collect(),
        });
    }
    let unknown = rows.unknown_in(&column);
    if !unknown.is_empty() {
        groups.push(Group {
            name: format!("{said} not known"),
            rows: unknown,
        });
    }
    Ok(groups)
}

fn cautions(
    patients: Option<&Patients>,
    analysis: &Analysis,
    definitions: usize,
    rough: usize,
    answer: &mut Answer,
) {
    if definitions > 1 {
        answer.caution(format!(
            "{definitions} counts were looked at: report the definition that was chosen beforehand, and say that there were others."
        ));
    }
    if let Some(patients) = patients {
        answer.note(format!(
            "{}, whose rows are alike: each interval is {WIDENED}.",
            rows_come_from(&patients.of_kept)
        ));
    } else if analysis.by.is_none() {
        answer.caution("The intervals take every row as a patient of its own; say who is who, such as `by patient`.");
    }
    if rough > 0 {
        answer.caution(format!(
            "{rough} of the changes rest on an estimated or assumed reading."
        ));
    }
    match &analysis.error {
        None => answer.note(not_asked("How many error alone would make")),
        Some(_) => answer.note(
            "An excess over what error alone would make is a change, not proof that fluid made it.",
        ),
    }
}
