//! The command as a person runs it: what it prints and writes, and its exit codes.

mod apply;
mod ask;
mod bind;
mod help;
mod identifiers;
mod run;
mod sheets;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::{Value, json};

/// A folder with an exam, and the command run in it.
struct Desk {
    folder: tempfile::TempDir,
}

/// What a run of the command gave.
struct Given {
    code: i32,
    out: String,
    err: String,
}

const EXAM: &str =
    "use hemodynamics\nlvot_diameter = 2 cm\nlvot_vti = 20 cm\nheart_rate = 70 /min\n";

impl Desk {
    fn new() -> Desk {
        let desk = Desk {
            folder: tempfile::tempdir().unwrap(),
        };
        desk.put("exam.sheet", EXAM);
        desk
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn put(&self, name: &str, text: impl AsRef<[u8]>) {
        std::fs::write(self.path(name), text).unwrap();
    }

    fn text(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    /// The names of all files, sorted.
    fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.path()).unwrap();
        let name = |entry: std::io::Result<std::fs::DirEntry>| {
            entry.unwrap().file_name().to_string_lossy().into_owned()
        };
        let mut names: Vec<String> = entries.map(name).collect();
        names.sort();
        names
    }

    fn run(&self, arguments: &[&str]) -> Given {
        given(
            command(self.folder.path())
                .args(arguments)
                .output()
                .unwrap(),
        )
    }
}

/// A notebook of code cells.
fn notebook(cells: &[&str]) -> String {
    let cells: Vec<Value> = cells
        .iter()
        .enumerate()
        .map(|(at, source)| {
            json!({
                "cell_type": "code", "execution_count": null, "id": format!("c{at}"),
                "metadata": {}, "outputs": [], "source": source
            })
        })
        .collect();
    json!({"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}).to_string()
}

fn command(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_semilunar"));
    command.current_dir(folder);
    command
}

fn given(output: Output) -> Given {
    Given {
        code: output.status.code().expect("ended by itself"),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Every call ends with one of the codes that `--help` lists, and never with a panic's.
#[test]
fn strange_calls_end_with_a_code_of_the_table() {
    let desk = Desk::new();
    desk.put("bytes", [0xff, 0xfe, 0x00]);
    desk.put("empty", "");
    let longest = "x".repeat(100_000);
    for arguments in [
        &["show", "empty"][..],
        &["show", "bytes"],
        &["show", "."],
        &["show", "nowhere"],
        &["show", "exam.sheet", "=", "=="],
        &["show", "exam.sheet", &longest],
        &["explain", "exam.sheet", ""],
        &["explain", "exam.sheet", "../x"],
        &["apply", "exam.sheet", "bytes", "--out", "r.csv"],
        &["apply", "exam.sheet", "empty", "--out", "r.csv"],
        &["apply", "exam.sheet", ".", "--out", "r.csv"],
        &["apply", "exam.sheet", "exam.sheet", "--out", "."],
        &["run", "exam.sheet"],
        &["run", "bytes"],
        &["run", "."],
        &["run"],
        &["nothing"],
        &[],
    ] {
        let given = desk.run(arguments);
        assert!(
            (0..=3).contains(&given.code),
            "{arguments:?}: {}",
            given.code
        );
        assert!(
            !given.err.contains("panicked"),
            "{arguments:?}: {}",
            given.err
        );
        assert!(given.code == 0 || !given.err.is_empty(), "{arguments:?}");
    }
    assert_eq!(desk.files(), ["bytes", "empty", "exam.sheet"]);
}

/// A reader that goes away, such as `head`, is no failure.
#[test]
fn a_closed_output_is_no_panic() {
    let desk = Desk::new();
    for arguments in [
        &["show", "exam.sheet", "--json"][..],
        &["notation"],
        &["--help"],
    ] {
        let mut child = command(desk.folder.path())
            .args(arguments)
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let given = given(output);
        assert!(
            !given.err.contains("panicked"),
            "{arguments:?}: {}",
            given.err
        );
        assert_eq!(given.code, 0, "{arguments:?}: {}", given.err);
    }
}
