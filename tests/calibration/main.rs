//! Are the forecast bands as wide as they claim? Simulated fleets with known truth, scored:
//! `cargo run --release -p almanac-tests --bin calibration -- [--fleets N] [--seed S] [--rows a,b] [--only c,d]`,
//! the last with these improvements alone in place of all.
#![expect(clippy::print_stdout, reason = "the table is what it is run for")]

use almanac_core::forecast::model::improvements::Improvements;
use almanac_tests::calibration::bars::bars;
use almanac_tests::calibration::run::{Plan, SEED, run};
use almanac_tests::calibration::table::table;
use almanac_tests::calibration::truth::Scenario;
use std::process::ExitCode;

const USAGE: &str = "usage: calibration [--fleets N] [--seed S] [--rows NAME,NAME] [--threads N] [--only NAME,NAME]";

fn main() -> ExitCode {
    let plan = match plan(std::env::args().skip(1)) {
        Ok(plan) => plan,
        Err(problem) => {
            eprintln!("{problem}\n{USAGE}");
            return ExitCode::from(2);
        }
    };
    println!(
        "seed {}, {} fleets of 200 in each row, {} of five\n",
        plan.seed,
        plan.fleets,
        plan.fleets * Scenario::YoungFive.fleets_for_one()
    );
    let rows = match run(&plan, &|done, all| eprintln!("{done} of {all} fleets")) {
        Ok(rows) => rows,
        Err(error) => {
            eprintln!("cannot start a thread: {error}");
            return ExitCode::from(2);
        }
    };
    print!("{}", table(&rows));
    let bars = bars(&rows);
    for bar in &bars {
        println!("{bar}");
    }
    let missed = bars.iter().filter(|bar| !bar.is_met).count();
    println!("\n{} of {} bars met", bars.len() - missed, bars.len());
    if missed == 0 { ExitCode::SUCCESS } else { ExitCode::from(1) }
}

fn plan(mut arguments: impl Iterator<Item = String>) -> Result<Plan, String> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let mut plan =
        Plan { seed: SEED, fleets: 5, scenarios: Scenario::ALL.to_vec(), improvements: Improvements::all(), threads };
    while let Some(option) = arguments.next() {
        let value = arguments.next().ok_or_else(|| format!("{option} needs a value"))?;
        let number = || value.parse().map_err(|error| format!("{option} {value}: expected a whole number ({error})"));
        match option.as_str() {
            "--fleets" => plan.fleets = number()?,
            "--threads" => plan.threads = number()?,
            "--seed" => {
                plan.seed =
                    value.parse().map_err(|error| format!("--seed {value}: expected a whole number ({error})"))?
            }
            "--rows" => plan.scenarios = scenarios(&value)?,
            "--only" => {
                plan.improvements = value
                    .split(',')
                    .try_fold(Improvements::none(), |chosen, name| chosen.and(name))
                    .ok_or_else(|| format!("--only {value}: no such improvement"))?;
            }
            _ => return Err(format!("unknown option {option}")),
        }
    }
    if plan.fleets == 0 || plan.threads == 0 {
        return Err("at least one fleet and one thread".to_owned());
    }
    Ok(plan)
}

fn scenarios(list: &str) -> Result<Vec<Scenario>, String> {
    let known = || Scenario::ALL.map(Scenario::key).join(", ");
    let mut chosen = list
        .split(',')
        .map(|key| {
            let found = Scenario::ALL.into_iter().find(|scenario| scenario.key() == key);
            found.ok_or_else(|| format!("unknown row {key}; there are {}", known()))
        })
        .collect::<Result<Vec<_>, _>>()?;
    chosen.sort();
    chosen.dedup();
    Ok(chosen)
}
