//! What Rust in a notebook's cell can say to the notebook: read cells, set readings, add formulas, show.
//!
//! This file is compiled twice: as a part of the program, so that it is checked like the rest, and
//! as `semilunar::in_cell` of the library that Rust cells are linked with. There it is in scope,
//! with the [typed face](crate::formula::typed), without a line to write:
//!
//! ```text
//! in Rust
//! let diameter = cell::<Length>("lvot_diameter")?;
//! let distance = cell::<Length>("lvot_vti")?;
//! add_formula("annular_volume", PI / 4.0 * diameter * diameter * distance, "mL")?;
//! let measured = quantity::<Length>("lvot_vti")?;
//! set("half_distance", measured / 2.0, "cm")?;
//! show(Table::new(["what", "value"]).row(["VTI", &measured.shown("cm")?]));
//! ```
//!
//! What a cell sets and adds takes effect together, when it has run to its end, and not at all
//! when it has not. Outside a Rust cell, every function answers [`CellError::NoNotebook`].

use std::cell::RefCell;
use std::collections::HashMap;
use std::fmt::Display;
use std::io::Write;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

pub use super::quantity_in_cell::Quantity;
pub use super::shown_in_cell::{Html, Show, Shown, Svg, Table};
use crate::formula::notation;
use crate::formula::typed::{Dimensioned, Handle, LiteralError, Term, unit_of};
use crate::quantity::Dimension;
use crate::sheet::typed::DefineError;
use crate::sheet::{Sheet, State};

/// The environment variable that names the folder of exchange with the notebook.
pub const FOLDER: &str = "SEMILUNAR_RUST_CELL";
/// In that folder: the notebook's sheet, as the cell finds it.
pub const TASK_FILE: &str = "task.json";
/// In that folder: what the cell did, one [`Event`] a line.
pub const EVENTS_FILE: &str = "events.jsonl";

/// The sheet as a Rust cell finds it.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Task {
    /// How many cells have run before.
    pub run: u32,
    /// The definitions of all other cells, in the notation.
    pub sheet: String,
    /// Names that are not defined now, with the reason.
    pub absent: Vec<(String, String)>,
}

/// Something that a cell did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Event {
    /// It read the value of a cell.
    Read(String),
    /// It set a reading or added a formula: a line of the notation.
    Line(String),
    /// It showed something.
    Shown(Shown),
    /// It panicked: message, line and column in the compiled text.
    Panic(String, u32, u32),
    /// It ran to its end.
    Done,
}

/// Why the notebook does not do what a Rust cell asks.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CellError {
    /// There is no notebook around.
    #[error("this runs outside a notebook's Rust cell: {0}")]
    NoNotebook(String),
    /// No cell has the name.
    #[error("no cell is named `{name}`{hint}")]
    NoCell {
        /// The name.
        name: String,
        /// A way out, in words.
        hint: String,
    },
    /// The cell has another dimension.
    #[error("`{name}` is in {unit}, which does not measure {wanted}")]
    Dimension {
        /// The cell's name.
        name: String,
        /// Its unit.
        unit: String,
        /// What was asked for.
        wanted: Dimension,
    },
    /// The cell has no value now.
    #[error("`{name}` has no value: {because}")]
    NotKnown {
        /// The cell's name.
        name: String,
        /// Why.
        because: String,
    },
    /// A unit that is none or of another dimension, or a number that is none.
    #[error(transparent)]
    Unit(#[from] LiteralError),
    /// The sheet refuses a formula.
    #[error(transparent)]
    Define(#[from] DefineError),
    /// The name is not one that a cell can have.
    #[error("`{0}` is not a name: small letters, digits and underscores, a letter first")]
    NotAName(String),
    /// A chart that cannot be drawn.
    #[error(transparent)]
    Chart(#[from] crate::charts::ChartError),
}

/// The cell's side of the exchange.
struct Desk {
    folder: PathBuf,
    sheet: Sheet,
}

thread_local! {
    static DESK: RefCell<Option<Desk>> = const { RefCell::new(None) };
}

/// Sheets number themselves anew in every cell, since each is a library of its own. So many
/// numbers are left free for a cell's own sheets, lest a handle kept from one cell fits another.
const SHEETS_OF_A_CELL: u32 = 64;

impl Desk {
    fn open() -> Result<Desk, CellError> {
        let none = |e: &dyn Display| CellError::NoNotebook(e.to_string());
        let folder = std::env::var_os(FOLDER).ok_or_else(|| none(&"no folder is named"))?;
        let folder = PathBuf::from(folder);
        let text = std::fs::read_to_string(folder.join(TASK_FILE)).map_err(|e| none(&e))?;
        let task: Task = serde_json::from_str(&text).map_err(|e| none(&e))?;
        for _ in 0..task.run.saturating_mul(SHEETS_OF_A_CELL) {
            drop(Sheet::new());
        }
        let (statements, mut found) = notation::statements(&task.sheet, 0);
        let absent: HashMap<String, String> = task.absent.into_iter().collect();
        let sheet = Sheet::build_without(&statements, &absent, &mut found);
        let sheet = sheet.ok_or_else(|| none(&"the notebook's sheet cannot be read"))?;
        Ok(Desk { folder, sheet })
    }

    fn tell(&self, event: &Event) {
        let Ok(mut line) = serde_json::to_string(event) else {
            return;
        };
        line.push('\n');
        let path = self.folder.join(EVENTS_FILE);
        let file = std::fs::OpenOptions::new()
            .append(true)
            .create(true)
            .open(path);
        // A notebook that has gone away has nobody left to tell.
        if let Ok(mut file) = file {
            let _ = file.write_all(line.as_bytes());
        }
    }
}

fn at_desk<R>(work: impl FnOnce(&mut Desk) -> Result<R, CellError>) -> Result<R, CellError> {
    DESK.with_borrow_mut(|desk| {
        if desk.is_none() {
            *desk = Some(Desk::open()?);
        }
        match desk {
            Some(desk) => work(desk),
            None => Err(CellError::NoNotebook("it is closed".into())),
        }
    })
}

/// A cell of the notebook, to build formulas on. The formula follows the cell by itself.
///
/// # Errors
/// No cell of that name, or one of another dimension.
pub fn cell<D: Dimensioned>(name: &str) -> Result<Handle<D>, CellError> {
    at_desk(|desk| desk.handle(name))
}

impl Desk {
    fn handle<D: Dimensioned>(&self, name: &str) -> Result<Handle<D>, CellError> {
        let Some(cell) = self.sheet.cell(name) else {
            let near = self.sheet.nearest_name(name);
            let hint = near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
            let name = name.to_owned();
            return Err(CellError::NoCell { name, hint });
        };
        self.sheet.handle(name).ok_or_else(|| CellError::Dimension {
            name: name.to_owned(),
            unit: self
                .sheet
                .unit(cell)
                .map_or("no unit", |u| u.pretty())
                .to_owned(),
            wanted: D::DIMENSION,
        })
    }
}

/// What a cell measures now, with its dimension in the type. The notebook notes that this Rust
/// cell read it, and says when it is out of date.
///
/// # Errors
/// As [`cell`], and for a cell without a value: why.
pub fn quantity<D: Dimensioned>(name: &str) -> Result<Quantity<D>, CellError> {
    at_desk(|desk| {
        let handle = desk.handle::<D>(name)?;
        desk.tell(&Event::Read(name.to_owned()));
        let cell = handle.id();
        let unit = desk.sheet.unit(cell);
        match (desk.sheet.value(cell), unit) {
            (Some(value), Some(unit)) => Ok(Quantity::new(value, unit)?),
            _ => Err(CellError::NotKnown {
                name: name.to_owned(),
                because: desk.sheet.because(cell).join("; "),
            }),
        }
    })
}

/// The word of a finding, such as `regular` of `rhythm`; none while it is not known. Read as by
/// [`quantity`].
///
/// # Errors
/// No cell of that name.
pub fn word(name: &str) -> Result<Option<String>, CellError> {
    at_desk(|desk| {
        let Some(cell) = desk.sheet.cell(name) else {
            return desk
                .handle::<crate::formula::typed::Number>(name)
                .map(|_| None);
        };
        desk.tell(&Event::Read(name.to_owned()));
        Ok(desk.sheet.word(cell).map(|word| word.to_string()))
    })
}

/// A copy of the notebook's whole sheet, to explore and to change without touching the notebook.
/// Counts as reading every cell that is known.
///
/// # Errors
/// Outside a notebook.
pub fn sheet() -> Result<Sheet, CellError> {
    at_desk(|desk| {
        for cell in desk.sheet.cells() {
            if desk.sheet.state(cell) == Some(State::Known) {
                desk.tell(&Event::Read(desk.sheet.name(cell)));
            }
        }
        Ok(desk.sheet.clone())
    })
}

/// Adds a formula to the notebook under a name, shown in `unit`.
///
/// # Errors
/// A name that is none or is taken, a unit of another dimension than the formula.
pub fn add_formula<D: Dimensioned>(
    name: &str,
    term: impl Term<Dimension = D>,
    unit: &str,
) -> Result<Handle<D>, CellError> {
    named(name)?;
    at_desk(|desk| {
        let handle = desk.sheet.define_named(name, term, unit)?;
        let text = desk.sheet.formula_text(handle.id()).unwrap_or_default();
        desk.tell(&Event::Line(format!("{name} [{unit}] = {text}")));
        Ok(handle)
    })
}

/// Sets a reading of the notebook: a cell that the catalogue asks for, or a new one.
///
/// # Errors
/// A name that is none, a unit of another dimension, a number that is none.
pub fn set<D: Dimensioned>(name: &str, quantity: Quantity<D>, unit: &str) -> Result<(), CellError> {
    named(name)?;
    let value = quantity.in_unit(unit)?;
    let unit = unit_of::<D>(unit)?;
    at_desk(|desk| {
        let reading = notation::quantity(value, unit);
        desk.tell(&Event::Line(format!("{name} = {reading}")));
        Ok(())
    })
}

fn named(name: &str) -> Result<(), CellError> {
    match notation::is_name(name) {
        true => Ok(()),
        false => Err(CellError::NotAName(name.to_owned())),
    }
}

/// Shows something below the cell. Outside a notebook there is nowhere to show it.
pub fn show(what: impl Show) {
    let shown = what.shown();
    let _ = at_desk(|desk| {
        desk.tell(&Event::Shown(shown));
        Ok(())
    });
}

/// Tells the notebook something, from wherever the cell is.
pub(super) fn tell(event: &Event) {
    DESK.with(|desk| match desk.try_borrow().as_deref() {
        Ok(Some(desk)) => desk.tell(event),
        _ => {
            if let Ok(desk) = Desk::open() {
                desk.tell(event);
            }
        }
    });
}
