//! The plot's place on the picture, its axes, ticks and grid.

use super::axis::{Axis, Size};
use super::canvas::{Anchor, Canvas, Plot};
use super::error::ChartError;
pub(super) use super::frame_axes::NumberAxis;
use super::frame_axes::{Label, along, fit_name, named, upward};
use super::header::{Header, RIM};
use super::look::Role;
use super::place::Rect;
use super::placed::{Scale, Scales};
use super::range::Range;
use super::text::{Font, clean};
use super::ticks::Tick;

/// Between a tick's label and the plot, px.
const TICK_GAP: f64 = 6.0;

/// The x axis: numbers, or named places at 0, 1, 2, ...
pub(super) enum XAxis<'a> {
    Numbers(NumberAxis<'a>),
    /// Places at 1, 2, ..., as many as fit with their names.
    Places(NumberAxis<'a>, &'a [String]),
    Names {
        label: &'a str,
        names: &'a [String],
    },
}

/// A laid out frame.
pub(super) struct Frame {
    pub header: Header,
    pub plot: Rect,
    pub x: Range,
    pub y: Range,
    x_labels: Vec<Label>,
    y_labels: Vec<Label>,
    x_name: String,
    y_name: String,
    y_role: Role,
}

impl Frame {
    /// Where the axes lie.
    pub fn scales(&self) -> Scales {
        Scales {
            x: Scale::new(self.x, self.plot.left, self.plot.right),
            y: Scale::new(self.y, self.plot.bottom, self.plot.top),
        }
    }

    /// A frame with numbers upward.
    pub fn numbers(size: Size, header: Header, x: &XAxis<'_>, y: &NumberAxis<'_>) -> Frame {
        let font = header.fonts.text;
        let top = header.bottom + font.line() + 0.6 * font.size;
        let names = matches!(x, XAxis::Names { .. });
        let mut plot = Rect {
            left: RIM,
            top,
            right: f64::from(size.width()) - RIM - 4.0,
            bottom: f64::from(size.height()) - footer(font, if names { 2 } else { 1 }),
        };
        let y_ticks = upward(plot, y, font);
        let widest = y_ticks
            .iter()
            .map(|t| font.width(&t.label))
            .fold(0.0, f64::max);
        plot.left += widest.min(plot.width() * 0.45) + TICK_GAP;
        let x_range = match x {
            XAxis::Numbers(numbers) | XAxis::Places(numbers, _) => numbers.range,
            XAxis::Names { names, .. } => Range {
                low: -0.5,
                high: names.len() as f64 - 0.5,
            },
        };
        let x_labels = match x {
            XAxis::Numbers(numbers) => along(size, &mut plot, numbers, None, font),
            XAxis::Places(numbers, names) => along(size, &mut plot, numbers, Some(names), font),
            XAxis::Names { names, .. } => named(size, plot, names, font),
        };
        let room = plot.left - RIM - TICK_GAP + 0.01;
        let label = |t: &Tick| Label {
            lines: vec![font.shorten(&t.label, room)],
            at: plot.bottom - (t.value - y.range.low) / y.range.span() * plot.height(),
            grid: true,
        };
        Frame {
            x: x_range,
            y: y.range,
            x_labels,
            y_labels: y_ticks.iter().map(label).collect(),
            x_name: match x {
                XAxis::Numbers(numbers) | XAxis::Places(numbers, _) => {
                    fit_name(numbers.axis, font, plot.right - RIM)
                }
                XAxis::Names { label, .. } => font.shorten(&clean(label), plot.right - RIM),
            },
            y_name: fit_name(y.axis, font, f64::from(size.width()) - 2.0 * RIM),
            y_role: Role::TickLabel,
            plot,
            header,
        }
    }

    /// A frame with a named row for each bar, the first on top. `range` gets the plot's width in px.
    pub fn rows(
        size: Size,
        header: Header,
        names: &[String],
        x: &Axis,
        range: impl FnOnce(f64) -> Range,
    ) -> Frame {
        let font = header.fonts.text;
        let mut plot = rows_area(size, &header);
        let height = plot.height() / names.len().max(1) as f64;
        let lines = if height >= 2.2 * font.line() { 2 } else { 1 };
        let most = plot.width() * 0.38;
        let wrapped: Vec<Vec<String>> = names
            .iter()
            .map(|name| font.wrap(&clean(name), most, lines))
            .collect();
        let widest = wrapped
            .iter()
            .flatten()
            .map(|line| font.width(line))
            .fold(0.0, f64::max);
        plot.left += widest + TICK_GAP;
        // Half a tick label may stand out on the right.
        plot.right -= 1.5 * font.size;
        let range = range(plot.width());
        let numbers = NumberAxis {
            axis: x,
            range,
            whole: false,
        };
        let x_labels = along(size, &mut Rect { ..plot }, &numbers, None, font);
        let label = |(index, lines): (usize, Vec<String>)| Label {
            lines,
            at: plot.top + (index as f64 + 0.5) * height,
            grid: false,
        };
        Frame {
            x: range,
            y: Range {
                low: 0.0,
                high: names.len().max(1) as f64,
            },
            x_labels: x_labels
                .into_iter()
                .filter(|l| l.at >= plot.left - 0.5 && l.at <= plot.right + 0.5)
                .collect(),
            y_labels: wrapped.into_iter().enumerate().map(label).collect(),
            x_name: fit_name(x, font, plot.right - RIM),
            y_name: String::new(),
            y_role: Role::RowLabel,
            plot,
            header,
        }
    }

    /// How many rows have room for a line of text each.
    pub fn row_capacity(size: Size, header: &Header) -> usize {
        let height = rows_area(size, header).height();
        (height / (header.fonts.text.line() * 1.1)).floor().max(1.0) as usize
    }

    /// Paper and grid, below everything else.
    pub fn paint_back(&self, canvas: &Canvas<'_>, size: Size) -> Result<Plot, ChartError> {
        paint_paper(canvas, size)?;
        let plot = self.plot;
        for label in self.y_labels.iter().filter(|l| l.grid) {
            canvas.line(&[(plot.left, label.at), (plot.right, label.at)], Role::Grid)?;
        }
        for label in self.x_labels.iter().filter(|l| l.grid) {
            canvas.line(&[(label.at, plot.top), (label.at, plot.bottom)], Role::Grid)?;
        }
        Ok(canvas.plot(plot, self.x, self.y))
    }

    /// Axes, their labels and the header, above the data.
    pub fn paint_front(&self, canvas: &Canvas<'_>) -> Result<(), ChartError> {
        let (plot, font) = (self.plot, self.header.fonts.text);
        // Rows have their zero line instead.
        if self.y_role == Role::TickLabel {
            let axes = [
                (plot.left, plot.top),
                (plot.left, plot.bottom),
                (plot.right, plot.bottom),
            ];
            canvas.line(&axes, Role::AxisLine)?;
        }
        for label in &self.y_labels {
            let first = label.at + 0.36 * font.size
                - (label.lines.len().max(1) - 1) as f64 * font.line() / 2.0;
            for (index, line) in label.lines.iter().enumerate() {
                let at = (plot.left - TICK_GAP, first + index as f64 * font.line());
                canvas.text(line, at, Anchor::End, font, self.y_role)?;
            }
        }
        let mut lowest = 1;
        for label in &self.x_labels {
            lowest = lowest.max(label.lines.len());
            for (index, line) in label.lines.iter().enumerate() {
                let at = (
                    label.at,
                    tick_baseline(plot, font) + index as f64 * font.line(),
                );
                canvas.text(line, at, Anchor::Middle, font, Role::TickLabel)?;
            }
        }
        let below = tick_baseline(plot, font) + lowest as f64 * font.line();
        canvas.text(
            &self.x_name,
            (plot.right, below),
            Anchor::End,
            font,
            Role::AxisName,
        )?;
        let above = self.header.bottom + font.ascent();
        canvas.text(
            &self.y_name,
            (RIM, above),
            Anchor::Start,
            font,
            Role::AxisName,
        )?;
        self.header.paint(canvas)
    }
}

/// The background of the whole picture.
pub(super) fn paint_paper(canvas: &Canvas<'_>, size: Size) -> Result<(), ChartError> {
    let all = Rect {
        left: 0.0,
        top: 0.0,
        right: f64::from(size.width()),
        bottom: f64::from(size.height()),
    };
    canvas.rect(all, Role::Paper)
}

/// Height of what stands below the plot.
fn footer(font: Font, tick_lines: usize) -> f64 {
    0.65 * font.size + (tick_lines + 1) as f64 * font.line() + RIM
}

fn tick_baseline(plot: Rect, font: Font) -> f64 {
    plot.bottom + 0.65 * font.size + font.ascent()
}

/// The room for rows and their names.
fn rows_area(size: Size, header: &Header) -> Rect {
    Rect {
        left: RIM,
        top: header.bottom + 4.0,
        right: f64::from(size.width()) - RIM,
        bottom: f64::from(size.height()) - footer(header.fonts.text, 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plot_keeps_a_fair_share_of_the_smallest_picture() {
        let size = Size::new(320, 240).unwrap();
        let axis = Axis::new("y", "");
        let range = Range {
            low: -1e150,
            high: 1e150,
        };
        let numbers = || NumberAxis {
            axis: &axis,
            range,
            whole: false,
        };
        let header = Header::lay_out(
            size,
            "a title that takes two lines, because it says all there is",
            &[],
            &[],
        );
        let frame = Frame::numbers(size, header, &XAxis::Numbers(numbers()), &numbers());
        assert!(
            frame.plot.width() > 150.0 && frame.plot.height() > 90.0,
            "{:?}",
            frame.plot
        );
        assert!(frame.y_labels.len() >= 2);
    }
}
