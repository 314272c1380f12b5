//! Submitting an input cell of a notebook again, where a table of twenty cells and three charts
//! lean on it: `cargo bench --bench session`. That the outputs follow is checked on the way.
//!
//! `session 200` submits 200 times.

#![allow(missing_docs, reason = "a program, not a library")]
#![allow(clippy::print_stdout, reason = "its figures are its output")]
#![allow(clippy::unwrap_used, reason = "nothing here is a user's input")]

use std::time::{Duration, Instant};

use semilunar::notebook::Session;

const READINGS: &str = "use hemodynamics
lvot_vti = beats(19.6, 20.3, 20.1) cm (u = 5 %)
heart_rate = 72 /min (u = 2 /min)
rhythm = regular
height = 172 cm (u = 1 cm)
weight = 75 kg (u = 1 kg)
systolic_pressure = 118 mm[Hg] (u = 3 mm[Hg])
diastolic_pressure = 70 mm[Hg] (u = 3 mm[Hg])
central_venous_pressure = 6 mm[Hg] assumed";

/// Cells of the catalogue that depend on the diameter.
const DEPENDENTS: [&str; 12] = [
    "lvot_area",
    "stroke_volume",
    "stroke_volume_index",
    "cardiac_output",
    "cardiac_index",
    "systemic_vascular_resistance",
    "systemic_vascular_resistance_index",
    "total_peripheral_resistance",
    "stroke_volume_per_pulse_pressure",
    "arterial_elastance",
    "cardiac_power_output",
    "cardiac_power_index",
];

/// Formulas of one's own, which bring the dependents to twenty.
const OWN: [(&str, &str); 8] = [
    ("half_flow", "cardiac_output / 2"),
    ("flow_an_hour [L/h]", "cardiac_output"),
    ("stroke_work [J]", "stroke_volume * mean_pressure"),
    ("radius", "lvot_diameter / 2"),
    ("rim", "pi * lvot_diameter"),
    ("flow_per_area", "cardiac_output / lvot_area"),
    ("volume_of_ten_beats", "10 * stroke_volume"),
    ("work_an_hour [kJ/h]", "cardiac_power_output"),
];

const CHARTS: [&str; 3] = [
    "draw stroke_volume against lvot_diameter from 1.6 cm to 2.6 cm",
    "draw cardiac_output when lvot_diameter is off by 1 mm, lvot_vti is off by 5 %",
    "show budget of cardiac_index",
];

fn session() -> Session {
    let mut session = Session::new(".");
    let own: Vec<String> = OWN.iter().map(|(n, f)| format!("{n} = {f}")).collect();
    let bare = |name: &str| name.split(' ').next().unwrap().to_owned();
    let names: Vec<String> = DEPENDENTS
        .iter()
        .map(|n| (*n).to_owned())
        .chain(OWN.iter().map(|(n, _)| bare(n)))
        .collect();
    assert_eq!(names.len(), 20);
    session.submit_all(&[
        ("readings", READINGS),
        ("own", &own.join("\n")),
        ("input", "lvot_diameter = 2.0 cm (u = 1 mm)"),
        ("table", &format!("show {}", names.join(", "))),
        ("first", CHARTS[0]),
        ("second", CHARTS[1]),
        ("third", CHARTS[2]),
        (
            "unmoved",
            "show body_surface_area, mean_pressure\nexplain mean_pressure",
        ),
    ]);
    for key in ["input", "table", "first", "second", "third", "unmoved"] {
        for output in session.outputs(key) {
            assert!(!output.is_error(), "{}", output.text);
        }
    }
    session
}

fn main() {
    // Cargo adds `--bench`.
    let count = std::env::args().find_map(|a| a.parse::<usize>().ok());
    let mut session = session();
    let mut times: Vec<Duration> = Vec::new();
    for round in 0..count.unwrap_or(200) {
        let diameter = 1.9 + 0.01 * (round % 20) as f64 + 0.005;
        let line = format!("lvot_diameter = {diameter:.3} cm (u = 1 mm)");
        let start = Instant::now();
        let update = session.submit("input", &line);
        times.push(start.elapsed());
        assert_eq!(update.changed, ["table", "first", "second", "third"]);
    }
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize];
    println!(
        "an input cell submitted again, 20 dependents and three charts: median {:.2?}, 95 % within {:.2?}, {} times",
        at(0.5),
        at(0.95),
        times.len()
    );
}
