//! Order among draws, and the intervals made of it.
//!
//! Intervals end in the tails, so the tails are picked out first, by bounds that the first draws
//! suggest, and only they are put in order. What comes of it is what sorting all would give.

use std::sync::OnceLock;

use super::moments::Moments;

/// The place of a quantile among sorted values.
fn place(count: usize, share: f64) -> usize {
    ((share * count as f64) as usize).min(count - 1)
}

/// How many values an interval spans, its upper end not counted.
fn inside(count: usize, coverage: f64) -> usize {
    ((coverage * count as f64).round() as usize).min(count - 1)
}

/// The interval of values with equal probability left out on both sides.
pub(super) fn symmetric(values: &[f64], tails: &Tails, coverage: f64) -> [f64; 2] {
    let left_out = 0.5 * (1.0 - coverage);
    let [at_low, at_high] = [left_out, 1.0 - left_out].map(|share| place(values.len(), share));
    let [mut low, mut high] = tails.holding(values, at_low + 1, values.len() - at_high);
    let at_high = at_high + high.len() - values.len();
    [(&mut low, at_low), (&mut high, at_high)]
        .map(|(tail, at)| *tail.select_nth_unstable_by(at, f64::total_cmp).1)
}

/// The intervals of all values.
pub(super) struct Intervals {
    pub(super) symmetric: [f64; 2],
    pub(super) shortest: [f64; 2],
}

impl Intervals {
    pub(super) fn of(values: &[f64], tails: &Tails, coverage: f64) -> Intervals {
        let count = values.len();
        let inside = inside(count, coverage);
        let [low, high] = tails.sorted(values, count - inside);
        Intervals {
            symmetric: symmetric(values, tails, coverage),
            shortest: shortest(&low, &high),
        }
    }
}

/// The shortest interval that holds all but the values beyond its ends (clause 7.7): those that
/// end in the same places of both tails.
fn shortest(low: &[f64], high: &[f64]) -> [f64; 2] {
    let mut best = [low[0], high[0]];
    for (low, high) in low.iter().zip(high) {
        if high - low < best[1] - best[0] {
            best = [*low, *high];
        }
    }
    best
}

/// Parts of the draws that the scatter of the shortest interval is seen in.
const PARTS: usize = 16;

/// Draws of a part that are looked at, unless the coverage needs more to leave some out.
const PART: usize = 2560;

/// Draws that a part leaves out at least.
const LEFT_OUT: f64 = 20.0;

/// Two standard errors of the ends of the shortest interval: what they scatter by from part to part,
/// brought to all draws by the cube root of their number, as the place of a minimum that draws
/// show settles (Kim & Pollard 1990 Ann Stat 18:191-219, from memory).
pub(super) fn shortest_within(values: &[f64], coverage: f64) -> f64 {
    let wanted = PART.max((LEFT_OUT / (1.0 - coverage)).min(values.len() as f64) as usize);
    let part = values.len() / PARTS;
    let looked_at = wanted.min(part).max(1);
    let inside = inside(looked_at, coverage);
    let ends = |at: usize| {
        let some = &values[at * part..at * part + looked_at];
        let [low, high] = Tails::default().sorted(some, looked_at - inside);
        shortest(&low, &high)
    };
    let ends: Vec<[f64; 2]> = (0..PARTS).map(ends).collect();
    let scatter = [0, 1].map(|end| {
        let of_end: Vec<f64> = ends.iter().map(|both| both[end]).collect();
        Moments::of(&of_end).standard()
    });
    let to_all = (looked_at as f64 / values.len() as f64).cbrt();
    2.0 * scatter[0].max(scatter[1]) * to_all
}

/// Bounds beyond which the tails stand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    /// Above the lower tail.
    above: f64,
    /// Below the upper one.
    below: f64,
}

impl Bounds {
    /// Bounds for more values like these: six standard deviations of their number wider than what
    /// an interval leaves out, so that hardly ever too few stand beyond them.
    pub(super) fn of(values: &[f64], coverage: f64) -> Bounds {
        let outside = (values.len() - inside(values.len(), coverage)) as f64;
        let reach = (outside + 6.0 * outside.sqrt()) as usize;
        let mut all = values.to_vec();
        let mut at = |at: usize| *all.select_nth_unstable_by(at, f64::total_cmp).1;
        let Some(from_above) = values.len().checked_sub(1 + reach) else {
            return Bounds {
                above: f64::INFINITY,
                below: f64::NEG_INFINITY,
            };
        };
        Bounds {
            above: at(reach),
            below: at(from_above),
        }
    }
}

/// Values beyond bounds, in no order.
#[derive(Clone, Debug, Default)]
pub(super) struct Tails {
    low: Vec<f64>,
    high: Vec<f64>,
}

/// Values looked at between two looks at the room.
const CHUNK: usize = 64;

impl Tails {
    /// Picks the tails out without a branch for each value: every value is written down, and
    /// stays where it lies beyond the bound.
    pub(super) fn pick(values: &[f64], bounds: Bounds) -> Tails {
        let mut tails = Tails::default();
        let [mut lows, mut highs] = [0; 2];
        for chunk in values.chunks(CHUNK) {
            let low = room(&mut tails.low, lows);
            let high = room(&mut tails.high, highs);
            let [mut low_count, mut high_count] = [0; 2];
            for value in chunk {
                low[low_count % CHUNK] = *value;
                high[high_count % CHUNK] = *value;
                low_count += usize::from(*value < bounds.above);
                high_count += usize::from(*value > bounds.below);
            }
            lows += low_count;
            highs += high_count;
        }
        tails.low.truncate(lows);
        tails.high.truncate(highs);
        tails
    }

    /// Adds the tails of other values by the same bounds.
    pub(super) fn join(&mut self, other: &Tails) {
        self.low.extend_from_slice(&other.low);
        self.high.extend_from_slice(&other.high);
    }

    /// Values that hold that many of the least, and that many of the greatest: those of the tails,
    /// unless the bounds were too narrow.
    fn holding(&self, values: &[f64], least: usize, greatest: usize) -> [Vec<f64>; 2] {
        [(&self.low, least), (&self.high, greatest)].map(|(tail, count)| match tail.len() < count {
            true => values.to_vec(),
            false => tail.clone(),
        })
    }

    /// The least values, one more than are outside, and the greatest, as many as are outside; both
    /// sorted.
    fn sorted(&self, values: &[f64], outside: usize) -> [Vec<f64>; 2] {
        let [mut low, mut high] = self.holding(values, outside + 1, outside);
        if outside < low.len() {
            low.select_nth_unstable_by(outside, f64::total_cmp);
            low.truncate(outside + 1);
        }
        let first = high.len() - outside;
        high.select_nth_unstable_by(first, f64::total_cmp);
        high.drain(..first);
        [low, high].map(|mut tail| {
            tail.sort_unstable_by(f64::total_cmp);
            tail
        })
    }
}

/// Room for a chunk behind what was picked.
fn room(picked: &mut Vec<f64>, count: usize) -> &mut [f64] {
    if picked.len() < count + CHUNK {
        picked.resize(2 * picked.len() + 4 * CHUNK, 0.0);
    }
    &mut picked[count..count + CHUNK]
}

/// Values drawn, sorted when someone looks.
#[derive(Clone, Debug)]
pub(super) struct Values {
    pub(super) drawn: Vec<f64>,
    sorted: OnceLock<Vec<f64>>,
}

impl Values {
    pub(super) fn of(drawn: Vec<f64>) -> Values {
        Values {
            drawn,
            sorted: OnceLock::new(),
        }
    }

    pub(super) fn sorted(&self) -> &[f64] {
        self.sorted.get_or_init(|| {
            let mut sorted = self.drawn.clone();
            sorted.sort_unstable_by(f64::total_cmp);
            sorted
        })
    }
}

impl PartialEq for Values {
    fn eq(&self, other: &Values) -> bool {
        self.drawn == other.drawn
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same intervals from all values sorted.
    fn by_sorting(values: &[f64], coverage: f64) -> Intervals {
        let mut sorted = values.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let count = sorted.len();
        let inside = ((coverage * count as f64).round() as usize).min(count - 1);
        let left_out = 0.5 * (1.0 - coverage);
        Intervals {
            symmetric: [left_out, 1.0 - left_out].map(|share| sorted[place(count, share)]),
            shortest: shortest(&sorted, &sorted[inside..]),
        }
    }

    fn agree(values: &[f64]) {
        for coverage in [0.001, 0.3, 0.5, 0.9, 0.95, 0.99, 0.9999, 0.999_999] {
            let all = by_sorting(values, coverage);
            let first = Bounds::of(&values[..values.len().min(700)], coverage);
            let tails = Tails::pick(values, first);
            let found = Intervals::of(values, &tails, coverage);
            let bits = |ends: [f64; 2]| ends.map(f64::to_bits);
            assert_eq!(bits(found.symmetric), bits(all.symmetric), "{coverage}");
            assert_eq!(bits(found.shortest), bits(all.shortest), "{coverage}");
            let alone = symmetric(values, &tails, coverage);
            assert_eq!(bits(alone), bits(all.symmetric), "{coverage}");
        }
    }

    #[test]
    fn tails_give_what_sorting_all_gives() {
        // Neither even nor in order, with ties, zeros of both signs and long tails.
        let number = |at: usize| {
            let share = (at as f64 * 0.618_033_988_749_894_9).fract();
            (share / (1.0 - share)).ln()
        };
        for count in [1, 2, 63, 64, 65, 700, 10_240, 40_000] {
            agree(&(0..count).map(number).collect::<Vec<_>>());
            agree(&(0..count).map(|at| number(at).exp()).collect::<Vec<_>>());
            agree(&(0..count).map(|at| number(at).trunc()).collect::<Vec<_>>());
            agree(&(0..count).map(|at| at as f64).collect::<Vec<_>>());
            agree(&vec![2.5; count]);
        }
    }

    #[test]
    fn first_draws_that_mislead_do_no_harm() {
        for far in [1e9, -1e9] {
            let value = |at: usize| if at < 700 { far } else { at as f64 };
            agree(&(0..10_240).map(value).collect::<Vec<_>>());
        }
    }

    #[test]
    fn joined_tails_are_those_of_all_values() {
        let values: Vec<f64> = (0..4000).map(|at| f64::from(at * 37 % 4001)).collect();
        let bounds = Bounds::of(&values[..500], 0.95);
        let (one, other) = values.split_at(1500);
        let mut joined = Tails::pick(one, bounds);
        joined.join(&Tails::pick(other, bounds));
        let found = Intervals::of(&values, &joined, 0.95);
        assert_eq!(found.symmetric, by_sorting(&values, 0.95).symmetric);
        assert!(joined.low.len() < 600 && joined.high.len() < 600);
    }
}
