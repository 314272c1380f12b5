//! Units as tables spell them, beyond what is a unit in a formula: `in`, `lbs.`, `mm Hg`, `MMHG`, `beats per minute`.
//!
//! In a formula `in` is a word of the notation, so these spellings are for headings and fields of tables only. Common practice, no
//! source; what each stands for is a code of UCUM.

use crate::quantity::Unit;

/// Spellings in lower case, without points and with single blanks, and the code of UCUM that each stands for.
const SPELLINGS: &[(&str, &[&str])] = &[
    (
        "[in_i]",
        &[
            "in", "inch", "inches", "\"", "''", "\u{201d}", "\u{2033}", "zoll", "pouce", "pouces",
            "pulgada", "pulgadas", "pollice", "pollici", "tum", "tommer",
        ],
    ),
    ("[ft_i]", &["ft", "foot", "feet", "fuß"]),
    ("[lb_av]", &["lb", "lbs", "pound", "pounds"]),
    ("[stone_av]", &["stone", "stones"]),
    ("[oz_av]", &["oz", "ounce", "ounces"]),
    ("m", &["meter", "meters", "metre", "metres", "mtr"]),
    (
        "cm",
        &[
            "cms",
            "centimeter",
            "centimeters",
            "centimetre",
            "centimetres",
        ],
    ),
    (
        "mm",
        &[
            "mms",
            "millimeter",
            "millimeters",
            "millimetre",
            "millimetres",
        ],
    ),
    ("kg", &["kgs", "kilo", "kilos", "kilogram", "kilograms"]),
    ("g", &["gm", "gms", "gram", "grams"]),
    ("L", &["lt", "ltr", "liter", "liters", "litre", "litres"]),
    (
        "mL",
        &[
            "mls",
            "ccm",
            "ccs",
            "milliliter",
            "milliliters",
            "millilitre",
            "millilitres",
        ],
    ),
    ("mm[Hg]", &["mmhg", "mm hg", "torr"]),
    ("cm[H2O]", &["cmh2o", "cm h2o", "cmh\u{2082}o", "cmwater"]),
    ("kPa", &["kpa"]),
    (
        "/min",
        &[
            "bpm",
            "beats/min",
            "beats / min",
            "beats per min",
            "beats per minute",
            "/minute",
            "per min",
            "per minute",
            "min-1",
            "min^-1",
            "min\u{207b}\u{b9}",
            "schläge/min",
        ],
    ),
    (
        "L/min",
        &["lpm", "l/min", "lit/min", "liters/min", "litres/min"],
    ),
    ("%", &["percent", "per cent", "pct", "prozent"]),
    ("m/s", &["m/sec"]),
    ("cm/s", &["cm/sec"]),
    ("ug", &["mcg"]),
    ("m2", &["sqm", "sq m", "qm"]),
];

/// The unit that a text of a heading or a field names: a unit as everywhere, a spelling of the trade, or units with blanks between them.
pub(super) fn trade_unit(text: &str) -> Option<Unit> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    let said = words.join(" ").to_lowercase().replace('.', "");
    let known = SPELLINGS
        .iter()
        .find(|(_, said_so)| said_so.contains(&&*said));
    match (known, Unit::parse(text)) {
        // Before UCUM, in which `ft` is a billionth of a gram.
        (Some((code, _)), _) => Unit::parse(code).ok(),
        (None, Ok(unit)) => Some(unit),
        // `dyn s cm-5`: each is a unit.
        (None, Err(_)) if words.len() > 1 && words.iter().all(|word| Unit::parse(word).is_ok()) => {
            Unit::parse(&words.join(".")).ok()
        }
        (None, Err(_)) => None,
    }
}

/// What a person can do about a text that is no unit: the code of UCUM that is meant, where that is known.
pub(super) fn way_out(text: &str) -> String {
    match trade_unit(text) {
        Some(unit) => format!("; its code is `{unit}`"),
        None => "; units are codes of UCUM, such as cm, kg, mL, /min, mm[Hg], [in_i] for inches and [lb_av] for pounds".into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Inch, foot, pound and stone by NIST Handbook 44, appendix C: 2.54 cm, 30.48 cm, 0.45359237 kg, 14 lb (from memory).
    #[test]
    fn spellings_of_the_trade_are_units() {
        for (text, code, one) in [
            ("in", "cm", 2.54),
            ("In.", "cm", 2.54),
            ("inches", "cm", 2.54),
            ("\"", "cm", 2.54),
            ("ft", "cm", 30.48),
            ("lbs.", "kg", 0.453_592_37),
            ("Pounds", "kg", 0.453_592_37),
            ("stone", "kg", 6.350_293_18),
            ("Kgs", "kg", 1.0),
            ("MMHG", "mm[Hg]", 1.0),
            ("mm Hg", "mm[Hg]", 1.0),
            ("mmHg", "mm[Hg]", 1.0),
            ("cm H2O", "cm[H2O]", 1.0),
            ("BPM", "/min", 1.0),
            ("beats per minute", "/min", 1.0),
            ("dyn s cm-5", "dyn.s.cm-5", 1.0),
            ("litres", "mL", 1000.0),
        ] {
            let unit = trade_unit(text).expect(text);
            let found = unit.convert(1.0, Unit::parse(code).unwrap()).expect(text);
            assert!((found - one).abs() < 1e-12 * one, "{text}: {found}");
        }
        for text in ["", "px", "furlong", "mean of 3", "foo", "in in"] {
            assert_eq!(trade_unit(text), None, "{text}");
        }
    }

    #[test]
    fn every_code_is_one_and_no_spelling_stands_twice() {
        let mut met = std::collections::BTreeSet::new();
        for (code, spellings) in SPELLINGS {
            assert_eq!(Unit::parse(code).expect(code).code(), *code);
            for spelling in *spellings {
                assert!(met.insert(spelling), "{spelling}");
                assert_eq!(spelling.to_lowercase().replace('.', ""), **spelling);
            }
        }
    }
}
