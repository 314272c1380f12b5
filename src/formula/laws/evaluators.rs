//! Every evaluator says what the judge says, and all of them the same bits.

use std::cell::Cell;

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use super::bound::{Bound, bound};
use super::sample::{Choices, Sample, choices};
use crate::formula::{
    Given, Lane, Lanes, OperandFacts, Resolved, Scratch, Single, Status, Target, Verdict, View,
    evaluate, evaluate_one, judge, notation, resolve,
};
use crate::quantity::Unit;

/// A runner with a fixed seed, so that the share of cases that say something is a fact.
pub(super) fn runner(cases: u32) -> TestRunner {
    let config = Config {
        cases,
        failure_persistence: None,
        ..Config::default()
    };
    TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]))
}

fn judged(sample: &Sample, inputs: &[Lane]) -> Verdict {
    let given = sample.given(inputs);
    let count = sample.parsed.formula.operands().len();
    let own = given.get(count).unwrap_or(&Given::Missing);
    judge(&sample.parsed.formula, &given[..count], own, &|k, word| {
        sample.word_of(k, word)
    })
}

pub(super) fn bounded(sample: &Sample, inputs: &[Lane]) -> Bound {
    let given = sample.given(inputs);
    bound(&sample.parsed.formula, &given, &|k, word| {
        sample.word_of(k, word)
    })
}

/// The judge and the evaluator agree; whether the case said anything.
fn agree(sample: &Sample, resolved: &Resolved, inputs: &[Lane]) -> Result<bool, TestCaseError> {
    let lane = evaluate_one(&resolved.tape, inputs);
    let verdict = judged(sample, inputs);
    let context = format!(
        "{}\nunits {:?}\ninputs {inputs:?}\nlane {lane:?}\njudge {verdict:?}",
        sample.text,
        sample.input_units()
    );
    match bounded(sample, inputs) {
        Bound::Unsure => return Ok(false),
        Bound::Missing => {
            prop_assert!(lane.status.is_missing(), "{context}");
            prop_assert!(matches!(verdict, Verdict::Missing(_)), "{context}");
        }
        Bound::Faulty => {
            prop_assert!(lane.status.is_faulty(), "{context}");
            prop_assert!(matches!(verdict, Verdict::Faulty(_)), "{context}");
        }
        Bound::Known { value, error } => {
            prop_assert!(lane.status.is_known(), "{context}");
            let Verdict::Known {
                value: judged,
                origin,
            } = verdict
            else {
                return Err(TestCaseError::fail(context));
            };
            prop_assert_eq!(lane.status.origin(), origin, "{}", context);
            let coherent = lane.value * resolved.unit.factor();
            let slack = error + 1e-14 * value.abs();
            prop_assert!(
                (judged - value).abs() <= slack,
                "{context}\n{value} ± {error}"
            );
            prop_assert!(
                (coherent - value).abs() <= slack,
                "{context}\n{value} ± {error}"
            );
        }
    }
    Ok(true)
}

#[test]
fn the_evaluator_agrees_with_the_judge() {
    let said_something = Cell::new(0u32);
    let known = Cell::new(0u32);
    let cases = 3000;
    runner(cases)
        .run(&(choices(), choices()), |(shape, states)| {
            let sample = Sample::draw(&mut Choices::new(shape));
            let resolved = sample.resolved();
            let inputs = sample.draw_inputs(&mut Choices::new(states));
            if agree(&sample, &resolved, &inputs)? {
                said_something.set(said_something.get() + 1);
            }
            if evaluate_one(&resolved.tape, &inputs).status.is_known() {
                known.set(known.get() + 1);
            }
            Ok(())
        })
        .unwrap();
    let (said_something, known) = (said_something.get(), known.get());
    assert!(said_something > cases * 3 / 4, "only {said_something}");
    assert!(known > cases / 4, "only {known} were known");
}

fn in_blocks<const W: usize>(resolved: &Resolved, cases: &[Vec<Lane>]) -> Vec<Lane> {
    let mut out = Vec::new();
    let mut scratch = Scratch::<W>::new();
    for block in cases.chunks(W) {
        let inputs: Vec<Lanes<W>> = (0..resolved.tape.inputs())
            .map(|k| {
                let mut lanes = Lanes::MISSING;
                for (i, case) in block.iter().enumerate() {
                    lanes.set(i, case[k]);
                }
                lanes
            })
            .collect();
        let borrowed: Vec<View<'_, W>> = inputs.iter().map(Lanes::view).collect();
        let mut result = Lanes::MISSING;
        evaluate(&resolved.tape, &borrowed, result.view_mut(), &mut scratch);
        out.extend((0..block.len()).map(|i| result.lane(i)));
    }
    out
}

fn single(resolved: &Resolved, inputs: &[Lane]) -> Lane {
    fn run<const TRACKED: bool>(resolved: &Resolved, inputs: &[Lane]) -> Lane {
        let mut single = Single::<TRACKED>::new();
        let mut joined = 0;
        for (i, lane) in inputs.iter().enumerate() {
            single.values[i] = lane.value;
            single.states[i] = lane.status.0;
            joined |= lane.status.0;
        }
        single.finish(&resolved.tape, joined)
    }
    match resolved.tape.is_straight() {
        true => run::<false>(resolved, inputs),
        false => run::<true>(resolved, inputs),
    }
}

fn same(a: Lane, b: Lane) -> bool {
    a.status == b.status && (!a.status.is_known() || a.value.to_bits() == b.value.to_bits())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]
    #[test]
    fn every_width_gives_the_same_bits(
        shape in choices(),
        states in prop::collection::vec(choices(), 1..20),
    ) {
        let sample = Sample::draw(&mut Choices::new(shape));
        let resolved = sample.resolved();
        let cases: Vec<Vec<Lane>> = states
            .into_iter()
            .map(|s| sample.draw_inputs(&mut Choices::new(s)))
            .collect();
        let one: Vec<Lane> = cases.iter().map(|c| evaluate_one(&resolved.tape, c)).collect();
        for (name, lanes) in [
            ("1", in_blocks::<1>(&resolved, &cases)),
            ("7", in_blocks::<7>(&resolved, &cases)),
            ("256", in_blocks::<256>(&resolved, &cases)),
        ] {
            for i in 0..cases.len() {
                prop_assert!(
                    same(lanes[i], one[i]),
                    "{} in lanes of {name}: {:?}, alone {:?}", sample.text, lanes[i], one[i]
                );
            }
        }
        if Single::<true>::fits(resolved.tape.registers()) {
            for (case, lane) in cases.iter().zip(&one) {
                let single = single(&resolved, case);
                prop_assert!(same(single, *lane), "{}: {single:?}, {lane:?}", sample.text);
            }
        }
    }
}

/// The result of a formula of bare numbers, by every evaluator.
fn status(text: &str, inputs: &[Lane]) -> Status {
    let parsed = notation::formula(text, 0).unwrap();
    let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
    let facts = vec![OperandFacts::plain(Unit::ONE); names.len()];
    let resolved = resolve(&parsed.formula, &facts, &names, Target::default()).unwrap();
    let one = evaluate_one(&resolved.tape, inputs);
    assert!(same(single(&resolved, inputs), one), "{text}");
    assert!(
        same(in_blocks::<7>(&resolved, &[inputs.to_vec()])[0], one),
        "{text}"
    );
    one.status
}

#[test]
fn a_fault_outweighs_what_is_missing_and_a_branch_not_taken_never_faults() {
    let (one, none) = (Lane::measured(1.0), Lane::MISSING);
    let faulty = Lane {
        value: f64::NAN,
        status: Status::FAULTY,
    };
    // Inputs in the order in which the formula names them.
    for (text, inputs, expected) in [
        ("x + ln(y - 1)", [none, one], Status::FAULTY),
        ("ln(y - 2) * x", [one, none], Status::FAULTY),
        // What stands for the missing number makes no fault of its own.
        ("y + 1 / (x - 1)", [one, none], Status::MISSING),
        ("y + 1 / (x - 1)", [one, one], Status::FAULTY),
        ("x + y", [faulty, none], Status::FAULTY),
        ("x else y", [faulty, one], Status::FAULTY),
        ("x else y", [none, one], Status::MEASURED),
        ("x else y", [one, faulty], Status::MEASURED),
        ("min(1 / (x - 1), y)", [one, one], Status::FAULTY),
        ("1 / (1 / (x - 1)) + y", [one, one], Status::FAULTY),
        (
            "if x > 0 then y else 1 / (x - 1)",
            [one, one],
            Status::MEASURED,
        ),
        (
            "if x > 0 then y else sqrt(-y)",
            [one, none],
            Status::MISSING,
        ),
        ("if x > 2 then y else sqrt(-y)", [one, one], Status::FAULTY),
        (
            "if 1 / (x - 1) > 0 or y > 0 then 1 else 2",
            [one, one],
            Status::MEASURED,
        ),
        (
            "if 1 / (x - 1) > 0 and y > 0 then 1 else 2",
            [one, one],
            Status::FAULTY,
        ),
        ("clamp(1, x + 1, y)", [one, one], Status::FAULTY),
        ("1e300 * x * 1e300 + y", [one, one], Status::FAULTY),
    ] {
        assert_eq!(status(text, &inputs), expected, "{text} of {inputs:?}");
    }
}
