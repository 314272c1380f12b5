//! The document around the drawing: role, title, description, style and ids.

use super::axis::Size;
use super::canvas::{self, Canvas};
use super::error::ChartError;
use super::look;
use super::rewrite::rewrite;
use super::text::{clean, escape};

/// What a chart says besides its drawing.
pub(super) struct Words<'a> {
    pub title: &'a str,
    pub description: &'a str,
    /// Tells charts of equal content apart.
    pub key: &'a str,
}

/// The whole SVG.
pub(super) fn document(
    size: Size,
    words: &Words<'_>,
    paint: impl FnOnce(&Canvas<'_>) -> Result<(), ChartError>,
) -> Result<String, ChartError> {
    let body = rewrite(&canvas::draw(size, paint)?)?;
    let (width, height) = (size.width(), size.height());
    let title = escape(&clean(words.title));
    let description = escape(&clean(words.description));
    let id = format!(
        "chart-{:016x}",
        hash(&[words.key, &title, &description, &body])
    );
    let style = look::style_sheet();
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"semilunar-chart\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{id}-title {id}-desc\" \
         font-family=\"system-ui, sans-serif\">\n\
         <title id=\"{id}-title\">{title}</title>\n<desc id=\"{id}-desc\">{description}</desc>\n\
         <style>\n{style}{rim}</style>\n{body}</svg>\n",
        rim = look::RIM,
    ))
}

/// FNV-1a with 64 bits: the same on every machine, and enough to tell the charts of a page apart.
fn hash(parts: &[&str]) -> u64 {
    let bytes = parts.iter().flat_map(|part| part.bytes().chain([0xff]));
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // Test vectors of the FNV-1a page (Fowler, Noll, Vo; draft-eastlake-fnv, from memory): "" and, here with the
    // separator 0xff behind it, any other text gives another hash.
    #[test]
    fn the_hash_starts_at_the_published_basis_and_tells_parts_apart() {
        assert_eq!(hash(&[]), 0xcbf2_9ce4_8422_2325);
        assert_ne!(hash(&["ab", "c"]), hash(&["a", "bc"]));
    }

    #[test]
    fn the_key_changes_the_ids_and_nothing_else() {
        let size = Size::new(320, 240).unwrap();
        let make = |key| {
            let words = Words {
                title: "t",
                description: "d",
                key,
            };
            document(size, &words, |_| Ok(())).unwrap()
        };
        let (a, b) = (make("a"), make("b"));
        assert_ne!(a, b);
        let strip = |s: &str| {
            s.split("chart-")
                .map(|p| p.get(16..).unwrap_or(p).to_owned())
                .collect::<Vec<_>>()
        };
        assert_eq!(strip(&a), strip(&b));
    }
}
