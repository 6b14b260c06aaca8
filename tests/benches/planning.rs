//! What planning costs, as ratios to the greedy start in the same run, and how good the plans are,
//! as ratios to the best known.
//!
//! `cargo bench --bench planning`. Baseline of each row: reading the rules of the instance into
//! candidates and placing everything once, by regret (`SearchConfig::start`). Processor time on one
//! thread. Best known plans of the stored instances: see the fixtures; the invented ones (tight, and
//! 500 services) have none, so they stand beside their own settled plan. Each instance with its
//! bound, and with a second search that must give the same plan; the published assignments beside
//! their optima. Then the first plan of a crowded shop, what a move costs there, and what it takes to weigh a place by hand.

use almanac_core::due::due_list;
use almanac_core::forecast::{ForecastConfig, NoProgress, forecast_shop};
use almanac_core::import::import_paths;
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::bound::{BoundEffort, lower_bound};
use almanac_core::planning::by_hand::{Trial, weigh};
use almanac_core::planning::candidates::Candidates;
use almanac_core::planning::check::check;
use almanac_core::planning::instance::read;
use almanac_core::planning::problem::{Booked, Plan, Problem};
use almanac_core::planning::proposal::PlanningConfig;
use almanac_core::planning::propose::propose;
use almanac_core::planning::search::{Found, NoPlanProgress, SearchConfig, search_among};
use almanac_core::shop::Shop;
use almanac_tests::measure::{least_time, load_average};
use almanac_tests::planning::assignment;
use almanac_tests::planning::instances::{ShopSize, crowded_text, instance_text};
use chrono::NaiveDate;
use std::error::Error;
use std::io::Write;
use std::path::Path;
use std::time::Duration;

/// A problem and, where known, what its best known plan costs.
struct Instance {
    name: String,
    problem: Problem,
    best: Option<i64>,
    /// The least bound that is asked for, where there is one.
    least_bound: Option<i64>,
    /// Times wanted, in seconds: first proposal, settled, re-plan.
    wanted: [f64; 3],
}

fn stored(text: &str, best: &str, wanted: [f64; 3]) -> Result<Instance, Box<dyn Error>> {
    let best: serde_json::Value = serde_json::from_str(best)?;
    let (problem, names) = read(text, "stored")?;
    let cents = |field| best.get(field).and_then(serde_json::Value::as_i64);
    Ok(Instance { name: names.problem, problem, best: cents("cost"), least_bound: cents("least_bound"), wanted })
}

fn invented(name: &str, size: ShopSize, wanted: [f64; 3]) -> Result<Instance, Box<dyn Error>> {
    let (problem, _) = read(&instance_text(size), name)?;
    Ok(Instance { name: name.to_owned(), problem, best: None, least_bound: None, wanted })
}

fn planned(problem: &Problem, config: SearchConfig) -> Result<Found, Box<dyn Error>> {
    let found = search_among(problem, &Candidates::of_problem(problem), config, &NoPlanProgress)?;
    let checked = check(problem, &found.plan);
    if checked.parts.total() != found.cost || !checked.broken.is_empty() {
        return Err(format!("the plan breaks rules: {:?}", checked.broken).into());
    }
    Ok(found)
}

/// The plan as booked, less the window of its first place: how a re-plan begins.
fn one_window_lost(problem: &Problem, plan: &Plan) -> Problem {
    let mut after = problem.clone();
    for (job, place) in after.services.iter_mut().zip(&plan.places) {
        let held = job.held.is_some();
        job.booked = place.as_ref().filter(|_| !held).map(|place| Booked { window: Some(place.window), move_cost: 0 });
    }
    let free = plan.places.iter().zip(&problem.services).filter(|(_, job)| job.held.is_none());
    if let Some(lost) = free.filter_map(|(place, _)| place.as_ref()).next()
        && let Some(window) = after.windows.get_mut(lost.window)
    {
        window.span.to = window.span.from;
    }
    after
}

fn moved(problem: &Problem, plan: &Plan) -> usize {
    let rows = problem.services.iter().zip(&plan.places);
    rows.filter(|(job, place)| {
        job.booked.is_some_and(|booked| booked.window != place.as_ref().map(|place| place.window))
    })
    .count()
}

struct Row<'a, W> {
    out: &'a mut W,
    start: Duration,
    best: i64,
}

impl<W: Write> Row<'_, W> {
    fn line(&mut self, what: &str, time: Duration, cost: i64, wanted: Option<f64>) -> std::io::Result<()> {
        let ratio = time.as_secs_f64() / self.start.as_secs_f64();
        let dearer = (cost as f64 / self.best as f64 - 1.0) * 100.0;
        write!(self.out, "  {what:<34} {ratio:>9.1}   {time:>9.2?}   {dearer:>+7.2} %")?;
        if let Some(wanted) = wanted {
            let word = if time.as_secs_f64() <= wanted { "met" } else { "MISSED" };
            write!(self.out, "   target {word}: at most {wanted} s")?;
        }
        writeln!(self.out)
    }
}

fn measure(instance: &Instance, out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let (problem, services) = (&instance.problem, instance.problem.services.len());
    let start = planned(problem, SearchConfig::start())?;
    let start_time = least_time(5, || {
        let _ = std::hint::black_box(planned(problem, SearchConfig::start()));
    });
    let timed = |config: SearchConfig, runs: usize| -> Result<(Found, Duration), Box<dyn Error>> {
        let mut found = None;
        let time = least_time(runs, || found = Some(planned(problem, config)));
        Ok((found.ok_or("nothing ran")??, time))
    };
    let (first, first_time) = timed(SearchConfig::first(services), 3)?;
    let (settled, settled_time) = timed(SearchConfig::settled(services), 1)?;
    let best = instance.best.unwrap_or(settled.cost);
    let beside = if instance.best.is_some() { "the best known plan" } else { "its settled plan" };
    writeln!(out, "{}: {services} services; time beside the greedy start, cost beside {beside}", instance.name)?;
    let [first_wanted, settled_wanted, replan_wanted] = instance.wanted;
    let mut row = Row { out, start: start_time, best };
    row.line("greedy start", start_time, start.cost, None)?;
    row.line("first proposal", first_time, first.cost, Some(first_wanted))?;
    row.line("settled", settled_time, settled.cost, Some(settled_wanted))?;
    quality(row.out, instance, &settled)?;
    let after = one_window_lost(problem, &settled.plan);
    let mut again = None;
    let time = least_time(3, || again = Some(planned(&after, SearchConfig::replan())));
    let again = again.ok_or("nothing ran")??;
    row.line(
        &format!("re-plan, a window lost, {} moved", moved(&after, &again.plan)),
        time,
        again.cost,
        Some(replan_wanted),
    )?;
    Ok(())
}

/// The bound of a settled plan, its distance from the best known one, and whether it comes out again.
fn quality(out: &mut impl Write, instance: &Instance, settled: &Found) -> Result<(), Box<dyn Error>> {
    let (problem, met) = (&instance.problem, |is: bool| if is { "met" } else { "MISSED" });
    let effort = BoundEffort::for_services(problem.services.len());
    let mut bound = 0;
    let time = least_time(1, || bound = lower_bound(problem, settled.cost, effort, &mut |_, _| true));
    let under = (1.0 - bound as f64 / settled.cost as f64) * 100.0;
    write!(out, "  bound, {under:.2} % under the settled plan {time:>16.2?}")?;
    let least = instance.least_bound.unwrap_or(0);
    writeln!(out, "   target {}: at least {least}, never above a plan", met(least <= bound && bound <= settled.cost))?;
    if let Some(best) = instance.best {
        let within = settled.cost * 100 <= best * 101 && bound <= best;
        writeln!(out, "  settled beside the best known plan: target {}: at most 1 % over it", met(within))?;
    }
    let again = planned(problem, SearchConfig::settled(problem.services.len()))?;
    writeln!(out, "  searched again: target {}: the same plan", met(again.plan == settled.plan))?;
    Ok(())
}

/// Assignments through the same search. Optima of OR-Library gap1 to gap4: J. E. Beasley, OR-Library,
/// generalised assignment problem, file gapopt of the same collection.
fn measure_assignments(out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let published = [
        ("gap1", include_str!("../fixtures/planning/gap1.txt"), [336, 327, 339, 341, 326]),
        ("gap2", include_str!("../fixtures/planning/gap2.txt"), [434, 436, 420, 419, 428]),
        ("gap3", include_str!("../fixtures/planning/gap3.txt"), [580, 564, 573, 570, 564]),
        ("gap4", include_str!("../fixtures/planning/gap4.txt"), [656, 644, 673, 647, 664]),
    ];
    for (name, text, optima) in published {
        let (mut exact, mut worst) = (0, 0.0_f64);
        for (assignment, optimum) in assignment::read(text).iter().zip(optima) {
            let (problem, candidates) = assignment.as_plan();
            let config = SearchConfig::settled(problem.services.len());
            let found = search_among(&problem, &candidates, config, &NoPlanProgress)?;
            let earned = assignment.earned(&found.plan).ok_or("a job has no agent with room for it")?;
            exact += usize::from(i64::from(optimum) == earned);
            worst = worst.max((1.0 - earned as f64 / f64::from(optimum)) * 100.0);
        }
        let met = if worst <= 1.0 { "met" } else { "MISSED" };
        writeln!(out, "{name}: {exact} of 5 exact, the worst {worst:.2} % under the optimum   target {met}: 1 %")?;
    }
    Ok(())
}

/// 1,500 services that crowd into Saturdays of some 50 each: the first plan, and what a move costs.
fn measure_crowded(out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let (problem, names) = read(&crowded_text(1500, 26, 28), "crowded")?;
    let mut found = None;
    let start = least_time(3, || found = Some(planned(&problem, SearchConfig::start())));
    let first = found.take().ok_or("nothing ran")??;
    let moves = 2 * problem.services.len();
    let config = SearchConfig { moves_per_service: 2, ..SearchConfig::start() };
    let searched = least_time(1, || found = Some(planned(&problem, config)));
    let better = found.ok_or("nothing ran")??;
    let each = searched.saturating_sub(start).as_secs_f64() / moves as f64;
    let met = |is: bool| if is { "met" } else { "MISSED" };
    writeln!(out, "{}: {} services, days of some 50", names.problem, problem.services.len())?;
    writeln!(out, "  first plan {start:.2?}   target {}: at most 3 s", met(start.as_secs_f64() <= 3.0))?;
    writeln!(out, "  a move {:.2} ms   target {}: under 5 ms", each * 1000.0, met(each < 0.005))?;
    writeln!(out, "  after {moves} moves the plan costs {:.2} of the first", better.cost as f64 / first.cost as f64)?;
    Ok(())
}

/// A place tried by hand on the sample shop, each service in each of its windows.
fn measure_weighing(out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let as_of = NaiveDate::from_ymd_opt(2026, 3, 2).ok_or("no such day")?;
    let empty = Shop::default();
    let shop = import_paths(&[folder], &empty, as_of, &NoProgress)?.batch.apply_to(&empty).sorted();
    let forecast = forecast_shop(&shop, as_of, &ForecastConfig::of(&shop), &NoProgress)?;
    let due = due_list(&shop, &forecast);
    let basis = PlanBasis::of(&shop, &forecast, &due, as_of, &PlanningConfig::default());
    let proposal = propose(&basis, &PlanningConfig::quick(26), &NoPlanProgress)?;
    let mut longest = Duration::ZERO;
    let mut weighed = 0;
    for service in basis.services() {
        for tray in 0..basis.trays().len() {
            let trial = Trial { service: service.key(), tray, start: None, technicians: None };
            if weigh(&basis, &proposal, &trial).is_none() {
                continue;
            }
            weighed += 1;
            longest = longest.max(least_time(3, || {
                let _ = std::hint::black_box(weigh(&basis, &proposal, &trial));
            }));
        }
    }
    let met = if longest < Duration::from_millis(5) { "met" } else { "MISSED" };
    writeln!(out, "sample shop: {weighed} places weighed, the longest {longest:.2?}   target {met}: under 5 ms")?;
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let out = &mut std::io::stdout().lock();
    if let Some(load) = load_average() {
        writeln!(out, "load of the machine: {load}")?;
    }
    let hundred = [0.1, 2.0, 0.05];
    macro_rules! stored {
        ($name:literal) => {
            stored(
                include_str!(concat!("../fixtures/planning/", $name, ".json")),
                include_str!(concat!("../fixtures/planning/", $name, ".best.json")),
                hundred,
            )
        };
    }
    measure(&stored!("instance-20x8")?, out)?;
    measure(&stored!("instance-60x16")?, out)?;
    measure(&stored!("instance-100x26")?, out)?;
    measure(&invented("invented, 100x26 tight", ShopSize::TIGHT, hundred)?, out)?;
    measure(&invented("invented, 500x26", ShopSize::LARGE, [1.0, 10.0, 0.05])?, out)?;
    measure_assignments(out)?;
    measure_crowded(out)?;
    measure_weighing(out)
}
