use proptest::prelude::*;

use super::*;
use crate::quantity::{Reading, Spread, SpreadForm};
use crate::uncertainty::propagate;

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

/// A column with what its rows hold.
struct Held {
    numbers: Vec<f64>,
    known: Vec<u8>,
}

impl Held {
    fn of(rows: &[Option<f64>]) -> Held {
        let mut known = vec![0; rows.len().div_ceil(8)];
        for (row, number) in rows.iter().enumerate() {
            known[row / 8] |= u8::from(number.is_some()) << (row % 8);
        }
        Held {
            numbers: rows.iter().map(|number| number.unwrap_or(7.5)).collect(),
            known,
        }
    }

    fn column(&self) -> Column<'_> {
        Column {
            numbers: &self.numbers,
            known: Some(&self.known),
        }
    }
}

/// A sheet with the columns of some of its readings.
struct Table<'t> {
    text: &'t str,
    wanted: &'t [&'t str],
    names: &'t [&'t str],
    readings: Vec<Vec<Option<f64>>>,
    standards: Vec<Vec<Option<f64>>>,
}

impl Table<'_> {
    fn propagation(&self, sheet: &Sheet) -> Propagation {
        let cell = |name: &&str| sheet.cell(name).unwrap();
        let bound: Vec<(CellId, Stated)> = self
            .names
            .iter()
            .map(|name| (cell(name), Stated::Column))
            .collect();
        let wanted: Vec<CellId> = self.wanted.iter().map(cell).collect();
        Propagation::new(sheet, &wanted, &bound, &Settings::of(sheet)).unwrap()
    }

    fn run(&self, propagation: &Propagation, threads: usize) -> Vec<Computed> {
        let held = |columns: &[Vec<Option<f64>>]| -> Vec<Held> {
            columns.iter().map(|rows| Held::of(rows)).collect()
        };
        let (readings, standards) = (held(&self.readings), held(&self.standards));
        let readings: Vec<Column<'_>> = readings.iter().map(Held::column).collect();
        let standards: Vec<Column<'_>> = standards.iter().map(Held::column).collect();
        let mut results = vec![Computed::default(); self.wanted.len()];
        let threads = NonZeroUsize::new(threads).unwrap();
        propagation.run(&readings, &standards, &mut results, threads);
        results
    }

    /// One sheet with the readings of a row; `None` where one is refused.
    fn sheet_of(&self, row: usize) -> Option<Sheet> {
        let mut sheet = read(self.text);
        let columns = self.readings.iter().zip(&self.standards);
        for (name, (values, standards)) in self.names.iter().zip(columns) {
            let cell = sheet.cell(name).unwrap();
            let unit = sheet.unit(cell).unwrap();
            let reading = match values[row] {
                Some(value) => Reading::of(value, unit).ok()?,
                None => Reading::unknown(),
            };
            let reading = match standards[row].filter(|_| values[row].is_some()) {
                Some(u) => {
                    let spread = Spread::new(SpreadForm::Standard, u, unit)?;
                    reading.with_spread(spread).unwrap()
                }
                None => reading,
            };
            sheet.set(cell, reading).ok()?;
        }
        Some(sheet)
    }

    /// Compares rows with what one sheet says of each.
    fn agrees(&self, rows: impl Iterator<Item = usize>) {
        let sheet = read(self.text);
        let propagation = self.propagation(&sheet);
        let results = self.run(&propagation, 1);
        for threads in [2, 3] {
            let others = self.run(&propagation, threads);
            for (other, result) in others.iter().zip(&results) {
                assert_eq!(other.states, result.states);
                for row in 0..result.states.len() {
                    let bits = |c: &Computed| c.value(row).map(f64::to_bits);
                    assert_eq!(bits(other), bits(result), "{threads} threads, row {row}");
                }
            }
        }
        for row in rows {
            let Some(one) = self.sheet_of(row) else {
                continue;
            };
            for (name, result) in self.wanted.iter().zip(&results) {
                let cell = one.cell(name).unwrap();
                let found = propagate(&one, cell, &Settings::of(&one)).ok();
                let found = found.filter(|found| found.says_something());
                assert_eq!(
                    result.value(row).map(f64::to_bits),
                    found.as_ref().map(|found| found.standard.to_bits()),
                    "{name} in row {row} of\n{}",
                    self.text
                );
                if found.is_some() {
                    let origin = one.origin(cell);
                    assert_eq!(
                        Some(result.state(row).origin()),
                        origin,
                        "{name} in row {row}"
                    );
                }
            }
        }
    }
}

/// Numbers in a range, none like its neighbors.
fn numbers(rows: usize, low: f64, high: f64, seed: f64) -> Vec<Option<f64>> {
    let share = |row: usize| ((row as f64 + seed) * 0.618_033_988_749_894_9 * (1.0 + seed)).fract();
    (0..rows)
        .map(|row| Some(low + (high - low) * share(row)))
        .collect()
}

/// Rows of a whole block, of one with flaws, and of a part of one.
const ROWS: usize = 2 * WIDTH + 100;

const OWN: &str = "
lvot_area [cm2] = pi/4 * lvot_diameter^2
stroke_volume [mL] = lvot_area * lvot_vti
cardiac_output [L/min] = stroke_volume * heart_rate
systemic_vascular_resistance [dyn.s/cm5] = (mean_pressure - central_venous_pressure) / cardiac_output
mean_pressure [mm[Hg]] = diastolic_pressure + (systolic_pressure - diastolic_pressure) / 3
pulse_per_area [mm[Hg]/cm2] = (systolic_pressure - diastolic_pressure) / lvot_area
lvot_diameter = 2 cm
lvot_vti = 20 cm
heart_rate = 70 /min
systolic_pressure = 120 mm[Hg]
diastolic_pressure = 80 mm[Hg]
central_venous_pressure = 5 mm[Hg] (u = 2 mm[Hg]) assumed
";

const NAMES: [&str; 5] = [
    "lvot_diameter",
    "lvot_vti",
    "heart_rate",
    "systolic_pressure",
    "diastolic_pressure",
];

const WANTED: [&str; 4] = [
    "stroke_volume",
    "cardiac_output",
    "systemic_vascular_resistance",
    "mean_pressure",
];

/// Exams, of which those of the second block and after have gaps and impossible numbers.
fn exams(text: &str) -> Table<'_> {
    let ranges = [
        (1.6, 2.6),
        (10.0, 30.0),
        (45.0, 140.0),
        (90.0, 150.0),
        (50.0, 89.0),
    ];
    let columns = |share: f64| -> Vec<Vec<Option<f64>>> {
        let ranges = ranges.iter().enumerate();
        let column = |(at, (low, high)): (usize, &(f64, f64))| {
            numbers(ROWS, low * share, high * share, at as f64 + share)
        };
        ranges.map(column).collect()
    };
    let (mut readings, mut standards) = (columns(1.0), columns(0.05));
    for row in (WIDTH + 3..ROWS).step_by(11) {
        readings[row % 5][row] = None;
        standards[(row / 2) % 5][row] = None;
    }
    for row in (WIDTH + 5..ROWS).step_by(17) {
        readings[row % 5][row] = Some([-1.0, 0.0, f64::INFINITY][row % 3]);
        standards[row % 3][row] = Some(0.0);
    }
    Table {
        text,
        wanted: &WANTED,
        names: &NAMES,
        readings,
        standards,
    }
}

#[test]
fn rows_get_the_bits_of_one_sheet() {
    let sheet = read(OWN);
    assert!(exams(OWN).propagation(&sheet).plain.is_some());
    exams(OWN).agrees((0..ROWS).step_by(3));
}

#[test]
fn a_block_without_flaws_takes_the_short_way_and_no_other() {
    let table = exams(OWN);
    let propagation = table.propagation(&read(OWN));
    let held = |columns: &[Vec<Option<f64>>]| -> Vec<Held> {
        columns.iter().map(|rows| Held::of(rows)).collect()
    };
    let (readings, standards) = (held(&table.readings), held(&table.standards));
    let readings: Vec<Column<'_>> = readings.iter().map(Held::column).collect();
    let standards: Vec<Column<'_>> = standards.iter().map(Held::column).collect();
    let given = Given {
        readings: &readings,
        standards: &standards,
    };
    let plain = propagation.plain.as_ref().unwrap();
    let mut work = Work {
        room: propagation.columns.room(),
        plain: Some(plain.fused.room()),
        supplied: Vec::new(),
    };
    let mut numbers = [[0.0; WIDTH]; WANTED.len()];
    let mut states = [[0; WIDTH]; WANTED.len()];
    let results = numbers.iter_mut().zip(&mut states);
    let mut blocks: Vec<ViewMut<'_, WIDTH>> = results
        .map(|(numbers, states)| ViewMut {
            values: numbers,
            states,
        })
        .collect();
    assert!(propagation.plain_block(given, &(0..WIDTH), &mut work, &mut blocks));
    assert!(!propagation.plain_block(given, &(WIDTH..2 * WIDTH), &mut work, &mut blocks));
}

#[test]
fn both_ways_give_the_same_bits() {
    let table = exams(OWN);
    let propagation = table.propagation(&read(OWN));
    let held = |columns: &[Vec<Option<f64>>]| -> Vec<Held> {
        columns.iter().map(|rows| Held::of(rows)).collect()
    };
    let (readings, standards) = (held(&table.readings), held(&table.standards));
    let readings: Vec<Column<'_>> = readings.iter().map(Held::column).collect();
    let standards: Vec<Column<'_>> = standards.iter().map(Held::column).collect();
    let given = Given {
        readings: &readings,
        standards: &standards,
    };
    let mut room = propagation.columns.room();
    propagation.any_block(given, 0..WIDTH, &mut room);
    let results = table.run(&propagation, 1);
    for (at, result) in results.iter().enumerate() {
        let standard = propagation.columns.standard(&room, at);
        assert_eq!(result.states[..WIDTH], standard.states[..]);
        for row in 0..WIDTH {
            let other = standard.values[row].to_bits();
            assert_eq!(
                result.numbers[row].to_bits(),
                other,
                "result {at}, row {row}"
            );
        }
    }
}

#[test]
fn rows_of_the_catalogue_get_the_bits_of_one_sheet() {
    let text = "use hemodynamics\ncentral_venous_pressure = 8 mm[Hg] (u = 2 mm[Hg])";
    exams(text).agrees((0..ROWS).step_by(7));
}

#[test]
fn correlated_readings_get_the_bits_of_one_sheet() {
    let text = format!(
        "{OWN}correlate systolic_pressure, diastolic_pressure by 0.6\n\
         correlate lvot_diameter, lvot_vti by -0.2"
    );
    let sheet = read(&text);
    assert!(exams(&text).propagation(&sheet).plain.is_some());
    exams(&text).agrees((0..ROWS).step_by(3));
}

#[test]
fn shared_causes_that_cancel_leave_nothing() {
    let table = Table {
        text: "a = 1\nb = 1\nratio = a * b / (b * a)\nzero = (a + b) - (b + a)",
        wanted: &["ratio", "zero"],
        names: &["a", "b"],
        readings: vec![numbers(WIDTH, 1.0, 2.0, 1.0), numbers(WIDTH, 1.0, 2.0, 2.0)],
        standards: vec![numbers(WIDTH, 0.1, 0.2, 3.0), numbers(WIDTH, 0.1, 0.2, 4.0)],
    };
    table.agrees(0..WIDTH);
}

#[test]
fn results_of_one_cause_among_those_of_several_get_the_bits_of_one_sheet() {
    let text = "a = 1 (u = 0.1)\nb = 1 (u = 0.1)\nc = 1 (u = 0.1)\nd = 1\n\
                one = sqrt(a) / 7\nthree = a * b / c + sqrt(d)\ntwo = b ^ 3 - c / b\nlast = 2 / (a + d)\n\
                correlate a, b by 0.4";
    let table = Table {
        text,
        wanted: &["one", "three", "two", "last"],
        names: &["a", "b", "c", "d"],
        readings: (0..4)
            .map(|at| numbers(WIDTH, 1.0, 2.0, f64::from(at)))
            .collect(),
        standards: (0..4)
            .map(|at| numbers(WIDTH, 0.1, 0.2, 4.0 + f64::from(at)))
            .collect(),
    };
    assert!(table.propagation(&read(text)).plain.is_some());
    table.agrees(0..WIDTH);
}

#[test]
fn what_is_too_large_to_hold_is_a_fault_even_where_a_quotient_hides_it() {
    let text = "a = 1\nb = 1\nc = 1\nproduct = a * b\nshare = c / product\nscaled = share * 3\n\
                whole = product + c\nrest = 1e300 * a / (b * b * c)";
    let large = |share: f64| (0..WIDTH).map(move |row| Some(share.powi(row as i32 % 40)));
    let table = Table {
        text,
        wanted: &["product", "share", "scaled", "whole", "rest"],
        names: &["a", "b", "c"],
        readings: vec![
            large(1e8).collect(),
            numbers(WIDTH, 1.0, 1e30, 2.0),
            numbers(WIDTH, 1.0, 2.0, 3.0),
        ],
        standards: vec![numbers(WIDTH, 0.1, 0.2, 4.0); 3],
    };
    let results = table.run(&table.propagation(&read(text)), 1);
    assert!(results[1].state(0).is_known() && results[1].state(39).is_faulty());
    table.agrees(0..WIDTH);
    // Blocks of rows alike, of which only the last numbers are too large.
    for wanted in [&["product"], &["share"], &["scaled"], &["whole"], &["rest"]] {
        for row in 0..40 {
            let mut readings = table.readings.clone();
            readings[0] = vec![table.readings[0][row]; WIDTH];
            let (names, standards) = (table.names, table.standards.clone());
            let one = Table {
                text,
                wanted,
                names,
                readings,
                standards,
            };
            one.agrees((0..WIDTH).step_by(64));
        }
    }
}

#[test]
fn a_root_at_zero_has_no_slope_though_what_is_under_it_never_moves() {
    let table = Table {
        text: "a = 1\nb = 1\nroot = b - sqrt((1.9 - 1.9) * a)\nunder = 0 * a\napart = b - sqrt(under)",
        wanted: &["root", "apart"],
        names: &["a", "b"],
        readings: vec![numbers(WIDTH, 0.0, 2.0, 1.0), numbers(WIDTH, 1.0, 2.0, 2.0)],
        standards: vec![numbers(WIDTH, 0.1, 0.2, 3.0), numbers(WIDTH, 0.1, 0.2, 4.0)],
    };
    table.agrees((0..WIDTH).step_by(5));
}

#[test]
fn a_negative_uncertainty_makes_its_row_faulty_and_no_other() {
    let mut table = exams(OWN);
    table.standards[0][9] = Some(-0.1);
    let results = table.run(&table.propagation(&read(OWN)), 1);
    for result in &results[..3] {
        assert!(result.state(9).is_faulty());
        assert!(result.state(8).is_known() && result.state(10).is_known());
    }
    assert!(results[3].state(9).is_known());
}

#[test]
fn words_are_no_columns_of_numbers() {
    let sheet = read("use hemodynamics");
    let cell = |name: &str| sheet.cell(name).unwrap();
    let bound = [(cell("rhythm"), Stated::Unstated)];
    let wanted = [cell("stroke_volume")];
    assert!(Propagation::new(&sheet, &wanted, &bound, &Settings::default()).is_err());
}

/// Formulas over three readings.
fn formula() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        Just("a".to_owned()),
        Just("b".to_owned()),
        Just("c".to_owned()),
        (1..30u32).prop_map(|tenths| format!("{}.{}", tenths / 10, tenths % 10)),
    ];
    leaf.prop_recursive(4, 24, 2, |inner| {
        let two = (inner.clone(), "[-+*/]", inner.clone());
        prop_oneof![
            4 => two.prop_map(|(x, sign, y)| format!("({x} {sign} {y})")),
            1 => (inner.clone(), 2..5i32).prop_map(|(x, n)| format!("({x})^{n}")),
            1 => inner.clone().prop_map(|x| format!("sqrt({x})")),
            1 => inner.prop_map(|x| format!("(-{x})")),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Any formulas, one leaning on the other, with gaps in the second block.
    #[test]
    fn formulas_get_the_bits_of_one_sheet(
        f in formula(),
        g in formula(),
        low in -2.0f64..2.0,
        correlation in prop_oneof![Just(0.0), -0.9f64..0.9],
    ) {
        let text = format!(
            "a = 1 (u = 0.1)\nb = 1 (u = 0.1)\nc = 1\nf = {f} + a\ng = f * b - {g}\n\
             correlate a, b by {correlation}"
        );
        let rows = WIDTH + 60;
        let mut table = Table {
            text: &text,
            wanted: &["f", "g"],
            names: &["a", "b", "c"],
            readings: (0..3).map(|at| numbers(rows, low, low + 3.0, f64::from(at))).collect(),
            standards: (0..3).map(|at| numbers(rows, 0.01, 0.3, 5.0 + f64::from(at))).collect(),
        };
        for row in (WIDTH + 1..rows).step_by(5) {
            table.readings[2][row] = None;
            table.standards[2][row + 1] = None;
        }
        table.agrees((0..rows).step_by(13).chain(WIDTH..rows));
    }
}
