//! Reading a text piece by piece: spaces, words, numbers, units.

use super::diagnostic::{Diagnostic, Place};

/// A stop in the reading of one statement.
pub(super) type Stop = Box<Diagnostic>;

/// Words of the notation, which cannot name a cell or stand for a unit.
pub(super) const RESERVED: &[&str] = &[
    "if",
    "then",
    "else",
    "and",
    "or",
    "not",
    "is",
    "use",
    "as",
    "compare",
    "require",
    "show",
    "explain",
    "cohort",
    "from",
    "draw",
    "against",
    "over",
    "when",
    "off",
    "by",
    "to",
    "titled",
    "correlate",
    "coverage",
    "marking",
    "assumed",
    "estimated",
    "measured",
    "unobtainable",
    "reading",
    "withheld",
    "pi",
];

/// A position in a text.
#[derive(Clone, Copy)]
pub(super) struct Cursor<'a> {
    text: &'a str,
    source: u32,
    at: usize,
    /// Inside parentheses a line may end anywhere.
    enclosed: bool,
}

impl<'a> Cursor<'a> {
    pub(super) fn new(text: &'a str, source: u32) -> Self {
        Cursor {
            text,
            source,
            at: 0,
            enclosed: false,
        }
    }

    pub(super) fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    pub(super) fn at(&self) -> usize {
        self.at
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    pub(super) fn place(&self, start: usize) -> Place {
        Place {
            source: self.source,
            start: start as u32,
            end: self.at as u32,
        }
    }

    /// The next character, or the empty place at the end of the text.
    pub(super) fn here(&self) -> Place {
        let width = match self.peek() {
            Some('\n') | None => 0,
            Some(c) => c.len_utf8(),
        };
        Place {
            source: self.source,
            start: self.at as u32,
            end: (self.at + width) as u32,
        }
    }

    pub(super) fn error(&self, message: impl Into<String>) -> Stop {
        Box::new(Diagnostic::error(message, self.here()))
    }

    /// Skips spaces and comments; line ends too, inside parentheses.
    pub(super) fn skip_space(&mut self) {
        self.skip(self.enclosed);
    }

    /// Skips spaces, comments and line ends.
    pub(super) fn skip_lines(&mut self) {
        self.skip(true);
    }

    fn skip(&mut self, lines: bool) {
        while let Some(c) = self.peek() {
            match c {
                '\n' if !lines => return,
                '#' => {
                    let comment = self.rest().find('\n').unwrap_or(self.rest().len());
                    self.at += comment;
                }
                c if c.is_whitespace() || c == '\u{feff}' => self.at += c.len_utf8(),
                _ => return,
            }
        }
    }

    /// Skips to the end of the line, for going on after an error.
    pub(super) fn skip_line(&mut self) {
        let line = self.rest().find('\n').unwrap_or(self.rest().len());
        self.at += line;
        self.enclosed = false;
    }

    pub(super) fn is_line_end(&mut self) -> bool {
        self.skip_space();
        matches!(self.peek(), None | Some('\n'))
    }

    /// Takes `text` if it comes next.
    pub(super) fn take(&mut self, text: &str) -> bool {
        self.skip_space();
        let found = self.rest().starts_with(text);
        if found {
            self.at += text.len();
        }
        found
    }

    /// Takes an opening parenthesis; gives what to restore at the closing one.
    pub(super) fn open(&mut self) -> Option<bool> {
        self.take("(")
            .then(|| std::mem::replace(&mut self.enclosed, true))
    }

    pub(super) fn close(&mut self, before: bool) -> Result<(), Stop> {
        if !self.take(")") {
            let missing = Diagnostic::error("a closing parenthesis is missing here", self.here());
            return Err(Box::new(missing.hint("close what was opened with `(`")));
        }
        self.enclosed = before;
        Ok(())
    }

    /// Takes a word of the notation: whole, not the start of a longer one.
    pub(super) fn take_word(&mut self, word: &str) -> bool {
        self.skip_space();
        let found = self.rest().starts_with(word)
            && !self.rest()[word.len()..]
                .chars()
                .next()
                .is_some_and(is_name_part);
        if found {
            self.at += word.len();
        }
        found
    }

    /// Takes a word or dotted name, reserved or not.
    pub(super) fn name(&mut self) -> Option<(&'a str, Place)> {
        self.skip_space();
        let start = self.at;
        if !self.peek().is_some_and(|c| c.is_alphabetic() || c == '_') {
            return None;
        }
        while let Some(c) = self.peek() {
            let dotted = c == '.'
                && self.rest()[1..]
                    .chars()
                    .next()
                    .is_some_and(|c| c.is_alphabetic() || c == '_');
            if !(is_name_part(c) || dotted) {
                break;
            }
            self.at += c.len_utf8();
        }
        Some((&self.text[start..self.at], self.place(start)))
    }

    /// Takes an unsigned number; its digits as written and its value.
    pub(super) fn number(&mut self) -> Result<Option<(&'a str, f64, Place)>, Stop> {
        self.skip_space();
        let start = self.at;
        let digits = |s: &str| s.bytes().take_while(u8::is_ascii_digit).count();
        let whole = digits(self.rest());
        let mut length = whole;
        if self.rest()[length..].starts_with('.') {
            let fraction = digits(&self.rest()[length + 1..]);
            if fraction > 0 {
                length += 1 + fraction;
            }
        }
        if length == 0 {
            return Ok(None);
        }
        length += exponent(&self.rest()[length..]);
        let written = &self.rest()[..length];
        self.at += length;
        let place = self.place(start);
        match written.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some((written, value, place))),
            _ => Err(Box::new(Diagnostic::error(
                format!("`{written}` is too large a number"),
                place,
            ))),
        }
    }

    /// Takes the text of a unit that follows a number: one unspaced piece.
    pub(super) fn unit_text(&mut self) -> Option<(&'a str, Place)> {
        let before = self.at;
        self.skip_space();
        let start = self.at;
        let mut brackets = 0usize;
        let mut last = ' ';
        let mut chars = self.rest().chars().peekable();
        while let Some(c) = chars.next() {
            let next = chars.peek().copied().unwrap_or(' ');
            let part = match c {
                '[' | '{' => {
                    brackets += 1;
                    true
                }
                ']' | '}' if brackets > 0 => {
                    brackets -= 1;
                    true
                }
                _ if brackets > 0 => !c.is_whitespace(),
                '/' => next.is_alphabetic() || matches!(next, '[' | '{' | '%' | '°'),
                '.' | '·' | '⋅' => !last.is_whitespace() && next.is_alphabetic() || next == '[',
                '^' => next.is_ascii_digit() || next == '-',
                '-' => (last == '^' || last.is_alphabetic()) && next.is_ascii_digit(),
                '%' | '°' | '\'' => true,
                c if c.is_ascii_digit() => !last.is_whitespace(),
                c => c.is_alphabetic() || is_superscript(c),
            };
            if !part {
                break;
            }
            self.at += c.len_utf8();
            last = c;
        }
        let text = &self.text[start..self.at];
        if text.is_empty() || RESERVED.contains(&text) {
            self.at = before;
            return None;
        }
        Some((text, self.place(start)))
    }

    /// Takes text in square brackets, which may hold brackets of units.
    pub(super) fn bracketed(&mut self) -> Result<Option<(&'a str, Place)>, Stop> {
        if !self.take("[") {
            return Ok(None);
        }
        let start = self.at;
        let mut depth = 1usize;
        while let Some(c) = self.peek() {
            match c {
                '[' => depth += 1,
                ']' => depth -= 1,
                '\n' => break,
                _ => {}
            }
            if depth == 0 {
                let place = self.place(start);
                let inside = self.text[start..self.at].trim();
                self.at += 1;
                return Ok(Some((inside, place)));
            }
            self.at += c.len_utf8();
        }
        Err(self.error("a closing bracket is missing here"))
    }

    /// Takes a text in double quotes, on one line.
    pub(super) fn quoted(&mut self) -> Result<Option<(&'a str, Place)>, Stop> {
        if !self.take("\"") {
            return Ok(None);
        }
        let start = self.at;
        let line = self.rest().find('\n').unwrap_or(self.rest().len());
        match self.rest()[..line].find('"') {
            Some(length) => {
                self.at += length;
                let place = self.place(start);
                self.at += 1;
                Ok(Some((&self.text[start..start + length], place)))
            }
            None => Err(self.error("the closing quotation mark is missing on this line")),
        }
    }
}

pub(super) fn is_name_part(c: char) -> bool {
    c.is_alphanumeric() && !is_superscript(c) || c == '_'
}

fn is_superscript(c: char) -> bool {
    "⁰¹²³⁴⁵⁶⁷⁸⁹⁻".contains(c)
}

/// Length of the exponent part `e-3` at the start of `s`.
fn exponent(s: &str) -> usize {
    let Some(rest) = s.strip_prefix(['e', 'E']) else {
        return 0;
    };
    let sign = usize::from(rest.starts_with(['+', '-']));
    let digits = rest[sign..].bytes().take_while(u8::is_ascii_digit).count();
    if digits == 0 { 0 } else { 1 + sign + digits }
}
