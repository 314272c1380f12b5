//! Texts of a few bytes, as numbers are written, in one machine word.

use std::num::NonZeroU64;

/// A text of 1 to 7 bytes: its first byte in the lowest, its length in the highest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ShortText(u64);

/// Most bytes of a short text.
const MOST: usize = size_of::<u64>() - 1;

impl ShortText {
    /// `None` of a text that is empty or longer.
    #[inline]
    pub(super) fn of(text: &str) -> Option<ShortText> {
        let bytes = text.as_bytes();
        if !(1..=MOST).contains(&bytes.len()) {
            return None;
        }
        let mut all = [0; size_of::<u64>()];
        all[..bytes.len()].copy_from_slice(bytes);
        Some(ShortText::new(u64::from_le_bytes(all), bytes.len()))
    }

    /// The part from `start` to `end` of a longer text, taken in one step; `None` also where too
    /// little stands behind it for that.
    #[inline]
    pub(super) fn within(text: &str, start: usize, end: usize) -> Option<ShortText> {
        let len = end - start;
        let bytes = text.as_bytes().get(start..)?.first_chunk()?;
        let within = u64::MAX >> (u64::BITS as usize - 8 * len.clamp(1, MOST));
        let is_short = (1..=MOST).contains(&len);
        is_short.then(|| ShortText::new(u64::from_le_bytes(*bytes) & within, len))
    }

    fn new(bytes: u64, len: usize) -> ShortText {
        ShortText(bytes | (len as u64) << (8 * MOST))
    }

    /// Whether there are surely no blanks around it, as its ends in plain text show.
    #[inline]
    pub(super) fn is_surely_trimmed(self) -> bool {
        let len = self.0 >> (8 * MOST);
        let last = (self.0 >> (8 * (len - 1))) as u8;
        self.first().is_ascii_graphic() & last.is_ascii_graphic()
    }

    #[inline]
    pub(super) fn first(self) -> u8 {
        self.0 as u8
    }

    /// A number that other short texts do not have; its highest bit is never set.
    #[inline]
    pub(super) fn bits(self) -> NonZeroU64 {
        // No length is 0.
        NonZeroU64::new(self.0).unwrap_or(NonZeroU64::MIN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "2.05,7 ,\t3,12345678,1234567,é,-1,70";

    #[test]
    fn a_part_of_a_text_is_the_text_that_it_is() {
        for start in 0..TEXT.len() {
            for end in start..=TEXT.len() {
                let Some(part) = TEXT.get(start..end) else {
                    continue;
                };
                let is_near_the_end = start + 8 > TEXT.len();
                let expected = ShortText::of(part).filter(|_| !is_near_the_end);
                assert_eq!(ShortText::within(TEXT, start, end), expected, "{part:?}");
                assert_eq!(
                    expected.is_some(),
                    !is_near_the_end && (1..8).contains(&part.len())
                );
            }
        }
    }

    #[test]
    fn blanks_around_a_text_are_not_overlooked() {
        for (text, is_trimmed) in [
            ("2.05", true),
            ("7", true),
            ("7 ", false),
            (" 7", false),
            ("-1", true),
            ("7\u{a0}", false),
            ("\t7", false),
            ("a b", true),
            ("9999999", true),
        ] {
            let short = ShortText::of(text).unwrap();
            assert_eq!(short.is_surely_trimmed(), is_trimmed, "{text:?}");
            assert_eq!(short.first(), text.as_bytes()[0]);
        }
    }
}
