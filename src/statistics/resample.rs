//! Seeded resampling whose result does not depend on the number of threads.
//!
//! Resample `i` draws from stream `i` of one ChaCha8 generator keyed by the seed (a counter-based generator),
//! so who computes it, and when, makes no difference.

use super::error::{Result, StatisticsError};
use super::interval::Interval;
use super::quantile::quantile_of_sorted;
use super::warning::Warning;
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};
use std::num::NonZeroUsize;

/// How to resample: how often, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bootstrap {
    /// Number of resamples, at least 100. 2000 settle a 95 % percentile interval (common practice, no source).
    pub resamples: usize,
    /// Seed, to be printed with the result.
    pub seed: u64,
    /// Threads to use; `None` takes what the machine offers. The result is the same.
    pub threads: Option<NonZeroUsize>,
}

impl Bootstrap {
    /// 2000 resamples from `seed`, on the threads the machine offers.
    pub fn seeded(seed: u64) -> Self {
        Self {
            resamples: 2000,
            seed,
            threads: None,
        }
    }

    /// The same with another number of resamples.
    pub fn with_resamples(self, resamples: usize) -> Self {
        Self { resamples, ..self }
    }

    fn check(&self) -> Result<()> {
        if self.resamples >= 100 {
            Ok(())
        } else {
            Err(StatisticsError::TooFew {
                what: "resamples",
                found: self.resamples,
                needed: 100,
            })
        }
    }

    /// Runs `one` for each resample, in order of the resample's number.
    ///
    /// `scratch` makes the buffers of one thread, so that `one` allocates nothing.
    pub(super) fn run<S, T: Send>(
        &self,
        scratch: impl Fn() -> S + Sync,
        one: impl Fn(&mut S, &mut Draws) -> T + Sync,
    ) -> Result<Vec<T>> {
        self.check()?;
        let keyed = ChaCha8Rng::seed_from_u64(self.seed);
        let stretch = |from: usize, to: usize| -> Vec<T> {
            let mut buffers = scratch();
            (from..to)
                .map(|i| {
                    let mut generator = keyed.clone();
                    generator.set_stream(i as u64);
                    one(&mut buffers, &mut Draws(generator))
                })
                .collect()
        };
        let threads = self
            .threads
            .map_or_else(offered_threads, NonZeroUsize::get)
            .min(self.resamples);
        if threads == 1 {
            return Ok(stretch(0, self.resamples));
        }
        let per_thread = self.resamples.div_ceil(threads);
        let starts: Vec<usize> = (0..self.resamples).step_by(per_thread).collect();
        let parts: Vec<Vec<T>> = std::thread::scope(|scope| {
            let stretch = &stretch;
            let handles: Vec<_> = starts
                .iter()
                .map(|&from| {
                    scope.spawn(move || stretch(from, (from + per_thread).min(self.resamples)))
                })
                .collect();
            handles
                .into_iter()
                .map(|handle| {
                    handle
                        .join()
                        .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
                })
                .collect()
        });
        Ok(parts.into_iter().flatten().collect())
    }
}

fn offered_threads() -> usize {
    std::thread::available_parallelism().map_or(1, NonZeroUsize::get)
}

/// The random draws of one resample.
pub(super) struct Draws(ChaCha8Rng);

impl Draws {
    /// A whole number below `count` (above zero), each equally likely (Lemire 2019, ACM Trans Model Comput Simul 29:3).
    pub(super) fn below(&mut self, count: usize) -> usize {
        match u32::try_from(count) {
            Ok(count) => self.below_u32(count) as usize,
            Err(_) => self.below_u64(count as u64) as usize,
        }
    }

    fn below_u32(&mut self, count: u32) -> u32 {
        let mut product = u64::from(self.0.next_u32()) * u64::from(count);
        if (product as u32) < count {
            let rejected = count.wrapping_neg() % count;
            while (product as u32) < rejected {
                product = u64::from(self.0.next_u32()) * u64::from(count);
            }
        }
        (product >> 32) as u32
    }

    fn below_u64(&mut self, count: u64) -> u64 {
        let rejected = count.wrapping_neg() % count;
        loop {
            let product = u128::from(self.0.next_u64()) * u128::from(count);
            if product as u64 >= rejected {
                return (product >> 64) as u64;
            }
        }
    }
}

/// A percentile bootstrap interval and how it came about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BootstrapInterval {
    /// The percentile interval.
    pub interval: Interval,
    /// Resamples drawn.
    pub resamples: usize,
    /// Resamples without a value, left out.
    pub unusable: usize,
    /// The seed.
    pub seed: u64,
}

impl BootstrapInterval {
    /// Type 7 quantiles of the resampled values at `(1 - level) / 2` and `(1 + level) / 2`.
    ///
    /// Values that are not finite count as unusable. Errors when more than a tenth are.
    pub(super) fn percentile(
        mut values: Vec<f64>,
        level: f64,
        bootstrap: &Bootstrap,
    ) -> Result<Self> {
        super::error::check_fraction("level", level)?;
        let resamples = values.len();
        values.retain(|v| v.is_finite());
        let unusable = resamples - values.len();
        if unusable * 10 > resamples {
            return Err(StatisticsError::UnusableResamples {
                what: "the statistic has no value there",
                unusable,
                resamples,
            });
        }
        values.sort_unstable_by(f64::total_cmp);
        Ok(Self {
            interval: Interval {
                lower: quantile_of_sorted(&values, (1.0 - level) / 2.0),
                upper: quantile_of_sorted(&values, (1.0 + level) / 2.0),
                level,
            },
            resamples,
            unusable,
            seed: bootstrap.seed,
        })
    }

    /// Adds a warning when resamples were left out.
    pub(super) fn warn(&self, warnings: &mut Vec<Warning>) {
        if self.unusable > 0 {
            warnings.push(Warning::UnusableResamples {
                unusable: self.unusable,
                resamples: self.resamples,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sums(threads: usize, seed: u64) -> Vec<usize> {
        let bootstrap = Bootstrap {
            resamples: 257,
            seed,
            threads: NonZeroUsize::new(threads),
        };
        bootstrap
            .run(|| (), |(), draws| (0..50).map(|_| draws.below(10)).sum())
            .unwrap()
    }

    #[test]
    fn threads_do_not_change_the_draws() {
        assert_eq!(sums(1, 7), sums(2, 7));
        assert_eq!(sums(1, 7), sums(5, 7));
        assert_ne!(sums(1, 7), sums(1, 8));
    }

    #[test]
    fn draws_are_even() {
        // Law: 257 * 50 draws below 10 have mean 4.5, sd 2.87; the mean's standard error is 0.025.
        let total: usize = sums(1, 3).iter().sum();
        let mean = total as f64 / (257.0 * 50.0);
        assert!((mean - 4.5).abs() < 0.1, "mean {mean}");
    }

    #[test]
    fn both_widths_draw_below_the_count() {
        let mut draws = Draws(ChaCha8Rng::seed_from_u64(1));
        assert!((0..1000).all(|_| draws.below_u64(3) < 3 && draws.below_u32(7) < 7));
        assert_eq!(draws.below(1), 0);
    }

    #[test]
    fn too_few_resamples_are_refused() {
        let error = Bootstrap::seeded(1)
            .with_resamples(10)
            .run(|| (), |(), _| 0.0)
            .unwrap_err();
        assert!(matches!(error, StatisticsError::TooFew { found: 10, .. }));
    }

    #[test]
    fn many_unusable_resamples_are_an_error() {
        let values = vec![f64::NAN; 100];
        assert!(BootstrapInterval::percentile(values, 0.95, &Bootstrap::seeded(1)).is_err());
    }
}
