//! One exam: eight inputs, ten derived values. A diameter and a heart rate change in turns;
//! cardiac index and resistance are read after each.

use std::f64::consts::FRAC_PI_4;

use incremental::IncrState;
use semilunar::formula::CellId;
use semilunar::quantity::{Reading, Unit};
use semilunar::sheet::Sheet;

use crate::contest::{Case, Runner};
use crate::exam_lines::{READINGS, TEN_FORMULAS};
use crate::peers::arena::Arena;

/// The readings as bare numbers, in the order above.
const NUMBERS: [f64; 8] = [2.0, 20.0, 70.0, 170.0, 70.0, 120.0, 80.0, 5.0];

/// The formulas as a programmer writes them, units settled by hand. A millimeter of mercury is
/// 133.322 Pa (UCUM, from NIST SP 811).
mod by_hand {
    pub fn area(d: f64) -> f64 {
        super::FRAC_PI_4 * (d * d)
    }
    pub fn surface(h: f64, w: f64) -> f64 {
        0.007184 * w.powf(0.425) * h.powf(0.725)
    }
    pub fn output(sv: f64, hr: f64) -> f64 {
        sv * hr / 1000.0
    }
    pub fn mean(s: f64, d: f64) -> f64 {
        d + (s - d) / 3.0
    }
    pub fn resistance(m: f64, c: f64, co: f64) -> f64 {
        79.9932 * ((m - c) / co)
    }
    pub fn power(m: f64, co: f64) -> f64 {
        m * co * (0.133322 / 60.0)
    }
}

/// The edit number `k`.
enum Change {
    Diameter(f64),
    HeartRate(f64),
}

#[inline]
fn change(k: usize) -> Change {
    if k.is_multiple_of(2) {
        Change::Diameter(1.9 + (k % 64) as f64 * 0.003)
    } else {
        Change::HeartRate(60.0 + (k % 61) as f64)
    }
}

/// The case with ten formulas in the sheet, and the same edits of the full catalogue.
pub fn case() -> Case {
    Case {
        name: "one edit of an exam",
        runners: vec![
            sheet("sheet, ten formulas", TEN_FORMULAS, by_number),
            arena(),
            incremental(),
            sheet("sheet, whole catalogue", "use hemodynamics", by_number),
            sheet("sheet, ten, by readings", TEN_FORMULAS, by_reading),
        ],
        // The power functions differ in the last place, and so may the order of conversions.
        tolerance: 1e-12,
    }
}

/// How an edit is made.
type Way = fn(&mut Sheet, CellId, f64, Unit);

/// The number alone.
fn by_number(sheet: &mut Sheet, cell: CellId, value: f64, unit: Unit) {
    sheet.measure(cell, value, unit).unwrap();
}

/// As a reading, of which more could be said.
fn by_reading(sheet: &mut Sheet, cell: CellId, value: f64, unit: Unit) {
    sheet.set(cell, Reading::of(value, unit).unwrap()).unwrap();
}

fn sheet(name: &'static str, formulas: &str, edit: Way) -> Runner {
    let mut sheet = Sheet::read(&format!("{formulas}\n{READINGS}"))
        .unwrap()
        .sheet;
    let [diameter, rate, index, resistance] = [
        "lvot_diameter",
        "heart_rate",
        "cardiac_index",
        "systemic_vascular_resistance",
    ]
    .map(|name| sheet.cell(name).unwrap());
    let cm = Unit::parse("cm").unwrap();
    let per_minute = Unit::parse("/min").unwrap();
    let mut k = 0;
    Runner::new(name, move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            match change(k) {
                Change::Diameter(value) => edit(&mut sheet, diameter, value, cm),
                Change::HeartRate(value) => edit(&mut sheet, rate, value, per_minute),
            }
            k += 1;
            sum += sheet.value(index).unwrap() + sheet.value(resistance).unwrap();
        }
        sum
    })
}

fn arena() -> Runner {
    let mut graph = Arena::default();
    let [d, vti, hr, h, w, s, dia, cvp] = NUMBERS.map(|value| graph.input(value));
    let area = graph.cell(|a| by_hand::area(a[0]), &[d]);
    let sv = graph.cell(|a| a[0] * a[1], &[area, vti]);
    let surface = graph.cell(|a| by_hand::surface(a[0], a[1]), &[h, w]);
    graph.cell(|a| a[0] / a[1], &[sv, surface]);
    let co = graph.cell(|a| by_hand::output(a[0], a[1]), &[sv, hr]);
    let ci = graph.cell(|a| a[0] / a[1], &[co, surface]);
    let mean = graph.cell(|a| by_hand::mean(a[0], a[1]), &[s, dia]);
    let svr = graph.cell(|a| by_hand::resistance(a[0], a[1], a[2]), &[mean, cvp, co]);
    graph.cell(|a| a[0] * a[1], &[svr, surface]);
    graph.cell(|a| by_hand::power(a[0], a[1]), &[mean, co]);
    let mut k = 0;
    Runner::new("arena by hand", move |edits| {
        let mut sum = 0.0;
        for _ in 0..edits {
            match change(k) {
                Change::Diameter(value) => graph.set(d, value),
                Change::HeartRate(value) => graph.set(hr, value),
            }
            k += 1;
            graph.settle();
            sum += graph.value(ci) + graph.value(svr);
        }
        sum
    })
}

fn incremental() -> Runner {
    let state = IncrState::new();
    let inputs = NUMBERS.map(|value| state.var(value));
    let [d, vti, hr, h, w, s, dia, cvp] = inputs.each_ref().map(|input| input.watch());
    let area = d.map(|d| by_hand::area(*d));
    let sv = area.map2(&vti, |a, v| a * v);
    let surface = h.map2(&w, |h, w| by_hand::surface(*h, *w));
    let svi = sv.map2(&surface, |a, b| a / b);
    let co = sv.map2(&hr, |sv, hr| by_hand::output(*sv, *hr));
    let ci = co.map2(&surface, |a, b| a / b);
    let mean = s.map2(&dia, |s, d| by_hand::mean(*s, *d));
    let svr = mean.map3(&cvp, &co, |m, c, co| by_hand::resistance(*m, *c, *co));
    let svri = svr.map2(&surface, |a, b| a * b);
    let power = mean.map2(&co, |m, co| by_hand::power(*m, *co));
    // All are observed, since the sheet and the arena keep all up to date.
    let others = [&area, &sv, &svi, &svri, &power].map(|cell| cell.observe());
    let (ci, svr) = (ci.observe(), svr.observe());
    state.stabilise();
    let mut k = 0;
    Runner::new("incremental", move |edits| {
        let _kept = &others;
        let mut sum = 0.0;
        for _ in 0..edits {
            match change(k) {
                Change::Diameter(value) => inputs[0].set(value),
                Change::HeartRate(value) => inputs[2].set(value),
            }
            k += 1;
            state.stabilise();
            sum += ci.value() + svr.value();
        }
        sum
    })
}
