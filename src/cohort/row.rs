//! Rows: text into readings, or the reason why a row cannot be used.

use std::fmt::Write as _;

use super::binding::{Binding, BoundColumn, Part};
use super::checks::{Check, Finding, OnFactorTen, Why};
use super::field_unit::{WithUnit, with_unit};
use super::plain_number::plain_number;
use super::stood::RowFields;
use super::withheld::guarded;
use crate::formula::{CellId, Facet, Lane, Status};
use crate::quantity::{Beats, Content, Origin, Reading, ReadingError, Spread, SpreadForm, Unit};
use crate::sheet::Sheet;

/// Texts that stand for nothing, besides a blank.
pub const NOTHING: &[&str] = &["NA", "N/A", "n/a", "-", "?"];

/// Whether a field says nothing.
pub fn is_nothing(field: &str) -> bool {
    // Most fields that say something show it at once.
    if field.as_bytes().first().is_some_and(u8::is_ascii_digit) {
        return false;
    }
    let field = field.trim();
    field.is_empty() || NOTHING.contains(&field)
}

/// A field without blanks around it; most have none, which the ends of plain text show at once.
#[inline]
pub(super) fn trimmed(field: &str) -> &str {
    match field.as_bytes() {
        [b'!'..=b'~'] | [b'!'..=b'~', .., b'!'..=b'~'] => field,
        _ => field.trim(),
    }
}

/// Adds a text to a key of several. Its length keeps it apart from its neighbors, whatever they hold.
pub(super) fn add_to_key(key: &mut String, text: &str) {
    _ = write!(key, "{}:{text}", text.len());
}

/// Whether a field of a bound column says nothing: a blank, or what a binding file says of the column.
pub(super) fn says_nothing(bound: &BoundColumn, field: &str) -> bool {
    let is_named = |text: &String| {
        let text = text.trim();
        // A file of numbers does not tell 999 from 999.0.
        text == field
            || plain_number(text).is_some_and(|number| plain_number(field) == Some(number))
    };
    is_nothing(field) || bound.missing.iter().any(is_named)
}

/// The readings of one row, in the order of the columns of values.
#[derive(Clone, Debug, Default)]
pub struct RowReadings {
    readings: Vec<(CellId, Reading)>,
}

impl RowReadings {
    /// Reads the fields of a row.
    ///
    /// # Errors
    /// Each field that cannot be read or is not possible, in words that name the column.
    pub fn read(sheet: &Sheet, binding: &Binding, fields: &[&str]) -> Result<Self, Vec<String>> {
        let (row, _) = read_row(sheet, binding, RowFields::plain(fields))
            .map_err(|wrong| wrong.into_iter().map(|w| w.text).collect::<Vec<String>>())?;
        Ok(row)
    }

    /// The readings, in the order of the columns.
    pub fn readings(&self) -> &[(CellId, Reading)] {
        &self.readings
    }

    /// The lane of something that a program asks of a cell.
    pub fn lane(&self, sheet: &Sheet, cell: CellId, facet: Facet) -> Lane {
        let reading = self
            .readings
            .iter()
            .find(|(c, _)| *c == cell)
            .map(|(_, r)| r);
        reading.map_or(Lane::MISSING, |reading| {
            lane_of(sheet, cell, reading, facet)
        })
    }
}

/// Why a row cannot be used.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Wrong {
    pub(super) why: Why,
    pub(super) text: String,
}

impl From<String> for Wrong {
    fn from(text: String) -> Wrong {
        let why = Why::Field;
        Wrong { why, text }
    }
}

/// Reads the fields of a row; what was found beside the readings belongs in its remarks.
///
/// # Errors
/// Each field that cannot be read or is not possible, in words that name the column.
pub(super) fn read_row(
    sheet: &Sheet,
    binding: &Binding,
    fields: RowFields<'_>,
) -> Result<(RowReadings, Vec<Finding>), Vec<Wrong>> {
    let (mut row, mut found) = (RowReadings::default(), Vec::new());
    let mut wrong = Vec::new();
    for bound in binding.columns.iter().filter(|c| c.part == Part::Value) {
        let named = |text: String| format!("{}: {text}", binding.headings[bound.column]);
        match reading(sheet, binding, bound, fields) {
            Ok((reading, finding)) => {
                row.readings.push((bound.cell, reading));
                found.extend(finding.map(|f| Finding::new(f.check, named(f.text))));
            }
            Err(one) => wrong.push(Wrong {
                why: one.why,
                text: named(one.text),
            }),
        }
    }
    match wrong.is_empty() {
        true => Ok((row, found)),
        false => Err(wrong),
    }
}

/// The reading that a column of values and the columns that say more of it supply in one row,
/// and what must be said of it.
///
/// # Errors
/// What cannot be read or is not possible.
pub(super) fn reading(
    sheet: &Sheet,
    binding: &Binding,
    bound: &BoundColumn,
    fields: RowFields<'_>,
) -> Result<(Reading, Option<Finding>), Wrong> {
    let tenfold = tenfold(sheet, binding, bound, fields)?;
    let value = || {
        value(
            sheet,
            bound,
            fields.read(bound.column),
            fields.stood(bound.column),
        )
    };
    let reading = match &tenfold {
        Some(Doubted {
            corrected: Some(WithUnit { number, unit }),
            ..
        }) => {
            let reading = Reading::of(*number, *unit).map_err(|e| e.to_string())?;
            fitted(sheet, bound, reading)?
        }
        // What is said of a number that is not possible says why.
        Some(Doubted { text, .. }) => value().map_err(|_| Wrong {
            why: Why::Check(Check::FactorTen),
            text: text.clone(),
        })?,
        None => {
            value().map_err(|m| guarded(binding.withholds, bound, fields.read(bound.column), m))?
        }
    };
    let reading = complete(sheet, binding, bound.cell, reading, fields)?;
    let finding = tenfold.map(|found| Finding::new(Check::FactorTen, found.text));
    Ok((reading, finding))
}

/// A number that is wrong by a factor of ten, or seems so, in a row that may be used.
struct Doubted {
    /// What is taken in its place; the number itself where that is none.
    corrected: Option<WithUnit>,
    text: String,
}

/// Looks for a number that is wrong by a factor of ten.
///
/// # Errors
/// One for which the row is set aside.
fn tenfold(
    sheet: &Sheet,
    binding: &Binding,
    bound: &BoundColumn,
    fields: RowFields<'_>,
) -> Result<Option<Doubted>, Wrong> {
    let (field, stood) = (fields.read(bound.column), fields.stood(bound.column));
    let Some(check) = &bound.factor_ten else {
        return Ok(None);
    };
    if says_nothing(bound, field) {
        return Ok(None);
    }
    // A number with a unit of its own is looked at in that unit.
    let (check, number, amount) = match (plain_number(field), with_unit(field)) {
        (Some(number), _) => (check.clone(), number, check.amount(stood)),
        (None, Some(found)) => match check.of_unit(found.unit) {
            Some(check) => (check, found.number, format!("`{stood}`")),
            None => return Ok(None),
        },
        (None, None) => return Ok(None),
    };
    let Some(found) = check.look(number) else {
        return Ok(None);
    };
    if is_of_a_child(sheet, binding, bound, fields) {
        return Ok(None);
    }
    let words = check.words(&amount, &found);
    let aside = |text: String| Wrong {
        why: Why::Check(Check::FactorTen),
        text,
    };
    match check.on_found {
        OnFactorTen::SetAside => Err(aside(words)),
        OnFactorTen::Mark => Ok(Some(Doubted {
            corrected: None,
            text: words,
        })),
        // Whether an uncertainty is wrong by the same factor, nobody can tell.
        OnFactorTen::Convert if has_amount(binding, bound, fields) => Err(aside(format!(
            "{words}; it is not converted, because its uncertainty may be in either unit"
        ))),
        OnFactorTen::Convert => Ok(Some(Doubted {
            corrected: Some(check.corrected(&found)),
            text: check.converted_words(&amount, &found),
        })),
    }
}

/// Whether the row says an uncertainty in a unit, not as a share, beside a reading.
fn has_amount(binding: &Binding, bound: &BoundColumn, fields: RowFields<'_>) -> bool {
    let uncertainty = binding.column_of(bound.cell, Part::Uncertainty);
    uncertainty.is_some_and(|other| {
        !other.unit.is_share() && !says_nothing(other, fields.read(other.column))
    })
}

/// Whether a row, or the sheet, says that its patient is a child, to whom usual ranges of adults
/// do not apply.
fn is_of_a_child(
    sheet: &Sheet,
    binding: &Binding,
    bound: &BoundColumn,
    fields: RowFields<'_>,
) -> bool {
    let name = sheet.name(bound.cell);
    let own = name.rsplit_once('.').map_or_else(
        || AGE_GROUP.to_owned(),
        |(exam, _)| format!("{exam}.{AGE_GROUP}"),
    );
    let cells = [own.as_str(), AGE_GROUP].into_iter();
    cells.filter_map(|name| sheet.cell(name)).any(|cell| {
        match binding.column_of(cell, Part::Value) {
            Some(column) => {
                let field = fields.read(column.column);
                column.words.get(field).map_or(field, String::as_str) == CHILD
            }
            None => sheet.word(cell).is_some_and(|word| **word == *CHILD),
        }
    })
}

/// The finding of the catalogue that tells children from adults, and its word for a child.
const AGE_GROUP: &str = "age_group";
const CHILD: &str = "child";

/// The lane of something that a program asks of a cell.
pub(super) fn lane_of(sheet: &Sheet, cell: CellId, reading: &Reading, facet: Facet) -> Lane {
    match facet {
        Facet::Value => sheet.lane_of_reading(cell, reading),
        _ => sheet
            .facet_of_reading(cell, reading, facet)
            .map_or(Lane::MISSING, |value| Lane {
                value,
                status: Status::MEASURED,
            }),
    }
}

/// The reading in a field of values, and what it stood there as.
fn value(sheet: &Sheet, bound: &BoundColumn, field: &str, stood: &str) -> Result<Reading, String> {
    let words = sheet.words(bound.cell);
    let field = bound.words.get(field).map_or(field, String::as_str);
    let reading = if says_nothing(bound, field) {
        Reading::unknown()
    } else if field == "unobtainable" {
        Reading::unobtainable()
    } else if !words.is_empty() {
        Reading::word(field)
    } else {
        let WithUnit { number, unit } = quantity((field, stood), bound)?;
        let reading = Reading::of(number, unit).map_err(|e| e.to_string())?;
        // A number in another unit than the column's is told as it stood.
        return fitted(sheet, bound, reading).map_err(|error| match unit == bound.unit {
            true => error,
            false => format!("`{stood}`: {error}"),
        });
    };
    fitted(sheet, bound, reading)
}

/// Whether a field of values supplies a reading, whatever other columns say of it.
pub(super) fn is_read(sheet: &Sheet, bound: &BoundColumn, field: &str) -> bool {
    bound.part == Part::Value && value(sheet, bound, field, field).is_ok()
}

/// A reading with the origin of its column, which the cell must take.
fn fitted(sheet: &Sheet, bound: &BoundColumn, reading: Reading) -> Result<Reading, String> {
    let reading = match (bound.origin, reading.content()) {
        (None, _) | (_, Content::Unknown | Content::Unobtainable) => reading,
        (Some(origin), _) => reading.with_origin(origin),
    };
    let reading = match (bound.spread, reading.content()) {
        (Some(spread), Content::Magnitude { .. }) => with_spread(reading, spread)?,
        _ => reading,
    };
    sheet
        .fits(bound.cell, &reading)
        .map_err(|e| e.to_string())?;
    Ok(reading)
}

/// Adds what other columns say of a reading.
fn complete(
    sheet: &Sheet,
    binding: &Binding,
    cell: CellId,
    mut reading: Reading,
    fields: RowFields<'_>,
) -> Result<Reading, String> {
    if matches!(reading.content(), Content::Unknown | Content::Unobtainable) {
        return Ok(reading);
    }
    for bound in binding.columns.iter().filter(|c| c.cell == cell) {
        let (field, stood) = (fields.read(bound.column), fields.stood(bound.column));
        if says_nothing(bound, field) {
            continue;
        }
        let heading = &binding.headings[bound.column];
        let in_column = |message: String| {
            let message = guarded(binding.withholds, bound, field, message);
            format!("{message} (column `{heading}`)")
        };
        reading = match bound.part {
            Part::Value => reading,
            Part::Beats => with_beats(reading, (field, stood)).map_err(in_column)?,
            Part::Uncertainty => {
                with_uncertainty(reading, bound, (field, stood)).map_err(in_column)?
            }
            Part::Origin => match Origin::from_word(field) {
                Some(origin) => reading.with_origin(origin),
                None => {
                    let name = sheet.name(cell);
                    return Err(in_column(format!(
                        "the origin of {name} is measured, estimated or assumed, not `{field}`"
                    )));
                }
            },
        };
    }
    Ok(reading)
}

fn with_beats(reading: Reading, (field, stood): (&str, &str)) -> Result<Reading, String> {
    let count = plain_number(field).ok_or_else(|| no_number(stood))?;
    if count.fract() != 0.0 || !(1.0..=10_000.0).contains(&count) {
        return Err(format!("`{stood}` is no number of beats"));
    }
    debug_assert!(matches!(reading.beats(), Beats::Unstated));
    reading
        .with_beat_count(count as u32)
        .map_err(|e| e.to_string())
}

fn with_uncertainty(
    reading: Reading,
    bound: &BoundColumn,
    (field, stood): (&str, &str),
) -> Result<Reading, String> {
    if let Some(of) = reading.unit()
        && of != bound.unit
        && bound.is_unit_unsaid
        && plain_number(field).is_some()
    {
        return Err(format!(
            "an uncertainty of {stood} has no unit, and its value is in {of}, not in the {} of its \
             column: write `{stood} {of}`, or the unit into the heading",
            bound.unit
        ));
    }
    let spread = standard((field, stood), bound)?
        .ok_or_else(|| format!("an uncertainty of {stood} makes no sense"))?;
    with_spread(reading, spread)
}

/// A share of zero says nothing: the reading is used, its uncertainty is listed as not stated.
fn with_spread(reading: Reading, spread: Spread) -> Result<Reading, String> {
    match reading.clone().with_spread(spread) {
        Err(ReadingError::ShareOfZero { .. }) => Ok(reading),
        done => done.map_err(|e| e.with_way_out()),
    }
}

/// The standard uncertainty in a field, and what it stood there as; `None` for a number that none
/// can be.
pub(super) fn standard(
    (field, stood): (&str, &str),
    bound: &BoundColumn,
) -> Result<Option<Spread>, String> {
    let WithUnit { number, unit } = quantity((field, stood), bound)?;
    // A column that says no unit holds amounts: points, where the values are in %.
    let is_points = bound.is_unit_unsaid && unit.is_share() && plain_number(field).is_some();
    let (number, unit) = match unit.convert(number, Unit::ONE).filter(|_| is_points) {
        Some(points) => (points, Unit::ONE),
        None => (number, unit),
    };
    Ok(Spread::new(SpreadForm::Standard, number, unit))
}

fn no_number(field: &str) -> String {
    format!("`{field}` is not a number")
}

/// A number in the unit of its column, or with a unit of its own, and what it stood there as.
pub(super) fn quantity(
    (field, stood): (&str, &str),
    bound: &BoundColumn,
) -> Result<WithUnit, String> {
    let plain = plain_number(field).map(|number| WithUnit {
        number,
        unit: bound.unit,
    });
    let found = plain.or_else(|| with_unit(field));
    found.ok_or_else(|| no_number(stood))
}
