//! Readings: what a person or a file puts into a cell.

use super::beats::Beats;
use super::origin::Origin;
use super::uncertainty::Spread;
use super::unit::Unit;

/// What was put in.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A magnitude with its unit.
    Magnitude {
        /// The number, in `unit`.
        value: f64,
        /// The unit it was given in.
        unit: Unit,
    },
    /// A finding's word.
    Word(String),
    /// Not known yet.
    Unknown,
    /// Could not be measured, which is more than not being known.
    Unobtainable,
}

/// A reading: magnitude, unit, uncertainty (stated or not), beats, and origin.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    content: Content,
    spread: Option<Spread>,
    beats: Beats,
    origin: Origin,
    unit_to_come: Option<Unit>,
}

/// Why a reading cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadingError {
    /// The number is infinite or not a number.
    #[error("a reading must be a finite number, not {value}")]
    NotFinite {
        /// The number.
        value: f64,
    },
    /// The uncertainty has another dimension than the reading.
    #[error("an uncertainty in {spread} does not fit a reading in {unit}")]
    SpreadUnit {
        /// Unit of the uncertainty.
        spread: Unit,
        /// Unit of the reading.
        unit: Unit,
    },
    /// There were no beats in the list.
    #[error("a list of beats needs at least one beat")]
    NoBeats,
    /// Only a magnitude can carry an uncertainty or beats.
    #[error("only a number can carry an uncertainty or beats")]
    NotANumber,
}

impl Reading {
    /// A magnitude in a unit.
    ///
    /// # Errors
    /// [`ReadingError::NotFinite`].
    pub fn of(value: f64, unit: Unit) -> Result<Reading, ReadingError> {
        if value.is_finite() {
            Ok(Reading::plain(Content::Magnitude { value, unit }))
        } else {
            Err(ReadingError::NotFinite { value })
        }
    }

    /// The mean or the largest of beats in a unit.
    ///
    /// # Errors
    /// [`ReadingError::NoBeats`], [`ReadingError::NotFinite`].
    pub fn of_beats(beats: Beats, unit: Unit) -> Result<Reading, ReadingError> {
        let value = beats.joined().ok_or(ReadingError::NoBeats)?;
        let mut reading = Reading::of(value, unit)?;
        reading.beats = beats;
        Ok(reading)
    }

    /// A finding's word.
    pub fn word(word: impl Into<String>) -> Reading {
        Reading::plain(Content::Word(word.into()))
    }

    /// Not known yet.
    pub fn unknown() -> Reading {
        Reading::plain(Content::Unknown)
    }

    /// Not known yet, but it will be in a unit like this.
    pub fn unknown_in(unit: Unit) -> Reading {
        Reading {
            unit_to_come: Some(unit),
            ..Reading::unknown()
        }
    }

    /// Could not be measured.
    pub fn unobtainable() -> Reading {
        Reading::plain(Content::Unobtainable)
    }

    fn plain(content: Content) -> Reading {
        Reading {
            content,
            spread: None,
            beats: Beats::Unstated,
            origin: Origin::Measured,
            unit_to_come: None,
        }
    }

    /// Takes another measured magnitude where nothing more is said of it: the frequent case, for
    /// which no reading is made anew. Says whether it could.
    #[inline]
    pub(crate) fn take_magnitude(&mut self, number: f64, of: Unit) -> bool {
        let is_plain = self.spread.is_none() && matches!(self.beats, Beats::Unstated);
        match &mut self.content {
            Content::Magnitude { value, unit } if is_plain => {
                (*value, *unit) = (number, of);
                self.origin = Origin::Measured;
                true
            }
            _ => false,
        }
    }

    /// The same reading with another origin.
    #[must_use]
    pub fn with_origin(mut self, origin: Origin) -> Reading {
        self.origin = origin;
        self
    }

    /// The same reading as the average of `count` beats.
    ///
    /// # Errors
    /// [`ReadingError::NotANumber`], [`ReadingError::NoBeats`].
    pub fn with_beat_count(mut self, count: u32) -> Result<Reading, ReadingError> {
        self.unit().ok_or(ReadingError::NotANumber)?;
        if count == 0 {
            return Err(ReadingError::NoBeats);
        }
        self.beats = Beats::Averaged(count);
        Ok(self)
    }

    /// The same reading with a stated uncertainty.
    ///
    /// # Errors
    /// [`ReadingError::NotANumber`], [`ReadingError::SpreadUnit`].
    pub fn with_spread(mut self, spread: Spread) -> Result<Reading, ReadingError> {
        let unit = self.unit().ok_or(ReadingError::NotANumber)?;
        let fits =
            spread.unit().dimension() == unit.dimension() || spread.unit().dimension().is_none();
        if !fits {
            return Err(ReadingError::SpreadUnit {
                spread: spread.unit(),
                unit,
            });
        }
        self.spread = Some(spread);
        Ok(self)
    }

    /// What was put in.
    pub fn content(&self) -> &Content {
        &self.content
    }

    /// The stated uncertainty.
    pub fn spread(&self) -> Option<Spread> {
        self.spread
    }

    /// The beats behind the number.
    pub fn beats(&self) -> &Beats {
        &self.beats
    }

    /// Where the number came from.
    pub fn origin(&self) -> Origin {
        self.origin
    }

    /// The unit of a magnitude.
    pub fn unit(&self) -> Option<Unit> {
        match self.content {
            Content::Magnitude { unit, .. } => Some(unit),
            _ => None,
        }
    }

    /// The unit that was stated for what is not known yet.
    pub fn unit_to_come(&self) -> Option<Unit> {
        self.unit_to_come
    }

    /// The standard uncertainty in `unit`: the stated one, or the scatter of the beats; `None`
    /// where nothing was stated, which is not zero.
    pub fn standard_uncertainty(&self, unit: Unit) -> Option<f64> {
        let Content::Magnitude { value, unit: own } = self.content else {
            return None;
        };
        let value = own.convert(value, unit)?;
        match self.spread {
            Some(spread) => spread.standard(value, unit),
            None => own.convert(self.beats.scatter()?.0, unit),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::SpreadForm;

    fn unit(text: &str) -> Unit {
        Unit::parse(text).unwrap()
    }

    #[test]
    fn the_scatter_of_beats_stands_in_for_an_unstated_uncertainty() {
        let beats = Beats::Mean(vec![178.0, 184.0, 181.0]);
        let reading = Reading::of_beats(beats, unit("mm")).unwrap();
        let u = reading.standard_uncertainty(unit("cm")).unwrap();
        assert!((u - (0.09f64 / 3.0).sqrt()).abs() < 1e-12);
        let plain = Reading::of(18.1, unit("cm")).unwrap();
        assert_eq!(plain.standard_uncertainty(unit("cm")), None);
    }

    #[test]
    fn unfit_uncertainties_are_refused() {
        let spread = Spread::new(SpreadForm::Standard, 1.0, unit("s")).unwrap();
        let reading = Reading::of(2.0, unit("cm")).unwrap();
        assert!(matches!(
            reading.with_spread(spread),
            Err(ReadingError::SpreadUnit { .. })
        ));
        assert!(Reading::unknown().with_beat_count(3).is_err());
    }
}
