//! Diagnostics: what is wrong, where, and the way out, as data; several at once.
//!
//! ```
//! use semilunar::formula::notation::{Diagnostic, Place, Sources};
//!
//! let mut sources = Sources::default();
//! let sheet = sources.add("exam.sheet", "lvot_diameter = 2.05 furlong");
//! let place = Place { source: sheet, start: 21, end: 28 };
//! let found = Diagnostic::error("`furlong` is not a unit", place).hint("write cm or mm");
//! let text = sources.render(&[found]);
//! assert!(text.contains("exam.sheet:1:22"));
//! ```

use std::borrow::Cow;
use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

/// How bad it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Severity {
    /// The sheet or table cannot be used as it is.
    Error,
    /// It can, but probably not as meant.
    Warning,
}

/// A stretch of a source, in bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Place {
    /// Which source of [`Sources`].
    pub source: u32,
    /// First byte.
    pub start: u32,
    /// Byte after the last.
    pub end: u32,
}

impl Place {
    /// From the start of this to the end of `other`.
    #[must_use]
    pub fn to(self, other: Place) -> Place {
        Place {
            end: other.end.max(self.start),
            ..self
        }
    }
}

/// Something wrong, where it is, and the way out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    severity: Severity,
    message: String,
    place: Option<Place>,
    also: Vec<(Place, String)>,
    hint: Option<String>,
}

impl Diagnostic {
    /// An error at a place.
    pub fn error(message: impl Into<String>, place: Place) -> Self {
        Self::new(Severity::Error, message.into(), Some(place))
    }

    /// A warning at a place.
    pub fn warning(message: impl Into<String>, place: Place) -> Self {
        Self::new(Severity::Warning, message.into(), Some(place))
    }

    /// An error that has no place in a text.
    pub fn general(message: impl Into<String>) -> Self {
        Self::new(Severity::Error, message.into(), None)
    }

    fn new(severity: Severity, message: String, place: Option<Place>) -> Self {
        Diagnostic {
            severity,
            message,
            place,
            also: Vec::new(),
            hint: None,
        }
    }

    /// Adds the way out.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// Adds the way out, if there is one.
    #[must_use]
    pub fn hint_if(mut self, hint: Option<String>) -> Self {
        self.hint = hint.or(self.hint);
        self
    }

    /// Adds another place that matters, with words for it.
    #[must_use]
    pub fn also(mut self, place: Place, label: impl Into<String>) -> Self {
        self.also.push((place, label.into()));
        self
    }

    /// How bad it is.
    pub fn severity(&self) -> Severity {
        self.severity
    }

    /// What is wrong.
    pub fn message(&self) -> &str {
        &self.message
    }

    /// Where.
    pub fn place(&self) -> Option<Place> {
        self.place
    }

    /// The way out.
    pub fn hint_text(&self) -> Option<&str> {
        self.hint.as_deref()
    }

    /// Whether it stops the work.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

/// The texts that places point into.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    texts: Vec<Source>,
}

#[derive(Clone, Debug)]
struct Source {
    name: Arc<str>,
    text: Arc<str>,
    /// Where each line starts, so that showing many places does not read the text many times.
    lines: Arc<[u32]>,
    /// The bytes that a person wrote; others are not shown.
    typed: Range<usize>,
}

impl Source {
    fn new(name: Arc<str>, text: Arc<str>) -> Source {
        let breaks = text.bytes().enumerate().filter(|(_, b)| *b == b'\n');
        let lines = std::iter::once(0).chain(breaks.map(|(at, _)| at as u32 + 1));
        Source {
            name,
            lines: lines.collect(),
            typed: 0..text.len(),
            text,
        }
    }

    /// The number of the line that holds a byte, from 0.
    fn line_of(&self, at: usize) -> usize {
        let after = self.lines.partition_point(|start| *start as usize <= at);
        after.saturating_sub(1)
    }

    /// Where a line starts; the end of the text for a line after the last.
    fn start_of(&self, line: usize) -> usize {
        self.lines
            .get(line)
            .map_or(self.text.len(), |s| *s as usize)
    }
}

impl Sources {
    /// Adds a text under a name; gives its number.
    pub fn add(&mut self, name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> u32 {
        self.texts.push(Source::new(name.into(), text.into()));
        self.texts.len() as u32 - 1
    }

    /// Gives a source another name and text; places into it are then of the new text.
    pub fn replace(&mut self, source: u32, name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) {
        if let Some(slot) = self.texts.get_mut(source as usize) {
            *slot = Source::new(name.into(), text.into());
        }
    }

    /// Gives a source another name.
    pub fn rename(&mut self, source: u32, name: impl Into<Arc<str>>) {
        if let Some(slot) = self.texts.get_mut(source as usize) {
            slot.name = name.into();
        }
    }

    /// Says which bytes of a source a person wrote, where a program put others around them: diagnostics show no others, places in those
    /// stand at the nearest end, and a source without any is not shown at all.
    pub fn typed(&mut self, source: u32, bytes: Range<usize>) {
        if let Some(slot) = self.texts.get_mut(source as usize) {
            let place = Place {
                source,
                start: u32::try_from(bytes.start).unwrap_or(u32::MAX),
                end: u32::try_from(bytes.end).unwrap_or(u32::MAX),
            };
            slot.typed = bounded(place, &slot.text);
        }
    }

    /// Name and text of a source.
    pub fn get(&self, source: u32) -> Option<(&str, &str)> {
        let source = self.texts.get(source as usize)?;
        Some((&source.name, &source.text))
    }

    /// The text at a place.
    pub fn slice(&self, place: Place) -> Option<&str> {
        let (_, text) = self.get(place.source)?;
        text.get(place.start as usize..place.end as usize)
    }

    /// All diagnostics in plain text, each with its line and a mark below the place.
    pub fn render(&self, diagnostics: &[Diagnostic]) -> String {
        let rendered: Vec<String> = diagnostics.iter().map(|d| self.render_one(d)).collect();
        rendered.join("\n\n")
    }

    fn render_one(&self, diagnostic: &Diagnostic) -> String {
        let level = match diagnostic.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let message = visible(&diagnostic.message);
        let hint = diagnostic.hint.as_deref().map(visible);
        let mut group = Group::with_title(level.primary_title(message.as_str()));
        if let Some(place) = diagnostic.place
            && let Some(source) = self.shown(place)
        {
            let (near, far): (Vec<_>, Vec<_>) = diagnostic
                .also
                .iter()
                .partition(|(other, _)| other.source == place.source);
            group = group.element(snippet(source, Some(place), &near));
            for also in far {
                if let Some(source) = self.shown(also.0) {
                    group = group.element(snippet(source, None, &[also]));
                }
            }
        }
        if let Some(hint) = &hint {
            group = group.element(Level::HELP.message(hint.as_str()));
        }
        Renderer::plain().render(&[group])
    }

    /// The source of a place, if any of it is shown.
    fn shown(&self, place: Place) -> Option<&Source> {
        let source = self.texts.get(place.source as usize)?;
        (!source.typed.is_empty() || source.text.is_empty()).then_some(source)
    }
}

/// The lines of a source from the first to the last of the places, with the places marked.
fn snippet<'a>(
    source: &'a Source,
    primary: Option<Place>,
    also: &[&'a (Place, String)],
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let text = &*source.text;
    let places = primary.iter().chain(also.iter().map(|(place, _)| place));
    let typed = |at: usize| at.clamp(source.typed.start, source.typed.end);
    let inside = |place: Place| {
        let range = bounded(place, text);
        typed(range.start)..typed(range.end)
    };
    let ranges: Vec<_> = places.map(|place| inside(*place)).collect();
    let first = ranges.iter().map(|r| source.line_of(r.start)).min();
    let first = first.unwrap_or(0);
    let last = ranges.iter().map(|r| source.line_of(r.end)).max();
    let start = typed(source.start_of(first));
    let end = typed(source.start_of(last.unwrap_or(first) + 1));
    let inside = |place: Place| {
        let range = inside(place);
        range.start - start..range.end - start
    };
    let mut shown = Snippet::source(without_c1(&text[start..end]))
        .line_start(first + 1)
        .path(&*source.name);
    if let Some(place) = primary {
        shown = shown.annotation(AnnotationKind::Primary.span(inside(place)));
    }
    for (place, label) in also {
        let mark = AnnotationKind::Context.span(inside(*place));
        shown = shown.annotation(mark.label(label.as_str()));
    }
    shown
}

/// The renderer shows the control characters of ASCII, but lets those of Latin-1 through to the
/// terminal. Their stand-in is as long, so that places stay where they are.
fn without_c1(text: &str) -> Cow<'_, str> {
    let is_c1 = |c: char| ('\u{80}'..='\u{9f}').contains(&c);
    match text.contains(is_c1) {
        true => Cow::Owned(text.replace(is_c1, "¤")),
        false => Cow::Borrowed(text),
    }
}

/// A text with the characters that cannot be seen, or that turn the direction of what follows,
/// written as their code points.
pub(super) fn visible(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let hidden = c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}');
        if hidden {
            out.push_str(&format!("U+{:04X}", u32::from(c)));
        } else {
            out.push(c);
        }
    }
    out
}

/// A range inside the text, on character boundaries.
fn bounded(place: Place, text: &str) -> std::ops::Range<usize> {
    let floor = |at: u32| {
        let mut at = (at as usize).min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(place.start);
    start..floor(place.end).max(start)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_a_person_wrote_is_shown() {
        let mut sources = Sources::default();
        let source = sources.add("the question", "show area of it over rows\n");
        let shown = |sources: &Sources, start: u32, end: u32| {
            let place = Place { source, start, end };
            sources.render(&[Diagnostic::error("wrong", place)])
        };
        sources.typed(source, 5..15);
        assert_eq!(
            shown(&sources, 5, 9),
            "error: wrong\n --> the question:1:1\n  |\n1 | area of it\n  | ^^^^"
        );
        // What is wrong before or after it is wrong at its ends.
        assert!(shown(&sources, 0, 4).ends_with("1 | area of it\n  | ^"));
        assert!(shown(&sources, 21, 25).ends_with("1 | area of it\n  |           ^"));
        sources.typed(source, 0..0);
        assert_eq!(shown(&sources, 0, 4), "error: wrong");
    }
}
