//! How uncertain the difference of two cells is.

use super::error::UncertaintyError;
use super::linear::{checked, cross, known, unstated};
use super::settings::Settings;
use super::source::{Source, subtract};
use crate::formula::CellId;
use crate::sheet::Sheet;

/// The uncertainty of a difference.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Standard uncertainty, in the cells' unit.
    pub standard: f64,
    /// Readings that the difference depends on and that stated no uncertainty.
    pub unstated: Vec<CellId>,
}

/// The uncertainty of one cell minus another in the same unit: an error that both share counts
/// once, and not at all where it cancels (JCGM 100:2008, 5.2 and F.1.2.3).
///
/// ```
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::{Settings, difference};
///
/// let text = "
///     shared = 5 cm (u = 1 cm)
///     first = 20 cm (u = 3 mm)
///     second = 22 cm (u = 4 mm)
///     a = first + shared
///     b = second + shared
/// ";
/// let sheet = Sheet::read(text).unwrap().sheet;
/// let [a, b] = ["a", "b"].map(|name| sheet.cell(name).unwrap());
/// let found = difference(&sheet, a, b, &Settings::default()).unwrap();
/// assert!((found.standard - 0.5).abs() < 1e-12);
/// ```
///
/// # Errors
/// [`UncertaintyError`]: a cell is not known, their units differ, the settings are impossible, or
/// a slope is not finite.
pub fn difference(
    sheet: &Sheet,
    first: CellId,
    second: CellId,
    settings: &Settings,
) -> Result<Difference, UncertaintyError> {
    settings.check(sheet)?;
    known(sheet, first)?;
    known(sheet, second)?;
    if sheet.unit(first) != sheet.unit(second) {
        return Err(UncertaintyError::Unlike {
            first: sheet.name(first),
            second: sheet.name(second),
        });
    }
    let sources = subtract(&checked(sheet, second)?, &checked(sheet, first)?);
    let stated: Vec<&Source> = sources.iter().filter(|s| s.standard.is_some()).collect();
    Ok(Difference {
        standard: cross(&stated, &stated, settings).max(0.0).sqrt(),
        unstated: sources.iter().filter_map(unstated).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> Result<Difference, UncertaintyError> {
        let sheet = Sheet::read(text).unwrap().sheet;
        let [a, b] = ["a", "b"].map(|name| sheet.cell(name).unwrap());
        difference(&sheet, a, b, &Settings::of(&sheet))
    }

    #[test]
    fn what_both_share_cancels_even_if_it_states_nothing() {
        let found = of("d = 2 cm\nx = 1 cm (u = 1 mm)\na = d\nb = d + x").unwrap();
        assert!((found.standard - 0.1).abs() < 1e-12);
        assert_eq!(found.unstated, []);
        let found = of("d = 2 cm\nx = 1 cm (u = 1 mm)\na = d\nb = 2 * d + x").unwrap();
        assert_eq!(found.unstated.len(), 1);
    }

    /// u² = u₁² + u₂² − 2 r u₁ u₂ (JCGM 100:2008, equation 16): 0.09 + 0.16 − 2 · 0.5 · 0.12 = 0.13.
    #[test]
    fn correlated_readings_bring_less_to_a_difference() {
        let found =
            of("a = 20 cm (u = 3 mm)\nb = 22 cm (u = 4 mm)\ncorrelate a, b by 0.5").unwrap();
        assert!((found.standard - 0.13f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn unlike_units_have_no_difference() {
        let error = of("a = 20 cm\nb = 22 s").unwrap_err();
        assert_eq!(
            error.to_string(),
            "`a` and `b` are not in one unit, so they have no difference"
        );
    }
}
