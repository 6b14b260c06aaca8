//! The projection on small shops that are worked out on paper.

use almanac_core::forecast::{
    ForecastConfig, GoverningLimit, NoProgress, ShopForecast, SpindleForecast, SpindleState, forecast_shop,
};
use almanac_core::ids::{MachineId, SpindleId};
use almanac_core::meter::MeterOwner;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{Percent, RunHours, Unit};
use almanac_tests::hand_shop::{HandShop, day};
use chrono::NaiveDate;

pub(crate) fn project(shop: &Shop, as_of: NaiveDate) -> ShopForecast {
    forecast_shop(shop, as_of, &ForecastConfig::of(shop), &NoProgress).unwrap()
}

pub(crate) fn one(made: &HandShop, spindle: SpindleId, as_of: NaiveDate) -> SpindleForecast {
    SpindleForecast::clone(&project(&made.shop(), as_of).spindles[&spindle])
}

#[track_caller]
pub(crate) fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-6 * expected.abs().max(1.0), "{found}, expected {expected}");
}

/// One spindle of 20 kN, new on day 0, ten hours every day of the week; read at 96, 90 and 84 % of
/// nominal on days 0, 100 and 200.
pub(crate) fn straight_wear() -> (HandShop, SpindleId, MachineId) {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 20.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    for (on, hours, force) in [(0, 0.0, 19.2), (100, 1000.0, 18.0), (200, 2000.0, 16.8)] {
        made.hours_at(machine, day(on), hours);
        made.force(spindle, day(on), force);
    }
    (made, spindle, machine)
}

/// On paper. The three readings lie on a line that falls by 6 % per 1,000 h, which is also the usual
/// loss, so the slope is -6 whatever the weights. Now 84 %; 4 % left are 666.7 h or 66.7 days: the
/// limit is crossed during day 66 (counted from 0) from now.
///
/// Spread: the shop's pooled scatter is (0 + 4 x 1²) / (1 + 4) = 0.8 at 5 degrees of freedom; that
/// of the line (0 + 5 x 0.8) / 6 = 2/3 at 6. Level variance (2/3)/3 = 2/9 at k = 1; slope variance
/// 1 / (2 / (2/3) + 1/3²) = 9/28. So now, one k on: sqrt(2/9 + 9/28) = 0.7373 %.
/// w days ahead: mean 84 - 0.06 w, variance 2/9 + 9/28 (1 + w/100)² + 0.35 w/100 + (0.06 w x 0.1)²;
/// (80 - mean) / sd reaches Student's t at 6 degrees of freedom (-1.9432 -1.4398 -0.7176 0 0.7176
/// 1.4398 1.9432) by the end of day 34 41 53 66 82 102 120.
#[test]
fn a_straight_line_by_hand() {
    let (made, spindle, _) = straight_wear();
    let found = one(&made, spindle, day(200));
    near(found.force_now.mean.get(), 16.8);
    near(found.force_now.sd.get(), 20.0 * (2.0_f64 / 9.0 + 9.0 / 28.0).sqrt() / 100.0);
    near(found.reserve.get(), 4.0);
    near(found.run_hours.unwrap().get(), 2000.0);
    near(found.hours_per_day.unwrap().get(), 10.0);
    near(found.loss_per_1000_h.unwrap().mean.get(), 6.0);
    let days = found.cross_service_limit.unwrap().days.map(|day| day.unwrap());
    assert_eq!(days, [34, 41, 53, 66, 82, 102, 120].map(|ahead| day(200 + ahead)));
    assert_eq!(found.service_by, Some(day(241)));
    assert_eq!(found.governing, Some(GoverningLimit::Force));
    assert_eq!(found.state, SpindleState::InService);
    assert!(!found.is_passed);
    assert_eq!(
        found.reason,
        "At 10.0 h a working day the force reaches 16.0 kN between 23 August and 17 November; 10 % risk by 30 August."
    );
}

#[test]
fn a_risk_used_up_today_says_so() {
    let (mut made, spindle, machine) = straight_wear();
    made.hours_at(machine, day(255), 2550.0);
    let found = one(&made, spindle, day(255));
    assert_eq!((found.service_by, found.is_passed), (Some(day(255)), false));
    assert!(found.reason.ends_with("; 10 % risk already today."), "{}", found.reason);
}

/// As in the first case, with an interval of 2,500 h. 500 h are left; at ten hours a day they last 50 days, but by
/// the tenth percentile of a lognormal usage, 10 x exp(1.2816 x 0.1) = 11.37 h, only 43.99 days.
#[test]
fn an_interval_in_hours_by_hand() {
    let (mut made, spindle, _) = straight_wear();
    made.limits(spindle, |limits| {
        limits.every_hours = RunHours::new(2500.0);
        limits.service_limit = Percent::new(60.0);
        limits.stop_limit = Percent::new(50.0);
    });
    let found = one(&made, spindle, day(200));
    assert_eq!(found.due_run_hours, Some(day(243)));
    assert_eq!(found.service_by, Some(day(243)));
    assert_eq!(found.governing, Some(GoverningLimit::RunHours));
    assert_eq!(
        found.reason,
        "At 10.0 h a working day the interval of 2,500 run hours since 1 January ends about 7 September; 10 % risk by 1 September."
    );
    // an interval already over lies in the past, on the day on which the hours were reached
    made.limits(spindle, |limits| limits.every_hours = RunHours::new(1505.0));
    let found = one(&made, spindle, day(200));
    assert_eq!(found.due_run_hours, Some(day(150)));
    assert_eq!((found.service_by, found.is_passed), (Some(day(200)), true));
    assert_eq!(found.passed_since, Some(day(150)));
    assert!(found.reason.contains("was over on 31 May"), "{}", found.reason);
}

#[test]
fn a_calendar_interval_counts_from_the_last_service() {
    let (mut made, spindle, _) = straight_wear();
    made.limits(spindle, |limits| limits.every_months = Some(12));
    let found = one(&made, spindle, day(200));
    assert_eq!(found.due_calendar, Some(day(365)));
    made.service(spindle, day(150), Kind::Minor);
    let found = one(&made, spindle, day(200));
    assert_eq!(found.due_calendar, Some(day(150 + 365)));
    assert_eq!(found.last_service, Some(day(150)));
    near(found.hours_since_service.unwrap().get(), 500.0);
    // on its last day it is due, the day after it is over
    made.limits(spindle, |limits| limits.every_months = Some(1));
    let last = day(150).checked_add_months(chrono::Months::new(1)).unwrap();
    let found = one(&made, spindle, last);
    assert_eq!((found.service_by, found.is_passed), (Some(last), false));
    let found = one(&made, spindle, last.succ_opt().unwrap());
    assert!(found.is_passed);
}

#[test]
fn without_a_start_the_first_record_counts() {
    let (mut made, spindle, _) = straight_wear();
    made.change_spindle(spindle, |spindle| spindle.installed_on = None);
    made.limits(spindle, |limits| limits.every_months = Some(12));
    let found = one(&made, spindle, day(200));
    assert_eq!(found.due_calendar, Some(day(365)));
    assert!(found.warnings.iter().any(|warning| warning.contains("first record, 1 January")), "{:?}", found.warnings);
}

/// S-1 makes 10 h a day in R-01 for 100 days, then 20 h a day in R-02: 1,000 + 2,000 h. S-2 sits in
/// R-02 before, 2,000 h, lies on the shelf for ten days and then gets all 1,000 h that R-01 makes
/// afterwards, since nobody else sat there.
#[test]
fn hours_belong_to_the_spindle() {
    let mut made = HandShop::new();
    let (first, second) = (made.machine("R-01"), made.machine("R-02"));
    let (a, b) = (made.spindle("S-1", 20.0, None), made.spindle("S-2", 20.0, None));
    made.mount(a, first, day(0), Some(day(100)));
    made.mount(a, second, day(100), None);
    made.mount(b, second, day(0), Some(day(100)));
    made.mount(b, first, day(110), None);
    for (on, hours) in [(0, 0.0), (100, 1000.0), (200, 2000.0)] {
        made.hours_at(first, day(on), hours);
    }
    for (on, hours) in [(0, 50_000.0), (100, 52_000.0), (150, 53_000.0), (200, 54_000.0)] {
        made.hours_at(second, day(on), hours);
    }
    near(one(&made, a, day(200)).run_hours.unwrap().get(), 3000.0);
    near(one(&made, b, day(200)).run_hours.unwrap().get(), 3000.0);
    // on the shelf it makes none and has no dates
    let shelf = one(&made, b, day(105));
    near(shelf.run_hours.unwrap().get(), 2000.0);
    assert_eq!(shelf.state, SpindleState::NotMounted);
    assert_eq!((shelf.service_by, shelf.hours_per_day), (None, None));
    assert!(shelf.cross_service_limit.unwrap().days.iter().all(Option::is_none));
}

#[test]
fn a_meter_that_travels_with_the_spindle_shows_its_own_hours() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 20.0, None);
    made.mount(spindle, machine, day(0), None);
    made.force(spindle, day(0), 19.0);
    made.last_reading(|reading| reading.run_hours = RunHours::new(8000.0));
    made.meter(MeterOwner::Spindle(spindle), day(100), Some(8500.0), Some(7200.0));
    made.meter(MeterOwner::Spindle(spindle), day(150), None, Some(10_800.0));
    let found = one(&made, spindle, day(200));
    // 5 h and 72 cycles a day go on
    near(found.run_hours.unwrap().get(), 9000.0);
    near(found.clamp_cycles.unwrap().get(), 14_400.0);
    near(found.cycles_per_day.unwrap().get(), 72.0);
}

#[test]
fn without_a_meter_hours_are_unknown_but_dates_are_not() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 20.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    for (on, force) in [(0, 19.2), (100, 18.0), (200, 16.8)] {
        made.force(spindle, day(on), force);
    }
    let found = one(&made, spindle, day(200));
    assert_eq!((found.run_hours, found.clamp_cycles, found.loss_per_1000_h), (None, None, None));
    // 6 % in 100 days: 4 % last 66.7 days, but for the usual loss to which the line is held a little
    let median = found.cross_service_limit.unwrap().days[3].unwrap();
    assert!((median - day(266)).num_days().abs() <= 3, "{median}");
    assert!(found.warnings.iter().any(|warning| warning.contains("no meter reading")), "{:?}", found.warnings);
    assert!(found.reason.starts_with("By working days the force reaches"), "{}", found.reason);
}

#[test]
fn a_closure_moves_dates_behind_it() {
    let (mut made, spindle, _) = straight_wear();
    let before = one(&made, spindle, day(200)).cross_service_limit.unwrap().days[3].unwrap();
    made.closure(day(220), day(233));
    let after = one(&made, spindle, day(200)).cross_service_limit.unwrap().days[3].unwrap();
    assert_eq!(after - before, chrono::TimeDelta::days(14));
}

#[test]
fn a_service_starts_the_line_anew() {
    let (mut made, spindle, _) = straight_wear();
    made.reading(spindle, day(200), Phase::AsFound, Unit::Kilonewton, &["16.8"]);
    made.service(spindle, day(200), Kind::Minor);
    made.reading(spindle, day(200), Phase::AsLeft, Unit::Kilonewton, &["19.12", "18.92", "19.02"]);
    let found = one(&made, spindle, day(200));
    near(found.force_now.mean.get(), 19.02);
    // new it had 96 %, the service restored 95.1 %
    near(found.lasting_loss.unwrap().get(), 0.9);
    near(found.recoverable_loss.unwrap().get(), 0.0);
    // 15.1 % at the 6 % per 1,000 h of its first interval: 2,516.7 h, 251.7 days
    assert_eq!(found.cross_service_limit.unwrap().days[3], Some(day(200 + 251)));
    assert_eq!(found.intervals.len(), 2);
    assert_eq!(found.intervals[0].readings, 4);
    assert!(
        found.warnings.iter().any(|warning| warning.contains("from its earlier intervals")),
        "{:?}",
        found.warnings
    );
    // serviced without a reading: the level comes from what a service restored before
    made.service(spindle, day(210), Kind::Minor);
    let found = one(&made, spindle, day(210));
    near(found.force_now.mean.get(), 19.02);
    assert!(found.warnings.iter().any(|warning| warning.starts_with("no force reading since")), "{:?}", found.warnings);
}

#[test]
fn a_spindle_never_measured_takes_the_figures_of_its_interface() {
    let mut made = HandShop::new();
    for name in ["S-1", "S-2", "S-3"] {
        let machine = made.machine(name);
        let spindle = made.spindle(name, 20.0, Some(day(0)));
        made.mount(spindle, machine, day(0), None);
        for (on, hours, force) in [(0, 0.0, 19.0), (100, 1000.0, 18.2), (200, 2000.0, 17.4)] {
            made.hours_at(machine, day(on), hours);
            made.reading(spindle, day(on), Phase::AsLeft, Unit::Kilonewton, &[&force.to_string()]);
        }
    }
    let machine = made.machine("new");
    let spindle = made.spindle("S-9", 20.0, Some(day(200)));
    made.mount(spindle, machine, day(200), None);
    let found = one(&made, spindle, day(200));
    assert!(!found.force_measured);
    // as left 95 % in all three, falling by 4 % per 1,000 h; 10 h a day as the others
    near(found.force_now.mean.get(), 19.0);
    assert_eq!(found.interface_spindles, 3);
    near(found.interface_loss_per_1000_h.unwrap()[1].get(), 4.0);
    let median = found.cross_service_limit.unwrap().days[3].unwrap();
    assert_eq!(median, day(200 + 374), "15 % / 4 % x 1,000 h / 10 h");
    assert!(found.warnings.iter().any(|warning| warning.contains("three HSK-A63 spindles")), "{:?}", found.warnings);
    // its figures are not its own: a service may be due, but no limit of its own is passed
    let later = one(&made, spindle, day(1500));
    assert_eq!((later.is_passed, later.service_by), (false, Some(day(1500))));
}

#[test]
fn a_shop_without_history_says_that_its_figures_are_from_experience() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 20.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    let found = one(&made, spindle, day(0));
    near(found.force_now.mean.get(), 19.6);
    assert!(
        found.warnings.iter().any(|warning| warning.contains("from memory, to be confirmed")),
        "{:?}",
        found.warnings
    );
}

#[test]
fn doubted_readings_stay_out_of_the_line_and_are_named() {
    let (mut made, spindle, _) = straight_wear();
    let clean = one(&made, spindle, day(200));
    made.force(spindle, day(150), 174.0);
    made.last_reading(|reading| reading.doubt = Some("ten times the last one".to_owned()));
    let found = one(&made, spindle, day(200));
    assert_eq!(found.cross_service_limit, clean.cross_service_limit);
    let warnings = ["clamp force of 31 May left out: ten times the last one", "setting dimension never measured"];
    assert_eq!(found.warnings, warnings);
}

#[test]
fn under_the_stop_limit_only_a_reading_within_limits_clears_it() {
    let (mut made, spindle, _) = straight_wear();
    made.force(spindle, day(205), 13.8);
    let found = one(&made, spindle, day(206));
    assert!(found.measured_under_stop_limit);
    assert_eq!(found.state, SpindleState::OutOfService);
    assert_eq!(found.service_by, Some(day(206)));
    assert!(found.reason.contains("do not run it"), "{}", found.reason);
    // a service alone proves nothing
    made.service(spindle, day(207), Kind::Major);
    assert!(one(&made, spindle, day(207)).measured_under_stop_limit);
    // nor does a figure between the limits, nor one that is doubted
    made.reading(spindle, day(207), Phase::AsLeft, Unit::Kilonewton, &["15.0"]);
    made.reading(spindle, day(207), Phase::AsLeft, Unit::Kilonewton, &["19.5"]);
    made.last_reading(|reading| reading.doubt = Some("gauge not zeroed".to_owned()));
    assert!(one(&made, spindle, day(207)).measured_under_stop_limit);
    made.reading(spindle, day(208), Phase::Routine, Unit::Kilonewton, &["19.4"]);
    let found = one(&made, spindle, day(208));
    assert!(!found.measured_under_stop_limit);
    assert_eq!(found.state, SpindleState::InService);
}

#[test]
fn a_step_drop_lowers_the_level_at_once() {
    let (mut made, spindle, _) = straight_wear();
    // 84 % before; 76 and 75.8 % after
    made.force(spindle, day(205), 15.2);
    made.force(spindle, day(210), 15.16);
    let found = one(&made, spindle, day(210));
    assert!((found.force_now.mean.get() - 15.15).abs() < 0.05, "{}", found.force_now.mean);
    assert_eq!(found.steps.len(), 1);
    assert_eq!((found.steps[0].after, found.steps[0].by), (day(200), day(205)));
    // 8 % less 6 % per 1,000 h over 50 h
    near(found.steps[0].size.get(), 7.7);
    assert!(found.is_passed);
}

#[test]
fn force_that_rises_has_no_date() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 20.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    for index in 0..12_u32 {
        let on = day(u64::from(index) * 50);
        made.hours_at(machine, on, f64::from(index) * 500.0);
        made.force(spindle, on, 18.6 + 0.05 * f64::from(index));
    }
    let found = one(&made, spindle, day(550));
    assert_eq!(found.service_by, None);
    assert_eq!(found.governing, None);
    assert!(found.warnings.iter().any(|warning| warning.contains("does not fall")), "{:?}", found.warnings);
    assert_eq!(found.reason, "At 10.0 h a working day no limit is reached before July 2031 with more than 10 % risk.");
}

/// 10.50, 10.53 and 10.56 mm on days 0, 100 and 200: 0.3 tolerances per 1,000 h.
#[test]
fn the_setting_dimension_leaves_its_tolerance() {
    let (mut made, spindle, _) = straight_wear();
    made.limits(spindle, |limits| {
        limits.service_limit = Percent::new(50.0);
        limits.stop_limit = Percent::new(40.0);
    });
    for (on, typed) in [(0, "10.50"), (100, "10.53"), (200, "10.56")] {
        made.reading(spindle, day(on), Phase::Routine, Unit::Millimetre, &[typed]);
    }
    let found = one(&made, spindle, day(200));
    near(found.setting_now.unwrap().mean.get(), 10.53 + found.setting_drift_per_1000_h.unwrap().get());
    // s² = (0 + 8 x 0.0144) / 9 = 0.0128; slope (0.6/s²) / (2/s² + 1/0.0225) = 0.2335 tolerances
    near(found.setting_drift_per_1000_h.unwrap().get(), 0.1 * (0.6 / 0.0128) / (2.0 / 0.0128 + 1.0 / 0.0225));
    assert_eq!(found.governing, Some(GoverningLimit::SettingDimension));
    let days = found.cross_setting_dimension.unwrap().days;
    assert!(days[1] < days[3], "{days:?}");
    assert!(found.reason.contains("the setting dimension leaves 10.50 ± 0.10 mm"), "{}", found.reason);
    // too small counts as much as too large
    let mut low = HandShop::clone(&made);
    low.reading(spindle, day(200), Phase::AsLeft, Unit::Millimetre, &["10.30"]);
    low.reading(spindle, day(200), Phase::AsLeft, Unit::Millimetre, &["10.30"]);
    low.service(spindle, day(200), Kind::Minor);
    let found = one(&low, spindle, day(200));
    assert!(found.setting_out_of_tolerance && found.is_passed);
    assert_eq!(found.passed_since, Some(day(200)));
    assert!(found.reason.contains("10.30 mm, outside 10.50 ± 0.10 mm"), "{}", found.reason);
    // without a dimension in force there is nothing to leave
    let mut made = HandShop::new();
    let spindle = made.spindle_of("BT40", "S-1", 20.0, Some(day(0)));
    let found = one(&made, spindle, day(200));
    assert_eq!(found.cross_setting_dimension, None);
    assert!(!found.warnings.iter().any(|warning| warning.contains("setting dimension")), "{:?}", found.warnings);
}

/// As left 98, 95, 92, 89 % every 1,000 h, each interval losing 6 %: a minor service lasts an
/// ordinary interval down to 80 + 6 = 86 %, which the restored level reaches after another 1,000 h.
#[test]
fn a_major_service_is_due_when_a_minor_one_no_longer_lasts() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 100.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    for index in 0..4_u32 {
        let on = day(u64::from(index) * 100);
        let level = 98.0 - 3.0 * f64::from(index);
        made.hours_at(machine, on, 1000.0 * f64::from(index));
        if index > 0 {
            made.reading(spindle, on, Phase::AsFound, Unit::Kilonewton, &[&(level + 3.0 - 6.0).to_string()]);
        }
        made.service(spindle, on, Kind::Minor);
        made.reading(spindle, on, Phase::AsLeft, Unit::Kilonewton, &[&level.to_string()]);
    }
    let found = one(&made, spindle, day(300));
    near(found.lasting_loss.unwrap().get(), 9.0);
    assert_eq!(found.major_service_by, Some(day(399)));
    assert_eq!(found.restored.len(), 4);
    // a major service ends that story
    made.service(spindle, day(300), Kind::Major);
    assert_eq!(one(&made, spindle, day(300)).major_service_by, None);
}

#[test]
fn the_fan_is_weekly_over_two_years_and_ascending() {
    let (made, spindle, _) = straight_wear();
    let found = one(&made, spindle, day(200));
    assert_eq!(found.fan[0].day, day(200));
    assert!(found.fan.last().unwrap().day >= day(200 + 730));
    for pair in found.fan.windows(2) {
        assert_eq!(pair[1].day - pair[0].day, chrono::TimeDelta::days(7));
    }
    for point in &found.fan {
        assert!(point.force.windows(2).all(|pair| pair[0] <= pair[1]));
        // accepted risk 10 %: the second of the shares
        near(point.at_risk.get(), point.force[1].get());
    }
    near(found.fan[10].run_hours.unwrap().get(), 2700.0);
    // the path at the accepted risk ends at service-by: day 41 of the fan's week 5 to 6
    assert!(found.fan[5].at_risk.get() > 16.0 && found.fan[6].at_risk.get() < 16.0);
    assert_eq!(found.past.len(), 27);
    near(found.past[0].force.get(), 0.2 * (84.0 + 0.06 * 182.0));
    near(found.past[26].force.get(), 16.8);
}

#[test]
fn after_a_booked_service_the_force_starts_anew() {
    let (mut made, spindle, _) = straight_wear();
    made.order("25-001", spindle, almanac_core::order::OrderState::Planned, Some("2025-08-01T07:00"));
    let found = one(&made, spindle, day(200));
    let first = found.after_booked[0];
    assert_eq!(first.day, day(212));
    // new it had 96 %
    near(first.force.get(), 19.2);
    near(found.after_booked[1].force.get(), 19.2 - 20.0 * 0.0042);
}
