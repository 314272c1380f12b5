//! One row of an invented cohort, and how it is written.

use std::fmt::Display;

use super::words::{Convention, Purpose, Rhythm, Sex, Signal, VasoactiveChange};

/// Outflow diameter that both exams of a row share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SharedDiameter {
    /// Measured in this patient, perhaps on another day, cm.
    Measured(f64),
    /// `unobtainable`: looked for and not measurable.
    Unobtainable,
    /// Not written down, or measured anew in each exam.
    Blank,
}

/// The readings of one exam as the operator wrote them; `None` is a blank cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exam {
    /// Outflow diameter measured in this exam, cm.
    pub lvot_diameter: Option<f64>,
    /// Velocity-time integral, mean of `beats` beats, cm.
    pub lvot_vti: Option<f64>,
    /// Beats averaged.
    pub beats: Option<u32>,
    /// Quality of the signal.
    pub signal: Option<Signal>,
    /// Heart rate, /min.
    pub heart_rate: Option<f64>,
    /// Systolic pressure, `mm[Hg]`.
    pub systolic_pressure: Option<f64>,
    /// Diastolic pressure, `mm[Hg]`.
    pub diastolic_pressure: Option<f64>,
}

impl Exam {
    /// An exam that was not made.
    pub const NOT_MADE: Self = Self {
        lvot_diameter: None,
        lvot_vti: None,
        beats: None,
        signal: None,
        heart_rate: None,
        systolic_pressure: None,
        diastolic_pressure: None,
    };

    /// Whether anything was read.
    pub fn is_made(&self) -> bool {
        *self != Self::NOT_MADE
    }
}

/// What no ward can know: the values the readings were made from. Not written to the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// How sick the patient is: standard normal, above 0 is sicker than most.
    pub severity: f64,
    /// Outflow diameter, cm.
    pub lvot_diameter: f64,
    /// Stroke volume that no preload can exceed, mL.
    pub plateau: f64,
    /// Preload at the first exam, a pure number (see [`Heart`](super::Heart)).
    pub preload_before: f64,
    /// Stroke volume at the first exam, mL.
    pub stroke_volume_before: f64,
    /// Stroke volume at the second exam, mL, whatever acted on it between.
    pub stroke_volume_after: f64,
}

impl Truth {
    /// Change of the true stroke volume, per cent of the first.
    pub fn change(&self) -> f64 {
        100.0 * (self.stroke_volume_after / self.stroke_volume_before - 1.0)
    }
}

/// In what way a row was spoiled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Text where a number belongs.
    TextInNumber,
    /// A number that no patient can have.
    ImpossibleValue,
    /// A diameter in millimeters in the column for centimeters.
    Millimeters,
}

/// A cell that was spoiled on purpose: `text` is written to the file in place of the reading, which the row still holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Planted {
    /// In what way.
    pub fault: Fault,
    /// Heading of the column.
    pub column: &'static str,
    /// What the file says there.
    pub text: String,
}

/// One row: two exams of one patient and what happened between. Fields have the names of the columns; `None` is a blank cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Number of the patient, from 1.
    pub patient: usize,
    /// Number of the row within the patient, from 1, in order of time.
    pub challenge: usize,
    /// Letter of the operator of the first exam.
    pub operator: char,
    /// Letter of the operator of the second exam, if it was made.
    pub operator_after: Option<char>,
    /// Day of the study, from 1.
    pub day: u32,
    /// Why the exams were made.
    pub purpose: Purpose,
    /// Body height, cm.
    pub height: Option<f64>,
    /// Body weight, kg.
    pub weight: Option<f64>,
    /// Sex.
    pub sex: Sex,
    /// Rhythm during the exams.
    pub rhythm: Option<Rhythm>,
    /// Diameter shared by both exams.
    pub lvot_diameter: SharedDiameter,
    /// How the diameter was measured.
    pub diameter_convention: Option<Convention>,
    /// First exam.
    pub before: Exam,
    /// Second exam.
    pub after: Exam,
    /// Central venous pressure at the first exam, `mm[Hg]`.
    pub central_venous_pressure: Option<f64>,
    /// Fluid given between the exams, mL; 0 where the purpose is not fluid.
    pub fluid_given: Option<f64>,
    /// Minutes from the end of the fluid to the second exam; blank where there was no fluid.
    pub minutes_after_fluid: Option<f64>,
    /// Pulse pressure variation before the fluid, %; only in ventilated patients with an arterial line.
    pub pulse_pressure_variation: Option<f64>,
    /// Change of the VTI during a passive leg raise before the fluid, %.
    pub passive_leg_raise_change: Option<f64>,
    /// Change of vasoactive drugs between the exams.
    pub vasoactive_change: Option<VasoactiveChange>,
    /// Whether the ventilator's settings changed between the exams.
    pub ventilator_change: Option<bool>,
    /// Whether a clip of the aortic valve was kept.
    pub valve_clip: Option<bool>,
    /// Whether a clip without color was kept.
    pub clip_without_color: Option<bool>,
    /// Whether a still of the open valve was kept.
    pub still_of_open_valve: Option<bool>,
    /// Whether the caliper measurement was kept on the image.
    pub measurement_saved: Option<bool>,
    /// The spoiled cell, if the row was spoiled on purpose.
    pub planted: Option<Planted>,
    /// What the readings were made from.
    pub truth: Truth,
}

/// Headings of the columns, in the order of the file.
pub const COLUMNS: [&str; 37] = [
    "patient",
    "challenge",
    "operator",
    "operator_after",
    "day",
    "purpose",
    "height [cm]",
    "weight [kg]",
    "sex",
    "rhythm",
    "lvot_diameter [cm]",
    "before.lvot_diameter [cm]",
    "after.lvot_diameter [cm]",
    "diameter_convention",
    "before.lvot_vti [cm]",
    "after.lvot_vti [cm]",
    "before.lvot_vti (n)",
    "after.lvot_vti (n)",
    "before.signal",
    "after.signal",
    "before.heart_rate [/min]",
    "after.heart_rate [/min]",
    "before.systolic_pressure [mm[Hg]]",
    "before.diastolic_pressure [mm[Hg]]",
    "after.systolic_pressure [mm[Hg]]",
    "after.diastolic_pressure [mm[Hg]]",
    "central_venous_pressure [mm[Hg]]",
    "fluid_given [mL]",
    "minutes_after_fluid",
    "pulse_pressure_variation [%]",
    "passive_leg_raise_change [%]",
    "vasoactive_change",
    "ventilator_change",
    "valve_clip",
    "clip_without_color",
    "still_of_open_valve",
    "measurement_saved",
];

impl Row {
    /// The cells of the row as the file has them, in the order of [`COLUMNS`]: the digits a ward would write, and the planted text where there is one.
    pub fn cells(&self) -> [String; COLUMNS.len()] {
        let (before, after) = (&self.before, &self.after);
        let mut cells = [
            patient_name(self.patient),
            format!("{}-{:02}", patient_name(self.patient), self.challenge),
            self.operator.to_string(),
            shown(self.operator_after),
            self.day.to_string(),
            self.purpose.word().to_owned(),
            whole(self.height),
            whole(self.weight),
            self.sex.word().to_owned(),
            word(self.rhythm.map(Rhythm::word)),
            match self.lvot_diameter {
                SharedDiameter::Measured(centimeters) => hundredths(Some(centimeters)),
                SharedDiameter::Unobtainable => "unobtainable".to_owned(),
                SharedDiameter::Blank => String::new(),
            },
            hundredths(before.lvot_diameter),
            hundredths(after.lvot_diameter),
            word(self.diameter_convention.map(Convention::word)),
            tenths(before.lvot_vti),
            tenths(after.lvot_vti),
            shown(before.beats),
            shown(after.beats),
            word(before.signal.map(Signal::word)),
            word(after.signal.map(Signal::word)),
            whole(before.heart_rate),
            whole(after.heart_rate),
            whole(before.systolic_pressure),
            whole(before.diastolic_pressure),
            whole(after.systolic_pressure),
            whole(after.diastolic_pressure),
            whole(self.central_venous_pressure),
            whole(self.fluid_given),
            whole(self.minutes_after_fluid),
            whole(self.pulse_pressure_variation),
            whole(self.passive_leg_raise_change),
            word(self.vasoactive_change.map(VasoactiveChange::word)),
            word(
                self.ventilator_change
                    .map(|changed| if changed { "changed" } else { "none" }),
            ),
            yes_or_no(self.valve_clip),
            yes_or_no(self.clip_without_color),
            yes_or_no(self.still_of_open_valve),
            yes_or_no(self.measurement_saved),
        ];
        if let Some(planted) = &self.planted {
            for (heading, cell) in COLUMNS.iter().zip(&mut cells) {
                if *heading == planted.column {
                    cell.clone_from(&planted.text);
                }
            }
        }
        cells
    }
}

fn patient_name(number: usize) -> String {
    format!("P{number:04}")
}

fn shown(value: Option<impl Display>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn word(value: Option<&str>) -> String {
    value.unwrap_or_default().to_owned()
}

/// Values are rounded when they are read; adding zero turns a negative zero into zero.
fn whole(value: Option<f64>) -> String {
    shown(value.map(|value| format!("{:.0}", value + 0.0)))
}

fn tenths(value: Option<f64>) -> String {
    shown(value.map(|value| format!("{value:.1}")))
}

fn hundredths(value: Option<f64>) -> String {
    shown(value.map(|value| format!("{value:.2}")))
}

fn yes_or_no(value: Option<bool>) -> String {
    word(value.map(|value| if value { "yes" } else { "no" }))
}
