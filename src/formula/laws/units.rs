//! Units are a way of writing: swapping one changes nothing, and unlike ones do not mix.

use std::cell::Cell;

use super::bound::Bound;
use super::evaluators::{bounded, runner};
use super::sample::{Choices, Sample, choices, facts};
use crate::formula::{
    Lane, Misfit, OperandFacts, Resolved, Target, evaluate_one, notation, resolve,
};
use crate::quantity::{Kind, Unit};

#[test]
fn an_operand_in_another_unit_gives_the_same_result() {
    let compared = Cell::new(0u32);
    let cases = 1500;
    runner(cases)
        .run(
            &(choices(), choices(), choices()),
            |(shape, states, units)| {
                let sample = Sample::draw(&mut Choices::new(shape));
                let inputs = sample.draw_inputs(&mut Choices::new(states));
                let other = Sample {
                    text: sample.text.clone(),
                    parsed: sample.parsed.clone(),
                    facts: facts(&sample.parsed, &mut Choices::new(units)),
                    target: sample.target,
                };
                let from = sample.input_units();
                let converted: Vec<Lane> = inputs
                    .iter()
                    .zip(from.iter().zip(other.input_units()))
                    .map(|(lane, (from, to))| Lane {
                        value: from.convert(lane.value, to).unwrap(),
                        ..*lane
                    })
                    .collect();
                let here = evaluate_one(&sample.resolved().tape, &inputs);
                let there = evaluate_one(&other.resolved().tape, &converted);
                let bound = bounded(&sample, &inputs);
                if matches!(bound, Bound::Unsure) {
                    return Ok(());
                }
                assert_eq!(here.status, there.status, "{}", sample.text);
                if let Bound::Known { error, value } = bound {
                    let factor = sample.resolved().unit.factor();
                    let gap = (here.value - there.value).abs() * factor;
                    assert!(
                        gap <= 2.0 * error + 1e-14 * value.abs(),
                        "{}: {here:?} and {there:?}",
                        sample.text
                    );
                }
                compared.set(compared.get() + 1);
                Ok(())
            },
        )
        .unwrap();
    let compared = compared.get();
    assert!(compared > cases * 3 / 4, "only {compared}");
}

fn resolved(text: &str, facts: &[OperandFacts]) -> Result<Resolved, Vec<Misfit>> {
    let parsed = notation::formula(text, 0).unwrap();
    let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
    resolve(&parsed.formula, facts, &names, Target::default())
}

fn unit(code: &str) -> Unit {
    Unit::parse(code).unwrap()
}

#[test]
fn unlike_dimensions_never_mix_and_the_message_names_both() {
    let codes = [
        "cm", "s", "/min", "mL", "mm[Hg]", "kg", "deg", "1", "%", "cm2", "L/min",
    ];
    let mixing = [
        "x + y",
        "x - y",
        "min(x, y)",
        "mean(x, y)",
        "clamp(x, y, x)",
        "clamp(x, x, y)",
        "if x is known then x else y",
        "x else y",
        "if x > y then x else x",
    ];
    for a in codes {
        for b in codes {
            let facts = [a, b].map(|code| OperandFacts::plain(unit(code)));
            let is_alike = facts[0].unit.dimension() == facts[1].unit.dimension();
            for text in mixing {
                match resolved(text, &facts) {
                    Ok(_) => assert!(is_alike, "{text} with {a} and {b}"),
                    Err(misfits) => {
                        assert!(!is_alike, "{text} with {a} and {b}: {misfits:?}");
                        let message = &misfits[0].message;
                        for code in [a, b] {
                            let shown = if code == "1" { "a bare number" } else { code };
                            assert!(message.contains(shown), "{text}, {a}, {b}: {message}");
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn unlike_kinds_never_mix_and_the_message_names_both() {
    let kinds = [
        (Kind::BodyHeight, "cm"),
        (Kind::OutflowDiameter, "cm"),
        (Kind::VelocityTimeIntegral, "cm"),
        (Kind::StrokeVolumeIndex, "mL/m2"),
        (Kind::OutflowArea, "cm2"),
        (Kind::BodySurfaceArea, "m2"),
        (Kind::MinuteDistance, "cm/min"),
        (Kind::CardiacIndex, "L/min/m2"),
    ];
    for (a, in_a) in kinds {
        for (b, in_b) in kinds {
            let facts = [(a, in_a), (b, in_b)].map(|(kind, code)| OperandFacts {
                kind,
                ..OperandFacts::plain(unit(code))
            });
            if facts[0].unit.dimension() != facts[1].unit.dimension() {
                continue;
            }
            for text in [
                "x + y",
                "x - y",
                "max(x, y)",
                "x else y",
                "estimated(x) else y",
                "if x is known then 2 * x else y",
                "if x is known then (if y is known then withheld \"so\" else x) else y",
                "clamp(x, y / 2, x)",
            ] {
                match resolved(text, &facts) {
                    Ok(found) => {
                        assert_eq!(a, b, "{text}");
                        assert_eq!(found.kind, a, "{text} keeps the kind");
                    }
                    Err(misfits) => {
                        assert_ne!(a, b, "{text}: {misfits:?}");
                        let message = &misfits[0].message;
                        assert!(message.contains(a.label()), "{text}: {message}");
                        assert!(message.contains(b.label()), "{text}: {message}");
                    }
                }
            }
        }
    }
}

#[test]
fn both_sides_of_a_choice_come_to_one_unit() {
    let facts = ["mm", "m"].map(|code| OperandFacts::plain(unit(code)));
    let known = Lane::measured(250.0);
    let meters = Lane::measured(0.25);
    for (text, inputs, millimeters) in [
        ("x else y", [Lane::MISSING, meters], 250.0),
        ("x else y", [known, Lane::MISSING], 250.0),
        ("2 cm else y", [Lane::MISSING, meters], 0.02),
        ("clamp(25 cm, x, y)", [Lane::measured(10.0), meters], 250.0),
        (
            "clamp(25 cm, x, y)",
            [Lane::measured(10.0), Lane::measured(0.2)],
            200.0,
        ),
        ("clamp(25 cm, x, y)", [known, Lane::measured(9.0)], 250.0),
        ("clamp(x, 1 cm, y)", [known, Lane::measured(0.1)], 100.0),
    ] {
        let mut facts = facts.to_vec();
        let parsed = notation::formula(text, 0).unwrap();
        let mut inputs = inputs.to_vec();
        if parsed.names[0] == "y" {
            facts.remove(0);
            inputs.remove(0);
        }
        let resolved = resolved(text, &facts).unwrap();
        let lane = evaluate_one(&resolved.tape, &inputs);
        assert!(lane.status.is_known(), "{text}");
        let target = if facts.len() == 1 { 1.0 } else { 1e-3 };
        assert!(
            (lane.value * resolved.unit.factor() / target - millimeters).abs() < 1e-9,
            "{text}: {lane:?} {}",
            resolved.unit
        );
    }
}

#[test]
fn withheld_fits_wherever_it_stands() {
    let facts = [OperandFacts::plain(unit("mm"))];
    for text in [
        "if x > 2 cm then withheld \"too large\" else x",
        "2 * (if x > 2 cm then withheld \"too large\" else x / 1 s)",
        "sqrt(withheld \"a\") + x",
        "withheld \"a\" else x",
        "(withheld \"a\")^2 * x",
    ] {
        let resolved = resolved(text, &facts).unwrap();
        let lane = evaluate_one(&resolved.tape, &[Lane::measured(25.0)]);
        assert_eq!(
            lane.status.is_missing(),
            !text.contains(" else x") || text.contains("if")
        );
    }
}
