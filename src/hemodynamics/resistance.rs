//! Pressure against flow: vascular resistance, arterial load, and the power of the heart.
//!
//! # How exact units differ from the customary factors
//!
//! Units do the conversion here, so no factor stands in a formula. Results therefore differ slightly
//! from those of the factors in print:
//!
//! - Resistance is customarily 80 · (MAP − CVP) / CO. The exact factor is 79.9932 with UCUM's
//!   millimeter of mercury (133.3220 Pa) and 79.993432449 with the conventional one
//!   (133.322387415 Pa): the customary result is 0.009 % or 0.008 % higher.
//! - Cardiac power output is customarily MAP · CO / 451. The exact divisor is 450.04: the customary
//!   result is 0.21 % lower.

use super::entry::{
    ADULT_RANGES_ONLY, Advice, COMMON_PRACTICE, Domain, Entry, UsualRange, Weight, What,
};

/// Ranges from teaching, which differ between books.
const TEXTBOOK: &str = "memory; sources disagree";

/// Shared by the two forms of resistance that stand on their own.
const DERIVED_NOT_MEASURED: &str = "Resistance is computed, not measured: it carries the errors of pressure and flow, \
                                    and rises whenever flow reads too low.";

/// The entries, in the order in which they are taught.
pub const ENTRIES: &[Entry] = &[
    Entry {
        name: "systolic_pressure",
        label: "Systolic pressure",
        symbol: r"\mathrm{SBP}",
        unit: "mm[Hg]",
        what: What::Input,
        domain: Some(Domain {
            low: 20.0,
            high: 350.0,
        }),
        assumptions: &["Arterial, taken during the exam; a cuff and an arterial line differ."],
        source: COMMON_PRACTICE,
        loinc: Some("8480-6"),
        ..Entry::BARE
    },
    Entry {
        name: "diastolic_pressure",
        label: "Diastolic pressure",
        symbol: r"\mathrm{DBP}",
        unit: "mm[Hg]",
        what: What::Input,
        domain: Some(Domain {
            low: 5.0,
            high: 250.0,
        }),
        assumptions: &["Arterial, taken together with the systolic pressure."],
        source: COMMON_PRACTICE,
        loinc: Some("8462-4"),
        ..Entry::BARE
    },
    Entry {
        name: "pulse_pressure",
        label: "Pulse pressure",
        symbol: r"\mathrm{PP}",
        unit: "mm[Hg]",
        what: What::Derived(
            "if systolic_pressure <= diastolic_pressure \
             then withheld \"systolic is not above diastolic pressure: check both readings\" \
             else systolic_pressure - diastolic_pressure",
        ),
        assumptions: &["In a peripheral artery it is wider than in the aorta."],
        source: "definition",
        ..Entry::BARE
    },
    Entry {
        name: "mean_pressure",
        label: "Mean arterial pressure",
        symbol: r"\mathrm{MAP}",
        unit: "mm[Hg]",
        what: What::Derived("diastolic_pressure + pulse_pressure / 3"),
        domain: Some(Domain {
            low: 10.0,
            high: 300.0,
        }),
        usual: &[UsualRange {
            low: Some(70.0),
            high: Some(105.0),
            who: "adults",
            source: TEXTBOOK,
        }],
        assumptions: &[
            "One third of the pulse pressure fits a brachial pressure; fast rates and stiff arteries need more.",
            "A mean read from an arterial line or an oscillometric cuff is better, and takes precedence when given.",
        ],
        source: "rule of one third, brachial artery: Chemla 2002 Clin Sci 103:7-13",
        loinc: Some("8478-0"),
        advice: &[
            Advice {
                when: "mean_pressure > systolic_pressure or mean_pressure < diastolic_pressure",
                text: "The mean lies outside systolic and diastolic pressure: the readings do not belong together.",
                weight: Weight::Caution,
                source: "definition of a mean",
            },
            ADULT_RANGES_ONLY,
        ],
        ..Entry::BARE
    },
    Entry {
        name: "central_venous_pressure",
        label: "Central venous pressure",
        symbol: r"\mathrm{CVP}",
        unit: "mm[Hg]",
        what: What::Input,
        domain: Some(Domain {
            low: -15.0,
            high: 60.0,
        }),
        assumptions: &[
            "Measured at end-expiration with the transducer at the level of the right atrium.",
        ],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "systemic_vascular_resistance",
        label: "Systemic vascular resistance",
        symbol: r"\mathrm{SVR}",
        unit: "dyn.s/cm5",
        what: What::Derived(
            "if central_venous_pressure >= mean_pressure \
             then withheld \"central venous is not below mean arterial pressure: check both readings\" \
             else (mean_pressure - central_venous_pressure) / cardiac_output",
        ),
        usual: &[UsualRange {
            low: Some(800.0),
            high: Some(1200.0),
            who: "adults",
            source: TEXTBOOK,
        }],
        assumptions: &[
            "Steady flow from the aorta to the right atrium through one resistance.",
            "Exact units: the customary factor 80 reads 0.009 % higher.",
        ],
        source: "textbook definition (memory)",
        advice: &[
            Advice {
                when: "systemic_vascular_resistance is known",
                text: DERIVED_NOT_MEASURED,
                weight: Weight::Note,
                source: "definition",
            },
            Advice {
                when: "central_venous_pressure is assumed or central_venous_pressure is estimated",
                text: "The central venous pressure was not measured: one mm Hg more or less changes the resistance \
                       by that share of the pressure difference.",
                weight: Weight::Note,
                source: "arithmetic of the formula",
            },
        ],
        ..Entry::BARE
    },
    Entry {
        name: "systemic_vascular_resistance_index",
        label: "Systemic vascular resistance index",
        symbol: r"\mathrm{SVRI}",
        unit: "dyn.s.m2/cm5",
        what: What::Derived("systemic_vascular_resistance * body_surface_area"),
        usual: &[UsualRange {
            low: Some(1970.0),
            high: Some(2390.0),
            who: "adults",
            source: TEXTBOOK,
        }],
        assumptions: &[
            "Multiplied by body surface area, as pressure over cardiac index; divided forms in print are another quantity.",
        ],
        source: "definition",
        ..Entry::BARE
    },
    Entry {
        name: "total_peripheral_resistance",
        label: "Total peripheral resistance",
        symbol: r"\mathrm{TPR}",
        unit: "dyn.s/cm5",
        what: What::Derived("mean_pressure / cardiac_output"),
        assumptions: &["For exams without a central venous pressure: it is taken as zero."],
        source: "textbook definition (memory)",
        advice: &[
            Advice {
                when: "total_peripheral_resistance is known",
                text: "Leaves out the central venous pressure, so it reads higher than systemic vascular resistance: \
                       do not hold it against the ranges of the latter.",
                weight: Weight::Note,
                source: "arithmetic of the formula",
            },
            Advice {
                when: "total_peripheral_resistance is known and systemic_vascular_resistance is missing",
                text: DERIVED_NOT_MEASURED,
                weight: Weight::Note,
                source: "definition",
            },
        ],
        ..Entry::BARE
    },
    Entry {
        name: "stroke_volume_per_pulse_pressure",
        label: "Stroke volume per pulse pressure",
        symbol: r"\mathrm{SV}/\mathrm{PP}",
        unit: "mL/mm[Hg]",
        what: What::Derived("stroke_volume / pulse_pressure"),
        assumptions: &[
            "A resting estimate of arterial compliance, shown for aortic pulse pressure.",
            "With a peripheral pressure it reads low, most so in the young.",
        ],
        source: "Chemla 1998 Am J Physiol Heart Circ Physiol 274:H500-5 (abstract seen); the second assumption from memory",
        ..Entry::BARE
    },
    Entry {
        name: "arterial_elastance",
        label: "Effective arterial elastance",
        symbol: r"E_{\mathrm{a}}",
        unit: "mm[Hg]/mL",
        what: What::Derived("0.9 * systolic_pressure / stroke_volume"),
        assumptions: &[
            "End-systolic pressure is taken as 0.9 times systolic pressure.",
            "It follows resistance and heart rate, and hardly the stiffness of the arteries.",
        ],
        source: "Kelly 1992 Circulation 86:513-21 (the factor 0.9 from memory); Chirinos 2014 Hypertension 64:1022-31 (abstract seen, volume from memory) for the second assumption",
        ..Entry::BARE
    },
    Entry {
        name: "cardiac_power_output",
        label: "Cardiac power output",
        symbol: r"\mathrm{CPO}",
        unit: "W",
        what: What::Derived("mean_pressure * cardiac_output"),
        assumptions: &[
            "Mean pressure times mean flow; the power of the pulse comes on top and is left out, as in the source.",
            "Exact units: the customary divisor 451 reads 0.21 % lower.",
        ],
        source: "Fincke 2004 J Am Coll Cardiol 44:340-8",
        ..Entry::BARE
    },
    Entry {
        name: "cardiac_power_index",
        label: "Cardiac power index",
        symbol: r"\mathrm{CPI}",
        unit: "W/m2",
        what: What::Derived("cardiac_power_output / body_surface_area"),
        assumptions: &["Power grows in proportion to body surface area."],
        source: "Fincke 2004 J Am Coll Cardiol 44:340-8",
        ..Entry::BARE
    },
];
