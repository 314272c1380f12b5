//! From statements to a sheet: catalogues, lines, changes, then the cells in order.

use std::collections::HashMap;

use super::cell::{About, THIS_SHEET};
use super::correlations::{factor, is_pair, stated_between};
use super::draft::{Draft, Drafts, WAYS, given_twice, is_estimate, is_way, prefixed};
use super::error::EditError;
use super::sheet::{Asked, Edit, Sheet};
use crate::formula::notation::{
    self, Diagnostic, Name, OWN_READING, Parsed, Place, Sources, Statement, What,
};
use crate::formula::{BRACKETS_HINT, CellId, Facet, Target};
use crate::hemodynamics;
use crate::quantity::{Kind, Origin, Reading, Unit};

/// A sheet read from text, with what to warn of.
pub struct Loaded {
    /// The sheet.
    pub sheet: Sheet,
    /// Warnings; the sheet is usable.
    pub warnings: Vec<Diagnostic>,
    /// The texts that places point into.
    pub sources: Sources,
}

/// Why a text is no sheet, with the texts that the places point into.
#[derive(Debug)]
pub struct SheetError {
    /// All that is wrong.
    pub diagnostics: Vec<Diagnostic>,
    /// The texts that places point into.
    pub sources: Sources,
}

impl std::fmt::Display for SheetError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.sources.render(&self.diagnostics))
    }
}

impl std::error::Error for SheetError {}

impl Sheet {
    /// Reads a sheet from its notation.
    ///
    /// # Errors
    /// All diagnostics at once, each with its place.
    pub fn read(text: &str) -> Result<Loaded, SheetError> {
        Sheet::read_named("sheet", text, &[])
    }

    /// Reads a sheet under the name that diagnostics show. `instead` are further readings,
    /// `NAME=READING`, that take the place of the sheet's.
    ///
    /// # Errors
    /// All diagnostics at once, each with its place.
    pub fn read_named(
        name: &str,
        text: &str,
        instead: &[(String, String)],
    ) -> Result<Loaded, SheetError> {
        let mut sources = Sources::default();
        let source = sources.add(name, text);
        let (mut statements, mut found) = notation::statements(text, source);
        let mut further: Vec<Name> = Vec::new();
        for (cell, reading) in instead {
            let line = format!("{cell} = {reading}");
            let source = sources.add(format!("{cell}={reading}"), line.as_str());
            let (mut more, errors) = notation::statements(&line, source);
            found.extend(errors);
            let others = statements.len();
            statements.retain(|s| defined_name(s).is_none_or(|n| n.text != *cell));
            if others == statements.len() {
                further.extend(more.iter().filter_map(defined_name).cloned());
            }
            statements.append(&mut more);
        }
        let sheet = Sheet::build(&statements, &mut found).filter(|sheet| {
            let useless = further.iter().filter_map(|name| sheet.useless(name));
            let former = found.len();
            found.extend(useless);
            found.len() == former
        });
        match sheet {
            Some(sheet) => Ok(Loaded {
                sheet,
                warnings: found,
                sources,
            }),
            None => Err(SheetError {
                diagnostics: found,
                sources,
            }),
        }
    }

    /// Builds a sheet from statements, adding what is wrong to `found`; `None` if there is an
    /// error among it.
    pub fn build(statements: &[Statement], found: &mut Vec<Diagnostic>) -> Option<Sheet> {
        Sheet::build_without(statements, &HashMap::new(), found)
    }

    /// Builds a sheet from statements that lack some definitions; `absent` says of a name that
    /// is lacking why it is.
    pub fn build_without(
        statements: &[Statement],
        absent: &HashMap<String, String>,
        found: &mut Vec<Diagnostic>,
    ) -> Option<Sheet> {
        let mut loader = Loader {
            drafts: Drafts::default(),
            prefixes: Vec::new(),
            absent,
            found,
        };
        loader.use_catalogues(statements);
        // Lines on changes have to wait until there are changes.
        let of_changes = change_prefixes(statements);
        let (changes, lines): (Vec<_>, Vec<_>) = loader
            .given_once(statements)
            .into_iter()
            .partition(|(name, _)| of_changes.iter().any(|p| name.text.starts_with(p)));
        loader.take_lines(lines);
        loader.link_exams();
        loader.compare(statements);
        loader.take_lines(changes);
        let sheet = loader.cells(statements);
        found.sort_by_key(|d| d.place().map_or((1, 0, 0), |p| (0, p.source, p.start)));
        let is_sound = !found.iter().any(Diagnostic::is_error);
        sheet.filter(|_| is_sound)
    }

    /// What is wrong with a reading from elsewhere that takes the place of no line, if it makes
    /// a cell that nothing uses: it was meant for another.
    fn useless(&self, name: &Name) -> Option<Diagnostic> {
        let index = *self.names.get(&name.text)?;
        let about = self.about[index as usize].as_deref()?;
        let is_known = !about.source.is_empty();
        if is_known || !self.dependents[index as usize].is_empty() {
            return None;
        }
        let error = EditError::NoSuchCell {
            name: name.text.clone(),
            near: self.nearest_name(&name.text),
        };
        Some(Diagnostic::error(error.to_string(), name.place))
    }

    /// The name of a cell that is nearly this one, if there is one.
    pub fn nearest_name(&self, name: &str) -> Option<String> {
        near(name, self.names.keys().map(String::as_str))
    }

    /// Sets a reading given as text, and recomputes.
    ///
    /// # Errors
    /// A diagnostic without a place for an unknown cell or an unfit reading, with one for a text
    /// that is no reading; the sheet is then as it was.
    pub fn set_text(&mut self, name: &str, reading: &str) -> Result<&Edit, Diagnostic> {
        let cell = self.cell(name).ok_or_else(|| {
            let error = EditError::NoSuchCell {
                name: name.to_owned(),
                near: near(name, self.names.keys().map(String::as_str)),
            };
            Diagnostic::general(error.to_string())
        })?;
        let reading = notation::reading(reading, 0)?;
        self.set(cell, reading)
            .map_err(|error| Diagnostic::general(error.to_string()))
    }
}

/// The name that a statement defines.
pub fn defined_name(statement: &Statement) -> Option<&Name> {
    match &statement.what {
        What::Reading { name, .. } | What::Word { name, .. } | What::Formula { name, .. } => {
            Some(name)
        }
        What::Use { .. }
        | What::Compare { .. }
        | What::Require(_)
        | What::Correlate { .. }
        | What::Coverage(_)
        | What::Repeatability(_)
        | What::Display(_) => None,
    }
}

/// A cell was said to be in a unit of another quantity than its own.
fn unlike_unit(name: &Name, own: Unit, said: Unit) -> Diagnostic {
    let (is, said) = (own.words(), said.words());
    let message = format!("`{}` is {is}, not {said}", name.text);
    Diagnostic::error(message, name.place)
}

/// Whether a cell has no reading and a formula, of the catalogue's or a line's own, to go by.
fn is_computed(draft: &Draft) -> bool {
    draft.reading.is_none() && (!draft.is_input || draft.about.source == THIS_SHEET)
}

/// The way out where a formula does not fit a cell of the catalogue.
const OWN_NAME_HINT: &str = "a formula of your own needs a name of its own";

struct Loader<'a> {
    drafts: Drafts,
    prefixes: Vec<(String, Place)>,
    absent: &'a HashMap<String, String>,
    found: &'a mut Vec<Diagnostic>,
}

impl Loader<'_> {
    fn use_catalogues(&mut self, statements: &[Statement]) {
        for statement in statements {
            let What::Use { catalogue, prefix } = &statement.what else {
                continue;
            };
            if catalogue.text != "hemodynamics" {
                let message = format!("there is no catalogue `{}`", catalogue.text);
                let error = Diagnostic::error(message, catalogue.place);
                self.found.push(error.hint("write `use hemodynamics`"));
                continue;
            }
            if let Some(exam) = prefix.as_ref().filter(|p| is_way(&p.text)) {
                let message = format!("an exam cannot be called `{}`", exam.text);
                let hint = "names of changes start with that word; call it `before`, say";
                self.found
                    .push(Diagnostic::error(message, exam.place).hint(hint));
                continue;
            }
            let prefix = prefix.as_ref().map_or("", |p| p.text.as_str());
            match self.prefixes.iter().find(|(p, _)| p == prefix) {
                Some((_, first)) => {
                    let again = Diagnostic::error("this catalogue is used twice", statement.place);
                    let hint = "give one of them a name: `use hemodynamics as before`";
                    self.found
                        .push(again.also(*first, "first used here").hint(hint));
                }
                None => {
                    self.prefixes.push((prefix.to_owned(), statement.place));
                    self.drafts.use_hemodynamics(prefix);
                }
            }
        }
    }

    /// The lines that define something, without those that define it again.
    fn given_once<'s>(&mut self, statements: &'s [Statement]) -> Vec<(&'s Name, &'s What)> {
        let mut given: HashMap<&str, Place> = HashMap::new();
        let mut lines = Vec::new();
        for statement in statements {
            let Some(name) = defined_name(statement) else {
                continue;
            };
            match given.get(name.text.as_str()) {
                Some(first) => self.found.push(given_twice(name, *first)),
                None => {
                    given.insert(&name.text, name.place);
                    lines.push((name, &statement.what));
                }
            }
        }
        lines
    }

    fn take_lines(&mut self, lines: Vec<(&Name, &What)>) {
        for (name, what) in lines {
            self.bring_in_shared(name);
            self.take_line(name, what);
        }
    }

    /// Whether every exam has a name, so that a bare name belongs to all of them.
    fn all_exams_are_named(&self) -> bool {
        !self.prefixes.is_empty() && self.prefixes.iter().all(|(p, _)| !p.is_empty())
    }

    /// A bare name of the catalogue where every exam has a name: an input, or an estimate that
    /// stands in for one, is shared by all exams and is what the catalogue says it is; anything
    /// else is used by none of them.
    fn bring_in_shared(&mut self, name: &Name) {
        if !self.all_exams_are_named() || self.drafts.get(&name.text).is_some() {
            return;
        }
        let Some(entry) = hemodynamics::entry(&name.text) else {
            return;
        };
        let is_used = is_estimate(entry);
        if matches!(entry.what, hemodynamics::What::Derived(_)) && !is_used {
            let exams: Vec<String> = self
                .prefixes
                .iter()
                .map(|(p, _)| prefixed(p, &name.text))
                .collect();
            let message = format!(
                "no exam uses `{}`: only readings are shared by all exams",
                name.text
            );
            let hint = format!("write `{}`", exams.join("` or `"));
            self.found
                .push(Diagnostic::warning(message, name.place).hint(hint));
        } else {
            self.drafts.share(entry);
        }
    }

    fn take_line(&mut self, name: &Name, what: &What) {
        match what {
            What::Reading {
                unit, reading, at, ..
            } => self.reading(name, *unit, reading.clone(), *at),
            What::Word {
                unit, word, origin, ..
            } => self.word(name, *unit, word, *origin),
            What::Formula { unit, parsed, .. } => self.formula(name, *unit, parsed.clone()),
            What::Use { .. }
            | What::Compare { .. }
            | What::Require(_)
            | What::Correlate { .. }
            | What::Coverage(_)
            | What::Repeatability(_)
            | What::Display(_) => {}
        }
    }

    fn reading(&mut self, name: &Name, unit: Option<Unit>, reading: Reading, at: Place) {
        if let Some(draft) = self.drafts.get_mut(&name.text) {
            if let Some(unit) = unit {
                if !draft.about.words.is_empty() {
                    let message = format!("`{}` is a finding; it has no unit", name.text);
                    let hint = format!("its words are {}", draft.about.words.join(", "));
                    self.found
                        .push(Diagnostic::error(message, name.place).hint(hint));
                    return;
                }
                match draft.unit {
                    Some(own) if own.dimension() != unit.dimension() => {
                        self.found.push(unlike_unit(name, own, unit));
                        return;
                    }
                    _ => draft.unit = Some(unit),
                }
            }
            draft.line = Some(name.place);
            draft.reading = Some((reading, at));
            return;
        }
        let unit = unit
            .or_else(|| reading.unit())
            .or_else(|| reading.unit_to_come());
        self.warn_of_slip(name);
        self.drafts.add(Draft {
            about: About::named(&name.text),
            unit,
            kind: Kind::Plain,
            formula: None,
            reading: Some((reading, at)),
            line: Some(name.place),
            shared: None,
            is_input: true,
        });
    }

    /// A lone word is a finding's, or passes on a cell.
    fn word(&mut self, name: &Name, unit: Option<Unit>, word: &Name, origin: Origin) {
        let is_finding = self
            .drafts
            .get(&name.text)
            .is_some_and(|d| !d.about.words.is_empty());
        if is_finding {
            let reading = Reading::word(&word.text).with_origin(origin);
            return self.reading(name, unit, reading, word.place);
        }
        if origin != Origin::Measured {
            let (origin, passed) = (origin.word(), &word.text);
            let message = format!("`{origin}` can follow a reading, and `{passed}` is none");
            let hint = format!("write `{} = {origin}({passed})`", name.text);
            self.found
                .push(Diagnostic::error(message, word.place).hint(hint));
            return;
        }
        match notation::formula(&word.text, word.place.source) {
            Ok(mut parsed) => {
                parsed.places = vec![word.place; parsed.places.len()];
                parsed.name_places = vec![word.place; parsed.name_places.len()];
                self.formula(name, unit, parsed);
            }
            Err(error) => self.found.push(error),
        }
    }

    fn formula(&mut self, name: &Name, unit: Option<Unit>, parsed: Parsed) {
        if let Some(draft) = self.drafts.get_mut(&name.text) {
            if let (Some(own), Some(unit)) = (draft.unit, unit) {
                if own.dimension() != unit.dimension() {
                    let error = unlike_unit(name, own, unit);
                    self.found.push(error.hint(OWN_NAME_HINT));
                    return;
                }
                draft.unit = Some(unit);
            }
            if !draft.about.words.is_empty() {
                let message = format!("`{}` is a finding; a formula cannot give it", name.text);
                let error = Diagnostic::error(message, name.place);
                let words = draft.about.words.join(", ");
                self.found
                    .push(error.hint(format!("its words are {words}")));
                return;
            }
            draft.formula = Some(parsed);
            draft.line = Some(name.place);
            draft.about.source = THIS_SHEET.into();
            draft.about.assumptions.clear();
            draft.about.model_uncertainty = None;
            return;
        }
        self.warn_of_slip(name);
        self.drafts.add(Draft {
            about: About {
                source: THIS_SHEET.into(),
                ..About::named(&name.text)
            },
            unit,
            kind: Kind::Plain,
            formula: Some(parsed),
            reading: None,
            line: Some(name.place),
            shared: None,
            is_input: false,
        });
    }

    /// A new name that is nearly one of the catalogue's is probably a slip.
    fn warn_of_slip(&mut self, name: &Name) {
        let known = self.drafts.list.iter().filter(|d| d.line.is_none());
        let shared = hemodynamics::entries()
            .filter(|_| self.all_exams_are_named())
            .filter(|entry| !matches!(entry.what, hemodynamics::What::Derived(_)))
            .map(|entry| entry.name);
        let known = known.map(|d| d.about.name.as_str()).chain(shared);
        if let Some(near) = near(&name.text, known) {
            let message = format!("`{}` is a new cell of your own", name.text);
            let warning = Diagnostic::warning(message, name.place);
            self.found
                .push(warning.hint(format!("did you mean `{near}`?")));
        }
    }

    fn link_exams(&mut self) {
        let prefixes: Vec<String> = self.prefixes.iter().map(|(p, _)| p.clone()).collect();
        if self.all_exams_are_named() && prefixes.len() > 1 {
            let exams: Vec<&str> = prefixes.iter().map(String::as_str).collect();
            self.drafts.share_estimates(&exams);
        }
        for prefix in prefixes.iter().filter(|p| !p.is_empty()) {
            self.drafts.link_shared(prefix);
        }
    }

    fn compare(&mut self, statements: &[Statement]) {
        let mut made: Vec<(String, Place)> = Vec::new();
        for statement in statements {
            let What::Compare {
                before,
                after,
                prefix,
            } = &statement.what
            else {
                continue;
            };
            let unknown = [before, after]
                .into_iter()
                .find(|exam| !self.prefixes.iter().any(|(p, _)| *p == exam.text));
            if let Some(exam) = unknown {
                let message = format!("there is no exam `{}`", exam.text);
                let hint = format!("write `use hemodynamics as {}` first", exam.text);
                self.found
                    .push(Diagnostic::error(message, exam.place).hint(hint));
                continue;
            }
            if before.text == after.text {
                let message = format!("`{}` is compared with itself", before.text);
                let hint = "name the earlier and the later exam: `compare before, after`";
                self.found
                    .push(Diagnostic::error(message, after.place).hint(hint));
                continue;
            }
            let prefix = prefix.as_ref().map_or("", |p| p.text.as_str());
            if let Some((_, first)) = made.iter().find(|(p, _)| p == prefix) {
                let again = Diagnostic::error("two comparisons need two names", statement.place)
                    .also(*first, "the other one")
                    .hint("write `compare before, after as early`");
                self.found.push(again);
                continue;
            }
            made.push((prefix.to_owned(), statement.place));
            self.drafts.compare(&before.text, &after.text, prefix);
        }
    }

    /// Builds the cells, operands first.
    fn cells(&mut self, statements: &[Statement]) -> Option<Sheet> {
        self.refuse_displays(statements);
        self.find_required(statements);
        let order = self.order()?;
        let mut sheet = Sheet::new();
        let mut ids: HashMap<String, CellId> = HashMap::new();
        for at in order {
            let draft = self.drafts.list[at].clone();
            if let Some(cell) = self.cell(&mut sheet, &draft, &ids) {
                ids.insert(draft.about.name.clone(), cell);
            }
        }
        if ids.len() < self.drafts.list.len() {
            return None;
        }
        self.rules(&mut sheet, &ids);
        require(&mut sheet, statements);
        self.said_together(&mut sheet, statements);
        sheet.listing = self
            .drafts
            .list
            .iter()
            .filter_map(|d| ids.get(&d.about.name).map(|c| c.index))
            .collect();
        Some(sheet)
    }

    fn refuse_displays(&mut self, statements: &[Statement]) {
        for statement in statements {
            if matches!(statement.what, What::Display(_)) {
                let message = "this line shows something; a sheet only holds cells";
                let error = Diagnostic::error(message, statement.place);
                self.found.push(error.hint("put it in a notebook"));
            }
        }
    }

    fn cell(
        &mut self,
        sheet: &mut Sheet,
        draft: &Draft,
        ids: &HashMap<String, CellId>,
    ) -> Option<CellId> {
        let built = match &draft.formula {
            None => {
                let unit = draft.unit.unwrap_or(Unit::ONE);
                sheet
                    .add_named_input(draft.about.clone(), unit, draft.kind)
                    .map_err(|e| vec![self.blame(draft, &e)])
            }
            Some(parsed) => self.derived(sheet, draft, parsed, ids),
        };
        let cell = match built {
            Ok(cell) => cell,
            Err(mut errors) => {
                self.found.append(&mut errors);
                return None;
            }
        };
        if let Some(shared) = draft.shared.as_ref().and_then(|s| ids.get(s)) {
            sheet.shared.insert(cell.index, shared.index);
        }
        if let Some((reading, place)) = &draft.reading
            && let Err(error) = sheet.set(cell, reading.clone())
        {
            self.found
                .push(Diagnostic::error(error.to_string(), *place));
        }
        Some(cell)
    }

    fn derived(
        &self,
        sheet: &mut Sheet,
        draft: &Draft,
        parsed: &Parsed,
        ids: &HashMap<String, CellId>,
    ) -> Result<CellId, Vec<Diagnostic>> {
        // An operand that failed has its own diagnostic.
        let operands = asked(parsed, ids).ok_or_else(Vec::new)?;
        let target = Target {
            unit: draft.unit,
            kind: draft.kind,
            condition: false,
        };
        let about = draft.about.clone();
        // The shared cell must be known before facets are asked for.
        let shared = draft.shared.as_ref().and_then(|s| ids.get(s));
        let next = sheet.hot.len() as u32;
        if let Some(shared) = shared {
            sheet.shared.insert(next, shared.index);
        }
        sheet
            .add_named_formula(about, parsed.formula.clone(), &operands, target)
            .map_err(|error| match error {
                EditError::Misfits { misfits } => misfits
                    .into_iter()
                    .map(|misfit| {
                        let place = parsed.places.get(misfit.op as usize).copied();
                        let place = place.filter(|p| p.source != u32::MAX).or(draft.line);
                        let message = match place {
                            Some(_) => misfit.message,
                            None => format!("`{}`: {}", draft.about.name, misfit.message),
                        };
                        let hint = match misfit.hint {
                            Some(hint) if hint == BRACKETS_HINT && draft.is_of_catalogue() => {
                                Some(OWN_NAME_HINT.to_owned())
                            }
                            hint => hint,
                        };
                        diagnostic(message, place).hint_if(hint)
                    })
                    .collect(),
                other => vec![self.blame(draft, &other)],
            })
    }

    fn blame(&self, draft: &Draft, error: &EditError) -> Diagnostic {
        diagnostic(error.to_string(), draft.line)
    }

    fn rules(&mut self, sheet: &mut Sheet, ids: &HashMap<String, CellId>) {
        for rule in std::mem::take(&mut self.drafts.rules) {
            let (Some(cell), Some(operands)) = (ids.get(&rule.cell), asked(&rule.when, ids)) else {
                continue;
            };
            let positions: Vec<u32> = operands
                .iter()
                .map(|a| sheet.facet_cell(a.cell.map_or(cell.index, |c| c.index), a.facet))
                .collect();
            let number = sheet.intern(rule.when.formula.clone());
            let target = Target {
                condition: true,
                ..Target::default()
            };
            match sheet.tape_of(number, &positions, target) {
                Ok(tape) => sheet.add_rule(*cell, tape.number, positions, &rule),
                Err(error) => {
                    let message = format!("advice on `{}`: {error}", rule.cell);
                    self.found.push(Diagnostic::general(message));
                }
            }
        }
    }

    fn find_required(&mut self, statements: &[Statement]) {
        for name in required(statements) {
            if self.drafts.get(&name.text).is_none() {
                let error = self.unknown(&name.text, name.place);
                self.found.push(error);
            }
        }
    }

    /// Correlations and coverage.
    fn said_together(&mut self, sheet: &mut Sheet, statements: &[Statement]) {
        for statement in statements {
            match &statement.what {
                What::Coverage(_) if sheet.said.coverage.is_some() => {
                    let message = "the coverage is stated twice";
                    self.found.push(Diagnostic::error(message, statement.place));
                }
                What::Coverage(level) => sheet.said.coverage = Some(*level),
                What::Correlate {
                    first,
                    second,
                    value,
                } => self.correlate(sheet, (first, second, *value), statement.place),
                What::Repeatability(name) => self.repeatability(sheet, name),
                _ => {}
            }
        }
        self.refuse_contradictions(sheet, statements);
    }

    /// Correlations that no readings can have all at once, at the line that brings this about.
    fn refuse_contradictions(&mut self, sheet: &Sheet, statements: &[Statement]) {
        let correlations = &sheet.said.correlations;
        let mut cells: Vec<CellId> = Vec::new();
        for (first, second, _) in correlations {
            for cell in [*first, *second] {
                if !cells.contains(&cell) {
                    cells.push(cell);
                }
            }
        }
        let between =
            |i: usize, j: usize| stated_between(correlations.iter().copied(), cells[i], cells[j]);
        let Err(at) = factor(cells.len(), between) else {
            return;
        };
        let name = sheet.name(cells[at]);
        let names_it = |statement: &&Statement| match &statement.what {
            What::Correlate { first, second, .. } => first.text == name || second.text == name,
            _ => false,
        };
        let place = statements.iter().rev().find(names_it).map(|s| s.place);
        let message = format!(
            "the correlations of `{name}` with the readings before it contradict each other: \
             no readings can have them all at once"
        );
        let error = diagnostic(message, place);
        self.found
            .push(error.hint("check their signs, or leave one out"));
    }

    fn repeatability(&mut self, sheet: &mut Sheet, name: &Name) {
        let set = hemodynamics::repeatability(&name.text);
        if set.is_none() || sheet.said.repeatability.is_some() {
            let message = match set {
                None => format!("there is no published repeatability `{}`", name.text),
                Some(_) => "a second published repeatability".to_owned(),
            };
            let sets = hemodynamics::REPEATABILITIES.iter().map(|set| set.name);
            let known: Vec<&str> = sets.collect();
            let hint = format!("take one of: {}", known.join(", "));
            self.found
                .push(Diagnostic::error(message, name.place).hint(hint));
            return;
        }
        sheet.said.repeatability = set;
    }

    fn correlate(&mut self, sheet: &mut Sheet, said: (&Name, &Name, f64), place: Place) {
        let mut cells = Vec::with_capacity(2);
        for name in [said.0, said.1] {
            // What an exam shares with others is one reading, under the name without the exam.
            let own = self.shared_name(&name.text);
            match sheet.cell(&own) {
                Some(cell) if self.can_be_correlated(name, &own) => cells.push(cell),
                Some(_) => {}
                None => {
                    let error = self.unknown(&name.text, name.place);
                    let hint = "correlate two readings of this sheet by their names";
                    let hint = error.hint_text().unwrap_or(hint).to_owned();
                    self.found.push(error.hint(hint));
                }
            }
        }
        let &[first, second] = cells.as_slice() else {
            return;
        };
        if first == second {
            let (one, other, own) = (&said.0.text, &said.1.text, sheet.name(first));
            let (message, hint) = match one == other {
                true => (
                    format!("`{one}` is correlated with itself"),
                    "name two different readings".to_owned(),
                ),
                false => (
                    format!(
                        "`{one}` and `{other}` are one reading, `{own}`: its error is one error"
                    ),
                    format!("leave the line out, or give `{one}` and `{other}` a reading each"),
                ),
            };
            self.found
                .push(Diagnostic::error(message, place).hint(hint));
            return;
        }
        let is_same = |c: &&(CellId, CellId, f64)| is_pair(c, first, second);
        if let Some((_, _, before)) = sheet.said.correlations.iter().find(is_same) {
            let (one, other, now) = (&said.0.text, &said.1.text, said.2);
            let message =
                format!("`{one}` and `{other}` are correlated twice, by {before} and by {now}");
            let error = Diagnostic::error(message, place);
            self.found.push(error.hint("keep one of the two lines"));
            return;
        }
        sheet.said.correlations.push((first, second, said.2));
    }

    /// The name of the cell whose reading a cell passes on; its own where it passes on none.
    fn shared_name(&self, name: &str) -> String {
        let draft = self.drafts.get(name);
        let passes_on = draft.filter(|d| d.reading.is_none() && d.is_input);
        let shared = passes_on.and_then(|draft| draft.shared.clone());
        // Where the shared cell has no number either, rows of a table may give each exam its own.
        let is_settled = |shared: &String| match self.drafts.get(shared) {
            Some(draft) => match &draft.reading {
                Some((reading, _)) => reading.unit().is_some(),
                None => is_computed(draft),
            },
            None => false,
        };
        let shared = shared.filter(is_settled);
        shared.unwrap_or_else(|| name.to_owned())
    }

    /// Whether a cell can be correlated: it is a reading of a quantity. `own` is the name of the
    /// cell that has the reading.
    fn can_be_correlated(&mut self, name: &Name, own: &str) -> bool {
        let Some(draft) = self.drafts.get(own) else {
            return false;
        };
        let error = |wrong: &str| Diagnostic::error(format!("`{}` {wrong}", name.text), name.place);
        let wrong = if !draft.about.words.is_empty() {
            error("holds a word, which has no error to correlate")
        } else if is_computed(draft) {
            error("is computed: correlations are between readings")
                .hint("correlate the readings that it is computed from")
        } else {
            return true;
        };
        self.found.push(wrong);
        false
    }

    fn unknown(&self, name: &str, place: Place) -> Diagnostic {
        let message = format!("`{name}` is not a cell of this sheet");
        // `96/min` divides by a cell named min, which nobody meant.
        let is_unit = || ["min", "s", "h", "kg", "m2", "L", "mL"].contains(&name);
        let hint = if let Some(why) = self.absent.get(name) {
            Some(why.clone())
        } else if is_unit() {
            Some(format!("a unit stands apart from its number: `96 /{name}`"))
        } else if self.prefixes.is_empty() && hemodynamics::entry(name).is_some() {
            Some("add the line `use hemodynamics`".to_owned())
        } else {
            near(name, self.drafts.by_name.keys().map(String::as_str))
                .map(|near| format!("did you mean `{near}`?"))
        };
        diagnostic(message, (place.source != u32::MAX).then_some(place)).hint_if(hint)
    }

    /// The order in which the drafts can be built, with a diagnostic for each unknown name; or
    /// nothing, and a diagnostic for a circle.
    fn order(&mut self) -> Option<Vec<usize>> {
        let mut needs: Vec<Vec<usize>> = Vec::with_capacity(self.drafts.list.len());
        for at in 0..self.drafts.list.len() {
            let draft = &self.drafts.list[at];
            let mut own = Vec::new();
            let mut unknown = Vec::new();
            if let Some(parsed) = &draft.formula {
                for (name, place) in parsed.names.iter().zip(&parsed.name_places) {
                    match self.drafts.by_name.get(name) {
                        Some(needed) => own.push(*needed),
                        None if name == OWN_READING => {}
                        None => unknown.push((name.clone(), *place)),
                    }
                }
            }
            for (name, place) in unknown {
                let place = if place.source == u32::MAX {
                    self.drafts.list[at].line.unwrap_or(place)
                } else {
                    place
                };
                let error = self.unknown(&name, place);
                self.found.push(error);
            }
            needs.push(own);
        }
        match sorted(&needs) {
            Ok(order) => Some(order),
            Err(circle) => {
                self.found.push(self.circle(&circle));
                None
            }
        }
    }

    fn circle(&self, circle: &[usize]) -> Diagnostic {
        let names: Vec<&str> = circle
            .iter()
            .chain(circle.first())
            .map(|i| self.drafts.list[*i].about.name.as_str())
            .collect();
        let place = circle.iter().find_map(|i| self.drafts.list[*i].line);
        let message = format!("these cells need each other: {}", names.join(" → "));
        diagnostic(message, place)
            .hint("one of them needs a reading or a formula without the others")
    }
}

/// How the names of changes start in this sheet.
fn change_prefixes(statements: &[Statement]) -> Vec<String> {
    let mut starts = Vec::new();
    for statement in statements {
        if let What::Compare { prefix, .. } = &statement.what {
            let prefix = prefix.as_ref().map_or("", |p| p.text.as_str());
            let ways = WAYS.map(|way| prefixed(prefix, &format!("{way}.")));
            starts.extend(ways);
        }
    }
    starts
}

/// The names that the sheet requires.
fn required(statements: &[Statement]) -> impl Iterator<Item = &Name> {
    statements.iter().flat_map(|s| match &s.what {
        What::Require(names) => names.as_slice(),
        _ => &[],
    })
}

fn require(sheet: &mut Sheet, statements: &[Statement]) {
    for name in required(statements) {
        if let Some(cell) = sheet.cell(&name.text)
            && !sheet.required.contains(&cell.index)
        {
            sheet.required.push(cell.index);
        }
    }
}

fn diagnostic(message: String, place: Option<Place>) -> Diagnostic {
    match place {
        Some(place) => Diagnostic::error(message, place),
        None => Diagnostic::general(message),
    }
}

/// The cells behind the names of a formula; `None` if one was not built.
fn asked(parsed: &Parsed, ids: &HashMap<String, CellId>) -> Option<Vec<Asked>> {
    let facets: &[Facet] = parsed.formula.operands();
    parsed
        .names
        .iter()
        .zip(facets)
        .map(|(name, facet)| {
            let cell = match name == OWN_READING {
                true => None,
                false => Some(*ids.get(name)?),
            };
            Some(Asked {
                cell,
                facet: *facet,
            })
        })
        .collect()
}

/// Numbers in an order in which what each needs comes first, or the numbers along a circle.
fn sorted(needs: &[Vec<usize>]) -> Result<Vec<usize>, Vec<usize>> {
    #[derive(Clone, Copy, PartialEq)]
    enum Mark {
        New,
        Open,
        Done,
    }
    let mut marks = vec![Mark::New; needs.len()];
    let mut order = Vec::with_capacity(needs.len());
    for start in 0..needs.len() {
        // A stack of its own, so that a long chain cannot exhaust the program's.
        let mut path: Vec<(usize, usize)> = vec![(start, 0)];
        while let Some((at, next)) = path.last_mut() {
            let at = *at;
            if *next == 0 {
                if marks[at] != Mark::New {
                    path.pop();
                    continue;
                }
                marks[at] = Mark::Open;
            }
            match needs[at].get(*next) {
                None => {
                    marks[at] = Mark::Done;
                    order.push(at);
                    path.pop();
                }
                Some(need) => {
                    *next += 1;
                    match marks[*need] {
                        Mark::Done => {}
                        Mark::New => path.push((*need, 0)),
                        Mark::Open => {
                            let circle: Vec<usize> = path.iter().map(|(i, _)| *i).collect();
                            let from = circle.iter().position(|i| i == need).unwrap_or(0);
                            return Err(circle[from..].to_vec());
                        }
                    }
                }
            }
        }
    }
    Ok(order)
}

/// A known name that is within two slips of this one.
pub(super) fn near<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<String> {
    // In a short name two letters are not a slip but another name.
    let limit = match name.len() {
        0..4 => return None,
        4..7 => 1,
        _ => 2,
    };
    let length = name.chars().count();
    known
        // Each slip changes the length by one letter at most.
        .filter(|candidate| candidate.chars().count().abs_diff(length) <= limit)
        .map(|candidate| (strsim::damerau_levenshtein(name, candidate), candidate))
        .filter(|(slips, _)| (1..=limit).contains(slips))
        .min()
        .map(|(_, candidate)| candidate.to_owned())
}

/// The name of a cell in an exam, for callers that pair exams themselves.
pub fn exam_cell(exam: &str, name: &str) -> String {
    prefixed(exam, name)
}
