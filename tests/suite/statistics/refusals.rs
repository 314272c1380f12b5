//! Bad input: each is an error with its place and a way out, never a number.

use super::{Columns, answer, refusal};

fn table() -> Columns {
    let count = 24;
    let odd = |a: &str, b: &str| {
        (0..count)
            .map(|i| {
                if i % 2 == 0 {
                    a.to_owned()
                } else {
                    b.to_owned()
                }
            })
            .collect::<Vec<_>>()
    };
    Columns::new()
        .with(
            "patient",
            &(0..count)
                .map(|i| format!("P{}", i / 2))
                .collect::<Vec<_>>(),
        )
        .with(
            "index [%]",
            &(0..count).map(|i| (i * 7) % 13).collect::<Vec<_>>(),
        )
        .with("flat", &vec![3; count])
        .with("change [%]", &(0..count).map(|i| i + 1).collect::<Vec<_>>())
        .with("died", &odd("yes", "no"))
        .with(
            "place",
            &(0..count)
                .map(|i| ["ward", "icu", "home"][i % 3])
                .collect::<Vec<_>>(),
        )
        .with("day", &(1..=count).collect::<Vec<_>>())
        .with("blank", &vec![""; count])
        .with("who", &odd("A", ""))
        .with("one", &vec!["A"; count])
}

/// Each question, and words that its refusal must hold.
const REFUSED: &[(&str, &[&str])] = &[
    (
        "show roc of nosuch against change > 10 % over rows",
        &[
            "`nosuch` is neither a cell of the sheet nor a column of `rows`",
            ":1:13",
        ],
    ),
    (
        "show roc of indx against change > 10 % over rows",
        &["did you mean `index`?"],
    ),
    (
        "show roc of index against chnge > 10 % over rows",
        &["`chnge` is neither", "did you mean `change`?"],
    ),
    (
        "show roc of index against change > 10 % over tables",
        &["there is no cohort `tables`", "the cohorts are rows"],
    ),
    (
        "show roc of flat against change > 10 % over rows",
        &["flat is 3 in every row: it tells nobody apart"],
    ),
    (
        "show roc of index against change > 90 % over rows",
        &[
            "0 positive and 24 negative observations; both classes are needed",
            "the response is change > 90 %",
        ],
    ),
    (
        "show roc of index against change > 0 % over rows",
        &["24 positive and 0 negative observations"],
    ),
    (
        "show roc of index against place is ward over rows",
        &[
            "`place` has 3 words in these rows; a response has two",
            "it says home, icu, ward",
        ],
    ),
    (
        "show roc of index against died is maybe over rows",
        &[
            "no row used of `rows` says `maybe` in `died`",
            "it says no, yes",
        ],
    ),
    (
        "show roc of index against change > 10 mL over rows",
        &["`change` is in %, not in mL"],
    ),
    (
        "show roc of died against change > 10 % over rows",
        &["`died` of `rows` has no numbers in the rows used"],
    ),
    (
        "show roc of blank against change > 10 % over rows",
        &["`blank` of `rows` has no numbers"],
    ),
    (
        "show roc of index is high against change > 10 % over rows",
        &["an index is a number; a word makes no curve"],
    ),
    (
        "show roc of index against died is yes over rows error of 11 %",
        &["needs one that is more than a number"],
    ),
    (
        "show roc of index against day > 10 over rows error of 11 %",
        &["`day` is no per cent change", "such as `error of 3`"],
    ),
    (
        "show roc of index against change > 10 % over rows by who",
        &["`who` is blank in row 2", "`where who is known`"],
    ),
    (
        "show roc of index against change > 10 % over rows where day > 100",
        &[
            "none of the 24 rows used of `rows` meets the conditions",
            "not day > 100: 24",
        ],
    ),
    (
        "show roc of index against change > 10 % over rows where died is perhaps",
        &["says `perhaps`"],
    ),
    (
        "show gray_zone of index, day against change > 10 % over rows",
        &["a gray zone is that of one index"],
    ),
    (
        "show gray_zone of index against change > 10 % over rows demanding 40 %",
        &["between 50 and 100 %"],
    ),
    (
        "show responders of day at 3 over rows error of 11 %",
        &["`day` is no per cent change"],
    ),
    (
        "show responders of change at 10 % over rows error of 3 mL",
        &["a least significant change is in per cent"],
    ),
    (
        "show responders of change at 10 % over rows split day at 9, 3",
        &["the ends of the groups rise"],
    ),
    (
        "show change of index over rows",
        &["a change has two: before and after"],
    ),
    (
        "show change of index, day over rows",
        &["before and after are in different units"],
    ),
    (
        "show dose_response of index, change against day over rows",
        &["one change is drawn against one dose"],
    ),
    (
        "show dose_response of change against flat over rows",
        &["is 3 in all 24 rows"],
    ),
    (
        "show agreement of index over rows",
        &["agreement is that of two readings"],
    ),
    ("show agreement of index, day over rows", &["in one unit"]),
    (
        "show repeatability of index over rows",
        &["two readings or more"],
    ),
    (
        "show individuals of flat over rows along day",
        &["flat is 3 throughout the 24 values of the baseline"],
    ),
    (
        "show individuals of index over rows along day baseline 2.5",
        &["a baseline is a whole number"],
    ),
    (
        "show individuals of index over rows along day baseline 90",
        &["baseline"],
    ),
    (
        "show individuals of index over rows along died",
        &["`died` of `rows` has no numbers"],
    ),
    (
        "show proportions of died over rows along day per 7",
        &["a share is that of a word: `died is yes`"],
    ),
    (
        "show proportions of died is yes over rows along day per 0",
        &["a period is longer than zero"],
    ),
    (
        "show proportions of died is yes over rows along day per 0.01",
        &["more than 400 periods"],
    ),
    (
        "show funnel of index over rows by one",
        &["`one` names fewer than two operators"],
    ),
    (
        "show digits of index to 1 cm over rows",
        &["`index` is in %, not in cm"],
    ),
    ("show digits of index to 0 % over rows", &["more than zero"]),
    (
        "show drift of index beyond 2 mm over rows by patient along day",
        &["`index` is in %, not in mm"],
    ),
    (
        "show drift of index beyond 0 % over rows by patient along day",
        &["more than zero"],
    ),
    (
        "show drift of index beyond 1 % over rows by index along nosuch",
        &["`nosuch` is neither"],
    ),
    (
        "show jumps of index over rows beyond 3 %",
        &["a jump is between two readings"],
    ),
    (
        "show completeness of nosuch over rows",
        &["`nosuch` is neither"],
    ),
    (
        "show sample_size of index against died is yes over rows",
        &["`sample_size` needs `width`", "such as `width 10 %`"],
    ),
    (
        "show sample_size of index against died is yes over rows width 120 %",
        &["between 0 and 100 %"],
    ),
    (
        "show sample_size of index against died is yes over rows width 1 cm",
        &["between 0 and 100 %"],
    ),
    (
        "show sample_size of day, index, change over rows width 5 %",
        &["a mean difference two"],
    ),
    (
        "show sample_size of index, day over rows width 5 %",
        &["in different units"],
    ),
    (
        "show set_aside over rows where place is ward",
        &["nothing is computed in a row that was set aside"],
    ),
    (
        "show set_aside of plce over rows",
        &["`plce` is no column of `rows`", "did you mean `place`?"],
    ),
    (
        "show set_aside of stroke_volume over rows",
        &["rows set aside have fields, and nothing computed"],
    ),
    (
        "show set_aside of low index over rows",
        &["a column is compared as it is"],
    ),
    (
        "show set_aside over rows by patient",
        &["`by` says nothing to `set_aside`"],
    ),
    (
        "show row_flow of index against place is ward over rows",
        &["a response has two"],
    ),
];

#[test]
fn bad_questions_are_refused_with_a_place_and_a_way_out() {
    let table = table();
    for (statement, words) in REFUSED {
        let text = refusal(&table, statement);
        for word in *words {
            assert!(text.contains(word), "{statement}\n  wants: {word}\n{text}");
        }
        assert!(text.contains("cell 3:"), "{statement}: no place\n{text}");
    }
}

/// Few patients, many looks, thresholds chosen on the same data: said, and nothing else changes.
#[test]
fn small_numbers_and_many_looks_are_said() {
    let table = table();
    let text = answer(&table, "show roc of index against change > 18 % over rows");
    for words in [
        "Only 6 positives: fewer than 20, and each one is 17 % of the sensitivity",
        "chosen on the same data, which flatters",
        "Every row counts as a patient of its own",
        "seed 1",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let text = answer(
        &table,
        "show roc of index, day, low index against died is yes over rows",
    );
    assert!(
        text.contains("2 looks: the chance of at least one false alarm is about 10 %"),
        "{text}"
    );
}

/// Rows read = rows analyzed + rows left out, each with its reason.
#[test]
fn every_row_is_accounted_for() {
    let mut table = table();
    table.0[1].1[3] = String::new();
    table.0[1].1[4] = "see note".to_owned();
    let text = answer(
        &table,
        "show roc of index against change > 10 % over rows where place is not home",
    );
    assert!(
        text.contains("14 analyzed of 24 rows read; left out: place home 8, index not known because the field is blank 1, cannot be read 1."),
        "{text}"
    );
    assert!(
        text.contains("1 entries of index are no numbers and count as missing."),
        "{text}"
    );
}

/// A response that rests on an estimated diameter makes no threshold unless asked for.
#[test]
fn estimates_are_left_out_unless_asked_for() {
    let rows = 40;
    let mut text = String::from("x,lvot_vti [cm],lvot_diameter [cm],lvot_diameter (origin)\n");
    for row in 0..rows {
        let origin = if row < 10 { "estimated" } else { "measured" };
        text += &format!("{},{},2.0,{origin}\n", (row * 7) % 11, 12 + row % 17);
    }
    let ask = |statement: &str| {
        let (_folder, session) = super::session(&text, statement);
        session.outputs("q")[0].text.clone()
    };
    let without = ask("show roc of x against stroke_volume > 60 mL over rows");
    assert!(
        without.contains(
            "30 analyzed of 40 rows read; left out: the response rests on an estimate 10."
        ),
        "{without}"
    );
    let with = ask("show roc of x against stroke_volume > 60 mL over rows with estimated");
    assert!(with.contains("40 analyzed of 40 rows read."), "{with}");
}
