//! Flow: stroke volume, cardiac output, and what they are per body surface area.

use super::entry::{
    ADULT_RANGES_ONLY, Advice, COMMON_PRACTICE, Domain, Entry, UsualRange, Weight, What,
};
use crate::quantity::Kind;

/// Stroke volume from outflow area and velocity-time integral.
const DOPPLER_FLOW: &str = "Quiñones 2002 J Am Soc Echocardiogr 15:167-84 (formula from memory)";
/// Ranges by pulsed Doppler in a large group of adults.
const PULSED_DOPPLER_ADULTS: &str = "Am J Cardiol 2021;140:128-33 (pulsed Doppler, 3090 adults)";
/// Ranges from teaching, which differ between books.
const TEXTBOOK: &str = "memory; sources disagree";

/// The entries, in the order in which they are taught.
pub const ENTRIES: &[Entry] = &[
    Entry {
        name: "aortic_regurgitation",
        label: "Aortic regurgitation",
        symbol: r"\text{aortic regurgitation}",
        what: What::Finding(&["none", "present"]),
        assumptions: &[
            "Present from mild upward: the more it leaks back, the more the total exceeds the forward flow.",
        ],
        source: "definition of forward flow",
        ..Entry::BARE
    },
    Entry {
        name: "heart_rate_source",
        label: "Source of the heart rate",
        symbol: r"\text{source of heart rate}",
        what: What::Finding(&["traced_beats", "monitor"]),
        assumptions: &[
            "Traced beats: from the same beats as the VTI. Monitor: read from another display.",
        ],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "heart_rate",
        label: "Heart rate",
        symbol: r"\mathrm{HR}",
        unit: "/min",
        what: What::Input,
        domain: Some(Domain {
            low: 10.0,
            high: 350.0,
        }),
        usual: &[UsualRange {
            low: Some(60.0),
            high: Some(100.0),
            who: "adults at rest",
            source: TEXTBOOK,
        }],
        assumptions: &["Of the same beats as the VTI, or of the same minute in regular rhythm."],
        source: COMMON_PRACTICE,
        loinc: Some("8867-4"),
        advice: &[
            Advice {
                when: "rhythm is irregular and heart_rate_source is monitor",
                text: "Irregular rhythm and a rate from the monitor: it belongs to other beats than the VTI. \
                       Take the rate from the traced beats.",
                weight: Weight::Caution,
                source: COMMON_PRACTICE,
            },
            ADULT_RANGES_ONLY,
        ],
        ..Entry::BARE
    },
    Entry {
        name: "minute_distance",
        label: "Minute distance",
        symbol: r"\mathrm{MD}",
        unit: "cm/min",
        kind: Kind::MinuteDistance,
        what: What::Derived("stroke_distance * heart_rate"),
        assumptions: &[
            "Cardiac output without the area: for serial exams often the better measure, as no diameter enters.",
        ],
        source: "definition",
        advice: &[Advice {
            when: "aortic_regurgitation is present",
            text: "Aortic regurgitation: the distance includes the blood that leaks back.",
            weight: Weight::Caution,
            source: "definition of forward flow",
        }],
        ..Entry::BARE
    },
    Entry {
        name: "stroke_volume",
        label: "Stroke volume",
        symbol: r"\mathrm{SV}",
        unit: "mL",
        what: What::Derived("lvot_area * stroke_distance"),
        usual: &[UsualRange {
            low: Some(60.0),
            high: Some(100.0),
            who: "adults",
            source: TEXTBOOK,
        }],
        assumptions: &[
            "The same velocity across the whole outflow tract.",
            "Area and VTI from the same cross-section and the same state of the patient.",
            "Total flow through the outflow tract, including what leaks back.",
        ],
        source: DOPPLER_FLOW,
        advice: &[
            Advice {
                when: "aortic_regurgitation is present",
                text: "Aortic regurgitation: this is total, not forward, flow. Stroke volume and cardiac output read high \
                       for the flow that reaches the body, resistance reads low.",
                weight: Weight::Caution,
                source: "definition of forward flow",
            },
            Advice {
                when: "gate_position is elsewhere",
                text: "The gate is not where the diameter was measured: area and velocity belong to different \
                       cross-sections, so their product is not the flow.",
                weight: Weight::Caution,
                source: "Baumgartner 2009 J Am Soc Echocardiogr 22:1-23",
            },
        ],
        ..Entry::BARE
    },
    Entry {
        name: "stroke_volume_index",
        label: "Stroke volume index",
        symbol: r"\mathrm{SVI}",
        unit: "mL/m2",
        kind: Kind::StrokeVolumeIndex,
        what: What::Derived("stroke_volume / body_surface_area"),
        usual: &[
            UsualRange {
                low: Some(33.0),
                high: Some(47.0),
                who: "adults",
                source: TEXTBOOK,
            },
            UsualRange {
                low: Some(27.0),
                high: None,
                who: "adult women",
                source: PULSED_DOPPLER_ADULTS,
            },
            UsualRange {
                low: Some(28.0),
                high: None,
                who: "adult men",
                source: PULSED_DOPPLER_ADULTS,
            },
        ],
        assumptions: &["Stroke volume grows in proportion to body surface area."],
        source: "definition",
        ..Entry::BARE
    },
    Entry {
        name: "cardiac_output",
        label: "Cardiac output",
        symbol: r"\mathrm{CO}",
        unit: "L/min",
        what: What::Derived("stroke_volume * heart_rate"),
        usual: &[
            UsualRange {
                low: Some(3.3),
                high: Some(7.3),
                who: "adult women",
                source: PULSED_DOPPLER_ADULTS,
            },
            UsualRange {
                low: Some(3.5),
                high: Some(8.2),
                who: "adult men",
                source: PULSED_DOPPLER_ADULTS,
            },
            UsualRange {
                low: Some(4.0),
                high: Some(8.0),
                who: "adults",
                source: TEXTBOOK,
            },
        ],
        assumptions: &["The traced beats stand for the whole minute."],
        source: DOPPLER_FLOW,
        ..Entry::BARE
    },
    Entry {
        name: "cardiac_index",
        label: "Cardiac index",
        symbol: r"\mathrm{CI}",
        unit: "L/min/m2",
        kind: Kind::CardiacIndex,
        what: What::Derived("cardiac_output / body_surface_area"),
        usual: &[
            UsualRange {
                low: Some(1.9),
                high: Some(4.3),
                who: "adults",
                source: PULSED_DOPPLER_ADULTS,
            },
            UsualRange {
                low: Some(2.5),
                high: Some(4.0),
                who: "adults",
                source: TEXTBOOK,
            },
        ],
        assumptions: &["Cardiac output grows in proportion to body surface area."],
        source: "definition",
        ..Entry::BARE
    },
];
