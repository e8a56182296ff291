//! The import arrows of `DEVELOPERS.md`: inside the core no module names a later one, and no package names one that is
//! further out.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The order of the core's modules; those in one row may not name each other.
const ORDER: [&[&str]; 14] = [
    &["limits", "ident"],
    &["stamp", "units", "due"],
    &["boiler"],
    &["pack"],
    &["entry"],
    &["record"],
    &["engine"],
    &["reason", "register"],
    &["sheet"],
    &["verdict"],
    &["fold"],
    &["fitness"],
    &["desk", "words"],
    &["plan"],
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for item in fs::read_dir(folder).unwrap().map(|item| item.unwrap().path()) {
        if item.is_dir() {
            sources(&item, found);
        } else if item.extension().is_some_and(|e| e == "rs") {
            found.push(item);
        }
    }
}

fn rank(module: &str) -> Option<usize> {
    ORDER.iter().position(|row| row.contains(&module))
}

/// Modules that a file names behind `crate::`, also inside braces and in expressions.
fn named(text: &str) -> BTreeSet<String> {
    let code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
    let code: String = code.collect::<Vec<_>>().join("\n");
    let after = code.split("crate::").skip(1);
    after.map(|rest| rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()).collect()
}

#[test]
fn no_module_of_the_core_names_a_later_one() {
    let src = root().join("core/src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    let mut looked_at = BTreeSet::new();
    for file in files {
        let inside = file.strip_prefix(&src).unwrap();
        let module = inside.components().next().unwrap().as_os_str().to_str().unwrap().trim_end_matches(".rs");
        if module == "lib" {
            continue;
        }
        let own = rank(module).unwrap_or_else(|| panic!("{module} has no place in the order"));
        looked_at.insert(module.to_owned());
        for other in named(&fs::read_to_string(&file).unwrap()).iter().filter(|other| *other != module) {
            let theirs = rank(other).unwrap_or_else(|| panic!("{}: crate::{other} is no module", file.display()));
            assert!(theirs < own, "{} names {other}, which does not come before {module}", file.display());
        }
    }
    let all: BTreeSet<String> = ORDER.iter().flat_map(|row| row.iter().map(|m| (*m).to_owned())).collect();
    assert_eq!(looked_at, all, "a module of the order is gone");
}

#[test]
fn no_package_names_one_further_out() {
    let outer = [
        ("core", &["offshed_depot", "offshed_handheld", "std::", "extern crate alloc", "alloc::"][..]),
        ("desktop/depot", &["offshed_handheld", "slint"][..]),
        ("firmware-sim", &["offshed_depot"][..]),
    ];
    for (folder, forbidden) in outer {
        let mut files = Vec::new();
        sources(&root().join(folder).join("src"), &mut files);
        assert!(!files.is_empty());
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            let code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
            for (n, line) in code.enumerate() {
                let hit = forbidden.iter().find(|word| line.contains(**word));
                assert!(hit.is_none(), "{}, code line {}: {line}", file.display(), n + 1);
            }
        }
    }
}

/// Every key the core asks for has a sentence, and no sentence stands for nothing.
#[test]
fn every_reason_has_its_sentence() {
    let code = fs::read_to_string(root().join("core/src/words.rs")).unwrap();
    let kebab = |word: &&str| !word.is_empty() && word.chars().all(|c| c.is_ascii_lowercase() || c == '-');
    let quoted: BTreeSet<&str> = code.split('"').skip(1).step_by(2).filter(kebab).collect();
    let known: Vec<&str> = offshed_core::words::ENGLISH.keys().collect();
    let unused: Vec<&&str> = known.iter().filter(|key| !quoted.contains(**key)).collect();
    assert!(unused.is_empty(), "sentences nobody asks for: {unused:?}");
    // What is quoted and no key is the name of a thing in a sentence: it stands in braces somewhere.
    let words = fs::read_to_string(root().join("core/words/en.txt")).unwrap();
    for word in quoted.iter().filter(|word| !known.contains(word)) {
        assert!(words.contains(&format!("{{{word}}}")), "no sentence for \"{word}\"");
    }
}
