//! Units: UCUM codes, with the ward's spellings accepted and pretty spellings shown.
//!
//! The `ucum` library is the one source of factors. This module adds what a person at the
//! bedside needs around it: `mmHg`, `bpm` and `cm²` are understood, and people are shown
//! `mmHg` and `cm²` while files hold `mm[Hg]` and `cm2`.
//!
//! ```
//! use semilunar::quantity::Unit;
//!
//! let unit = Unit::parse("dyn·s/cm⁵").unwrap();
//! assert_eq!(unit.code(), "dyn.s/cm5");
//! assert_eq!(unit.pretty(), "dyn·s/cm⁵");
//! assert_eq!(Unit::parse("mmHg").unwrap(), Unit::parse("mm[Hg]").unwrap());
//! let mm = Unit::parse("mm").unwrap();
//! assert_eq!(mm.convert(20.5, Unit::parse("cm").unwrap()), Some(2.05));
//! ```

use std::fmt;
use std::sync::{OnceLock, RwLock};

use super::dimension::Dimension;
use super::scale::Scale;
use super::spelling;

/// A unit of measure. Two units are equal when their UCUM codes are.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Unit(u32);

/// What is known of a unit; leaked once per distinct code, so that [`Unit`] is a small number.
struct Facts {
    code: String,
    pretty: String,
    latex: String,
    dimension: Dimension,
    factor: f64,
    per_area: bool,
}

/// Why a text is no unit.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum UnitError {
    /// Not a UCUM code, nor a spelling known here.
    #[error("`{text}` is not a unit: {why}")]
    Unknown {
        /// The text as it was given.
        text: String,
        /// What the UCUM library says of it.
        why: String,
    },
    /// A unit with a zero of its own or a logarithmic one, such as `Cel`.
    #[error("`{text}` has a zero of its own, so it cannot be multiplied: use a proportional unit")]
    NotProportional {
        /// The text as it was given.
        text: String,
    },
    /// The text is too long to be a unit.
    #[error("a unit of {length} bytes is too long: at most {limit} are read")]
    TooLong {
        /// Bytes in the text.
        length: usize,
        /// The limit.
        limit: usize,
    },
}

/// Longest text read as a unit, in bytes.
const LONGEST: usize = 80;

#[derive(Default)]
struct Interner {
    facts: Vec<&'static Facts>,
    by_code: foldhash::HashMap<String, Unit>,
    by_text: foldhash::HashMap<String, Unit>,
    /// Steps between units found before: readings come in the same few units again and again,
    /// and finding the decimal in a step takes far longer than the step.
    scales: foldhash::HashMap<(Unit, Unit), Option<Scale>>,
}

fn interner() -> &'static RwLock<Interner> {
    static TABLE: OnceLock<RwLock<Interner>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut table = Interner::default();
        // The unit of bare numbers is needed without a failure path; it has number 0.
        table.add(Facts {
            code: "1".into(),
            pretty: String::new(),
            latex: String::new(),
            dimension: Dimension::NONE,
            factor: 1.0,
            per_area: false,
        });
        RwLock::new(table)
    })
}

impl Interner {
    fn add(&mut self, facts: Facts) -> Unit {
        if let Some(unit) = self.by_code.get(&facts.code) {
            return *unit;
        }
        let unit = Unit(u32::try_from(self.facts.len()).unwrap_or(u32::MAX));
        self.by_code.insert(facts.code.clone(), unit);
        self.facts.push(Box::leak(Box::new(facts)));
        unit
    }
}

impl Unit {
    /// The unit of a bare number.
    pub const ONE: Unit = Unit(0);

    /// Reads a UCUM code or a ward spelling of one.
    ///
    /// # Errors
    /// [`UnitError`] for a text that is no unit, or a unit that is not proportional.
    pub fn parse(text: &str) -> Result<Unit, UnitError> {
        if text.len() > LONGEST {
            return Err(UnitError::TooLong {
                length: text.len(),
                limit: LONGEST,
            });
        }
        let table = interner();
        if let Ok(table) = table.read()
            && let Some(unit) = table.by_text.get(text)
        {
            return Ok(*unit);
        }
        let facts = analyze(text)?;
        let mut table = table
            .write()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        let unit = table.add(facts);
        table.by_text.insert(text.to_owned(), unit);
        Ok(unit)
    }

    fn facts(self) -> &'static Facts {
        let table = interner()
            .read()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        table.facts[self.0 as usize]
    }

    /// The UCUM code, as files and JSON hold it.
    pub fn code(self) -> &'static str {
        &self.facts().code
    }

    /// The spelling people are shown: `mmHg`, `cm²`; empty for a bare number.
    pub fn pretty(self) -> &'static str {
        &self.facts().pretty
    }

    /// The unit in LaTeX, upright.
    pub fn latex(self) -> &'static str {
        &self.facts().latex
    }

    /// The dimension.
    pub fn dimension(self) -> Dimension {
        self.facts().dimension
    }

    /// How many coherent UCUM base units (m, s, g, rad, …) one of this unit is.
    pub fn factor(self) -> f64 {
        self.facts().factor
    }

    /// What a quantity in this unit is, in words: `in cm`, or `a bare number`.
    pub(crate) fn words(self) -> String {
        match self {
            Unit::ONE => "a bare number".into(),
            unit => format!("in {unit}"),
        }
    }

    /// Whether the unit is one of shares: `%`, and parts in a thousand, a million and so on (UCUM's
    /// `[ppth]`, `[ppm]`, `[ppb]` and `[pptr]`).
    pub fn is_share(self) -> bool {
        const SHARES: [&str; 5] = ["%", "[ppth]", "[ppm]", "[ppb]", "[pptr]"];
        SHARES.contains(&self.code())
    }

    /// Whether an area stands in the unit's own denominator or product beside other lengths, as
    /// in `mL/m2`: such units belong to quantities per body surface.
    pub fn is_per_area(self) -> bool {
        self.facts().per_area
    }

    /// The step from magnitudes in this unit to magnitudes in `other`; `None` where the
    /// dimensions differ.
    pub fn scale_to(self, other: Unit) -> Option<Scale> {
        if self == other {
            return Some(Scale::Same);
        }
        let table = interner();
        if let Ok(table) = table.read()
            && let Some(scale) = table.scales.get(&(self, other))
        {
            return *scale;
        }
        let (a, b) = (self.facts(), other.facts());
        let scale = (a.dimension == b.dimension).then(|| Scale::between(a.factor, b.factor));
        if let Ok(mut table) = table.write() {
            table.scales.insert((self, other), scale);
        }
        scale
    }

    /// A magnitude in this unit as a magnitude in `other`; `None` where the dimensions differ.
    pub fn convert(self, magnitude: f64, other: Unit) -> Option<f64> {
        self.scale_to(other).map(|scale| scale.apply(magnitude))
    }
}

fn analyze(text: &str) -> Result<Facts, UnitError> {
    let unknown = |why: String| UnitError::Unknown {
        text: text.to_owned(),
        why,
    };
    let code = spelling::explicit(&spelling::to_ucum(text));
    let tree = ucum::parse(&code).map_err(|e| unknown(e.to_string()))?;
    let analysis = ucum::analyze(&code).map_err(|e| unknown(e.to_string()))?;
    if analysis.is_special || analysis.offset != 0.0 {
        return Err(UnitError::NotProportional {
            text: text.to_owned(),
        });
    }
    if !(analysis.factor.is_finite() && analysis.factor > 0.0) {
        return Err(unknown("its size is zero or beyond counting".into()));
    }
    let code = spelling::canonical(&tree.to_string());
    Ok(Facts {
        pretty: spelling::pretty(&code),
        latex: spelling::latex(&code),
        dimension: Dimension::from_exponents(analysis.dimension.0),
        factor: analysis.factor,
        per_area: has_area_beside_lengths(&code),
        code,
    })
}

/// Looks at the factors of the code one by one, before lengths cancel between them.
fn has_area_beside_lengths(code: &str) -> bool {
    let factors: Vec<[i8; 7]> = code
        .split(['.', '/'])
        .filter_map(|factor| ucum::analyze(factor).ok())
        .map(|analysis| analysis.dimension.0)
        .collect();
    let area = |d: &[i8; 7]| d[0].abs() == 2 && d[1..].iter().all(|e| *e == 0);
    factors.iter().any(area) && factors.iter().any(|d| d[0] != 0 && !area(d))
}

impl fmt::Display for Unit {
    /// The UCUM code.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl fmt::Debug for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Unit({})", self.code())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(text: &str) -> Unit {
        Unit::parse(text).unwrap()
    }

    #[test]
    fn ward_spellings_are_the_ucum_unit() {
        for (ward, ucum) in [
            ("mmHg", "mm[Hg]"),
            ("cmH2O", "cm[H2O]"),
            ("bpm", "/min"),
            ("beats/min", "/min"),
            ("1/min", "/min"),
            ("cm²", "cm2"),
            ("cm^2", "cm2"),
            ("ml", "mL"),
            ("l/min", "L/min"),
            ("L/min/m²", "L/min/m2"),
            ("dyn·s/cm⁵", "dyn.s/cm5"),
            ("dyn·s·m²/cm⁵", "dyn.s.m2/cm5"),
            ("dyn·s·cm⁻⁵", "dyn.s.cm-5"),
            ("WU", "[wood'U]"),
            ("°", "deg"),
            ("cc", "mL"),
        ] {
            assert_eq!(unit(ward), unit(ucum), "{ward}");
        }
    }

    #[test]
    fn conversions_are_clean_decimals_where_the_units_are() {
        // UCUM Table 4 and 5 definitions: 1 L = 1000 mL, 1 min = 60 s; exact.
        for (from, to, one) in [
            ("cm3", "mL", 1.0),
            ("L/min", "mL/min", 1000.0),
            ("/s", "/min", 60.0),
            ("cm", "mm", 10.0),
            ("kg", "g", 1000.0),
            ("%", "1", 0.01),
        ] {
            assert_eq!(unit(from).convert(1.0, unit(to)), Some(one), "{from}");
        }
    }

    #[test]
    fn pressure_over_flow_is_79_9932_customary_resistance_units() {
        // UCUM defines m[Hg] as 133.3220 kPa, so 0.6 × 133.322 Pa = 79.9932.
        let exact = unit("mm[Hg].min/L").convert(1.0, unit("dyn.s/cm5"));
        assert_eq!(exact, Some(79.9932));
        assert_eq!(
            unit("[wood'U]").convert(1.0, unit("dyn.s/cm5")),
            Some(79.9932)
        );
    }

    #[test]
    fn units_that_are_none_say_why() {
        assert!(unit("cm").convert(1.0, unit("s")).is_none());
        assert!(matches!(
            Unit::parse("Cel"),
            Err(UnitError::NotProportional { .. })
        ));
        assert!(matches!(
            Unit::parse("furlong_x"),
            Err(UnitError::Unknown { .. })
        ));
        assert!(matches!(
            Unit::parse(&"m".repeat(500)),
            Err(UnitError::TooLong { .. })
        ));
    }

    #[test]
    fn per_area_looks_before_lengths_cancel() {
        for (text, expected) in [
            ("mL/m2", true),
            ("L/min/m2", true),
            ("cm", false),
            ("m2", false),
            ("W/m2", true),
            ("cm/min", false),
        ] {
            assert_eq!(unit(text).is_per_area(), expected, "{text}");
        }
    }
}
