//! What drafts say of tables as hospitals export them: units, phases, checks, names. All tables are invented.

use super::test_support::bound_by;
use super::*;
use crate::sheet::Sheet;

const ONE: &str = "use hemodynamics";
const TWO: &str = "use hemodynamics\nuse hemodynamics as before\nuse hemodynamics as after\ncompare before, after";

fn draft(sheet: &str, table: &str) -> Draft {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("t.csv");
    std::fs::write(&path, table).unwrap();
    draft_binding(&Sheet::read(sheet).unwrap().sheet, &path).unwrap()
}

fn holds(text: &str, piece: &str) {
    assert!(text.contains(piece), "{piece}\n---\n{text}");
}

/// The columns of results and the counts that a sheet gives with a draft as it stands.
fn applied(sheet: &str, table: &str) -> (Summary, Vec<csv::StringRecord>, csv::StringRecord) {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), table).unwrap();
    let drafted = draft(sheet, table).text;
    let options = Options {
        keep_identifiers: true,
        ..bound_by(&drafted)
    };
    let sheet = Sheet::read(sheet).unwrap().sheet;
    let (table, out) = (at("t.csv"), at("r.csv"));
    let summary = apply_to_file_with(&sheet, &table, &out, &options, &mut |_| {}).unwrap();
    let mut reader = csv::Reader::from_path(at("r.csv")).unwrap();
    let headings = reader.headers().unwrap().clone();
    let rows = reader.records().map(Result::unwrap).collect();
    (summary, rows, headings)
}

/// Du Bois and Du Bois 1916: 0.007184 W^0.425 H^0.725 with 70 in = 177.8 cm and 180 lb = 81.6466 kg comes to 1.99591 m2 (by Python).
#[test]
fn inches_and_pounds_in_a_heading_are_understood() {
    let table =
        "MRN,Ht (in),Wt (lb),LVOTd (cm),VTI (cm)\n123,70,180,2.1,18.2\n124,64,140,1.9,16.2\n";
    let drafted = draft(ONE, table);
    holds(
        &drafted.text,
        "[columns.\"Ht (in)\"]\ncell = \"height\"\nunit = \"[in_i]\"\n",
    );
    holds(&drafted.text, "unit = \"[lb_av]\"\n");
    let (_, rows, headings) = applied(ONE, table);
    let at = headings
        .iter()
        .position(|h| h.starts_with("body_surface_area"));
    let surface: f64 = rows[0][at.unwrap()].parse().unwrap();
    assert!((surface - 1.995_908).abs() < 1e-6, "{surface}");
}

#[test]
fn a_unit_that_is_not_known_is_not_taken_for_another() {
    let table = "id,VTI (px),LVOT diameter [foo],Weight (stone),Fluid (cc)\n1,18,2.0,12,500\n2,19,2.1,13,250\n";
    let text = draft(ONE, table).text;
    holds(
        &text,
        "# Not bound: the heading says `px`, which is no unit that is known here",
    );
    holds(
        &text,
        "# [columns.\"VTI (px)\"]\n# cell = \"lvot_vti\"\n# unit = \"\"\n",
    );
    holds(&text, "# Not bound: the heading says `foo`");
    holds(&text, "cell = \"weight\"\nunit = \"[stone_av]\"");
    holds(&text, "cell = \"fluid_given\"\nunit = \"mL\"");
    // With the marks taken off it does not load before a unit is written.
    let open = "[columns.\"VTI (px)\"]\ncell = \"lvot_vti\"\nunit = \"\"\n";
    let refused = |binding: &str| {
        let file = BindingFile::parse("b.toml".as_ref(), binding).unwrap();
        let headings = ["VTI (px)".to_owned()];
        let sheet = Sheet::read(ONE).unwrap().sheet;
        Binding::by_file(&sheet, &headings, &file)
            .unwrap_err()
            .to_string()
    };
    assert!(refused(open).contains("is not a unit"), "{}", refused(open));
    let inches = refused(&open.replace("\"\"", "\"in\""));
    assert!(inches.contains("its code is `[in_i]`"), "{inches}");
}

#[test]
fn what_was_done_names_no_reading_beside_another_name() {
    let table = "MRN,Baseline VTI (cm),Baseline HR,After fluid VTI (cm),After fluid HR,Fluid (L)\n\
                 1,18,80,20,84,0.5\n2,17,90,19,92,0.25\n3,16,70,18,75,0.5\n";
    let text = draft(ONE, table).text;
    holds(
        &text,
        "\n[columns.\"Fluid (L)\"]\ncell = \"fluid_given\"\nunit = \"L\"\n",
    );
    holds(
        &text,
        "# [columns.\"After fluid HR\"]\n# cell = \"heart_rate\"\n",
    );
    holds(
        &text,
        "# unsure: `Baseline VTI (cm)` and `After fluid VTI (cm)` seem to be of two exams",
    );
    // A column that is only perhaps meant does not keep one out that surely is.
    let text = draft(ONE, "HR corrected,HR\n80,81\n82,83\n").text;
    holds(&text, "\n[columns.\"HR\"]\ncell = \"heart_rate\"");
    holds(
        &text,
        "# Not bound: another column is headed as heart_rate just so\n",
    );
}

#[test]
fn phases_are_known_in_several_languages() {
    for (first, second) in [
        ("vorher", "nachher"),
        ("pre", "post"),
        ("avant", "après"),
        ("antes", "después"),
        ("prima", "dopo"),
        ("voor", "na"),
        ("T0", "T1"),
        ("baseline", "post"),
        ("före", "efter"),
    ] {
        let mut table = String::from("Patient,Phase,VTI (cm)\n");
        for patient in 1..4 {
            table += &format!("{patient},{first},18\n{patient},{second},20\n");
        }
        let text = draft(TWO, &table).text;
        holds(
            &text,
            &format!("# before = [\"{first}\"]\n# after = [\"{second}\"]\n"),
        );
    }
    // `na` alone is no phase.
    let text = draft(
        TWO,
        "Patient,K,VTI (cm)\n1,na,18\n1,pre,20\n2,na,18\n2,pre,20\n",
    )
    .text;
    assert!(!text.contains("[pair]\n"), "{text}");
    holds(
        &text,
        "# unsure: the sheet has the exams `before` and `after`, and no heading says of which one it is.",
    );
}

#[test]
fn a_slip_in_one_number_does_not_settle_how_all_are_written() {
    let mut table = String::from("id;LVOT diameter (cm);VTI (cm)\n1;2,0;18.5\n");
    for row in 0..40 {
        table += &format!("{row};2.{};1{}.5\n", row % 3, row % 9);
    }
    let text = draft(ONE, &table).text;
    holds(&text, "decimal = \".\"\n");
    holds(
        &text,
        "# unsure of decimal: 81 of its numbers are written with a decimal point, and 1 otherwise, such as `2,0` (column `LVOT diameter (cm)`)",
    );
    let (summary, _, _) = applied(ONE, &table);
    let counts = summary.counts;
    assert_eq!((counts.read, counts.used, counts.set_aside), (41, 40, 1));
    // The other way round.
    let commas = table.replace(',', "#").replace('.', ",").replace('#', ".");
    holds(&draft(ONE, &commas).text, "decimal = \",\"\n");
}

#[test]
fn checks_of_rows_and_names_are_drafted() {
    let table = "Patienten-ID;Untersuchungszeit;LVOT (cm);VTI (cm);HF;Untersucher\n\
                 p1;2031-01-01 08:30;2.0;18;80;Ada\np1;2031-01-01 08:30;2.0;18;80;Ada\n\
                 p1;2031-01-02 08:30;2.0;18;81;Bo\np2;2031-01-02 09:30;2.1;19;90;Bo\n";
    let drafted = draft(ONE, table);
    holds(
        &drafted.text,
        "# unsure: `Patienten-ID` seems to say whose rows they are, and `Untersuchungszeit` when exams were.",
    );
    holds(
        &drafted.text,
        "\n[checks]\npatient = \"Patienten-ID\"\ntimes = [\"Untersuchungszeit\"]\n",
    );
    holds(
        &drafted.text,
        "[headings]\n\"Patienten-ID\" = \"patient\"\n\"Untersuchungszeit\" = \"day\"\n\"Untersucher\" = \"operator\"\n",
    );
    let (summary, _, headings) = applied(ONE, table);
    let counts = summary.counts;
    assert_eq!((counts.read, counts.used, counts.set_aside), (4, 3, 1));
    let said: Vec<String> = summary.checks.iter().map(ToString::to_string).collect();
    assert!(
        said[0].contains("the same row as one before it"),
        "{said:?}"
    );
    for name in ["patient", "day", "operator"] {
        assert!(headings.iter().any(|h| h == name), "{headings:?}");
    }
    // Times of both exams, and what was done between them.
    let wide = "MRN,pre exam time,fluid start,post exam time,pre VTI (cm),post VTI (cm)\n\
                1,2031-05-17 07:30,2031-05-17 07:40,2031-05-17 08:00,18,20\n";
    holds(
        &draft(TWO, wide).text,
        "times = [\"pre exam time\", \"fluid start\", \"post exam time\"]\n",
    );
    // Nobody's rows are not compared.
    assert!(!draft(ONE, "VTI (cm),HR\n18,80\n").text.contains("[checks]"));
}
