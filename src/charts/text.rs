//! How wide a text will be, where to break it and how to shorten it.
//!
//! A page chooses the font, so widths are estimated from above: per character the wider of DejaVu Sans 2.37 and
//! Liberation Sans 2 (metrics of Arial), read from the fonts' `hmtx` tables and rounded up to 1/100 em. Most system
//! fonts are narrower than the first.

/// Advance widths of U+0020 to U+007E in 1/100 em.
const ASCII: [u8; 95] = [
    32, 41, 46, 84, 64, 96, 78, 28, 40, 40, 50, 84, 32, 37, 32, 34, // space to /
    64, 64, 64, 64, 64, 64, 64, 64, 64, 64, 34, 34, 84, 84, 84, 56, // 0 to ?
    102, 69, 69, 73, 78, 67, 62, 78, 76, 30, 50, 67, 56, 87, 75, 79, // @ to O
    67, 79, 73, 67, 62, 74, 69, 99, 69, 67, 69, 40, 34, 40, 84, 56, // P to _
    50, 62, 64, 55, 64, 62, 36, 64, 64, 28, 28, 58, 28, 98, 64, 62, // ` to o
    64, 64, 42, 53, 40, 64, 60, 82, 60, 60, 53, 64, 34, 64, 84, // p to ~
];

/// Bold letters are wider by at most this factor in DejaVu Sans Bold, averaged over a word (single letters up to 1.26).
const BOLD: f64 = 1.16;

/// Type weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Normal,
    Bold,
}

/// Type size and weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Font {
    /// Size in px.
    pub size: f64,
    pub weight: Weight,
}

impl Font {
    pub fn normal(size: f64) -> Self {
        Font {
            size,
            weight: Weight::Normal,
        }
    }

    pub fn bold(size: f64) -> Self {
        Font {
            size,
            weight: Weight::Bold,
        }
    }

    /// Estimated width in px, from above.
    pub fn width(self, text: &str) -> f64 {
        let em: f64 = text.chars().map(|c| f64::from(advance(c))).sum::<f64>() / 100.0;
        let factor = if self.weight == Weight::Bold {
            BOLD
        } else {
            1.0
        };
        em * self.size * factor
    }

    /// Distance between baselines in px.
    pub fn line(self) -> f64 {
        self.size * 1.32
    }

    /// Height above the baseline in px, with accents.
    pub fn ascent(self) -> f64 {
        self.size * 0.95
    }

    /// Depth below the baseline in px.
    pub fn descent(self) -> f64 {
        self.size * 0.25
    }

    /// The text, or as much of it as fits with an ellipsis; empty where not even one letter fits.
    pub fn shorten(self, text: &str, width: f64) -> String {
        if self.width(text) <= width {
            return text.to_owned();
        }
        let ends: Vec<usize> = letter_ends(text);
        ends.iter()
            .rev()
            .map(|&end| format!("{}…", text[..end].trim_end()))
            .find(|short| short.chars().count() > 1 && self.width(short) <= width)
            .unwrap_or_default()
    }

    /// The text in at most `lines` lines, broken at spaces; the last is shortened where it must be.
    pub fn wrap(self, text: &str, width: f64, lines: usize) -> Vec<String> {
        let mut result: Vec<String> = Vec::new();
        let mut rest = text.trim();
        while !rest.is_empty() {
            if result.len() + 1 >= lines {
                result.push(self.shorten(rest, width));
                break;
            }
            let end = self.line_end(rest, width);
            result.push(self.shorten(rest[..end].trim_end(), width));
            rest = rest[end..].trim_start();
        }
        result.retain(|line| !line.is_empty());
        result
    }

    /// Where the first line ends: after the last word that fits, or after the first word.
    fn line_end(self, text: &str, width: f64) -> usize {
        if self.width(text) <= width {
            return text.len();
        }
        let mut end = None;
        for (index, _) in text.match_indices(' ') {
            if end.is_some() && self.width(&text[..index]) > width {
                break;
            }
            end = Some(index);
        }
        end.unwrap_or(text.len())
    }
}

/// Where a letter with its combining marks ends, so that a cut never parts them.
fn letter_ends(text: &str) -> Vec<usize> {
    let starts = text
        .char_indices()
        .filter(|(_, c)| advance(*c) > 0)
        .map(|(index, _)| index);
    starts.skip(1).chain([text.len()]).collect()
}

/// Advance width in 1/100 em, from above.
fn advance(c: char) -> u16 {
    let code = u32::from(c);
    match code {
        0x20..=0x7e => ASCII
            .get((code - 0x20) as usize)
            .map_or(100, |w| u16::from(*w)),
        // No-break, thin and narrow spaces; the small dots and raised digits of units.
        0xa0 | 0xb7 | 0xb0 => 50,
        0x2009 | 0x202f => 32,
        0xb2 | 0xb3 | 0xb9 | 0x2070..=0x209c => 54,
        // Combining marks, joiners, variation selectors.
        0x300..=0x36f | 0x200b..=0x200f | 0x2060 | 0xfe00..=0xfe0f => 0,
        // Latin with accents, Greek, Cyrillic.
        0xa1..=0x24f => 107,
        0x370..=0x52f => 109,
        // Dashes, quotes, arrows and signs of arithmetic.
        0x2013 | 0x2018..=0x201f => 56,
        0x2190..=0x22ff => 106,
        // Everything else may be a full-width letter or a pictograph.
        _ => 140,
    }
}

/// What XML cannot carry becomes U+FFFD, and every space, tab or line end one plain space.
pub(super) fn clean(text: &str) -> String {
    let allowed = |c: char| match c {
        '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
        // Marks that would turn the writing direction of what follows.
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '\u{fffd}',
        c if c.is_control() && !c.is_whitespace() => '\u{fffd}',
        '\t' | '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{85}' | '\u{2028}' | '\u{2029}' => ' ',
        c => c,
    };
    let text: String = text.chars().map(allowed).collect();
    text.split(' ')
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// Text for XML content or an attribute in double quotes.
pub(super) fn escape(text: &str) -> String {
    let mut result = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => result.push_str("&amp;"),
            '<' => result.push_str("&lt;"),
            '>' => result.push_str("&gt;"),
            '"' => result.push_str("&quot;"),
            '\'' => result.push_str("&#39;"),
            c => result.push(c),
        }
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    const FONT: Font = Font {
        size: 10.0,
        weight: Weight::Normal,
    };

    // Advance widths of Helvetica in the Adobe Font Metrics of the 14 standard PDF fonts (from memory), 1/1000 em:
    // "S" 667, "t" 278, "r" 333, "o" 556, "k" 500, "e" 556, space 278, "v" 500, "l" 222, "u" 556, "m" 833.
    #[test]
    fn the_estimate_is_not_below_helvetica_and_not_far_above() {
        let helvetica = [
            667, 278, 333, 556, 500, 556, 278, 500, 556, 222, 556, 833, 556,
        ];
        let width = f64::from(helvetica.iter().sum::<i32>()) / 1000.0 * 10.0;
        let estimate = FONT.width("Stroke volume");
        assert!(
            estimate >= width && estimate < 1.25 * width,
            "{estimate} against {width}"
        );
    }

    #[test]
    fn a_short_text_stays_and_a_long_one_ends_in_an_ellipsis_that_fits() {
        assert_eq!(FONT.shorten("abc", 100.0), "abc");
        let short = FONT.shorten("left ventricular outflow tract diameter", 100.0);
        assert!(
            short.ends_with('…') && FONT.width(&short) <= 100.0,
            "{short}"
        );
        assert!(short.starts_with("left vent"));
        assert_eq!(FONT.shorten("abc", 1.0), "");
    }

    #[test]
    fn a_cut_never_parts_a_letter_from_its_combining_mark() {
        let text = "e\u{301}e\u{301}e\u{301}e\u{301}e\u{301}e\u{301}";
        let short = FONT.shorten(text, 30.0);
        let body = short.trim_end_matches('…');
        assert_eq!(body.matches('e').count(), body.matches('\u{301}').count());
        assert!(!body.is_empty());
    }

    #[test]
    fn wrapping_breaks_at_spaces_and_shortens_only_the_last_line() {
        let lines = FONT.wrap("one two three four five six seven", 60.0, 2);
        assert_eq!(lines.len(), 2);
        assert_eq!(lines[0], "one two");
        assert!(lines[1].starts_with("three") && lines[1].ends_with('…'));
        assert!(lines.iter().all(|line| FONT.width(line) <= 60.0));
        assert_eq!(FONT.wrap("  ", 60.0, 2), Vec::<String>::new());
    }

    #[test]
    fn clean_keeps_what_xml_can_carry() {
        assert_eq!(clean("a\u{0}b\n\tc  d"), "a\u{fffd}b c d");
        assert_eq!(clean("x\u{202e}y"), "x\u{fffd}y");
    }

    // XML 1.0, 2.4: & and < must be escaped in content, the quote in an attribute.
    #[test]
    fn escape_leaves_no_markup() {
        assert_eq!(
            escape("<script>\"a\" & 'b'"),
            "&lt;script&gt;&quot;a&quot; &amp; &#39;b&#39;"
        );
    }
}
