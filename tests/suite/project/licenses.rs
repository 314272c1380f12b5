//! Every dependency, those of tests and other platforms included, has an accepted license.

/// Licenses under which a crate may be used here, by their SPDX identifiers: permissive ones that
/// fit a work under Apache-2.0.
const ACCEPTED: &[&str] = &[
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// A crate under a license that is not accepted, with the license and the reason.
struct Exempt {
    name: &'static str,
    license: &'static str,
}

/// Rust cells bring one small crate under MPL-2.0, unchanged and from its registry: that license
/// binds its own files only (section 3.3 lets the larger work have another). It is not in what is
/// built without the feature `rust-cells`.
const EXEMPT: &[Exempt] = &[Exempt {
    name: "option-ext",
    license: "MPL-2.0",
}];

/// Exceptions that only widen what the license allows.
const ACCEPTED_EXCEPTIONS: &[&str] = &["LLVM-exception"];

/// Whether a license expression (SPDX 2.3, annex D) can be satisfied with the accepted licenses.
/// `/` is the older spelling of `OR` in manifests. An expression that cannot be read is not
/// satisfied.
fn is_satisfied(expression: &str) -> bool {
    let spaced = expression
        .replace('(', " ( ")
        .replace(')', " ) ")
        .replace('/', " OR ");
    let tokens: Vec<&str> = spaced.split_whitespace().collect();
    let mut reader = Reader {
        tokens: &tokens,
        at: 0,
    };
    let answer = reader.either();
    answer == Some(true) && reader.at == tokens.len()
}

struct Reader<'t> {
    tokens: &'t [&'t str],
    at: usize,
}

impl Reader<'_> {
    fn take(&mut self, word: &str) -> bool {
        let is_next = self.tokens.get(self.at) == Some(&word);
        self.at += usize::from(is_next);
        is_next
    }

    fn either(&mut self) -> Option<bool> {
        let mut answer = self.both()?;
        while self.take("OR") {
            answer |= self.both()?;
        }
        Some(answer)
    }

    fn both(&mut self) -> Option<bool> {
        let mut answer = self.one()?;
        while self.take("AND") {
            answer &= self.one()?;
        }
        Some(answer)
    }

    fn one(&mut self) -> Option<bool> {
        if self.take("(") {
            let answer = self.either()?;
            return self.take(")").then_some(answer);
        }
        let license = self.word()?;
        let mut answer = ACCEPTED.contains(&license);
        if self.take("WITH") {
            answer &= ACCEPTED_EXCEPTIONS.contains(&self.word()?);
        }
        Some(answer)
    }

    fn word(&mut self) -> Option<&str> {
        let word = self.tokens.get(self.at).copied()?;
        self.at += 1;
        (!["OR", "AND", "WITH", "(", ")"].contains(&word)).then_some(word)
    }
}

#[test]
fn expressions_are_read_as_spdx_means_them() {
    for good in [
        "MIT",
        "MIT/Apache-2.0",
        "GPL-3.0-only OR MIT",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "Apache-2.0 WITH LLVM-exception",
        // AND binds more strongly than OR (annex D.4).
        "GPL-3.0-only AND LGPL-2.1-only OR MIT",
    ] {
        assert!(is_satisfied(good), "{good}");
    }
    for bad in [
        "",
        "GPL-3.0-only",
        "MIT AND GPL-3.0-only",
        "(MIT OR Apache-2.0) AND GPL-2.0-only",
        "MIT OR",
        "(MIT",
        "MIT)",
        "MIT MIT",
        "Apache-2.0 WITH Some-exception",
    ] {
        assert!(!is_satisfied(bad), "{bad}");
    }
}

/// The packages that are not accepted, with the features of some options.
fn refused(options: &[&str]) -> Vec<String> {
    let metadata = super::metadata(options);
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 20);
    packages
        .iter()
        .filter(|p| !is_satisfied(p["license"].as_str().unwrap_or("")))
        .map(|p| format!("{}: {}", p["name"].as_str().unwrap(), p["license"]))
        .collect()
}

#[test]
fn every_dependency_has_an_accepted_license() {
    assert!(refused(&[]).is_empty(), "{:#?}", refused(&[]));
    let exempt = EXEMPT
        .iter()
        .map(|e| format!("{}: \"{}\"", e.name, e.license));
    assert_eq!(refused(&["--all-features"]), exempt.collect::<Vec<_>>());
}
