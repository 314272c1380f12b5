//! Advice on changes between two exams.
//!
//! The sheet makes `change.NAME` (per cent of before) and `difference.NAME` for every cell by itself;
//! there is no formula here. What is kept here is when such a change should not be trusted, or not
//! acted on. Conditions write the exams as `before.NAME` and `after.NAME`.

use super::entry::{COMMON_PRACTICE, Weight};

/// A remark on the change of one cell between two exams.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChangeAdvice {
    /// The cell whose change it concerns: `stroke_volume`.
    pub cell: &'static str,
    /// The condition, in the sheet notation, on `before.NAME` and `after.NAME`.
    pub when: &'static str,
    /// The remark, for a clinician.
    pub text: &'static str,
    /// How much it matters.
    pub weight: Weight,
    /// Where it comes from.
    pub source: &'static str,
}

/// One remark on the changes of several cells.
struct Rule {
    cells: &'static [&'static str],
    when: &'static str,
    text: &'static str,
    weight: Weight,
    source: &'static str,
}

/// All advice on changes: rule by rule, and within a rule cell by cell.
pub fn advice() -> impl Iterator<Item = ChangeAdvice> {
    RULES.iter().flat_map(|rule| {
        rule.cells.iter().map(|cell| ChangeAdvice {
            cell,
            when: rule.when,
            text: rule.text,
            weight: rule.weight,
            source: rule.source,
        })
    })
}

/// Cells that use the diameter, measured or estimated.
const FROM_DIAMETER: &[&str] = &[
    "lvot_diameter",
    "lvot_area",
    "stroke_volume",
    "stroke_volume_index",
    "cardiac_output",
    "cardiac_index",
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
    "total_peripheral_resistance",
    "stroke_volume_per_pulse_pressure",
    "arterial_elastance",
    "cardiac_power_output",
    "cardiac_power_index",
];

/// Cells that use the velocity-time integral.
const FROM_VTI: &[&str] = &[
    "lvot_vti",
    "stroke_distance",
    "minute_distance",
    "stroke_volume",
    "stroke_volume_index",
    "cardiac_output",
    "cardiac_index",
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
    "total_peripheral_resistance",
    "stroke_volume_per_pulse_pressure",
    "arterial_elastance",
    "cardiac_power_output",
    "cardiac_power_index",
];

/// Cells that use the heart rate.
const FROM_HEART_RATE: &[&str] = &[
    "heart_rate",
    "minute_distance",
    "cardiac_output",
    "cardiac_index",
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
    "total_peripheral_resistance",
    "cardiac_power_output",
    "cardiac_power_index",
];

/// Cells of flow per beat or per minute, by which a response to fluid is judged.
const FLOW: &[&str] = &[
    "stroke_distance",
    "minute_distance",
    "stroke_volume",
    "stroke_volume_index",
    "cardiac_output",
    "cardiac_index",
];

/// Cells that use the central venous pressure.
const FROM_VENOUS_PRESSURE: &[&str] = &[
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
];

const RESPONSE_IS_NOT_NEED: &str = "A rise of more than 10 % (some use 15 %) shows that flow responds to fluid, \
                                    not that the patient needs fluid: that is judged from perfusion and from harm.";
const RESPONSE_SOURCE: &str = "Cecconi 2014 Intensive Care Med 40:1795-815 (memory); thresholds seen in Ann Intensive Care 2018;8:21";
const REPEATABILITY: &str = "Jozwiak 2019 Crit Care 23:116";
const SERIAL_EXAMS: &str = "Kebed 2020 Int J Cardiovasc Imaging 36:471-9";

const RULES: &[Rule] = &[
    Rule {
        cells: FROM_DIAMETER,
        when: "differs(before.diameter_convention, after.diameter_convention)",
        text: "The diameter was measured by different conventions: part of the change comes from the calipers. \
               Measure both by one convention, or follow the VTI.",
        weight: Weight::Caution,
        source: COMMON_PRACTICE,
    },
    Rule {
        cells: FROM_DIAMETER,
        when: "abs(after.lvot_diameter - before.lvot_diameter) > 2 mm",
        text: "The diameters differ by more than 2 mm, which between exams counts as an error of measurement. \
               Use one diameter for both exams.",
        weight: Weight::Caution,
        source: SERIAL_EXAMS,
    },
    Rule {
        cells: FROM_DIAMETER,
        when: "abs(after.lvot_diameter - before.lvot_diameter) > 0.1 mm \
               and abs(after.lvot_diameter - before.lvot_diameter) <= 2 mm",
        text: "Each exam has a diameter of its own, so the error of both enters the change. \
               One diameter for both exams, or the VTI alone, follows flow better.",
        weight: Weight::Note,
        source: COMMON_PRACTICE,
    },
    Rule {
        cells: FROM_DIAMETER,
        when: "(before.lvot_diameter is estimated and after.lvot_diameter is measured) \
               or (before.lvot_diameter is measured and after.lvot_diameter is estimated)",
        text: "One diameter was measured, the other estimated from body size: the change is not a change of flow alone. \
               Use the measured one for both exams.",
        weight: Weight::Caution,
        source: COMMON_PRACTICE,
    },
    Rule {
        cells: FROM_VTI,
        when: "before.lvot_vti is largest or after.lvot_vti is largest",
        text: "The largest beat is a maximum, and breathing moves it. For a change take the mean of at least \
               3 consecutive beats, by the same rule in both exams.",
        weight: Weight::Caution,
        source: "Jozwiak 2019 Crit Care 23:116 for averaging; the rest is common practice, no source",
    },
    Rule {
        cells: FROM_VTI,
        when: "beat_count(before.lvot_vti) < 3 or beat_count(after.lvot_vti) < 3",
        text: "Fewer than 3 beats are on record in at least one exam: a change of one beat is easily taken for a change of flow.",
        weight: Weight::Note,
        source: REPEATABILITY,
    },
    Rule {
        cells: FROM_VTI,
        when: "differs(before.rhythm, after.rhythm)",
        text: "The rhythm changed between the exams: filling time changed with it, so the change is not the effect \
               of treatment alone.",
        weight: Weight::Caution,
        source: COMMON_PRACTICE,
    },
    Rule {
        cells: FROM_VTI,
        when: "differs(before.gate_position, after.gate_position)",
        text: "The gate was at different places: velocity differs along the outflow tract, so part of the change \
               may come from the gate.",
        weight: Weight::Caution,
        source: SERIAL_EXAMS,
    },
    Rule {
        cells: FROM_VTI,
        when: "differs(before.aortic_regurgitation, after.aortic_regurgitation)",
        text: "Aortic regurgitation is present in one exam only: total flow is compared with forward flow.",
        weight: Weight::Caution,
        source: "definition of forward flow",
    },
    Rule {
        cells: &["lvot_vti", "stroke_distance"],
        when: "abs(after.lvot_vti / before.lvot_vti - 1) < 11 %",
        text: "The VTI changed by less than the 11 % that the same operator needs to see a change \
               (14 % for two operators): it may be no change at all.",
        weight: Weight::Note,
        source: REPEATABILITY,
    },
    Rule {
        cells: &["lvot_vti", "stroke_distance"],
        when: "abs(after.lvot_vti / before.lvot_vti - 1) > 15 %",
        text: "If heart function and treatment are unchanged, a VTI change of more than 15 % counts as an error \
               of measurement: check gate and tracing.",
        weight: Weight::Note,
        source: SERIAL_EXAMS,
    },
    Rule {
        cells: FROM_HEART_RATE,
        when: "differs(before.heart_rate_source, after.heart_rate_source)",
        text: "The heart rate comes from the traced beats in one exam and from the monitor in the other.",
        weight: Weight::Note,
        source: COMMON_PRACTICE,
    },
    Rule {
        cells: FROM_VENOUS_PRESSURE,
        when: "before.central_venous_pressure is assumed or after.central_venous_pressure is assumed",
        text: "A central venous pressure was assumed: a real change of it does not show, and is not part of this change.",
        weight: Weight::Note,
        source: "arithmetic of the formula",
    },
    Rule {
        cells: FLOW,
        when: "after.fluid_given > 0 mL",
        text: "The effect of a fluid challenge is short: after 250 mL it peaked about 1 minute after the end and was gone \
               by 10 minutes. State when the second exam was made.",
        weight: Weight::Note,
        source: "Aya 2016 Crit Care Med (postoperative patients)",
    },
    Rule {
        cells: &["stroke_distance"],
        when: "after.stroke_distance > 1.1 * before.stroke_distance",
        text: RESPONSE_IS_NOT_NEED,
        weight: Weight::Caution,
        source: RESPONSE_SOURCE,
    },
    Rule {
        cells: &["stroke_volume"],
        when: "after.stroke_volume > 1.1 * before.stroke_volume",
        text: RESPONSE_IS_NOT_NEED,
        weight: Weight::Caution,
        source: RESPONSE_SOURCE,
    },
    Rule {
        cells: &["cardiac_output"],
        when: "after.cardiac_output > 1.1 * before.cardiac_output",
        text: RESPONSE_IS_NOT_NEED,
        weight: Weight::Caution,
        source: RESPONSE_SOURCE,
    },
    Rule {
        cells: &["cardiac_index"],
        when: "after.cardiac_index > 1.1 * before.cardiac_index",
        text: RESPONSE_IS_NOT_NEED,
        weight: Weight::Caution,
        source: RESPONSE_SOURCE,
    },
];
