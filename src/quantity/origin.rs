//! Origin: where a number came from, the worst of what it used.
//!
//! ```
//! use semilunar::quantity::Origin;
//!
//! assert!(Origin::Measured < Origin::Estimated && Origin::Estimated < Origin::Assumed);
//! ```

use serde::{Deserialize, Serialize};

/// Where a number came from. Ordered: a result takes the greatest of what it used.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(rename_all = "lowercase")]
pub enum Origin {
    /// Measured in this patient.
    #[default]
    Measured,
    /// Estimated from something else that was measured.
    Estimated,
    /// Assumed, without a measurement.
    Assumed,
}

impl Origin {
    /// The word of the notation and of JSON.
    pub fn word(self) -> &'static str {
        match self {
            Origin::Measured => "measured",
            Origin::Estimated => "estimated",
            Origin::Assumed => "assumed",
        }
    }

    /// The origin a word names.
    pub fn from_word(word: &str) -> Option<Origin> {
        [Origin::Measured, Origin::Estimated, Origin::Assumed]
            .into_iter()
            .find(|origin| origin.word() == word)
    }
}
