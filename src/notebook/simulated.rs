//! Statements answered by random draws.

use super::charts_of::{finish, size};
use super::probability::Beyond;
use super::render::{Rendered, Rendering};
use super::trust::{at, budget_lines, paragraph, percent, unit_of};
use crate::charts::{Axis, Histogram, Reference};
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Name};
use crate::quantity::{Reading, Unit};
use crate::sheet::{figure_with_unit, join_unit, level_words};
use crate::uncertainty::{
    Finite, Settings, Share, Simulated, Simulation, UncertaintyError, lower_bound_sentence,
    published_sentence, simulate, to_place_of, value_and_uncertainty,
};

/// Fewest draws that a probability is counted from: its standard error is then below 0.12 %.
const DRAWS_OF_PROBABILITY: usize = 200_000;

/// Quartile ranges beyond the quartiles from which draws are no longer drawn: six standard deviations
/// of a normal distribution.
const FAR: f64 = 4.0;

/// Draws of which fewer than one are counted rather than given as a share.
const FEW: usize = 1000;

/// What is left free beside the intervals of the drawing, as a share of them.
const MARGIN: f64 = 0.05;

/// `simulate NAME`: figures, the words on the linear answer, and a histogram of the draws.
pub(super) fn simulation(rendering: &Rendering<'_>, name: &Name) -> Rendered {
    let sheet = rendering.sheet;
    let cell = rendering.number_cell(name)?;
    let how = Simulation::default();
    let found = drawn(rendering, (name, cell), how)?;
    let unit = unit_of(sheet, cell);
    let near = Near::of(&found);
    let [_, shortest] = intervals(&found);
    let lines = found.shortest.iter().zip(shortest);
    let chart = Histogram {
        title: format!("{} by random draws", sheet.label(cell)),
        key: rendering.id.clone(),
        x: Axis::new(sheet.label(cell), unit.pretty()),
        counted: "draws".into(),
        values: near.values.to_vec(),
        references: lines
            .map(|(bound, text)| Reference::vertical(*bound, text))
            .collect(),
        ..Histogram::default()
    };
    let svg = chart.svg(size(rendering)?);
    let caption = [
        format!("{} draws, seed {}.", found.draws, how.seed),
        without_value_words(&found),
        figures_words(&found, unit),
        near.words(unit),
        format!(" In words: {}.", found.words()),
        published_sentence(sheet, &budget_lines(sheet, cell)),
        lower_bound_sentence(sheet, &found.unstated),
    ];
    finish(rendering, svg, chart.description(), caption.concat())
}

fn drawn(
    rendering: &Rendering<'_>,
    (name, cell): (&Name, CellId),
    how: Simulation,
) -> Result<Simulated, Vec<Diagnostic>> {
    let sheet = rendering.sheet;
    let found = simulate(sheet, cell, &Settings::of(sheet), how).map_err(|e| at(name, &e))?;
    // Whatever is drawn, it stays the same.
    if found.standard == 0.0 {
        let cell = name.text.clone();
        let why = match found.unstated.is_empty() {
            true => UncertaintyError::Exact { cell },
            false => UncertaintyError::NothingKnown { cell },
        };
        return Err(at(name, &why));
    }
    Ok(found)
}

/// How many draws gave no value, as a sentence.
fn without_value_words(found: &Simulated) -> String {
    let known = found.draws - found.without_value;
    match found.without_value {
        0 => String::new(),
        without => format!(
            " {without} of them ({}) gave no value: all figures are those of the other {known}.",
            percent(without as f64 / found.draws as f64),
        ),
    }
}

/// Mean, standard deviation and both intervals, with how well the number of draws settles them.
fn figures_words(found: &Simulated, unit: Unit) -> String {
    let level = level_words(found.coverage);
    let [symmetric, shortest] = intervals(found);
    let interval = |[low, high]: [String; 2]| format!("{low} to {}", join_unit(&high, unit));
    let settled = match found.is_stable {
        true => "stable to the digits shown (JCGM 101:2008, 7.9)",
        false => "not yet stable to the digits shown at this number of draws",
    };
    let within = found.shortest_within();
    let ends = match within > 0.0 {
        true => format!(
            ", its ends settled within {}",
            join_unit(&one_digit(within), unit)
        ),
        false => String::new(),
    };
    format!(
        " {}; symmetric {level} interval {}: {settled}. Shortest {level} interval {}{ends}.",
        moments_words(found, unit),
        interval(symmetric),
        interval(shortest),
    )
}

fn one_digit(number: f64) -> String {
    let [number] = to_place_of(10.0 * number, [number]);
    number
}

/// Ends of the symmetric and of the shortest interval, each to the digit that draws settle.
fn intervals(found: &Simulated) -> [[String; 2]; 2] {
    // The tolerance is half of the last digit, which is one tenth of what has two digits.
    let last = 20.0 * found.tolerance;
    let within = match found.shortest_within() {
        within if within > 0.0 => 10.0 * within,
        _ => last,
    };
    [
        to_place_of(last, found.symmetric),
        to_place_of(within, found.shortest),
    ]
}

fn moments_words(found: &Simulated, unit: Unit) -> String {
    let median = figure_with_unit(found.median(), unit);
    match found.finite {
        Finite::Both => {
            let [mean, u] = value_and_uncertainty(found.mean, found.standard);
            let (mean, u) = (join_unit(&mean, unit), join_unit(&u, unit));
            format!("Mean {mean}, standard deviation {u}")
        }
        Finite::Mean => format!(
            "Median {median}; a mean of three beats leaves no standard deviation to what is drawn \
             (JCGM 101:2008, 6.4.9.4)"
        ),
        Finite::Neither => format!(
            "Median {median}; a mean of two beats leaves neither mean nor standard deviation to \
             what is drawn (JCGM 101:2008, 6.4.9.4)"
        ),
    }
}

/// The draws that a histogram shows: without those so far out that all others would stand in a few
/// bars. The intervals are always within it.
struct Near<'f> {
    all: &'f [f64],
    values: &'f [f64],
    below: usize,
    above: usize,
}

impl Near<'_> {
    fn of(found: &Simulated) -> Near<'_> {
        let all = found.values();
        let quartile = |k: usize| all[(k * all.len() / 4).min(all.len() - 1)];
        let (first, third) = (quartile(1), quartile(3));
        let reach = FAR * (third - first);
        let ends = [found.symmetric, found.shortest];
        let [least, greatest] = [ends[0][0].min(ends[1][0]), ends[0][1].max(ends[1][1])];
        let margin = MARGIN * (greatest - least);
        let (from, to) = match reach > 0.0 {
            true => (
                (first - reach).min(least - margin),
                (third + reach).max(greatest + margin),
            ),
            false => (f64::NEG_INFINITY, f64::INFINITY),
        };
        let below = all.partition_point(|v| *v < from);
        let within = all.partition_point(|v| *v <= to);
        Near {
            all,
            values: &all[below..within],
            below,
            above: all.len() - within,
        }
    }

    /// What is not drawn, as a sentence.
    fn words(&self, unit: Unit) -> String {
        let share = |count: usize| match count * FEW < self.all.len() {
            true => format!("{count} of the draws"),
            false => format!(
                "{} of the draws",
                percent(count as f64 / self.all.len() as f64)
            ),
        };
        let value = |at: usize| figure_with_unit(self.all[at], unit);
        let last = self.all.len() - 1;
        let below = (self.below > 0).then(|| {
            let from = value(self.below);
            format!("{} below {from}, down to {}", share(self.below), value(0))
        });
        let above = (self.above > 0).then(|| {
            let to = value(last - self.above);
            format!("{} above {to}, up to {}", share(self.above), value(last))
        });
        let parts: Vec<String> = below.into_iter().chain(above).collect();
        match parts.is_empty() {
            true => String::new(),
            false => format!(" Outside the drawing: {}.", parts.join("; ")),
        }
    }
}

/// `show probability of NAME > 15 % by simulation`: how many draws lie beyond the threshold.
pub(super) fn probability(
    rendering: &Rendering<'_>,
    name: &Name,
    above: bool,
    threshold: &Reading,
) -> Rendered {
    let sheet = rendering.sheet;
    let beyond = Beyond::of(rendering, name, above, threshold)?;
    let cell = beyond.cell;
    let how = Simulation {
        least_draws: DRAWS_OF_PROBABILITY,
        ..Simulation::default()
    };
    let found = drawn(rendering, (name, cell), how)?;
    let share = match beyond.is_above {
        true => found.probability_above(beyond.limit),
        false => found.probability_below(beyond.limit),
    };
    let words = format!(
        "{} {}, by {} draws with seed {}.{}{}{}",
        beyond.opening(sheet),
        share_words(share),
        found.draws,
        how.seed,
        without_value_words(&found),
        published_sentence(sheet, &budget_lines(sheet, cell)),
        lower_bound_sentence(sheet, &found.unstated),
    );
    Ok(paragraph(rendering, words))
}

/// A probability with what the number of draws leaves open of it.
fn share_words(share: Share) -> String {
    let bound = percent(share.bound_of_none());
    if share.counted == 0 {
        return format!("less than {bound} (no draw lies there)");
    }
    if share.counted == share.of {
        return format!("all but less than {bound} (every draw lies there)");
    }
    let [probability, error] = [share.probability(), share.standard_error()].map(|x| 100.0 * x);
    let [probability, error] = value_and_uncertainty(probability, error);
    format!("{probability} % (standard error {error} % by the number of draws)")
}
