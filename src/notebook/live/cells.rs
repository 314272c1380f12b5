//! The cells of a page as data and functions.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde_json::{Map, Value, json};

use super::describe::inside;
use crate::formula::{PRELUDE, Stop, Tape, script};
use crate::hemodynamics::Weight;
use crate::notebook::trust::level_words;
use crate::quantity::{Content, Reading, Spread, Unit};
use crate::sheet::{Outline, OutlineCell, OutlineRule, Sheet};
use crate::uncertainty::{Settings, freedom, lent, model_uncertainty, student_quantile};

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
        self.texts.push(script(tape));
        self.numbers.insert(key, self.texts.len() - 1);
        self.texts.len() - 1
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
        let stated = reading.standard_uncertainty(unit);
        if let (Some(u), Some(own)) = (stated, outlined.reading) {
            put("e", stated_uncertainty(reading, own.value, u, unit));
        } else if let Some(lent) = lent(sheet, cell) {
            put("p", json!([lent.share, lent.source]));
        }
        let freedom = freedom(reading);
        if freedom.is_finite() {
            put("d", freedom.into());
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

/// A stated uncertainty as a share of the value or as an amount, whichever stays when it is moved.
fn stated_uncertainty(reading: &Reading, value: f64, u: f64, unit: Unit) -> Value {
    let is_share = |spread: Spread| spread.is_relative_to(unit);
    let is_relative = reading.spread().is_some_and(is_share);
    let between = reading.between();
    let is_alike = between.is_none_or(|b| is_share(b.spread()) == is_relative);
    let size = value.abs();
    if is_alike || size == 0.0 {
        return match is_relative && size > 0.0 {
            true => json!({ "s": u / size }),
            false => json!({ "a": u }),
        };
    }
    // One part stays an amount and the other a share: they join anew wherever it is moved, and so
    // do their degrees of freedom.
    let within = reading.within_acquisition(unit).unwrap_or(0.0);
    let beyond = reading.between_acquisitions(unit).unwrap_or(0.0);
    let of_beats = match reading.spread() {
        Some(_) => None,
        None => reading.beats().scatter().map(|(_, freedom)| freedom),
    };
    let of_between = between.and_then(|b| b.freedom());
    match is_relative {
        true => json!({ "a": beyond, "s": within / size, "f": [of_between, of_beats] }),
        false => json!({ "a": within, "s": beyond / size, "f": [of_beats, of_between] }),
    }
}

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
    let named: Vec<usize> = settings
        .named()
        .into_iter()
        .filter_map(|cell| outline.place(cell))
        .collect();
    json!({
        "wrong": wrong,
        "pairs": pairs,
        "named": named,
        "level": settings.coverage,
        "said": level_words(settings.coverage),
        "normal": student_quantile(0.5 + 0.5 * settings.coverage, f64::INFINITY),
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
