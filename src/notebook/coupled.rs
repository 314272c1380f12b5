//! What two quantities of a cohort that are drawn against each other have in common: the readings
//! that both rest on, and the correlation that error alone would give them.
//!
//! Error differs from row to row, so rows are asked one by one: some of them, evenly along the
//! horizontal axis, the middle one among them.

use super::render::Rendering;
use super::trust::{are_uncorrelated, hundredths, shared_words};
use crate::cohort::{Cohort, CohortReadings};
use crate::formula::CellId;
use crate::sheet::Sheet;
use crate::uncertainty::{NOT_LINEAR, Settings, bends, coupling, propagate};

/// Rows that are asked; odd, so that the middle one is among them.
const ASKED: usize = 41;

const DRAWN: &str = "what is drawn";

/// What to say of two quantities together.
pub(super) struct Told {
    pub(super) text: String,
    /// Whether both rest on a reading.
    pub(super) is_shared: bool,
}

/// Two quantities drawn against each other, as sums of two cells with weights.
#[derive(Clone, Copy)]
pub(super) struct Drawn {
    cells: [CellId; 2],
    /// What goes upward.
    up: [f64; 2],
    /// What goes to the right.
    right: [f64; 2],
    /// How the two are called together.
    both: &'static str,
}

impl Drawn {
    /// One cell against another.
    pub(super) fn against(up: CellId, right: CellId) -> Drawn {
        Drawn {
            cells: [up, right],
            up: [1.0, 0.0],
            right: [0.0, 1.0],
            both: DRAWN,
        }
    }

    /// Two cells that an answer sets beside each other, such as an index and a response.
    pub(super) fn beside(first: CellId, second: CellId) -> Drawn {
        Drawn {
            both: "the two",
            ..Drawn::against(first, second)
        }
    }

    /// The difference of two cells against the one taken away, as a change against where it
    /// started.
    pub(super) fn change_against_start(before: CellId, after: CellId) -> Drawn {
        Drawn {
            cells: [after, before],
            up: [1.0, -1.0],
            right: [0.0, 1.0],
            both: DRAWN,
        }
    }

    /// The difference of two cells against their mean.
    pub(super) fn difference_against_mean(first: CellId, second: CellId) -> Drawn {
        Drawn {
            cells: [first, second],
            up: [1.0, -1.0],
            right: [0.5, 0.5],
            both: DRAWN,
        }
    }

    /// Whether each axis is a cell of its own.
    fn is_apart(&self) -> bool {
        self.up[1] == 0.0 && self.right[0] == 0.0
    }

    /// What both axes hold, in words.
    fn held_by_both(&self, sheet: &Sheet, shared: &[String]) -> String {
        let [a, b] = self.cells.map(|cell| sheet.name(cell));
        let common = format!("{a} and {b} share {}", shared_words(shared));
        match (self.is_apart(), self.right[0] == 0.0) {
            (true, _) => common,
            (false, true) => format!("both axes hold {b} and its error, and {common}"),
            (false, false) => format!("both axes hold both values and their errors, and {common}"),
        }
    }
}

/// What was found in the rows that were asked.
#[derive(Default)]
struct Found {
    rows: usize,
    shared: Vec<String>,
    /// Readings that state no uncertainty in a row that was asked.
    unstated: Vec<String>,
    correlations: Vec<f64>,
    /// In the middle row.
    middle: Option<f64>,
    /// Rows in which a bend or branch lies within reach.
    not_linear: usize,
}

/// What to say below a drawing; `rows` are positions among the rows used, sorted from left to
/// right. Nothing where no row can be asked.
pub(super) fn words(
    rendering: &Rendering<'_>,
    cohort: &Cohort,
    drawn: Drawn,
    rows: &[usize],
) -> Option<Told> {
    let sheet = rendering.sheet;
    let readings = cohort.readings(sheet).ok()?;
    let mut found = Found::default();
    let asked = rows.len().min(ASKED);
    for step in 0..asked {
        let at = if asked < 2 {
            0
        } else {
            step * (rows.len() - 1) / (asked - 1)
        };
        found.ask(&readings, drawn, rows[at], step == asked / 2);
    }
    (found.rows > 0).then(|| Told {
        text: found.words(sheet, drawn, rows.len()),
        is_shared: !found.shared.is_empty(),
    })
}

/// Positions of rows sorted by what is drawn to the right.
pub(super) fn from_left_to_right(rows: impl Iterator<Item = (usize, f64)>) -> Vec<usize> {
    let mut rows: Vec<(usize, f64)> = rows.collect();
    rows.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    rows.into_iter().map(|(row, _)| row).collect()
}

impl Found {
    fn ask(&mut self, readings: &CohortReadings<'_>, drawn: Drawn, row: usize, is_middle: bool) {
        // A row used can be read: a cohort is computed again when the sheet is another.
        let Ok(sheet) = readings.sheet_of(row) else {
            return;
        };
        let settings = stated_in(&sheet);
        let [a, b] = drawn.cells;
        let (Ok(common), Ok(of_a), Ok(of_b)) = (
            coupling(&sheet, a, b, &settings),
            propagate(&sheet, a, &settings),
            propagate(&sheet, b, &settings),
        ) else {
            return;
        };
        self.rows += 1;
        note(&mut self.shared, common.shared_names(&sheet).into_iter());
        let unstated = common.unstated.iter().map(|cell| sheet.name(*cell));
        note(&mut self.unstated, unstated);
        if drawn.is_apart() && common.is_open() {
            return;
        }
        let (va, vb) = (of_a.standard.powi(2), of_b.standard.powi(2));
        let cross = |x: [f64; 2], y: [f64; 2]| {
            let both = (x[0] * y[1] + x[1] * y[0]) * common.covariance;
            x[0] * y[0] * va + both + x[1] * y[1] * vb
        };
        let size = (cross(drawn.up, drawn.up) * cross(drawn.right, drawn.right)).sqrt();
        // Where what goes upward has no error left, rounding is all that there is.
        if size > 1e-12 * (va + vb) {
            let r = (cross(drawn.up, drawn.right) / size).clamp(-1.0, 1.0);
            self.correlations.push(r);
            let bend = |cell| bends(&sheet, cell, &settings).is_ok_and(|found| !found.is_empty());
            self.not_linear += usize::from(bend(a) || bend(b));
            if is_middle {
                self.middle = Some(r);
            }
        }
    }

    fn words(&self, sheet: &Sheet, drawn: Drawn, of: usize) -> String {
        let held = drawn.held_by_both(sheet, &self.shared);
        let rows = match self.rows == of {
            true => format!("{of} rows looked at"),
            false => format!("{} of {of} rows looked at, from left to right", self.rows),
        };
        let not_counted = match self.unstated.is_empty() {
            true => String::new(),
            false => format!(
                "; not counted where none is stated: {}",
                self.unstated.join(", ")
            ),
        };
        let least = self.correlations.iter().copied().reduce(f64::min);
        let greatest = self.correlations.iter().copied().reduce(f64::max);
        let (Some(least), Some(greatest)) = (least, greatest) else {
            return match drawn.is_apart() && are_uncorrelated(sheet, &self.shared) {
                true => {
                    format!("Coupling: {held}, so error alone does not correlate them ({rows}).")
                }
                false => format!(
                    "Coupling: {held}. No uncertainty is stated from which the correlation by error alone \
                     would follow ({rows})."
                ),
            };
        };
        let middle = self.middle.map_or_else(String::new, |r| {
            format!(", in the middle one by {}", hundredths(r))
        });
        let (least, greatest) = (hundredths(least), hundredths(greatest));
        let span = match least == greatest {
            true => least,
            false => format!("{least} to {greatest}"),
        };
        format!(
            "Coupling: {held}. Error alone would correlate {} by {span}{middle} ({rows}, from the \
             uncertainties that they state{not_counted}).{}",
            drawn.both,
            self.words_on_bends()
        )
    }

    fn words_on_bends(&self) -> String {
        match self.not_linear {
            0 => String::new(),
            rows => format!(" In {rows} of them a formula bends or may turn {NOT_LINEAR}."),
        }
    }
}

/// Adds what is not yet among them.
fn note(known: &mut Vec<String>, names: impl Iterator<Item = String>) {
    for name in names {
        if !known.contains(&name) {
            known.push(name);
        }
    }
}

/// What the sheet of a row says of its readings together: a correlation of one that states no
/// uncertainty here says nothing.
fn stated_in(sheet: &Sheet) -> Settings {
    let mut settings = Settings::of(sheet);
    let is_stated = |cell: CellId| {
        let reading = sheet.reading(cell).zip(sheet.unit(cell));
        reading.is_some_and(|(r, unit)| r.standard_uncertainty(unit).is_some())
    };
    settings
        .correlations
        .retain(|c| is_stated(c.first) && is_stated(c.second));
    settings
}
