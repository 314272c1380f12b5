//! Mean and standard deviation of draws.

/// Number, mean and sum of squared deviations, which join without a look at the values.
#[derive(Clone, Copy)]
pub(super) struct Moments {
    count: f64,
    pub(super) mean: f64,
    squares: f64,
}

impl Moments {
    pub(super) const NONE: Moments = Moments {
        count: 0.0,
        mean: 0.0,
        squares: 0.0,
    };

    pub(super) fn of(values: &[f64]) -> Moments {
        let count = values.len() as f64;
        let mean = sum(values, |v| v) / count;
        Moments {
            count,
            mean,
            squares: sum(values, |v| (v - mean) * (v - mean)),
        }
    }

    /// The moments of two sets together (Chan, Golub & LeVeque 1983 Am Stat 37:242-7).
    pub(super) fn join(self, other: Moments) -> Moments {
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

    pub(super) fn standard(self) -> f64 {
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
