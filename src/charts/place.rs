//! Boxes on the picture, and finding a free place for a label.

/// A box in px, y downward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Rect {
    pub fn width(self) -> f64 {
        self.right - self.left
    }

    pub fn height(self) -> f64 {
        self.bottom - self.top
    }

    pub fn overlaps(self, other: Rect) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    pub fn holds(self, other: Rect) -> bool {
        self.left <= other.left
            && self.right >= other.right
            && self.top <= other.top
            && self.bottom >= other.bottom
    }

    fn contains(self, (x, y): (f64, f64)) -> bool {
        x > self.left && x < self.right && y > self.top && y < self.bottom
    }
}

/// A place for a label.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub area: Rect,
    /// How much worse the place is than others, in points covered.
    pub penalty: usize,
}

/// Places labels so that none covers another, and as few data points as possible.
pub(super) struct Placer {
    bounds: Rect,
    taken: Vec<Rect>,
    points: Vec<(f64, f64)>,
}

impl Placer {
    pub fn new(bounds: Rect) -> Self {
        Placer {
            bounds,
            taken: Vec::new(),
            points: Vec::new(),
        }
    }

    /// Points that labels should not cover.
    pub fn avoid(&mut self, points: impl IntoIterator<Item = (f64, f64)>) {
        self.points.extend(points);
    }

    /// A line that labels should not cover, as points along it.
    pub fn avoid_line(&mut self, line: &[(f64, f64)]) {
        for pair in line.windows(2) {
            let (from, to) = (pair[0], pair[1]);
            let steps = ((to.0 - from.0).hypot(to.1 - from.1) / 5.0)
                .ceil()
                .clamp(1.0, 1000.0);
            for i in 0..=steps as usize {
                let t = i as f64 / steps;
                self.points
                    .push((from.0 + (to.0 - from.0) * t, from.1 + (to.1 - from.1) * t));
            }
        }
    }

    /// A box no label may touch.
    pub fn take(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// The candidate with the least penalty and the fewest points covered, the earlier on a tie; `None` where all touch
    /// a label or the edge.
    pub fn place(&mut self, candidates: &[Candidate]) -> Option<Rect> {
        let free = |c: &&Candidate| {
            self.bounds.holds(c.area) && !self.taken.iter().any(|t| t.overlaps(c.area))
        };
        let cost = |c: &&Candidate| {
            c.penalty + self.points.iter().filter(|p| c.area.contains(**p)).count()
        };
        let best = candidates.iter().filter(free).min_by_key(cost)?.area;
        self.taken.push(best);
        Some(best)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rect(left: f64, top: f64) -> Rect {
        Rect {
            left,
            top,
            right: left + 10.0,
            bottom: top + 5.0,
        }
    }

    fn at(left: f64, top: f64) -> Candidate {
        Candidate {
            area: rect(left, top),
            penalty: 0,
        }
    }

    #[test]
    fn a_label_never_covers_another_nor_leaves_the_bounds() {
        let mut placer = Placer::new(Rect {
            left: 0.0,
            top: 0.0,
            right: 30.0,
            bottom: 10.0,
        });
        assert_eq!(
            placer.place(&[at(25.0, 0.0), at(0.0, 0.0)]),
            Some(rect(0.0, 0.0))
        );
        assert_eq!(
            placer.place(&[at(5.0, 2.0), at(10.0, 0.0)]),
            Some(rect(10.0, 0.0))
        );
        assert_eq!(placer.place(&[at(5.0, 2.0)]), None);
    }

    #[test]
    fn a_label_covers_the_fewest_points_it_can() {
        let mut placer = Placer::new(Rect {
            left: 0.0,
            top: 0.0,
            right: 30.0,
            bottom: 10.0,
        });
        placer.avoid([(5.0, 2.0), (6.0, 2.0), (15.0, 2.0)]);
        assert_eq!(
            placer.place(&[at(0.0, 0.0), at(10.0, 0.0)]),
            Some(rect(10.0, 0.0))
        );
    }

    #[test]
    fn a_penalty_outweighs_the_points_it_stands_for() {
        let mut placer = Placer::new(Rect {
            left: 0.0,
            top: 0.0,
            right: 30.0,
            bottom: 10.0,
        });
        placer.avoid([(5.0, 2.0)]);
        let far = Candidate {
            area: rect(10.0, 0.0),
            penalty: 2,
        };
        assert_eq!(placer.place(&[at(0.0, 0.0), far]), Some(rect(0.0, 0.0)));
    }
}
