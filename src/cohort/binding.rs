//! Bindings: which column supplies which cell.
//!
//! A heading is a cell's name with an optional unit in brackets: `before.lvot_vti [cm]`. After
//! the name, `(n)` says that the column holds the number of beats, `(u)` the standard
//! uncertainty, `(origin)` one of measured, estimated, assumed.

use std::collections::BTreeMap;

use super::binding_file::{BindingFile, ColumnEntry, ShiftEntry};
use super::checks::{Checks, FactorTen, OnFactorTen};
use super::dates::DateForm;
use super::error::CohortError;
use super::shift::WIDEST_SHIFT;
use super::trade_units;
use super::without_cell::WithoutCell;
use crate::formula::CellId;
use crate::formula::notation;
use crate::quantity::{Beats, Origin, Spread, Unit};
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

    const ALL: [Part; 4] = [Part::Value, Part::Beats, Part::Uncertainty, Part::Origin];

    fn from_word(word: &str) -> Option<Part> {
        Part::ALL.into_iter().find(|part| part.word() == word)
    }

    /// The word of a binding file.
    pub(super) fn word(self) -> &'static str {
        match self {
            Part::Value => "value",
            Part::Beats => "beats",
            Part::Uncertainty => "uncertainty",
            Part::Origin => "origin",
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
    /// Whether neither the heading nor a binding file says that unit. Uncertainties are then
    /// amounts in the unit of the column with the values, also where that is `%`.
    pub is_unit_unsaid: bool,
    /// Whether the cell takes numbers, not words.
    pub takes_numbers: bool,
    /// Texts that stand for nothing, besides the usual ones.
    pub missing: Vec<String>,
    /// The origin of its readings, where a binding file says it.
    pub origin: Option<Origin>,
    /// The uncertainty of its readings, where a binding file says it.
    pub spread: Option<Spread>,
    /// The table's words for a finding's.
    pub words: BTreeMap<String, String>,
    /// The finding's words.
    pub(super) own_words: Vec<String>,
    /// How numbers are met that are wrong by a factor of ten.
    pub(super) factor_ten: Option<FactorTen>,
}

impl BoundColumn {
    /// A column of which no more is said than what a heading can say.
    fn of(
        sheet: &Sheet,
        column: usize,
        (cell, part): (CellId, Part),
        (unit, is_unit_unsaid): (Unit, bool),
    ) -> BoundColumn {
        let words = sheet.words(cell).iter();
        let own_words: Vec<String> = words.map(|word| word.to_string()).collect();
        BoundColumn {
            column,
            cell,
            part,
            unit,
            is_unit_unsaid,
            takes_numbers: own_words.is_empty(),
            missing: Vec::new(),
            origin: None,
            spread: None,
            words: BTreeMap::new(),
            own_words,
            factor_ten: None,
        }
    }

    /// Whether its fields are numbers, not words.
    pub(super) fn holds_numbers(&self) -> bool {
        match self.part {
            Part::Value => self.takes_numbers,
            Part::Beats | Part::Uncertainty => true,
            Part::Origin => false,
        }
    }

    /// Whether a length in it that is wrong by a factor of ten is converted.
    pub(super) fn converts_factor_ten(&self) -> bool {
        let check = self.factor_ten.as_ref();
        check.is_some_and(|check| check.on_found == OnFactorTen::Convert)
    }
}

/// Columns of dates that leave shifted.
#[derive(Clone, Debug, PartialEq)]
pub struct Shift {
    /// The columns of dates, by number from 0.
    pub dates: Vec<usize>,
    /// The column that says whose dates they are.
    pub of: usize,
    /// Most days by which they are shifted.
    pub within_days: u32,
    /// How dates are written, as far as the binding says it.
    pub(super) form: DateForm,
}

/// Which columns supply what; the others pass through.
#[derive(Clone, Debug, PartialEq)]
pub struct Binding {
    /// The headings as they leave: those of the table, with what a binding file puts in their place.
    pub headings: Vec<String>,
    /// The headings of the table.
    pub(super) came: Vec<String>,
    /// The columns that supply something.
    pub columns: Vec<BoundColumn>,
    /// Headings that name a derived cell, which a heading alone does not bind.
    pub passed_over: Vec<String>,
    /// Columns named like a reading of the sheet's exams, which found no cell.
    pub without_cell: Vec<WithoutCell>,
    /// Columns of identifiers, by number from 0.
    pub identifiers: Vec<usize>,
    /// The dates that leave shifted.
    pub shift: Option<Shift>,
    /// Cells without which a row is set aside, besides those that the sheet names.
    pub required: Vec<CellId>,
    /// Results that get a column of standard uncertainties.
    pub uncertainty: Vec<CellId>,
    /// How rows are compared, where a binding file asks for it.
    pub checks: Option<Checks>,
    /// Whether fields that supply no reading are not repeated, since they may tell who somebody is.
    pub(super) withholds: bool,
}

impl Binding {
    /// Binds columns by their headings.
    ///
    /// # Errors
    /// Headings that stand twice, units that do not fit, two columns for one thing, or no
    /// column that supplies anything.
    pub fn by_headings(sheet: &Sheet, headings: &[String]) -> Result<Binding, CohortError> {
        Binding::new(sheet, headings, None)
    }

    /// Binds columns by a binding file, and by their headings where it says nothing.
    ///
    /// # Errors
    /// As [`Binding::by_headings`], and whatever in the file does not fit the table or the sheet.
    pub fn by_file(
        sheet: &Sheet,
        headings: &[String],
        file: &BindingFile,
    ) -> Result<Binding, CohortError> {
        Binding::new(sheet, headings, Some(file))
    }

    fn new(
        sheet: &Sheet,
        headings: &[String],
        file: Option<&BindingFile>,
    ) -> Result<Binding, CohortError> {
        check_distinct(headings)?;
        let mut binding = Binding {
            headings: headings.to_vec(),
            came: headings.to_vec(),
            columns: Vec::new(),
            passed_over: Vec::new(),
            without_cell: Vec::new(),
            identifiers: Vec::new(),
            shift: None,
            required: Vec::new(),
            uncertainty: Vec::new(),
            checks: None,
            withholds: false,
        };
        if let Some(file) = file {
            binding.follow(sheet, file)?;
        }
        for (column, heading) in headings.iter().enumerate() {
            let is_settled = binding.bound(column).is_some()
                || binding.identifiers.contains(&column)
                || binding
                    .shift
                    .as_ref()
                    .is_some_and(|s| s.dates.contains(&column));
            if !is_settled {
                binding.bind(sheet, column, heading)?;
            }
        }
        binding.settle_units();
        if let Some(file) = file {
            for bound in &mut binding.columns {
                bound.missing.extend_from_slice(&file.missing);
            }
        }
        binding.take_checks(sheet, file)?;
        if let Some(file) = file {
            binding.rename(sheet, file)?;
        }
        if binding.columns.iter().all(|c| c.part != Part::Value) {
            return Err(CohortError::NothingBound {
                headings: headings.join(", "),
            });
        }
        Ok(binding)
    }

    /// Takes what a binding file says.
    fn follow(&mut self, sheet: &Sheet, file: &BindingFile) -> Result<(), CohortError> {
        for heading in &file.identifiers {
            if file.columns.contains_key(heading) {
                return Err(file.wrong(format!(
                    "`{heading}` is both an identifier and a column with readings: keep one of them"
                )));
            }
            let column = self.column_headed(file, "identifiers", heading)?;
            self.identifiers.push(column);
        }
        self.shift = file
            .shift
            .as_ref()
            .map(|s| self.follow_shift(file, s))
            .transpose()?;
        self.withholds = file.names_somebody();
        for name in &file.required {
            self.required
                .push(cell_named(sheet, file, "required", name)?);
        }
        for name in &file.uncertainty {
            let cell = cell_named(sheet, file, "uncertainty", name)?;
            self.want_uncertainty(cell);
        }
        for (heading, entry) in &file.columns {
            self.follow_entry(sheet, file, heading, entry)?;
        }
        Ok(())
    }

    /// Uncertainties whose column says no unit are in that of the values.
    fn settle_units(&mut self) {
        for at in 0..self.columns.len() {
            let bound = &self.columns[at];
            if bound.part != Part::Uncertainty || !bound.is_unit_unsaid {
                continue;
            }
            let value = self.column_of(bound.cell, Part::Value);
            if let Some(unit) = value.map(|value| value.unit) {
                self.columns[at].unit = unit;
            }
        }
    }

    /// What is checked; a file says more of it.
    fn take_checks(
        &mut self,
        sheet: &Sheet,
        file: Option<&BindingFile>,
    ) -> Result<(), CohortError> {
        let of_all = match file {
            Some(file) => OnFactorTen::of_all(file)?,
            None => OnFactorTen::default(),
        };
        for at in 0..self.columns.len() {
            let bound = &self.columns[at];
            let heading = self.headings[bound.column].trim();
            let own = file.map_or(Ok(None), |file| OnFactorTen::of_column(file, heading))?;
            let check = match bound.part {
                Part::Value => FactorTen::of(sheet, bound.cell, bound.unit, own.unwrap_or(of_all)),
                _ => None,
            };
            if let (Some(file), Some(_), None) = (file, own, &check) {
                return Err(file.wrong(format!(
                    "columns.\"{heading}\": factor_ten is for readings of a length with a usual range, \
                     such as lvot_diameter and lvot_vti"
                )));
            }
            self.columns[at].factor_ten = check;
        }
        self.checks = match file {
            Some(file) => Checks::of(sheet, self, file)?,
            None => None,
        };
        Ok(())
    }

    fn follow_shift(&self, file: &BindingFile, entry: &ShiftEntry) -> Result<Shift, CohortError> {
        if !(1..=WIDEST_SHIFT).contains(&entry.within_days) {
            return Err(file.wrong(format!(
                "shift: within_days is from 1 to {WIDEST_SHIFT}, not {}",
                entry.within_days
            )));
        }
        let mut dates = Vec::with_capacity(entry.dates.len());
        for heading in &entry.dates {
            let column = self.column_headed(file, "shift.dates", heading)?;
            if self.identifiers.contains(&column) || file.columns.contains_key(heading) {
                return Err(file.wrong(format!(
                    "`{heading}` holds dates to shift, and identifiers or readings too: keep one of them"
                )));
            }
            dates.push(column);
        }
        Ok(Shift {
            dates,
            of: self.column_headed(file, "shift.of", &entry.of)?,
            within_days: entry.within_days,
            form: file.file.date_form(),
        })
    }

    fn follow_entry(
        &mut self,
        sheet: &Sheet,
        file: &BindingFile,
        heading: &str,
        entry: &ColumnEntry,
    ) -> Result<(), CohortError> {
        let place = format!("columns.\"{heading}\"");
        let column = self.column_headed(file, "columns", heading)?;
        let cell = cell_named(sheet, file, &place, &entry.cell)?;
        let part_word = entry.part.as_deref().unwrap_or("value");
        let part = Part::from_word(part_word).ok_or_else(|| {
            file.wrong(format!(
                "{place}: part is value, beats, uncertainty or origin, not `{part_word}`"
            ))
        })?;
        let origin = entry.origin.as_deref().map(|word| {
            Origin::from_word(word).ok_or_else(|| {
                file.wrong(format!(
                    "{place}: origin is measured, estimated or assumed, not `{word}`"
                ))
            })
        });
        let origin = origin.transpose()?;
        if origin.is_some() && part != Part::Value {
            return Err(file.wrong(format!(
                "{place}: origin belongs to the column with part = \"value\""
            )));
        }
        let known = sheet.words(cell);
        if let Some(word) = entry
            .words
            .values()
            .find(|w| !known.iter().any(|k| **k == ***w))
        {
            return Err(file.wrong(format!(
                "{place}: `{word}` is no word of {}; its words are {}",
                entry.cell,
                known
                    .iter()
                    .map(|k| k.to_string())
                    .collect::<Vec<_>>()
                    .join(", ")
            )));
        }
        let unit = self.unit(sheet, cell, part, heading, entry.unit.as_deref())?;
        let spread = entry.uncertainty.as_deref().map(|text| {
            self.spread(sheet, (cell, part), unit, text)
                .map_err(|e| file.wrong(format!("{place}: {e}")))
        });
        let unit = (unit, entry.unit.is_none());
        self.push(
            BoundColumn {
                missing: entry.missing.clone(),
                origin,
                spread: spread.transpose()?,
                words: entry.words.clone(),
                ..BoundColumn::of(sheet, column, (cell, part), unit)
            },
            &entry.cell,
        )
    }

    /// Asks for the uncertainty of a result, once.
    pub(super) fn want_uncertainty(&mut self, cell: CellId) {
        if !self.uncertainty.contains(&cell) {
            self.uncertainty.push(cell);
        }
    }

    /// The uncertainty that a binding file states for every reading of a column.
    fn spread(
        &self,
        sheet: &Sheet,
        (cell, part): (CellId, Part),
        unit: Unit,
        text: &str,
    ) -> Result<Spread, String> {
        if part != Part::Value || !sheet.words(cell).is_empty() {
            return Err(
                "an uncertainty belongs to a column of numbers with part = \"value\"".into(),
            );
        }
        // What the notation writes in the parentheses after a number.
        let read = notation::reading(&format!("1 {} ({text})", unit.code()), 0);
        let said = read.map_err(|e| {
            let way_out = e
                .hint_text()
                .map_or(String::new(), |hint| format!("; {hint}"));
            format!("`{text}` is no uncertainty: {}{way_out}", e.message())
        })?;
        let is_alone = matches!(said.beats(), Beats::Unstated) && said.between().is_none();
        said.spread().filter(|_| is_alone).ok_or_else(|| {
            format!("`{text}` is no uncertainty: write `u = 1 mm`, `u = 5 %` or `within 3 mm`")
        })
    }

    pub(super) fn column_headed(
        &self,
        file: &BindingFile,
        place: &str,
        heading: &str,
    ) -> Result<usize, CohortError> {
        let found = self
            .headings
            .iter()
            .position(|h| h.trim() == heading.trim());
        found.ok_or_else(|| {
            file.wrong(format!(
                "{place}: the table has no column `{heading}`; its columns are {}",
                self.headings.join(", ")
            ))
        })
    }

    fn push(&mut self, bound: BoundColumn, name: &str) -> Result<(), CohortError> {
        if let Some(other) = self.column_of(bound.cell, bound.part) {
            return Err(CohortError::SameCell {
                first: self.headings[other.column].clone(),
                second: self.headings[bound.column].clone(),
                what: format!("{} `{name}`", bound.part.words()),
            });
        }
        self.columns.push(bound);
        Ok(())
    }

    fn bind(&mut self, sheet: &Sheet, column: usize, heading: &str) -> Result<(), CohortError> {
        let parts = HeadingParts::of(heading);
        let Some(cell) = sheet.cell(parts.name) else {
            if parts.mark.is_none() {
                let found = WithoutCell::of(sheet, heading, parts.name);
                self.without_cell.extend(found);
            }
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
        let unit = (unit, parts.unit.is_none());
        let bound = BoundColumn::of(sheet, column, (cell, part), unit);
        self.push(bound, parts.name)
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
        let unit =
            Unit::parse(text).map_err(|e| refuse(format!("{e}{}", trade_units::way_out(text))))?;
        let is_share = part == Part::Uncertainty && unit.is_share();
        if unit.dimension() != wanted.dimension() && !is_share {
            let way_out = match part {
                Part::Uncertainty => {
                    ": give the unit of the amounts, or `[%]` for shares of the value"
                }
                _ => "",
            };
            return Err(refuse(format!(
                "`{}` is in {own}; {unit} does not measure it{way_out}",
                sheet.name(cell)
            )));
        }
        Ok(unit)
    }

    /// What a column is bound as, by its number from 0.
    pub(super) fn bound(&self, column: usize) -> Option<&BoundColumn> {
        self.columns.iter().find(|bound| bound.column == column)
    }

    /// The column that supplies this part of a cell's reading: there is one at most.
    pub(super) fn column_of(&self, cell: CellId, part: Part) -> Option<&BoundColumn> {
        let mut columns = self.columns.iter();
        columns.find(|bound| bound.cell == cell && bound.part == part)
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
pub(super) struct HeadingParts<'h> {
    pub(super) name: &'h str,
    mark: Option<&'h str>,
    unit: Option<&'h str>,
}

impl<'h> HeadingParts<'h> {
    pub(super) fn of(heading: &'h str) -> Self {
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

fn cell_named(
    sheet: &Sheet,
    file: &BindingFile,
    place: &str,
    name: &str,
) -> Result<CellId, CohortError> {
    sheet.cell(name).ok_or_else(|| {
        let near = or_near(sheet, name);
        file.wrong(format!("{place}: the sheet has no cell `{name}`{near}"))
    })
}

/// What a name that is no cell's may stand for, to put behind the words that refuse it.
pub(super) fn or_near(sheet: &Sheet, name: &str) -> String {
    let near = sheet.nearest_name(name);
    near.map_or_else(String::new, |near| format!("; did you mean `{near}`?"))
}

pub(super) fn check_distinct(headings: &[String]) -> Result<(), CohortError> {
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
