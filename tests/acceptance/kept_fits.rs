//! What a shop taught is kept with it: bit for bit, found by its day, and learnt anew when it no
//! longer does.

use almanac_core::actions::Action;
use almanac_core::forecast::fits::{InterfaceFit, ShopFits};
use almanac_core::forecast::kept::{from_text, to_text};
use almanac_core::forecast::model::improvements::Improvements;
use almanac_core::forecast::model::observed::{Clock, Counting, PerClock};
use almanac_core::forecast::model::parameters::Parameters;
use almanac_core::forecast::model::setting_dimension::DimensionParameters;
use almanac_core::forecast::model::usage::UsageParameters;
use almanac_core::forecast::refit::{Grouping, RefitReason, needs_refit};
use almanac_core::forecast::track_record::{to_csv, track_record};
use almanac_core::forecast::{ForecastConfig, NoProgress};
use almanac_core::interface::Interface;
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store, StoredFit};
use almanac_core::units::Kilonewtons;
use almanac_tests::fleet::{fleet, last_day};
use almanac_tests::hand_shop::{HandShop, day};
use almanac_tests::random_shop::random_shop;
use chrono::{Days, NaiveDate};
use drawbar_almanac::cli;
use proptest::prelude::*;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;

fn stamp() -> StepStamp {
    StepStamp { at: last_day().and_hms_opt(12, 0, 0).unwrap(), who: "tester".to_owned() }
}

/// A shop file of a fleet, open for writing.
fn file(folder: &Path, spindles: usize) -> (Store, PathBuf) {
    let path = folder.join("works.almanac");
    let mut store = Store::create(&path).unwrap();
    store.perform(Action::Import(Box::new(fleet(spindles, 7))), &stamp()).unwrap();
    (store, path)
}

fn fit(shop: &Shop, day: NaiveDate) -> ShopFits {
    ShopFits::fit(&shop.known_on(day), day, &NoProgress).unwrap()
}

/// A fit that nobody could take for a true one.
fn distorted(fits: &ShopFits, fitted_on: NaiveDate) -> ShopFits {
    let mut wrong = ShopFits { fitted_on, ..fits.clone() };
    for fit in std::iter::once(&mut wrong.all).chain(wrong.interfaces.values_mut()) {
        fit.parameters.beta *= 5.0;
        fit.parameters.a0 = 85.0;
    }
    wrong
}

fn before(days: u64) -> NaiveDate {
    last_day() - Days::new(days)
}

// ---- the text -------------------------------------------------------------

fn positive() -> impl Strategy<Value = f64> {
    prop_oneof![1e-3..1e3_f64, proptest::num::f64::POSITIVE | proptest::num::f64::NORMAL]
}

prop_compose! {
    fn any_fit()(
        v in proptest::collection::vec(positive(), 35),
        a0 in any::<f64>().prop_filter("finite", |a0| a0.is_finite()),
        cycles in any::<bool>(),
        counts in (0..9000_usize, 0..90_000_usize),
        faults in (1e-4..0.2_f64, 1e-4..0.1_f64),
        cycles_per_hour in 1e-4..1e5_f64,
    ) -> InterfaceFit {
        InterfaceFit {
            parameters: Parameters {
                beta: v[0], cvu: v[1], cvv: v[2], q: v[3], sb: v[4], sr: v[5], a0, sa: v[6], delta: v[7], p: v[8],
                ss: v[9],
                variances: std::array::from_fn(|i| v[10 + i]),
                step_hazard: v[20],
                gross_chance: faults.0,
                unlogged_chance: faults.1,
                ..Parameters::weak().with(Improvements::all())
            },
            counting: Counting {
                clock: if cycles { Clock::Cycles } else { Clock::Hours },
                reference: v[21],
                prior_level: v[22],
            },
            cycles_per_hour,
            clock_objectives: cycles.then_some((-v[24], v[25])),
            dimension: DimensionParameters {
                beta: -v[26], beta_sd: v[27], between_spindles: v[28], between_intervals: v[29], q: v[30],
                reading_sd: v[31], set_sd: v[32],
            },
            spindles: counts.0,
            readings: counts.1,
        }
    }
}

fn any_usage() -> impl Strategy<Value = UsageParameters> {
    proptest::collection::vec(positive(), 8).prop_map(|v| UsageParameters {
        wandering: v[0],
        segment: v[1],
        change_size: v[2],
        change_hazard: v[3],
        recent_hazard: v[4],
        reversion: v[5],
        stops_per_year: v[6],
        stop_days: v[7],
        improvements: Improvements::all(),
    })
}

prop_compose! {
    fn any_fits()(
        all in any_fit(),
        interfaces in proptest::collection::btree_map("[-=\"A-Za-z0-9/ü ]{0,6}[A-Z]".prop_filter_map("named", |text| Interface::parse(&text)), any_fit(), 0..6),
        usage in (any_usage(), any_usage()),
        seed in 0..1000_u64,
        readings in 0..90_000_usize,
    ) -> ShopFits {
        ShopFits {
            fitted_on: day(seed),
            interfaces,
            all,
            usage: PerClock { hours: usage.0, cycles: usage.1 },
            readings,
            grouping: Grouping::of(&random_shop(seed % 5)),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_text_gives_back_every_bit(fits in any_fits()) {
        let text = to_text(&fits).unwrap();
        let back = from_text(&text, fits.fitted_on).unwrap();
        prop_assert_eq!(&back, &fits);
        // equal figures print alike only where every bit is the same, also of zero
        prop_assert_eq!(format!("{back:?}"), format!("{fits:?}"));
    }

    #[test]
    fn a_text_cut_short_says_nothing(fits in any_fits(), share in 0.0..1.0_f64) {
        let text = to_text(&fits).unwrap();
        let mut at = (text.len() as f64 * share) as usize;
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        prop_assert_eq!(from_text(&text[..at], fits.fitted_on), None);
    }
}

#[test]
fn figures_that_cannot_be_are_neither_kept_nor_read() {
    let fits = ShopFits::weak(day(0));
    let text = to_text(&fits).unwrap();
    assert_eq!(from_text(&text, day(0)), Some(fits.clone()));
    let changes: [fn(&mut InterfaceFit); 7] = [
        |fit| fit.parameters.beta = f64::NAN,
        |fit| fit.parameters.p = 0.0,
        |fit| fit.parameters.variances[3] = -0.1,
        |fit| fit.counting.reference = f64::INFINITY,
        |fit| fit.cycles_per_hour = 1e-302,
        |fit| fit.cycles_per_hour = 1e6,
        |fit| fit.dimension.q = f64::NEG_INFINITY,
    ];
    for change in changes {
        let mut wrong = fits.clone();
        change(&mut wrong.all);
        assert_eq!(to_text(&wrong), None, "{wrong:?}");
    }
    for (from, to) in [("\"form\":1", "\"form\":2"), ("\"beta\":", "\"beta\":-"), ("\"p\":", "\"pp\":")] {
        assert!(text.contains(from));
        assert_eq!(from_text(&text.replacen(from, to, 1), day(0)), None, "{to}");
    }
    // while a figure more, of a later version, does no harm
    assert_eq!(from_text(&text.replacen('{', "{\"moon\":1,", 1), day(0)), Some(fits));
}

/// The chances of faults of the records were fixed at 1 in 100 and 5 in 1,000 before they were learnt, and
/// not written: a text of that time means them.
#[test]
fn a_text_from_before_faults_were_counted_has_the_chances_of_then() {
    let mut fits = ShopFits::weak(day(0));
    let mut own = fits.all.clone();
    (fits.all.parameters.gross_chance, fits.all.parameters.unlogged_chance) = (0.03, 0.02);
    (own.parameters.gross_chance, own.parameters.unlogged_chance) = (0.004, 0.001);
    fits.interfaces.insert(Interface::parse("HSK-A63").unwrap(), own);
    let text = to_text(&fits).unwrap();
    let mut old: serde_json::Value = serde_json::from_str(&text).unwrap();
    let without = |parameters: &mut serde_json::Value| {
        for name in ["gross_chance", "unlogged_chance"] {
            assert!(parameters.as_object_mut().unwrap().remove(name).is_some(), "{name}");
        }
    };
    without(&mut old["all"]["parameters"]);
    without(&mut old["interfaces"][0]["fit"]["parameters"]);
    for fit in std::iter::once(&mut fits.all).chain(fits.interfaces.values_mut()) {
        (fit.parameters.gross_chance, fit.parameters.unlogged_chance) = (0.01, 0.005);
    }
    assert_eq!(from_text(&old.to_string(), day(0)), Some(fits));
}

#[test]
fn chances_of_faults_that_no_fit_finds_are_neither_kept_nor_read() {
    let fits = ShopFits::weak(day(0));
    let text = to_text(&fits).unwrap();
    // up to twenty times the usual chance is believed
    for (name, most) in [("gross_chance", 0.2), ("unlogged_chance", 0.1)] {
        let chances = [(0.0, false), (-0.01, false), (most, true), (1.01 * most, false), (0.25, false), (1.0, false)];
        for (chance, is_usable) in chances {
            let mut other: serde_json::Value = serde_json::from_str(&text).unwrap();
            other["all"]["parameters"][name] = chance.into();
            assert_eq!(from_text(&other.to_string(), day(0)).is_some(), is_usable, "{name} {chance}");
            let mut other = fits.clone();
            match name {
                "gross_chance" => other.all.parameters.gross_chance = chance,
                _ => other.all.parameters.unlogged_chance = chance,
            }
            assert_eq!(to_text(&other).is_some(), is_usable, "{name} {chance}");
        }
    }
}

// ---- the file -------------------------------------------------------------

#[test]
fn fits_survive_reopening_and_copying() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, path) = file(folder.path(), 12);
    let shop = store.load_shop().unwrap();
    let fits = fit(&shop, last_day());
    assert!(store.save_shop_fits(&fits).unwrap());
    assert_eq!(store.shop_fits_known_on(last_day()).as_ref(), Some(&fits));
    let copy = folder.path().join("copy.almanac");
    store.backup(&copy).unwrap();
    drop(store);
    for path in [path, copy] {
        let store = Store::open(&path, Access::ReadOnly).unwrap();
        assert_eq!(store.shop_fits_known_on(last_day()).as_ref(), Some(&fits));
        // what is read back from the file needs no fit anew
        assert_eq!(needs_refit(&fits, &store.load_shop().unwrap().known_on(last_day()), last_day()), None);
    }
}

#[test]
fn a_day_takes_the_newest_fit_that_is_not_later() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, _) = file(folder.path(), 9);
    let shop = store.load_shop().unwrap();
    let (early, late) = (fit(&shop, before(400)), fit(&shop, before(100)));
    assert_ne!(early.all, late.all);
    store.save_shop_fits(&late).unwrap();
    store.save_shop_fits(&early).unwrap();
    for (days, expected) in
        [(401, None), (400, Some(&early)), (101, Some(&early)), (100, Some(&late)), (0, Some(&late))]
    {
        assert_eq!(store.shop_fits_known_on(before(days)).as_ref(), expected, "{days} days before");
    }
}

#[test]
fn old_fits_are_thinned_out_to_one_a_quarter() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, _) = file(folder.path(), 1);
    let on = |text: &str| almanac_core::moment::parse_iso_date(text).unwrap();
    let save = |store: &mut Store, day: &str, subject: &str| {
        let fit = StoredFit { subject: subject.to_owned(), fitted_on: on(day), parameters: day.to_owned() };
        store.save_fits(&[fit]).unwrap();
    };
    // every day that can be told apart takes the newest kept fit that is not later
    let kept = |store: &Store| -> Vec<String> {
        let mut found: Vec<String> = (0..1200)
            .filter_map(|days| {
                let day = on("2023-01-01").checked_add_days(chrono::Days::new(days)).unwrap();
                let fits = store.fits_known_on(day).unwrap();
                assert!(fits.iter().all(|fit| fit.fitted_on <= day));
                Some(fits.into_iter().find(|fit| fit.subject == "shop")?.parameters)
            })
            .collect();
        found.dedup();
        found
    };
    let months = ["2024-10-05", "2024-11-04", "2024-12-30", "2025-01-31", "2025-03-02", "2025-04-01", "2025-06-20"];
    save(&mut store, "2024-11-04", "other");
    for day in months {
        save(&mut store, day, "shop");
    }
    // 90 days before the newest: 22 March
    assert_eq!(kept(&store), ["2024-12-30", "2025-03-02", "2025-04-01", "2025-06-20"]);
    // one for a past day stays while it is the one that was kept last, and no longer
    save(&mut store, "2024-10-20", "shop");
    assert_eq!(kept(&store), ["2024-10-20", "2024-12-30", "2025-03-02", "2025-04-01", "2025-06-20"]);
    save(&mut store, "2025-06-25", "shop");
    assert_eq!(kept(&store), ["2024-12-30", "2025-03-02", "2025-04-01", "2025-06-20", "2025-06-25"]);
    let other = store.fits_known_on(on("2024-11-05")).unwrap();
    assert_eq!(other.iter().map(|fit| fit.subject.as_str()).collect::<Vec<_>>(), ["other"]);
}

fn due(path: &Path, as_of: NaiveDate) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_almanac_under_test"))
        .args(["due", path.to_str().unwrap(), "--format", "json", "--as-of", &as_of.to_string()])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_list_of_a_past_day_uses_no_later_fit() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, path) = file(folder.path(), 12);
    let shop = store.load_shop().unwrap();
    let as_of = before(200);
    let (honest, next_day) = (due(&path, as_of), due(&path, before(199)));
    let wrong = distorted(&fit(&shop, as_of), before(199));
    store.save_shop_fits(&wrong).unwrap();
    assert_eq!(due(&path, as_of), honest);
    assert_ne!(due(&path, before(199)), next_day, "while from its day on the list rests on it");

    let loaded = cli::load(&path, last_day()).unwrap();
    assert_eq!(loaded.fits(&shop.known_on(as_of), as_of).unwrap(), fit(&shop, as_of), "made from what was known then");
    assert_eq!(loaded.fits(&shop.known_on(before(199)), before(199)).unwrap(), wrong, "from then on the kept one");
    assert_eq!(loaded.fits(&shop, last_day()).unwrap(), wrong, "also when it is old");
}

#[test]
fn a_reading_command_writes_no_fit_and_minds_no_damage() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, path) = file(folder.path(), 6);
    let honest = due(&path, last_day());
    assert_eq!(store.fits_known_on(last_day()).unwrap(), []);
    for parameters in ["", "{", "0.5", "{\"form\":1}", "\u{0}", "[1,2", "null"] {
        let damaged = StoredFit { subject: "shop".to_owned(), fitted_on: before(3), parameters: parameters.to_owned() };
        store.save_fits(&[damaged]).unwrap();
        assert_eq!(store.shop_fits_known_on(last_day()), None);
        assert_eq!(due(&path, last_day()), honest, "{parameters}");
    }
}

// ---- when to learn anew ----------------------------------------------------

/// Three spindles of one interface and two of another, five readings each.
fn five() -> HandShop {
    let mut made = HandShop::new();
    for number in 0..5_u64 {
        let machine = made.machine(&format!("R-{number}"));
        let interface = if number < 3 { "HSK-A63" } else { "PSC 63" };
        let spindle = made.spindle_of(interface, &format!("S-{number}"), 20.0, Some(day(0)));
        made.mount(spindle, machine, day(0), None);
        for month in 0..5_u64 {
            made.hours_at(machine, day(30 * month), 300.0 * month as f64);
            made.force(spindle, day(30 * month), 19.5 - 0.2 * month as f64 - 0.05 * number as f64);
        }
    }
    made
}

#[test]
fn a_tenth_more_or_fewer_readings_teach_anew() {
    let mut made = five();
    let fits = fit(&made.shop(), day(130));
    assert_eq!(fits.readings, 25);
    assert_eq!(needs_refit(&fits, &made.shop(), day(130)), None);
    let spindle = made.shop().spindle_named("S-0").unwrap();
    for number in 0..2 {
        made.force(spindle, day(131 + number), 18.3);
        assert_eq!(needs_refit(&fits, &made.shop(), day(140)), None, "{} more", number + 1);
    }
    made.force(spindle, day(133), 18.3);
    assert_eq!(needs_refit(&fits, &made.shop(), day(140)), Some(RefitReason::Readings { then: 25, now: 28 }));
    // an undone import
    for _ in 0..6 {
        Arc::make_mut(&mut made.tables().readings).pop();
    }
    assert_eq!(needs_refit(&fits, &made.shop(), day(140)), Some(RefitReason::Readings { then: 25, now: 22 }));
    // the first reading of all
    let weak = ShopFits { grouping: fits.grouping, ..ShopFits::weak(day(130)) };
    assert_eq!(needs_refit(&weak, &made.shop(), day(130)), Some(RefitReason::Readings { then: 0, now: 22 }));
}

#[test]
fn a_month_teaches_anew() {
    let shop = five().shop();
    let fits = fit(&shop, day(130)); // 11 May 2025
    assert_eq!(needs_refit(&fits, &shop, day(160)), None, "10 June");
    assert_eq!(needs_refit(&fits, &shop, day(161)), Some(RefitReason::MonthPassed(day(130))), "11 June");
}

#[test]
fn registers_teach_anew_where_they_regroup_spindles() {
    let mut made = five();
    let fits = fit(&made.shop(), day(130));
    assert_eq!(fits.interfaces.len(), 1);
    let spindle = made.shop().spindle_named("S-2").unwrap();
    // limits and names change no fit, a spindle bought today does not yet
    made.limits(spindle, |limits| limits.service_limit = almanac_core::units::Percent::new(85.0));
    made.change_spindle(spindle, |spindle| spindle.notes = "new belt".to_owned());
    let bought = made.spindle_of("PSC 63", "S-9", 20.0, Some(day(130)));
    assert_eq!(needs_refit(&fits, &made.shop(), day(130)), None);
    // with its first reading it makes the third of its kind
    made.force(bought, day(130), 19.7);
    let appeared = Some(RefitReason::InterfaceAppeared(Interface::parse("PSC 63").unwrap()));
    assert_eq!(needs_refit(&fits, &made.shop(), day(130)), appeared);
    assert_eq!(needs_refit(&fit(&made.shop(), day(130)), &made.shop(), day(130)), None);
    for change in [
        |spindle: &mut almanac_core::spindle::Spindle| spindle.interface = Interface::parse("PSC 63").unwrap(),
        |spindle: &mut almanac_core::spindle::Spindle| spindle.nominal_force = Kilonewtons::new(22.0).unwrap(),
        |spindle: &mut almanac_core::spindle::Spindle| {
            spindle.limits.setting_tolerance = almanac_core::units::Millimetres::new(0.2);
        },
    ] {
        let mut other = made.clone();
        other.change_spindle(spindle, change);
        assert_eq!(needs_refit(&fits, &other.shop(), day(130)), Some(RefitReason::Registers));
    }
    let mut gone = made.shop();
    Arc::make_mut(&mut gone.spindles).remove(&spindle);
    assert_eq!(needs_refit(&fits, &gone, day(130)), Some(RefitReason::Registers));
}

#[test]
fn right_after_a_fit_none_is_needed() {
    for seed in 0..8 {
        let shop = random_shop(seed);
        let day = last_day();
        assert_eq!(needs_refit(&fit(&shop, day), &shop.known_on(day), day), None, "{seed}");
    }
    let empty = Shop::default();
    assert_eq!(needs_refit(&fit(&empty, day(0)), &empty, day(0)), None);
}

#[test]
fn the_track_record_takes_fits_that_were_kept_by_then() {
    let scratch = tempfile::tempdir().unwrap();
    let (mut store, path) = file(scratch.path(), 4);
    let shop = store.load_shop().unwrap();
    let newer = fit(&shop, before(100));
    // a reading of every spindle was taken 130 days before the last day, in the quarter of this fit
    let older = distorted(&newer, before(135));
    assert!(store.save_shop_fits(&newer).unwrap() && store.save_shop_fits(&older).unwrap());
    let unreadable =
        StoredFit { subject: "shop".to_owned(), fitted_on: before(120), parameters: "no figures".to_owned() };
    store.save_fits(&[unreadable]).unwrap();
    let kept: Vec<Arc<ShopFits>> = store.all_shop_fits().unwrap().into_iter().map(Arc::new).collect();
    assert_eq!(kept.iter().map(|fits| fits.fitted_on).collect::<Vec<_>>(), [before(135), before(100)]);
    assert_eq!(*kept[1], newer);
    drop(store);

    let csv = |kept: &[Arc<ShopFits>]| {
        let config = ForecastConfig::of(&shop);
        to_csv(&shop, &track_record(&shop, last_day(), &config, kept, &NoProgress).unwrap())
    };
    let output = Command::new(env!("CARGO_BIN_EXE_almanac_under_test"))
        .args([Path::new("track-record"), &path, Path::new("--format"), Path::new("csv")])
        .output()
        .unwrap();
    let printed = String::from_utf8(output.stdout).unwrap();
    assert_eq!(printed, csv(&kept), "{}", String::from_utf8_lossy(&output.stderr));
    assert_ne!(printed, csv(&[]), "a distorted fit shows");
}
