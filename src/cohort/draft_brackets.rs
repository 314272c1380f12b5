//! What stands in the brackets of a heading: a unit, as it is spelled, or a word. What is neither may be a unit that is not known, which
//! no other may silently stand for.

use super::draft_names::{EXAMS, INTERVENTIONS};
use super::trade_units::trade_unit;

/// Words in brackets that are no units, besides those that name cells and exams. Common practice, no source.
const DESCRIPTIONS: &[&str] = &[
    "mean",
    "average",
    "avg",
    "ave",
    "median",
    "mw",
    "mittel",
    "mittelwert",
    "max",
    "maximum",
    "min",
    "minimum",
    "peak",
    "highest",
    "lowest",
    "best",
    "single",
    "of",
    "beat",
    "beats",
    "cycles",
    "total",
    "sum",
    "manual",
    "manually",
    "auto",
    "automatic",
    "automated",
    "measured",
    "calculated",
    "calc",
    "computed",
    "derived",
    "est",
    "estimated",
    "traced",
    "pw",
    "cw",
    "pulsed",
    "doppler",
    "echo",
    "tte",
    "2d",
    "biplane",
    "plax",
    "a3c",
    "a4c",
    "a5c",
    "art",
    "arterial",
    "invasive",
    "noninvasive",
    "non",
    "cuff",
    "nibp",
    "ibp",
    "line",
    "ecg",
    "monitor",
    "rest",
    "supine",
    "plr",
    "actual",
    "reported",
    "adm",
    "admission",
    "day",
    "ideal",
    "predicted",
    "n",
    "sd",
    "u",
    "se",
    "uncertainty",
    "yes",
    "no",
    "y",
    "f",
    "w",
    "d",
    "and",
    "or",
    "at",
    "the",
    "in",
    "not",
    "optional",
    "required",
];

/// The texts that stand in brackets, outermost ones only, with where each starts and ends in the heading.
fn bracketed(heading: &str) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    let (mut depth, mut start) = (0_usize, 0);
    for (at, c) in heading.char_indices() {
        match c {
            '(' | '[' => {
                if depth == 0 {
                    start = at + 1;
                }
                depth += 1;
            }
            ')' | ']' if depth > 0 => {
                depth -= 1;
                if depth == 0 {
                    found.push(start..at);
                }
            }
            _ => {}
        }
    }
    found
}

/// A heading with the units in its brackets as UCUM spells them.
pub(super) fn spelled(heading: &str) -> String {
    let mut written = String::with_capacity(heading.len());
    let mut done = 0;
    for range in bracketed(heading) {
        let text = &heading[range.clone()];
        // One letter may be anything; a unit of one word is met where it stands.
        if let Some(unit) = trade_unit(text).filter(|_| text.trim().contains([' ', '.'])) {
            written.push_str(&heading[done..range.start]);
            written.push_str(unit.code());
            done = range.end;
        }
    }
    written.push_str(&heading[done..]);
    written
}

/// The text in brackets that is no unit and no word that stands there; `phrases` are those that name cells.
pub(super) fn unread<'p>(
    heading: &str,
    phrases: impl Iterator<Item = &'p str> + Clone,
) -> Option<String> {
    let is_word = |word: &str| {
        let in_phrases = || phrases.clone().any(|p| p.split(' ').any(|own| own == word));
        let mut of_exams = EXAMS.iter().flat_map(|(_, words)| words.iter());
        word.bytes().all(|byte| byte.is_ascii_digit())
            || DESCRIPTIONS.contains(&word)
            || INTERVENTIONS.contains(&word)
            || of_exams.any(|own| *own == word)
            || in_phrases()
    };
    let texts = bracketed(heading)
        .into_iter()
        .map(|range| heading[range].trim());
    let mut unknown = texts.filter(|text| {
        let said = text.to_lowercase();
        let mut words = said
            .split(|c: char| c.is_whitespace() || ",;:-_/".contains(c))
            .filter(|word| !word.is_empty());
        !text.is_empty() && trade_unit(text).is_none() && !words.all(is_word)
    });
    unknown.next().map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_neither_unit_nor_word_is_told() {
        let phrases = ["lvot vti", "heart rate", "vti"];
        let unread = |heading: &str| unread(heading, phrases.into_iter());
        for (heading, text) in [
            ("VTI (px)", "px"),
            ("Ht (furlongs)", "furlongs"),
            ("LVOT diameter [foo]", "foo"),
            ("VTI (mean) [pixels]", "pixels"),
            ("VTI (mm/px)", "mm/px"),
        ] {
            assert_eq!(unread(heading).as_deref(), Some(text), "{heading}");
        }
        for heading in [
            "VTI",
            "VTI (cm)",
            "Ht (in)",
            "Weight (stone)",
            "MAP (mm Hg)",
            "MAP [mm[Hg]]",
            "VTI (mean of 3 beats)",
            "VTI (pre)",
            "HR (n)",
            "SVR (dyn s cm-5)",
            "LVOT VTI ()",
            "VTI (LVOT, PW)",
        ] {
            assert_eq!(unread(heading), None, "{heading}");
        }
    }

    #[test]
    fn units_of_several_words_are_spelled_as_one() {
        assert_eq!(spelled("MAP (mm Hg) pre"), "MAP (mm[Hg]) pre");
        assert_eq!(spelled("SVR (dyn s cm-5)"), "SVR (dyn.s.cm-5)");
        assert_eq!(spelled("VTI (mean of 3) [cm]"), "VTI (mean of 3) [cm]");
    }
}
