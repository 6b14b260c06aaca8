//! What holds for the forecast of any shop, tried on many that are drawn by chance (and invented):
//! more usage, less risk, the order of days, units, the order of entry, other interfaces.

use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::model::setting_dimension::DimensionParameters;
use almanac_core::forecast::{
    ForecastConfig, HORIZON_DAYS, NoProgress, PlannedUsage, ShopForecast, SpindleForecast, forecast_shop, project_shop,
};
use almanac_core::ids::{MachineId, MeterReadingId, MountingId, ReadingId, Row, ServiceId, SpindleId};
use almanac_core::machine::Position;
use almanac_core::meter::MeterOwner;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{ClampCycles, Millimetres, Percent, RunHours, Unit};
use almanac_tests::fleet::{Dice, fleet, last_day};
use almanac_tests::hand_shop::{HandShop, day};
use chrono::NaiveDate;
use proptest::prelude::*;
use std::collections::BTreeMap;
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
    cycles_per_hour: f64,
    /// The last day on which its meters are read.
    metered_until: u64,
}

/// Clamp cycles in a run hour: by interface far apart, and no two spindles alike.
fn ratio(interface: &str, share: f64) -> f64 {
    let (low, high) = if interface == "HSK-A63" { (8.0, 14.0) } else { (25.0, 40.0) };
    low + (high - low) * share
}

fn life(interfaces: &'static [&'static str]) -> impl Strategy<Value = Life> {
    let interface = prop::sample::select(interfaces);
    let off = prop::collection::vec(prop_oneof![9 => -1.5..1.5_f64, 1 => -15.0..15.0_f64], 12);
    let wear = (2.0..20.0_f64, 1.0..14.0_f64, 70_u64..400, off);
    let meter = (0.0..1.0_f64, prop::sample::select(&[600, 840, AS_OF][..]));
    (interface, wear, meter, any::<bool>(), -0.03..0.03_f64).prop_map(
        |(interface, (hours_per_day, loss, every, off), (share, metered_until), is_new, setting_drift)| Life {
            interface,
            hours_per_day,
            loss,
            every,
            off,
            is_new,
            setting_drift,
            cycles_per_hour: ratio(interface, share),
            metered_until,
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
    made_of(lives, typed).shop()
}

fn made_of(lives: &[Life], typed: Typed) -> HandShop {
    let mut made = HandShop::new();
    for (number, life) in lives.iter().enumerate() {
        let nominal = 18.0;
        let machine = made.machine(&format!("M-{number:02}"));
        let installed = life.is_new.then(|| day(0));
        let spindle = made.spindle_of(life.interface, &format!("S-{number:02}"), nominal, installed);
        made.mount(spindle, machine, day(0), None);
        made.limits(spindle, |limits| {
            limits.every_hours = RunHours::new(6000.0);
            limits.every_cycles = ClampCycles::new(90_000.0);
            limits.setting_dimension = Millimetres::new(10.5);
            limits.setting_tolerance = Millimetres::new(0.1);
        });
        let owner = MeterOwner::Position(Position { machine, number: 1 });
        for on in (0..=life.metered_until).step_by(60) {
            let hours = (life.hours_per_day * on as f64).round();
            made.meter(owner, day(on), Some(hours), Some((hours * life.cycles_per_hour).round()));
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
    made
}

/// The same with what makes an order matter at all: figures that were corrected, several readings, meter
/// readings and services of one day, spindles that changed places.
fn shop_with_corrections(lives: &[Life]) -> Shop {
    let mut made = made_of(lives, METRIC);
    let spindles: Vec<SpindleId> = made.shop().spindles.keys().copied().collect();
    let machines: Vec<MachineId> = made.shop().machines.keys().copied().collect();
    let (moved, read, served) = (day(450), day(501), day(640));
    for mounting in Arc::make_mut(&mut made.tables().mountings).iter_mut().take(2) {
        mounting.value.removed_on = Some(moved);
    }
    made.mount(spindles[0], machines[1], moved, None);
    made.mount(spindles[1], machines[0], moved, None);
    let [was, is] = [day(505), day(509)];
    for spindle in &spindles {
        made.force(*spindle, read, 11.1);
        made.last_reading(|reading| (reading.recorded_on, reading.replaced_on) = (Some(was), Some(is)));
        made.force(*spindle, read, 16.6);
        made.last_reading(|reading| reading.recorded_on = Some(is));
        made.force(*spindle, read, 16.9);
        made.reading(*spindle, served, Phase::AsFound, Unit::Kilonewton, &["15.9", "16.0"]);
        made.reading(*spindle, served, Phase::AsFound, Unit::Kilonewton, &["16.4"]);
        made.service(*spindle, served, Kind::Minor);
        made.service(*spindle, served, Kind::Major);
        made.reading(*spindle, served, Phase::AsLeft, Unit::Kilonewton, &["17.3"]);
        made.reading(*spindle, served, Phase::AsLeft, Unit::Millimetre, &["10.52"]);
        made.reading(*spindle, served, Phase::AsLeft, Unit::Millimetre, &["10.46"]);
    }
    for (machine, life) in machines.iter().zip(lives) {
        let on = 70;
        made.hours_at(*machine, day(on), 9.0 * life.hours_per_day * on as f64);
        let meters = Arc::make_mut(&mut made.tables().meters);
        let wrong = &mut meters.last_mut().unwrap().value;
        (wrong.recorded_on, wrong.replaced_on) = (Some(was), Some(is));
        made.hours_at(*machine, day(on), (life.hours_per_day * on as f64).round());
        Arc::make_mut(&mut made.tables().meters).last_mut().unwrap().value.recorded_on = Some(is);
        for more in [0.0, 3.0] {
            made.hours_at(*machine, day(610), (life.hours_per_day * 610.0).round() + more);
        }
    }
    made.shop()
}

/// In an order by chance.
fn shuffle<T>(rows: &mut [T], dice: &mut Dice) {
    for index in (1..rows.len()).rev() {
        rows.swap(index, (dice.unit() * (index + 1) as f64) as usize);
    }
}

/// So many row numbers in an order by chance, with gaps.
fn numbers(count: usize, dice: &mut Dice) -> Vec<i64> {
    let mut numbers: Vec<i64> = (0..count as i64).map(|number| 1000 + 3 * number).collect();
    shuffle(&mut numbers, dice);
    numbers
}

/// The rows of a table under other numbers and in another order.
fn entered_anew<I, T>(rows: &mut [Row<I, T>], of_row: fn(i64) -> I, dice: &mut Dice) {
    let new_numbers = numbers(rows.len(), dice);
    for (row, number) in rows.iter_mut().zip(new_numbers) {
        row.id = of_row(number);
    }
    shuffle(rows, dice);
}

/// The same records as if they had been entered in another order: each row has another number, and
/// references follow.
fn shop_entered_anew(shop: &Shop, seed: u64) -> Shop {
    let mut dice = Dice::new(seed);
    let mut anew = shop.clone();
    let new_numbers = numbers(shop.machines.len(), &mut dice).into_iter().map(MachineId::from_row);
    let machines: BTreeMap<MachineId, MachineId> = shop.machines.keys().copied().zip(new_numbers).collect();
    let new_numbers = numbers(shop.spindles.len(), &mut dice).into_iter().map(SpindleId::from_row);
    let spindles: BTreeMap<SpindleId, SpindleId> = shop.spindles.keys().copied().zip(new_numbers).collect();
    anew.machines = Arc::new(shop.machines.iter().map(|(id, machine)| (machines[id], machine.clone())).collect());
    anew.spindles = Arc::new(shop.spindles.iter().map(|(id, spindle)| (spindles[id], spindle.clone())).collect());
    let at = |position: Position| Position { machine: machines[&position.machine], ..position };
    let mountings = Arc::make_mut(&mut anew.mountings);
    for Row { value, .. } in mountings.iter_mut() {
        (value.spindle, value.position) = (spindles[&value.spindle], at(value.position));
    }
    entered_anew(mountings, MountingId::from_row, &mut dice);
    let meters = Arc::make_mut(&mut anew.meters);
    for Row { value, .. } in meters.iter_mut() {
        value.owner = match value.owner {
            MeterOwner::Spindle(id) => MeterOwner::Spindle(spindles[&id]),
            MeterOwner::Position(position) => MeterOwner::Position(at(position)),
        };
    }
    entered_anew(meters, MeterReadingId::from_row, &mut dice);
    let readings = Arc::make_mut(&mut anew.readings);
    for Row { value, .. } in readings.iter_mut() {
        value.spindle = spindles[&value.spindle];
    }
    entered_anew(readings, ReadingId::from_row, &mut dice);
    let services = Arc::make_mut(&mut anew.services);
    for Row { value, .. } in services.iter_mut() {
        value.spindle = spindles[&value.spindle];
    }
    entered_anew(services, ServiceId::from_row, &mut dice);
    anew.sorted()
}

/// All sentences on a spindle.
fn sentences(found: &SpindleForecast) -> Vec<String> {
    // these stand in the order of their row numbers
    let mut left_out: Vec<String> = found.left_out.iter().map(|(_, why)| why.clone()).collect();
    left_out.sort();
    [vec![found.reason.clone()], found.warnings.clone(), left_out].concat()
}

/// Whether two sentences say the same but for whole numbers, such as days, that differ by one.
fn say_the_same(first: &str, second: &str) -> bool {
    let words = |text: &str| -> Vec<String> { text.split([' ', '.', ',', ';', ':']).map(str::to_owned).collect() };
    let (first, second) = (words(first), words(second));
    let number = |word: &str| word.parse::<i64>().ok();
    let alike = |(a, b): (&String, &String)| match (number(a), number(b)) {
        (Some(a), Some(b)) => (a - b).abs() <= 1,
        _ => a == b,
    };
    first.len() == second.len() && first.iter().zip(&second).all(alike)
}

/// How many days apart two dates are; far apart where only one lies within the horizon.
fn days_apart(first: Option<NaiveDate>, second: Option<NaiveDate>) -> i64 {
    match (first, second) {
        (Some(first), Some(second)) => (first - second).num_days().abs(),
        (None, None) => 0,
        _ => i64::from(HORIZON_DAYS),
    }
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
        ("clamp cycles".to_owned(), found.due_clamp_cycles),
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
        // as measured is the whole of what meters show
        let mut shares = [shares[0], shares[1], 100.0];
        shares.sort_by(f64::total_cmp);
        let of = |share: f64| {
            let share = Percent::new(share).unwrap();
            let planned = if share.get() == 100.0 { PlannedUsage::AsMeasured } else { PlannedUsage::Share(share) };
            project(&shop, &fits, &config(0.1, planned))
        };
        let all = shares.map(of);
        for (shares, pair) in shares.windows(2).zip(all.windows(2)) {
            let (less, more) = (&pair[0], &pair[1]);
            for (id, found) in &less.spindles {
                for ((name, later), (_, sooner)) in dates(found).into_iter().zip(dates(&more.spindles[id])) {
                    prop_assert!(
                        not_later(sooner, later),
                        "{name}: {} % {later:?}, {} % {sooner:?}", shares[0], shares[1]
                    );
                }
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
            prop_assert!(not_later(found.due_clamp_cycles, later.due_clamp_cycles));
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
        let expected = project(&plain, &fit(&plain), &config(0.1, PlannedUsage::AsMeasured));
        for typed in [
            Typed { force: Unit::PoundForce, length: Unit::Inch },
            Typed { force: Unit::Newton, length: Unit::Millimetre },
        ] {
            let shop = shop_of(&lives, typed);
            let found = project(&shop, &fit(&shop), &config(0.1, PlannedUsage::AsMeasured));
            for (id, found) in &found.spindles {
                let expected = &expected.spindles[id];
                prop_assert!((found.force_now.mean.get() - expected.force_now.mean.get()).abs() < 1e-5);
                for ((name, found), (_, expected)) in dates(found).into_iter().zip(dates(expected)) {
                    // typed to nine decimals: a day may change where it was just reached
                    prop_assert!(days_apart(found, expected) <= 1, "{name}: {found:?}, in kN and mm {expected:?}");
                }
            }
        }
    }

    #[test]
    fn the_order_of_entry_never_matters(lives in prop::collection::vec(life(TWO), 3..6), seed in any::<u64>()) {
        let shop = shop_with_corrections(&lives);
        let anew = shop_entered_anew(&shop, seed);
        prop_assert_ne!(&anew.spindles, &shop.spindles);
        let config = config(0.1, PlannedUsage::AsMeasured);
        let (first, second) = (project(&shop, &fit(&shop), &config), project(&anew, &fit(&anew), &config));
        prop_assert_eq!(first.spindles.len(), second.spindles.len());
        for (id, second) in &second.spindles {
            let name = &anew.spindles[id].name;
            let first = &first.spindles[&shop.spindle_named(name).unwrap()];
            prop_assert_eq!(second.governing, first.governing, "{}", name);
            let [one, other] = [first, second].map(|found| found.force_now.mean.get());
            prop_assert!((one - other).abs() < 1e-8, "{name}: {one} kN, entered anew {other} kN");
            // sums are taken in another order: a day may change where it was just reached
            for ((date, one), (_, other)) in dates(first).into_iter().zip(dates(second)) {
                prop_assert!(days_apart(one, other) <= 1, "{name} {date}: {one:?}, entered anew {other:?}");
            }
            let (one, other) = (sentences(first), sentences(second));
            prop_assert_eq!(one.len(), other.len());
            for (one, other) in one.iter().zip(&other) {
                prop_assert!(say_the_same(one, other), "{name}: {one} Entered anew: {other}");
            }
        }
    }

    /// Usage is fitted over the whole shop, wear by interface.
    #[test]
    fn a_spindle_of_another_interface_changes_the_wear_of_no_other_group(
        lives in prop::collection::vec(life(ONE), 3..6),
        others in prop::collection::vec(life(&["PSC 63"]), 3..5),
        one_more in life(&["HSK-F63"]),
    ) {
        let mut lives = [lives, others].concat();
        let before = fit(&shop_of(&lives, METRIC));
        lives.push(one_more);
        let after = fit(&shop_of(&lives, METRIC));
        prop_assert_eq!(before.interfaces.len(), 2);
        for (interface, fit) in &before.interfaces {
            prop_assert_eq!(&after.interfaces[interface].parameters, &fit.parameters);
            prop_assert_eq!(after.interfaces[interface].counting, fit.counting);
            prop_assert_eq!(after.interfaces[interface].cycles_per_hour, fit.cycles_per_hour);
            prop_assert_ne!(&fit.dimension, &DimensionParameters::default(), "the drift was fitted at all");
            prop_assert_eq!(&after.interfaces[interface].dimension, &fit.dimension);
        }
    }
}

/// Fitting anew and projecting with the fit is the same.
#[test]
fn the_order_of_entry_does_not_choose_who_is_learnt_from() {
    // usage is learnt from 60 spindles at most
    let shop = fleet(75, 7).apply_to(&Shop::default()).sorted();
    let fitted = |shop: &Shop| ShopFits::fit(shop, last_day(), &NoProgress).unwrap();
    let (first, anew) = (fitted(&shop), fitted(&shop_entered_anew(&shop, 5)));
    let figures = |fits: &ShopFits| {
        let usage = fits.usage.hours;
        let groups = fits.interfaces.values().map(|fit| fit.parameters.beta);
        [usage.wandering, usage.segment, usage.change_hazard, usage.stops_per_year]
            .into_iter()
            .chain(groups)
            .collect::<Vec<f64>>()
    };
    for (one, other) in figures(&first).into_iter().zip(figures(&anew)) {
        assert!((one / other - 1.0).abs() < 1e-6, "{one} {other}");
    }
}

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
        cycles_per_hour: 12.0,
        metered_until: 840,
    };
    let lives = [life.clone(), Life { loss: 6.0, ..life.clone() }, Life { loss: 7.0, ..life }];
    let shop = shop_of(&lives, METRIC);
    let config = config(0.1, PlannedUsage::AsMeasured);
    let at_once = forecast_shop(&shop, day(AS_OF), &config, &NoProgress).unwrap();
    assert_eq!(at_once, project(&shop, &fit(&shop), &config));
    assert_eq!(at_once.spindles.len(), 3);
}
