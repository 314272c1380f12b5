//! Body size: height, weight, and body surface area by five published formulas.
//!
//! The coefficients hold for centimeters, kilograms (grams for Boyd) and square meters only, so each
//! formula divides by those units first.

use super::entry::{Advice, COMMON_PRACTICE, Domain, Entry, Weight, What};
use crate::quantity::Kind;

/// Where formulas of body surface area part company.
const FORMULAS_PART: Advice = Advice {
    when: "weight / height^2 >= 30 kg/m2",
    text: "At this weight for height the area formulas differ most, and Du Bois gives the smallest area: \
           name the formula when you report an indexed value.",
    weight: Weight::Note,
    source: "arithmetic of the formulas; compared in Verbraecken 2006 Metabolism 55:515-24",
};

/// The entries, in the order in which they are taught.
pub const ENTRIES: &[Entry] = &[
    Entry {
        name: "age_group",
        label: "Age group",
        symbol: r"\text{age group}",
        what: What::Finding(&["adult", "child"]),
        assumptions: &["The usual ranges and the estimate of the diameter come from adults."],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "sex",
        label: "Sex",
        symbol: r"\text{sex}",
        what: What::Finding(&["female", "male"]),
        assumptions: &[
            "Used only by the predicted and ideal body weights, whose formulas differ by sex.",
        ],
        source: "as in the formulas of predicted and ideal body weight",
        ..Entry::BARE
    },
    Entry {
        name: "height",
        label: "Height",
        symbol: r"H",
        unit: "cm",
        kind: Kind::BodyHeight,
        what: What::Input,
        domain: Some(Domain {
            low: 20.0,
            high: 280.0,
        }),
        assumptions: &["Measured; a height from memory or from a chart is an estimate."],
        source: COMMON_PRACTICE,
        loinc: Some("8302-2"),
        ..Entry::BARE
    },
    Entry {
        name: "weight",
        label: "Weight",
        symbol: r"W",
        unit: "kg",
        what: What::Input,
        domain: Some(Domain {
            low: 0.3,
            high: 650.0,
        }),
        assumptions: &["The weight on the day of the exam, measured."],
        source: COMMON_PRACTICE,
        loinc: Some("29463-7"),
        ..Entry::BARE
    },
    Entry {
        name: "body_surface_area",
        label: "Body surface area (Du Bois)",
        symbol: r"\mathrm{BSA}",
        unit: "m2",
        kind: Kind::BodySurfaceArea,
        what: What::Derived("0.007184 m2 * (weight / 1 kg)^0.425 * (height / 1 cm)^0.725"),
        domain: Some(Domain {
            low: 0.05,
            high: 4.0,
        }),
        assumptions: &[
            "Fitted to very few people; used here because most published indexes used it.",
        ],
        source: "Du Bois 1916 Arch Intern Med 17:863-71 (coefficients from memory, checked against general-purpose documentation)",
        loinc: Some("8277-6"),
        advice: &[FORMULAS_PART],
        ..Entry::BARE
    },
    Entry {
        name: "body_surface_area_mosteller",
        label: "Body surface area (Mosteller)",
        symbol: r"\mathrm{BSA}_{\mathrm{Mosteller}}",
        unit: "m2",
        kind: Kind::BodySurfaceArea,
        what: What::Derived("1 m2 * sqrt((height / 1 cm) * (weight / 1 kg) / 3600)"),
        domain: Some(Domain {
            low: 0.05,
            high: 4.0,
        }),
        assumptions: &["A simplification made for use without a calculator."],
        source: "Mosteller 1987 N Engl J Med 317:1098 (memory); formula seen in Verbraecken 2006 Metabolism 55:515-24",
        ..Entry::BARE
    },
    Entry {
        name: "body_surface_area_haycock",
        label: "Body surface area (Haycock)",
        symbol: r"\mathrm{BSA}_{\mathrm{Haycock}}",
        unit: "m2",
        kind: Kind::BodySurfaceArea,
        what: What::Derived("0.024265 m2 * (weight / 1 kg)^0.5378 * (height / 1 cm)^0.3964"),
        domain: Some(Domain {
            low: 0.05,
            high: 4.0,
        }),
        assumptions: &["Fitted to infants, children and adults."],
        source: "Haycock 1978 J Pediatr 93:62-6 (coefficients from memory, checked against general-purpose documentation)",
        ..Entry::BARE
    },
    Entry {
        name: "body_surface_area_gehan_george",
        label: "Body surface area (Gehan and George)",
        symbol: r"\mathrm{BSA}_{\mathrm{Gehan}}",
        unit: "m2",
        kind: Kind::BodySurfaceArea,
        what: What::Derived("0.0235 m2 * (weight / 1 kg)^0.51456 * (height / 1 cm)^0.42246"),
        domain: Some(Domain {
            low: 0.05,
            high: 4.0,
        }),
        assumptions: &["Fitted to children and adults whose surface had been measured directly."],
        source: "Gehan & George 1970 Cancer Chemother Rep 54:225-35 (coefficients from memory, checked against general-purpose documentation)",
        ..Entry::BARE
    },
    Entry {
        name: "body_surface_area_boyd",
        label: "Body surface area (Boyd)",
        symbol: r"\mathrm{BSA}_{\mathrm{Boyd}}",
        unit: "m2",
        kind: Kind::BodySurfaceArea,
        what: What::Derived(
            "0.0003207 m2 * (height / 1 cm)^0.3 * (weight / 1 g)^(0.7285 - 0.0188 * ln(weight / 1 g) / ln(10))",
        ),
        domain: Some(Domain {
            low: 0.05,
            high: 4.0,
        }),
        assumptions: &["The exponent itself falls with weight, in grams."],
        source: "Boyd 1935 (coefficients from memory, checked against general-purpose documentation)",
        ..Entry::BARE
    },
];
