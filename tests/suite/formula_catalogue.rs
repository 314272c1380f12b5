//! The catalogue's formulas and conditions, read and run: every one makes sense in its units,
//! and the exams of tests/oracles/catalogue.json come out, by the judge and by the evaluator.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use semilunar::formula::notation::{self, OWN_READING, Parsed};
use semilunar::formula::{
    Facet, Given, Lane, OperandFacts, Resolved, Status, Target, Verdict, evaluate_one, gradient,
    judge, resolve,
};
use semilunar::hemodynamics::{Entry, What, change, entries, entry};
use semilunar::quantity::{Beats, Origin, Unit};
use serde_json::Value;

/// The catalogue's cell that a name means: `before.` and `after.` are exams.
fn cell(name: &str) -> &'static Entry {
    let bare = name
        .strip_prefix("before.")
        .or_else(|| name.strip_prefix("after."))
        .unwrap_or(name);
    entry(bare).unwrap_or_else(|| panic!("`{name}` is no cell of the catalogue"))
}

fn unit(entry: &Entry) -> Unit {
    Unit::parse(entry.unit).unwrap()
}

fn facts(parsed: &Parsed) -> Vec<OperandFacts> {
    let facets = parsed.formula.operands();
    let one = |(name, facet): (&String, &Facet)| {
        if *facet != Facet::Value {
            return OperandFacts::plain(Unit::ONE);
        }
        let entry = cell(name);
        let words: Arc<[Arc<str>]> = match entry.what {
            What::Finding(words) => words.iter().map(|w| Arc::from(*w)).collect(),
            What::Input | What::GuardedInput(_) | What::Derived(_) => Arc::from([]),
        };
        OperandFacts {
            unit: unit(entry),
            kind: entry.kind,
            words,
        }
    };
    parsed.names.iter().zip(facets).map(one).collect()
}

struct Ready {
    parsed: Parsed,
    facts: Vec<OperandFacts>,
    resolved: Resolved,
}

fn ready(text: &str, target: Target) -> Ready {
    let parsed = notation::formula(text, 0).unwrap_or_else(|e| panic!("{text}: {}", e.message()));
    let facts = facts(&parsed);
    let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
    let resolved = resolve(&parsed.formula, &facts, &names, target)
        .unwrap_or_else(|misfits| panic!("{text}: {misfits:?}"));
    Ready {
        parsed,
        facts,
        resolved,
    }
}

fn formula(entry: &Entry) -> Option<&'static str> {
    match entry.what {
        What::Derived(text) | What::GuardedInput(text) => Some(text),
        What::Input | What::Finding(_) => None,
    }
}

fn ready_formula(entry: &Entry) -> Option<Ready> {
    let target = Target {
        unit: Some(unit(entry)),
        kind: entry.kind,
        condition: false,
    };
    formula(entry).map(|text| ready(text, target))
}

#[test]
fn every_formula_makes_sense_in_its_units() {
    let count = entries().filter_map(ready_formula).count();
    assert!(count >= 25, "{count}");
}

#[test]
fn every_condition_makes_sense_in_its_units() {
    let target = Target {
        condition: true,
        ..Target::default()
    };
    let advice = entries().flat_map(|e| e.advice.iter().map(|a| a.when));
    let conditions: HashSet<&str> = advice.chain(change::advice().map(|a| a.when)).collect();
    assert!(conditions.len() >= 30, "{}", conditions.len());
    for text in conditions {
        ready(text, target);
    }
}

#[test]
fn what_is_printed_of_the_catalogue_reads_back() {
    let advice = entries().flat_map(|e| e.advice.iter().map(|a| a.when));
    let changes = change::advice().map(|a| a.when);
    for text in entries().filter_map(formula).chain(advice).chain(changes) {
        let parsed = notation::formula(text, 0).unwrap();
        let names: Vec<&str> = parsed.names.iter().map(String::as_str).collect();
        let printed = notation::write_formula(&parsed.formula, &names);
        let again = notation::formula(&printed, 0).unwrap();
        assert_eq!(again.formula, parsed.formula, "{printed}");
    }
}

/// What an exam says of a cell: its reading in the catalogue's unit, and facts about it.
#[derive(Clone, Debug, Default)]
struct Said {
    value: Option<f64>,
    beats: Option<Beats>,
    unobtainable: bool,
}

type Exam = HashMap<String, Said>;

fn exam(json: &Value) -> Exam {
    let mut exam = Exam::new();
    for (name, input) in json["inputs"].as_object().unwrap() {
        exam.insert(name.clone(), said(cell(name), input));
    }
    for (name, word) in json["findings"].as_object().unwrap() {
        let What::Finding(words) = cell(name).what else {
            panic!("{name} is no finding");
        };
        let number = words.iter().position(|w| Some(*w) == word.as_str());
        let said = Said {
            value: Some(number.unwrap() as f64),
            ..Said::default()
        };
        exam.insert(name.clone(), said);
    }
    exam
}

fn said(entry: &Entry, input: &Value) -> Said {
    if input.as_str() == Some("unobtainable") {
        return Said {
            unobtainable: true,
            ..Said::default()
        };
    }
    let from = Unit::parse(input["unit"].as_str().unwrap()).unwrap();
    let numbers = |key: &str| -> Option<Vec<f64>> {
        let list = input.get(key)?.as_array()?;
        Some(list.iter().map(|v| v.as_f64().unwrap()).collect())
    };
    let beats = numbers("beats").map(Beats::Mean);
    let beats = beats.or_else(|| numbers("largest").map(Beats::Largest));
    let value = match &beats {
        Some(beats) => beats.joined().unwrap(),
        None => input["value"].as_f64().unwrap(),
    };
    Said {
        value: Some(from.convert(value, unit(entry)).unwrap()),
        beats,
        unobtainable: false,
    }
}

/// Cells of an exam, computed on demand in the units of the catalogue.
struct Cells<'a> {
    exam: &'a Exam,
    done: HashMap<&'static str, Lane>,
    /// Formulas whose slopes were compared with differences.
    differentiated: HashSet<&'static str>,
}

impl Cells<'_> {
    fn lane(&mut self, name: &str) -> Lane {
        let entry = cell(name);
        if let Some(lane) = self.done.get(entry.name) {
            return *lane;
        }
        let said = self.exam.get(entry.name).cloned().unwrap_or_default();
        let reading = said.value.map_or(Lane::MISSING, Lane::measured);
        let lane = match (entry.what, said.value) {
            (What::Input | What::Finding(_), _) | (What::Derived(_), Some(_)) => reading,
            (What::Derived(_) | What::GuardedInput(_), _) => self.compute(entry, reading),
        };
        self.done.insert(entry.name, lane);
        lane
    }

    fn compute(&mut self, entry: &Entry, reading: Lane) -> Lane {
        let ready = ready_formula(entry).unwrap();
        let facets = ready.parsed.formula.operands().to_vec();
        let mut inputs: Vec<Lane> = Vec::new();
        for (name, facet) in ready.parsed.names.iter().zip(facets) {
            let about = if name == OWN_READING {
                entry.name
            } else {
                name
            };
            let said = self.exam.get(about).cloned().unwrap_or_default();
            let truth = |holds: bool| Lane::measured(f64::from(u8::from(holds)));
            inputs.push(match facet {
                Facet::Value => self.lane(name),
                Facet::Beats => match (&said.beats, said.value) {
                    (Some(beats), _) => Lane::measured(f64::from(beats.count())),
                    (None, Some(_)) => Lane::measured(1.0),
                    (None, None) => Lane::MISSING,
                },
                Facet::Largest => truth(said.beats.is_some_and(|b| b.is_largest())),
                Facet::Unobtainable => truth(said.unobtainable),
                Facet::Given => truth(said.value.is_some()),
            });
        }
        let operands = inputs.len();
        if ready.resolved.tape.uses_reading() {
            inputs.push(reading);
        }
        let lane = evaluate_one(&ready.resolved.tape, &inputs);
        agrees_with_the_judge(entry, &ready, &inputs, operands, lane);
        if lane.status.is_known() && agrees_with_differences(entry, &ready, &inputs, lane) {
            self.differentiated.insert(entry.name);
        }
        lane
    }
}

fn agrees_with_the_judge(
    entry: &Entry,
    ready: &Ready,
    inputs: &[Lane],
    operands: usize,
    lane: Lane,
) {
    let own = unit(entry);
    let units = ready.facts.iter().map(|f| f.unit).chain([own]);
    let given = |(lane, unit): (&Lane, Unit)| {
        if lane.status.is_known() {
            Given::Known {
                value: lane.value * unit.factor(),
                origin: lane.status.origin(),
            }
        } else if lane.status.is_missing() {
            Given::Missing
        } else {
            Given::Faulty
        }
    };
    let given: Vec<Given> = inputs.iter().zip(units).map(given).collect();
    let reading = given.get(operands).unwrap_or(&Given::Missing);
    let word_of = |k: u32, word: &str| {
        let words = &ready.facts[k as usize].words;
        words.iter().position(|w| **w == *word).map(|w| w as u16)
    };
    match judge(&ready.parsed.formula, &given[..operands], reading, &word_of) {
        Verdict::Known { value, origin } => {
            assert!(lane.status.is_known(), "{}", entry.name);
            assert_eq!(lane.status.origin(), origin, "{}", entry.name);
            let value = value / own.factor();
            let gap = (lane.value - value).abs();
            assert!(
                gap <= 1e-13 * value.abs(),
                "{}: {lane:?}, {value}",
                entry.name
            );
        }
        Verdict::Missing(_) => assert!(lane.status.is_missing(), "{}", entry.name),
        Verdict::Faulty(_) => assert!(lane.status.is_faulty(), "{}", entry.name),
    }
}

/// Whether all slopes of a formula at these inputs could be compared with central differences,
/// and agree: extrapolated (Richardson), within 1e-7 of the result per relative change. At a corner of
/// a formula the differences to the left and right disagree, and there is nothing to compare.
fn agrees_with_differences(entry: &Entry, ready: &Ready, inputs: &[Lane], lane: Lane) -> bool {
    let tape = &ready.resolved.tape;
    let found = gradient(tape, inputs);
    assert_eq!(found.result.value.to_bits(), lane.value.to_bits());
    let value_at = |i: usize, x: f64| {
        let mut moved = inputs.to_vec();
        moved[i].value = x;
        evaluate_one(tape, &moved).value
    };
    let mut is_smooth = true;
    for (i, input) in inputs.iter().enumerate() {
        let is_quantity = ready.facts.get(i).is_none_or(|f| f.words.is_empty())
            && ready
                .parsed
                .formula
                .operands()
                .get(i)
                .is_none_or(|f| *f == Facet::Value);
        if !is_quantity || !input.status.is_known() || input.value == 0.0 {
            continue;
        }
        let (x, h) = (input.value, 1e-3 * input.value.abs());
        let central = |h: f64| (value_at(i, x + h) - value_at(i, x - h)) / (2.0 * h);
        let side = |h: f64| (value_at(i, x + h) - lane.value) / h;
        let scale = lane.value.abs().max(1e-300) / x.abs();
        if (side(1e-6 * x) - side(-1e-6 * x)).abs() > 1e-3 * scale {
            is_smooth = false;
            continue;
        }
        let slope = (4.0 * central(0.5 * h) - central(h)) / 3.0;
        let gap = (found.partials[i] - slope).abs();
        assert!(
            gap <= 1e-7 * scale,
            "{}: slope {i} is {}, differences say {slope}",
            entry.name,
            found.partials[i]
        );
    }
    is_smooth
}

/// Expected values from tests/oracles/catalogue.py, which computes the published formulas in
/// plain Python; its own text names the sources. 1e-12 relative, as it says.
#[test]
fn exams_come_out_as_the_published_formulas_say() {
    let exams: Value = serde_json::from_str(include_str!("../oracles/catalogue.json")).unwrap();
    let (mut compared, mut differentiated) = (0, HashSet::new());
    for json in exams.as_array().unwrap() {
        let title = json["exam"].as_str().unwrap();
        let exam = exam(json);
        let mut cells = Cells {
            exam: &exam,
            done: HashMap::new(),
            differentiated: HashSet::new(),
        };
        for (name, expected) in json["expected"].as_object().unwrap() {
            let lane = cells.lane(name);
            assert!(
                lane.status.is_known(),
                "{title}: {name} is {:?}",
                lane.status
            );
            let expected = expected.as_f64().unwrap();
            let gap = (lane.value - expected).abs();
            assert!(
                gap <= 1e-12 * expected.abs(),
                "{title}: {name} is {}, expected {expected}",
                lane.value
            );
            compared += 1;
        }
        for name in json["missing"].as_array().unwrap() {
            let lane = cells.lane(name.as_str().unwrap());
            assert_eq!(lane.status, Status::MISSING, "{title}: {name}");
        }
        differentiated.extend(cells.differentiated.iter().copied());
        let diameter = cells.lane("lvot_diameter").status;
        if exam.get("lvot_diameter").is_some_and(|d| d.unobtainable) {
            assert_eq!(diameter.origin(), Origin::Estimated, "{title}");
        }
    }
    assert!(compared > 300, "{compared}");
    for entry in entries().filter(|e| formula(e).is_some()) {
        assert!(
            differentiated.contains(entry.name),
            "the slopes of {} were compared in no exam",
            entry.name
        );
    }
}
