//! Readings: what a person or a file puts into a cell.

use super::beats::Beats;
use super::between::Between;
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
    between: Option<Box<Between>>,
    beats: Beats,
    origin: Origin,
    unit_to_come: Option<Unit>,
}

/// One part of a reading's standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Part {
    /// Whether it is a share of the value, not an amount.
    pub(crate) is_share: bool,
    /// The share, or the amount in the unit asked for.
    pub(crate) standard: f64,
    /// Its degrees of freedom; infinite where they are not limited.
    pub(crate) freedom: f64,
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
    #[error("an uncertainty in {spread} does not fit a reading {}", reading_words(*.unit))]
    SpreadUnit {
        /// Unit of the uncertainty.
        spread: Unit,
        /// Unit of the reading.
        unit: Unit,
    },
    /// The uncertainty is a bare number, and the reading is none.
    #[error("an uncertainty of {amount} has no unit, but the reading is in {unit}")]
    SpreadWithoutUnit {
        /// The amount as it was stated.
        amount: f64,
        /// Unit of the reading.
        unit: Unit,
    },
    /// A share of zero says nothing.
    #[error("{amount} {spread} of a reading of zero say nothing of its uncertainty")]
    ShareOfZero {
        /// The amount as it was stated.
        amount: f64,
        /// Unit of the uncertainty.
        spread: Unit,
        /// Unit of the reading.
        unit: Unit,
    },
    /// There were no beats in the list.
    #[error("a list of beats needs at least one beat")]
    NoBeats,
    /// There is no scatter that acquisitions could scatter beyond.
    #[error(
        "how much acquisitions scatter joins the scatter of at least two beats, or a stated uncertainty"
    )]
    NothingToJoin,
    /// Only a magnitude can carry an uncertainty or beats.
    #[error("only a number can carry an uncertainty or beats")]
    NotANumber,
}

/// `in cm`, or `that is a bare number`.
fn reading_words(unit: Unit) -> String {
    match unit {
        Unit::ONE => format!("that is {}", unit.words()),
        unit => unit.words(),
    }
}

impl ReadingError {
    /// What would do instead, where that can be said.
    pub fn way_out(&self) -> Option<String> {
        match self {
            ReadingError::SpreadUnit { unit, .. } if unit.dimension().is_none() => {
                Some("state it as a bare number, or in % of the value".into())
            }
            ReadingError::SpreadUnit { unit, .. } => Some(format!(
                "state it in {unit} or another unit of the same quantity, or in % of the value"
            )),
            ReadingError::SpreadWithoutUnit { amount, unit } => {
                // Who writes 0.1 beside 2 cm means 0.1 cm or a tenth; who writes 5, 5 cm or 5 %.
                let per_cent = match *amount < 1.0 {
                    true => (1e12 * amount).round() / 1e10,
                    false => *amount,
                };
                Some(format!(
                    "write `{amount} {unit}`, or `{per_cent} %` for a share of the value"
                ))
            }
            ReadingError::ShareOfZero { unit, .. } if *unit == Unit::ONE => {
                Some("state it as an amount, a bare number".into())
            }
            ReadingError::ShareOfZero { unit, .. } if unit.is_share() => {
                Some("state it as an amount: a bare number, 0.01 for one point".into())
            }
            ReadingError::ShareOfZero { unit, .. } => {
                Some(format!("state it as an amount, such as `1 {unit}`"))
            }
            ReadingError::NotFinite { .. }
            | ReadingError::NoBeats
            | ReadingError::NothingToJoin
            | ReadingError::NotANumber => None,
        }
    }

    /// The error with its way out, in one line.
    pub fn with_way_out(&self) -> String {
        match self.way_out() {
            Some(way_out) => format!("{self}: {way_out}"),
            None => self.to_string(),
        }
    }
}

/// Checks that an uncertainty can be said of a number.
fn check_spread(spread: Spread, value: f64, unit: Unit) -> Result<(), ReadingError> {
    let amount = spread.amount();
    if spread.is_share() && value == 0.0 {
        let spread = spread.unit();
        return Err(ReadingError::ShareOfZero {
            amount,
            spread,
            unit,
        });
    }
    if spread.fits(unit) {
        return Ok(());
    }
    Err(match spread.unit() {
        Unit::ONE => ReadingError::SpreadWithoutUnit { amount, unit },
        spread => ReadingError::SpreadUnit { spread, unit },
    })
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
            between: None,
            beats: Beats::Unstated,
            origin: Origin::Measured,
            unit_to_come: None,
        }
    }

    /// Takes another measured magnitude where nothing more is said of it: the frequent case, for
    /// which no reading is made anew. Says whether it could.
    #[inline]
    pub(crate) fn take_magnitude(&mut self, number: f64, of: Unit) -> bool {
        let is_plain = self.spread.is_none()
            && self.between.is_none()
            && matches!(self.beats, Beats::Unstated);
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

    /// The same reading with a stated uncertainty. A unit of shares, such as `%`, says a share of
    /// the value, whatever that measures; any other unit an amount.
    ///
    /// # Errors
    /// [`ReadingError::NotANumber`], [`ReadingError::SpreadUnit`],
    /// [`ReadingError::SpreadWithoutUnit`], [`ReadingError::ShareOfZero`].
    pub fn with_spread(mut self, spread: Spread) -> Result<Reading, ReadingError> {
        let Content::Magnitude { value, unit } = self.content else {
            return Err(ReadingError::NotANumber);
        };
        check_spread(spread, value, unit)?;
        self.spread = Some(spread);
        Ok(self)
    }

    /// The same reading, of which it is known how much acquisitions scatter beyond its beats.
    ///
    /// # Errors
    /// As [`Reading::with_spread`]; [`ReadingError::NothingToJoin`] for a reading without the
    /// scatter of two beats and without a stated uncertainty.
    pub fn with_between(mut self, between: Between) -> Result<Reading, ReadingError> {
        let Content::Magnitude { value, unit } = self.content else {
            return Err(ReadingError::NotANumber);
        };
        check_spread(between.spread(), value, unit)?;
        if self.spread.is_none() && self.beats.scatter().is_none() {
            return Err(ReadingError::NothingToJoin);
        }
        self.between = Some(Box::new(between));
        Ok(self)
    }

    /// The same reading at another magnitude: what is a share of the value stays one, a stated
    /// amount stays, and beats go along, so that their number, rule and scatter stay. `None` where
    /// this is no magnitude, or one of another dimension.
    ///
    /// ```
    /// use semilunar::quantity::{Beats, Reading, Unit};
    ///
    /// let cm = Unit::parse("cm").unwrap();
    /// let reading = Reading::of_beats(Beats::Mean(vec![17.8, 18.4, 18.1]), cm).unwrap();
    /// let moved = reading.moved_to(20.0, cm).unwrap();
    /// assert_eq!(moved.beats().count(), 3);
    /// let u = |reading: &Reading| reading.standard_uncertainty(cm).unwrap();
    /// assert!((u(&moved) - u(&reading)).abs() < 1e-12);
    /// ```
    pub fn moved_to(&self, value: f64, unit: Unit) -> Option<Reading> {
        let Content::Magnitude {
            value: old,
            unit: own,
        } = self.content
        else {
            return None;
        };
        let by = value - own.convert(old, unit)?;
        let go_along = |values: &[f64]| -> Option<Vec<f64>> {
            let all = values.iter().map(|v| Some(own.convert(*v, unit)? + by));
            all.collect()
        };
        let beats = match &self.beats {
            Beats::Unstated => Beats::Unstated,
            Beats::Averaged(count) => Beats::Averaged(*count),
            Beats::Mean(values) => Beats::Mean(go_along(values)?),
            Beats::Largest(values) => Beats::Largest(go_along(values)?),
        };
        value.is_finite().then(|| Reading {
            content: Content::Magnitude { value, unit },
            beats,
            ..self.clone()
        })
    }

    /// What was put in.
    pub fn content(&self) -> &Content {
        &self.content
    }

    /// The stated uncertainty.
    pub fn spread(&self) -> Option<Spread> {
        self.spread
    }

    /// How much acquisitions scatter beyond the beats of this one, where that was stated.
    pub fn between(&self) -> Option<Between> {
        self.between.as_deref().copied()
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

    /// The standard uncertainty in `unit`: the stated one, or the scatter of the beats, joined in
    /// quadrature by what acquisitions scatter beyond that; `None` where nothing was stated, which
    /// is not zero, or only a share of a value that is zero.
    pub fn standard_uncertainty(&self, unit: Unit) -> Option<f64> {
        let within = self.within_acquisition(unit)?;
        match self.between {
            Some(_) => Some(within.hypot(self.between_acquisitions(unit)?)),
            None => Some(within),
        }
    }

    /// The part of the standard uncertainty that one acquisition shows.
    pub(crate) fn within_acquisition(&self, unit: Unit) -> Option<f64> {
        let Content::Magnitude { value, unit: own } = self.content else {
            return None;
        };
        match self.spread {
            Some(spread) => spread.standard(own.convert(value, unit)?, unit),
            None => own.convert(self.beats.scatter()?.0, unit),
        }
    }

    /// The part of the standard uncertainty that only another acquisition would show.
    pub(crate) fn between_acquisitions(&self, unit: Unit) -> Option<f64> {
        let Content::Magnitude { value, unit: own } = self.content else {
            return None;
        };
        self.between()?
            .spread()
            .standard(own.convert(value, unit)?, unit)
    }

    /// The parts that the standard uncertainty is joined from in quadrature, each with its degrees
    /// of freedom: of one acquisition first, then what acquisitions scatter beyond it.
    pub(crate) fn parts(&self, unit: Unit) -> Vec<Part> {
        let Content::Magnitude { unit: own, .. } = self.content else {
            return Vec::new();
        };
        let stated = |spread: Spread| {
            Some(Part {
                is_share: spread.is_share(),
                standard: spread.standard(1.0, unit)?,
                freedom: spread.freedom().map_or(f64::INFINITY, f64::from),
            })
        };
        let beats = || {
            let (standard, freedom) = self.beats.scatter()?;
            Some(Part {
                is_share: false,
                standard: own.convert(standard, unit)?,
                freedom: f64::from(freedom),
            })
        };
        let within = match self.spread {
            Some(spread) => stated(spread),
            None => beats(),
        };
        let between = self.between().and_then(|between| stated(between.spread()));
        match within {
            Some(within) => std::iter::once(within).chain(between).collect(),
            None => Vec::new(),
        }
    }

    /// Degrees of freedom of the standard uncertainty: those stated with it, or those of the beats
    /// where it is their scatter, and those stated for what acquisitions scatter, both together by
    /// Welch and Satterthwaite (JCGM 100:2008 G.4.1); infinite where none are limited.
    pub fn degrees_of_freedom(&self) -> f64 {
        let Content::Magnitude { value, unit } = self.content else {
            return f64::INFINITY;
        };
        let parts = self.parts(unit);
        if let [one] = &parts[..] {
            return one.freedom;
        }
        let size = |part: &Part| match part.is_share {
            true => part.standard * value.abs(),
            false => part.standard,
        };
        let squares = |part: &Part| size(part).powi(2);
        let variance: f64 = parts.iter().map(squares).sum();
        let sum: f64 = parts.iter().map(|p| squares(p).powi(2) / p.freedom).sum();
        match sum > 0.0 {
            true => variance * variance / sum,
            false => f64::INFINITY,
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

    #[test]
    fn a_bare_number_is_no_length_and_a_share_of_zero_no_uncertainty() {
        let (cm, percent) = (unit("cm"), unit("%"));
        let said = |value, of, amount, spread| {
            let spread = Spread::new(SpreadForm::Within, amount, spread).unwrap();
            Reading::of(value, of).unwrap().with_spread(spread)
        };
        let refused =
            |value, of, amount, spread| said(value, of, amount, spread).unwrap_err().with_way_out();
        assert_eq!(
            refused(2.0, cm, 0.1, Unit::ONE),
            "an uncertainty of 0.1 has no unit, but the reading is in cm: \
             write `0.1 cm`, or `10 %` for a share of the value"
        );
        assert!(refused(20.0, cm, 1.0, Unit::ONE).contains("`1 cm`, or `1 %`"));
        assert_eq!(
            refused(0.0, cm, 5.0, percent),
            "5 % of a reading of zero say nothing of its uncertainty: \
             state it as an amount, such as `1 cm`"
        );
        assert!(refused(0.0, percent, 5.0, percent).contains("0.01 for one point"));
        assert!(refused(0.4, Unit::ONE, 1.0, cm).contains("a bare number, or in %"));
        assert!(said(0.4, Unit::ONE, 0.1, Unit::ONE).is_ok());
        // Moved to zero, it says nothing either, and so does what is joined with it.
        let shared = said(2.0, cm, 5.0, percent).unwrap();
        let joined = shared
            .clone()
            .with_between(Between::new(1.0, cm, None).unwrap());
        for reading in [shared, joined.unwrap()] {
            let moved = reading.moved_to(0.0, cm).unwrap();
            assert_eq!(moved.standard_uncertainty(cm), None);
        }
        let amount = said(2.0, cm, 1.0, cm).unwrap();
        let joined = amount.with_between(Between::new(4.0, percent, None).unwrap());
        let moved = joined.unwrap().moved_to(0.0, cm).unwrap();
        assert_eq!(moved.standard_uncertainty(cm), None);
    }

    #[test]
    fn a_stated_uncertainty_takes_its_degrees_of_freedom() {
        let cm = unit("cm");
        let spread = Spread::new(SpreadForm::Standard, 0.3, cm).unwrap();
        let one = Reading::of(18.0, cm).unwrap();
        let known = one
            .clone()
            .with_spread(spread.with_freedom(18).unwrap())
            .unwrap();
        assert_eq!(known.degrees_of_freedom(), 18.0);
        assert_eq!(spread.with_freedom(0), None);
        let joined = known
            .with_between(Between::new(0.4, cm, Some(4)).unwrap())
            .unwrap();
        // Welch and Satterthwaite by hand: 0.5⁴ / (0.3⁴/18 + 0.4⁴/4).
        let by_hand = 0.0625 / (0.0081 / 18.0 + 0.0256 / 4.0);
        assert!((joined.degrees_of_freedom() - by_hand).abs() < 1e-9);
        assert_eq!(
            one.with_spread(spread).unwrap().degrees_of_freedom(),
            f64::INFINITY
        );
    }

    #[test]
    fn a_moved_reading_keeps_what_is_said_of_it() {
        let cm = unit("cm");
        let between = Between::new(4.0, unit("%"), Some(11)).unwrap();
        let reading =
            Reading::of_beats(Beats::Mean(vec![190.0, 210.0, 200.0]), unit("mm")).unwrap();
        let reading = reading.with_between(between).unwrap();
        let moved = reading.moved_to(10.0, cm).unwrap();
        assert_eq!(
            moved.content(),
            &Content::Magnitude {
                value: 10.0,
                unit: cm
            }
        );
        assert_eq!(moved.beats(), &Beats::Mean(vec![9.0, 11.0, 10.0]));
        // By hand: 1 cm / √3 of the beats, and 4 % of 10 cm.
        let u = moved.standard_uncertainty(cm).unwrap();
        assert!((u - (1.0f64 / 3.0 + 0.16).sqrt()).abs() < 1e-12, "{u}");
        let freedom = (1.0 / 3.0 + 0.16f64).powi(2) / ((1.0f64 / 9.0) / 2.0 + 0.0256 / 11.0);
        assert!((moved.degrees_of_freedom() - freedom).abs() < 1e-9);
        let largest = Reading::of_beats(Beats::Largest(vec![17.0, 19.0]), cm).unwrap();
        assert!(largest.moved_to(20.0, cm).unwrap().beats().is_largest());
        assert_eq!(largest.moved_to(20.0, unit("s")), None);
        assert_eq!(largest.moved_to(f64::NAN, cm), None);
        assert_eq!(Reading::unknown().moved_to(20.0, cm), None);
    }

    /// JCGM 100:2008 H.5 (memory): ten days of five observations of a voltage; within days 85 µV,
    /// between days 43 µV, so that the mean of one day has 57 µV.
    #[test]
    fn acquisitions_scatter_beyond_their_beats_as_days_do_beyond_their_observations() {
        let uv = unit("uV");
        // Five observations whose standard deviation is 85 µV: that of −2, −1, 0, 1, 2 is √2.5.
        let step = 85.0 / 2.5f64.sqrt();
        let day = Beats::Mean((-2..=2).map(|i| 172.0 + step * f64::from(i)).collect());
        let alone = Reading::of_beats(day, uv).unwrap();
        assert!((alone.standard_uncertainty(uv).unwrap() - 85.0 / 5f64.sqrt()).abs() < 1e-9);
        assert_eq!(alone.degrees_of_freedom(), 4.0);
        let joined = alone
            .clone()
            .with_between(Between::new(43.0, uv, Some(9)).unwrap())
            .unwrap();
        let u = joined.standard_uncertainty(uv).unwrap();
        assert!((u - 57.0).abs() < 0.5, "{u}");
        // Welch and Satterthwaite by hand.
        let (within, between) = (85f64 * 85.0 / 5.0, 43f64 * 43.0);
        let by_hand = (within + between).powi(2) / (within.powi(2) / 4.0 + between.powi(2) / 9.0);
        assert!((joined.degrees_of_freedom() - by_hand).abs() < 1e-9);
        let unlimited = alone.with_between(Between::new(43.0, uv, None).unwrap());
        let by_hand = (within + between).powi(2) / (within.powi(2) / 4.0);
        assert!((unlimited.unwrap().degrees_of_freedom() - by_hand).abs() < 1e-9);
    }

    #[test]
    fn acquisitions_need_something_to_scatter_beyond() {
        let cm = unit("cm");
        let between = Between::new(4.0, unit("%"), None).unwrap();
        let one = Reading::of(18.0, cm).unwrap();
        let refused = one.clone().with_between(between);
        assert_eq!(refused, Err(ReadingError::NothingToJoin));
        let stated = one.with_spread(Spread::new(SpreadForm::Standard, 0.3, cm).unwrap());
        let joined = stated.unwrap().with_between(between).unwrap();
        // By hand: 4 % of 18 cm is 0.72 cm.
        assert!((joined.standard_uncertainty(cm).unwrap() - 0.3f64.hypot(0.72)).abs() < 1e-12);
        assert_eq!(joined.degrees_of_freedom(), f64::INFINITY);
        assert!(Between::new(-1.0, cm, None).is_none());
        assert!(Between::new(1.0, cm, Some(0)).is_none());
        let wrong = Between::new(1.0, unit("s"), None).unwrap();
        assert!(matches!(
            joined.with_between(wrong),
            Err(ReadingError::SpreadUnit { .. })
        ));
    }
}
