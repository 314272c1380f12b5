//! What the compiler says of a cell, with places in the cell.

use std::ops::Range;

use evcxr::CompilationError;

use super::compose::Composed;
use super::wire::Refusal;

/// Each error once, with its place in the cell where it has one.
pub(super) fn refusals(
    composed: &Composed,
    code: &str,
    errors: &[CompilationError],
) -> Vec<Refusal> {
    let mut found: Vec<Refusal> = Vec::new();
    for error in errors.iter().filter(|e| e.level() != "warning") {
        let refusal = refusal(composed, code, error);
        if !found.contains(&refusal) {
            found.push(refusal);
        }
    }
    let has_place = found.iter().any(|refusal| refusal.place.is_some());
    if !has_place && let Some((_, place)) = composed.ungrammatical.first() {
        for refusal in &mut found {
            refusal.place = Some(place.clone());
        }
    }
    found
}

fn refusal(composed: &Composed, code: &str, error: &CompilationError) -> Refusal {
    let mut places: Vec<(bool, Range<usize>, String)> = Vec::new();
    for spanned in error.spanned_messages() {
        let Some(span) = spanned.span else { continue };
        let start = (span.start_line, span.start_column);
        let end = (span.end_line, span.end_column);
        if let Some(place) = composed.in_cell(start, end) {
            places.push((spanned.is_primary, place, spanned.label.clone()));
        }
    }
    let primary = places.iter().position(|(is_primary, ..)| *is_primary);
    let primary = primary.or((!places.is_empty()).then_some(0));
    let first = primary.map(|at| places.remove(at));
    let message = match error.code() {
        Some(code) => format!("{} [{code}]", error.message()),
        None => error.message(),
    };
    let place = first.as_ref().map(|(_, place, _)| place.clone());
    Refusal {
        place: place.or_else(|| import_of(composed, code, &error.message())),
        label: first.map(|(_, _, label)| label).unwrap_or_default(),
        also: places
            .into_iter()
            .map(|(_, place, label)| (place, label))
            .collect(),
        help: help(error),
        message,
    }
}

/// The import that a message speaks of: the compiler sees imports one by one, at other places.
fn import_of(composed: &Composed, code: &str, message: &str) -> Option<Range<usize>> {
    let quoted: Vec<&str> = message.split('`').skip(1).step_by(2).collect();
    let names: Vec<&str> = quoted.iter().flat_map(|q| q.split("::")).collect();
    let mut imports = composed.imports.iter();
    let speaks_of = |import: &&Range<usize>| {
        let text = &code[(*import).clone()];
        names
            .iter()
            .any(|name| !name.is_empty() && text.contains(name))
    };
    imports.find(speaks_of).cloned()
}

/// Notes and help, without those about the text around the cell.
fn help(error: &CompilationError) -> Vec<String> {
    let mut help = error.help();
    for line in error.rendered().lines() {
        let note = line.trim_start().strip_prefix("= note: ");
        help.extend(note.map(str::to_owned));
    }
    // Not what the text around the cell brings in, nor dimensions spelled out as types: the message
    // itself says what is unlike.
    let about_elsewhere = [
        "evcxr",
        "lint level",
        "Dim<",
        "full name for the type",
        "--verbose",
    ];
    help.retain(|line| !about_elsewhere.iter().any(|words| line.contains(words)));
    help.dedup();
    help
}
