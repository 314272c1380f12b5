//! Formulas in LaTeX: the catalogue's, as they stand on a page, and parentheses where the
//! meaning needs them.

use semilunar::formula::{Shown, notation, typeset};
use semilunar::hemodynamics::{What, entry};

fn latex(text: &str, symbol: impl Fn(&str) -> String, reading: &str) -> String {
    let parsed = notation::formula(text, 0).unwrap();
    let operands: Vec<String> = parsed.names.iter().map(|n| symbol(n)).collect();
    let shown = Shown {
        operands: &operands,
        reading,
    };
    typeset(&parsed.formula, shown)
}

#[test]
fn parentheses_stand_where_the_meaning_needs_them() {
    for (text, expected) in [
        ("(a + b) * c", r"\left(a + b\right) \cdot c"),
        ("a + b * c", r"a + b \cdot c"),
        ("a - (b - c)", r"a - \left(b - c\right)"),
        ("a - b - c", r"a - b - c"),
        ("a - (b + c)", r"a - \left(b + c\right)"),
        ("a + (b - c)", r"a + b - c"),
        ("a + -b", r"a + \left(-b\right)"),
        ("a - -b", r"a - \left(-b\right)"),
        ("-(a^2)", r"-{a}^{2}"),
        ("-a^2", r"-{a}^{2}"),
        ("(-a)^2", r"{\left(-a\right)}^{2}"),
        ("(a / b)^c", r"{\left(\frac{a}{b}\right)}^{c}"),
        ("a^b^c", r"{a}^{{b}^{c}}"),
        ("(a^b)^c", r"{\left({a}^{b}\right)}^{c}"),
        ("a / (b / c)", r"\frac{a}{\frac{b}{c}}"),
        ("(a + b) / c", r"\frac{a + b}{c}"),
        ("a * (b / c)", r"a \cdot \frac{b}{c}"),
        ("sqrt(a + b)^2", r"{\sqrt{a + b}}^{2}"),
        ("-(a + b)", r"-\left(a + b\right)"),
        ("-(a * b)", r"-a \cdot b"),
        ("2^a", r"{2}^{a}"),
        ("(2 cm)^2", r"{\left(2\,\mathrm{cm}\right)}^{2}"),
        ("1e-7 * a", r"1\times 10^{-7} \cdot a"),
        ("1e-7^a", r"{\left(1\times 10^{-7}\right)}^{a}"),
        ("(a else b) + c", r"\left(a \;\text{, else }\; b\right) + c"),
        (
            "(if a > b then a else b) * c",
            r"\left(\begin{cases} a & \text{if } a > b \\ b & \text{otherwise} \end{cases}\right) \cdot c",
        ),
        (
            "if (a > 1 or b > 1) and c > 1 then a else b",
            r"\begin{cases} a & \text{if } \left(a > 1 \text{ or } b > 1\right) \text{ and } c > 1 \\ b & \text{otherwise} \end{cases}",
        ),
        (
            "if a > 1 or b > 1 and c <= 1 then a else b",
            r"\begin{cases} a & \text{if } a > 1 \text{ or } b > 1 \text{ and } c \le 1 \\ b & \text{otherwise} \end{cases}",
        ),
        (
            "if not (a > 1 or b is odd) then a else b",
            r"\begin{cases} a & \text{if } \text{not }\left(a > 1 \text{ or } b \text{ is odd}\right) \\ b & \text{otherwise} \end{cases}",
        ),
        (
            "estimated(a) + b",
            r"\left(a \;\text{(estimated)}\right) + b",
        ),
        (
            "clamp(a, b, c)",
            r"\min\left(\max\left(a,\; b\right),\; c\right)",
        ),
        (
            "withheld \"50 % & {no} \\\"",
            r"\text{withheld: 50 \% \& no }",
        ),
    ] {
        assert_eq!(latex(text, str::to_owned, "r"), expected, "{text}");
    }
}

#[test]
fn numbers_put_in_are_kept_apart() {
    let numbers = |name: &str| match name {
        "a" => r"2.05\,\mathrm{cm}".to_owned(),
        "b" => r"-3".to_owned(),
        _ => "7".to_owned(),
    };
    for (text, expected) in [
        ("a^2", r"{\left(2.05\,\mathrm{cm}\right)}^{2}"),
        ("c^2", r"{7}^{2}"),
        ("b^2", r"{\left(-3\right)}^{2}"),
        ("a * b", r"2.05\,\mathrm{cm} \cdot \left(-3\right)"),
        ("c - b", r"7 - \left(-3\right)"),
        ("c + b", r"7 + \left(-3\right)"),
        ("-b", r"-\left(-3\right)"),
    ] {
        assert_eq!(latex(text, numbers, "r"), expected, "{text}");
    }
}

#[test]
fn the_catalogue_reads_as_on_a_blackboard() {
    for (name, expected) in CATALOGUE {
        let found = entry(name).unwrap();
        let (What::Derived(text) | What::GuardedInput(text)) = found.what else {
            panic!("{name} has no formula");
        };
        let symbol = |operand: &str| {
            let entry = entry(operand);
            entry.map_or_else(|| operand.to_owned(), |e| e.symbol.to_owned())
        };
        assert_eq!(latex(text, symbol, found.symbol), *expected, "{name}");
    }
}

const CATALOGUE: &[(&str, &str)] = &[];
