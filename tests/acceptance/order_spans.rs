//! From when to when an order keeps its people: the same for plan, list, calendar and checks.

use super::projection::project;
use almanac_core::crew::{Technician, parse_shifts};
use almanac_core::downtime::{Downtime, WindowScope};
use almanac_core::due::due_list;
use almanac_core::export::ics::{CalendarOf, calendar};
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::ids::{DowntimeId, OrderId, Row, TechnicianId};
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::orders_list::{OrderLine, is_free, order_lines, orders_lead, totals};
use almanac_core::planning::accept::{Lines, accept};
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::proposal::PlanningConfig;
use almanac_core::planning::propose::{NoPlanProgress, booked, propose};
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::Money;
use almanac_tests::hand_shop::{HandShop, day};
use almanac_tests::planning_shop::{after_orders, planning_shop, present};
use chrono::{NaiveDate, NaiveTime, TimeDelta};
use std::sync::Arc;

/// The day on which the hand-made shop looks.
fn now() -> NaiveDate {
    day(200)
}

/// Two machines of one line and one of its own, each with a spindle, free to stop all day.
fn shop(orders: &[(&str, usize, &str)]) -> Shop {
    let mut made = HandShop::new();
    let spindles = ["A", "B", "C"].map(|name| made.mounted(name));
    for machine in Arc::make_mut(&mut made.tables().machines).values_mut() {
        machine.line = (machine.name != "C").then(|| "L1".to_owned());
        machine.stop_cost_per_hour = Money::new(30.0);
    }
    let window = Downtime {
        start: Moment::parse("2025-07-26T06:00").unwrap(),
        end: Moment::parse("2025-07-26T18:00").unwrap(),
        scope: WindowScope::AllHalls,
        what: "Saturday".to_owned(),
        stop_factor: None,
        premium_per_hour: None,
        repeat: None,
    };
    Arc::make_mut(&mut made.tables().downtimes).push(Row { id: DowntimeId::from_row(1), value: window });
    Arc::make_mut(&mut made.tables().technicians).extend(["Brook", "Thorne"].map(crew));
    for (name, spindle, start) in orders {
        made.order(name, spindles[*spindle], OrderState::Planned, Some(start));
    }
    made.shop()
}

fn lines(shop: &Shop, all: bool) -> Vec<OrderLine> {
    order_lines(shop, &due_list(shop, &project(shop, now())), all)
}

fn ends(shop: &Shop, all: bool) -> Vec<(String, String)> {
    let lines = lines(shop, all);
    let mut ends: Vec<(String, String)> = lines
        .iter()
        .filter_map(|line| Some((line.order.clone(), line.end?.time?.format("%H:%M").to_string())))
        .collect();
    ends.sort();
    ends
}

fn order<'a>(shop: &'a Shop, name: &str) -> &'a Row<OrderId, Order> {
    shop.orders.iter().find(|row| row.name == name).unwrap()
}

#[track_caller]
fn check_ends(orders: &[(&str, usize, &str)], expected: &[&str]) {
    let ends = ends(&shop(orders), false);
    assert_eq!(ends.iter().map(|(_, end)| end.as_str()).collect::<Vec<_>>(), expected);
}

/// Each takes an hour and a half, a lockout half an hour.
#[test]
fn the_first_order_of_a_stop_locks_out() {
    let (early, late, other_day) = ("2025-07-26T07:00", "2025-07-26T09:00", "2025-07-27T09:00");
    check_ends(&[("1", 0, early)], &["09:00"]);
    check_ends(&[("1", 0, early), ("2", 1, late)], &["09:00", "10:30"]);
    check_ends(&[("1", 0, late), ("2", 1, early)], &["10:30", "09:00"]);
    // another line, another day outside every window
    check_ends(&[("1", 0, early), ("2", 2, late)], &["09:00", "11:00"]);
    check_ends(&[("1", 0, early), ("2", 1, other_day)], &["09:00", "11:00"]);
    // outside every window each order is a stop of its own
    check_ends(&[("1", 0, "2025-07-28T07:00"), ("2", 1, "2025-07-28T09:00")], &["09:00", "11:00"]);
}

/// The window ends at 18:00: what is held and does not fit into it is a stop of its own.
#[test]
fn what_is_held_and_does_not_fit_begins_no_stop_for_others() {
    let held = |orders: &[(&str, usize, &str)], held: &[usize]| {
        let mut shop = shop(orders);
        for index in held {
            Arc::make_mut(&mut shop.orders)[*index].value.held = true;
        }
        let ends = ends(&shop, false);
        ends.into_iter().map(|(_, end)| end).collect::<Vec<_>>()
    };
    let (longer, inside) = (("1", 0, "2025-07-26T17:00"), ("2", 1, "2025-07-26T17:10"));
    assert_eq!(held(&[longer, inside], &[0]), ["19:00", "19:10"], "the second begins the stop of the window");
    assert_eq!(held(&[longer, inside], &[0, 1]), ["19:00", "19:10"], "neither fits");
    assert_eq!(held(&[longer, inside], &[]), ["19:00", "18:40"], "what a plan may move keeps its stop");
    // alone it fits only without its lockout; behind another one of its line it does fit
    let (first, second) = (("1", 0, "2025-07-26T14:00"), ("2", 1, "2025-07-26T16:20"));
    assert_eq!(held(&[second], &[0]), ["18:20"]);
    assert_eq!(held(&[first, second], &[0, 1]), ["16:00", "17:50"]);
    assert_eq!(held(&[first, second], &[1]), ["16:00", "18:20"], "what may still be moved is nothing to rely on");
}

/// 1.67 h are 100 minutes, not 101, in the plan as in the list.
#[test]
fn minutes_are_rounded_alike_in_plan_and_list() {
    for (hours, end, minutes) in [(1.67, "09:10", 100), (1.34, "08:50", 80), (1.0 / 3.0, "07:50", 20)] {
        let mut shop = shop(&[("1", 0, "2025-07-26T07:00")]);
        Arc::make_mut(&mut shop.orders)[0].value.duration = almanac_core::units::RunHours::new(hours);
        assert_eq!(ends(&shop, false)[0].1, end);
        let forecast = project(&shop, now());
        let config = PlanningConfig::quick(26);
        let basis = PlanBasis::of(&shop, &forecast, &due_list(&shop, &forecast), now(), &config);
        let of_order = basis.services().iter().find(|service| service.order.is_some()).unwrap();
        assert_eq!(of_order.minutes, minutes);
    }
}

#[test]
fn a_stop_costs_one_lockout() {
    let shop = shop(&[("1", 0, "2025-07-26T07:00"), ("2", 1, "2025-07-26T09:00")]);
    let cost = |name: &str| lines(&shop, false).iter().find(|line| line.order == name).unwrap().stop_cost;
    // two machines at 30 an hour
    assert_eq!((cost("1"), cost("2")), (Money::new(120.0), Money::new(90.0)));
}

#[test]
fn what_did_not_take_place_locked_nothing_out() {
    let mut shop = shop(&[("1", 0, "2025-07-26T07:00"), ("2", 1, "2025-07-26T09:00")]);
    let end_of_2 = |shop: &Shop, all: bool| ends(shop, all).into_iter().find(|(name, _)| name == "2").unwrap().1;
    for (state, open, closed) in [(OrderState::NotDone, "11:00", "11:00"), (OrderState::Done, "11:00", "10:30")] {
        let orders = Arc::make_mut(&mut shop.orders);
        orders[0].value.state = state;
        orders[0].value.closed_on = Some(now());
        (orders[1].value.state, orders[1].value.closed_on) = (OrderState::Planned, None);
        assert_eq!(end_of_2(&shop, false), open, "as in the plan, which knows open orders");
        let orders = Arc::make_mut(&mut shop.orders);
        (orders[1].value.state, orders[1].value.closed_on) = (OrderState::Done, Some(now()));
        assert_eq!(end_of_2(&shop, true), closed);
    }
}

#[test]
fn nobody_is_free_while_they_lock_out_or_work() {
    let orders = [("1", 0, "2025-07-26T07:00"), ("2", 2, "2025-07-26T12:00")];
    let shop = shop(&orders);
    let row = order(&shop, "2");
    let at = |start: &str| {
        let moved = Order { start: Moment::parse(start), ..row.value.clone() };
        is_free(&shop, &moved, Some(row.id), "Brook").map_err(|why| why.to_string())
    };
    assert_eq!(at("2025-07-26T08:30"), Err("lies at the time of 1, at which Brook is".to_owned()));
    assert_eq!(at("2025-07-26T08:59"), Err("lies at the time of 1, at which Brook is".to_owned()));
    assert_eq!(at("2025-07-26T09:00"), Ok(()));
    // its own lockout counts too: 05:30 to 07:30
    assert_eq!(at("2025-07-26T05:30"), Err("lies at the time of 1, at which Brook is".to_owned()));
    assert_eq!(at("2025-07-26T05:00"), Ok(()));
    // of the same line it does no lockout, and neither does the one that comes after it
    let beside = order(&shop, "1");
    let before = Order { name: "3".to_owned(), start: Moment::parse("2025-07-26T05:30"), ..beside.value.clone() };
    assert!(is_free(&shop, &before, None, "Brook").is_err(), "05:30 lies before the window, a stop of its own");
    let inside = |start: &str| Order { start: Moment::parse(start), ..before.clone() };
    assert!(is_free(&shop, &inside("2025-07-26T08:45"), None, "Brook").is_err());
    assert!(is_free(&shop, &inside("2025-07-26T09:00"), None, "Brook").is_ok());
}

/// Where an order says nothing it takes as long as such services do: 90 minutes.
#[test]
fn an_order_without_a_duration_takes_the_usual_time() {
    let mut shop = shop(&[("1", 0, "2025-07-26T07:00"), ("2", 2, "2025-07-26T08:45")]);
    Arc::make_mut(&mut shop.orders)[0].value.duration = None;
    assert_eq!(ends(&shop, false)[0].1, "09:00");
    let second = order(&shop, "2");
    assert!(is_free(&shop, &second.value, Some(second.id), "Brook").is_err());
    let at = now().and_time(NaiveTime::MIN);
    let text = calendar(&shop, &lines(&shop, false), &CalendarOf::default(), now(), at).text;
    assert!(text.contains("DTEND:20250726T090000\r\n"), "{text}");
}

/// A plan and the orders that it becomes say the same times, and give nobody two at once.
#[test]
fn an_accepted_plan_and_its_orders_have_the_same_times() {
    let config = PlanningConfig::quick(26);
    let mut compared = 0;
    for seed in 0..40 {
        let shop = planning_shop(seed);
        let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
        let basis = PlanBasis::of(&shop, &forecast, &due_list(&shop, &forecast), present(), &config);
        let proposal = propose(&basis, &config, &NoPlanProgress).unwrap();
        let shop = accept(&shop, &proposal, Lines::All).map_or_else(|| shop.clone(), |step| after_orders(&shop, &step));
        let due = due_list(&shop, &forecast);
        let plan = booked(&PlanBasis::of(&shop, &forecast, &due, present(), &config));
        let lines = order_lines(&shop, &due, false);
        for placed in plan.placed.iter().filter(|placed| placed.place.tray.is_some()) {
            let line = lines.iter().find(|line| line.id.is_some() && line.id == placed.order).unwrap();
            let (start, end) = (line.start.unwrap().date_time(), line.end.unwrap().date_time());
            assert_eq!((start, end), (placed.place.start, placed.place.end), "seed {seed}, {}", line.order);
            compared += 1;
            if !placed.held {
                let row = order(&shop, &line.order);
                for who in &row.technicians {
                    assert_eq!(is_free(&shop, row, Some(row.id), who), Ok(()), "seed {seed}, {}", line.order);
                }
            }
        }
    }
    assert!(compared > 50, "{compared} compared");
}

/// Orders pushed about by hand, some held: whether they fit or not, plan and list say the same times.
#[test]
fn held_orders_that_do_not_fit_have_the_same_times_in_plan_and_list() {
    let config = PlanningConfig::quick(26);
    let (mut compared, mut outside) = (0, 0);
    for seed in 0..40 {
        let shop = planning_shop(seed);
        let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
        let basis = PlanBasis::of(&shop, &forecast, &due_list(&shop, &forecast), present(), &config);
        let proposal = propose(&basis, &config, &NoPlanProgress).unwrap();
        let Some(step) = accept(&shop, &proposal, Lines::All) else { continue };
        let mut shop = after_orders(&shop, &step);
        for (nth, row) in Arc::make_mut(&mut shop.orders).iter_mut().enumerate() {
            let Some(start) = row.value.start.filter(|start| start.time.is_some()) else { continue };
            let later = start.date_time() + chrono::TimeDelta::minutes((seed as i64 * 37 + nth as i64 * 53) % 240);
            row.value.start = Some(Moment { date: later.date(), time: Some(later.time()) });
            row.value.held |= nth % 3 != 0;
        }
        let due = due_list(&shop, &forecast);
        let plan = booked(&PlanBasis::of(&shop, &forecast, &due, present(), &config));
        let lines = order_lines(&shop, &due, false);
        for placed in plan.placed.iter().filter(|placed| placed.held && present() < placed.place.start.date()) {
            let line = lines.iter().find(|line| line.id.is_some() && line.id == placed.order).unwrap();
            let (start, end) = (line.start.unwrap().date_time(), line.end.unwrap().date_time());
            assert_eq!((start, end), (placed.place.start, placed.place.end), "seed {seed}, {}", line.order);
            compared += 1;
            outside += usize::from(placed.place.tray.is_none());
        }
    }
    assert!(compared > 60 && outside > 15, "{compared} compared, {outside} of them in no window");
}

/// Orders as somebody types them into the form: several on one line in one minute, some for a day without a time, some for nobody, for a stranger or for three people. Whatever
/// of them a plan places, plan and list say the same times.
#[test]
fn orders_typed_at_will_have_the_same_times_in_plan_and_list() {
    let config = PlanningConfig::quick(26);
    let (mut compared, mut loose, mut at_once) = (0, 0, 0);
    for seed in 0..120 {
        let mut shop = planning_shop(seed);
        for machine in Arc::make_mut(&mut shop.machines).values_mut() {
            machine.line = Some("cell".to_owned());
        }
        let forecast = forecast_shop(&shop, present(), &ForecastConfig::of(&shop), &NoProgress).unwrap();
        let basis = PlanBasis::of(&shop, &forecast, &due_list(&shop, &forecast), present(), &config);
        let proposal = propose(&basis, &config, &NoPlanProgress).unwrap();
        let Some(step) = accept(&shop, &proposal, Lines::All) else { continue };
        let mut shop = after_orders(&shop, &step);
        let mut before: Option<Moment> = None;
        let mut dice = almanac_tests::fleet::Dice::new(seed ^ 0x5A5A);
        let mut below = |count: u64| ((dice.unit() * count as f64) as u64).min(count - 1);
        for row in Arc::make_mut(&mut shop.orders) {
            let Some(start) = row.value.start.filter(|start| start.time.is_some()) else { continue };
            let half_hour = TimeDelta::minutes(30);
            let begins = start.date_time().date().and_time(NaiveTime::MIN);
            let halves = (start.date_time() - begins).num_minutes() / 30 + below(3) as i64;
            let typed = begins + half_hour * i32::try_from(halves).unwrap();
            let time = (below(6) > 0).then(|| typed.time());
            let typed = Moment { date: typed.date(), time };
            row.value.start = before.filter(|_| below(3) == 0).or(Some(typed));
            before = row.value.start;
            row.value.held = below(3) == 0;
            match below(6) {
                0 => row.value.technicians.clear(),
                1 => row.value.technicians = vec!["Nobody of ours".to_owned()],
                2 => row.value.technicians = ["Brook", "Thorne", "Marlow"].map(ToOwned::to_owned).to_vec(),
                _ => {}
            }
        }
        let due = due_list(&shop, &forecast);
        let plan = booked(&PlanBasis::of(&shop, &forecast, &due, present(), &config));
        let lines = order_lines(&shop, &due, false);
        let mut starts = Vec::new();
        for placed in plan.placed.iter().filter(|placed| present() < placed.place.start.date()) {
            let line = lines.iter().find(|line| line.id.is_some() && line.id == placed.order).unwrap();
            let Some(end) = line.end else { continue };
            let (start, end) = (line.start.unwrap().date_time(), end.date_time());
            assert_eq!((start, end), (placed.place.start, placed.place.end), "seed {seed}, {}", line.order);
            compared += 1;
            loose += usize::from(!placed.held && order(&shop, &line.order).technicians.len() != 1);
            let hall = &shop.machines[&shop.position_on(placed.spindle, present()).unwrap().machine].hall;
            at_once += usize::from(starts.contains(&(hall, start)));
            starts.push((hall, start));
        }
    }
    assert!(compared > 200 && loose > 40 && at_once > 10, "{compared} compared, {loose} loose, {at_once} at once");
}

/// Two orders of a line in one minute: the one that was entered first locks out, whichever is due first.
#[test]
fn of_two_orders_in_one_minute_the_one_entered_first_locks_out() {
    for held in [false, true] {
        for (first, second) in [(0, 1), (1, 0)] {
            let start = "2025-07-26T07:00";
            let mut shop = shop(&[("1", first, start), ("2", second, start)]);
            for row in Arc::make_mut(&mut shop.orders) {
                row.value.held = held;
                row.value.technicians = vec![if row.name == "1" { "Brook" } else { "Thorne" }.to_owned()];
            }
            assert_eq!(
                ends(&shop, false),
                [("1".to_owned(), "09:00".to_owned()), ("2".to_owned(), "08:30".to_owned())]
            );
            assert_eq!(ends_in_plan(&shop), ["1 09:00", "2 08:30"], "held {held}, {first} first");
        }
    }
}

/// A planned order that names nobody: no plan can keep it where it is, so others do not rely on it.
#[test]
fn what_names_nobody_begins_no_stop_for_others() {
    let mut shop = shop(&[("1", 0, "2025-07-26T07:00"), ("2", 1, "2025-07-26T09:00")]);
    Arc::make_mut(&mut shop.orders)[0].value.technicians.clear();
    assert_eq!(ends_in_plan(&shop), ["1 09:00", "2 11:00"]);
    let ends: Vec<String> = ends(&shop, false).into_iter().map(|(_, end)| end).collect();
    assert_eq!(ends, ["09:00", "11:00"]);
    // held it stays, whoever comes
    Arc::make_mut(&mut shop.orders)[0].value.held = true;
    assert_eq!(ends_in_plan(&shop), ["1 09:00", "2 10:30"]);
    assert_eq!(self::ends(&shop, false)[1].1, "10:30");
}

/// An order for a day without a time begins with the first window of its machine.
#[test]
fn what_is_for_a_day_only_begins_the_stop_of_the_first_window() {
    let shop = shop(&[("1", 0, "2025-07-26"), ("2", 1, "2025-07-26T09:00")]);
    assert_eq!(ends_in_plan(&shop), ["1 08:00", "2 10:30"]);
    assert_eq!(ends(&shop, false), [("2".to_owned(), "10:30".to_owned())]);
}

fn crew(name: &str) -> Row<TechnicianId, Technician> {
    let value = Technician {
        name: name.to_owned(),
        skills: Kind::ALL.to_vec(),
        shifts: parse_shifts("Mon-Sun 06:00-18:00").unwrap(),
        hours_per_day: None,
        absent: Vec::new(),
    };
    Row { id: TechnicianId::from_row(if name == "Brook" { 1 } else { 2 }), value }
}

/// Number and end of each order as the plan of what is booked has them.
fn ends_in_plan(shop: &Shop) -> Vec<String> {
    let forecast = project(shop, now());
    let due = due_list(shop, &forecast);
    let plan = booked(&PlanBasis::of(shop, &forecast, &due, now(), &PlanningConfig::quick(26)));
    let number = |id: OrderId| shop.orders.iter().find(|row| row.id == id).unwrap().name.clone();
    let placed = plan.placed.iter().filter_map(|placed| Some((number(placed.order?), placed.place.end)));
    let mut ends: Vec<String> = placed.map(|(number, end)| format!("{number} {}", end.format("%H:%M"))).collect();
    ends.sort();
    ends
}

/// Where the day begins at six, two in the night belongs to the day before.
#[test]
fn a_night_shift_is_the_day_on_which_it_begins() {
    let mut shop = shop(&[("1", 0, "2025-07-27T02:00"), ("2", 1, "2025-07-27T06:00")]);
    let begins = |shop: &mut Shop, hour| {
        Arc::make_mut(&mut shop.settings).day_begins = NaiveTime::from_hms_opt(hour, 0, 0).unwrap();
    };
    let late = |shop: &Shop| {
        let mut lines = lines(shop, false);
        lines.retain(|line| line.id.is_some());
        lines.sort_by(|a, b| a.order.cmp(&b.order));
        for line in &mut lines {
            line.service_by = NaiveDate::from_ymd_opt(2025, 7, 26);
        }
        let of_day = |as_of: &str| {
            let as_of = almanac_core::moment::parse_iso_date(as_of).unwrap();
            (lines.iter().map(|line| line.is_overdue(as_of)).collect::<Vec<_>>(), totals(&lines, as_of).late)
        };
        let late: Vec<bool> = lines.iter().map(OrderLine::is_late).collect();
        let lead = orders_lead(&lines, NaiveDate::from_ymd_opt(2025, 7, 27).unwrap());
        (late, of_day("2025-07-27"), lead.rest)
    };
    begins(&mut shop, 0);
    let (by_date, (overdue, count), lead) = late(&shop);
    assert_eq!((by_date, overdue, count), (vec![true, true], vec![false, false], 2));
    assert!(lead.contains("at 02:00"), "{lead}");
    begins(&mut shop, 6);
    let (by_day, (overdue, count), lead) = late(&shop);
    assert_eq!((by_day, overdue, count), (vec![false, true], vec![true, false], 1));
    assert!(lead.contains("at 06:00"), "{lead}");
}
