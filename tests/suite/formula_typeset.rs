//! Formulas in LaTeX: the catalogue's, as they stand on a page, and parentheses where the
//! meaning needs them.

use semilunar::formula::notation::OWN_READING;
use semilunar::formula::{Shown, notation, typeset};
use semilunar::hemodynamics::{What, entry};

fn latex(text: &str, symbol: impl Fn(&str) -> String, reading: &str) -> String {
    let parsed = notation::formula(text, 0).unwrap();
    let operands: Vec<String> = parsed.names.iter().map(|n| symbol(n)).collect();
    let shown = Shown {
        operands: &operands,
        reading,
        taken: &[],
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
            let shown = match operand {
                OWN_READING => Some(found),
                name => entry(name),
            };
            shown.map_or_else(|| operand.to_owned(), |e| e.symbol.to_owned())
        };
        assert_eq!(latex(text, symbol, found.symbol), *expected, "{name}");
    }
}

const CATALOGUE: &[(&str, &str)] = &[
    (
        "body_surface_area",
        r"0.007184\,\mathrm{m}^{2} \cdot {\left(\frac{W}{1\,\mathrm{kg}}\right)}^{0.425} \cdot {\left(\frac{H}{1\,\mathrm{cm}}\right)}^{0.725}",
    ),
    (
        "body_surface_area_mosteller",
        r"1\,\mathrm{m}^{2} \cdot \sqrt{\frac{\frac{H}{1\,\mathrm{cm}} \cdot \frac{W}{1\,\mathrm{kg}}}{3600}}",
    ),
    (
        "body_surface_area_haycock",
        r"0.024265\,\mathrm{m}^{2} \cdot {\left(\frac{W}{1\,\mathrm{kg}}\right)}^{0.5378} \cdot {\left(\frac{H}{1\,\mathrm{cm}}\right)}^{0.3964}",
    ),
    (
        "body_surface_area_gehan_george",
        r"0.0235\,\mathrm{m}^{2} \cdot {\left(\frac{W}{1\,\mathrm{kg}}\right)}^{0.51456} \cdot {\left(\frac{H}{1\,\mathrm{cm}}\right)}^{0.42246}",
    ),
    (
        "body_surface_area_boyd",
        r"0.0003207\,\mathrm{m}^{2} \cdot {\left(\frac{H}{1\,\mathrm{cm}}\right)}^{0.3} \cdot {\left(\frac{W}{1\,\mathrm{g}}\right)}^{0.7285 - \frac{0.0188 \cdot \ln\left(\frac{W}{1\,\mathrm{g}}\right)}{\ln\left(10\right)}}",
    ),
    (
        "lvot_diameter_from_body_size",
        r"\begin{cases} \begin{array}{l} \text{withheld: the estimate from body size is} \\ \text{for adults} \end{array} & \text{if } \text{age group} \text{ is child} \\ 1.8\,\mathrm{cm} \;\text{(estimated)} & \text{if } \mathrm{BSA} < 1.8\,\mathrm{m}^{2} \\ \frac{1\,\mathrm{cm} \cdot \mathrm{BSA}}{1\,\mathrm{m}^{2}} \;\text{(estimated)} & \text{if } \mathrm{BSA} \le 2.2\,\mathrm{m}^{2} \\ 2.2\,\mathrm{cm} \;\text{(estimated)} & \text{otherwise} \end{cases}",
    ),
    (
        "lvot_diameter",
        r"\begin{cases} D_{\mathrm{est}} & \text{if } D_{\mathrm{LVOT}} \text{ is unobtainable} \\ D_{\mathrm{LVOT}} & \text{otherwise} \end{cases}",
    ),
    (
        "lvot_area",
        r"\pi \cdot {\left(\frac{D_{\mathrm{LVOT}}}{2}\right)}^{2}",
    ),
    ("velocity_underestimate", r"1 - \cos\left(\theta\right)"),
    (
        "lvot_vti",
        r"\begin{cases} \begin{array}{l} \text{withheld: the signal is poor: record the} \\ \text{envelope again} \end{array} & \text{if } \text{signal} \text{ is poor} \\ \mathrm{VTI}_{\mathrm{LVOT}} & \text{otherwise} \end{cases}",
    ),
    (
        "stroke_distance",
        r"\begin{cases} \begin{array}{l} \text{withheld: the largest beat is for} \\ \text{regular rhythm: in irregular rhythm take} \\ \text{the mean of the beats} \end{array} & \text{if } \text{rhythm} \text{ is irregular} \text{ and } \mathrm{VTI}_{\mathrm{LVOT}} \text{ is largest} \\ \begin{array}{l} \text{withheld: irregular rhythm needs at} \\ \text{least 3 beats: give each beat} \end{array} & \text{if } \text{rhythm} \text{ is irregular} \text{ and } n_{\text{beats}}\left(\mathrm{VTI}_{\mathrm{LVOT}}\right) < 3 \\ \mathrm{VTI}_{\mathrm{LVOT}} & \text{otherwise} \end{cases}",
    ),
    (
        "minute_distance",
        r"\mathrm{VTI}_{\mathrm{flow}} \cdot \mathrm{HR}",
    ),
    (
        "stroke_volume",
        r"A_{\mathrm{LVOT}} \cdot \mathrm{VTI}_{\mathrm{flow}}",
    ),
    ("stroke_volume_index", r"\frac{\mathrm{SV}}{\mathrm{BSA}}"),
    ("cardiac_output", r"\mathrm{SV} \cdot \mathrm{HR}"),
    ("cardiac_index", r"\frac{\mathrm{CO}}{\mathrm{BSA}}"),
    (
        "pulse_pressure",
        r"\begin{cases} \begin{array}{l} \text{withheld: systolic is not above} \\ \text{diastolic pressure: check both readings} \end{array} & \text{if } \mathrm{SBP} \le \mathrm{DBP} \\ \mathrm{SBP} - \mathrm{DBP} & \text{otherwise} \end{cases}",
    ),
    ("mean_pressure", r"\mathrm{DBP} + \frac{\mathrm{PP}}{3}"),
    (
        "systemic_vascular_resistance",
        r"\begin{cases} \begin{array}{l} \text{withheld: central venous is not below} \\ \text{mean arterial pressure: check both} \\ \text{readings} \end{array} & \text{if } \mathrm{CVP} \ge \mathrm{MAP} \\ \frac{\mathrm{MAP} - \mathrm{CVP}}{\mathrm{CO}} & \text{otherwise} \end{cases}",
    ),
    (
        "systemic_vascular_resistance_index",
        r"\mathrm{SVR} \cdot \mathrm{BSA}",
    ),
    (
        "total_peripheral_resistance",
        r"\frac{\mathrm{MAP}}{\mathrm{CO}}",
    ),
    (
        "stroke_volume_per_pulse_pressure",
        r"\frac{\mathrm{SV}}{\mathrm{PP}}",
    ),
    (
        "arterial_elastance",
        r"\frac{0.9 \cdot \mathrm{SBP}}{\mathrm{SV}}",
    ),
    ("cardiac_power_output", r"\mathrm{MAP} \cdot \mathrm{CO}"),
    ("cardiac_power_index", r"\frac{\mathrm{CPO}}{\mathrm{BSA}}"),
    (
        "predicted_body_weight",
        r"\begin{cases} \text{withheld: the formula is for adults} & \text{if } \text{age group} \text{ is child} \\ \begin{array}{l} \text{withheld: the formula is not used under} \\ \text{130 cm} \end{array} & \text{if } H < 130\,\mathrm{cm} \\ 45.5\,\mathrm{kg} + 0.91\,\mathrm{kg} \cdot \left(\frac{H}{1\,\mathrm{cm}} - 152.4\right) & \text{if } \text{sex} \text{ is female} \\ 50\,\mathrm{kg} + 0.91\,\mathrm{kg} \cdot \left(\frac{H}{1\,\mathrm{cm}} - 152.4\right) & \text{if } \text{sex} \text{ is male} \\ \begin{array}{l} \text{withheld: sex is not stated, and the} \\ \text{formula differs by sex} \end{array} & \text{otherwise} \end{cases}",
    ),
    (
        "fluid_per_weight",
        r"\begin{cases} \frac{V_{\mathrm{fluid}}}{W_{\mathrm{adm}}} & \text{if } \text{weight basis} \text{ is admission} \\ \frac{V_{\mathrm{fluid}}}{W_{\mathrm{pred}}} & \text{if } \text{weight basis} \text{ is predicted} \\ \frac{V_{\mathrm{fluid}}}{W_{\mathrm{ideal}}} & \text{if } \text{weight basis} \text{ is ideal} \\ \frac{V_{\mathrm{fluid}}}{W} & \text{if } \text{weight basis} \text{ is actual} \\ \begin{array}{l} \text{withheld: the weight basis is not} \\ \text{stated: actual, admission, predicted or} \\ \text{ideal} \end{array} & \text{otherwise} \end{cases}",
    ),
];
