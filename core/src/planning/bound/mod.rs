//! No plan can cost less than this: the bound beside a plan's cost.
//!
//! Each service must be done once or left, and parts must be there: these rows are priced (Lagrange
//! multipliers). What remains falls apart by day: the set of services that earns most at these
//! prices on one day, with stops and visits paid once, within shifts. Whatever the prices, the sum
//! is a bound: only relaxations are made that no real plan can escape. Prices are raised step by
//! step (`ascent`), at first with each day relaxed to its crew minutes (`minutes`), then with
//! each day searched through for the sets that admit a day sheet (`search`, `fits`).
//!
//! Money is whole (1/64 of a cent) throughout and bounds of a day are rounded up, so the result
//! rests on no floating-point sum; only the way to good prices does. Work is counted in rounds and
//! steps, never by the clock: same input, same bound.
//!
//! Held services stay where they are. What they take from each other is their own clash; the others
//! keep every rule beside them.

mod ascent;
mod day;
mod fits;
mod list;
mod minutes;
mod parts;
mod search;

use self::ascent::Ascent;
use self::day::{Day, FINE, Fine};
use self::minutes::{Priced, Work};
use self::parts::{NetPrices, PartRow};
use self::search::Tried;
use super::costs::CostBook;
use super::problem::Problem;

/// A step that the price of a crew minute takes, against that of a service: about a minor service's minutes.
const MINUTE_SCALE: f64 = 1.0 / 120.0;
/// First target above the best bound, as a share of the plan's cost.
const LEVEL: f64 = 0.05;
/// How much longer than Polyak's a step is: momentum shortens it.
const STRETCH_MINUTES: f64 = 4.0;
const STRETCH_DAYS: f64 = 3.0;

/// Steps towards better prices of a day's minutes in each round.
const TUNING: u32 = 8;

/// Branches in one round on average after which no further round is begun, however many were asked for.
const MOST_STEPS_PER_ROUND: u64 = 50_000;
/// Sets remembered over all days until all are forgotten: some 100 MB.
const MOST_TRIED: usize = 400_000;

/// How much is done for a bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BoundEffort {
    /// Rounds with the crew minutes priced.
    pub minute_rounds: u32,
    /// Rounds with the days searched.
    pub day_rounds: u32,
    /// Branches of one day in one round.
    pub day_steps: u32,
}

impl BoundEffort {
    /// What suits a problem of so many services: about a second for 100, two for 500.
    #[must_use]
    pub fn for_services(services: usize) -> Self {
        if services <= 60 {
            Self { minute_rounds: 400, day_rounds: 200, day_steps: 20_000 }
        } else if services <= 150 {
            Self { minute_rounds: 600, day_rounds: 110, day_steps: 20_000 }
        } else {
            Self { minute_rounds: 1500, day_rounds: 16, day_steps: 200 }
        }
    }
}

/// A cost that no plan of the problem can undercut, in cents.
///
/// `plan_cost` is what a known plan costs: it only sets how far prices are moved at a time.
/// `progress` is told the rounds done and those to come, and stops the work by saying false: what is
/// proven by then is returned. Without services it is what held ones cost: nothing.
pub fn lower_bound(
    problem: &Problem,
    plan_cost: i64,
    effort: BoundEffort,
    progress: &mut dyn FnMut(u32, u32) -> bool,
) -> i64 {
    let book = CostBook::new(problem);
    let held = day::held(problem, &book);
    let rows = parts::part_rows(problem);
    let days = day::days(problem, &book, &held);
    let is_free: Vec<bool> = problem.services.iter().map(|job| job.held.is_none()).collect();
    let highest: Vec<Fine> =
        problem.services.iter().map(|job| if job.held.is_some() { 0 } else { job.leave_cost * FINE }).collect();
    let posts = days.iter().map(|day| day.posts.len()).sum();
    let mut bound = Bound {
        days,
        posts,
        rows,
        is_free,
        highest,
        held: held.cost * FINE,
        plan: plan_cost * FINE,
        rounds: 0,
        all: effort.minute_rounds + effort.day_rounds,
    };
    let mut prices = bound.first_prices();
    let by_minutes = bound.price_minutes(&mut prices, effort.minute_rounds, progress);
    let by_days = bound.search_days(&mut prices, effort, progress);
    by_minutes.max(by_days).div_euclid(FINE)
}

struct Bound {
    days: Vec<Day>,
    /// Posts of all days.
    posts: usize,
    rows: Vec<PartRow>,
    is_free: Vec<bool>,
    /// What leaving a service costs: its price goes no higher.
    highest: Vec<Fine>,
    held: Fine,
    plan: Fine,
    rounds: u32,
    all: u32,
}

/// Prices of services and parts, and of the crew minutes of each day.
struct Prices {
    rows: Vec<Fine>,
    minutes: Vec<Fine>,
}

impl Bound {
    /// Each service at its cheapest place, alone; nothing for parts and minutes.
    fn first_prices(&self) -> Prices {
        let mut rows = self.highest.clone();
        for day in &self.days {
            for candidate in &day.candidates {
                let stop = &day.stops[candidate.stop];
                let alone = candidate.own + stop.lockout + day.visits[stop.hall];
                let price = &mut rows[candidate.service];
                *price = alone.clamp(0, *price);
            }
        }
        rows.resize(self.highest.len() + self.rows.len(), 0);
        Prices { rows, minutes: vec![0; self.posts] }
    }

    /// What is the same whatever is done on each day.
    fn fixed(&self, prices: &[Fine]) -> Fine {
        let (services, parts) = prices.split_at(self.highest.len());
        let rooms: Fine = self.rows.iter().zip(parts).map(|(row, price)| row.room * price).sum();
        self.held + services.iter().sum::<Fine>() - rooms
    }

    /// The slope before anything is done: each service once, each part untouched.
    fn slope(&self, slope: &mut Vec<f64>, rows: usize) {
        slope.clear();
        slope.extend(self.is_free.iter().map(|free| if *free { 1.0 } else { 0.0 }));
        slope.extend(self.rows.iter().map(|row| -(row.room as f64)));
        slope.resize(rows, 0.0);
    }

    fn goes_on(&mut self, progress: &mut dyn FnMut(u32, u32) -> bool) -> bool {
        self.rounds += 1;
        progress(self.rounds, self.all)
    }

    /// Raises the quick bound; the prices that gave the best one stay.
    fn price_minutes(&mut self, prices: &mut Prices, rounds: u32, progress: &mut dyn FnMut(u32, u32) -> bool) -> Fine {
        let (services, rows) = (self.highest.len(), prices.rows.len());
        let count = rows + self.posts;
        let mut highest = self.highest.clone();
        highest.resize(count, Fine::MAX / 1024);
        let scale = (0..count).map(|row| if row < rows { 1.0 } else { MINUTE_SCALE }).collect();
        let mut ascent = Ascent::new(highest, scale, self.plan, LEVEL, STRETCH_MINUTES);
        let mut all = [prices.rows.clone(), prices.minutes.clone()].concat();
        let (mut slope, mut work) = (Vec::new(), Work::default());
        for _ in 0..rounds {
            self.slope(&mut slope, count);
            let priced = Priced { service: &all[..services], part: &all[services..rows], minute: &all[rows..] };
            let value =
                self.fixed(&all[..rows]) + minutes::value(&self.days, &self.rows, &priced, &mut work, &mut slope);
            if !ascent.step(&mut all, value, &mut slope) || !self.goes_on(progress) {
                break;
            }
        }
        if ascent.best > Fine::MIN {
            prices.rows.copy_from_slice(&ascent.best_at[..rows]);
            prices.minutes.copy_from_slice(&ascent.best_at[rows..]);
        }
        ascent.best
    }

    /// Raises the bound with every day searched.
    fn search_days(
        &mut self,
        prices: &mut Prices,
        effort: BoundEffort,
        progress: &mut dyn FnMut(u32, u32) -> bool,
    ) -> Fine {
        let count = prices.rows.len();
        let services = self.highest.len();
        let mut highest = self.highest.clone();
        highest.resize(count, Fine::MAX / 1024);
        let mut ascent = Ascent::new(highest, vec![1.0; count], self.plan, LEVEL, STRETCH_DAYS);
        let mut tried: Vec<Tried> = self.days.iter().map(|_| Tried::default()).collect();
        let mut known: Vec<Vec<usize>> = vec![Vec::new(); self.days.len()];
        let mut minutes: Vec<Vec<Fine>> = Vec::new();
        for day in &self.days {
            let from = minutes.iter().map(Vec::len).sum::<usize>();
            minutes.push(prices.minutes[from..from + day.posts.len()].to_vec());
        }
        let (mut slope, mut earns, mut work) = (Vec::new(), Vec::new(), Work::default());
        let (mut steps, most_steps) = (0, u64::from(effort.day_rounds) * MOST_STEPS_PER_ROUND);
        for _ in 0..effort.day_rounds {
            if steps > most_steps {
                break;
            }
            if tried.iter().map(Tried::len).sum::<usize>() > MOST_TRIED {
                tried.iter_mut().for_each(Tried::clear);
            }
            self.slope(&mut slope, count);
            let mut value = self.fixed(&prices.rows);
            let (service_prices, part_prices) = prices.rows.split_at(services);
            let mut net = NetPrices::new(service_prices, &self.rows, part_prices);
            for (index, day) in self.days.iter().enumerate() {
                net.go_to(day.day);
                earns.clear();
                earns.extend(day.candidates.iter().map(|candidate| net.net[candidate.service] - candidate.own));
                let known_worth = day.worth(&earns, &known[index]);
                let most = day.tune(&earns, known_worth.max(0), TUNING, &mut minutes[index], &mut work);
                let earned = day.earn(&earns, &known[index], &minutes[index], effort.day_steps, &mut tried[index]);
                steps += u64::from(earned.steps);
                value -= earned.upper.min(most);
                for candidate in &earned.chosen {
                    minutes::take(&self.rows, services, day.day, day.candidates[*candidate].service, &mut slope);
                }
                if !earned.chosen.is_empty() {
                    known[index] = earned.chosen;
                }
            }
            if !ascent.step(&mut prices.rows, value, &mut slope) || !self.goes_on(progress) {
                break;
            }
        }
        ascent.best
    }
}
