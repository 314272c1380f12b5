//! The gradient agrees with central differences, extrapolated (Richardson), and its value with
//! the evaluator.

use std::cell::Cell;

use super::bound::Bound;
use super::evaluators::{bounded, runner};
use super::sample::{Choices, Sample, choices};
use crate::formula::{Facet, Lane, Resolved, evaluate_one, gradient};

/// Share of the derivative below which steps of different width must agree to say anything.
const SMOOTH: f64 = 1e-3;

#[test]
fn gradients_agree_with_differences() {
    let compared = Cell::new(0u32);
    let cases = 2000;
    runner(cases)
        .run(&(choices(), choices()), |(shape, states)| {
            let sample = Sample::draw(&mut Choices::new(shape));
            let resolved = sample.resolved();
            let mut inputs = sample.draw_inputs(&mut Choices::new(states));
            untied(&sample, &mut inputs);
            let found = gradient(&resolved.tape, &inputs);
            let lane = evaluate_one(&resolved.tape, &inputs);
            assert_eq!(found.result.status, lane.status, "{}", sample.text);
            if !lane.status.is_known() {
                assert!(found.partials.iter().all(|p| *p == 0.0), "{}", sample.text);
                return Ok(());
            }
            assert_eq!(found.result.value.to_bits(), lane.value.to_bits());
            let Bound::Known { error, .. } = bounded(&sample, &inputs) else {
                return Ok(());
            };
            let noise = error / resolved.unit.factor();
            for (k, partial) in found.partials.iter().enumerate() {
                let is_value = sample.parsed.formula.operands().get(k).copied();
                let is_stated = inputs[k].status.is_known();
                // Of a root at 0 there is no slope, as the gradient's documentation says.
                if partial.is_finite()
                    && is_value.unwrap_or(Facet::Value) == Facet::Value
                    && is_stated
                    && sample.facts.get(k).is_none_or(|f| f.words.is_empty())
                    && let Some((expected, slack)) = difference(&resolved, &inputs, k, noise)
                {
                    assert!(
                        (partial - expected).abs() <= slack,
                        "{} by {k} at {inputs:?}: {partial}, differences {expected} ± {slack}",
                        sample.text
                    );
                    compared.set(compared.get() + u32::from(expected != 0.0));
                }
            }
            Ok(())
        })
        .unwrap();
    let compared = compared.get();
    assert!(compared > 300, "only {compared} slopes were compared");
}

/// Moves each quantity by its own small share: where two arguments of `min` are equal, the slope
/// of the one taken need not be that of the lesser.
fn untied(sample: &Sample, inputs: &mut [Lane]) {
    for (k, lane) in inputs.iter_mut().enumerate() {
        let facet = sample.parsed.formula.operands().get(k);
        let is_finding = sample.facts.get(k).is_some_and(|f| !f.words.is_empty());
        if facet.is_none_or(|f| *f == Facet::Value) && !is_finding {
            lane.value *= 1.0 + 0.007_123 * (k as f64 + 1.0);
        }
    }
}

/// The derivative by differences and how far it may be off; nothing near a corner, or where
/// rounding drowns the difference.
fn difference(resolved: &Resolved, inputs: &[Lane], k: usize, noise: f64) -> Option<(f64, f64)> {
    let at = |x: f64| {
        let mut moved = inputs.to_vec();
        moved[k].value = x;
        let lane = evaluate_one(&resolved.tape, &moved);
        lane.status.is_known().then_some(lane.value)
    };
    let x = inputs[k].value;
    // Far out, powers and their slopes leave the range of numbers.
    let is_far = |lane: &Lane| lane.value != 0.0 && !(1e-60..1e60).contains(&lane.value.abs());
    if x == 0.0 || inputs.iter().any(is_far) {
        return None;
    }
    let central = |h: f64| Some((at(x + h)? - at(x - h)?) / (2.0 * h));
    let h = 1e-3 * x.abs();
    let (wide, half, quarter) = (central(h)?, central(h / 2.0)?, central(h / 4.0)?);
    let coarse = (4.0 * half - wide) / 3.0;
    let fine = (4.0 * quarter - half) / 3.0;
    let forward = (at(x + h / 4.0)? - at(x)?) / (h / 4.0);
    let backward = (at(x)? - at(x - h / 4.0)?) / (h / 4.0);
    let slack = 10.0 * (fine - coarse).abs() + 40.0 * noise / h + 1e-9 * fine.abs();
    let is_corner = (forward - backward).abs() > 2e-2 * fine.abs() + 40.0 * noise / h;
    let is_useful = slack <= SMOOTH * fine.abs() || fine == 0.0 && slack < 1e-200;
    (!is_corner && is_useful).then_some((fine, slack))
}

#[test]
fn a_whole_power_of_zero_is_flat() {
    let parsed = crate::formula::notation::formula("x^0 + 2^x", 0).unwrap();
    let one = crate::formula::OperandFacts::plain(crate::quantity::Unit::ONE);
    let target = crate::formula::Target::default();
    let resolved = crate::formula::resolve(&parsed.formula, &[one], &["x"], target).unwrap();
    let found = gradient(&resolved.tape, &[Lane::measured(0.0)]);
    assert_eq!(found.result.value, 2.0);
    assert!((found.partials[0] - std::f64::consts::LN_2).abs() < 1e-15);
}
