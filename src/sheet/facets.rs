//! What is asked of a reading beyond its value: hidden cells that answer.

use super::cell::{HAS_FACETS, HIDDEN};
use super::sheet::Sheet;
use crate::formula::{Facet, Formula, Op, Target};
use crate::quantity::{Content, Kind, Reading, Unit};

/// What can be asked of a reading beyond its value.
pub(super) const FACETS: [Facet; 4] = [
    Facet::Beats,
    Facet::Largest,
    Facet::Unobtainable,
    Facet::Given,
];

impl Sheet {
    /// The hidden cell that answers what is asked of a reading, or the cell itself.
    pub(super) fn facet_cell(&mut self, index: u32, facet: Facet) -> u32 {
        if facet == Facet::Value {
            return index;
        }
        if let Some(companion) = self.companions.get(&(index, facet)) {
            return *companion;
        }
        let shared = match facet {
            // Whether this very reading is given is no question to another cell.
            Facet::Given => None,
            _ => self.shared.get(&index).copied(),
        };
        let upstream = shared.map(|shared| self.facet_cell(shared, facet));
        let companion = self.push_cell(Unit::ONE, Kind::Plain);
        self.companions.insert((index, facet), companion);
        self.speaks_of.insert(companion, index);
        self.hot[companion as usize].flags |= HIDDEN;
        self.hot[index as usize].flags |= HAS_FACETS;
        if let Some(upstream) = upstream {
            let mut passes_on = Formula::default();
            let operand = passes_on.add_operand(Facet::Value);
            passes_on.push(Op::Cell(operand));
            let number = self.formula_number(passes_on);
            if let Ok(tape) = self.tape_of(number, &[upstream], Target::default()) {
                self.attach(companion, number, tape.number, &[upstream]);
            }
        }
        self.readings[companion as usize] = self.facet_reading(index, facet);
        self.refresh_reading(companion as usize);
        self.compute_now(companion as usize);
        companion
    }

    fn facet_reading(&self, index: u32, facet: Facet) -> Option<Box<Reading>> {
        let reading = self.readings[index as usize].as_deref();
        let number = self.facet_from(index, reading, facet);
        number
            .and_then(|n| Reading::of(n, Unit::ONE).ok())
            .map(Box::new)
    }

    /// What a reading, or its absence, answers to a question; `None` where it says nothing.
    pub(super) fn facet_from(
        &self,
        index: u32,
        reading: Option<&Reading>,
        facet: Facet,
    ) -> Option<f64> {
        let flag = |yes: bool| Some(f64::from(u8::from(yes)));
        let content = reading.map(Reading::content);
        let given = matches!(content, Some(Content::Magnitude { .. } | Content::Word(_)));
        let silent = !given && content != Some(&Content::Unobtainable);
        match facet {
            Facet::Value => None,
            Facet::Given => flag(given),
            // Silence passes the question on to the shared cell, where there is one.
            _ if silent && self.shared.contains_key(&index) => None,
            Facet::Beats => reading
                .filter(|_| given)
                .map(|r| f64::from(r.beats().count())),
            Facet::Largest => flag(reading.is_some_and(|r| r.beats().is_largest())),
            Facet::Unobtainable => flag(content == Some(&Content::Unobtainable)),
        }
    }

    pub(super) fn put_facets(&mut self, index: u32) {
        for facet in FACETS {
            let Some(companion) = self.companions.get(&(index, facet)).copied() else {
                continue;
            };
            self.readings[companion as usize] = self.facet_reading(index, facet);
            self.refresh_reading(companion as usize);
            self.mark(companion);
        }
    }
}
