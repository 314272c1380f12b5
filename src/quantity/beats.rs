//! Beats: how many traced beats stand behind a reading, and by which rule they were joined.
//!
//! ```
//! use semilunar::quantity::Beats;
//!
//! let beats = Beats::mean_of(vec![17.8, 18.4, 18.1]).unwrap();
//! assert_eq!(beats.count(), 3);
//! assert!((beats.joined().unwrap() - 18.1).abs() < 1e-12);
//! assert!(!beats.is_largest());
//! ```

/// The beats behind a reading.
#[derive(Clone, Debug, PartialEq)]
pub enum Beats {
    /// Not said: one number, counted as one beat.
    Unstated,
    /// The average of this many beats, whose values are not kept.
    Averaged(u32),
    /// The average of these beats, in the reading's unit.
    Mean(Vec<f64>),
    /// The largest of these beats, in the reading's unit; says nothing of their scatter.
    Largest(Vec<f64>),
}

impl Beats {
    /// The average of `values`; `None` for no values.
    pub fn mean_of(values: Vec<f64>) -> Option<Beats> {
        (!values.is_empty()).then_some(Beats::Mean(values))
    }

    /// The largest of `values`; `None` for no values.
    pub fn largest_of(values: Vec<f64>) -> Option<Beats> {
        (!values.is_empty()).then_some(Beats::Largest(values))
    }

    /// How many beats were traced; 1 where nothing was said.
    pub fn count(&self) -> u32 {
        match self {
            Beats::Unstated => 1,
            Beats::Averaged(n) => *n,
            Beats::Mean(v) | Beats::Largest(v) => u32::try_from(v.len()).unwrap_or(u32::MAX),
        }
    }

    /// Whether the largest was taken rather than the mean.
    pub fn is_largest(&self) -> bool {
        matches!(self, Beats::Largest(_))
    }

    /// The number the rule makes of the beats; `None` where no values are kept.
    pub fn joined(&self) -> Option<f64> {
        match self {
            Beats::Unstated | Beats::Averaged(_) => None,
            Beats::Mean(v) => Some(v.iter().sum::<f64>() / v.len() as f64),
            Beats::Largest(v) => v.iter().copied().reduce(f64::max),
        }
    }

    /// Standard uncertainty of the mean from the scatter of the beats (type A, JCGM 100:2008
    /// 4.2.3), with its degrees of freedom; `None` for fewer than two beats or the largest beat.
    pub fn scatter(&self) -> Option<(f64, u32)> {
        let Beats::Mean(values) = self else {
            return None;
        };
        let n = values.len();
        if n < 2 {
            return None;
        }
        let mean = values.iter().sum::<f64>() / n as f64;
        let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        let freedom = (n - 1) as f64;
        Some((
            (squares / freedom / n as f64).sqrt(),
            u32::try_from(n - 1).unwrap_or(u32::MAX),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scatter_is_the_standard_error_of_the_mean() {
        // By hand: mean 18.1, deviations −0.3, 0.3, 0; s² = 0.09; s/√3 = 0.1732…
        let (u, freedom) = Beats::Mean(vec![17.8, 18.4, 18.1]).scatter().unwrap();
        assert!((u - (0.09f64 / 3.0).sqrt()).abs() < 1e-12);
        assert_eq!(freedom, 2);
    }

    #[test]
    fn the_largest_beat_has_no_scatter() {
        assert_eq!(Beats::Largest(vec![17.0, 19.0]).scatter(), None);
        assert_eq!(Beats::Largest(vec![17.0, 19.0]).joined(), Some(19.0));
    }
}
