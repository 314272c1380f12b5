//! What happens to one patient, challenge by challenge, and the rows it leaves.

use super::diameters::{DiameterRecord, Diameters};
use super::draws::{Draws, Topic};
use super::exam::{Influence, Moment, examine, percent_change};
use super::heart::{preload_rise, retained};
use super::operators::{Operator, pick};
use super::orders;
use super::patient::{Patient, chance_missing};
use super::plan::Plan;
use super::row::{Exam, Row, Truth};
use super::words::{Purpose, VasoactiveChange};

/// A passive leg raise acts like this much fluid at its peak (ours), mL; it takes it back when the legs go down.
const LEG_RAISE_VOLUME: f64 = 120.0;
/// Change at which the unit's clinicians call a passive leg raise positive, % (Monnet 2016: 10 +- 2 %).
const POSITIVE_LEG_RAISE: f64 = 10.0;

/// The unit that looks after a patient.
#[derive(Clone, Copy)]
pub(super) struct Unit<'unit> {
    pub plan: &'unit Plan,
    pub operators: &'unit [Operator],
}

/// A patient's course so far.
pub(super) struct Course<'unit> {
    unit: Unit<'unit>,
    patient: Patient,
    draws: Draws,
    day: u32,
    /// Preload that earlier fluid has left behind.
    held: f64,
    last_change: Option<f64>,
    diameters: DiameterRecord,
    given: usize,
    rows: Vec<Row>,
}

/// The two operators of a row.
#[derive(Clone, Copy)]
struct Pair<'unit> {
    before: &'unit Operator,
    after: &'unit Operator,
}

/// Two exams and the moments they were made at.
struct Exams {
    before_moment: Moment,
    after_moment: Moment,
    before: Exam,
    after: Exam,
}

impl<'unit> Course<'unit> {
    pub(super) fn start(unit: Unit<'unit>, number: usize) -> Self {
        let patient = Patient::draw(unit.plan, number);
        let day = patient.admitted as u32;
        let draws = Draws::new(unit.plan.seed, Topic::Course, number as u32);
        Self {
            unit,
            patient,
            draws,
            day,
            held: 0.0,
            last_change: None,
            diameters: DiameterRecord::default(),
            given: 0,
            rows: Vec::new(),
        }
    }

    /// Fluid challenges so far.
    pub(super) fn given(&self) -> usize {
        self.given
    }

    pub(super) fn into_rows(self) -> Vec<Row> {
        self.rows
    }

    /// Whether this patient is a candidate for fluid again: clinicians go on while it works, and with the sickest.
    pub(super) fn goes_on(&mut self) -> bool {
        let by_response = match self.last_change {
            Some(change) if change >= 10.0 => 0.40,
            Some(change) if change >= 5.0 => 0.22,
            _ => 0.14,
        };
        self.draws
            .chance((by_response + 0.16 * self.patient.severity).clamp(0.02, 0.9))
    }

    /// One opportunity for fluid. Says whether fluid was given; it always is when `insisted`.
    ///
    /// Clinicians look first: a VTI that reads low is a reason to give fluid, so challenges start below the patient's average and partly return to it by
    /// themselves. A passive leg raise without effect keeps half of the patients from the fluid.
    pub(super) fn opportunity(&mut self, insisted: bool) -> bool {
        self.next_time();
        let pair = self.operators(0.78);
        let resting = self.resting_moment();
        let first_look = self.exam(resting, pair.before);
        if !insisted
            && first_look
                .lvot_vti
                .is_some_and(|vti| vti > self.patient.usual_vti())
            && self.draws.chance(0.5)
        {
            return false;
        }
        if !self.draws.chance(self.unit.plan.leg_raise_share) {
            self.give_fluid(pair, resting, first_look, None);
            return true;
        }
        let change = self.raise_legs(pair, resting, first_look);
        let positive = change.is_some_and(|change| change >= POSITIVE_LEG_RAISE);
        if !insisted && !positive && self.draws.chance(0.5) {
            return false;
        }
        let second_look = self.exam(resting, pair.before);
        self.give_fluid(pair, resting, second_look, change);
        true
    }

    /// Two exams some minutes apart with nothing between them; the operators change more often than around fluid.
    pub(super) fn repeat_without_fluid(&mut self) {
        self.next_time();
        let pair = self.operators(0.5);
        let before_moment = self.resting_moment();
        let drift = self.drift();
        let after_moment = before_moment.under(&self.patient, drift);
        let before = self.exam(before_moment, pair.before);
        let after = self.exam(after_moment, pair.after);
        let diameters = self.diameters_of(pair);
        let exams = Exams {
            before_moment,
            after_moment,
            before,
            after,
        };
        let row = self.row(Purpose::RepeatWithoutFluid, pair, exams, diameters);
        self.rows.push(row);
    }

    fn next_time(&mut self) {
        let days = if self.rows.is_empty() {
            0
        } else {
            self.draws.below(3) as u32
        };
        self.day += days;
        // What fluid leaves behind is excreted within a day or two (ours).
        self.held *= if days == 0 {
            0.8
        } else {
            0.4 / f64::from(days)
        };
    }

    fn operators(&mut self, same: f64) -> Pair<'unit> {
        let before = pick(self.unit.operators, &mut self.draws);
        let after = if self.draws.chance(same) {
            before
        } else {
            pick(self.unit.operators, &mut self.draws)
        };
        Pair { before, after }
    }

    fn resting_moment(&mut self) -> Moment {
        let preload = (self.patient.usual_preload * self.draws.factor(0.14) + self.held).max(0.3);
        Moment::resting(&self.patient, preload, &mut self.draws)
    }

    /// What minutes alone do.
    fn drift(&mut self) -> Influence {
        Influence {
            preload: 0.02 * self.draws.normal(),
            pressure: 1.5 * self.draws.normal(),
            rate: 0.0,
        }
    }

    fn exam(&mut self, moment: Moment, operator: &Operator) -> Exam {
        examine(
            &self.patient,
            moment,
            operator,
            self.day,
            self.unit.plan,
            &mut self.draws,
        )
    }

    /// A passive leg raise by one operator; gives the change of the VTI as written, if both exams have one.
    fn raise_legs(&mut self, pair: Pair<'unit>, resting: Moment, before: Exam) -> Option<f64> {
        let preload = preload_rise(
            LEG_RAISE_VOLUME,
            self.patient.weight,
            self.patient.fluid_gain,
        ) * self.draws.factor(0.15);
        let raised = resting.under(
            &self.patient,
            Influence {
                preload,
                ..Influence::NOTHING
            },
        );
        let after = self.exam(raised, pair.before);
        let change = percent_change(before.lvot_vti, after.lvot_vti).map(f64::round);
        if self.unit.plan.leg_raise_rows {
            let alone = Pair {
                before: pair.before,
                after: pair.before,
            };
            let diameters = self.shared_diameter(alone);
            let exams = Exams {
                before_moment: resting,
                after_moment: raised,
                before,
                after,
            };
            let row = self.row(Purpose::PassiveLegRaise, alone, exams, diameters);
            self.rows.push(row);
        }
        change
    }

    fn give_fluid(
        &mut self,
        pair: Pair<'unit>,
        resting: Moment,
        before: Exam,
        leg_raise: Option<f64>,
    ) {
        let volume = orders::volume(
            &self.patient,
            self.last_change,
            pair.before,
            &mut self.draws,
        );
        let minutes = orders::minutes(self.unit.plan.late_share, pair.after, &mut self.draws);
        let vasoactive = orders::vasoactive_change(&self.patient, &mut self.draws);
        let ventilator = self.patient.ventilated && self.draws.chance(0.07);
        let peak = preload_rise(volume, self.patient.weight, self.patient.fluid_gain)
            * self.draws.factor(0.15);
        let mut influence = self.drift();
        influence.preload += peak * retained(minutes, self.patient.retained_floor);
        orders::add_vasoactive(&mut influence, vasoactive);
        if ventilator {
            influence.preload += 0.12 * self.draws.normal();
        }
        let after_moment = resting.under(&self.patient, influence);
        let after = if self.missing(0.02) {
            Exam::NOT_MADE
        } else {
            self.exam(after_moment, pair.after)
        };
        let variation =
            orders::pulse_pressure_variation(&self.patient, resting.preload, &mut self.draws);
        let diameters = self.diameters_of(pair);
        self.last_change = percent_change(before.lvot_vti, after.lvot_vti);
        self.held += peak * self.patient.retained_floor;
        self.given += 1;

        let exams = Exams {
            before_moment: resting,
            after_moment,
            before,
            after,
        };
        let mut row = self.row(Purpose::Fluid, pair, exams, diameters);
        row.fluid_given = (!self.missing(0.008)).then_some(volume);
        row.minutes_after_fluid = (after.is_made() && !self.missing(0.05)).then_some(minutes);
        row.pulse_pressure_variation = variation;
        row.passive_leg_raise_change = leg_raise;
        row.vasoactive_change = (!self.missing(0.03)).then_some(vasoactive);
        row.ventilator_change = (!self.missing(0.03)).then_some(ventilator);
        self.rows.push(row);
    }

    fn diameters_of(&mut self, pair: Pair<'unit>) -> Diameters {
        if !self.draws.chance(self.unit.plan.remeasured_share) {
            return self.shared_diameter(pair);
        }
        Diameters::of_each_exam(
            &self.patient,
            pair.before,
            pair.after,
            self.unit.plan,
            &mut self.draws,
        )
    }

    fn shared_diameter(&mut self, pair: Pair<'unit>) -> Diameters {
        self.diameters
            .shared(&self.patient, pair.before, self.unit.plan, &mut self.draws)
    }

    /// Central venous pressure, where there is a line for it.
    fn central_venous_pressure(&mut self, preload: f64) -> Option<f64> {
        let read = orders::central_venous_pressure(preload, &mut self.draws);
        (self.patient.central_line && !self.missing(0.10)).then_some(read)
    }

    fn missing(&mut self, usual: f64) -> bool {
        self.draws
            .chance(chance_missing(usual, self.patient.severity, self.unit.plan))
    }

    /// A row with everything that all purposes have; fluid adds its own columns.
    fn row(
        &mut self,
        purpose: Purpose,
        pair: Pair<'unit>,
        exams: Exams,
        diameters: Diameters,
    ) -> Row {
        let mut before = exams.before;
        let mut after = exams.after;
        before.lvot_diameter = diameters.before;
        let made = after.is_made();
        after.lvot_diameter = diameters.after.filter(|_| made);
        Row {
            patient: self.patient.number,
            challenge: self.rows.len() + 1,
            operator: pair.before.letter,
            operator_after: made.then_some(pair.after.letter),
            day: self.day,
            purpose,
            height: self.patient.height_known.then_some(self.patient.height),
            weight: self.patient.weight_known.then_some(self.patient.weight),
            sex: self.patient.sex,
            rhythm: (!self.missing(0.02)).then_some(self.patient.rhythm),
            lvot_diameter: diameters.shared,
            diameter_convention: diameters.convention,
            before,
            after,
            central_venous_pressure: self.central_venous_pressure(exams.before_moment.preload),
            fluid_given: Some(0.0),
            minutes_after_fluid: None,
            pulse_pressure_variation: None,
            passive_leg_raise_change: None,
            vasoactive_change: Some(VasoactiveChange::None),
            ventilator_change: Some(false),
            valve_clip: self.kept(pair.before, 1.0),
            clip_without_color: self.kept(pair.before, 0.9),
            still_of_open_valve: self.kept(pair.before, 0.8),
            measurement_saved: self.kept(pair.before, 0.95),
            planted: None,
            truth: Truth {
                severity: self.patient.severity,
                lvot_diameter: self.patient.lvot_diameter,
                plateau: self.patient.heart.plateau,
                preload_before: exams.before_moment.preload,
                stroke_volume_before: exams.before_moment.stroke_volume,
                stroke_volume_after: exams.after_moment.stroke_volume,
            },
        }
    }

    fn kept(&mut self, operator: &Operator, ease: f64) -> Option<bool> {
        let kept = self.draws.chance(operator.keeps * ease);
        (!self.missing(0.01)).then_some(kept)
    }
}
