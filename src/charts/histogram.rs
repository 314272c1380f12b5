//! How values are distributed.

use super::axis::{Axis, Size};
use super::bins::{Bins, quantile, rule_width};
use super::canvas::Canvas;
use super::data::{Place, Reference, check_references, reaching};
use super::error::ChartError;
use super::frame::{Frame, NumberAxis, XAxis};
use super::header::Header;
use super::look::Role;
use super::number::significant;
use super::overlay::Overlay;
use super::place::Rect;
use super::range::Range;
use super::svg::{Words, document};
use super::ticks::Step;
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
        let y = Range {
            low: 0.0,
            high: bins.most() as f64,
        };
        let (x, y) = reaching(&self.references, (bins.range(), y));
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
