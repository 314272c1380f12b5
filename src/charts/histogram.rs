//! How values are distributed.

use super::axis::{Axis, Size};
use super::canvas::Canvas;
use super::data::{Place, Reference, ReferenceDirection, check_references};
use super::error::ChartError;
use super::frame::{Frame, NumberAxis, XAxis};
use super::header::Header;
use super::look::Role;
use super::number::significant;
use super::overlay::Overlay;
use super::place::Rect;
use super::svg::{Words, document};
use super::ticks::{Range, Step};
use super::words::{self, empty_chart};

/// Counts of values in bins of one round width.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Histogram {
    /// Title, one or two lines.
    pub title: String,
    /// Tells charts of equal content in one page apart; may be empty.
    pub key: String,
    /// The quantity.
    pub x: Axis,
    /// What is counted, for instance `Exams` or `Draws`.
    pub counted: String,
    /// The values, in the unit of x.
    pub values: Vec<f64>,
    /// About how many bins (1 to 100; their width is rounded to 1, 2 or 5 times a power of ten); by default as many as
    /// the rule of Freedman and Diaconis asks for (Z Wahrscheinlichkeitstheorie verw Gebiete 1981;57:453-76).
    pub bins: Option<usize>,
    /// Lines at values worth comparing with: vertical at a value, horizontal at a count.
    pub references: Vec<Reference>,
}

const EMPTY: &str = "No values to draw.";
const SINGLE: &str = "Only one value: it has no distribution.";
const EQUAL: &str = "All values are equal.";

/// More bins than this are narrower than the eye can use.
const MOST_BINS: usize = 100;
/// The rule's bins are kept below this.
const MOST_RULE_BINS: f64 = 60.0;

/// Bins of one width; bin `i` holds what is at least `(first + i) * width` and less than the next edge.
struct Bins {
    step: Step,
    first: f64,
    counts: Vec<usize>,
}

impl Bins {
    fn of(sorted: &[f64], step: Step) -> Bins {
        let position = |v: f64| step.position(v);
        let first = sorted.first().map_or(0.0, |v| position(*v));
        let last = sorted.last().map_or(0.0, |v| position(*v));
        let mut counts = vec![0; (last - first) as usize + 1];
        for value in sorted {
            let index = (position(*value) - first) as usize;
            if let Some(count) = counts.get_mut(index) {
                *count += 1;
            }
        }
        Bins {
            step,
            first,
            counts,
        }
    }

    fn edge(&self, index: usize) -> f64 {
        self.step.times(self.first + index as f64)
    }

    fn range(&self) -> Range {
        Range {
            low: self.edge(0),
            high: self.edge(self.counts.len()),
        }
    }

    fn most(&self) -> usize {
        self.counts.iter().copied().max().unwrap_or(0)
    }

    /// The fullest bin, the first on a tie.
    fn fullest(&self) -> usize {
        self.counts
            .iter()
            .position(|count| *count == self.most())
            .unwrap_or(0)
    }
}

impl Histogram {
    /// The drawing as SVG.
    ///
    /// # Errors
    /// [`ChartError`] where a value is not finite or too large, or the count of bins is not 1 to 100.
    pub fn svg(&self, size: Size) -> Result<String, ChartError> {
        self.check()?;
        let description = self.description();
        let words = Words {
            title: &self.title,
            description: &description,
            key: &self.key,
        };
        let Some(bins) = self.bins() else {
            return empty_chart(size, &words, EMPTY);
        };
        let (x, y) = self.ranges(&bins);
        let header = Header::lay_out(size, &self.title, &self.notes(), &[]);
        let counted = Axis::new(self.counted_name(), "");
        let x = NumberAxis {
            axis: &self.x,
            range: x,
            whole: false,
        };
        let y = NumberAxis {
            axis: &counted,
            range: y,
            whole: true,
        };
        let frame = Frame::numbers(size, header, &XAxis::Numbers(x), &y);
        document(size, &words, |canvas| {
            self.paint(canvas, &frame, &bins, size)
        })
    }

    /// The chart in words: how many values, range, median, the fullest bin.
    pub fn description(&self) -> String {
        let mut text = format!("Histogram of {}: ", self.x.name());
        let Some(bins) = self.bins() else {
            return text + EMPTY;
        };
        let sorted = self.sorted();
        text += &words::count(self.values.len(), "value", "values");
        let value = |v: f64| words::value(&self.x, v);
        if let (Some(low), Some(high)) = (sorted.first(), sorted.last()) {
            text += &format!(
                " from {} to {}, median {}",
                value(*low),
                value(*high),
                value(quantile(&sorted, 0.5))
            );
        }
        let fullest = bins.fullest();
        let edge = |index: usize| significant(bins.edge(index), 6);
        text += &format!(
            ". {} of width {}; the fullest, from {} to {}, holds {}.",
            words::count(bins.counts.len(), "bin", "bins"),
            value(bins.step.width()),
            edge(fullest),
            self.x.with_unit(&edge(fullest + 1)),
            words::count(bins.most(), "value", "values"),
        );
        for note in self.notes() {
            text += &format!(" {note}");
        }
        text + &words::references(
            &self.references,
            &self.x,
            &Axis::new(self.counted_name(), ""),
        )
    }

    fn counted_name(&self) -> String {
        if self.counted.trim().is_empty() {
            "Count".into()
        } else {
            self.counted.clone()
        }
    }

    fn check(&self) -> Result<(), ChartError> {
        for (index, value) in self.values.iter().enumerate() {
            Place {
                series: &self.x.label,
                index,
            }
            .finite("value", *value)?;
        }
        if let Some(bins) = self.bins.filter(|bins| !(1..=MOST_BINS).contains(bins)) {
            return Err(ChartError::Bins {
                bins,
                limit: MOST_BINS,
            });
        }
        check_references(&self.references)
    }

    fn notes(&self) -> Vec<String> {
        let first = self.values.first();
        match self.values.len() {
            1 => vec![SINGLE.to_owned()],
            2.. if self.values.iter().all(|v| Some(v) == first) => vec![EQUAL.to_owned()],
            _ => Vec::new(),
        }
    }

    fn sorted(&self) -> Vec<f64> {
        let mut sorted: Vec<f64> = self
            .values
            .iter()
            .copied()
            .filter(|v| v.is_finite())
            .collect();
        sorted.sort_unstable_by(f64::total_cmp);
        sorted
    }

    fn bins(&self) -> Option<Bins> {
        let sorted = self.sorted();
        let all = Range::of(sorted.iter().copied())?;
        let open = all.padded(0.0);
        let width = match self.bins {
            Some(bins) => open.span() / bins.clamp(1, MOST_BINS) as f64,
            None => rule_width(&sorted, open),
        };
        Some(Bins::of(&sorted, Step::at_least(width)))
    }

    fn ranges(&self, bins: &Bins) -> (Range, Range) {
        let mut x = bins.range();
        let mut y = Range {
            low: 0.0,
            high: bins.most() as f64,
        };
        for reference in &self.references {
            match reference.direction {
                ReferenceDirection::Horizontal => y = y.including(reference.at),
                ReferenceDirection::Vertical => x = x.including(reference.at),
            }
        }
        // Room above for the labels of reference lines.
        let room = if self.references.is_empty() {
            1.05
        } else {
            1.18
        };
        (
            x.padded(0.02),
            Range {
                high: y.high * room,
                ..y
            },
        )
    }

    fn paint(
        &self,
        canvas: &Canvas<'_>,
        frame: &Frame,
        bins: &Bins,
        size: Size,
    ) -> Result<(), ChartError> {
        let plot = frame.paint_back(canvas, size)?;
        let mut overlay = Overlay::new(canvas, &plot, frame.header.fonts.text);
        for (index, count) in bins
            .counts
            .iter()
            .enumerate()
            .filter(|(_, count)| **count > 0)
        {
            let (left, top) = plot.at(bins.edge(index), *count as f64);
            let (right, bottom) = plot.at(bins.edge(index + 1), 0.0);
            // A hairline of paper between neighbors, as long as bars are wide enough for it.
            let gap = if right - left > 4.0 { 0.5 } else { 0.0 };
            canvas.rect(
                Rect {
                    left: left + gap,
                    top,
                    right: right - gap,
                    bottom,
                },
                Role::Bar(0),
            )?;
            overlay.avoid_line(&[(left, top), (right, top)]);
            overlay.avoid_line(&[((left + right) / 2.0, top), ((left + right) / 2.0, bottom)]);
        }
        overlay.reference_lines_on_bars(&self.references)?;
        frame.paint_front(canvas)?;
        overlay.reference_labels(&self.references)
    }
}

/// Linear interpolation between order statistics (type 7 of Hyndman and Fan, Am Stat 1996;50:361-5).
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return 0.0;
    };
    let position = share * last as f64;
    let below = position.floor() as usize;
    let (low, high) = (sorted[below], sorted[(below + 1).min(last)]);
    low + (high - low) * (position - below as f64)
}

/// Twice the interquartile range over the cube root of the count, or Sturges' rule where that range is zero.
fn rule_width(sorted: &[f64], open: Range) -> f64 {
    let count = sorted.len() as f64;
    let quartiles = quantile(sorted, 0.75) - quantile(sorted, 0.25);
    let width = 2.0 * quartiles / count.cbrt();
    let sturges = open.span() / (count.log2().ceil() + 1.0);
    let width = if width > 0.0 { width } else { sturges };
    width.clamp(open.span() / MOST_RULE_BINS, open.span())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn histogram(values: Vec<f64>) -> Histogram {
        Histogram {
            x: Axis::new("Stroke volume", "mL"),
            values,
            ..Histogram::default()
        }
    }

    #[test]
    fn bins_have_round_edges_and_hold_every_value_once() {
        let values: Vec<f64> = (0..500)
            .map(|i| 40.0 + f64::from((i * 7919) % 1000) / 20.0)
            .collect();
        let bins = histogram(values).bins().unwrap();
        assert_eq!(bins.counts.iter().sum::<usize>(), 500);
        assert_eq!(bins.edge(0), 40.0);
    }

    #[test]
    fn a_value_on_an_edge_belongs_to_the_bin_above() {
        let mut chart = histogram(vec![0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9]);
        chart.bins = Some(9);
        let bins = chart.bins().unwrap();
        assert_eq!(bins.counts, vec![1; 10]);
    }

    // R's quantile() of type 7 for 1, 2, 3, 4, 10: quartiles 2, 3 and 4 (from its definition).
    #[test]
    fn quantiles_are_of_type_7() {
        let sorted = [1.0, 2.0, 3.0, 4.0, 10.0];
        assert_eq!(
            [0.25, 0.5, 0.75].map(|p| quantile(&sorted, p)),
            [2.0, 3.0, 4.0]
        );
        assert_eq!(quantile(&[1.0, 2.0], 0.5), 1.5);
    }

    #[test]
    fn one_value_and_equal_values_are_called_so() {
        assert!(histogram(vec![5.0]).description().contains(SINGLE));
        assert!(histogram(vec![5.0, 5.0, 5.0]).description().contains(EQUAL));
        assert_eq!(
            histogram(vec![]).description(),
            "Histogram of Stroke volume (mL): No values to draw."
        );
    }

    #[test]
    fn a_far_outlier_does_not_make_thousands_of_bins() {
        let mut values: Vec<f64> = (0..100).map(f64::from).collect();
        values.push(1e9);
        assert!(histogram(values).bins().unwrap().counts.len() <= 61);
    }

    #[test]
    fn a_count_of_bins_outside_1_to_100_is_refused() {
        let chart = Histogram {
            bins: Some(0),
            ..histogram(vec![1.0, 2.0])
        };
        assert!(matches!(
            chart.svg(Size::new(320, 240).unwrap()),
            Err(ChartError::Bins {
                bins: 0,
                limit: 100
            })
        ));
    }
}
