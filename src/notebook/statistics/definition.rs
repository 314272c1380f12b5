//! What is counted and over which rows, as sentences; many reasons for which rows were left out are a list on a page.

use maud::{Markup, html};

use super::page::with_code;
use super::rows::LeftOut;

/// Reasons from which on they are a list.
const LISTED: usize = 3;

/// A paragraph above an answer.
#[derive(Clone, Debug)]
pub(super) struct Definition {
    /// The whole of it in words.
    words: String,
    /// What stands on a page in its place: words, and the reasons below them.
    listed: Option<(String, Vec<LeftOut>)>,
}

impl Definition {
    /// Words that name reasons one after the other; where they are many, `above` stands above a list of them in the place of the words.
    pub(super) fn with_reasons(words: String, above: String, reasons: Vec<LeftOut>) -> Definition {
        Definition {
            words,
            listed: (reasons.len() >= LISTED).then_some((above, reasons)),
        }
    }

    pub(super) fn words(&self) -> &str {
        &self.words
    }

    pub(super) fn markup(&self) -> Markup {
        let Some((above, reasons)) = &self.listed else {
            return html! { p.definition { (with_code(&self.words)) } };
        };
        html! {
            p.definition { (with_code(above)) }
            ul.left-out {
                @for left in reasons { li { b { (left.count) } " " span { (with_code(&left.words())) } } }
            }
        }
    }
}

impl<T: Into<String>> From<T> for Definition {
    fn from(words: T) -> Definition {
        Definition {
            words: words.into(),
            listed: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reasons(count: usize) -> Vec<LeftOut> {
        let all = ["the field is `x`", "set aside", "later rows"];
        let all = all.iter().zip([7, 20, 1]).take(count);
        all.map(|(why, count)| LeftOut::because(*why, count))
            .collect()
    }

    #[test]
    fn many_reasons_are_a_list_and_few_a_sentence() {
        let markup = |count| {
            let made = Definition::with_reasons(
                "all in words".into(),
                "28 left out:".into(),
                reasons(count),
            );
            assert_eq!(made.words(), "all in words");
            made.markup().into_string()
        };
        assert_eq!(markup(2), "<p class=\"definition\">all in words</p>");
        assert_eq!(
            markup(3),
            "<p class=\"definition\">28 left out:</p><ul class=\"left-out\"><li><b>7</b> <span>the field is <code>x</code></span></li>\
             <li><b>20</b> <span>set aside</span></li><li><b>1</b> <span>later rows</span></li></ul>"
        );
    }
}
