//! What a statement shows: the choice of table, explanation or chart, and its errors.

use std::hash::{Hash, Hasher};
use std::sync::Arc;

use maud::html;

use super::assembly::Lost;
use super::cohorts::Cohorts;
use super::output::Output;
use super::{charts_of, live, probability, simulated, statistics, tables, trust};
use crate::cohort::Cohort;
use crate::formula::CellId;
use crate::formula::notation::{Diagnostic, Display, Name, Place, Sources, number};
use crate::quantity::Unit;
use crate::sheet::Sheet;

/// What a statement is rendered from.
pub(super) struct Rendering<'r> {
    pub(super) sheet: &'r Sheet,
    pub(super) cohorts: &'r Cohorts,
    /// What cells with errors would have defined.
    pub(super) lost: &'r Lost,
    pub(super) sources: &'r Sources,
    /// Where the statement stands.
    pub(super) place: Place,
    /// Identity of the output.
    pub(super) id: String,
}

/// What a statement shows, or what is wrong with it.
pub(super) fn render(rendering: &Rendering<'_>, display: &Display) -> Output {
    let shown = match display {
        Display::Show { names, over: None } => tables::cells(rendering, names),
        Display::Show {
            names,
            over: Some(over),
        } => tables::summary(rendering, names, over),
        Display::Explain(name) => tables::explanation(rendering, name),
        Display::Cohort { name, file, .. } => tables::cohort(rendering, name, file),
        Display::Budget(name) => trust::budget(rendering, name),
        Display::Coupling(first, second) => trust::coupling(rendering, first, second),
        Display::Probability {
            name,
            above,
            threshold,
            by_simulation: false,
        } => probability::probability(rendering, name, *above, threshold),
        Display::Probability {
            name,
            above,
            threshold,
            by_simulation: true,
        } => simulated::probability(rendering, name, *above, threshold),
        Display::Simulate(name) => simulated::simulation(rendering, name),
        Display::Scatter { .. }
        | Display::Curve { .. }
        | Display::Effects { .. }
        | Display::Serial { .. } => charts_of::draw(rendering, display),
        Display::Adjust(adjust) => live::adjust::shown(rendering, adjust),
        Display::Describe(exam) => live::describe::shown(rendering, exam),
        Display::Analysis(analysis) => statistics::answer(rendering, analysis),
    };
    shown.unwrap_or_else(|found| {
        let text = rendering.sources.render(&found);
        diagnostics(rendering.id.clone(), &text, &found)
    })
}

/// The words of a finding; none for a cell with numbers.
pub(super) fn words_of_finding(sheet: &Sheet, cell: CellId) -> &[Arc<str>] {
    sheet.about(cell).map_or(&[], |about| &about.words)
}

/// Diagnostics as an output; an error among them makes it one.
pub(super) fn diagnostics(id: String, text: &str, found: &[Diagnostic]) -> Output {
    let html = html! { pre.diagnostic { (text) } }.into_string();
    let output = if found.iter().any(Diagnostic::is_error) {
        Output::error(text, html)
    } else {
        Output::new("", text, html)
    };
    output.with_id(id)
}

/// Something shown, or all that is wrong.
pub(super) type Rendered = Result<Output, Vec<Diagnostic>>;

impl Rendering<'_> {
    /// The cell of a name, or a diagnostic at the name.
    pub(super) fn cell(&self, name: &Name) -> Result<CellId, Vec<Diagnostic>> {
        let Some(cell) = self.sheet.cell(&name.text) else {
            let message = format!("`{}` is not a cell of this notebook", name.text);
            let error = Diagnostic::error(message, name.place);
            let near = self.sheet.nearest_name(&name.text);
            let near = near.map(|near| format!("did you mean `{near}`?"));
            let lost = self.lost.names.get(&name.text).cloned();
            return Err(vec![error.hint_if(lost.or(near))]);
        };
        self.refuse_lost(cell, name.place)?;
        Ok(cell)
    }

    /// An amount that does not measure a cell.
    pub(super) fn not_in_unit(
        &self,
        name: &Name,
        unit: Unit,
        (value, given): (f64, Unit),
    ) -> Vec<Diagnostic> {
        let (is, said) = (unit.words(), given.words());
        let message = format!("`{}` is {is}, not {said}", name.text);
        let hint = match (given, unit) {
            (Unit::ONE, unit) => format!("give the unit, such as `{} {unit}`", number(value)),
            (_, Unit::ONE) => "leave the unit out".into(),
            (_, unit) => format!("give an amount in {unit}, or in another unit of that quantity"),
        };
        vec![Diagnostic::error(message, name.place).hint(hint)]
    }

    /// The cell of a name that has numbers, or a diagnostic at the name.
    pub(super) fn number_cell(&self, name: &Name) -> Result<CellId, Vec<Diagnostic>> {
        let cell = self.cell(name)?;
        match words_of_finding(self.sheet, cell) {
            [] => Ok(cell),
            words => {
                let message = format!("`{}` is a finding: it has words, not numbers", name.text);
                let hint = format!("its words are {}", words.join(", "));
                Err(vec![Diagnostic::error(message, name.place).hint(hint)])
            }
        }
    }

    /// An error if a cell rests on a definition that is lost: what the sheet has in its place is
    /// not what the notebook says.
    pub(super) fn refuse_lost(&self, cell: CellId, place: Place) -> Result<(), Vec<Diagnostic>> {
        if self.lost.names.is_empty() {
            return Ok(());
        }
        let name = self.sheet.name(cell);
        for upstream in self.sheet.leans_on(cell) {
            let on = self.sheet.name(upstream);
            if let Some(why) = self.lost.names.get(&on) {
                let message = match on == name {
                    true => format!("`{name}` is not what this notebook says: {why}"),
                    false => format!("`{name}` rests on `{on}`: {why}"),
                };
                return Err(vec![Diagnostic::error(message, place)]);
            }
        }
        Ok(())
    }

    /// The cells of several names, or a diagnostic for each that is none.
    pub(super) fn cells(&self, names: &[Name]) -> Result<Vec<CellId>, Vec<Diagnostic>> {
        let mut cells = Vec::with_capacity(names.len());
        let mut found = Vec::new();
        for name in names {
            match self.cell(name) {
                Ok(cell) => cells.push(cell),
                Err(mut errors) => found.append(&mut errors),
            }
        }
        if found.is_empty() {
            Ok(cells)
        } else {
            Err(found)
        }
    }

    /// The cohort of a name, or a diagnostic at the name.
    pub(super) fn cohort(&self, name: &Name) -> Result<&Cohort, Vec<Diagnostic>> {
        self.cohort_at(name, name.place)
    }

    /// The cohort of a name, or a diagnostic; one about its file stands at `file`.
    pub(super) fn cohort_at(&self, name: &Name, file: Place) -> Result<&Cohort, Vec<Diagnostic>> {
        if let Some(why) = &self.lost.rows {
            let message = format!("the rows of `{}` are not computed: {why}", name.text);
            let error = Diagnostic::error(message, name.place);
            return Err(vec![error.hint(
                "which rows are used depends on the definitions of all cells",
            )]);
        }
        let Some(cohort) = self.cohorts.get(&name.text) else {
            let message = format!("there is no cohort `{}`", name.text);
            let known = self.cohorts.names().join(", ");
            let hint = match self.lost.cohorts.get(&name.text) {
                Some(why) => why.clone(),
                None if known.is_empty() => {
                    format!("bring one in: `cohort {} from \"table.csv\"`", name.text)
                }
                None => format!("the cohorts are {known}"),
            };
            return Err(vec![Diagnostic::error(message, name.place).hint(hint)]);
        };
        cohort
            .result
            .as_ref()
            .map_err(|error| vec![Diagnostic::error(error.to_string(), file)])
    }

    /// An error about the whole statement.
    pub(super) fn error(&self, message: impl Into<String>) -> Vec<Diagnostic> {
        vec![Diagnostic::error(message, self.place)]
    }

    /// The same with another sheet.
    pub(super) fn on<'o>(&'o self, sheet: &'o Sheet) -> Rendering<'o> {
        Rendering {
            sheet,
            id: self.id.clone(),
            ..*self
        }
    }

    /// A number that changes when what the statement shows could.
    pub(super) fn made_from(&self, display: &Display) -> u64 {
        let mut hasher = std::hash::DefaultHasher::new();
        format!("{display:?}").hash(&mut hasher);
        let all = || self.sheet.cells().collect::<Vec<_>>();
        let lean = |names: &[&Name]| {
            let cells = names.iter().filter_map(|n| self.sheet.cell(&n.text));
            cells
                .flat_map(|c| self.sheet.leans_on(c))
                .collect::<Vec<_>>()
        };
        let (cells, cohort) = match display {
            Display::Show { names, over } if names.is_empty() => {
                self.lost.names.hash(&mut hasher);
                (all(), over.as_ref())
            }
            Display::Show { names, over } => {
                (lean(&names.iter().collect::<Vec<_>>()), over.as_ref())
            }
            Display::Explain(name)
            | Display::Budget(name)
            | Display::Probability { name, .. }
            | Display::Simulate(name) => (lean(&[name]), None),
            Display::Coupling(first, second) => (lean(&[first, second]), None),
            Display::Analysis(analysis) => {
                let coverage = crate::uncertainty::Settings::of(self.sheet).coverage;
                coverage.to_bits().hash(&mut hasher);
                (lean(&analysis.names()), Some(&analysis.over))
            }
            Display::Cohort { name, .. } => (Vec::new(), Some(name)),
            Display::Scatter { x, y, over, .. } => (lean(&[x, y]), Some(over)),
            Display::Curve { x, y, .. } => {
                let mut names: Vec<&Name> = y.iter().collect();
                names.push(x);
                (lean(&names), None)
            }
            Display::Effects { y, off, .. } => {
                let mut names: Vec<&Name> = off.iter().map(|(name, _)| name).collect();
                names.push(y);
                (lean(&names), None)
            }
            Display::Adjust(adjust) => (lean(&[&adjust.name]), None),
            Display::Serial { .. } | Display::Describe(_) => (all(), None),
        };
        self.sheet.fingerprint(&cells).hash(&mut hasher);
        for cell in &cells {
            self.lost
                .names
                .get(&self.sheet.name(*cell))
                .hash(&mut hasher);
        }
        if let Some(name) = cohort {
            self.lost.rows.hash(&mut hasher);
            let made_from = self.cohorts.get(&name.text).map(|c| c.made_from);
            made_from.hash(&mut hasher);
        }
        hasher.finish()
    }
}
