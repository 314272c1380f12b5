//! Applying a sheet to rows, block by block.
//!
//! Rows read = rows used + rows set aside, always. A row is set aside when it cannot be parsed,
//! a reading is not possible, a required cell is not known, or nothing derived is known.

use super::binding::Binding;
use super::row::RowReadings;
use crate::formula::{CellId, Lane, Lanes};
use crate::sheet::{Block, Program, Sheet};

/// Rows computed at once.
pub(super) const WIDTH: usize = 256;

/// How many rows went where.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Rows read.
    pub read: usize,
    /// Rows used.
    pub used: usize,
    /// Rows set aside.
    pub set_aside: usize,
}

/// A row that is used, as a sink sees it.
pub struct UsedRow<'r> {
    /// Number of the row, from 1, headings not counted.
    pub number: usize,
    /// The fields as they came.
    pub fields: &'r [String],
    /// The readings that the row supplied.
    pub readings: &'r RowReadings,
    runner: &'r Runner<'r>,
    lane: usize,
}

impl UsedRow<'_> {
    /// Value and state of a cell that the program computes.
    pub fn lane(&self, cell: CellId) -> Option<Lane> {
        let slot = self.runner.program.slot(cell)?;
        Some(self.runner.block.lanes(slot).lane(self.lane))
    }

    /// Why a cell is not known in this row.
    pub fn because(&self, cell: CellId) -> Vec<String> {
        let Runner {
            sheet,
            program,
            block,
            ..
        } = self.runner;
        sheet.because_in_row(program, block, self.lane, cell)
    }

    /// The advisories that hold in this row: their numbers among [`Sheet::rule_texts`].
    pub fn advisories(&self) -> Vec<usize> {
        self.runner
            .rules
            .iter()
            .enumerate()
            .filter(|(_, lanes)| {
                let lane = lanes.lane(self.lane);
                lane.status.is_known() && lane.value != 0.0
            })
            .map(|(at, _)| at)
            .collect()
    }
}

/// Where rows go.
pub trait Sink {
    /// What can go wrong while storing a row.
    type Error;
    /// Takes a row that is used.
    ///
    /// # Errors
    /// Whatever stops the sink from storing it; the application stops.
    fn used(&mut self, row: &UsedRow<'_>) -> Result<(), Self::Error>;
    /// Takes a row that is set aside.
    ///
    /// # Errors
    /// Whatever stops the sink from storing it; the application stops.
    fn set_aside(
        &mut self,
        number: usize,
        fields: &[String],
        reason: &str,
    ) -> Result<(), Self::Error>;
}

/// A sheet being applied to rows.
pub struct Runner<'s> {
    sheet: &'s Sheet,
    binding: &'s Binding,
    program: Program,
    block: Block<WIDTH>,
    rules: Vec<Lanes<WIDTH>>,
    derived: Vec<CellId>,
    rows: Vec<(usize, Vec<String>, RowReadings)>,
    counts: Counts,
}

impl<'s> Runner<'s> {
    /// Makes ready to compute `derived`; further cells can be looked at if they are `also`.
    pub fn new(
        sheet: &'s Sheet,
        binding: &'s Binding,
        derived: Vec<CellId>,
        also: &[CellId],
    ) -> Runner<'s> {
        let mut wanted = derived.clone();
        wanted.extend(also);
        wanted.extend(sheet.required());
        wanted.extend(&binding.required);
        wanted.extend(sheet.rule_operands(&derived));
        let program = Program::new(sheet, &wanted, &binding.cells());
        let block = program.block();
        Runner {
            sheet,
            binding,
            program,
            block,
            rules: Vec::new(),
            derived,
            rows: Vec::with_capacity(WIDTH),
            counts: Counts::default(),
        }
    }

    /// The derived cells that are computed.
    pub fn derived(&self) -> &[CellId] {
        &self.derived
    }

    /// How many rows went where so far; complete after [`Runner::finish`].
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Takes a row.
    ///
    /// # Errors
    /// What the sink says.
    pub fn row<S: Sink>(&mut self, fields: Vec<String>, sink: &mut S) -> Result<(), S::Error> {
        self.counts.read += 1;
        let number = self.counts.read;
        let wanted = self.binding.headings.len();
        if fields.len() != wanted {
            let reason = format!("the row has {} fields, the heading {wanted}", fields.len());
            return self.put_aside(number, &fields, &reason, sink);
        }
        let borrowed: Vec<&str> = fields.iter().map(String::as_str).collect();
        match RowReadings::read(self.sheet, self.binding, &borrowed) {
            Ok(readings) => {
                self.rows.push((number, fields, readings));
                if self.rows.len() == WIDTH {
                    self.flush(sink)?;
                }
                Ok(())
            }
            Err(wrong) => self.put_aside(number, &fields, &wrong.join("; "), sink),
        }
    }

    /// Takes a row that cannot be used, for a reason that is known before its fields are read.
    ///
    /// # Errors
    /// What the sink says.
    pub fn refused<S: Sink>(
        &mut self,
        fields: &[String],
        reason: &str,
        sink: &mut S,
    ) -> Result<(), S::Error> {
        self.counts.read += 1;
        self.put_aside(self.counts.read, fields, reason, sink)
    }

    /// Computes what still waits.
    ///
    /// # Errors
    /// What the sink says.
    pub fn finish<S: Sink>(&mut self, sink: &mut S) -> Result<Counts, S::Error> {
        self.flush(sink)?;
        Ok(self.counts)
    }

    fn put_aside<S: Sink>(
        &mut self,
        number: usize,
        fields: &[String],
        reason: &str,
        sink: &mut S,
    ) -> Result<(), S::Error> {
        self.counts.set_aside += 1;
        sink.set_aside(number, fields, reason)
    }

    fn flush<S: Sink>(&mut self, sink: &mut S) -> Result<(), S::Error> {
        if self.rows.is_empty() {
            return Ok(());
        }
        self.compute();
        let rows = std::mem::take(&mut self.rows);
        for (lane, (number, fields, readings)) in rows.iter().enumerate() {
            let row = UsedRow {
                number: *number,
                fields,
                readings,
                runner: self,
                lane,
            };
            match self.refusal(&row) {
                None => {
                    sink.used(&row)?;
                    self.counts.used += 1;
                }
                Some(reason) => self.put_aside(*number, fields, &reason, sink)?,
            }
        }
        self.rows = rows;
        self.rows.clear();
        Ok(())
    }

    fn compute(&mut self) {
        let inputs: Vec<Lanes<WIDTH>> = self
            .program
            .inputs()
            .iter()
            .map(|input| {
                let mut lanes = Lanes::MISSING;
                for (i, (_, _, row)) in self.rows.iter().enumerate() {
                    lanes.set(i, row.lane(self.sheet, input.cell, input.facet));
                }
                lanes
            })
            .collect();
        let inputs: Vec<&Lanes<WIDTH>> = inputs.iter().collect();
        self.program.run(&inputs, &mut self.block);
        self.rules = self.sheet.rules_over(&self.program, &self.block);
    }

    /// Why a row that was read is still not used.
    fn refusal(&self, row: &UsedRow<'_>) -> Option<String> {
        let named = self.binding.required.iter().copied();
        for required in self.sheet.required().chain(named) {
            if !row.lane(required).is_some_and(|l| l.status.is_known()) {
                let because = row.because(required).join("; ");
                let name = self.sheet.name(required);
                return Some(format!("{name} is required, but {because}"));
            }
        }
        let is_known = |cell: &CellId| row.lane(*cell).is_some_and(|l| l.status.is_known());
        match self.derived.iter().any(is_known) {
            true => None,
            false => Some("nothing can be derived from this row".into()),
        }
    }
}
