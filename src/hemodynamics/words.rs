//! Splits the texts of the catalogue into words for its structural checks. It is no parser: it knows
//! neither precedence nor meaning.

/// Words of the notation that are not names of cells.
pub(super) const NOTATION: &[&str] = &[
    "if",
    "then",
    "else",
    "and",
    "or",
    "not",
    "is",
    "sqrt",
    "exp",
    "ln",
    "cos",
    "abs",
    "min",
    "max",
    "mean",
    "clamp",
    "pi",
    "reading",
    "withheld",
    "estimated",
    "beat_count",
    "differs",
];

/// The words and units of a text in the notation.
#[derive(Debug, Default)]
pub(super) struct Words {
    /// Names of cells, with their exam if there is one.
    pub(super) names: Vec<String>,
    /// Units of numbers.
    pub(super) units: Vec<String>,
    /// What is asked of which name: `X is WORD`, `X is not WORD`.
    pub(super) asked: Vec<(String, String)>,
}

/// Splits a text: quoted reasons are dropped, and what follows a number after one space is its unit.
pub(super) fn words(text: &str) -> Words {
    let spaced: String = text
        .split('"')
        .step_by(2)
        .collect::<Vec<_>>()
        .join(" ")
        .chars()
        .flat_map(|c| match c {
            '(' | ')' | ',' | '^' => vec![' ', c, ' '],
            other => vec![other],
        })
        .collect();
    let tokens: Vec<&str> = spaced.split_whitespace().collect();
    let mut found = Words::default();
    for (at, token) in tokens.iter().enumerate() {
        let before = at.checked_sub(1).map_or("", |i| tokens[i]);
        if before.parse::<f64>().is_ok() && is_unit(token) {
            found.units.push((*token).to_string());
        } else if before == "is" || (before == "not" && at >= 2 && tokens[at - 2] == "is") {
            if *token != "not" {
                let subject = tokens[..at].iter().rposition(|t| *t == "is").unwrap();
                found
                    .asked
                    .push((tokens[subject - 1].to_string(), (*token).to_string()));
            }
        } else if token.starts_with(|c: char| c.is_ascii_alphabetic()) && !NOTATION.contains(token)
        {
            found.names.push((*token).to_string());
        }
    }
    found
}

fn is_unit(token: &str) -> bool {
    !NOTATION.contains(&token)
        && (token == "%" || token.starts_with(|c: char| c.is_ascii_alphabetic() || c == '['))
}

#[test]
fn the_splitter_sees_names_units_and_questions() {
    let seen = words(
        "if a_b is not irregular and c < 20 deg then withheld \"no d here\" else e / 1 kg^2 + 3 - f",
    );
    assert_eq!(seen.names, ["a_b", "c", "e", "f"]);
    assert_eq!(seen.units, ["deg", "kg"]);
    assert_eq!(seen.asked, [("a_b".to_string(), "irregular".to_string())]);
}
