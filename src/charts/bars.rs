//! What the two charts of horizontal bars share: room for the values at the ends, rows that do not fit.

use super::canvas::{Anchor, Canvas, Plot};
use super::error::ChartError;
use super::look::Role;
use super::range::Range;
use super::text::Font;

/// Between a bar's end and its value, px.
const GAP: f64 = 5.0;

/// A value beside a bar's end.
pub(super) struct EndLabel {
    /// The end in data units.
    pub at: f64,
    /// The label stands on the left of it.
    pub left: bool,
    /// Nothing stands on the other side of zero.
    pub alone: bool,
    pub text: String,
}

/// A range around zero and all ends in which every label has its room, for a plot of that width in px.
pub(super) fn range(ends: &[EndLabel], font: Font, width: f64) -> Range {
    let data = Range::of(ends.iter().map(|end| end.at))
        .unwrap_or(Range {
            low: 0.0,
            high: 0.0,
        })
        .including(0.0);
    let data = if data.span() == 0.0 {
        Range {
            low: -1.0,
            high: 1.0,
        }
    } else {
        data
    };
    let mut range = data;
    // Each label needs so many px beside its end; widening one side narrows the px per unit, so this is repeated.
    for _ in 0..20 {
        let per_px = range.span() / width;
        let mut next = data;
        for end in ends {
            let room = (font.width(&end.text) + GAP + 4.0).min(width * 0.4) * per_px;
            next = next.including(if end.left {
                end.at - room
            } else {
                end.at + room
            });
        }
        range = next;
    }
    range
}

/// Writes the value beside its end; where that is too narrow, across the zero line, which is free there for bars on
/// one side.
pub(super) fn paint_end(
    canvas: &Canvas<'_>,
    plot: &Plot,
    end: &EndLabel,
    middle: f64,
    font: Font,
) -> Result<(), ChartError> {
    let width = font.width(&end.text);
    let beside = |at: f64, left: bool| {
        let x = plot.at(at, 0.0).0;
        if left {
            (x - GAP - width, Anchor::End, x - GAP)
        } else {
            (x + GAP, Anchor::Start, x + GAP)
        }
    };
    // The plot's right rim is kept free for half a tick label, so a value may use it.
    let fits = |start: f64| start >= plot.rect.left && start + width <= plot.rect.right + font.size;
    let mut places = vec![beside(end.at, end.left)];
    if end.alone {
        places.push(beside(0.0, !end.left));
    }
    let Some((_, anchor, x)) = places.into_iter().find(|place| fits(place.0)) else {
        return Ok(());
    };
    canvas.text(
        &end.text,
        (x, middle + 0.36 * font.size),
        anchor,
        font,
        Role::ValueLabel,
    )
}

/// Rows drawn, and the note about those that found no room.
pub(super) struct Rows {
    pub drawn: usize,
    pub note: Option<String>,
}

/// As many rows as have room; `capacity` gets whether a note stands above them.
pub(super) fn rows(count: usize, capacity: impl Fn(Option<&str>) -> usize) -> Rows {
    if count <= capacity(None) {
        return Rows {
            drawn: count,
            note: None,
        };
    }
    let note = |drawn: usize| format!("The first {drawn} of {count}; the description has all.");
    let drawn = capacity(Some(&note(count))).min(count);
    Rows {
        drawn,
        note: Some(note(drawn)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_has_its_room_beside_its_end() {
        let font = Font::normal(12.0);
        let ends = [
            EndLabel {
                at: -9.75,
                left: true,
                alone: false,
                text: "−9.75".into(),
            },
            EndLabel {
                at: 10.25,
                left: false,
                alone: false,
                text: "+10.25".into(),
            },
        ];
        let range = range(&ends, font, 200.0);
        let px = 200.0 / range.span();
        assert!((ends[0].at - range.low) * px >= font.width("−9.75") + GAP);
        assert!((range.high - ends[1].at) * px >= font.width("+10.25") + GAP);
    }

    #[test]
    fn rows_without_room_are_announced() {
        let rows_found = rows(12, |note| if note.is_some() { 7 } else { 8 });
        assert_eq!(rows_found.drawn, 7);
        assert!(rows_found.note.unwrap().starts_with("The first 7 of 12"));
        assert!(rows(8, |_| 8).note.is_none());
    }
}
