//! Rows spoiled on purpose, so that a reader of tables has something to set aside.

use super::draws::{Draws, Topic};
use super::plan::{Plan, PlanError};
use super::row::{Fault, Planted, Row, SharedDiameter};
use super::words::Purpose;

/// A way to spoil a row: the cell, or nothing when the row has no reading there.
type Spoil = fn(&Row) -> Option<Planted>;

const TEXTS: [Spoil; 4] = [decimal_comma, about, see_note, two_volumes];
const IMPOSSIBLE: [Spoil; 4] = [
    vti_without_point,
    rate_times_ten,
    negative_vti,
    weight_times_ten,
];
const MILLIMETERS: [Spoil; 1] = [diameter_in_millimeters];

/// Spoils as many rows as the plan asks for; the kinds of each fault take turns.
pub(super) fn plant(rows: &mut [Row], plan: &Plan) -> Result<(), PlanError> {
    let mut draws = Draws::new(plan.seed, Topic::Faults, 0);
    let faults = plan.faults;
    plant_one_fault(
        rows,
        &mut draws,
        "text in a number's column",
        faults.text_in_number,
        &TEXTS,
    )?;
    plant_one_fault(
        rows,
        &mut draws,
        "an impossible value",
        faults.impossible_value,
        &IMPOSSIBLE,
    )?;
    plant_one_fault(
        rows,
        &mut draws,
        "a diameter in millimeters",
        faults.millimeters,
        &MILLIMETERS,
    )
}

fn plant_one_fault(
    rows: &mut [Row],
    draws: &mut Draws,
    fault: &'static str,
    wanted: usize,
    spoils: &[Spoil],
) -> Result<(), PlanError> {
    for done in 0..wanted {
        let spoil = spoils[done % spoils.len()];
        let candidates: Vec<(usize, Planted)> = rows
            .iter()
            .enumerate()
            .filter(|(_, row)| row.purpose == Purpose::Fluid && row.planted.is_none())
            .filter_map(|(place, row)| spoil(row).map(|planted| (place, planted)))
            .collect();
        let Some((place, planted)) = candidates.get(draws.below(candidates.len())) else {
            return Err(PlanError::NoRoom {
                fault,
                wanted,
                room: done,
            });
        };
        rows[*place].planted = Some(planted.clone());
    }
    Ok(())
}

fn planted(fault: Fault, column: &'static str, text: String) -> Option<Planted> {
    Some(Planted {
        fault,
        column,
        text,
    })
}

fn decimal_comma(row: &Row) -> Option<Planted> {
    let vti = row.before.lvot_vti?;
    planted(
        Fault::TextInNumber,
        "before.lvot_vti [cm]",
        format!("{vti:.1}").replace('.', ","),
    )
}

fn about(row: &Row) -> Option<Planted> {
    let rate = row.before.heart_rate?;
    planted(
        Fault::TextInNumber,
        "before.heart_rate [/min]",
        format!("approx {rate:.0}"),
    )
}

fn see_note(row: &Row) -> Option<Planted> {
    row.after.lvot_vti?;
    planted(
        Fault::TextInNumber,
        "after.lvot_vti [cm]",
        "see note".to_owned(),
    )
}

fn two_volumes(row: &Row) -> Option<Planted> {
    let volume = row.fluid_given?;
    planted(
        Fault::TextInNumber,
        "fluid_given [mL]",
        format!("{volume:.0} then 250"),
    )
}

fn vti_without_point(row: &Row) -> Option<Planted> {
    // From 12.0 cm on, what is left reads 120 and more: no outflow tract does that.
    let vti = row.before.lvot_vti.filter(|vti| *vti >= 12.0)?;
    planted(
        Fault::ImpossibleValue,
        "before.lvot_vti [cm]",
        format!("{:.0}", 10.0 * vti),
    )
}

fn rate_times_ten(row: &Row) -> Option<Planted> {
    let rate = row.after.heart_rate.filter(|rate| *rate >= 60.0)?;
    planted(
        Fault::ImpossibleValue,
        "after.heart_rate [/min]",
        format!("{:.0}", 10.0 * rate),
    )
}

fn negative_vti(row: &Row) -> Option<Planted> {
    let vti = row.after.lvot_vti?;
    planted(
        Fault::ImpossibleValue,
        "after.lvot_vti [cm]",
        format!("-{vti:.1}"),
    )
}

fn weight_times_ten(row: &Row) -> Option<Planted> {
    let weight = row.weight.filter(|weight| *weight >= 70.0)?;
    planted(
        Fault::ImpossibleValue,
        "weight [kg]",
        format!("{:.0}", 10.0 * weight),
    )
}

fn diameter_in_millimeters(row: &Row) -> Option<Planted> {
    match row.lvot_diameter {
        SharedDiameter::Measured(centimeters) => planted(
            Fault::Millimeters,
            "lvot_diameter [cm]",
            format!("{:.1}", 10.0 * centimeters),
        ),
        SharedDiameter::Unobtainable | SharedDiameter::Blank => None,
    }
}
