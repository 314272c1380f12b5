//! Reads a finished SVG as a stranger would and looks for what must not be there (tests only).

use super::place::Rect;
use super::text::{Font, Weight};

/// One text element as it stands in the SVG.
#[derive(Debug)]
pub(super) struct Text {
    pub class: String,
    pub content: String,
    pub area: Rect,
}

fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
    rest.split_once('"').map(|(value, _)| value)
}

fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name)
        .unwrap_or_else(|| panic!("no {name} in {tag}"))
        .parse()
        .unwrap()
}

fn unescape(text: &str) -> String {
    let pairs = [
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&apos;", "'"),
        ("&#39;", "'"),
        ("&amp;", "&"),
    ];
    pairs
        .iter()
        .fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
}

/// Every `<text>` with its estimated box.
pub(super) fn texts(svg: &str) -> Vec<Text> {
    let mut found = Vec::new();
    for part in svg.split("<text").skip(1) {
        let (tag, rest) = part.split_once('>').unwrap();
        let (content, _) = rest.split_once("</text>").unwrap();
        let class = attribute(tag, "class").unwrap().to_owned();
        let weight = if class == "title" {
            Weight::Bold
        } else {
            Weight::Normal
        };
        let font = Font {
            size: number(tag, "font-size"),
            weight,
        };
        let content = unescape(content);
        let (x, y, width) = (number(tag, "x"), number(tag, "y"), font.width(&content));
        let left = match attribute(tag, "text-anchor") {
            None => x,
            Some("middle") => x - width / 2.0,
            Some("end") => x - width,
            Some(other) => panic!("anchor {other}"),
        };
        // Capitals and digits reach 0.73 em above the baseline, descenders 0.22 em below.
        let area = Rect {
            left,
            top: y - 0.76 * font.size,
            right: left + width,
            bottom: y + 0.22 * font.size,
        };
        found.push(Text {
            class,
            content,
            area,
        });
    }
    found
}

/// Tags are closed in order, and no attribute holds markup.
pub(super) fn well_formed(svg: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some((before, after)) = rest.split_once('<') {
        if before.contains('>') {
            return Err(format!("stray > in {before}"));
        }
        for entity in before.split('&').skip(1) {
            let name = entity.split_once(';').map(|(name, _)| name);
            if !matches!(name, Some("lt" | "gt" | "amp" | "quot" | "apos" | "#39")) {
                return Err(format!("bare & before {entity}"));
            }
        }
        let (tag, after) = after.split_once('>').ok_or("unclosed tag")?;
        if tag.matches('"').count() % 2 != 0 {
            return Err(format!("odd quotes in {tag}"));
        }
        if let Some(name) = tag.strip_prefix('/') {
            if open.pop() != Some(name) {
                return Err(format!("unexpected </{name}>"));
            }
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap_or(""));
        }
        rest = after;
    }
    if open.is_empty() {
        Ok(())
    } else {
        Err(format!("open tags {open:?}"))
    }
}

/// Problems found, each in words.
pub(super) fn problems(svg: &str, width: f64, height: f64) -> Vec<String> {
    let mut problems = Vec::new();
    problems.extend(well_formed(svg).err());
    for needed in [
        "role=\"img\"",
        "<title id=",
        "<desc id=",
        "prefers-color-scheme:dark",
        "font-family=\"system-ui",
    ] {
        if !svg.contains(needed) {
            problems.push(format!("no {needed}"));
        }
    }
    for word in ["NaN", "inf,", "<script", "-0.0"] {
        if svg.contains(word) {
            problems.push(format!("holds {word}"));
        }
    }
    let texts = texts(svg);
    let view = Rect {
        left: 0.0,
        top: 0.0,
        right: width,
        bottom: height,
    };
    for (index, text) in texts.iter().enumerate() {
        if !view.holds(text.area) {
            problems.push(format!("outside: {text:?}"));
        }
        // Places are written in tenths of a px, so two texts that touch may overlap by one.
        let inner = Rect {
            left: text.area.left + 0.1,
            top: text.area.top + 0.1,
            right: text.area.right - 0.1,
            bottom: text.area.bottom - 0.1,
        };
        for other in texts[index + 1..]
            .iter()
            .filter(|other| other.area.overlaps(inner))
        {
            problems.push(format!("overlap: {text:?} and {other:?}"));
        }
    }
    problems
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checker_finds_what_it_looks_for() {
        let text = |x: f64, words: &str| {
            format!("<text class=\"tick\" x=\"{x}\" y=\"50\" font-size=\"12\">{words}</text>")
        };
        let found = |body: String| problems(&format!("<svg>{body}</svg>"), 100.0, 100.0).join("\n");
        assert!(found(text(95.0, "wide")).contains("outside"));
        assert!(found(text(10.0, "12") + &text(20.0, "34")).contains("overlap"));
        let good = found(text(10.0, "12") + &text(60.0, "34"));
        assert!(!good.contains("overlap") && !good.contains("outside"));
        assert!(well_formed("<svg><g></svg>").is_err());
        assert!(well_formed("<svg>a & b</svg>").is_err());
        assert!(well_formed("<svg a=\"1\"><g/></svg>").is_ok());
    }
}
