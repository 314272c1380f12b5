//! The one number a description gives for a relation.

use super::data::Point;

/// Pearson's r; `None` below three points or without spread.
pub(super) fn correlation(points: &[Point]) -> Option<f64> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let mean_x = points.iter().map(|p| p.x / n).sum::<f64>();
    let mean_y = points.iter().map(|p| p.y / n).sum::<f64>();
    let scale_x = points
        .iter()
        .map(|p| (p.x - mean_x).abs())
        .fold(0.0, f64::max);
    let scale_y = points
        .iter()
        .map(|p| (p.y - mean_y).abs())
        .fold(0.0, f64::max);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for point in points {
        let (dx, dy) = ((point.x - mean_x) / scale_x, (point.y - mean_y) / scale_y);
        xx += dx * dx;
        yy += dy * dy;
        xy += dx * dy;
    }
    let r = xy / (xx.sqrt() * yy.sqrt());
    r.is_finite().then_some(r)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Anscombe FJ, Am Stat 1973;27:17-21, first set: r = 0.816 (data from memory).
    #[test]
    fn the_correlation_is_that_of_anscombes_first_set() {
        let x = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
        let y = [
            8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68,
        ];
        let points: Vec<Point> = x.into_iter().zip(y).map(Point::from).collect();
        assert!((correlation(&points).unwrap() - 0.816).abs() < 0.0005);
        assert_eq!(correlation(&points[..2]), None);
        let flat: Vec<Point> = [1.0, 2.0, 3.0].map(|x| Point { x, y: 5.0 }).to_vec();
        assert_eq!(correlation(&flat), None);
    }
}
