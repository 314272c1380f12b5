//! Reading a statistical question: its subjects, then clauses in any order.

use super::{
    Analysis, CLAUSES, COMMON, Condition, ErrorOf, QUESTIONS, Question, Subject, Test, Whose,
};
use crate::formula::notation::cursor::{Cursor, Stop, brief};
use crate::formula::notation::diagnostic::{Diagnostic, Place};
use crate::formula::notation::display::off_by;
use crate::formula::notation::literal;
use crate::formula::notation::near::likeliest;
use crate::formula::notation::statement::{Name, name};
use crate::quantity::{Reading, ReadingError, Unit};

/// The way out for headings that are no names of the notation.
const QUOTED: &str =
    "a heading with spaces or other marks stands in quotation marks: `along \"exam at\"`";

/// What of a statement was read so far.
#[derive(Default)]
struct Clauses {
    seen: Vec<&'static str>,
    over: Option<Name>,
    against: Option<Condition>,
    dose: Option<Name>,
    at: Vec<Reading>,
    by: Option<Name>,
    whose: Option<(Whose, Place)>,
    along: Option<Name>,
    conditions: Vec<Condition>,
    split: Option<(Name, Vec<Reading>)>,
    error: Option<ErrorOf>,
    off: Vec<(Name, Reading)>,
    amounts: Vec<(&'static str, Reading, Place)>,
    with_estimated: bool,
    row_by_row: bool,
    briefly: bool,
    if_recorded: bool,
    title: Option<String>,
}

/// Reads what follows `show`, if it is the word of a question and `of`.
pub(in crate::formula::notation) fn analysis(
    cursor: &mut Cursor<'_>,
) -> Result<Option<Analysis>, Stop> {
    let mut ahead = *cursor;
    let Some((found, place)) = ahead.name() else {
        return Ok(None);
    };
    let known = QUESTIONS.iter().find(|(word, ..)| *word == found);
    let Some(&(word, question, takes, needs)) = known else {
        // Nothing else that is shown is `of` something.
        return match ahead.take_word("of") {
            true => Err(no_question(found, place)),
            false => Ok(None),
        };
    };
    // All columns, where none is named.
    let is_of_all = question == Question::SetAside && { ahead }.take_word("over");
    if !is_of_all && !ahead.take_word("of") {
        return Ok(None);
    }
    *cursor = ahead;
    let of = match is_of_all {
        true => Vec::new(),
        false => subjects(cursor, takes)?,
    };
    let mut clauses = Clauses::default();
    while !cursor.is_line_end() {
        clause(cursor, (word, question, takes), &mut clauses)?;
    }
    finish(cursor, (word, question), needs, of, clauses).map(Some)
}

fn no_question(found: &str, place: Place) -> Stop {
    let words = || QUESTIONS.iter().map(|(word, ..)| *word);
    let near = likeliest(found, words());
    let error = Diagnostic::error(format!("`{}` is no question", brief(found)), place);
    Box::new(error.hint(match near {
        Some(word) => format!("did you mean `{word}`?"),
        None => format!(
            "the questions are {}",
            words().collect::<Vec<_>>().join(", ")
        ),
    }))
}

fn finish(
    cursor: &Cursor<'_>,
    (word, question): (&'static str, Question),
    needs: &[&str],
    of: Vec<Subject>,
    clauses: Clauses,
) -> Result<Analysis, Stop> {
    let missing = needs.iter().find(|n| !clauses.seen.contains(n));
    let missing = missing.or((clauses.over.is_none()).then_some(&"over"));
    let (Some(over), None) = (clauses.over, missing) else {
        let clause = missing.copied().unwrap_or("over");
        let stop = cursor.error(format!("`{word}` needs `{clause}`"));
        return Err(Box::new(
            stop.hint(format!("such as `{}`", example(clause))),
        ));
    };
    Ok(Analysis {
        question,
        word,
        of,
        over,
        against: clauses.against,
        dose: clauses.dose,
        at: clauses.at,
        by: clauses.by,
        whose: clauses.whose,
        along: clauses.along,
        conditions: clauses.conditions,
        split: clauses.split,
        error: clauses.error,
        off: clauses.off,
        amounts: clauses.amounts,
        with_estimated: clauses.with_estimated,
        row_by_row: clauses.row_by_row,
        briefly: clauses.briefly,
        if_recorded: clauses.if_recorded,
        title: clauses.title,
    })
}

fn example(clause: &str) -> &'static str {
    let found = CLAUSES.iter().find(|(word, _)| *word == clause);
    found.map_or("", |(_, example)| example)
}

fn subjects(cursor: &mut Cursor<'_>, takes: &[&str]) -> Result<Vec<Subject>, Stop> {
    let mut subjects = vec![subject(cursor, takes)?];
    while cursor.take(",") {
        cursor.skip_lines();
        subjects.push(subject(cursor, takes)?);
    }
    Ok(subjects)
}

fn subject(cursor: &mut Cursor<'_>, takes: &[&str]) -> Result<Subject, Stop> {
    let mut ahead = *cursor;
    // `low` alone may be the name of a column, and `weight`, which is a clause elsewhere, that of a cell.
    let goes_on = |word: &str| word == "is" || COMMON.contains(&word) || takes.contains(&word);
    let is_low = ahead.take_word("low")
        && ({ ahead }.name().is_some_and(|(n, _)| !goes_on(n)) || { ahead }.take("\""));
    if is_low {
        *cursor = ahead;
    }
    let name = column(cursor, "the name of a cell or column")?;
    let word = match cursor.take_word("is") {
        true => Some(word(cursor)?),
        false => None,
    };
    Ok(Subject { name, is_low, word })
}

fn is_clause(word: &str) -> bool {
    word == "is" || CLAUSES.iter().any(|(clause, _)| *clause == word)
}

/// The name of a cell or column; a heading that is no name of the notation, such as one with spaces, stands in quotation marks.
fn column(cursor: &mut Cursor<'_>, what: &str) -> Result<Name, Stop> {
    cursor.skip_space();
    let start = *cursor;
    match cursor.quoted()? {
        Some((text, _)) if text.trim().is_empty() => {
            Err(start.error(format!("{what} belongs here")))
        }
        Some((text, place)) => Ok(Name {
            text: text.trim().to_owned(),
            place,
        }),
        None => name(cursor, what).map_err(|stop| Box::new(stop.hint(QUOTED))),
    }
}

/// A word that a column says: a name, or any text in quotation marks.
fn word(cursor: &mut Cursor<'_>) -> Result<Name, Stop> {
    if let Some((text, place)) = cursor.quoted()? {
        return Ok(Name {
            text: text.to_owned(),
            place,
        });
    }
    match cursor.name() {
        Some((text, place)) => Ok(Name {
            text: text.to_owned(),
            place,
        }),
        None => {
            let stop = cursor.error("a word of the column belongs here");
            Err(Box::new(
                stop.hint("a word with spaces stands in quotation marks"),
            ))
        }
    }
}

fn clause(
    cursor: &mut Cursor<'_>,
    (asked, question, takes): (&str, Question, &[&str]),
    clauses: &mut Clauses,
) -> Result<(), Stop> {
    cursor.skip_space();
    let start = *cursor;
    let found = CLAUSES.iter().map(|(word, _)| *word);
    let allowed = || {
        let all: Vec<&str> = COMMON.iter().chain(takes).copied().collect();
        format!("it takes {}; {QUOTED}", all.join(", "))
    };
    let mut words = found.filter(|word| cursor.take_word(word));
    let Some(word) = words.next() else {
        drop(words);
        let stop = start.goes_on(&format!("`{asked}` ends here, but the line goes on"));
        return Err(Box::new(stop.hint(allowed())));
    };
    drop(words);
    if !COMMON.contains(&word) && !takes.contains(&word) {
        let stop = start.error(format!("`{word}` says nothing to `{asked}`"));
        return Err(Box::new(stop.hint(allowed())));
    }
    if clauses.seen.contains(&word) {
        return Err(start.error(format!("`{word}` is said twice")));
    }
    clauses.seen.push(word);
    match word {
        "over" => clauses.over = Some(name(cursor, "the name of a cohort")?),
        "where" => clauses.conditions = conditions(cursor)?,
        "titled" => clauses.title = Some(title(cursor)?),
        "briefly" => clauses.briefly = true,
        "if" => {
            clauses.if_recorded = cursor.take_word("recorded");
            if !clauses.if_recorded {
                return Err(cursor.error("`recorded` belongs here"));
            }
        }
        "against" if question == Question::DoseResponse => {
            clauses.dose = Some(column(cursor, "the name of a cell or column")?);
        }
        "against" => clauses.against = Some(outcome(cursor)?),
        "by" => clauses.by = Some(column(cursor, "the name of a column")?),
        "as" => clauses.whose = Some(whose(cursor)?),
        "along" => clauses.along = Some(column(cursor, "the name of a column")?),
        "at" | "marking" => clauses.at = amounts(cursor)?,
        "when" => clauses.off = off_by(cursor)?,
        "split" => clauses.split = Some(split(cursor)?),
        "error" => clauses.error = Some(error_of(cursor)?),
        "row" => {
            clauses.row_by_row = cursor.take_word("by") && cursor.take_word("row");
            if !clauses.row_by_row {
                return Err(cursor.error("`row by row` belongs here"));
            }
        }
        "with" => {
            clauses.with_estimated = cursor.take_word("estimated");
            if !clauses.with_estimated {
                return Err(cursor.error("`estimated` belongs here"));
            }
        }
        _ => {
            cursor.skip_space();
            let from = cursor.at();
            let reading = amount(cursor)?;
            clauses.amounts.push((word, reading, cursor.place(from)));
        }
    }
    Ok(())
}

fn whose(cursor: &mut Cursor<'_>) -> Result<(Whose, Place), Stop> {
    cursor.skip_space();
    let from = cursor.at();
    for (word, whose) in [
        ("operators", Whose::Operators),
        ("patients", Whose::Patients),
    ] {
        if cursor.take_word(word) {
            return Ok((whose, cursor.place(from)));
        }
    }
    Err(cursor.error("`operators` or `patients` belongs here"))
}

fn title(cursor: &mut Cursor<'_>) -> Result<String, Stop> {
    match cursor.quoted()? {
        Some((text, _)) => Ok(text.to_owned()),
        None => Err(cursor.error("a title in quotation marks belongs here")),
    }
}

fn conditions(cursor: &mut Cursor<'_>) -> Result<Vec<Condition>, Stop> {
    let mut conditions = vec![condition(cursor)?];
    while cursor.take_word("and") {
        cursor.skip_lines();
        conditions.push(condition(cursor)?);
    }
    Ok(conditions)
}

/// What makes a response: a comparison, or a word.
fn outcome(cursor: &mut Cursor<'_>) -> Result<Condition, Stop> {
    let condition = condition(cursor)?;
    match condition.test {
        Test::Known => {
            let message = "a response is more or less than a number, or one of two words";
            let stop = Diagnostic::error(message, condition.name.place);
            Err(Box::new(
                stop.hint(format!("such as `{}`", example("against"))),
            ))
        }
        _ => Ok(condition),
    }
}

fn condition(cursor: &mut Cursor<'_>) -> Result<Condition, Stop> {
    let name = column(cursor, "the name of a cell or column")?;
    let test = if cursor.take_word("is") {
        if cursor.take_word("not") {
            Test::IsNot(word(cursor)?)
        } else if cursor.take_word("known") {
            Test::Known
        } else {
            Test::Is(word(cursor)?)
        }
    } else if cursor.take(">=") || cursor.take("≥") {
        Test::AtLeast(amount(cursor)?)
    } else if cursor.take("<=") || cursor.take("≤") {
        Test::AtMost(amount(cursor)?)
    } else if cursor.take(">") {
        Test::Above(amount(cursor)?)
    } else if cursor.take("<") {
        Test::Below(amount(cursor)?)
    } else {
        let stop = cursor.error("a comparison or `is` belongs here");
        return Err(Box::new(
            stop.hint("such as `purpose is fluid` or `fluid_given > 250 mL`"),
        ));
    };
    Ok(Condition { name, test })
}

fn amount(cursor: &mut Cursor<'_>) -> Result<Reading, Stop> {
    if let Some(reading) = bare(cursor)? {
        return Ok(reading);
    }
    match literal::plain(cursor)? {
        Some(reading) => Ok(reading),
        None => Err(cursor.error("a number with its unit belongs here")),
    }
}

/// A number that the next clause follows: its word is no unit.
fn bare(cursor: &mut Cursor<'_>) -> Result<Option<Reading>, Stop> {
    let mut ahead = *cursor;
    let is_negative = ahead.take("-") || ahead.take("−");
    let Some((_, size, place)) = ahead.number()? else {
        return Ok(None);
    };
    let is_last = { ahead }
        .name()
        .is_some_and(|(word, _)| is_clause(word) || word == "and");
    if !is_last {
        return Ok(None);
    }
    *cursor = ahead;
    let value = if is_negative { -size } else { size };
    let reading = Reading::of(value, Unit::ONE);
    let invalid = |e: ReadingError| Box::new(Diagnostic::error(e.to_string(), place));
    reading.map(Some).map_err(invalid)
}

fn amounts(cursor: &mut Cursor<'_>) -> Result<Vec<Reading>, Stop> {
    let mut all = vec![amount(cursor)?];
    while cursor.take(",") {
        all.push(amount(cursor)?);
    }
    Ok(all)
}

fn split(cursor: &mut Cursor<'_>) -> Result<(Name, Vec<Reading>), Stop> {
    let name = column(cursor, "the name of a cell or column")?;
    if !cursor.take_word("at") {
        let stop = cursor.error("`at` and the ends of the groups belong here");
        return Err(Box::new(
            stop.hint(format!("such as `{}`", example("split"))),
        ));
    }
    Ok((name, amounts(cursor)?))
}

fn error_of(cursor: &mut Cursor<'_>) -> Result<ErrorOf, Stop> {
    if cursor.take_word("of") {
        return amount(cursor).map(ErrorOf::LeastSignificantChange);
    }
    if cursor.take_word("from") {
        return conditions(cursor).map(ErrorOf::Rows);
    }
    let stop = cursor.error(
        "`of` and a least significant change, or `from` and what rows must meet, belong here",
    );
    Err(Box::new(
        stop.hint(format!("such as `{}`", example("error"))),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formula::notation::{Display, What, statements};

    fn read(text: &str) -> Analysis {
        let (found, wrong) = statements(text, 0);
        assert_eq!(wrong, [], "{text}");
        match found.into_iter().next().map(|s| s.what) {
            Some(What::Display(Display::Analysis(analysis))) => *analysis,
            other => panic!("{text}: {other:?}"),
        }
    }

    fn refused(text: &str) -> String {
        let (_, wrong) = statements(text, 0);
        let [error] = &wrong[..] else {
            panic!("{text}: {wrong:?}");
        };
        error.message().to_owned()
    }

    #[test]
    fn clauses_stand_in_any_order() {
        let a = read(
            "show roc of ppv, low vti against change.sv > 10 % over rows by patient where purpose is fluid",
        );
        let b = read(
            "show roc of ppv, low vti where purpose is fluid by patient over rows against change.sv > 10 %",
        );
        assert_eq!(
            (a.of.len(), a.of[1].is_low, &a.over.text[..]),
            (2, true, "rows")
        );
        assert_eq!(
            a.by.as_ref().map(|n| &n.text),
            b.by.as_ref().map(|n| &n.text)
        );
        assert!(matches!(a.against.map(|c| c.test), Some(Test::Above(_))));
        assert_eq!(b.conditions.len(), 1);
    }

    #[test]
    fn a_heading_that_is_no_name_stands_in_quotation_marks() {
        let a = read(
            "show drift of \"Ø LVOT\" beyond 2 mm over rows by \"Case no.\" along \"exam at\" where \"Ward (old)\" is \"4 B\"",
        );
        let names: Vec<&str> = a.names().iter().map(|n| &n.text[..]).collect();
        assert_eq!(names, ["Ø LVOT", "Case no.", "exam at", "Ward (old)"]);
        let low = read("show roc of low \"EF %\" against \"SV 2\" > 10 % over rows");
        assert!(low.of[0].is_low && low.of[0].name.text == "EF %");
        let low = read("show digits of low to 1 cm over rows");
        assert_eq!((low.of[0].is_low, &low.of[0].name.text[..]), (false, "low"));
        for text in [
            "show individuals of a along exam at over rows",
            "show individuals of a along `exam at` over rows",
            "show individuals of a along \" \" over rows where b > 1",
            "show digits of a to 1 cm by Case no over rows",
        ] {
            let (_, wrong) = statements(text, 0);
            let [error] = &wrong[..] else {
                panic!("{text}: {wrong:?}");
            };
            let hint = error.hint_text().unwrap_or_default();
            assert!(
                text.contains("\" \"") || hint.contains("quotation marks"),
                "{text}: {hint}"
            );
        }
    }

    #[test]
    fn the_words_of_questions_are_not_reserved() {
        let (found, wrong) = statements("digits = 3 cm\nshow digits\nshow digits, change", 0);
        assert_eq!((found.len(), wrong), (3, Vec::new()));
        let bare = read("show cusum of a along day baseline 40 where x > -3 and y is z over rows");
        assert_eq!((bare.amounts.len(), bare.conditions.len()), (1, 2));
        let off = read(
            "show crossings of a at 2 mL, 3 mL when b is off by 1 mm, c is off by 10 % over r",
        );
        assert_eq!(
            (off.at.len(), off.off.len(), &off.over.text[..]),
            (2, 2, "r")
        );
        let low = read("show digits of low to 1 cm over rows");
        assert!(!low.of[0].is_low);
        let low = read("show roc of low weight against weight > 3 over rows where weight < 90");
        assert!(low.of[0].is_low && low.of[0].name.text == "weight");
        let ewma = read(
            "show ewma of weight along day baseline 40 weight 0.1 width 2.7 over rows where weight > 3 by patient",
        );
        assert_eq!((ewma.amounts.len(), ewma.conditions.len()), (3, 1));
        assert!(ewma.amount("weight").is_some() && ewma.amount_place("slack").is_none());
    }

    #[test]
    fn a_question_may_be_asked_only_if_it_is_recorded() {
        let a = read("show drift of a beyond 2 if recorded over r by p along d where x is y");
        let b = read("show responders of a at 10 % over r where x > 3 if recorded");
        assert!(a.if_recorded && b.if_recorded && b.conditions.len() == 1);
        assert!(!read("show change of a, b over r").if_recorded);
        let stop = refused("show change of a, b over r if known");
        assert_eq!(stop, "`recorded` belongs here");
    }

    #[test]
    fn a_word_that_is_no_question_is_told_the_nearest() {
        for (text, words, hint) in [
            (
                "show rocc of a over rows",
                "`rocc` is no question",
                "did you mean `roc`?",
            ),
            (
                "show gray_zon of a against b > 1 over r",
                "`gray_zon` is no question",
                "`gray_zone`",
            ),
            (
                "show xyz of a over rows",
                "`xyz` is no question",
                "the questions are roc, gray_zone",
            ),
        ] {
            let (_, wrong) = statements(text, 0);
            assert_eq!((wrong.len(), wrong[0].message()), (1, words), "{text}");
            assert!(
                wrong[0].hint_text().is_some_and(|h| h.contains(hint)),
                "{text}"
            );
        }
    }

    #[test]
    fn what_is_missing_or_does_not_fit_is_said() {
        for (text, words) in [
            ("show roc of a over rows", "`roc` needs `against`"),
            ("show roc of a against b > 1", "`roc` needs `over`"),
            (
                "show roc of a against b over rows",
                "a comparison or `is` belongs here",
            ),
            (
                "show roc of a against b is known over rows",
                "a response is more or less than a number, or one of two words",
            ),
            (
                "show digits of a to 1 cm over rows along day",
                "`along` says nothing to `digits`",
            ),
            (
                "show digits of a to 1 cm over rows over rows",
                "`over` is said twice",
            ),
            (
                "show drift of a over rows by p along d",
                "`drift` needs `beyond`",
            ),
            (
                "show funnel of a over rows by p 7",
                "`funnel` ends here, but the line goes on",
            ),
            (
                "show responders of a at 10 % over rows error 3 %",
                "`of` and a least significant change, or `from` and what rows must meet, belong here",
            ),
            (
                "show change of a, b over rows where x is",
                "a word of the column belongs here",
            ),
            (
                "show roc of a against b > c over rows",
                "a number with its unit belongs here",
            ),
            (
                "show crossings of a at 1 over rows when b is off 1 mm",
                "`is off by` and an amount belong here",
            ),
            (
                "show crossings of a at 1 over rows",
                "`crossings` needs `when`",
            ),
            (
                "show responders of a at 10 % over rows split b 3",
                "`at` and the ends of the groups belong here",
            ),
        ] {
            assert_eq!(refused(text), words, "{text}");
        }
    }
}
