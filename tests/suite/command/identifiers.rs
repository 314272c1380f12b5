//! What a binding names as identifiers or as dates to shift stands in nothing that is printed or handed out.

use super::{Desk, notebook};

const SHEET: &str = "use hemodynamics\nlvot_diameter = 2 cm\n";
const BINDING: &str = "identifiers = [\"mrn\"]\n[shift]\ndates = [\"exam date\"]\nof = \"mrn\"\nwithin_days = 100\n\
    [file]\ndate_order = \"dmy\"\n";

/// Texts of the table that must not leave.
const SECRET: [&str; 5] = ["1234567", "1112223", "7654321", "17/05/2031", "2031-05-17"];

/// Twelve patients' exams, the eleventh's twice; two cannot be used.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.put("unit.sheet", SHEET);
    let mut table = String::from("mrn,exam date,lvot_vti [cm]\n");
    for (at, mrn) in ["7654321", "1112223", "1234567"].iter().enumerate() {
        table += &format!("{mrn},17/05/2031,{}\n", 18 + at);
    }
    for other in 0..9 {
        table += &format!("8{other}00001,18/05/2031,{}\n", 20 + other % 3);
    }
    table += "7654321,19/05/2031,far\n1234567,31/12/31,wide\n";
    desk.put("unit.csv", table);
    desk.put("unit.toml", BINDING);
    desk.put("key", "a key of invented bytes");
    desk
}

fn refuse_secrets(text: &str) {
    for secret in SECRET {
        assert!(!text.contains(secret), "{secret} stands in {text}");
    }
}

#[test]
fn answers_number_patients_in_the_order_of_the_table() {
    let desk = desk();
    for question in [
        "completeness of lvot_vti by mrn",
        "set_aside",
        "set_aside of mrn, lvot_vti",
        "completeness of lvot_vti, exam_date by mrn",
    ] {
        let asked = [
            "ask",
            "unit.sheet",
            "unit.csv",
            question,
            "--binding",
            "unit.toml",
        ];
        let given = desk.run(&asked);
        refuse_secrets(&format!("{}{}", given.out, given.err));
    }
    let asked = [
        "ask",
        "unit.sheet",
        "unit.csv",
        "completeness of lvot_vti by mrn",
        "--binding",
        "unit.toml",
    ];
    let given = desk.run(&asked);
    let at = |text: &str| {
        given
            .out
            .find(text)
            .unwrap_or_else(|| panic!("{}", given.out))
    };
    assert!(at("patient 1 —") < at("patient 2 —") && at("patient 2 —") < at("patient 10 —"));
    let kept = desk.run(&[&asked[..], &["--keep-identifiers"]].concat());
    assert!(kept.out.contains("7654321 —"), "{}", kept.out);
    let keyed = desk.run(&[&asked[..], &["--key", "key"]].concat());
    assert_eq!(keyed.code, 0, "{}", keyed.err);
    refuse_secrets(&keyed.out);
    assert!(!keyed.out.contains("patient 1"), "{}", keyed.out);
}

#[test]
fn rows_set_aside_are_not_compared_by_whom_they_belong_to() {
    let desk = desk();
    let asked = [
        "ask",
        "unit.sheet",
        "unit.csv",
        "set_aside",
        "--binding",
        "unit.toml",
    ];
    // Not even where identifiers are kept: a median of numbers may be one patient's.
    for more in [&[][..], &["--keep-identifiers"]] {
        let given = desk.run(&[&asked[..], more].concat());
        assert_eq!(given.code, 0, "{}", given.err);
        refuse_secrets(&given.out);
        let said = "Not compared, because the binding names them as identifiers or dates to shift: Mrn, Exam date.";
        assert!(given.out.contains(said), "{}", given.out);
    }
}

/// What somebody typed into a column that no binding names is not shown where few rows say it.
#[test]
fn a_text_of_few_rows_is_not_compared_by_name() {
    let desk = desk();
    let mut table = String::from("note,lvot_vti [cm]\n");
    for row in 0..6 {
        let note = ["seen again", "at the bedside"][row % 2];
        table += &format!("{note},{}\n", 18 + row);
    }
    table += "see 1234567,20\nsame as 1112223,far\n";
    desk.put("unit.csv", table);
    let given = desk.run(&["ask", "unit.sheet", "unit.csv", "set_aside"]);
    assert_eq!(given.code, 0, "{}", given.err);
    refuse_secrets(&given.out);
    for said in ["Note: texts in fewer than 3 rows", "Note: seen again"] {
        assert!(given.out.contains(said), "{}", given.out);
    }
}

#[test]
fn the_reason_of_a_row_set_aside_does_not_quote_a_date_to_shift() {
    let desk = desk();
    let apply = [
        "apply",
        "unit.sheet",
        "unit.csv",
        "--binding",
        "unit.toml",
        "--key",
        "key",
        "--out",
        "r.csv",
    ];
    desk.put(
        "unit.csv",
        "mrn,exam date,lvot_vti [cm]\n1234567,31/12/31,20\n7654321,17/05/2031,21\n",
    );
    let given = desk.run(&apply);
    assert_eq!(given.code, 0, "{}", given.err);
    let aside = desk.text("r.set_aside.csv");
    assert!(
        aside.contains("exam date: what stands there is no date"),
        "{aside}"
    );
    assert!(!aside.contains("31/12/31"), "{aside}");
    refuse_secrets(&desk.text("r.csv"));
    assert!(!aside.contains("1234567"), "{aside}");
}

/// A second date and a name behind the dates to shift, and a name in the place of a word for before or after.
#[test]
fn what_is_no_time_behind_a_date_and_no_phase_is_not_repeated() {
    let desk = desk();
    let headings = "mrn,exam date,phase,lvot_vti [cm]\n";
    let exams = [
        "8000001,18/05/2031 07:30,pre,18",
        "8000001,18/05/2031 7:45 PM CEST,post,20",
        "8000002,18/05/2031 or 2031-05-17,pre,18",
        "8000002,2031-05-18 seen by Mary Major,post,20",
        "8000003,18/05/2031,Mary Major,18",
        "8000004,2031-05-18 seen by Mary Major,pre,18",
    ];
    desk.put("unit.csv", format!("{headings}{}\n", exams.join("\n")));
    let sheet = "use hemodynamics as before\nuse hemodynamics as after";
    desk.put("unit.sheet", sheet);
    let pair = "[pair]\nof = \"mrn\"\nphase = \"phase\"\n";
    desk.put("unit.toml", format!("{BINDING}{pair}"));
    let cells = [
        sheet,
        "cohort unit from \"unit.csv\" bound by \"unit.toml\"",
        "show set_aside over unit",
    ];
    desk.put("unit.ipynb", notebook(&cells));
    let command = |words: &str, more: &[&str]| {
        let words: Vec<&str> = words.split(' ').collect();
        let given = desk.run(&[&words[..], more].concat());
        assert_eq!(given.code, 0, "{}", given.err);
        format!("{}{}", given.out, given.err)
    };
    let apply = "apply unit.sheet unit.csv --binding unit.toml --out r.csv";
    let ask = "ask unit.sheet unit.csv set_aside --binding unit.toml";
    let key = ["--key", "key"];
    for more in [&[][..], &key] {
        let mut all = command(apply, &key) + &command(ask, more);
        all += &command("run unit.ipynb", more);
        for file in [
            "r.csv",
            "r.set_aside.csv",
            "unit.html",
            "unit.with_outputs.ipynb",
        ] {
            all += &desk.text(file);
        }
        let all = all.replace("no date such as 2031-05-17", "");
        refuse_secrets(&all);
        for secret in ["Mary", "Major", "800000", "18/05/2031", "2031-05-18"] {
            assert!(!all.contains(secret), "{secret} stands in {all}");
        }
    }
    let (used, aside) = (desk.text("r.csv"), desk.text("r.set_aside.csv"));
    assert_eq!(
        (used.lines().count(), aside.lines().count()),
        (2, 4),
        "{used}{aside}"
    );
    assert!(
        used.contains(" 07:30,") && used.contains(" 7:45 PM CEST,"),
        "{used}"
    );
    for said in [
        "before.exam date: what stands there is no date such as 2031-05-17, so it cannot be shifted; its day is read, its time of day is not",
        "phase: what stands there is neither a word for before (before, pre) nor one for after (after, post), and is not shown",
        "not paired: there is no exam after",
    ] {
        assert!(aside.contains(said), "{aside}");
    }
    command(apply, &["--keep-identifiers"]);
    let kept = desk.text("r.set_aside.csv");
    assert!(
        kept.contains("phase: `Mary Major` is neither a word"),
        "{kept}"
    );
}

/// A name and a number of a patient in the column of readings, where a slip put them.
#[test]
fn what_was_typed_into_the_wrong_column_is_not_repeated() {
    let desk = desk();
    let mut table = String::from("mrn,exam date,lvot_vti [cm]\n");
    table += "8000001,18/05/2031,Mary Major\n8000002,18/05/2031,1234567\n8000003,18/05/2031,20\n8000004,18/05/2031,900\n";
    desk.put("unit.csv", table);
    let cells = [
        "use hemodynamics\nlvot_diameter = 2 cm",
        "cohort unit from \"unit.csv\" bound by \"unit.toml\"",
        "show set_aside over unit",
    ];
    desk.put("unit.ipynb", notebook(&cells));
    let apply = "apply unit.sheet unit.csv --binding unit.toml --out r.csv";
    let apply: Vec<&str> = apply.split(' ').collect();
    let asked = "ask unit.sheet unit.csv set_aside --binding unit.toml";
    let asked: Vec<&str> = asked.split(' ').collect();
    let told = |more: &[&str]| {
        let applied = desk.run(
            &[
                &apply[..],
                if more.is_empty() {
                    &["--key", "key"]
                } else {
                    more
                },
            ]
            .concat(),
        );
        assert_eq!(applied.code, 0, "{}", applied.err);
        let run = desk.run(&[&["run", "unit.ipynb"], more].concat());
        assert_eq!(run.code, 0, "{}", run.err);
        let answered = desk.run(&[&asked[..], more].concat());
        let files = [
            "r.csv",
            "r.set_aside.csv",
            "unit.html",
            "unit.with_outputs.ipynb",
        ];
        let files = files.map(|file| desk.text(file));
        format!(
            "{}{}{}{}",
            applied.out,
            run.out,
            answered.out,
            files.join("\n")
        )
    };
    let all = told(&[]);
    refuse_secrets(&all);
    assert!(!all.contains("Major"), "{all}");
    let aside = desk.text("r.set_aside.csv");
    let words = "1,\"lvot_vti [cm]: what stands there is no number, and is not shown, since it may tell who somebody is: see this row in the table, or \
                 say --keep-identifiers\"";
    assert!(aside.contains(words), "{aside}");
    // A number that somebody could have measured says what to mend.
    assert!(aside.contains("900"), "{aside}");
    assert!(desk.text("unit.html").contains("see this row in the table"));
    let kept = told(&["--keep-identifiers"]);
    assert!(kept.contains("`Mary Major` is not a number"), "{kept}");
}

#[test]
fn an_identifier_is_no_number() {
    let desk = desk();
    let asked = [
        "ask",
        "unit.sheet",
        "unit.csv",
        "individuals of mrn along lvot_vti",
        "--binding",
        "unit.toml",
    ];
    let given = desk.run(&asked);
    assert_eq!(given.code, 2);
    assert!(
        given.err.contains("`mrn` holds identifiers, not numbers"),
        "{}",
        given.err
    );
}

#[test]
fn pages_and_notebooks_hold_none() {
    let desk = desk();
    let cells = [
        "use hemodynamics\nlvot_diameter = 2 cm",
        "cohort unit from \"unit.csv\" bound by \"unit.toml\"",
        "show set_aside over unit",
        "show completeness of lvot_vti by mrn over unit",
        "show funnel of lvot_vti by mrn over unit",
        "show lvot_vti over unit",
    ];
    desk.put("unit.ipynb", notebook(&cells));
    let given = desk.run(&["run", "unit.ipynb"]);
    refuse_secrets(&format!("{}{}", given.out, given.err));
    let page = desk.text("unit.html");
    refuse_secrets(&page);
    refuse_secrets(&desk.text("unit.with_outputs.ipynb"));
    assert!(page.contains("patient 10"), "{page}");
    assert!(
        page.contains("identifiers (mrn) are shown by number"),
        "{page}"
    );
    let given = desk.run(&["run", "unit.ipynb", "--keep-identifiers"]);
    assert!(desk.text("unit.html").contains("7654321"), "{}", given.err);
    let given = desk.run(&["run", "unit.ipynb", "--key", "key", "--in-place"]);
    assert_eq!(given.code, 2, "{}", given.err);
}
