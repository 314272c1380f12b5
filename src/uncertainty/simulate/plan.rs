//! What a simulation draws, and which programs it runs over that.

use super::shape::{Finite, shape};
use crate::formula::{CellId, Facet, Lane};
use crate::sheet::{Program, RowInput, Sheet};
use crate::uncertainty::draws::Shape;
use crate::uncertainty::error::UncertaintyError;
use crate::uncertainty::settings::Settings;
use crate::uncertainty::source::{Cause, sources};

/// A cause to draw.
pub(super) struct Drawn {
    cause: Cause,
    pub(super) standard: f64,
    pub(super) shape: Shape,
}

/// Everything about a simulation but its draws.
pub(super) struct Plan {
    pub(super) seed: u64,
    pub(super) drawn: Vec<Drawn>,
    /// For each correlated cause: its number, and its row of the Cholesky factor.
    pub(super) correlated: Vec<(usize, Vec<f64>)>,
    /// One for each formula with an uncertainty of its own, then one for the cell.
    pub(super) stages: Vec<Stage>,
    pub(super) unstated: Vec<CellId>,
    /// Which moments what is drawn has.
    pub(super) finite: Finite,
}

/// A cell that is computed for each draw.
pub(super) struct Stage {
    pub(super) program: Program,
    pub(super) slot: Option<usize>,
    pub(super) inputs: Vec<Input>,
    /// The cause that the cell's own formula is.
    pub(super) own: Option<usize>,
}

/// What an input of a program is filled with.
pub(super) enum Input {
    /// The same in every draw.
    Same(Lane),
    /// A reading with its error.
    Drawn(Lane, usize),
    /// The lanes of an earlier stage.
    Made(usize),
}

impl Plan {
    pub(super) fn new(
        sheet: &Sheet,
        cell: CellId,
        settings: &Settings,
        seed: u64,
    ) -> Result<Self, UncertaintyError> {
        let found = sources(sheet, cell);
        let unstated = found.iter().filter(|s| s.standard.is_none());
        let unstated = unstated.map(|s| s.cause.cell()).collect();
        let named = settings.named();
        let drawn: Vec<Drawn> = found
            .iter()
            .filter_map(|s| {
                let standard = s.standard.filter(|u| *u > 0.0)?;
                let shape = match named.contains(&s.cause.cell()) {
                    true => Shape::Normal,
                    false => shape(sheet, s),
                };
                Some(Drawn {
                    cause: s.cause,
                    standard,
                    shape,
                })
            })
            .collect();
        let at = |c: &CellId| drawn.iter().position(|d| d.cause == Cause::Reading(*c));
        let present: Vec<CellId> = named.into_iter().filter(|c| at(c).is_some()).collect();
        let rows = settings.factor(sheet, &present)?;
        let correlated = present.iter().filter_map(at).zip(rows).collect();
        let stages = stages(sheet, cell, &drawn);
        Ok(Plan {
            seed,
            finite: Finite::of(drawn.iter().map(|d| &d.shape)),
            drawn,
            correlated,
            stages,
            unstated,
        })
    }
}

/// The programs of the formulas with an uncertainty of their own that a cell depends on, operands
/// first, then that of the cell.
fn stages(sheet: &Sheet, cell: CellId, drawn: &[Drawn]) -> Vec<Stage> {
    let cells = |wanted: fn(&Cause) -> bool| -> Vec<CellId> {
        let causes = drawn.iter().map(|d| d.cause).filter(wanted);
        causes.map(Cause::cell).collect()
    };
    let mut bound = cells(|c| matches!(c, Cause::Reading(_)));
    let mut models = cells(|c| matches!(c, Cause::Model(_)));
    models.sort_by_key(|c| sheet.place_in_order(*c));
    let mut stages = Vec::new();
    for (at, wanted) in models.iter().chain([&cell]).enumerate() {
        let program = Program::new(sheet, &[*wanted], &bound);
        let inputs = program.inputs().iter().map(|input| {
            let made = models[..at].iter().position(|m| *m == input.cell);
            match made.filter(|_| input.facet == Facet::Value) {
                Some(stage) => Input::Made(stage),
                None => supplied(sheet, input, drawn),
            }
        });
        stages.push(Stage {
            slot: program.slot(*wanted),
            inputs: inputs.collect(),
            own: cause_at(drawn, Cause::Model(*wanted)),
            program,
        });
        bound.push(*wanted);
    }
    stages
}

fn cause_at(drawn: &[Drawn], cause: Cause) -> Option<usize> {
    drawn.iter().position(|d| d.cause == cause)
}

/// What the sheet's own reading supplies.
fn supplied(sheet: &Sheet, input: &RowInput, drawn: &[Drawn]) -> Input {
    let Some(reading) = sheet.reading(input.cell) else {
        return Input::Same(Lane::MISSING);
    };
    if input.facet != Facet::Value {
        let said = sheet.facet_of_reading(input.cell, reading, input.facet);
        return Input::Same(said.map_or(Lane::MISSING, Lane::measured));
    }
    let lane = sheet.lane_of_reading(input.cell, reading);
    match cause_at(drawn, Cause::Reading(input.cell)) {
        Some(cause) => Input::Drawn(lane, cause),
        None => Input::Same(lane),
    }
}
