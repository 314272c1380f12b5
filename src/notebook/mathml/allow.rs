//! The list of what formula markup may hold. Everything passes a small reader of tags and is
//! written anew, so that nothing reaches a page that the reader did not understand.

use super::{DEEPEST, MathError};

/// Elements of MathML Core that formulas need; none of them loads, links or runs anything.
const ELEMENTS: [&str; 23] = [
    "math",
    "merror",
    "mfrac",
    "mi",
    "mn",
    "mo",
    "mover",
    "mpadded",
    "mphantom",
    "mroot",
    "mrow",
    "mspace",
    "msqrt",
    "mstyle",
    "msub",
    "msubsup",
    "msup",
    "mtable",
    "mtd",
    "mtext",
    "mtr",
    "munder",
    "munderover",
];

/// Larger lengths are refused, in their unit: a formula could cover other parts of a page.
const LARGEST_LENGTH: f64 = 30.0;

/// Rewrites markup so that it holds allowed elements and attributes only.
pub(super) fn only_mathml(markup: &str) -> Result<String, MathError> {
    let mut writer = Writer::default();
    let mut rest = markup;
    while !rest.is_empty() {
        let start = rest.find('<').unwrap_or(rest.len());
        writer.text(&rest[..start]);
        rest = &rest[start..];
        if rest.is_empty() {
            break;
        }
        rest = match rest[1..].chars().next() {
            Some('/') => writer.close(&rest[2..])?,
            Some(c) if c.is_ascii_alphabetic() => writer.open(&rest[1..])?,
            Some('!' | '?') => return Err(not_allowed(&rest[..2])),
            _ => {
                writer.text("<");
                &rest[1..]
            }
        };
    }
    writer.finish()
}

#[derive(Default)]
struct Writer {
    out: String,
    open: Vec<&'static str>,
}

impl Writer {
    fn text(&mut self, text: &str) {
        let mut rest = text;
        while let Some(c) = rest.chars().next() {
            let mut taken = c.len_utf8();
            match c {
                '&' => match known_entity(rest) {
                    Some(entity) => {
                        self.out.push_str(entity);
                        taken = entity.len();
                    }
                    None => self.out.push_str("&amp;"),
                },
                '<' => self.out.push_str("&lt;"),
                '>' => self.out.push_str("&gt;"),
                c => self.out.push(c),
            }
            rest = &rest[taken..];
        }
    }

    /// Reads a closing tag whose `</` was read; gives what follows it.
    fn close<'a>(&mut self, tag: &'a str) -> Result<&'a str, MathError> {
        let end = tag.find('>').ok_or_else(|| not_allowed("</"))?;
        let name = element(tag[..end].trim_end())?;
        if self.open.pop() != Some(name) {
            return Err(not_allowed(&tag[..end]));
        }
        self.out.push_str("</");
        self.out.push_str(name);
        self.out.push('>');
        Ok(&tag[end + 1..])
    }

    /// Reads an opening tag whose `<` was read; gives what follows it.
    fn open<'a>(&mut self, tag: &'a str) -> Result<&'a str, MathError> {
        let end = tag
            .find(|c: char| !c.is_ascii_alphanumeric())
            .unwrap_or(tag.len());
        let name = element(&tag[..end])?;
        if self.open.len() >= DEEPEST {
            return Err(MathError::TooDeep);
        }
        self.out.push('<');
        self.out.push_str(name);
        let mut rest = &tag[end..];
        loop {
            rest = rest.trim_start();
            if let Some(after) = rest.strip_prefix("/>") {
                self.out.push_str("></");
                self.out.push_str(name);
                self.out.push('>');
                return Ok(after);
            }
            if let Some(after) = rest.strip_prefix('>') {
                self.out.push('>');
                self.open.push(name);
                return Ok(after);
            }
            rest = self.attribute(rest)?;
        }
    }

    fn attribute<'a>(&mut self, text: &'a str) -> Result<&'a str, MathError> {
        let broken = || not_allowed(text.get(..text.len().min(20)).unwrap_or("attribute"));
        let (name, rest) = text.split_once("=\"").ok_or_else(broken)?;
        let (value, rest) = rest.split_once('"').ok_or_else(broken)?;
        if !is_allowed(name, value)? {
            return Ok(rest);
        }
        self.out.push(' ');
        self.out.push_str(name);
        self.out.push_str("=\"");
        self.out.push_str(value);
        self.out.push('"');
        Ok(rest)
    }

    fn finish(self) -> Result<String, MathError> {
        match self.open.last() {
            None => Ok(self.out),
            Some(name) => Err(not_allowed(name)),
        }
    }
}

fn element(name: &str) -> Result<&'static str, MathError> {
    ELEMENTS
        .into_iter()
        .find(|allowed| *allowed == name)
        .ok_or_else(|| not_allowed(name))
}

/// Whether an attribute is written; `style` is dropped, others that are not on the list are an
/// error.
fn is_allowed(name: &str, value: &str) -> Result<bool, MathError> {
    let fits = match name {
        "style" => return Ok(false),
        "display" => matches!(value, "block" | "inline"),
        "mathvariant" => value == "normal",
        "accent" | "accentunder" | "displaystyle" | "largeop" | "movablelimits" | "stretchy"
        | "symmetric" => matches!(value, "true" | "false"),
        "scriptlevel" => matches!(value, "0" | "1" | "2"),
        "depth" | "height" | "linethickness" | "lspace" | "maxsize" | "minsize" | "rspace"
        | "voffset" | "width" => is_length(value),
        "class" => value.split_ascii_whitespace().all(|class| {
            matches!(class, "small" | "mop-negated")
                || class.starts_with("menv-")
                || class.starts_with("cell-")
        }),
        _ => false,
    };
    if fits {
        Ok(true)
    } else {
        Err(not_allowed(&format!("{name}={value}")))
    }
}

fn is_length(value: &str) -> bool {
    let unit = value
        .find(|c: char| c.is_ascii_alphabetic() || c == '%')
        .unwrap_or(value.len());
    let (number, unit) = value.split_at(unit);
    let units = [
        "", "%", "cm", "em", "ex", "in", "mm", "mu", "pc", "pt", "px",
    ];
    units.contains(&unit)
        && number
            .parse::<f64>()
            .is_ok_and(|number| number.abs() <= LARGEST_LENGTH)
}

/// The entities that the converter writes.
fn known_entity(text: &str) -> Option<&'static str> {
    ["&amp;", "&lt;", "&gt;", "&nbsp;"]
        .into_iter()
        .find(|entity| text.starts_with(entity))
}

fn not_allowed(found: &str) -> MathError {
    MathError::NotAllowed {
        found: found.chars().take(40).collect(),
    }
}
