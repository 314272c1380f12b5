use super::*;
use crate::quantity::Unit;

fn sheet() -> Sheet {
    Sheet::read("use hemodynamics").unwrap().sheet
}

fn ask(sheet: &Sheet, amount: f64, unit: &str) -> Question {
    Question {
        cell: sheet.cell("stroke_volume").unwrap(),
        threshold: 60.0,
        reading: sheet.cell("lvot_diameter").unwrap(),
        off: Off {
            amount,
            unit: Unit::parse(unit).unwrap(),
        },
    }
}

/// By hand: the volume is π/4 · D² · VTI; a shared error moves every row the same way.
#[test]
fn a_shared_error_moves_all_rows_one_way() {
    let sheet = sheet();
    let diameters: Vec<Option<f64>> = (0..600).map(|i| Some(1.6 + f64::from(i) / 600.0)).collect();
    let integrals = vec![Some(18.0); 600];
    let columns = [
        Column::of_numbers(sheet.cell("lvot_diameter").unwrap(), &diameters),
        Column::of_numbers(sheet.cell("lvot_vti").unwrap(), &integrals),
    ];
    let above = |d: f64| std::f64::consts::FRAC_PI_4 * d * d * 18.0 > 60.0;
    for (amount, unit, moved) in [
        (1.0, "mm", (|d| d + 0.1) as fn(f64) -> f64),
        (-1.0, "mm", |d| d - 0.1),
        (10.0, "%", |d| d * 1.1),
    ] {
        let found = crossings(&sheet, &columns, ask(&sheet, amount, unit)).unwrap();
        let by_hand: Vec<usize> = (0..600)
            .filter(|i| {
                let d = diameters[*i].unwrap();
                above(d) != above(moved(d))
            })
            .collect();
        assert!(!by_hand.is_empty());
        let (there, back) = (&found.upward, &found.downward);
        let (some, none) = if amount > 0.0 {
            (there, back)
        } else {
            (back, there)
        };
        assert_eq!(*some, by_hand);
        assert!(none.is_empty());
        assert_eq!((found.compared, found.not_known.len()), (600, 0));
    }
}

/// By hand: a row changes side where its error exceeds its distance to the diameter at which
/// the volume is 60 mL; the probability is that of the normal distribution.
#[test]
fn errors_of_their_own_move_rows_near_the_threshold_both_ways() {
    let sheet = sheet();
    let diameters = [Some(2.0), Some(2.06), Some(2.1), Some(2.5), None];
    let integrals = [Some(18.0); 5];
    let columns = [
        Column::of_numbers(sheet.cell("lvot_diameter").unwrap(), &diameters),
        Column::of_numbers(sheet.cell("lvot_vti").unwrap(), &integrals),
    ];
    let found = chances(&sheet, &columns, ask(&sheet, 1.0, "mm"), 100_000, 7).unwrap();
    let edge = (60.0 / (std::f64::consts::FRAC_PI_4 * 18.0)).sqrt();
    for (chance, diameter) in found.of_row.iter().zip(diameters) {
        assert_eq!(chance.is_some(), diameter.is_some());
        let (Some(chance), Some(d)) = (chance, diameter) else {
            continue;
        };
        let scaled = (d - edge).abs() / 0.1;
        let exact = 0.5 * libm::erfc(scaled / std::f64::consts::SQRT_2);
        let error = (exact * (1.0 - exact) / found.draws as f64).sqrt();
        assert!(
            (chance - exact).abs() <= 5.0 * error + 1e-9,
            "{d}: {chance} {exact}"
        );
    }
    let again = chances(&sheet, &columns, ask(&sheet, 1.0, "mm"), 100_000, 7).unwrap();
    assert_eq!(found, again);
}

#[test]
fn impossible_questions_are_refused_and_impossible_rows_listed() {
    let sheet = sheet();
    let cell = |name: &str| sheet.cell(name).unwrap();
    let (d, vti) = ([Some(2.0), Some(0.9)], [Some(18.0), Some(18.0)]);
    let columns = [
        Column::of_numbers(cell("lvot_diameter"), &d),
        Column::of_numbers(cell("lvot_vti"), &vti),
    ];
    let question = ask(&sheet, -10.0, "mm");
    let found = crossings(&sheet, &columns, question).unwrap();
    assert!(found.not_known.contains(&1));
    let off =
        |r: Result<Crossings, UncertaintyError>| matches!(r, Err(UncertaintyError::Off { .. }));
    assert!(off(crossings(&sheet, &columns, ask(&sheet, 1.0, "s"))));
    assert!(off(crossings(&sheet, &columns[1..], question)));
    let short = [
        columns[0].clone(),
        Column::of_numbers(cell("lvot_vti"), &vti[..1]),
    ];
    assert!(off(crossings(&sheet, &short, question)));
    let nowhere = Question {
        threshold: f64::NAN,
        ..question
    };
    assert!(matches!(
        crossings(&sheet, &columns, nowhere),
        Err(UncertaintyError::Number { .. })
    ));
    assert!(chances(&sheet, &columns, question, 0, 1).is_err());
}
