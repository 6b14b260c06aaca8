//! The ebb of the rows of a due list: where dark and light end, and which marks stand there.

use almanac_core::due::{DueRow, Mark};
use almanac_core::moment::Moment;
use almanac_core::order::OrderState;
use almanac_tests::due_list;
use drawbar_almanac::charts::ebb::{Corner, Ebb, End, Over, ebb};
use std::sync::Arc;

fn row(position: &str) -> DueRow {
    let rows = due_list::twenty_seven().due.rows;
    rows.into_iter().find(|row| row.position.as_deref() == Some(position)).expect("a row of the list")
}

fn of(row: &DueRow) -> Ebb {
    ebb(row, due_list::as_of(), true)
}

fn ends_at(path: &[Corner]) -> Option<(f32, f32)> {
    path.last().map(|corner| (corner.days, corner.height))
}

#[track_caller]
fn near(value: f32, expected: f32) {
    assert!((value - expected).abs() < 0.02, "{value} instead of {expected}");
}

#[test]
fn dark_ends_in_a_point_at_service_by_and_light_goes_on() {
    let ebb = of(&row("R-01"));
    assert_eq!(ends_at(&ebb.counted), Some((29.0, 0.0)));
    assert!(ends_at(&ebb.likely).is_some_and(|(days, _)| days > 29.0));
    assert_eq!(ebb.end, Some((End::Point, 29.0)));
    assert_eq!(ebb.last_window, Some(26.0));
    // 83.1 % today over a limit of 80 %: the likely path starts above 0.31 of the height of 10 %
    let today = ebb.counted.iter().find(|corner| corner.days == 0.0).expect("a corner at today");
    assert!(today.height < 0.31 && today.height > 0.0, "{today:?}");
}

#[test]
fn a_fixed_date_ends_both_with_a_bar_and_a_tolerance_with_a_notch() {
    for (position, end, days) in [("M-06", End::Bar, 20.0), ("T-01", End::Bar, 72.0), ("T-02", End::Notch, 38.0)] {
        let ebb = of(&row(position));
        assert_eq!(ebb.end, Some((end, days)), "{position}");
        for path in [&ebb.counted, &ebb.likely] {
            let (at, height) = ends_at(path).expect("a path");
            near(at, days);
            assert!(height > 0.0, "{position} is cut off above its limit");
        }
    }
}

#[test]
fn a_booking_ends_both_and_what_it_restores_follows() {
    let ebb = of(&row("R-04"));
    assert_eq!(ebb.booked, Some(12.0));
    assert!(!ebb.is_booked_late);
    assert!(ebb.last_window.is_none());
    near(ends_at(&ebb.counted).map_or(0.0, |(days, _)| days), 12.0);
    near(ends_at(&ebb.likely).map_or(0.0, |(days, _)| days), 12.0);
    assert_eq!(ebb.end, Some((End::Point, 15.0)), "its tick stays at service-by");
    let first: Vec<f32> = ebb.restored.iter().take(2).map(|corner| corner.days).collect();
    assert_eq!(first, [12.0, 12.0], "it rises on the booked day");
    assert_eq!(ebb.restored.get(1).map(|corner| corner.height), Some(1.0), "96 % is more than the full height");
}

#[test]
fn a_booking_after_service_by_is_late() {
    let mut late = row("R-04");
    let booking = late.booking.as_mut().expect("it is booked");
    booking.day = booking.day.and_then(|day| day.checked_add_days(chrono::Days::new(10)));
    booking.start = booking.day.map(Moment::day);
    late.mark = Mark::BookedLate;
    let ebb = of(&late);
    assert!(ebb.is_booked_late);
    assert_eq!(ends_at(&ebb.counted), Some((15.0, 0.0)), "dark still ends at service-by");
}

/// What stands on a day that is over restored nothing: the reserve that is left still shows.
#[test]
fn a_booking_before_today_changes_nothing() {
    let mut row = row("R-04");
    let booked = row.booking.clone();
    row.booking = None;
    let without = of(&row);
    assert!(ends_at(&without.counted).is_some_and(|(days, _)| days > 0.0));
    for state in [OrderState::Planned, OrderState::UnderWay] {
        row.booking = booked.clone();
        let booking = row.booking.as_mut().expect("it is booked");
        (booking.state, booking.day) = (state, due_list::as_of().pred_opt());
        booking.start = booking.day.map(Moment::day);
        assert_eq!(of(&row), without, "{state:?}");
    }
    // today it is not over
    row.booking.as_mut().expect("it is booked").day = Some(due_list::as_of());
    assert_eq!(of(&row).booked, Some(0.0));
}

#[test]
fn a_passed_limit_shows_for_how_long_and_up_to_its_booking() {
    let ebb = of(&row("R-07/1"));
    assert_eq!(ebb.over, Some(Over { from: -12.0, until: Some(5.0) }));
    assert_eq!(ebb.end, None, "the point lies behind");
    assert!(ends_at(&ebb.counted).is_none_or(|(days, _)| days <= -12.0), "{:?}", ebb.counted);
    assert_eq!(of(&row("T-04")).over, Some(Over { from: -20.0, until: None }), "booked for today");
}

#[test]
fn a_spindle_never_measured_is_an_outline() {
    let ebb = of(&row("R-10"));
    assert!(ebb.is_outline);
    assert!(!ebb.likely.is_empty() && !ebb.counted.is_empty());
    assert_eq!(ebb.last_window, Some(154.0));
}

#[test]
fn heights_stay_between_limit_and_full() {
    for row in due_list::twenty_seven().due.rows {
        let ebb = of(&row);
        for path in [&ebb.counted, &ebb.likely, &ebb.restored] {
            assert!(path.iter().all(|corner| (0.0..=1.0).contains(&corner.height)), "{:?}", row.position);
            assert!(path.windows(2).all(|pair| pair[0].days <= pair[1].days), "{:?}", row.position);
        }
    }
}

#[test]
fn one_taken_out_of_service_has_none_and_one_that_must_not_run_has_its_own() {
    let must_not_run = row("T-04");
    assert!(of(&must_not_run).over.is_some());
    assert_eq!(of(&DueRow { mark: Mark::OutOfService, ..must_not_run }), Ebb::default());
}

#[test]
fn a_spindle_in_no_machine_has_none() {
    let mut loose = row("R-04");
    Arc::make_mut(&mut loose.forecast).state = almanac_core::forecast::SpindleState::NotMounted;
    assert_eq!(of(&loose), Ebb::default());
}
