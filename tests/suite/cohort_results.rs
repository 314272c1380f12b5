//! The bundled cohorts against SQL written from the published formulas
//! (tests/oracles/cohort_results.py, which names its sources).

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use semilunar::cohort::Cohort;
use semilunar::sheet::Sheet;

/// Two ways to write the same formula round apart by a few units in the last place; a difference
/// of two stroke volumes loses some digits more.
const TOLERANCE: f64 = 1e-12;

fn at(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

#[test]
fn every_row_agrees_with_the_published_formulas() {
    let text = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\n\
        compare before, after";
    let sheet = Sheet::read(text).unwrap().sheet;
    let mut judge = csv::Reader::from_path(at("tests/oracles/cohort_results.csv")).unwrap();
    let headings = judge.headers().unwrap().clone();
    let mut by_file: BTreeMap<String, Vec<csv::StringRecord>> = BTreeMap::new();
    for record in judge.records() {
        let record = record.unwrap();
        by_file
            .entry(record[0].to_owned())
            .or_default()
            .push(record);
    }
    let mut compared = 0;
    for (file, judged) in by_file {
        let cohort = Cohort::read(&sheet, &at("data").join(&file).with_extension("csv")).unwrap();
        let rows: Vec<usize> = judged.iter().map(|r| r[1].parse().unwrap()).collect();
        assert_eq!(cohort.rows(), rows, "the rows of {file} that are used");
        for (column, name) in headings.iter().enumerate().skip(2) {
            let values = cohort.column(name).unwrap();
            for (value, judged) in values.iter().zip(&judged) {
                let expected: Option<f64> = judged[column].parse().ok();
                let place = format!("{file}, row {}, {name}", &judged[1]);
                assert_eq!(value.is_some(), expected.is_some(), "{place}");
                if let (Some(value), Some(expected)) = (value, expected) {
                    let error = (value.value - expected).abs();
                    let size = if name.starts_with("change.") {
                        100.0
                    } else {
                        expected.abs()
                    };
                    assert!(
                        error <= TOLERANCE * size,
                        "{place}: {} and {expected}",
                        value.value
                    );
                    compared += 1;
                }
            }
        }
    }
    // Most of the 12 values of most of the 1135 rows are known.
    assert!(compared > 8000, "{compared}");
}
