//! Long formulas take time in proportion to their length, and what is too long is refused.
//! The tests set no clock: what is quadratic does not end in the time a test run is given.

use crate::formula::{
    Given, Lane, OperandFacts, Shown, Target, Verdict, evaluate_one, gradient, judge, notation,
    resolve, typeset,
};
use crate::quantity::{Origin, Unit};

/// Parses, prints, typesets, resolves, judges and differentiates; the value where every operand
/// is 2.
fn through_all_readers(text: &str) -> f64 {
    let parsed = notation::formula(text, 0).unwrap_or_else(|e| panic!("{}", e.message()));
    let formula = &parsed.formula;
    let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
    let printed = notation::write_formula(formula, &names);
    assert_eq!(notation::formula(&printed, 0).unwrap().formula, *formula);
    let symbols: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
    let shown = Shown {
        operands: &symbols,
        reading: "r",
        taken: &[],
    };
    assert!(typeset(formula, shown).len() > names.len());
    let facts = vec![OperandFacts::plain(Unit::ONE); names.len()];
    let resolved = resolve(formula, &facts, &names, Target::default()).unwrap();
    let inputs = vec![Lane::measured(2.0); names.len()];
    let value = evaluate_one(&resolved.tape, &inputs).value;
    assert_eq!(gradient(&resolved.tape, &inputs).result.value, value);
    let two = Given::Known {
        value: 2.0,
        origin: Origin::Measured,
    };
    let verdict = judge(
        formula,
        &vec![two; names.len()],
        &Given::Missing,
        &|_, _| None,
    );
    assert!(matches!(verdict, Verdict::Known { value: v, .. } if (v - value).abs() < 1e-6));
    let none = vec![Given::Missing; names.len()];
    match judge(formula, &none, &Given::Missing, &|_, _| None) {
        // A choice that falls through waits for the last of its cells.
        Verdict::Missing(reasons) => {
            let waits_for = if text.contains(" else cell") {
                1
            } else {
                names.len()
            };
            assert_eq!(reasons.len(), waits_for);
        }
        other => panic!("{other:?}"),
    }
    value
}

fn names(count: usize) -> Vec<String> {
    (0..count).map(|i| format!("cell_{i}")).collect()
}

#[test]
fn sums_of_fifty_thousand_terms() {
    assert_eq!(
        through_all_readers(&vec!["x"; 50_000].join(" + ")),
        100_000.0
    );
}

#[test]
fn sums_of_thirty_thousand_cells_less_one() {
    assert_eq!(through_all_readers(&names(29_999).join(" + ")), 59_998.0);
    let mean = format!("mean({})", names(29_999).join(", "));
    assert_eq!(through_all_readers(&mean), 2.0);
}

#[test]
fn chains_of_twenty_thousand_choices() {
    assert_eq!(through_all_readers(&names(20_000).join(" else ")), 2.0);
    let conditions = vec!["x > 1"; 10_000].join(" and ");
    assert_eq!(
        through_all_readers(&format!("if {conditions} then x else 3")),
        2.0
    );
}

#[test]
fn what_is_too_long_is_refused_and_not_wrapped() {
    // More registers than there are numbers for: once, they wrapped around.
    for text in [
        format!("mean({})", names(40_000).join(", ")),
        format!("max({})", names(40_000).join(", ")),
        names(40_000).join(" + "),
    ] {
        let parsed = notation::formula(&text, 0).unwrap();
        let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
        let facts = vec![OperandFacts::plain(Unit::ONE); names.len()];
        let misfits = resolve(&parsed.formula, &facts, &names, Target::default()).unwrap_err();
        assert_eq!(misfits.len(), 1);
        assert_eq!(misfits[0].message, "the formula has more than 60000 parts");
    }
    let error = notation::formula(&vec!["x"; 60_000].join("+"), 0).unwrap_err();
    assert_eq!(error.message(), "the formula has more than 100000 parts");
}

#[test]
fn many_misfits_are_told_without_printing_the_formula_for_each() {
    let text = format!("min({})", vec!["a + b"; 20_000].join(", "));
    let parsed = notation::formula(&text, 0).unwrap();
    let facts = ["cm", "s"].map(|code| OperandFacts::plain(Unit::parse(code).unwrap()));
    let misfits = resolve(&parsed.formula, &facts, &["a", "b"], Target::default()).unwrap_err();
    assert_eq!(misfits.len(), 20_000);
    assert_eq!(misfits[0].message, "`a + b` adds cm to s");
    let long = format!("({}) + b", vec!["a"; 10_000].join(" + "));
    let parsed = notation::formula(&long, 0).unwrap();
    let misfits = resolve(&parsed.formula, &facts, &["a", "b"], Target::default()).unwrap_err();
    assert!(misfits[0].message.len() < 300, "{}", misfits[0].message);
}
