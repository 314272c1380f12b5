//! What holds of the project as a whole: licenses, the order of modules, what each part may know,
//! and that the README, the CI script and the code say the same.

mod licenses;
mod modules;
mod sources;

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// The folder of the project.
pub fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The text of a file of the project.
pub fn text(path: &str) -> String {
    let path = root().join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// All files under a folder of the project, sorted; build folders and hidden ones excepted.
pub fn files(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut waiting = vec![root().join(folder)];
    while let Some(folder) = waiting.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => waiting.push(path),
                false => found.push(path),
            }
        }
    }
    found.sort();
    found
}

/// What cargo knows of the packages. It looks into the local registry first, so that the test
/// needs no network where the packages of all platforms have been fetched.
fn metadata(options: &[&str]) -> Value {
    let ask = |more: &[&str]| {
        Command::new(env!("CARGO"))
            .current_dir(root())
            .args(["metadata", "--format-version", "1", "--locked"])
            .args(options)
            .args(more)
            .output()
            .unwrap()
    };
    let mut output = ask(&["--offline"]);
    if !output.status.success() {
        output = ask(&[]);
    }
    let words = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "cargo metadata: {words}");
    serde_json::from_slice(&output.stdout).unwrap()
}

/// The commands in the first code block under a heading of the README.
fn block_under(heading: &str) -> String {
    let readme = text("README.md");
    let (_, section) = readme
        .split_once(&format!("\n## {heading}\n"))
        .unwrap_or_else(|| panic!("the README has no section `{heading}`"));
    let section = section.split("\n## ").next().unwrap();
    let (_, block) = section
        .split_once("```sh\n")
        .unwrap_or_else(|| panic!("`{heading}` shows no command"));
    block.split("```").next().unwrap().trim().to_owned()
}

#[test]
fn the_readme_says_in_one_command_each_how_to_run_and_to_test() {
    for heading in ["Run it", "Test it"] {
        let block = block_under(heading);
        assert_eq!(block.lines().count(), 1, "{heading}: {block}");
        assert!(block.starts_with("cargo "), "{heading}: {block}");
    }
}

/// The command of the README with the built program in the place of `cargo run`.
#[cfg(feature = "command")]
#[test]
fn the_command_of_run_it_works() {
    let block = block_under("Run it");
    let (_, arguments) = block.split_once(" -- ").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    let mut arguments: Vec<String> = arguments.split(' ').map(str::to_owned).collect();
    let out = arguments.iter().position(|a| a == "--out").unwrap() + 1;
    assert!(arguments[out].ends_with(".html"));
    arguments[out] = page.display().to_string();
    let output = Command::new(env!("CARGO_BIN_EXE_semilunar"))
        .current_dir(root())
        .args(&arguments)
        .output()
        .unwrap();
    let words = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{block}: {words}");
    assert!(page.metadata().unwrap().len() > 1000);
}

#[test]
fn ci_runs_the_test_command_of_the_readme_and_the_checks_of_form() {
    let script = text(".ci/run");
    let steps: Vec<&str> = script
        .lines()
        .filter_map(|line| line.strip_prefix("step "))
        .collect();
    let mut test = block_under("Test it");
    if !test.contains("--locked") {
        test.push_str(" --locked");
    }
    let tests: Vec<&&str> = steps.iter().filter(|s| s.contains("cargo test")).collect();
    // Rust cells have a step of their own, whose time has a bound.
    let rust_cells = "timeout 2400 cargo test --locked --features rust-cells rust";
    assert_eq!(tests, [&test.as_str(), &rust_cells]);
    assert!(steps.contains(&"cargo fmt --check"));
    let has_clippy = |s: &&str| s.starts_with("cargo clippy") && s.ends_with("-- -D warnings");
    assert!(
        steps
            .iter()
            .any(|s| has_clippy(s) && s.contains("--all-targets"))
    );
    assert!(script.contains("set -euo pipefail"));
}

#[cfg(unix)]
#[test]
fn the_ci_script_can_be_executed() {
    use std::os::unix::fs::PermissionsExt;
    let mode = root().join(".ci/run").metadata().unwrap().permissions();
    assert_ne!(mode.mode() & 0o100, 0);
}

/// The core is what a program embeds: it must not bring tables, drawings or argument parsing.
#[test]
fn the_core_builds_without_the_optional_crates() {
    let metadata = metadata(&["--no-default-features"]);
    let nodes = metadata["resolve"]["nodes"].as_array().unwrap();
    let root = metadata["resolve"]["root"].as_str().unwrap();
    let mut met = vec![root.to_owned()];
    let mut at = 0;
    while at < met.len() {
        let node = nodes.iter().find(|n| n["id"] == met[at].as_str()).unwrap();
        for dependency in node["deps"].as_array().unwrap() {
            let kinds = dependency["dep_kinds"].as_array().unwrap();
            let id = dependency["pkg"].as_str().unwrap();
            if kinds.iter().any(|k| k["kind"].is_null()) && !met.iter().any(|m| m == id) {
                met.push(id.to_owned());
            }
        }
        at += 1;
    }
    let packages = metadata["packages"].as_array().unwrap();
    let names: Vec<&str> = packages
        .iter()
        .filter(|p| met.iter().any(|m| p["id"] == m.as_str()))
        .map(|p| p["name"].as_str().unwrap())
        .collect();
    assert!(names.contains(&"ucum-units"), "{names:?}");
    let optional = [
        "polars",
        "plotters",
        "clap",
        "csv",
        "tempfile",
        "maud",
        "statrs",
        "base64",
        "pulldown-cmark",
        "pulldown-latex",
        "sha2",
    ];
    for name in optional {
        assert!(!names.contains(&name), "the core brings {name}");
    }
}
