//! Standard uncertainties of one sheet, again and again.

use super::columns::{Columns, Room, Stated};
use super::error::UncertaintyError;
use super::settings::Settings;
use crate::formula::{CellId, Facet, Lane};
use crate::sheet::Sheet;

/// The standard uncertainties of chosen cells of a sheet, brought up to date after each edit
/// without asking for memory: for one exam that is watched while its readings change.
///
/// ```
/// use semilunar::sheet::Sheet;
/// use semilunar::uncertainty::{Exam, Settings};
///
/// let text = "use hemodynamics\nlvot_diameter = 2.0 cm (u = 1 mm)\nlvot_vti = 20 cm (u = 1 cm)";
/// let mut sheet = Sheet::read(text).unwrap().sheet;
/// let stroke_volume = sheet.cell("stroke_volume").unwrap();
/// let mut exam = Exam::new(&sheet, &[stroke_volume], Settings::of(&sheet)).unwrap();
/// assert!((exam.standard(0).unwrap() - 7.0248).abs() < 1e-4);
///
/// sheet.set_text("lvot_diameter", "2.2 cm (u = 1 mm)").unwrap();
/// exam.update(&sheet).unwrap();
/// assert!((exam.standard(0).unwrap() - 7.8879).abs() < 1e-4);
/// ```
pub struct Exam {
    wanted: Vec<CellId>,
    settings: Settings,
    columns: Columns,
    room: Room<1>,
}

impl Exam {
    /// Makes chosen cells of a sheet ready, with the uncertainties of its present readings.
    ///
    /// # Errors
    /// [`UncertaintyError`]: a cell is none of the sheet's or holds a word, or the settings are
    /// impossible.
    pub fn new(
        sheet: &Sheet,
        wanted: &[CellId],
        settings: Settings,
    ) -> Result<Exam, UncertaintyError> {
        settings.check(sheet)?;
        // What states an uncertainty now may state none later, and the other way round.
        let readings = sheet.readings_under(wanted);
        let bound: Vec<(CellId, Stated)> =
            readings.into_iter().map(|c| (c, Stated::Column)).collect();
        let columns = Columns::new(sheet, wanted, &bound, &settings)?;
        let mut exam = Exam {
            wanted: wanted.to_vec(),
            settings,
            room: columns.room(),
            columns,
        };
        exam.run(sheet);
        Ok(exam)
    }

    /// Takes the sheet as it now stands. Where its formulas are others, or a reading came that
    /// was none before, all is made ready anew.
    ///
    /// # Errors
    /// As [`Exam::new`].
    pub fn update(&mut self, sheet: &Sheet) -> Result<(), UncertaintyError> {
        if self.columns.still_fits(sheet) {
            self.run(sheet);
        } else {
            *self = Exam::new(sheet, &self.wanted, self.settings.clone())?;
        }
        Ok(())
    }

    fn run(&mut self, sheet: &Sheet) {
        let (columns, room) = (&self.columns, &mut self.room);
        for (at, input) in columns.inputs().iter().enumerate() {
            let reading = sheet.reading(input.cell);
            let lane = match input.facet {
                Facet::Value => reading.map(|r| sheet.lane_of_reading(input.cell, r)),
                facet => sheet.said_of(input.cell, facet).map(Lane::measured),
            };
            columns.row(room, at).set(0, lane.unwrap_or(Lane::MISSING));
        }
        for (at, cell) in columns.uncertainty_inputs().iter().enumerate() {
            let reading = sheet.reading(*cell).zip(sheet.unit(*cell));
            let standard = reading.and_then(|(r, unit)| r.standard_uncertainty(unit));
            let lane = standard.map_or(Lane::MISSING, Lane::measured);
            columns.uncertainty(room, at).set(0, lane);
        }
        columns.run(room);
    }

    /// The standard uncertainty of a wanted cell, by its number in the order in which they were
    /// wanted, in its unit; `None` where the cell is not known, has no finite slope, or nothing
    /// that it depends on states an uncertainty.
    pub fn standard(&self, wanted: usize) -> Option<f64> {
        let lane = self.columns.standard(&self.room, wanted).lane(0);
        lane.status.is_known().then_some(lane.value)
    }

    /// The readings that a wanted cell depends on and that stated no uncertainty.
    pub fn unstated(&mut self, wanted: usize) -> Vec<CellId> {
        self.columns.unstated(&mut self.room, wanted, 0)
    }
}
