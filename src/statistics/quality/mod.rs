//! Quality over time and between operators: is this process steady, and does one stand out?
//!
//! Single values in order: [`individuals`], [`ewma`], [`cusum`], [`run_rules`]. Proportions in order: [`p_chart`]. Operators
//! side by side: [`funnel_of_means`], [`funnel_of_proportions`]. Rounding habits: [`terminal_digits`].
//!
//! A chart looks often, so it will cry wolf sometimes: each result says how likely that is.

mod cusum;
mod ewma;
mod funnel;
mod individuals;
mod p_chart;
mod run_rules;
mod terminal_digit;

pub use cusum::{Cusum, CusumPoint, cusum};
pub use ewma::{Ewma, EwmaPoint, ewma};
pub use funnel::{Funnel, FunnelPoint, FunnelPosition, funnel_of_means, funnel_of_proportions};
pub use individuals::{ControlLimits, Individuals, individuals};
pub use p_chart::{PChart, PPoint, p_chart};
pub use run_rules::{RunRule, RunSignal, RunSignals, run_rules};
pub use terminal_digit::{TerminalDigits, terminal_digits};

/// Chance that a point of a steady, normal process lies beyond three standard deviations: `2 (1 - Phi(3))`.
const BEYOND_THREE: f64 = 0.002_699_796_063_260_189;

#[cfg(test)]
mod tests {
    #[test]
    fn beyond_three_is_the_normal_tail() {
        let tail = crate::statistics::distribution::normal_two_sided(3.0);
        assert!((tail - super::BEYOND_THREE).abs() < 1e-17);
    }
}
