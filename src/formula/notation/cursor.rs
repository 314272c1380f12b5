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
    "bound",
    "cohort",
    "from",
    "draw",
    "adjust",
    "describe",
    "exams",
    "against",
    "over",
    "when",
    "off",
    "by",
    "to",
    "titled",
    "correlate",
    "coverage",
    "repeatability",
    "marking",
    "budget",
    "coupling",
    "probability",
    "simulate",
    "assumed",
    "estimated",
    "measured",
    "unobtainable",
    "reading",
    "withheld",
    "pi",
];

/// The way out for numbers written otherwise.
pub(super) const DIGITS: &str =
    "numbers are written with the digits 0 to 9 and a decimal point, without separators";

/// A position in a text.
#[derive(Clone, Copy)]
pub(super) struct Cursor<'a> {
    text: &'a str,
    source: u32,
    at: usize,
    /// End of what was last taken, before the spaces and comments that follow it.
    taken: usize,
    /// Inside parentheses a line may end anywhere.
    enclosed: bool,
}

/// What a closing parenthesis needs to know of the opening one.
#[derive(Clone, Copy)]
pub(super) struct Opened {
    was_enclosed: bool,
    place: Place,
}

impl<'a> Cursor<'a> {
    pub(super) fn new(text: &'a str, source: u32) -> Self {
        Cursor {
            text,
            source,
            at: 0,
            taken: 0,
            enclosed: false,
        }
    }

    fn advance(&mut self, bytes: usize) {
        self.at += bytes;
        self.taken = self.at;
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

    /// The text at a place of this text.
    pub(super) fn text_at(&self, place: Place) -> &'a str {
        self.text
            .get(place.start as usize..place.end as usize)
            .unwrap_or("")
    }

    /// From `start` to the end of what was last taken.
    pub(super) fn place(&self, start: usize) -> Place {
        Place {
            source: self.source,
            start: start as u32,
            end: self.taken.max(start) as u32,
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

    /// The error that something `ends` here but the text goes on, with a hint for what is most
    /// often meant by what follows.
    pub(super) fn goes_on(&self, ends: &str) -> Stop {
        let mut ahead = *self;
        let after_digit = self.text[..self.taken].ends_with(|c: char| c.is_ascii_digit());
        let hint = match self.peek() {
            Some('±') => "± can follow a reading; a formula takes it from its readings",
            Some(',' | '_') if after_digit && self.taken == self.at => DIGITS,
            Some('=') => "compare with <, <=, > or >=, or ask a finding: `rhythm is regular`",
            Some('<' | '>' | '≤' | '≥') => "join two comparisons by `and`",
            _ if ahead.take_word("is") => "`is` follows the name of a cell",
            _ if ["measured", "estimated", "assumed"]
                .iter()
                .any(|w| ahead.take_word(w)) =>
            {
                "of a reading the origin is said after it; of a formula write `assumed(…)`"
            }
            _ if after_digit || self.text[..self.taken].ends_with(char::is_alphabetic) => {
                "an operator is missing if this belongs to it; a unit is one piece without spaces"
            }
            _ => "an operator is missing if this belongs to it",
        };
        Box::new(self.error(ends).hint(hint))
    }

    /// After an error at byte `at`, goes to where the next statement most likely starts: the
    /// line of the error if that is a later one and defines something, else the line after.
    pub(super) fn recover(&mut self, at: usize) {
        let line_start = self.text[..at].rfind('\n').map_or(0, |n| n + 1);
        if line_start > self.at {
            let line = self.text[line_start..].lines().next().unwrap_or("");
            let is_definition = line
                .split_once('=')
                .is_some_and(|(left, _)| !left.ends_with(['<', '>']));
            self.at = line_start;
            self.enclosed = false;
            if is_definition {
                return;
            }
        }
        self.skip_line();
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
            self.advance(text.len());
        }
        found
    }

    /// Takes an opening parenthesis; gives what to bring to the closing one.
    pub(super) fn open(&mut self) -> Option<Opened> {
        self.take("(").then(|| Opened {
            was_enclosed: std::mem::replace(&mut self.enclosed, true),
            place: self.place(self.at - 1),
        })
    }

    pub(super) fn close(&mut self, opened: Opened) -> Result<(), Stop> {
        self.close_or(opened, "a closing parenthesis is missing here")
    }

    /// As [`Cursor::close`], after a list that could go on.
    pub(super) fn close_list(&mut self, opened: Opened) -> Result<(), Stop> {
        self.close_or(opened, "a comma or a closing parenthesis is missing here")
    }

    fn close_or(&mut self, opened: Opened, message: &str) -> Result<(), Stop> {
        if !self.take(")") {
            let missing = self.error(message);
            return Err(Box::new(missing.also(opened.place, "opened here")));
        }
        self.enclosed = opened.was_enclosed;
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
            self.advance(word.len());
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
            self.advance(c.len_utf8());
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
        self.advance(length);
        let place = self.place(start);
        let refused = |size: &str| {
            let message = format!("`{}` is too {size} a number", brief(written));
            let hint = "numbers lie between 1e-307 and 1e308; a unit of another size may help";
            Err(Box::new(Diagnostic::error(message, place).hint(hint)))
        };
        match written.parse::<f64>() {
            Ok(0.0) if has_digit_but_zero(written) => refused("small"),
            Ok(value) if value.is_finite() => Ok(Some((written, value, place))),
            _ => refused("large"),
        }
    }

    /// Takes the text of a unit that follows a number: one unspaced piece.
    pub(super) fn unit_text(&mut self) -> Option<(&'a str, Place)> {
        let before = self.at;
        self.skip_space();
        let start = self.at;
        if start == before && self.rest().starts_with('/') {
            // `1/a` divides; a unit that starts with a slash stands apart: `96 /min`.
            return None;
        }
        let mut brackets = 0usize;
        // A space before the first character, so that a unit starts with no digit or exponent:
        // `2^3` is a power.
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
                '.' | '·' | '⋅' => last != ' ' && (next.is_alphabetic() || next == '['),
                '^' => last != ' ' && (next.is_ascii_digit() || next == '-'),
                '-' => (last == '^' || last.is_alphabetic()) && next.is_ascii_digit(),
                '%' | '°' | '\'' => true,
                c if c.is_ascii_digit() || is_superscript(c) => last != ' ',
                c => c.is_alphabetic(),
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
        self.taken = self.at;
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
                self.advance(1);
                return Ok(Some((inside, place)));
            }
            self.advance(c.len_utf8());
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
                self.advance(length);
                let place = self.place(start);
                self.advance(1);
                Ok(Some((&self.text[start..start + length], place)))
            }
            None => Err(self.error("the closing quotation mark is missing on this line")),
        }
    }
}

/// A text of the user as a message quotes it: short.
pub(super) fn brief(text: &str) -> String {
    const MOST: usize = 60;
    match text.char_indices().nth(MOST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text.to_owned(),
    }
}

fn has_digit_but_zero(written: &str) -> bool {
    written
        .bytes()
        .take_while(|b| !matches!(b, b'e' | b'E'))
        .any(|b| matches!(b, b'1'..=b'9'))
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
