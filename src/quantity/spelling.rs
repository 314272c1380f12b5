//! Spellings of units: the ward's into UCUM, and UCUM into what people read.

/// Whole texts that are no product of atoms.
const WHOLE: &[(&str, &str)] = &[("bpm", "/min"), ("lpm", "L/min")];

/// Atoms of the ward and the UCUM atom each stands for. Common practice; UCUM's own atoms
/// never stand on the left.
const ATOMS: &[(&str, &str)] = &[
    ("mmHg", "mm[Hg]"),
    ("cmH2O", "cm[H2O]"),
    ("beats", "1"),
    ("beat", "1"),
    ("l", "L"),
    ("ml", "mL"),
    ("dl", "dL"),
    ("cc", "mL"),
    ("WU", "[wood'U]"),
    ("dyne", "dyn"),
    ("dynes", "dyn"),
    ("sec", "s"),
    ("hr", "h"),
    ("°", "deg"),
    ("degrees", "deg"),
    ("percent", "%"),
    ("inch", "[in_i]"),
    ("inches", "[in_i]"),
    ("lb", "[lb_av]"),
    ("lbs", "[lb_av]"),
];

const SUPERSCRIPTS: &[(char, char)] = &[
    ('⁰', '0'),
    ('¹', '1'),
    ('²', '2'),
    ('³', '3'),
    ('⁴', '4'),
    ('⁵', '5'),
    ('⁶', '6'),
    ('⁷', '7'),
    ('⁸', '8'),
    ('⁹', '9'),
    ('⁻', '-'),
];

/// UCUM code meant by a text of the ward; a text that is UCUM already comes back as it is.
pub(super) fn to_ucum(text: &str) -> String {
    if let Some((_, code)) = WHOLE.iter().find(|(ward, _)| *ward == text) {
        return (*code).to_owned();
    }
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match SUPERSCRIPTS.iter().find(|(sup, _)| *sup == c) {
            Some((_, digit)) => plain.push(*digit),
            None => match c {
                '·' | '⋅' | '∙' => plain.push('.'),
                // Two code points for one letter: the micro sign and the Greek letter.
                'µ' | 'μ' => plain.push('u'),
                '^' => {}
                c => plain.push(c),
            },
        }
    }
    canonical(&map_atoms(&plain, |atom| {
        ATOMS
            .iter()
            .find(|(ward, _)| *ward == atom)
            .map(|(_, code)| (*code).to_owned())
    }))
}

/// One spelling for codes that mean the same: no `1` before a single denominator. Before
/// several it stays, since readers differ on what a leading slash divides.
pub(super) fn canonical(code: &str) -> String {
    match code.strip_prefix("1/") {
        Some(rest) if !rest.contains(['.', '/']) => format!("/{rest}"),
        _ => code.to_owned(),
    }
}

/// The code with its leading slash written as the division of one that it is.
pub(super) fn explicit(code: &str) -> String {
    if code.starts_with('/') {
        format!("1{code}")
    } else {
        code.to_owned()
    }
}

/// The spelling people read.
pub(super) fn pretty(code: &str) -> String {
    if code == "1" {
        return String::new();
    }
    let shown = map_atoms_and_exponents(
        code,
        |atom| match atom {
            "mm[Hg]" => "mmHg".into(),
            "cm[H2O]" => "cmH₂O".into(),
            "[wood'U]" => "WU".into(),
            "deg" => "°".into(),
            "[in_i]" => "in".into(),
            "[lb_av]" => "lb".into(),
            atom => atom.into(),
        },
        |digits| {
            digits
                .chars()
                .map(|c| {
                    SUPERSCRIPTS
                        .iter()
                        .find(|(_, d)| *d == c)
                        .map_or(c, |s| s.0)
                })
                .collect()
        },
    );
    shown.replace('.', "·")
}

/// The unit in LaTeX, upright.
pub(super) fn latex(code: &str) -> String {
    if code == "1" {
        return String::new();
    }
    let shown = map_atoms_and_exponents(
        code,
        |atom| match atom {
            "%" => r"\%".into(),
            "deg" => r"{}^{\circ}".into(),
            "mm[Hg]" => r"\mathrm{mmHg}".into(),
            "[wood'U]" => r"\mathrm{WU}".into(),
            atom => format!(
                r"\mathrm{{{}}}",
                atom.replace(['[', ']', '_', '\'', '%'], "")
            ),
        },
        |digits| format!("^{{{digits}}}"),
    );
    shown.replace('.', r"\cdot ")
}

fn map_atoms(code: &str, map: impl Fn(&str) -> Option<String>) -> String {
    map_atoms_and_exponents(
        code,
        |atom| map(atom).unwrap_or_else(|| atom.to_owned()),
        str::to_owned,
    )
}

/// Rewrites the atoms and the exponents of a code, leaving operators where they are.
fn map_atoms_and_exponents(
    code: &str,
    atom: impl Fn(&str) -> String,
    exponent: impl Fn(&str) -> String,
) -> String {
    let mut out = String::new();
    let mut factor = String::new();
    let mut in_brackets = false;
    for c in code.chars() {
        match c {
            '[' | '{' => in_brackets = true,
            ']' | '}' => in_brackets = false,
            _ => {}
        }
        if matches!(c, '.' | '/' | '(' | ')') && !in_brackets {
            out.push_str(&map_factor(&factor, &atom, &exponent));
            factor.clear();
            out.push(c);
        } else {
            factor.push(c);
        }
    }
    out.push_str(&map_factor(&factor, &atom, &exponent));
    out
}

fn map_factor(
    factor: &str,
    atom: &impl Fn(&str) -> String,
    exponent: &impl Fn(&str) -> String,
) -> String {
    if factor.chars().all(|c| c.is_ascii_digit()) {
        return factor.to_owned();
    }
    // An atom whose own name ends in a digit (`cmH2O` does not) is matched whole first.
    let base = factor.trim_end_matches(|c: char| c.is_ascii_digit());
    let base = base.strip_suffix(['-', '+']).unwrap_or(base);
    let digits = &factor[base.len()..];
    if digits.is_empty() {
        atom(base)
    } else {
        format!("{}{}", atom(base), exponent(digits))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_read_superscripts_and_files_hold_digits() {
        for (code, shown) in [
            ("cm2", "cm²"),
            ("mm[Hg]", "mmHg"),
            ("dyn.s.m2/cm5", "dyn·s·m²/cm⁵"),
            ("/min", "/min"),
            ("deg", "°"),
            ("1", ""),
        ] {
            assert_eq!(pretty(code), shown);
            if code != "1" {
                assert_eq!(to_ucum(shown), code, "the pretty spelling reads back");
            }
        }
    }

    #[test]
    fn exponents_of_the_ward_in_every_writing() {
        for text in ["cm^2", "cm²", "cm2"] {
            assert_eq!(to_ucum(text), "cm2");
        }
        assert_eq!(to_ucum("s⁻¹"), "s-1");
    }
}
