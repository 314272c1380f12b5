//! A module uses only modules above it, and each outside crate is known to one module only.

use std::path::Path;

use super::sources::{Source, sources};

/// The modules in their order: each uses only those before it.
const ORDER: &[&str] = &[
    "quantity",
    "formula",
    "hemodynamics",
    "sheet",
    "uncertainty",
    "statistics",
    "cohort",
    "charts",
    "notebook",
    "kernel",
];

/// Modules that use none of the others.
const ALONE: &[&str] = &["quantity", "statistics", "charts"];

/// Outside crates, and the one module (or `main`) that may name each.
const KNOWN_TO: &[(&str, &str)] = &[
    ("polars", "cohort"),
    ("csv", "cohort"),
    ("tempfile", "cohort"),
    ("plotters", "charts"),
    ("statrs", "statistics"),
    ("rand_chacha", "statistics"),
    ("maud", "notebook"),
    ("base64", "notebook"),
    ("pulldown_cmark", "notebook"),
    ("pulldown_latex", "notebook"),
    ("clap", "main"),
    ("evcxr", "kernel"),
    ("include_dir", "kernel"),
    ("ra_ap_syntax", "kernel"),
];

/// Modules that do no input or output and read no clock.
const PURE: &[&str] = &[
    "quantity",
    "formula",
    "hemodynamics",
    "sheet",
    "uncertainty",
    "statistics",
    "charts",
];

/// Paths that start with one of these words and go on, such as `fs` in `std::fs::read`.
fn names_after<'t>(text: &'t str, start: &str) -> Vec<&'t str> {
    text.match_indices(start)
        .filter(|(at, _)| !text[..*at].ends_with(is_in_name))
        .map(|(at, _)| {
            let rest = &text[at + start.len()..];
            &rest[..rest.find(|c| !is_in_name(c)).unwrap_or(rest.len())]
        })
        .collect()
}

fn is_in_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// The modules of the crate that a text uses, `use crate::{a, b}` included. `depth` is how many
/// modules down the text stands: so many times `super` leads out to the crate.
fn modules_used(text: &str, depth: usize) -> Vec<String> {
    let mut used: Vec<String> = Vec::new();
    for out in ["crate::".to_owned(), "super::".repeat(depth)] {
        used.extend(names_after(text, &out).iter().map(|n| (*n).to_owned()));
        let group_start = format!("{out}{{");
        for (at, start) in text.match_indices(&group_start) {
            let group = &text[at + start.len()..];
            let group = &group[..group.find(';').unwrap_or(group.len())];
            let words = group.split(|c| !is_in_name(c));
            used.extend(words.map(str::to_owned));
        }
    }
    used.retain(|name| ORDER.contains(&name.as_str()));
    used.sort();
    used.dedup();
    used
}

/// How many modules down a file stands: 1 for `src/sheet/mod.rs`, 2 for `src/sheet/edit.rs`.
fn depth_of(source: &Source) -> usize {
    let names = source.path.trim_end_matches("/mod.rs").split('/').count();
    names - 1
}

fn module_of(source: &Source) -> &str {
    let first = Path::new(&source.path).iter().nth(1).unwrap();
    first.to_str().unwrap().trim_end_matches(".rs")
}

fn rank(module: &str) -> usize {
    ORDER.iter().position(|m| *m == module).unwrap()
}

#[test]
fn paths_are_found_in_the_forms_that_they_take() {
    assert_eq!(modules_used("use crate::formula::Op;", 1), ["formula"]);
    assert_eq!(
        modules_used("let x = crate::sheet::Sheet::new();", 2),
        ["sheet"]
    );
    assert_eq!(
        modules_used("use crate::{\n    cohort::Cohort,\n    quantity,\n};", 2),
        ["cohort", "quantity"]
    );
    assert_eq!(modules_used("super::super::charts::Axis", 2), ["charts"]);
    assert!(modules_used("super::charts::Axis; mycrate::sheet::X", 2).is_empty());
}

#[test]
fn a_module_uses_only_modules_before_it() {
    let mut looked_at = 0;
    let mut wrong = Vec::new();
    for source in sources() {
        let module = module_of(&source);
        if ["lib", "main"].contains(&module) {
            continue;
        }
        assert!(
            ORDER.contains(&module),
            "{} has no place in the order",
            source.path
        );
        looked_at += 1;
        for used in modules_used(&source.code, depth_of(&source)) {
            if used != module && rank(&used) > rank(module) {
                wrong.push(format!("{} uses {used}", source.path));
            }
        }
    }
    assert!(looked_at > 100);
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn some_modules_know_nothing_else_of_the_crate() {
    for source in sources() {
        let module = module_of(&source).to_owned();
        if ALONE.contains(&module.as_str()) {
            let mut used = modules_used(&source.code, depth_of(&source));
            used.retain(|m| *m != module);
            assert!(used.is_empty(), "{} uses {used:?}", source.path);
        }
    }
}

#[test]
fn each_outside_crate_is_known_to_one_module() {
    let mut met = 0;
    for source in sources() {
        let module = module_of(&source);
        for (name, owner) in KNOWN_TO {
            let is_named = |text: &str| {
                text.match_indices(name).any(|(at, _)| {
                    let before = &text[..at];
                    let after = &text[at + name.len()..];
                    !before.ends_with(|c| is_in_name(c) || c == ':') && after.starts_with("::")
                })
            };
            let lone = format!("use {name};");
            if is_named(&source.code) || source.code.contains(&lone) {
                met += 1;
                assert_eq!(module, *owner, "{} names {name}", source.path);
            }
        }
    }
    assert!(met > 10);
}

#[test]
fn what_computes_and_draws_does_no_input_or_output_and_reads_no_clock() {
    let outside = [
        "std::fs",
        "std::io",
        "std::env",
        "std::net",
        "std::process",
        "std::time",
    ];
    for source in sources() {
        if PURE.contains(&module_of(&source)) {
            for path in outside {
                assert!(!source.code.contains(path), "{} uses {path}", source.path);
            }
        }
    }
}

#[test]
fn only_the_kernel_opens_sockets() {
    let mut met = 0;
    for source in sources() {
        if source.code.contains("std::net") {
            met += 1;
            assert_eq!(
                module_of(&source),
                "kernel",
                "{} opens sockets",
                source.path
            );
        }
    }
    assert!(met > 1);
}
