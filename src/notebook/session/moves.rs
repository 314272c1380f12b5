//! Readings that a person moves by hand, where the notebook says that they can be moved.
//!
//! A move changes the sheet and no text: the next submission keeps it, as long as the notebook
//! says the same of the reading. Uncertainty and beats go with the reading: an amount stays, a
//! share of the value stays a share.

use std::collections::BTreeSet;

use super::{Session, Update};
use crate::formula::notation::Display;
use crate::notebook::live::adjust::Adjustable;
use crate::quantity::{Reading, Unit};

/// A reading that can be moved, in the unit that its cell is shown in.
#[derive(Clone, Debug, PartialEq)]
pub struct Slider {
    /// Identifier of the output that stands where it can be moved.
    pub output: String,
    /// Name of the cell.
    pub cell: String,
    /// The words for the cell.
    pub label: String,
    /// The unit as people read it; empty for bare numbers.
    pub unit: String,
    /// The least place.
    pub from: f64,
    /// The greatest place.
    pub to: f64,
    /// From one place to the next.
    pub by: f64,
    /// Decimals that show every place.
    pub decimals: u32,
    /// Where the reading is now.
    pub now: f64,
}

/// A reading that was moved.
pub(super) struct Moved {
    /// What the notebook says.
    from: Reading,
    to: Reading,
}

impl Session {
    /// The readings that can be moved, in the order of the statements that say so.
    pub fn sliders(&self) -> Vec<Slider> {
        let sheet = &self.sheet;
        let mut sliders = Vec::new();
        for (rendering, display) in self.renderings() {
            if let Display::Adjust(adjust) = display
                && let Ok(found) = Adjustable::of(&rendering, adjust)
                && let Some(now) = sheet.value(found.cell)
            {
                sliders.push(Slider {
                    output: rendering.id.clone(),
                    cell: sheet.name(found.cell),
                    label: sheet.label(found.cell),
                    unit: found.unit.pretty().to_owned(),
                    from: found.from,
                    to: found.to(),
                    by: found.by,
                    decimals: found.decimals,
                    now,
                });
            }
        }
        sliders
    }

    /// Identifiers of the outputs that follow when a reading is moved. Summaries of cohorts follow
    /// too, but are not told here.
    pub fn followers(&self) -> BTreeSet<String> {
        let renderings = self.renderings();
        let mut followers = BTreeSet::new();
        for slider in self.sliders() {
            for end in [slider.from, slider.to] {
                let mut moved = self.sheet.clone();
                let Some(cell) = moved.cell(&slider.cell) else {
                    continue;
                };
                let unit = moved.unit(cell).unwrap_or(Unit::ONE);
                if moved.measure(cell, end, unit).is_err() {
                    continue;
                }
                for (rendering, display) in &renderings {
                    let before = rendering.made_from(display);
                    let after = rendering.on(&moved).made_from(display);
                    if before != after && !matches!(display, Display::Adjust(_)) {
                        followers.insert(rendering.id.clone());
                    }
                }
            }
        }
        followers
    }

    /// Moves a reading, named by the output of its slider, to the place nearest to a value.
    ///
    /// # Errors
    /// Words that say why it cannot be there.
    pub fn move_reading(&mut self, output: &str, value: f64) -> Result<Update, String> {
        let slider = self.sliders().into_iter().find(|s| s.output == output);
        let slider = slider.ok_or("nothing can be moved here any more")?;
        if !value.is_finite() {
            return Err(format!("{value} is no place to move to"));
        }
        let last = ((slider.to - slider.from) / slider.by).round();
        let place = ((value - slider.from) / slider.by).round().clamp(0.0, last);
        let value = rounded(slider.from + place * slider.by, slider.decimals);
        let cell = self.sheet.cell(&slider.cell);
        let own = cell.and_then(|cell| self.sheet.reading(cell)).cloned();
        let (Some(cell), Some(own)) = (cell, own) else {
            return Err(format!("`{}` has no reading to move", slider.cell));
        };
        let unit = self.sheet.unit(cell).unwrap_or(Unit::ONE);
        let to = own.moved_to(value, unit);
        let to = to.ok_or_else(|| format!("`{}` cannot be {value}", slider.cell))?;
        self.sheet
            .set(cell, to.clone())
            .map_err(|e| e.to_string())?;
        self.moved
            .entry(slider.cell)
            .and_modify(|moved| moved.to = to.clone())
            .or_insert(Moved { from: own, to });
        self.read_cohorts();
        Ok(self.show())
    }

    /// Puts moved readings into a sheet that was made anew, where the notebook still says of them
    /// what it said when they were moved.
    pub(super) fn move_again(&mut self) {
        let sheet = &mut self.sheet;
        self.moved.retain(|name, moved| {
            let cell = sheet.cell(name);
            let same = cell.filter(|cell| sheet.reading(*cell) == Some(&moved.from));
            same.is_some_and(|cell| sheet.set(cell, moved.to.clone()).is_ok())
        });
    }
}

fn rounded(value: f64, decimals: u32) -> f64 {
    let text = format!("{value:.*}", decimals as usize);
    text.parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn session() -> Session {
        let mut session = Session::new(".");
        session.submit(
            "a",
            "use hemodynamics\nlvot_diameter = 2 cm (u = 1 mm)\nlvot_vti = 20 cm (u = 5 %)",
        );
        session.submit("b", "adjust lvot_diameter from 1.6 cm to 2.6 cm by 0.5 mm");
        session.submit("c", "show stroke_volume");
        session.submit(
            "d",
            "show lvot_vti\nadjust lvot_vti from 10 cm to 30 cm by 1 cm",
        );
        session
    }

    fn said(session: &Session) -> String {
        session.outputs("c")[0].text.clone()
    }

    #[test]
    fn a_move_changes_what_leans_on_the_reading_and_keeps_its_uncertainty() {
        let mut session = session();
        assert_eq!(
            session.followers().into_iter().collect::<Vec<_>>(),
            ["c/0", "d/0"]
        );
        let update = session.move_reading("b/0", 2.21).unwrap();
        assert_eq!(update.changed, ["b", "c"]);
        // π/4 · 2.2² cm² · 20 cm; u² = (2·1 mm/22 mm)² + (5 %)² of it.
        assert!(said(&session).contains("76.0 mL"), "{}", said(&session));
        assert!(said(&session).contains("7.9 mL"), "{}", said(&session));
        assert_eq!(session.sliders()[0].now, 2.2);
    }

    #[test]
    fn a_move_stays_until_the_notebook_says_something_else_of_the_reading() {
        let mut session = session();
        session.move_reading("b/0", 1.6).unwrap();
        session.submit("e", "heart_rate = 70 /min");
        assert_eq!(session.sliders()[0].now, 1.6);
        let same = session.move_reading("b/0", 1.6).unwrap();
        assert!(same.changed.is_empty());
        session.submit(
            "a",
            "use hemodynamics\nlvot_diameter = 2.1 cm\nlvot_vti = 20 cm",
        );
        assert_eq!(session.sliders()[0].now, 2.1);
        assert!(said(&session).contains("69.3 mL"));
    }

    #[test]
    fn places_are_kept_to_and_what_is_gone_is_said() {
        let mut session = session();
        session.move_reading("b/0", 99.0).unwrap();
        assert_eq!(session.sliders()[0].now, 2.6);
        assert!(session.move_reading("b/0", f64::NAN).is_err());
        session.forget("b");
        assert!(session.move_reading("b/0", 2.0).is_err());
    }
}
