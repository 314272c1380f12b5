//! Readings in the notation: numbers with units, uncertainty, beats and origin.

use super::cursor::{Cursor, RESERVED, Stop, brief};
use super::diagnostic::{Diagnostic, Place};
use crate::quantity::{
    Beats, Between, Content, Origin, Reading, ReadingError, Spread, SpreadForm, Unit, UnitError,
};

/// How uncertainty is written, for hints.
const FORMS: &str = "write `(u = 1 mm)` for a standard uncertainty, `(within 1 mm)` for certain \
                     bounds, or `± 2 mm (k = 2)` for an expanded uncertainty";

/// Takes a unit after a number, if one is there.
pub(super) fn unit(cursor: &mut Cursor<'_>) -> Result<Option<Unit>, Stop> {
    let Some((text, place)) = cursor.unit_text() else {
        return Ok(None);
    };
    match Unit::parse(text) {
        Ok(unit) => Ok(Some(unit)),
        Err(error) => {
            let hint = match error {
                UnitError::Unknown { .. } if text.starts_with('/') => {
                    "to divide by a cell, put a space on both sides of `/`; \
                     units are UCUM codes such as /min"
                }
                UnitError::Unknown { .. } => {
                    "units are UCUM codes such as cm, mL, /min, mm[Hg], L/min/m2"
                }
                _ => "use a unit such as cm, mL, /min or mm[Hg]",
            };
            Err(Box::new(
                Diagnostic::error(error.to_string(), place).hint(hint),
            ))
        }
    }
}

/// The unit of a value that is not known yet, `? kg`, if one stands here.
pub(super) fn unit_of_unknown(cursor: &Cursor<'_>) -> Option<Unit> {
    let mut ahead = *cursor;
    match ahead.take("?") {
        true => unit(&mut ahead).ok().flatten(),
        false => None,
    }
}

/// Takes a reading if the text from here to the end of the line is one. `Ok(None)` leaves the
/// cursor where it was: what stands there is a formula, or a word.
pub(super) fn reading(cursor: &mut Cursor<'_>) -> Result<Option<Reading>, Stop> {
    let start = *cursor;
    if cursor.take("?") {
        let unit = unit(cursor)?;
        let reading = unit.map_or_else(Reading::unknown, Reading::unknown_in);
        return end(cursor).map(|()| Some(reading));
    }
    if cursor.take_word("unobtainable") {
        return end(cursor).map(|()| Some(Reading::unobtainable()));
    }
    cursor.skip_space();
    let at = cursor.at();
    let read = if cursor.take_word("beats") {
        beats(cursor, Beats::Mean)?
    } else if cursor.take_word("largest") {
        beats(cursor, Beats::Largest)?
    } else {
        match number(cursor)? {
            Some(reading) => reading,
            None => {
                *cursor = start;
                return Ok(None);
            }
        }
    };
    let list = cursor.place(at);
    let (reading, said_more) = said_of(cursor, read, list)?;
    if cursor.is_line_end() {
        return match has_no_scatter(&reading) {
            true => Err(one_beat(&reading, list)),
            false => Ok(Some(reading)),
        };
    }
    if said_more || !reading.beats().eq(&Beats::Unstated) {
        end(cursor)?;
    }
    // `2 cm * …`: a formula that starts with a number.
    *cursor = start;
    Ok(None)
}

/// Whether the scatter of beats is asked for where there is none: that of one beat.
fn has_no_scatter(reading: &Reading) -> bool {
    let is_one = matches!(reading.beats(), Beats::Mean(values) if values.len() == 1);
    is_one && reading.spread().is_none()
}

fn one_beat(reading: &Reading, place: Place) -> Stop {
    let beat = match reading.content() {
        Content::Magnitude { value, unit } => super::print::quantity(*value, *unit),
        _ => String::new(),
    };
    let message = "`beats` asks for the scatter of the beats, and one beat has none";
    let hint = format!(
        "give two beats or more; one beat alone is `{beat} (n = 1)`, which states no uncertainty"
    );
    Box::new(Diagnostic::error(message, place).hint(hint))
}

fn end(cursor: &mut Cursor<'_>) -> Result<(), Stop> {
    if cursor.is_line_end() {
        Ok(())
    } else if let Some(stop) = uncertainty_of_none(cursor) {
        Err(stop)
    } else {
        let stop = cursor.error("a reading ends here, but the line goes on");
        Err(Box::new(stop.hint("put what follows on a line of its own")))
    }
}

/// What is said where an uncertainty follows what can have none of its own: a formula, an exact
/// constant, a word, or what is not known.
pub(super) fn uncertainty_of_none(cursor: &Cursor<'_>) -> Option<Stop> {
    let mut ahead = *cursor;
    let is_stated = ahead.take("±")
        || ahead.take("(")
            && (ahead.take_word("within")
                || ahead.take_word("triangular")
                || ahead.take_word("between")
                || ahead.take_word("u") && ahead.take("="));
    let message = "an uncertainty belongs to a reading with a number, and this is none";
    let hint = "an exact constant has none, and what is computed has that of its readings: state it \
                where they stand, such as `lvot_diameter = 2.05 cm (u = 1 mm)`";
    is_stated.then(|| Box::new(cursor.error(message).hint(hint)))
}

/// Takes a number with its unit, wherever it stands in a line.
pub(super) fn plain(cursor: &mut Cursor<'_>) -> Result<Option<Reading>, Stop> {
    number(cursor)
}

/// A signed number, its uncertainty in the last digits, and its unit.
fn number(cursor: &mut Cursor<'_>) -> Result<Option<Reading>, Stop> {
    let start = *cursor;
    let negative = cursor.take("-") || cursor.take("−");
    let Some((written, magnitude, place)) = cursor.number()? else {
        *cursor = start;
        return Ok(None);
    };
    let value = if negative { -magnitude } else { magnitude };
    let last_digits = last_digits(cursor, written)?;
    let unit = unit(cursor)?.unwrap_or(Unit::ONE);
    let invalid = |error: String| Box::new(Diagnostic::error(error, place));
    let reading = Reading::of(value, unit).map_err(|e| invalid(e.to_string()))?;
    match last_digits {
        None => Ok(Some(reading)),
        Some(amount) => {
            // Digits of `40(2) %` are points: an amount, which `%` would make a share.
            let (amount, unit) = match unit.is_share() {
                true => (unit.convert(amount, Unit::ONE), Unit::ONE),
                false => (Some(amount), unit),
            };
            let spread = amount
                .and_then(|amount| Spread::new(SpreadForm::Standard, amount, unit))
                .ok_or_else(|| invalid("the uncertainty in the last digits is too large".into()))?;
            let reading = reading
                .with_spread(spread)
                .map_err(|e| invalid(e.to_string()))?;
            Ok(Some(reading))
        }
    }
}

/// `(10)` right after `2.05`: a standard uncertainty of 0.10.
fn last_digits(cursor: &mut Cursor<'_>, written: &str) -> Result<Option<f64>, Stop> {
    let Some(inside) = cursor.rest().strip_prefix('(') else {
        return Ok(None);
    };
    let length = inside.bytes().take_while(u8::is_ascii_digit).count();
    if length == 0 || !inside[length..].starts_with(')') {
        return Ok(None);
    }
    let (mantissa, exponent) = match written.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, exponent.parse::<i64>()),
        None => (written, Ok(0)),
    };
    let decimals = mantissa.find('.').map_or(0, |dot| mantissa.len() - dot - 1);
    // One decimal text, so that the amount is rounded once.
    let amount = exponent.ok().and_then(|exponent| {
        let power = exponent.checked_sub(decimals as i64)?;
        let text = format!("{}e{power}", &inside[..length]);
        text.parse::<f64>().ok()
    });
    let Some(amount) = amount else {
        return Err(cursor.error("these last digits are not a number"));
    };
    cursor.take(&cursor.rest()[..length + 2]);
    Ok(Some(amount))
}

fn beats(cursor: &mut Cursor<'_>, rule: fn(Vec<f64>) -> Beats) -> Result<Reading, Stop> {
    cursor.skip_space();
    let start = cursor.at();
    let Some(before) = cursor.open() else {
        return Err(cursor.error("a list of beats in parentheses belongs here"));
    };
    let mut values = Vec::new();
    loop {
        let negative = cursor.take("-") || cursor.take("−");
        let Some((_, value, _)) = cursor.number()? else {
            let stop = cursor.error("a number belongs here, one for each beat");
            return Err(Box::new(stop.hint("such as `beats(17.8, 18.4, 18.1) cm`")));
        };
        values.push(if negative { -value } else { value });
        if !cursor.take(",") {
            break;
        }
    }
    cursor.close_list(before)?;
    let unit = unit(cursor)?.unwrap_or(Unit::ONE);
    Reading::of_beats(rule(values), unit)
        .map_err(|e| Box::new(Diagnostic::error(e.to_string(), cursor.place(start))))
}

/// Where something was first said of a reading: each can be said once.
#[derive(Default)]
struct Said {
    uncertainty: Option<Place>,
    count: Option<Place>,
    between: Option<SaidBetween>,
    origin: Option<Place>,
}

impl Said {
    /// What the number itself says, at its place: digits in parentheses, or a list of beats.
    fn by(reading: &Reading, number: Place) -> Said {
        let is_list = *reading.beats() != Beats::Unstated;
        Said {
            uncertainty: reading.spread().map(|_| number),
            count: is_list.then_some(number),
            ..Said::default()
        }
    }
}

/// Notes where `what` of a reading is said, or says both places where it was said before.
fn once(
    cursor: &Cursor<'_>,
    first: &mut Option<Place>,
    second: Place,
    what: &str,
) -> Result<(), Stop> {
    let Some(before) = first.replace(second) else {
        return Ok(());
    };
    let (one, other) = (brief(cursor.text_at(before)), brief(cursor.text_at(second)));
    let message = format!("`{one}` and `{other}` both say {what} of one reading");
    let stop = Diagnostic::error(message, second).also(before, "said here before");
    Err(Box::new(stop.hint("keep one of the two")))
}

/// What is said of a number after it: its uncertainty, the number of beats, its origin. `number`
/// is its own place.
fn said_of(
    cursor: &mut Cursor<'_>,
    mut reading: Reading,
    number: Place,
) -> Result<(Reading, bool), Stop> {
    let mut said = Said::by(&reading, number);
    let mut said_more = false;
    loop {
        cursor.skip_space();
        let start = cursor.at();
        let next = if let Some(origin) = origin(cursor) {
            once(cursor, &mut said.origin, cursor.place(start), "the origin")?;
            reading.clone().with_origin(origin)
        } else if cursor.take("±") || cursor.take("+-") || cursor.take("+/-") {
            let spread = expanded(cursor, start)?;
            with_spread(cursor, reading.clone(), spread, start, &mut said)?
        } else if let Some(before) = cursor.open() {
            let next = bracket(cursor, reading.clone(), &mut said)?;
            cursor.close(before)?;
            next
        } else {
            return Ok((join(reading, said.between)?, said_more));
        };
        said_more = true;
        reading = next;
    }
}

fn origin(cursor: &mut Cursor<'_>) -> Option<Origin> {
    [Origin::Measured, Origin::Estimated, Origin::Assumed]
        .into_iter()
        .find(|origin| cursor.take_word(origin.word()))
}

/// `± 6 mm[Hg] (k = 2)`: without its coverage factor it is refused, since it could be either.
fn expanded(cursor: &mut Cursor<'_>, start: usize) -> Result<Spread, Stop> {
    let (amount, unit) = amount(cursor)?;
    let place = cursor.place(start);
    let bare = || {
        let message = "a bare ± could be a standard or an expanded uncertainty";
        Box::new(Diagnostic::error(message, place).hint(FORMS))
    };
    let before = cursor.open().ok_or_else(bare)?;
    if !(cursor.take_word("k") && cursor.take("=")) {
        return Err(bare());
    }
    cursor.skip_space();
    let here = cursor.here();
    let number = cursor.number()?;
    let place = number.map_or(here, |(_, _, place)| place);
    let Some((_, factor, _)) = number.filter(|(_, factor, _)| *factor > 0.0) else {
        let message = "the coverage factor, more than zero, belongs here";
        let stop = Diagnostic::error(message, place);
        return Err(Box::new(
            stop.hint("it is 2 for most certificates: `(k = 2)`"),
        ));
    };
    let freedom = freedom(cursor)?;
    cursor.close(before)?;
    let spread = spread(cursor, SpreadForm::Expanded { factor }, amount, unit, start)?;
    Ok(with_freedom(spread, freedom))
}

/// `freedom 18` after an amount: whole degrees of freedom; `None` where it is not said, and they
/// are not limited.
fn freedom(cursor: &mut Cursor<'_>) -> Result<Option<u32>, Stop> {
    if !cursor.take_word("freedom") {
        return Ok(None);
    }
    cursor.skip_space();
    let start = cursor.at();
    let number = cursor.number()?.map(|(_, number, _)| number);
    let whole = number.filter(|n| n.fract() == 0.0 && (1.0..=10_000.0).contains(n));
    match whole {
        Some(whole) => Ok(Some(whole as u32)),
        None => {
            let message = "whole degrees of freedom belong here, from 1 to 10,000";
            let place = if number.is_some() {
                cursor.place(start)
            } else {
                cursor.here()
            };
            let hint = "such as `(u = 1 mm freedom 18)`; round a fraction down, and leave \
                        `freedom` out where they are not limited";
            Err(Box::new(Diagnostic::error(message, place).hint(hint)))
        }
    }
}

fn with_freedom(spread: Spread, freedom: Option<u32>) -> Spread {
    let limited = freedom.and_then(|freedom| spread.with_freedom(freedom));
    limited.unwrap_or(spread)
}

/// How much acquisitions scatter, and where that is said.
struct SaidBetween {
    between: Between,
    place: Place,
}

/// Joins what acquisitions scatter once all else is said, whatever stands first.
fn join(reading: Reading, said: Option<SaidBetween>) -> Result<Reading, Stop> {
    let Some(SaidBetween { between, place }) = said else {
        return Ok(reading);
    };
    reading.with_between(between).map_err(|error| {
        let hint = match error {
            ReadingError::NothingToJoin => {
                "give the beats, such as `beats(17.8, 18.4, 18.1) cm (between 4 %)`, or what one \
                 acquisition shows, such as `(u = 1 mm, between 2 mm)`"
            }
            _ => FORMS,
        };
        let stop = Diagnostic::error(error.to_string(), place).hint(hint);
        Box::new(stop.hint_if(error.way_out()))
    })
}

/// `between 4 %` or `between 0.7 cm freedom 11`, after its first word.
fn between(cursor: &mut Cursor<'_>, start: usize) -> Result<SaidBetween, Stop> {
    let spread = amount_as(cursor, SpreadForm::Standard, start)?;
    Ok(SaidBetween {
        between: Between::of(spread),
        place: cursor.place(start),
    })
}

/// What stands in parentheses: `u = 1 mm`, `within 3 mm[Hg]`, `triangular 1 mm`, `n = 5`,
/// `between 4 %`.
fn bracket(
    cursor: &mut Cursor<'_>,
    mut reading: Reading,
    said: &mut Said,
) -> Result<Reading, Stop> {
    loop {
        cursor.skip_space();
        let start = cursor.at();
        if cursor.take_word("n") {
            let count = beat_count(cursor)?;
            once(cursor, &mut said.count, cursor.place(start), "the beats")?;
            reading = reading
                .with_beat_count(count)
                .map_err(|e| Box::new(Diagnostic::error(e.to_string(), cursor.place(start))))?;
        } else if cursor.take_word("between") {
            let second = between(cursor, start)?;
            let mut first = said.between.take().map(|between| between.place);
            once(
                cursor,
                &mut first,
                second.place,
                "how much acquisitions scatter",
            )?;
            said.between = Some(second);
        } else {
            let form = if cursor.take_word("u") {
                if !cursor.take("=") {
                    return Err(Box::new(cursor.error("`=` belongs after `u`").hint(FORMS)));
                }
                SpreadForm::Standard
            } else if cursor.take_word("within") {
                SpreadForm::Within
            } else if cursor.take_word("triangular") {
                SpreadForm::Triangular
            } else {
                return Err(Box::new(
                    cursor
                        .error("this says nothing about a reading")
                        .hint(FORMS),
                ));
            };
            let spread = amount_as(cursor, form, start)?;
            reading = with_spread(cursor, reading, spread, start, said)?;
        }
        if !cursor.take(",") {
            return Ok(reading);
        }
    }
}

fn beat_count(cursor: &mut Cursor<'_>) -> Result<u32, Stop> {
    if cursor.take("=")
        && let Some((_, count, _)) = cursor.number()?
        && count.fract() == 0.0
        && (1.0..=10_000.0).contains(&count)
    {
        return Ok(count as u32);
    }
    let stop = cursor.error("the number of beats belongs here, from 1 to 10,000");
    Err(Box::new(stop.hint("such as `(n = 5)`")))
}

fn amount(cursor: &mut Cursor<'_>) -> Result<(f64, Unit), Stop> {
    let negative = cursor.take("-") || cursor.take("−");
    let Some((_, amount, _)) = cursor.number()? else {
        return Err(Box::new(
            cursor
                .error("the amount of the uncertainty belongs here")
                .hint(FORMS),
        ));
    };
    let amount = if negative { -amount } else { amount };
    // `0.02 freedom 18`: a bare number, and no unit of that name.
    let is_bare = { *cursor }.take_word("freedom");
    let unit = if is_bare { None } else { unit(cursor)? };
    Ok((amount, unit.unwrap_or(Unit::ONE)))
}

/// An amount, with `freedom 18` behind it or not.
fn amount_as(cursor: &mut Cursor<'_>, form: SpreadForm, start: usize) -> Result<Spread, Stop> {
    let (amount, unit) = amount(cursor)?;
    let spread = spread(cursor, form, amount, unit, start)?;
    Ok(with_freedom(spread, freedom(cursor)?))
}

fn spread(
    cursor: &Cursor<'_>,
    form: SpreadForm,
    amount: f64,
    unit: Unit,
    start: usize,
) -> Result<Spread, Stop> {
    Spread::new(form, amount, unit).ok_or_else(|| {
        let amount = brief(&super::print::quantity(amount, unit));
        let message = format!("an uncertainty of {amount} makes no sense");
        let stop = Diagnostic::error(message, cursor.place(start));
        Box::new(stop.hint("an uncertainty is zero or more"))
    })
}

fn with_spread(
    cursor: &Cursor<'_>,
    reading: Reading,
    spread: Spread,
    start: usize,
    said: &mut Said,
) -> Result<Reading, Stop> {
    let place = cursor.place(start);
    once(cursor, &mut said.uncertainty, place, "the uncertainty")?;
    reading.with_spread(spread).map_err(|e| {
        let stop = Diagnostic::error(e.to_string(), place);
        Box::new(stop.hint(FORMS).hint_if(e.way_out()))
    })
}

/// A word that stands alone on the right side: a finding's word, or the name of a cell.
pub(super) fn lone_word(cursor: &mut Cursor<'_>) -> Option<(String, Origin)> {
    let start = *cursor;
    if let Some((word, _)) = cursor.name()
        && !RESERVED.contains(&word)
    {
        let origin = origin(cursor).unwrap_or_default();
        if cursor.is_line_end() {
            return Some((word.to_owned(), origin));
        }
    }
    *cursor = start;
    None
}
