//! The left ventricular outflow tract: its diameter, measured or estimated, and its area.
//!
//! The diameter is squared in the area, so it is the reading to take most care with: at 2.0 cm, one
//! millimeter too much makes the stroke volume 10.25 % too large, one too little 9.75 % too small.

use super::entry::{
    ADULT_RANGES_ONLY, Advice, COMMON_PRACTICE, Domain, Entry, ModelUncertainty, UsualRange,
    Weight, What,
};
use crate::quantity::Kind;

/// Guideline for diameter, gate and tracing.
const MEASURING: &str = "Baumgartner 2009 J Am Soc Echocardiogr 22:1-23";

/// The entries, in the order in which they are taught.
pub const ENTRIES: &[Entry] = &[
    Entry {
        name: "diameter_convention",
        label: "Diameter convention",
        symbol: r"\text{diameter convention}",
        what: What::Finding(&["inner_edge", "leading_edge"]),
        assumptions: &[
            "Where the calipers were set: inner edge to inner edge is the guideline's way.",
        ],
        source: MEASURING,
        ..Entry::BARE
    },
    Entry {
        name: "lvot_diameter_from_body_size",
        label: "LVOT diameter estimated from body size",
        symbol: r"D_{\mathrm{est}}",
        unit: "cm",
        kind: Kind::OutflowDiameter,
        what: What::Derived(
            "if age_group is child then withheld \"the estimate from body size is for adults\" \
             else if body_surface_area < 1.8 m2 then estimated(1.8 cm) \
             else if body_surface_area <= 2.2 m2 then estimated(1 cm * body_surface_area / 1 m2) \
             else estimated(2.2 cm)",
        ),
        assumptions: &[
            "An adult without disease of the aortic root or valve.",
            "Below 1.8 m2 it is 1.8 cm, above 2.2 m2 it is 2.2 cm, between them the number of the area.",
        ],
        source: COMMON_PRACTICE,
        model_uncertainty: Some(ModelUncertainty {
            standard: 0.2,
            source: "common practice, no source; the figure is ours",
        }),
        ..Entry::BARE
    },
    Entry {
        name: "lvot_diameter",
        label: "LVOT diameter",
        symbol: r"D_{\mathrm{LVOT}}",
        unit: "cm",
        kind: Kind::OutflowDiameter,
        what: What::GuardedInput(
            "if reading is unobtainable then lvot_diameter_from_body_size else reading",
        ),
        domain: Some(Domain {
            low: 0.3,
            high: 5.0,
        }),
        usual: &[UsualRange {
            low: Some(1.8),
            high: Some(2.2),
            who: "adults",
            source: COMMON_PRACTICE,
        }],
        assumptions: &[
            "Parasternal long-axis view, zoomed, in mid-systole, inner edge to inner edge, at the site of the gate.",
            "Its error counts twice in the area: one millimeter at 2.0 cm changes flow by about 10 %.",
        ],
        source: MEASURING,
        loinc: Some("80028-4"),
        advice: &[
            Advice {
                when: "lvot_diameter is estimated",
                text: "The diameter is estimated from body size, not measured: flow computed from it can be far off. \
                       Following the VTI needs no diameter.",
                weight: Weight::Caution,
                source: COMMON_PRACTICE,
            },
            Advice {
                when: "(lvot_diameter < 1.5 cm or lvot_diameter > 2.8 cm) and not (age_group is child)",
                text: "A diameter under 1.5 or over 2.8 cm is rare in an adult: measure again before using it.",
                weight: Weight::Caution,
                source: COMMON_PRACTICE,
            },
            Advice {
                when: "((lvot_diameter >= 1.5 cm and lvot_diameter < 1.8 cm) \
                       or (lvot_diameter > 2.2 cm and lvot_diameter <= 2.8 cm)) and not (age_group is child)",
                text: "The diameter is outside the usual 1.8 to 2.2 cm: check zoom, mid-systolic frame and both edges.",
                weight: Weight::Note,
                source: COMMON_PRACTICE,
            },
            Advice {
                when: "diameter_convention is leading_edge",
                text: "Leading edge to leading edge includes one wall and reads larger than inner edge to inner edge, \
                       the guideline's way: keep one convention for all exams.",
                weight: Weight::Note,
                source: "Baumgartner 2009 J Am Soc Echocardiogr 22:1-23 for inner edge; the rest is common practice, no source",
            },
            ADULT_RANGES_ONLY,
        ],
        ..Entry::BARE
    },
    Entry {
        name: "lvot_area",
        label: "LVOT area",
        symbol: r"A_{\mathrm{LVOT}}",
        unit: "cm2",
        kind: Kind::OutflowArea,
        what: What::Derived("pi * (lvot_diameter / 2)^2"),
        assumptions: &["The outflow tract is taken as a circle; it is often an ellipse."],
        source: MEASURING,
        advice: &[Advice {
            when: "lvot_area is known",
            text: "The area assumes a circle: against CT it was 17 ± 16 % low, so absolute flow tends to read low. \
                   In the same patient this error stays much the same from exam to exam.",
            weight: Weight::Note,
            source: "J Am Soc Echocardiogr 2012;25:749-57; the second sentence is common practice, no source",
        }],
        ..Entry::BARE
    },
];
