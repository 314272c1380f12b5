//! Linear propagation (JCGM 100:2008 clause 5), with budget, coverage and coupling.

use super::bounded::Bounded;
use super::carried;
use super::error::UncertaintyError;
use super::flat::flat;
use super::settings::Settings;
use super::source::{Cause, Source, Swept, swept};
use super::student::coverage_factor;
use crate::formula::CellId;
use crate::sheet::Sheet;

/// One line of an uncertainty budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The reading, or the cell whose formula is the cause.
    pub cell: CellId,
    /// Whether the formula itself is the cause, not a reading.
    pub is_model: bool,
    /// Standard uncertainty of the cause, in its cell's unit.
    pub standard: f64,
    /// The publication that `standard` was taken from, where the reading stated none.
    pub published: Option<&'static str>,
    /// Sensitivity coefficient: unit of the result per unit of the cause.
    pub sensitivity: f64,
    /// Sensitivity times standard uncertainty, signed, in the result's unit.
    pub contribution: f64,
    /// Share of the variance, 0 to 1, without what correlations bring.
    pub share: f64,
    /// Degrees of freedom; infinite where they were not limited.
    pub freedom: f64,
}

/// A coverage interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coverage {
    /// Its level as a share.
    pub level: f64,
    /// The coverage factor.
    pub factor: f64,
    /// Lower end, in the cell's unit.
    pub low: f64,
    /// Upper end, in the cell's unit.
    pub high: f64,
}

/// The uncertainty of a cell and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Propagated {
    /// The value, in the cell's unit.
    pub value: f64,
    /// Standard uncertainty, in the cell's unit.
    pub standard: f64,
    /// Effective degrees of freedom (Welch–Satterthwaite); infinite where none are limited, and
    /// where correlated readings make the formula invalid.
    pub freedom: f64,
    /// Whether some degrees of freedom are limited, but readings are correlated, for which
    /// effective ones are not defined (JCGM 100:2008, G.4.1): the coverage factor is that of a
    /// normal distribution.
    pub freedom_undefined: bool,
    /// The distribution of the result, where one reading with certain bounds is all its uncertainty
    /// comes from; else it is Student's, or without limit of freedom the normal one.
    pub bounded: Option<Bounded>,
    /// The coverage interval. The factor is taken at the whole degrees of freedom below.
    pub coverage: Coverage,
    /// The budget, the greatest share first.
    pub budget: Vec<Line>,
    /// Share of the variance that correlations bring; may be negative.
    pub correlated_share: f64,
    /// Readings that state an uncertainty which is left out, since the cell moves with them but its
    /// slope in them is zero where they stand, as that of a cosine in an angle of 0°: simulation
    /// draws them.
    pub unseen: Vec<CellId>,
    /// Readings that the cell depends on and that stated no uncertainty.
    pub unstated: Vec<CellId>,
    /// Those of `unstated` in which the cell has no slope where they stand, though it moves with
    /// them. Rows of a table name those with a slope only ([`Columns`](super::Columns)).
    pub unstated_without_slope: Vec<CellId>,
}

impl Propagated {
    /// Whether the uncertainty is only a lower bound, since some reading stated none.
    pub fn is_lower_bound(&self) -> bool {
        !self.unstated.is_empty()
    }

    /// Whether anything at all was stated.
    pub fn says_something(&self) -> bool {
        !self.budget.is_empty()
    }

    /// What to measure first: what brings the most variance. A reading is to be measured again; where
    /// a formula stands in for one that was not obtained, that is to be measured instead.
    pub fn measure_first(&self) -> Option<&Line> {
        self.budget.first().filter(|line| line.share > 0.0)
    }
}

/// Propagates the readings' uncertainties to a cell.
///
/// # Errors
/// [`UncertaintyError`]: the cell is not known, the settings are impossible, or a slope is not
/// finite.
pub fn propagate(
    sheet: &Sheet,
    cell: CellId,
    settings: &Settings,
) -> Result<Propagated, UncertaintyError> {
    settings.check(sheet)?;
    let value = known(sheet, cell)?;
    let swept = swept_checked(sheet, cell)?;
    let sources = &swept.sources;
    let stated: Vec<&Source> = sources.iter().filter(|s| s.standard.is_some()).collect();
    let parts: Vec<f64> = stated.iter().map(|s| part(s)).collect();
    let own: f64 = parts.iter().map(|p| p * p).sum();
    let shared = cross(&stated, &stated, settings) - own;
    let variance = own + shared;
    if !variance.is_finite() {
        return Err(too_large(sheet, cell, sources));
    }
    // Rounding can leave a sum of squares that cancels just below zero.
    let variance = variance.max(0.0);
    let by_cause = variance.sqrt();
    let freedom = effective_freedom(&stated, by_cause, settings);
    // The same but for the last bits, and the bits that columns give.
    let carried = match stated.is_empty() {
        true => None,
        false => carried::standard(sheet, cell, settings),
    };
    let standard = carried.unwrap_or(by_cause);
    let flat = flat(sheet, cell, &swept, standard);
    let of_slopes = sources.iter().filter_map(unstated);
    let mut unstated: Vec<CellId> = of_slopes.chain(flat.unstated.iter().copied()).collect();
    unstated.sort_unstable();
    let bounded = Bounded::of(sheet, &stated);
    let limited = |s: &&Source| s.freedom.is_finite() && part(s) != 0.0;
    Ok(Propagated {
        value,
        standard,
        freedom,
        freedom_undefined: is_tied(&stated, settings) && stated.iter().any(limited),
        unstated_without_slope: flat.unstated,
        bounded,
        coverage: {
            let level = settings.coverage;
            let factor = bounded.map_or_else(|| factor_of(freedom, level), |b| b.factor(level));
            coverage(value, standard, factor, level)
        },
        budget: budget(&stated, variance),
        correlated_share: if variance > 0.0 {
            shared / variance
        } else {
            0.0
        },
        unseen: flat.stated,
        unstated,
    })
}

pub(super) fn known(sheet: &Sheet, cell: CellId) -> Result<f64, UncertaintyError> {
    let name = || sheet.name(cell);
    if !sheet.words(cell).is_empty() {
        return Err(UncertaintyError::Finding { cell: name() });
    }
    sheet
        .value(cell)
        .ok_or_else(|| UncertaintyError::NotKnown { cell: name() })
}

/// The causes of a cell, all with finite slopes.
pub(super) fn checked(sheet: &Sheet, cell: CellId) -> Result<Vec<Source>, UncertaintyError> {
    swept_checked(sheet, cell).map(|swept| swept.sources)
}

pub(super) fn swept_checked(sheet: &Sheet, cell: CellId) -> Result<Swept, UncertaintyError> {
    let swept = swept(sheet, cell);
    match swept.sources.iter().find(|s| !s.slope.is_finite()) {
        Some(bad) => Err(UncertaintyError::NoSlope {
            cell: sheet.name(cell),
            reading: sheet.name(cell_of(bad)),
        }),
        None => Ok(swept),
    }
}

/// No number holds the square of what a reading brings: as with a slope that none holds.
pub(super) fn too_large<'s>(
    sheet: &Sheet,
    cell: CellId,
    sources: impl IntoIterator<Item = &'s Source>,
) -> UncertaintyError {
    let sizes = sources.into_iter().map(|s| (part(s).abs(), cell_of(s)));
    let greatest = sizes.max_by(|a, b| a.0.total_cmp(&b.0));
    UncertaintyError::NoSlope {
        cell: sheet.name(cell),
        reading: sheet.name(greatest.map_or(cell, |(_, reading)| reading)),
    }
}

fn cell_of(source: &Source) -> CellId {
    source.cause.cell()
}

pub(super) fn unstated(source: &Source) -> Option<CellId> {
    source.standard.is_none().then(|| cell_of(source))
}

pub(super) fn part(source: &Source) -> f64 {
    source.slope * source.standard.unwrap_or(0.0)
}

/// Σᵢ Σⱼ cᵢ uᵢ cⱼ uⱼ rᵢⱼ over the causes of two cells.
fn cross(a: &[&Source], b: &[&Source], settings: &Settings) -> f64 {
    let mut sum = 0.0;
    for x in a {
        for y in b {
            let correlation = match (x.cause, y.cause) {
                (Cause::Reading(p), Cause::Reading(q)) => settings.between(p, q),
                (p, q) => f64::from(u8::from(p == q)),
            };
            if correlation != 0.0 {
                sum += part(x) * part(y) * correlation;
            }
        }
    }
    sum
}

/// Welch–Satterthwaite (JCGM 100:2008 G.4.1), which holds for independent readings.
fn effective_freedom(stated: &[&Source], standard: f64, settings: &Settings) -> f64 {
    if is_tied(stated, settings) {
        return f64::INFINITY;
    }
    let sum: f64 = stated.iter().map(|s| part(s).powi(4) / s.freedom).sum();
    match sum > 0.0 {
        true => standard.powi(4) / sum,
        false => f64::INFINITY,
    }
}

/// Whether any two of the causes are correlated.
fn is_tied(stated: &[&Source], settings: &Settings) -> bool {
    let is_cause = |cell: CellId| {
        let reading = Cause::Reading(cell);
        stated.iter().any(|s| s.cause == reading)
    };
    let pairs = settings.correlations.iter();
    let mut apart = pairs.filter(|c| c.value != 0.0 && c.first != c.second);
    apart.any(|c| is_cause(c.first) && is_cause(c.second))
}

/// The standard uncertainty of something with these causes, and its degrees of freedom.
pub(super) fn reach(causes: &[Source], settings: &Settings) -> Reach {
    let stated: Vec<&Source> = causes.iter().filter(|s| s.standard.is_some()).collect();
    // Rounding can leave a sum of squares that cancels just below zero; what is no number stays none.
    let variance = cross(&stated, &stated, settings);
    let standard = if variance < 0.0 { 0.0 } else { variance.sqrt() };
    Reach {
        standard,
        freedom: effective_freedom(&stated, standard, settings),
    }
}

/// How far a quantity can be from what it seems: its standard uncertainty times the factor of the
/// degrees of freedom.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reach {
    pub(super) standard: f64,
    pub(super) freedom: f64,
}

/// The coverage factor of effective degrees of freedom.
pub(super) fn factor_of(freedom: f64, level: f64) -> f64 {
    coverage_factor(level, whole(freedom))
}

/// The whole degrees of freedom below, of which factors are taken (JCGM 100:2008, G.4.1).
pub(super) fn whole(freedom: f64) -> f64 {
    // Rounding must not push a whole number of degrees below itself.
    (freedom * (1.0 + 1e-12)).floor().max(1.0)
}

fn coverage(value: f64, standard: f64, factor: f64, level: f64) -> Coverage {
    Coverage {
        level,
        factor,
        low: value - factor * standard,
        high: value + factor * standard,
    }
}

fn budget(stated: &[&Source], variance: f64) -> Vec<Line> {
    let mut lines: Vec<Line> = stated
        .iter()
        .map(|s| Line {
            cell: cell_of(s),
            is_model: matches!(s.cause, Cause::Model(_)),
            standard: s.standard.unwrap_or(0.0),
            published: s.published,
            sensitivity: s.slope,
            contribution: part(s),
            share: if variance > 0.0 {
                part(s).powi(2) / variance
            } else {
                0.0
            },
            freedom: s.freedom,
        })
        .collect();
    lines.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.cell.cmp(&b.cell)));
    lines
}

/// What the errors of two cells have in common.
#[derive(Clone, Debug, PartialEq)]
pub struct Coupling {
    /// Readings that both depend on, whether they stated an uncertainty or not.
    pub shared: Vec<CellId>,
    /// Cells whose formulas bring an uncertainty of their own to both.
    pub shared_formulas: Vec<CellId>,
    /// Readings that one or both depend on and that stated no uncertainty: they count for nothing in
    /// covariance and correlation.
    pub unstated: Vec<CellId>,
    /// Covariance of the errors, in the product of the cells' units.
    pub covariance: f64,
    /// Correlation that error alone gives them; `None` where one has no uncertainty.
    pub correlation: Option<f64>,
}

impl Coupling {
    /// Whether the correlation is open, though a number was found: what both share counts for
    /// nothing, as it states no uncertainty.
    pub fn is_open(&self) -> bool {
        self.covariance == 0.0 && self.shared.iter().any(|cell| self.unstated.contains(cell))
    }
}

/// What the errors of two cells have in common.
///
/// # Errors
/// As [`propagate`], and where no number holds the uncertainties or their product.
pub fn coupling(
    sheet: &Sheet,
    first: CellId,
    second: CellId,
    settings: &Settings,
) -> Result<Coupling, UncertaintyError> {
    settings.check(sheet)?;
    known(sheet, first)?;
    known(sheet, second)?;
    let (a, b) = (checked(sheet, first)?, checked(sheet, second)?);
    let both = |x: &&Source| b.iter().any(|y| y.cause == x.cause);
    let is_reading = |x: &&Source| matches!(x.cause, Cause::Reading(_));
    let shared: Vec<&Source> = a.iter().filter(both).collect();
    let (shared, formulas): (Vec<&Source>, Vec<&Source>) = shared.into_iter().partition(is_reading);
    let [shared, shared_formulas] =
        [shared, formulas].map(|all| all.into_iter().map(cell_of).collect());
    let mut unstated: Vec<CellId> = a.iter().chain(&b).filter_map(unstated).collect();
    unstated.sort_unstable();
    unstated.dedup();
    let stated = |all: &'_ [Source]| -> Vec<Source> {
        all.iter()
            .filter(|s| s.standard.is_some())
            .copied()
            .collect()
    };
    let (a, b) = (stated(&a), stated(&b));
    let [of_a, of_b] = [&a, &b].map(|own| reach(own, settings).standard);
    let size = of_a * of_b;
    let (all_a, all_b): (Vec<&Source>, Vec<&Source>) = (a.iter().collect(), b.iter().collect());
    let covariance = cross(&all_a, &all_b, settings);
    if !(size.is_finite() && covariance.is_finite()) {
        let (cell, own) = match of_a > of_b {
            true => (first, a),
            false => (second, b),
        };
        return Err(too_large(sheet, cell, &own));
    }
    Ok(Coupling {
        shared,
        shared_formulas,
        unstated,
        covariance,
        correlation: (size > 0.0).then(|| (covariance / size).clamp(-1.0, 1.0)),
    })
}
