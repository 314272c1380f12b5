//! Bends and branches within reach: where the linear answer does not hold.
//!
//! Linear propagation (JCGM 100:2008, 5.1.2) takes a formula as straight over all that the readings may
//! be. It is not where `abs`, `min`, `max` or `clamp` bends it, or where a comparison turns: there
//! JCGM 101:2008 (5.10.2) asks for simulation. Found is each place whose deciding quantity, such
//! as the difference of the two arguments of `min`, lies within its own expanded uncertainty of zero, by
//! the same propagation, so that a cause of both arguments counts once.

use std::collections::BTreeSet;

use super::error::UncertaintyError;
use super::linear::{known, reach};
use super::settings::Settings;
use super::source::{slopes_in, sources_within};
use crate::formula::{
    At, CellId, Decisions, Lane, decisions, evaluate_one, may_decide, sized_slopes,
};
use crate::sheet::{Running, Sheet};

/// A place within reach of the uncertainties at which a formula bends or branches.
#[derive(Clone, Debug, PartialEq)]
pub struct Bend {
    /// The cell in whose formula it lies.
    pub cell: CellId,
    /// The part of the formula, in the notation: `min(lvot_vti, 20 cm)`, or `lvot_vti < 20 cm`.
    pub text: String,
    /// Whether it is a comparison, which may turn.
    pub is_branch: bool,
    /// How far away it is, in standard uncertainties of the quantity that decides.
    pub standards: f64,
}

/// The bends and branches of the formulas that a cell comes from which lie within reach of the
/// stated uncertainties, at the coverage of `settings`, and beyond which the cell has another
/// value or other slopes. Empty where the linear answer need not fear any.
///
/// # Errors
/// [`UncertaintyError`]: the cell is not known, or the settings are impossible.
///
/// ```
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::{Settings, bends};
///
/// let text = "vti = 20.5 cm (u = 1 cm)\nbounded = min(vti, 20 cm)";
/// let sheet = Sheet::read(text).unwrap().sheet;
/// let bounded = sheet.cell("bounded").unwrap();
/// let found = bends(&sheet, bounded, &Settings::of(&sheet)).unwrap();
/// assert_eq!(found[0].text, "min(vti, 20 cm)");
/// assert_eq!(found[0].standards, 0.5);
/// ```
pub fn bends(
    sheet: &Sheet,
    cell: CellId,
    settings: &Settings,
) -> Result<Vec<Bend>, UncertaintyError> {
    settings.check(sheet)?;
    known(sheet, cell)?;
    let mut found: Vec<Bend> = Vec::new();
    let mut slopes = None;
    for at in deciding(sheet, cell) {
        let Some(formula) = Deciding::of(sheet, at, settings) else {
            continue;
        };
        let slopes = slopes.get_or_insert_with(|| slopes_in(sheet, cell));
        for place in &formula.near {
            let Some([here, beyond]) = formula.sides(place) else {
                continue;
            };
            let with = |lane: Lane| sheet.if_other(cell, at, lane);
            let moves = slopes.contains_key(&at) || jumps(with(here), with(beyond));
            let text = sheet.operation_text(at, place.op);
            let is_new = !found.iter().any(|b| b.cell == at && b.text == text);
            if moves && is_new {
                found.push(Bend {
                    cell: at,
                    text,
                    is_branch: place.is_branch,
                    standards: place.standards,
                });
            }
        }
    }
    Ok(found)
}

/// The cells that a cell comes from whose formulas can bend or branch, in order of evaluation.
fn deciding(sheet: &Sheet, cell: CellId) -> Vec<CellId> {
    let mut met = BTreeSet::from([cell]);
    let mut waiting = vec![cell];
    let mut found = Vec::new();
    while let Some(at) = waiting.pop() {
        let Some(running) = sheet.running(at) else {
            continue;
        };
        if may_decide(running.tape) {
            found.push(at);
        }
        for operand in running.operands {
            if met.insert(operand) {
                waiting.push(operand);
            }
        }
    }
    found.sort_by_key(|at| sheet.place_in_order(*at));
    found
}

/// A formula with the decisions in it that lie within reach.
struct Deciding<'s> {
    running: Running<'s>,
    decisions: Decisions,
    /// What the decisions are now, 1 or 0.
    outcomes: Vec<Lane>,
    near: Vec<Near>,
}

struct Near {
    /// Its number among the decisions.
    at: usize,
    op: At,
    is_branch: bool,
    standards: f64,
    /// The quantity and its slopes, in its standard uncertainty.
    leans: Vec<f64>,
}

impl Near {
    /// Whether two decisions are one, whose quantities are zero together wherever the readings
    /// go, since they are the same but for a factor; and whether they then turn the same way.
    fn goes_with(&self, other: &Near) -> Option<Turns> {
        let alike = |sign: f64| {
            let mut pairs = self.leans.iter().zip(&other.leans);
            pairs.all(|(a, b)| (a - sign * b).abs() <= ALIKE * a.abs().max(b.abs()))
        };
        match (alike(1.0), alike(-1.0)) {
            (true, _) => Some(Turns::Alike),
            (false, true) => Some(Turns::Against),
            (false, false) => None,
        }
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Turns {
    Alike,
    Against,
}

/// Value and state of a formula, and its slopes with their sizes.
struct Outcome {
    lane: Lane,
    slopes: Vec<(f64, f64)>,
}

impl<'s> Deciding<'s> {
    /// `None` where no decision lies within reach.
    fn of(sheet: &'s Sheet, cell: CellId, settings: &Settings) -> Option<Deciding<'s>> {
        let running = sheet.running(cell)?;
        let decisions = decisions(running.tape)?;
        let mut outcomes = Vec::new();
        let mut near = Vec::new();
        for (at, decision) in decisions.list.iter().enumerate() {
            let quantity = evaluate_one(&decision.quantity, &running.inputs);
            outcomes.push(Lane {
                value: f64::from(u8::from(quantity.value > 0.0)),
                status: quantity.status,
            });
            if !quantity.status.is_known() {
                continue;
            }
            let slopes = sized_slopes(&decision.quantity, &running.inputs);
            let all_slopes = slopes.slopes.clone();
            let mut pairs = slopes.slopes.into_iter().zip(slopes.sizes);
            let operands = running.operands.iter().zip(pairs.by_ref());
            let operands: Vec<(CellId, f64, f64)> = operands
                .map(|(operand, (slope, size))| (*operand, slope, size))
                .collect();
            let causes = sources_within(sheet, cell, &operands, pairs.next());
            let reach = reach(&causes, settings);
            let distance = quantity.value.abs();
            if reach.standard > 0.0 && distance <= reach.expanded {
                let own = [quantity.value].into_iter().chain(all_slopes);
                near.push(Near {
                    at,
                    op: decision.op,
                    is_branch: decision.is_branch,
                    standards: distance / reach.standard,
                    leans: own.map(|part| part / reach.standard).collect(),
                });
            }
        }
        (!near.is_empty()).then_some(Deciding {
            running,
            decisions,
            outcomes,
            near,
        })
    }

    /// What the formula gives on either side of a place, if it is not the same there: with all
    /// else as it is, or with all else within reach beyond its place too.
    fn sides(&self, place: &Near) -> Option<[Lane; 2]> {
        for others_turn in [false, true] {
            let [here, beyond] = [false, true].map(|beyond| {
                let turned = |n: &Near| match n.goes_with(place) {
                    // At the place itself, where the quantity is zero, only one of two that turn
                    // against each other can stand as it does.
                    Some(turns) => {
                        let own = self.outcomes[place.at].value == self.outcomes[n.at].value;
                        beyond != (own != (turns == Turns::Alike))
                    }
                    None => others_turn,
                };
                self.steered(&turned)
            });
            if beyond.is_other(&here) {
                return Some([here.lane, beyond.lane]);
            }
        }
        None
    }

    /// The formula with those decisions turned that lie within reach and for which `turned` holds.
    fn steered(&self, turned: &dyn Fn(&Near) -> bool) -> Outcome {
        let mut outcomes = self.outcomes.clone();
        for near in self.near.iter().filter(|near| turned(near)) {
            let outcome = &mut outcomes[near.at].value;
            *outcome = 1.0 - *outcome;
        }
        let own = self.running.inputs.iter().copied();
        let inputs: Vec<Lane> = own.chain(outcomes).collect();
        let lane = evaluate_one(&self.decisions.steered, &inputs);
        let slopes = match lane.status.is_known() {
            true => {
                let found = sized_slopes(&self.decisions.steered, &inputs);
                let pairs = found.slopes.into_iter().zip(found.sizes);
                pairs.take(self.running.inputs.len()).collect()
            }
            false => Vec::new(),
        };
        Outcome { lane, slopes }
    }
}

impl Outcome {
    fn is_other(&self, than: &Outcome) -> bool {
        let pairs = self.slopes.iter().zip(&than.slopes);
        let mut bent = pairs.map(|(a, b)| (a.0 - b.0).abs() > ROUNDING * a.1.max(b.1));
        jumps(self.lane, than.lane) || bent.any(|is_bent| is_bent)
    }
}

/// Relative difference that is no difference.
const ROUNDING: f64 = 1e-12;

/// The same between quantities that were computed in different ways.
const ALIKE: f64 = 1e-9;

/// Whether two states of a cell are not the same: one known and the other not, or another value.
fn jumps(a: Lane, b: Lane) -> bool {
    match (a.status.is_known(), b.status.is_known()) {
        (true, true) => (a.value - b.value).abs() > ROUNDING * a.value.abs().max(b.value.abs()),
        (false, false) => false,
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is found of the cell `y`, with the distance where it lies off the place.
    fn found(text: &str) -> Vec<String> {
        let sheet = Sheet::read(text).unwrap().sheet;
        let y = sheet.cell("y").unwrap();
        let found = bends(&sheet, y, &Settings::of(&sheet)).unwrap();
        let words = found.iter().map(|bend| {
            let kind = if bend.is_branch { "branch" } else { "bend" };
            let name = sheet.name(bend.cell);
            format!("{kind} {name}: {} at {:.3}", bend.text, bend.standards)
        });
        words.collect()
    }

    #[test]
    fn what_lies_within_expanded_uncertainty_is_found_and_what_lies_beyond_is_not() {
        // 1.96 standard uncertainties at 95 %: 21.9 cm lies within them, 22 cm does not.
        for (vti, expected) in [
            ("20", vec!["bend y: abs(v - 20 cm) at 0.000"]),
            ("21.9", vec!["bend y: abs(v - 20 cm) at 1.900"]),
            ("18.1", vec!["bend y: abs(v - 20 cm) at 1.900"]),
            ("22", vec![]),
        ] {
            let text = format!("v = {vti} cm (u = 1 cm)\ny = abs(v - 20 cm)");
            assert_eq!(found(&text), expected, "{vti}");
        }
        let text = "coverage 99 %\nv = 22 cm (u = 1 cm)\ny = abs(v - 20 cm)";
        assert_eq!(found(text), ["bend y: abs(v - 20 cm) at 2.000"]);
    }

    #[test]
    fn every_operation_that_can_bend_is_known() {
        for (formula, expected) in [
            ("min(v, 20 cm)", "bend y: min(v, 20 cm) at 0.000"),
            ("max(20 cm, v)", "bend y: max(20 cm, v) at 0.000"),
            (
                "clamp(v, 20 cm, 30 cm)",
                "bend y: clamp(v, 20 cm, 30 cm) at 0.000",
            ),
            (
                "clamp(v, 1 cm, 20 cm)",
                "bend y: clamp(v, 1 cm, 20 cm) at 0.000",
            ),
            ("if v < 20 cm then 1 else 2", "branch y: v < 20 cm at 0.000"),
            (
                "if not (v >= 20 cm) then 1 else 2",
                "branch y: v >= 20 cm at 0.000",
            ),
            (
                "if v < 20 cm then v else 20 cm",
                "branch y: v < 20 cm at 0.000",
            ),
            (
                "if v > 20 cm then withheld \"too far\" else v",
                "branch y: v > 20 cm at 0.000",
            ),
        ] {
            let text = format!("v = 20 cm (u = 1 cm)\ny = {formula}");
            assert_eq!(found(&text), [expected], "{formula}");
        }
    }

    #[test]
    fn a_place_that_changes_nothing_is_none() {
        let none: Vec<String> = Vec::new();
        for formula in [
            // Both sides are the same.
            "if v < 20 cm then 1 else 1",
            "if v < 20 cm then v * 2 else v + v",
            // The bend cancels.
            "abs(v - 20 cm) - abs(v - 20 cm) + v",
            "abs(v - 20 cm) + (if 2 * v > 40 cm then 20 cm - v else v - 20 cm)",
            // The branch with the bend is not taken, and no uncertainty reaches the other.
            "if v < 40 cm then v else abs(v - 20 cm)",
            // The other comparison decides, and is far.
            "if v < 20 cm and v > 40 cm then 1 else 2",
            // Both arguments are one cause, and are equal for every reading of it.
            "min(v, v + 0 cm)",
            // What decides states no uncertainty.
            "min(w, 20 cm) + v",
        ] {
            let text = format!("v = 20 cm (u = 1 cm)\nw = 20 cm\ny = {formula}");
            assert_eq!(found(&text), none, "{formula}");
        }
    }

    #[test]
    fn a_cause_of_both_sides_counts_once_in_their_difference() {
        // b − a is 0.3 cm with u 0.1 cm, not with the 1.4 cm that a and b seem to have.
        let text = "a = 20 cm (u = 1 cm)\nd = 0.3 cm (u = 0.1 cm)\nb = a + d\ny = min(a, b)";
        assert!(found(text).is_empty());
        let text = "a = 20 cm (u = 1 cm)\nd = 0.1 cm (u = 0.1 cm)\nb = a + d\ny = min(a, b)";
        assert_eq!(found(text), ["bend y: min(a, b) at 1.000"]);
        // And a stated correlation counts too: u(b − a)² = 2 − 2 · 0.99, so 0.5 is 3.5 of them.
        let text = "a = 20 cm (u = 1 cm)\nb = 20.5 cm (u = 1 cm)\ny = min(a, b)";
        assert_eq!(found(text), ["bend y: min(a, b) at 0.354"]);
        assert!(found(&format!("{text}\ncorrelate a, b by 0.99")).is_empty());
    }

    #[test]
    fn places_further_back_count_where_the_result_moves_with_them() {
        let text = "v = 20 cm (u = 1 cm)\nd = abs(v - 20 cm)\ny = 2 * d + v";
        assert_eq!(found(text), ["bend d: abs(v - 20 cm) at 0.000"]);
        let text = "v = 20 cm (u = 1 cm)\nd = abs(v - 20 cm)\ny = d - d + v";
        assert!(found(text).is_empty());
        // A class moves nothing by a slope, but the other class would give another result.
        let text = "v = 20 cm (u = 1 cm)\nc = if v < 20 cm then 1 else 2\n\
                    y = if c > 1.5 then 7 else 8";
        assert_eq!(found(text), ["branch c: v < 20 cm at 0.000"]);
        let text = "v = 20 cm (u = 1 cm)\nc = if v < 20 cm then 1 else 2\n\
                    y = if c > 0.5 then 7 else 8";
        assert!(found(text).is_empty());
        // A reading in the place of the formula ends the way.
        let text = "use hemodynamics\nweight = 69 kg (u = 1 kg)\nheight = 170 cm\n\
                    lvot_diameter = unobtainable\nlvot_vti = 20 cm\ny = stroke_volume";
        let place = "branch lvot_diameter_from_body_size: body_surface_area < 1.8 m2";
        assert!(found(text)[0].starts_with(place), "{:?}", found(text));
        let text = "use hemodynamics\nweight = 62 kg (u = 1 kg)\nheight = 170 cm\n\
                    lvot_diameter_from_body_size = 1.9 cm\nlvot_diameter = unobtainable\n\
                    lvot_vti = 20 cm\ny = stroke_volume";
        assert!(found(text).is_empty());
    }

    #[test]
    fn comparisons_that_only_together_change_the_result_are_found_together() {
        let text = "a = 0.9 cm (u = 1 cm)\nb = 0.8 cm (u = 1 cm)\n\
                    y = if a > 1 cm and b > 1 cm then 1 else 2";
        assert_eq!(
            found(text),
            ["branch y: a > 1 cm at 0.100", "branch y: b > 1 cm at 0.200"]
        );
    }
}
