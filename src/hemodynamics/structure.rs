//! Checks that hold for every entry. They read the texts as words only; the parser and the sheet have
//! tests of their own.

use std::collections::{BTreeMap, BTreeSet};

use super::words::{NOTATION, words};
use super::{Entry, What, change, entries, entry};
use crate::quantity::Kind;

/// Words that may follow `is` for any cell.
const STATES: &[&str] = &[
    "known",
    "missing",
    "unobtainable",
    "measured",
    "estimated",
    "assumed",
];

fn formula(entry: &Entry) -> Option<&'static str> {
    match entry.what {
        What::Derived(text) | What::GuardedInput(text) => Some(text),
        What::Input | What::Finding(_) => None,
    }
}

/// Every text in the notation, with where it stands.
fn texts() -> Vec<(String, &'static str)> {
    let formulas = entries().filter_map(|e| formula(e).map(|text| (e.name.to_string(), text)));
    let conditions = entries().flat_map(|e| {
        e.advice
            .iter()
            .map(|a| (format!("advice on {}", e.name), a.when))
    });
    let changes = change::advice().map(|a| (format!("advice on change.{}", a.cell), a.when));
    formulas.chain(conditions).chain(changes).collect()
}

/// The name without the exam it belongs to.
fn bare(name: &str) -> &str {
    name.strip_prefix("before.")
        .or_else(|| name.strip_prefix("after."))
        .unwrap_or(name)
}

/// The word `reading` stands for the guarded cell itself, so any state may be asked of it.
fn may_be_asked(subject: &str, word: &str) -> bool {
    if subject == "reading" {
        return STATES.contains(&word);
    }
    let asked = entry(bare(subject)).unwrap();
    match asked.what {
        What::Finding(list) => list.contains(&word) || word == "known" || word == "missing",
        What::Input | What::GuardedInput(_) => STATES.contains(&word) || word == "largest",
        What::Derived(_) => STATES.contains(&word),
    }
}

fn dimension_of(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Plain => None,
        Kind::BodyHeight | Kind::OutflowDiameter | Kind::VelocityTimeIntegral => Some("m"),
        Kind::MinuteDistance => Some("m/s"),
        Kind::OutflowArea | Kind::BodySurfaceArea => Some("m2"),
        Kind::StrokeVolumeIndex => Some("m3/m2"),
        Kind::CardiacIndex => Some("m3/s/m2"),
    }
}

#[test]
fn names_are_unique_and_snake_case() {
    let mut seen = BTreeSet::new();
    for e in entries() {
        assert!(seen.insert(e.name), "{} stands twice", e.name);
        assert!(
            e.name.starts_with(|c: char| c.is_ascii_lowercase()),
            "{}",
            e.name
        );
        assert!(
            e.name
                .chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_'),
            "{}",
            e.name
        );
        assert!(
            !e.name.contains("__") && !e.name.ends_with('_'),
            "{}",
            e.name
        );
        assert!(
            !NOTATION.contains(&e.name) && !STATES.contains(&e.name),
            "{} is a word of the notation",
            e.name
        );
    }
}

#[test]
fn names_that_files_rely_on_keep_their_units() {
    // Users' files hold these names and UCUM codes: neither may change.
    let promised = [
        ("height", "cm"),
        ("weight", "kg"),
        ("heart_rate", "/min"),
        ("systolic_pressure", "mm[Hg]"),
        ("diastolic_pressure", "mm[Hg]"),
        ("mean_pressure", "mm[Hg]"),
        ("central_venous_pressure", "mm[Hg]"),
        ("lvot_diameter", "cm"),
        ("lvot_vti", "cm"),
        ("lvot_area", "cm2"),
        ("body_surface_area", "m2"),
        ("stroke_volume", "mL"),
        ("stroke_volume_index", "mL/m2"),
        ("cardiac_output", "L/min"),
        ("cardiac_index", "L/min/m2"),
        ("systemic_vascular_resistance", "dyn.s/cm5"),
        ("systemic_vascular_resistance_index", "dyn.s.m2/cm5"),
        ("fluid_given", "mL"),
    ];
    for (name, unit) in promised {
        assert_eq!(entry(name).map(|e| e.unit), Some(unit), "{name}");
    }
}

#[test]
fn every_text_is_filled_in() {
    for e in entries() {
        for (what, text) in [
            ("label", e.label),
            ("symbol", e.symbol),
            ("unit", e.unit),
            ("source", e.source),
        ] {
            assert!(!text.trim().is_empty(), "{} has no {what}", e.name);
        }
        assert!(!e.assumptions.is_empty(), "{} states no assumption", e.name);
        let opened = e.symbol.matches('{').count();
        assert_eq!(
            opened,
            e.symbol.matches('}').count(),
            "braces of the symbol of {}",
            e.name
        );
        for a in e.advice {
            assert!(
                !a.when.is_empty() && !a.source.is_empty(),
                "advice on {}",
                e.name
            );
            assert!(
                a.text.ends_with('.') && !a.text.contains("  "),
                "{}: {}",
                e.name,
                a.text
            );
        }
        assert!(
            e.assumptions
                .iter()
                .all(|a| a.ends_with('.') && !a.contains("  ")),
            "{}",
            e.name
        );
    }
    for a in change::advice() {
        assert!(
            a.text.ends_with('.') && !a.text.contains("  ") && !a.source.is_empty(),
            "{}",
            a.text
        );
    }
}

#[test]
fn every_name_in_a_text_is_in_the_catalogue() {
    for (place, text) in texts() {
        let found = words(text);
        let subjects = found.asked.iter().map(|(subject, _)| subject);
        for name in found.names.iter().chain(subjects) {
            assert!(
                name == "reading" || entry(bare(name)).is_some(),
                "{place}: {name} in `{text}`"
            );
        }
    }
}

#[test]
fn every_question_can_be_answered() {
    for (place, text) in texts() {
        for (subject, word) in words(text).asked {
            assert!(
                may_be_asked(&subject, &word),
                "{place}: `{subject} is {word}`"
            );
        }
    }
}

#[test]
fn exams_are_named_in_advice_on_changes_and_only_there() {
    for e in entries() {
        let own = formula(e)
            .into_iter()
            .chain(e.advice.iter().map(|a| a.when));
        assert!(
            own.flat_map(|t| words(t).names).all(|n| !n.contains('.')),
            "{}",
            e.name
        );
    }
    for a in change::advice() {
        assert!(
            entry(a.cell).is_some(),
            "{} is not in the catalogue",
            a.cell
        );
        assert!(
            words(a.when).names.iter().all(|n| bare(n) != n),
            "{}",
            a.when
        );
    }
}

#[test]
fn only_a_guarded_input_sees_its_reading() {
    for e in entries() {
        let sees = formula(e).is_some_and(|t| t.split_whitespace().any(|w| w == "reading"));
        assert_eq!(sees, matches!(e.what, What::GuardedInput(_)), "{}", e.name);
    }
}

#[test]
fn every_unit_is_ucum() {
    // UCUM as read by the general-purpose crate ucum-units.
    for e in entries() {
        assert!(ucum::validate(e.unit).is_ok(), "{}: {}", e.name, e.unit);
    }
    for (place, text) in texts() {
        for unit in words(text).units {
            assert!(ucum::validate(&unit).is_ok(), "{place}: {unit}");
        }
    }
}

#[test]
fn kinds_stand_on_units_of_their_dimension() {
    for e in entries() {
        if let Some(unit) = dimension_of(e.kind) {
            assert_eq!(
                ucum::is_comparable(e.unit, unit),
                Ok(true),
                "{}: {:?} in {}",
                e.name,
                e.kind,
                e.unit
            );
        }
    }
}

#[test]
fn findings_have_distinct_words_and_no_numbers() {
    for e in entries() {
        if let What::Finding(list) = e.what {
            assert!(
                list.len() >= 2 && list.iter().collect::<BTreeSet<_>>().len() == list.len(),
                "{}",
                e.name
            );
            assert!(
                e.unit == "1" && e.kind == Kind::Plain && e.domain.is_none() && e.usual.is_empty(),
                "{}",
                e.name
            );
        }
    }
}

#[test]
fn numeric_inputs_have_a_domain() {
    for e in entries() {
        let numeric_input = matches!(e.what, What::Input | What::GuardedInput(_));
        assert!(!numeric_input || e.domain.is_some(), "{}", e.name);
    }
}

#[test]
fn ranges_are_ordered_and_inside_the_domain() {
    for e in entries() {
        if let Some(domain) = e.domain {
            assert!(domain.low < domain.high, "{}", e.name);
        }
        for range in e.usual {
            assert!(range.low.is_some() || range.high.is_some(), "{}", e.name);
            assert!(
                !range.who.is_empty() && !range.source.is_empty(),
                "{}",
                e.name
            );
            let low = range.low.unwrap_or(f64::NEG_INFINITY);
            let high = range.high.unwrap_or(f64::INFINITY);
            assert!(low < high, "{}", e.name);
            if let Some(domain) = e.domain {
                let inside = |end: f64| domain.low <= end && end <= domain.high;
                assert!(
                    range.low.is_none_or(inside) && range.high.is_none_or(inside),
                    "{}",
                    e.name
                );
            }
        }
        assert!(
            e.model_uncertainty
                .is_none_or(|m| m.standard > 0.0 && !m.source.is_empty()),
            "{}",
            e.name
        );
    }
}

#[test]
fn formulas_form_no_cycle() {
    let mut uses: BTreeMap<&str, BTreeSet<String>> = entries()
        .map(|e| {
            let found = formula(e).map(words).unwrap_or_default();
            let subjects = found
                .asked
                .into_iter()
                .map(|(subject, _)| subject)
                .filter(|s| s != "reading");
            (e.name, found.names.into_iter().chain(subjects).collect())
        })
        .collect();
    while !uses.is_empty() {
        let waiting: BTreeSet<String> = uses.keys().map(|name| (*name).to_string()).collect();
        let settled = uses.len();
        uses.retain(|_, used| !used.is_disjoint(&waiting));
        assert!(uses.len() < settled, "a cycle among {:?}", uses.keys());
    }
}

#[test]
fn no_formula_stands_twice() {
    let mut seen = BTreeSet::new();
    for e in entries() {
        if let Some(text) = formula(e) {
            assert!(seen.insert(text), "{} repeats a formula", e.name);
        }
    }
}

#[test]
fn loinc_codes_are_those_that_were_looked_up() {
    // Seen in LOINC (loinc.org).
    let seen = [
        ("body_surface_area", "8277-6"),
        ("diastolic_pressure", "8462-4"),
        ("heart_rate", "8867-4"),
        ("height", "8302-2"),
        ("lvot_diameter", "80028-4"),
        ("lvot_vti", "80030-0"),
        ("mean_pressure", "8478-0"),
        ("systolic_pressure", "8480-6"),
        ("weight", "29463-7"),
    ];
    let mut ours: Vec<_> = entries()
        .filter_map(|e| e.loinc.map(|code| (e.name, code)))
        .collect();
    ours.sort_unstable();
    assert_eq!(ours, seen);
}
