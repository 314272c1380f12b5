//! Sentences of the alternative in words, and the chart that has nothing to draw.

use super::axis::{Axis, Size};
use super::canvas::Anchor;
use super::data::{Reference, ReferenceDirection};
use super::error::ChartError;
use super::frame::paint_paper;
use super::header::{Header, RIM};
use super::look::Role;
use super::number::significant;
use super::range::Range;
use super::svg::{Words, document};
use super::text::clean;

/// Digits in sentences.
pub(super) const DIGITS: usize = 4;

/// `1 point`, `12 points`.
pub(super) fn count(count: usize, one: &str, many: &str) -> String {
    let number = super::number::fixed(count as f64, 0);
    format!("{number} {}", if count == 1 { one } else { many })
}

/// A value with its unit.
pub(super) fn value(axis: &Axis, value: f64) -> String {
    axis.with_unit(&significant(value, DIGITS))
}

/// `Stroke volume from 40 to 92 mL`; `None` without finite values.
pub(super) fn span(axis: &Axis, values: impl IntoIterator<Item = f64>) -> Option<String> {
    let range = Range::of(values)?;
    let (low, high) = (
        significant(range.low, DIGITS),
        significant(range.high, DIGITS),
    );
    let name = if axis.label.trim().is_empty() {
        "values"
    } else {
        axis.label.trim()
    };
    Some(format!("{name} from {low} to {}", axis.with_unit(&high)))
}

/// ` Reference lines: lower limit at 60 mL.`, or nothing.
pub(super) fn references(references: &[Reference], x: &Axis, y: &Axis) -> String {
    if references.is_empty() {
        return String::new();
    }
    let one = |reference: &Reference| {
        let axis = match reference.direction {
            ReferenceDirection::Horizontal => y,
            ReferenceDirection::Vertical => x,
        };
        format!("{} at {}", reference.label, value(axis, reference.at))
    };
    let list: Vec<String> = references.iter().map(one).collect();
    format!(" Reference lines: {}.", list.join("; "))
}

/// A chart without data says so where the plot would be.
pub(super) fn empty_chart(
    size: Size,
    words: &Words<'_>,
    message: &str,
) -> Result<String, ChartError> {
    document(size, words, |canvas| {
        paint_paper(canvas, size)?;
        let header = Header::lay_out(size, words.title, &[], &[]);
        header.paint(canvas)?;
        let font = header.fonts.text;
        let (width, height) = (f64::from(size.width()), f64::from(size.height()));
        let lines = font.wrap(&clean(message), width - 4.0 * RIM, 4);
        let first = (header.bottom + height) / 2.0 - (lines.len() as f64 - 1.0) * font.line() / 2.0;
        for (index, line) in lines.iter().enumerate() {
            let at = (width / 2.0, first + index as f64 * font.line());
            canvas.text(line, at, Anchor::Middle, font, Role::Message)?;
        }
        Ok(())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_have_units_and_grammar() {
        let axis = Axis::new("Stroke volume", "mL");
        assert_eq!(count(1, "point", "points"), "1 point");
        assert_eq!(count(12_000, "point", "points"), "12\u{202f}000 points");
        assert_eq!(
            span(&axis, [58.0, 42.25]).unwrap(),
            "Stroke volume from 42.25 to 58\u{a0}mL"
        );
        assert_eq!(span(&axis, []), None);
        let lines = [Reference::horizontal(60.0, "lower limit")];
        assert_eq!(
            references(&lines, &Axis::default(), &axis),
            " Reference lines: lower limit at 60\u{a0}mL."
        );
    }
}
