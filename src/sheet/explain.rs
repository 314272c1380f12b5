//! Explaining a cell: formula with symbols and with numbers, inputs, source, advisories.

use super::advice::{Advisory, word_of};
use super::error::EditError;
use super::figure::{figure, figure_as_given, figure_with_unit, join_unit};
use super::sheet::Sheet;
use super::view::State;
use crate::formula::notation::write_figures;
use crate::formula::{CellId, Formula, Shown, typeset};
use crate::quantity::Unit;

/// Everything that can be said of a cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// The name.
    pub name: String,
    /// The words for it.
    pub label: String,
    /// The value for a person, with its unit; or the state.
    pub value: String,
    /// Whether it has a value.
    pub state: State,
    /// Why not, if not.
    pub because: Vec<String>,
    /// The origin of a known value.
    pub origin: Option<&'static str>,
    /// Whether a reading stands in for the formula of a derived cell.
    pub is_given: bool,
    /// The formula in the notation.
    pub formula: Option<String>,
    /// `symbol = formula` in LaTeX.
    pub with_symbols: Option<String>,
    /// `symbol = numbers = result` in LaTeX; only of a known value.
    pub with_numbers: Option<String>,
    /// `name = numbers = result` in the notation; only of a known value.
    pub numbers: Option<String>,
    /// The inputs.
    pub inputs: Vec<InputLine>,
    /// Usual ranges: who, from and to, source.
    pub usual: Vec<String>,
    /// What the formula takes for granted.
    pub assumptions: Vec<String>,
    /// Who published it.
    pub source: String,
    /// Uncertainty of the formula itself.
    pub model_uncertainty: Option<String>,
    /// What applies, from the cell and upstream.
    pub advisories: Vec<Advisory>,
}

/// An input of an explained cell.
#[derive(Clone, Debug, PartialEq)]
pub struct InputLine {
    /// The name.
    pub name: String,
    /// The words for it.
    pub label: String,
    /// The value for a person, or the state.
    pub value: String,
    /// The origin of a known value.
    pub origin: Option<&'static str>,
    /// Whether it has a value.
    pub state: State,
}

impl Sheet {
    /// A cell's value for a person: a figure with its unit, a finding's word, or the state.
    pub fn shown(&self, cell: CellId) -> String {
        match (self.word(cell), self.value(cell), self.unit(cell)) {
            (Some(word), ..) => word.replace('_', " "),
            (None, Some(value), Some(unit)) => join_unit(&self.figure_of(cell, value), unit),
            _ => self.state(cell).map_or("", State::word).to_owned(),
        }
    }

    /// A cell's value in figures: as it was given, or as many digits as a result bears.
    pub fn figure_of(&self, cell: CellId, value: f64) -> String {
        match self.is_given(cell.index()) {
            true => figure_as_given(value),
            false => figure(value),
        }
    }

    /// Explains a cell.
    ///
    /// # Errors
    /// [`EditError::ForeignHandle`].
    pub fn explain(&self, cell: CellId) -> Result<Explanation, EditError> {
        let index = self.index_of(cell)?;
        let about = self.about[index].as_deref();
        let state = self.state(cell).unwrap_or(State::Missing);
        let way = self.way_to(cell, index);
        Ok(Explanation {
            name: self.name(cell),
            label: about.map_or_else(|| self.name(cell), |a| a.label.clone()),
            value: self.shown(cell),
            state,
            because: self.because(cell),
            origin: self.origin(cell).map(|o| o.word()),
            is_given: way == Way::Given,
            formula: match way {
                Way::Reading => None,
                Way::Shared(shared) => Some(self.name(shared)),
                Way::Given | Way::Formula => self.formula_text(cell),
            },
            with_symbols: match way {
                Way::Reading => None,
                Way::Shared(shared) => {
                    Some(format!("{} = {}", self.symbol(cell), self.symbol(shared)))
                }
                Way::Given | Way::Formula => self.with_symbols(cell),
            },
            with_numbers: match way {
                Way::Reading | Way::Given => None,
                Way::Shared(_) | Way::Formula => self.with_numbers(cell),
            },
            numbers: match way {
                Way::Reading | Way::Given => None,
                Way::Shared(_) | Way::Formula => self.numbers(cell),
            },
            inputs: match way {
                Way::Reading => Vec::new(),
                Way::Shared(shared) => vec![self.input_line(shared)],
                Way::Given | Way::Formula => {
                    let inputs = self.inputs(cell).into_iter();
                    inputs.map(|i| self.input_line(i)).collect()
                }
            },
            usual: self.usual_words(cell),
            assumptions: about.map_or_else(Vec::new, |a| a.assumptions.clone()),
            source: about.map_or_else(String::new, |a| a.source.clone()),
            model_uncertainty: about.and_then(|a| {
                let model = a.model_uncertainty?;
                let u = figure_with_unit(model.standard, a.stated_in);
                Some(format!("{u} standard uncertainty ({})", model.source))
            }),
            advisories: self.advisories(cell),
        })
    }

    /// How a cell came by what it is. An input of an exam has a formula only to fall back on the
    /// cell that all exams share; where nothing stood in its way, there is no more to say.
    fn way_to(&self, cell: CellId, index: usize) -> Way {
        let is_given = self.is_given(index);
        let is_known = self.state(cell) == Some(State::Known);
        match self.shared.get(&cell.index) {
            None if is_given && self.is_derived(cell) => Way::Given,
            None => Way::Formula,
            Some(_) if is_given && is_known => Way::Reading,
            Some(shared) if self.hot[index].same(&self.hot[*shared as usize]) => {
                Way::Shared(self.id_of(*shared))
            }
            Some(_) => Way::Formula,
        }
    }

    fn input_line(&self, cell: CellId) -> InputLine {
        InputLine {
            name: self.name(cell),
            label: self.label(cell),
            value: self.shown(cell),
            origin: self.origin(cell).map(|o| o.word()),
            state: self.state(cell).unwrap_or(State::Missing),
        }
    }

    /// The words for a cell.
    pub fn label(&self, cell: CellId) -> String {
        self.about(cell)
            .map_or_else(|| self.name(cell), |a| a.label.clone())
    }

    /// LaTeX of a cell's symbol.
    pub fn symbol(&self, cell: CellId) -> String {
        self.about(cell)
            .map_or_else(String::new, |a| a.symbol.clone())
    }

    fn with_symbols(&self, cell: CellId) -> Option<String> {
        let latex = self.typeset_with(
            cell,
            &|operand| self.symbol(operand),
            r"\text{reading}",
            false,
        )?;
        Some(format!("{} = {latex}", self.symbol(cell)))
    }

    fn with_numbers(&self, cell: CellId) -> Option<String> {
        let value = self.value(cell)?;
        let unit = self.unit(cell)?;
        let own = self.value(cell).map_or_else(String::new, |v| {
            latex_figure(&self.figure_of(cell, v), unit)
        });
        let number = |operand: CellId| match (self.word(operand), self.value(operand)) {
            (Some(word), _) => format!(r"\text{{{}}}", word.replace('_', " ")),
            (None, Some(value)) => latex_figure(
                &self.figure_of(operand, value),
                self.unit(operand).unwrap_or(Unit::ONE),
            ),
            (None, None) => self.symbol(operand),
        };
        let latex = self.typeset_with(cell, &number, &own, true)?;
        let result = latex_figure(&self.figure_of(cell, value), unit);
        // A formula that passes on what it was given would say the same twice.
        Some(match latex == result {
            true => format!("{} = {result}", self.symbol(cell)),
            false => format!("{} = {latex} = {result}", self.symbol(cell)),
        })
    }

    /// A formula with the figures of its operands, as text.
    fn numbers(&self, cell: CellId) -> Option<String> {
        let value = self.value(cell)?;
        let unit = self.unit(cell)?;
        let figure =
            |cell: CellId, value: f64, unit: Unit| join_unit(&self.figure_of(cell, value), unit);
        let number = |operand: CellId| match self.word(operand).is_some() {
            true => self.shown(operand),
            false => match self.value(operand) {
                Some(value) => figure(operand, value, self.unit(operand).unwrap_or(Unit::ONE)),
                None => self.name(operand),
            },
        };
        let result = figure(cell, value, unit);
        let with = Showing {
            show: &number,
            of_reading: "the reading",
            reading: &result,
            only_taken: true,
        };
        let numbers = self.written_with(cell, with, write_figures)?;
        let name = self.name(cell);
        // A formula that passes on what it was given would say the same twice.
        Some(match numbers == result {
            true => format!("{name} = {result}"),
            false => format!("{name} = {numbers} = {result}"),
        })
    }

    fn typeset_with(
        &self,
        cell: CellId,
        show: &dyn Fn(CellId) -> String,
        reading: &str,
        only_taken: bool,
    ) -> Option<String> {
        let with = Showing {
            show,
            of_reading: &reading_symbol(),
            reading,
            only_taken,
        };
        self.written_with(cell, with, typeset)
    }

    fn written_with(
        &self,
        cell: CellId,
        with: Showing<'_>,
        write: impl Fn(&Formula, Shown<'_>) -> String,
    ) -> Option<String> {
        let index = self.index_of(cell).ok()?;
        let formula = self.formula_at(index)?;
        let operands: Vec<String> = self
            .operands_of(index)
            .iter()
            .map(|operand| match self.speaks_of.get(operand) {
                // What is asked of a reading is named by the cell it speaks of.
                Some(speaker) if *speaker == cell.index => with.of_reading.to_owned(),
                Some(speaker) => (with.show)(self.id_of(*speaker)),
                None => (with.show)(self.id_of(*operand)),
            })
            .collect();
        let taken = match with.only_taken {
            true => self.branches(index, formula),
            false => Vec::new(),
        };
        let shown = Shown {
            operands: &operands,
            reading: with.reading,
            taken: &taken,
        };
        Some(write(formula, shown))
    }

    fn usual_words(&self, cell: CellId) -> Vec<String> {
        let Some(about) = self.about(cell) else {
            return Vec::new();
        };
        about
            .usual
            .iter()
            .map(|range| {
                let unit = about.stated_in.pretty();
                let bounds = match (range.low, range.high) {
                    (Some(low), Some(high)) => format!("{low} to {high}"),
                    (Some(low), None) => format!("at least {low}"),
                    (None, Some(high)) => format!("at most {high}"),
                    (None, None) => "any".into(),
                };
                format!("{bounds} {unit} in {} ({})", range.who, range.source)
            })
            .collect()
    }
}

/// What stands for the operands of a formula that is written out.
struct Showing<'a> {
    show: &'a dyn Fn(CellId) -> String,
    /// What stands for the cell's own reading where something is asked of it.
    of_reading: &'a str,
    /// What stands for its value.
    reading: &'a str,
    only_taken: bool,
}

/// How a cell came by what it is.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    /// By its formula, or as an input.
    Formula,
    /// By a reading, in place of the formula of a derived cell.
    Given,
    /// By an exam's own reading, though the shared cell could have stood in.
    Reading,
    /// By the cell that all exams share.
    Shared(CellId),
}

fn reading_symbol() -> String {
    r"\text{reading}".into()
}

fn latex_figure(figure: &str, unit: Unit) -> String {
    let number = figure.replace('−', "-");
    let number = match number.split_once('e') {
        Some((mantissa, exponent)) => format!(r"{mantissa}\times 10^{{{exponent}}}"),
        None => number,
    };
    match unit.latex() {
        "" => number,
        latex => format!(r"{number}\,{latex}"),
    }
}

impl std::fmt::Display for Explanation {
    /// Plain text, for a terminal.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        writeln!(f, "{} ({})", self.label, self.name)?;
        let origin = self.origin.map_or(String::new(), |o| format!(", {o}"));
        writeln!(f, "  {}{origin}", self.value)?;
        if self.is_given {
            writeln!(f, "  a reading, which takes precedence over the formula")?;
        }
        for because in &self.because {
            writeln!(f, "  because {because}")?;
        }
        if let Some(formula) = &self.formula {
            writeln!(f, "\nFormula\n  {} = {formula}", self.name)?;
        }
        if let Some(numbers) = &self.numbers {
            writeln!(f, "  {numbers}")?;
        }
        if !self.inputs.is_empty() {
            writeln!(f, "\nInputs")?;
            for input in &self.inputs {
                let origin = input.origin.map_or(String::new(), |o| format!(" ({o})"));
                writeln!(f, "  {}: {}{origin}", input.name, input.value)?;
            }
        }
        list(f, "Usual", &self.usual)?;
        list(f, "Takes for granted", &self.assumptions)?;
        if let Some(model) = &self.model_uncertainty {
            writeln!(f, "\nUncertainty of the formula itself\n  {model}")?;
        }
        if !self.source.is_empty() {
            writeln!(f, "\nSource\n  {}", self.source)?;
        }
        let advisories: Vec<String> = self
            .advisories
            .iter()
            .map(|a| format!("{}: {} ({})", word_of(a.weight), a.text, a.source))
            .collect();
        list(f, "To know", &advisories)
    }
}

fn list(f: &mut std::fmt::Formatter<'_>, heading: &str, lines: &[String]) -> std::fmt::Result {
    if lines.is_empty() {
        return Ok(());
    }
    writeln!(f, "\n{heading}")?;
    for line in lines {
        writeln!(f, "  {line}")?;
    }
    Ok(())
}
