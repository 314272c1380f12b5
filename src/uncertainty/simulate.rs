//! Monte Carlo (JCGM 101:2008): draws as lanes of the evaluator that computes the sheet itself.

use super::draws::{Shape, Stream};
use super::error::UncertaintyError;
use super::linear::propagate;
use super::settings::Settings;
use super::source::{Cause, Source, sources};
use crate::formula::{CellId, Facet, Lane, Lanes};
use crate::quantity::SpreadForm;
use crate::sheet::{Block, Program, Sheet};

/// Draws in a block.
const WIDTH: usize = 256;
/// Blocks between two looks at whether the figures are stable: 10,240 draws (clause 7.9.4 asks
/// for at least 10,000).
const BATCH: usize = 40;

/// How to simulate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Simulation {
    /// The seed; the same seed gives the same figures.
    pub seed: u64,
    /// Significant digits of the standard uncertainty that must be stable, 1 or 2.
    pub digits: u32,
    /// Most draws, rounded up to whole batches of 10,240.
    pub most_draws: usize,
    /// Threads; the figures do not depend on them.
    pub threads: usize,
}

impl Default for Simulation {
    fn default() -> Self {
        Simulation {
            seed: 1,
            digits: 2,
            most_draws: 1_000_000,
            threads: 1,
        }
    }
}

/// What a simulation found.
#[derive(Clone, Debug, PartialEq)]
pub struct Simulated {
    /// Mean of the draws, in the cell's unit.
    pub mean: f64,
    /// Standard deviation of the draws.
    pub standard: f64,
    /// The interval with equal probability left out on both sides.
    pub symmetric: [f64; 2],
    /// The shortest interval of the coverage.
    pub shortest: [f64; 2],
    /// Draws made.
    pub draws: usize,
    /// Draws that gave no value, which are left out of all figures.
    pub without_value: usize,
    /// Whether the figures became stable within the cap (clause 7.9.4).
    pub is_stable: bool,
    /// The numerical tolerance that stability was judged by.
    pub tolerance: f64,
    /// Whether the linear interval agrees within the tolerance (clause 8.1); `None` where there
    /// is no linear answer.
    pub linear_agrees: Option<bool>,
    /// Readings that stated no uncertainty and were held fixed.
    pub unstated: Vec<CellId>,
    values: Vec<f64>,
}

impl Simulated {
    /// The values drawn, sorted.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Share of the draws above a threshold in the cell's unit.
    pub fn probability_above(&self, threshold: f64) -> f64 {
        let below = self.values.partition_point(|v| *v <= threshold);
        1.0 - below as f64 / self.values.len() as f64
    }

    /// Whether the linear answer will do, in words.
    pub fn words(&self) -> &'static str {
        match self.linear_agrees {
            Some(true) => "the linear uncertainty agrees with the simulation",
            Some(false) => {
                "the linear uncertainty is not good enough here: use the simulated interval"
            }
            None => "there is no linear uncertainty here: use the simulated interval",
        }
    }
}

/// Simulates a cell: adaptive, until its figures are stable or the cap is reached.
///
/// # Errors
/// [`UncertaintyError`]: the cell is not known, the settings are impossible, or too few draws
/// give it a value.
pub fn simulate(
    sheet: &Sheet,
    cell: CellId,
    settings: &Settings,
    simulation: Simulation,
) -> Result<Simulated, UncertaintyError> {
    if !(1..=2).contains(&simulation.digits) {
        return Err(UncertaintyError::Number {
            what: "the number of stable digits",
            value: f64::from(simulation.digits),
            way_out: "use 1 or 2",
        });
    }
    settings.check(sheet)?;
    if sheet.value(cell).is_none() || !sheet.words(cell).is_empty() {
        let cell = sheet.name(cell);
        return Err(UncertaintyError::NotKnown { cell });
    }
    let plan = Plan::new(sheet, cell, settings, simulation.seed)?;
    let most = simulation.most_draws.div_ceil(WIDTH * BATCH).max(2);
    let mut values: Vec<f64> = Vec::new();
    let mut batches: Vec<Figures> = Vec::new();
    let (mut is_stable, mut tolerance, mut made) = (false, 0.0, 0);
    while made < most && !is_stable {
        let batch = plan.batch(made * BATCH, simulation.threads.max(1));
        made += 1;
        if batch.len() * 2 < WIDTH * BATCH {
            return Err(UncertaintyError::TooFewKnown {
                cell: sheet.name(cell),
                known: batch.len(),
                draws: WIDTH * BATCH,
            });
        }
        let mut sorted = batch.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        batches.push(Figures::of(&batch, &sorted, settings.coverage));
        values.extend(batch);
        if made >= 2 {
            let all = Figures::moments(&values);
            tolerance = numerical_tolerance(all[1], simulation.digits);
            is_stable = are_stable(&batches, tolerance);
        }
    }
    let in_order = values.clone();
    values.sort_unstable_by(f64::total_cmp);
    let figures = Figures::of(&in_order, &values, settings.coverage);
    let linear = propagate(sheet, cell, settings).ok();
    let agrees = |ends: [f64; 2], low: f64, high: f64| {
        (ends[0] - low).abs() <= tolerance && (ends[1] - high).abs() <= tolerance
    };
    Ok(Simulated {
        mean: figures.0[0],
        standard: figures.0[1],
        symmetric: [figures.0[2], figures.0[3]],
        shortest: shortest(&values, settings.coverage),
        draws: made * BATCH * WIDTH,
        without_value: made * BATCH * WIDTH - values.len(),
        is_stable,
        tolerance,
        linear_agrees: linear.map(|l| {
            agrees(
                [figures.0[2], figures.0[3]],
                l.coverage.low,
                l.coverage.high,
            )
        }),
        unstated: plan.unstated,
        values,
    })
}

/// Mean, standard deviation, ends of the symmetric interval.
#[derive(Clone, Copy)]
struct Figures([f64; 4]);

impl Figures {
    fn of(values: &[f64], sorted: &[f64], coverage: f64) -> Figures {
        let [mean, sd] = Figures::moments(values);
        let tail = 0.5 * (1.0 - coverage);
        Figures([mean, sd, at(sorted, tail), at(sorted, 1.0 - tail)])
    }

    fn moments(values: &[f64]) -> [f64; 2] {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        [mean, (squares / (n - 1.0)).sqrt()]
    }
}

fn at(sorted: &[f64], share: f64) -> f64 {
    let place = (share * sorted.len() as f64) as usize;
    sorted[place.min(sorted.len() - 1)]
}

/// The shortest interval that holds `coverage` of the values (clause 7.7).
fn shortest(sorted: &[f64], coverage: f64) -> [f64; 2] {
    let inside = ((coverage * sorted.len() as f64).round() as usize).min(sorted.len() - 1);
    let mut best = [sorted[0], sorted[inside]];
    for (low, high) in sorted.iter().zip(&sorted[inside..]) {
        if high - low < best[1] - best[0] {
            best = [*low, *high];
        }
    }
    best
}

/// Half of the last of `digits` significant digits of `standard` (clause 7.9.2).
fn numerical_tolerance(standard: f64, digits: u32) -> f64 {
    if standard <= 0.0 || standard.is_nan() {
        return 0.0;
    }
    // The last digit after rounding: 9.96 with two digits is 10.
    let text = format!("{:.*e}", digits as usize - 1, standard);
    let exponent: i32 = text
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0);
    0.5 * 10f64.powi(exponent - digits as i32 + 1)
}

/// Whether twice the standard error of each figure over the batches is within the tolerance.
fn are_stable(batches: &[Figures], tolerance: f64) -> bool {
    let n = batches.len() as f64;
    (0..4).all(|k| {
        let mean = batches.iter().map(|b| b.0[k]).sum::<f64>() / n;
        let squares: f64 = batches.iter().map(|b| (b.0[k] - mean).powi(2)).sum();
        2.0 * (squares / (n - 1.0) / n).sqrt() <= tolerance
    })
}

/// A cause to draw.
struct Drawn {
    cause: Cause,
    standard: f64,
    shape: Shape,
}

/// Everything about a simulation but its draws.
struct Plan<'s> {
    sheet: &'s Sheet,
    seed: u64,
    cell: CellId,
    drawn: Vec<Drawn>,
    /// For each correlated cause: its number, and its row of the Cholesky factor.
    correlated: Vec<(usize, Vec<f64>)>,
    /// One program for each formula with an uncertainty of its own, then one for the cell.
    programs: Vec<(CellId, Program)>,
    unstated: Vec<CellId>,
}

impl<'s> Plan<'s> {
    fn new(
        sheet: &'s Sheet,
        cell: CellId,
        settings: &Settings,
        seed: u64,
    ) -> Result<Self, UncertaintyError> {
        let found = sources(sheet, cell);
        let unstated = found.iter().filter(|s| s.standard.is_none());
        let unstated = unstated.map(|s| cell_of(s.cause)).collect();
        let named = settings.named();
        let drawn: Vec<Drawn> = found
            .iter()
            .filter_map(|s| {
                let standard = s.standard.filter(|u| *u > 0.0)?;
                let shape = match named.contains(&cell_of(s.cause)) {
                    true => Shape::Normal,
                    false => shape(sheet, s),
                };
                Some(Drawn {
                    cause: s.cause,
                    standard,
                    shape,
                })
            })
            .collect();
        let at = |c: &CellId| drawn.iter().position(|d| d.cause == Cause::Reading(*c));
        let present: Vec<CellId> = named.into_iter().filter(|c| at(c).is_some()).collect();
        let rows = settings.factor(sheet, &present)?;
        let correlated = present.iter().filter_map(at).zip(rows).collect();
        let mut bound: Vec<CellId> = drawn
            .iter()
            .filter(|d| matches!(d.cause, Cause::Reading(_)))
            .map(|d| cell_of(d.cause))
            .collect();
        let mut models: Vec<CellId> = drawn
            .iter()
            .filter(|d| matches!(d.cause, Cause::Model(_)))
            .map(|d| cell_of(d.cause))
            .collect();
        models.sort_by_key(|c| sheet.place_in_order(*c));
        let mut programs = Vec::new();
        for model in models {
            programs.push((model, Program::new(sheet, &[model], &bound)));
            bound.push(model);
        }
        programs.push((cell, Program::new(sheet, &[cell], &bound)));
        Ok(Plan {
            sheet,
            seed,
            cell,
            drawn,
            correlated,
            programs,
            unstated,
        })
    }

    /// The known values of a batch of blocks, in the order of the blocks.
    fn batch(&self, first: usize, threads: usize) -> Vec<f64> {
        let share = BATCH.div_ceil(threads.min(BATCH));
        let starts: Vec<usize> = (0..BATCH).step_by(share).collect();
        let run = |start: usize| {
            let mut room: Vec<Block<WIDTH>> =
                self.programs.iter().map(|(_, p)| p.block()).collect();
            let mut values = Vec::with_capacity(share * WIDTH);
            for block in start..(start + share).min(BATCH) {
                self.block(first + block, &mut room, &mut values);
            }
            values
        };
        if starts.len() == 1 {
            return run(0);
        }
        std::thread::scope(|scope| {
            let workers: Vec<_> = starts.iter().map(|s| scope.spawn(|| run(*s))).collect();
            let joined = workers.into_iter().map(|w| w.join());
            joined
                .flat_map(|r| r.unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
                .collect()
        })
    }

    fn block(&self, number: usize, room: &mut [Block<WIDTH>], values: &mut Vec<f64>) {
        let mut errors = vec![[0.0; WIDTH]; self.drawn.len()];
        for (cause, (drawn, out)) in self.drawn.iter().zip(&mut errors).enumerate() {
            let stream = Stream {
                seed: self.seed,
                block: number as u32,
                cause: cause as u32,
            };
            stream.fill(drawn.shape, out);
        }
        self.correlate(&mut errors);
        let mut made: Vec<(CellId, Lanes<WIDTH>)> = Vec::new();
        for ((cell, program), block) in self.programs.iter().zip(room) {
            let inputs: Vec<Lanes<WIDTH>> = program
                .inputs()
                .iter()
                .map(|input| self.supply(input.cell, input.facet, &errors, &made))
                .collect();
            let inputs: Vec<&Lanes<WIDTH>> = inputs.iter().collect();
            program.run(&inputs, block);
            let Some(slot) = program.slot(*cell) else {
                continue;
            };
            let mut lanes = *block.lanes(slot);
            if *cell == self.cell && made.len() + 1 == self.programs.len() {
                let known = (0..WIDTH)
                    .map(|i| lanes.lane(i))
                    .filter(|l| l.status.is_known());
                values.extend(known.map(|l| l.value));
                return;
            }
            self.disturb(Cause::Model(*cell), &errors, &mut lanes);
            made.push((*cell, lanes));
        }
    }

    /// Turns independent normals of the correlated causes into correlated ones.
    fn correlate(&self, errors: &mut [[f64; WIDTH]]) {
        let independent: Vec<[f64; WIDTH]> =
            self.correlated.iter().map(|(at, _)| errors[*at]).collect();
        for (at, row) in &self.correlated {
            for (i, out) in errors[*at].iter_mut().enumerate() {
                *out = row.iter().zip(&independent).map(|(f, z)| f * z[i]).sum();
            }
        }
    }

    fn supply(
        &self,
        cell: CellId,
        facet: Facet,
        errors: &[[f64; WIDTH]],
        made: &[(CellId, Lanes<WIDTH>)],
    ) -> Lanes<WIDTH> {
        if facet == Facet::Value
            && let Some((_, lanes)) = made.iter().find(|(c, _)| *c == cell)
        {
            return *lanes;
        }
        let mut lanes = Lanes::MISSING;
        let Some(reading) = self.sheet.reading(cell) else {
            return lanes;
        };
        let lane = match facet {
            Facet::Value => self.sheet.lane_of_reading(cell, reading),
            _ => {
                let said = self.sheet.facet_of_reading(cell, reading, facet);
                said.map_or(Lane::MISSING, Lane::measured)
            }
        };
        (0..WIDTH).for_each(|i| lanes.set(i, lane));
        if facet == Facet::Value {
            self.disturb(Cause::Reading(cell), errors, &mut lanes);
        }
        lanes
    }

    fn disturb(&self, cause: Cause, errors: &[[f64; WIDTH]], lanes: &mut Lanes<WIDTH>) {
        let Some(at) = self.drawn.iter().position(|d| d.cause == cause) else {
            return;
        };
        let standard = self.drawn[at].standard;
        for (i, error) in errors[at].iter().enumerate() {
            let mut lane = lanes.lane(i);
            lane.value += standard * error;
            lanes.set(i, lane);
        }
    }
}

fn cell_of(cause: Cause) -> CellId {
    match cause {
        Cause::Reading(cell) | Cause::Model(cell) => cell,
    }
}

fn shape(sheet: &Sheet, source: &Source) -> Shape {
    let Cause::Reading(cell) = source.cause else {
        return Shape::Normal;
    };
    let Some(reading) = sheet.reading(cell) else {
        return Shape::Normal;
    };
    match (
        reading.spread().map(|s| s.form()),
        reading.beats().scatter(),
    ) {
        (Some(SpreadForm::Within), _) => Shape::Rectangular,
        (Some(SpreadForm::Triangular), _) => Shape::Triangular,
        (None, Some((_, freedom))) => Shape::Student { freedom },
        (Some(SpreadForm::Standard | SpreadForm::Expanded { .. }), _) | (None, None) => {
            Shape::Normal
        }
    }
}
