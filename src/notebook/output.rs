//! What a code cell shows: one result in several forms, so that each reader takes the best it can.
//!
//! ```
//! use semilunar::notebook::output::Output;
//!
//! let output = Output::new("cell-3", "4.2 L/min", "<p>4.2 L/min</p>").with_latex("$4.2$");
//! let bundle = output.mime_bundle();
//! assert_eq!(bundle["text/plain"], "4.2 L/min");
//! assert_eq!(bundle["text/latex"], "$4.2$");
//! assert!(!output.is_error());
//! ```

use serde_json::{Map, Value, json};

use super::document::lines;

/// One thing that a code cell shows.
///
/// The same output always gives the same bytes: nothing comes from a clock, and the forms stand in
/// one order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Output {
    /// Names the output within its notebook, so that it can be replaced; empty when nothing
    /// replaces it.
    pub id: String,
    /// The full form, for pages and notebooks. It is shown as it is: whoever makes it escapes
    /// what came from a user.
    pub html: String,
    /// A formula or table for typesetting, with its delimiters.
    pub latex: Option<String>,
    /// A drawing alone; `html` shows it too.
    pub svg: Option<String>,
    /// Plain text that says the same, for terminals and search.
    pub text: String,
    /// Whether it is a result or says that there is none.
    pub role: OutputRole,
}

/// Whether an [`Output`] is a result or an error.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OutputRole {
    /// A result.
    #[default]
    Result,
    /// Diagnostics: the cell could not be carried out.
    Error,
}

/// The name that errors carry in notebooks.
const ERROR_NAME: &str = "Diagnostic";

impl Output {
    /// A result with its plain text and its HTML.
    #[must_use]
    pub fn new(id: impl Into<String>, text: impl Into<String>, html: impl Into<String>) -> Self {
        Self {
            id: id.into(),
            text: text.into(),
            html: html.into(),
            ..Self::default()
        }
    }

    /// Diagnostics, as plain text and as HTML.
    #[must_use]
    pub fn error(text: impl Into<String>, html: impl Into<String>) -> Self {
        Self {
            role: OutputRole::Error,
            ..Self::new("", text, html)
        }
    }

    /// The same output with an identifier.
    #[must_use]
    pub fn with_id(mut self, id: impl Into<String>) -> Self {
        self.id = id.into();
        self
    }

    /// The same output with a form for typesetting.
    #[must_use]
    pub fn with_latex(mut self, latex: impl Into<String>) -> Self {
        self.latex = Some(latex.into());
        self
    }

    /// The same output with its drawing.
    #[must_use]
    pub fn with_svg(mut self, svg: impl Into<String>) -> Self {
        self.svg = Some(svg.into());
        self
    }

    /// Whether it says that there is no result.
    #[must_use]
    pub fn is_error(&self) -> bool {
        self.role == OutputRole::Error
    }

    /// The forms by media type, each as one text, as messages of the Jupyter protocol carry them.
    /// Plain text is always there; an empty HTML form is left out.
    #[must_use]
    pub fn mime_bundle(&self) -> Map<String, Value> {
        self.bundle(|text| Value::from(text))
    }

    /// The forms by media type. Names in alphabetical order, as Jupyter sorts them.
    fn bundle(&self, form: impl Fn(&str) -> Value) -> Map<String, Value> {
        let html = Some(self.html.as_str()).filter(|html| !html.is_empty());
        let forms = [
            ("image/svg+xml", self.svg.as_deref()),
            ("text/html", html),
            ("text/latex", self.latex.as_deref()),
            ("text/plain", Some(self.text.as_str())),
        ];
        let mut bundle = Map::new();
        for (media_type, text) in forms {
            if let Some(text) = text {
                bundle.insert(media_type.to_owned(), form(text));
            }
        }
        bundle
    }

    /// An error's name, its first line and all its lines, under the names that messages and
    /// notebook documents give them; `None` for a result.
    #[must_use]
    pub fn as_error(&self) -> Option<Value> {
        self.is_error().then(|| {
            json!({
                "ename": ERROR_NAME,
                "evalue": self.text.lines().next().unwrap_or(""),
                "traceback": self.text.lines().collect::<Vec<_>>()
            })
        })
    }

    /// The output as a notebook document stores it.
    ///
    /// Diagnostics become an output of type `error` and not a display: tools that run notebooks
    /// look for that type to tell a failed cell from a good one. It has no place for HTML, so the
    /// diagnostic's lines stand in its traceback, where they keep their columns.
    pub(super) fn to_notebook(&self) -> Value {
        match self.as_error() {
            None => json!({
                "data": self.bundle(lines),
                "metadata": {},
                "output_type": "display_data"
            }),
            Some(error) => json!({
                "ename": error["ename"],
                "evalue": error["evalue"],
                "output_type": "error",
                "traceback": error["traceback"]
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_result_becomes_display_data_with_its_forms_in_lines() {
        let output = Output::new("a", "one\ntwo", "<p>one</p>\n<p>two</p>")
            .with_latex("$x$")
            .with_svg("<svg/>");
        let expected = json!({
            "data": {
                "image/svg+xml": ["<svg/>"],
                "text/html": ["<p>one</p>\n", "<p>two</p>"],
                "text/latex": ["$x$"],
                "text/plain": ["one\n", "two"]
            },
            "metadata": {},
            "output_type": "display_data"
        });
        assert_eq!(output.to_notebook().to_string(), expected.to_string());
    }

    #[test]
    fn forms_that_are_not_there_are_left_out() {
        let bundle = Output::new("", "only text", "").mime_bundle();
        assert_eq!(bundle.keys().collect::<Vec<_>>(), ["text/plain"]);
    }

    /// Fields of `error` outputs: nbformat.v4.5.schema.json, definition "error".
    #[test]
    fn an_error_keeps_its_lines_in_the_traceback() {
        let output = Output::error("cannot add cm to cm2\n  a + b\n  ^^^^^", "<pre>…</pre>");
        assert!(output.is_error());
        let value = output.to_notebook();
        assert_eq!(value["output_type"], "error");
        assert_eq!(value["ename"], "Diagnostic");
        assert_eq!(value["evalue"], "cannot add cm to cm2");
        assert_eq!(value["traceback"][2], "  ^^^^^");
        assert_eq!(value.as_object().unwrap().len(), 4);
    }
}
