use std::fmt::Write as _;

use proptest::prelude::*;

use super::*;
use crate::formula::notation;
use crate::quantity::{Kind, Reading, Spread, SpreadForm, Unit};
use crate::uncertainty::{Correlation, Exam, propagate};

fn read(text: &str) -> Sheet {
    Sheet::read(text).unwrap().sheet
}

/// The slow, obvious answer: all that each cell can come from, held against that of all others.
struct Judge {
    cells: Vec<CellId>,
    has_formula: Vec<bool>,
    on: Vec<Vec<usize>>,
    /// For each cell what it can be the cause of itself: its place, and a number for each pair.
    own: Vec<BTreeSet<usize>>,
    causes: Vec<BTreeSet<usize>>,
}

impl Judge {
    fn under(sheet: &Sheet, wanted: &[CellId], settings: &Settings) -> Judge {
        let leanings = sheet.leanings(wanted);
        let mut judge = Judge {
            cells: leanings.iter().map(|leaning| leaning.cell).collect(),
            has_formula: leanings.iter().map(|l| l.has_formula).collect(),
            on: leanings.iter().map(|leaning| leaning.on.clone()).collect(),
            own: Vec::new(),
            causes: Vec::new(),
        };
        for (at, cell) in judge.cells.iter().enumerate() {
            let pairs = settings.correlations.iter().enumerate();
            let pairs = pairs.filter(|(_, c)| [c.first, c.second].contains(cell));
            let pairs = pairs.map(|(pair, _)| judge.cells.len() + pair);
            let own: BTreeSet<usize> = pairs.chain([at]).collect();
            let below = judge.on[at].iter().flat_map(|on| &judge.causes[*on]);
            judge.causes.push(below.chain(&own).copied().collect());
            judge.own.push(own);
        }
        judge
    }

    fn stops(&self, cell: CellId) -> BTreeSet<CellId> {
        let from = self.cells.iter().position(|c| *c == cell).unwrap();
        let mut waiting: BTreeSet<usize> = self.on[from].iter().copied().collect();
        let mut passed = self.own[from].clone();
        let mut stops = BTreeSet::new();
        while let Some(at) = waiting.pop_last() {
            let mut others = waiting.iter().map(|other| &self.causes[*other]);
            let is_apart = |other: &BTreeSet<usize>| self.causes[at].is_disjoint(other);
            if is_apart(&passed) && others.all(is_apart) {
                stops.extend(self.has_formula[at].then_some(self.cells[at]));
            } else {
                passed.extend(&self.own[at]);
                waiting.extend(&self.on[at]);
            }
        }
        stops
    }
}

/// The same stops, from each cell as from the cell where the ways begin.
fn agree(sheet: &Sheet, wanted: CellId, settings: &Settings) {
    let apart = Apart::under(sheet, &[wanted], settings);
    let judge = Judge::under(sheet, &[wanted], settings);
    for cell in &judge.cells {
        let ways = apart.ways(*cell);
        let mut waiting = vec![*cell];
        while let Some(cell) = waiting.pop() {
            let stops = ways.stops(cell);
            assert_eq!(stops, judge.stops(cell), "{}", sheet.name(cell));
            waiting.extend(stops);
        }
    }
}

/// Readings, then cells that each lean on up to three cells before them, and pairs of readings.
fn sheets() -> impl Strategy<Value = (String, Vec<(usize, usize)>)> {
    let cell = proptest::collection::vec(0..64_usize, 1..4);
    // Near ones are more often leaned on, so that there are long ways.
    let cells = proptest::collection::vec((cell, any::<bool>()), 1..24);
    let pairs = proptest::collection::vec((0..6_usize, 0..6_usize), 0..3);
    (cells, pairs).prop_map(|(cells, pairs)| {
        let mut text = String::new();
        for at in 0..6 {
            writeln!(text, "c{at} = 2 (u = 0.1)").unwrap();
        }
        for (at, (on, is_near)) in cells.iter().enumerate() {
            let before = 6 + at;
            let of = |on: &usize| match is_near {
                true => before - 1 - on % 3,
                false => on % before,
            };
            let on: Vec<String> = on.iter().map(|on| format!("c{}", of(on))).collect();
            writeln!(text, "c{before} = {}", on.join(" + ")).unwrap();
        }
        (text, pairs)
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn stops_are_those_of_all_causes_held_against_each_other((text, pairs) in sheets()) {
        let sheet = read(&text);
        let cell = |at: usize| sheet.cell(&format!("c{at}")).unwrap();
        let pairs = pairs.iter().filter(|(first, second)| first != second);
        let correlations = pairs.map(|(first, second)| Correlation {
            first: cell(*first),
            second: cell(*second),
            value: 0.5,
        });
        let settings = Settings {
            correlations: correlations.collect(),
            ..Settings::default()
        };
        agree(&sheet, cell(text.lines().count() - 1), &settings);
    }
}

/// So many cells that a bit for each pair of them would be more than a gigabyte.
const MANY: usize = 100_000;

/// Readings of 1 with these standard uncertainties, and behind each other so many cells with this
/// formula over the one before and the last reading; the first is over all readings.
fn chain(readings: &[f64], first: &str, formula: &str, count: usize) -> (Sheet, CellId) {
    let mut sheet = Sheet::new();
    let spread = |u: &f64| Spread::new(SpreadForm::Standard, *u, Unit::ONE).unwrap();
    let reading = |u: &f64| Reading::of(1.0, Unit::ONE).unwrap().with_spread(spread(u));
    let mut inputs = Vec::new();
    for u in readings {
        let input = sheet.add_input(Unit::ONE, Kind::Plain);
        sheet.set(input, reading(u).unwrap()).unwrap();
        inputs.push(input);
    }
    let of = |text: &str| notation::formula(text, 0).unwrap().formula;
    let mut last = sheet.add_formula(of(first), &inputs, None).unwrap();
    let formula = of(formula);
    for _ in 1..count {
        let on = [last, inputs[inputs.len() - 1]];
        let on = &on[..formula.operands().len()];
        last = sheet.add_formula(formula.clone(), on, None).unwrap();
    }
    (sheet, last)
}

/// How many numbers are held beside the cells themselves, whatever of.
fn held(sheet: &Sheet, cell: CellId) -> usize {
    let apart = Apart::under(sheet, &[cell], &Settings::default());
    let Through {
        nearest,
        depths,
        strides,
    } = Through::ways(&apart, cell);
    let on: usize = apart.nodes.iter().map(|node| node.on.len()).sum();
    on + nearest.len() + depths.len() + strides.len() + apart.ways(cell).is_apart.len()
}

fn standard(sheet: &Sheet, cell: CellId) -> f64 {
    let found = propagate(sheet, cell, &Settings::default());
    found.unwrap().standard
}

#[test]
fn a_hundred_thousand_cells_that_share_a_reading_take_little_room() {
    let (sheet, last) = chain(&[3.0, 4e-5], "x + k", "x + k", MANY);
    assert!(held(&sheet, last) < 7 * MANY);
    // u² = 3² + (100,000 · 4e-5)² (JCGM 100:2008, equation 10).
    assert!((standard(&sheet, last) / 5.0 - 1.0).abs() < 1e-12);
}

/// Each stops at the one before it.
#[test]
fn so_do_a_hundred_thousand_one_behind_the_other() {
    let (sheet, last) = chain(&[3.0, 4.0], "x + y", "x + 1", MANY);
    assert!(held(&sheet, last) < 6 * MANY);
    assert_eq!(standard(&sheet, last), 5.0);
}

/// Written down for many rows.
#[test]
fn so_do_operations_over_blocks() {
    for formula in ["x + y", "x + 1"] {
        let (sheet, last) = chain(&[3.0, 4.0], "x + y", formula, MANY / 5);
        let exam = Exam::new(&sheet, &[last], Settings::default()).unwrap();
        assert_eq!(exam.standard(0), Some(standard(&sheet, last)), "{formula}");
    }
}
