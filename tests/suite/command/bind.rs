//! `bind` drafts a binding that loads as it stands, and says what it is unsure of.

use super::Desk;

const EXPORT: &str = "MRN;Exam date;LVOT diam;VTI (cm);HR;SV;Rhythm;bed\n\
    7001;03.02.2031;20,5;18,5;999;56;SR;a\n\
    7002;14.02.2031;21,1;19,0;88;60;VHF;b\n\
    7003;15.02.2031;22,0;19,5;not done;70;paced;c\n";

const BIND: [&str; 6] = [
    "bind",
    "export.csv",
    "--sheet",
    "exam.sheet",
    "--out",
    "e.toml",
];

#[test]
fn a_draft_names_what_it_is_unsure_of_and_loads_as_it_stands() {
    let desk = Desk::new();
    desk.put("export.csv", EXPORT);
    let drafted = desk.run(&BIND);
    assert_eq!((drafted.code, drafted.err.as_str()), (0, ""));
    assert!(
        drafted.out.starts_with("bound 4 of 8 columns, "),
        "{}",
        drafted.out
    );
    let text = desk.text("e.toml");
    for part in [
        "decimal = \",\"",
        "date_order = \"dmy\"",
        "identifiers = [\n    \"MRN\",\n    # \"bed\",  # unsure: ",
        "# unsure: the unit: the heading names none, and a median of 21.1 is possible in mm, not in cm\n[columns.\"LVOT diam\"]",
        "missing = [\"999\"]",
        "# unsure: 1 text that is no number, such as \"not done\"",
        "# Not bound: stroke_volume is computed",
        "# unsure: \"paced\" is none of the words regular, irregular",
        "# [columns.\"bed\"]",
    ] {
        assert!(text.contains(part), "{part}\n{text}");
    }
    desk.put("key", "0123456789abcdef");
    let applied = desk.run(&[
        "apply",
        "exam.sheet",
        "export.csv",
        "--binding",
        "e.toml",
        "--key",
        "key",
        "--out",
        "r.csv",
    ]);
    assert_eq!(applied.code, 0, "{}", applied.err);
    // 999 and `not done` are not edited yet, nor is `paced`.
    assert!(
        applied
            .out
            .starts_with("3 rows read = 1 used + 2 set aside"),
        "{}",
        applied.out
    );
    assert!(!desk.text("r.csv").contains("7002"));
}

#[test]
fn what_was_edited_is_not_written_over() {
    let desk = Desk::new();
    desk.put("export.csv", EXPORT);
    desk.put("e.toml", "edited");
    let refused = desk.run(&BIND);
    assert_eq!(refused.code, 3);
    assert!(refused.err.contains("--overwrite"), "{}", refused.err);
    assert_eq!(desk.text("e.toml"), "edited");
    let told: Vec<&str> = BIND.iter().copied().chain(["--overwrite"]).collect();
    assert_eq!(desk.run(&told).code, 0);
    let printed = desk.run(&BIND[..4]);
    assert_eq!(printed.out.trim_end(), desk.text("e.toml").trim_end());
    assert_eq!(
        desk.run(&["bind", "none.csv", "--sheet", "exam.sheet"])
            .code,
        3
    );
}

/// Invented numbers and names under headings of which no list tells whose they are.
#[test]
fn a_draft_holds_no_value_that_could_be_a_persons() {
    let desk = Desk::new();
    let mut table = String::from("PatNr,Kennung,Who,Ward,VTI (cm)\n");
    for row in 0..12 {
        let (number, ward) = (40_000 + row / 2, ["A", "B"][row % 2]);
        table += &format!(
            "{number},{number},Invented {number},{ward},{}\n",
            18 + row % 3
        );
    }
    desk.put("export.csv", table);
    let drafted = desk.run(&BIND);
    assert_eq!(drafted.code, 0, "{}", drafted.err);
    let text = desk.text("e.toml");
    assert!(
        !text.contains("4000") && !text.contains("Invented"),
        "{text}"
    );
    assert!(
        text.contains("identifiers = [\n    \"PatNr\",\n    # \"Kennung\",  # unsure"),
        "{text}"
    );
    assert!(text.contains("    # \"Who\",  # unsure"), "{text}");
    // Two wards over twelve rows tell nobody.
    assert!(!text.contains("# \"Ward\",  # unsure"), "{text}");
}
