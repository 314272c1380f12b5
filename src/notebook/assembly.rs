//! One sheet from many cells: which definitions stand, which are lost to errors, and what is wrong.
//!
//! The order of the cells plays no part. A name that two cells define is an error in both, since
//! neither of them has a better claim; a catalogue that two cells use is used once.

use std::collections::{BTreeMap, HashMap};

use crate::formula::notation::{Diagnostic, Display, Name, Place, Statement, What, is_name};
use crate::hemodynamics;
use crate::sheet::{Sheet, defined_name, exam_cell};

/// What a cell brings.
pub(super) struct Part<'c> {
    /// Its source among the texts that places point into.
    pub(super) source: u32,
    /// Its number, from 1.
    pub(super) number: usize,
    pub(super) text: &'c str,
    pub(super) statements: &'c [Statement],
    /// What is wrong in the text itself.
    pub(super) unreadable: &'c [Diagnostic],
    /// Whether it is still to say what it defines.
    pub(super) is_waiting: bool,
}

/// What cells with errors would have defined, and what to say of it.
#[derive(Default)]
pub(super) struct Lost {
    /// Names of cells of the sheet.
    pub(super) names: BTreeMap<String, String>,
    /// Names of cohorts.
    pub(super) cohorts: BTreeMap<String, String>,
    /// Why no row of any cohort can be trusted; which rows are used depends on all definitions.
    pub(super) rows: Option<String>,
}

/// A sheet, what is wrong with the cells by source, and what they do not define therefore.
#[derive(Default)]
pub(super) struct Verdict {
    pub(super) sheet: Sheet,
    pub(super) found: HashMap<u32, Vec<Diagnostic>>,
    pub(super) lost: Lost,
    /// What is wrong with the readings put in from outside.
    pub(super) refused: Vec<Diagnostic>,
    left_out: Vec<u32>,
    refused_sources: Vec<u32>,
}

/// Builds the sheet from all cells without errors, leaving out those with an error until it
/// stands. `instead` are readings that take the place of the cells' own.
pub(super) fn assemble(parts: &[Part<'_>], instead: &[Statement]) -> Verdict {
    let mut verdict = Verdict::default();
    for part in parts.iter().filter(|p| !p.unreadable.is_empty()) {
        verdict.add(part.source, part.unreadable.to_vec());
        verdict.leave_out(part.source);
    }
    for part in parts.iter().filter(|p| p.is_waiting) {
        verdict.leave_out(part.source);
    }
    for (source, clash) in clashes(&verdict.standing(parts)) {
        verdict.add(source, vec![clash]);
        verdict.leave_out(source);
    }
    let sheet = loop {
        if let Some(sheet) = verdict.attempt(parts, instead) {
            break sheet;
        }
    };
    verdict.sheet = sheet;
    let instead = verdict.taken(instead);
    verdict.lost = lost(parts, &instead, &verdict);
    verdict
}

impl Verdict {
    fn add(&mut self, source: u32, mut diagnostics: Vec<Diagnostic>) {
        let known = self.found.entry(source).or_default();
        diagnostics.retain(|d| !known.contains(d));
        known.append(&mut diagnostics);
    }

    /// Whether it was not left out before.
    fn leave_out(&mut self, source: u32) -> bool {
        let is_new = !self.left_out.contains(&source);
        if is_new {
            self.left_out.push(source);
        }
        is_new
    }

    /// The cells that are not left out.
    fn standing<'p, 'c>(&self, parts: &'p [Part<'c>]) -> Vec<&'p Part<'c>> {
        parts
            .iter()
            .filter(|part| !self.left_out.contains(&part.source))
            .collect()
    }

    /// The definitions that made the sheet.
    pub(super) fn standing_definitions(
        &self,
        parts: &[Part<'_>],
        instead: &[Statement],
    ) -> Vec<Statement> {
        definitions(&self.standing(parts), &self.taken(instead))
    }

    /// The readings put in that are not refused.
    fn taken<'s>(&self, instead: &'s [Statement]) -> Vec<&'s Statement> {
        instead
            .iter()
            .filter(|s| !self.refused_sources.contains(&s.place.source))
            .collect()
    }

    /// Builds once; without a sheet, at least one cell or reading more is left out.
    fn attempt(&mut self, parts: &[Part<'_>], instead: &[Statement]) -> Option<Sheet> {
        let instead = self.taken(instead);
        let statements = definitions(&self.standing(parts), &instead);
        let absent: HashMap<String, String> =
            lost(parts, &instead, self).names.into_iter().collect();
        let mut found = Vec::new();
        let sheet = Sheet::build_without(&statements, &absent, &mut found);
        let mut has_moved = false;
        for diagnostic in found {
            has_moved |= self.file(diagnostic, parts, &instead);
        }
        match sheet {
            Some(sheet) => {
                let is_final = !self.refuse_unknown(parts, &instead);
                is_final.then_some(sheet)
            }
            None if has_moved => None,
            // Nothing to blame it on: the last cell standing goes, so that this ends.
            None => match self.standing(parts).last().map(|p| p.source) {
                Some(source) => {
                    self.leave_out(source);
                    None
                }
                None => Some(Sheet::new()),
            },
        }
    }

    /// Gives a diagnostic to its cell, or to the readings put in; says whether something more is
    /// left out for it.
    fn file(&mut self, diagnostic: Diagnostic, parts: &[Part<'_>], instead: &[&Statement]) -> bool {
        let own = diagnostic.place().map(|p| p.source);
        let is_error = diagnostic.is_error();
        if let Some(source) = own
            && instead.iter().any(|s| s.place.source == source)
        {
            if is_error {
                self.refused.push(diagnostic);
                self.refused_sources.push(source);
            }
            return is_error;
        }
        let of_cell = own.filter(|s| parts.iter().any(|p| p.source == *s));
        // What has no place in a cell is shown by the last one.
        let Some(source) = of_cell.or(parts.last().map(|p| p.source)) else {
            return false;
        };
        self.add(source, vec![diagnostic]);
        is_error && of_cell.is_some() && self.leave_out(source)
    }

    /// Refuses readings put in for cells that are not there; says whether there were any.
    fn refuse_unknown(&mut self, parts: &[Part<'_>], instead: &[&Statement]) -> bool {
        if instead.is_empty() {
            return false;
        }
        let standing = self.standing(parts);
        // Errors in lines that are replaced do not matter here.
        let own = Sheet::build(&definitions(&standing, &[]), &mut Vec::new());
        let mut has_refused = false;
        for statement in instead {
            let Some(name) = defined_name(statement) else {
                continue;
            };
            let is_defined = given_names(&standing).any(|n| n.text == name.text);
            let Some(sheet) = own
                .as_ref()
                .filter(|s| !is_defined && s.cell(&name.text).is_none())
            else {
                continue;
            };
            let message = format!("`{}` is not a cell of this notebook", name.text);
            let near = sheet.nearest_name(&name.text);
            let hint = near.map(|near| format!("did you mean `{near}`?"));
            self.refused
                .push(Diagnostic::error(message, name.place).hint_if(hint));
            self.refused_sources.push(statement.place.source);
            has_refused = true;
        }
        has_refused
    }
}

fn given_names<'p>(parts: &'p [&Part<'_>]) -> impl Iterator<Item = &'p Name> {
    parts
        .iter()
        .flat_map(|p| p.statements)
        .filter_map(defined_name)
}

/// The statements that make the sheet: no displays, each catalogue once, replaced lines replaced.
fn definitions(parts: &[&Part<'_>], instead: &[&Statement]) -> Vec<Statement> {
    let replaced: Vec<&str> = instead
        .iter()
        .filter_map(|s| defined_name(s).map(|n| n.text.as_str()))
        .collect();
    let mut used: Vec<(&str, Option<&str>, u32)> = Vec::new();
    let mut statements = Vec::new();
    for statement in parts.iter().flat_map(|p| p.statements) {
        match &statement.what {
            What::Display(_) => continue,
            What::Use { catalogue, prefix } => {
                let prefix = prefix.as_ref().map(|p| p.text.as_str());
                let source = statement.place.source;
                let is_again = used
                    .iter()
                    .any(|(c, p, s)| *c == catalogue.text && *p == prefix && *s != source);
                if is_again {
                    continue;
                }
                used.push((&catalogue.text, prefix, source));
            }
            _ if defined_name(statement).is_some_and(|n| replaced.contains(&n.text.as_str())) => {
                continue;
            }
            _ => {}
        }
        statements.push(statement.clone());
    }
    statements.extend(instead.iter().map(|s| (*s).clone()));
    statements
}

/// What can stand only once in all cells.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Once<'c> {
    Cell(&'c str),
    Cohort(&'c str),
    Comparison(&'c str),
}

impl Once<'_> {
    fn words(&self) -> String {
        match self {
            Once::Cell(name) => format!("`{name}` is given twice"),
            Once::Cohort(name) => format!("two cohorts are named `{name}`"),
            Once::Comparison("") => "two comparisons need two names".into(),
            Once::Comparison(name) => format!("two comparisons are named `{name}`"),
        }
    }

    fn hint(&self) -> &'static str {
        match self {
            Once::Cell(_) => "keep one of the two lines",
            Once::Cohort(_) => "give one of them another name",
            Once::Comparison(_) => "write `compare before, after as early`",
        }
    }
}

/// What a statement claims for itself alone, and where.
fn claim(statement: &Statement) -> Option<(Once<'_>, Place)> {
    match &statement.what {
        What::Compare { prefix, .. } => {
            let prefix = prefix.as_ref().map_or("", |p| p.text.as_str());
            Some((Once::Comparison(prefix), statement.place))
        }
        What::Display(Display::Cohort { name, .. }) => Some((Once::Cohort(&name.text), name.place)),
        _ => defined_name(statement).map(|n| (Once::Cell(&n.text), n.place)),
    }
}

/// An error for each statement that claims what another one claims too, by source.
fn clashes(parts: &[&Part<'_>]) -> Vec<(u32, Diagnostic)> {
    let mut claims: BTreeMap<Once<'_>, Vec<Place>> = BTreeMap::new();
    for statement in parts.iter().flat_map(|p| p.statements) {
        if let Some((what, place)) = claim(statement) {
            claims.entry(what).or_default().push(place);
        }
    }
    let mut found = Vec::new();
    for (what, places) in claims.iter().filter(|(_, places)| places.len() > 1) {
        // Twice in one cell is one error, in two cells an error in each.
        for source in parts.iter().map(|p| p.source) {
            let (own, others): (Vec<Place>, Vec<Place>) =
                places.iter().partition(|p| p.source == source);
            let Some((here, before)) = own.split_last() else {
                continue;
            };
            let error = Diagnostic::error(what.words(), *here).hint(what.hint());
            let named = before
                .iter()
                .chain(&others)
                .fold(error, |error, place| error.also(*place, "the other one"));
            found.push((source, named));
        }
    }
    found
}

/// What the cells that are left out would have defined, and no other cell does.
fn lost(parts: &[Part<'_>], instead: &[&Statement], verdict: &Verdict) -> Lost {
    let mut lost = Lost::default();
    let standing = verdict.standing(parts);
    let mut given: Vec<String> = standing.iter().flat_map(|p| names_given(p)).collect();
    let put_in = instead.iter().filter_map(|s| defined_name(s));
    given.extend(put_in.map(|n| n.text.clone()));
    let brought: Vec<String> = standing.iter().flat_map(|p| names_brought(p)).collect();
    let cohorts: Vec<&Name> = standing.iter().flat_map(|p| cohorts_of(p)).collect();
    let is_out = |part: &&Part<'_>| verdict.left_out.contains(&part.source);
    for part in parts.iter().filter(is_out) {
        let why = match part.is_waiting {
            true => format!("cell {} defines it, but has still to run", part.number),
            false => format!("cell {} defines it, but has an error", part.number),
        };
        // A line of a cell in error is lost even where a catalogue has a cell of that name: the
        // catalogue's formula is not what the line says.
        let names = names_given(part).into_iter().chain(
            names_brought(part)
                .into_iter()
                .filter(|name| !brought.contains(name)),
        );
        for name in names.filter(|name| !given.contains(name)) {
            lost.names.entry(name).or_insert_with(|| why.clone());
        }
        for cohort in cohorts_of(part) {
            if !cohorts.iter().any(|c| c.text == cohort.text) {
                lost.cohorts.insert(cohort.text.clone(), why.clone());
            }
        }
        if lost.rows.is_none() && can_define(part) {
            lost.rows = Some(format!("cell {} has an error", part.number));
        }
    }
    lost
}

fn cohorts_of<'c>(part: &Part<'c>) -> impl Iterator<Item = &'c Name> + use<'c> {
    part.statements.iter().filter_map(|s| match &s.what {
        What::Display(Display::Cohort { name, .. }) => Some(name),
        _ => None,
    })
}

/// The names of a cell's lines, those of lines that cannot be read included.
fn names_given(part: &Part<'_>) -> Vec<String> {
    let defined = part.statements.iter().filter_map(defined_name);
    let mut names: Vec<String> = defined.map(|n| n.text.clone()).collect();
    if !part.unreadable.is_empty() {
        names.extend(part.text.lines().filter_map(name_before_equals));
    }
    names
}

/// The names that a cell brings in from catalogues.
fn names_brought(part: &Part<'_>) -> Vec<String> {
    let mut names = Vec::new();
    for statement in part.statements {
        let (prefix, ways): (_, &[&str]) = match &statement.what {
            What::Use { prefix, .. } => (prefix, &[""]),
            What::Compare { prefix, .. } => (prefix, &["change", "difference"]),
            _ => continue,
        };
        let prefix = prefix.as_ref().map_or("", |p| p.text.as_str());
        for way in ways {
            let in_exam = |e: &hemodynamics::Entry| exam_cell(prefix, &exam_cell(way, e.name));
            names.extend(hemodynamics::entries().map(in_exam));
        }
    }
    names
}

/// The name that a line would define if it could be read: `NAME =` or `NAME [UNIT] =`.
fn name_before_equals(line: &str) -> Option<String> {
    let (left, _) = line.split_once('=')?;
    let name = left.split('[').next()?.trim();
    is_name(name).then(|| name.to_owned())
}

/// Whether a cell holds more than statements that show something.
fn can_define(part: &Part<'_>) -> bool {
    let is_display = |s: &Statement| matches!(s.what, What::Display(_));
    let words = ["show", "explain", "draw", "cohort"];
    let line_of = |d: &Diagnostic| {
        let start = d.place().map_or(0, |p| p.start as usize);
        let before = part.text.get(..start).unwrap_or("");
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        part.text[start..].trim_start().to_owned()
    };
    !part.statements.iter().all(is_display)
        || part
            .unreadable
            .iter()
            .any(|d| !words.iter().any(|w| line_of(d).starts_with(w)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_of_a_line_that_cannot_be_read_is_found() {
        let name = |line| name_before_equals(line);
        assert_eq!(name("  weight = 7O kg"), Some("weight".into()));
        assert_eq!(name("work [J] = 1 +"), Some("work".into()));
        assert_eq!(name("before.weight= ,"), Some("before.weight".into()));
        assert_eq!(name("show weight"), None);
        assert_eq!(name("1 = 2"), None);
    }
}
