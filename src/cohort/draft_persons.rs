//! Columns that may tell who somebody is: by their headings, and by their values where no heading says it.

use std::collections::BTreeSet;

use super::draft_names::{BIRTHS, IDENTIFIERS, NUMBER_WORDS, NUMBERED};
use super::draft_values::Fields;
use super::plain_number::plain_number;
use super::whom::{Whom, words};

/// Rows from which on values alone tell something.
const FEW: usize = 5;

/// Different texts up to which a column may hold the words of a list.
const MOST_WORDS: usize = 8;

/// Digits from which on a whole number may be a record's.
const LONG: usize = 5;

/// Whether a heading is one that identifiers have.
pub(super) fn names_a_person(heading: &str) -> bool {
    let words = words(heading);
    let has = |known: &[&str]| words.iter().any(|word| known.contains(&&**word));
    // What word goes before a number is written in many ways: `NHSNumber`.
    let starts = words.iter().any(|word| {
        ["nhs", "patient", "geburts", "versicherten"]
            .iter()
            .any(|start| word.starts_with(start))
    });
    let names_one = has(IDENTIFIERS) || has(BIRTHS) || Whom::of(heading) == Whom::Staff;
    names_one || starts || has(NUMBERED) && has(NUMBER_WORDS)
}

/// Whether a heading is one that dates of birth have.
pub(super) fn names_a_birth(heading: &str) -> bool {
    words(heading).iter().any(|word| BIRTHS.contains(&&**word))
}

/// The identifiers that most likely tell patients apart.
pub(super) fn whose(identifiers: &[String]) -> Option<&String> {
    let tells_a_patient =
        |heading: &&String| Whom::could_be_patients(heading) && !names_a_birth(heading);
    let mut likely = identifiers.iter().filter(tells_a_patient);
    likely.next().or(identifiers.first())
}

/// Why values could be a person's; `None` for the few words of a list, and for numbers that are measured.
pub(super) fn could_be_a_persons(fields: &Fields<'_>) -> Option<&'static str> {
    let all = fields.said();
    if all.is_empty() {
        return None;
    }
    let (numbers, texts): (Vec<&str>, Vec<&str>) =
        all.iter().partition(|field| plain_number(field).is_some());
    let distinct = |fields: &[&str]| fields.iter().collect::<BTreeSet<_>>().len();
    let is_whole = |field: &&&str| field.bytes().all(|byte| byte.is_ascii_digit());
    let whole: Vec<&str> = numbers.iter().filter(is_whole).copied().collect();
    if fields.look_like_identifiers() {
        return Some("nearly every row has another text");
    }
    if !texts.is_empty() && all.len() < FEW {
        return Some("texts in too few rows to tell words from names");
    }
    if distinct(&texts) > MOST_WORDS || texts.len() >= FEW && distinct(&texts) * 3 >= texts.len() {
        return Some("many different texts, which may be names");
    }
    if texts.iter().any(|text| text.split_whitespace().count() > 4) {
        return Some("free text, in which anything may stand");
    }
    let is_record =
        |field: &&&str| field.len() >= LONG || field.len() > 1 && field.starts_with('0');
    if whole.iter().filter(is_record).count() * 2 > all.len() {
        return Some("whole numbers as records have them");
    }
    let is_numbering = whole.len() == all.len() && whole.len() >= FEW;
    if is_numbering && distinct(&whole) * 10 >= whole.len() * 9 {
        return Some("nearly every row has another whole number");
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Headings as hospital systems have them (common practice, no source).
    #[test]
    fn headings_of_many_countries_are_known() {
        for heading in [
            "PatNr",
            "Pat.-Nr.",
            "Patient ID",
            "patient_no",
            "PatientID",
            "NHS number",
            "NHSNumber",
            "NHS No",
            "Hospital number",
            "Hosp No",
            "SSN",
            "AHV-Nr",
            "Personnummer",
            "Accession number",
            "Case number",
            "Fall-ID",
            "Encounter ID",
            "Last name",
            "FirstName",
            "Nachname",
            "DOB",
            "Date of birth",
            "Geburtsdatum",
            "Address",
            "Phone",
            "Email",
            "Zip code",
            "Physician",
            "Sonographer",
            "Arzt",
            "StudyInstanceUID",
            "Initials",
            "Telefon",
            "codice fiscale",
            "CPR",
            "CPR-nr",
            "BSN",
            "IPP",
            "Nom",
            "Prénom",
            "Date de naissance",
            "Fødselsnummer",
            "Henkilötunnus",
            "Voornaam",
            "Versichertennummer",
        ] {
            assert!(names_a_person(heading), "{heading}");
        }
        for heading in [
            "LVOT VTI [cm]",
            "fluid",
            "Room temperature",
            "Order",
            "purpose",
            "day",
            "Lactate",
            "study arm",
            "note",
        ] {
            assert!(!names_a_person(heading), "{heading}");
        }
        for heading in [
            "DOB",
            "Geburtsdatum",
            "Date de naissance",
            "GebDat",
            "Fødselsdato",
        ] {
            assert!(
                names_a_birth(heading) && names_a_person(heading),
                "{heading}"
            );
        }
        assert!(!names_a_birth("exam date"));
    }

    #[test]
    fn values_that_could_be_a_persons_are_doubted() {
        let of = |texts: &[&str]| could_be_a_persons(&Fields::new(texts.iter().copied())).is_some();
        for texts in [
            &["10000", "10000", "10001", "10001", "10002", "10002"][..],
            &["AB1", "AB1", "AB2", "AB2", "AB3", "AB3"],
            &["Ann", "Bob", "Cyd", "Dee", "Eve"],
            &["007", "007", "008"],
            &["1", "2", "3", "4", "5"],
            &["", "seen with Mr Miller at noon", ""],
        ] {
            assert!(of(texts), "{texts:?}");
        }
        for texts in [
            &["fluid", "fluid", "none", "none", "fluid", "none", "fluid"][..],
            &["1.5", "2.25", "3.75", "4.5", "9.25"],
            &["84", "84", "92", "92", "84", "70"],
            &["", ""],
        ] {
            assert!(!of(texts), "{texts:?}");
        }
    }
}
