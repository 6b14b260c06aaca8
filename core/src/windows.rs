//! Downtime windows, spelt out: when each machine may be stopped between two days.
//!
//! Repeating windows follow their rule and skip closures; a single row inside a closure stands.

use crate::downtime::{Downtime, WindowScope};
use crate::ids::{DowntimeId, MachineId};
use crate::moment::DayRange;
use crate::recurrence::{InvalidRecurrence, Recurrence};
use crate::shop::Shop;
use crate::units::{Money, Percent};
use chrono::{Days, NaiveDate, NaiveDateTime, TimeDelta};
use std::collections::BTreeMap;

/// One window.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// The row it comes from.
    pub downtime: DowntimeId,
    /// Start.
    pub start: NaiveDateTime,
    /// End, after the start.
    pub end: NaiveDateTime,
    /// What it is.
    pub what: String,
    /// What a stop costs in it, in percent of the stop cost.
    pub stop_factor: Percent,
    /// Extra pay per person and hour.
    pub premium_per_hour: Money,
}

/// What a stop costs where a window says nothing: a running shift, in percent of the stop cost.
pub const RUNNING_SHIFT_PCT: f64 = 100.0;

impl Window {
    /// Its days, both included; one that ends at midnight does not reach into the next day.
    #[must_use]
    pub fn days(&self) -> DayRange {
        let last = (self.end - TimeDelta::nanoseconds(1)).date();
        DayRange { first: self.start.date(), last: last.max(self.start.date()) }
    }

    /// How long it is.
    #[must_use]
    pub fn hours(&self) -> f64 {
        (self.end - self.start).num_minutes() as f64 / 60.0
    }
}

/// All windows of a shop between two days, by the machines for which they are.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Windows {
    everywhere: Vec<Window>,
    halls: BTreeMap<String, Vec<Window>>,
    machines: BTreeMap<MachineId, Vec<Window>>,
    hall_of: BTreeMap<MachineId, String>,
}

/// Why a row cannot be spelt out as it stands; `None`: it can. Where its rule cannot be read it
/// gives its first window only, where it ends before its start none.
#[must_use]
pub fn complaint(downtime: &Downtime) -> Option<Complaint> {
    if downtime.ends_at() <= downtime.start.date_time() {
        return Some(Complaint::EndsBeforeStart);
    }
    Recurrence::parse(downtime.repeat.as_deref()?).err().map(Complaint::Rule)
}

/// What is wrong with a row of downtime windows.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Complaint {
    /// It is no time at all.
    #[error("ends before its start, so it is no window")]
    EndsBeforeStart,
    /// Its repeats are not known.
    #[error("cannot be read, so only the first window counts: {0}")]
    Rule(InvalidRecurrence),
}

impl Windows {
    /// The windows of which at least a part lies from `first` to `last`, both included.
    ///
    /// A row whose rule cannot be read gives its first window only; [`complaint`] says so.
    #[must_use]
    pub fn between(shop: &Shop, first: NaiveDate, last: NaiveDate) -> Self {
        let mut windows = Self {
            hall_of: shop.machines.iter().map(|(id, machine)| (*id, machine.hall.clone())).collect(),
            ..Self::default()
        };
        for row in shop.downtimes.iter() {
            let length = row.ends_at() - row.start.date_time();
            if length <= TimeDelta::zero() {
                continue;
            }
            let days = start_days(shop, &row.value, last);
            let list = match &row.scope {
                WindowScope::AllHalls => &mut windows.everywhere,
                WindowScope::Hall(hall) => windows.halls.entry(hall.clone()).or_default(),
                WindowScope::Machine(machine) => windows.machines.entry(*machine).or_default(),
            };
            let spelt = days.into_iter().filter_map(|day| {
                let start = day.and_time(row.start.date_time().time());
                let window = Window {
                    downtime: row.id,
                    start,
                    end: start.checked_add_signed(length)?,
                    what: row.what.clone(),
                    stop_factor: row.stop_factor.or_else(|| Percent::new(RUNNING_SHIFT_PCT)).unwrap_or_default(),
                    premium_per_hour: row.premium_per_hour.unwrap_or_default(),
                };
                let days = window.days();
                (first <= days.last && days.first <= last).then_some(window)
            });
            list.extend(spelt);
        }
        let lists = std::iter::once(&mut windows.everywhere)
            .chain(windows.halls.values_mut())
            .chain(windows.machines.values_mut());
        for list in lists {
            list.sort_by_key(|window| (window.start, window.end, window.downtime));
        }
        windows
    }

    fn lists(&self, machine: MachineId) -> [&[Window]; 3] {
        let hall = self.hall_of.get(&machine).and_then(|hall| self.halls.get(hall));
        let own = self.machines.get(&machine);
        [&self.everywhere, hall.map(Vec::as_slice).unwrap_or_default(), own.map(Vec::as_slice).unwrap_or_default()]
    }

    /// Every window with the machines for which it is: all halls first, then by hall and machine.
    #[must_use]
    pub fn scoped(&self) -> Vec<(WindowScope, &Window)> {
        let everywhere = self.everywhere.iter().map(|window| (WindowScope::AllHalls, window));
        let halls = self
            .halls
            .iter()
            .flat_map(|(hall, windows)| windows.iter().map(|window| (WindowScope::Hall(hall.clone()), window)));
        let machines = self
            .machines
            .iter()
            .flat_map(|(machine, windows)| windows.iter().map(|window| (WindowScope::Machine(*machine), window)));
        everywhere.chain(halls).chain(machines).collect()
    }

    /// The windows of one machine, by start.
    #[must_use]
    pub fn of_machine(&self, machine: MachineId) -> Vec<&Window> {
        let mut windows: Vec<&Window> = self.lists(machine).into_iter().flatten().collect();
        windows.sort_by_key(|window| (window.start, window.end, window.downtime));
        windows
    }

    /// The last day on or before `day` on which that machine has a window.
    #[must_use]
    pub fn last_day_until(&self, machine: MachineId, day: NaiveDate) -> Option<NaiveDate> {
        let of_list = |list: &[Window]| {
            let begun = list.partition_point(|window| window.start.date() <= day);
            list.get(..begun)?.iter().map(|window| window.days().last.min(day)).max()
        };
        self.lists(machine).into_iter().filter_map(of_list).max()
    }

    /// The first day on or after `day` on which that machine has a window.
    #[must_use]
    pub fn first_day_from(&self, machine: MachineId, day: NaiveDate) -> Option<NaiveDate> {
        let of_list = |list: &[Window]| {
            list.iter().find(|window| day <= window.days().last).map(|window| window.start.date().max(day))
        };
        self.lists(machine).into_iter().filter_map(of_list).min()
    }

    /// The window of that machine in which a moment lies; of several the cheapest to stop in.
    #[must_use]
    pub fn at(&self, machine: MachineId, moment: NaiveDateTime) -> Option<&Window> {
        self.of_span(machine, moment, moment)
    }

    /// The window of that machine in which a span lies, else one in which it starts; of several the
    /// cheapest to stop in.
    #[must_use]
    pub fn of_span(&self, machine: MachineId, from: NaiveDateTime, to: NaiveDateTime) -> Option<&Window> {
        let inside = |window: &&Window| window.start <= from && from < window.end;
        let ends_outside = |window: &Window| window.end < to;
        self.lists(machine).into_iter().flatten().filter(inside).min_by(|a, b| {
            let by_factor = a.stop_factor.total_cmp(&b.stop_factor);
            ends_outside(a).cmp(&ends_outside(b)).then(by_factor).then(a.start.cmp(&b.start))
        })
    }
}

/// The days on which a row's windows start, up to `last`; of a rule that cannot be read the first.
fn start_days(shop: &Shop, downtime: &Downtime, last: NaiveDate) -> Vec<NaiveDate> {
    let Some(Ok(recurrence)) = downtime.repeat.as_deref().map(Recurrence::parse) else {
        return vec![downtime.start.date];
    };
    // one more day, so that a day of the shop that begins late is whole
    let until = last.checked_add_days(Days::new(1)).unwrap_or(last);
    let closed = |day: &NaiveDate| shop.closures.iter().any(|closure| closure.days.contains(*day));
    recurrence.occurrences(downtime.start, until).into_iter().filter(|day| !closed(day)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::closure::Closure;
    use crate::ids::{ClosureId, Row};
    use crate::machine::Machine;
    use crate::moment::Moment;
    use std::sync::Arc;

    fn day(text: &str) -> NaiveDate {
        crate::moment::parse_iso_date(text).unwrap()
    }

    fn downtime(
        id: i64,
        start: &str,
        end: &str,
        scope: WindowScope,
        repeat: Option<&str>,
    ) -> Row<DowntimeId, Downtime> {
        let value = Downtime {
            start: Moment::parse(start).unwrap(),
            end: Moment::parse(end).unwrap(),
            scope,
            what: "Saturday".to_owned(),
            stop_factor: None,
            premium_per_hour: None,
            repeat: repeat.map(ToOwned::to_owned),
        };
        Row { id: DowntimeId::from_row(id), value }
    }

    fn shop(downtimes: Vec<Row<DowntimeId, Downtime>>) -> (Shop, MachineId, MachineId) {
        let (a, b) = (MachineId::from_row(1), MachineId::from_row(2));
        let mut shop = Shop { downtimes: Arc::new(downtimes), ..Shop::default() };
        let machines = Arc::make_mut(&mut shop.machines);
        machines.insert(a, Machine::named("A", "North"));
        machines.insert(b, Machine::named("B", "South"));
        let closure = Closure { days: DayRange::parse("2026-03-14/2026-03-15").unwrap(), what: String::new() };
        shop.closures = Arc::new(vec![Row { id: ClosureId::from_row(1), value: closure }]);
        (shop, a, b)
    }

    #[test]
    fn repeats_skip_closures_and_single_rows_stand() {
        let (shop, a, b) = shop(vec![
            downtime(
                1,
                "2026-03-07T07:00",
                "2026-03-07T13:00",
                WindowScope::Hall("North".to_owned()),
                Some("FREQ=WEEKLY;BYDAY=SA"),
            ),
            downtime(2, "2026-03-14T08:00", "2026-03-14T10:00", WindowScope::Machine(MachineId::from_row(2)), None),
        ]);
        let windows = Windows::between(&shop, day("2026-03-02"), day("2026-03-31"));
        let days: Vec<String> = windows.of_machine(a).iter().map(|w| w.start.date().to_string()).collect();
        assert_eq!(days, ["2026-03-07", "2026-03-21", "2026-03-28"]);
        assert_eq!(windows.of_machine(b).len(), 1);
        assert_eq!(windows.last_day_until(a, day("2026-03-20")), Some(day("2026-03-07")));
        assert_eq!(windows.last_day_until(a, day("2026-03-21")), Some(day("2026-03-21")));
        assert_eq!(windows.last_day_until(a, day("2026-03-06")), None);
        assert_eq!(windows.first_day_from(a, day("2026-03-08")), Some(day("2026-03-21")));
        let noon = day("2026-03-07").and_hms_opt(12, 0, 0).unwrap();
        assert!(windows.at(a, noon).is_some());
        assert!(windows.at(b, noon).is_none());
    }

    #[test]
    fn a_long_window_reaches_to_its_end() {
        let (shop, a, b) = shop(vec![downtime(1, "2026-08-03", "2026-08-17", WindowScope::AllHalls, None)]);
        let windows = Windows::between(&shop, day("2026-08-10"), day("2026-08-31"));
        for machine in [a, b] {
            assert_eq!(windows.last_day_until(machine, day("2026-08-12")), Some(day("2026-08-12")));
            assert_eq!(windows.last_day_until(machine, day("2026-08-30")), Some(day("2026-08-17")));
            assert_eq!(windows.first_day_from(machine, day("2026-08-10")), Some(day("2026-08-10")));
        }
    }

    #[test]
    fn what_cannot_be_read_is_named() {
        let (shop, a, _) = shop(vec![
            downtime(1, "2026-03-07T07:00", "2026-03-07T13:00", WindowScope::AllHalls, Some("FREQ=NEVER")),
            downtime(2, "2026-03-07T07:00", "2026-03-07T06:00", WindowScope::AllHalls, None),
        ]);
        let windows = Windows::between(&shop, day("2026-03-02"), day("2026-03-31"));
        assert_eq!(windows.of_machine(a).len(), 1);
        let said: Vec<String> = shop
            .downtimes
            .iter()
            .filter_map(|row| complaint(&row.value))
            .map(|complaint| complaint.to_string())
            .collect();
        assert!(said[0].contains("only the first window counts") && said[0].contains("'FREQ=NEVER'"), "{said:?}");
        assert_eq!(said[1..], ["ends before its start, so it is no window"]);
        let good = downtime(3, "2026-03-07", "2026-03-07", WindowScope::AllHalls, Some("FREQ=DAILY"));
        assert_eq!(complaint(&good.value), None);
    }
}
