//! What an axis says, and how large a picture is.

use super::error::ChartError;

/// What an axis shows: a label and a unit as a person reads them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Axis {
    /// What is drawn, for instance `Stroke volume`.
    pub label: String,
    /// Its unit as people write it, for instance `mL`; empty for a bare number.
    pub unit: String,
}

impl Axis {
    /// An axis from its label and its unit (empty for a bare number).
    pub fn new(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Axis {
            label: label.into(),
            unit: unit.into(),
        }
    }

    /// Label and unit in one: `Stroke volume (mL)`.
    pub fn name(&self) -> String {
        match (self.label.trim(), self.unit.trim()) {
            (label, "") => label.to_owned(),
            ("", unit) => unit.to_owned(),
            (label, unit) => format!("{label} ({unit})"),
        }
    }

    /// A number with the unit, as in a sentence.
    pub(super) fn with_unit(&self, number: &str) -> String {
        match self.unit.trim() {
            "" => number.to_owned(),
            // A no-break space keeps number and unit together (ISO 80000-1, 7.1.4: a space between them).
            unit => format!("{number}\u{a0}{unit}"),
        }
    }
}

/// Width and height of a picture in CSS pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    width: u32,
    height: u32,
}

impl Size {
    /// A size of 320 to 4000 px by 240 to 4000 px.
    ///
    /// # Errors
    /// [`ChartError::Size`] outside that range.
    pub fn new(width: u32, height: u32) -> Result<Self, ChartError> {
        if (320..=4000).contains(&width) && (240..=4000).contains(&height) {
            Ok(Size { width, height })
        } else {
            Err(ChartError::Size { width, height })
        }
    }

    /// Width in CSS pixels.
    pub fn width(self) -> u32 {
        self.width
    }

    /// Height in CSS pixels.
    pub fn height(self) -> u32 {
        self.height
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_joins_label_and_unit_and_leaves_out_what_is_empty() {
        assert_eq!(
            Axis::new("Stroke volume", "mL").name(),
            "Stroke volume (mL)"
        );
        assert_eq!(Axis::new("Exam", " ").name(), "Exam");
        assert_eq!(Axis::new("", "mL").name(), "mL");
    }

    #[test]
    fn a_size_outside_the_range_is_refused_with_both_numbers() {
        let error = Size::new(319, 240).unwrap_err();
        assert_eq!(
            error,
            ChartError::Size {
                width: 319,
                height: 240
            }
        );
        assert!(error.to_string().contains("319 by 240 px"));
        assert!(Size::new(320, 4001).is_err());
        assert!(Size::new(320, 240).is_ok());
    }
}
