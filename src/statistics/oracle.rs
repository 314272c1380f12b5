//! Reads the committed values of the outside judges, for the tests of this module.
//!
//! `tests/oracles/statistics_judges.py` and `statistics_judges.R` write the files; each value's call stands in the test above it.

use serde_json::Value;

fn file(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// The entry at a dotted path, from the Python file or, failing that, the R file.
pub(super) fn value(path: &str) -> Value {
    let files = [
        include_str!("../../tests/oracles/statistics.json"),
        include_str!("../../tests/oracles/statistics_r.json"),
    ];
    files
        .iter()
        .find_map(|text| {
            let root = file(text);
            path.split('.')
                .try_fold(root, |node, key| node.get(key).cloned())
        })
        .unwrap_or_else(|| panic!("no committed value at {path}"))
}

/// One number.
pub(super) fn number(path: &str) -> f64 {
    value(path).as_f64().unwrap()
}

/// A list of numbers.
pub(super) fn numbers(path: &str) -> Vec<f64> {
    value(path)
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_f64().unwrap())
        .collect()
}

/// A list of yes and no.
pub(super) fn flags(path: &str) -> Vec<bool> {
    value(path)
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_bool().unwrap())
        .collect()
}

/// A list of whole numbers.
pub(super) fn counts(path: &str) -> Vec<u64> {
    value(path)
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v.as_u64().unwrap())
        .collect()
}

/// Asserts that two numbers agree to `tolerance`, relative above 1 and absolute below.
#[track_caller]
pub(super) fn close(found: f64, expected: f64, tolerance: f64) {
    let allowed = tolerance * expected.abs().max(1.0);
    assert!(
        (found - expected).abs() <= allowed,
        "found {found}, expected {expected}, tolerance {tolerance}"
    );
}

/// [`close`] along two lists of one length.
#[track_caller]
pub(super) fn all_close(found: &[f64], expected: &[f64], tolerance: f64) {
    assert_eq!(found.len(), expected.len());
    for (f, e) in found.iter().zip(expected) {
        close(*f, *e, tolerance);
    }
}
