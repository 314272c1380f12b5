//! Formulas in LaTeX as MathML, which browsers set without any script.
//!
//! ```
//! use semilunar::notebook::mathml::{MathLayout, to_html, to_mathml};
//!
//! let formula = to_mathml(r"\mathit{SV} = \frac{\pi d^2}{4} v", MathLayout::Block)?;
//! assert!(formula.starts_with("<math display=\"block\">"));
//!
//! // What cannot be set is shown as it was written.
//! assert_eq!(to_html(r"\frac{1}", MathLayout::Inline), "<code class=\"latex\">\\frac{1}</code>");
//! # Ok::<(), semilunar::notebook::mathml::MathError>(())
//! ```
//!
//! The formula may come from somebody else's notebook. So it is bounded in length and nesting,
//! defines no commands, and what the converter makes of it passes a list of allowed
//! elements and attributes of MathML Core (W3C). Colors are dropped: a page has a light and a dark
//! face, and a fixed color would be unreadable in one of them.

mod allow;

use maud::html;
use pulldown_latex::config::{DisplayMode, RenderConfig};
use pulldown_latex::{Parser, Storage, write_mathml};
use thiserror::Error;

/// The longest formula that is converted, in bytes.
pub const LONGEST_FORMULA: usize = 4_000;

/// How deep elements may nest in the result.
const DEEPEST: usize = 100;

/// The stack the converter runs on, in bytes. It calls itself for an argument without braces
/// (`\hat\hat\hat…`): measured at 16.4 kB a call in an unoptimized build, and the longest
/// formula has room for at most 2000 such commands.
const STACK: usize = 64 << 20;

/// Commands that would define others. A definition holds within its formula only and could make
/// it grow without bound.
const DEFINING: [&str; 15] = [
    "def",
    "edef",
    "gdef",
    "xdef",
    "let",
    "futurelet",
    "global",
    "long",
    "outer",
    "newcommand",
    "renewcommand",
    "providecommand",
    "DeclareMathOperator",
    "newenvironment",
    "char",
];

/// Where a formula stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MathLayout {
    /// In a line of text.
    Inline,
    /// On a line of its own.
    Block,
}

/// Why a formula cannot be set.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum MathError {
    /// It is longer than [`LONGEST_FORMULA`].
    #[error("the formula has {bytes} bytes; at most {LONGEST_FORMULA} are set. Split it.")]
    TooLong {
        /// Its length in bytes.
        bytes: usize,
    },
    /// Its parts are nested too deeply.
    #[error("the parts of the formula are nested more than {DEEPEST} deep. Split it.")]
    TooDeep,
    /// It defines a command.
    #[error("`\\{command}` is not allowed in a formula. Write out what it stands for.")]
    Defines {
        /// The command, without its backslash.
        command: String,
    },
    /// The converter does not understand it.
    #[error("the formula cannot be read: {message}")]
    Unreadable {
        /// What the converter says.
        message: String,
    },
    /// The result holds something that is not formula markup.
    #[error("the formula makes `{found}`, which no formula needs. Leave it out.")]
    NotAllowed {
        /// The element, attribute or value.
        found: String,
    },
}

/// A formula as a `<math>` element.
///
/// # Errors
///
/// [`MathError`] when the formula is too long, nested too deeply, defines commands, is not LaTeX
/// mathematics, or makes markup that is not allowed.
pub fn to_mathml(latex: &str, layout: MathLayout) -> Result<String, MathError> {
    if latex.len() > LONGEST_FORMULA {
        return Err(MathError::TooLong { bytes: latex.len() });
    }
    refuse_definitions(latex)?;
    let markup = convert_on_own_stack(latex, layout)?
        // For `\ ` pulldown-latex 0.8.0 escapes the space's name itself.
        .replace(">&amp;nbsp;</mtext>", ">&nbsp;</mtext>");
    allow::only_mathml(&markup)
}

/// A formula as HTML that always shows something: a `<math>` element, or the LaTeX itself in
/// `<code class="latex">` when it cannot be set.
#[must_use]
pub fn to_html(latex: &str, layout: MathLayout) -> String {
    to_mathml(latex, layout)
        .unwrap_or_else(|_| html! { code class="latex" { (latex) } }.into_string())
}

/// Converts on a thread of its own, so that no formula can exhaust the caller's stack.
fn convert_on_own_stack(latex: &str, layout: MathLayout) -> Result<String, MathError> {
    let unreadable = |message: &str| MathError::Unreadable {
        message: message.to_owned(),
    };
    std::thread::scope(|scope| {
        std::thread::Builder::new()
            .name("formula".to_owned())
            .stack_size(STACK)
            .spawn_scoped(scope, || convert(latex, layout))
            .map_err(|error| unreadable(&format!("no thread could be started: {error}")))?
            .join()
            .unwrap_or_else(|_| Err(unreadable("the converter gave up on it")))
    })
}

fn convert(latex: &str, layout: MathLayout) -> Result<String, MathError> {
    let storage = Storage::new();
    let events = Parser::new(latex, &storage)
        .collect::<Result<Vec<_>, _>>()
        .map_err(|error| MathError::Unreadable {
            message: error.to_string(),
        })?;
    let config = RenderConfig {
        display_mode: match layout {
            MathLayout::Inline => DisplayMode::Inline,
            MathLayout::Block => DisplayMode::Block,
        },
        ..RenderConfig::default()
    };
    let events = events.into_iter().map(Ok::<_, pulldown_latex::ParserError>);
    let mut bytes = Vec::new();
    let unreadable = |message: String| MathError::Unreadable { message };
    write_mathml(&mut bytes, events, config).map_err(|error| unreadable(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| unreadable(error.to_string()))
}

fn refuse_definitions(latex: &str) -> Result<(), MathError> {
    let mut rest = latex;
    while let Some(backslash) = rest.find('\\') {
        let command = command_name(&rest[backslash + 1..]);
        if DEFINING.contains(&command) {
            return Err(MathError::Defines {
                command: command.to_owned(),
            });
        }
        rest = &rest[backslash + 1 + command.len()..];
    }
    Ok(())
}

/// The name of a command whose backslash was just read: letters, or one character.
fn command_name(rest: &str) -> &str {
    let letters = rest
        .find(|c: char| !c.is_ascii_alphabetic())
        .unwrap_or(rest.len());
    let length = match letters {
        0 => rest.chars().next().map_or(0, char::len_utf8),
        letters => letters,
    };
    &rest[..length]
}

#[cfg(test)]
mod tests;
