//! Whom a column of identifiers tells apart, by its heading: patients, those who examined them, or what was done.
//!
//! Common practice, no source: words of headings in hospital systems.

use super::draft_match::Words;

/// Whom identifiers tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whom {
    /// Patients, as far as anybody can tell.
    Patients,
    /// Those who examine, report or refer.
    Staff,
    /// Exams, stays, orders.
    Exams,
}

/// Words that tell staff wherever they stand in a word: `Untersucherkürzel`.
const STAFF: &[&str] = &[
    "operator",
    "sonographer",
    "examiner",
    "reader",
    "observer",
    "referrer",
    "physician",
    "doctor",
    "clinician",
    "consultant",
    "nurse",
    "staff",
    "arzt",
    "ärztin",
    "untersucher",
    "befunder",
    "bediener",
    "médecin",
    "medecin",
    "opérateur",
    "operateur",
    "échographiste",
    "onderzoeker",
    "echolaborant",
    "læge",
    "läkare",
    "lääkäri",
    "undersøker",
    "undersökare",
];

/// Words that tell staff where they are the whole word.
const STAFF_ALONE: &[&str] = &["arts", "lege"];

/// Words that tell what was done, at the start of a word: `examid`.
const STARTS_OF_EXAMS: &[&str] = &[
    "challenge",
    "exam",
    "study",
    "visit",
    "episode",
    "encounter",
    "accession",
    "order",
    "event",
];

impl Whom {
    /// Whom a column under a heading tells apart, if it holds identifiers.
    pub(super) fn of(heading: &str) -> Whom {
        let words = words(heading);
        let is_within = |known: &&str| words.iter().any(|word| word.contains(known));
        let is_alone = |known: &&str| words.iter().any(|word| word == known);
        let starts = |known: &&str| words.iter().any(|word| word.starts_with(known));
        if STAFF.iter().any(is_within) || STAFF_ALONE.iter().any(is_alone) {
            Whom::Staff
        } else if STARTS_OF_EXAMS.iter().any(starts) {
            Whom::Exams
        } else {
            Whom::Patients
        }
    }

    /// Whether identifiers under a heading could tell patients apart: a study or a visit may number them, a request for an exam does not.
    pub(super) fn could_be_patients(heading: &str) -> bool {
        let mut words = words(heading).into_iter();
        Whom::of(heading) != Whom::Staff && !words.any(|word| word == "accession")
    }

    /// One of them.
    pub(super) fn word(self) -> &'static str {
        match self {
            Whom::Patients => "patient",
            Whom::Staff => "operator",
            Whom::Exams => "exam",
        }
    }
}

/// The words of a heading, those that only a capital tells apart too: `PatNr`.
pub(super) fn words(heading: &str) -> Vec<String> {
    let mut apart = String::with_capacity(heading.len() + 8);
    let mut was_small = false;
    for c in heading.chars() {
        if was_small && c.is_uppercase() {
            apart.push(' ');
        }
        was_small = c.is_lowercase();
        apart.push(c);
    }
    let mut words = Words::of(&apart).words;
    words.extend(Words::of(heading).words);
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cohort::draft_names::OPERATORS;

    #[test]
    fn staff_and_exams_are_told_from_patients() {
        for (heading, whom) in [
            ("operator", Whom::Staff),
            ("OperatorID", Whom::Staff),
            ("echo_sonographer", Whom::Staff),
            ("Untersucherkürzel", Whom::Staff),
            ("Oberarzt", Whom::Staff),
            ("ÄRZTIN", Whom::Staff),
            ("Bediener", Whom::Staff),
            ("Examiner of the study", Whom::Staff),
            ("arts", Whom::Staff),
            ("exam", Whom::Exams),
            ("StudyUID", Whom::Exams),
            ("Accession number", Whom::Exams),
            ("order no", Whom::Exams),
            ("MRN", Whom::Patients),
            ("Parts", Whom::Patients),
            ("college", Whom::Patients),
            ("recorder", Whom::Patients),
            ("", Whom::Patients),
        ] {
            assert_eq!(Whom::of(heading), whom, "{heading}");
        }
        // Who measured is one of the staff.
        for word in OPERATORS {
            assert_eq!(Whom::of(word), Whom::Staff, "{word}");
        }
        let could = ["Study ID", "MRN", "Accession number", "Operator"];
        let could = could.map(Whom::could_be_patients);
        assert_eq!(could, [true, true, false, false]);
    }
}
