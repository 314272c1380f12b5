//! Words for what makes no sense.

use super::*;

impl Reader<'_> {
    pub(super) fn refuse(&mut self, message: String, hint: Option<&str>) -> Read {
        self.misfits.push(Misfit {
            op: self.at,
            message,
            hint: hint.map(str::to_owned),
        });
        None
    }

    /// A part as it was written, without its middle where it is long.
    pub(super) fn text(&self, at: At) -> String {
        let text = write_op(self.formula, at, self.names);
        let length = text.chars().count();
        if length <= LONGEST_SHOWN {
            return text;
        }
        let side = LONGEST_SHOWN / 2 - 2;
        let start: String = text.chars().take(side).collect();
        let end: String = text.chars().skip(length - side).collect();
        format!("{start} … {end}")
    }

    pub(super) fn name(&self, operand: u32) -> &str {
        self.names.get(operand as usize).copied().unwrap_or("…")
    }

    /// The unit of a part, as a message names it.
    pub(super) fn unit_of(&self, at: At, term: &Term) -> String {
        let own = match self.formula.ops()[at as usize] {
            Op::Cell(k) => Some(self.operands[k as usize].unit),
            Op::Number { unit, .. } => Some(unit),
            Op::Reading => self.target.unit,
            _ => None,
        };
        match own {
            Some(unit) => named(unit).to_owned(),
            _ if term.dimension.is_none() => "a bare number".to_owned(),
            _ => term.dimension.coherent_unit(),
        }
    }
}

/// A unit in a message.
pub(super) fn named(unit: Unit) -> &'static str {
    match unit {
        Unit::ONE => "a bare number",
        unit => unit.code(),
    }
}

/// "an outflow area".
pub(super) fn with_article(kind: Kind) -> String {
    let label = kind.label();
    let article = match label.starts_with(['a', 'e', 'i', 'o', 'u']) {
        true => "an",
        false => "a",
    };
    format!("{article} {label}")
}
