//! The source of the library's light core, carried by the program, as a package that Rust cells link.

use include_dir::{Dir, include_dir};

/// The folders of the core, and the charts, which need one small crate more.
const FOLDERS: &[(&str, Dir<'_>)] = &[
    ("quantity", include_dir!("$CARGO_MANIFEST_DIR/src/quantity")),
    ("formula", include_dir!("$CARGO_MANIFEST_DIR/src/formula")),
    (
        "hemodynamics",
        include_dir!("$CARGO_MANIFEST_DIR/src/hemodynamics"),
    ),
    ("sheet", include_dir!("$CARGO_MANIFEST_DIR/src/sheet")),
    (
        "uncertainty",
        include_dir!("$CARGO_MANIFEST_DIR/src/uncertainty"),
    ),
    ("charts", include_dir!("$CARGO_MANIFEST_DIR/src/charts")),
];

const MANIFEST: &str = include_str!("../../../Cargo.toml");
const LIBRARY: &str = include_str!("../../lib.rs");
const AROUND_CELL: &str = include_str!("around_cell.rs");
const IN_CELL: &str = include_str!("in_cell.rs");
const QUANTITY_IN_CELL: &str = include_str!("quantity_in_cell.rs");
const SHOWN_IN_CELL: &str = include_str!("shown_in_cell.rs");

/// The versions of all crates, so that the core is built with those it was tested with.
pub(super) const LOCK: &str = include_str!("../../../Cargo.lock");

/// The one optional crate that the charts need.
const OF_CHARTS: &str = "plotters";

/// All files of the package, by their path in it.
pub(super) fn files() -> Vec<(String, Vec<u8>)> {
    let own = "\n/// What a cell of a notebook can say to the notebook.\npub mod in_cell;\n#[doc(hidden)]\npub mod around_cell;\nmod quantity_in_cell;\nmod shown_in_cell;\n";
    let library = format!("{LIBRARY}{own}");
    let single = [
        ("Cargo.toml", manifest().as_str()),
        ("src/lib.rs", library.as_str()),
        ("src/around_cell.rs", AROUND_CELL),
        ("src/in_cell.rs", IN_CELL),
        ("src/quantity_in_cell.rs", QUANTITY_IN_CELL),
        ("src/shown_in_cell.rs", SHOWN_IN_CELL),
    ]
    .map(|(path, text)| (path.to_owned(), text.as_bytes().to_vec()));
    let mut files = Vec::from(single);
    for (name, folder) in FOLDERS {
        add(&format!("src/{name}"), folder, &mut files);
    }
    files
}

fn add(path: &str, folder: &Dir<'_>, files: &mut Vec<(String, Vec<u8>)>) {
    for file in folder.files() {
        let name = file.path().file_name().unwrap_or_default();
        let path = format!("{path}/{}", name.to_string_lossy());
        files.push((path, file.contents().to_vec()));
    }
    for inner in folder.dirs() {
        let name = inner.path().file_name().unwrap_or_default();
        add(&format!("{path}/{}", name.to_string_lossy()), inner, files);
    }
}

/// The project's own manifest without what the core does not need: programs, tests, profiles, and
/// the optional crates except that of the charts.
fn manifest() -> String {
    let mut section = "";
    let mut lines = Vec::new();
    for line in MANIFEST.lines() {
        if line.starts_with('[') {
            section = line;
        }
        let is_kept = match section {
            "[package]" => !["default-run", "readme"]
                .iter()
                .any(|k| line.starts_with(k)),
            "[lib]" => true,
            // Of every processor, and of one kind of them.
            _ if section == "[dependencies]" || section.ends_with(".dependencies]") => {
                !line.contains("optional = true") || line.starts_with(OF_CHARTS)
            }
            _ => false,
        };
        if is_kept {
            lines.push(line);
        }
    }
    let own = "[features]\ncharts = [\"dep:plotters\"]\n\n\
               [lints.rust]\nunexpected_cfgs = \"allow\"\n";
    format!("{}\n\n{own}", lines.join("\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manifest_keeps_the_core_and_its_crates() {
        let manifest: toml::Table = manifest().parse().unwrap();
        assert_eq!(manifest["package"]["name"].as_str(), Some("semilunar"));
        let crates = manifest["dependencies"].as_table().unwrap();
        assert!(crates.contains_key("ucum-units") && crates.contains_key("plotters"));
        assert!(!crates.contains_key("clap") && !crates.contains_key("evcxr"));
        assert!(!manifest.contains_key("bin") && !manifest.contains_key("test"));
    }

    /// All tables of crates that a manifest needs to be built, of all processors and of some.
    fn tables_of_crates(manifest: &toml::Table) -> Vec<(String, toml::Table)> {
        let crates = |of: &toml::Table| of.get("dependencies")?.as_table().cloned();
        let of_targets = manifest.get("target").and_then(toml::Value::as_table);
        let of_targets = of_targets.into_iter().flatten();
        let mut tables: Vec<(String, toml::Table)> = of_targets
            .filter_map(|(name, table)| Some((name.clone(), crates(table.as_table()?)?)))
            .collect();
        tables.extend(crates(manifest).map(|of_all| (String::new(), of_all)));
        tables
    }

    #[test]
    fn no_crate_that_the_core_cannot_do_without_is_left_out() {
        let own: toml::Table = MANIFEST.parse().unwrap();
        let kept = tables_of_crates(&manifest().parse().unwrap());
        let is_optional = |entry: &toml::Value| entry.get("optional").is_some();
        for (target, crates) in tables_of_crates(&own) {
            let needed = crates.iter().filter(|(_, entry)| !is_optional(entry));
            for (name, entry) in needed {
                let is_it = |(of, crates): &&(String, toml::Table)| {
                    *of == target && crates.get(name) == Some(entry)
                };
                assert!(kept.iter().any(|table| is_it(&table)), "{name} of {target}");
            }
        }
    }

    #[test]
    fn each_module_of_the_core_is_carried() {
        let files = files();
        for wanted in [
            "src/lib.rs",
            "src/around_cell.rs",
            "src/in_cell.rs",
            "src/quantity_in_cell.rs",
            "src/shown_in_cell.rs",
            "src/sheet/mod.rs",
            "src/formula/notation/mod.rs",
        ] {
            assert!(files.iter().any(|(path, _)| path == wanted), "{wanted}");
        }
        assert!(
            !files
                .iter()
                .any(|(path, _)| path.starts_with("src/notebook"))
        );
    }
}
