//! Which outflow diameter a row has: carried forward, measured in both exams, unobtainable or not written down.

use super::draws::Draws;
use super::exam::measured_diameter;
use super::operators::Operator;
use super::patient::{Patient, chance_missing};
use super::plan::Plan;
use super::row::SharedDiameter;
use super::words::Convention;

/// Chance that a diameter is measured again although one could be carried forward.
const MEASURED_AGAIN: f64 = 0.10;

/// The diameters of one row.
#[derive(Clone, Copy)]
pub(super) struct Diameters {
    pub shared: SharedDiameter,
    pub before: Option<f64>,
    pub after: Option<f64>,
    pub convention: Option<Convention>,
}

/// The diameter a patient's record carries forward from exam to exam.
#[derive(Default)]
pub(super) struct DiameterRecord {
    carried: Option<Carried>,
}

#[derive(Clone, Copy)]
struct Carried {
    centimeters: f64,
    convention: Convention,
}

impl DiameterRecord {
    /// The diameter that both exams of a row share.
    pub(super) fn shared(
        &mut self,
        patient: &Patient,
        operator: &Operator,
        plan: &Plan,
        draws: &mut Draws,
    ) -> Diameters {
        if !patient.diameter_obtainable {
            return Diameters::none(SharedDiameter::Unobtainable);
        }
        let carried = self.carried(patient, operator, draws);
        if draws.chance(chance_missing(0.015, patient.severity, plan)) {
            return Diameters::none(SharedDiameter::Blank);
        }
        Diameters {
            convention: written(carried.convention, patient, plan, draws),
            ..Diameters::none(SharedDiameter::Measured(carried.centimeters))
        }
    }

    fn carried(&mut self, patient: &Patient, operator: &Operator, draws: &mut Draws) -> Carried {
        let again = draws.chance(MEASURED_AGAIN);
        match self.carried {
            Some(carried) if !again => carried,
            _ => {
                let centimeters = measured_diameter(patient, operator, draws);
                let carried = Carried {
                    centimeters,
                    convention: operator.convention,
                };
                self.carried = Some(carried);
                carried
            }
        }
    }
}

impl Diameters {
    fn none(shared: SharedDiameter) -> Self {
        Self {
            shared,
            before: None,
            after: None,
            convention: None,
        }
    }

    /// A diameter of its own for each exam, by its operator; the convention written down is that of the first.
    pub(super) fn of_each_exam(
        patient: &Patient,
        before: &Operator,
        after: &Operator,
        plan: &Plan,
        draws: &mut Draws,
    ) -> Self {
        if !patient.diameter_obtainable {
            return Self::none(SharedDiameter::Unobtainable);
        }
        Self {
            before: Some(measured_diameter(patient, before, draws)),
            after: Some(measured_diameter(patient, after, draws)),
            convention: written(before.convention, patient, plan, draws),
            ..Self::none(SharedDiameter::Blank)
        }
    }
}

fn written(
    convention: Convention,
    patient: &Patient,
    plan: &Plan,
    draws: &mut Draws,
) -> Option<Convention> {
    (!draws.chance(chance_missing(0.06, patient.severity, plan))).then_some(convention)
}

#[cfg(test)]
mod tests {
    use super::super::draws::Topic;
    use super::super::operators::operators;
    use super::*;

    #[test]
    fn a_carried_diameter_stays_until_someone_measures_again() {
        let plan = Plan {
            missingness: 0.0,
            ..Plan::fluid_challenges()
        };
        let patient = Patient {
            diameter_obtainable: true,
            ..Patient::draw(&plan, 1)
        };
        let unit = operators(&plan);
        let mut draws = Draws::new(9, Topic::Course, 1);
        let mut record = DiameterRecord::default();
        let seen: Vec<SharedDiameter> = (0..400)
            .map(|_| record.shared(&patient, &unit[0], &plan, &mut draws).shared)
            .collect();
        let changes = seen.windows(2).filter(|pair| pair[0] != pair[1]).count();
        // A tenth of 399, four standard deviations either way; a new measurement rarely gives the old value.
        assert!((16..=64).contains(&changes), "{changes}");
    }
}
