//! The invented heart: a Frank–Starling curve with a plateau, what fluid does to its preload, and how that wears off.

use libm::exp;

/// Minutes after the end of the fluid at which its effect peaks. Aya et al., Crit Care Med 2016: about 1 min.
const PEAK_MINUTES: f64 = 1.0;
/// Time constant of the decay: 10 min after the fluid, 11 % of the part that wears off is left ("dissipated by 10 min", Aya 2016).
const DECAY_MINUTES: f64 = 4.0;
/// Circulating volume, mL for each kg of body weight (textbook value, from memory).
const BLOOD_PER_KILOGRAM: f64 = 70.0;
/// Volume at which an infusion expands the circulation by half of what it holds (ours): large volumes run in slowly and leave again meanwhile.
const HALF_EFFECT_VOLUME: f64 = 250.0;

/// A ventricle: stroke volume grows with preload and saturates at `plateau`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heart {
    /// The stroke volume that no preload can exceed, mL.
    pub plateau: f64,
}

impl Heart {
    /// True stroke volume in mL at a preload. `SV = plateau (1 - exp(-preload))`; preload is a pure number: 0 is an empty heart, at 3 the curve is flat.
    pub fn stroke_volume(self, preload: f64) -> f64 {
        self.plateau * (1.0 - exp(-preload))
    }
}

/// How strongly stroke volume follows preload: the derivative of its logarithm. Large on the steep part, near zero on the plateau.
pub(super) fn steepness(preload: f64) -> f64 {
    let left = exp(-preload);
    left / (1.0 - left)
}

/// Rise of the preload at the peak of the effect of `volume` mL in a patient of `weight` kg; `gain` is the patient's.
pub(super) fn preload_rise(volume: f64, weight: f64, gain: f64) -> f64 {
    let expansion = volume / (1.0 + volume / HALF_EFFECT_VOLUME);
    gain * expansion / (BLOOD_PER_KILOGRAM * weight)
}

/// Share of the peak effect that is left after `minutes`; `floor` is the share that stays in the patient's vessels.
pub(super) fn retained(minutes: f64, floor: f64) -> f64 {
    let since_peak = (minutes - PEAK_MINUTES).max(0.0);
    floor + (1.0 - floor) * exp(-since_peak / DECAY_MINUTES)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stroke_volume_rises_with_preload_ever_less_and_never_passes_the_plateau() {
        let heart = Heart { plateau: 90.0 };
        let curve: Vec<f64> = (0..60)
            .map(|step| heart.stroke_volume(f64::from(step) / 10.0))
            .collect();
        assert_eq!(curve[0], 0.0);
        let gains: Vec<f64> = curve.windows(2).map(|pair| pair[1] - pair[0]).collect();
        assert!(gains.iter().all(|gain| *gain > 0.0));
        assert!(gains.windows(2).all(|pair| pair[1] < pair[0]));
        assert!(curve.iter().all(|volume| *volume < 90.0));
        assert!(heart.stroke_volume(6.0) > 0.99 * 90.0);
    }

    #[test]
    fn steepness_is_the_slope_of_the_logarithm() {
        let heart = Heart { plateau: 90.0 };
        for preload in [0.4, 1.0, 2.5] {
            let step = 1e-5;
            let slope = (heart.stroke_volume(preload + step).ln()
                - heart.stroke_volume(preload - step).ln())
                / (2.0 * step);
            assert!((steepness(preload) - slope).abs() < 1e-7 * slope.max(1.0));
        }
    }

    #[test]
    fn the_effect_of_fluid_peaks_at_a_minute_and_is_mostly_gone_at_ten() {
        assert_eq!(retained(0.5, 0.2), 1.0);
        assert_eq!(retained(1.0, 0.2), 1.0);
        assert!(retained(5.0, 0.2) < retained(3.0, 0.2));
        // Aya 2016: dissipated by 10 min. Of the part that leaves, less than an eighth is left.
        assert!((retained(10.0, 0.2) - 0.2) / 0.8 < 0.125);
        assert!(retained(600.0, 0.2) >= 0.2);
    }

    #[test]
    fn the_same_volume_does_more_in_a_small_patient_and_double_the_volume_less_than_double() {
        assert!(preload_rise(500.0, 50.0, 4.0) > preload_rise(500.0, 120.0, 4.0));
        assert!(preload_rise(1000.0, 80.0, 4.0) < 2.0 * preload_rise(500.0, 80.0, 4.0));
        assert!(preload_rise(1000.0, 80.0, 4.0) > preload_rise(500.0, 80.0, 4.0));
    }
}
