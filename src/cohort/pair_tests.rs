//! Exams in long form, paired around an intervention.

use proptest::prelude::*;

use super::test_support::{bound_by, bound_with_key};
use super::withheld::NOT_SHOWN;
use super::*;
use crate::sheet::Sheet;

const SHEET: &str = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics\ncompare before, after";

const BY_TIME: &str = "[pair]\nof = \"patient\"\ntime = \"at\"\nintervention = \"fluid at\"\nshared = [\"lvot_diameter\"]\n";

struct Came {
    summary: Summary,
    used: Vec<csv::StringRecord>,
    headings: csv::StringRecord,
    aside: Vec<(String, String)>,
}

impl Came {
    fn column(&self, heading: &str) -> Vec<&str> {
        let at = self.headings.iter().position(|h| h == heading).unwrap();
        self.used.iter().map(|row| &row[at]).collect()
    }
}

fn came(table: &str, name: &str, binding: &str) -> Result<Came, CohortError> {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at(name), table).unwrap();
    let options = Options {
        binding: Some(BindingFile::parse("b.toml".as_ref(), binding)?),
        keep_identifiers: true,
        ..Options::default()
    };
    let sheet = Sheet::read(SHEET).unwrap().sheet;
    let summary = apply_to_file_with(&sheet, &at(name), &at("r.csv"), &options, &mut |_| {})?;
    let mut reader = csv::Reader::from_path(at("r.csv")).unwrap();
    let headings = reader.headers().unwrap().clone();
    let mut aside = csv::ReaderBuilder::new()
        .flexible(true)
        .from_path(at("r.set_aside.csv"))
        .unwrap();
    Ok(Came {
        used: reader.records().map(Result::unwrap).collect(),
        headings,
        aside: aside
            .records()
            .map(|row| row.unwrap())
            .map(|row| (row[0].to_owned(), row[1].to_owned()))
            .collect(),
        summary,
    })
}

#[test]
fn the_last_exam_before_and_the_first_after_make_a_pair() {
    let table = "patient,at,fluid at,lvot_diameter,lvot_vti\n\
        Ann,2031-05-17 09:00,2031-05-17 09:30,2,18\n\
        Ann,2031-05-17 09:50,2031-05-17 09:30,2,22\n\
        Ann,2031-05-17 09:20,2031-05-17 09:30,,20\n\
        Ann,2031-05-17 11:00,2031-05-17 09:30,2,19\n\
        Ann,2031-05-18 08:00,2031-05-18 08:10,2,20\n\
        Bob,2031-05-17 09:00,2031-05-17 09:30,2,20\n\
        Bob,soon,2031-05-17 09:30,2,20\n\
        ,2031-05-17 09:00,2031-05-17 09:30,2,20\n\
        Cyd,2031-05-17 09:00,2031-05-17 09:30,2,20\n\
        Cyd,2031-05-17 10:00,2031-05-17 09:30,2.1,20\n\
        Dee,2031-05-17 09:00\n";
    let came = came(table, "t.csv", BY_TIME).unwrap();
    let exams = came.summary.exams.unwrap();
    assert_eq!((exams.read, exams.pairs, exams.unpaired), (11, 1, 9));
    assert_eq!(exams.read, 2 * exams.pairs + exams.unpaired);
    let counts = came.summary.counts;
    assert_eq!((counts.read, counts.used, counts.set_aside), (10, 1, 9));
    assert_eq!(came.column("patient"), ["Ann"]);
    assert_eq!(came.column("lvot_diameter"), ["2"]);
    assert_eq!(came.column("before.lvot_vti"), ["20"]);
    assert_eq!(came.column("after.lvot_vti"), ["22"]);
    assert_eq!(came.column("change.lvot_vti [%]"), ["10"]);
    let told: Vec<(&str, &str)> = came.aside.iter().map(|(a, b)| (&**a, &**b)).collect();
    assert_eq!(
        told[0],
        (
            "1",
            "not paired: the exam in row 3 is later and still before"
        )
    );
    assert_eq!(
        told[1],
        (
            "4",
            "not paired: the exam in row 2 is earlier and already after"
        )
    );
    assert_eq!(told[2], ("5", "not paired: there is no exam after"));
    assert_eq!(told[3], ("6", "not paired: there is no exam after"));
    assert!(told[4].1.starts_with("at: what stands there is no date"));
    assert!(told[5].1.starts_with("`patient` is blank"));
    let differ = "not paired: lvot_diameter is not the same in rows 9 and 10";
    assert_eq!(told[6..8], [("9", differ), ("10", differ)]);
    assert_eq!(told[8], ("11", "the row has 2 fields, the heading 5"));
}

#[test]
fn words_tell_before_from_after_and_columns_are_bound_for_both() {
    let table = "Fall;Phase;Zeit;Bolus;VTI;Rh\n\
        7;vor;17.05.2031 09:00;1;18,5;SR\n\
        7;Nach;17.05.2031 09:30;1;20,5;SR\n\
        7;vor;18.05.2031 09:00;2;18,5;SR\n\
        7;nach;19.05.2031 09:30;2;20,5;SR\n\
        8;vor;17.05.2031 09:00;1;18,5;VHF\n\
        8;vor;17.05.2031 09:00;1;18,6;VHF\n\
        8;nach;17.05.2031 10:00;1;18,5;VHF\n\
        9;during;17.05.2031 10:00;1;18,5;SR\n";
    let binding = "identifiers = [\"Fall\"]\n[file]\ndate_order = \"dmy\"\n\
        [pair]\nof = \"Fall\"\nphase = \"Phase\"\nbefore = [\"vor\"]\nafter = [\"nach\"]\ntime = \"Zeit\"\n\
        episode = \"Bolus\"\nwithin_hours = 6\n\
        [columns.VTI]\ncell = \"lvot_vti\"\n\
        [columns.Rh]\ncell = \"rhythm\"\nwords = { SR = \"regular\", VHF = \"irregular\" }\n";
    let came = came(table, "t.csv", binding).unwrap();
    let exams = came.summary.exams.unwrap();
    assert_eq!((exams.read, exams.pairs, exams.unpaired), (8, 1, 6));
    assert_eq!(came.column("before.VTI"), ["18.5"]);
    assert_eq!(came.column("after.stroke_distance [cm]"), ["20.5"]);
    let reasons: Vec<&str> = came.aside.iter().map(|(_, reason)| &**reason).collect();
    assert_eq!(
        reasons[0],
        "not paired: 24.5 hours lie between rows 3 and 4"
    );
    assert_eq!(
        reasons[2],
        "not paired: rows 5 and 6 are both exams before, and no time tells them apart"
    );
    assert!(reasons[5].contains("`during` is neither a word for before (vor)"));
    assert!(
        came.summary
            .notes
            .iter()
            .any(|n| n.contains("decimal comma"))
    );
}

/// What stands in the place of a word for before or after may be a name.
#[test]
fn a_text_that_is_no_word_of_the_phase_is_not_repeated_where_identifiers_are_hidden() {
    let table = "mrn,phase,lvot_vti\n\
        7001,pre,18\n7001,post,20\n7002,Mary Major,18\n7003,,18\n,Mary Major,18\n7004,1234567,18\n";
    let pair = "[pair]\nof = \"mrn\"\nphase = \"phase\"\n";
    let sheet = Sheet::read(SHEET).unwrap().sheet;
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), table).unwrap();
    let hidden = "phase: what stands there is neither a word for before (before, pre) nor one for after (after, post), and is not \
                  shown, since it may tell who somebody is: see this row in the table, or say --keep-identifiers";
    let applied = |options: &Options| {
        let summary =
            apply_to_file_with(&sheet, &at("t.csv"), &at("r.csv"), options, &mut |_| {}).unwrap();
        let counts = summary.counts;
        assert_eq!((counts.read, counts.used, counts.set_aside), (5, 1, 4));
        std::fs::read_to_string(at("r.set_aside.csv")).unwrap()
    };
    let named = format!("identifiers = [\"mrn\"]\n{pair}");
    let options = bound_with_key(&named);
    let aside = applied(&options);
    for secret in ["Mary", "Major", "1234567", "700"] {
        assert!(!aside.contains(secret), "{secret}: {aside}");
    }
    assert_eq!(aside.matches(hidden).count(), 2, "{aside}");
    assert_eq!(aside.matches(NOT_SHOWN).count(), 3, "{aside}");
    assert!(aside.contains("phase: `` is neither a word"), "{aside}");
    let numbered = bound_by(&named);
    let cohort = Cohort::of(&sheet, numbered.open(&at("t.csv")).unwrap(), &numbered).unwrap();
    let reasons: Vec<&str> = cohort.set_aside.iter().map(|a| &*a.reason).collect();
    assert_eq!((reasons[0], reasons[3]), (hidden, hidden));
    let shown = cohort.fields_aside("before.phase").unwrap().iter();
    let shown: Vec<&str> = shown.flatten().map(String::as_str).collect();
    assert_eq!(shown, [NOT_SHOWN, "", NOT_SHOWN, NOT_SHOWN]);
    let kept = Options {
        keep_identifiers: true,
        ..bound_by(&named)
    };
    for options in [kept, bound_by(pair)] {
        let aside = applied(&options);
        let said = "phase: `Mary Major` is neither a word for before (before, pre) nor one for after (after, post)";
        assert!(
            aside.contains(said) && !aside.contains(NOT_SHOWN),
            "{aside}"
        );
    }
}

/// An exam that is told twice loses no pair; what is not paired is compared by what it says.
#[test]
fn an_exam_that_stands_twice_is_one_exam() {
    let table = "patient,at,fluid at,lvot_diameter,lvot_vti\n\
        Ann,2031-05-17 09:00,2031-05-17 09:30,2,18\n\
        Ann,2031-05-17 09:50,2031-05-17 09:30,2,22\n\
        Ann,2031-05-17 09:50 ,2031-05-17 09:30,2,22\n\
        Bob,2031-05-17 09:50,2031-05-17 09:30,2,22\n";
    let came = came(table, "t.csv", BY_TIME).unwrap();
    let exams = came.summary.exams.unwrap();
    assert_eq!((exams.read, exams.pairs, exams.unpaired), (4, 1, 2));
    assert_eq!(came.column("after.lvot_vti"), ["22"]);
    let told: Vec<(&str, &str)> = came.aside.iter().map(|(a, b)| (&**a, &**b)).collect();
    assert_eq!(
        told,
        [
            ("3", "the same as row 2: the exam is told twice"),
            ("4", "not paired: there is no exam before"),
        ]
    );
    let said: Vec<String> = came
        .summary
        .checks
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(said, ["1 row set aside: the same row as one before it"]);

    let options = Options {
        keep_identifiers: true,
        ..bound_by(BY_TIME)
    };
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("t.csv");
    std::fs::write(&path, table).unwrap();
    let sheet = Sheet::read(SHEET).unwrap().sheet;
    let cohort = Cohort::of(&sheet, options.open(&path).unwrap(), &options).unwrap();
    let whys: Vec<Why> = cohort.set_aside.iter().map(|aside| aside.why).collect();
    assert_eq!(whys, [Why::Check(Check::SameRow), Why::Unpaired]);
    // The half that an exam has nothing of is in neither group.
    assert_eq!(
        cohort.fields_aside("before.lvot_vti").unwrap(),
        [None, None]
    );
    let said: Vec<Option<&str>> = cohort
        .fields_aside("after.lvot_vti")
        .unwrap()
        .iter()
        .map(Option::as_deref)
        .collect();
    assert_eq!(said, [Some("22"), Some("22")]);
}

/// Times of a table with one exam a row are those of both exams of a pair.
#[test]
fn checks_hold_for_both_exams_of_a_pair() {
    let table = "patient,at,phase,lvot_diameter,lvot_vti\n\
        Ann,2031-05-17 09:00,pre,2,18\nAnn,2031-05-17 09:50,post,2,22\n";
    let binding = "[pair]\nof = \"patient\"\nphase = \"phase\"\n[checks]\npatient = \"patient\"\ntimes = [\"at\"]\n";
    for binding in [
        binding.to_owned(),
        binding.replace("[\"at\"]", "[\"before.at\", \"after.at\"]"),
    ] {
        let came = came(table, "t.csv", &binding).unwrap();
        assert_eq!(came.summary.counts.used, 1);
    }
}

#[test]
fn what_does_not_say_how_to_pair_is_refused() {
    let table = "patient,at,lvot_vti\nAnn,2031-05-17,20\n";
    for (binding, words) in [
        ("[pair]\nof = \"patient\"\n", "told apart by `phase`"),
        (
            "[pair]\nof = \"patient\"\nintervention = \"at\"\n",
            "told apart by `phase`",
        ),
        ("[pair]\nof = \"who\"\nphase = \"at\"\n", "no column `who`"),
        (
            "[pair]\nof = \"patient\"\nphase = \"at\"\nshared = [\"x\"]\n",
            "no column `x`",
        ),
        (
            "[pair]\nof = \"patient\"\nphase = \"at\"\nwithin_hours = 2\n",
            "needs `time`",
        ),
    ] {
        let refused = came(table, "t.csv", binding).err().unwrap().to_string();
        assert!(refused.contains(words), "{refused}");
    }
}

proptest! {
    // Each case applies a sheet to a file.
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// No exam is lost, and no exam is used twice.
    #[test]
    fn exams_read_are_those_in_pairs_and_those_set_aside(
        exams in prop::collection::vec((0..4_u8, 0..20_u8, prop::bool::ANY), 1..40)
    ) {
        let mut table = String::from("patient,at,fluid at,lvot_diameter,lvot_vti\n");
        for (patient, minute, has_time) in &exams {
            let time = if *has_time { format!("2031-05-17 09:{minute:02}") } else { String::from("?") };
            table += &format!("P{patient},{time},2031-05-17 09:10,2,20\n");
        }
        let came = came(&table, "t.csv", BY_TIME).unwrap();
        let counted = came.summary.exams.unwrap();
        prop_assert_eq!(counted.read, exams.len());
        prop_assert_eq!(counted.read, 2 * counted.pairs + counted.unpaired);
        let counts = came.summary.counts;
        prop_assert_eq!(counts.read, counted.pairs + counted.unpaired);
        prop_assert_eq!(counts.read, counts.used + counts.set_aside);
        prop_assert!(counted.pairs <= 4);
    }
}
