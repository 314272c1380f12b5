//! Readings in the notation: numbers with units, uncertainty, beats and origin.

use super::cursor::{Cursor, RESERVED, Stop, brief};
use super::diagnostic::{Diagnostic, Place};
use crate::quantity::{
    Beats, Between, Origin, Reading, ReadingError, Spread, SpreadForm, Unit, UnitError,
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
    let (reading, said_more) = said_of(cursor, read)?;
    if cursor.is_line_end() {
        return Ok(Some(reading));
    }
    if said_more || !reading.beats().eq(&Beats::Unstated) {
        end(cursor)?;
    }
    // `2 cm * …`: a formula that starts with a number.
    *cursor = start;
    Ok(None)
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
            let spread = Spread::new(SpreadForm::Standard, amount, unit)
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

/// What is said of a number after it: its uncertainty, the number of beats, its origin.
fn said_of(cursor: &mut Cursor<'_>, mut reading: Reading) -> Result<(Reading, bool), Stop> {
    let mut said = false;
    let mut between = None;
    loop {
        cursor.skip_space();
        let start = cursor.at();
        let next = if let Some(origin) = origin(cursor) {
            reading.clone().with_origin(origin)
        } else if cursor.take("±") || cursor.take("+-") || cursor.take("+/-") {
            let spread = expanded(cursor, start)?;
            with_spread(cursor, reading.clone(), spread, start)?
        } else if let Some(before) = cursor.open() {
            let next = bracket(cursor, reading.clone(), &mut between)?;
            cursor.close(before)?;
            next
        } else {
            return Ok((join(reading, between)?, said));
        };
        said = true;
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
    let Some((_, factor, _)) = cursor.number()? else {
        let stop = cursor.error("the coverage factor, more than zero, belongs here");
        return Err(Box::new(stop.hint(FORMS)));
    };
    cursor.close(before)?;
    spread(cursor, SpreadForm::Expanded { factor }, amount, unit, start)
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
            _ => "give both in units of the same quantity, or the uncertainty in %",
        };
        Box::new(Diagnostic::error(error.to_string(), place).hint(hint))
    })
}

/// `between 4 %` or `between 0.7 cm freedom 11`, after its first word.
fn between(cursor: &mut Cursor<'_>, start: usize) -> Result<SaidBetween, Stop> {
    const HINT: &str = "such as `(between 0.7 cm freedom 11)`; without `freedom` it is not limited";
    let (amount, unit) = amount(cursor)?;
    let spread = spread(cursor, SpreadForm::Standard, amount, unit, start)?;
    let mut freedom = None;
    if cursor.take_word("freedom") {
        let number = cursor.number()?.map(|(_, number, _)| number);
        let whole = number.filter(|n| n.fract() == 0.0 && (1.0..=10_000.0).contains(n));
        let Some(whole) = whole else {
            let stop = cursor.error("whole degrees of freedom belong here, from 1 to 10,000");
            return Err(Box::new(stop.hint(HINT)));
        };
        freedom = Some(whole as u32);
    }
    let place = cursor.place(start);
    let between = Between::new(spread.amount(), spread.unit(), freedom);
    let between = between.ok_or_else(|| {
        let stop = Diagnostic::error("acquisitions cannot scatter like this", place);
        Box::new(stop.hint(HINT))
    })?;
    Ok(SaidBetween { between, place })
}

/// What stands in parentheses: `u = 1 mm`, `within 3 mm[Hg]`, `triangular 1 mm`, `n = 5`,
/// `between 4 %`.
fn bracket(
    cursor: &mut Cursor<'_>,
    mut reading: Reading,
    said: &mut Option<SaidBetween>,
) -> Result<Reading, Stop> {
    loop {
        cursor.skip_space();
        let start = cursor.at();
        if cursor.take_word("n") {
            let count = beat_count(cursor)?;
            reading = reading
                .with_beat_count(count)
                .map_err(|e| Box::new(Diagnostic::error(e.to_string(), cursor.place(start))))?;
        } else if cursor.take_word("between") {
            *said = Some(between(cursor, start)?);
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
            let (amount, unit) = amount(cursor)?;
            let spread = spread(cursor, form, amount, unit, start)?;
            reading = with_spread(cursor, reading, spread, start)?;
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
    Ok((amount, unit(cursor)?.unwrap_or(Unit::ONE)))
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
        Box::new(stop.hint("an uncertainty is zero or more, a coverage factor more than zero"))
    })
}

fn with_spread(
    cursor: &Cursor<'_>,
    reading: Reading,
    spread: Spread,
    start: usize,
) -> Result<Reading, Stop> {
    reading.with_spread(spread).map_err(|e| {
        Box::new(
            Diagnostic::error(e.to_string(), cursor.place(start))
                .hint("give both in units of the same quantity, or the uncertainty in %"),
        )
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
