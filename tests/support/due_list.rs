//! A due list made by hand: 27 invented rows with every state word and every kind of ebb, for tests
//! of the due page that must not hang on the model behind the figures.

use almanac_core::due::{Booking, DueList, DueRow, KitLate, LeadLine, Mark};
use almanac_core::forecast::{
    CrossedBy, Crossing, Estimate, FanDay, ForecastConfig, GoverningLimit, HORIZON_DAYS, PathPoint, PlannedUsage,
    ShopForecast, SpindleForecast, SpindleState, UnderStopLimit,
};
use almanac_core::ids::{ClosureId, MachineId, MountingId, OrderId, Row, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::limits::Limits;
use almanac_core::machine::{Machine, Position};
use almanac_core::moment::{DayRange, Moment};
use almanac_core::mounting::Mounting;
use almanac_core::order::OrderState;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::spindle::Spindle;
use almanac_core::units::{Kilonewtons, Percent};
use chrono::{Days, NaiveDate};
use std::collections::BTreeMap;
use std::sync::Arc;

/// One row in short: state, position, spindle, interface, nominal kN, % now, days to service-by
/// (below 0: passed so many days ago), limit, booking (day, name), last window.
type Short = (Mark, &'static str, u32, &'static str, f64, f64, Option<i64>, Limit, Option<(i64, &'static str)>, i64);

use GoverningLimit as Limit;

/// A last window that is not there.
const NONE: i64 = i64::MIN;

const ROWS: [Short; 27] = [
    (Mark::DoNotRun, "T-04", 126, "PSC 63", 45.0, 68.7, Some(-20), Limit::Force, Some((0, "Brook")), NONE),
    (Mark::PastLimit, "R-07/1", 109, "HSK-F63", 11.0, 78.8, Some(-12), Limit::Force, Some((5, "Thorne")), NONE),
    (Mark::ToBook, "M-02", 131, "HSK-A100", 45.0, 80.9, Some(7), Limit::Force, None, 5),
    (Mark::Booked, "R-04", 117, "HSK-A63", 18.0, 81.6, Some(15), Limit::Force, Some((12, "Thorne")), NONE),
    (Mark::ToBook, "M-06", 122, "HSK-A63", 18.0, 86.9, Some(20), Limit::Calendar, None, 19),
    (Mark::ToBook, "R-01", 102, "HSK-F63", 11.0, 83.1, Some(29), Limit::Force, None, 26),
    (Mark::Booked, "R-09", 119, "HSK-A63", 18.0, 88.4, Some(31), Limit::ClampCycles, Some((26, "Aldous")), NONE),
    (Mark::ToBook, "T-02", 112, "7/24 50", 25.0, 87.2, Some(38), Limit::SettingDimension, None, 26),
    (Mark::Booked, "R-03/2", 108, "HSK-F63", 11.0, 84.3, Some(43), Limit::Force, Some((40, "Thorne")), NONE),
    (Mark::Booked, "M-01", 130, "HSK-A100", 45.0, 85.0, Some(56), Limit::Force, Some((54, "Marlow")), NONE),
    (Mark::Clear, "R-06", 105, "HSK-F63", 11.0, 86.0, Some(64), Limit::Force, None, 61),
    (Mark::Clear, "T-01", 111, "7/24 50", 25.0, 85.4, Some(72), Limit::RunHours, None, 68),
    (Mark::Clear, "M-05", 121, "HSK-A63", 18.0, 86.2, Some(87), Limit::Force, None, 82),
    (Mark::Clear, "R-02", 103, "HSK-F63", 11.0, 87.9, Some(94), Limit::Force, None, 89),
    (Mark::Clear, "R-08", 118, "HSK-A63", 18.0, 91.8, Some(101), Limit::Calendar, None, 96),
    (Mark::Clear, "M-04/1", 123, "HSK-E40", 6.8, 87.6, Some(109), Limit::Force, None, 103),
    (Mark::Clear, "R-07/2", 110, "HSK-F63", 11.0, 89.6, Some(120), Limit::Force, None, 117),
    (Mark::Clear, "T-05", 127, "PSC 63", 45.0, 88.1, Some(128), Limit::Force, None, 124),
    (Mark::Clear, "M-03", 132, "HSK-A100", 45.0, 90.6, Some(143), Limit::Force, None, 138),
    (Mark::Clear, "R-05", 104, "HSK-F63", 11.0, 92.3, Some(157), Limit::Force, None, 152),
    (Mark::NoReading, "R-10", 144, "HSK-A63", 18.0, 92.0, Some(164), Limit::Force, None, 154),
    (Mark::Clear, "T-03", 113, "7/24 50", 25.0, 90.2, Some(171), Limit::RunHours, None, 166),
    (Mark::Clear, "M-07", 133, "HSK-A63", 18.0, 92.9, Some(185), Limit::Force, None, 180),
    (Mark::Clear, "R-03/1", 107, "HSK-F63", 11.0, 94.8, Some(211), Limit::Force, None, 206),
    (Mark::Clear, "M-04/2", 124, "HSK-E40", 6.8, 92.2, Some(233), Limit::Force, None, 229),
    (Mark::Clear, "T-06", 128, "PSC 63", 45.0, 96.4, Some(323), Limit::Calendar, None, NONE),
    (Mark::Clear, "M-08", 125, "HSK-A63", 18.0, 96.9, None, Limit::Force, None, NONE),
];

/// The shop, its forecast and its due list.
#[derive(Debug, Clone)]
pub struct DueFixture {
    /// Machines, spindles, mountings and closures.
    pub shop: Shop,
    /// The projection of every row.
    pub forecast: ShopForecast,
    /// The list.
    pub due: DueList,
}

/// The day from which the list looks.
#[must_use]
pub fn as_of() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap_or_default()
}

/// The 27 rows.
#[must_use]
pub fn twenty_seven() -> DueFixture {
    rows(ROWS.len())
}

/// So many rows: the 27 over and over, under other names and a little later each time.
#[must_use]
pub fn rows(count: usize) -> DueFixture {
    let mut shop = Shop::default();
    let settings = Arc::make_mut(&mut shop.settings);
    settings.name = "Ottermere Pattern & Joinery".to_owned();
    settings.as_of = Some(as_of());
    let mut list = Vec::new();
    for nth in 0..count {
        let Some(short) = ROWS.get(nth % ROWS.len()) else { continue };
        list.push(one(&mut shop, short, nth));
    }
    list.sort_by(|a, b| {
        let key = |row: &DueRow| (row.days.unwrap_or(i64::MAX), row.forecast.reserve);
        let ((days_a, reserve_a), (days_b, reserve_b)) = (key(a), key(b));
        days_a.cmp(&days_b).then(reserve_a.total_cmp(&reserve_b)).then(a.name.cmp(&b.name))
    });
    closures(&mut shop);
    let config = ForecastConfig { accepted_risk: 0.1, horizon_days: HORIZON_DAYS, planned: PlannedUsage::AsMeasured };
    let spindles: BTreeMap<SpindleId, Arc<SpindleForecast>> =
        list.iter().map(|row| (row.spindle, Arc::clone(&row.forecast))).collect();
    let due =
        DueList { as_of: as_of(), booking_horizon_days: 60, lead: lead(count), rows: list, worth_reading: Vec::new() };
    DueFixture { shop: shop.sorted(), forecast: ShopForecast { as_of: as_of(), config, spindles }, due }
}

fn lead(count: usize) -> LeadLine {
    if count == 0 {
        return LeadLine::default();
    }
    LeadLine {
        urgent: "One spindle must not run and one is past its service limit.".to_owned(),
        rest: "Eight more need service before 1 May; four of them are not booked, the first of them is M-02: its last \
               window is Saturday 7 March."
            .to_owned(),
    }
}

fn closures(shop: &mut Shop) {
    let day = |month, day| NaiveDate::from_ymd_opt(2026, month, day).unwrap_or_default();
    let spans = [(day(4, 3), day(4, 6), "Easter"), (day(8, 3), day(8, 21), "summer")];
    for (nth, (first, last, what)) in spans.into_iter().enumerate() {
        let value = almanac_core::closure::Closure { days: DayRange { first, last }, what: what.to_owned() };
        Arc::make_mut(&mut shop.closures).push(Row { id: ClosureId::from_row(nth as i64 + 1), value });
    }
}

fn after(days: i64) -> NaiveDate {
    let day = if days < 0 {
        as_of().checked_sub_days(Days::new(days.unsigned_abs()))
    } else {
        as_of().checked_add_days(Days::new(days.unsigned_abs()))
    };
    day.unwrap_or_default()
}

fn one(shop: &mut Shop, short: &Short, nth: usize) -> DueRow {
    let (mark, position, number, interface, nominal, percent, due_in, governing, booked, window) = *short;
    let round = nth / ROWS.len();
    let due_in = due_in.map(|days| if days < 0 { days } else { days + 3 * round as i64 });
    let (machine_name, place) = position.split_once('/').unwrap_or((position, "1"));
    let suffix = if round == 0 { String::new() } else { format!(".{round}") };
    let machine_name = format!("{machine_name}{suffix}");
    let hall = match position.chars().next() {
        Some('R') => "Router hall",
        Some('M') => "Mould hall",
        _ => "Turning hall",
    };
    let machine_row = shop.machines.len() as i64 + 1;
    let machine = shop.machine_named(&machine_name).unwrap_or_else(|| MachineId::from_row(machine_row));
    let positions = if position.contains('/') { 2 } else { 1 };
    let entry = Machine { positions, ..Machine::named(&machine_name, hall) };
    Arc::make_mut(&mut shop.machines).insert(machine, entry);
    let id = SpindleId::from_row(nth as i64 + 1);
    let name = format!("S-{:04}", number as usize + 100 * round);
    let kilonewtons = |value: f64| Kilonewtons::new(value).unwrap_or_default();
    let interface = Interface::parse(interface).unwrap_or_else(|| Interface::parse("own").expect("a text"));
    let spindle = Spindle::named(&name, interface.clone(), kilonewtons(nominal));
    let limits = shop.limits_of(&spindle);
    Arc::make_mut(&mut shop.spindles).insert(id, spindle);
    let at = Position { machine, number: place.parse().unwrap_or(1) };
    let value = Mounting { spindle: id, position: at, mounted_on: after(-900), removed_on: None };
    Arc::make_mut(&mut shop.mountings).push(Row { id: MountingId::from_row(nth as i64 + 1), value });

    let forecast = forecast(id, mark, limits, percent, due_in, governing, booked.map(|(day, _)| day));
    let kit_late = (position == "M-06").then(|| KitLate::On(after(24)));
    DueRow {
        spindle: id,
        name,
        position: Some(format!("{machine_name}{}", if positions > 1 { format!("/{place}") } else { String::new() })),
        machine: Some(machine_name),
        hall: Some(hall.to_owned()),
        interface: interface.as_str().to_owned(),
        mark,
        booking: booked.map(|(day, who)| Booking {
            order: OrderId::from_row(nth as i64 + 1),
            name: format!("26-{:03}", 40 + nth),
            state: OrderState::Planned,
            start: Some(Moment::day(after(day))),
            day: Some(after(day)),
            technician: Some(who.to_owned()),
        }),
        last_window: (window != NONE).then(|| after(window)),
        next_window: Some(after(5)),
        not_before: None,
        service: Kind::Minor,
        kit: None,
        kit_late,
        days: due_in.map(|days| days.max(0)),
        forecast: Arc::new(forecast),
    }
}

fn forecast(
    spindle: SpindleId,
    mark: Mark,
    limits: Limits,
    percent: f64,
    due_in: Option<i64>,
    governing: GoverningLimit,
    booked: Option<i64>,
) -> SpindleForecast {
    let nominal = limits.nominal_force.value;
    let share = |value: f64| Percent::new(value).unwrap_or_default();
    let force = |value: f64| Kilonewtons::from_percent(share(value), nominal);
    let limit = limits.service_limit.value.get();
    // the path at risk falls to the limit on service-by; a fixed date leaves it some way above
    let is_force = governing == GoverningLimit::Force;
    let spread = 1.2_f64.min((percent - limit).max(0.0) * 0.4);
    let days = due_in.map_or(420.0, |days| days.max(1) as f64);
    let loss = if is_force { (percent - spread - limit).max(0.4) / days } else { 0.02 };
    let measured = mark != Mark::NoReading;
    let is_passed = due_in.is_some_and(|days| days < 0);
    let fan = (0..110_i64)
        .map(|week| {
            let ahead = (week * 7) as f64;
            let at_risk = percent - spread - loss * ahead;
            let likely = percent + spread - loss * 0.45 * ahead;
            let step = (likely - at_risk) / 4.0;
            let force = std::array::from_fn(|index| force(at_risk + step * (index as f64 - 1.0)));
            FanDay {
                day: after(week * 7),
                run_hours: None,
                clamp_cycles: None,
                force,
                at_risk: self::kn(at_risk, nominal),
            }
        })
        .collect();
    let past = (0..26_i64)
        .rev()
        .map(|week| PathPoint {
            day: after(-week * 7),
            run_hours: None,
            clamp_cycles: None,
            force: force(percent + loss * 0.8 * (week * 7) as f64),
        })
        .collect();
    let after_booked = booked.map_or_else(Vec::new, |day| {
        (0..60_i64)
            .map(|week| PathPoint {
                day: after(day + week * 7),
                run_hours: None,
                clamp_cycles: None,
                force: force(96.0 - 0.05 * (week * 7) as f64),
            })
            .collect()
    });
    let crossing = Crossing { days: [due_in.map(after); 7] };
    SpindleForecast {
        spindle,
        state: if mark == Mark::DoNotRun { SpindleState::OutOfService } else { SpindleState::InService },
        run_hours: None,
        clamp_cycles: None,
        hours_per_day: None,
        cycles_per_day: None,
        hours_since_service: None,
        cycles_since_service: None,
        last_service: None,
        force_now: Estimate { mean: force(percent), sd: force(spread / 1.3) },
        force_measured: measured,
        under_stop_limit: (mark == Mark::DoNotRun).then_some(UnderStopLimit::Read(as_of())),
        setting_now: None,
        setting_drift_per_1000_h: None,
        setting_out_of_tolerance: false,
        reserve: share(percent - limit),
        limits,
        cross_service_limit: Some(crossing),
        cross_stop_limit: None,
        cross_setting_dimension: None,
        crossed: CrossedBy { interval_end: due_in.map(after), ..CrossedBy::default() },
        due_calendar: None,
        due_run_hours: None,
        due_clamp_cycles: None,
        service_by: due_in.map(|days| after(days.max(0))),
        is_passed,
        passed_since: due_in.filter(|days| *days < 0).map(after),
        governing: Some(governing),
        reason: "At 11.4 h a working day the force reaches 14.4 kN between 10 March and 11 May; 10 % risk by 17 March."
            .to_owned(),
        recoverable_loss: Percent::new(15.4),
        lasting_loss: Percent::new(1.3),
        major_service_by: None,
        major_service_between: [None; 2],
        loss_per_1000_h: None,
        interface_loss_per_1000_h: None,
        interface_spindles: 0,
        steps: Vec::new(),
        unlogged: Vec::new(),
        warnings: vec![],
        left_out: Vec::new(),
        readings: Vec::new(),
        intervals: vec![],
        restored: vec![],
        fan,
        past: if measured { past } else { vec![] },
        after_booked,
    }
}

fn kn(percent: f64, nominal: Kilonewtons) -> Kilonewtons {
    Kilonewtons::from_percent(Percent::new(percent).unwrap_or_default(), nominal)
}
