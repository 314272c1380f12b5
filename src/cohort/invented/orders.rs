//! What clinicians decide around a challenge, and what the monitors show them.

use super::draws::Draws;
use super::exam::{Influence, to_step};
use super::heart::steepness;
use super::operators::Operator;
use super::patient::Patient;
use super::words::{Rhythm, VasoactiveChange};

/// Volumes a clinician orders, mL; those that stand twice are ordered more often.
const VOLUMES: [f64; 12] = [
    100.0, 100.0, 150.0, 200.0, 250.0, 250.0, 300.0, 400.0, 500.0, 500.0, 750.0, 1000.0,
];

/// The volume ordered: more for the sick and the heavy, more when the last challenge worked, less when it did not; and some clinicians are generous.
pub(super) fn volume(
    patient: &Patient,
    last_change: Option<f64>,
    operator: &Operator,
    draws: &mut Draws,
) -> f64 {
    let by_response = match last_change {
        Some(change) if change >= 15.0 => 1.2,
        Some(change) if change < 5.0 => -2.2,
        _ => 0.0,
    };
    let by_body = 0.8 * patient.severity + 0.03 * (patient.weight - 82.0);
    let place = 5.6 + by_body + by_response + operator.generosity + 2.2 * draws.normal();
    VOLUMES[place.round().clamp(0.0, VOLUMES.len() as f64 - 1.0) as usize]
}

/// Minutes from the end of the fluid to the second exam; written and true, for a clock can be read.
pub(super) fn minutes(late_share: f64, operator: &Operator, draws: &mut Draws) -> f64 {
    if draws.chance((late_share * operator.lateness).min(1.0)) {
        to_step(draws.between(10.0, 45.0), 5.0)
    } else {
        draws.between(0.5, 6.5).round()
    }
}

/// Whether the dose of vasoactive drugs changes between the exams; upward more often in the sick.
pub(super) fn vasoactive_change(patient: &Patient, draws: &mut Draws) -> VasoactiveChange {
    let up = (0.06 + 0.03 * patient.severity).clamp(0.01, 0.2);
    let lot = draws.uniform();
    if lot < up {
        VasoactiveChange::Up
    } else if lot < up + 0.05 {
        VasoactiveChange::Down
    } else {
        VasoactiveChange::None
    }
}

/// A vasoconstrictor recruits venous blood, raises the pressure and, a little, the rate (amounts ours).
pub(super) fn add_vasoactive(influence: &mut Influence, change: VasoactiveChange) {
    let direction = match change {
        VasoactiveChange::None => 0.0,
        VasoactiveChange::Up => 1.0,
        VasoactiveChange::Down => -1.0,
    };
    influence.preload += 0.12 * direction;
    influence.pressure += 7.0 * direction;
    influence.rate += 0.03 * direction;
}

/// Pulse pressure variation, %: follows the steepness of the curve in a ventilated patient with regular rhythm. Some write it down in atrial fibrillation
/// too, where it follows the beats.
pub(super) fn pulse_pressure_variation(
    patient: &Patient,
    preload: f64,
    draws: &mut Draws,
) -> Option<f64> {
    let recorded = match patient.rhythm {
        Rhythm::Regular => 0.85,
        Rhythm::Irregular => 0.30,
    };
    if !patient.ventilated || !patient.arterial_line || !draws.chance(recorded) {
        return None;
    }
    let read = match patient.rhythm {
        Rhythm::Regular => 2.5 + patient.variation_gain * steepness(preload) * draws.factor(0.25),
        Rhythm::Irregular => 16.0 * draws.factor(0.45),
    };
    Some(read.clamp(1.0, 40.0).round())
}

/// Central venous pressure, `mm[Hg]`: it rises with preload, and tells little about it.
pub(super) fn central_venous_pressure(preload: f64, draws: &mut Draws) -> f64 {
    (7.5 + 1.3 * preload + 3.2 * draws.normal())
        .clamp(0.0, 25.0)
        .round()
}

#[cfg(test)]
mod tests {
    use super::super::draws::Topic;
    use super::super::operators::operators;
    use super::super::plan::Plan;
    use super::*;

    fn mean_volume(last_change: Option<f64>) -> f64 {
        let plan = Plan::fluid_challenges();
        let patient = Patient::draw(&plan, 1);
        let unit = operators(&plan);
        let mut draws = Draws::new(5, Topic::Course, 1);
        (0..500)
            .map(|_| volume(&patient, last_change, &unit[0], &mut draws))
            .sum::<f64>()
            / 500.0
    }

    #[test]
    fn volumes_follow_the_last_response() {
        assert!(mean_volume(Some(25.0)) > mean_volume(None) + 20.0);
        assert!(mean_volume(Some(0.0)) < mean_volume(None) - 50.0);
    }

    #[test]
    fn variation_falls_along_the_curve_and_needs_a_ventilator_and_a_line() {
        let plan = Plan::fluid_challenges();
        let drawn = || Patient::draw(&plan, 1);
        let ready = Patient {
            ventilated: true,
            arterial_line: true,
            rhythm: Rhythm::Regular,
            ..drawn()
        };
        let mut draws = Draws::new(5, Topic::Course, 1);
        let mut mean = |preload: f64| {
            let read: Vec<f64> = (0..300)
                .filter_map(|_| pulse_pressure_variation(&ready, preload, &mut draws))
                .collect();
            read.iter().sum::<f64>() / read.len() as f64
        };
        assert!(mean(0.6) > mean(1.2) && mean(1.2) > mean(2.5));
        let mut draws = Draws::new(5, Topic::Course, 1);
        let breathing = Patient {
            ventilated: false,
            ..ready
        };
        assert_eq!(pulse_pressure_variation(&breathing, 0.6, &mut draws), None);
    }
}
