//! Published repeatability, by name: taken in by a sheet that asks for it, never silently.

/// One published set of coefficients of variation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Repeatability {
    /// The name in the notation: `repeatability robson_1988`.
    pub name: &'static str,
    /// Where it was published.
    pub source: &'static str,
    /// Cells of the catalogue and their coefficient of variation in per cent, taken as relative
    /// standard uncertainty.
    pub per_cent: &'static [(&'static str, f64)],
}

/// All published sets.
pub const REPEATABILITIES: &[Repeatability] = &[Repeatability {
    name: "robson_1988",
    source: "Robson 1988 Br Heart J 59:680-4",
    per_cent: &[
        ("lvot_diameter", 4.1),
        ("lvot_vti", 6.4),
        ("heart_rate", 5.0),
    ],
}];

/// The set of that name.
pub fn repeatability(name: &str) -> Option<&'static Repeatability> {
    REPEATABILITIES.iter().find(|set| set.name == name)
}

impl Repeatability {
    /// The coefficient of variation of a cell, as a share; the exam it belongs to is left aside.
    pub fn share_of(&self, cell: &str) -> Option<f64> {
        let bare = cell.rsplit('.').next().unwrap_or(cell);
        let found = self.per_cent.iter().find(|(name, _)| *name == bare);
        found.map(|(_, per_cent)| per_cent / 100.0)
    }
}
