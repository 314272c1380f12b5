//! y against x, in groups told apart by shape and color.

use super::axis::{Axis, Size};
use super::canvas::{Canvas, Plot};
use super::correlation::correlation;
use super::data::{Fit, Point, Reference, Series, reaching};
use super::data::{check_band, check_count, check_references, check_series};
use super::error::ChartError;
use super::frame::{Frame, NumberAxis, XAxis};
use super::header::{Header, KeyEntry, Sample};
use super::look::Role;
use super::number::significant;
use super::overlay::Overlay;
use super::range::Range;
use super::svg::{Words, document};
use super::thin;
use super::words::{self, empty_chart};

/// A scatter of points in groups, with reference lines and a fitted line.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Scatter {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart, for instance the cell's name; may be empty.
    pub key: String,
    /// The axis along the bottom.
    pub x: Axis,
    /// The axis upward.
    pub y: Axis,
    /// Up to six groups.
    pub groups: Vec<Series>,
    /// A line fitted by the caller, with its band.
    pub fit: Option<Fit>,
    /// Lines at values worth comparing with.
    pub references: Vec<Reference>,
}

/// What is said where there is nothing to draw.
const EMPTY: &str = "No points to draw.";
/// What is said about a single point.
const SINGLE: &str = "Only one point: it shows neither spread nor relation.";
/// Above so many points, those that cover each other are drawn once.
const MOST_DOTS: usize = 9000;
/// Turns in which the groups' points are drawn.
const TURNS: usize = 12;

impl Scatter {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a number cannot be drawn, a band is upside down or there are more than six groups.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.check()?;
        let description = self.description();
        let words = Words {
            title: &self.title,
            description: &description,
            key: &self.key,
        };
        let Some((x, y)) = self.ranges() else {
            return empty_chart(size, &words, EMPTY);
        };
        let notes = if self.count() == 1 {
            vec![SINGLE.to_owned()]
        } else {
            Vec::new()
        };
        let header = Header::lay_out(size, &self.title, &notes, &self.entries());
        let x = NumberAxis {
            axis: &self.x,
            range: x,
            whole: false,
        };
        let y = NumberAxis {
            axis: &self.y,
            range: y,
            whole: false,
        };
        let frame = Frame::numbers(size, header, &XAxis::Numbers(x), &y);
        document(size, &words, |canvas| self.paint(canvas, &frame, size))
    }

    /// The chart in words: what is drawn, how many points, their ranges, the correlation.
    pub fn description(&self) -> String {
        let mut text = format!("Scatter of {} against {}: ", self.y.name(), self.x.name());
        if self.count() == 0 {
            return text + EMPTY;
        }
        text += &words::count(self.count(), "point", "points");
        if self.groups.len() > 1 {
            let group = |g: &Series| {
                format!(
                    "{} {}",
                    g.name,
                    words::count(g.points.len(), "point", "points")
                )
            };
            let list: Vec<String> = self.groups.iter().map(group).collect();
            text += &format!(" in {} groups ({})", self.groups.len(), list.join(", "));
        }
        let spans = [
            words::span(&self.x, self.points().map(|p| p.x)),
            words::span(&self.y, self.points().map(|p| p.y)),
        ];
        let spans: Vec<String> = spans.into_iter().flatten().collect();
        text += &format!("; {}.", spans.join(", "));
        if self.count() == 1 {
            text += &format!(" {SINGLE}");
        }
        if let Some(r) = correlation(&self.points().copied().collect::<Vec<_>>()) {
            text += &format!(" Correlation over all points r = {}.", significant(r, 3));
        }
        text += &self.fit_in_words();
        text += &words::references(&self.references, &self.x, &self.y);
        if self.count() > MOST_DOTS {
            text += " Points that cover each other are drawn once.";
        }
        text
    }

    fn fit_in_words(&self) -> String {
        let Some(fit) = &self.fit else {
            return String::new();
        };
        let (Some(first), Some(last)) = (fit.line.points.first(), fit.line.points.last()) else {
            return String::new();
        };
        let end = |p: &Point| {
            format!(
                "{} at {}",
                words::value(&self.y, p.y),
                words::value(&self.x, p.x)
            )
        };
        let band = if fit.band.is_empty() {
            String::new()
        } else {
            format!(", with {}", fit.band_name)
        };
        format!(
            " {} from {} to {}{band}.",
            fit.line.name,
            end(first),
            end(last)
        )
    }

    fn points(&self) -> impl Iterator<Item = &Point> {
        self.groups.iter().flat_map(|group| &group.points)
    }

    fn count(&self) -> usize {
        self.points().count()
    }

    fn check(&self) -> Result<(), ChartError> {
        check_count("groups", self.groups.len())?;
        self.groups.iter().try_for_each(check_series)?;
        check_references(&self.references)?;
        match &self.fit {
            None => Ok(()),
            Some(fit) => {
                check_series(&fit.line).and_then(|()| check_band(&fit.band_name, &fit.band))
            }
        }
    }

    fn ranges(&self) -> Option<(Range, Range)> {
        let mut x = Range::of(self.points().map(|p| p.x))?;
        let mut y = Range::of(self.points().map(|p| p.y))?;
        (x, y) = reaching(&self.references, (x, y));
        if let Some(fit) = &self.fit {
            for point in &fit.line.points {
                (x, y) = (x.including(point.x), y.including(point.y));
            }
            for point in &fit.band {
                x = x.including(point.x);
                y = y.including(point.low).including(point.high);
            }
        }
        Some((x.padded(0.04), y.padded(0.06)))
    }

    fn entries(&self) -> Vec<KeyEntry> {
        let mut entries = Vec::new();
        if self.groups.len() > 1 || self.fit.is_some() {
            let group = |(i, g): (usize, &Series)| KeyEntry::new(&g.name, Sample::Marker(i));
            entries.extend(self.groups.iter().enumerate().map(group));
        }
        if let Some(fit) = &self.fit {
            entries.push(KeyEntry::new(&fit.line.name, Sample::Fit));
            if !fit.band.is_empty() {
                entries.push(KeyEntry::new(&fit.band_name, Sample::FitBand));
            }
        }
        entries
    }

    /// The groups take turns, so that the last does not hide the others.
    fn paint_points(
        &self,
        canvas: &Canvas<'_>,
        plot: &Plot,
        overlay: &mut Overlay<'_, '_>,
        radius: f64,
    ) -> Result<(), ChartError> {
        let share = MOST_DOTS / self.groups.len().max(1);
        let place = |group: &Series| {
            let all: Vec<_> = group.points.iter().map(|p| plot.at(p.x, p.y)).collect();
            thin::dots(&all, share)
        };
        let groups: Vec<Vec<(f64, f64)>> = self.groups.iter().map(place).collect();
        for turn in 0..TURNS {
            for (index, dots) in groups.iter().enumerate() {
                for dot in &dots[turn * dots.len() / TURNS..(turn + 1) * dots.len() / TURNS] {
                    canvas.marker(*dot, index, radius)?;
                }
            }
        }
        overlay.avoid(groups.into_iter().flatten());
        Ok(())
    }

    fn paint(&self, canvas: &Canvas<'_>, frame: &Frame, size: Size) -> Result<(), ChartError> {
        let plot = frame.paint_back(canvas, size)?;
        let mut overlay = Overlay::new(canvas, &plot, frame.header.fonts.text);
        if let Some(fit) = &self.fit {
            paint_band(canvas, &plot, &fit.band, Role::FitBand)?;
        }
        overlay.reference_lines(&self.references)?;
        self.paint_points(canvas, &plot, &mut overlay, radius(self.count(), size))?;
        if let Some(fit) = &self.fit {
            let line: Vec<_> = fit.line.points.iter().map(|p| plot.at(p.x, p.y)).collect();
            canvas.line(&thin::vertices(&line), Role::FitLine)?;
            overlay.avoid_line(&line);
        }
        frame.paint_front(canvas)?;
        overlay.reference_labels(&self.references)
    }
}

/// The area between the low and the high ends.
pub(super) fn paint_band(
    canvas: &Canvas<'_>,
    plot: &Plot,
    band: &[super::data::BandPoint],
    role: Role,
) -> Result<(), ChartError> {
    if band.len() < 2 {
        return Ok(());
    }
    let low: Vec<_> = band.iter().map(|p| plot.at(p.x, p.low)).collect();
    let high: Vec<_> = band.iter().map(|p| plot.at(p.x, p.high)).collect();
    let mut outline = thin::vertices(&high);
    outline.extend(thin::vertices(&low).into_iter().rev());
    canvas.polygon(&outline, role)
}

/// Smaller markers for many points and small pictures.
pub(super) fn radius(count: usize, size: Size) -> f64 {
    let radius = match count {
        0..=60 => 4.0,
        61..=300 => 3.2,
        301..=2000 => 2.3,
        _ => 1.5,
    };
    if size.width() < 480 {
        radius * 0.85
    } else {
        radius
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_says_what_is_drawn_in_numbers() {
        let chart = Scatter {
            title: "t".into(),
            x: Axis::new("Body surface area", "m²"),
            y: Axis::new("Stroke volume", "mL"),
            groups: vec![
                Series::new("ward A", [(1.6, 55.0), (1.9, 70.0)]),
                Series::new("ward B", [(2.1, 85.0)]),
            ],
            ..Scatter::default()
        };
        let text = chart.description();
        assert!(
            text.contains("3 points in 2 groups (ward A 2 points, ward B 1 point)"),
            "{text}"
        );
        assert!(
            text.contains("Stroke volume from 55 to 85\u{a0}mL"),
            "{text}"
        );
        assert!(text.contains("r = 0.9"), "{text}");
    }

    #[test]
    fn many_points_stay_a_small_file() {
        let points = (0..20_000).map(|i| {
            (
                f64::from(i % 173) + 0.01 * f64::from(i),
                f64::from((i * 7919) % 1009),
            )
        });
        let all: Vec<(f64, f64)> = points.collect();
        let groups = (0..6)
            .map(|g| Series::new(format!("g{g}"), all.iter().skip(g).step_by(6).copied()))
            .collect();
        let chart = Scatter {
            groups,
            ..Scatter::default()
        };
        let svg = chart.svg(Size::new(1200, 800).unwrap()).unwrap();
        assert!(svg.len() < 300_000, "{}", svg.len());
    }
}
