//! Help teaches: what each command does, one way to start, the exit codes, the caution.
//!
//! The texts stand in `tests/cases/command/`; with `SEMILUNAR_BLESS=1` they are written again,
//! to be read as a difference.

use super::Desk;
use crate::project::{root, text};

fn help(of: &str) -> String {
    let arguments: Vec<&str> = of.split_whitespace().chain(["--help"]).collect();
    let given = Desk::new().run(&arguments);
    assert_eq!(given.code, 0);
    assert!(given.err.is_empty());
    given.out
}

#[test]
fn the_front_page_teaches_and_carries_caution_and_exit_codes() {
    let help = help("");
    for part in [
        "Start here:",
        "semilunar show exam.sheet 'lvot_vti=18 cm'",
        "  0  done",
        "  1  a cell of the notebook shows an error",
        "  2  the input cannot be used",
        "  3  a file cannot be read or written",
        "  5  run --check, run --in-place: Rust cells were not run",
        "Not a medical device",
        "For education, audit and research",
    ] {
        assert!(help.contains(part), "{part}: {help}");
    }
}

#[test]
fn help_texts_are_those_that_someone_read() {
    for of in [
        "",
        "show",
        "explain",
        "apply",
        "bind",
        "ask",
        "run",
        "kernel",
        "kernel install",
        "notation",
    ] {
        let name = if of.is_empty() { "semilunar" } else { of };
        let name = name.replace(' ', "_");
        let path = format!("tests/cases/command/{name}.txt");
        // The program is called by its path's last part, which has an ending on some systems.
        let help = help(of).replace("semilunar.exe", "semilunar");
        if std::env::var_os("SEMILUNAR_BLESS").is_some() {
            std::fs::write(root().join(&path), &help).unwrap();
        }
        assert_eq!(help, text(&path), "{path}");
        assert!(help.contains("-h, --help") && help.contains("Not a medical device"));
    }
}

#[test]
fn the_notation_is_printed_whole() {
    let given = Desk::new().run(&["notation"]);
    assert_eq!(given.code, 0);
    assert_eq!(given.out, text("src/formula/notation/notation.md"));
}
