//! Hours by week: what is placed, what is likely to come, what the crew has.

use super::super::proposal::{Proposal, Tray};
use super::blocks::PlanBlock;
use crate::forecast::{CrossedBy, ShopForecast};
use crate::service_costs::{needed_kind, work_of};
use crate::shop::Shop;
use crate::units::Minutes;
use chrono::{Datelike as _, Days, NaiveDate, NaiveTime, Timelike as _};
use std::collections::BTreeSet;

/// One week of the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekHours {
    /// Its Monday.
    pub monday: NaiveDate,
    /// Its ISO number.
    pub number: u32,
    /// Working time of what is placed in it, all people together.
    pub placed: Minutes,
    /// Working time of what is likely to come due in it and has no place: each service counts with
    /// its chance.
    pub likely: Minutes,
    /// What the crew can spend at services in it, from the as-of day on.
    pub crew: Minutes,
    /// The closure that takes most of it, in words; `None`: it runs.
    pub closed: Option<String>,
    /// Closures that touch it, in words such as `Fri 3 to Mon 6`.
    pub closures: Vec<String>,
}

/// When the crew is there, by day.
#[derive(Debug, Clone)]
pub struct CrewTime<'a> {
    shop: &'a Shop,
    /// Days with a downtime window: services are done on them even while the shop is closed.
    windows: BTreeSet<NaiveDate>,
}

impl<'a> CrewTime<'a> {
    /// That of a shop with its downtime windows.
    #[must_use]
    pub fn of(shop: &'a Shop, trays: &[Tray]) -> Self {
        Self { shop, windows: trays.iter().map(|tray| tray.start.date()).collect() }
    }

    /// Minutes that all technicians together can spend at services on a day: their shifts, at most
    /// their hours a day, none on days away, and none in closures but where a window lies in one.
    #[must_use]
    pub fn on(&self, day: NaiveDate) -> Minutes {
        self.shop.technicians.iter().map(|row| self.of_one(&row.name, day)).sum()
    }

    /// From one day to another, both included.
    #[must_use]
    pub fn between(&self, first: NaiveDate, last: NaiveDate) -> Minutes {
        first.iter_days().take_while(|day| *day <= last).map(|day| self.on(day)).sum()
    }

    /// The same of one technician.
    #[must_use]
    pub fn of_one(&self, technician: &str, day: NaiveDate) -> Minutes {
        let closed = !self.windows.contains(&day) && self.shop.closures.iter().any(|row| row.days.contains(day));
        let Some(row) = self.shop.technicians.iter().find(|row| row.name == technician) else {
            return Minutes::ZERO;
        };
        if closed || row.absent.iter().any(|away| away.contains(day)) {
            return Minutes::ZERO;
        }
        let shifts = row.shifts.iter().filter(|shift| shift.is_on(day.weekday()));
        let shifts = minutes_of(shifts.map(|shift| (shift.from, shift.to)));
        let shifts = Minutes::new(shifts as f64).unwrap_or_default();
        match row.hours_per_day.and_then(|hours| Minutes::new(hours.get() * 60.0)) {
            Some(most) => shifts.min(most),
            None => shifts,
        }
    }
}

/// Minutes of shifts that begin on one day; those that overlap count once.
fn minutes_of(shifts: impl Iterator<Item = (NaiveTime, NaiveTime)>) -> i64 {
    let mut spans: Vec<(i64, i64)> = shifts
        .map(|(from, to)| {
            let start = i64::from(from.hour() * 60 + from.minute());
            (start, start + span_minutes(from, to))
        })
        .collect();
    spans.sort_unstable();
    let mut counted_to = i64::MIN;
    let mut minutes = 0;
    for (from, to) in spans {
        minutes += (to - from.max(counted_to)).max(0);
        counted_to = counted_to.max(to);
    }
    minutes
}

/// Minutes from one time of day to another, over midnight where that comes first.
fn span_minutes(from: NaiveTime, to: NaiveTime) -> i64 {
    let minute = |time: NaiveTime| i64::from(time.hour() * 60 + time.minute());
    (minute(to) - minute(from)).rem_euclid(1440)
}

/// The Monday of the week in which a day lies.
#[must_use]
pub fn monday_of(day: NaiveDate) -> NaiveDate {
    let back = u64::from(day.weekday().num_days_from_monday());
    day.checked_sub_days(Days::new(back)).unwrap_or(day)
}

/// The Mondays of the weeks from one day to another.
#[must_use]
pub fn weeks_of(first: NaiveDate, last: NaiveDate) -> Vec<NaiveDate> {
    monday_of(first).iter_weeks().take_while(|monday| *monday <= last).collect()
}

/// The chance as a share that any limit of a spindle is crossed by the end of a day.
fn share_crossed(crossed: &CrossedBy, as_of: NaiveDate, day: NaiveDate) -> f64 {
    if crossed.interval_end.is_some_and(|end| end <= day) {
        return 1.0;
    }
    u32::try_from((day - as_of).num_days()).map_or(0.0, |ahead| crossed.wear.by(ahead).get() / 100.0)
}

/// The weeks of a plan with what is placed in it.
pub(super) fn by_week(
    shop: &Shop,
    forecast: &ShopForecast,
    trays: &[Tray],
    plan: &Proposal,
    blocks: &[PlanBlock],
) -> Vec<WeekHours> {
    let crew = CrewTime::of(shop, trays);
    let there: BTreeSet<_> = plan.placed.iter().map(|service| service.spindle).collect();
    let mondays = weeks_of(plan.as_of, plan.last);
    let likely = likely_by_week(shop, forecast, &mondays, |spindle| there.contains(&spindle));
    let mut weeks: Vec<WeekHours> = mondays
        .iter()
        .zip(likely)
        .map(|(monday, likely)| {
            let sunday = monday.checked_add_days(Days::new(6)).unwrap_or(*monday);
            WeekHours {
                monday: *monday,
                number: monday.iso_week().week(),
                placed: Minutes::ZERO,
                likely,
                crew: crew.between((*monday).max(plan.as_of), sunday),
                closed: None,
                closures: Vec::new(),
            }
        })
        .collect();
    for week in &mut weeks {
        note_closures(shop, week);
    }
    for block in blocks.iter().filter(|block| !block.standing.is_left_behind()) {
        let monday = monday_of(block.service.place.start.date());
        if let Some(week) = weeks.iter_mut().find(|week| week.monday == monday) {
            let people = block.service.place.technicians.len().max(1) as f64;
            week.placed = week.placed + Minutes::new(block.service.minutes as f64 * people).unwrap_or_default();
        }
    }
    weeks
}

/// Expected working time of services that come due in each week and have no place.
fn likely_by_week(
    shop: &Shop,
    forecast: &ShopForecast,
    mondays: &[NaiveDate],
    has_place: impl Fn(crate::ids::SpindleId) -> bool,
) -> Vec<Minutes> {
    let mut minutes = vec![0.0; mondays.len()];
    let open = forecast.spindles.values().filter(|one| !has_place(one.spindle));
    for one in open {
        let Some(spindle) = shop.spindles.get(&one.spindle) else { continue };
        if shop.position_on(one.spindle, forecast.as_of).is_none() {
            continue;
        }
        let work = work_of(shop, &spindle.interface, needed_kind(one));
        let each = work.minutes.get() * f64::from(work.crew);
        let mut before = 0.0;
        for (sum, monday) in minutes.iter_mut().zip(mondays) {
            let sunday = monday.checked_add_days(Days::new(6)).unwrap_or(*monday);
            let by_then = share_crossed(&one.crossed, forecast.as_of, sunday);
            *sum += each * (by_then - before).max(0.0);
            before = by_then.max(before);
        }
    }
    minutes.into_iter().map(|sum| Minutes::new(sum).unwrap_or_default()).collect()
}

/// Closures that touch a week, and the one that takes most of its working days.
fn note_closures(shop: &Shop, week: &mut WeekHours) {
    let days: Vec<NaiveDate> = week.monday.iter_days().take(7).collect();
    let weight = |day: &NaiveDate| {
        let index = day.weekday().num_days_from_monday() as usize;
        shop.settings.weekday_weights.get(index).copied().unwrap_or(0.0)
    };
    let whole: f64 = days.iter().map(weight).sum();
    for closure in shop.closures.iter() {
        let inside: Vec<&NaiveDate> = days.iter().filter(|day| closure.days.contains(**day)).collect();
        if inside.is_empty() {
            continue;
        }
        let words = |day: NaiveDate| day.format("%a %-d").to_string();
        let days = closure.days;
        week.closures.push(match days.first == days.last {
            true => words(days.first),
            false => format!("{} to {}", words(days.first), words(days.last)),
        });
        if inside.iter().map(|day| weight(day)).sum::<f64>() >= whole - 1e-9 && 0.0 < whole {
            let DayWords { from, to } = DayWords::of(closure.days.first, closure.days.last);
            week.closed = Some(format!("closed {from} to {to}"));
        }
    }
}

/// `3` and `21 Aug`, or `29 Jul` and `9 Aug`.
struct DayWords {
    from: String,
    to: String,
}

impl DayWords {
    fn of(first: NaiveDate, last: NaiveDate) -> Self {
        let same = (first.year(), first.month()) == (last.year(), last.month());
        let from = first.format(if same { "%-d" } else { "%-d %b" }).to_string();
        Self { from, to: last.format("%-d %b").to_string() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::closure::Closure;
    use crate::crew::{Technician, parse_shifts};
    use crate::forecast::ChanceCurve;
    use crate::ids::{ClosureId, Row, TechnicianId};
    use crate::moment::{DayRange, parse_iso_date};
    use crate::service::Kind;
    use crate::units::{Percent, RunHours};
    use std::sync::Arc;

    fn day(text: &str) -> NaiveDate {
        parse_iso_date(text).unwrap()
    }

    fn crew(shifts: &str, most: Option<f64>, absent: &str) -> Shop {
        let value = Technician {
            name: "Brook".to_owned(),
            skills: vec![Kind::Minor],
            shifts: parse_shifts(shifts).unwrap(),
            hours_per_day: most.and_then(RunHours::new),
            absent: DayRange::parse(absent).into_iter().collect(),
        };
        let technicians = Arc::new(vec![Row { id: TechnicianId::from_row(1), value }]);
        Shop { technicians, ..Shop::default() }
    }

    #[test]
    fn shifts_that_overlap_count_once() {
        let shop = crew("Mon 06:00-12:00; Mon 11:00-14:00; Mon 22:00-06:00", None, "");
        assert!((CrewTime::of(&shop, &[]).on(day("2026-03-02")).get() - (8.0 + 8.0) * 60.0).abs() < 1e-9);
    }

    #[test]
    fn the_crew_is_there_in_its_shifts_up_to_its_hours() {
        let mut shop = crew("Mon-Fri 06:00-14:00; Sat 07:00-13:00", Some(6.5), "2026-03-05");
        // Monday 2 to Sunday 8 March: five days of 8 h and one of 6 h, at most 6.5 h, Thursday away
        let week = |shop: &Shop| CrewTime::of(shop, &[]).between(day("2026-03-02"), day("2026-03-08")).get();
        assert!((week(&shop) - (4.0 * 6.5 + 6.0) * 60.0).abs() < 1e-9);
        let closure = Closure { days: DayRange::parse("2026-03-06/2026-03-08").unwrap(), what: String::new() };
        shop.closures = Arc::new(vec![Row { id: ClosureId::from_row(1), value: closure }]);
        assert!((week(&shop) - 3.0 * 6.5 * 60.0).abs() < 1e-9);
    }

    #[test]
    fn a_shift_over_midnight_is_counted_whole() {
        let shop = crew("Mon 22:00-06:00", None, "");
        assert!((CrewTime::of(&shop, &[]).on(day("2026-03-02")).get() - 480.0).abs() < 1e-9);
    }

    #[test]
    fn an_interval_is_a_jump_and_wear_is_a_chance() {
        let points = [(0, 0.0), (14, 20.0)].map(|(ahead, chance)| (ahead, Percent::new(chance).unwrap()));
        let wear = ChanceCurve::through(points);
        let crossed = CrossedBy { wear, interval_end: Some(day("2026-03-20")), ..CrossedBy::default() };
        let by = |text: &str| share_crossed(&crossed, day("2026-03-02"), day(text));
        assert!((by("2026-03-09") - 0.10).abs() < 1e-9);
        assert!((by("2026-03-19") - 0.20).abs() < 1e-9);
        assert!((by("2026-03-20") - 1.0).abs() < 1e-9);
        assert!(by("2026-03-01").abs() < 1e-9, "a day that is over brings no chance of its own");
    }

    #[test]
    fn weeks_begin_on_monday() {
        assert_eq!(
            weeks_of(day("2026-03-04"), day("2026-03-16")),
            [day("2026-03-02"), day("2026-03-09"), day("2026-03-16")]
        );
    }

    #[test]
    fn a_closure_is_said_and_a_whole_week_is_closed() {
        let mut shop = crew("Mon-Fri 06:00-14:00", None, "");
        let closed = |days: &str| Closure { days: DayRange::parse(days).unwrap(), what: "works holiday".to_owned() };
        let rows = ["2026-04-03/2026-04-06", "2026-08-03/2026-08-21"].map(closed);
        shop.closures = Arc::new(
            rows.into_iter().enumerate().map(|(n, value)| Row { id: ClosureId::from_row(n as i64), value }).collect(),
        );
        let week = |monday: &str| {
            let mut week = WeekHours {
                monday: day(monday),
                number: 0,
                placed: Minutes::ZERO,
                likely: Minutes::ZERO,
                crew: Minutes::ZERO,
                closed: None,
                closures: Vec::new(),
            };
            note_closures(&shop, &mut week);
            week
        };
        assert_eq!(week("2026-03-30").closures, ["Fri 3 to Mon 6"]);
        assert_eq!(week("2026-03-30").closed, None);
        assert_eq!(week("2026-08-10").closed.as_deref(), Some("closed 3 to 21 Aug"));
    }
}
