//! `describe`: an exam in plain words, for colleagues who do not do echocardiography.
//!
//! The paragraph is a list of sentences with conditions over the states of cells, so that a page
//! can choose among them again when a reading is moved. Every figure in it is a cell's; ranges are
//! those of the catalogue, with their source.

use maud::html;
use serde_json::{Value, json};

use super::serial::plain_label;
use crate::formula::CellId;
use crate::formula::notation::Name;
use crate::notebook::output::Output;
use crate::notebook::render::{Rendered, Rendering};
use crate::notebook::sides::{is_above, is_below};
use crate::quantity::Origin;
use crate::sheet::{Outline, Sheet, State, exam_cell, figure_as_given, in_sentence, join_unit};
use crate::uncertainty::{nothing_stated, trust_words};

/// What a sentence asks of a cell.
#[derive(Clone, Copy)]
enum Test {
    Known,
    Missing,
    Below(f64),
    Within(f64, f64),
    Above(f64),
    Word(usize),
    Origin(Origin),
    /// Something can be said of its uncertainty.
    Trusted,
    /// It is known, and nothing can be said of its uncertainty.
    Unstated,
}

/// A part of a sentence.
enum Part {
    Text(String),
    /// The value with its unit.
    Value(CellId),
    /// Why it is not known.
    Because(CellId),
    /// How uncertain it is.
    Trust(CellId),
}

/// A sentence and when it is said.
struct Sentence {
    when: Vec<(Test, CellId)>,
    parts: Vec<Part>,
}

impl Test {
    fn holds(self, sheet: &Sheet, cell: CellId) -> bool {
        let known = sheet.state(cell) == Some(State::Known);
        let value = sheet.value(cell);
        match self {
            Test::Known => known,
            Test::Missing => !known,
            Test::Below(bound) => value.is_some_and(|v| is_below(v, bound)),
            Test::Above(bound) => value.is_some_and(|v| is_above(v, bound)),
            Test::Within(low, high) => {
                value.is_some_and(|v| !is_below(v, low) && !is_above(v, high))
            }
            Test::Word(word) => value == Some(word as f64),
            Test::Origin(origin) => sheet.origin(cell) == Some(origin),
            Test::Trusted => is_trusted(sheet, cell),
            Test::Unstated => known && !is_trusted(sheet, cell),
        }
    }

    fn data(self, place: usize) -> Value {
        match self {
            Test::Known => json!(["known", place]),
            Test::Missing => json!(["missing", place]),
            Test::Below(bound) => json!(["below", place, bound]),
            Test::Above(bound) => json!(["above", place, bound]),
            Test::Within(low, high) => json!(["within", place, [low, high]]),
            Test::Word(word) => json!(["word", place, word]),
            Test::Origin(origin) => {
                json!([
                    "origin",
                    place,
                    crate::formula::Status::known(origin).bits()
                ])
            }
            Test::Trusted => json!(["trusted", place]),
            Test::Unstated => json!(["unstated", place]),
        }
    }
}

impl Part {
    fn said(&self, sheet: &Sheet) -> String {
        match self {
            Part::Text(text) => text.clone(),
            Part::Value(cell) => sheet.shown(*cell),
            Part::Because(cell) => plainly(sheet, *cell),
            Part::Trust(cell) => trust_words(sheet, *cell).unwrap_or_default(),
        }
    }

    fn data(&self, outline: &Outline) -> Value {
        let of = |kind: &str, cell: &CellId| json!([kind, outline.place(*cell).unwrap_or(0)]);
        match self {
            Part::Text(text) => json!(text),
            Part::Value(cell) => of("value", cell),
            Part::Because(cell) => of("because", cell),
            Part::Trust(cell) => of("trust", cell),
        }
    }
}

/// Whether something can be said of how uncertain a cell is.
fn is_trusted(sheet: &Sheet, cell: CellId) -> bool {
    nothing_stated(sheet, cell).is_empty() && trust_words(sheet, cell).is_some()
}

/// Why a cell is not known, with cells by their words rather than their names.
fn plainly(sheet: &Sheet, cell: CellId) -> String {
    let with_words = |text: String| {
        let name = text.split(' ').next().unwrap_or_default();
        match sheet.cell(name) {
            Some(cell) => format!("{}{}", inside(sheet, cell), &text[name.len()..]),
            None => text,
        }
    };
    let said: Vec<String> = sheet.because(cell).into_iter().map(with_words).collect();
    said.join("; ")
}

/// A label inside a sentence, without the exam's name behind it.
pub(super) fn inside(sheet: &Sheet, cell: CellId) -> String {
    in_sentence(&plain_label(sheet, cell))
}

/// The paragraph on one exam.
pub(super) struct Paragraph {
    sentences: Vec<Sentence>,
    /// The cells it speaks of.
    pub cells: Vec<CellId>,
}

/// Word for the exam whose cells carry no exam's name.
const UNNAMED: &str = "exam";

impl Paragraph {
    /// The sentences for an exam, chosen from what its sheet holds.
    pub fn of(sheet: &Sheet, exam: &str) -> Option<Paragraph> {
        let cell = |name: &str| match sheet.cell(&exam_cell(exam, name)) {
            Some(cell) => Some(cell),
            None if exam == UNNAMED => sheet.cell(name),
            None => None,
        };
        let mut writer = Writer {
            sheet,
            sentences: Vec::new(),
        };
        let volume = cell("stroke_volume")?;
        writer.flow(volume, cell("cardiac_output"), cell("heart_rate"));
        for name in ["cardiac_index", "systemic_vascular_resistance"] {
            if let Some(cell) = cell(name) {
                writer.against_usual(cell);
            }
        }
        writer.trust(volume);
        let findings = [
            (
                cell("lvot_diameter"),
                "The diameter of the outflow tract was not measured but estimated from body size, so flow is a rough figure; its change from exam to exam is sounder.",
            ),
            (
                cell("central_venous_pressure"),
                "The central venous pressure was not measured, so the resistance is a rough figure.",
            ),
        ];
        for (cell, text) in findings {
            for origin in [Origin::Estimated, Origin::Assumed] {
                writer.say_if(cell, Test::Origin(origin), text);
            }
        }
        let irregular = cell("rhythm").and_then(|rhythm| {
            let words = sheet.words(rhythm);
            words.iter().position(|w| &**w == "irregular")
        });
        if let Some(word) = irregular {
            writer.say_if(
                cell("rhythm"),
                Test::Word(word),
                "The rhythm was irregular: beats differ, and the figures are their mean.",
            );
        }
        for name in [
            "stroke_volume",
            "cardiac_output",
            "cardiac_index",
            "systemic_vascular_resistance",
        ] {
            if let Some(cell) = cell(name) {
                writer.missing(cell);
            }
        }
        writer.close(volume);
        let sentences = writer.sentences;
        let mut cells: Vec<CellId> = sentences
            .iter()
            .flat_map(|s| s.when.iter().map(|(_, cell)| *cell))
            .chain([volume])
            .collect();
        cells.extend(
            sentences
                .iter()
                .flat_map(|s| &s.parts)
                .filter_map(|part| match part {
                    Part::Text(_) => None,
                    Part::Value(cell) | Part::Because(cell) | Part::Trust(cell) => Some(*cell),
                }),
        );
        cells.sort();
        cells.dedup();
        Some(Paragraph { sentences, cells })
    }

    /// The paragraph as the sheet stands.
    pub fn text(&self, sheet: &Sheet) -> String {
        let holds = |s: &&Sentence| s.when.iter().all(|(test, cell)| test.holds(sheet, *cell));
        let said = |s: &Sentence| s.parts.iter().map(|p| p.said(sheet)).collect::<String>();
        let said: Vec<String> = self.sentences.iter().filter(holds).map(said).collect();
        said.join(" ")
    }

    /// The sentences for a page.
    pub fn data(&self, outline: &Outline) -> Value {
        let one = |s: &Sentence| {
            let when: Vec<Value> = s
                .when
                .iter()
                .filter_map(|(test, cell)| Some(test.data(outline.place(*cell)?)))
                .collect();
            let parts: Vec<Value> = s.parts.iter().map(|p| p.data(outline)).collect();
            json!({ "w": when, "p": parts })
        };
        self.sentences.iter().map(one).collect()
    }
}

struct Writer<'s> {
    sheet: &'s Sheet,
    sentences: Vec<Sentence>,
}

/// What the catalogue names as the source of ranges from teaching.
const TEXTBOOK: &str = "memory; sources disagree";

fn text(words: impl Into<String>) -> Part {
    Part::Text(words.into())
}

impl Writer<'_> {
    fn say(&mut self, when: Vec<(Test, CellId)>, parts: Vec<Part>) {
        self.sentences.push(Sentence { when, parts });
    }

    fn say_if(&mut self, cell: Option<CellId>, test: Test, words: &str) {
        if let Some(cell) = cell {
            self.say(vec![(test, cell)], vec![text(words)]);
        }
    }

    fn flow(&mut self, volume: CellId, output: Option<CellId>, rate: Option<CellId>) {
        let beat = || {
            vec![
                text("With each beat the left ventricle sent out about "),
                Part::Value(volume),
                text(" of blood"),
            ]
        };
        let (Some(output), Some(rate)) = (output, rate) else {
            let mut parts = beat();
            parts.push(text("."));
            return self.say(vec![(Test::Known, volume)], parts);
        };
        let mut with_rate = beat();
        with_rate.extend([
            text("; at "),
            Part::Value(rate),
            text(" that makes "),
            Part::Value(output),
            text("."),
        ]);
        self.say(
            vec![
                (Test::Known, volume),
                (Test::Known, output),
                (Test::Known, rate),
            ],
            with_rate,
        );
        let mut alone = beat();
        alone.push(text("."));
        self.say(vec![(Test::Known, volume), (Test::Missing, output)], alone);
    }

    /// How a cell stands against the first usual range that the catalogue gives it for all adults.
    fn against_usual(&mut self, cell: CellId) {
        let sheet = self.sheet;
        let (Some(about), Some(unit)) = (sheet.about(cell), sheet.unit(cell)) else {
            return;
        };
        let range = about.usual.iter().find_map(|r| match (r.low, r.high) {
            (Some(low), Some(high)) if r.who == "adults" => Some((low, high, r.source)),
            _ => None,
        });
        let Some((low, high, source)) = range else {
            return;
        };
        let shown = |v: f64| about.stated_in.convert(v, unit);
        let (Some(in_low), Some(in_high)) = (shown(low), shown(high)) else {
            return;
        };
        let label = inside(sheet, cell);
        let source = match source {
            TEXTBOOK => "by teaching; books differ",
            source => source,
        };
        let usual = format!(
            "{} to {} in adults; {source}",
            figure_as_given(in_low),
            join_unit(&figure_as_given(in_high), unit)
        );
        for (test, where_) in [
            (Test::Below(in_low), "below"),
            (Test::Within(in_low, in_high), "within"),
            (Test::Above(in_high), "above"),
        ] {
            self.say(
                vec![(test, cell)],
                vec![
                    text(format!("The {label}, ")),
                    Part::Value(cell),
                    text(format!(", lies {where_} the usual range ({usual}).")),
                ],
            );
        }
    }

    fn trust(&mut self, volume: CellId) {
        self.say(
            vec![(Test::Trusted, volume)],
            vec![
                text("How far to trust the stroke volume: "),
                Part::Trust(volume),
                text(". If the errors stated hold, about two times in three the true value lies within one standard uncertainty."),
            ],
        );
        let words = "How far to trust the stroke volume is not known: no reading behind it states an uncertainty.";
        self.say(vec![(Test::Unstated, volume)], vec![text(words)]);
    }

    fn missing(&mut self, cell: CellId) {
        let label = inside(self.sheet, cell);
        self.say(
            vec![(Test::Missing, cell)],
            vec![
                text(format!("There is no figure for the {label}: ")),
                Part::Because(cell),
                text("."),
            ],
        );
    }

    fn close(&mut self, volume: CellId) {
        let words =
            "These figures say how much blood flowed during the exam, not why, and not what to do.";
        self.say(vec![(Test::Known, volume)], vec![text(words)]);
    }
}

/// `describe EXAM`.
pub(in crate::notebook) fn shown(rendering: &Rendering<'_>, exam: &Name) -> Rendered {
    let Some(paragraph) = Paragraph::of(rendering.sheet, &exam.text) else {
        let message = format!("there is no exam `{}` in this notebook", exam.text);
        let error = crate::formula::notation::Diagnostic::error(message, exam.place);
        let hint = "`use hemodynamics as NAME` brings one in; `describe exam` is for cells without an exam's name";
        return Err(vec![error.hint(hint)]);
    };
    let said = paragraph.text(rendering.sheet);
    let html = html! { div.describe { p { (said) } } };
    Ok(Output::new(&rendering.id, said, html.into_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(text: &str) -> String {
        let sheet = Sheet::read(text).unwrap().sheet;
        Paragraph::of(&sheet, "exam").unwrap().text(&sheet)
    }

    #[test]
    fn what_is_known_is_said_and_what_is_missing_with_its_reason() {
        let text =
            "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm\nheart_rate = 70 /min\n";
        let said = said(text);
        assert!(
            said.starts_with(
                "With each beat the left ventricle sent out about 62.8 mL of blood; at 70 /min"
            ),
            "{said}"
        );
        assert!(
            said.contains(
                "no figure for the cardiac index: height has no reading; weight has no reading."
            ),
            "{said}"
        );
        assert!(
            said.contains("is not known: no reading behind it states an uncertainty."),
            "{said}"
        );
    }

    /// The range 1.9 to 4.3 L/min/m² of cardiac index: Am J Cardiol 2021;140:128-33, 3090 adults.
    #[test]
    fn the_index_is_held_against_a_range_with_its_source() {
        let text = "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 10 cm\nheart_rate = 70 /min\nheight = 170 cm\nweight = 70 kg\n";
        let said = said(text);
        assert!(
            said.contains("lies below the usual range (1.9 to 4.3 L/min/m²"),
            "{said}"
        );
    }
}
