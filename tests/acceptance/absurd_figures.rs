//! Whatever anybody may enter gives finite figures: of every spindle of a group, in the model itself, on
//! the lists, in the readings worth taking and in the track record.

use almanac_core::due::{due_list, to_json};
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::full::ModelBasis;
use almanac_core::forecast::kept::to_text;
use almanac_core::forecast::model::filter::Filter;
use almanac_core::forecast::model::observed::build;
use almanac_core::forecast::model::setting_dimension::DimensionFilter;
use almanac_core::forecast::model::spindle::{Asked, limit_forecast};
use almanac_core::forecast::next_reading::next_readings;
use almanac_core::forecast::track_record::{self, track_record};
use almanac_core::forecast::{ForecastBasis, ForecastConfig, NoProgress, QUANTILES, SpindleForecast};
use almanac_core::ids::{MachineId, Row, SpindleId};
use almanac_core::machine::Position;
use almanac_core::meter::MeterOwner;
use almanac_core::reading::{Phase, Reading};
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{ClampCycles, Millimetres, RunHours, Unit};
use almanac_tests::hand_shop::{HandShop, day};
use chrono::{Days, NaiveDate};
use proptest::prelude::*;
use std::sync::Arc;

/// Every figure finite, every date in order and within the horizon.
#[track_caller]
fn check_sane(found: &SpindleForecast, as_of: NaiveDate, horizon_days: u32) {
    let last = as_of.checked_add_days(Days::new(u64::from(horizon_days))).unwrap();
    for crossing in [found.cross_service_limit, found.cross_stop_limit, found.cross_setting_dimension] {
        let days = crossing.unwrap_or_default().days;
        for pair in days.windows(2) {
            match (pair[0], pair[1]) {
                (Some(a), Some(b)) => assert!(a <= b, "{days:?}"),
                (None, Some(_)) => panic!("a later share before an earlier one: {days:?}"),
                _ => {}
            }
        }
        assert!(days.iter().flatten().all(|day| as_of <= *day && *day <= last), "{days:?}");
    }
    assert!(found.service_by.is_none_or(|day| as_of <= day && day <= last));
    assert_eq!(found.service_by.is_some(), found.governing.is_some());
    if found.is_passed {
        assert_eq!(found.service_by, Some(as_of));
        assert!(found.passed_since.is_none_or(|since| since <= as_of));
    }
    assert!(found.force_now.mean.get() >= 0.0 && found.force_now.sd.get() >= 0.0);
    for point in &found.fan {
        assert!(point.force.windows(2).all(|pair| pair[0] <= pair[1]));
    }
    assert!(!found.reason.is_empty());
    let left_out = found.left_out.iter().map(|(_, why)| why);
    for sentence in found.warnings.iter().chain(left_out).chain([&found.reason]) {
        assert!(says_figures(sentence), "{sentence}");
    }
}

/// Whether no figure is written that is none.
fn says_figures(text: &str) -> bool {
    !text.split(|c: char| !c.is_alphanumeric()).any(|word| matches!(word, "NaN" | "inf"))
}

/// The model from inside, where no figure is exchanged for zero on its way to the screen: the state of
/// the filter, what it made of each reading, and the laws of both limits.
#[track_caller]
fn check_model(known: &Shop, as_of: NaiveDate, fits: &ShopFits, config: &ForecastConfig) {
    let basis = ModelBasis::new(known, as_of, fits, *config);
    let (calendar, number) = basis.calendar();
    for (id, spindle) in known.spindles.iter() {
        let observed = basis.observed(*id).unwrap();
        let fit = fits.of(&spindle.interface);
        let (par, name) = (&fit.parameters, &spindle.name);
        let usage = fits.usage.of(fit.counting.clock);
        let built = build(&observed, calendar, &fit.counting, number, par.ss, usage);
        let figures = [built.usage, built.usage_variance, built.usage_growth, built.since_service, built.unread];
        assert!(figures.iter().all(|figure| figure.is_finite() && *figure >= 0.0), "{name}: {figures:?}");

        let filter = Filter::new(par, observed.known_start).run(&built.events);
        assert!(
            filter.mean.iter().chain(filter.covariance.as_flattened()).all(|f| f.is_finite()),
            "{name}: {filter:?}"
        );
        assert!((0..5).all(|i| filter.covariance[i][i] >= 0.0), "{name}: {:?}", filter.covariance);
        assert!(
            filter.log_likelihood.is_finite() && filter.rate_prior.0.is_finite() && filter.rate_prior.1.is_finite()
        );
        for read in &filter.log {
            assert!([read.y, read.expected, read.z].iter().all(|figure| figure.is_finite()), "{name}: {read:?}");
            assert!((read.weights.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{name}: {read:?}");
            assert!(read.weights.iter().all(|weight| *weight >= 0.0), "{name}: {read:?}");
        }

        let asked = Asked { as_of: number, horizon_days: i64::from(config.horizon_days) };
        let limits = known.limits_of(spindle);
        for limit in [limits.service_limit.value.get(), limits.stop_limit.value.get()] {
            let law = limit_forecast(par, &filter, &built, calendar, asked, limit);
            let input = law.input;
            let figures = [law.now, law.now_sd, law.rate, input.log_rate.0, input.log_rate.1, input.usage_variance];
            assert!(figures.iter().all(|figure| figure.is_finite()), "{name}: {figures:?}");
            assert!(law.now_sd >= 0.0 && law.rate >= 0.0, "{name}: {figures:?}");
            let ends = (number as f64, (number + asked.horizon_days + 1) as f64);
            let moments = QUANTILES.map(|share| law.quantile(share));
            assert!(moments.iter().flatten().is_sorted(), "{name}: {moments:?}");
            assert!(moments.iter().flatten().all(|m| ends.0 <= *m && *m <= ends.1), "{name}: {moments:?} in {ends:?}");
            let chances = [0.0, 1.0, 30.0, 365.0, 1500.0].map(|days| law.probability(ends.0 + days));
            assert!(chances.iter().all(|chance| (0.0..=1.0 + 1e-9).contains(chance)), "{name}: {chances:?}");
            assert!(chances.is_sorted_by(|a, b| *a <= *b + 1e-9), "{name}: {chances:?}");
        }

        let filter = DimensionFilter::run(&built.dimension_events, &fit.dimension);
        let figures = filter.mean.iter().chain(filter.covariance.as_flattened()).chain(&filter.set_aside);
        assert!(figures.chain([&filter.log_likelihood]).all(|figure| figure.is_finite()), "{name}: {filter:?}");
    }
}

fn figure() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => 0.0..30.0_f64,
        2 => 0.0..1e6_f64,
        1 => Just(1e-300),
        1 => Just(1e300),
        1 => Just(f64::MAX),
        1 => Just(f64::MIN_POSITIVE),
        1 => Just(901_000.0)
    ]
}

/// Strokes are often such as a spindle of 18 kN shows, or nothing would ever be within its limits.
fn force() -> impl Strategy<Value = f64> {
    prop_oneof![3 => 15.5..17.8_f64, 2 => figure()]
}

#[derive(Debug, Clone)]
enum Entry {
    Force(u64, f64, Phase, bool),
    Setting(u64, f64),
    Hours(u64, f64, bool),
    Cycles(u64, f64),
    Service(u64, bool),
    Closure(u64, u64),
}

fn entry() -> impl Strategy<Value = Entry> {
    let on = prop_oneof![3 => 0_u64..400, 1 => 0_u64..4000];
    let phase = prop_oneof![Just(Phase::Routine), Just(Phase::AsFound), Just(Phase::AsLeft)];
    prop_oneof![
        5 => (on.clone(), force(), phase, any::<bool>()).prop_map(|(d, v, p, doubt)| Entry::Force(d, v, p, doubt)),
        1 => (on.clone(), figure()).prop_map(|(d, v)| Entry::Setting(d, v)),
        3 => (on.clone(), figure(), any::<bool>()).prop_map(|(d, v, r)| Entry::Hours(d, v, r)),
        1 => (on.clone(), figure()).prop_map(|(d, v)| Entry::Cycles(d, v)),
        1 => (on.clone(), any::<bool>()).prop_map(|(d, major)| Entry::Service(d, major)),
        1 => (on, 0_u64..500).prop_map(|(d, length)| Entry::Closure(d, length)),
    ]
}

/// A spindle as anybody may enter it.
#[derive(Debug, Clone)]
struct Entered {
    nominal: f64,
    tolerance: f64,
    is_mounted: bool,
    is_new: bool,
    entries: Vec<Entry>,
}

fn entered(most: usize) -> impl Strategy<Value = Entered> {
    (
        prop_oneof![6 => Just(18.0), 2 => 1.0..100.0_f64, 1 => Just(1e-200), 1 => Just(1e200)],
        prop_oneof![3 => 0.01..1.0_f64, 1 => Just(1e-200), 1 => Just(1e200)],
        prop::bool::weighted(0.9),
        any::<bool>(),
        prop::collection::vec(entry(), 0..most),
    )
        .prop_map(|(nominal, tolerance, is_mounted, is_new, entries)| Entered {
            nominal,
            tolerance,
            is_mounted,
            is_new,
            entries,
        })
}

fn enter(made: &mut HandShop, machine: MachineId, spindle: SpindleId, entry: &Entry) {
    match *entry {
        Entry::Force(on, value, phase, doubted) => {
            made.reading(spindle, day(on), phase, Unit::Kilonewton, &[&value.max(1e-300).to_string()]);
            made.last_reading(|reading| reading.doubt = (doubted && on % 3 == 0).then(|| "slip?".to_owned()));
        }
        Entry::Setting(on, value) => {
            made.reading(spindle, day(on), Phase::Routine, Unit::Inch, &[&value.to_string()]);
        }
        Entry::Hours(on, value, replaced) => {
            made.hours_at(machine, day(on), value);
            if let Some(row) = Arc::make_mut(&mut made.tables().meters).last_mut() {
                row.value.meter_replaced = replaced && on % 5 == 0;
            }
        }
        Entry::Cycles(on, value) => {
            let owner = MeterOwner::Position(Position { machine, number: 1 });
            made.meter(owner, day(on), None, Some(value));
        }
        Entry::Service(on, major) => {
            made.service(spindle, day(on), if major { Kind::Major } else { Kind::Minor });
        }
        Entry::Closure(on, length) => made.closure(day(on), day(on + length)),
    }
}

/// All spindles have one interface.
fn shop_of(spindles: &[Entered]) -> Shop {
    let mut made = HandShop::new();
    for (number, entered) in spindles.iter().enumerate() {
        let machine = made.machine(&format!("R-{number:02}"));
        let spindle = made.spindle(&format!("S-{number}"), entered.nominal, entered.is_new.then(|| day(0)));
        if entered.is_mounted {
            made.mount(spindle, machine, day(100), None);
        }
        made.limits(spindle, |limits| {
            limits.setting_tolerance = Millimetres::new(entered.tolerance);
            limits.every_hours = RunHours::new(2000.0);
            limits.every_cycles = ClampCycles::new(1e6);
            limits.every_months = Some(12);
        });
        for entry in &entered.entries {
            enter(&mut made, machine, spindle, entry);
        }
    }
    // strokes beyond any number are refused at the door, and so are readings without one
    Arc::make_mut(&mut made.tables().readings).retain(|row: &Row<_, Reading>| row.value.clone().checked().is_ok());
    made.shop()
}

/// Everything that is worked out from a shop.
fn check_all(shop: &Shop, as_of: NaiveDate, config: &ForecastConfig) {
    let known = shop.known_on(as_of);
    let fits = Arc::new(ShopFits::fit(&known, as_of, &NoProgress).unwrap());
    assert!(to_text(&fits).is_some(), "what was learnt can be kept: {fits:?}");
    check_model(&known, as_of, &fits, config);
    let basis = ForecastBasis::of(shop, as_of, config, &fits, &NoProgress).unwrap();
    let all = basis.project_all(&NoProgress).unwrap();
    for found in all.spindles.values() {
        check_sane(found, as_of, config.horizon_days);
    }
    let readings = next_readings(&basis, &all, &NoProgress).unwrap();
    for reading in &readings {
        assert!(reading.worth.get().is_finite() && reading.worth.get() >= 0.0, "{reading:?}");
        assert!(reading.narrows.to < reading.narrows.from && reading.by >= as_of, "{reading:?}");
        assert!(says_figures(&reading.reason) && says_figures(&reading.sentence(as_of)), "{reading:?}");
    }
    let list = due_list(shop, &all).with_readings(readings);
    assert_eq!(list.rows.len(), shop.spindles.len());
    assert!(says_figures(&to_json(shop, &all, &list).unwrap()));

    let record = track_record(shop, as_of, config, &[], &NoProgress).unwrap();
    for scored in &record.readings {
        let figures = [scored.read, scored.forecast, scored.sd, scored.miss(), scored.crps()].map(|f| f.get());
        assert!(figures.iter().all(|figure| figure.is_finite()), "{scored:?}");
        assert!(scored.sd.get() > 0.0 && scored.crps().get() >= 0.0, "{scored:?}");
    }
    let summary = record.summary();
    assert_eq!(summary.bias.is_some() && summary.crps.is_some(), summary.scored > 0, "{summary:?}");
    assert!(says_figures(&track_record::to_table(&record)) && says_figures(&track_record::to_csv(shop, &record)));
    assert!(says_figures(&track_record::to_json(&record).unwrap()));
}

/// Found by chance once: next to no hours, and the later figure first.
#[test]
fn hardly_any_hours_give_finite_figures() {
    let force = Entry::Force(0, 0.0, Phase::Routine, false);
    let hours = |on| Entry::Hours(on, 1e-300, false);
    let entries = vec![force.clone(), hours(2625), hours(208), Entry::Service(10, true), force];
    let spindle = Entered { nominal: 1.0, tolerance: 0.01, is_mounted: true, is_new: false, entries };
    let shop = shop_of(&[spindle]);
    let config = ForecastConfig { accepted_risk: 0.001, horizon_days: 3237, ..ForecastConfig::of(&shop) };
    check_all(&shop, day(2625), &config);
}

/// Found by chance once: seven years without a word of it, so that it lies far below its limits, and next to no usage;
/// the chance of having crossed fell with time.
#[test]
fn who_has_crossed_a_limit_has_crossed_it() {
    let force = |on, kilonewtons, phase| Entry::Force(on, kilonewtons, phase, false);
    let entries = vec![
        force(0, 15.5, Phase::Routine),
        force(242, 16.427_244_629_694_588, Phase::Routine),
        force(1, 15.5, Phase::Routine),
        force(175, 16.487_553_171_659_666, Phase::Routine),
        Entry::Service(175, false),
        force(0, 16.828_042_994_761_052, Phase::AsFound),
        force(2, 16.076_978_982_670_21, Phase::Routine),
        Entry::Closure(41, 199),
        force(50, 16.748_716_268_196_91, Phase::Routine),
        force(0, 16.215_871_353_277_418, Phase::AsFound),
        force(41, 17.778_279_750_447_002, Phase::AsLeft),
        Entry::Closure(41, 0),
        force(0, 0.0, Phase::Routine),
        force(251, 16.082_952_268_545_67, Phase::Routine),
    ];
    let nominal = 23.665_469_223_781_92;
    let spindle = Entered { nominal, tolerance: 0.01, is_mounted: true, is_new: false, entries };
    let shop = shop_of(&[spindle]);
    let config = ForecastConfig { accepted_risk: 0.001, horizon_days: 1825, ..ForecastConfig::of(&shop) };
    check_all(&shop, day(2674), &config);
}

/// Found by chance once: one spindle whose cycles hardly moved in thousands of hours, and one that counts
/// nothing but cycles; its hours came to more than can be squared.
#[test]
fn hardly_any_cycles_give_finite_figures() {
    let force = |on, kilonewtons| Entry::Force(on, kilonewtons, Phase::Routine, false);
    let spindle = |entries| Entered { nominal: 18.0, tolerance: 0.01, is_mounted: true, is_new: false, entries };
    let counted = vec![
        force(0, 17.0),
        Entry::Hours(0, 0.0, false),
        Entry::Hours(300, 4000.0, false),
        Entry::Cycles(0, 0.0),
        Entry::Cycles(300, 1e-300),
        force(300, 16.5),
    ];
    let cycles_only =
        vec![force(0, 17.5), Entry::Cycles(0, 0.0), Entry::Cycles(300, 30.0), force(100, 17.0), force(300, 16.0)];
    let shop = shop_of(&[spindle(counted), spindle(cycles_only)]);
    let config = ForecastConfig { accepted_risk: 0.1, horizon_days: 1825, ..ForecastConfig::of(&shop) };
    check_all(&shop, day(400), &config);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn finite_entries_of_a_spindle_give_finite_figures(
        spindle in entered(40),
        as_of in 0_u64..4200,
        accepted_risk in 0.001..0.5_f64,
        horizon_days in prop_oneof![Just(1825_u32), 1_u32..4000],
    ) {
        let shop = shop_of(&[spindle]);
        let config = ForecastConfig { accepted_risk, horizon_days, ..ForecastConfig::of(&shop) };
        check_all(&shop, day(as_of), &config);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn finite_entries_of_a_group_give_finite_figures(
        spindles in prop::collection::vec(entered(25), 3..6),
        as_of in 300_u64..1500,
        accepted_risk in 0.001..0.5_f64,
        horizon_days in prop_oneof![Just(1825_u32), 1_u32..4000],
    ) {
        let shop = shop_of(&spindles);
        let config = ForecastConfig { accepted_risk, horizon_days, ..ForecastConfig::of(&shop) };
        check_all(&shop, day(as_of), &config);
    }
}
