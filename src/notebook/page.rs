//! A notebook as one HTML page that needs nothing else.
//!
//! The page holds its style, loads nothing from anywhere, and runs no script unless one is given
//! to it; its content security policy says so to the browser. It reads on a phone, in the dark and
//! on paper, and ends with the caution that every page carries.
//!
//! ```
//! use semilunar::notebook::markdown;
//! use semilunar::notebook::output::Output;
//! use semilunar::notebook::page::{Block, Page};
//!
//! let mut page = Page::new("Stroke volume");
//! page.push(Block::Markdown(markdown::to_html("One exam, invented.")));
//! page.push(Block::Output(Output::new("sv", "59 mL", "<p>59 mL</p>")));
//! page.push(Block::Source("show stroke_volume".to_owned()));
//!
//! let html = page.to_html();
//! assert!(html.starts_with("<!DOCTYPE html><html lang=\"en\">"));
//! assert!(html.contains("Not a medical device"));
//! ```
//!
//! # Classes
//!
//! The style covers what outputs use: `table.cells` (name, value, unit, how known, remarks; the
//! columns in this order, because a narrow window stacks them), `table` (others; `class="number"`
//! for columns of numbers), `span.state` (`missing`, `faulty`, `known`), `span.origin`
//! (`measured`, `estimated`, `assumed`), `ul.advisories` with `li.note` and `li.caution`,
//! `figure.chart`, `div.formula`, `div.counts`, `dl.explain`, `pre.diagnostic` and `.scroll` (a box
//! that scrolls sideways; give it `tabindex="0"`, `role="region"` and a label).

mod script;

pub use script::{InlineScript, ScriptError};

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::output::Output;

/// The caution at the end of every page, and at the foot of every printed sheet.
pub const CAUTION: &str = "For education, audit and research. Not a medical device: a licensed \
                           clinician and local protocols decide.";

/// The style of every page.
const STYLE: &str = include_str!("page/style.css");

/// A page in the making: a title and what stands under it.
#[derive(Clone, Debug)]
pub struct Page {
    title: String,
    language: String,
    blocks: Vec<Block>,
    script: Option<InlineScript>,
}

/// A part of a page.
#[derive(Clone, Debug)]
pub enum Block {
    /// HTML made from CommonMark by [`super::markdown`]; written as it is.
    Markdown(String),
    /// The source of a code cell; shown in a part that is closed at first.
    Source(String),
    /// What a code cell shows, results and errors. Its HTML is written as it is.
    Output(Output),
}

impl Page {
    /// An empty page in English.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            language: "en".to_owned(),
            blocks: Vec::new(),
            script: None,
        }
    }

    /// The same page in another language, given as a BCP 47 tag such as `de`. It names the language for
    /// browsers and screen readers; nothing is translated.
    #[must_use]
    pub fn in_language(mut self, tag: impl Into<String>) -> Self {
        self.language = tag.into();
        self
    }

    /// The same page with a script, the only one it may run.
    #[must_use]
    pub fn with_script(mut self, script: InlineScript) -> Self {
        self.script = Some(script);
        self
    }

    /// Adds a part at the end.
    pub fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }

    /// The page as the text of an HTML file.
    #[must_use]
    pub fn to_html(&self) -> String {
        html! {
            (DOCTYPE)
            html lang=(self.language) {
                head { (self.head()) }
                body {
                    main {
                        @if !self.has_main_heading() {
                            h1 { (self.title) }
                        }
                        @for block in &self.blocks {
                            (block_markup(block))
                        }
                    }
                    footer { p { (CAUTION) } }
                    @if let Some(script) = &self.script {
                        script { (PreEscaped(script.source())) }
                    }
                }
            }
        }
        .into_string()
    }

    fn head(&self) -> Markup {
        html! {
            meta charset="utf-8";
            meta http-equiv="Content-Security-Policy" content=(self.policy());
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            meta name="referrer" content="no-referrer";
            title { (self.title) }
            style { (PreEscaped(STYLE)) (PreEscaped(sheet_footer())) }
        }
    }

    /// The content security policy (W3C CSP Level 3): nothing is loaded, only our style and
    /// pictures in the page itself are shown, and no script runs but the one given.
    fn policy(&self) -> String {
        let scripts = match &self.script {
            Some(script) => format!("'sha256-{}'", script.sha256()),
            None => "'none'".to_owned(),
        };
        format!(
            "default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src {scripts}; \
             base-uri 'none'; form-action 'none'"
        )
    }

    /// Whether a text of the notebook brings the heading of first level, so that there is one.
    fn has_main_heading(&self) -> bool {
        self.blocks
            .iter()
            .any(|block| matches!(block, Block::Markdown(html) if html.contains("<h1")))
    }
}

/// The caution at the foot of each printed sheet. It is in the style because only `@page` reaches
/// there; the text is ours and holds no quotation mark.
fn sheet_footer() -> String {
    format!("@page {{ @bottom-left {{ content: \"{CAUTION}\"; }} }}\n")
}

fn block_markup(block: &Block) -> Markup {
    match block {
        Block::Markdown(text) => html! { div class="text" { (PreEscaped(text)) } },
        Block::Source(source) => html! {
            details class="source" {
                summary { "How this was computed" }
                pre tabindex="0" { code { (source) } }
            }
        },
        Block::Output(output) => output_markup(output),
    }
}

fn output_markup(output: &Output) -> Markup {
    let id = Some(&output.id)
        .filter(|id| !id.is_empty())
        .map(|id| format!("output-{id}"));
    if output.is_error() {
        return html! {
            section id=[id] class="output failed" aria-label="Not carried out" {
                (output_body(output))
            }
        };
    }
    html! { div id=[id] class="output" { (output_body(output)) } }
}

/// The best form of an output for a page.
fn output_body(output: &Output) -> Markup {
    match &output.svg {
        _ if !output.html.is_empty() => html! { (PreEscaped(&output.html)) },
        Some(svg) => html! {
            figure class="chart" { (PreEscaped(svg)) figcaption { (output.text) } }
        },
        None if output.is_error() => {
            html! { pre class="diagnostic" tabindex="0" { (output.text) } }
        }
        None => html! { pre tabindex="0" { (output.text) } },
    }
}

#[cfg(test)]
mod tests;
