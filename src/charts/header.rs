//! What stands above the plot: title, notes, key.

use super::axis::Size;
use super::canvas::{Anchor, Canvas};
use super::error::ChartError;
use super::look::Role;
use super::place::Rect;
use super::text::{Font, clean};

/// Empty rim around everything, px.
pub(super) const RIM: f64 = 8.0;
/// Width of a sample in the key, px.
const SAMPLE: f64 = 22.0;
/// Between sample and name, px.
const SAMPLE_GAP: f64 = 5.0;
/// Between entries of the key, px.
const ENTRY_GAP: f64 = 14.0;

/// Type sizes for a picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fonts {
    pub title: Font,
    pub text: Font,
}

impl Fonts {
    pub fn of(size: Size) -> Fonts {
        let (title, text) = match size.width() {
            0..480 => (13.0, 11.0),
            480..900 => (15.0, 12.0),
            _ => (17.0, 13.0),
        };
        Fonts {
            title: Font::bold(title),
            text: Font::normal(text),
        }
    }
}

/// The sample beside a name in the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sample {
    Marker(usize),
    Line(usize),
    LineWithMarker(usize),
    Fit,
    FitBand,
    Band(usize),
    Reference,
    Bar(usize),
    OpenBar(usize),
}

/// One entry of the key.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct KeyEntry {
    pub name: String,
    pub sample: Sample,
}

impl KeyEntry {
    pub fn new(name: &str, sample: Sample) -> Self {
        KeyEntry {
            name: clean(name),
            sample,
        }
    }
}

struct Line {
    text: String,
    baseline: f64,
    font: Font,
    role: Role,
}

struct Cell {
    left: f64,
    baseline: f64,
    text: String,
    sample: Sample,
}

/// The laid out header.
pub(super) struct Header {
    pub fonts: Fonts,
    lines: Vec<Line>,
    cells: Vec<Cell>,
    /// Where the header ends, px from the top.
    pub bottom: f64,
}

impl Header {
    pub fn lay_out(size: Size, title: &str, notes: &[String], key: &[KeyEntry]) -> Header {
        let fonts = Fonts::of(size);
        let mut header = Header {
            fonts,
            lines: Vec::new(),
            cells: Vec::new(),
            bottom: RIM,
        };
        let width = f64::from(size.width()) - 2.0 * RIM;
        header.stack(
            fonts.title.wrap(&clean(title), width, 2),
            fonts.title,
            Role::Title,
        );
        for note in notes {
            header.stack(
                fonts.text.wrap(&clean(note), width, 2),
                fonts.text,
                Role::Note,
            );
        }
        let rows = if size.height() < 320 { 3 } else { 5 };
        header.stack_key(key, width, rows);
        header.bottom += 4.0;
        header
    }

    fn stack(&mut self, lines: Vec<String>, font: Font, role: Role) {
        for text in lines {
            let baseline = self.bottom + font.ascent();
            self.lines.push(Line {
                text,
                baseline,
                font,
                role,
            });
            self.bottom += font.line();
        }
    }

    /// Entries flow as words do; where that takes too many rows, they stand in columns and are shortened.
    fn stack_key(&mut self, key: &[KeyEntry], width: f64, most_rows: usize) {
        if key.is_empty() {
            return;
        }
        self.bottom += 2.0;
        let font = self.fonts.text;
        let flow = flow(key, font, width);
        let rows = flow.last().map_or(0, |place| place.row + 1);
        let places = if rows <= most_rows {
            flow
        } else {
            columns(key, font, width, most_rows)
        };
        let rows = places.last().map_or(0, |place| place.row + 1);
        for (entry, place) in key.iter().zip(places) {
            self.cells.push(Cell {
                left: RIM + place.left,
                baseline: self.bottom + font.ascent() + place.row as f64 * font.line() * 1.08,
                text: place.text,
                sample: entry.sample,
            });
        }
        self.bottom += rows as f64 * font.line() * 1.08;
    }

    pub fn paint(&self, canvas: &Canvas<'_>) -> Result<(), ChartError> {
        for line in &self.lines {
            canvas.text(
                &line.text,
                (RIM, line.baseline),
                Anchor::Start,
                line.font,
                line.role,
            )?;
        }
        for cell in &self.cells {
            let middle = cell.baseline - 0.36 * self.fonts.text.size;
            paint_sample(canvas, cell.sample, cell.left, middle)?;
            let at = (cell.left + SAMPLE + SAMPLE_GAP, cell.baseline);
            canvas.text(
                &cell.text,
                at,
                Anchor::Start,
                self.fonts.text,
                Role::KeyText,
            )?;
        }
        Ok(())
    }
}

/// Where an entry of the key goes.
struct Place {
    left: f64,
    row: usize,
    text: String,
}

fn flow(key: &[KeyEntry], font: Font, width: f64) -> Vec<Place> {
    let mut places = Vec::new();
    let (mut left, mut row) = (0.0, 0);
    for entry in key {
        let text = font.shorten(&entry.name, width - SAMPLE - SAMPLE_GAP);
        let wide = SAMPLE + SAMPLE_GAP + font.width(&text);
        if left > 0.0 && left + wide > width {
            (left, row) = (0.0, row + 1);
        }
        places.push(Place { left, row, text });
        left += wide + ENTRY_GAP;
    }
    places
}

fn columns(key: &[KeyEntry], font: Font, width: f64, rows: usize) -> Vec<Place> {
    let count = key.len().div_ceil(rows).max(2);
    let column = (width + ENTRY_GAP) / count as f64;
    let place = |(index, entry): (usize, &KeyEntry)| Place {
        left: (index % count) as f64 * column,
        row: index / count,
        text: font.shorten(&entry.name, column - ENTRY_GAP - SAMPLE - SAMPLE_GAP),
    };
    key.iter().enumerate().map(place).collect()
}

fn paint_sample(
    canvas: &Canvas<'_>,
    sample: Sample,
    left: f64,
    middle: f64,
) -> Result<(), ChartError> {
    let right = left + SAMPLE;
    let line = [(left, middle), (right, middle)];
    let center = (left + SAMPLE / 2.0, middle);
    let block = Rect {
        left: left + 3.0,
        top: middle - 4.5,
        right: right - 3.0,
        bottom: middle + 4.5,
    };
    match sample {
        Sample::Marker(series) => canvas.marker(center, series, 3.8),
        Sample::Line(series) => canvas.line(&line, Role::Line(series)),
        Sample::LineWithMarker(series) => {
            canvas.line(&line, Role::Line(series))?;
            canvas.marker(center, series, 3.8)
        }
        Sample::Fit => canvas.line(&line, Role::FitLine),
        Sample::FitBand => canvas.rect(block, Role::FitBand),
        Sample::Band(series) => canvas.rect(block, Role::Band(series)),
        Sample::Reference => canvas.line(&line, Role::Reference),
        Sample::Bar(series) => canvas.rect(block, Role::Bar(series)),
        Sample::OpenBar(series) => canvas.rect(block, Role::OpenBar(series)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entries(count: usize, name: &str) -> Vec<KeyEntry> {
        (0..count)
            .map(|i| KeyEntry::new(&format!("{name} {i}"), Sample::Marker(i % 6)))
            .collect()
    }

    #[test]
    fn eight_long_entries_leave_room_for_the_plot_in_the_smallest_picture() {
        let size = Size::new(320, 240).unwrap();
        let key = entries(8, "a group whose name is a good deal longer than its place");
        let header = Header::lay_out(size, "A title", &[], &key);
        assert!(header.bottom < 90.0, "{}", header.bottom);
        assert!(header.cells.iter().all(|cell| cell.text.ends_with('…')));
    }

    #[test]
    fn short_entries_share_a_row_and_stay_whole() {
        let size = Size::new(640, 400).unwrap();
        let header = Header::lay_out(size, "A title", &[], &entries(4, "group"));
        assert!(
            header
                .cells
                .iter()
                .all(|cell| cell.baseline == header.cells[0].baseline)
        );
        assert_eq!(header.cells[3].text, "group 3");
    }
}
