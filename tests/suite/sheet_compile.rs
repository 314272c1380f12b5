//! The typed face refuses what has no dimension, and says so in words that someone has read.
//!
//! Each file in tests/compile_fail is compiled by `rustc` itself against the library that this
//! test was linked with; the `.stderr` beside it holds what the compiler says. The crate `trybuild`
//! would make a project of its own and build the library, its dependencies and those of the tests
//! a second time, in another target folder; the cases here take half a second.
//!
//! The words around ours change with the compiler, so the whole text is compared only under the
//! compiler it was written with; under any other our own words must be there.
//! `SEMILUNAR_BLESS=1 cargo test sheet_compile` writes what is said now.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use semilunar::formula::CellId;
use semilunar::formula::typed::{Handle, Length};
use semilunar::sheet::{Edit, EditError, Sheet};

/// The compiler that the golden texts were written with.
const COMPILER: &str = "rustc 1.95.";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/compile_fail")
}

fn compiler() -> Command {
    Command::new(std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into()))
}

/// The folder with the libraries that this test was linked with, and the newest build of ours.
fn library() -> (PathBuf, PathBuf) {
    let executable = std::env::current_exe().unwrap();
    let libraries = executable.parent().unwrap().to_owned();
    let newest = fs::read_dir(&libraries)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            name.starts_with("libsemilunar-") && name.ends_with(".rlib")
        })
        .max_by_key(|path| fs::metadata(path).unwrap().modified().unwrap());
    let newest = newest.expect("the library stands beside the test that was linked with it");
    (libraries, newest)
}

fn compile(case: &Path) -> Output {
    let (libraries, library) = library();
    let mut external = std::ffi::OsString::from("semilunar=");
    external.push(library);
    compiler()
        .current_dir(folder())
        .args(["--edition", "2024", "--crate-type", "lib"])
        .args(["--emit", "metadata", "--color", "never"])
        .args(["--out-dir", env!("CARGO_TARGET_TMPDIR")])
        .arg("--extern")
        .arg(external)
        .arg("-L")
        .arg(format!("dependency={}", libraries.display()))
        .arg(case.file_name().unwrap())
        .output()
        .unwrap()
}

/// What the compiler says, without what differs between machines and with edits elsewhere.
fn said(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    let is_of_machine =
        |line: &&str| line.contains(".long-type-") || line.contains("consider using `--verbose`");
    let lines: Vec<&str> = text
        .lines()
        .filter(|line| !is_of_machine(line))
        .map(|line| match line.split_once(".rs:") {
            // The place in our own source moves with every edit above it.
            Some((before, _)) if before.contains("--> src/") => &line[..before.len() + 3],
            _ => line.trim_end(),
        })
        .collect();
    lines.join("\n") + "\n"
}

fn cases() -> Vec<PathBuf> {
    let mut cases: Vec<PathBuf> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .collect();
    cases.sort();
    cases
}

#[test]
fn what_has_no_dimension_does_not_compile_and_the_reason_is_readable() {
    let version = compiler().arg("--version").output().unwrap().stdout;
    let is_same_compiler = String::from_utf8_lossy(&version).starts_with(COMPILER);
    let bless = std::env::var_os("SEMILUNAR_BLESS").is_some();
    let (mut refused, mut wrong) = (0, String::new());
    for case in cases() {
        let output = compile(&case);
        let said = said(&output);
        if case.ends_with("compiles.rs") {
            assert!(output.status.success(), "{said}");
            continue;
        }
        refused += 1;
        assert!(!output.status.success(), "{} compiles", case.display());
        let golden = case.with_extension("stderr");
        if bless {
            fs::write(&golden, &said).unwrap();
        } else if is_same_compiler && fs::read_to_string(&golden).unwrap_or_default() != said {
            wrong += &format!("{}:\n{said}\n", case.display());
        }
    }
    assert!(refused >= 7, "{refused} cases");
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn the_words_are_ours_under_any_compiler() {
    let unlike = "quantities of unlike dimensions are not added, subtracted or chosen between";
    let bare = "exponentials, logarithms and real powers are of bare numbers";
    for (case, words) in [
        ("area_plus_length.rs", unlike),
        ("area_plus_length.rs", "an area and a length do not"),
        ("number_plus_length.rs", unlike),
        ("greater_of_unlike.rs", unlike),
        ("logarithm_of_a_length.rs", bare),
    ] {
        let said = said(&compile(&folder().join(case)));
        assert!(said.contains(words), "{case}:\n{said}");
    }
}

// ---- static assertions -----------------------------------------------------------------

const fn is_sent<T: Send + 'static>() {}
const fn is_shared<T: Send + Sync + Copy + 'static>() {}

/// Compiles only if the type implements none of the traits: with one of them, which
/// implementation is meant would be ambiguous.
macro_rules! implements_none_of {
    ($type:ty: $($trait:path),+ $(,)?) => {$(
        const _: () = {
            trait Ambiguous<Which> {
                fn which() {}
            }
            struct Implements;
            impl<T: ?Sized> Ambiguous<()> for T {}
            impl<T: ?Sized + $trait> Ambiguous<Implements> for T {}
            let _ = <$type as Ambiguous<_>>::which;
        };
    )+};
}

const _: () = {
    is_sent::<Sheet>();
    is_sent::<EditError>();
    is_sent::<Edit>();
    is_shared::<CellId>();
    is_shared::<Handle<Length>>();
    // A handle whose dimension is not sent is sent all the same: it holds none.
    is_sent::<Handle<std::rc::Rc<u8>>>();
};

// A handle is a place: it has no value to compare, show, convert or make up.
implements_none_of!(Handle<Length>:
    PartialEq, PartialOrd, std::hash::Hash, Default, std::fmt::Display,
    std::ops::Deref, Into<f64>, From<f64>, From<CellId>, AsRef<f64>,
    std::ops::AddAssign<f64>, Iterator,
);
// Two sheets with the same cells are not one sheet.
implements_none_of!(Sheet: PartialEq, std::hash::Hash);
