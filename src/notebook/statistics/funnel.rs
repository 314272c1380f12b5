//! `show funnel`: operators side by side, each judged by how much they did.

use crate::charts::{Axis, BandPoint, FunnelMark, FunnelPlace, FunnelPlot};
use crate::formula::notation::{Analysis, Diagnostic, Name};
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::words::capitalized;
use crate::sheet::{figure, in_sentence, name_in_words};
use crate::statistics::Clusters;
use crate::statistics::quality::{
    Funnel, FunnelPoint, FunnelPosition, funnel_of_means, funnel_of_proportions,
};

use super::fields::Fields;
use super::outcome::accounting;
use super::page::{Answer, Drawing, Table, counted, percent, refused, size, undrawn};
use super::rows::{NOT_SAID, Rows, spaced};

/// Sizes at which limits are drawn.
const STEPS: usize = 60;

/// What operators are compared by.
struct Compared {
    label: String,
    unit: &'static str,
    /// Shares are shown in per cent.
    factor: f64,
    names: Vec<String>,
    found: Funnel,
    /// Limits over sizes.
    limits: Vec<FunnelPoint>,
}

pub(super) fn answer(rendering: &Rendering<'_>, analysis: &Analysis) -> Rendered {
    let ([subject], Some(by)) = (&analysis.of[..], &analysis.by) else {
        return Err(
            rendering.error("operators are compared by one quantity: ask for each by itself")
        );
    };
    let mut rows = Rows::of(rendering, analysis)?;
    let of_nobody = rows.blank_rows(by)?;
    rows.keep_said(by)?;
    let compared = match &subject.word {
        Some(word) => {
            let says = rows.says(&subject.name, word)?;
            let what = name_in_words(&subject.name.text);
            rows.keep_if(format!("{what} not said"), |row| says[row].is_some());
            rows.keep_not_rough(&subject.name, &what);
            shares(
                &rows,
                analysis,
                &says,
                capitalized(&format!("{what}: {}", spaced(&word.text))),
            )?
        }
        None => {
            let column = rows.numbers(&subject.name)?;
            rows.keep_read(&column)?;
            means(&rows, analysis, &column)?
        }
    };
    let mut answer = Answer::default();
    answer.define(format!(
        "{} of {}, {}{}; each is compared with all together, {}.",
        compared.label,
        counted(compared.names.len(), "operator", "operators"),
        counted(rows.kept.len(), "row", "rows"),
        rows.all_in_words(" where ", &analysis.conditions),
        compared.shown(compared.found.target)
    ));
    answer.define(accounting(&rows, &[]));
    answer.warn(&compared.found.warnings);
    let mut table = compared.table();
    if !of_nobody.is_empty() {
        table.row([
            NOT_SAID.to_owned(),
            of_nobody.len().to_string(),
            String::new(),
            String::new(),
            "not compared".to_owned(),
        ]);
    }
    answer.tables.push(table);
    answer.note(format!("Limits: 95 % and 99.8 % (Spiegelhalter 2005 Stat Med 24:1185-202). Operators see different patients; beyond a limit is a reason to ask why. {}", told_by(&rows, by)));
    answer.drawing = Some(compared.draw(rendering, analysis)?);
    answer.output(rendering, analysis)
}

/// How operators are told apart, which a binding may keep from being shown.
fn told_by(rows: &Rows<'_>, by: &Name) -> String {
    let fields = Fields::of(rows.cohort, &by.text);
    match fields.is_some_and(|fields| fields.private.is_some()) {
        true => format!(
            "They are told apart by `{}`, and shown by number because the binding names it as an identifier.",
            by.text
        ),
        false => format!("They are told apart by `{}` as the table has it.", by.text),
    }
}

fn operators(
    rows: &Rows<'_>,
    analysis: &Analysis,
) -> Result<Vec<(String, Vec<usize>)>, Vec<Diagnostic>> {
    let Some(by) = &analysis.by else {
        return Err(rows
            .rendering
            .error("`by` and the column of operators belong here"));
    };
    let groups = rows.grouped(by)?;
    if groups.len() < 2 {
        let message = format!("`{}` names fewer than two operators in these rows", by.text);
        return Err(vec![Diagnostic::error(message, by.place)]);
    }
    Ok(groups)
}

fn shares(
    rows: &Rows<'_>,
    analysis: &Analysis,
    says: &[Option<bool>],
    label: String,
) -> Result<Compared, Vec<Diagnostic>> {
    let refused = refused(rows.rendering);
    let groups = operators(rows, analysis)?;
    let count = |of: &Vec<usize>| of.iter().filter(|row| says[**row] == Some(true)).count();
    let counts: Vec<usize> = groups.iter().map(|(_, of)| count(of)).collect();
    let sizes: Vec<usize> = groups.iter().map(|(_, of)| of.len()).collect();
    let said = label.replace(": ", " is ");
    rows.check_share_varies(&in_sentence(&said), counts.iter().sum(), sizes.iter().sum())?;
    let found = funnel_of_proportions(&counts, &sizes, None).map_err(&refused)?;
    let over = steps(&sizes);
    let limits =
        funnel_of_proportions(&vec![0; over.len()], &over, Some(found.target)).map_err(&refused)?;
    Ok(Compared {
        label,
        unit: "%",
        factor: 100.0,
        names: groups.into_iter().map(|(name, _)| name).collect(),
        found,
        limits: limits.points,
    })
}

fn means(
    rows: &Rows<'_>,
    analysis: &Analysis,
    column: &super::rows::Column,
) -> Result<Compared, Vec<Diagnostic>> {
    let refused = refused(rows.rendering);
    let groups = operators(rows, analysis)?;
    let (mut values, mut of) = (Vec::new(), Vec::new());
    for (at, (_, members)) in groups.iter().enumerate() {
        for value in members.iter().filter_map(|row| column.value(*row)) {
            values.push(value);
            of.push(at);
        }
    }
    let clusters = Clusters::new(&of).map_err(&refused)?;
    let found = funnel_of_means(&values, &clusters, None).map_err(&refused)?;
    let sizes: Vec<usize> = groups.iter().map(|(_, members)| members.len()).collect();
    let limits = found.points.first().map_or_else(Vec::new, |first| {
        scaled(first, found.target, &steps(&sizes))
    });
    Ok(Compared {
        label: format!("Mean {}", in_sentence(&column.label)),
        unit: column.unit.pretty(),
        factor: 1.0,
        names: groups.into_iter().map(|(name, _)| name).collect(),
        found,
        limits,
    })
}

/// Limits of a mean narrow with the root of the size.
fn scaled(first: &FunnelPoint, target: f64, sizes: &[usize]) -> Vec<FunnelPoint> {
    let at = |size: &usize| {
        let share = (first.size as f64 / *size as f64).sqrt();
        let around = |mut interval: crate::statistics::Interval| {
            interval.lower = target - (target - interval.lower) * share;
            interval.upper = target + (interval.upper - target) * share;
            interval
        };
        FunnelPoint {
            size: *size,
            inner: around(first.inner),
            outer: around(first.outer),
            ..*first
        }
    };
    sizes.iter().map(at).collect()
}

/// Sizes from a little below the smallest to a little above the largest.
fn steps(sizes: &[usize]) -> Vec<usize> {
    let low = sizes.iter().min().map_or(1, |s| (s * 7 / 10).max(2));
    let high = sizes.iter().max().map_or(1, |s| s * 11 / 10 + 1);
    let at = |i: usize| low + (high.saturating_sub(low)) * i / STEPS;
    let mut all: Vec<usize> = (0..=STEPS).map(at).collect();
    all.dedup();
    all
}

impl Compared {
    fn shown(&self, value: f64) -> String {
        match self.factor == 100.0 {
            true => percent(value),
            false => format!("{} {}", figure(value), self.unit)
                .trim_end()
                .to_owned(),
        }
    }

    fn name(&self, point: &FunnelPoint) -> String {
        self.names.get(point.operator).cloned().unwrap_or_default()
    }

    fn table(&self) -> Table {
        let mut table = Table::new(
            &self.label,
            &["Operator", "Rows", &self.label, "95 % limits", "Where"],
        );
        for point in &self.found.points {
            let place = match point.position {
                FunnelPosition::Inside => "inside",
                FunnelPosition::BeyondInner => "beyond the 95 % limits",
                FunnelPosition::BeyondOuter => "beyond the 99.8 % limits",
            };
            table.row([
                self.name(point),
                point.size.to_string(),
                self.shown(point.value),
                format!(
                    "{} to {}",
                    self.shown(point.inner.lower),
                    self.shown(point.inner.upper)
                ),
                place.to_owned(),
            ]);
        }
        table
    }

    fn draw(
        &self,
        rendering: &Rendering<'_>,
        analysis: &Analysis,
    ) -> Result<Drawing, Vec<Diagnostic>> {
        let band = |f: fn(&FunnelPoint) -> crate::statistics::Interval| -> Vec<BandPoint> {
            let at = |point: &FunnelPoint| BandPoint {
                x: point.size as f64,
                low: f(point).lower * self.factor,
                high: f(point).upper * self.factor,
            };
            self.limits.iter().map(at).collect()
        };
        let mark = |point: &FunnelPoint| FunnelMark {
            label: self.name(point),
            size: point.size as f64,
            value: point.value * self.factor,
            place: match point.position {
                FunnelPosition::Inside => FunnelPlace::Inside,
                FunnelPosition::BeyondInner => FunnelPlace::BeyondInner,
                FunnelPosition::BeyondOuter => FunnelPlace::BeyondOuter,
            },
        };
        let chart = FunnelPlot {
            title: analysis
                .title
                .clone()
                .unwrap_or_else(|| format!("{} by operator", self.label)),
            key: rendering.id.clone(),
            x: Axis::new("Rows", ""),
            y: Axis::new(self.label.clone(), self.unit),
            target: self.found.target * self.factor,
            inner: band(|p| p.inner),
            outer: band(|p| p.outer),
            inner_name: "95 % limits".to_owned(),
            outer_name: "99.8 % limits".to_owned(),
            points: self.found.points.iter().map(mark).collect(),
        };
        Ok(Drawing {
            svg: chart
                .svg(size(rendering, 720, 420)?)
                .map_err(undrawn(rendering))?,
            description: chart.description(),
        })
    }
}
