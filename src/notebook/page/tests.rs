use super::*;
use crate::notebook::markdown::Markdown;
use crate::notebook::mathml::{MathLayout, to_html as formula};

/// An invented exam, with every class that the style covers.
fn sample() -> Page {
    let mut texts = Markdown::new();
    let mut page = Page::new("Flow before and after a passive leg raise");
    let mut add = |block| page.push(block);
    add(Block::Markdown(texts.to_html(INTRODUCTION)));
    add(Block::Output(Output::new("readings", "…", CELLS)));
    add(Block::Source(
        "lvot_diameter = 2.05 cm (u = 1 mm)\nlvot_vti      = beats(17.8, 18.4, 18.1) cm\n\
         heart_rate    = 96 /min\nshow stroke_volume, cardiac_output # a < b & \"c\""
            .to_owned(),
    ));
    add(Block::Markdown(texts.to_html(METHOD)));
    let explanation = EXPLANATION
        .replace("FORMULA", &formula(r"\mathit{SV} = \frac{\pi d^2}{4}\,\mathit{VTI}", MathLayout::Block))
        .replace("NUMBERS", &formula(
            r"\begin{aligned}\mathit{SV} &= \frac{\pi \times (2.05\ \text{cm})^2}{4} \times 18.1\ \text{cm} \\ &= 59.7\ \text{mL}\end{aligned}",
            MathLayout::Block,
        ));
    add(Block::Output(Output::new("explain", "…", explanation)));
    add(Block::Output(Output::new("chart", "…", chart())));
    add(Block::Output(Output::new("cohort", "…", COHORT)));
    add(Block::Output(Output::error(
        "cell 4, line 1: `lvot_area + lvot_vti` adds cm2 to cm\n  |\n1 | x [cm] = lvot_area + lvot_vti\n  |          ^^^^^^^^^^^^^^^^^^^^",
        "",
    )));
    page
}

const INTRODUCTION: &str = "# Flow before and after a passive leg raise\n\n\
    The exam is **invented**: no patient stands behind these numbers. Three beats were traced at each \
    step; see the [method](#method) and the guideline it follows \
    ([ASE](https://www.asecho.org/guidelines)).\n\n\
    > Hold the sample volume in the same place for both recordings.\n\n## Readings";

const METHOD: &str = "## Method\n\nStroke volume is the area of the outflow tract times the \
    velocity-time integral, $\\mathit{SV} = A \\cdot \\mathit{VTI}$, and the area comes from the diameter $d$:\n\n\
    $$A = \\frac{\\pi d^2}{4}$$\n\n### Where the error comes from\n\n\
    1. The diameter counts twice.\n2. Beats scatter, more so in an irregular rhythm.\n\n\
    | Reading | Typical standard uncertainty | Source of the value in this invented example |\n|:--|--:|:--|\n\
    | Diameter | 1 mm | repeated tracings |\n| Integral | 0.17 cm | scatter of three beats |\n\n\
    ```\nlvot_area = 3.30 cm2\n```";

const CELLS: &str = r#"<table class="cells"><caption>Readings and results at rest</caption>
<thead><tr><th scope="col">Name</th><th scope="col">Value</th><th scope="col">Unit</th><th scope="col">How known</th><th scope="col">Remarks</th></tr></thead>
<tbody>
<tr><th scope="row">Outflow tract diameter</th><td>2.05 ± 0.10</td><td>cm</td><td><span class="origin measured">measured</span></td><td></td></tr>
<tr><th scope="row">Velocity-time integral</th><td>18.10 ± 0.17</td><td>cm</td><td><span class="origin measured">measured</span></td><td>mean of 3 beats</td></tr>
<tr><th scope="row">Central venous pressure</th><td>8</td><td>mmHg</td><td><span class="origin assumed">assumed</span></td><td>uncertainty not stated</td></tr>
<tr><th scope="row">Body surface area</th><td>1.94</td><td>m²</td><td><span class="origin estimated">estimated</span></td><td>from height and weight</td></tr>
<tr><th scope="row">Stroke volume</th><td>59.7 ± 5.9</td><td>mL</td><td><span class="origin measured">measured</span></td><td>the diameter accounts for 99 % of the variance</td></tr>
<tr><th scope="row">Cardiac output</th><td>5.74</td><td>L/min</td><td><span class="state known">known</span></td><td>at least ± 0.56</td></tr>
<tr><th scope="row">Systemic vascular resistance index</th><td><span class="state missing">missing</span></td><td></td><td></td><td>waits for mean pressure</td></tr>
<tr><th scope="row">Change of stroke volume</th><td><span class="state faulty">faulty</span></td><td></td><td></td><td>divides by zero: the stroke volume before is 0 mL</td></tr>
</tbody></table>
<ul class="advisories">
<li class="caution"><b>Caution</b> The rhythm is irregular: average at least five beats. <cite>common practice, no source</cite></li>
<li class="note"><b>Note</b> The uncertainty is a lower bound: one reading states none.</li>
</ul>"#;

const EXPLANATION: &str = r#"<dl class="explain">
<dt>Formula</dt><dd><div class="formula">FORMULA</div></dd>
<dt>With numbers</dt><dd><div class="formula">NUMBERS</div></dd>
<dt>Origin</dt><dd><span class="origin measured">measured</span>, the worst of what it uses</dd>
<dt>Assumes</dt><dd>a round outflow tract, and flow along the beam</dd>
<dt>Usual range</dt><dd>60 to 100 mL at rest, in adults (invented here)</dd>
</dl>"#;

const COHORT: &str = r#"<div class="counts"><span><b>120</b> rows read</span><span><b>114</b> used</span><span><b>6</b> set aside</span></div>
<div class="scroll" tabindex="0" role="region" aria-label="First rows of the cohort"><table><thead><tr><th scope="col">Row</th><th scope="col" class="number">Diameter (cm)</th><th scope="col" class="number">Integral (cm)</th><th scope="col" class="number">Heart rate (/min)</th><th scope="col" class="number">Stroke volume (mL)</th><th scope="col" class="number">Cardiac output (L/min)</th></tr></thead>
<tbody><tr><th scope="row">1</th><td class="number">2.05</td><td class="number">18.1</td><td class="number">96</td><td class="number">59.7</td><td class="number">5.74</td></tr>
<tr><th scope="row">2</th><td class="number">1.90</td><td class="number">21.4</td><td class="number">71</td><td class="number">60.7</td><td class="number">4.31</td></tr></tbody></table></div>"#;

/// A drawing as the chart module makes them: fixed size, light ground.
fn chart() -> String {
    let points: String = (0..7)
        .map(|i| {
            format!(
                r##"<circle cx="{}" cy="{}" r="5" fill="#0d5c63"/>"##,
                90 + i * 80,
                240 - i * i * 4 - (i % 3) * 9
            )
        })
        .collect();
    format!(
        r##"<figure class="chart"><svg xmlns="http://www.w3.org/2000/svg" width="640" height="320" viewBox="0 0 640 320" role="img" aria-label="Stroke volume by step"><path d="M60 20V280H620" fill="none" stroke="#444"/>{points}<text x="60" y="304" font-family="sans-serif" font-size="13" fill="#444">step</text><text x="8" y="16" font-family="sans-serif" font-size="13" fill="#444">stroke volume (mL)</text></svg><figcaption>Stroke volume over seven steps of one invented exam.</figcaption></figure>"##
    )
}

/// The page as a file, for people to look at: `SAMPLE_PAGE=file.html cargo test sample_page`.
#[test]
fn the_sample_page_holds_every_class_of_the_style() {
    let html = sample().to_html();
    if let Ok(path) = std::env::var("SAMPLE_PAGE") {
        std::fs::write(path, &html).unwrap();
    }
    let (style, body) = html.split_once("</style>").unwrap();
    for class in [
        "cells",
        "missing",
        "faulty",
        "known",
        "measured",
        "estimated",
        "assumed",
        "advisories",
        "note",
        "caution",
        "chart",
        "formula",
        "counts",
        "explain",
        "diagnostic",
        "scroll",
        "number",
    ] {
        assert!(body.contains(class), "the sample lacks {class}");
        let selector = format!(".{class}");
        // These three are the plain case of their group.
        let plain = ["measured", "note", "known"].contains(&class);
        assert!(
            plain || style.contains(&selector),
            "the style lacks {class}"
        );
    }
}

#[test]
fn the_page_loads_nothing() {
    let html = sample().to_html();
    for loading in [
        "<link",
        "<script",
        "src=",
        "@import",
        "url(",
        "@font-face",
        "<iframe",
        "<object",
        "<base",
    ] {
        assert!(!html.contains(loading), "{loading}");
    }
    assert!(html.contains(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src \
         'unsafe-inline'; img-src data:; script-src 'none'; base-uri 'none'; form-action 'none'\">"
    ));
}

#[test]
fn the_same_page_gives_the_same_bytes() {
    assert_eq!(sample().to_html(), sample().to_html());
}

#[test]
fn titles_sources_and_texts_are_escaped() {
    let mut page = Page::new("</title><script>a</script>").in_language("de\"x");
    page.push(Block::Source("</code><script>b</script>".to_owned()));
    page.push(Block::Output(Output::new(
        "\"><script>",
        "<script>c</script>",
        "",
    )));
    page.push(Block::Output(Output::error("<script>d</script>", "")));
    let html = page.to_html();
    assert!(!html.contains("<script"), "{html}");
    assert!(html.contains("<html lang=\"de&quot;x\">"));
    assert!(html.contains("<h1>&lt;/title&gt;&lt;script&gt;"));
}

#[test]
fn there_is_one_main_heading_and_one_caution() {
    let html = sample().to_html();
    assert_eq!(html.matches("<h1").count(), 1);
    let empty = Page::new("Empty").to_html();
    assert!(empty.contains("<main><h1>Empty</h1></main>"));
    assert!(empty.contains(&format!("<footer><p>{CAUTION}</p></footer>")));
    assert!(
        !CAUTION.contains(['"', '<', '\\', '\n']),
        "it stands in the style too"
    );
}

#[test]
fn sources_stand_closed_and_errors_keep_their_columns() {
    let html = sample().to_html();
    assert!(html.contains("<details class=\"source\"><summary>How this was computed</summary>"));
    assert!(html.contains("# a &lt; b &amp; &quot;c&quot;"));
    assert!(html.contains("<pre class=\"diagnostic\" tabindex=\"0\">cell 4, line 1"));
    assert!(html.contains("  |          ^^^^"));
}

#[test]
fn an_output_without_html_shows_its_drawing_or_its_text() {
    let mut page = Page::new("a");
    page.push(Block::Output(
        Output::new("d", "a line", "").with_svg("<svg></svg>"),
    ));
    page.push(Block::Output(Output::new("", "plain", "")));
    let html = page.to_html();
    assert!(html.contains("<div id=\"output-d\" class=\"output\"><figure class=\"chart\"><svg></svg><figcaption>a line</figcaption></figure></div>"), "{html}");
    assert!(html.contains("<div class=\"output\"><pre tabindex=\"0\">plain</pre></div>"));
}

#[test]
fn a_script_runs_only_by_its_hash() {
    let script = InlineScript::new("alert('Hello, world.');").unwrap();
    let html = Page::new("a").with_script(script).to_html();
    assert!(html.contains("script-src 'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng=';"));
    assert!(html.contains("<script>alert('Hello, world.');</script></body>"));
}

/// Contrast of two sRGB colors after WCAG 2.2 (relative luminance; contrast ratio).
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |color: &str| {
        let channel = |at: usize| {
            let value = f64::from(u8::from_str_radix(&color[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// WCAG 2.2, success criterion 1.4.3: at least 4.5 for text, in the light and the dark face.
#[test]
fn text_has_enough_contrast() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    let faces: Vec<&str> = STYLE.split(":root {").skip(1).take(2).collect();
    assert_eq!(faces.len(), 2);
    for face in faces {
        let color = |name: &str| {
            let start = face.find(&format!("--{name}: #")).unwrap() + name.len() + 4;
            &face[start..start + 7]
        };
        for (ink, ground) in [
            ("ink", "paper"),
            ("ink", "tint"),
            ("ink", "caution-tint"),
            ("ink", "fault-tint"),
            ("quiet", "paper"),
            ("quiet", "tint"),
            ("accent", "paper"),
            ("accent", "tint"),
            ("caution", "caution-tint"),
            ("fault", "paper"),
        ] {
            let ratio = contrast(color(ink), color(ground));
            assert!(ratio >= 4.5, "{ink} on {ground}: {ratio:.2}");
        }
    }
}
