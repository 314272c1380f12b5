//! What to invent: how many, how faulty, from which seed.

use thiserror::Error;

/// No invented patient gets more fluid challenges than this.
pub const MOST_CHALLENGES_PER_PATIENT: usize = 12;

/// The plan of an invented cohort. Every field is checked by [`Plan::check`] before anything is drawn.
///
/// Start from [`Plan::fluid_challenges`] or [`Plan::first_cohort`], which are the plans of the two bundled files, and change what you need.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Any number. The same plan with the same seed gives the same bytes on every machine.
    pub seed: u64,
    /// Patients of the unit, 1 to 9999. Each gets at least one fluid challenge.
    pub patients: usize,
    /// Rows whose purpose is `fluid`: at least `patients`, at most [`MOST_CHALLENGES_PER_PATIENT`] times `patients`.
    pub challenges: usize,
    /// Rows whose purpose is `repeat_without_fluid` (two exams minutes apart and nothing given between), 0 to `patients`.
    pub repeats: usize,
    /// Operators of the unit, 2 to 26, named by letter. The first four have the habits listed in the [module](super).
    pub operators: usize,
    /// Share of the opportunities for fluid that are tested by a passive leg raise first, 0 to 1.
    pub leg_raise_share: f64,
    /// Whether each passive leg raise also gets a row of its own, with purpose `passive_leg_raise`. If not, it is only a column of the challenge's row.
    pub leg_raise_rows: bool,
    /// Share of patients with atrial fibrillation, 0 to 1.
    pub irregular_share: f64,
    /// Share of patients whose outflow diameter cannot be measured (more often in heavy ones, on average this share), 0 to 0.5.
    pub unobtainable_share: f64,
    /// Share of challenges whose diameter is measured in both exams instead of being carried forward, 0 to 1.
    pub remeasured_share: f64,
    /// Share of challenges whose second exam comes late, 10 to 45 min after the fluid, 0 to 1.
    pub late_share: f64,
    /// How much is missing, relative to the unit's ordinary untidiness: 0 (nothing) to 3. Sicker patients have more missing at every setting.
    pub missingness: f64,
    /// Rows made unusable on purpose.
    pub faults: Faults,
}

/// How many rows to spoil, each in one way and at most one way a row. All of them are rows with purpose `fluid`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Faults {
    /// Text where a number belongs: `see note`, `approx 95`, a decimal comma.
    pub text_in_number: usize,
    /// A number that no patient can have: a lost decimal point, a negative distance.
    pub impossible_value: usize,
    /// A diameter written in millimeters in the column for centimeters.
    pub millimeters: usize,
}

impl Faults {
    /// Rows spoiled in all.
    pub fn total(self) -> usize {
        self.text_in_number
            .saturating_add(self.impossible_value)
            .saturating_add(self.millimeters)
    }
}

impl Plan {
    /// The plan of `data/fluid_challenges.csv`: a whole unit with its untidiness.
    pub fn fluid_challenges() -> Self {
        Self {
            // One of 24 tried, for a typical summary (data/README.md).
            seed: 20_250_327,
            patients: 300,
            challenges: 640,
            repeats: 150,
            operators: 8,
            leg_raise_share: 0.28,
            leg_raise_rows: true,
            irregular_share: 0.18,
            unobtainable_share: 0.08,
            remeasured_share: 0.14,
            late_share: 0.12,
            missingness: 1.0,
            faults: Faults {
                text_in_number: 9,
                impossible_value: 8,
                millimeters: 7,
            },
        }
    }

    /// The plan of `data/first_cohort.csv`: 200 challenges, tidy enough for a first lesson.
    pub fn first_cohort() -> Self {
        Self {
            // One of 24 tried, for a typical summary (data/README.md).
            seed: 20_250_334,
            patients: 110,
            challenges: 200,
            repeats: 0,
            operators: 4,
            leg_raise_share: 0.25,
            leg_raise_rows: false,
            irregular_share: 0.08,
            unobtainable_share: 0.02,
            remeasured_share: 0.04,
            late_share: 0.05,
            missingness: 0.35,
            faults: Faults {
                text_in_number: 3,
                impossible_value: 2,
                millimeters: 2,
            },
        }
    }

    /// Whether the plan makes sense.
    ///
    /// # Errors
    /// [`PlanError`], naming the first field that does not, its value and the range it must be in.
    pub fn check(&self) -> Result<(), PlanError> {
        counts_within("patients", self.patients, 1, 9999)?;
        counts_within(
            "challenges",
            self.challenges,
            self.patients,
            self.patients * MOST_CHALLENGES_PER_PATIENT,
        )?;
        counts_within("repeats", self.repeats, 0, self.patients)?;
        counts_within("operators", self.operators, 2, 26)?;
        within("leg_raise_share", self.leg_raise_share, 1.0)?;
        within("irregular_share", self.irregular_share, 1.0)?;
        within("unobtainable_share", self.unobtainable_share, 0.5)?;
        within("remeasured_share", self.remeasured_share, 1.0)?;
        within("late_share", self.late_share, 1.0)?;
        within("missingness", self.missingness, 3.0)?;
        counts_within("faults", self.faults.total(), 0, self.challenges)
    }
}

fn counts_within(
    field: &'static str,
    value: usize,
    low: usize,
    high: usize,
) -> Result<(), PlanError> {
    if (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(PlanError::Count {
            field,
            value,
            low,
            high,
        })
    }
}

fn within(field: &'static str, value: f64, high: f64) -> Result<(), PlanError> {
    // Written so that a value that is not a number is refused too.
    if (0.0..=high).contains(&value) {
        Ok(())
    } else {
        Err(PlanError::Share { field, value, high })
    }
}

/// Why a plan cannot be carried out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum PlanError {
    /// A count outside its range.
    #[error("the plan asks for {field} = {value}; it must be from {low} to {high}")]
    Count {
        /// The field of the plan.
        field: &'static str,
        /// What it says.
        value: usize,
        /// The smallest value that makes sense.
        low: usize,
        /// The largest.
        high: usize,
    },
    /// A share outside its range, or not a number.
    #[error("the plan asks for {field} = {value}; it must be from 0 to {high}")]
    Share {
        /// The field of the plan.
        field: &'static str,
        /// What it says.
        value: f64,
        /// The largest value that makes sense.
        high: f64,
    },
    /// More rows to spoil than rows that can carry the fault: a blank cell cannot hold a wrong number.
    #[error(
        "the plan asks for {wanted} rows with {fault}, and only {room} rows can carry it; ask for fewer, or for more challenges"
    )]
    NoRoom {
        /// The kind of fault, in words.
        fault: &'static str,
        /// How many the plan asks for.
        wanted: usize,
        /// How many rows could take it.
        room: usize,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_bundled_plans_make_sense() {
        assert_eq!(Plan::fluid_challenges().check(), Ok(()));
        assert_eq!(Plan::first_cohort().check(), Ok(()));
    }

    #[test]
    fn nonsense_is_refused_with_the_field_the_value_and_the_range() {
        let plan = Plan {
            patients: 0,
            ..Plan::first_cohort()
        };
        assert_eq!(
            plan.check().unwrap_err().to_string(),
            "the plan asks for patients = 0; it must be from 1 to 9999"
        );
        let plan = Plan {
            challenges: 100,
            ..Plan::first_cohort()
        };
        assert_eq!(
            plan.check().unwrap_err().to_string(),
            "the plan asks for challenges = 100; it must be from 110 to 1320"
        );
        let plan = Plan {
            late_share: f64::NAN,
            ..Plan::first_cohort()
        };
        assert!(matches!(
            plan.check(),
            Err(PlanError::Share {
                field: "late_share",
                ..
            })
        ));
        let plan = Plan {
            leg_raise_share: -0.1,
            ..Plan::first_cohort()
        };
        assert!(matches!(
            plan.check(),
            Err(PlanError::Share {
                field: "leg_raise_share",
                ..
            })
        ));
        let plan = Plan {
            faults: Faults {
                text_in_number: usize::MAX,
                impossible_value: 1,
                millimeters: 0,
            },
            ..Plan::first_cohort()
        };
        assert!(matches!(
            plan.check(),
            Err(PlanError::Count {
                field: "faults",
                ..
            })
        ));
    }
}
