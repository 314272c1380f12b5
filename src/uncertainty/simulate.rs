//! Monte Carlo (JCGM 101:2008): draws as lanes of the evaluator that computes the sheet itself.

use std::sync::OnceLock;

use super::draws::{Draw, Part, Shape, Stream, WIDTH};
use super::error::UncertaintyError;
use super::linear::propagate;
use super::settings::Settings;
use super::source::{Cause, Source, sources};
use crate::formula::simd::widest;
use crate::formula::{CellId, Facet, Lane, Lanes, Status};
use crate::quantity::{Between, Reading, SpreadForm};
use crate::sheet::{Block, Program, RowInput, Sheet};

/// Blocks between two looks at whether the figures are stable: 10,240 draws (clause 7.9.4 asks
/// for at least 10,000).
const BATCH: usize = 40;
/// Each thread has room of its own.
const MOST_THREADS: usize = 64;

/// How to simulate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Simulation {
    /// The seed; the same seed gives the same figures.
    pub seed: u64,
    /// Significant digits of the standard uncertainty that must be stable, 1 or 2.
    pub digits: u32,
    /// Most draws, rounded up to whole batches of 10,240.
    pub most_draws: usize,
    /// Threads; the figures do not depend on them. More than one did not pay where it was measured
    /// (DEVELOPERS.md).
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
    values: Values,
}

impl Simulated {
    /// The values drawn, sorted.
    pub fn values(&self) -> &[f64] {
        self.values.sorted()
    }

    /// Share of the draws above a threshold in the cell's unit.
    pub fn probability_above(&self, threshold: f64) -> f64 {
        let drawn = &self.values.drawn;
        let below = drawn.iter().filter(|v| **v <= threshold).count();
        1.0 - below as f64 / drawn.len() as f64
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
    let run = Run::of(&plan, sheet, cell, settings, simulation)?;
    let linear = propagate(sheet, cell, settings).ok();
    let agrees = |ends: [f64; 2], low: f64, high: f64| {
        (ends[0] - low).abs() <= run.tolerance && (ends[1] - high).abs() <= run.tolerance
    };
    let all = run.figures();
    let mut values = run.values;
    let order = Order::of(&mut values, settings.coverage);
    Ok(Simulated {
        mean: all.mean,
        standard: all.standard(),
        symmetric: order.symmetric,
        shortest: order.shortest,
        draws: run.batches.len() * BATCH * WIDTH,
        without_value: run.batches.len() * BATCH * WIDTH - values.len(),
        is_stable: run.is_stable,
        tolerance: run.tolerance,
        linear_agrees: linear.map(|l| agrees(order.symmetric, l.coverage.low, l.coverage.high)),
        unstated: plan.unstated,
        values: Values::of(values),
    })
}

/// Batches drawn until the figures are stable or the cap is reached.
struct Run {
    values: Vec<f64>,
    batches: Vec<Figures>,
    is_stable: bool,
    tolerance: f64,
}

impl Run {
    fn of(
        plan: &Plan,
        sheet: &Sheet,
        cell: CellId,
        settings: &Settings,
        simulation: Simulation,
    ) -> Result<Run, UncertaintyError> {
        let most = simulation.most_draws.div_ceil(WIDTH * BATCH).max(2);
        let threads = simulation.threads.clamp(1, MOST_THREADS);
        let mut rooms: Vec<Room> = (0..threads).map(|_| plan.room()).collect();
        let mut run = Run {
            values: Vec::new(),
            batches: Vec::new(),
            is_stable: false,
            tolerance: 0.0,
        };
        let mut made = 0;
        while made < most && !run.is_stable {
            let count = (2 * threads).min(most - made);
            let drawn = plan.batches(made, count, &mut rooms);
            made += count;
            for batch in drawn {
                // What was drawn beyond the point where all is stable is left out, so that the
                // figures do not depend on the number of threads.
                if !run.is_stable {
                    run.take(batch, sheet, cell, settings, simulation.digits)?;
                }
            }
        }
        Ok(run)
    }

    fn take(
        &mut self,
        batch: Vec<f64>,
        sheet: &Sheet,
        cell: CellId,
        settings: &Settings,
        digits: u32,
    ) -> Result<(), UncertaintyError> {
        if batch.len() * 2 < WIDTH * BATCH {
            return Err(UncertaintyError::TooFewKnown {
                cell: sheet.name(cell),
                known: batch.len(),
                draws: WIDTH * BATCH,
            });
        }
        self.values.extend_from_slice(&batch);
        self.batches.push(Figures::of(batch, settings.coverage));
        if self.batches.len() >= 2 {
            self.tolerance = numerical_tolerance(self.figures().standard(), digits);
            self.is_stable = are_stable(&self.batches, self.tolerance);
        }
        Ok(())
    }

    /// Mean and standard deviation of all draws, from those of the batches.
    fn figures(&self) -> Moments {
        let moments = self.batches.iter().map(|b| b.moments);
        moments.fold(Moments::NONE, Moments::join)
    }
}

/// Figures of one batch.
#[derive(Clone, Copy)]
struct Figures {
    moments: Moments,
    symmetric: [f64; 2],
}

impl Figures {
    fn of(mut values: Vec<f64>, coverage: f64) -> Figures {
        Figures {
            moments: Moments::of(&values),
            symmetric: symmetric(&mut values, coverage),
        }
    }

    fn all(&self) -> [f64; 4] {
        let [low, high] = self.symmetric;
        [self.moments.mean, self.moments.standard(), low, high]
    }
}

/// Number, mean and sum of squared deviations, which join without a look at the values.
#[derive(Clone, Copy)]
struct Moments {
    count: f64,
    mean: f64,
    squares: f64,
}

impl Moments {
    const NONE: Moments = Moments {
        count: 0.0,
        mean: 0.0,
        squares: 0.0,
    };

    fn of(values: &[f64]) -> Moments {
        let count = values.len() as f64;
        let mean = sum(values, |v| v) / count;
        Moments {
            count,
            mean,
            squares: sum(values, |v| (v - mean) * (v - mean)),
        }
    }

    /// The moments of two sets together (Chan, Golub & LeVeque 1983 Am Stat 37:242-7).
    fn join(self, other: Moments) -> Moments {
        let count = self.count + other.count;
        let apart = other.mean - self.mean;
        Moments {
            count,
            mean: self.mean + apart * (other.count / count),
            squares: self.squares
                + other.squares
                + apart * apart * (self.count * other.count / count),
        }
    }

    fn standard(self) -> f64 {
        (self.squares / (self.count - 1.0)).sqrt()
    }
}

/// A sum in eight strands, always the same ones.
fn sum(values: &[f64], f: impl Fn(f64) -> f64) -> f64 {
    let mut strands = [0.0; 8];
    let chunks = values.chunks_exact(8);
    let rest: f64 = chunks.remainder().iter().map(|v| f(*v)).sum();
    for chunk in chunks {
        for (strand, v) in strands.iter_mut().zip(chunk) {
            *strand += f(*v);
        }
    }
    strands.iter().sum::<f64>() + rest
}

/// The place of a quantile among sorted values.
fn place(count: usize, share: f64) -> usize {
    ((share * count as f64) as usize).min(count - 1)
}

/// The interval with equal probability left out on both sides; puts the values in another order.
fn symmetric(values: &mut [f64], coverage: f64) -> [f64; 2] {
    let tail = 0.5 * (1.0 - coverage);
    [tail, 1.0 - tail].map(|share| {
        let at = place(values.len(), share);
        *values.select_nth_unstable_by(at, f64::total_cmp).1
    })
}

/// The intervals of all values.
struct Order {
    symmetric: [f64; 2],
    shortest: [f64; 2],
}

impl Order {
    /// Puts the values in another order: only the tails that intervals can end in are sorted.
    fn of(values: &mut [f64], coverage: f64) -> Order {
        let count = values.len();
        let inside = ((coverage * count as f64).round() as usize).min(count - 1);
        let tail = count - inside;
        if tail < inside {
            values.select_nth_unstable_by(tail, f64::total_cmp);
            values[tail..].select_nth_unstable_by(inside - tail, f64::total_cmp);
            values[..=tail].sort_unstable_by(f64::total_cmp);
            values[inside..].sort_unstable_by(f64::total_cmp);
        } else {
            values.sort_unstable_by(f64::total_cmp);
        }
        let left_out = 0.5 * (1.0 - coverage);
        Order {
            symmetric: [left_out, 1.0 - left_out].map(|share| values[place(count, share)]),
            shortest: shortest(values, inside),
        }
    }
}

/// The shortest interval that holds all but the values beyond `inside` places (clause 7.7). Only
/// the ends of `values` need be sorted.
fn shortest(values: &[f64], inside: usize) -> [f64; 2] {
    let mut best = [values[0], values[inside]];
    for (low, high) in values.iter().zip(&values[inside..]) {
        if high - low < best[1] - best[0] {
            best = [*low, *high];
        }
    }
    best
}

/// Values drawn, sorted when someone looks.
#[derive(Clone, Debug)]
struct Values {
    drawn: Vec<f64>,
    sorted: OnceLock<Vec<f64>>,
}

impl Values {
    fn of(drawn: Vec<f64>) -> Values {
        Values {
            drawn,
            sorted: OnceLock::new(),
        }
    }

    fn sorted(&self) -> &[f64] {
        self.sorted.get_or_init(|| {
            let mut sorted = self.drawn.clone();
            sorted.sort_unstable_by(f64::total_cmp);
            sorted
        })
    }
}

impl PartialEq for Values {
    fn eq(&self, other: &Values) -> bool {
        self.drawn == other.drawn
    }
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
        let mean = batches.iter().map(|b| b.all()[k]).sum::<f64>() / n;
        let squares: f64 = batches.iter().map(|b| (b.all()[k] - mean).powi(2)).sum();
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
struct Plan {
    seed: u64,
    drawn: Vec<Drawn>,
    /// For each correlated cause: its number, and its row of the Cholesky factor.
    correlated: Vec<(usize, Vec<f64>)>,
    /// One for each formula with an uncertainty of its own, then one for the cell.
    stages: Vec<Stage>,
    unstated: Vec<CellId>,
}

/// A cell that is computed for each draw.
struct Stage {
    program: Program,
    slot: Option<usize>,
    inputs: Vec<Input>,
    /// The cause that the cell's own formula is.
    own: Option<usize>,
}

/// What an input of a program is filled with.
enum Input {
    /// The same in every draw.
    Same(Lane),
    /// A reading with its error.
    Drawn(Lane, usize),
    /// The lanes of an earlier stage.
    Made(usize),
}

/// Room for the draws of a block; one for each thread.
struct Room {
    errors: Vec<[f64; WIDTH]>,
    independent: Vec<[f64; WIDTH]>,
    blocks: Vec<Block<WIDTH>>,
    made: Vec<Lanes<WIDTH>>,
}

impl Plan {
    fn new(
        sheet: &Sheet,
        cell: CellId,
        settings: &Settings,
        seed: u64,
    ) -> Result<Self, UncertaintyError> {
        let found = sources(sheet, cell);
        let unstated = found.iter().filter(|s| s.standard.is_none());
        let unstated = unstated.map(|s| s.cause.cell()).collect();
        let named = settings.named();
        let drawn: Vec<Drawn> = found
            .iter()
            .filter_map(|s| {
                let standard = s.standard.filter(|u| *u > 0.0)?;
                let shape = match named.contains(&s.cause.cell()) {
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
        let stages = stages(sheet, cell, &drawn);
        Ok(Plan {
            seed,
            drawn,
            correlated,
            stages,
            unstated,
        })
    }

    fn room(&self) -> Room {
        let mut blocks: Vec<Block<WIDTH>> = self.stages.iter().map(|s| s.program.block()).collect();
        for (stage, block) in self.stages.iter().zip(&mut blocks) {
            for (at, input) in stage.inputs.iter().enumerate() {
                if let Input::Same(lane) | Input::Drawn(lane, _) = input {
                    *stage.program.input(block, at) = Lanes::all(*lane);
                }
            }
        }
        Room {
            errors: vec![[0.0; WIDTH]; self.drawn.len()],
            independent: vec![[0.0; WIDTH]; self.correlated.len()],
            blocks,
            made: vec![Lanes::MISSING; self.stages.len()],
        }
    }

    /// The known values of some batches, in order, whatever the number of rooms, each of which has
    /// a thread.
    fn batches(&self, first: usize, count: usize, rooms: &mut [Room]) -> Vec<Vec<f64>> {
        if let [room] = rooms {
            return (first..first + count)
                .map(|batch| self.batch(batch, room))
                .collect();
        }
        let share = count.div_ceil(rooms.len());
        let starts = (first..first + count).step_by(share);
        std::thread::scope(|scope| {
            let workers: Vec<_> = starts
                .zip(rooms)
                .map(|(start, room)| {
                    let end = (start + share).min(first + count);
                    scope.spawn(move || -> Vec<Vec<f64>> {
                        (start..end).map(|b| self.batch(b, room)).collect()
                    })
                })
                .collect();
            let joined = workers.into_iter().map(|w| w.join());
            joined
                .flat_map(|r| r.unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
                .collect()
        })
    }

    fn batch(&self, batch: usize, room: &mut Room) -> Vec<f64> {
        let mut values = Vec::with_capacity(BATCH * WIDTH);
        for block in batch * BATCH..(batch + 1) * BATCH {
            self.block(block as u32, room, &mut values);
        }
        values
    }

    fn block(&self, number: u32, room: &mut Room, values: &mut Vec<f64>) {
        for (cause, (drawn, out)) in self.drawn.iter().zip(&mut room.errors).enumerate() {
            let stream = Stream {
                seed: self.seed,
                block: number,
                cause: cause as u32,
            };
            widest(Draw {
                stream,
                shape: drawn.shape,
                out,
            });
        }
        self.correlate(room);
        for (at, (stage, block)) in self.stages.iter().zip(&mut room.blocks).enumerate() {
            for (input, kind) in stage.inputs.iter().enumerate() {
                let lanes = stage.program.input(block, input);
                match kind {
                    Input::Same(_) => {}
                    Input::Drawn(lane, cause) => {
                        self.disturb(*cause, &room.errors, |_| lane.value, &mut lanes.values);
                    }
                    Input::Made(stage) => *lanes = room.made[*stage],
                }
            }
            stage.program.run_filled(block);
            let Some(slot) = stage.slot else {
                continue;
            };
            let lanes = block.lanes(slot);
            if at + 1 == self.stages.len() {
                take_known(lanes, values);
                return;
            }
            room.made[at] = *lanes;
            if let Some(cause) = stage.own {
                let out = &mut room.made[at].values;
                self.disturb(cause, &room.errors, |i| lanes.values[i], out);
            }
        }
    }

    /// Turns independent normals of the correlated causes into correlated ones.
    fn correlate(&self, room: &mut Room) {
        for ((at, _), copy) in self.correlated.iter().zip(&mut room.independent) {
            *copy = room.errors[*at];
        }
        for (at, row) in &self.correlated {
            for (i, out) in room.errors[*at].iter_mut().enumerate() {
                let pairs = row.iter().zip(&room.independent);
                *out = pairs.map(|(f, z)| f * z[i]).sum();
            }
        }
    }

    fn disturb(
        &self,
        cause: usize,
        errors: &[[f64; WIDTH]],
        base: impl Fn(usize) -> f64,
        out: &mut [f64; WIDTH],
    ) {
        let standard = self.drawn[cause].standard;
        for (i, error) in errors[cause].iter().enumerate() {
            out[i] = base(i) + standard * error;
        }
    }
}

fn take_known(lanes: &Lanes<WIDTH>, values: &mut Vec<f64>) {
    if lanes.states.iter().all(|s| Status(*s).is_known()) {
        values.extend_from_slice(&lanes.values);
        return;
    }
    let lanes = (0..WIDTH).map(|i| lanes.lane(i));
    values.extend(lanes.filter(|l| l.status.is_known()).map(|l| l.value));
}

/// The programs of the formulas with an uncertainty of their own that a cell depends on, operands
/// first, then that of the cell.
fn stages(sheet: &Sheet, cell: CellId, drawn: &[Drawn]) -> Vec<Stage> {
    let cells = |wanted: fn(&Cause) -> bool| -> Vec<CellId> {
        let causes = drawn.iter().map(|d| d.cause).filter(wanted);
        causes.map(Cause::cell).collect()
    };
    let mut bound = cells(|c| matches!(c, Cause::Reading(_)));
    let mut models = cells(|c| matches!(c, Cause::Model(_)));
    models.sort_by_key(|c| sheet.place_in_order(*c));
    let mut stages = Vec::new();
    for (at, wanted) in models.iter().chain([&cell]).enumerate() {
        let program = Program::new(sheet, &[*wanted], &bound);
        let inputs = program.inputs().iter().map(|input| {
            let made = models[..at].iter().position(|m| *m == input.cell);
            match made.filter(|_| input.facet == Facet::Value) {
                Some(stage) => Input::Made(stage),
                None => supplied(sheet, input, drawn),
            }
        });
        stages.push(Stage {
            slot: program.slot(*wanted),
            inputs: inputs.collect(),
            own: cause_at(drawn, Cause::Model(*wanted)),
            program,
        });
        bound.push(*wanted);
    }
    stages
}

fn cause_at(drawn: &[Drawn], cause: Cause) -> Option<usize> {
    drawn.iter().position(|d| d.cause == cause)
}

/// What the sheet's own reading supplies.
fn supplied(sheet: &Sheet, input: &RowInput, drawn: &[Drawn]) -> Input {
    let Some(reading) = sheet.reading(input.cell) else {
        return Input::Same(Lane::MISSING);
    };
    if input.facet != Facet::Value {
        let said = sheet.facet_of_reading(input.cell, reading, input.facet);
        return Input::Same(said.map_or(Lane::MISSING, Lane::measured));
    }
    let lane = sheet.lane_of_reading(input.cell, reading);
    match cause_at(drawn, Cause::Reading(input.cell)) {
        Some(cause) => Input::Drawn(lane, cause),
        None => Input::Same(lane),
    }
}

fn shape(sheet: &Sheet, source: &Source) -> Shape {
    let Cause::Reading(cell) = source.cause else {
        return Shape::Normal;
    };
    match sheet.reading(cell) {
        Some(reading) => joined(reading).unwrap_or_else(|| shape_alone(reading)),
        None => Shape::Normal,
    }
}

/// The distribution of a reading with what acquisitions scatter. Certain bounds around one
/// acquisition are taken as normal there: beside what they are joined with, their shape is lost.
fn joined(reading: &Reading) -> Option<Shape> {
    let unit = reading.unit()?;
    let between = reading.between_acquisitions(unit)?;
    let within = reading.within_acquisition(unit)?;
    let whole = within.hypot(between);
    let scatter = match reading.spread() {
        Some(_) => None,
        None => reading.beats().scatter(),
    };
    let part = |u: f64, freedom| Part {
        share: u / whole,
        freedom,
    };
    (whole > 0.0).then(|| {
        Shape::Joined(
            part(within, scatter.map(|(_, freedom)| freedom)),
            part(between, reading.between().and_then(Between::freedom)),
        )
    })
}

fn shape_alone(reading: &Reading) -> Shape {
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
