//! What is printed reads back as the same formula or reading.

use proptest::prelude::*;

use super::sample::{Choices, Sample, choices};
use crate::formula::notation::{self, write_formula, write_reading};
use crate::quantity::{Beats, Between, Origin, Reading, Spread, SpreadForm, Unit};

proptest! {
    #[test]
    fn formulas_read_back(shape in choices()) {
        let sample = Sample::draw(&mut Choices::new(shape));
        let names = sample.names();
        let printed = write_formula(&sample.parsed.formula, &names);
        let again = notation::formula(&printed, 0)
            .map_err(|e| TestCaseError::fail(format!("{printed}: {e:?}")))?;
        prop_assert_eq!(&again.formula, &sample.parsed.formula, "{} as {}", sample.text, printed);
        prop_assert_eq!(&again.names, &sample.parsed.names);
        prop_assert_eq!(write_formula(&again.formula, &names), printed);
    }

    #[test]
    fn readings_read_back(reading in readings()) {
        let printed = write_reading(&reading);
        let again = notation::reading(&printed, 0)
            .map_err(|e| TestCaseError::fail(format!("{printed}: {e:?}")))?;
        prop_assert_eq!(&again, &reading, "{}", printed);
        prop_assert_eq!(write_reading(&again), printed);
    }
}

fn finite() -> impl Strategy<Value = f64> {
    prop_oneof![
        prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO,
        -1e4..1e4,
    ]
}

fn unit() -> impl Strategy<Value = Unit> {
    let codes = [
        "1",
        "%",
        "cm",
        "mm",
        "mL",
        "mL/m2",
        "/min",
        "1/min/m2",
        "L/min/m2",
        "mm[Hg]",
        "cm[H2O]",
        "dyn.s/cm5",
        "dyn.s.m2/cm5",
        "[wood'U]",
        "mm[Hg].min/L",
        "deg",
        "kg/m2",
        "cm-1",
        "s-2",
        "[in_i]",
        "[lb_av]",
        "um",
        "kPa",
        "m/s",
        "/s",
        "'",
        "{beats}/min",
    ];
    prop::sample::select(codes.to_vec()).prop_map(|code| Unit::parse(code).unwrap())
}

fn spread(unit: Unit) -> impl Strategy<Value = Spread> {
    let form = prop_oneof![
        Just(SpreadForm::Standard),
        Just(SpreadForm::Within),
        Just(SpreadForm::Triangular),
        (0.1..4.0).prop_map(|factor| SpreadForm::Expanded { factor }),
    ];
    let percent = Unit::parse("%").unwrap();
    let freedom = prop::option::of(1u32..500);
    (
        form,
        finite(),
        prop::sample::select(vec![unit, percent]),
        freedom,
    )
        .prop_map(|(form, amount, unit, freedom)| {
            let spread = Spread::new(form, amount.abs(), unit).unwrap();
            freedom.map_or(spread, |n| spread.with_freedom(n).unwrap())
        })
}

fn readings() -> impl Strategy<Value = Reading> {
    let origin = prop::sample::select(vec![Origin::Measured, Origin::Estimated, Origin::Assumed]);
    let numbers = prop::collection::vec(-1e4..1e4, 1..5);
    let base = (unit(), finite(), numbers, 0u32..5, origin).prop_map(
        |(unit, value, values, which, origin)| {
            let reading = match which {
                // One beat alone is written with its number, which says the same.
                0 if values.len() > 1 => Reading::of_beats(Beats::Mean(values), unit),
                1 => Reading::of_beats(Beats::Largest(values), unit),
                2 => Reading::of(value, unit).and_then(|r| r.with_beat_count(5)),
                3 => Ok(Reading::word("regular")),
                _ => Reading::of(value, unit),
            };
            reading.unwrap().with_origin(origin)
        },
    );
    let with_spread = base.prop_flat_map(|reading| {
        let unit = reading.unit();
        let spreads = prop::option::of(spread(unit.unwrap_or(Unit::ONE)));
        (Just(reading), spreads).prop_map(move |(reading, spread)| match (spread, unit) {
            // A share of zero is none.
            (Some(spread), Some(_)) => reading.clone().with_spread(spread).unwrap_or(reading),
            _ => reading,
        })
    });
    let between = (0.0..9.0, prop::option::of(1u32..500));
    let with_between = (with_spread, prop::option::of(between)).prop_map(|(reading, between)| {
        let percent = Unit::parse("%").unwrap();
        let joined = between.and_then(|(amount, freedom)| {
            let between = Between::new(amount, percent, freedom).unwrap();
            // Not every reading has a scatter that it could join.
            reading.clone().with_between(between).ok()
        });
        joined.unwrap_or(reading)
    });
    prop_oneof![
        12 => with_between,
        1 => Just(Reading::unknown()),
        1 => Just(Reading::unobtainable()),
    ]
}
