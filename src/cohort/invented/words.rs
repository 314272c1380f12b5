//! The closed lists of words in the table, as types.

/// Why the two exams of a row were made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Before and after a fluid challenge.
    Fluid,
    /// Twice with nothing given between: what the unit's repeatability rests on.
    RepeatWithoutFluid,
    /// Before and during a passive leg raise.
    PassiveLegRaise,
}

/// Sex, as the formulas for body weight use it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sex {
    /// `female`
    Female,
    /// `male`
    Male,
}

/// Cardiac rhythm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rhythm {
    /// `regular`
    Regular,
    /// `irregular`: here, atrial fibrillation.
    Irregular,
}

/// How the calipers were set on the outflow tract.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Convention {
    /// `inner_edge`: inner edge to inner edge.
    InnerEdge,
    /// `leading_edge`: leading edge to leading edge, which takes in one wall.
    LeadingEdge,
}

/// Quality of the Doppler signal of an exam.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signal {
    /// `good`
    Good,
    /// `poor`
    Poor,
}

/// Change of the dose of vasoactive drugs between the exams.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VasoactiveChange {
    /// `none`
    None,
    /// `up`
    Up,
    /// `down`
    Down,
}

impl Purpose {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fluid => "fluid",
            Self::RepeatWithoutFluid => "repeat_without_fluid",
            Self::PassiveLegRaise => "passive_leg_raise",
        }
    }
}

impl Sex {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Female => "female",
            Self::Male => "male",
        }
    }
}

impl Rhythm {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Regular => "regular",
            Self::Irregular => "irregular",
        }
    }
}

impl Convention {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::InnerEdge => "inner_edge",
            Self::LeadingEdge => "leading_edge",
        }
    }
}

impl Signal {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Poor => "poor",
        }
    }
}

impl VasoactiveChange {
    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Up => "up",
            Self::Down => "down",
        }
    }
}
