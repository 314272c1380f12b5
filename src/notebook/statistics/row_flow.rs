//! `show row_flow`: which rows a result rests on, in the manner of STARD's flow of participants.

use crate::charts::{FlowCount, FlowStep, RowFlow};
use crate::cohort::Cohort;
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::capitalized;

use super::outcome::Classes;
use super::page::{Answer, Drawing, size, undrawn};
use super::rows::{LeftOut, Rows};
use super::set_aside::by_reason;

/// Width of the drawing, px; its height follows from what it says.
const WIDTH: u32 = 640;

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let flow = flow(rendering, analysis)?;
    let drawing = Drawing {
        svg: flow
            .svg(size(rendering, WIDTH, flow.fitting_height(WIDTH))?)
            .map_err(undrawn(rendering))?,
        description: flow.description(),
    };
    let answer = Answer {
        drawing: Some(drawing),
        ..Answer::default()
    };
    answer.output(rendering, analysis)
}

fn flow(rendering: &Rendering<'_>, analysis: &Analysis) -> Result<RowFlow, Vec<Diagnostic>> {
    let mut flow = RowFlow {
        title: analysis
            .title
            .clone()
            .unwrap_or_else(|| "Which rows the result rests on".to_owned()),
        key: rendering.id.clone(),
        ..RowFlow::default()
    };
    let (rows, left_out) = match analysis.against {
        None => with_all_known(rendering, analysis)?,
        Some(_) => {
            let classes = Classes::of(rendering, analysis)?;
            let with = classes.positive.iter().filter(|p| **p).count();
            let without = classes.positive.len() - with;
            flow.classes = vec![
                FlowCount::new(capitalized(&classes.response), with),
                FlowCount::new("Without it", without),
            ];
            (classes.rows, classes.left_out)
        }
    };
    let counts = rows.cohort.counts;
    let by_condition: usize = rows.left_out.iter().map(|l| l.count).sum();
    let asked = counts.used - by_condition;
    let step = |name: &str, count: usize, left_out: &[LeftOut]| FlowStep {
        rows: FlowCount::new(name, count),
        left_out: left_out
            .iter()
            .filter(|l| l.count > 0)
            .map(|l| FlowCount::new(capitalized(&l.words()), l.count))
            .collect(),
    };
    let aside = set_aside(rows.cohort);
    flow.steps.push(step("Rows read", counts.read, &aside));
    flow.steps
        .push(step("Rows used", counts.used, &rows.left_out));
    if !analysis.conditions.is_empty() {
        let met: Vec<String> = analysis
            .conditions
            .iter()
            .map(|c| rows.in_words(c))
            .collect();
        let name = capitalized(&met.join(" and "));
        flow.steps.push(step(&name, asked, &left_out));
    } else if let Some(used) = flow.steps.last_mut() {
        used.left_out = step("", 0, &left_out).left_out;
    }
    flow.steps.push(step("Analyzed", rows.kept.len(), &[]));
    Ok(flow)
}

/// The rows set aside, by reason.
fn set_aside(cohort: &Cohort) -> Vec<LeftOut> {
    let left_out = by_reason(cohort)
        .into_iter()
        .map(|(why, count)| LeftOut::because(format!("set aside: {}", why.words()), count));
    left_out.collect()
}

/// Rows in which every subject is known, where there is no response to have.
fn with_all_known<'r>(
    rendering: &'r Rendering<'r>,
    analysis: &'r Analysis,
) -> Result<(Rows<'r>, Vec<LeftOut>), Vec<Diagnostic>> {
    let mut rows = Rows::of(rendering, analysis)?;
    let conditions = rows.left_out.len();
    for subject in &analysis.of {
        let known = rows.is_known(&subject.name)?;
        let name = rows.said(&subject.name);
        rows.keep_where_known(&subject.name.text, &name, |row| known[row]);
        rows.keep_not_rough(&subject.name, &name);
    }
    let left_out = rows.left_out.split_off(conditions);
    Ok((rows, left_out))
}
