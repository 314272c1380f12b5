//! How often each digit is the last of a reading.

use super::axis::{Axis, Size};
use super::data::{Point, Reference};
use super::error::ChartError;
use super::layers::{Along, Drawn, Layer, Stage};
use super::number::significant;

/// Columns for the digits 0 to 9.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DigitColumns {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// Which digit it is, for instance `Last digit of the diameter, 0.1 mm`.
    pub digit: String,
    /// What is counted, for instance `Readings`.
    pub counted: String,
    /// How often each digit is last.
    pub counts: [usize; 10],
}

const EMPTY: &str = "No readings to count.";

impl DigitColumns {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where the drawing fails.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        let names: Vec<String> = (0..10).map(|digit: usize| digit.to_string()).collect();
        let y = Axis::new(&self.counted, "");
        Stage {
            title: &self.title,
            key: &self.key,
            description: self.description(),
            x: Along::Names {
                label: &self.digit,
                names: &names,
            },
            y: &y,
            whole: true,
            x_range: None,
            y_range: None,
            notes: self.even_in_words().into_iter().collect(),
            layers: self.layers(),
            marks: Vec::new(),
            references: self.even(),
            empty: EMPTY,
        }
        .svg(size)
    }

    /// The chart in words: every digit with its count, and how often each would be last were none preferred.
    pub fn description(&self) -> String {
        let text = format!("Columns of {} by {}: ", self.counted, self.digit);
        if self.total() == 0 {
            return text + EMPTY;
        }
        let one = |(digit, count): (usize, &usize)| format!("{digit}: {count}");
        let list: Vec<String> = self.counts.iter().enumerate().map(one).collect();
        format!(
            "{text}{} in all, {} for each digit were none preferred. {}.",
            self.total(),
            significant(self.expected(), 3),
            list.join(", ")
        )
    }

    fn total(&self) -> usize {
        self.counts.iter().sum()
    }

    fn expected(&self) -> f64 {
        self.total() as f64 / 10.0
    }

    fn layers(&self) -> Vec<Layer> {
        if self.total() == 0 {
            return Vec::new();
        }
        let column = |(digit, count): (usize, &usize)| Point {
            x: digit as f64,
            y: *count as f64,
        };
        let columns = self.counts.iter().enumerate().map(column).collect();
        vec![Layer::silent(&self.counted, Drawn::Columns(columns, 0))]
    }

    fn even(&self) -> Vec<Reference> {
        match self.total() {
            0 => Vec::new(),
            // A label on the line would lie on a column; it is told above.
            _ => vec![Reference::horizontal(self.expected(), "")],
        }
    }

    /// What the line across the columns is.
    fn even_in_words(&self) -> Option<String> {
        let expected = significant(self.expected(), 3);
        (self.total() > 0).then(|| format!("Line: {expected} for each digit were none preferred"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_is_told_beside_the_drawing_and_not_on_a_column() {
        let chart = DigitColumns {
            digit: "last digit".into(),
            counted: "Readings".into(),
            counts: [30, 0, 0, 0, 0, 15, 0, 0, 5, 12],
            ..DigitColumns::default()
        };
        let svg = chart.svg(Size::new(640, 360).unwrap()).unwrap();
        assert!(
            svg.contains("Line: 6.2 for each digit were none preferred"),
            "{svg}"
        );
        assert!(!svg.contains("class=\"reference-label\""), "{svg}");
    }

    #[test]
    fn the_description_has_every_digit_and_the_even_count() {
        let chart = DigitColumns {
            digit: "last digit".into(),
            counted: "Readings".into(),
            counts: [30, 0, 0, 0, 0, 15, 0, 0, 5, 0],
            ..DigitColumns::default()
        };
        let text = chart.description();
        assert!(
            text.contains("50 in all, 5 for each digit were none preferred. 0: 30, 1: 0"),
            "{text}"
        );
    }
}
