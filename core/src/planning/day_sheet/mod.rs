//! Day sheets: start times and people for the services that a day shall carry.
//!
//! * [`crew`]: who is there on a day, and what is held on it.
//! * [`counts`]: how many services of a length people have time for; refuses most full days at once.
//! * [`packing`]: whether services can be dealt out to people at all; refuses most small sets without a sheet.
//! * [`list`]: services put one after the other into the gaps, in several orders; the first order that fits is taken.
//! * [`exhaustive`]: every order and every choice of people, for small sets.
//! * [`memo`]: whether a set of services fits a day, remembered.
//!
//! A held service stays where it is, untouched; two held ones that clash both stay.

mod counts;
pub(crate) mod crew;
mod exhaustive;
mod list;
pub(crate) mod memo;
mod packing;

use crew::DayCrew;

/// Sets up to this size are tried exhaustively when no order fits.
const EXHAUSTIVE_UP_TO: usize = 6;

/// After so many placements tried a set counts as not fitting: in large and in small problems.
const LEAST_STEPS: usize = 150;
const MOST_STEPS: usize = 20_000;

/// A service that a day shall carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Task {
    /// The service.
    pub(crate) service: u32,
    /// Its machine.
    pub(crate) machine: u32,
    /// Line and window: services of one stop share its lockout.
    pub(crate) stop: u32,
    /// Which skill its leader needs.
    pub(crate) kind: u8,
    /// One or two people.
    pub(crate) crew: u8,
    /// Working minutes without lockout.
    pub(crate) minutes: i64,
    /// First minute of its window.
    pub(crate) from: i64,
    /// First minute after it.
    pub(crate) to: i64,
    /// Whether no other service is of its line: two such tasks of one shape can stand in for each other.
    pub(crate) alone: bool,
}

impl Task {
    /// Sorts tasks before a sheet is built: by shape, and by service where that makes a difference,
    /// so that sets of the same shapes get the same sheet, whoever fills it.
    pub(crate) const fn rank(&self) -> (i64, i64, u8, u8, i64, bool, u32) {
        (self.from, self.to, self.kind, self.crew, self.minutes, self.alone, self.service)
    }
}

/// The least minutes that a task takes of its people: with the lockout where nobody else is there who
/// could do it.
fn least_minutes(day: &DayCrew, tasks: &[Task], at: usize, lockout: i64) -> i64 {
    let task = &tasks[at];
    let mut others = tasks.iter().enumerate().filter(|(other, _)| *other != at);
    let shares = !task.alone && (others.any(|(_, other)| other.stop == task.stop) || day.first_of(task.stop).is_some());
    task.minutes + if shares { 0 } else { lockout }
}

/// When and by whom a task is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Line {
    /// Index into the tasks asked for.
    pub(crate) task: usize,
    /// First minute, lockout included.
    pub(crate) start: i64,
    /// Index of who leads, into the workers of the day.
    pub(crate) lead: usize,
    /// Index of the second, where it takes two.
    pub(crate) second: Option<usize>,
}

/// Builds day sheets; holds what is needed again and again.
#[derive(Debug, Default)]
pub(crate) struct SheetBuilder {
    counts: counts::Counts,
    packing: packing::Packing,
    list: list::ListBuilder,
    exhaustive: exhaustive::Exhaustive,
}

impl SheetBuilder {
    /// For a problem of so many services: the fewer, the longer a set that seems not to fit is tried.
    pub(crate) fn for_services(services: usize) -> Self {
        let most = (60_000 / services.max(1)).clamp(LEAST_STEPS, MOST_STEPS);
        Self { exhaustive: exhaustive::Exhaustive::with_steps(most), ..Self::default() }
    }

    /// A sheet for these tasks beside what is held, if one is found. The tasks are to be sorted by
    /// [`Task::rank`], so that the same set always gets the same sheet.
    pub(crate) fn build(&mut self, day: &DayCrew, tasks: &[Task], lockout: i64) -> Option<&[Line]> {
        if tasks.is_empty() {
            return Some(&[]);
        }
        let is_small = tasks.len() <= EXHAUSTIVE_UP_TO;
        let may_fit = day.has_hours_for(tasks, lockout)
            && self.counts.may_fit(day, tasks, lockout)
            && (!is_small || self.packing.may_fit(day, tasks, lockout));
        if !may_fit {
            return None;
        }
        if self.list.build(day, tasks, lockout) {
            return Some(self.list.lines());
        }
        if is_small && self.exhaustive.build(day, tasks, lockout) {
            return Some(self.exhaustive.lines());
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::planning::chance::Chance;
    use crate::planning::problem::{DayShift, Person, Problem, Span};

    const LOCKOUT: i64 = 30;

    /// A day on which everybody of these skills is there from six to two, for at most seven hours.
    fn day(skills: &[[bool; 2]]) -> DayCrew {
        let person = |skills: &[bool; 2]| Person {
            skills: skills.to_vec(),
            shifts: vec![DayShift { day: 0, span: Span { from: 360, to: 840 } }],
            minutes_per_day: Some(420),
        };
        let technicians = skills.iter().map(person).collect();
        DayCrew::of(&Problem { days: 1, lockout_min: LOCKOUT, technicians, ..Problem::default() }, 0, &[])
    }

    fn task(service: u32, kind: u8, crew: u8, minutes: i64) -> Task {
        Task { service, machine: service, stop: service, kind, crew, minutes, from: 360, to: 840, alone: true }
    }

    fn many(count: u32, minutes: i64) -> Vec<Task> {
        (0..count).map(|service| task(service, 0, 1, minutes)).collect()
    }

    #[test]
    fn seven_hours_hold_two_services_of_three_whatever_the_sum_says() {
        let (day, mut counts) = (day(&[[true, true]; 4]), counts::Counts::default());
        assert!(counts.may_fit(&day, &many(8, 180), LOCKOUT));
        assert!(!counts.may_fit(&day, &many(9, 150), LOCKOUT), "27 of 28 hours, and no place for the ninth");
        assert!(day.has_hours_for(&many(9, 150), LOCKOUT));
    }

    #[test]
    fn who_may_not_lead_does_not_count_for_leaders() {
        let (day, mut counts) =
            (day(&[[true, true], [true, false], [true, false], [true, false]]), counts::Counts::default());
        let majors = |count: u32| -> Vec<Task> {
            (0..8).map(|service| task(service, u8::from(service < count), 1, 150)).collect()
        };
        assert!(counts.may_fit(&day, &majors(2), LOCKOUT));
        assert!(!counts.may_fit(&day, &majors(3), LOCKOUT));
    }

    #[test]
    fn no_day_that_has_a_sheet_is_refused_by_counting() {
        let (mut chance, mut counts, mut list) =
            (Chance::new(3), counts::Counts::default(), list::ListBuilder::default());
        let mut fitting = 0;
        for _ in 0..4000 {
            let skills: Vec<[bool; 2]> = (0..4 + chance.below(6)).map(|_| [true, chance.one_in(2)]).collect();
            let day = day(&skills);
            let mut tasks: Vec<Task> = (0..7 + chance.below(12) as u32)
                .map(|service| {
                    let kind = u8::from(chance.one_in(3));
                    task(service, kind, 1 + u8::from(chance.one_in(4)), 60 + 30 * chance.below(8) as i64)
                })
                .collect();
            tasks.sort_unstable_by_key(Task::rank);
            if list.build(&day, &tasks, LOCKOUT) {
                fitting += 1;
                assert!(day.has_hours_for(&tasks, LOCKOUT) && counts.may_fit(&day, &tasks, LOCKOUT), "{tasks:?}");
            }
        }
        assert!(fitting > 200, "{fitting} days have a sheet");
    }

    /// A day of one to three people, some for half of it, perhaps with something held.
    fn short_day(chance: &mut Chance) -> DayCrew {
        let people = 1 + chance.below(3);
        let mut person = || Person {
            skills: vec![true, chance.one_in(2)],
            shifts: vec![DayShift { day: 0, span: Span { from: 360, to: if chance.one_in(3) { 600 } else { 840 } } }],
            minutes_per_day: [None, Some(420)][chance.below(2)],
        };
        let technicians: Vec<Person> = (0..people).map(|_| person()).collect();
        let crew = [chance.below(technicians.len())];
        let start = 360 + 30 * chance.below(6) as i64;
        let held = crew::Held { stop: chance.below(6) as u32, machine: 9, start, minutes: 90, technicians: &crew };
        let problem = Problem { days: 1, lockout_min: LOCKOUT, technicians, ..Problem::default() };
        DayCrew::of(&problem, 0, if chance.one_in(2) { &[] } else { std::slice::from_ref(&held) })
    }

    #[test]
    fn no_small_set_that_has_a_sheet_is_refused_by_dealing_it_out() {
        let (mut chance, mut packing) = (Chance::new(5), packing::Packing::default());
        let (mut list, mut every) = (list::ListBuilder::default(), exhaustive::Exhaustive::with_steps(MOST_STEPS));
        let (mut fitting, mut only_there, mut refused, mut without) = (0, 0, 0, 0);
        for _ in 0..6000 {
            let day = short_day(&mut chance);
            let mut tasks: Vec<Task> = (0..1 + chance.below(EXHAUSTIVE_UP_TO) as u32)
                .map(|service| {
                    let crew = 1 + u8::from(chance.one_in(4));
                    let of = task(service, u8::from(chance.one_in(3)), crew, 30 + 30 * chance.below(6) as i64);
                    let from = if chance.one_in(3) { 480 } else { 360 };
                    Task { stop: chance.below(6) as u32, from, to: from + 360, alone: false, ..of }
                })
                .collect();
            tasks.sort_unstable_by_key(Task::rank);
            let by_list = list.build(&day, &tasks, LOCKOUT);
            let fits = by_list || every.build(&day, &tasks, LOCKOUT);
            let may_fit = packing.may_fit(&day, &tasks, LOCKOUT);
            assert!(may_fit || !fits, "{day:?} {tasks:?}");
            fitting += i32::from(fits);
            only_there += i32::from(fits && !by_list);
            without += i32::from(!fits);
            refused += i32::from(!may_fit);
        }
        assert!(fitting > 1000 && only_there > 50, "{fitting} sets fit, {only_there} of them by no list");
        assert!(refused * 2 > without, "{refused} of {without} sets without a sheet are refused");
    }

    #[test]
    fn the_same_shapes_have_the_same_sheet_whoever_fills_them() {
        let mut chance = Chance::new(11);
        for _ in 0..300 {
            let skills: Vec<[bool; 2]> = (0..2 + chance.below(4)).map(|_| [true, chance.one_in(2)]).collect();
            let day = day(&skills);
            let shapes: Vec<(u8, u8, i64)> = (0..2 + chance.below(9))
                .map(|_| (u8::from(chance.one_in(3)), 1 + u8::from(chance.one_in(4)), 60 + 30 * chance.below(8) as i64))
                .collect();
            let mut names: Vec<u32> = (0..100).collect();
            let sheet = |names: &[u32]| {
                let mut tasks: Vec<Task> = (shapes.iter().zip(names))
                    .map(|((kind, crew, minutes), name)| task(*name, *kind, *crew, *minutes))
                    .collect();
                tasks.sort_unstable_by_key(Task::rank);
                SheetBuilder::for_services(100).build(&day, &tasks, LOCKOUT).map(<[Line]>::to_vec)
            };
            let first = sheet(&names);
            chance.shuffle(&mut names);
            assert_eq!(first, sheet(&names), "{shapes:?}");
        }
    }
}
