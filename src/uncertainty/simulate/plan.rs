//! What a simulation draws, and which programs it runs over that.

use super::shape::{Finite, shape};
use crate::formula::{CellId, Facet, Lane};
use crate::sheet::{Program, RowInput, Sheet};
use crate::uncertainty::draws::Shape;
use crate::uncertainty::error::UncertaintyError;
use crate::uncertainty::flat::flat;
use crate::uncertainty::settings::Settings;
use crate::uncertainty::source::{Cause, Source, swept};

/// A cause to draw.
pub(super) struct Drawn {
    cause: Cause,
    pub(super) standard: f64,
    /// The distribution that it stands for.
    pub(super) shape: Shape,
    /// Whether the cell can move with it.
    counts: bool,
    /// Whether it is correlated with another: then normals are drawn, and what it stands for is put
    /// in their order.
    pub(super) is_tied: bool,
}

/// The causes of a cell: those with a slope first, so that others that come in leave the draws of
/// these as they were.
struct Causes {
    drawn: Vec<Drawn>,
    unstated: Vec<CellId>,
}

impl Causes {
    fn of(sheet: &Sheet, cell: CellId) -> Causes {
        let swept = swept(sheet, cell);
        let flat = flat(sheet, cell, &swept, 0.0);
        let cancels = |at: CellId| swept.cancelled.contains_key(&at) && !flat.stated.contains(&at);
        let drawn = |source: &Source| {
            Some(Drawn {
                cause: source.cause,
                standard: source.standard.filter(|u| *u > 0.0)?,
                shape: shape(sheet, source),
                counts: source.slope != 0.0 || !cancels(source.cause.cell()),
                is_tied: false,
            })
        };
        let lacking = swept.sources.iter().filter(|s| s.standard.is_none());
        let mut unstated: Vec<CellId> = lacking.map(|s| s.cause.cell()).collect();
        unstated.extend(flat.unstated);
        unstated.sort_unstable();
        Causes {
            drawn: swept
                .sources
                .iter()
                .chain(&flat.without_slope)
                .filter_map(drawn)
                .collect(),
            unstated,
        }
    }
}

/// Everything about a simulation but its draws.
pub(super) struct Plan {
    pub(super) seed: u64,
    pub(super) drawn: Vec<Drawn>,
    /// For each correlated cause: its number, and its row of the Cholesky factor.
    pub(super) correlated: Vec<(usize, Vec<f64>)>,
    /// The distributions of correlated causes that are not normal.
    pub(super) pools: Vec<Shape>,
    /// For each such cause its number, and that of its distribution.
    pub(super) ranked: Vec<(usize, usize)>,
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
        let Causes {
            mut drawn,
            unstated,
        } = Causes::of(sheet, cell);
        let at = |c: &CellId| drawn.iter().position(|d| d.cause == Cause::Reading(*c));
        let named = settings.named();
        let present: Vec<CellId> = named.into_iter().filter(|c| at(c).is_some()).collect();
        let is_tied = |c: &CellId| {
            let mut others = present.iter().filter(|other| *other != c);
            others.any(|other| settings.between(*c, *other) != 0.0)
        };
        let tied: Vec<CellId> = present.iter().copied().filter(is_tied).collect();
        let rows = settings.factor(sheet, &tied)?;
        let correlated: Vec<(usize, Vec<f64>)> = tied.iter().filter_map(at).zip(rows).collect();
        let mut pools = Vec::new();
        let mut ranked = Vec::new();
        for (cause, _) in &correlated {
            let drawn = &mut drawn[*cause];
            drawn.is_tied = true;
            if drawn.shape != Shape::Normal {
                ranked.push((*cause, number_of(&mut pools, drawn.shape)));
            }
        }
        let stages = stages(sheet, cell, &drawn);
        Ok(Plan {
            seed,
            finite: Finite::of(drawn.iter().filter(|d| d.counts).map(|d| &d.shape)),
            drawn,
            correlated,
            pools,
            ranked,
            stages,
            unstated,
        })
    }
}

/// The number of a distribution among others, which it joins where it is new.
fn number_of(pools: &mut Vec<Shape>, shape: Shape) -> usize {
    let known = pools.iter().position(|pool| *pool == shape);
    known.unwrap_or_else(|| {
        pools.push(shape);
        pools.len() - 1
    })
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
