//! Cohorts of fluid challenges in a unit that does not exist.
//!
//! **Everything here is invented.** No patient, operator or unit behind these rows exists; the numbers come from a seed. They are for teaching, for examples
//! and for testing: no clinical conclusion can rest on them.
//!
//! ```
//! use semilunar::cohort::invented::{Plan, generate};
//!
//! let cohort = generate(&Plan { patients: 20, challenges: 40, repeats: 5, ..Plan::fluid_challenges() })?;
//! let mut file = Vec::new();
//! cohort.write_csv(&mut file)?;
//! assert!(file.starts_with(b"patient,challenge,operator,"));
//!
//! let row = &cohort.rows[0];
//! // What no ward can know: the change of the true stroke volume.
//! println!("{:.1} % in truth", row.truth.change());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The model
//!
//! 1. **Body.** Height by sex, body mass index log-normal around 27 kg/m², weight 45 to 140 kg. True outflow diameter: 1.17 cm + 0.45 cm for each m² of body
//!    surface (Du Bois), spread 0.12 cm.
//! 2. **Heart.** A Frank–Starling curve, `SV = plateau (1 - exp(-preload))` ([`Heart`]). The plateau grows with body surface; the usual preload decides
//!    whether the patient stands on the steep part or on the flat one. True VTI is true stroke volume over true area.
//! 3. **Fluid** raises preload in proportion to the volume that expands the circulation, which saturates with the volume given, over 70 mL of blood for each
//!    kg. The effect peaks at 1 min, decays with a time constant of 4 min and keeps a floor of its own in each patient (Aya 2016, Crit Care Med: peak about
//!    1 min after a 250 mL challenge, dissipated by 10 min). A passive leg raise acts like 120 mL at its peak. The heart slows as it fills; pressures follow output.
//! 4. **Clinicians** give fluid when VTI reads low, go on while it works, order more after a response and less without one, more in the sick and the heavy,
//!    and withhold half of the fluid after a passive leg raise without effect. So volumes, patients and first exams are not a fair sample, as in life.
//! 5. **Measurement.** Coefficients of variation of diameter 4.1 %, of one beat's VTI 6.4 %, of heart rate 5.0 % (Robson 1988, Br Heart J 59:680-4); placing
//!    the gate anew 1.5 % and operators' biases 3.1 %, so that the least significant change of VTI is 11 % for one operator and 14 % for two (Jozwiak 2019,
//!    Crit Care 23:116). Beats of atrial fibrillation scatter 1.8 times as widely (Dubrey 1997, J Am Soc Echocardiogr 10:67-71).
//! 6. **Operators.** A is careful (5 beats, 10 in atrial fibrillation, nearly everything kept, on time); B likes round numbers (diameter to 0.1 cm, VTI to
//!    0.5 cm, rate and pressures to 5); C reads VTI 8 % higher from study day 200 on; D is hurried (1 beat, leading edge, little kept, late). The others are
//!    as drawn.
//! 7. **Diameters** are measured once and carried forward (measured anew now and then), measured in both exams, or unobtainable, more often in the heavy.
//! 8. **Missing** readings: odds double with each standard deviation of severity, and sicker patients respond differently, so what is missing is not missing
//!    at random.
//! 9. **Faults** are planted last ([`Faults`]), one to a row; each is listed in [`Row::planted`].
//!
//! Constants without a source are ours, chosen so that the unit looks like a real one (see `data/README.md` for what was compared).
//!
//! # The same bytes everywhere
//!
//! Draws come from a counter-based generator in whole numbers; everything after uses `+ - * /`, square roots and rounding, which IEEE 754 fixes to the bit,
//! and `exp`, `log`, `pow` and `cos` of the `libm` crate, whose bits do not depend on the CPU. Patients have streams of their own.
//!
//! *Not handled:* dates and clock times, several stays of one patient, drugs by name, free text.

mod course;
mod diameters;
mod draws;
mod exam;
mod faults;
mod heart;
mod operators;
mod orders;
mod patient;
mod plan;
mod row;
mod words;

use std::io::{self, Write};

use course::{Course, Unit};

pub use heart::Heart;
pub use plan::{Faults, MOST_CHALLENGES_PER_PATIENT, Plan, PlanError};
pub use row::{COLUMNS, Exam, Fault, Planted, Row, SharedDiameter, Truth};
pub use words::{Convention, Purpose, Rhythm, Sex, Signal, VasoactiveChange};

/// Rounds after which clinicians stop choosing, so that any plan that makes sense is carried out.
const ROUNDS_OF_CHOICE: usize = 40;

/// An invented cohort: its rows, patient by patient, in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Cohort {
    /// The rows.
    pub rows: Vec<Row>,
}

impl Cohort {
    /// Writes the cohort as CSV (RFC 4180, UTF-8, lines ending in a line feed): one header line with [`COLUMNS`], then one line a row.
    ///
    /// # Errors
    /// Whatever the writer reports.
    pub fn write_csv(&self, writer: &mut impl Write) -> io::Result<()> {
        let mut table = csv::Writer::from_writer(writer);
        table.write_record(COLUMNS)?;
        for row in &self.rows {
            table.write_record(row.cells())?;
        }
        table.flush()
    }

    /// How many rows carry a fault.
    pub fn planted(&self, fault: Fault) -> usize {
        self.rows
            .iter()
            .filter(|row| {
                row.planted
                    .as_ref()
                    .is_some_and(|planted| planted.fault == fault)
            })
            .count()
    }
}

/// Invents a cohort.
///
/// # Errors
/// [`PlanError`] when the plan makes no sense, or asks for more faults of a kind than rows can carry.
pub fn generate(plan: &Plan) -> Result<Cohort, PlanError> {
    plan.check()?;
    let operators = operators::operators(plan);
    let unit = Unit {
        plan,
        operators: &operators,
    };
    let mut courses: Vec<Course> = (1..=plan.patients)
        .map(|number| Course::start(unit, number))
        .collect();
    give_fluid(&mut courses, plan);
    repeat_without_fluid(&mut courses, plan);
    let mut rows: Vec<Row> = courses.into_iter().flat_map(Course::into_rows).collect();
    faults::plant(&mut rows, plan)?;
    Ok(Cohort { rows })
}

/// One challenge for everybody, then round after round for those who go on, until the plan's number is reached.
fn give_fluid(courses: &mut [Course], plan: &Plan) {
    let mut given = 0;
    for course in &mut *courses {
        given += usize::from(course.opportunity(true));
    }
    let mut round = 0;
    while given < plan.challenges {
        round += 1;
        let insisted = round > ROUNDS_OF_CHOICE;
        for course in &mut *courses {
            if given < plan.challenges
                && course.given() < MOST_CHALLENGES_PER_PATIENT
                && (insisted || course.goes_on())
            {
                given += usize::from(course.opportunity(insisted));
            }
        }
    }
}

/// Repeats are spread evenly over the patients.
fn repeat_without_fluid(courses: &mut [Course], plan: &Plan) {
    let mut owed = 0;
    for course in courses {
        owed += plan.repeats;
        if owed >= plan.patients {
            owed -= plan.patients;
            course.repeat_without_fluid();
        }
    }
}

#[cfg(test)]
mod tests;
