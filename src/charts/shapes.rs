//! Marker shapes: one per series, so that color is never the only sign.

/// Outline of a marker around (0, 0) in px, or a round dot.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    Dot { radius: f64 },
    Outline(Vec<(f64, f64)>),
}

/// The shape of a series; `radius` is that of the dot, other shapes have about its area.
pub(super) fn shape(series: usize, radius: f64) -> Shape {
    let r = radius;
    let outline = |points: &[(f64, f64)]| {
        Shape::Outline(points.iter().map(|(x, y)| (x * r, y * r)).collect())
    };
    match series % super::theme::SERIES {
        0 => Shape::Dot { radius },
        1 => outline(&[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)]),
        2 => outline(&[(0.0, -1.3), (1.2, 0.85), (-1.2, 0.85)]),
        3 => outline(&[(0.0, -1.35), (1.35, 0.0), (0.0, 1.35), (-1.35, 0.0)]),
        4 => outline(&CROSS),
        _ => outline(&[(0.0, 1.3), (1.2, -0.85), (-1.2, -0.85)]),
    }
}

/// An oblique cross with arms 0.6 wide.
const CROSS: [(f64, f64); 12] = [
    (0.0, -0.42),
    (0.8, -1.22),
    (1.22, -0.8),
    (0.42, 0.0),
    (1.22, 0.8),
    (0.8, 1.22),
    (0.0, 0.42),
    (-0.8, 1.22),
    (-1.22, 0.8),
    (-0.42, 0.0),
    (-1.22, -0.8),
    (-0.8, -1.22),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_series_has_a_shape_of_its_own() {
        let shapes: Vec<Shape> = (0..super::super::theme::SERIES)
            .map(|i| shape(i, 3.0))
            .collect();
        for (i, a) in shapes.iter().enumerate() {
            assert!(shapes[i + 1..].iter().all(|b| a != b));
        }
    }
}
