//! Text of notebooks: CommonMark with tables and formulas, as HTML that is safe to show.
//!
//! ```
//! use semilunar::notebook::markdown::to_html;
//!
//! let html = to_html("The area is $\\pi d^2/4$.\n\n<script>alert(1)</script>");
//! assert!(html.contains("<math"));
//! assert!(html.contains("&lt;script&gt;"));
//! ```
//!
//! A notebook may come from anybody. Raw HTML is shown as text. Links go to `http`, `https`,
//! `mailto` and places on the page (`#`); other links keep their text only. Images come from the
//! text itself (`data:`); of others their description is left. Formulas stand in `$…$` and
//! `$$…$$`.
//!
//! # What is not handled
//!
//! Images attached to a cell (`attachment:`), footnotes, task lists.

mod convert;

use std::collections::BTreeMap;

/// Converts the texts of one page: headings get identifiers that are unique among them, so that
/// links to `#a-heading` find their place.
#[derive(Clone, Debug, Default)]
pub struct Markdown {
    /// Identifiers in use, each with the number that was last put behind it.
    taken: BTreeMap<String, usize>,
}

impl Markdown {
    /// A converter for a new page.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// One text as HTML.
    #[must_use]
    pub fn to_html(&mut self, text: &str) -> String {
        convert::to_html(text, &mut self.taken)
    }
}

/// One text as HTML, on its own.
#[must_use]
pub fn to_html(text: &str) -> String {
    Markdown::new().to_html(text)
}

#[cfg(test)]
mod tests;
