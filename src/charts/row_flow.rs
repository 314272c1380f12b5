//! How rows flow from those read to those analyzed, and what was left out on the way.

use super::axis::Size;
use super::canvas::{Anchor, Canvas};
use super::error::ChartError;
use super::frame::paint_paper;
use super::header::{Header, RIM};
use super::look::Role;
use super::number;
use super::place::Rect;
use super::svg::{Words, document};
use super::text::{Font, clean};
use super::words::empty_chart;

/// Rows under one name.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FlowCount {
    /// What they are, or why they were left out.
    pub label: String,
    /// How many.
    pub count: usize,
}

impl FlowCount {
    /// So many rows of a name.
    pub fn new(label: impl Into<String>, count: usize) -> Self {
        FlowCount {
            label: label.into(),
            count,
        }
    }

    fn words(&self) -> String {
        format!("{}: {}", self.label, number::fixed(self.count as f64, 0))
    }
}

/// A stage of the flow.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FlowStep {
    /// The rows that arrive here.
    pub rows: FlowCount,
    /// The rows that leave here, by reason.
    pub left_out: Vec<FlowCount>,
}

/// The flow of rows, in the manner of STARD's flow of participants (Bossuyt 2015 BMJ 351:h5527): boxes down the page, on
/// their right what was left out and why, at the bottom the classes that the last rows fall into.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RowFlow {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The stages, from the top.
    pub steps: Vec<FlowStep>,
    /// The classes of the last stage's rows, side by side.
    pub classes: Vec<FlowCount>,
}

const EMPTY: &str = "No rows to follow.";
/// Inside a box around its text, px.
const PAD: f64 = 6.0;
/// Between two rows of boxes, px.
const GAP: f64 = 16.0;
/// Between boxes side by side, px.
const ASIDE: f64 = 20.0;
/// Half of an arrow's head, px.
const HEAD: f64 = 4.0;
/// Most classes side by side.
const MOST_CLASSES: usize = 4;
/// Most lines of one entry.
const MOST_LINES: usize = 3;

/// A box with its lines.
struct Framed {
    area: Rect,
    lines: Vec<String>,
}

/// The wrapped lines of one stage.
struct StepText {
    main: Vec<String>,
    aside: Vec<String>,
}

impl StepText {
    fn lines(&self) -> usize {
        self.main.len().max(self.aside.len()).max(1)
    }
}

/// All wrapped lines.
struct FlowText {
    steps: Vec<StepText>,
    classes: Vec<Vec<String>>,
}

impl FlowText {
    /// Lines of each row of boxes.
    fn needs(&self) -> Vec<usize> {
        let steps = self.steps.iter().map(StepText::lines);
        steps
            .chain(self.classes.iter().map(Vec::len).max())
            .collect()
    }
}

impl RowFlow {
    /// The height at which a flow of that width shows every word, px, at most 4000.
    pub fn fitting_height(&self, width: u32) -> u32 {
        let size = Size::new(width.clamp(320, 4000), 4000);
        let Ok(size) = size else { return 4000 };
        let header = self.header(size);
        let font = header.fonts.text;
        let needs = self.texts(size, font).needs();
        let needed: f64 = needs.iter().map(|lines| height(font, *lines)).sum();
        let gaps = needs.len().saturating_sub(1) as f64 * GAP;
        let total = header.bottom + needed + gaps + RIM + 4.0;
        (total.ceil() as u32).clamp(240, 4000)
    }

    /// The drawing as SVG. Where the height is less than [`RowFlow::fitting_height`], words are shortened.
    ///
    /// # Errors
    /// [`ChartError`] for more than four classes.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        if self.classes.len() > MOST_CLASSES {
            return Err(ChartError::TooMany {
                what: "classes",
                count: self.classes.len(),
                limit: MOST_CLASSES,
            });
        }
        let description = self.description();
        let words = Words {
            title: &self.title,
            description: &description,
            key: &self.key,
        };
        if self.steps.is_empty() {
            return empty_chart(size, &words, EMPTY);
        }
        let mut header = self.header(size);
        if f64::from(size.height()) < f64::from(self.fitting_height(size.width())) {
            let note = "Words are shortened; the description has all.".to_owned();
            header = Header::lay_out(size, &self.title, &[note], &[]);
        }
        document(size, &words, |canvas| {
            paint_paper(canvas, size)?;
            header.paint(canvas)?;
            self.paint(canvas, size, &header)
        })
    }

    /// The flow in words: every stage, what was left out, and the classes.
    pub fn description(&self) -> String {
        if self.steps.is_empty() {
            return format!("Flow of rows: {EMPTY}");
        }
        let list = |counts: &[FlowCount]| {
            let all: Vec<String> = counts.iter().map(FlowCount::words).collect();
            all.join("; ")
        };
        let mut text = "Flow of rows:".to_owned();
        for step in &self.steps {
            text += &format!(" {}", step.rows.words());
            if !step.left_out.is_empty() {
                text += &format!(" (left out here: {})", list(&step.left_out));
            }
            text += ".";
        }
        if !self.classes.is_empty() {
            text += &format!(" Of these: {}.", list(&self.classes));
        }
        text
    }

    fn header(&self, size: Size) -> Header {
        Header::lay_out(size, &self.title, &[], &[])
    }

    fn texts(&self, size: Size, font: Font) -> FlowText {
        let columns = Columns::of(size);
        let wrap = |text: &str, width: f64| font.wrap(&clean(text), width - 2.0 * PAD, MOST_LINES);
        let steps = self.steps.iter().map(|step| {
            let aside = step.left_out.iter();
            StepText {
                main: wrap(&step.rows.words(), columns.main()),
                aside: aside
                    .flat_map(|out| wrap(&out.words(), columns.aside()))
                    .collect(),
            }
        });
        let width = columns.class(self.classes.len());
        let classes = self.classes.iter().map(|c| wrap(&c.words(), width));
        FlowText {
            steps: steps.collect(),
            classes: classes.collect(),
        }
    }

    fn paint(&self, canvas: &Canvas<'_>, size: Size, header: &Header) -> Result<(), ChartError> {
        let font = header.fonts.text;
        let text = self.texts(size, font);
        let columns = Columns::of(size);
        let rows = Rows::share(size, header, font, &text.needs());
        let FlowText { steps, classes } = text;
        let mut above: Option<Rect> = None;
        for (at, StepText { main, aside }) in steps.into_iter().enumerate() {
            let Some((top, bottom)) = rows.get(at) else {
                return Ok(());
            };
            let area = Rect {
                left: RIM,
                right: columns.split,
                top,
                bottom,
            };
            if let Some(above) = above {
                down(canvas, above, area)?;
            }
            paint_box(canvas, font, Framed { area, lines: main }, 0)?;
            if !aside.is_empty() {
                let area = Rect {
                    left: columns.split + ASIDE,
                    right: columns.right,
                    top,
                    bottom,
                };
                let middle = (top + bottom) / 2.0;
                arrow(canvas, (columns.split, middle), (area.left, middle))?;
                paint_box(canvas, font, Framed { area, lines: aside }, 3)?;
            }
            above = Some(area);
        }
        let count = classes.len();
        for (at, lines) in classes.into_iter().enumerate() {
            let (Some((top, bottom)), Some(above)) = (rows.get(self.steps.len()), above) else {
                return Ok(());
            };
            let width = columns.class(count);
            let left = RIM + at as f64 * (width + ASIDE);
            let area = Rect {
                left,
                right: left + width,
                top,
                bottom,
            };
            down(canvas, above, area)?;
            paint_box(canvas, font, Framed { area, lines }, 0)?;
        }
        Ok(())
    }
}

/// Where boxes stand from left to right.
struct Columns {
    split: f64,
    right: f64,
}

impl Columns {
    fn of(size: Size) -> Columns {
        let right = f64::from(size.width()) - RIM;
        Columns {
            split: RIM + 0.46 * (right - RIM),
            right,
        }
    }

    fn main(&self) -> f64 {
        self.split - RIM
    }

    fn aside(&self) -> f64 {
        self.right - self.split - ASIDE
    }

    fn class(&self, count: usize) -> f64 {
        let count = count.max(1) as f64;
        (self.right - RIM - (count - 1.0) * ASIDE) / count
    }
}

/// Tops and bottoms of the rows of boxes.
struct Rows(Vec<(f64, f64)>);

impl Rows {
    /// What the lines need, or an equal share of what there is; rows without room for a line are left out.
    fn share(size: Size, header: &Header, font: Font, needs: &[usize]) -> Rows {
        let top = header.bottom + 4.0;
        let room = f64::from(size.height()) - RIM - top;
        let gaps = |gap: f64| needs.len().saturating_sub(1) as f64 * gap;
        let wanted: f64 = needs.iter().map(|lines| height(font, *lines)).sum();
        let fits = wanted + gaps(GAP) <= room;
        let gap = if fits { GAP } else { GAP / 2.0 };
        let equal = (room - gaps(gap)) / needs.len().max(1) as f64;
        let least = height(font, 1);
        let mut rows = Vec::new();
        let mut at = top;
        for lines in needs {
            let tall = if fits {
                height(font, *lines)
            } else {
                equal.max(least)
            };
            if at + tall > top + room + 0.01 {
                break;
            }
            rows.push((at, at + tall));
            at += tall + gap;
        }
        Rows(rows)
    }

    fn get(&self, at: usize) -> Option<(f64, f64)> {
        self.0.get(at).copied()
    }
}

fn height(font: Font, lines: usize) -> f64 {
    lines.max(1) as f64 * font.line() + 2.0 * PAD
}

fn paint_box(
    canvas: &Canvas<'_>,
    font: Font,
    shown: Framed,
    series: usize,
) -> Result<(), ChartError> {
    let Framed { area, lines } = shown;
    canvas.rect(area, Role::OpenBar(series))?;
    let room = ((area.height() - 2.0 * PAD + 0.01) / font.line())
        .floor()
        .max(1.0) as usize;
    let cut = lines.len() > room;
    let mut lines: Vec<String> = lines.into_iter().take(room).collect();
    if let (true, Some(last)) = (cut, lines.last_mut()) {
        let width = area.width() - 2.0 * PAD;
        *last = font.shorten(&format!("{} …", last.trim_end_matches('…')), width);
    }
    let tall = lines.len() as f64 * font.line();
    let first = (area.top + area.bottom - tall) / 2.0 + font.ascent();
    for (index, line) in lines.iter().enumerate() {
        let at = (area.left + PAD, first + index as f64 * font.line());
        canvas.text(line, at, Anchor::Start, font, Role::RowLabel)?;
    }
    Ok(())
}

/// From the bottom of one box to the top of another, at the middle of the narrower.
fn down(canvas: &Canvas<'_>, above: Rect, below: Rect) -> Result<(), ChartError> {
    let middle = |r: Rect| (r.left + r.right) / 2.0;
    let (from, to) = (middle(above), middle(below));
    let turn = (above.bottom + below.top) / 2.0;
    if (from - to).abs() < 0.5 {
        return arrow(canvas, (from, above.bottom), (from, below.top));
    }
    canvas.line(
        &[(from, above.bottom), (from, turn), (to, turn)],
        Role::AxisLine,
    )?;
    arrow(canvas, (to, turn), (to, below.top))
}

fn arrow(canvas: &Canvas<'_>, from: (f64, f64), to: (f64, f64)) -> Result<(), ChartError> {
    canvas.line(&[from, to], Role::AxisLine)?;
    let head = if (to.0 - from.0).abs() > (to.1 - from.1).abs() {
        [(to.0 - HEAD, to.1 - HEAD), to, (to.0 - HEAD, to.1 + HEAD)]
    } else {
        [(to.0 - HEAD, to.1 - HEAD), to, (to.0 + HEAD, to.1 - HEAD)]
    };
    canvas.line(&head, Role::AxisLine)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flow() -> RowFlow {
        RowFlow {
            title: "Flow".into(),
            steps: vec![
                FlowStep {
                    rows: FlowCount::new("rows read", 966),
                    left_out: vec![FlowCount::new("set aside", 24)],
                },
                FlowStep {
                    rows: FlowCount::new("rows used", 942),
                    left_out: Vec::new(),
                },
            ],
            classes: vec![
                FlowCount::new("responders", 400),
                FlowCount::new("others", 542),
            ],
            ..RowFlow::default()
        }
    }

    #[test]
    fn the_description_follows_the_rows() {
        assert_eq!(
            flow().description(),
            "Flow of rows: rows read: 966 (left out here: set aside: 24). rows used: 942. Of these: responders: 400; \
             others: 542."
        );
    }

    #[test]
    fn the_fitting_height_shows_every_word() {
        let flow = flow();
        for width in [320, 640, 1200] {
            let size = Size::new(width, flow.fitting_height(width)).unwrap();
            let svg = flow.svg(size).unwrap();
            for words in ["rows read: 966", "set aside: 24", "others: 542"] {
                assert!(svg.contains(words), "{words} at {width}");
            }
        }
    }

    #[test]
    fn five_classes_are_too_many_side_by_side() {
        let flow = RowFlow {
            classes: vec![FlowCount::new("class", 1); 5],
            ..flow()
        };
        let error = flow.svg(Size::new(640, 400).unwrap()).unwrap_err();
        assert!(matches!(
            error,
            ChartError::TooMany {
                count: 5,
                limit: 4,
                ..
            }
        ));
    }
}
