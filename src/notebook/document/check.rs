//! From a text to a document whose required fields are there: checks and the upgrade to 4.5.
//!
//! What is required is what the JSON schema of the Jupyter notebook format requires
//! (`nbformat.v4.5.schema.json`), outputs excepted: they are kept as they are, since we replace or
//! keep them whole and read none of them.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::error::{CellPlace, Problem};
use super::{CellKind, CellRecord, Document, DocumentError, LARGEST_DOCUMENT, lines, set};

/// The longest stretch of an offending value that a message repeats, in characters.
const SHOWN: usize = 40;

pub(super) fn read(text: &str, name: &str) -> Result<Document, DocumentError> {
    let fail = |problem| DocumentError::new(name, None, problem);
    if text.len() > LARGEST_DOCUMENT {
        return Err(fail(Problem::TooLarge {
            bytes: text.len(),
            limit: LARGEST_DOCUMENT,
        }));
    }
    let mut top = parse(text).map_err(fail)?;
    let has_ids = check_version(&top).map_err(fail)?;
    name_kernel(&mut top).map_err(fail)?;
    let cells = take_cells(&mut top).map_err(fail)?;
    let cells = read_cells(cells, has_ids).map_err(|problem| {
        let ProblemAt { place, problem } = *problem;
        DocumentError::new(name, Some(place), problem)
    })?;
    if !has_ids {
        set(&mut top, "nbformat_minor", Value::from(5));
    }
    Ok(Document {
        name: name.to_owned(),
        top,
        cells,
    })
}

fn parse(text: &str) -> Result<Map<String, Value>, Problem> {
    // RFC 8259, section 8.1: a reader may ignore a byte order mark.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    match serde_json::from_str(text) {
        Ok(Value::Object(top)) => Ok(top),
        Ok(_) => Err(Problem::NotANotebook("its JSON is not an object")),
        Err(source) => Err(describe(text, source)),
    }
}

/// Tells a JSON error in our terms. serde_json says that its depth limit was reached in the text
/// of the message only.
fn describe(text: &str, source: serde_json::Error) -> Problem {
    let line = source.line().max(1);
    let column = character_column(text, line, source.column());
    let full = source.to_string();
    let message = full
        .rsplit_once(" at line ")
        .map_or(full.as_str(), |(message, _)| message);
    if message == "recursion limit exceeded" {
        return Problem::TooDeep {
            line,
            column,
            source,
        };
    }
    Problem::NotJson {
        line,
        column,
        message: message.to_owned(),
        conflict: text.lines().any(|line| line.starts_with("<<<<<<< ")),
        source,
    }
}

/// serde_json counts columns in bytes; people count characters.
fn character_column(text: &str, line: usize, byte_column: usize) -> usize {
    let bytes = text.split('\n').nth(line - 1).unwrap_or("").as_bytes();
    let before = &bytes[..byte_column.min(bytes.len())];
    String::from_utf8_lossy(before).chars().count().max(1)
}

/// Whether cells of this version have identifiers (from 4.5 on).
fn check_version(top: &Map<String, Value>) -> Result<bool, Problem> {
    let Some(major) = top.get("nbformat") else {
        return Err(Problem::NotANotebook("it has no field `nbformat`"));
    };
    let minor = top.get("nbformat_minor");
    let Some(major_number) = major.as_u64() else {
        return Err(wrong_type("nbformat", "a whole number", major));
    };
    if major_number != 4 {
        let version = match minor.and_then(Value::as_u64) {
            Some(minor) => format!("{major_number}.{minor}"),
            None => major_number.to_string(),
        };
        return Err(Problem::UnsupportedVersion {
            version,
            newer: major_number > 4,
        });
    }
    let minor = minor.ok_or(Problem::MissingField("nbformat_minor"))?;
    match minor.as_u64() {
        Some(minor) => Ok(minor >= 5),
        None => Err(wrong_type("nbformat_minor", "a whole number", minor)),
    }
}

/// A document that names no kernel gets ours; one that names another keeps it.
fn name_kernel(top: &mut Map<String, Value>) -> Result<(), Problem> {
    let metadata = top
        .get_mut("metadata")
        .ok_or(Problem::MissingField("metadata"))?;
    let Value::Object(metadata) = metadata else {
        return Err(wrong_type("metadata", "an object", metadata));
    };
    if !metadata.contains_key("kernelspec") {
        let ours = json!({
            "display_name": "semilunar",
            "language": "semilunar",
            "name": "semilunar"
        });
        set(metadata, "kernelspec", ours);
    }
    Ok(())
}

/// Takes the cells out of the top level and leaves their place.
fn take_cells(top: &mut Map<String, Value>) -> Result<Vec<Value>, Problem> {
    let cells = top.get_mut("cells").ok_or(Problem::MissingField("cells"))?;
    match cells.take() {
        Value::Array(cells) => Ok(cells),
        other => Err(wrong_type("cells", "a list", &other)),
    }
}

struct ProblemAt {
    place: CellPlace,
    problem: Problem,
}

fn read_cells(cells: Vec<Value>, has_ids: bool) -> Result<Vec<CellRecord>, Box<ProblemAt>> {
    let mut taken = BTreeMap::new();
    for (index, cell) in cells.iter().enumerate() {
        if let Some(Value::String(id)) = cell.get("id") {
            let at = |problem| {
                let place = CellPlace::new(index, Some(&shorten(id)));
                Box::new(ProblemAt { place, problem })
            };
            if !is_identifier(id) {
                return Err(at(Problem::InvalidId(shorten(id))));
            }
            if let Some(first) = taken.insert(id.clone(), index + 1) {
                return Err(at(Problem::DuplicateId { first }));
            }
        }
    }
    let mut records = Vec::with_capacity(cells.len());
    for (index, mut cell) in cells.into_iter().enumerate() {
        if !has_ids && let Value::Object(fields) = &mut cell {
            give_identifier(fields, index + 1, &mut taken);
        }
        let id = cell.get("id").and_then(Value::as_str).map(str::to_owned);
        records.push(read_cell(cell).map_err(|problem| {
            let place = CellPlace::new(index, id.as_deref());
            Box::new(ProblemAt { place, problem })
        })?);
    }
    Ok(records)
}

/// An identifier for a cell of a file from before there were any: the same each time the file is
/// read, and none that another cell has.
fn give_identifier(
    fields: &mut Map<String, Value>,
    number: usize,
    taken: &mut BTreeMap<String, usize>,
) {
    if fields.contains_key("id") {
        return;
    }
    let mut id = format!("cell-{number}");
    let mut attempt = 2;
    while taken.contains_key(&id) {
        id = format!("cell-{number}-{attempt}");
        attempt += 1;
    }
    set(fields, "id", Value::from(id.as_str()));
    taken.insert(id, number);
}

fn read_cell(cell: Value) -> Result<CellRecord, Problem> {
    let mut fields = match cell {
        Value::Object(fields) => fields,
        other => return Err(wrong_type("cells", "a list of objects", &other)),
    };
    let kind = match text_field(&fields, "cell_type")? {
        "markdown" => CellKind::Markdown,
        "code" => CellKind::Code,
        "raw" => CellKind::Raw,
        other => return Err(Problem::UnknownCellKind(shorten(other))),
    };
    let id = text_field(&fields, "id")?.to_owned();
    let metadata = field(&fields, "metadata")?;
    if !metadata.is_object() {
        return Err(wrong_type("metadata", "an object", metadata));
    }
    if kind == CellKind::Code {
        check_code_fields(&fields)?;
    }
    let source = join_source(field(&fields, "source")?)?;
    if fields.get("source").is_some_and(Value::is_string) {
        set(&mut fields, "source", lines(&source));
    }
    Ok(CellRecord {
        id,
        kind,
        source,
        fields,
    })
}

fn check_code_fields(fields: &Map<String, Value>) -> Result<(), Problem> {
    let outputs = field(fields, "outputs")?;
    if !outputs.is_array() {
        return Err(wrong_type("outputs", "a list", outputs));
    }
    let count = field(fields, "execution_count")?;
    if !(count.is_null() || count.is_u64()) {
        return Err(wrong_type(
            "execution_count",
            "a whole number or null",
            count,
        ));
    }
    Ok(())
}

fn join_source(source: &Value) -> Result<String, Problem> {
    const EXPECTED: &str = "a text or a list of texts";
    match source {
        Value::String(text) => Ok(text.clone()),
        Value::Array(parts) => {
            let mut joined = String::new();
            for part in parts {
                match part {
                    Value::String(text) => joined.push_str(text),
                    other => return Err(wrong_type("source", EXPECTED, other)),
                }
            }
            Ok(joined)
        }
        other => Err(wrong_type("source", EXPECTED, other)),
    }
}

fn field<'a>(fields: &'a Map<String, Value>, name: &'static str) -> Result<&'a Value, Problem> {
    fields.get(name).ok_or(Problem::MissingField(name))
}

fn text_field<'a>(fields: &'a Map<String, Value>, name: &'static str) -> Result<&'a str, Problem> {
    match field(fields, name)? {
        Value::String(text) => Ok(text),
        other => Err(wrong_type(name, "a text", other)),
    }
}

fn is_identifier(id: &str) -> bool {
    (1..=64).contains(&id.len())
        && id
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_')
}

fn wrong_type(field: &'static str, expected: &'static str, found: &Value) -> Problem {
    let found = match found {
        Value::Null => "null".to_owned(),
        Value::Bool(value) => value.to_string(),
        Value::Number(number) => format!("the number {}", shorten(&number.to_string())),
        Value::String(text) => format!("the text `{}`", shorten(text)),
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "an object".to_owned(),
    };
    Problem::WrongType {
        field,
        expected,
        found,
    }
}

/// A value short enough for a message, without control characters.
fn shorten(text: &str) -> String {
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    shown
}
