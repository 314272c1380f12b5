//! Fewer points where the eye would see no difference.

use std::collections::BTreeSet;

/// Above so many points of a line, each px column keeps its first, lowest, highest and last.
const MOST_VERTICES: usize = 4000;

/// The points to draw: one per cell of a grid, which starts at 0.1 px and grows until they are at most `most`.
pub(super) fn dots(points: &[(f64, f64)], most: usize) -> Vec<(f64, f64)> {
    let mut cell = 0.1;
    loop {
        let mut seen = BTreeSet::new();
        let key = |v: f64| (v / cell).round() as i64;
        let kept: Vec<_> = points
            .iter()
            .copied()
            .filter(|(x, y)| seen.insert((key(*x), key(*y))))
            .collect();
        if kept.len() <= most.max(1) {
            return kept;
        }
        cell *= 2.0;
    }
}

/// The vertices to draw of a line.
pub(super) fn vertices(line: &[(f64, f64)]) -> Vec<(f64, f64)> {
    if line.len() <= MOST_VERTICES {
        return line.to_vec();
    }
    let mut kept = Vec::new();
    for column in line.chunk_by(|a, b| a.0.floor() == b.0.floor()) {
        let mut picks: Vec<usize> = vec![0, column.len() - 1];
        picks.extend((0..column.len()).min_by(|a, b| column[*a].1.total_cmp(&column[*b].1)));
        picks.extend((0..column.len()).max_by(|a, b| column[*a].1.total_cmp(&column[*b].1)));
        picks.sort_unstable();
        picks.dedup();
        kept.extend(picks.into_iter().map(|i| column[i]));
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_on_one_place_are_drawn_once_and_few_points_all() {
        assert_eq!(
            dots(&[(1.0, 2.0), (1.0, 2.0), (1.2, 2.0)], 100),
            [(1.0, 2.0), (1.2, 2.0)]
        );
    }

    #[test]
    fn many_points_are_thinned_evenly() {
        let points: Vec<_> = (0..200_000)
            .map(|i| (f64::from(i % 500), f64::from(i / 500)))
            .collect();
        let kept = dots(&points, 9000);
        assert!(kept.len() <= 9000 && kept.len() > 1800, "{}", kept.len());
    }

    #[test]
    fn a_thinned_line_keeps_its_extremes_and_ends() {
        let mut line: Vec<_> = (0..50_000).map(|i| (f64::from(i) / 100.0, 100.0)).collect();
        line[31_234].1 = 3.0;
        let kept = vertices(&line);
        assert!(kept.len() < 2500 && kept.contains(&line[31_234]));
        assert_eq!((kept[0], kept[kept.len() - 1]), (line[0], line[49_999]));
    }
}
