//! Statements that show something: tables, explanations, cohorts, charts.

use super::cursor::{Cursor, Stop};
use super::diagnostic::Diagnostic;
use super::literal;
use super::statement::{Adjust, Display, Name, name, names, names_of};
use crate::quantity::Reading;

/// Reads a statement that shows something, if one starts here.
pub(super) fn display(cursor: &mut Cursor<'_>) -> Result<Option<Display>, Stop> {
    if cursor.take_word("show") {
        if let Some(display) = trust(cursor)? {
            return Ok(Some(display));
        }
        return match super::analysis::analysis(cursor)? {
            Some(analysis) => Ok(Some(Display::Analysis(Box::new(analysis)))),
            None => show(cursor).map(Some),
        };
    }
    if cursor.take_word("simulate") {
        return name(cursor, "the name of a cell").map(|n| Some(Display::Simulate(n)));
    }
    if cursor.take_word("explain") {
        return name(cursor, "the name of a cell").map(|n| Some(Display::Explain(n)));
    }
    if cursor.take_word("cohort") {
        return cohort(cursor).map(Some);
    }
    if cursor.take_word("draw") {
        return draw(cursor).map(Some);
    }
    if cursor.take_word("adjust") {
        return adjust(cursor).map(|a| Some(Display::Adjust(a)));
    }
    if cursor.take_word("describe") {
        return name(cursor, "`exam`, or the name of an exam,").map(|n| Some(Display::Describe(n)));
    }
    Ok(None)
}

fn adjust(cursor: &mut Cursor<'_>) -> Result<Adjust, Stop> {
    let name = name(cursor, "the name of a reading")?;
    let from = part(cursor, "from")?;
    let to = part(cursor, "to")?;
    let by = part(cursor, "by")?;
    Ok(Adjust { name, from, to, by })
}

/// A word and the number that follows it.
fn part(cursor: &mut Cursor<'_>, word: &str) -> Result<Reading, Stop> {
    if !cursor.take_word(word) {
        let stop = cursor.error(format!("`{word}` and a number belong here"));
        return Err(Box::new(stop.hint(
            "such as `adjust lvot_diameter from 1.6 cm to 2.6 cm by 0.5 mm`",
        )));
    }
    bound(cursor)
}

/// How far to trust a cell: what stands after `show` and is no name.
fn trust(cursor: &mut Cursor<'_>) -> Result<Option<Display>, Stop> {
    if cursor.take_word("budget") {
        of(cursor)?;
        return name(cursor, "the name of a cell").map(|n| Some(Display::Budget(n)));
    }
    if cursor.take_word("coupling") {
        of(cursor)?;
        let first = name(cursor, "the name of a cell")?;
        if !cursor.take(",") {
            return Err(cursor.error("a comma and the other cell belong here"));
        }
        let second = name(cursor, "the name of a cell")?;
        return Ok(Some(Display::Coupling(first, second)));
    }
    if cursor.take_word("probability") {
        of(cursor)?;
        let name = name(cursor, "the name of a cell")?;
        let above = if cursor.take(">") {
            true
        } else if cursor.take("<") {
            false
        } else {
            let stop = cursor.error("`>` or `<` and a threshold belong here");
            return Err(Box::new(
                stop.hint("such as `show probability of change.stroke_volume > 15 %`"),
            ));
        };
        return Ok(Some(Display::Probability {
            name,
            above,
            threshold: bound(cursor)?,
            by_simulation: by_simulation(cursor)?,
        }));
    }
    Ok(None)
}

fn by_simulation(cursor: &mut Cursor<'_>) -> Result<bool, Stop> {
    match cursor.take_word("by") {
        false => Ok(false),
        true if cursor.take_word("simulation") => Ok(true),
        true => Err(cursor.error("`simulation` belongs here")),
    }
}

fn of(cursor: &mut Cursor<'_>) -> Result<(), Stop> {
    match cursor.take_word("of") {
        true => Ok(()),
        false => Err(cursor.error("`of` and the name of a cell belong here")),
    }
}

fn show(cursor: &mut Cursor<'_>) -> Result<Display, Stop> {
    let names = match cursor.is_line_end() || { *cursor }.take_word("over") {
        true => Vec::new(),
        false => names(cursor)?,
    };
    let over = over(cursor)?;
    Ok(Display::Show { names, over })
}

fn over(cursor: &mut Cursor<'_>) -> Result<Option<Name>, Stop> {
    match cursor.take_word("over") {
        true => name(cursor, "the name of a cohort").map(Some),
        false => Ok(None),
    }
}

fn cohort(cursor: &mut Cursor<'_>) -> Result<Display, Stop> {
    let name = name(cursor, "the name of the cohort")?;
    if !cursor.take_word("from") {
        let stop = cursor.error("`from` and a file belong here");
        return Err(Box::new(
            stop.hint("such as `cohort challenges from \"challenges.csv\"`"),
        ));
    }
    let file = file_name(cursor)?;
    let binding = match cursor.take_word("bound") {
        false => None,
        true if cursor.take_word("by") => Some(file_name(cursor)?),
        true => {
            let stop = cursor.error("`by` and a binding file belong here");
            return Err(Box::new(
                stop.hint("such as `bound by \"challenges.toml\"`"),
            ));
        }
    };
    let uncertainty = match cursor.take_word("with") {
        false => Vec::new(),
        true if cursor.take_word("uncertainty") && cursor.take_word("of") => names(cursor)?,
        true => {
            let stop = cursor.error("`uncertainty of` and the names of results belong here");
            return Err(Box::new(stop.hint(
                "such as `with uncertainty of stroke_volume, cardiac_output`",
            )));
        }
    };
    Ok(Display::Cohort {
        name,
        file,
        binding,
        uncertainty,
    })
}

fn file_name(cursor: &mut Cursor<'_>) -> Result<Name, Stop> {
    match cursor.quoted()? {
        Some((text, place)) => Ok(Name {
            text: text.to_owned(),
            place,
        }),
        None => Err(cursor.error("a file name in quotation marks belongs here")),
    }
}

fn title(cursor: &mut Cursor<'_>) -> Result<Option<String>, Stop> {
    if !cursor.take_word("titled") {
        return Ok(None);
    }
    match cursor.quoted()? {
        Some((text, _)) => Ok(Some(text.to_owned())),
        None => Err(cursor.error("a title in quotation marks belongs here")),
    }
}

fn draw(cursor: &mut Cursor<'_>) -> Result<Display, Stop> {
    let y = names(cursor)?;
    if cursor.take_word("when") {
        return effects(cursor, y);
    }
    if cursor.take_word("over") {
        return serial(cursor, y);
    }
    if !cursor.take_word("against") {
        let stop = cursor.error("`against`, `when` or `over exams` belongs here");
        return Err(Box::new(stop.hint(
            "such as `draw y against x over COHORT`, `draw y against x from 1.6 cm to 2.6 cm`, \
             `draw y when x is off by 1 mm`, or `draw y over exams before, after`",
        )));
    }
    let x = name(cursor, "the name of a cell")?;
    if cursor.take_word("from") {
        let from = bound(cursor)?;
        if !cursor.take_word("to") {
            return Err(cursor.error("`to` and the end of the range belong here"));
        }
        let to = bound(cursor)?;
        let title = title(cursor)?;
        return Ok(Display::Curve {
            y,
            x,
            from,
            to,
            title,
        });
    }
    match over(cursor)? {
        Some(over) => Ok(Display::Scatter {
            y: single(cursor, y)?,
            x,
            over,
            marking: marking(cursor)?,
            title: title(cursor)?,
        }),
        None => {
            let stop = cursor.error("`over` a cohort, or a range `from … to …`, belongs here");
            Err(stop)
        }
    }
}

/// `exams A, B, C` after `over`.
fn serial(cursor: &mut Cursor<'_>, y: Vec<Name>) -> Result<Display, Stop> {
    if !cursor.take_word("exams") {
        let stop = cursor.error("`exams` and their names belong here");
        return Err(Box::new(stop.hint(
            "such as `draw stroke_distance over exams before, after`; over a cohort, a cell is \
             drawn `against` another",
        )));
    }
    Ok(Display::Serial {
        y: single(cursor, y)?,
        exams: names_of(cursor, "the name of an exam")?,
        title: title(cursor)?,
    })
}

/// `marking 10 %, 15 %`.
fn marking(cursor: &mut Cursor<'_>) -> Result<Vec<Reading>, Stop> {
    let mut marks = Vec::new();
    if cursor.take_word("marking") {
        marks.push(bound(cursor)?);
        while cursor.take(",") {
            marks.push(bound(cursor)?);
        }
    }
    Ok(marks)
}

fn single(cursor: &Cursor<'_>, mut names: Vec<Name>) -> Result<Name, Stop> {
    let message = "this drawing shows one cell only";
    match (names.pop(), names.is_empty()) {
        (Some(name), true) => Ok(name),
        (Some(name), false) => Err(Box::new(Diagnostic::error(message, name.place))),
        (None, _) => Err(cursor.error(message)),
    }
}

/// A number with its unit, inside a line.
fn bound(cursor: &mut Cursor<'_>) -> Result<Reading, Stop> {
    match literal::plain(cursor)? {
        Some(reading) => Ok(reading),
        None => Err(cursor.error("a number with its unit belongs here")),
    }
}

fn effects(cursor: &mut Cursor<'_>, y: Vec<Name>) -> Result<Display, Stop> {
    Ok(Display::Effects {
        y: single(cursor, y)?,
        off: off_by(cursor)?,
        title: title(cursor)?,
    })
}

/// `A is off by 1 mm, B is off by 10 %`.
pub(super) fn off_by(cursor: &mut Cursor<'_>) -> Result<Vec<(Name, Reading)>, Stop> {
    let mut off = Vec::new();
    loop {
        cursor.skip_lines();
        let reading = name(cursor, "the name of a reading")?;
        if !(cursor.take_word("is") && cursor.take_word("off") && cursor.take_word("by")) {
            let stop = cursor.error("`is off by` and an amount belong here");
            return Err(Box::new(
                stop.hint("such as `lvot_diameter is off by 1 mm`"),
            ));
        }
        off.push((reading, bound(cursor)?));
        if !cursor.take(",") {
            return Ok(off);
        }
    }
}
