//! What holds for the projection of any shop: nothing later is used, order and units do not matter,
//! and it stops when asked.

use super::projection::{near, one, project, project_plainly, straight_wear};
use super::what_if::Stand;
use almanac_core::best_interval::best_intervals;
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::model::improvements::Improvements;
use almanac_core::forecast::next_reading::next_readings;
use almanac_core::forecast::{
    Cancelled, ForecastBasis, ForecastConfig, NoProgress, PlannedUsage, Progress, ShopForecast, SpindleForecast,
    forecast_shop, forecast_spindle, project_shop,
};
use almanac_core::ids::{MeterReadingId, OrderId, ReadingId, Row, ServiceId, SpindleId};
use almanac_core::meter::MeterReading;
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, Service};
use almanac_core::shop::Shop;
use almanac_core::units::{Money, Percent, RunHours, Unit};
use almanac_core::what_if::WhatIf;
use almanac_tests::fleet::{Rounds, fleet_read, last_day};
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

/// The same shop with figures that nobody could know on `as_of`: dated, entered or corrected later.
fn with_later_rows(shop: &Shop, as_of: NaiveDate) -> Shop {
    let mut later = shop.clone();
    let (ago, ahead) = (|days: u64| Moment::day(as_of - Days::new(days)), |days: u64| as_of + Days::new(days));
    let stroke = |typed: &str, unit: Unit| vec![Stroke::parse(typed, unit).unwrap()];
    let readings = Arc::make_mut(&mut later.readings);
    let meters = Arc::make_mut(&mut later.meters);
    let services = Arc::make_mut(&mut later.services);
    for row in readings.iter_mut().step_by(7) {
        row.value.replaced_on = Some(ahead(3));
    }
    for row in meters.iter_mut().step_by(5) {
        row.value.replaced_on = Some(ahead(3));
    }
    for row in services.iter_mut().step_by(3) {
        row.value.replaced_on = Some(ahead(3));
    }
    let mut number = 900_000;
    let mut next = || {
        number += 1;
        number
    };
    for (id, spindle) in shop.spindles.iter() {
        let low = format!("{:.2}", 0.72 * spindle.nominal_force.get());
        let of = |at, typed: &str, unit| Reading::of(*id, at, Phase::Routine, unit, stroke(typed, unit));
        let entered = |reading: Reading| Reading { recorded_on: Some(ahead(1)), ..reading };
        for value in [
            of(Moment::day(ahead(1)), &low, Unit::Kilonewton),
            of(Moment::day(ahead(1)), "10.58", Unit::Millimetre),
            entered(of(ago(9), &low, Unit::Kilonewton)),
            entered(of(ago(9), "10.59", Unit::Millimetre)),
        ] {
            readings.push(Row { id: ReadingId::from_row(next()), value });
        }
        for (at, recorded_on) in [(Moment::day(ahead(2)), None), (ago(20), Some(ahead(2)))] {
            let value = Service { recorded_on, ..Service::of(*id, at, Kind::Major) };
            services.push(Row { id: ServiceId::from_row(next()), value });
        }
        let order = Order {
            name: format!("later {}", spindle.name),
            spindle: *id,
            kind: Kind::Minor,
            state: OrderState::Planned,
            opened_on: Some(ahead(1)),
            service_by: None,
            start: Some(Moment::day(ahead(4))),
            duration: RunHours::new(2.0),
            technicians: Vec::new(),
            held: false,
            closed_on: None,
            note: String::new(),
        };
        Arc::make_mut(&mut later.orders).push(Row { id: OrderId::from_row(next()), value: order });
    }
    for row in shop.meters.iter().filter(|row| ago(69) <= row.at) {
        let run_hours = row.run_hours.and_then(|hours| RunHours::new(hours.get() + 3000.0));
        for (at, recorded_on) in [(Moment::day(ahead(2)), None), (ago(1), Some(ahead(2)))] {
            let value = MeterReading { at, run_hours, recorded_on, ..row.value.clone() };
            meters.push(Row { id: MeterReadingId::from_row(next()), value });
        }
    }
    for row in Arc::make_mut(&mut later.mountings).iter_mut().step_by(4) {
        row.value.removed_on = Some(ahead(6));
    }
    later.sorted()
}

/// What if, next reading and best interval ask the shop for more than the projection does.
#[test]
fn nothing_dated_or_entered_later_is_pretended_or_advised() {
    let rounds = Rounds { reads_settings: true, ..Rounds::default() };
    let mut shop = fleet_read(20, 4, rounds).apply_to(&Shop::default()).sorted();
    Arc::make_mut(&mut shop.settings).labour_per_hour = Money::new(12.0).unwrap();
    for machine in Arc::make_mut(&mut shop.machines).values_mut() {
        machine.stop_cost_per_hour = Money::new(90.0);
    }
    let later = with_later_rows(&shop, last_day());
    let usage = PlannedUsage::Share(Percent::new(150.0).unwrap());
    let what_if = WhatIf { usage, ..WhatIf::default() };
    let on = |shop: &Shop, as_of: NaiveDate| {
        let stand = Stand::of(shop.clone(), as_of);
        let basis = ForecastBasis::of(shop, as_of, &stand.forecast.config, &stand.fits, &NoProgress).unwrap();
        let readings = next_readings(&basis, &stand.forecast, &NoProgress).unwrap();
        let intervals = best_intervals(shop, as_of, &stand.fits, &NoProgress).unwrap();
        (stand.of_all(&what_if), readings, intervals)
    };
    let (pretended, readings, intervals) = on(&shop, last_day());
    assert!(readings.len() > 1 && intervals.iter().any(|(_, best)| best.is_ok()), "{readings:?}");
    let same = on(&later, last_day());
    assert_eq!(same.0.rows, pretended.rows);
    assert_eq!(same.0.due, pretended.due);
    assert!(same.0 == pretended, "the pretended forecasts themselves");
    assert_eq!(same.1, readings);
    assert!(same.2 == intervals, "{:?}, without later rows {intervals:?}", same.2);
    // while from then on it counts
    let then = last_day() + Days::new(5);
    let ((pretended, readings, intervals), other) = (on(&shop, then), on(&later, then));
    assert_ne!(other.0.rows, pretended.rows);
    assert_ne!(other.1, readings);
    assert!(other.2 != intervals);
}

/// Its one spindle by the plain model at each of some planned usages, percent of the measured one.
fn planned<const N: usize>(
    made: &HandShop,
    spindle: SpindleId,
    as_of: NaiveDate,
    shares: [f64; N],
) -> [SpindleForecast; N] {
    let shop = made.shop();
    let fits = ShopFits::fit_with(&shop.known_on(as_of), as_of, Improvements::none(), &NoProgress).unwrap();
    let fits = Arc::new(fits);
    shares.map(|share| {
        let planned = PlannedUsage::Share(Percent::new(share).unwrap());
        let config = ForecastConfig { planned, ..ForecastConfig::of(&shop) };
        let all = project_shop(&shop, as_of, &config, &fits, &NoProgress).unwrap();
        SpindleForecast::clone(&all.spindles[&spindle])
    })
}

/// `straight_wear` with an interval of so many hours that ends before the force comes near its limit.
fn straight_wear_every(hours: f64) -> (HandShop, SpindleId) {
    let (mut made, spindle, _) = straight_wear();
    made.limits(spindle, |limits| {
        limits.every_hours = RunHours::new(hours);
        limits.service_limit = Percent::new(40.0);
        limits.stop_limit = Percent::new(30.0);
    });
    (made, spindle)
}

/// 500 h are left. At twice 9.977 h a day they last 25.06 days. The variance of ln usage is 0.011131 now
/// and grows by 0.115458 a year, a third of which counts over the least 36.5 days: 0.01498. By the
/// accepted risk 19.954 x exp(1.2816 x 0.1224) = 23.34 h a day: 21.4 days.
#[test]
fn a_planned_usage_counts_where_a_meter_was_read_today() {
    let (made, spindle) = straight_wear_every(2500.0);
    let [measured, double] = planned(&made, spindle, day(200), [100.0, 200.0]);
    assert_eq!(measured.due_run_hours, Some(day(242)));
    assert_eq!(double.due_run_hours, Some(day(221)));
    assert_eq!(double.service_by, Some(day(221)));
    assert_eq!(
        double.reason,
        "At 20.0 h a working day the interval of 2,500 run hours since 1 January ends about 14 August; 10 % risk by 10 August."
    );
    let hours_in = |weeks: usize| double.fan[weeks].run_hours.unwrap().get();
    near(hours_in(0), 2000.0);
    near(hours_in(4), 2000.0 + 28.0 * 2.0 * measured.hours_per_day.unwrap().get());
}

/// 60 days after the last meter reading, at 2,000 h, 1,100 h were left. Usage is 9.977 h a day; the variance
/// of its logarithm is 0.028827 by now and grows as above. By the accepted risk the 60 days brought
/// 598.6 x exp(1.2816 x 0.1698) = 744.2 h, whatever is planned, and 355.8 h are left: at 12.64 h a day as
/// measured 28.1 days, at 13.26 h with 5 % more 26.8, at 25.16 h with twice as much 14.1, at 6.433 h with
/// half as much 55.3.
#[test]
fn what_is_not_read_yet_is_as_unsure_whatever_is_planned() {
    let (made, spindle) = straight_wear_every(3100.0);
    let found = planned(&made, spindle, day(260), [100.0, 105.0, 200.0, 50.0]);
    let ahead = found.each_ref().map(|found| (found.due_run_hours.unwrap() - day(260)).num_days());
    assert_eq!(ahead, [28, 26, 14, 55]);
    near(found[2].fan[0].run_hours.unwrap().get(), found[0].run_hours.unwrap().get());
    let measured = project_plainly(&made.shop(), day(260));
    assert_eq!(*measured.spindles[&spindle], found[0], "the whole of what is measured is as measured");
}

/// Of the 60 days that no meter has shown ten lie after the service: 99.8 h, 124.0 by the accepted risk.
/// The 476.0 h that are left last 37.7 days at 12.64 h a day.
#[test]
fn what_is_not_read_before_a_service_makes_nothing_unsure() {
    let (mut made, spindle) = straight_wear_every(600.0);
    made.service(spindle, day(250), Kind::Minor);
    let [found] = planned(&made, spindle, day(260), [100.0]);
    assert_eq!(found.due_run_hours, Some(day(260 + 37)));
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
