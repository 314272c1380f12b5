//! The document around the drawing: role, title, description, style and ids.

use super::axis::Size;
use super::canvas::{self, Canvas};
use super::error::ChartError;
use super::rewrite::rewrite;
use super::text::{clean, escape};
use super::theme;

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
    let style = theme::style_sheet();
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"semilunar-chart\" width=\"{width}\" height=\"{height}\" \
         viewBox=\"0 0 {width} {height}\" role=\"img\" aria-labelledby=\"{id}-title {id}-desc\" \
         font-family=\"system-ui, sans-serif\">\n\
         <title id=\"{id}-title\">{title}</title>\n<desc id=\"{id}-desc\">{description}</desc>\n\
         <style>\n{style}{rim}</style>\n{body}</svg>\n",
        rim = theme::RIM,
    ))
}

/// A number that tells texts apart; the parts are kept apart by a byte that UTF-8 never holds.
fn hash(parts: &[&str]) -> u64 {
    fnv(parts.iter().flat_map(|part| part.bytes().chain([0xff])))
}

/// FNV-1a with 64 bits: the same on every machine, and enough to tell the charts of a page apart.
fn fnv(bytes: impl Iterator<Item = u8>) -> u64 {
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // Test vectors of FNV-1a, 64 bits: Fowler, Noll & Vo, draft-eastlake-fnv (from memory).
    #[test]
    fn the_hash_is_fnv_1a_and_tells_parts_apart() {
        assert_eq!(fnv("".bytes()), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv("a".bytes()), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv("foobar".bytes()), 0x8594_4171_f739_67e8);
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
