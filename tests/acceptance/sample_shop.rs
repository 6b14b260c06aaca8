//! The demo folder is what its generator makes, byte for byte.

use std::fs;
use std::path::{Path, PathBuf};

use almanac_tests::sample_shop;

/// `sample-shop/` at the top of the repository.
fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop")
}

#[test]
fn the_generator_remakes_the_folder() {
    let made = tempfile::tempdir().unwrap();
    sample_shop::write(made.path()).unwrap();
    let mut names: Vec<_> = fs::read_dir(made.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    names.sort();
    for name in &names {
        let fresh = fs::read(made.path().join(name)).unwrap();
        let kept = fs::read(folder().join(name)).unwrap();
        assert!(
            fresh == kept,
            "{} differs; remake it with `cargo run -p almanac-tests --bin sample_shop -- sample-shop`",
            name.display()
        );
    }
    let mut kept: Vec<_> = fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    kept.retain(|name| name != "README.md");
    kept.sort();
    assert_eq!(kept, names, "the folder holds files that the generator does not make");
}

#[test]
fn two_runs_give_the_same_bytes() {
    assert_eq!(sample_shop::files(), sample_shop::files());
}
