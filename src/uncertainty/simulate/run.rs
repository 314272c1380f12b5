//! Batches of draws until the figures are stable.

use std::ops::Range;

use super::blocks::Room;
use super::moments::Moments;
use super::order::{Bounds, Tails, symmetric};
use super::plan::Plan;
use super::shape::Finite;
use super::{BATCH, Simulation, WIDTH};
use crate::formula::CellId;
use crate::sheet::Sheet;
use crate::uncertainty::error::UncertaintyError;
use crate::uncertainty::rounded::power_of_ten;
use crate::uncertainty::settings::Settings;

/// Each thread has room of its own.
const MOST_THREADS: usize = 64;

/// Batches drawn until the figures are stable or the cap is reached.
pub(super) struct Run {
    pub(super) values: Vec<f64>,
    pub(super) tails: Tails,
    pub(super) batches: Vec<Figures>,
    pub(super) is_stable: bool,
    pub(super) tolerance: f64,
    digits: u32,
    /// Fewest batches.
    least: usize,
    /// Whether mean and standard deviation exist, so that they can become stable.
    has_moments: bool,
}

impl Run {
    pub(super) fn of(
        plan: &Plan,
        sheet: &Sheet,
        cell: CellId,
        settings: &Settings,
        simulation: Simulation,
    ) -> Result<Run, UncertaintyError> {
        let too_few = |known| UncertaintyError::TooFewKnown {
            cell: sheet.name(cell),
            known,
            draws: WIDTH * BATCH,
        };
        let batches_of = |draws: usize| draws.div_ceil(WIDTH * BATCH).max(2);
        let most = batches_of(simulation.most_draws);
        let least = batches_of(simulation.least_draws).min(most);
        let threads = simulation.threads.clamp(1, MOST_THREADS);
        let mut rooms: Vec<Room> = (0..threads).map(|_| plan.room()).collect();
        let mut run = Run {
            values: Vec::new(),
            tails: Tails::default(),
            batches: Vec::new(),
            is_stable: false,
            tolerance: 0.0,
            digits: simulation.digits,
            least,
            has_moments: plan.finite == Finite::Both,
        };
        // The first batch says where to look for the tails of all.
        plan.batch(0, &mut rooms[0], &mut run.values);
        let asked = Asked::of(&run.values, settings.coverage);
        run.take(asked.figures(&run.values).map_err(too_few)?);
        let mut made = 1;
        while made < most && !run.is_stable {
            if let [room] = &mut rooms[..] {
                let before = run.values.len();
                plan.batch(made, room, &mut run.values);
                made += 1;
                run.take(asked.figures(&run.values[before..]).map_err(too_few)?);
                continue;
            }
            let count = (2 * threads).min(most - made);
            let drawn = batches(plan, made..made + count, &mut rooms, &asked);
            made += count;
            for batch in drawn {
                // What was drawn beyond the point where all is stable is left out, so that the
                // figures do not depend on the number of threads.
                if !run.is_stable {
                    run.values.extend_from_slice(&batch.values);
                    run.take(batch.found.map_err(too_few)?);
                }
            }
        }
        Ok(run)
    }

    fn take(&mut self, found: Found) {
        self.tails.join(&found.tails);
        self.batches.push(found.figures);
        if self.batches.len() >= 2 {
            self.tolerance = numerical_tolerance(self.size(), self.digits);
            self.is_stable = self.batches.len() >= self.least
                && are_stable(&self.batches, self.has_moments, self.tolerance);
        }
    }

    /// What stability is judged by: the standard deviation, or where there is none a quarter of
    /// the interval, which is about as much for a normal distribution at 95 %.
    fn size(&self) -> f64 {
        if self.has_moments {
            return self.figures().standard();
        }
        let widths = self.batches.iter().map(|b| b.symmetric[1] - b.symmetric[0]);
        widths.sum::<f64>() / self.batches.len() as f64 / 4.0
    }

    /// Mean and standard deviation of all draws, from those of the batches.
    pub(super) fn figures(&self) -> Moments {
        let moments = self.batches.iter().map(|b| b.moments);
        moments.fold(Moments::NONE, Moments::join)
    }
}

/// The known values of one batch, and their figures.
struct Batch {
    values: Vec<f64>,
    found: Result<Found, usize>,
}

/// What is found out about a batch.
struct Found {
    figures: Figures,
    tails: Tails,
}

/// What is asked of each batch.
struct Asked {
    coverage: f64,
    bounds: Option<Bounds>,
}

impl Asked {
    fn of(first: &[f64], coverage: f64) -> Asked {
        Asked {
            coverage,
            bounds: is_enough(first).then(|| Bounds::of(first, coverage)),
        }
    }

    /// The figures of the known values of a batch; their number where that is less than half.
    fn figures(&self, values: &[f64]) -> Result<Found, usize> {
        let Some(bounds) = self.bounds.filter(|_| is_enough(values)) else {
            return Err(values.len());
        };
        let tails = Tails::pick(values, bounds);
        Ok(Found {
            figures: Figures {
                moments: Moments::of(values),
                symmetric: symmetric(values, &tails, self.coverage),
            },
            tails,
        })
    }
}

/// Whether at least half of a batch is known.
fn is_enough(values: &[f64]) -> bool {
    values.len() * 2 >= WIDTH * BATCH
}

/// Some batches, in order; each room has a thread.
fn batches(plan: &Plan, numbers: Range<usize>, rooms: &mut [Room], asked: &Asked) -> Vec<Batch> {
    let batch = |number: usize, room: &mut Room| {
        let mut values = Vec::with_capacity(BATCH * WIDTH);
        plan.batch(number, room, &mut values);
        Batch {
            found: asked.figures(&values),
            values,
        }
    };
    let share = numbers.len().div_ceil(rooms.len());
    let starts = numbers.clone().step_by(share);
    std::thread::scope(|scope| {
        let workers: Vec<_> = starts
            .zip(rooms)
            .map(|(start, room)| {
                let part = start..(start + share).min(numbers.end);
                scope.spawn(move || part.map(|b| batch(b, room)).collect::<Vec<_>>())
            })
            .collect();
        let joined = workers.into_iter().map(|w| w.join());
        joined
            .flat_map(|r| r.unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    })
}

/// Figures of one batch.
#[derive(Clone, Copy)]
pub(super) struct Figures {
    moments: Moments,
    symmetric: [f64; 2],
}

impl Figures {
    fn all(&self) -> [f64; 4] {
        let [low, high] = self.symmetric;
        [self.moments.mean, self.moments.standard(), low, high]
    }
}

/// Half of the last of `digits` significant digits of `standard` (clause 7.9.2).
fn numerical_tolerance(standard: f64, digits: u32) -> f64 {
    if standard <= 0.0 || standard.is_nan() {
        return 0.0;
    }
    // The last digit after rounding: 9.96 with two digits is 10.
    let text = format!("{:.*e}", digits as usize - 1, standard);
    let exponent = power_of_ten(&text);
    0.5 * 10f64.powi(exponent - digits as i32 + 1)
}

/// Whether twice the standard error of each figure over the batches is within the tolerance; of
/// the ends of the interval only where there are no moments.
fn are_stable(batches: &[Figures], has_moments: bool, tolerance: f64) -> bool {
    let n = batches.len() as f64;
    let first = if has_moments { 0 } else { 2 };
    (first..4).all(|k| {
        let mean = batches.iter().map(|b| b.all()[k]).sum::<f64>() / n;
        let squares: f64 = batches.iter().map(|b| (b.all()[k] - mean).powi(2)).sum();
        2.0 * (squares / (n - 1.0) / n).sqrt() <= tolerance
    })
}
