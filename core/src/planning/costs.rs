//! What a place costs, in whole cents: the parts a service has by itself, and the lockout of a stop.
//!
//! Each part is rounded half up to the cent, by itself, so that a plan's cost is the same to the
//! cent whoever adds it up.
//!
//! * `stop`: stop cost per hour x the window's factor (percent) x minutes.
//! * `premium`: extra pay per person and hour x people x minutes.
//! * `risk`: b x expected days below the limit before the day of the service, which is the sum of
//!   the chances of having crossed it on each day before; where the stop limit has its own curve,
//!   the same sum of it x what a day of standstill costs.
//! * `early`: g x expected unused days: the sum of the chances of not having crossed it from that
//!   day to the end of the horizon, and what lies beyond.
//! * `move`: another window than the booked one.

use super::problem::{CostParts, Problem};
use std::cell::OnceCell;

/// Chances are in 1/10000 at weekly points and straight between, so a day's chance is in 1/70000.
const DAY_UNIT: i128 = 70_000;

/// The sums over the days of the horizon that every cost of a place rests on, worked out once for
/// each service that is asked for.
#[derive(Debug, Clone)]
pub struct CostBook<'a> {
    problem: &'a Problem,
    /// By service.
    sums: Vec<OnceCell<Sums>>,
}

#[derive(Debug, Clone)]
struct Sums {
    /// Expected days below the limit before each day, in 1/70000 of a day; one entry more than days.
    below: Vec<i64>,
    /// The same of the stop limit; empty where it has no curve of its own.
    standing: Vec<i64>,
}

impl<'a> CostBook<'a> {
    /// A book in which nothing is worked out yet.
    #[must_use]
    pub fn new(problem: &'a Problem) -> Self {
        Self { problem, sums: vec![OnceCell::new(); problem.services.len()] }
    }

    fn sums(&self, service: usize) -> &Sums {
        self.sums[service].get_or_init(|| {
            let (job, days) = (&self.problem.services[service], self.problem.days);
            let standing = job.standing.as_ref();
            Sums {
                below: running_sums(|day| job.crossed_on(day), days),
                standing: standing.map(|(curve, _)| running_sums(|day| curve.on(day), days)).unwrap_or_default(),
            }
        })
    }

    /// What the days before `day` cost: below the limit, and standing below the stop limit. In cents.
    #[must_use]
    pub fn risk(&self, service: usize, day: usize) -> i64 {
        let (job, sums) = (&self.problem.services[service], self.sums(service));
        let below = i128::from(job.day_below_cost) * up_to(&sums.below, day);
        let standing = job.standing.as_ref().map_or(0, |(_, cost)| i128::from(*cost) * up_to(&sums.standing, day));
        rounded(below + standing, DAY_UNIT)
    }

    /// What the service life given away on `day` is worth, in cents.
    #[must_use]
    pub fn early(&self, service: usize, day: usize) -> i64 {
        let (job, sums) = (&self.problem.services[service], self.sums(service));
        let days = self.problem.days;
        let ahead = days.saturating_sub(day) as i128 + i128::from(job.tail_days);
        let crossed = up_to(&sums.below, days) - up_to(&sums.below, day);
        rounded(i128::from(job.unused_day_value) * (DAY_UNIT * ahead - crossed), DAY_UNIT)
    }

    /// What a service costs in a window by itself: stop, premium, risk, early and move; lockout and
    /// visit are shared and stand at zero.
    #[must_use]
    pub fn own(&self, service: usize, window: usize) -> CostParts {
        self.own_lasting(service, window, self.problem.services[service].minutes)
    }

    /// The same where the service takes its own minutes there.
    #[must_use]
    pub fn own_lasting(&self, service: usize, window: usize, minutes: i64) -> CostParts {
        let (job, place) = (&self.problem.services[service], &self.problem.windows[window]);
        let line = &self.problem.lines[self.problem.machines[job.machine]];
        let moved = job.booked.filter(|booked| booked.window != Some(window)).map_or(0, |booked| booked.move_cost);
        CostParts {
            stop: stop_cost(line.stop_cost_per_hour, place.stop_factor, minutes),
            premium: premium(place.premium_per_hour, job.crew, minutes),
            risk: self.risk(service, place.day),
            early: self.early(service, place.day),
            moved,
            ..CostParts::default()
        }
    }

    /// What the lockout of a line costs in a window, once per stop, in cents.
    #[must_use]
    pub fn lockout(&self, line: usize, window: usize) -> i64 {
        let (rate, place) = (self.problem.lines[line].stop_cost_per_hour, &self.problem.windows[window]);
        let minutes = self.problem.lockout_min;
        stop_cost(rate, place.stop_factor, minutes) + premium(place.premium_per_hour, 1, minutes)
    }
}

/// Standstill, in cents: an hour's cost x percent x minutes.
fn stop_cost(per_hour: i64, factor: i64, minutes: i64) -> i64 {
    share([per_hour, factor, minutes], 60 * 100)
}

/// Extra pay, in cents.
fn premium(per_hour: i64, people: usize, minutes: i64) -> i64 {
    share([per_hour, people as i64, minutes], 60)
}

/// A product in units, half up.
#[inline]
fn share(factors: [i64; 3], unit: i64) -> i64 {
    let product = factors[0].checked_mul(factors[1]).and_then(|product| product.checked_mul(factors[2]));
    // wide numbers take several times as long, and hardly an amount is one
    match product.and_then(|product| product.checked_add(unit / 2)) {
        Some(amount) => amount.div_euclid(unit),
        None => rounded(factors.map(i128::from).iter().product(), i128::from(unit)),
    }
}

/// Whole, half up.
#[inline]
fn rounded(amount: i128, unit: i128) -> i64 {
    let amount = amount + unit / 2;
    if let (Ok(amount), Ok(unit)) = (i64::try_from(amount), i64::try_from(unit)) {
        return amount.div_euclid(unit);
    }
    let whole = amount.div_euclid(unit);
    i64::try_from(whole).unwrap_or(if whole < 0 { i64::MIN } else { i64::MAX })
}

/// The sum before a day, as far as the horizon goes.
fn up_to(sums: &[i64], day: usize) -> i128 {
    sums.get(day).or_else(|| sums.last()).copied().map_or(0, i128::from)
}

/// A curve summed up: entry d holds the days before d.
fn running_sums(on: impl Fn(usize) -> i64, days: usize) -> Vec<i64> {
    let mut sum = 0;
    let mut sums = vec![0];
    for day in 0..days {
        sum += on(day);
        sums.push(sum);
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::planning::problem::{Booked, Curve, Job, Line, PlanWindow, Scope, Span};

    fn problem() -> Problem {
        let job = Job {
            machine: 0,
            kind: 0,
            minutes: 90,
            crew: 2,
            parts: Vec::new(),
            gauge: None,
            ready_day: 0,
            crossed: Curve(vec![0, 7000, 10_000]),
            hard_day: None,
            tail_days: 3,
            day_below_cost: 100,
            unused_day_value: 10,
            standing: None,
            leave_cost: 0,
            booked: Some(Booked { window: None, move_cost: 4000 }),
            held: None,
        };
        Problem {
            days: 14,
            lockout_min: 30,
            halls: 1,
            lines: vec![Line { hall: 0, stop_cost_per_hour: 12_001 }],
            machines: vec![0],
            windows: vec![PlanWindow {
                scope: Scope::Hall(0),
                day: 7,
                span: Span { from: 0, to: 600 },
                stop_factor: 15,
                premium_per_hour: 2501,
            }],
            services: vec![job],
            ..Problem::default()
        }
    }

    #[test]
    fn each_part_is_rounded_half_up_by_itself() {
        let problem = problem();
        let own = CostBook::new(&problem).own(0, 0);
        assert_eq!(own.stop, 2700, "120.01 x 15 % x 1.5 h = 27.00225");
        assert_eq!(own.premium, 7503, "25.01 x 2 x 1.5 h");
        assert_eq!(own.risk, 210, "0, 0.1, .. 0.6 before day 7: 2.1 days at 1.00");
        assert_eq!(own.early, 42, "0.10 x (7 + 3 - 5.8): 0.7, and a seventh of 0.3 more on each of seven days");
        assert_eq!(own.moved, 4000, "booked where no window is: any window is another one");
    }

    #[test]
    fn amounts_too_wide_for_their_product_are_rounded_all_the_same() {
        let price = 4_000_000_000_000_000_000;
        assert_eq!(share([price, 6000, 1], 6000), price);
        assert_eq!(share([price, 3000, 3], 6001), 5_999_000_166_638_893_518, "5,999,000,166,638,893,517.747");
        assert_eq!(share([price, 6000, 60], 60), i64::MAX, "stays at the end of the range");
        assert_eq!((share([5, 1, 1], 10), share([-5, 1, 1], 10), share([-6, 1, 1], 10)), (1, 0, -1), "half up");
    }

    #[test]
    fn a_lockout_pays_one_person() {
        let problem = problem();
        assert_eq!(CostBook::new(&problem).lockout(0, 0), 900 + 1251, "9.00075 and 12.505, half up");
    }

    #[test]
    fn standing_adds_its_own_curve_to_the_risk() {
        let mut problem = problem();
        problem.services[0].standing = Some((Curve(vec![0, 0, 10_000]), 1000));
        problem.windows[0].day = 9;
        let book = CostBook::new(&problem);
        let below = 100.0 * (2.1 + 0.7 + 0.7 + 0.3 / 7.0);
        let standing = 1000.0 / 7.0;
        assert_eq!(book.risk(0, 9), (below + standing + 0.5_f64).floor() as i64);
    }

    #[test]
    fn a_fixed_interval_that_is_over_costs_every_day_after_it() {
        let mut problem = problem();
        problem.services[0].hard_day = Some(5);
        let book = CostBook::new(&problem);
        assert_eq!(book.risk(0, 7), 300, "0, 0.1, .. 0.4 before day 5, then two whole days, at 1.00");
        assert_eq!(book.early(0, 7), 30, "nothing but what lies beyond the horizon");
    }

    #[test]
    fn its_own_minutes_change_only_what_minutes_cost() {
        let problem = problem();
        let book = CostBook::new(&problem);
        let (usual, longer) = (book.own(0, 0), book.own_lasting(0, 0, 180));
        assert_eq!((longer.stop, longer.premium), (5400, 15_006));
        assert_eq!((longer.risk, longer.early, longer.moved), (usual.risk, usual.early, usual.moved));
    }
}
