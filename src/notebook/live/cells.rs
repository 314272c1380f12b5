//! The cells of a page as data and functions.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde_json::{Map, Value, json};

use super::describe::inside;
use crate::formula::{CellId, PRELUDE, Stop, Tape, decisions, script};
use crate::hemodynamics::Weight;
use crate::quantity::{Content, Reading, Unit};
use crate::sheet::{Outline, OutlineCell, OutlineRule, Sheet, level_words};
use crate::uncertainty::{
    Bounded, FREEDOM_UNDEFINED, NONE_STATED, Settings, bounded_words, coverage_factor, lent,
    model_uncertainty, unstated_note_about,
};

/// Functions of formulas, each once.
#[derive(Default)]
pub(super) struct Functions {
    texts: Vec<String>,
    numbers: BTreeMap<usize, usize>,
}

impl Functions {
    fn number(&mut self, tape: &Arc<Tape>) -> usize {
        let key = Arc::as_ptr(tape) as usize;
        if let Some(number) = self.numbers.get(&key) {
            return *number;
        }
        let number = self.number_of_text(script(tape));
        self.numbers.insert(key, number);
        number
    }

    fn number_of_text(&mut self, text: String) -> usize {
        let known = self.texts.iter().position(|t| *t == text);
        known.unwrap_or_else(|| {
            self.texts.push(text);
            self.texts.len() - 1
        })
    }

    /// Where a formula bends or branches: the formula with its decisions as inputs, and for each
    /// the quantity whose sign decides, its words, and whether it branches.
    fn decisions(&mut self, sheet: &Sheet, cell: CellId, tape: &Tape) -> Option<Value> {
        let found = decisions(tape)?;
        let quantities = found.list.iter().map(|decision| {
            let words = sheet.operation_text(cell, decision.op);
            let number = self.number_of_text(script(&decision.quantity));
            json!([number, words, decision.is_branch])
        });
        let quantities: Vec<Value> = quantities.collect();
        let steered = self.number_of_text(script(&found.steered));
        Some(json!({ "q": quantities, "s": steered }))
    }

    /// The prelude and all functions, as script.
    pub fn text(&self) -> String {
        format!("{PRELUDE}const T=[\n{}\n];\n", self.texts.join(",\n"))
    }
}

/// All cells, operands first.
pub(super) fn cells(sheet: &Sheet, outline: &Outline, functions: &mut Functions) -> Vec<Value> {
    let one = |cell: &OutlineCell| cell_data(sheet, cell, functions);
    outline.cells.iter().map(one).collect()
}

fn cell_data(sheet: &Sheet, outlined: &OutlineCell, functions: &mut Functions) -> Value {
    let cell = outlined.cell;
    let unit = sheet.unit(cell).unwrap_or(Unit::ONE);
    let reading = sheet.reading(cell);
    let mut data = Map::new();
    let mut put = |key: &str, value: Value| data.insert(key.into(), value);
    put("i", cell.index().into());
    put("n", sheet.name(cell).into());
    put("l", sheet.label(cell).into());
    put("t", inside(sheet, cell).into());
    put("u", unit.pretty().into());
    put("s", outlined.speaks_of.map_or(json!(-1), Value::from));
    let own = outlined.reading.map(|r| json!([r.value, r.status.bits()]));
    put("r", own.unwrap_or(Value::Null));
    match &outlined.formula {
        Some(formula) => {
            put("f", functions.number(&formula.tape).into());
            put("o", formula.operands.clone().into());
            put("g", formula.guarded.into());
            put("q", formula.tape.uses_reading().into());
            let stops = formula.stops.iter();
            let stops: Map<String, Value> = stops
                .map(|(op, words)| (op.to_string(), words.clone().into()))
                .collect();
            put("c", stops.into());
            if let Some(decisions) = functions.decisions(sheet, cell, &formula.tape) {
                put("k", decisions);
            }
        }
        None => {
            put("f", json!(-1));
            put("o", json!([]));
        }
    }
    if let Some(reading) = reading {
        put("v", json!(true));
        if reading.content() == &Content::Unobtainable {
            put("x", json!(true));
        }
        let parts = stated_parts(reading, unit);
        if !parts.is_empty() {
            put("e", parts.into());
            if let Some(bounded) = Bounded::of_reading(sheet, cell) {
                let level = Settings::of(sheet).coverage;
                put("h", json!([bounded.factor(level), bounded_words(bounded)]));
            }
        } else if let Some(lent) = lent(sheet, cell) {
            put("p", json!([lent.share, lent.source]));
        }
    }
    if !sheet.words(cell).is_empty() {
        let words: Vec<&str> = sheet.words(cell).iter().map(|w| &**w).collect();
        put("w", words.into());
    }
    if let Some(words) = sheet.beat_words(cell) {
        put("b", words.into());
    }
    if let Some(model) = model_uncertainty(sheet, cell) {
        put("m", model.into());
    }
    Value::Object(data)
}

/// The parts of a stated uncertainty, each as a share of the value or as an amount, whichever stays
/// when the reading is moved.
fn stated_parts(reading: &Reading, unit: Unit) -> Vec<Value> {
    let parts = reading.parts(unit).into_iter();
    parts
        .map(|part| {
            let key = if part.is_share { "s" } else { "a" };
            let mut data = json!({ key: part.standard });
            if part.freedom.is_finite() {
                data["d"] = part.freedom.into();
            }
            data
        })
        .collect()
}

/// Where names go in a note.
const NAMES: &str = "\u{0}";

/// What is said of the readings together.
pub(super) fn settings(sheet: &Sheet, outline: &Outline) -> Value {
    let settings = Settings::of(sheet);
    let wrong = settings.check(sheet).err().map(|error| error.to_string());
    let pairs: Vec<Value> = settings
        .correlations
        .iter()
        .filter_map(|c| {
            let (first, second) = (outline.place(c.first)?, outline.place(c.second)?);
            Some(json!([first, second, c.value]))
        })
        .collect();
    json!({
        "wrong": wrong,
        "pairs": pairs,
        "undefined": FREEDOM_UNDEFINED,
        "silent": NONE_STATED,
        "note": unstated_note_about(NAMES).split(NAMES).collect::<Vec<_>>(),
        "level": settings.coverage,
        "said": level_words(settings.coverage),
        "normal": coverage_factor(settings.coverage, f64::INFINITY),
    })
}

/// All advice.
pub(super) fn rules(outline: &Outline, functions: &mut Functions) -> Vec<Value> {
    let one = |rule: &OutlineRule| {
        json!({
            "c": rule.cell,
            "f": functions.number(&rule.tape),
            "o": rule.operands,
            "t": rule.text,
            "k": match rule.weight { Weight::Note => 0, Weight::Caution => 1 },
            "s": rule.source,
        })
    };
    outline.rules.iter().map(one).collect()
}

/// The words of each trouble, by its number.
pub(super) fn troubles() -> Vec<&'static str> {
    let words = |stop: Stop| match stop {
        Stop::Withheld => "is withheld",
        Stop::Fault(trouble) => trouble.words(),
    };
    Stop::ALL.into_iter().map(words).collect()
}
