//! The rules of the house, checked on the sources.

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").canonicalize().unwrap()
}

/// All Rust sources below a folder, with their texts.
fn sources(folder: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut open = vec![root().join(folder)];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else if path.extension().is_some_and(|ext| ext == "rs") {
                let name = path.strip_prefix(root()).unwrap().display().to_string();
                found.push((name, fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found.sort();
    assert!(!found.is_empty(), "no sources in {folder}");
    found
}

fn all_sources() -> Vec<(String, String)> {
    ["core/src", "app/src", "tests"].into_iter().flat_map(sources).collect()
}

/// Files that hold a word, apart from those that may.
fn holding(files: &[(String, String)], word: &str, may: impl Fn(&str) -> bool) -> Vec<String> {
    files.iter().filter(|(name, text)| text.contains(word) && !may(name)).map(|(name, _)| name.clone()).collect()
}

#[test]
fn the_core_pulls_no_screen() {
    let manifest = fs::read_to_string(root().join("core/Cargo.toml")).unwrap();
    let dependencies = manifest.split("[dependencies]").nth(1).unwrap().split("\n[").next().unwrap();
    // figures, files and words; fearless_simd chooses registers and draws nothing
    let allowed = [
        "chrono",
        "csv",
        "fearless_simd",
        "rusqlite",
        "rusqlite_migration",
        "serde",
        "serde_json",
        "statrs",
        "thiserror",
    ];
    for line in dependencies.lines().filter(|line| !line.trim().is_empty()) {
        let name = line.split(['.', ' ', '=']).next().unwrap();
        assert!(allowed.contains(&name), "core depends on {name}");
    }
    assert_eq!(holding(&sources("core/src"), "egui", |_| false), Vec::<String>::new());
}

#[test]
fn only_the_store_knows_sql() {
    let found = holding(&sources("core/src"), "rusqlite", |name| name.starts_with("core/src/store/"));
    assert_eq!(found, Vec::<String>::new());
    assert_eq!(holding(&sources("app/src"), "rusqlite", |_| false), Vec::<String>::new());
}

#[test]
fn the_core_reads_no_clock_and_no_chance() {
    for word in ["SystemTime::now", "Local::now", "Utc::now", "Instant::now", "rand::"] {
        assert_eq!(holding(&sources("core/src"), word, |_| false), Vec::<String>::new(), "{word}");
    }
}

#[test]
fn colours_stand_in_the_theme_alone() {
    for word in ["Color32::from_rgb(", "from_rgba_premultiplied(", "from_rgba_unmultiplied(", "from_hex("] {
        let found = holding(&sources("app/src"), word, |name| name == "app/src/theme.rs");
        assert_eq!(found, Vec::<String>::new(), "{word}");
    }
}

#[test]
fn pages_cannot_reach_the_store() {
    for folder in ["app/src/pages", "app/src/forms", "app/src/widgets", "app/src/charts"] {
        let found: Vec<String> = sources(folder)
            .into_iter()
            .filter(|(_, text)| text.contains("store::Store") || text.contains("Store::open"))
            .map(|(name, _)| name)
            .collect();
        assert_eq!(found, Vec::<String>::new());
    }
}

#[test]
fn every_file_says_what_it_is_and_is_one_subject() {
    for (name, text) in all_sources() {
        assert!(text.starts_with("//!"), "{name} does not begin with what it is");
        let lines = text.lines().count();
        // a table of cases may be longer than logic
        let most = if name.starts_with("tests/") { 900 } else { 600 };
        assert!(lines <= most, "{name} has {lines} lines: is it still one subject?");
    }
}

#[test]
fn the_top_level_is_as_agreed() {
    let agreed = [
        "Cargo.toml",
        "Cargo.lock",
        "LICENSE",
        "README.md",
        "DEVELOPERS.md",
        "app",
        "core",
        "migrations",
        "tests",
        "sample-shop",
        "target", // not committed
    ];
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || agreed.contains(&name.as_str()), "{name} at the top level");
    }
}

#[test]
fn the_code_map_names_every_module() {
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for (folder, library) in [("core/src", "core/src/lib.rs"), ("app/src", "app/src/lib.rs")] {
        let text = fs::read_to_string(root().join(library)).unwrap();
        for module in text.lines().filter_map(|line| line.strip_prefix("pub mod ")?.strip_suffix(';')) {
            assert!(map.contains(&format!("`{module}`")), "DEVELOPERS.md does not name {folder}/{module}");
        }
    }
}
