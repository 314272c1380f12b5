//! An uncertainty budget: what share of the variance each reading brings.

use super::axis::{Axis, Size};
use super::bars::{EndLabel, Rows, paint_end, range, rows};
use super::canvas::Canvas;
use super::data::Place;
use super::error::ChartError;
use super::frame::Frame;
use super::header::Header;
use super::look::Role;
use super::number::significant;
use super::place::Rect;
use super::placed::Placed;
use super::svg::Words;
use super::words;

/// One share.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// Whose share.
    pub name: String,
    /// Per cent of the whole; below zero where correlated readings cancel.
    pub percent: f64,
}

impl Share {
    /// A share in per cent.
    pub fn new(name: impl Into<String>, percent: f64) -> Self {
        Share {
            name: name.into(),
            percent,
        }
    }
}

/// Bars of shares in per cent, one row each, in the caller's order.
#[derive(Debug, Clone, PartialEq)]
pub struct ShareBars {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// What is shared, for instance `Share of the variance of stroke volume`.
    pub label: String,
    /// The rows, the first on top.
    pub shares: Vec<Share>,
}

impl Default for ShareBars {
    fn default() -> Self {
        ShareBars {
            title: String::new(),
            key: String::new(),
            label: "Share of the variance".into(),
            shares: Vec::new(),
        }
    }
}

const EMPTY: &str = "No shares to draw.";

impl ShareBars {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a share is not finite or too large.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.svg_reaching(size, &[]).map(|placed| placed.svg)
    }

    /// The same drawing with an axis that also has room for these shares, and where its axes lie.
    ///
    /// # Errors
    /// As [`ShareBars::svg`].
    pub fn svg_reaching(&self, size: Size, also: &[Share]) -> Result<Placed, ChartError> {
        for (index, share) in self.shares.iter().enumerate() {
            Place {
                series: &share.name,
                index,
            }
            .finite("percent", share.percent)?;
        }
        let description = self.description();
        let words = Words {
            title: &self.title,
            description: &description,
            key: &self.key,
        };
        if self.shares.is_empty() {
            return Placed::empty(size, &words, EMPTY);
        }
        let header = |note: Option<&str>| {
            let notes: Vec<String> = note.map(str::to_owned).into_iter().collect();
            Header::lay_out(size, &self.title, &notes, &[])
        };
        let Rows { drawn, note } = rows(self.shares.len(), |note| {
            Frame::row_capacity(size, &header(note))
        });
        let header = header(note.as_deref());
        let font = header.fonts.text;
        let shares = &self.shares[..drawn];
        let names: Vec<String> = shares.iter().map(|share| share.name.clone()).collect();
        let labels: Vec<EndLabel> = shares.iter().chain(also).map(end_label).collect();
        let frame = Frame::rows(size, header, &names, &self.axis(), |width| {
            range(&labels, font, width)
        });
        Placed::in_frame(size, &words, &frame, |canvas| {
            paint(canvas, &frame, shares, size)
        })
    }

    /// The chart in words: every share, and the largest.
    pub fn description(&self) -> String {
        let mut text = format!("Bars of {}: ", self.axis().name());
        let Some(largest) = self
            .shares
            .iter()
            .max_by(|a, b| a.percent.total_cmp(&b.percent))
        else {
            return text + EMPTY;
        };
        text += &format!("{}. ", words::count(self.shares.len(), "share", "shares"));
        text += &format!(
            "The largest is {} with {}. ",
            largest.name,
            percent(largest.percent, words::DIGITS)
        );
        let one = |s: &Share| format!("{} {}", s.name, percent(s.percent, words::DIGITS));
        let list: Vec<String> = self.shares.iter().map(one).collect();
        text + &list.join("; ") + "."
    }

    fn axis(&self) -> Axis {
        Axis::new(self.label.clone(), "%")
    }
}

/// `12.3 %`, with the space that ISO 80000-1, 7.1.4 asks for.
fn percent(value: f64, digits: usize) -> String {
    format!("{}\u{a0}%", significant(value, digits))
}

/// One decimal from 1 per cent on; what is below says so and is not called zero.
fn end_label(share: &Share) -> EndLabel {
    let value = share.percent;
    let text = if value != 0.0 && value.abs() < 0.05 {
        if value > 0.0 {
            "<\u{a0}0.05\u{a0}%".into()
        } else {
            ">\u{a0}−0.05\u{a0}%".into()
        }
    } else {
        let digits = if value.abs() < 1.0 { 2 } else { 3 };
        percent(value, digits)
    };
    EndLabel {
        at: value,
        left: value < 0.0,
        alone: true,
        text,
    }
}

fn paint(
    canvas: &Canvas<'_>,
    frame: &Frame,
    shares: &[Share],
    size: Size,
) -> Result<(), ChartError> {
    let plot = frame.paint_back(canvas, size)?;
    let count = shares.len() as f64;
    let half = (plot.rect.height() / count * 0.31).min(15.0);
    let middle = |row: usize| plot.at(0.0, count - row as f64 - 0.5).1;
    let zero = plot.at(0.0, 0.0).0;
    for (row, share) in shares.iter().enumerate() {
        let (end, y) = (plot.at(share.percent, 0.0).0, middle(row));
        let bar = Rect {
            left: zero.min(end),
            top: y - half,
            right: zero.max(end),
            bottom: y + half,
        };
        canvas.rect(bar, Role::Bar(0))?;
    }
    canvas.line(
        &[(zero, plot.rect.top), (zero, plot.rect.bottom)],
        Role::Zero,
    )?;
    frame.paint_front(canvas)?;
    for (row, share) in shares.iter().enumerate() {
        let end = end_label(share);
        paint_end(canvas, &plot, &end, middle(row), frame.header.fonts.text)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Stroke volume from a diameter of 2.0(1) cm and an integral of 20(1) cm: relative uncertainties 2 × 5 % and 5 %,
    // so the shares of the variance are 100 to 25: 80 % and 20 % (computed).
    #[test]
    fn the_description_names_the_largest_share() {
        let chart = ShareBars {
            shares: vec![
                Share::new("diameter", 80.0),
                Share::new("velocity integral", 20.0),
            ],
            ..ShareBars::default()
        };
        let text = chart.description();
        assert!(
            text.contains("The largest is diameter with 80\u{a0}%."),
            "{text}"
        );
        assert!(
            text.ends_with("diameter 80\u{a0}%; velocity integral 20\u{a0}%."),
            "{text}"
        );
    }

    #[test]
    fn a_tiny_share_is_not_called_zero() {
        assert_eq!(
            end_label(&Share::new("a", 0.001)).text,
            "<\u{a0}0.05\u{a0}%"
        );
        assert_eq!(end_label(&Share::new("a", 0.0)).text, "0\u{a0}%");
        let below = end_label(&Share::new("a", -3.25));
        assert!(below.left && below.text == "−3.25\u{a0}%");
    }
}
