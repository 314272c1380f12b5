//! How the uncertainties of cells are written down as operations over blocks: once carried on from
//! cell to cell, and once by slopes per cause.

use super::ground::Ground;
use super::writer::Writer;
use super::{Columns, Stated};
use crate::formula::CellId;
use crate::sheet::{Program, Sheet};
use crate::uncertainty::apart::Apart;
use crate::uncertainty::error::UncertaintyError;
use crate::uncertainty::settings::Settings;

pub(super) fn columns(
    sheet: &Sheet,
    wanted: &[CellId],
    bound: &[(CellId, Stated)],
    settings: &Settings,
) -> Result<Columns, UncertaintyError> {
    check(sheet, wanted, bound)?;
    settings.check(sheet)?;
    let cells: Vec<CellId> = bound.iter().map(|(cell, _)| *cell).collect();
    let program = Program::new(sheet, wanted, &cells);
    let slots = wanted.iter().map(|cell| {
        let slot = program.slot(*cell);
        slot.ok_or_else(|| unknown(sheet, *cell))
    });
    let slots: Vec<usize> = slots.collect::<Result<_, _>>()?;
    let apart = Apart::under(sheet, wanted, settings);
    let mut ground = Ground::new(sheet, bound, settings, &program);
    let (by_cause, wanted) = Writer::new(&mut ground).by_causes(&slots);
    let (carried, standards) = Writer::new(&mut ground).carried(&apart, &slots);
    let Ground {
        places,
        constants,
        columns,
        lent,
        ..
    } = ground;
    Ok(Columns {
        program,
        carried,
        standards,
        by_cause,
        places,
        constants,
        columns,
        wanted,
        lent,
    })
}

fn unknown(sheet: &Sheet, cell: CellId) -> UncertaintyError {
    UncertaintyError::NotKnown {
        cell: sheet.name(cell),
    }
}

fn check(
    sheet: &Sheet,
    wanted: &[CellId],
    bound: &[(CellId, Stated)],
) -> Result<(), UncertaintyError> {
    let cells = wanted.iter().chain(bound.iter().map(|(cell, _)| cell));
    for cell in cells {
        sheet.unit(*cell).ok_or_else(|| unknown(sheet, *cell))?;
    }
    if let Some(word) = wanted.iter().find(|cell| !sheet.words(**cell).is_empty()) {
        return Err(unknown(sheet, *word));
    }
    for (_, stated) in bound {
        if let Stated::Constant(u) | Stated::Share(u) = stated
            && !(*u >= 0.0 && u.is_finite())
        {
            return Err(UncertaintyError::Number {
                what: "a standard uncertainty",
                value: *u,
                way_out: "it is zero or more",
            });
        }
    }
    Ok(())
}
