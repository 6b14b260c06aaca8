//! What planning costs, as ratios to the greedy start in the same run, and how good the plans are,
//! as ratios to the best known.
//!
//! `cargo bench --bench planning`. Baseline of each row: reading the rules of the instance into
//! candidates and placing everything once, by regret (`SearchConfig::start`). Processor time on one
//! thread. Best known plans of the stored instances: see the fixtures; the invented ones (tight, and
//! 500 services) have none, so they stand beside their own settled plan.

use almanac_core::planning::candidates::Candidates;
use almanac_core::planning::check::check;
use almanac_core::planning::instance::read;
use almanac_core::planning::problem::{Booked, Plan, Problem};
use almanac_core::planning::search::{Found, NoPlanProgress, SearchConfig, search_among};
use almanac_tests::measure::{least_time, load_average};
use almanac_tests::planning::instances::{ShopSize, instance_text};
use std::error::Error;
use std::io::Write;
use std::time::Duration;

/// A problem and, where known, what its best known plan costs.
struct Instance {
    name: String,
    problem: Problem,
    best: Option<i64>,
    /// Times wanted, in seconds: first proposal, settled, re-plan.
    wanted: [f64; 3],
}

fn stored(text: &str, best: &str, wanted: [f64; 3]) -> Result<Instance, Box<dyn Error>> {
    let best: serde_json::Value = serde_json::from_str(best)?;
    let (problem, names) = read(text, "stored")?;
    Ok(Instance { name: names.problem, problem, best: best.get("cost").and_then(serde_json::Value::as_i64), wanted })
}

fn invented(name: &str, size: ShopSize, wanted: [f64; 3]) -> Result<Instance, Box<dyn Error>> {
    let (problem, _) = read(&instance_text(size), name)?;
    Ok(Instance { name: name.to_owned(), problem, best: None, wanted })
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
    measure(&invented("invented, 500x26", ShopSize::LARGE, [1.0, 10.0, 0.5])?, out)?;
    Ok(())
}
