//! Drafts: the cells that a sheet's lines and its catalogues call for, before they are built.

use std::collections::HashMap;
use std::sync::Arc;

use super::cell::About;
use super::figure::{in_sentence, name_in_words};
use crate::formula::notation::{Diagnostic, Name, OWN_READING, Parsed, Place, formula};
use crate::hemodynamics::{self, Entry, Weight, What};
use crate::quantity::{Kind, Reading, Unit};

/// A cell to be built.
#[derive(Clone, Debug)]
pub(super) struct Draft {
    pub(super) about: About,
    pub(super) unit: Option<Unit>,
    pub(super) kind: Kind,
    pub(super) formula: Option<Parsed>,
    pub(super) reading: Option<(Reading, Place)>,
    /// The line that defines it; none for a cell that only the catalogue knows.
    pub(super) line: Option<Place>,
    /// The cell shared by all exams that an exam's input falls back on.
    pub(super) shared: Option<String>,
    /// Whether it is an input of a catalogue.
    pub(super) is_input: bool,
}

impl Draft {
    /// Whether the catalogue says what the cell is, so that its unit is not the sheet's to choose.
    pub(super) fn is_of_catalogue(&self) -> bool {
        let bare = self.about.name.rsplit('.').next().unwrap_or_default();
        self.unit.is_some() && hemodynamics::entry(bare).is_some()
    }
}

/// How the change of a cell can be told: the first part of its name.
pub(super) const WAYS: [&str; 2] = ["change", "difference"];

/// Whether a name is the first part of the names of changes.
pub(crate) fn is_way(name: &str) -> bool {
    WAYS.contains(&name)
}

/// A piece of advice to be built.
#[derive(Clone, Debug)]
pub(super) struct RuleDraft {
    pub(super) cell: String,
    pub(super) when: Parsed,
    pub(super) text: &'static str,
    pub(super) weight: Weight,
    pub(super) source: &'static str,
}

/// All drafts, in the order in which they were called for.
#[derive(Clone, Debug, Default)]
pub(super) struct Drafts {
    pub(super) list: Vec<Draft>,
    pub(super) by_name: HashMap<String, usize>,
    pub(super) rules: Vec<RuleDraft>,
}

impl Drafts {
    pub(super) fn get(&self, name: &str) -> Option<&Draft> {
        self.by_name.get(name).map(|i| &self.list[*i])
    }

    pub(super) fn get_mut(&mut self, name: &str) -> Option<&mut Draft> {
        self.by_name.get(name).map(|i| &mut self.list[*i])
    }

    pub(super) fn add(&mut self, draft: Draft) {
        self.by_name
            .insert(draft.about.name.clone(), self.list.len());
        self.list.push(draft);
    }

    /// Brings in the catalogue under a prefix; no prefix is the empty one.
    pub(super) fn use_hemodynamics(&mut self, prefix: &str) {
        for entry in hemodynamics::entries() {
            self.add(draft_of(entry, prefix));
            for advice in entry.advice {
                if let Some(when) = catalogue_formula(advice.when) {
                    self.rules.push(RuleDraft {
                        cell: prefixed(prefix, entry.name),
                        when: with_prefix(&when, prefix),
                        text: advice.text,
                        weight: advice.weight,
                        source: advice.source,
                    });
                }
            }
        }
    }

    /// Adds an input of the catalogue that stands for all exams where each has a name. Its guard
    /// is left to the exams, which know their own rhythm and signal.
    pub(super) fn share(&mut self, entry: &'static Entry) {
        self.add(Draft {
            formula: None,
            ..draft_of(entry, "")
        });
    }

    /// Adds the estimates of the catalogue that belong to the patient where every exam has a name, and
    /// all share what an estimate is made from: it is then one for all of them, as if the
    /// catalogue were used without a name too.
    pub(super) fn share_estimates(&mut self, exams: &[&str]) {
        for entry in hemodynamics::entries().filter(|entry| is_estimate(entry)) {
            let made_from = made_from(entry);
            let is_there = |entry: &&Entry| self.by_name.contains_key(entry.name);
            let (computed, given): (Vec<&Entry>, Vec<&Entry>) = made_from
                .iter()
                .partition(|entry| matches!(entry.what, What::Derived(_)));
            let readings = given.iter().filter(|e| !matches!(e.what, What::Finding(_)));
            let is_left_to_exam = |exam: &&str, entry: &Entry| {
                let own = self.get(&prefixed(exam, entry.name));
                own.is_some_and(|draft| draft.line.is_none())
            };
            let is_shared = readings.copied().all(|e| is_there(&e))
                && !computed.iter().chain([&entry]).any(is_there)
                && exams.iter().all(|exam| {
                    let all = made_from.iter().copied().chain([entry]);
                    all.into_iter().all(|e| is_left_to_exam(exam, e))
                });
            if !is_shared {
                continue;
            }
            for entry in given {
                if !self.by_name.contains_key(entry.name) {
                    self.share(entry);
                }
            }
            for entry in computed.into_iter().chain([entry]) {
                self.add(draft_of(entry, ""));
            }
        }
    }

    /// Lets the inputs of an exam fall back on the cells that all exams share.
    pub(super) fn link_shared(&mut self, prefix: &str) {
        let estimates = self.shared_estimates();
        for entry in hemodynamics::entries() {
            let own = prefixed(prefix, entry.name);
            let is_shared = self.by_name.contains_key(entry.name);
            let formula = match (is_shared, entry.what) {
                (true, _) => shared_formula(entry, prefix, &estimates),
                (false, What::GuardedInput(guard)) if !estimates.is_empty() => {
                    exam_formula(&with_shared(guard, &estimates), prefix)
                }
                (false, _) => continue,
            };
            let Some(draft) = self.get_mut(&own) else {
                continue;
            };
            let is_overridden = draft.line.is_some() && draft.reading.is_none();
            if draft.is_input && !is_overridden {
                draft.shared = is_shared.then(|| entry.name.to_owned());
                draft.formula = formula;
            }
        }
    }

    /// Estimates of the catalogue that are there without the name of an exam. How far one is off
    /// belongs to the patient, so that all exams take the same one where it is known.
    fn shared_estimates(&self) -> Vec<&'static str> {
        hemodynamics::entries()
            .filter(|entry| is_estimate(entry))
            .map(|entry| entry.name)
            .filter(|name| self.by_name.contains_key(*name))
            .collect()
    }

    /// Brings in the changes between two exams.
    pub(super) fn compare(&mut self, before: &str, after: &str, prefix: &str) {
        let pairs: Vec<(String, Draft)> = self
            .list
            .iter()
            .filter(|d| d.about.words.is_empty())
            .filter_map(|d| {
                let name = d.about.name.strip_prefix(before)?.strip_prefix('.')?;
                let is_pair = self.by_name.contains_key(&prefixed(after, name));
                is_pair.then(|| (name.to_owned(), d.clone()))
            })
            .collect();
        for (name, draft) in pairs {
            self.add_change(&name, &draft, before, after, prefix);
        }
        for advice in hemodynamics::change::advice() {
            for way in WAYS {
                let cell = prefixed(prefix, &format!("{way}.{}", advice.cell));
                if let Some(mut when) = catalogue_formula(advice.when)
                    && self.by_name.contains_key(&cell)
                {
                    for name in &mut when.names {
                        *name = exam_name(name, before, after);
                    }
                    self.rules.push(RuleDraft {
                        cell,
                        when,
                        text: advice.text,
                        weight: advice.weight,
                        source: advice.source,
                    });
                }
            }
        }
    }

    fn add_change(&mut self, name: &str, of: &Draft, before: &str, after: &str, prefix: &str) {
        let (b, a) = (prefixed(before, name), prefixed(after, name));
        let symbol = hemodynamics::entry(name).map_or(of.about.symbol.as_str(), |e| e.symbol);
        let label =
            hemodynamics::entry(name).map_or_else(|| name_in_words(name), |e| in_sentence(e.label));
        let ways = [
            (
                "change",
                format!("({a} - {b}) / {b}"),
                Unit::parse("%").ok(),
                Kind::Plain,
                format!(r"\Delta_{{\%}}{{{symbol}}}"),
                format!("Change in {label}"),
            ),
            (
                "difference",
                format!("{a} - {b}"),
                of.unit,
                of.kind,
                format!(r"\Delta{{{symbol}}}"),
                format!("Difference in {label}"),
            ),
        ];
        for (way, text, unit, kind, symbol, label) in ways {
            let full = prefixed(prefix, &format!("{way}.{name}"));
            if self.by_name.contains_key(&full) {
                continue;
            }
            let Some(parsed) = catalogue_formula(&text) else {
                continue;
            };
            self.add(Draft {
                about: About {
                    label,
                    symbol,
                    source: "definition".into(),
                    ..About::named(full)
                },
                unit,
                kind,
                formula: Some(parsed),
                reading: None,
                line: None,
                shared: None,
                is_input: false,
            });
        }
    }
}

/// Whether an entry estimates what is otherwise measured, so that its formula has an error of its
/// own.
pub(super) fn is_estimate(entry: &Entry) -> bool {
    entry.model_uncertainty.is_some() && matches!(entry.what, What::Derived(_))
}

/// The entries that an entry is computed from, through others too, operands first.
fn made_from(entry: &Entry) -> Vec<&'static Entry> {
    let mut found: Vec<&'static Entry> = Vec::new();
    let What::Derived(text) = entry.what else {
        return found;
    };
    let names = catalogue_formula(text).map_or_else(Vec::new, |parsed| parsed.names);
    for operand in names.iter().filter_map(|name| hemodynamics::entry(name)) {
        for further in made_from(operand).into_iter().chain([operand]) {
            if !found.iter().any(|e| e.name == further.name) {
                found.push(further);
            }
        }
    }
    found
}

/// `before.stroke_volume`, or the bare name.
pub(super) fn prefixed(prefix: &str, name: &str) -> String {
    if prefix.is_empty() {
        name.to_owned()
    } else {
        format!("{prefix}.{name}")
    }
}

/// A text of the catalogue as a formula. The catalogue's texts are all read by a test.
fn catalogue_formula(text: &str) -> Option<Parsed> {
    formula(text, u32::MAX).ok()
}

fn with_prefix(parsed: &Parsed, prefix: &str) -> Parsed {
    let mut parsed = parsed.clone();
    for name in &mut parsed.names {
        if name != OWN_READING {
            *name = prefixed(prefix, name);
        }
    }
    parsed
}

/// A name in advice on changes, with the exams' own names put in.
fn exam_name(name: &str, before: &str, after: &str) -> String {
    if let Some(rest) = name.strip_prefix("before.") {
        prefixed(before, rest)
    } else if let Some(rest) = name.strip_prefix("after.") {
        prefixed(after, rest)
    } else {
        name.to_owned()
    }
}

/// Stands before the name of a cell that all exams share, in a formula of an exam that is being
/// written. No name of the catalogue starts so.
const SHARED: &str = "shared_";

/// The formula of an exam's input that may fall back on the shared cell.
fn shared_formula(entry: &Entry, prefix: &str, estimates: &[&str]) -> Option<Parsed> {
    // The name of an exam goes before every name; those that are shared lose it again.
    let shared = format!("{SHARED}{}", entry.name);
    let text = match entry.what {
        // The guard holds for the shared reading as for the exam's own.
        What::GuardedInput(guard) => {
            let guard = with_shared(guard, estimates);
            let of_shared = outside_quotes(&guard, "reading", &shared);
            format!(
                "if reading is known \
                 or (reading is unobtainable and not ({shared} is unobtainable)) \
                 then ({guard}) else ({of_shared})"
            )
        }
        What::Input | What::Finding(_) | What::Derived(_) => shared,
    };
    exam_formula(&text, prefix)
}

/// A guard that takes the estimates that all exams share, and the exam's own where they are
/// missing.
fn with_shared(guard: &str, estimates: &[&str]) -> String {
    estimates.iter().fold(guard.to_owned(), |guard, estimate| {
        let of_all = format!("({SHARED}{estimate} else {estimate})");
        outside_quotes(&guard, estimate, &of_all)
    })
}

/// A text of the catalogue as a formula of an exam, but for the names of shared cells.
fn exam_formula(text: &str, prefix: &str) -> Option<Parsed> {
    let mut parsed = with_prefix(&catalogue_formula(text)?, prefix);
    let of_exam = prefixed(prefix, SHARED);
    for name in &mut parsed.names {
        if let Some(bare) = name.strip_prefix(&of_exam) {
            *name = bare.to_owned();
        }
    }
    Some(parsed)
}

/// Replaces a word, but not in reasons, which stand in quotes.
fn outside_quotes(text: &str, word: &str, by: &str) -> String {
    let parts = text.split('"').enumerate();
    let replaced: Vec<String> = parts
        .map(|(i, part)| match i % 2 {
            0 => part.replace(word, by),
            _ => part.to_owned(),
        })
        .collect();
    replaced.join("\"")
}

fn draft_of(entry: &'static Entry, prefix: &str) -> Draft {
    let (formula, words, is_input): (_, &[&str], _) = match entry.what {
        What::Input => (None, &[], true),
        What::GuardedInput(guard) => (Some(guard), &[], true),
        What::Finding(words) => (None, words, true),
        What::Derived(formula) => (Some(formula), &[], false),
    };
    let symbol = if prefix.is_empty() {
        entry.symbol.to_owned()
    } else {
        format!(r"{{{}}}^{{\text{{{prefix}}}}}", entry.symbol)
    };
    let label = if prefix.is_empty() {
        entry.label.to_owned()
    } else {
        format!("{} ({prefix})", entry.label)
    };
    Draft {
        about: About {
            name: prefixed(prefix, entry.name),
            label,
            symbol,
            words: words.iter().map(|w| Arc::from(*w)).collect(),
            stated_in: Unit::parse(entry.unit).unwrap_or(Unit::ONE),
            domain: entry.domain,
            usual: entry.usual,
            assumptions: entry.assumptions.iter().map(|a| (*a).to_owned()).collect(),
            source: entry.source.to_owned(),
            model_uncertainty: entry.model_uncertainty,
            loinc: entry.loinc,
        },
        unit: Unit::parse(entry.unit).ok(),
        kind: entry.kind,
        formula: formula
            .and_then(catalogue_formula)
            .map(|parsed| with_prefix(&parsed, prefix)),
        reading: None,
        line: None,
        shared: None,
        is_input,
    }
}

/// An error for a name that is given twice, showing both places.
pub(super) fn given_twice(name: &Name, first: Place) -> Diagnostic {
    Diagnostic::error(format!("`{}` is given twice", name.text), name.place)
        .also(first, "first given here")
        .hint("keep one of the two lines")
}
