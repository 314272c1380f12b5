//! Invented patients: body, heart and circulation, drawn once each.

use std::f64::consts::PI;

use libm::{exp, log, pow};

use super::draws::{Draws, Topic};
use super::heart::Heart;
use super::plan::Plan;
use super::words::{Rhythm, Sex};

/// Lightest and heaviest patient, kg; draws outside are drawn again.
const WEIGHTS: (f64, f64) = (45.0, 140.0);
/// Days over which the patients of a plan are admitted.
const ADMISSION_DAYS: f64 = 400.0;

/// A patient as nature made them. Constants without a source are ours, chosen so that the unit looks like one (see the module's page).
pub(super) struct Patient {
    pub number: usize,
    pub sex: Sex,
    pub height: f64,
    pub weight: f64,
    pub rhythm: Rhythm,
    /// Standard normal: above 0 is sicker than most.
    pub severity: f64,
    pub lvot_diameter: f64,
    /// Whether anyone can measure the diameter.
    pub diameter_obtainable: bool,
    /// Chance that the Doppler signal of an exam is poor.
    pub poor_signal: f64,
    pub heart: Heart,
    pub usual_preload: f64,
    /// How much preload rises when the circulating volume does.
    pub fluid_gain: f64,
    /// Share of the effect of fluid that does not wear off within the hour.
    pub retained_floor: f64,
    pub heart_rate: f64,
    pub mean_pressure: f64,
    /// Arterial compliance, `mL/mm[Hg]`.
    pub compliance: f64,
    pub ventilated: bool,
    pub arterial_line: bool,
    pub central_line: bool,
    /// How strongly pulse pressure variation shows the steepness of the curve in this patient (tidal volume, lungs, right heart).
    pub variation_gain: f64,
    pub admitted: f64,
    /// Whether height and weight are in the record.
    pub height_known: bool,
    pub weight_known: bool,
}

impl Patient {
    pub(super) fn draw(plan: &Plan, number: usize) -> Self {
        let mut draws = Draws::new(plan.seed, Topic::Body, number as u32);
        let draws = &mut draws;
        let sex = if draws.chance(0.42) {
            Sex::Female
        } else {
            Sex::Male
        };
        let height = height(draws, sex);
        let weight = weight(draws, height);
        let surface = body_surface_area(height, weight);
        let severity = draws.normal();
        let rhythm = if draws.chance(plan.irregular_share) {
            Rhythm::Irregular
        } else {
            Rhythm::Regular
        };
        let index_at_plateau = 46.0 * draws.factor(0.14) * exp(-0.07 * severity);
        // Half of a wide tract belongs to a large heart: stroke volume goes with the diameter, not with its square, beyond what the body explains.
        let usual_diameter = 1.17 + 0.45 * surface;
        let lvot_diameter = (usual_diameter + 0.12 * draws.normal()).clamp(1.6, 2.6);
        let ventilated = draws.chance(within_unit(0.62 + 0.15 * severity));
        Self {
            number,
            sex,
            height,
            weight,
            rhythm,
            severity,
            lvot_diameter,
            diameter_obtainable: !draws
                .chance(plan.unobtainable_share * exp(0.02 * (weight - 82.0))),
            poor_signal: within_unit(0.05 * draws.factor(0.9) * exp(0.012 * (weight - 82.0))),
            heart: Heart {
                plateau: index_at_plateau * surface * lvot_diameter / usual_diameter,
            },
            // The sickest have had fluid before they came.
            usual_preload: (1.20 * draws.factor(0.58) * exp(0.10 * severity)).clamp(0.62, 3.2),
            fluid_gain: 20.0 * draws.factor(0.22),
            retained_floor: draws.between(0.05, 0.35) * exp(-0.15 * severity.max(0.0)),
            heart_rate: (92.0 + 7.0 * severity + 14.0 * draws.normal()).clamp(48.0, 150.0),
            mean_pressure: (67.0 - 3.0 * severity + 7.0 * draws.normal()).clamp(45.0, 105.0),
            compliance: 1.35 * draws.factor(0.22),
            ventilated,
            arterial_line: draws.chance(within_unit(0.70 + 0.15 * severity)),
            central_line: draws.chance(within_unit(0.42 + 0.18 * severity)),
            variation_gain: 11.0 * draws.factor(0.30),
            admitted: 1.0
                + ADMISSION_DAYS * (number as f64 - draws.uniform()) / plan.patients as f64,
            height_known: !draws.chance(chance_missing(0.015, severity, plan)),
            weight_known: !draws.chance(chance_missing(0.01, severity, plan)),
        }
    }

    /// True area of the outflow tract, cm2.
    pub(super) fn outflow_area(&self) -> f64 {
        PI / 4.0 * self.lvot_diameter * self.lvot_diameter
    }

    /// True VTI at the usual preload, cm.
    pub(super) fn usual_vti(&self) -> f64 {
        self.heart.stroke_volume(self.usual_preload) / self.outflow_area()
    }
}

/// Chance that something is missing: `usual` in a patient of ordinary severity, more in a sicker one (odds double with each standard deviation).
pub(super) fn chance_missing(usual: f64, severity: f64, plan: &Plan) -> f64 {
    let odds = plan.missingness * usual / (1.0 - usual) * exp(0.7 * severity);
    odds / (1.0 + odds)
}

fn height(draws: &mut Draws, sex: Sex) -> f64 {
    let (mean, spread) = match sex {
        Sex::Female => (163.0, 6.8),
        Sex::Male => (176.5, 7.3),
    };
    (mean + spread * draws.normal()).clamp(145.0, 202.0).round()
}

fn weight(draws: &mut Draws, height: f64) -> f64 {
    let meters = height / 100.0;
    // The range covers most of the distribution; the bound on the draws only keeps the loop from depending on luck.
    for _ in 0..100 {
        let weight = (27.0 * draws.factor(0.20) * meters * meters).round();
        if weight >= WEIGHTS.0 && weight <= WEIGHTS.1 {
            return weight;
        }
    }
    82.0
}

/// Du Bois & Du Bois 1916, Arch Intern Med 17:863-71, m2. Only the invented bodies are sized by it; the catalogue computes what is shown to people.
fn body_surface_area(height: f64, weight: f64) -> f64 {
    0.007_184 * pow(weight, 0.425) * pow(height, 0.725)
}

fn within_unit(probability: f64) -> f64 {
    probability.clamp(0.0, 1.0)
}

/// Log of a ratio, for effects that multiply.
pub(super) fn log_ratio(after: f64, before: f64) -> f64 {
    log(after / before)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_unit_has_bodies_of_45_to_140_kg_and_larger_ones_have_wider_tracts() {
        let plan = Plan::fluid_challenges();
        let patients: Vec<Patient> = (1..=300)
            .map(|number| Patient::draw(&plan, number))
            .collect();
        assert!(
            patients
                .iter()
                .all(|patient| (45.0..=140.0).contains(&patient.weight))
        );
        let mean = |group: &[&Patient]| {
            group
                .iter()
                .map(|patient| patient.lvot_diameter)
                .sum::<f64>()
                / group.len() as f64
        };
        let (small, large): (Vec<&Patient>, Vec<&Patient>) = patients
            .iter()
            .partition(|patient| body_surface_area(patient.height, patient.weight) < 1.9);
        assert!(small.len() > 50 && large.len() > 50);
        assert!(mean(&large) > mean(&small) + 0.05);
    }

    #[test]
    fn body_surface_is_that_of_the_published_formula() {
        // 170 cm, 70 kg: 1.80970780175 m2, computed from Du Bois's formula in 25 digits.
        assert!((body_surface_area(170.0, 70.0) - 1.809_707_801_75).abs() < 1e-11);
    }

    #[test]
    fn a_patient_does_not_change_when_the_unit_admits_more_challenges() {
        let plan = Plan::fluid_challenges();
        let busier = Plan {
            challenges: 900,
            ..plan.clone()
        };
        assert_eq!(
            Patient::draw(&plan, 17).weight,
            Patient::draw(&busier, 17).weight
        );
        assert_eq!(
            Patient::draw(&plan, 17).heart,
            Patient::draw(&busier, 17).heart
        );
    }

    #[test]
    fn the_sicker_the_more_is_missing_and_nothing_is_at_zero() {
        let plan = Plan::fluid_challenges();
        assert!((chance_missing(0.04, 0.0, &plan) - 0.04).abs() < 1e-12);
        assert!(chance_missing(0.04, 2.0, &plan) > 0.1);
        assert_eq!(
            chance_missing(
                0.04,
                2.0,
                &Plan {
                    missingness: 0.0,
                    ..plan
                }
            ),
            0.0
        );
    }
}
