//! Bindings by file, pseudonyms, and the cohort against the sheet, row by row.

use std::path::{Path, PathBuf};

use super::*;
use crate::sheet::Sheet;

const TWO_EXAMS: &str = "use hemodynamics as before\nuse hemodynamics as after\nuse hemodynamics";

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("data")
        .join(name)
}

fn sheet() -> Sheet {
    Sheet::read(TWO_EXAMS).unwrap().sheet
}

fn binding(text: &str) -> Result<BindingFile, CohortError> {
    BindingFile::parse("b.toml".as_ref(), text)
}

struct Applied {
    summary: Result<Summary, CohortError>,
    used: String,
    aside: String,
}

fn applied(table: &str, text: &str, key: Option<&str>, keep_identifiers: bool) -> Applied {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("t.csv"), table).unwrap();
    let key = key.map(|key| {
        std::fs::write(at("key"), key).unwrap();
        Key::read(&at("key")).unwrap()
    });
    let options = Options {
        binding: Some(binding(text).unwrap()),
        key,
        keep_identifiers,
        ..Options::default()
    };
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let summary = apply_to_file_with(&sheet, &at("t.csv"), &at("r.csv"), &options, &mut |_| {});
    let read = |name: &str| std::fs::read_to_string(at(name)).unwrap_or_default();
    Applied {
        summary,
        used: read("r.csv"),
        aside: read("r.set_aside.csv"),
    }
}

const FOREIGN: &str = "\
name,D mm,VTI pre,Rh,code
Ann,20,20,AF,007
Bob,21,not seen,SR,008
Cyd,wide,18,SR,009
Eve,20,20,SR,010
Dee,20,18
";

const BINDING: &str = "\
identifiers = [\"name\"]
[columns.\"D mm\"]
cell = \"lvot_diameter\"
unit = \"mm\"
[columns.\"VTI pre\"]
cell = \"lvot_vti\"
origin = \"estimated\"
missing = [\"not seen\"]
[columns.Rh]
cell = \"rhythm\"
words = { AF = \"irregular\", SR = \"regular\" }
";

#[test]
fn a_table_with_headings_of_its_own_is_bound_by_a_file() {
    let done = applied(FOREIGN, BINDING, Some("0123456789abcdef"), false);
    let counts = done.summary.unwrap().counts;
    assert_eq!((counts.read, counts.used, counts.set_aside), (5, 3, 2));
    assert!(done.used.contains(",20,20,AF,007,"), "{}", done.used);
    // The finding's word was understood: one beat is not enough in an irregular rhythm.
    assert!(
        done.used
            .contains("irregular rhythm needs at least 3 beats")
    );
    // π/4 · (2 cm)² · 20 cm
    assert!(done.used.contains("62.83185307179586"), "{}", done.used);
    assert!(done.used.contains("estimated: "), "{}", done.used);
    // What stands there is not repeated, since the binding names identifiers.
    assert!(
        done.aside
            .contains("D mm: what stands there is no number, and is not shown")
    );
    assert!(!done.aside.contains("wide"), "{}", done.aside);
}

#[test]
fn identifiers_leave_as_pseudonyms_from_both_files_or_not_at_all() {
    let done = applied(FOREIGN, BINDING, Some("0123456789abcdef"), false);
    for name in ["Ann", "Bob", "Cyd", "Dee"] {
        assert!(!done.used.contains(name) && !done.aside.contains(name));
    }
    let refused = applied(FOREIGN, BINDING, None, false);
    assert!(matches!(refused.summary, Err(CohortError::NoKey { .. })));
    assert_eq!((&*refused.used, &*refused.aside), ("", ""));
    let kept = applied(FOREIGN, BINDING, None, true);
    assert!(kept.used.contains("Ann") && kept.aside.contains("Cyd"));
}

#[test]
fn what_does_not_fit_is_refused_with_the_place_and_the_way_out() {
    let sheet = sheet();
    let headings = ["a".to_owned(), "b".to_owned()];
    let words = |text: &str| {
        let file = match binding(text) {
            Ok(file) => file,
            Err(e) => return e.to_string(),
        };
        Binding::by_file(&sheet, &headings, &file)
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        words("[columns.c]\ncell = \"height\""),
        "b.toml: columns: the table has no column `c`; its columns are a, b"
    );
    assert!(words("[columns.a]\ncell = \"heigt\"").contains("did you mean `height`?"));
    assert!(words("[columns.a]\ncell = \"height\"\npart = \"size\"").contains("not `size`"));
    assert!(words("[columns.a]\ncell = \"height\"\nunit = \"kg\"").contains("kg does not measure"));
    assert!(words("[columns.a]\ncell = \"height\"\norigin = \"x\"").contains("not `x`"));
    assert!(words("[columns.a]\ncel = \"height\"").contains("line 2"));
    assert!(words("identifiers = [\"a\"]\n[columns.a]\ncell = \"height\"").contains("keep one"));
    let twice = "[columns.a]\ncell = \"height\"\n[columns.b]\ncell = \"height\"";
    assert!(words(twice).contains("both supply the reading of `height`"));
}

#[test]
fn only_a_file_binds_a_derived_cell() {
    let table = "lvot_diameter,stroke_volume,heart_rate\n2,70,80\n";
    let by_file = "[columns.stroke_volume]\ncell = \"stroke_volume\"";
    let done = applied(table, by_file, None, false);
    assert!(done.summary.unwrap().passed_over.is_empty());
    // 70 mL · 80 /min
    assert!(done.used.contains(",5.6,"), "{}", done.used);
    let by_heading = applied(table, "", None, false);
    assert_eq!(by_heading.summary.unwrap().passed_over, ["stroke_volume"]);
}

#[test]
fn the_bundled_binding_fits_the_bundled_table() {
    let file = BindingFile::read(&data("fluid_challenges.toml")).unwrap();
    let table = Table::open(&data("fluid_challenges.csv")).unwrap();
    let binding = Binding::by_file(&sheet(), table.headings(), &file).unwrap();
    assert_eq!(binding.identifiers, [0, 1]);
    let folder = tempfile::tempdir().unwrap();
    let options = Options {
        binding: Some(file),
        keep_identifiers: true,
        ..Options::default()
    };
    let out = folder.path().join("r.csv");
    let table = data("fluid_challenges.csv");
    let counts = apply_to_file_with(&sheet(), &table, &out, &options, &mut |_| {})
        .unwrap()
        .counts;
    assert_eq!(counts.read, 966);
    assert_eq!(counts.read, counts.used + counts.set_aside);
}

/// Name and bits of each derived cell of a row that is used.
type Exam = Vec<(String, Option<u64>)>;

/// What the sheet gives for each row of a table, one exam at a time, as `row.rs` reads it: the
/// judge of a cohort.
fn judged(sheet: &Sheet, table: &str, options: &Options) -> Vec<Option<Exam>> {
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .from_reader(table.as_bytes());
    let headings: Vec<String> = reader.headers().unwrap().iter().map(Into::into).collect();
    let bytes = std::io::Cursor::new(table.to_owned());
    let opened = Table::from_csv(Box::new(bytes), "t.csv".as_ref()).unwrap();
    let binding = options.binding(sheet, &opened).unwrap();
    let derived = sheet.reachable(&binding.cells());
    let exam = |record: csv::StringRecord| {
        let fields: Vec<&str> = record.iter().collect();
        let read = (fields.len() == headings.len())
            .then(|| RowReadings::read(sheet, &binding, &fields).ok())??;
        let mut one = sheet.clone();
        for (cell, reading) in read.readings() {
            one.set(*cell, reading.clone()).unwrap();
        }
        let value = |cell| one.value(cell).map(f64::to_bits);
        let is_used = derived.iter().any(|cell| value(*cell).is_some())
            && binding.required.iter().all(|cell| value(*cell).is_some());
        is_used.then(|| {
            let named = |cell| (one.name(cell), value(cell));
            derived.iter().map(|cell| named(*cell)).collect()
        })
    };
    reader
        .records()
        .map(|record| exam(record.unwrap()))
        .collect()
}

fn in_memory(sheet: &Sheet, table: &str, options: &Options) -> Cohort {
    let bytes = std::io::Cursor::new(table.to_owned().into_bytes());
    let table = Table::from_csv(Box::new(bytes), "t.csv".as_ref()).unwrap();
    Cohort::of(sheet, table, options).unwrap()
}

/// Compares a cohort with the judge, bit for bit; says how many values were compared.
fn assert_judged(sheet: &Sheet, table: &str, options: &Options) -> usize {
    let cohort = in_memory(sheet, table, options);
    let (mut used, mut compared) = (0, 0);
    for (at, row) in judged(sheet, table, options).iter().enumerate() {
        let is_used = cohort.rows().get(used) == Some(&(at + 1));
        assert_eq!(is_used, row.is_some(), "row {}", at + 1);
        for (name, expected) in row.iter().flatten() {
            let value = cohort.column(name).unwrap()[used];
            let bits = value.map(|v| v.value.to_bits());
            assert_eq!(bits, *expected, "row {} {name}", at + 1);
            compared += 1;
        }
        used += usize::from(is_used);
    }
    assert_eq!(used, cohort.counts.used);
    compared
}

/// Every row of both bundled files: the cohort's bits are those of the sheet, given the same
/// readings one exam at a time.
#[test]
fn a_cohort_is_the_sheet_row_by_row() {
    for name in ["first_cohort.csv", "fluid_challenges.csv"] {
        let table = std::fs::read_to_string(data(name)).unwrap();
        assert!(assert_judged(&sheet(), &table, &Options::default()) > 1000);
    }
}

/// Fields that are numbers and fields that are anything else, beats, origins, uncertainties and
/// words of the table's own: what is quick comes to the same as what is careful.
#[test]
fn quick_and_careful_reading_agree() {
    const FIELDS: [&[&str]; 8] = [
        &[
            "20",
            "21.5",
            "20.5",
            " 1.9 ",
            "",
            "NA",
            "unobtainable",
            "wide",
            "-1",
            "999",
            "999.0",
            "1e999",
            "+2",
        ],
        &["18", "22.5", "", "not seen", "inf", "0", "17"],
        &["1", "3", "5", "", "2.5", "many", "3"],
        &["0.4", "", "-1", "0.5", "x"],
        &["measured", "estimated", "", "assumed", "guessed"],
        &["AF", "SR", "", "irregular", "odd", "AF"],
        &["70", "80", "", "?", "100"],
        &["1700", "1800", "", "bedridden", "1750"],
    ];
    let binding = "missing = [\"999\"]\n\
        [columns.d]\ncell = \"lvot_diameter\"\nunit = \"mm\"\n\
        [columns.v]\ncell = \"lvot_vti\"\nmissing = [\"not seen\"]\n\
        [columns.n]\ncell = \"lvot_vti\"\npart = \"beats\"\n\
        [columns.u]\ncell = \"lvot_vti\"\npart = \"uncertainty\"\nunit = \"mm\"\n\
        [columns.o]\ncell = \"lvot_diameter\"\npart = \"origin\"\n\
        [columns.r]\ncell = \"rhythm\"\nwords = { AF = \"irregular\", SR = \"regular\" }\n\
        [columns.w]\ncell = \"weight\"\norigin = \"assumed\"\n\
        [columns.h]\ncell = \"height\"\nunit = \"mm\"\nmissing = [\"bedridden\"]\n";
    let options = Options {
        binding: Some(self::binding(binding).unwrap()),
        ..Options::default()
    };
    let sheet = Sheet::read("use hemodynamics\nlvot_diameter = 2 cm\nheart_rate = 80 /min")
        .unwrap()
        .sheet;
    let mut table = String::from("d,v,n,u,o,r,w,h\n");
    let mut state = 1_u64;
    for _ in 0..4000 {
        let fields = FIELDS.map(|texts| {
            // Knuth's MMIX constants; the high bits are good enough to choose by.
            state = state
                .wrapping_mul(6364136223846793005)
                .wrapping_add(1442695040888963407);
            // Most fields are ordinary, or few rows would come through.
            let choices = if state >> 61 == 0 { texts.len() } else { 2 };
            texts[(state >> 33) as usize % choices]
        });
        table.push_str(&fields.join(","));
        table.push('\n');
    }
    assert!(assert_judged(&sheet, &table, &options) > 10_000);
}

/// Whatever the table: rows read are rows used and rows set aside, and both files say so.
#[test]
fn hostile_tables_reconcile() {
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let head = "lvot_diameter [cm],lvot_vti [cm],note";
    let wide: Vec<String> = (0..400).map(|n| format!("c{n}")).collect();
    let blanks = ",".repeat(400);
    let tables: Vec<(Vec<u8>, usize, usize)> = vec![
        (format!("{head}\n").into(), 0, 0),
        (head.into(), 0, 0),
        (format!("\u{feff}{head}\r\n2,20,x\r\n").into(), 1, 1),
        (format!("{head}\n2,20\n2,20,x,y\n2,20,\n").into(), 3, 1),
        (
            format!("{head}\n2,20,\"a\nb\"\n2,20,\"a\"\"b\"\n").into(),
            2,
            2,
        ),
        (
            format!("{head}\ninf,20,\n2,nan,\n1e999,20,\n0x2,20,\n\"2,0\",20,\n").into(),
            5,
            0,
        ),
        (format!("{head}\n-2,20,\n0,20,\n20,20,\n,,\n").into(), 4, 0),
        (
            [head.as_bytes(), b"\n2,20,\xff\xfe\n2,20,ok\n"].concat(),
            2,
            1,
        ),
        (
            format!("lvot_diameter,lvot_vti,{}\n2,20{blanks}\n", wide.join(",")).into(),
            1,
            1,
        ),
    ];
    for (table, read, used) in tables {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("t.csv"), &table).unwrap();
        let shown = String::from_utf8_lossy(&table).into_owned();
        let done = apply_to_file(&sheet, &at("t.csv"), &at("r.csv"), &mut |_| {});
        let counts = done.unwrap_or_else(|e| panic!("{shown}: {e}")).counts;
        assert_eq!((counts.read, counts.used), (read, used), "{shown}");
        let rows = |name: &str| {
            let mut reader = csv::ReaderBuilder::new()
                .flexible(true)
                .from_path(at(name))
                .unwrap();
            reader.byte_records().count()
        };
        assert_eq!(rows("r.csv"), counts.used, "{shown}");
        assert_eq!(rows("r.set_aside.csv"), counts.set_aside, "{shown}");
        assert_eq!(counts.read, counts.used + counts.set_aside, "{shown}");
    }
}

#[test]
fn a_table_that_cannot_be_kept_apart_from_its_results_is_refused_and_left_as_it_was() {
    let sheet = Sheet::read("use hemodynamics").unwrap().sheet;
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let refused = |table: &str, out: &str| {
        std::fs::write(at("t.csv"), table).unwrap();
        let e = apply_to_file(&sheet, &at("t.csv"), &at(out), &mut |_| {}).unwrap_err();
        assert_eq!(std::fs::read_to_string(at("t.csv")).unwrap(), table);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "{e}");
        e
    };
    let plain = "lvot_diameter,lvot_vti\n2,20\n";
    assert!(matches!(
        refused(plain, "t.csv"),
        CohortError::SameFile { .. }
    ));
    let remarks = "lvot_diameter,lvot_vti,remarks\n2,20,x\n";
    assert!(matches!(
        refused(remarks, "r.csv"),
        CohortError::Collision { .. }
    ));
    let result = "lvot_diameter,lvot_vti,stroke_volume [mL]\n2,20,60\n";
    assert!(matches!(
        refused(result, "r.csv"),
        CohortError::Collision { .. }
    ));
    let twice = "lvot_diameter,lvot_diameter\n2,20\n";
    assert!(matches!(
        refused(twice, "r.csv"),
        CohortError::SameHeading { .. }
    ));
    assert!(matches!(
        refused("", "r.csv"),
        CohortError::NoHeading { .. }
    ));
    assert!(matches!(
        refused("a,b\n1,2\n", "r.csv"),
        CohortError::NothingBound { .. }
    ));
}

/// The binding that the notation's page shows is one.
#[test]
fn the_binding_on_the_page_of_the_notation_reads() {
    let page = crate::formula::notation::PAGE;
    let mut blocks = page.split("```toml\n").skip(1).peekable();
    assert!(blocks.peek().is_some());
    for block in blocks {
        let text = block.split("```").next().unwrap();
        binding(text).unwrap();
    }
}
