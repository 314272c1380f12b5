//! The code without its tests, and what must not stand in any of it.

use super::{files, root, text};

/// A source file of the library or the command.
pub struct Source {
    /// From the root of the project, such as `src/sheet/edit.rs`.
    pub path: String,
    /// Its code, without comments and tests.
    pub code: String,
}

/// All sources of the library and the command.
pub fn sources() -> Vec<Source> {
    let mut sources: Vec<Source> = Vec::new();
    let mut of_tests: Vec<String> = Vec::new();
    for file in files("src") {
        if file.extension().is_none_or(|e| e != "rs") {
            continue;
        }
        let path = file.strip_prefix(root()).unwrap();
        let path = path.to_str().unwrap().replace('\\', "/");
        let whole = text(&path);
        let folder = match path.strip_suffix("/mod.rs") {
            Some(folder) => folder.to_owned(),
            None => path.trim_end_matches(".rs").to_owned(),
        };
        for name in test_modules(&whole) {
            of_tests.push(format!("{folder}/{name}.rs"));
            of_tests.push(format!("{folder}/{name}/"));
        }
        let code = without_tests(&whole);
        sources.push(Source { path, code });
    }
    sources.retain(|s| {
        !of_tests
            .iter()
            .any(|t| s.path == *t || (t.ends_with('/') && s.path.starts_with(t.as_str())))
    });
    sources
}

/// Names of modules in files of their own that only tests have.
fn test_modules(text: &str) -> Vec<&str> {
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    lines
        .windows(2)
        .filter(|pair| pair[0].starts_with("#[cfg(test)]"))
        .filter_map(|pair| {
            let name = pair[1].strip_suffix(';')?;
            let name = name.strip_prefix("pub(crate) ").unwrap_or(name);
            name.strip_prefix("mod ")
        })
        .collect()
}

/// The lines that are no comments, up to each item for tests, that item left out.
fn without_tests(text: &str) -> String {
    let mut code = String::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if line.trim_start().starts_with("//") {
            continue;
        }
        if line.trim_start().starts_with("#[cfg(test)]") {
            skip_item(line, &mut lines);
            continue;
        }
        code.push_str(line);
        code.push('\n');
    }
    code
}

/// Skips the item after an attribute: to the line that closes it at the attribute's depth.
fn skip_item<'t>(attribute: &str, lines: &mut impl Iterator<Item = &'t str>) {
    let indent = attribute.len() - attribute.trim_start().len();
    for line in lines {
        let own = line.len() - line.trim_start().len();
        let is_end = line.ends_with(';') || line.trim_start().starts_with('}');
        if own == indent && is_end && !line.trim().is_empty() {
            return;
        }
    }
}

#[test]
fn tests_are_left_out_and_code_after_them_is_kept() {
    let text = "fn a() {}\n// words\n#[cfg(test)]\nmod b;\nfn c() {}\n#[cfg(test)]\nmod tests {\n    \
                fn d() {\n    }\n}\nfn e() {}\n";
    assert_eq!(without_tests(text), "fn a() {}\nfn c() {}\nfn e() {}\n");
    assert_eq!(test_modules(text), ["b"]);
}

#[test]
fn nothing_is_left_for_later_and_no_test_is_switched_off() {
    // Written in parts, so that this file does not hold what it looks for.
    let marks = [
        concat!("TO", "DO"),
        concat!("FIX", "ME"),
        concat!("XX", "X"),
        concat!("#[ig", "nore"),
        concat!("to", "do!("),
        concat!("unimple", "mented!("),
    ];
    let mut looked_at = 0;
    let folders = ["src", "tests", "notebooks", "data", ".ci"];
    let tops = ["README.md", "DEVELOPERS.md", "Cargo.toml"].map(|f| root().join(f));
    for file in folders.iter().flat_map(|f| files(f)).chain(tops) {
        let Ok(text) = std::fs::read_to_string(&file) else {
            continue;
        };
        looked_at += 1;
        for mark in marks {
            assert!(!text.contains(mark), "{} holds {mark}", file.display());
        }
    }
    assert!(looked_at > 150);
}

#[test]
fn no_unwrap_outside_tests() {
    for source in sources() {
        for call in [".unwrap()", ".unwrap_err()", "panic!("] {
            assert!(!source.code.contains(call), "{} has {call}", source.path);
        }
    }
}

/// Every `unsafe` outside the place that is meant for it would need its own argument.
#[test]
fn unsafe_stands_only_where_the_processor_is_asked() {
    for source in sources() {
        let has = source.code.contains("unsafe {") || source.code.contains("unsafe fn");
        assert!(
            !has || source.path == "src/formula/simd.rs",
            "{}",
            source.path
        );
    }
}
