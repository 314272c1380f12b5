//! A script that a page may run: its text stands in the page, and its hash in the page's policy.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};
use thiserror::Error;

/// A script for a page. The page's policy allows this very text and nothing else.
///
/// ```
/// use semilunar::notebook::page::InlineScript;
///
/// let script = InlineScript::new("document.title = 'ready';")?;
/// assert_eq!(script.source(), "document.title = 'ready';");
/// assert!(InlineScript::new("'</script>'").is_err());
/// # Ok::<(), semilunar::notebook::page::ScriptError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InlineScript {
    source: String,
}

/// Why a script cannot stand in a page.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ScriptError {
    /// It holds text that HTML takes for the end of the script, or for a comment.
    #[error(
        "the script holds `{found}` at byte {at}, which HTML does not take for a part of a script. \
         Write the `<` as `\\x3c` inside text."
    )]
    EndsEarly {
        /// The text found.
        found: &'static str,
        /// Where it begins, in bytes.
        at: usize,
    },
    /// It holds a character that HTML changes while it reads, so that the hash would not fit.
    #[error(
        "the script holds the character U+{code:04X} at byte {at}, which HTML changes while it reads. \
         End lines with a line feed and write such characters as escapes."
    )]
    Changed {
        /// The character's code.
        code: u32,
        /// Where it stands, in bytes.
        at: usize,
    },
}

impl InlineScript {
    /// A script from its text.
    ///
    /// # Errors
    ///
    /// [`ScriptError`] when the text holds `</script`, `<script` or `<!--` (in any case of
    /// letters), a carriage return or a null character.
    pub fn new(source: impl Into<String>) -> Result<Self, ScriptError> {
        let source = source.into();
        // The restrictions of the HTML standard on the contents of script elements (section 4.12.1.3).
        let lower = source.to_ascii_lowercase();
        for found in ["</script", "<script", "<!--"] {
            if let Some(at) = lower.find(found) {
                return Err(ScriptError::EndsEarly { found, at });
            }
        }
        if let Some((at, c)) = source
            .char_indices()
            .find(|(_, c)| matches!(c, '\r' | '\0'))
        {
            return Err(ScriptError::Changed { code: c.into(), at });
        }
        Ok(Self { source })
    }

    /// The text.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }

    /// The SHA-256 of the text in base 64, as content security policies give it.
    #[must_use]
    pub fn sha256(&self) -> String {
        STANDARD.encode(Sha256::digest(self.source.as_bytes()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of the CSP Level 3 specification (section 8.3, hash usage) and of many pages:
    /// `alert('Hello, world.');`. The hash was checked with `openssl dgst -sha256 -binary | base64`.
    #[test]
    fn the_hash_is_that_of_the_policy_standard() {
        let script = InlineScript::new("alert('Hello, world.');").unwrap();
        assert_eq!(
            script.sha256(),
            "qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng="
        );
    }

    #[test]
    fn what_would_end_the_script_early_is_refused() {
        for (text, at) in [("a</SCRIPT >", 1), ("'<!-- '", 1), ("<script", 0)] {
            let error = InlineScript::new(text).unwrap_err();
            assert!(matches!(error, ScriptError::EndsEarly { at: place, .. } if place == at));
        }
        assert_eq!(
            InlineScript::new("a\r\nb"),
            Err(ScriptError::Changed { code: 13, at: 1 })
        );
    }
}
