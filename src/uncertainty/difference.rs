//! How uncertain the difference of two cells is, and what a change is held against.

use super::error::UncertaintyError;
use super::linear::{Reach, checked, factor_of, known, reach, too_large, unstated, whole};
use super::settings::Settings;
use super::source::{self, subtract};
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
/// [`UncertaintyError`]: a cell is not known, their units differ, the settings are impossible, a
/// slope is not finite, or no number holds the uncertainty.
pub fn difference(
    sheet: &Sheet,
    first: CellId,
    second: CellId,
    settings: &Settings,
) -> Result<Difference, UncertaintyError> {
    both(sheet, first, second, settings)?;
    let sources = subtract(&checked(sheet, second)?, &checked(sheet, first)?);
    let standard = reach(&sources, settings).standard;
    if !standard.is_finite() {
        return Err(too_large(sheet, second, &sources));
    }
    Ok(Difference {
        standard,
        unstated: sources.iter().filter_map(unstated).collect(),
    })
}

/// What a change from one cell to another in the same unit is held against.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Standard uncertainty of the change as held against no change, in the cells' unit.
    pub standard: f64,
    /// The whole effective degrees of freedom (Welch–Satterthwaite) that `factor` is taken at;
    /// infinite where none are limited, and where correlated readings leave them undefined.
    pub freedom: f64,
    /// Coverage factor of 95 %, of Student's t at `freedom`: 1.96 where it is infinite.
    pub factor: f64,
    /// Readings that the change rests on and that stated no uncertainty.
    pub unstated: Vec<CellId>,
}

impl Change {
    /// The least significant change: smaller ones are within measurement error at 95 %.
    pub fn least(&self) -> f64 {
        self.factor * self.standard
    }
}

/// What a change from one cell to another is held against: measurement error where there is no
/// change. An error that both share counts once, and not at all where it shifts both alike, as an
/// offset, or scales both alike, as a diameter does two stroke volumes: it makes no change then.
/// Of a cause of both what is left is therefore the smaller of its slope in the difference, and of
/// its slope in the difference with the second cell scaled to the first.
///
/// ```
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::{Settings, change, difference};
///
/// let text = "
///     area = 3 cm2 (u = 0.3 cm2)
///     first = 20 cm (u = 3 mm)
///     second = 24 cm (u = 4 mm)
///     a [mL] = area * first
///     b [mL] = area * second
/// ";
/// let sheet = Sheet::read(text).unwrap().sheet;
/// let [a, b] = ["a", "b"].map(|name| sheet.cell(name).unwrap());
/// let settings = Settings::default();
/// // 3 cm2 times that of the lengths; the area makes no change of none.
/// let found = change(&sheet, a, b, &settings).unwrap();
/// assert!((found.standard - 1.5).abs() < 1e-12);
/// assert!((found.least() - 1.959964 * 1.5).abs() < 1e-5);
/// // But it makes a difference that is there larger or smaller: 0.3 cm2 times 4 cm.
/// let found = difference(&sheet, a, b, &settings).unwrap();
/// assert!((found.standard - 1.5f64.hypot(1.2)).abs() < 1e-12);
/// ```
///
/// # Errors
/// As [`difference`].
pub fn change(
    sheet: &Sheet,
    first: CellId,
    second: CellId,
    settings: &Settings,
) -> Result<Change, UncertaintyError> {
    let values = both(sheet, first, second, settings)?;
    let [of_first, of_second] = [checked(sheet, first)?, checked(sheet, second)?];
    let sources = source::change(&of_first, &of_second, values[0] / values[1]);
    let Reach { standard, freedom } = reach(&sources, settings);
    if !standard.is_finite() {
        return Err(too_large(sheet, second, &sources));
    }
    let freedom = whole(freedom);
    Ok(Change {
        standard,
        freedom,
        factor: factor_of(freedom, LEVEL),
        unstated: sources.iter().filter_map(unstated).collect(),
    })
}

/// The level of least significant changes (common practice, no source).
pub(crate) const LEVEL: f64 = 0.95;

/// The values of two cells in one unit.
fn both(
    sheet: &Sheet,
    first: CellId,
    second: CellId,
    settings: &Settings,
) -> Result<[f64; 2], UncertaintyError> {
    settings.check(sheet)?;
    let values = [known(sheet, first)?, known(sheet, second)?];
    match sheet.unit(first) == sheet.unit(second) {
        true => Ok(values),
        false => Err(UncertaintyError::Unlike {
            first: sheet.name(first),
            second: sheet.name(second),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::coupling;

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
    fn what_no_number_holds_is_an_error() {
        let text = "a = 1e180 cm (u = 1e179 cm)\nb = 2e180 cm (u = 1e179 cm)";
        let words = "no finite slope";
        for more in ["", "\ncorrelate a, b by 0.5"] {
            let error = of(&format!("{text}{more}")).unwrap_err().to_string();
            assert!(error.contains(words), "{error}");
        }
        let sheet = Sheet::read(text).unwrap().sheet;
        let [a, b] = ["a", "b"].map(|name| sheet.cell(name).unwrap());
        let error = coupling(&sheet, a, b, &Settings::default()).unwrap_err();
        assert!(error.to_string().contains(words), "{error}");
    }

    #[test]
    fn what_cancels_has_no_correlation_and_is_no_error() {
        let text = "x = 1 (u = 0.9)\ny = 1 (u = 0.3)\na = 3 * x - 9 * y\ncorrelate x, y by 1";
        let sheet = Sheet::read(text).unwrap().sheet;
        let [a, x] = ["a", "x"].map(|name| sheet.cell(name).unwrap());
        let found = coupling(&sheet, a, x, &Settings::of(&sheet)).unwrap();
        assert_eq!(found.correlation, None);
    }

    #[test]
    fn unlike_units_have_no_difference() {
        let error = of("a = 20 cm\nb = 22 s").unwrap_err();
        assert_eq!(
            error.to_string(),
            "`a` and `b` are not in one unit, so they have no difference"
        );
    }

    fn changed(text: &str) -> Change {
        let sheet = Sheet::read(text).unwrap().sheet;
        let [a, b] = ["a", "b"].map(|name| sheet.cell(name).unwrap());
        change(&sheet, a, b, &Settings::of(&sheet)).unwrap()
    }

    /// `a = πD²/4 · 20 cm`, and `b` in place of 22.5 cm: u = πD²/4 · 0.9 cm · √2 = 3.9984 mL, with
    /// or without an uncertainty of the diameter (JCGM 100:2008, equation 10, by hand).
    #[test]
    fn what_scales_both_alike_makes_no_change() {
        let volumes = "v = 20 cm (u = 9 mm)\nw = 22.5 cm (u = 9 mm)\n\
                       a [mL] = pi * d ^ 2 / 4 * v\nb [mL] = pi * d ^ 2 / 4 * w";
        let expected = std::f64::consts::PI * 0.9 * std::f64::consts::SQRT_2;
        for d in ["d = 2 cm (u = 1 mm)", "d = 2 cm"] {
            let found = changed(&format!("{d}\n{volumes}"));
            assert!((found.standard - expected).abs() < 1e-12, "{d}: {found:?}");
            assert_eq!(found.unstated, [], "{d}");
        }
    }

    /// As [`difference`]: an offset cancels, what is of one cell alone counts in full, and what
    /// both have in unlike shares counts with what is left.
    #[test]
    fn what_shifts_both_alike_makes_no_change_either() {
        let found = changed(
            "o = 5 cm (u = 1 cm)\nx = 20 cm (u = 3 mm)\ny = 26 cm (u = 4 mm)\na = x + o\nb = y + o",
        );
        assert!((found.standard - 0.5).abs() < 1e-12);
        let found = changed("d = 2 cm\nx = 1 cm (u = 1 mm)\na = d + x\nb = 3 * d + 2 * x");
        assert_eq!(found.unstated.len(), 1);
    }

    /// Slopes 1 cm and 3 cm of values 2 cm2 and 8 cm2: the difference leaves 2 cm, scaling
    /// 3 · 2/8 − 1 = −0.25 cm, so that 0.4 cm of the cause bring 0.1 cm2.
    #[test]
    fn what_is_shared_in_part_leaves_the_rest() {
        let found = changed(
            "x = 1 cm (u = 4 mm)\na [cm2] = (x + 1 cm) * 1 cm\nb [cm2] = 3 * x * 1 cm + 5 cm2",
        );
        assert!((found.standard - 0.1).abs() < 1e-12, "{found:?}");
    }

    /// Two means of three beats that scatter alike have 2 + 2 degrees of freedom (JCGM 100:2008,
    /// G.4.1), and t95(4) = 2.78 (table G.2).
    #[test]
    fn few_beats_ask_for_more_than_two_standard_uncertainties() {
        let found = changed("a = beats(19, 20, 21) cm\nb = beats(21, 22, 23) cm");
        assert_eq!(found.freedom, 4.0);
        assert!((found.factor - 2.78).abs() < 0.005);
        let u = (2.0f64 / 3.0).sqrt();
        assert!((found.least() - found.factor * u).abs() < 1e-12);
        let tied =
            changed("a = beats(19, 20, 21) cm\nb = beats(21, 22, 23) cm\ncorrelate a, b by 0.5");
        assert_eq!(tied.freedom, f64::INFINITY);
        assert!((tied.factor - 1.96).abs() < 0.0001);
    }
}
