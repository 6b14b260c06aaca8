//! Plans an instance file and prints the plan as one JSON object.
//!
//! `cargo run --release -p almanac-core --example plan_instance -- INSTANCE.json`
//!
//! Ends with 1 and one sentence when the file cannot be read.

use almanac_core::planning::bound::{BoundEffort, lower_bound};
use almanac_core::planning::candidates::Candidates;
use almanac_core::planning::check::check;
use almanac_core::planning::instance::{plan_json, read};
use almanac_core::planning::search::{NoPlanProgress, SearchConfig, search_among};
use std::io::Write as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            // nobody is left to tell when even that fails
            let _ = writeln!(std::io::stderr(), "{sentence}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), String> {
    let mut given = std::env::args().skip(1);
    let (Some(path), None) = (given.next(), given.next()) else {
        return Err("Give one instance file: plan_instance INSTANCE.json".to_owned());
    };
    let text = std::fs::read_to_string(&path).map_err(|cause| format!("{path} cannot be read: {cause}"))?;
    let (problem, names) = read(&text, &path).map_err(|refused| refused.to_string())?;
    let candidates = Candidates::of_problem(&problem);
    let config = SearchConfig::settled(problem.services.len());
    let found = search_among(&problem, &candidates, config, &NoPlanProgress).map_err(|stopped| stopped.to_string())?;
    let checked = check(&problem, &found.plan);
    let reasons: Vec<_> = candidates.reasons.iter().copied().map(Some).collect();
    let effort = BoundEffort::for_services(problem.services.len());
    let bound = lower_bound(&problem, checked.parts.total(), effort, &mut |_, _| true);
    let json = plan_json(&names, &found.plan, &reasons, &checked.parts, Some(bound));
    writeln!(std::io::stdout(), "{json}").map_err(|cause| format!("the plan cannot be written: {cause}"))
}
