//! Words made ready to stand where a reader meets them.

/// With a capital at its start.
pub(super) fn capitalized(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(chars).collect()
    })
}

/// With a capital at its start and a full stop at its end.
pub(super) fn sentence(words: &str) -> String {
    let mut text = capitalized(words.trim());
    if !text.is_empty() && !text.ends_with(['.', '!', '?']) {
        text.push('.');
    }
    text
}
