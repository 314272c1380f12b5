//! Readings that a person moves by hand, where the notebook says that they can be moved.
//!
//! A move changes the sheet and no text: the next submission keeps it, as long as the notebook
//! says the same of the reading. The uncertainty goes with the reading: an amount stays, a share
//! of the value stays a share.

use std::collections::BTreeSet;

use super::{Session, Update};
use crate::formula::notation::Display;
use crate::notebook::live::adjust::Adjustable;
use crate::quantity::{Beats, Content, Reading, ReadingError, Unit};

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
        let to = elsewhere(&own, value, unit).map_err(|e| e.to_string())?;
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

/// The same reading with another number: beats move together and keep their scatter and its
/// degrees of freedom, and so does what acquisitions scatter.
fn elsewhere(own: &Reading, value: f64, unit: Unit) -> Result<Reading, ReadingError> {
    let beats = own.beats();
    let mut reading = match own.spread() {
        Some(spread) => Reading::of(value, unit)?.with_spread(spread)?,
        None => match shifted(own, value, unit) {
            Some(beats) => Reading::of_beats(beats, unit)?,
            None => Reading::of(value, unit)?,
        },
    };
    if let Some(between) = own.between() {
        reading = reading.with_between(between)?;
    }
    if beats.count() > 1 && reading.beats() == &Beats::Unstated {
        reading = reading.with_beat_count(beats.count())?;
    }
    Ok(reading.with_origin(own.origin()))
}

/// Most rounds until the mean of moved beats is the place to the last digit.
const ROUNDS: usize = 8;

/// The beats of a mean around another one; nothing where their scatter says nothing.
fn shifted(own: &Reading, value: f64, unit: Unit) -> Option<Beats> {
    own.beats().scatter()?;
    let Beats::Mean(beats) = own.beats() else {
        return None;
    };
    let from = own.unit()?;
    let beats: Option<Vec<f64>> = beats.iter().map(|b| from.convert(*b, unit)).collect();
    let mut beats = beats?;
    for _ in 0..ROUNDS {
        let moved = Reading::of_beats(Beats::Mean(beats.clone()), unit).ok()?;
        let Content::Magnitude { value: mean, .. } = *moved.content() else {
            return None;
        };
        if mean == value {
            break;
        }
        beats.iter_mut().for_each(|beat| *beat += value - mean);
    }
    Some(Beats::Mean(beats))
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

    /// What acquisitions scatter goes with the reading: 4 % of 24 cm is 0.96 cm, and the beats
    /// scatter as they did, with their two degrees of freedom.
    #[test]
    fn a_move_keeps_what_acquisitions_scatter() {
        use crate::quantity::Unit;

        let read = |text: &str| crate::formula::notation::reading(text, 0).unwrap();
        let cm = Unit::parse("cm").unwrap();
        for text in [
            "beats(17.8, 18.4, 18.1) cm (between 4 %)",
            "beats(17.8, 18.4, 18.1) cm (between 0.7 cm freedom 11)",
            "18.1 cm (u = 0.3 cm, between 4 % freedom 5)",
            "181 mm (u = 2 %, between 7 mm)",
            "beats(17.8, 18.4, 18.1) cm",
        ] {
            let own = read(text);
            let moved = elsewhere(&own, 24.0, cm).unwrap();
            let Content::Magnitude { value, .. } = *moved.content() else {
                panic!("{text}");
            };
            assert_eq!(value, 24.0, "{text}");
            let part = |of: &Reading, is_share: bool, u: Option<f64>, value: f64| {
                u.map(|u| if is_share { u / value } else { u })
                    .filter(|_| of.unit().is_some())
            };
            let within_share = own.spread().is_some_and(|s| s.is_relative_to(cm));
            let between_share = own.between().is_some_and(|b| b.spread().is_relative_to(cm));
            for (is_share, [a, b]) in [
                (
                    within_share,
                    [&own, &moved].map(|r| r.within_acquisition(cm)),
                ),
                (
                    between_share,
                    [&own, &moved].map(|r| r.between_acquisitions(cm)),
                ),
            ] {
                let (a, b) = (
                    part(&own, is_share, a, 18.1),
                    part(&moved, is_share, b, 24.0),
                );
                match (a, b) {
                    (Some(a), Some(b)) => assert!((a - b).abs() < 1e-12, "{text}: {a} {b}"),
                    (a, b) => assert_eq!(a, b, "{text}"),
                }
            }
            assert_eq!(moved.beats().count(), own.beats().count(), "{text}");
            let freedom = |r: &Reading| r.between().and_then(|b| b.freedom());
            assert_eq!(freedom(&moved), freedom(&own));
        }
        let alone = elsewhere(&read("beats(17.8, 18.4, 18.1) cm"), 24.0, cm).unwrap();
        assert_eq!(alone.degrees_of_freedom(), 2.0);
    }
}
