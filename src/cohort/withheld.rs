//! What a bound column cannot say, and is not repeated: in a table whose binding names identifiers, a name or a number of a patient may
//! have been typed into a column of readings, or into the one whose words pair exams.
//!
//! One rule holds for all that is written and printed: reasons, remarks, the file of rows set aside, pages and answers. A field that
//! supplies no reading is repeated where it looks like a number that somebody could have measured, or like a word that the column
//! has; anything else is told by its row and column.

use std::borrow::Cow;

use super::binding::{Binding, BoundColumn, Part};
use super::field_unit::with_unit;
use super::plain_number::plain_number;
use super::row::says_nothing;
use super::trade_units::trade_unit;
use crate::quantity::Origin;

/// What stands in the place of such a field.
pub(super) const NOT_SHOWN: &str = "(not shown)";

/// The way out for whoever has to mend it.
const WHERE: &str = "and is not shown, since it may tell who somebody is: see this row in the table, or say --keep-identifiers";

/// Digits before the decimal mark of the longest number that is repeated: longer ones number patients and days.
const DIGITS: usize = 5;

/// Digits after it.
const DECIMALS: usize = 6;

/// Marks between thousands, and before decimals.
const MARKS: [char; 6] = ['.', ',', '\'', '\u{2019}', '\u{a0}', '\u{202f}'];

/// A message about a field, or what is said in its place where the field is not to be repeated.
pub(super) fn guarded(
    withholds: bool,
    bound: &BoundColumn,
    field: &str,
    message: String,
) -> String {
    if !withholds || !could_tell(bound, field) {
        return message;
    }
    let is = match (bound.part, bound.takes_numbers) {
        (Part::Value, false) => format!("is none of the words {}", bound.own_words.join(", ")),
        (Part::Origin, _) => "is none of the words measured, estimated, assumed".to_owned(),
        _ if field.trim().contains(char::is_alphabetic) => "is no number".to_owned(),
        _ => "is no number that is possible".to_owned(),
    };
    not_repeated(&is)
}

/// What is said in the place of a field, from what it is.
pub(super) fn not_repeated(is: &str) -> String {
    format!("what stands there {is}, {WHERE}")
}

/// What is shown of the fields of one column in rows that are used. Values are all read there; what says more of a reading is not
/// read where there is none.
#[derive(Clone, Copy)]
pub(super) struct Guard<'b>(Option<&'b BoundColumn>);

impl<'b> Guard<'b> {
    /// The guard of a column, by its number from 0.
    pub(super) fn of(binding: &'b Binding, column: usize) -> Guard<'b> {
        let bound = binding.bound(column);
        Guard(bound.filter(|bound| binding.withholds && bound.part != Part::Value))
    }

    /// Whether it hides any field at all.
    pub(super) fn is_needed(self) -> bool {
        self.0.is_some()
    }

    /// Whether a field is not shown.
    pub(super) fn hides(self, field: &str) -> bool {
        self.0.is_some_and(|bound| could_tell(bound, field))
    }

    /// A field as it may be shown.
    pub(super) fn shown<'f>(self, field: impl Into<Cow<'f, str>>) -> Cow<'f, str> {
        let field = field.into();
        match self.hides(&field) {
            true => Cow::Borrowed(NOT_SHOWN),
            false => field,
        }
    }
}

/// The columns that need a guard, by number, each with its own.
pub(super) fn guards(binding: &Binding) -> impl Iterator<Item = (usize, Guard<'_>)> {
    let columns = binding.columns.iter().map(|bound| bound.column);
    let guards = columns.map(|column| (column, Guard::of(binding, column)));
    guards.filter(|(_, guard)| guard.is_needed())
}

/// The columns whose fields in a row are not shown; `is_read` tells whether one supplies a reading for all that.
pub(super) fn columns(
    binding: &Binding,
    fields: &[String],
    is_read: impl Fn(&BoundColumn, &str) -> bool,
) -> Vec<usize> {
    if !binding.withholds {
        return Vec::new();
    }
    let is_hidden = |bound: &&BoundColumn| {
        let field = fields.get(bound.column).map(|field| field.trim());
        field.is_some_and(|field| could_tell(bound, field) && !is_read(bound, field))
    };
    let columns = binding.columns.iter().filter(is_hidden);
    columns.map(|bound| bound.column).collect()
}

/// Whether a field that supplies no reading could tell who somebody is.
fn could_tell(bound: &BoundColumn, field: &str) -> bool {
    let field = field.trim();
    if says_nothing(bound, field) || field == "unobtainable" {
        return false;
    }
    match (bound.part, bound.takes_numbers) {
        (Part::Value, false) => {
            let is_own = bound.own_words.iter().any(|word| word == field);
            !is_own && !bound.words.contains_key(field)
        }
        (Part::Origin, _) => Origin::from_word(field).is_none(),
        _ => !is_like_a_measured_number(field),
    }
}

/// Whether a text is a number of few digits, however it is written, with or without a unit.
fn is_like_a_measured_number(text: &str) -> bool {
    // A date with slashes is a number with a unit, as far as units go.
    let tail = text.find(|c: char| c.is_alphabetic() || c == '/');
    let tail = tail.map_or("", |at| &text[at..]).as_bytes();
    if tail
        .windows(2)
        .any(|pair| pair.iter().all(u8::is_ascii_digit))
    {
        return false;
    }
    let most = 10_f64.powi(DIGITS as i32);
    let plain = plain_number(text).or_else(|| with_unit(text).map(|found| found.number));
    if let Some(number) = plain {
        return number.abs() < most;
    }
    let is_sign = |c: char| matches!(c, '<' | '>' | '~' | '=' | '+' | '-' | '\u{b1}' | ' ');
    let is_sign = |c: char| is_sign(c) || matches!(c, '\u{2248}' | '\u{2264}' | '\u{2265}');
    let text = text.trim_start_matches(is_sign);
    let is_of_number = |c: char| c.is_ascii_digit() || MARKS.contains(&c);
    let end = text.find(|c| !is_of_number(c)).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let unit = unit.trim();
    let is_unit = !unit.starts_with(|c: char| c.is_ascii_digit()) && trade_unit(unit).is_some();
    (unit.is_empty() || is_unit) && is_short(number)
}

/// Whether digits with marks among them are one number of few digits, and no date.
fn is_short(number: &str) -> bool {
    let groups: Vec<&str> = number.split(MARKS).collect();
    let Some((last, before)) = groups.split_last() else {
        return false;
    };
    let [first, middle @ ..] = before else {
        return (1..=DIGITS).contains(&last.len());
    };
    let whole = first.len() + middle.iter().map(|group| group.len()).sum::<usize>();
    // After two marks three digits are thousands too.
    let is_thousands = !middle.is_empty() && last.len() == 3;
    let digits = if is_thousands {
        whole + last.len()
    } else {
        whole
    };
    digits <= DIGITS
        && whole + last.len() > 0
        && last.len() <= DECIMALS
        && middle.iter().all(|group| group.len() == 3)
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use polars::prelude::DataType;

    use super::*;
    use crate::cohort::test_support::{bound_with_key as options, read_parquet, write_parquet};
    use crate::cohort::{Cohort, Identifiers, Options, apply_to_file_with, set_aside_path};
    use crate::sheet::Sheet;

    #[test]
    fn numbers_of_few_digits_are_told_from_names_dates_and_numbers_of_patients() {
        for text in [
            "20",
            "20,5",
            "1.234,5",
            "12,345",
            "2.05 cm",
            "<5",
            "~ 20 mm",
            "-3",
            "1e3 mL",
            "20\u{a0}000",
            ".5",
            "5.",
            "18 mmHg",
            "18.5 mm Hg",
            "18,5 mm Hg",
            "70,5 inches",
        ] {
            assert!(is_like_a_measured_number(text), "{text}");
        }
        for text in [
            "Doe, Jane",
            "far",
            "1234567",
            "1234567 cm",
            "17/05/2031",
            "17.05.2031",
            "17.05.31",
            "1.2.31",
            "2031-05-17",
            "0171 234567",
            "20 Doe",
            "5 bed 12",
            "1,234,567",
            "",
            "x1",
            "1e7",
            ",",
            "20310517",
        ] {
            assert!(!is_like_a_measured_number(text), "{text}");
        }
    }

    const BINDING: &str = "identifiers = [\"mrn\"]\nmissing = [\"not done\"]\n\
        [columns.width]\ncell = \"lvot_diameter\"\n[columns.\"n\"]\ncell = \"lvot_vti\"\npart = \"beats\"\n\
        [columns.how]\ncell = \"lvot_vti\"\npart = \"origin\"\n[columns.beat]\ncell = \"rhythm\"\nwords = { SR = \"regular\" }\n";

    /// Whatever stands in these rows in the wrong column must not leave; what helps to mend it may.
    const TABLE: &str = "mrn,width,lvot_vti [cm],n,how,beat\n\
        7001,Jane Doe,20,,,SR\n\
        7002,2,1234567,,,SR\n\
        7003,2,20,John Roe,,SR\n\
        7004,2,20,,by Mary Major,SR\n\
        7005,2,20,,,Hans Muster\n\
        7006,21,20,,,SR\n\
        7007,2,far 20,,,SR\n\
        7008,2,not done,Piers Plowman,Perkin Warbeck,SR\n\
        7009,2,unobtainable,,,SR\n\
        7010,2,20,3,measured,SR\n";

    const SECRET: [&str; 9] = [
        "Doe", "1234567", "Roe", "Major", "Muster", "far", "Plowman", "Warbeck", "700",
    ];

    fn refuse_secrets(text: &str) {
        for secret in SECRET {
            assert!(!text.contains(secret), "{secret} stands in {text}");
        }
    }

    /// Both files of results as text.
    fn applied(options: &Options, results: &str) -> [String; 2] {
        let folder = tempfile::tempdir().unwrap();
        let (table, out) = (folder.path().join("t.csv"), folder.path().join(results));
        std::fs::write(&table, TABLE).unwrap();
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let summary = apply_to_file_with(&sheet, &table, &out, options, &mut |_| {}).unwrap();
        assert_eq!((summary.counts.used, summary.counts.set_aside), (3, 7));
        let read = |path| String::from_utf8_lossy(&std::fs::read(path).unwrap()).into_owned();
        [read(out.clone()), read(set_aside_path(&out))]
    }

    #[test]
    fn no_file_of_results_repeats_what_is_no_reading() {
        for results in ["r.csv", "r.parquet"] {
            let [used, aside] = applied(&options(BINDING), results);
            refuse_secrets(&used);
            refuse_secrets(&aside);
            let lines: Vec<&str> = aside.lines().collect();
            assert!(
                lines[1].starts_with(
                    "1,\"width: what stands there is no number, and is not shown, since it may tell who somebody is: see this row in the \
                     table, or say --keep-identifiers\","
                ) && lines[1].ends_with(",(not shown),20,,,SR"),
                "{aside}"
            );
            assert!(
                lines[2]
                    .contains("lvot_vti [cm]: what stands there is no number that is possible,"),
                "{aside}"
            );
            assert!(
                lines[3].contains("(column `n`)") && lines[3].ends_with(",2,20,(not shown),,SR"),
                "{aside}"
            );
            assert!(
                lines[4].contains("none of the words measured, estimated, assumed"),
                "{aside}"
            );
            assert!(
                lines[5]
                    .contains("beat: what stands there is none of the words regular, irregular,"),
                "{aside}"
            );
            // A number is repeated, since it says what to mend.
            assert!(
                lines[6].contains("21") && lines[6].ends_with(",21,20,,,SR"),
                "{aside}"
            );
        }
    }

    /// Numbers of patients in columns of numbers, beside readings that are not there.
    const NUMBERS: &str = "mrn,lvot_diameter,lvot_vti,lvot_vti (n),lvot_vti (u)\n\
        7001,2,20,3,1 mm\n7002,2,,1234567,7654321 cm\n7003,2,,4,500000 mm\n";

    /// The results of a table as text, or the columns of beats and remarks of Parquet.
    fn told(folder: &Path, table: &str, results: &str) -> String {
        let (table, out) = (folder.join(table), folder.join(results));
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let options = options("identifiers = [\"mrn\"]\n");
        let summary = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
        assert_eq!(summary.counts.used, 3);
        if results.ends_with("csv") {
            return std::fs::read_to_string(&out).unwrap();
        }
        let frame = read_parquet(&out);
        let mut rows = Vec::new();
        for heading in ["lvot_vti (n)", "lvot_vti (u)", "remarks"] {
            let texts = frame.column(heading).unwrap().cast(&DataType::String);
            let texts = texts.unwrap();
            let texts = texts.str().unwrap().iter();
            rows.extend(texts.map(|text| text.unwrap_or("nothing").to_owned()));
        }
        rows.join("\n")
    }

    #[test]
    fn numbers_that_say_more_of_no_reading_are_not_repeated_either() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("t.csv"), NUMBERS).unwrap();
        let frame = polars::df!(
            "mrn" => ["7001", "7002", "7003"],
            "lvot_diameter" => [2.0, 2.0, 2.0],
            "lvot_vti" => [Some(20.0), None, None],
            "lvot_vti (n)" => [3_i64, 1_234_567, 4],
            "lvot_vti (u)" => [0.1, 7_654_321.0, 500_000.0],
        )
        .unwrap();
        let mut exact = frame.clone();
        exact
            .apply("lvot_vti (n)", |beats| {
                beats.cast(&DataType::Decimal(10, 0)).unwrap()
            })
            .unwrap();
        write_parquet(&folder.path().join("t.parquet"), frame);
        write_parquet(&folder.path().join("exact.parquet"), exact);
        for table in ["t.csv", "t.parquet", "exact.parquet"] {
            for results in ["r.csv", "r.parquet"] {
                let told = told(folder.path(), table, results);
                for number in ["1234567", "7654321", "500000", "50000"] {
                    assert!(!told.contains(number), "{table} {results}: {told}");
                }
                assert!(told.contains(NOT_SHOWN), "{table} {results}: {told}");
                assert!(told.contains('3') && told.contains('4'), "{told}");
                if results == "r.parquet" {
                    let remark = "lvot_vti (n) says `(not shown)`";
                    assert!(told.contains(remark), "{table}: {told}");
                }
            }
        }
    }

    #[test]
    fn where_nobody_names_identifiers_or_they_are_kept_it_is_repeated() {
        let kept = Options {
            keep_identifiers: true,
            key: None,
            ..options(BINDING)
        };
        let open = options(&BINDING.replace("identifiers = [\"mrn\"]\n", ""));
        for options in [kept, open] {
            let [used, aside] = applied(&options, "r.csv");
            assert!(used.contains("Piers Plowman"), "{used}");
            for said in [
                "width: `Jane Doe` is not a number",
                "1234567",
                "`Hans Muster`",
                "by Mary Major",
            ] {
                assert!(aside.contains(said), "{said}: {aside}");
            }
        }
    }

    #[test]
    fn a_cohort_in_memory_holds_none_of_it() {
        let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
        let folder = tempfile::tempdir().unwrap();
        let table = folder.path().join("t.csv");
        std::fs::write(&table, TABLE).unwrap();
        let shown = |how: Identifiers| {
            let options = options(BINDING).showing(how);
            Cohort::of(&sheet, options.open(&table).unwrap(), &options).unwrap()
        };
        let cohort = shown(Identifiers::Numbered);
        let mut all: Vec<String> = cohort.set_aside.iter().map(|a| a.reason.clone()).collect();
        for heading in cohort.table_headings() {
            all.extend(cohort.fields(heading).unwrap().iter().cloned());
            all.extend(
                cohort
                    .fields_aside(heading)
                    .unwrap()
                    .iter()
                    .flatten()
                    .cloned(),
            );
        }
        refuse_secrets(&all.join("\n"));
        assert_eq!(cohort.fields("n").unwrap(), [NOT_SHOWN, "", "3"]);
        assert_eq!(
            cohort.fields_aside("beat").unwrap()[4].as_deref(),
            Some(NOT_SHOWN)
        );
        let kept = shown(Identifiers::Kept);
        assert_eq!(kept.fields("n").unwrap()[0], "Piers Plowman");
    }
}
