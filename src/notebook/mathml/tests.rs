use proptest::prelude::*;

use super::*;

fn block(latex: &str) -> String {
    to_mathml(latex, MathLayout::Block).unwrap()
}

/// Element by element after the MathML Core specification (W3C): `mfrac` has numerator and
/// denominator, `msup` base and superscript.
#[test]
fn a_formula_of_the_trade_becomes_mathml_core() {
    assert_eq!(
        block(r"\frac{\pi d^2}{4}"),
        "<math display=\"block\"><mfrac><mrow><mi>π</mi><msup><mi>d</mi><mn>2</mn></msup></mrow>\
         <mrow><mn>4</mn></mrow></mfrac></math>"
    );
    let resistance = block(
        r"\mathit{SVR} = 80\,\frac{\mathit{MAP} - \mathit{CVP}}{\mathit{CO}}\ \mathrm{dyn\cdot s\cdot cm^{-5}}",
    );
    assert!(resistance.contains("<mfrac>"), "{resistance}");
    assert!(to_mathml(r"\sqrt{a^2+b^2}", MathLayout::Inline).is_ok());
    for latex in [
        r"\begin{aligned} a &= b \\ c &= d \end{aligned}",
        r"\begin{cases} 1 & x > 0 \\ 0 & \text{otherwise} \end{cases}",
        r"\left( \sum_{i=1}^{n} x_i \right)",
        r"\bar{x} \pm k\,u(x), \quad \hat{y} \approx \overline{ab}",
        r"17.8\ \text{cm} \times 3.30\ \text{cm}^2 = 58.7\ \text{mL}",
        r"a < b \land b > c",
    ] {
        block(latex);
    }
}

#[test]
fn signs_of_comparison_are_escaped() {
    assert!(block("a < b").contains("<mo>&lt;</mo>"));
    assert!(block(r"\text{a & <b>}").contains("a &amp; &lt;b&gt;"));
}

#[test]
fn a_command_for_a_space_makes_a_space() {
    assert!(block(r"5\ \text{cm}").contains("<mtext>&nbsp;</mtext>"));
    assert!(!block(r"5\ \text{ cm }").contains("&amp;"));
}

#[test]
fn what_cannot_be_set_is_shown_as_written() {
    assert_eq!(
        to_html(r"\frac{<b>", MathLayout::Block),
        "<code class=\"latex\">\\frac{&lt;b&gt;</code>"
    );
    assert!(matches!(
        to_mathml(r"\nosuchcommand", MathLayout::Inline),
        Err(MathError::Unreadable { .. })
    ));
}

/// The converter writes the names of functions unescaped; the list of what is allowed holds.
#[test]
fn markup_in_a_formula_does_not_pass() {
    for latex in [
        r"\operatorname{<script>alert(1)</script>}",
        r#"\operatorname{<img src=x onerror=alert(1)>}"#,
        r#"\operatorname{<mi onclick="x">}"#,
        r"\operatorname{</math>}",
        r"\operatorname{<!-- }",
        r"\operatorname{<mi>}",
    ] {
        let shown = to_html(latex, MathLayout::Inline);
        assert!(
            shown.starts_with("<code") && !shown[5..].contains("<s") && !shown.contains("<i"),
            "{shown}"
        );
    }
}

#[test]
fn a_formula_cannot_cover_the_page() {
    assert!(matches!(
        to_mathml(r"a\hspace{-500em}b", MathLayout::Inline),
        Err(MathError::NotAllowed { .. })
    ));
}

#[test]
fn colors_are_dropped() {
    let formula = block(r"\color{red} x + 1");
    assert!(!formula.contains("style"), "{formula}");
}

#[test]
fn definitions_are_refused() {
    assert_eq!(
        to_mathml(r"\def\a{\a\a}\a", MathLayout::Inline),
        Err(MathError::Defines {
            command: "def".into()
        })
    );
    // A command that only begins like one of them is not one.
    assert!(to_mathml(r"a \leftarrow b \le c", MathLayout::Inline).is_ok());
}

#[test]
fn length_and_nesting_are_bounded() {
    let long = "x".repeat(LONGEST_FORMULA + 1);
    assert!(matches!(
        to_mathml(&long, MathLayout::Inline),
        Err(MathError::TooLong { bytes: 4001 })
    ));
    for deep in [
        format!("{} x", r"\hat".repeat(900)),
        r"\overset a".repeat(360) + " x",
        format!("{}x{}", "{".repeat(900), "}".repeat(900)),
    ] {
        assert_eq!(to_mathml(&deep, MathLayout::Block), Err(MathError::TooDeep));
    }
    for within in [
        format!("{} x", r"\sqrt".repeat(40)),
        format!("{}x{}", r"\sqrt{".repeat(40), "}".repeat(40)),
    ] {
        assert!(to_mathml(&within, MathLayout::Block).is_ok());
    }
}

/// These nest without braces or in brackets; they may fail, but only with an error.
#[test]
fn nesting_of_other_kinds_does_not_exhaust_the_stack() {
    for piece in [
        r"\left(",
        r"\sqrt[",
        r"\begin{matrix}",
        "x^",
        "x_'",
        "{}",
        "%\n",
        r"\overset a",
        r"\\",
    ] {
        let latex = piece.repeat(LONGEST_FORMULA / piece.len());
        let shown = to_html(&latex, MathLayout::Inline);
        assert!(shown.ends_with("</code>") || shown.ends_with("</math>"));
    }
}

/// Whether the converter panicked: that is caught, and told in these words.
fn gave_up(latex: &str, layout: MathLayout) -> bool {
    matches!(to_mathml(latex, layout), Err(MathError::Unreadable { message }) if message.contains("gave up"))
}

fn fragment() -> impl Strategy<Value = String> {
    let pieces = [
        "\\frac",
        "\\sqrt",
        "{",
        "}",
        "^",
        "_",
        "&",
        "\\\\",
        "x",
        "1",
        "\\left(",
        "\\right)",
        "\\begin{array}{|c||r|}",
        "\\end{array}",
        "\\begin{aligned}",
        "\\end{aligned}",
        "\\begin{cases}",
        "\\end{cases}",
        "\\hline",
        "\\text{",
        "\\operatorname{",
        "<",
        ">",
        "%",
        "\n",
        "$",
        "'",
        "\\not",
        "\\middle|",
        "[",
        "]",
        "#1",
        "~",
        "\\color{red}",
        "\\mathbb",
        "\\kern",
        "1em",
        "\\limits",
        "\\sum",
        "\\bar",
        "\\overset",
        "ü",
        "\\",
        "\\big",
        "\\tag{1}",
        "\\substack",
        "\\begin{matrix}",
        "\\end{matrix}",
        "\\hspace",
        "\\unicode",
        "\u{338}",
        "\\cr",
        "\\genfrac",
        "\\mathrm",
        "\\stackrel",
        "\\begin{alignat}{1}",
        "\\end{alignat}",
        "\\begin{split}",
        "\\end{split}",
        "\\begin{subarray}{l}",
        "\\end{subarray}",
        "\\rule",
        "\\begin{multline}",
        "\\end{multline}",
        "\"",
        "&amp;",
        "<mi>",
        "</mi>",
        "\\hdashline",
        "\\begin{array}{",
        "\\begin",
        "\\end",
        "\\kern-1em",
        "\\;",
        "\\'",
        "\\=",
        "\\@",
    ];
    proptest::collection::vec(proptest::sample::select(pieces.to_vec()), 0..24)
        .prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn no_formula_panics_or_leaves_the_list(latex in fragment()) {
        prop_assert!(!gave_up(&latex, MathLayout::Block));
        let shown = to_html(&latex, MathLayout::Block);
        let is_code = shown.starts_with("<code class=\"latex\">");
        prop_assert!(is_code || shown.starts_with("<math display=\"block\">"));
        prop_assert!(is_code || allow::only_mathml(&shown).as_ref() == Ok(&shown));
    }

    #[test]
    fn no_text_panics(latex in "\\PC{0,60}") {
        prop_assert!(!gave_up(&latex, MathLayout::Inline));
        let shown = to_html(&latex, MathLayout::Inline);
        prop_assert!(shown.ends_with("</code>") || shown.ends_with("</math>"));
    }
}
