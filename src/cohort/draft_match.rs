//! Headings of somebody else's table matched to the cells of a sheet.

use std::collections::BTreeSet;

use super::binding::Part;
use super::draft_brackets::{spelled, unread};
use super::draft_names::{EXAMS, INTERVENTIONS, NAMES};
use super::trade_units::trade_unit;
use crate::formula::CellId;
use crate::hemodynamics;
use crate::quantity::Unit;
use crate::sheet::Sheet;

/// What a heading seems to say.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Match {
    pub(super) cell: CellId,
    pub(super) part: Part,
    /// The unit in the heading, where it measures the cell.
    pub(super) unit: Option<Unit>,
    /// What stands in brackets as a unit does, and is none that is known.
    pub(super) unread: Option<String>,
    /// Why the match may be wrong; nothing where the words are those of the cell.
    pub(super) doubt: Option<String>,
}

/// The words of a heading, and the unit in it.
#[derive(Debug, Default)]
pub(super) struct Words {
    pub(super) words: Vec<String>,
    units: Vec<Unit>,
    /// Those that stand alone in brackets, or that headings name without any: nothing else is meant by them.
    clear: Vec<Unit>,
}

impl Words {
    /// Takes a heading apart.
    pub(super) fn of(heading: &str) -> Words {
        let mut found = Words::default();
        let heading = &*spelled(heading);
        let is_between = |c: char| c.is_whitespace() || "()[]{}_,;:.-".contains(c);
        // A unit such as mm[Hg] or /min is one piece, so pieces are looked at whole first.
        for piece in
            heading.split(|c: char| c.is_whitespace() || matches!(c, '_' | ',' | ';' | ':'))
        {
            let whole = piece.trim_start_matches(['(', '[']);
            let whole = whole.strip_suffix(")").unwrap_or(whole);
            let bracketed = piece.starts_with(['[', '(']);
            let candidates = [whole, whole.strip_suffix(']').unwrap_or(whole)];
            let unit = candidates
                .iter()
                .find_map(|text| unit_word(text, bracketed));
            let is_alone = piece.ends_with([')', ']']) || !bracketed;
            if let Some(unit) = unit.filter(|u| is_alone && (u.code().len() > 1 || u.code() == "%"))
            {
                found.clear.push(unit);
            }
            match unit {
                Some(unit) if whole.eq_ignore_ascii_case("in") && !bracketed => {
                    // It may be the word too.
                    found.units.push(unit);
                    found.words.push("in".to_owned());
                }
                Some(unit) => found.units.push(unit),
                None => found.words.extend(
                    piece
                        .split(is_between)
                        .filter(|word| !word.is_empty())
                        .map(str::to_lowercase),
                ),
            }
        }
        found
    }
}

/// Units that a heading may name without brackets; other words of a letter or two are no units.
const BARE_UNITS: &[&str] = &[
    "cm", "mm", "mmHg", "mm[Hg]", "kPa", "bpm", "/min", "1/min", "ml", "mL", "l/min", "L/min",
    "kg", "cm/s", "m/s", "%", "in", "inch", "inches", "ft", "lb", "lbs",
];

fn unit_word(text: &str, bracketed: bool) -> Option<Unit> {
    if !bracketed && !BARE_UNITS.contains(&text) {
        return None;
    }
    trade_unit(text)
}

/// The exams of a sheet: names before the point.
pub(super) fn exams(sheet: &Sheet) -> BTreeSet<String> {
    let names = sheet.cells().map(|cell| sheet.name(cell));
    names
        .filter_map(|name| {
            let (exam, rest) = name.split_once('.')?;
            hemodynamics::entry(rest).map(|_| exam.to_owned())
        })
        .collect()
}

/// The cell that a heading seems to name.
pub(super) fn matched(sheet: &Sheet, exams: &BTreeSet<String>, heading: &str) -> Option<Match> {
    let Words {
        mut words,
        units,
        clear,
    } = Words::of(heading);
    let exam = take_exam(&mut words, exams);
    let part = take_part(&mut words);
    let full = |name: &str| match &exam {
        Some(exam) => format!("{}.{name}", exam.name),
        None => name.to_owned(),
    };
    // A heading's own unit says what it cannot be.
    let admits = |name: &str| {
        // Most headings say no unit, and there are many names.
        if part != Part::Value || clear.is_empty() {
            return true;
        }
        let own = sheet.cell(&full(name)).and_then(|cell| sheet.unit(cell));
        own.is_none_or(|own| clear.iter().any(|u| u.dimension() == own.dimension()))
    };
    let known = phrases(sheet).into_iter().filter(|(_, name)| admits(name));
    let known: Vec<(String, String)> = known.collect();
    // What was done between the exams may be named with them: `pre fluid VTI`.
    let without = exam
        .as_ref()
        .and_then(|exam| exam.without_intervention(&words));
    let plain = without.and_then(|words| cell_name(&known, &words).filter(|(_, d)| d.is_none()));
    let (name, doubt) = plain.or_else(|| cell_name(&known, &words))?;
    let cell = sheet.cell(&full(&name))?;
    let own = sheet.unit(cell).unwrap_or(Unit::ONE);
    let fits = |unit: &Unit| unit.dimension() == own.dimension() && part != Part::Beats;
    Some(Match {
        cell,
        part,
        unit: units.iter().copied().find(fits),
        unread: unread(heading, phrases(sheet).iter().map(|(phrase, _)| &**phrase)),
        doubt,
    })
}

/// Takes the word that names an exam of the sheet out of a heading.
fn take_exam(words: &mut Vec<String>, exams: &BTreeSet<String>) -> Option<ExamWord> {
    let exam_of = |word: &str| {
        if exams.contains(word) {
            return Some(word.to_owned());
        }
        let mut known = EXAMS.iter().filter(|(exam, _)| exams.contains(*exam));
        let found = known.find(|(_, said)| said.contains(&word));
        found.map(|(exam, _)| (*exam).to_owned())
    };
    let at = words.iter().position(|word| exam_of(word).is_some())?;
    let name = exam_of(&words.remove(at))?;
    Some(ExamWord { name, at })
}

/// A word that named an exam of the sheet.
struct ExamWord {
    /// The exam.
    name: String,
    /// Where the word stood.
    at: usize,
}

impl ExamWord {
    /// The other words without one behind it for what was done between the exams.
    fn without_intervention(&self, words: &[String]) -> Option<Vec<String>> {
        let behind = words.get(self.at)?;
        let is_one = INTERVENTIONS.contains(&behind.as_str()) && words.len() > 1;
        is_one.then(|| {
            let mut others = words.to_vec();
            others.remove(self.at);
            others
        })
    }
}

/// Takes the word that says what of a reading a column holds out of a heading.
fn take_part(words: &mut Vec<String>) -> Part {
    let part_of = |word: &str| match word {
        "n" | "beats" => Some(Part::Beats),
        "sd" | "u" | "uncertainty" => Some(Part::Uncertainty),
        _ => None,
    };
    if words.len() > 1
        && let Some(part) = words.last().and_then(|word| part_of(word))
    {
        words.pop();
        return part;
    }
    Part::Value
}

/// The name of the cell that words seem to mean, without its exam, and a doubt if there is one.
fn cell_name(known: &[(String, String)], words: &[String]) -> Option<(String, Option<String>)> {
    let said = words.join(" ");
    if said.is_empty() {
        return None;
    }
    if let Some((_, name)) = known.iter().find(|(phrase, _)| *phrase == said) {
        return Some((name.clone(), None));
    }
    // The longest phrase that stands in the heading with other words.
    let padded = format!(" {said} ");
    let within = known
        .iter()
        .filter(|(phrase, _)| phrase.len() > 1 && padded.contains(&format!(" {phrase} ")));
    // What was done says when something else was measured: `after fluid HR`.
    let weight = |phrase: &str| {
        (
            !INTERVENTIONS.contains(&phrase) && phrase != "rate",
            phrase.len(),
        )
    };
    if let Some((phrase, name)) = within.max_by_key(|(phrase, _)| weight(phrase)) {
        let doubt = format!("of `{said}` only `{phrase}` is known");
        return Some((name.clone(), Some(doubt)));
    }
    let near = known
        .iter()
        .filter(|(phrase, _)| phrase.len() > 5)
        .map(|known| (strsim::jaro_winkler(&known.0, &said), known))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.93);
    near.map(|(_, (phrase, name))| (name.clone(), Some(format!("it is spelled like `{phrase}`"))))
}

/// All phrases that mean a cell: its name, its label, and what wards say.
fn phrases(sheet: &Sheet) -> Vec<(String, String)> {
    let mut phrases = Vec::new();
    for cell in sheet.cells() {
        let name = sheet.name(cell);
        let base = name.split_once('.').map_or(&*name, |(_, rest)| rest);
        phrases.push((base.replace(['_', '.'], " "), base.to_owned()));
        if let Some(entry) = hemodynamics::entry(base) {
            let label = Words::of(entry.label).words.join(" ");
            phrases.push((label, base.to_owned()));
        }
    }
    let wards = NAMES.iter();
    phrases.extend(wards.map(|(said, name)| ((*said).to_owned(), (*name).to_owned())));
    phrases
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_heading_names_without_brackets_is_a_unit() {
        for text in BARE_UNITS {
            assert!(trade_unit(text).is_some(), "{text}");
        }
    }

    #[test]
    fn headings_of_wards_are_understood() {
        let text = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics";
        let sheet = Sheet::read(text).unwrap().sheet;
        let exams = exams(&sheet);
        assert_eq!(exams.iter().collect::<Vec<_>>(), ["after", "before"]);
        for (heading, name, unit, part) in [
            ("LVOT diam (mm)", "lvot_diameter", "mm", Part::Value),
            ("VTI pre", "before.lvot_vti", "", Part::Value),
            ("post VTI [cm]", "after.lvot_vti", "cm", Part::Value),
            ("VTI_post_n", "after.lvot_vti", "", Part::Beats),
            ("HR", "heart_rate", "", Part::Value),
            (
                "MAP mmHg pre",
                "before.mean_pressure",
                "mm[Hg]",
                Part::Value,
            ),
            ("SBP [mm[Hg]]", "systolic_pressure", "mm[Hg]", Part::Value),
            (
                "Central venous pressure",
                "central_venous_pressure",
                "",
                Part::Value,
            ),
            ("Heart rate (/min)", "heart_rate", "/min", Part::Value),
            ("Sex", "sex", "", Part::Value),
        ] {
            let found = matched(&sheet, &exams, heading).expect(heading);
            let unit_found = found.unit.map_or("", |u| u.code());
            assert_eq!(
                (sheet.name(found.cell).as_str(), unit_found, found.part),
                (name, unit, part),
                "{heading}"
            );
            assert_eq!(found.doubt, None, "{heading}");
        }
        // A unit that does not measure a cell excludes it, and what was done is no part of what was measured.
        for (heading, name) in [
            ("Pre fluid VTI (cm)", "before.lvot_vti"),
            ("post fluid VTI", "after.lvot_vti"),
            ("Post-bolus HR (bpm)", "after.heart_rate"),
            ("post fluid volume (mL)", "after.fluid_given"),
            ("Ht (in)", "height"),
            ("Wt (lbs)", "weight"),
            ("MAP pre (mm Hg)", "before.mean_pressure"),
        ] {
            let found = matched(&sheet, &exams, heading).expect(heading);
            assert_eq!(sheet.name(found.cell), name, "{heading}");
            assert_eq!(found.doubt, None, "{heading}");
        }
        for heading in ["VTI variation (%)", "Fluid balance (kg)", "Pulse (cm)"] {
            assert_eq!(matched(&sheet, &exams, heading), None, "{heading}");
        }
        let of_resistance = matched(&sheet, &exams, "SVR (dyn s cm-5)").unwrap();
        assert_eq!(
            sheet.name(of_resistance.cell),
            "systemic_vascular_resistance"
        );
        let doubtful = matched(&sheet, &exams, "VTI corrected by hand").unwrap();
        assert!(doubtful.doubt.unwrap().contains("only `vti`"));
        let misspelled = matched(&sheet, &exams, "Hight").unwrap();
        assert!(misspelled.doubt.unwrap().contains("spelled like"));
        for heading in ["", "comment", "bed", "()", "ward 7"] {
            assert_eq!(matched(&sheet, &exams, heading), None, "{heading}");
        }
    }
}
