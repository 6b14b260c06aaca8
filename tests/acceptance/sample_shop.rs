//! The demo folder is what its generator makes, byte for byte.

use std::fs;
use std::path::{Path, PathBuf};

use almanac_core::due::{Mark, due_list};
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::import::import_paths;
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use almanac_tests::sample_shop;
use drawbar_almanac::charts::intervals::stands_out;

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

/// What `sample-shop/README.md` tells of the demo, as the program works it out.
#[test]
fn the_stories_of_the_demo_are_told() {
    let as_of = parse_iso_date("2026-03-02").unwrap();
    let empty = Shop::default();
    let shop = import_paths(&[folder()], &empty, as_of, &NoProgress).unwrap().batch.apply_to(&empty).sorted();
    let forecast = forecast_shop(&shop, as_of, &ForecastConfig::of(&shop), &NoProgress).unwrap();
    let due = due_list(&shop, &forecast);
    let of = |mark: Mark| {
        let rows = due.rows.iter().filter(|row| row.mark == mark);
        rows.map(|row| row.position.as_deref().unwrap_or_default()).collect::<Vec<_>>()
    };
    assert_eq!(of(Mark::DoNotRun), ["T-04"]);
    assert_eq!(of(Mark::PastLimit), ["R-07/1"]);
    assert_eq!(of(Mark::ToBook), ["M-02", "M-06", "R-01", "T-02"]);
    assert_eq!(of(Mark::Booked), ["R-04", "R-09", "R-03/2", "M-01"]);
    assert!(of(Mark::BookedLate).is_empty());

    // booked for 14 March, in time; the interval of August 2024 lost force faster than the others
    let (id, _) = shop.spindles.iter().find(|(_, spindle)| spindle.name == "S-0117").unwrap();
    let r04 = &forecast.spindles[id];
    let by = r04.service_by.unwrap();
    assert_eq!(by.to_string(), "2026-03-24");
    let rates: Vec<(String, f64, f64)> = r04
        .intervals
        .iter()
        .filter_map(|at| at.loss_per_1000_h.map(|loss| (at.from.to_string(), loss.mean.get(), loss.sd.get())))
        .collect();
    let outlier = stands_out(&r04.intervals).unwrap_or_else(|| panic!("none stands out of {rates:?}"));
    assert_eq!((r04.intervals[outlier.index].from.to_string().as_str(), outlier.is_faster), ("2024-08-03", true));
    let rate_from = |day: &str| rates.iter().find(|rate| rate.0 == day).unwrap().1;
    // 8.0 and 5.8 % per 1,000 h by least squares; the model draws both a little together
    assert!((rate_from("2024-08-03") - 8.0).abs() < 1.0, "{rates:?}");
    assert!((rate_from("2025-04-12") - 5.8).abs() < 0.6, "{rates:?}");

    // what the page copies is what today's program says, each under the head of its story
    let page = fs::read_to_string(folder().join("README.md")).unwrap();
    let stories: Vec<&str> = page.split("\n### ").skip(1).collect();
    assert_eq!(stories.len(), 10);
    for story in stories {
        let story = story.split("\n## ").next().unwrap();
        let name = story.split([' ', ',', ':']).find(|word| word.starts_with("S-0")).unwrap();
        let (id, _) = shop.spindles.iter().find(|(_, spindle)| spindle.name == name).unwrap();
        let found = &forecast.spindles[id];
        let by = match found.service_by.unwrap() {
            by if by == as_of => "now".to_owned(),
            by => by.format("%A %-d %B %Y").to_string(),
        };
        let why = found.governing.unwrap().label();
        let mut said = vec![format!("The program: service by {by}, because of {why}. \"{}\"", found.reason)];
        said.extend(found.warnings.iter().map(|warning| format!("It warns: \"{warning}\".")));
        let copied = |line: &&str| line.starts_with("The program: ") || line.starts_with("It warns: ");
        assert_eq!(story.lines().filter(copied).collect::<Vec<_>>(), said, "{name}");
    }
}
