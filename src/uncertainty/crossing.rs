//! Finite changes over many rows: which rows change side of a threshold when a reading is off.
//!
//! An error that all rows share (everyone's diameter 1 mm too low: a habit, a device) and errors
//! that each row has for itself (1 mm, now too low, now too high) do different things to a cohort,
//! and are kept apart: [`crossings`] and [`chances`].
//!
//! ```
//! use semilunar::quantity::Unit;
//! use semilunar::sheet::Sheet;
//! use semilunar::uncertainty::{Column, Off, Question, crossings};
//!
//! let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
//! let cell = |name: &str| sheet.cell(name).unwrap();
//! let columns = [
//!     Column { cell: cell("lvot_diameter"), values: &[Some(2.0), Some(2.2), None] },
//!     Column { cell: cell("lvot_vti"), values: &[Some(18.0), Some(20.0), Some(20.0)] },
//! ];
//! let question = Question {
//!     cell: cell("stroke_volume"),
//!     threshold: 60.0, // in mL, the unit of the cell
//!     reading: cell("lvot_diameter"),
//!     off: Off { amount: 1.0, unit: Unit::parse("mm").unwrap() },
//! };
//! let found = crossings(&sheet, &columns, question).unwrap();
//! // 56.5 mL becomes 62.3 mL; the second row is above already, the third is not known.
//! assert_eq!(found.upward, [0]);
//! assert_eq!((found.compared, found.not_known), (2, [2].to_vec()));
//! ```

use super::draws::{Draw, Shape, Stream, WIDTH};
use super::effect::Off;
use super::error::UncertaintyError;
use crate::formula::simd::widest;
use crate::formula::{COMPARISON_TOLERANCE, CellId, Facet, Lane, Lanes};
use crate::quantity::{Reading, Unit};
use crate::sheet::{Block, Program, Sheet};

/// What rows supply of one cell.
#[derive(Clone, Copy, Debug)]
pub struct Column<'a> {
    /// The cell.
    pub cell: CellId,
    /// A number for each row, in the unit of the cell; `None` where there is none.
    pub values: &'a [Option<f64>],
}

/// What is asked of each row.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// The cell that is compared.
    pub cell: CellId,
    /// With what, in the unit of the cell. A value counts as above beyond 1e-9 of the threshold.
    pub threshold: f64,
    /// The reading that is off; one of the columns.
    pub reading: CellId,
    /// By how much: in every row in [`crossings`], as a standard deviation in [`chances`].
    pub off: Off,
}

/// Rows that change side when all rows are off by the same.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Crossings {
    /// Rows that were not above the threshold, and then are.
    pub upward: Vec<usize>,
    /// Rows that were above it, and then are not.
    pub downward: Vec<usize>,
    /// Rows that have a value both ways.
    pub compared: usize,
    /// Rows that have none, or none with the other reading.
    pub not_known: Vec<usize>,
}

/// How likely rows change side when each is off for itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Chances {
    /// For each row the share of draws in which it changes side; `None` for a row without a value.
    pub of_row: Vec<Option<f64>>,
    /// How many rows change side on average.
    pub expected: f64,
    /// Draws for each row.
    pub draws: usize,
}

/// Which rows change side of a threshold when a reading is off by the same in all of them; nothing
/// is linearized. A row whose other reading is impossible is listed as not known.
///
/// # Errors
/// [`UncertaintyError::Off`] where the reading is none of the columns, the amount does not measure
/// it, or columns differ in length; [`UncertaintyError::NotKnown`] for a cell that is none of the
/// sheet's; [`UncertaintyError::Number`] for a threshold that is no finite number.
pub fn crossings(
    sheet: &Sheet,
    columns: &[Column<'_>],
    question: Question,
) -> Result<Crossings, UncertaintyError> {
    let asked = Asked::of(sheet, columns, question)?;
    let mut block = asked.program.block::<WIDTH>();
    let mut found = Crossings::default();
    let rows = columns[asked.at].values.len();
    for start in (0..rows).step_by(WIDTH) {
        let count = WIDTH.min(rows - start);
        let [as_read, other] = [0.0, 1.0].map(|times| {
            asked.fill(&mut block, count, |i| (start + i, times));
            asked.result(&mut block)
        });
        for i in 0..count {
            match (as_read[i], other[i]) {
                (Some(before), Some(after)) => {
                    found.compared += 1;
                    match (asked.is_above(before), asked.is_above(after)) {
                        (false, true) => found.upward.push(start + i),
                        (true, false) => found.downward.push(start + i),
                        _ => {}
                    }
                }
                _ => found.not_known.push(start + i),
            }
        }
    }
    Ok(found)
}

/// How likely each row changes side of a threshold when its reading has a normal error of its own,
/// with the amount as standard deviation. Draws that give no value count as not changing side.
/// `draws` is rounded up to a multiple of 256; the same `seed` gives the same figures.
///
/// # Errors
/// As [`crossings`], and [`UncertaintyError::Number`] for no draws.
pub fn chances(
    sheet: &Sheet,
    columns: &[Column<'_>],
    question: Question,
    draws: usize,
    seed: u64,
) -> Result<Chances, UncertaintyError> {
    if draws == 0 {
        return Err(UncertaintyError::Number {
            what: "the number of draws",
            value: 0.0,
            way_out: "use at least 1",
        });
    }
    let asked = Asked::of(sheet, columns, question)?;
    let mut block = asked.program.block::<WIDTH>();
    let blocks = draws.div_ceil(WIDTH);
    let rows = columns[asked.at].values.len();
    let mut of_row = Vec::with_capacity(rows);
    for row in 0..rows {
        asked.fill(&mut block, 1, |_| (row, 0.0));
        let Some(as_read) = asked.result(&mut block)[0] else {
            of_row.push(None);
            continue;
        };
        let was_above = asked.is_above(as_read);
        let mut crossed = 0;
        for number in 0..blocks {
            let mut errors = [0.0; WIDTH];
            widest(Draw {
                stream: Stream {
                    seed,
                    block: number as u32,
                    cause: row as u32,
                },
                shape: Shape::Normal,
                out: &mut errors,
            });
            asked.fill(&mut block, WIDTH, |i| (row, errors[i]));
            let values = asked.result(&mut block);
            let known = values.iter().flatten();
            crossed += known.filter(|v| asked.is_above(**v) != was_above).count();
        }
        of_row.push(Some(crossed as f64 / (blocks * WIDTH) as f64));
    }
    Ok(Chances {
        expected: of_row.iter().flatten().sum(),
        of_row,
        draws: blocks * WIDTH,
    })
}

/// A question made ready.
struct Asked<'a> {
    sheet: &'a Sheet,
    columns: &'a [Column<'a>],
    program: Program,
    slot: usize,
    /// The column that is off.
    at: usize,
    unit: Unit,
    /// The amount in the unit of the reading, or as a share of it.
    amount: f64,
    is_share: bool,
    threshold: f64,
}

impl<'a> Asked<'a> {
    fn of(
        sheet: &'a Sheet,
        columns: &'a [Column<'a>],
        question: Question,
    ) -> Result<Asked<'a>, UncertaintyError> {
        let refuse = |why: String| UncertaintyError::Off {
            cell: sheet.name(question.reading),
            why,
        };
        let not_known = |cell: CellId| UncertaintyError::NotKnown {
            cell: sheet.name(cell),
        };
        if !question.threshold.is_finite() {
            return Err(UncertaintyError::Number {
                what: "a threshold",
                value: question.threshold,
                way_out: "it is a finite number in the unit of the cell",
            });
        }
        for cell in columns.iter().map(|c| c.cell).chain([question.cell]) {
            sheet.unit(cell).ok_or_else(|| not_known(cell))?;
        }
        let at = columns.iter().position(|c| c.cell == question.reading);
        let at = at.ok_or_else(|| refuse("it is none of the columns".into()))?;
        let rows = columns[at].values.len();
        if let Some(other) = columns.iter().find(|c| c.values.len() != rows) {
            return Err(refuse(format!(
                "it has {rows} rows, but `{}` has {}",
                sheet.name(other.cell),
                other.values.len()
            )));
        }
        let unit = sheet.unit(question.reading);
        let unit = unit.ok_or_else(|| not_known(question.reading))?;
        let off = question.off;
        let is_share = off.unit.dimension().is_none() && !unit.dimension().is_none();
        let target = if is_share { Unit::ONE } else { unit };
        let amount = off.unit.convert(off.amount, target);
        let amount = amount.filter(|a| a.is_finite());
        let amount = amount.ok_or_else(|| refuse(format!("{} does not measure it", off.unit)))?;
        let cells: Vec<CellId> = columns.iter().map(|c| c.cell).collect();
        let program = Program::new(sheet, &[question.cell], &cells);
        let slot = program.slot(question.cell);
        Ok(Asked {
            slot: slot.ok_or_else(|| not_known(question.cell))?,
            sheet,
            columns,
            program,
            at,
            unit,
            amount,
            is_share,
            threshold: question.threshold,
        })
    }

    /// Fills a block: for each lane the row, and how many times the reading is off there.
    fn fill(&self, block: &mut Block<WIDTH>, count: usize, lane: impl Fn(usize) -> (usize, f64)) {
        for (input, supplied) in self.program.inputs().iter().enumerate() {
            let column = self.columns.iter().find(|c| c.cell == supplied.cell);
            let lanes = self.program.input(block, input);
            *lanes = Lanes::MISSING;
            for i in 0..count {
                let (row, times) = lane(i);
                let value = column.and_then(|c| self.value(c, row, times));
                lanes.set(i, self.said(supplied.cell, supplied.facet, value));
            }
        }
    }

    /// What a row supplies of a column; `None` where it does not, or that is impossible.
    fn value(&self, column: &Column<'_>, row: usize, times: f64) -> Option<f64> {
        let value = column.values[row]?;
        if column.cell != self.columns[self.at].cell || times == 0.0 {
            return Some(value);
        }
        let moved = match self.is_share {
            true => value * (1.0 + times * self.amount),
            false => value + times * self.amount,
        };
        let reading = Reading::of(moved, self.unit).ok()?;
        self.sheet.fits(column.cell, &reading).ok()?;
        Some(moved)
    }

    fn said(&self, cell: CellId, facet: Facet, value: Option<f64>) -> Lane {
        let known = value.filter(|v| v.is_finite());
        if facet == Facet::Value {
            return known.map_or(Lane::MISSING, Lane::measured);
        }
        let unit = self.sheet.unit(cell).unwrap_or(Unit::ONE);
        let reading = known.and_then(|v| Reading::of(v, unit).ok());
        let reading = reading.unwrap_or_else(Reading::unknown);
        let said = self.sheet.facet_of_reading(cell, &reading, facet);
        said.map_or(Lane::MISSING, Lane::measured)
    }

    fn result(&self, block: &mut Block<WIDTH>) -> [Option<f64>; WIDTH] {
        self.program.run_filled(block);
        let lanes = block.lanes(self.slot);
        std::array::from_fn(|i| {
            let lane = lanes.lane(i);
            lane.status.is_known().then_some(lane.value)
        })
    }

    fn is_above(&self, value: f64) -> bool {
        let near = COMPARISON_TOLERANCE * value.abs().max(self.threshold.abs());
        value - self.threshold > near
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet() -> Sheet {
        Sheet::read("use hemodynamics").unwrap().sheet
    }

    fn ask(sheet: &Sheet, amount: f64, unit: &str) -> Question {
        Question {
            cell: sheet.cell("stroke_volume").unwrap(),
            threshold: 60.0,
            reading: sheet.cell("lvot_diameter").unwrap(),
            off: Off {
                amount,
                unit: Unit::parse(unit).unwrap(),
            },
        }
    }

    /// By hand: the volume is π/4 · D² · VTI; a shared error moves every row the same way.
    #[test]
    fn a_shared_error_moves_all_rows_one_way() {
        let sheet = sheet();
        let diameters: Vec<Option<f64>> =
            (0..600).map(|i| Some(1.6 + f64::from(i) / 600.0)).collect();
        let integrals = vec![Some(18.0); 600];
        let columns = [
            Column {
                cell: sheet.cell("lvot_diameter").unwrap(),
                values: &diameters,
            },
            Column {
                cell: sheet.cell("lvot_vti").unwrap(),
                values: &integrals,
            },
        ];
        let above = |d: f64| std::f64::consts::FRAC_PI_4 * d * d * 18.0 > 60.0;
        for (amount, unit, moved) in [
            (1.0, "mm", (|d| d + 0.1) as fn(f64) -> f64),
            (-1.0, "mm", |d| d - 0.1),
            (10.0, "%", |d| d * 1.1),
        ] {
            let found = crossings(&sheet, &columns, ask(&sheet, amount, unit)).unwrap();
            let by_hand: Vec<usize> = (0..600)
                .filter(|i| {
                    let d = diameters[*i].unwrap();
                    above(d) != above(moved(d))
                })
                .collect();
            assert!(!by_hand.is_empty());
            let (there, back) = (&found.upward, &found.downward);
            let (some, none) = if amount > 0.0 {
                (there, back)
            } else {
                (back, there)
            };
            assert_eq!(*some, by_hand);
            assert!(none.is_empty());
            assert_eq!((found.compared, found.not_known.len()), (600, 0));
        }
    }

    /// By hand: a row changes side where its error exceeds its distance to the diameter at which
    /// the volume is 60 mL; the probability is that of the normal distribution.
    #[test]
    fn errors_of_their_own_move_rows_near_the_threshold_both_ways() {
        let sheet = sheet();
        let diameters = [Some(2.0), Some(2.06), Some(2.1), Some(2.5), None];
        let integrals = [Some(18.0); 5];
        let columns = [
            Column {
                cell: sheet.cell("lvot_diameter").unwrap(),
                values: &diameters,
            },
            Column {
                cell: sheet.cell("lvot_vti").unwrap(),
                values: &integrals,
            },
        ];
        let found = chances(&sheet, &columns, ask(&sheet, 1.0, "mm"), 100_000, 7).unwrap();
        let edge = (60.0 / (std::f64::consts::FRAC_PI_4 * 18.0)).sqrt();
        for (chance, diameter) in found.of_row.iter().zip(diameters) {
            assert_eq!(chance.is_some(), diameter.is_some());
            let (Some(chance), Some(d)) = (chance, diameter) else {
                continue;
            };
            let scaled = (d - edge).abs() / 0.1;
            let exact = 0.5 * libm::erfc(scaled / std::f64::consts::SQRT_2);
            let error = (exact * (1.0 - exact) / found.draws as f64).sqrt();
            assert!(
                (chance - exact).abs() <= 5.0 * error + 1e-9,
                "{d}: {chance} {exact}"
            );
        }
        let again = chances(&sheet, &columns, ask(&sheet, 1.0, "mm"), 100_000, 7).unwrap();
        assert_eq!(found, again);
    }

    #[test]
    fn impossible_questions_are_refused_and_impossible_rows_listed() {
        let sheet = sheet();
        let cell = |name: &str| sheet.cell(name).unwrap();
        let (d, vti) = ([Some(2.0), Some(0.9)], [Some(18.0), Some(18.0)]);
        let columns = [
            Column {
                cell: cell("lvot_diameter"),
                values: &d,
            },
            Column {
                cell: cell("lvot_vti"),
                values: &vti,
            },
        ];
        let question = ask(&sheet, -10.0, "mm");
        let found = crossings(&sheet, &columns, question).unwrap();
        assert!(found.not_known.contains(&1));
        let off =
            |r: Result<Crossings, UncertaintyError>| matches!(r, Err(UncertaintyError::Off { .. }));
        assert!(off(crossings(&sheet, &columns, ask(&sheet, 1.0, "s"))));
        assert!(off(crossings(&sheet, &columns[1..], question)));
        let short = [
            columns[0],
            Column {
                cell: cell("lvot_vti"),
                values: &vti[..1],
            },
        ];
        assert!(off(crossings(&sheet, &short, question)));
        let nowhere = Question {
            threshold: f64::NAN,
            ..question
        };
        assert!(matches!(
            crossings(&sheet, &columns, nowhere),
            Err(UncertaintyError::Number { .. })
        ));
        assert!(chances(&sheet, &columns, question, 0, 1).is_err());
    }
}
