//! Reference lines, marked points and their labels over a plot.

use super::canvas::{Anchor, Canvas, Plot};
use super::data::{Reference, ReferenceDirection};
use super::error::ChartError;
use super::look::Role;
use super::place::{Candidate, Placer, Rect};
use super::text::{Font, clean};

/// Between a label and what it names, px.
const GAP: f64 = 4.0;

/// Around a marked point no label may begin, px.
const CLEAR: f64 = 8.0;

/// A marked point on the picture.
pub(super) struct Marked<'a> {
    pub at: (f64, f64),
    pub series: usize,
    pub label: &'a str,
}

/// What is drawn over the data, and the places still free for labels.
pub(super) struct Overlay<'a, 'b> {
    canvas: &'a Canvas<'b>,
    plot: &'a Plot,
    font: Font,
    placer: Placer,
}

impl<'a, 'b> Overlay<'a, 'b> {
    pub fn new(canvas: &'a Canvas<'b>, plot: &'a Plot, font: Font) -> Self {
        let placer = Placer::new(plot.rect);
        Overlay {
            canvas,
            plot,
            font,
            placer,
        }
    }

    /// Data that labels should leave visible.
    pub fn avoid(&mut self, points: impl IntoIterator<Item = (f64, f64)>) {
        self.placer.avoid(points);
    }

    /// A curve that labels should leave visible.
    pub fn avoid_line(&mut self, line: &[(f64, f64)]) {
        self.placer.avoid_line(line);
    }

    fn ends(&self, reference: &Reference) -> [(f64, f64); 2] {
        let rect = self.plot.rect;
        match reference.direction {
            ReferenceDirection::Horizontal => {
                let y = self.plot.at(0.0, reference.at).1;
                [(rect.left, y), (rect.right, y)]
            }
            ReferenceDirection::Vertical => {
                let x = self.plot.at(reference.at, 0.0).0;
                [(x, rect.top), (x, rect.bottom)]
            }
        }
    }

    /// The lines alone; their labels come after the data.
    pub fn reference_lines(&mut self, references: &[Reference]) -> Result<(), ChartError> {
        for reference in references {
            let ends = self.ends(reference);
            self.canvas.line(&ends, Role::Reference)?;
            self.placer.avoid_line(&ends);
        }
        Ok(())
    }

    /// Lines that cross bars, with paper on both sides so that they show.
    pub fn reference_lines_on_bars(&mut self, references: &[Reference]) -> Result<(), ChartError> {
        for reference in references {
            self.canvas
                .line(&self.ends(reference), Role::ReferenceRim)?;
        }
        self.reference_lines(references)
    }

    pub fn reference_labels(&mut self, references: &[Reference]) -> Result<(), ChartError> {
        for reference in references {
            let [from, _] = self.ends(reference);
            let direction = reference.direction;
            self.label(
                &reference.label,
                Role::ReferenceLabel,
                |font, rect, text| match direction {
                    ReferenceDirection::Horizontal => beside_horizontal(font, rect, from.1, text),
                    ReferenceDirection::Vertical => beside_vertical(font, rect, from.0, text),
                },
            )?;
        }
        Ok(())
    }

    /// Rings around the marked points, then their labels.
    pub fn marks(&mut self, marks: &[Marked<'_>]) -> Result<(), ChartError> {
        for mark in marks {
            self.canvas.dot(mark.at, 4.5, Role::Ring(mark.series))?;
            let (x, y) = mark.at;
            self.placer.take(Rect {
                left: x - CLEAR,
                top: y - CLEAR,
                right: x + CLEAR,
                bottom: y + CLEAR,
            });
        }
        for mark in marks {
            self.label(mark.label, Role::MarkLabel, |font, _, text| {
                around(font, mark.at, text)
            })?;
        }
        Ok(())
    }

    /// A label in the best free place; shortened where none is free, left to the description where even that fails.
    fn label(
        &mut self,
        label: &str,
        role: Role,
        candidates: impl Fn(Font, Rect, &str) -> Vec<Candidate>,
    ) -> Result<(), ChartError> {
        let (label, rect) = (clean(label), self.plot.rect);
        for share in [0.95, 0.55, 0.3, 0.18] {
            let text = self.font.shorten(&label, rect.width() * share);
            if text.is_empty() {
                break;
            }
            if let Some(place) = self.placer.place(&candidates(self.font, rect, &text)) {
                let at = (place.left, place.top + self.font.ascent());
                return self.canvas.text(&text, at, Anchor::Start, self.font, role);
            }
        }
        Ok(())
    }
}

fn boxed(font: Font, left: f64, top: f64, text: &str, penalty: usize) -> Candidate {
    let bottom = top + font.ascent() + font.descent();
    let area = Rect {
        left,
        top,
        right: left + font.width(text),
        bottom,
    };
    Candidate { area, penalty }
}

fn beside_horizontal(font: Font, plot: Rect, y: f64, text: &str) -> Vec<Candidate> {
    let width = font.width(text);
    let tops = [
        y - GAP / 2.0 - font.ascent() - font.descent(),
        y + GAP / 2.0,
    ];
    let free = plot.width() - width - 2.0 * GAP;
    let lefts = [1.0, 0.0, 0.5, 0.75, 0.25].map(|share| plot.left + GAP + free * share);
    tops.iter()
        .flat_map(|top| lefts.map(|left| boxed(font, left, *top, text, 0)))
        .collect()
}

fn beside_vertical(font: Font, plot: Rect, x: f64, text: &str) -> Vec<Candidate> {
    let lefts = [x + GAP, x - GAP - font.width(text)];
    let step = font.line();
    let rows = ((plot.height() - step) / step).floor().max(0.0) as usize;
    let tops = (0..=rows).map(|row| plot.top + 2.0 + row as f64 * step);
    tops.flat_map(|top| lefts.map(|left| boxed(font, left, top, text, 0)))
        .collect()
}

/// Places around a point, the near ones first.
fn around(font: Font, (x, y): (f64, f64), text: &str) -> Vec<Candidate> {
    let (width, height) = (font.width(text), font.ascent() + font.descent());
    let mut places = Vec::new();
    for (distance, penalty) in [(CLEAR, 0), (CLEAR + 6.0, 6)] {
        let (right, left) = (x + distance, x - distance - width);
        let (above, below) = (y - distance - height, y + distance);
        let (center, middle) = (x - width / 2.0, y - height / 2.0);
        // Ends or begins over the point: for points near the plot's edges.
        let (ending, beginning) = (x + CLEAR / 2.0 - width, x - CLEAR / 2.0);
        let spots = [
            (right, middle, 0),
            (center, above, 0),
            (center, below, 0),
            (left, middle, 0),
            (ending, above, 1),
            (beginning, above, 1),
            (ending, below, 1),
            (beginning, below, 1),
        ];
        places
            .extend(spots.map(|(left, top, worse)| boxed(font, left, top, text, penalty + worse)));
    }
    places
}

/// Room above the data as a share of the span, so that a label fits over the highest marked point.
pub(super) fn headroom(size: super::axis::Size) -> f64 {
    40.0 / f64::from(size.height())
}
