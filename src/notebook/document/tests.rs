use proptest::prelude::*;
use serde_json::json;

use super::*;

/// Written by the reference implementation, Python's nbformat 5.11.1 (`nbformat.writes`), which
/// also validated it: metadata of another tool, numbers and characters that are easily changed,
/// outputs of other kernels, an empty cell.
const JUPYTER: &str = include_str!("jupyter.ipynb");

fn read(text: &str) -> Document {
    Document::read(text, "flow.ipynb").unwrap()
}

fn error(text: &str) -> DocumentError {
    Document::read(text, "flow.ipynb").unwrap_err()
}

fn notebook(minor: u64, cells: serde_json::Value) -> String {
    json!({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": minor}).to_string()
}

fn code(id: &str, source: &str) -> serde_json::Value {
    json!({"cell_type": "code", "execution_count": null, "id": id, "metadata": {},
        "outputs": [], "source": source})
}

#[test]
fn a_file_saved_by_jupyter_keeps_its_bytes() {
    assert_eq!(read(JUPYTER).write(), JUPYTER);
}

#[test]
fn cells_come_in_order_with_their_lines_joined() {
    let document = read(JUPYTER);
    let cells: Vec<_> = document.cells().collect();
    assert_eq!(cells.len(), 4);
    assert_eq!((cells[0].id, cells[0].kind), ("title", CellKind::Markdown));
    assert_eq!(cells[0].source, "# Flow\n\nText with $x$ and ²");
    assert_eq!((cells[1].index, cells[1].kind), (1, CellKind::Code));
    assert_eq!(
        cells[1].source,
        "lvot_diameter = 2.0 cm\nlvot_vti = 18 cm\n"
    );
    assert_eq!((cells[2].kind, cells[2].source), (CellKind::Raw, ""));
    assert_eq!(document.kernel(), Some("semilunar"));
}

#[test]
fn outputs_change_nothing_but_outputs_and_number() {
    let mut document = read(JUPYTER);
    document
        .set_outputs(1, &[Output::new("readings", "a\nb", "<p>a</p>")])
        .unwrap();
    let before: serde_json::Value = serde_json::from_str(JUPYTER).unwrap();
    let after: serde_json::Value = serde_json::from_str(&document.write()).unwrap();
    let mut expected = before;
    expected["cells"][1]["execution_count"] = json!(1);
    expected["cells"][1]["outputs"] = json!([{
        "data": {"text/html": ["<p>a</p>"], "text/plain": ["a\n", "b"]},
        "metadata": {}, "output_type": "display_data"}]);
    assert_eq!(after, expected);
    assert_eq!(read(&document.write()), document);
}

#[test]
fn code_cells_are_numbered_among_code_cells() {
    let mut document = read(JUPYTER);
    document.set_outputs(3, &[]).unwrap();
    let written: serde_json::Value = serde_json::from_str(&document.write()).unwrap();
    assert_eq!(written["cells"][3]["execution_count"], 2);
}

#[test]
fn clearing_takes_outputs_and_numbers_away() {
    let mut document = read(JUPYTER);
    document.clear();
    let written: serde_json::Value = serde_json::from_str(&document.write()).unwrap();
    assert_eq!(written["cells"][1]["outputs"], json!([]));
    assert_eq!(written["cells"][1]["execution_count"], json!(null));
    assert_eq!(written["cells"][1]["metadata"]["future"]["b"], json!([{}]));
}

#[test]
fn a_document_without_a_kernel_gets_ours_and_another_stays() {
    let document = read(&notebook(5, json!([])));
    let kernelspec = concat!(
        "  \"kernelspec\": {\n   \"display_name\": \"semilunar\",\n",
        "   \"language\": \"semilunar\",\n   \"name\": \"semilunar\"\n  }\n"
    );
    assert!(
        document.write().contains(kernelspec),
        "{}",
        document.write()
    );
    let other = r#"{"cells": [], "metadata": {"kernelspec": {"name": "ir"}}, "nbformat": 4, "nbformat_minor": 5}"#;
    assert_eq!(read(other).kernel(), Some("ir"));
}

#[test]
fn a_text_source_is_written_in_lines() {
    let document = read(&notebook(5, json!([code("a", "one\ntwo"), code("b", "")])));
    assert_eq!(document.cells().next().unwrap().source, "one\ntwo");
    let written: serde_json::Value = serde_json::from_str(&document.write()).unwrap();
    assert_eq!(written["cells"][0]["source"], json!(["one\n", "two"]));
    assert_eq!(written["cells"][1]["source"], json!([]));
}

/// Identifiers came with 4.5 (Jupyter Enhancement Proposal 62).
#[test]
fn older_files_are_upgraded_the_same_way_each_time() {
    let old = notebook(
        2,
        json!([
            {"cell_type": "markdown", "metadata": {}, "source": "# a"},
            {"cell_type": "raw", "id": "cell-3", "metadata": {}, "source": []},
            {"cell_type": "code", "execution_count": null, "metadata": {}, "outputs": [], "source": "x = 1"}
        ]),
    );
    let document = read(&old);
    let ids: Vec<_> = document.cells().map(|cell| cell.id).collect();
    assert_eq!(ids, ["cell-1", "cell-3", "cell-3-2"]);
    assert_eq!(document, read(&old));
    let written = document.write();
    assert!(written.contains("\"nbformat_minor\": 5"));
    assert_eq!(read(&written), document);
    // A name that is added stands where Jupyter would sort it.
    assert!(
        written.contains("\"execution_count\": null,\n   \"id\": \"cell-3-2\",\n   \"metadata\"")
    );
}

#[test]
fn other_versions_are_refused_by_name() {
    let three = error(r#"{"worksheets": [], "metadata": {}, "nbformat": 3, "nbformat_minor": 0}"#);
    assert_eq!(three.kind(), DocumentErrorKind::UnsupportedVersion);
    assert_eq!(
        three.to_string(),
        "flow.ipynb: the notebook has format version 3.0; versions 4.0 and later 4.x are read. \
         Open it in a current Jupyter and save it: that makes version 4."
    );
    let five = error(r#"{"cells": [], "metadata": {}, "nbformat": 5}"#);
    assert!(five.to_string().contains("version 5;"), "{five}");
    assert!(five.way_out().contains("Save it as version 4"));
    assert_eq!(read(&notebook(6, json!([]))).cells().count(), 0);
}

#[test]
fn what_is_not_json_is_told_with_line_and_column() {
    let broken = error("{\n \"µ\": 1,,\n}");
    assert_eq!(broken.kind(), DocumentErrorKind::NotJson);
    assert_eq!(broken.position(), Some(Position { line: 2, column: 9 }));
    assert!(
        broken.to_string().contains("not JSON at line 2, column 9:"),
        "{broken}"
    );
    assert!(std::error::Error::source(&broken).is_some());
    assert_eq!(error("").kind(), DocumentErrorKind::NotJson);
    assert_eq!(error(&JUPYTER[..300]).kind(), DocumentErrorKind::NotJson);
    let merge = error("{\n<<<<<<< HEAD\n \"cells\": []\n}");
    assert!(
        merge.to_string().contains("finish the merge first"),
        "{merge}"
    );
}

#[test]
fn deep_nesting_is_an_error_and_does_not_exhaust_the_stack() {
    for text in ["[".repeat(3_000_000), "{\"a\":".repeat(1_000_000)] {
        let deep = error(&text);
        assert_eq!(deep.kind(), DocumentErrorKind::TooDeep);
        assert!(
            deep.to_string().contains("nested more than 127 deep"),
            "{deep}"
        );
    }
    let metadata = format!("{}{}", "[".repeat(200), "]".repeat(200));
    let text = format!(
        r#"{{"cells": [], "metadata": {{"a": {metadata}}}, "nbformat": 4, "nbformat_minor": 5}}"#
    );
    assert_eq!(error(&text).kind(), DocumentErrorKind::TooDeep);
}

#[test]
fn json_that_is_no_notebook_is_told_so() {
    for text in ["[]", "1", "null", "{}", r#"{"cells": []}"#] {
        assert_eq!(
            error(text).kind(),
            DocumentErrorKind::NotANotebook,
            "{text}"
        );
    }
    let typed = error(r#"{"nbformat": "4"}"#);
    assert_eq!(
        typed.to_string(),
        "flow.ipynb: the field `nbformat` should be a whole number and is the text `4`. \
         Open the notebook in Jupyter and save it, or repair the field by hand."
    );
}

#[test]
fn two_cells_with_one_identifier_are_refused() {
    let twice = error(&notebook(
        5,
        json!([code("a", ""), code("b", ""), code("a", "")]),
    ));
    assert_eq!(twice.kind(), DocumentErrorKind::DuplicateId);
    assert_eq!((twice.cell_number(), twice.cell_id()), (Some(3), Some("a")));
    assert_eq!(
        twice.to_string(),
        "flow.ipynb, cell 3 (id `a`): the identifier is already that of cell 1. \
         Give the cell another identifier, unique in the notebook."
    );
}

/// Required names: `nbformat.v4.5.schema.json`.
#[test]
fn every_required_field_is_asked_for() {
    for name in [
        "cell_type",
        "execution_count",
        "id",
        "metadata",
        "outputs",
        "source",
    ] {
        let mut cell = code("a", "");
        cell.as_object_mut().unwrap().remove(name);
        let missing = error(&notebook(5, json!([code("first", ""), cell])));
        assert_eq!(missing.kind(), DocumentErrorKind::MissingField, "{name}");
        assert_eq!(missing.cell_number(), Some(2));
        assert!(
            missing
                .to_string()
                .contains(&format!("`{name}` is missing"))
        );
    }
    for name in ["cells", "metadata", "nbformat_minor"] {
        let mut top: serde_json::Value = serde_json::from_str(JUPYTER).unwrap();
        top.as_object_mut().unwrap().remove(name);
        assert_eq!(
            error(&top.to_string()).kind(),
            DocumentErrorKind::MissingField
        );
    }
}

#[test]
fn values_of_another_type_are_refused() {
    let cases = [
        (
            "cell_type",
            json!("heading"),
            DocumentErrorKind::UnknownCellKind,
        ),
        ("cell_type", json!(1), DocumentErrorKind::WrongType),
        ("execution_count", json!("1"), DocumentErrorKind::WrongType),
        ("execution_count", json!(1.5), DocumentErrorKind::WrongType),
        ("id", json!(7), DocumentErrorKind::WrongType),
        ("id", json!(""), DocumentErrorKind::InvalidId),
        ("id", json!("a b"), DocumentErrorKind::InvalidId),
        ("id", json!("\"><script>"), DocumentErrorKind::InvalidId),
        ("id", json!("x".repeat(65)), DocumentErrorKind::InvalidId),
        ("metadata", json!([]), DocumentErrorKind::WrongType),
        ("outputs", json!({}), DocumentErrorKind::WrongType),
        ("source", json!(["a", 1]), DocumentErrorKind::WrongType),
        ("source", json!(null), DocumentErrorKind::WrongType),
    ];
    for (name, value, kind) in cases {
        let mut cell = code("a", "");
        cell[name] = value.clone();
        assert_eq!(
            error(&notebook(5, json!([cell]))).kind(),
            kind,
            "{name}: {value}"
        );
    }
    assert_eq!(
        error(&notebook(5, json!([1]))).kind(),
        DocumentErrorKind::WrongType
    );
    assert_eq!(
        error(&notebook(5, json!({}))).kind(),
        DocumentErrorKind::WrongType
    );
}

#[test]
fn outputs_go_into_code_cells_that_are_there() {
    let mut document = read(JUPYTER);
    let markdown = document.set_outputs(0, &[]).unwrap_err();
    assert_eq!(markdown.kind(), DocumentErrorKind::NotCode);
    assert_eq!(markdown.cell_id(), Some("title"));
    let beyond = document.set_outputs(usize::MAX, &[]).unwrap_err();
    assert_eq!(beyond.kind(), DocumentErrorKind::NoSuchCell);
    assert!(beyond.to_string().contains("the notebook has 4"));
}

#[test]
fn a_cell_of_ten_megabytes_is_read_and_a_larger_file_than_the_limit_is_not() {
    let text = notebook(
        5,
        json!([code("big", &"# a line of text\n".repeat(620_000))]),
    );
    assert!(text.len() > 10_000_000);
    assert_eq!(
        read(&text).cells().next().unwrap().source.len(),
        620_000 * 17
    );
    let huge = error(&" ".repeat(LARGEST_DOCUMENT + 1));
    assert_eq!(huge.kind(), DocumentErrorKind::TooLarge);
    assert!(huge.to_string().contains("200000001 bytes"), "{huge}");
}

/// RFC 8259, section 8.1.
#[test]
fn a_byte_order_mark_is_skipped() {
    assert_eq!(read(&format!("\u{feff}{JUPYTER}")).write(), JUPYTER);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// Damaged files: a stretch taken out or replaced. Reading gives a document that is written
    /// and read again the same, or an error that can be told.
    #[test]
    fn damaged_files_never_panic(
        start in 0..JUPYTER.len(), length in 0_usize..80, put in "[\\[\\]{}\",:0-9a-z\\\\ ü]{0,12}",
    ) {
        let floor = |mut at: usize| {
            while !JUPYTER.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        let end = floor((start + length).min(JUPYTER.len()));
        let start = floor(start).min(end);
        let damaged = format!("{}{put}{}", &JUPYTER[..start], &JUPYTER[end..]);
        match Document::read(&damaged, "damaged.ipynb") {
            Ok(document) => {
                let written = document.write();
                let again = Document::read(&written, "again.ipynb").unwrap();
                prop_assert_eq!(again.write(), written);
            }
            Err(error) => {
                prop_assert!(error.to_string().starts_with("damaged.ipynb"));
                prop_assert!(error.to_string().ends_with('.'));
            }
        }
    }

    #[test]
    fn no_text_panics(text in "\\PC{0,200}") {
        prop_assert!(Document::read(&text, "text").is_err());
    }
}
