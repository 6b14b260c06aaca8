//! A free place for one service beside all others: the earliest start in a window at which the people
//! are there and free.

use super::problem::{Place, Span};
use super::standing::{Standing, Work};
use std::collections::BTreeSet;

/// What is asked of a place.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Wanted<'a> {
    /// From when; `None`: the earliest that does.
    pub(super) start: Option<i64>,
    /// By whom; `None`: whoever can.
    pub(super) technicians: Option<&'a [usize]>,
    /// How many of the people are the crew: those after them are there for one held service alone.
    /// `None`: all.
    pub(super) crew: Option<usize>,
    /// Shifts and hours of the day do not count.
    pub(super) outside_shifts: bool,
    /// Parts do not count.
    pub(super) without_parts: bool,
    /// The day before which it is not to be done does not count.
    pub(super) without_ready: bool,
    /// Gauges do not count.
    pub(super) without_gauge: bool,
}

/// A place of a service in a window; `None` where no start does.
pub(super) fn free_place(standing: &Standing<'_>, service: usize, window: usize, wanted: &Wanted<'_>) -> Option<Place> {
    let day = standing.day(window);
    let gauge = wanted.without_gauge || standing.gauge_is_free(service, day);
    let parts = wanted.without_parts || standing.parts_suffice(service, day);
    let ready = wanted.without_ready || standing.problem.services[service].ready_day <= day;
    if !gauge || !parts || !ready {
        return None;
    }
    let room = Room { standing, works: standing.works(day, service), service, window, day };
    let starts = match wanted.start {
        Some(start) => vec![start],
        None => room.starts(),
    };
    starts.into_iter().find_map(|start| {
        let span = room.span_at(start)?;
        let technicians = room.people(span, wanted)?;
        Some(Place { window, start, technicians })
    })
}

/// One service and one window, with what else is at work that day.
struct Room<'a> {
    standing: &'a Standing<'a>,
    works: Vec<Work>,
    service: usize,
    window: usize,
    day: usize,
}

impl Room<'_> {
    /// The stop of its line in the window without it: start of the first one.
    fn first_of_stop(&self) -> Option<i64> {
        let stop = self.standing.stop(self.standing.line(self.service), self.window);
        stop.iter().find(|(_, other)| *other != self.service).map(|(start, _)| *start)
    }

    /// Every start worth trying, ascending: something ends or begins there.
    fn starts(&self) -> Vec<i64> {
        let problem = self.standing.problem;
        let window = problem.windows[self.window].span;
        let mut starts: BTreeSet<i64> = self.works.iter().map(|work| work.span.to).collect();
        starts.insert(window.from);
        starts.extend(self.first_of_stop().map(|first| first + problem.lockout_min));
        for person in &problem.technicians {
            starts.extend(person.shifts.iter().filter(|shift| shift.day == self.day).map(|shift| shift.span.from));
        }
        starts.into_iter().filter(|start| window.from <= *start && *start < window.to).collect()
    }

    /// From when to when it would last; `None` where window, stop or machine forbid it.
    fn span_at(&self, start: i64) -> Option<Span> {
        let problem = self.standing.problem;
        let job = &problem.services[self.service];
        let lockout = match self.first_of_stop() {
            // it would begin the stop, and the others wait for the end of its lockout
            Some(first) if start + problem.lockout_min <= first => problem.lockout_min,
            Some(first) if first + problem.lockout_min <= start => 0,
            Some(_) => return None,
            None => problem.lockout_min,
        };
        let span = Span { from: start, to: start + lockout + job.minutes };
        let window = problem.windows[self.window].span;
        let machine_is_free = self
            .works
            .iter()
            .filter(|work| problem.services[work.service].machine == job.machine)
            .all(|work| are_apart(work.span, span));
        (window.from <= span.from && span.to <= window.to && machine_is_free).then_some(span)
    }

    /// Who does it: leads by the skill of the kind, the one with the fewest skills first, then the
    /// one who is least at work that day.
    fn people(&self, span: Span, wanted: &Wanted<'_>) -> Option<Vec<usize>> {
        let problem = self.standing.problem;
        let job = &problem.services[self.service];
        let can_lead = |who: usize| problem.technicians[who].skills.get(job.kind).copied().unwrap_or(false);
        if let Some(wanted_people) = wanted.technicians {
            let differ = wanted_people.iter().collect::<BTreeSet<_>>().len() == wanted_people.len();
            let lead = wanted_people.first().copied()?;
            let all = wanted_people.iter().all(|who| self.is_free(*who, span, wanted.outside_shifts));
            let do_it = wanted_people.len() == job.crew && differ && can_lead(lead) && all;
            return do_it.then(|| wanted_people.to_vec());
        }
        let crew = wanted.crew.unwrap_or(usize::MAX).min(problem.technicians.len());
        let mut free: Vec<usize> = (0..crew).filter(|who| self.is_free(*who, span, wanted.outside_shifts)).collect();
        free.sort_by_key(|who| {
            let skills = problem.technicians[*who].skills.iter().filter(|skill| **skill).count();
            (skills, self.minutes(*who), *who)
        });
        let lead = *free.iter().find(|who| can_lead(**who))?;
        if job.crew == 1 {
            return Some(vec![lead]);
        }
        let second = *free.iter().find(|who| **who != lead)?;
        Some(vec![lead, second])
    }

    fn minutes(&self, who: usize) -> i64 {
        let own = self.works.iter().filter(|work| work.technicians.contains(&who));
        own.map(|work| work.span.to - work.span.from).sum()
    }

    fn is_free(&self, who: usize, span: Span, outside_shifts: bool) -> bool {
        let person = &self.standing.problem.technicians[who];
        let is_there = |wanted: Span| {
            person
                .shifts
                .iter()
                .any(|shift| shift.day == self.day && shift.span.from <= wanted.from && wanted.to <= shift.span.to)
        };
        let has_time = person.minutes_per_day.is_none_or(|most| self.minutes(who) + span.to - span.from <= most);
        let apart =
            self.works.iter().filter(|work| work.technicians.contains(&who)).all(|work| are_apart(work.span, span));
        apart && (outside_shifts || (is_there(span) && has_time))
    }
}

const fn are_apart(a: Span, b: Span) -> bool {
    a.to <= b.from || b.to <= a.from
}
