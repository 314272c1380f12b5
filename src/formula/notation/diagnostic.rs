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
    texts: Vec<(Arc<str>, Arc<str>)>,
}

impl Sources {
    /// Adds a text under a name; gives its number.
    pub fn add(&mut self, name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> u32 {
        self.texts.push((name.into(), text.into()));
        self.texts.len() as u32 - 1
    }

    /// Gives a source another name and text; places into it are then of the new text.
    pub fn replace(&mut self, source: u32, name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) {
        if let Some(slot) = self.texts.get_mut(source as usize) {
            *slot = (name.into(), text.into());
        }
    }

    /// Name and text of a source.
    pub fn get(&self, source: u32) -> Option<(&str, &str)> {
        let (name, text) = self.texts.get(source as usize)?;
        Some((name, text))
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
        let title = level.primary_title(diagnostic.message.as_str());
        let mut group = Group::with_title(title);
        if let Some((place, (name, text))) = diagnostic
            .place
            .and_then(|place| Some((place, self.get(place.source)?)))
        {
            let mut snippet = Snippet::source(text)
                .path(name)
                .annotation(AnnotationKind::Primary.span(bounded(place, text)));
            for (other, label) in &diagnostic.also {
                if other.source == place.source {
                    snippet = snippet.annotation(
                        AnnotationKind::Context
                            .span(bounded(*other, text))
                            .label(label.as_str()),
                    );
                }
            }
            group = group.element(snippet);
            for (other, label) in &diagnostic.also {
                if other.source != place.source
                    && let Some((name, text)) = self.get(other.source)
                {
                    group = group.element(
                        Snippet::source(text).path(name).annotation(
                            AnnotationKind::Context
                                .span(bounded(*other, text))
                                .label(label.as_str()),
                        ),
                    );
                }
            }
        }
        if let Some(hint) = &diagnostic.hint {
            group = group.element(Level::HELP.message(hint.as_str()));
        }
        Renderer::plain().render(&[group])
    }
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
