//! What holds for the projection of any shop: nothing later is used, order and units do not matter,
//! and it stops when asked.

use super::projection::{near, one, project, straight_wear};
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{
    Cancelled, ForecastBasis, ForecastConfig, NoProgress, Progress, ShopForecast, forecast_shop, forecast_spindle,
};
use almanac_core::ids::SpindleId;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::units::Unit;
use almanac_tests::hand_shop::{HandShop, day};
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
