//! What one entry of the catalogue says about its cell.
//!
//! Formulas and conditions are text in the sheet notation, so that one parser reads the catalogue and
//! the user's own lines alike. Nothing here computes.

use crate::quantity::Kind;

/// A cell of the catalogue: what it is called, shown in, computed from, and what to say about it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// Name in a sheet, in lower case with underscores: `stroke_volume`.
    pub name: &'static str,
    /// Name for people: "Stroke volume".
    pub label: &'static str,
    /// Symbol in LaTeX, for typeset formulas.
    pub symbol: &'static str,
    /// UCUM code of the unit the cell is shown in; `1` for findings.
    pub unit: &'static str,
    /// Kind, where unlike quantities share the dimension; [`Kind::Plain`] otherwise.
    pub kind: Kind,
    /// Where the value comes from.
    pub what: What,
    /// Bounds of a possible reading; a reading outside is refused. Mostly on inputs, and on derived
    /// cells that are often read from a monitor instead.
    pub domain: Option<Domain>,
    /// Usual ranges. Sources that disagree stand side by side.
    pub usual: &'static [UsualRange],
    /// What must hold for the value to mean what its name says.
    pub assumptions: &'static [&'static str],
    /// Source of the formula, or of the way to take the reading. "memory" marks a citation that was
    /// not looked up, "common practice, no source" a habit of the ward.
    pub source: &'static str,
    /// LOINC code of the measurement.
    pub loinc: Option<&'static str>,
    /// Uncertainty of the formula itself, beside that of its readings.
    pub model_uncertainty: Option<ModelUncertainty>,
    /// Advice on this cell. It is shown here and on every cell computed from this one; it never
    /// changes a number.
    pub advice: &'static [Advice],
}

impl Entry {
    /// The optional parts of an entry, all absent: an entry states its own and takes the rest from here.
    pub(super) const BARE: Entry = Entry {
        name: "",
        label: "",
        symbol: "",
        unit: "1",
        kind: Kind::Plain,
        what: What::Input,
        domain: None,
        usual: &[],
        assumptions: &[],
        source: "",
        loinc: None,
        model_uncertainty: None,
        advice: &[],
    };
}

/// Where the value of a cell comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A reading, and nothing else.
    Input,
    /// A reading passed through a formula, which sees it as `reading`. The formula can withhold it
    /// with a reason, or let something else stand in.
    GuardedInput(&'static str),
    /// A word from a closed list.
    Finding(&'static [&'static str]),
    /// A formula. A reading given for the cell takes precedence over it.
    Derived(&'static str),
}

/// Bounds of a possible reading, inclusive, in the entry's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Domain {
    /// Smallest possible reading.
    pub low: f64,
    /// Largest possible reading.
    pub high: f64,
}

/// A range in which most people of a group are found, in the entry's unit.
///
/// It describes a group; it is neither a limit of safety nor a target of treatment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualRange {
    /// Lower end, where the source gives one.
    pub low: Option<f64>,
    /// Upper end, where the source gives one.
    pub high: Option<f64>,
    /// Whom the range describes: "adults", "adult women".
    pub who: &'static str,
    /// Where the range was published; "memory" marks one that was not looked up.
    pub source: &'static str,
}

/// Uncertainty that a formula has of its own, however exact its readings are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ModelUncertainty {
    /// Standard uncertainty in the entry's unit.
    pub standard: f64,
    /// Where the figure comes from.
    pub source: &'static str,
}

/// A remark that is given when a condition holds.
///
/// A comparison with a cell that is missing does not hold, and neither does `is WORD` for a finding
/// that is not stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Advice {
    /// The condition, in the sheet notation.
    pub when: &'static str,
    /// The remark, for a clinician.
    pub text: &'static str,
    /// How much it matters.
    pub weight: Weight,
    /// Where it comes from.
    pub source: &'static str,
}

/// How much an advice matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// Good to know when reading the number.
    Note,
    /// The number may mislead: look before using it.
    Caution,
}

/// Shared by the cells whose usual ranges hold for adults only.
pub(super) const ADULT_RANGES_ONLY: Advice = Advice {
    when: "age_group is child",
    text: "The usual ranges shown are those of adults and do not apply to a child.",
    weight: Weight::Caution,
    source: "the sources of the ranges studied adults",
};

/// For habits of the ward that no publication stands behind.
pub(super) const COMMON_PRACTICE: &str = "common practice, no source";
