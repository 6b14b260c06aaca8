//! Readings that do not count as they are, spindles nobody measured, and what a booked service
//! restores: never in silence.

use super::projection::{near, one, project, straight_wear};
use almanac_core::due::{due_list, to_json, to_table};
use almanac_core::forecast::Crossing;
use almanac_core::order::OrderState;
use almanac_core::reading::Phase;
use almanac_core::service::Kind;
use almanac_core::units::{Percent, Unit};
use almanac_tests::hand_shop::{HandShop, day};

#[test]
fn a_last_reading_far_too_high_is_left_out_by_name() {
    let (mut made, spindle, _) = straight_wear();
    let before = one(&made, spindle, day(201));
    // 84 % before, 96 % now
    made.force(spindle, day(201), 19.2);
    let found = one(&made, spindle, day(201));
    assert_eq!(found.cross_service_limit, before.cross_service_limit);
    let id = made.shop().readings_of(spindle).last().unwrap().id;
    assert_eq!(found.left_out, [(id, "12.0 % higher than the reading before it".to_owned())]);
}

#[test]
fn a_doubted_reading_that_nothing_fits_is_left_out_by_name() {
    let (mut made, spindle, _) = straight_wear();
    made.force(spindle, day(150), 174.0);
    made.last_reading(|reading| reading.doubt = Some("ten times the last one".to_owned()));
    let found = one(&made, spindle, day(200));
    let why: Vec<&str> = found.left_out.iter().map(|(_, why)| why.as_str()).collect();
    assert_eq!(why, ["ten times the last one"]);
}

/// 87 % is what the line has on day 150: with the good strokes of the doubted reading the line is the
/// same, and rests on one reading more.
#[test]
fn the_good_strokes_of_a_doubted_reading_stay() {
    let (mut made, spindle, _) = straight_wear();
    made.reading(spindle, day(150), Phase::Routine, Unit::Kilonewton, &["17.3", "1.74", "17.5"]);
    made.last_reading(|reading| reading.doubt = Some("a decimal point one place off".to_owned()));
    let found = one(&made, spindle, day(200));
    near(found.force_now.mean.get(), 16.8);
    assert_eq!(found.intervals.last().unwrap().readings, 4);
    assert!(found.left_out.is_empty());
    let said = "clamp force of 31 May doubted (a decimal point one place off): counts with 2 of its 3 strokes";
    assert!(found.warnings.iter().any(|warning| warning == said), "{:?}", found.warnings);
}

/// A doubted figure stays in the line, but neither stops a spindle nor lets it run again.
#[test]
fn a_doubted_reading_clears_no_stop() {
    let (mut made, spindle, _) = straight_wear();
    made.force(spindle, day(220), 13.0);
    made.service(spindle, day(220), Kind::Minor);
    made.reading(spindle, day(220), Phase::AsLeft, Unit::Kilonewton, &["19.2", "19.3", "1.92"]);
    made.last_reading(|reading| reading.doubt = Some("a decimal point one place off".to_owned()));
    let found = one(&made, spindle, day(221));
    assert_eq!(found.intervals.last().unwrap().readings, 1, "{:?}", found.warnings);
    assert!(found.measured_under_stop_limit);
}

#[test]
fn a_setting_dimension_in_force_but_never_read_has_days_without_figures() {
    let (made, spindle, _) = straight_wear();
    let found = one(&made, spindle, day(200));
    assert!(found.limits.setting().is_some());
    assert_eq!(found.cross_setting_dimension, Some(Crossing::default()));
    assert!(found.warnings.iter().any(|warning| warning == "setting dimension never measured"));
    let shop = made.shop();
    let forecast = project(&shop, day(200));
    let json = to_json(&shop, &forecast, &due_list(&shop, &forecast)).unwrap();
    let read: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(read["spindles"][0]["cross_setting_dimension"]["p05"].is_null());
    assert!(read["spindles"][0]["cross_setting_dimension"].is_object());
}

/// New it had 96 %; its last service left it at 90 %. A minor one brings it to 90 % again, a major one
/// to 96 %.
#[test]
fn a_booked_major_service_restores_the_level_when_new() {
    let (mut made, spindle, machine) = straight_wear();
    made.service(spindle, day(200), Kind::Minor);
    made.reading(spindle, day(200), Phase::AsLeft, Unit::Kilonewton, &["18.0"]);
    made.hours_at(machine, day(210), 2100.0);
    let id = made.order("25-001", spindle, OrderState::Planned, Some("2025-08-05T07:00"));
    near(one(&made, spindle, day(210)).after_booked[0].force.get(), 18.0);
    let orders = std::sync::Arc::make_mut(&mut made.tables().orders);
    orders.iter_mut().find(|order| order.id == id).unwrap().value.kind = Kind::Major;
    near(one(&made, spindle, day(210)).after_booked[0].force.get(), 19.2);
}

/// Nothing is known of it but that it sits there: what to do, not a span of years.
#[test]
fn a_spindle_found_mid_life_is_to_be_measured_first() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 18.0, None);
    made.mount(spindle, machine, day(0), None);
    let shop = made.shop();
    let as_of = day(790);
    let found = one(&made, spindle, as_of);
    assert!(found.needs_first_reading(as_of));
    assert_eq!(
        found.reason,
        "Never measured; in R-01 since 1 January 2025 without a recorded service: measure it first."
    );
    let list = due_list(&shop, &project(&shop, as_of));
    assert!(
        list.lead.rest.ends_with("and is not booked: R-01, never measured, so measure it first."),
        "{:?}",
        list.lead
    );
}

/// With three others of its kind their figures are told: 95 % as new, less 5 % as its age is unknown, less 4 % per
/// 1,000 h.
#[test]
fn a_spindle_to_be_measured_first_tells_the_figures_of_others() {
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
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-9", 20.0, None);
    made.mount(spindle, machine, day(0), None);
    let found = one(&made, spindle, day(200));
    assert!(
        found.reason.ends_with(" By the figures of 3 HSK-A63 spindles its force is about 16.4 kN."),
        "{}",
        found.reason
    );
    // with a limit far below there is nothing to measure first for
    made.limits(spindle, |limits| {
        limits.service_limit = Percent::new(20.0);
        limits.stop_limit = Percent::new(10.0);
    });
    assert!(!one(&made, spindle, day(200)).needs_first_reading(day(200)));
}

#[test]
fn a_line_break_in_a_name_keeps_the_row_on_one_line() {
    let (mut made, spindle, _) = straight_wear();
    made.change_spindle(spindle, |spindle| spindle.name = "S-1\nspare".to_owned());
    let shop = made.shop();
    let table = to_table(&shop, &due_list(&shop, &project(&shop, day(200))));
    assert!(table.contains("S-1 spare"), "{table}");
}
