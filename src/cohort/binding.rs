//! Bindings: which column supplies which cell.
//!
//! A heading is a cell's name with an optional unit in brackets: `before.lvot_vti [cm]`. After
//! the name, `(n)` says that the column holds the number of beats, `(u)` the standard
//! uncertainty, `(origin)` one of measured, estimated, assumed.

use super::error::CohortError;
use crate::formula::CellId;
use crate::quantity::Unit;
use crate::sheet::Sheet;

/// What of a cell's reading a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Part {
    /// The reading itself.
    Value,
    /// The number of beats.
    Beats,
    /// The standard uncertainty.
    Uncertainty,
    /// Where the reading came from.
    Origin,
}

impl Part {
    fn from_mark(mark: &str) -> Option<Part> {
        match mark {
            "n" => Some(Part::Beats),
            "u" => Some(Part::Uncertainty),
            "origin" => Some(Part::Origin),
            _ => None,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Part::Value => "the reading of",
            Part::Beats => "the beats of",
            Part::Uncertainty => "the uncertainty of",
            Part::Origin => "the origin of",
        }
    }
}

/// A column that supplies part of a reading.
#[derive(Clone, Debug, PartialEq)]
pub struct BoundColumn {
    /// Number of the column, from 0.
    pub column: usize,
    /// The cell.
    pub cell: CellId,
    /// What it holds.
    pub part: Part,
    /// The unit of its numbers.
    pub unit: Unit,
}

/// Which columns supply what; the others pass through.
#[derive(Clone, Debug, PartialEq)]
pub struct Binding {
    /// The headings as they stand.
    pub headings: Vec<String>,
    /// The columns that supply something.
    pub columns: Vec<BoundColumn>,
    /// Headings that name a derived cell, which a heading alone does not bind.
    pub passed_over: Vec<String>,
}

impl Binding {
    /// Binds columns by their headings.
    ///
    /// # Errors
    /// Headings that stand twice, units that do not fit, two columns for one thing, or no
    /// column that supplies anything.
    pub fn by_headings(sheet: &Sheet, headings: &[String]) -> Result<Binding, CohortError> {
        check_distinct(headings)?;
        let mut binding = Binding {
            headings: headings.to_vec(),
            columns: Vec::new(),
            passed_over: Vec::new(),
        };
        for (column, heading) in headings.iter().enumerate() {
            binding.bind(sheet, column, heading)?;
        }
        if binding.columns.iter().all(|c| c.part != Part::Value) {
            return Err(CohortError::NothingBound {
                headings: headings.join(", "),
            });
        }
        Ok(binding)
    }

    fn bind(&mut self, sheet: &Sheet, column: usize, heading: &str) -> Result<(), CohortError> {
        let parts = HeadingParts::of(heading);
        let Some(cell) = sheet.cell(parts.name) else {
            return Ok(());
        };
        let part = match parts.mark.map(Part::from_mark) {
            None => Part::Value,
            Some(Some(part)) => part,
            // A mark of somebody else's: not ours to read.
            Some(None) => return Ok(()),
        };
        if sheet.is_derived(cell) && sheet.reading(cell).is_none() {
            self.passed_over.push(heading.to_owned());
            return Ok(());
        }
        let unit = self.unit(sheet, cell, part, heading, parts.unit)?;
        if let Some(other) = self
            .columns
            .iter()
            .find(|c| c.cell == cell && c.part == part)
        {
            return Err(CohortError::SameCell {
                first: self.headings[other.column].clone(),
                second: heading.to_owned(),
                what: format!("{} `{}`", part.words(), parts.name),
            });
        }
        self.columns.push(BoundColumn {
            column,
            cell,
            part,
            unit,
        });
        Ok(())
    }

    fn unit(
        &self,
        sheet: &Sheet,
        cell: CellId,
        part: Part,
        heading: &str,
        text: Option<&str>,
    ) -> Result<Unit, CohortError> {
        let own = sheet.unit(cell).unwrap_or(Unit::ONE);
        let refuse = |message: String| CohortError::Heading {
            heading: heading.to_owned(),
            message,
        };
        let wanted = match part {
            Part::Value | Part::Uncertainty => own,
            Part::Beats | Part::Origin => Unit::ONE,
        };
        let Some(text) = text else {
            return Ok(wanted);
        };
        let unit = Unit::parse(text).map_err(|e| refuse(e.to_string()))?;
        let is_share = part == Part::Uncertainty && unit.dimension().is_none();
        if unit.dimension() != wanted.dimension() && !is_share {
            return Err(refuse(format!(
                "`{}` is in {own}; {unit} does not measure it",
                sheet.name(cell)
            )));
        }
        Ok(unit)
    }

    /// The cells whose readings the rows supply.
    pub fn cells(&self) -> Vec<CellId> {
        self.columns
            .iter()
            .filter(|c| c.part == Part::Value)
            .map(|c| c.cell)
            .collect()
    }
}

/// A heading taken apart: `name (mark) [unit]`.
struct HeadingParts<'h> {
    name: &'h str,
    mark: Option<&'h str>,
    unit: Option<&'h str>,
}

impl<'h> HeadingParts<'h> {
    fn of(heading: &'h str) -> Self {
        let heading = heading.trim();
        let (rest, unit) = match heading.strip_suffix(']').and_then(|h| h.split_once('[')) {
            Some((rest, unit)) => (rest.trim_end(), Some(unit.trim())),
            None => (heading, None),
        };
        let (name, mark) = match rest.strip_suffix(')').and_then(|h| h.split_once('(')) {
            Some((name, mark)) => (name.trim_end(), Some(mark.trim())),
            None => (rest, None),
        };
        HeadingParts { name, mark, unit }
    }
}

fn check_distinct(headings: &[String]) -> Result<(), CohortError> {
    let mut met = std::collections::HashMap::new();
    for (at, heading) in headings.iter().enumerate() {
        if let Some(first) = met.insert(heading.trim(), at)
            && !heading.trim().is_empty()
        {
            return Err(CohortError::SameHeading {
                heading: heading.clone(),
                first: first + 1,
                second: at + 1,
            });
        }
    }
    Ok(())
}

/// The heading of a column of results: `name [unit]`.
pub fn result_heading(sheet: &Sheet, cell: CellId) -> String {
    match sheet.unit(cell) {
        Some(unit) if unit != Unit::ONE => format!("{} [{unit}]", sheet.name(cell)),
        _ => sheet.name(cell),
    }
}
