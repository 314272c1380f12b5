//! Bends and branches within reach: where the linear answer does not hold.
//!
//! Linear propagation (JCGM 100:2008, 5.1.2) takes a formula as straight over all that the readings may
//! be. It is not where `abs`, `min`, `max` or `clamp` bends it, or where a comparison turns: there
//! JCGM 101:2008 (5.10.2) asks for simulation. Found is each place whose deciding quantity, such
//! as the difference of the two arguments of `min`, lies within its own expanded uncertainty of zero, by
//! the same propagation, so that a cause of both arguments counts once.

use std::collections::BTreeMap;

use super::error::UncertaintyError;
use super::linear::{Reach, factor_of, known, reach};
use super::settings::Settings;
use super::source::{Cause, Source, slopes_in, sources_within};
use crate::formula::{CellId, Decisions, Lane, decisions, evaluate_one, may_decide, sized_slopes};
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
    /// The reading that brings most of that uncertainty, where a reading brings any.
    pub mostly_by: Option<CellId>,
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
    let factors = Factors::of(settings);
    Ok(Search::of(sheet, settings, &factors).bends(cell))
}

/// A search of a sheet as it stands, for one cell after the other.
pub(crate) struct Search<'s> {
    sheet: &'s Sheet,
    settings: &'s Settings,
    factors: &'s Factors,
    /// The formulas that were met.
    met: BTreeMap<CellId, Option<Deciding<'s>>>,
}

impl<'s> Search<'s> {
    /// With settings that were checked.
    pub(crate) fn of(sheet: &'s Sheet, settings: &'s Settings, factors: &'s Factors) -> Search<'s> {
        Search {
            sheet,
            settings,
            factors,
            met: BTreeMap::new(),
        }
    }

    /// As [`bends`], for a cell that is known.
    pub(crate) fn bends(&mut self, cell: CellId) -> Vec<Bend> {
        let sheet = self.sheet;
        let mut found: Vec<Bend> = Vec::new();
        let mut slopes = None;
        let mut what_if = None;
        for at in sheet.formulas_behind(cell, may_decide) {
            let met = self.met.entry(at);
            let formula =
                met.or_insert_with(|| Deciding::of(sheet, at, self.settings, self.factors));
            let Some(formula) = formula else {
                continue;
            };
            let slopes = slopes.get_or_insert_with(|| slopes_in(sheet, cell));
            for place in &formula.near {
                let Some([here, beyond]) = place.sides else {
                    continue;
                };
                let moves = slopes.contains_key(&at) || {
                    let what_if =
                        what_if.get_or_insert_with(|| sheet.what_if(cell, &sheet.all_behind(cell)));
                    let [here, beyond] = [here, beyond].map(|lane| what_if.lane(&[(at, lane)]));
                    jumps(here, beyond)
                };
                let is_new = !found.iter().any(|b| b.cell == at && b.text == place.text);
                if moves && is_new {
                    found.push(Bend {
                        cell: at,
                        text: place.text.clone(),
                        is_branch: place.is_branch,
                        standards: place.standards,
                        mostly_by: place.mostly_by,
                    });
                }
            }
        }
        found
    }
}

/// Coverage factors at one level; that of a normal distribution is asked for again and again.
pub(crate) struct Factors {
    level: f64,
    normal: f64,
}

impl Factors {
    pub(crate) fn of(settings: &Settings) -> Factors {
        Factors {
            level: settings.coverage,
            normal: factor_of(f64::INFINITY, settings.coverage),
        }
    }

    fn expanded(&self, reach: Reach) -> f64 {
        let factor = match reach.freedom.is_finite() {
            true => factor_of(reach.freedom, self.level),
            false => self.normal,
        };
        factor * reach.standard
    }
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
    is_branch: bool,
    standards: f64,
    mostly_by: Option<CellId>,
    /// The quantity and its slopes, in its standard uncertainty.
    leans: Vec<f64>,
    /// The part of the formula, in the notation.
    text: String,
    /// What the formula gives on either side, if it is not the same there.
    sides: Option<[Lane; 2]>,
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
    fn of(
        sheet: &'s Sheet,
        cell: CellId,
        settings: &Settings,
        factors: &Factors,
    ) -> Option<Deciding<'s>> {
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
            if reach.standard > 0.0 && distance <= factors.expanded(reach) {
                let own = [quantity.value].into_iter().chain(all_slopes);
                near.push(Near {
                    at,
                    is_branch: decision.is_branch,
                    standards: distance / reach.standard,
                    mostly_by: greatest_reading(&causes),
                    leans: own.map(|part| part / reach.standard).collect(),
                    text: sheet.operation_text(cell, decision.op),
                    sides: None,
                });
            }
        }
        if near.is_empty() {
            return None;
        }
        let mut formula = Deciding {
            running,
            decisions,
            outcomes,
            near,
        };
        let sides = formula.near.iter().map(|place| formula.sides(place));
        let sides: Vec<Option<[Lane; 2]>> = sides.collect();
        for (place, sides) in formula.near.iter_mut().zip(sides) {
            place.sides = sides;
        }
        Some(formula)
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

/// The reading that brings most of the uncertainty; of two that bring as much the first.
fn greatest_reading(causes: &[Source]) -> Option<CellId> {
    let mut greatest: Option<(CellId, f64)> = None;
    for source in causes {
        let (Cause::Reading(cell), Some(standard)) = (source.cause, source.standard) else {
            continue;
        };
        let brings = (source.slope * standard).abs();
        if brings > greatest.map_or(0.0, |(_, most)| most) {
            greatest = Some((cell, brings));
        }
    }
    greatest.map(|(cell, _)| cell)
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

#[cfg(feature = "cohort")]
mod rows;
#[cfg(test)]
mod tests;

#[cfg(feature = "cohort")]
pub(crate) use rows::Watched;
