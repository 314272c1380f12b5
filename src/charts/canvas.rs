//! Drawing through plotters, in px with one decimal.

use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::axis::Size;
use super::error::ChartError;
use super::look::Role;
use super::place::Rect;
use super::range::Range;
use super::shapes::{Shape, shape};
use super::text::{Font, clean};

/// Plotters counts in whole units; ten of them are one px.
const UNITS: f64 = 10.0;

/// The factor between a font's size in plotters and in the SVG it writes.
const FONT_UNITS: f64 = 1.24;

/// Where a text stands relative to its x.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// The sheet a chart is drawn on.
pub(super) struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

/// Draws on a sheet of that size and returns what plotters wrote.
pub(super) fn draw(
    size: Size,
    paint: impl FnOnce(&Canvas<'_>) -> Result<(), ChartError>,
) -> Result<String, ChartError> {
    let mut written = String::new();
    {
        let units = |px: u32| px * UNITS as u32;
        let backend =
            SVGBackend::with_string(&mut written, (units(size.width()), units(size.height())));
        let canvas = Canvas {
            area: backend.into_drawing_area(),
        };
        paint(&canvas)?;
        canvas.area.present().map_err(failed)?;
    }
    Ok(written)
}

fn failed<E: std::fmt::Display>(error: E) -> ChartError {
    ChartError::Drawing(error.to_string())
}

fn units((x, y): (f64, f64)) -> (i32, i32) {
    ((x * UNITS).round() as i32, (y * UNITS).round() as i32)
}

impl Canvas<'_> {
    pub fn rect(&self, rect: Rect, role: Role) -> Result<(), ChartError> {
        let corners = [
            units((rect.left, rect.top)),
            units((rect.right, rect.bottom)),
        ];
        self.area
            .draw(&Rectangle::new(corners, role.color().filled()))
            .map_err(failed)
    }

    pub fn line(&self, points: &[(f64, f64)], role: Role) -> Result<(), ChartError> {
        let points: Vec<_> = points.iter().copied().map(units).collect();
        self.area
            .draw(&PathElement::new(points, role.color()))
            .map_err(failed)
    }

    pub fn polygon(&self, points: &[(f64, f64)], role: Role) -> Result<(), ChartError> {
        let points: Vec<_> = points.iter().copied().map(units).collect();
        self.area
            .draw(&Polygon::new(points, role.color()))
            .map_err(failed)
    }

    pub fn dot(&self, center: (f64, f64), radius: f64, role: Role) -> Result<(), ChartError> {
        let radius = (radius * UNITS).round() as i32;
        self.area
            .draw(&Circle::new(units(center), radius, role.color().filled()))
            .map_err(failed)
    }

    /// The marker of a series.
    pub fn marker(&self, at: (f64, f64), series: usize, radius: f64) -> Result<(), ChartError> {
        match shape(series, radius) {
            Shape::Dot { radius } => self.dot(at, radius, Role::Marker(series)),
            Shape::Outline(points) => {
                let points: Vec<_> = points.iter().map(|(x, y)| (at.0 + x, at.1 + y)).collect();
                self.polygon(&points, Role::Marker(series))
            }
        }
    }

    /// One line of text on its baseline.
    pub fn text(
        &self,
        text: &str,
        at: (f64, f64),
        anchor: Anchor,
        font: Font,
        role: Role,
    ) -> Result<(), ChartError> {
        let text = clean(text);
        if text.is_empty() {
            return Ok(());
        }
        let side = match anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let color = role.color();
        let style = ("sans-serif", font.size * FONT_UNITS * UNITS)
            .into_font()
            .color(&color)
            .pos(Pos::new(side, VPos::Bottom));
        self.area
            .draw(&Text::new(text, units(at), style))
            .map_err(failed)
    }

    /// The part of the sheet that has axes.
    pub fn plot(&self, rect: Rect, x: Range, y: Range) -> Plot {
        let (left, top) = units((rect.left, rect.top));
        let (right, bottom) = units((rect.right, rect.bottom));
        let scale = Cartesian2d::<RangedCoordf64, RangedCoordf64>::new(
            x.low..x.high,
            y.low..y.high,
            (left..right, bottom..top),
        );
        Plot { scale, rect, x, y }
    }
}

/// Data coordinates on the sheet.
pub(super) struct Plot {
    scale: Cartesian2d<RangedCoordf64, RangedCoordf64>,
    pub rect: Rect,
    x: Range,
    y: Range,
}

impl Plot {
    /// Where a point of the data lies, px; what lies outside the axes is moved to their ends, where plotters would
    /// overflow.
    pub fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = (self.x.nearest(x), self.y.nearest(y));
        let (x, y) = self.scale.translate(&(x, y));
        (f64::from(x) / UNITS, f64::from(y) / UNITS)
    }
}
