use super::*;
use crate::quantity::{Content, Reading};
use crate::sheet::Sheet;
use crate::uncertainty::{Exam, propagate};

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

/// All cells of a sheet that can have an uncertainty.
fn numbers(sheet: &Sheet) -> Vec<CellId> {
    let is_number = |cell: &CellId| sheet.words(*cell).is_empty();
    sheet.cells().filter(is_number).collect()
}

/// What one sheet says of a cell, as a row of columns would: bits of the uncertainty, or why none.
fn by_sheet(sheet: &Sheet, cell: CellId) -> (Option<u64>, Vec<CellId>) {
    match propagate(sheet, cell, &Settings::of(sheet)) {
        Ok(found) => (
            found.says_something().then_some(found.standard.to_bits()),
            found.unstated,
        ),
        Err(_) => (None, Vec::new()),
    }
}

fn agree(sheet: &Sheet) {
    let wanted = numbers(sheet);
    let mut exam = Exam::new(sheet, &wanted, Settings::of(sheet)).unwrap();
    agree_with(sheet, &wanted, &mut exam);
}

fn agree_with(sheet: &Sheet, wanted: &[CellId], exam: &mut Exam) {
    for (at, cell) in wanted.iter().enumerate() {
        let (standard, unstated) = by_sheet(sheet, *cell);
        let name = sheet.name(*cell);
        assert_eq!(exam.standard(at).map(f64::to_bits), standard, "{name}");
        if standard.is_some() {
            assert_eq!(exam.unstated(at), unstated, "{name}");
        }
    }
}

const PAIR: &str = "
use hemodynamics
use hemodynamics as before
use hemodynamics as after
compare before, after
height = 178 cm (within 2 cm)
weight = 81 kg (u = 2 %)
lvot_diameter = 2.0 cm (u = 1 mm)
before.lvot_vti = beats(17.8, 18.4, 18.1) cm
before.heart_rate = 96 /min
after.lvot_vti = 21 cm (u = 0.5 cm)
after.heart_rate = 90 /min (u = 2 /min)
mean_pressure = 68 mm[Hg] (within 3 mm[Hg])
central_venous_pressure = 8 mm[Hg] (u = 2 mm[Hg])
correlate mean_pressure, central_venous_pressure by 0.4
correlate lvot_diameter, after.lvot_vti by -0.3
";

#[test]
fn every_cell_of_two_exams_gets_the_bits_of_one_sheet() {
    agree(&read(PAIR));
    agree(&read(&format!("{PAIR}repeatability robson_1988")));
}

#[test]
fn branches_bounds_powers_and_what_stands_in_get_the_bits_of_one_sheet() {
    agree(&read(
        "use hemodynamics\nlvot_diameter = unobtainable\nlvot_vti = 20 cm (u = 1 cm)\n\
         height = 160 cm (u = 1 cm)\nweight = 60 kg (u = 2 kg)\nheart_rate = 70 /min (u = 2 /min)\n\
         stroke_volume = 61 mL (u = 5 mL)",
    ));
    agree(&read(
        "a = 2 (u = 0.1)\nb = 3 (u = 0.2)\nc = -1 (u = 0.3)\ne = 2\n\
         f1 = min(a, b) * max(b, c) + abs(c)\nf2 = clamp(a, c, b) ^ b\nf3 = clamp(b, c, a) + exp(c)\n\
         f4 = if a < b then ln(a) else sqrt(c)\nf5 = cos(a * 1 rad) / (a - b) + (a - b) * (a + b) / e\n\
         f6 = mean(a, b, c) - a\nf7 = (a - a) * e\nf8 = sqrt(a - 2)\nf9 = f8 * f1\n\
         g1 = a * b / (b * a)\ng2 = c ^ 3 / a ^ 2\ng3 = f4 else f8\ng4 = f1 - f2\ng5 = 7",
    ));
}

#[test]
fn an_exam_follows_its_sheet() {
    let mut sheet = read(PAIR);
    let wanted = numbers(&sheet);
    let mut exam = Exam::new(&sheet, &wanted, Settings::of(&sheet)).unwrap();
    for (name, reading) in [
        ("lvot_diameter", "2.2 cm (u = 2 mm)"),
        ("after.heart_rate", "88 /min"),
        ("before.heart_rate", "88 /min (u = 3 %)"),
        ("after.stroke_volume", "60 mL (u = 4 mL)"),
        ("after.lvot_vti", "20 cm (u = 1 cm)"),
        ("after.stroke_volume", "?"),
        ("weight", "?"),
    ] {
        sheet.set_text(name, reading).unwrap();
        exam.update(&sheet).unwrap();
        agree_with(&sheet, &wanted, &mut exam);
    }
}

/// The sheet of one row: the same readings, each with what the row states.
fn sheet_of_row(text: &str, row: &[(&str, f64, Option<f64>)]) -> Sheet {
    let mut sheet = read(text);
    for (name, value, u) in row {
        let cell = sheet.cell(name).unwrap();
        let unit = sheet.unit(cell).unwrap();
        let spread = u.and_then(|u| {
            crate::quantity::Spread::new(crate::quantity::SpreadForm::Standard, u, unit)
        });
        let reading = Reading::of(*value, unit).unwrap();
        let reading = match spread {
            Some(spread) => reading.with_spread(spread).unwrap(),
            None => reading,
        };
        assert!(matches!(reading.content(), Content::Magnitude { .. }));
        sheet.set(cell, reading).unwrap();
    }
    sheet
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(40))]

    /// Rows of a block against one sheet a row.
    #[test]
    fn a_row_gets_the_bits_of_one_sheet(
        rows in proptest::collection::vec(
            (1.6f64..2.6, 10.0f64..30.0, 45.0f64..140.0, 55.0f64..110.0,
             proptest::option::of(0.0f64..0.2), proptest::option::of(0.1f64..2.0)),
            4,
        ),
    ) {
        let text = "use hemodynamics\ncentral_venous_pressure = 8 mm[Hg] (u = 2 mm[Hg])\n\
                    mean_pressure = 70 mm[Hg] (u = 1 mm[Hg])\n\
                    correlate mean_pressure, heart_rate by 0.5\ncorrelate lvot_diameter, lvot_vti by 0.25";
        let sheet = read(text);
        let names = ["lvot_diameter", "lvot_vti", "heart_rate", "mean_pressure"];
        let cells = names.map(|name| sheet.cell(name).unwrap());
        let stated = [Stated::Column, Stated::Column, Stated::Constant(2.0), Stated::Unstated];
        let bound: Vec<(CellId, Stated)> = cells.into_iter().zip(stated).collect();
        let outputs = ["stroke_volume", "cardiac_output", "systemic_vascular_resistance"];
        let wanted = outputs.map(|name| sheet.cell(name).unwrap());
        let columns = Columns::new(&sheet, &wanted, &bound, &Settings::of(&sheet)).unwrap();
        let lanes = |pick: &dyn Fn(usize) -> Option<f64>| {
            let mut lanes = Lanes::<4>::MISSING;
            (0..4).for_each(|i| lanes.set(i, pick(i).map_or(Lane::MISSING, Lane::measured)));
            lanes
        };
        let value = |i: usize, name: &str| {
            let row = rows[i];
            match name {
                "lvot_diameter" => Some(row.0),
                "lvot_vti" => Some(row.1),
                "heart_rate" => Some(row.2),
                _ => Some(row.3),
            }
        };
        let mut room = columns.room::<4>();
        for (at, input) in columns.inputs().iter().enumerate() {
            *columns.row(&mut room, at) = match input.facet {
                crate::formula::Facet::Value => lanes(&|i| value(i, &sheet.name(input.cell))),
                crate::formula::Facet::Given => lanes(&|_| Some(1.0)),
                _ => lanes(&|_| Some(0.0)),
            };
        }
        for (at, cell) in columns.uncertainty_inputs().iter().enumerate() {
            let given = lanes(&|i| if *cell == cells[0] { rows[i].4 } else { rows[i].5 });
            *columns.uncertainty(&mut room, at) = given;
        }
        columns.run(&mut room);
        for (i, row) in rows.iter().enumerate() {
            let one = sheet_of_row(text, &[
                ("lvot_diameter", row.0, row.4),
                ("lvot_vti", row.1, row.5),
                ("heart_rate", row.2, Some(2.0)),
                ("mean_pressure", row.3, None),
            ]);
            for (at, name) in outputs.iter().enumerate() {
                let found = propagate(&one, one.cell(name).unwrap(), &Settings::of(&one)).unwrap();
                let lane = columns.standard(&room, at).lane(i);
                proptest::prop_assert_eq!(columns.value_of(&room, at).values[i].to_bits(), found.value.to_bits());
                proptest::prop_assert_eq!(lane.status.is_known(), found.says_something());
                if found.says_something() {
                    proptest::prop_assert_eq!(lane.value.to_bits(), found.standard.to_bits());
                }
                let names = |sheet: &Sheet, cells: &[CellId]| -> Vec<String> {
                    cells.iter().map(|c| sheet.name(*c)).collect()
                };
                let lacking = columns.unstated(&mut room, at, i);
                proptest::prop_assert_eq!(names(&sheet, &lacking), names(&one, &found.unstated));
            }
        }
    }
}

#[test]
fn a_negative_uncertainty_is_refused_or_makes_the_row_faulty() {
    let sheet = read("d = 2 cm\na [cm2] = d * d");
    let cells = ["d", "a"].map(|name| sheet.cell(name).unwrap());
    let make = |stated| {
        Columns::new(
            &sheet,
            &cells[1..],
            &[(cells[0], stated)],
            &Settings::default(),
        )
    };
    assert!(matches!(
        make(Stated::Constant(-1.0)),
        Err(UncertaintyError::Number { .. })
    ));
    assert!(make(Stated::Share(f64::NAN)).is_err());
    let columns = make(Stated::Column).unwrap();
    let mut room = columns.room::<1>();
    *columns.row(&mut room, 0) = Lanes::all(Lane::measured(2.0));
    let mut with = |u: Lane| {
        *columns.uncertainty(&mut room, 0) = Lanes::all(u);
        columns.run(&mut room);
        let lacking = columns.unstated(&mut room, 0, 0);
        (columns.standard(&room, 0).lane(0), lacking)
    };
    assert!(with(Lane::measured(-0.1)).0.status.is_faulty());
    // A stated zero is zero; nothing stated is not.
    assert_eq!(with(Lane::measured(0.0)), (Lane::measured(0.0), Vec::new()));
    let (silent, lacking) = with(Lane::MISSING);
    assert!(silent.status.is_missing());
    assert_eq!(lacking, [cells[0]]);
}

#[test]
fn a_word_has_no_uncertainty() {
    let sheet = read("use hemodynamics");
    let rhythm = sheet.cell("rhythm").unwrap();
    assert!(Columns::new(&sheet, &[rhythm], &[], &Settings::default()).is_err());
}
