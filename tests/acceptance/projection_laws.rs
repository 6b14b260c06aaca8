//! What holds for the projection of any shop: nothing later is used, order and units do not matter,
//! it stops when asked, and whatever anybody may enter gives finite figures.

use super::projection::{near, one, project, straight_wear};
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{
    Cancelled, ForecastBasis, ForecastConfig, NoProgress, Progress, ShopForecast, SpindleForecast, forecast_shop,
    forecast_spindle,
};
use almanac_core::ids::{Row, SpindleId};
use almanac_core::machine::Position;
use almanac_core::meter::MeterOwner;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{ClampCycles, Millimetres, RunHours, Unit};
use almanac_tests::hand_shop::{HandShop, day};
use chrono::{Days, NaiveDate};
use std::cell::Cell;
use std::sync::Arc;

#[test]
fn nothing_dated_or_entered_later_is_used() {
    let (mut made, spindle, machine) = straight_wear();
    let before = project(&made.shop(), day(200));
    made.force(spindle, day(201), 10.0);
    made.force(spindle, day(150), 10.0);
    made.last_reading(|reading| reading.recorded_on = Some(day(201)));
    made.hours_at(machine, day(260), 9000.0);
    made.service(spindle, day(230), Kind::Major);
    let readings = Arc::make_mut(&mut made.tables().readings);
    readings[0].value.replaced_on = Some(day(202));
    Arc::make_mut(&mut made.tables().mountings)[0].value.removed_on = Some(day(220));
    assert_eq!(project(&made.shop(), day(200)), before);
    // while from then on it counts
    assert_ne!(project(&made.shop(), day(230)).spindles, before.spindles);
}

#[test]
fn the_order_of_rows_never_matters() {
    let (mut made, spindle, machine) = straight_wear();
    made.hours_at(machine, day(200), 1990.0);
    made.reading(spindle, day(100), Phase::AsFound, Unit::Kilonewton, &["18.1"]);
    made.service(spindle, day(100), Kind::Minor);
    made.reading(spindle, day(100), Phase::AsLeft, Unit::Kilonewton, &["19.0"]);
    made.reading(spindle, day(100), Phase::AsLeft, Unit::Kilonewton, &["19.1"]);
    let straight = project(&made.shop(), day(200));
    let tables = made.tables();
    Arc::make_mut(&mut tables.readings).reverse();
    Arc::make_mut(&mut tables.meters).reverse();
    let count = tables.readings.len() as i64;
    for (index, row) in Arc::make_mut(&mut tables.readings).iter_mut().enumerate() {
        row.id = almanac_core::ids::ReadingId::from_row(500 + count - index as i64);
    }
    // but for the numbers of the rows themselves
    let unnumbered = |mut forecast: ShopForecast| {
        for found in forecast.spindles.values_mut() {
            for reading in &mut Arc::make_mut(found).readings {
                reading.reading = almanac_core::ids::ReadingId::from_row(0);
            }
        }
        forecast
    };
    assert_eq!(unnumbered(project(&made.shop(), day(200))), unnumbered(straight));
}

#[test]
fn the_unit_of_entry_never_matters() {
    let dates = |unit: Unit| {
        let mut made = HandShop::new();
        let machine = made.machine("R-01");
        let spindle = made.spindle("S-1", 20.0, Some(day(0)));
        made.mount(spindle, machine, day(0), None);
        for (on, hours, force) in [(0, 0.0, 19.2), (100, 1000.0, 18.0), (200, 2000.0, 16.8)] {
            made.hours_at(machine, day(on), hours);
            made.reading(spindle, day(on), Phase::Routine, unit, &[&unit.from_base(force).to_string()]);
        }
        one(&made, spindle, day(200))
    };
    let plain = dates(Unit::Kilonewton);
    for unit in [Unit::Newton, Unit::PoundForce] {
        let found = dates(unit);
        assert_eq!(found.service_by, plain.service_by);
        assert_eq!(found.cross_stop_limit, plain.cross_stop_limit);
        near(found.force_now.mean.get(), plain.force_now.mean.get());
    }
}

#[test]
fn one_spindle_anew_is_the_same_as_all_anew() {
    let (mut made, spindle, machine) = straight_wear();
    let other = made.machine("R-02");
    let second = made.spindle("S-2", 20.0, None);
    made.mount(second, other, day(0), None);
    made.hours_at(other, day(50), 300.0);
    made.hours_at(other, day(190), 1800.0);
    made.force(second, day(60), 19.0);
    let shop = made.shop();
    let config = ForecastConfig::of(&shop);
    let fits = std::sync::Arc::new(ShopFits::fit(&shop.known_on(day(200)), day(200), &NoProgress).unwrap());
    let basis = ForecastBasis::of(&shop, day(200), &config, &fits, &NoProgress).unwrap();
    let all = project(&shop, day(200));
    for id in [spindle, second] {
        let alone = forecast_spindle(&shop, day(200), &config, &fits, basis.groups(), id).unwrap();
        assert_eq!(alone, *all.spindles[&id]);
    }
    made.hours_at(machine, day(200), 2001.0);
    assert!(
        forecast_spindle(&made.shop(), day(200), &config, &fits, basis.groups(), SpindleId::from_row(999)).is_none()
    );
}

struct StopAfter {
    steps: Cell<usize>,
    most: usize,
}

impl Progress for StopAfter {
    fn step(&self, _done: usize, _total: usize) -> bool {
        self.steps.set(self.steps.get() + 1);
        self.steps.get() <= self.most
    }
}

#[test]
fn it_stops_when_asked() {
    let (made, _, _) = straight_wear();
    let shop = made.shop();
    for most in 0..3 {
        let progress = StopAfter { steps: Cell::new(0), most };
        assert_eq!(forecast_shop(&shop, day(200), &ForecastConfig::of(&shop), &progress), Err(Cancelled));
        assert_eq!(progress.steps.get(), most + 1, "it stopped at once");
    }
    let progress = StopAfter { steps: Cell::new(0), most: 99 };
    assert!(forecast_shop(&shop, day(200), &ForecastConfig::of(&shop), &progress).is_ok());
}

/// Whatever is entered: every figure finite, every date in order and within the horizon.
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
    assert!(!found.reason.is_empty() && !found.reason.contains("NaN") && !found.reason.contains("inf"));
}

mod absurd {
    use super::*;
    use proptest::prelude::*;

    fn figure() -> impl Strategy<Value = f64> {
        prop_oneof![
            0.0..30.0_f64,
            0.0..1e6_f64,
            Just(1e-300),
            Just(1e300),
            Just(f64::MAX),
            Just(f64::MIN_POSITIVE),
            Just(901_000.0)
        ]
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
        let on = prop_oneof![0_u64..400, 0_u64..4000];
        let phase = prop_oneof![Just(Phase::Routine), Just(Phase::AsFound), Just(Phase::AsLeft)];
        prop_oneof![
            4 => (on.clone(), figure(), phase, any::<bool>()).prop_map(|(d, v, p, doubt)| Entry::Force(d, v, p, doubt)),
            1 => (on.clone(), figure()).prop_map(|(d, v)| Entry::Setting(d, v)),
            3 => (on.clone(), figure(), any::<bool>()).prop_map(|(d, v, r)| Entry::Hours(d, v, r)),
            1 => (on.clone(), figure()).prop_map(|(d, v)| Entry::Cycles(d, v)),
            1 => (on.clone(), any::<bool>()).prop_map(|(d, major)| Entry::Service(d, major)),
            1 => (on, 0_u64..500).prop_map(|(d, length)| Entry::Closure(d, length)),
        ]
    }

    fn shop_of(entries: &[Entry], nominal: f64, mounted: bool, tolerance: f64) -> (Shop, SpindleId) {
        let mut made = HandShop::new();
        let machine = made.machine("R-01");
        let spindle = made.spindle("S-1", nominal, None);
        if mounted {
            made.mount(spindle, machine, day(100), None);
        }
        made.limits(spindle, |limits| {
            limits.setting_tolerance = Millimetres::new(tolerance);
            limits.every_hours = RunHours::new(2000.0);
            limits.every_cycles = ClampCycles::new(1e6);
            limits.every_months = Some(12);
        });
        for entry in entries {
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
        // strokes beyond any number are refused at the door, and so are readings without one
        Arc::make_mut(&mut made.tables().readings)
            .retain(|row: &Row<_, almanac_core::reading::Reading>| row.value.clone().checked().is_ok());
        (made.shop(), spindle)
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

        #[test]
        fn finite_entries_give_finite_dates(
            entries in prop::collection::vec(entry(), 0..40),
            nominal in prop_oneof![1.0..100.0_f64, Just(1e-200), Just(1e200)],
            mounted in prop::bool::weighted(0.9),
            tolerance in prop_oneof![0.01..1.0_f64, Just(1e-200), Just(1e200)],
            as_of in 0_u64..4200,
            risk in 0.001..0.5_f64,
            horizon_days in prop_oneof![Just(1825_u32), 1_u32..4000],
        ) {
            let (shop, spindle) = shop_of(&entries, nominal, mounted, tolerance);
            let config = ForecastConfig { accepted_risk: risk, horizon_days, ..ForecastConfig::of(&shop) };
            let all = forecast_shop(&shop, day(as_of), &config, &NoProgress).unwrap();
            check_sane(&all.spindles[&spindle], day(as_of), horizon_days);
            let list = almanac_core::due::due_list(&shop, &all);
            prop_assert_eq!(list.rows.len(), 1);
            prop_assert!(almanac_core::due::to_json(&shop, &all, &list).is_ok());
        }
    }
}
