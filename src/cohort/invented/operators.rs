//! Invented operators and their habits.

use super::draws::{Draws, Topic};
use super::plan::Plan;
use super::words::Convention;

/// Day from which operator C reads VTI too high (a new habit of tracing the outer edge of the spectrum).
pub(super) const DRIFT_DAY: u32 = 200;
/// Spread of the operators' own biases in VTI. Two operators: least significant change 14 %, one: 11 % (Jozwiak 2019, Crit Care 23:116), so the variance
/// that an operator adds is ((14/1.96)^2 - (11/1.96)^2)/2 = (3.1 %)^2.
const VTI_BIAS_SPREAD: f64 = 0.031;

/// To which step a value is written.
#[derive(Clone, Copy)]
pub(super) struct Steps {
    pub diameter: f64,
    pub vti: f64,
    pub rate: f64,
    pub pressure: f64,
}

const AS_READ: Steps = Steps {
    diameter: 0.01,
    vti: 0.1,
    rate: 1.0,
    pressure: 1.0,
};
const ROUND_NUMBERS: Steps = Steps {
    diameter: 0.1,
    vti: 0.5,
    rate: 5.0,
    pressure: 5.0,
};

pub(super) struct Operator {
    pub letter: char,
    /// Share of the exams, relative to the others.
    pub share: f64,
    vti_bias: f64,
    late_vti_bias: f64,
    pub diameter_bias: f64,
    pub steps: Steps,
    pub beats_regular: u32,
    pub beats_irregular: u32,
    pub convention: Convention,
    /// Chance that a clip, still or measurement is kept.
    pub keeps: f64,
    /// Factor on the plan's share of late exams.
    pub lateness: f64,
    /// Steps up or down the list of volumes.
    pub generosity: f64,
}

impl Operator {
    /// Logarithm of the factor by which this operator misreads VTI on a day.
    pub(super) fn vti_bias(&self, day: u32) -> f64 {
        if day >= DRIFT_DAY {
            self.vti_bias + self.late_vti_bias
        } else {
            self.vti_bias
        }
    }

    fn draw(plan: &Plan, index: usize) -> Self {
        let mut draws = Draws::new(plan.seed, Topic::Operator, index as u32);
        let draws = &mut draws;
        Self {
            letter: char::from(b'A' + index as u8),
            share: draws.between(0.5, 1.5),
            vti_bias: VTI_BIAS_SPREAD * draws.normal(),
            late_vti_bias: 0.0,
            diameter_bias: 0.01 * draws.normal(),
            steps: AS_READ,
            beats_regular: if draws.chance(0.8) { 3 } else { 5 },
            beats_irregular: if draws.chance(0.7) { 5 } else { 3 },
            convention: if draws.chance(0.15) {
                Convention::LeadingEdge
            } else {
                Convention::InnerEdge
            },
            keeps: draws.between(0.70, 0.95),
            lateness: draws.between(0.6, 1.2),
            generosity: 0.5 * draws.normal(),
        }
    }
}

/// The operators of a plan: A careful, B fond of round numbers, C with a bias from [`DRIFT_DAY`] on, D hurried; the others as they were drawn.
pub(super) fn operators(plan: &Plan) -> Vec<Operator> {
    let mut operators: Vec<Operator> = (0..plan.operators)
        .map(|index| Operator::draw(plan, index))
        .collect();
    for operator in &mut operators {
        match operator.letter {
            'A' => {
                (
                    operator.share,
                    operator.beats_regular,
                    operator.beats_irregular,
                ) = (1.6, 5, 10);
                (operator.convention, operator.keeps, operator.lateness) =
                    (Convention::InnerEdge, 0.98, 0.4);
            }
            'B' => {
                (operator.share, operator.steps, operator.convention) =
                    (1.2, ROUND_NUMBERS, Convention::InnerEdge);
            }
            'C' => {
                (operator.share, operator.late_vti_bias, operator.convention) =
                    (1.2, 0.08, Convention::InnerEdge);
            }
            'D' => {
                (
                    operator.share,
                    operator.beats_regular,
                    operator.beats_irregular,
                ) = (0.9, 1, 2);
                (operator.convention, operator.keeps, operator.lateness) =
                    (Convention::LeadingEdge, 0.45, 2.2);
            }
            _ => {}
        }
    }
    operators
}

/// One operator, by share.
pub(super) fn pick<'unit>(operators: &'unit [Operator], draws: &mut Draws) -> &'unit Operator {
    let total: f64 = operators.iter().map(|operator| operator.share).sum();
    let mut left = total * draws.uniform();
    for operator in operators {
        left -= operator.share;
        if left <= 0.0 {
            return operator;
        }
    }
    // Only rounding of the sum leads here.
    &operators[operators.len() - 1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn habits_stay_with_their_letters_whatever_the_seed() {
        for seed in [1, 2] {
            let unit = operators(&Plan {
                seed,
                ..Plan::fluid_challenges()
            });
            assert_eq!(unit.len(), 8);
            assert_eq!(unit[0].beats_irregular, 10);
            assert_eq!(unit[1].steps.diameter, 0.1);
            assert!(unit[2].vti_bias(DRIFT_DAY) - unit[2].vti_bias(DRIFT_DAY - 1) > 0.07);
            assert_eq!(unit[3].beats_regular, 1);
        }
    }

    #[test]
    fn every_operator_is_picked_and_the_busiest_most() {
        let unit = operators(&Plan::fluid_challenges());
        let mut draws = Draws::new(1, Topic::Course, 1);
        let mut exams = vec![0_usize; unit.len()];
        for _ in 0..4000 {
            let letter = pick(&unit, &mut draws).letter;
            exams[letter as usize - 'A' as usize] += 1;
        }
        assert!(exams.iter().all(|count| *count > 100));
        assert_eq!(exams.iter().max(), Some(&exams[0]));
    }
}
