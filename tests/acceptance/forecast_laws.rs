//! What holds for the forecast of any shop, tried on many that are drawn by chance (and invented):
//! more usage, less risk, the order of days, units, the order of entry, other interfaces.

use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{
    ForecastConfig, HORIZON_DAYS, NoProgress, PlannedUsage, ShopForecast, SpindleForecast, forecast_shop, project_shop,
};
use almanac_core::machine::Position;
use almanac_core::meter::MeterOwner;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{Percent, RunHours, Unit};
use almanac_tests::hand_shop::{HandShop, day};
use chrono::NaiveDate;
use proptest::prelude::*;
use std::sync::Arc;

const AS_OF: u64 = 900;

/// A spindle as it wears, in figures that a shop may have.
#[derive(Debug, Clone)]
struct Life {
    interface: &'static str,
    hours_per_day: f64,
    /// Percent of nominal per 1,000 h.
    loss: f64,
    /// Days between readings.
    every: u64,
    /// What each reading is off, percent of nominal.
    off: Vec<f64>,
    is_new: bool,
    setting_drift: f64,
}

fn life(interfaces: &'static [&'static str]) -> impl Strategy<Value = Life> {
    let interface = prop::sample::select(interfaces);
    let off = prop::collection::vec(prop_oneof![9 => -1.5..1.5_f64, 1 => -15.0..15.0_f64], 12);
    (interface, 2.0..20.0_f64, 1.0..14.0_f64, 70_u64..400, off, any::<bool>(), -0.03..0.03_f64).prop_map(
        |(interface, hours_per_day, loss, every, off, is_new, setting_drift)| Life {
            interface,
            hours_per_day,
            loss,
            every,
            off,
            is_new,
            setting_drift,
        },
    )
}

/// How figures are typed.
#[derive(Debug, Clone, Copy)]
struct Typed {
    force: Unit,
    length: Unit,
}

const METRIC: Typed = Typed { force: Unit::Kilonewton, length: Unit::Millimetre };

fn shop_of(lives: &[Life], typed: Typed) -> Shop {
    let mut made = HandShop::new();
    for (number, life) in lives.iter().enumerate() {
        let nominal = 18.0;
        let machine = made.machine(&format!("M-{number:02}"));
        let installed = life.is_new.then(|| day(0));
        let spindle = made.spindle_of(life.interface, &format!("S-{number:02}"), nominal, installed);
        made.mount(spindle, machine, day(0), None);
        made.limits(spindle, |limits| limits.every_hours = RunHours::new(6000.0));
        let owner = MeterOwner::Position(Position { machine, number: 1 });
        for on in (0..AS_OF).step_by(60) {
            let hours = (life.hours_per_day * on as f64).round();
            made.meter(owner, day(on), Some(hours), Some((hours * 12.0).round()));
        }
        let (mut percent, mut setting, mut last) = (97.0, 10.5, 0);
        for (on, off) in (20..AS_OF).step_by(life.every as usize).zip(&life.off) {
            let k = life.hours_per_day * (on - last) as f64 / 1000.0;
            percent -= life.loss * k;
            setting += life.setting_drift * k;
            last = on;
            let force = (nominal * (percent + off) / 100.0).max(1.0);
            let phase = if percent < 82.0 { Phase::AsFound } else { Phase::Routine };
            let text = |unit: Unit, base: f64| format!("{:.9}", unit.from_base(base));
            let strokes = [0.998, 1.0, 1.002].map(|factor| text(typed.force, force * factor));
            made.reading(spindle, day(on), phase, typed.force, &strokes.each_ref().map(String::as_str));
            made.reading(spindle, day(on), phase, typed.length, &[&text(typed.length, setting)]);
            if percent < 82.0 {
                made.service(spindle, day(on), Kind::Minor);
                (percent, setting) = (96.5, 10.5);
            }
        }
    }
    made.shop()
}

fn config(accepted_risk: f64, planned: PlannedUsage) -> ForecastConfig {
    ForecastConfig { accepted_risk, horizon_days: HORIZON_DAYS, planned }
}

fn fit(shop: &Shop) -> Arc<ShopFits> {
    Arc::new(ShopFits::fit(&shop.known_on(day(AS_OF)), day(AS_OF), &NoProgress).unwrap())
}

fn project(shop: &Shop, fits: &Arc<ShopFits>, config: &ForecastConfig) -> ShopForecast {
    project_shop(shop, day(AS_OF), config, fits, &NoProgress).unwrap()
}

/// Dates that a longer life makes later; a missing one lies beyond the horizon.
fn dates(found: &SpindleForecast) -> Vec<(String, Option<NaiveDate>)> {
    let crossings = [
        ("service limit", found.cross_service_limit),
        ("stop limit", found.cross_stop_limit),
        ("setting dimension", found.cross_setting_dimension),
    ];
    let mut dates = vec![
        ("service by".to_owned(), found.service_by),
        ("run hours".to_owned(), found.due_run_hours),
        ("major".to_owned(), found.major_service_by),
    ];
    for (name, crossing) in crossings {
        let days = crossing.unwrap_or_default().days;
        dates.extend(days.into_iter().enumerate().map(|(index, day)| (format!("{name} {index}"), day)));
    }
    dates
}

/// Whether the first is not later than the second.
fn not_later(first: Option<NaiveDate>, second: Option<NaiveDate>) -> bool {
    first.unwrap_or(NaiveDate::MAX) <= second.unwrap_or(NaiveDate::MAX)
}

const ONE: &[&str] = &["HSK-A63"];
const TWO: &[&str] = &["HSK-A63", "PSC 63"];

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, ..ProptestConfig::default() })]

    #[test]
    fn more_usage_never_moves_a_date_later(
        lives in prop::collection::vec(life(TWO), 3..7),
        shares in prop::collection::vec(20.0..400.0_f64, 2),
    ) {
        let shop = shop_of(&lives, METRIC);
        let fits = fit(&shop);
        let (low, high) = (shares[0].min(shares[1]), shares[0].max(shares[1]));
        let of = |share| {
            project(&shop, &fits, &config(0.1, PlannedUsage::Share(Percent::new(share).unwrap())))
        };
        let (less, more) = (of(low), of(high));
        for (id, found) in &less.spindles {
            for ((name, later), (_, sooner)) in dates(found).into_iter().zip(dates(&more.spindles[id])) {
                prop_assert!(not_later(sooner, later), "{name}: {low} % {later:?}, {high} % {sooner:?}");
            }
        }
    }

    #[test]
    fn a_lower_accepted_risk_never_moves_service_by_later(
        lives in prop::collection::vec(life(TWO), 3..7),
        risks in prop::collection::vec(0.005..0.6_f64, 2),
    ) {
        let shop = shop_of(&lives, METRIC);
        let fits = fit(&shop);
        let (low, high) = (risks[0].min(risks[1]), risks[0].max(risks[1]));
        let careful = project(&shop, &fits, &config(low, PlannedUsage::AsMeasured));
        let bold = project(&shop, &fits, &config(high, PlannedUsage::AsMeasured));
        for (id, found) in &careful.spindles {
            let later = &bold.spindles[id];
            prop_assert!(
                not_later(found.service_by, later.service_by),
                "{low}: {:?}, {high}: {:?}", found.service_by, later.service_by
            );
            prop_assert!(not_later(found.due_run_hours, later.due_run_hours));
        }
    }

    #[test]
    fn quantiles_are_ordered(lives in prop::collection::vec(life(TWO), 3..7)) {
        let shop = shop_of(&lives, METRIC);
        let all = project(&shop, &fit(&shop), &config(0.1, PlannedUsage::AsMeasured));
        for found in all.spindles.values() {
            for crossing in [found.cross_service_limit, found.cross_stop_limit, found.cross_setting_dimension] {
                let days = crossing.unwrap_or_default().days;
                for pair in days.windows(2) {
                    prop_assert!(not_later(pair[0], pair[1]), "{days:?}");
                }
            }
            // the stop limit lies below the service limit
            let (service, stop) = (found.cross_service_limit.unwrap(), found.cross_stop_limit.unwrap());
            for (service, stop) in service.days.into_iter().zip(stop.days) {
                prop_assert!(not_later(service, stop), "{service:?} {stop:?}");
            }
            for day in &found.fan {
                prop_assert!(day.force.windows(2).all(|pair| pair[0] <= pair[1]), "{:?}", day.force);
            }
            let [early, late] = found.major_service_between;
            prop_assert!(not_later(early, found.major_service_by) && not_later(found.major_service_by, late));
        }
    }

    #[test]
    fn the_unit_of_entry_never_matters(lives in prop::collection::vec(life(ONE), 3..6)) {
        let plain = shop_of(&lives, METRIC);
        let fits = fit(&plain);
        let expected = project(&plain, &fits, &config(0.1, PlannedUsage::AsMeasured));
        for typed in [
            Typed { force: Unit::PoundForce, length: Unit::Inch },
            Typed { force: Unit::Newton, length: Unit::Millimetre },
        ] {
            let shop = shop_of(&lives, typed);
            let found = project(&shop, &fits, &config(0.1, PlannedUsage::AsMeasured));
            for (id, found) in &found.spindles {
                let expected = &expected.spindles[id];
                prop_assert!((found.force_now.mean.get() - expected.force_now.mean.get()).abs() < 1e-5);
                for ((name, found), (_, expected)) in dates(found).into_iter().zip(dates(expected)) {
                    // typed to nine decimals: a day may change where it was just reached
                    let apart = match (found, expected) {
                        (Some(found), Some(expected)) => (found - expected).num_days().abs(),
                        (None, None) => 0,
                        _ => i64::from(HORIZON_DAYS),
                    };
                    prop_assert!(apart <= 1, "{name}: {found:?}, in kN and mm {expected:?}");
                }
            }
        }
    }

    #[test]
    fn the_order_of_entry_never_matters(lives in prop::collection::vec(life(TWO), 3..6), seed in any::<u64>()) {
        let shop = shop_of(&lives, METRIC);
        let fits = fit(&shop);
        let mut shuffled = shop.clone();
        let mut chance = seed | 1;
        let mut below = |count: usize| {
            chance = chance.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (chance >> 33) as usize % count.max(1)
        };
        let readings = Arc::make_mut(&mut shuffled.readings);
        for index in (1..readings.len()).rev() {
            readings.swap(index, below(index + 1));
        }
        let meters = Arc::make_mut(&mut shuffled.meters);
        for index in (1..meters.len()).rev() {
            meters.swap(index, below(index + 1));
        }
        let shuffled = shuffled.sorted();
        prop_assert_eq!(&fit(&shuffled), &fits);
        let config = config(0.1, PlannedUsage::AsMeasured);
        prop_assert_eq!(project(&shuffled, &fits, &config), project(&shop, &fits, &config));
    }

    /// Usage is fitted over the whole shop, wear by interface.
    #[test]
    fn a_spindle_of_another_interface_changes_the_wear_of_no_other_group(
        lives in prop::collection::vec(life(ONE), 3..7),
        other in life(&["PSC 63"]),
    ) {
        let before = fit(&shop_of(&lives, METRIC));
        let mut more = lives.clone();
        more.push(other);
        let after = fit(&shop_of(&more, METRIC));
        prop_assert_eq!(before.interfaces.len(), 1);
        for (interface, fit) in &before.interfaces {
            prop_assert_eq!(&after.interfaces[interface].parameters, &fit.parameters);
            prop_assert_eq!(after.interfaces[interface].counting, fit.counting);
        }
    }
}

/// Fitting anew and projecting with the fit is the same.
#[test]
fn a_shop_without_a_fit_is_fitted_first() {
    let life = Life {
        interface: "HSK-A63",
        hours_per_day: 8.0,
        loss: 5.0,
        every: 110,
        off: vec![0.3, -0.4, 0.1, 0.0, -0.2, 0.5, -0.6, 0.2],
        is_new: true,
        setting_drift: 0.004,
    };
    let lives = [life.clone(), Life { loss: 6.0, ..life.clone() }, Life { loss: 7.0, ..life }];
    let shop = shop_of(&lives, METRIC);
    let config = config(0.1, PlannedUsage::AsMeasured);
    let at_once = forecast_shop(&shop, day(AS_OF), &config, &NoProgress).unwrap();
    assert_eq!(at_once, project(&shop, &fit(&shop), &config));
    assert_eq!(at_once.spindles.len(), 3);
}
