//! Conditions and choices.

use super::*;

impl Reader<'_> {
    pub(super) fn choose(&mut self, c: (At, Term), a: (At, Read), b: (At, Read)) -> Read {
        let chosen = self.condition(c.0, c.1);
        let (x, y) = self.alike("chooses between", (a.0, a.1?), (b.0, b.1?))?;
        let (x, y) = self.one_size(x, y);
        let c = self.register(chosen?.place);
        let (a, b) = (self.register(x.place), self.register(y.place));
        let place = self.emit(Step::Select(c, a, b));
        Some(joined(x, y, place))
    }

    pub(super) fn compare(&mut self, comparison: Comparison, a: (At, Term), b: (At, Term)) -> Read {
        let (x, y) = self.alike("compares", a, b)?;
        let (x, y) = self.one_size(x, y);
        let (a, b) = (self.register(x.place), self.register(y.place));
        let step = match comparison {
            Comparison::Less => Step::Compare(Order::Less, a, b),
            Comparison::LessEqual => Step::Compare(Order::LessEqual, a, b),
            Comparison::Greater => Step::Compare(Order::Less, b, a),
            Comparison::GreaterEqual => Step::Compare(Order::LessEqual, b, a),
        };
        Some(condition(self.emit(step)))
    }

    pub(super) fn logic(
        &mut self,
        a: (At, Term),
        b: (At, Term),
        step: fn(Reg, Reg) -> Step,
    ) -> Read {
        let (x, y) = (self.condition(a.0, a.1), self.condition(b.0, b.1));
        let (a, b) = (self.register(x?.place), self.register(y?.place));
        Some(condition(self.emit(step(a, b))))
    }

    pub(super) fn is(&mut self, k: u32, text: u32) -> Read {
        let word = self.formula.text(text).clone();
        let facts = &self.operands[k as usize];
        let register = k as Reg;
        let step = match self.formula.operands()[k as usize] {
            // 1 or 0 already: asked of the reading, not of the value.
            Facet::Largest | Facet::Unobtainable | Facet::Given => {
                return Some(condition(Place::Register(register)));
            }
            Facet::Beats | Facet::Value => {
                if let Some(number) = facts.words.iter().position(|w| **w == *word) {
                    Step::IsWord(register, number as u16)
                } else if let Some(test) = state_test(&word) {
                    Step::IsState(register, test)
                } else {
                    let message = format!("`{}` is never `{word}`", self.name(k));
                    let mut words: Vec<&str> = facts.words.iter().map(|w| &**w).collect();
                    words.extend([
                        "known",
                        "missing",
                        "unobtainable",
                        "measured",
                        "estimated",
                        "assumed",
                    ]);
                    let hint = format!("its words are {}", words.join(", "));
                    return self.refuse(message, Some(&hint));
                }
            }
        };
        Some(condition(self.emit(step)))
    }

    pub(super) fn differs(&mut self, a: u32, b: u32) -> Read {
        let (x, y) = (&self.operands[a as usize], &self.operands[b as usize]);
        if x.words.is_empty() || x.words != y.words {
            let message = format!(
                "`differs` compares two findings with the same words, not `{}` and `{}`",
                self.name(a),
                self.name(b)
            );
            return self.refuse(message, None);
        }
        Some(condition(self.emit(Step::Differs(a as Reg, b as Reg))))
    }

    /// A term that is a quantity, or an error.
    pub(super) fn quantity(&mut self, at: At, term: Term) -> Read {
        if term.is_condition {
            let message = format!("`{}` holds or not; it is not a quantity", self.text(at));
            return self.refuse(message, Some("choose by it: `if … then … else …`"));
        }
        Some(term)
    }

    /// A term that is a condition, or an error.
    pub(super) fn condition(&mut self, at: At, term: Term) -> Read {
        if !term.is_condition {
            let message = format!("`{}` is a quantity, not a condition", self.text(at));
            return self.refuse(message, Some("compare it with something: `… > 2 cm`"));
        }
        Some(term)
    }
}

fn state_test(word: &str) -> Option<StateTest> {
    match word {
        "known" => Some(StateTest::Known),
        "missing" => Some(StateTest::Missing),
        word => Origin::from_word(word).map(StateTest::Origin),
    }
}
