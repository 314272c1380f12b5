//! What a statement shows, for tests.

use super::Session;

/// What the last statement of a notebook of one cell shows.
pub(super) fn said(text: &str) -> String {
    let mut session = Session::new(".");
    session.submit("a", text);
    let last = session.outputs("a").pop();
    last.expect("the last line is a statement").text
}
