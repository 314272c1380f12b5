//! Formulas in the notation: from text to operations.

use std::collections::HashMap;

use super::cursor::{Cursor, DIGITS, RESERVED, Stop, brief};
use super::diagnostic::{Diagnostic, Place, visible};
use crate::formula::op::{At, Binary, Comparison, Exact, Facet, Formula, Many, Op, Unary};
use crate::quantity::{Origin, Unit};

/// A formula as read from a text, with the names and places that the formula itself does not
/// hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Parsed {
    /// The operations.
    pub formula: Formula,
    /// The name of each operand; `reading` for the own reading of the formula's cell.
    pub names: Vec<String>,
    /// Where each operand was first named.
    pub name_places: Vec<Place>,
    /// Where each operation stands.
    pub places: Vec<Place>,
}

/// The name under which a formula asks about its own cell's reading.
pub const OWN_READING: &str = "reading";

/// Reserved words that a cell can be asked for.
const ASKED: &[&str] = &["measured", "estimated", "assumed", "unobtainable"];

/// Deepest nesting of parentheses, branches and signs that is read.
const DEEPEST: usize = 100;

/// Longest formula that is read, in operations.
const LONGEST: usize = 100_000;

/// Reads a formula from the start of the cursor as far as it goes.
pub(super) fn formula(cursor: &mut Cursor<'_>) -> Result<Parsed, Stop> {
    let mut reader = Reader {
        cursor: *cursor,
        parsed: Parsed {
            formula: Formula::default(),
            names: Vec::new(),
            name_places: Vec::new(),
            places: Vec::new(),
        },
        operands: HashMap::new(),
        texts: HashMap::new(),
        depth: 0,
    };
    reader.otherwise()?;
    *cursor = reader.cursor;
    Ok(reader.parsed)
}

struct Reader<'a> {
    cursor: Cursor<'a>,
    parsed: Parsed,
    /// Numbers of the operands and texts met so far.
    operands: HashMap<(&'a str, Facet), u32>,
    texts: HashMap<&'a str, u32>,
    depth: usize,
}

type Read = Result<At, Stop>;

impl<'a> Reader<'a> {
    fn push(&mut self, op: Op, start: usize) -> Read {
        self.push_with(start, |formula| formula.push(op))
    }

    fn push_with(&mut self, start: usize, push: impl FnOnce(&mut Formula) -> At) -> Read {
        if self.parsed.places.len() >= LONGEST {
            let message = format!("the formula has more than {LONGEST} parts");
            return Err(Box::new(
                Diagnostic::error(message, self.cursor.here()).hint("split it over several cells"),
            ));
        }
        self.parsed.places.push(self.cursor.place(start));
        Ok(push(&mut self.parsed.formula))
    }

    fn start(&mut self) -> usize {
        self.cursor.skip_space();
        self.cursor.at()
    }

    /// Goes one level down, so that no input can exhaust the stack.
    fn deeper<T>(&mut self, read: impl FnOnce(&mut Self) -> Result<T, Stop>) -> Result<T, Stop> {
        if self.depth >= DEEPEST {
            let stop = self
                .cursor
                .error(format!("nested more than {DEEPEST} deep"));
            return Err(Box::new(stop.hint("name a part in a cell of its own")));
        }
        self.depth += 1;
        let read = read(self);
        self.depth -= 1;
        read
    }

    /// `a else b`.
    fn otherwise(&mut self) -> Read {
        let start = self.start();
        let mut left = self.or()?;
        while self.cursor.take_word("else") {
            self.cursor.skip_lines();
            let right = self.or()?;
            left = self.push(Op::Else(left, right), start)?;
        }
        Ok(left)
    }

    fn or(&mut self) -> Read {
        let start = self.start();
        let mut left = self.and()?;
        while self.cursor.take_word("or") {
            self.cursor.skip_lines();
            let right = self.and()?;
            left = self.push(Op::Or(left, right), start)?;
        }
        Ok(left)
    }

    fn and(&mut self) -> Read {
        let start = self.start();
        let mut left = self.not()?;
        while self.cursor.take_word("and") {
            self.cursor.skip_lines();
            let right = self.not()?;
            left = self.push(Op::And(left, right), start)?;
        }
        Ok(left)
    }

    fn not(&mut self) -> Read {
        let start = self.start();
        if self.cursor.take_word("not") {
            let a = self.deeper(Self::not)?;
            return self.push(Op::Not(a), start);
        }
        self.comparison()
    }

    fn comparison(&mut self) -> Read {
        let start = self.start();
        let left = self.sum()?;
        let comparisons = [
            ("<=", Comparison::LessEqual),
            ("≤", Comparison::LessEqual),
            (">=", Comparison::GreaterEqual),
            ("≥", Comparison::GreaterEqual),
            ("<", Comparison::Less),
            (">", Comparison::Greater),
        ];
        for (sign, comparison) in comparisons {
            if self.cursor.take(sign) {
                self.cursor.skip_lines();
                let right = self.sum()?;
                return self.push(Op::Compare(comparison, left, right), start);
            }
        }
        Ok(left)
    }

    fn sum(&mut self) -> Read {
        let start = self.start();
        let mut left = self.product()?;
        loop {
            let binary = if self.cursor.take("+") {
                Binary::Add
            } else if self.cursor.take("-") || self.cursor.take("−") {
                Binary::Subtract
            } else {
                return Ok(left);
            };
            self.cursor.skip_lines();
            let right = self.product()?;
            left = self.push(Op::Binary(binary, left, right), start)?;
        }
    }

    fn product(&mut self) -> Read {
        let start = self.start();
        let mut left = self.sign()?;
        loop {
            let binary = if ["*", "·", "⋅", "×"].iter().any(|s| self.cursor.take(s)) {
                Binary::Multiply
            } else if self.cursor.take("/") || self.cursor.take("÷") {
                Binary::Divide
            } else {
                return Ok(left);
            };
            self.cursor.skip_lines();
            let right = self.sign()?;
            left = self.push(Op::Binary(binary, left, right), start)?;
        }
    }

    fn sign(&mut self) -> Read {
        let start = self.start();
        if self.cursor.take("-") || self.cursor.take("−") {
            let a = self.deeper(Self::sign)?;
            return self.push(Op::Unary(Unary::Negate, a), start);
        }
        self.power()
    }

    fn power(&mut self) -> Read {
        let start = self.start();
        let base = self.primary()?;
        let exponent_at = self.cursor.at();
        if let Some(exponent) = self.superscript() {
            let value = f64::from(exponent.unsigned_abs());
            let mut exponent_op = self.number(value, Unit::ONE, exponent_at)?;
            if exponent < 0 {
                exponent_op = self.push(Op::Unary(Unary::Negate, exponent_op), exponent_at)?;
            }
            return self.push(Op::Binary(Binary::Power, base, exponent_op), start);
        }
        if self.cursor.take("^") {
            // Right to left: 2^3^2 is 2^(3^2).
            let exponent = self.deeper(Self::sign)?;
            return self.push(Op::Binary(Binary::Power, base, exponent), start);
        }
        Ok(base)
    }

    /// An exponent written in superscript digits right after its base.
    fn superscript(&mut self) -> Option<i32> {
        let digits = "⁰¹²³⁴⁵⁶⁷⁸⁹";
        let mut text = String::new();
        for c in self.cursor.rest().chars() {
            match digits.chars().position(|d| d == c) {
                Some(digit) => text.push_str(&digit.to_string()),
                None if c == '⁻' && text.is_empty() => text.push('-'),
                None => break,
            }
        }
        let exponent: i32 = text.parse().ok()?;
        for c in self.cursor.rest().chars().take(text.len()) {
            self.cursor.take(c.encode_utf8(&mut [0; 4]));
        }
        Some(exponent)
    }

    fn number(&mut self, value: f64, unit: Unit, start: usize) -> Read {
        let op = Op::Number {
            value: Exact(value),
            unit,
        };
        self.push(op, start)
    }

    fn primary(&mut self) -> Read {
        let start = self.start();
        if let Some(before) = self.cursor.open() {
            let inner = self.deeper(Self::otherwise)?;
            self.cursor.close(before)?;
            return Ok(inner);
        }
        if let Some((_, value, _)) = self.cursor.number()? {
            let unit = super::literal::unit(&mut self.cursor)?.unwrap_or(Unit::ONE);
            return self.number(value, unit, start);
        }
        if self.cursor.take_word("if") {
            return self.deeper(|r| r.branches(start));
        }
        if self.cursor.take_word("withheld") {
            let Some((text, _)) = self.cursor.quoted()? else {
                return Err(self.expected("a reason in quotation marks after `withheld`"));
            };
            let text = self.text(text);
            return self.push(Op::Withheld(text), start);
        }
        if self.cursor.take_word("pi") || self.cursor.take_word("π") {
            return self.push(Op::Pi, start);
        }
        for (word, origin) in [
            ("estimated", Origin::Estimated),
            ("assumed", Origin::Assumed),
        ] {
            if self.cursor.take_word(word) {
                let a = self.arguments(word, 1, 1)?[0];
                return self.push(Op::Marked(origin, a), start);
            }
        }
        self.named(start)
    }

    fn branches(&mut self, start: usize) -> Read {
        let condition = self.or()?;
        self.cursor.skip_lines();
        if !self.cursor.take_word("then") {
            return Err(self.expected("`then` after the condition"));
        }
        self.cursor.skip_lines();
        let yes = self.or()?;
        self.cursor.skip_lines();
        if !self.cursor.take_word("else") {
            return Err(self.expected("`else` and what holds otherwise"));
        }
        self.cursor.skip_lines();
        let no = self.otherwise()?;
        self.push(Op::If(condition, yes, no), start)
    }

    /// A function, a question about a cell, or the cell itself.
    fn named(&mut self, start: usize) -> Read {
        let before = self.cursor;
        let Some((name, place)) = self.cursor.name() else {
            return Err(self.expected("a number, a name or a parenthesis"));
        };
        if RESERVED.contains(&name) && name != OWN_READING {
            self.cursor = before;
            let stop = self.expected("a number, a name or a parenthesis");
            let hint = format!("`{name}` is a word of the notation; a cell needs another name");
            return Err(Box::new(stop.hint(hint)));
        }
        if self.cursor.rest().starts_with('(') {
            return self.function(name, place, start);
        }
        if self.cursor.take_word("is") {
            return self.question(name, place, start);
        }
        if name == OWN_READING {
            return self.push(Op::Reading, start);
        }
        let operand = self.operand(name, place, Facet::Value);
        self.push(Op::Cell(operand), start)
    }

    fn function(&mut self, name: &'a str, place: Place, start: usize) -> Read {
        let unary = match name {
            "sqrt" => Some(Unary::Sqrt),
            "exp" => Some(Unary::Exp),
            "ln" => Some(Unary::Ln),
            "cos" => Some(Unary::Cos),
            "abs" => Some(Unary::Abs),
            _ => None,
        };
        if let Some(unary) = unary {
            let a = self.arguments(name, 1, 1)?[0];
            return self.push(Op::Unary(unary, a), start);
        }
        match name {
            "min" => self.many(name, Many::Min, start),
            "max" => self.many(name, Many::Max, start),
            "mean" => self.many(name, Many::Mean, start),
            "clamp" => {
                let args = self.arguments(name, 3, 3)?;
                self.push(Op::Clamp(args[0], args[1], args[2]), start)
            }
            "beat_count" => {
                let [(cell, place)] = self.cell_arguments(name)?;
                let operand = self.operand(cell, place, Facet::Beats);
                self.push(Op::BeatCount(operand), start)
            }
            "differs" => {
                let [a, b] = self.cell_arguments(name)?;
                let a = self.operand(a.0, a.1, Facet::Value);
                let b = self.operand(b.0, b.1, Facet::Value);
                self.push(Op::Differs(a, b), start)
            }
            "beats" | "largest" => {
                let message =
                    format!("`{name}(…)` gives a reading; it cannot be part of a formula");
                let stop = Diagnostic::error(message, place);
                Err(Box::new(stop.hint("put the beats in a cell of their own")))
            }
            _ => {
                let message = format!("`{}` is not a function", brief(name));
                let stop = Diagnostic::error(message, place);
                Err(Box::new(stop.hint(
                    "the functions are sqrt, exp, ln, cos, abs, min, max, mean, clamp, beat_count and differs",
                )))
            }
        }
    }

    fn many(&mut self, name: &str, many: Many, start: usize) -> Read {
        let args = self.arguments(name, 1, LONGEST)?;
        self.push_with(start, |formula| formula.push_many(many, &args))
    }

    fn arguments(&mut self, name: &str, least: usize, most: usize) -> Result<Vec<At>, Stop> {
        let Some(before) = self.cursor.open() else {
            return Err(self.expected(&format!("`(` after `{name}`")));
        };
        let mut args = vec![self.deeper(Self::otherwise)?];
        while self.cursor.take(",") {
            args.push(self.deeper(Self::otherwise)?);
        }
        let end = self.cursor;
        self.cursor.close_list(before)?;
        if args.len() < least || args.len() > most {
            self.cursor = end;
            let noun = if least == 1 { "argument" } else { "arguments" };
            let message = format!("`{name}` takes {least} {noun}, not {}", args.len());
            return Err(self.cursor.error(message));
        }
        Ok(args)
    }

    /// Arguments that must be names of cells.
    fn cell_arguments<const N: usize>(
        &mut self,
        function: &str,
    ) -> Result<[(&'a str, Place); N], Stop> {
        let Some(before) = self.cursor.open() else {
            return Err(self.expected(&format!("`(` after `{function}`")));
        };
        let mut names = [("", Place::default()); N];
        // A reading of its own has beats, and is no finding that could differ.
        let is_own_beats = |name: &str| name == OWN_READING && function == "beat_count";
        for (i, slot) in names.iter_mut().enumerate() {
            if i > 0 && !self.cursor.take(",") {
                return Err(self.expected(&format!("{N} names in `{function}`")));
            }
            let before = self.cursor;
            match self.cursor.name() {
                Some((name, _)) if RESERVED.contains(&name) && !is_own_beats(name) => {
                    self.cursor = before;
                    return Err(self.expected(&format!("the name of a cell in `{function}`")));
                }
                Some(name) => *slot = name,
                None => return Err(self.expected(&format!("the name of a cell in `{function}`"))),
            }
        }
        self.cursor.close(before)?;
        Ok(names)
    }

    /// `NAME is WORD` and `NAME is not WORD`.
    fn question(&mut self, name: &'a str, place: Place, start: usize) -> Read {
        let negated = self.cursor.take_word("not");
        let before = self.cursor;
        let word = match self.cursor.name() {
            Some((word, _)) if !RESERVED.contains(&word) || ASKED.contains(&word) => word,
            _ => {
                self.cursor = before;
                return Err(self.expected("a word after `is`"));
            }
        };
        let facet = match word {
            "largest" => Facet::Largest,
            "unobtainable" => Facet::Unobtainable,
            "known" if name == OWN_READING => Facet::Given,
            _ => Facet::Value,
        };
        if name == OWN_READING && facet == Facet::Value {
            let message = format!("a reading is never `{}`", brief(word));
            let stop = Diagnostic::error(message, place);
            return Err(Box::new(stop.hint(
                "ask `reading is known`, `reading is unobtainable` or `reading is largest`",
            )));
        }
        let operand = self.operand(name, place, facet);
        let text = self.text(word);
        let is = self.push(Op::Is(operand, text), start)?;
        if negated {
            return self.push(Op::Not(is), start);
        }
        Ok(is)
    }

    /// The number of an operand, new or met before.
    fn operand(&mut self, name: &'a str, place: Place, facet: Facet) -> u32 {
        if let Some(k) = self.operands.get(&(name, facet)) {
            return *k;
        }
        self.parsed.names.push(name.to_owned());
        self.parsed.name_places.push(place);
        let k = self.parsed.formula.add_operand(facet);
        self.operands.insert((name, facet), k);
        k
    }

    /// The number of a text, new or met before.
    fn text(&mut self, text: &'a str) -> u32 {
        let formula = &mut self.parsed.formula;
        *self
            .texts
            .entry(text)
            .or_insert_with(|| formula.push_text(text))
    }

    fn expected(&mut self, what: &str) -> Stop {
        self.cursor.skip_space();
        let mut ahead = self.cursor;
        let next = self.cursor.peek();
        let found = match (ahead.name(), next) {
            (Some((word, _)), _) => format!("`{}` stands", brief(word)),
            (None, None) => "the text ends".to_owned(),
            (None, Some('\n')) => "the line ends".to_owned(),
            (None, Some(c)) => format!("`{}` stands", visible(&c.to_string())),
        };
        let stop = self.cursor.error(format!("{found} where I expect {what}"));
        match next {
            Some(c) if c.is_numeric() && !c.is_ascii() => Box::new(stop.hint(DIGITS)),
            _ => stop,
        }
    }
}
