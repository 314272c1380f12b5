//! Reports of a whole sheet: JSON at full precision, and a table for people.

use serde::Serialize;
use serde_json::Value;

use super::advice::Advisory;
use super::sheet::Sheet;
use super::view::State;
use crate::formula::CellId;

/// Version of the JSON format.
pub const FORMAT: u32 = 1;

/// One cell in JSON.
#[derive(Debug, Serialize)]
pub struct CellReport {
    /// The value in the shown unit at full precision; a finding's word; null unless known.
    pub value: Value,
    /// UCUM code of the unit.
    pub unit: &'static str,
    /// Standard uncertainty in the shown unit; null where none was stated.
    pub standard_uncertainty: Option<f64>,
    /// `known`, `missing` or `faulty`.
    pub state: &'static str,
    /// Why not known.
    pub because: Vec<String>,
    /// `measured`, `estimated` or `assumed`; null unless known.
    pub origin: Option<&'static str>,
    /// Whether it is computed.
    pub derived: bool,
    /// What applies.
    pub advisories: Vec<Advisory>,
}

impl Sheet {
    /// One cell for JSON.
    pub fn report(&self, cell: CellId) -> CellReport {
        let value = match (self.word(cell), self.value(cell)) {
            (Some(word), _) => Value::String(word.to_string()),
            (None, Some(value)) => {
                serde_json::Number::from_f64(value).map_or(Value::Null, Value::Number)
            }
            (None, None) => Value::Null,
        };
        let unit = self.unit(cell).unwrap_or(crate::quantity::Unit::ONE);
        let stated = self.reading(cell).filter(|_| self.value(cell).is_some());
        CellReport {
            value,
            unit: unit.code(),
            standard_uncertainty: stated.and_then(|r| r.standard_uncertainty(unit)),
            state: self.state(cell).unwrap_or(State::Missing).word(),
            because: self.because(cell),
            origin: self.origin(cell).map(|o| o.word()),
            derived: self.is_derived(cell),
            advisories: self.advisories(cell),
        }
    }

    /// The cells worth showing without being asked: all that are known or faulty, and the
    /// missing ones that a given reading leads to.
    pub fn cells_worth_showing(&self) -> Vec<CellId> {
        self.cells()
            .filter(|cell| self.reading(*cell).is_some() || !self.repeats_shared(*cell, &[]))
            .filter(|cell| match self.state(*cell) {
                Some(State::Known | State::Faulty) => true,
                _ => self.reading(*cell).is_some(),
            })
            .collect()
    }

    /// A table for a terminal, with what `also` says of a cell, and `notes` on all of it.
    pub(crate) fn text_with(
        &self,
        also: &dyn Fn(CellId) -> Option<String>,
        notes: &[String],
    ) -> String {
        let shown = self.cells_worth_showing();
        let (given, derived): (Vec<CellId>, Vec<CellId>) = shown
            .iter()
            .partition(|cell| self.reading(**cell).is_some());
        let mut text = String::new();
        section(&mut text, "Readings", &self.lines(&given, also));
        section(&mut text, "Results", &self.lines(&derived, also));
        section(&mut text, "Not known", &self.missing_lines());
        let known = [&self.advisory_lines(&shown), notes].concat();
        section(&mut text, "To know", &known);
        text
    }

    fn lines(&self, cells: &[CellId], also: &dyn Fn(CellId) -> Option<String>) -> Vec<String> {
        let name_width = cells.iter().map(|c| self.name(*c).chars().count()).max();
        let value_width = cells.iter().map(|c| self.shown(*c).chars().count()).max();
        cells
            .iter()
            .map(|cell| {
                let mut said: Vec<String> = Vec::new();
                said.extend(also(*cell));
                said.extend(self.beat_words(*cell));
                match self.origin(*cell) {
                    Some(crate::quantity::Origin::Measured) | None => {}
                    Some(origin) => said.push(origin.word().into()),
                }
                said.extend(self.because(*cell));
                let (names, values) = (name_width.unwrap_or(0), value_width.unwrap_or(0));
                let (name, value) = (self.name(*cell), self.shown(*cell));
                let line = format!("{name:<names$}  {value:>values$}  {}", said.join(", "));
                line.trim_end().to_owned()
            })
            .collect()
    }

    /// Whether a cell only repeats what all exams share: passes it on, or is computed from
    /// nothing else.
    pub(super) fn repeats_shared(&self, cell: CellId, bound: &[CellId]) -> bool {
        if self.shared.contains_key(&cell.index) {
            return self.reading(cell).is_none() && !bound.contains(&cell);
        }
        let inputs = self.inputs(cell);
        let is_in_exam = self.name(cell).contains('.');
        let repeats = |input: &CellId| self.repeats_shared(*input, bound);
        is_in_exam && !inputs.is_empty() && inputs.iter().all(repeats)
    }

    /// Missing results that something known leads to, gathered by reason.
    fn missing_lines(&self) -> Vec<String> {
        let has_input = |cell: &CellId| {
            self.inputs(*cell)
                .iter()
                .any(|input| self.state(*input) == Some(State::Known))
        };
        let mut by_reason: Vec<(String, Vec<String>)> = Vec::new();
        let missing = self
            .cells()
            .filter(|cell| self.state(*cell) == Some(State::Missing))
            .filter(|cell| self.reading(*cell).is_none() && self.is_derived(*cell))
            .filter(has_input);
        for cell in missing {
            // Of a cell that is itself withheld the name stands before the reason already.
            let own = format!("{} is ", self.name(cell));
            let because = self.because(cell);
            let told = because.iter().map(|b| b.strip_prefix(&own).unwrap_or(b));
            let reason = told.collect::<Vec<&str>>().join("; ");
            match by_reason.iter_mut().find(|(r, _)| *r == reason) {
                Some((_, names)) => names.push(self.name(cell)),
                None => by_reason.push((reason, vec![self.name(cell)])),
            }
        }
        by_reason
            .into_iter()
            .map(|(reason, names)| format!("{}: {reason}", names.join(", ")))
            .collect()
    }

    /// Each advisory once, with the cells it was found on counted from the readings up.
    fn advisory_lines(&self, cells: &[CellId]) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for cell in cells {
            for advisory in self.advisories(*cell) {
                let line = format!(
                    "{}: {}",
                    super::advice::word_of(advisory.weight),
                    advisory.text
                );
                if !lines.contains(&line) {
                    lines.push(line);
                }
            }
        }
        lines.sort_by_key(|line| !line.starts_with("caution"));
        lines
    }
}

fn section(text: &mut String, heading: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    if !text.is_empty() {
        text.push('\n');
    }
    text.push_str(heading);
    text.push('\n');
    for line in lines {
        text.push_str("  ");
        text.push_str(line);
        text.push('\n');
    }
}
