//! What was most likely meant by a word that is not known.

/// The word most like what was said, if any is like it (Jaro–Winkler).
pub(crate) fn likeliest<'w>(said: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let likeness = |word: &'w str| (strsim::jaro_winkler(word, said), word);
    let like = words.map(likeness).filter(|(likeness, _)| *likeness > 0.8);
    let most = like.max_by(|a, b| a.0.total_cmp(&b.0));
    most.map(|(_, word)| word)
}
