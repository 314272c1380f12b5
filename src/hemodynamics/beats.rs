//! Beats and envelope: the velocity-time integral, and whether it is fit to be used as flow.
//!
//! `lvot_vti` is what was traced. `stroke_distance` is the same length once rhythm and
//! number of beats allow it: everything downstream uses `stroke_distance`, so no flow can be computed
//! from a VTI that was refused.

use super::entry::{
    ADULT_RANGES_ONLY, Advice, COMMON_PRACTICE, Domain, Entry, UsualRange, Weight, What,
};
use crate::quantity::Kind;

/// Guideline for diameter, gate and tracing.
const MEASURING: &str = "Baumgartner 2009 J Am Soc Echocardiogr 22:1-23";
/// How many beats to average.
const AVERAGING: &str = "Jozwiak 2019 Crit Care 23:116";
/// How many beats steady the mean in irregular rhythm.
const MANY_BEATS: &str = "Dubrey 1997 J Am Soc Echocardiogr 10:67-71";
/// What a Doppler angle does to a velocity.
const DOPPLER_EQUATION: &str = "Doppler equation; Quiñones 2002 J Am Soc Echocardiogr 15:167-84";

/// The entries, in the order in which they are taught.
pub const ENTRIES: &[Entry] = &[
    Entry {
        name: "rhythm",
        label: "Rhythm",
        symbol: r"\text{rhythm}",
        what: What::Finding(&["regular", "irregular"]),
        assumptions: &[
            "As seen on the ECG while the beats were recorded; atrial fibrillation is irregular.",
        ],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "signal",
        label: "Doppler signal",
        symbol: r"\text{signal}",
        what: What::Finding(&["good", "poor"]),
        assumptions: &[
            "Good: a dense, narrow envelope with clear onset and end. Anything else is poor.",
        ],
        source: MEASURING,
        ..Entry::BARE
    },
    Entry {
        name: "gate_position",
        label: "Gate position",
        symbol: r"\text{gate}",
        what: What::Finding(&["at_diameter_site", "elsewhere"]),
        assumptions: &["Velocity and diameter belong to the same cross-section."],
        source: MEASURING,
        ..Entry::BARE
    },
    Entry {
        name: "outflow_obstruction",
        label: "Aortic stenosis or outflow obstruction",
        symbol: r"\text{obstruction}",
        what: What::Finding(&["none", "present"]),
        assumptions: &["Present when velocities rise at the valve or below it."],
        source: MEASURING,
        ..Entry::BARE
    },
    Entry {
        name: "doppler_angle",
        label: "Doppler angle",
        symbol: r"\theta",
        unit: "deg",
        what: What::Input,
        domain: Some(Domain {
            low: 0.0,
            high: 90.0,
        }),
        assumptions: &[
            "The angle between beam and flow in the image; the angle across the image is not seen.",
        ],
        source: DOPPLER_EQUATION,
        ..Entry::BARE
    },
    Entry {
        name: "velocity_underestimate",
        label: "Underestimate of velocity by the Doppler angle",
        symbol: r"\varepsilon_\theta",
        unit: "%",
        what: What::Derived("1 - cos(doppler_angle)"),
        assumptions: &[
            "Shown, never corrected for: a corrected velocity rests on an angle that is itself uncertain.",
        ],
        source: DOPPLER_EQUATION,
        ..Entry::BARE
    },
    Entry {
        name: "lvot_vti",
        label: "LVOT velocity-time integral",
        symbol: r"\mathrm{VTI}_{\mathrm{LVOT}}",
        unit: "cm",
        kind: Kind::VelocityTimeIntegral,
        what: What::GuardedInput(
            "if signal is poor then withheld \"the signal is poor: record the envelope again\" else reading",
        ),
        domain: Some(Domain {
            low: 0.5,
            high: 100.0,
        }),
        usual: &[UsualRange {
            low: Some(18.0),
            high: Some(22.0),
            who: "adults",
            source: "memory; sources disagree",
        }],
        assumptions: &[
            "Pulsed Doppler, apical view, traced along the modal velocity: the dense band, not the faint fringe.",
            "Consecutive beats, each traced from onset to end of ejection.",
        ],
        source: MEASURING,
        loinc: Some("80030-0"),
        advice: &[
            Advice {
                when: "outflow_obstruction is present",
                text: "Stenosis or outflow obstruction: check that the gate is not in accelerated flow, \
                       where the VTI and all flow from it read too high.",
                weight: Weight::Caution,
                source: MEASURING,
            },
            ADULT_RANGES_ONLY,
        ],
        ..Entry::BARE
    },
    Entry {
        name: "stroke_distance",
        label: "Stroke distance",
        symbol: r"\mathrm{VTI}_{\mathrm{flow}}",
        unit: "cm",
        kind: Kind::VelocityTimeIntegral,
        what: What::Derived(
            "if rhythm is irregular and lvot_vti is largest \
             then withheld \"the largest beat is for regular rhythm: in irregular rhythm take the mean of the beats\" \
             else if rhythm is irregular and beat_count(lvot_vti) < 3 \
             then withheld \"irregular rhythm needs at least 3 beats: give each beat\" \
             else lvot_vti",
        ),
        assumptions: &[
            "The VTI once rhythm and beats make it fit to stand for flow.",
            "Followed alone, it is often the better serial measure: it needs no diameter.",
        ],
        source: "Jozwiak 2019 Crit Care 23:116; the limit of 3 beats is common practice, no source",
        advice: &[
            Advice {
                when: "rhythm is missing and lvot_vti is known",
                text: "The rhythm is not stated. In irregular rhythm the largest beat, or fewer than 3 beats, \
                       would not be accepted.",
                weight: Weight::Note,
                source: COMMON_PRACTICE,
            },
            Advice {
                when: "rhythm is irregular and beat_count(lvot_vti) >= 3 and beat_count(lvot_vti) < 5",
                text: "Irregular rhythm and only 3 or 4 beats: more than 5 are welcome. In one study about 13 beats \
                       brought the variability under 2 %; in sinus rhythm 4 did.",
                weight: Weight::Note,
                source: MANY_BEATS,
            },
            Advice {
                when: "rhythm is regular and beat_count(lvot_vti) < 3",
                text: "Fewer than 3 beats are on record: the mean of at least 3 consecutive beats is steadier.",
                weight: Weight::Note,
                source: AVERAGING,
            },
            Advice {
                when: "lvot_vti is largest",
                text: "The largest beat reads higher than the mean and depends on breathing: \
                       do not compare it with a mean.",
                weight: Weight::Note,
                source: COMMON_PRACTICE,
            },
            Advice {
                when: "doppler_angle > 20 deg",
                text: "The beam is more than 20° off the flow: velocity and flow read over 6 % low. \
                       Look for a view along the flow.",
                weight: Weight::Caution,
                source: "computed from the Doppler equation; the limit of 20° is common practice, no source",
            },
        ],
        ..Entry::BARE
    },
];
