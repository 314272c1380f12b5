//! `show completeness`: what was kept of each exam, over all and by operator.

use crate::charts::{Share, ShareBars};
use crate::formula::notation::{Analysis, Diagnostic};
use crate::notebook::render::{Rendered, Rendering};
use crate::sheet::name_in_words;
use crate::statistics::proportion;

use super::level;
use super::outcome::accounting;
use super::page::{
    Answer, Drawing, Table, counted, percent, refused, share, share_span, size, undrawn,
    wilson_heading,
};
use super::rows::Rows;
use super::small::Small;

/// One thing that can be kept, row by row.
struct Kept {
    name: String,
    is_kept: Vec<bool>,
    /// There, but estimated or assumed, and not to be counted.
    is_rough: Vec<bool>,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let rows = Rows::of(rendering, analysis)?;
    let level = level(rendering);
    let things = things(&rows, analysis)?;
    let mut answer = Answer::default();
    answer.define(format!(
        "What was kept, of {}{}. A blank counts as not kept.",
        counted(rows.kept.len(), "row", "rows"),
        rows.all_in_words(" where ", &analysis.conditions)
    ));
    answer.define(accounting(&rows, &[]));
    estimated(&rows, &things)
        .into_iter()
        .for_each(|words| answer.define(words));
    let interval = wilson_heading(level);
    let mut table = Table::new("Completeness", &["What", "Kept", &interval]);
    let mut shares = Vec::new();
    let mut small = Small::default();
    small.look_rows("all", rows.kept.len());
    for thing in &things {
        let found = proportion(thing.count(&rows.kept), rows.kept.len(), level)
            .map_err(refused(rendering))?;
        table.row([thing.name.clone(), share(&found), share_span(&found.wilson)]);
        shares.push(Share::new(thing.name.clone(), 100.0 * found.value));
    }
    let all = rows
        .kept
        .iter()
        .filter(|row| things.iter().all(|t| t.is_there(**row)))
        .count();
    if things.len() > 1 {
        let found = proportion(all, rows.kept.len(), level).map_err(refused(rendering))?;
        table.row([
            "all of these".to_owned(),
            share(&found),
            share_span(&found.wilson),
        ]);
    }
    // For a meeting the last row of the operators' table says it.
    if !(analysis.briefly && analysis.by.is_some()) {
        answer.tables.push(table);
    }
    if let Some(by) = &analysis.by {
        answer
            .tables
            .push(by_operator(&rows, &things, by, &mut small)?);
        answer.note("Operators side by side with limits by how much they did: `show funnel`.");
    }
    small.caution(&mut answer);
    let chart = ShareBars {
        title: analysis
            .title
            .clone()
            .unwrap_or_else(|| "What was kept".to_owned()),
        key: rendering.id.clone(),
        label: "Share of the rows".to_owned(),
        shares,
    };
    let height = 110 + 40 * things.len().min(20) as u32;
    answer.drawing = Some(Drawing {
        svg: chart
            .svg(size(rendering, 640, height.max(240))?)
            .map_err(undrawn(rendering))?,
        description: chart.description(),
    });
    answer.output(rendering, analysis)
}

fn things(rows: &Rows<'_>, analysis: &Analysis) -> Result<Vec<Kept>, Vec<Diagnostic>> {
    let mut things = Vec::new();
    for subject in &analysis.of {
        let name = rows.said(&subject.name);
        let is_rough = rows.is_left_out_as_rough(&subject.name);
        things.push(match &subject.word {
            Some(word) => {
                let says = rows.says(&subject.name, word)?;
                Kept {
                    name,
                    is_kept: says.into_iter().map(|s| s == Some(true)).collect(),
                    is_rough,
                }
            }
            None => Kept {
                name,
                is_kept: rows.is_known(&subject.name)?,
                is_rough,
            },
        });
    }
    Ok(things)
}

impl Kept {
    fn count(&self, rows: &[usize]) -> usize {
        rows.iter().filter(|row| self.is_there(**row)).count()
    }

    fn is_there(&self, row: usize) -> bool {
        self.is_kept[row] && !self.is_rough[row]
    }
}

/// What is there and not counted, because nobody recorded it; nothing where there is none.
fn estimated(rows: &Rows<'_>, things: &[Kept]) -> Option<String> {
    let count = |thing: &Kept| {
        let kept = rows.kept.iter();
        kept.filter(|row| thing.is_kept[**row] && thing.is_rough[**row])
            .count()
    };
    let counts = things.iter().map(|thing| (&thing.name, count(thing)));
    let said: Vec<String> = counts
        .filter(|(_, count)| *count > 0)
        .map(|(name, count)| format!("{name} {count}"))
        .collect();
    (!said.is_empty()).then(|| {
        format!(
            "Estimated or assumed, and not counted as kept: {}.",
            said.join(", ")
        )
    })
}

fn by_operator(
    rows: &Rows<'_>,
    things: &[Kept],
    by: &crate::formula::notation::Name,
    small: &mut Small,
) -> Result<Table, Vec<Diagnostic>> {
    let mut headings = vec!["Who", "Rows"];
    headings.extend(things.iter().map(|thing| thing.name.as_str()));
    let mut table = Table::new(format!("By {}", name_in_words(&by.text)), &headings);
    let mut groups = rows.grouped_with_blank(by)?;
    groups.push(("all".to_owned(), rows.kept.clone()));
    for (name, members) in groups {
        small.look_rows(&name, members.len());
        let mut fields = vec![name, members.len().to_string()];
        let share = |thing: &Kept| percent(thing.count(&members) as f64 / members.len() as f64);
        fields.extend(things.iter().map(share));
        table.row(fields);
    }
    Ok(table)
}
