//! Monte Carlo (JCGM 101:2008): draws as lanes of the evaluator that computes the sheet itself.

mod blocks;
mod moments;
mod order;
mod plan;
mod run;
mod shape;

use super::draws::WIDTH;
use super::error::UncertaintyError;
use super::linear::{known, propagate};
use super::settings::Settings;
use crate::formula::CellId;
use crate::sheet::Sheet;
use order::{Intervals, Values, shortest_within};
use plan::Plan;
use run::Run;
pub use shape::Finite;

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
    /// Fewest draws, rounded up to whole batches of 10,240; two batches at least.
    pub least_draws: usize,
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
            least_draws: 0,
            most_draws: 1_000_000,
            threads: 1,
        }
    }
}

/// What a simulation found.
#[derive(Clone, Debug, PartialEq)]
pub struct Simulated {
    /// Mean of the draws, in the cell's unit; of no meaning where `finite` says that there is none.
    pub mean: f64,
    /// Standard deviation of the draws; of no meaning where `finite` says that there is none.
    pub standard: f64,
    /// Which of the two there are.
    pub finite: Finite,
    /// The interval with equal probability left out on both sides.
    pub symmetric: [f64; 2],
    /// The shortest interval of the coverage.
    pub shortest: [f64; 2],
    /// Draws made.
    pub draws: usize,
    /// Draws that gave no value, which are left out of all figures.
    pub without_value: usize,
    /// Whether mean, standard deviation and the ends of the symmetric interval became stable within
    /// the cap (clause 7.9.4), as far as there are any; the shortest interval is less so, see
    /// [`Simulated::shortest_within`].
    pub is_stable: bool,
    /// The numerical tolerance that stability was judged by: half of the last digit asked for.
    pub tolerance: f64,
    /// Whether the linear interval agrees with the symmetric one within the tolerance (clause 8.1);
    /// `None` where there is no linear answer.
    pub linear_agrees: Option<bool>,
    /// Readings that stated no uncertainty and were held fixed.
    pub unstated: Vec<CellId>,
    /// Coverage of the intervals, as a share.
    pub coverage: f64,
    values: Values,
}

impl Simulated {
    /// The values drawn, sorted.
    pub fn values(&self) -> &[f64] {
        self.values.sorted()
    }

    /// Median of the draws, in the cell's unit.
    pub fn median(&self) -> f64 {
        let sorted = self.values.sorted();
        sorted[sorted.len() / 2]
    }

    /// Share of the draws with a value that lie above a threshold in the cell's unit.
    pub fn probability_above(&self, threshold: f64) -> Share {
        self.share_of(|value| value > threshold)
    }

    /// Share of the draws with a value that lie below a threshold in the cell's unit.
    pub fn probability_below(&self, threshold: f64) -> Share {
        self.share_of(|value| value < threshold)
    }

    fn share_of(&self, counts: impl Fn(f64) -> bool) -> Share {
        let drawn = &self.values.drawn;
        Share {
            counted: drawn.iter().filter(|value| counts(**value)).count(),
            of: drawn.len(),
        }
    }

    /// How far off either end of the shortest interval may be by the number of draws, in the cell's
    /// unit: two standard errors. The ends of the shortest interval settle slowly, since many intervals
    /// are about as short.
    pub fn shortest_within(&self) -> f64 {
        shortest_within(&self.values.drawn, self.coverage)
    }

    /// Whether the linear answer will do, in words.
    pub fn words(&self) -> &'static str {
        match self.linear_agrees {
            Some(true) if !self.is_stable => {
                "the figures are not stable, so nothing is said of the linear uncertainty"
            }
            Some(true) => "the linear uncertainty agrees with the simulation",
            Some(false) => {
                "the linear uncertainty is not good enough here: use the simulated interval"
            }
            None => "there is no linear uncertainty here: use the simulated interval",
        }
    }
}

/// A share of draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Draws that count.
    pub counted: usize,
    /// Draws with a value.
    pub of: usize,
}

impl Share {
    /// The probability that the share stands for.
    pub fn probability(self) -> f64 {
        self.counted as f64 / self.of as f64
    }

    /// Standard error of the probability by the number of draws, which are independent.
    pub fn standard_error(self) -> f64 {
        let p = self.probability();
        (p * (1.0 - p) / self.of as f64).sqrt()
    }

    /// What the probability is under with a confidence of 95 % where no draw counts: three in the
    /// number of draws (Hanley & Lippman-Hand 1983 JAMA 249:1743-5, from memory).
    pub fn bound_of_none(self) -> f64 {
        3.0 / self.of as f64
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
    known(sheet, cell)?;
    let plan = Plan::new(sheet, cell, settings, simulation.seed)?;
    if plan.drawn.is_empty() {
        let cell = sheet.name(cell);
        return Err(match plan.unstated.is_empty() {
            true => UncertaintyError::Exact { cell },
            false => UncertaintyError::NothingKnown { cell },
        });
    }
    let run = Run::of(&plan, sheet, cell, settings, simulation)?;
    let linear = propagate(sheet, cell, settings).ok();
    let agrees = |ends: [f64; 2], low: f64, high: f64| {
        (ends[0] - low).abs() <= run.tolerance && (ends[1] - high).abs() <= run.tolerance
    };
    let all = run.figures();
    let values = run.values;
    let order = Intervals::of(&values, &run.tails, settings.coverage);
    Ok(Simulated {
        mean: all.mean,
        standard: all.standard(),
        finite: plan.finite,
        symmetric: order.symmetric,
        shortest: order.shortest,
        draws: run.batches.len() * BATCH * WIDTH,
        without_value: run.batches.len() * BATCH * WIDTH - values.len(),
        is_stable: run.is_stable,
        tolerance: run.tolerance,
        linear_agrees: linear.map(|l| agrees(order.symmetric, l.coverage.low, l.coverage.high)),
        unstated: plan.unstated,
        coverage: settings.coverage,
        values: Values::of(values),
    })
}
