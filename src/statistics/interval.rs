//! An interval and the level it claims.

use super::error::{Result, check_fraction};

/// An interval estimate, in the unit of what it is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// The level it claims, as a fraction: 0.95.
    pub level: f64,
}

impl Interval {
    /// Whether `value` lies inside, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.lower <= value && value <= self.upper
    }

    /// Upper end less lower end.
    pub fn width(&self) -> f64 {
        self.upper - self.lower
    }

    /// `center ± half`.
    pub(super) fn around(center: f64, half: f64, level: f64) -> Self {
        Self {
            lower: center - half,
            upper: center + half,
            level,
        }
    }

    /// The same interval cut to `[low, high]`.
    pub(super) fn clipped(self, low: f64, high: f64) -> Self {
        Self {
            lower: self.lower.clamp(low, high),
            upper: self.upper.clamp(low, high),
            level: self.level,
        }
    }
}

/// The upper cumulative probability of a two-sided level: 0.975 for 0.95.
pub(super) fn upper_tail(level: f64) -> Result<f64> {
    check_fraction("level", level)?;
    Ok(0.5 + level / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_belong_to_the_interval() {
        let interval = Interval::around(1.0, 0.5, 0.95);
        assert!(interval.contains(0.5) && interval.contains(1.5));
        assert!(!interval.contains(1.5000001));
        assert_eq!(interval.width(), 1.0);
        assert_eq!(interval.clipped(0.75, 1.25).width(), 0.5);
    }
}
