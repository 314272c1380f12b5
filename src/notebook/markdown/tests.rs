use proptest::prelude::*;

use super::*;

/// After the CommonMark specification 0.31.2 (ATX headings, emphasis, autolinks, fenced code), with
/// our identifiers and `rel`.
#[test]
fn commonmark_becomes_html() {
    assert_eq!(to_html("# foo"), "<h1 id=\"foo\">foo</h1>\n");
    assert_eq!(to_html("*foo bar*"), "<p><em>foo bar</em></p>\n");
    assert_eq!(
        to_html("<http://foo.bar.baz>"),
        "<p><a href=\"http://foo.bar.baz\" rel=\"noreferrer\">http://foo.bar.baz</a></p>\n"
    );
    assert_eq!(
        to_html("```\n<\n >\n```"),
        "<pre><code>&lt;\n &gt;\n</code></pre>\n"
    );
}

#[test]
fn raw_html_is_shown_as_text() {
    assert_eq!(
        to_html("a <b onclick=x>c</b>"),
        "<p>a &lt;b onclick=x&gt;c&lt;/b&gt;</p>\n"
    );
    let block = to_html("<script>\nalert(1)\n</script>\n\nafter");
    assert!(block.starts_with("<p>&lt;script&gt;\nalert(1)"), "{block}");
    assert!(to_html("<!-- note -->").contains("&lt;!-- note"));
}

#[test]
fn links_go_to_known_schemes_only() {
    for allowed in [
        "https://a.org/?x=1&y=2",
        "HTTP://a.org",
        "mailto:a@b.org",
        "#flow",
    ] {
        let html = to_html(&format!("[text]({allowed})"));
        assert!(html.contains("<a href="), "{html}");
    }
    for refused in [
        "javascript:alert(1)",
        "JaVaScRiPt:alert(1)",
        "data:text/html,x",
        "file:///etc/passwd",
        "//a.org",
        "other.html",
        "vbscript:x",
        "&#106;avascript:alert(1)",
        "java&#10;script:x",
        "",
    ] {
        assert_eq!(
            to_html(&format!("[text](<{refused}>)")),
            "<p>text</p>\n",
            "{refused}"
        );
    }
    let mail = to_html("<a@b.org>");
    assert!(mail.contains("href=\"mailto:a@b.org\""), "{mail}");
    let quoted = to_html("[t](https://a.org/\"onclick=\"x 'a \"title\"')");
    assert!(!quoted.contains("\"onclick"), "{quoted}");
}

#[test]
fn images_come_from_the_text_itself() {
    assert_eq!(
        to_html("![a *picture*](data:image/png;base64,AAAA)"),
        "<p><img src=\"data:image/png;base64,AAAA\" alt=\"a picture\"></p>\n"
    );
    for refused in [
        "https://a.org/x.png",
        "x.png",
        "data:text/html,x",
        "data:image/pngx,",
        "attachment:a.png",
    ] {
        assert_eq!(
            to_html(&format!("![a <b>]({refused})")),
            "<p>a &lt;b&gt;</p>\n",
            "{refused}"
        );
    }
    assert_eq!(
        to_html("![outer ![inner](a.png) end](b.png)"),
        "<p>outer inner end</p>\n"
    );
}

#[test]
fn formulas_become_mathml() {
    let html = to_html("Area $\\pi r^2$ and\n\n$$\\frac{a}{b}$$");
    assert!(html.contains("<math display=\"inline\">"), "{html}");
    assert!(
        html.contains("<span class=\"formula\"><math display=\"block\">"),
        "{html}"
    );
    assert_eq!(
        to_html("$\\nosuch<b>$"),
        "<p><code class=\"latex\">\\nosuch&lt;b&gt;</code></p>\n"
    );
    assert_eq!(to_html("from $5 to $6"), "<p>from $5 to $6</p>\n");
}

#[test]
fn tables_have_scopes_and_a_box_to_scroll_in() {
    let html = to_html("| a | b |\n|---|--:|\n| 1 | 2 |");
    assert_eq!(
        html,
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Table\"><table><thead><tr>\
         <th scope=\"col\">a</th><th scope=\"col\" class=\"right\">b</th></tr></thead><tbody>\n\
         <tr><td>1</td><td class=\"right\">2</td></tr>\n</tbody></table></div>\n"
    );
}

#[test]
fn headings_keep_their_level_and_have_unique_names() {
    let mut page = Markdown::new();
    assert_eq!(
        page.to_html("## Flow & `SV` $x$"),
        "<h2 id=\"flow-sv-x\">Flow &amp; <code>SV</code> <math display=\"inline\"><mi>x</mi></math></h2>\n"
    );
    assert!(page.to_html("# A\n# A\n# …").contains("id=\"a-2\""));
    assert!(page.to_html("# A\n# Größe").contains("id=\"a-3\""));
    assert!(page.to_html("# !").contains("id=\"section-2\""));
}

/// Nothing that could run, load or leave the page, whatever the text holds: every `<` in the
/// result begins one of the elements that we write.
fn only_known_elements(html: &str) -> bool {
    const KNOWN: [&str; 28] = [
        "a",
        "blockquote",
        "br",
        "code",
        "div",
        "em",
        "h1",
        "h2",
        "h3",
        "h4",
        "h5",
        "h6",
        "hr",
        "img",
        "li",
        "math",
        "ol",
        "p",
        "pre",
        "span",
        "strong",
        "table",
        "tbody",
        "td",
        "th",
        "thead",
        "tr",
        "ul",
    ];
    html.split('<').skip(1).all(|tag| {
        let tag = tag.trim_start_matches('/');
        let end = tag
            .find(|c: char| !c.is_ascii_alphanumeric())
            .unwrap_or(tag.len());
        let name = &tag[..end];
        KNOWN.contains(&name) || (name.starts_with('m') && name.len() <= 10)
    })
}

fn fragment() -> impl Strategy<Value = String> {
    let pieces = [
        "# ",
        "\n",
        "\n\n",
        "- ",
        "1. ",
        "> ",
        "*",
        "**",
        "_",
        "`",
        "```",
        "[",
        "](",
        ")",
        "![",
        "<",
        ">",
        "<script>",
        "</p>",
        "<!--",
        "-->",
        "javascript:",
        "https://a.org",
        "data:image/png,",
        "\"",
        "'",
        " onerror=",
        "$",
        "$$",
        "\\frac",
        "{",
        "}",
        "|",
        "|---|",
        "&lt;",
        "&#60;",
        "a",
        "    ",
        "<a@b.c>",
        "<img src=x>",
        "\\",
        "]: ",
        "---",
        "<style>",
        "<svg/onload=a>",
        "ü",
    ];
    proptest::collection::vec(proptest::sample::select(pieces.to_vec()), 0..30)
        .prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    #[test]
    fn nothing_foreign_reaches_the_page(text in fragment()) {
        let html = to_html(&text);
        prop_assert!(only_known_elements(&html), "{html}");
        // Inside a tag, that is: as text it is harmless.
        let in_tags = html.split('<').skip(1).filter_map(|tag| tag.split('>').next());
        for tag in in_tags {
            prop_assert!(!tag.contains("=\"javascript:"), "{html}");
        }
    }
}

#[test]
fn long_and_nested_texts_are_converted() {
    for piece in [
        "[", "> ", "- ", "*a ", "![", "<", "`", "$", "# a\n", "[a](b)", "|",
    ] {
        let text = piece.repeat(20_000);
        assert!(only_known_elements(&to_html(&text)), "{piece}");
    }
}
