//! Fluid given, and fluid per body weight on a stated basis.
//!
//! The same volume is a different dose per kilogram on each basis, so the basis has to be stated: there
//! is no default.

use super::entry::{Advice, COMMON_PRACTICE, Domain, Entry, Weight, What};

/// The entries, in the order in which they are taught.
pub const ENTRIES: &[Entry] = &[
    Entry {
        name: "fluid_given",
        label: "Fluid given",
        symbol: r"V_{\mathrm{fluid}}",
        unit: "mL",
        what: What::Input,
        domain: Some(Domain {
            low: 0.0,
            high: 20_000.0,
        }),
        assumptions: &["The volume that ran in before this exam, of the challenge being judged."],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "fluid_weight_basis",
        label: "Weight the fluid is related to",
        symbol: r"\text{weight basis}",
        what: What::Finding(&["actual", "admission", "predicted", "ideal"]),
        assumptions: &[
            "Actual: today's weight, measured. Admission: before fluid gathered. Predicted, ideal: from height and sex.",
        ],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "admission_weight",
        label: "Weight on admission",
        symbol: r"W_{\mathrm{adm}}",
        unit: "kg",
        what: What::Input,
        domain: Some(Domain {
            low: 0.3,
            high: 650.0,
        }),
        assumptions: &["Measured on arrival, before fluid gathered."],
        source: COMMON_PRACTICE,
        ..Entry::BARE
    },
    Entry {
        name: "predicted_body_weight",
        label: "Predicted body weight",
        symbol: r"W_{\mathrm{pred}}",
        unit: "kg",
        what: What::Derived(
            "if age_group is child then withheld \"the formula is for adults\" \
             else if height < 130 cm then withheld \"the formula is not used under 130 cm\" \
             else if sex is female then 45.5 kg + 0.91 kg * (height / 1 cm - 152.4) \
             else if sex is male then 50 kg + 0.91 kg * (height / 1 cm - 152.4) \
             else withheld \"sex is not stated, and the formula differs by sex\"",
        ),
        assumptions: &[
            "Made to size breaths to the lungs; it knows nothing of fat, muscle or edema.",
        ],
        source: "ARDS Network 2000 N Engl J Med 342:1301-8 (memory; formula seen in PMC7808064, table 2); the limit of 130 cm is ours",
        advice: &[Advice {
            when: "height < 152.4 cm",
            text: "The formula was made for adults of at least 152.4 cm (60 inches): below, it is an extrapolation.",
            weight: Weight::Note,
            source: "form of the formula; Martin & Richards 2017 BMC Pulm Med 17:85 (page from memory) on smaller sizes",
        }],
        ..Entry::BARE
    },
    Entry {
        name: "ideal_body_weight",
        label: "Ideal body weight (Devine)",
        symbol: r"W_{\mathrm{ideal}}",
        unit: "kg",
        what: What::Derived(
            "if age_group is child then withheld \"the formula is for adults\" \
             else if height < 130 cm then withheld \"the formula is not used under 130 cm\" \
             else if sex is female then 45.5 kg + 2.3 kg * (height / 1 [in_i] - 60) \
             else if sex is male then 50 kg + 2.3 kg * (height / 1 [in_i] - 60) \
             else withheld \"sex is not stated, and the formula differs by sex\"",
        ),
        assumptions: &[
            "Made for drug doses, from experience rather than data; close to the predicted body weight.",
        ],
        source: "Devine 1974 Drug Intell Clin Pharm 8:650-5 (memory; formula checked against secondary sources); the limit of 130 cm is ours",
        advice: &[Advice {
            when: "height < 152.4 cm",
            text: "The formula counts inches over 60 (152.4 cm): below, it is an extrapolation.",
            weight: Weight::Note,
            source: "form of the formula",
        }],
        ..Entry::BARE
    },
    Entry {
        name: "fluid_per_weight",
        label: "Fluid per body weight",
        symbol: r"V_{\mathrm{fluid}}/W",
        unit: "mL/kg",
        what: What::Derived(
            "if fluid_weight_basis is admission then fluid_given / admission_weight \
             else if fluid_weight_basis is predicted then fluid_given / predicted_body_weight \
             else if fluid_weight_basis is ideal then fluid_given / ideal_body_weight \
             else if fluid_weight_basis is actual then fluid_given / weight \
             else withheld \"the weight basis is not stated: actual, admission, predicted or ideal\"",
        ),
        assumptions: &["It says how much was given, not how much was needed."],
        source: "definition",
        advice: &[Advice {
            when: "fluid_weight_basis is predicted or fluid_weight_basis is ideal",
            text: "Per kilogram of a weight computed from height and sex, not of the patient's own: \
                   compare only with doses on the same basis.",
            weight: Weight::Note,
            source: COMMON_PRACTICE,
        }],
        ..Entry::BARE
    },
];
