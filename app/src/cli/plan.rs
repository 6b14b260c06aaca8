//! `plan`: places for everything that is due, and their acceptance.

use super::CliError;
use super::args::{Format, PlanArgs};
use super::output::{deliver, say};
use super::shop_argument::{load, must_be_file};
use super::transfer::login_name;
use super::views::day_of;
use almanac_core::due::{DueList, due_list};
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{ForecastConfig, NoProgress, project_shop};
use almanac_core::planning::accept::{Lines, accept};
use almanac_core::planning::basis::PlanBasis;
use almanac_core::planning::format;
use almanac_core::planning::proposal::{PlanningConfig, Proposal};
use almanac_core::planning::propose::{NoPlanProgress, propose};
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store};
use almanac_core::words;
use chrono::{NaiveDate, NaiveDateTime};
use std::process::ExitCode;
use std::sync::Arc;

/// A shop with its proposal.
struct Planned {
    shop: Shop,
    due: DueList,
    basis: PlanBasis,
    proposal: Proposal,
}

pub(super) fn plan(args: &PlanArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let Planned { shop, due, basis, proposal } = if args.apply { apply(args, now)? } else { look(args, now)? };
    let text = match args.print.format {
        Format::Table => format::to_table(&shop, &due, &proposal),
        Format::Csv => format::to_csv(&shop, basis.trays(), &proposal),
        Format::Json => format::to_json(&shop, basis.trays(), &proposal).map_err(CliError::of)?,
    };
    deliver(text.as_bytes(), args.print.out.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

/// Proposes; nothing is written.
fn look(args: &PlanArgs, now: NaiveDateTime) -> Result<Planned, CliError> {
    let loaded = load(&args.shop.shop, now.date())?;
    let day = day_of(&loaded.shop, args.shop.as_of, now.date());
    let shop = loaded.shop.known_on(day);
    let fits = loaded.fits(&shop, day)?;
    proposed(shop, day, fits, args.weeks)
}

/// Proposes and accepts all of it, as one step that can be undone.
fn apply(args: &PlanArgs, now: NaiveDateTime) -> Result<Planned, CliError> {
    must_be_file(&args.shop.shop, "plan --apply")?;
    let mut store = Store::open(&args.shop.shop, Access::ReadWrite).map_err(CliError::of)?;
    let whole = store.load_shop().map_err(CliError::of)?;
    let present = whole.present(now.date());
    if args.shop.as_of.is_some_and(|day| day != present) {
        let present = present.format("%-d %B %Y");
        return Err(CliError::Sentence(format!(
            "plan --apply books from the present of the shop, {present}: leave --as-of out"
        )));
    }
    let shop = whole.known_on(present);
    let fits = match store.shop_fits_known_on(present) {
        Some(fits) => fits,
        None => ShopFits::fit(&shop, present, &NoProgress).map_err(CliError::of)?,
    };
    let planned = proposed(shop, present, fits, args.weeks)?;
    match accept(&whole, &planned.proposal, Lines::All) {
        None => say("nothing to accept: what is booked stays as it is"),
        Some(action) => {
            let stamp = StepStamp { at: now, who: login_name() };
            store.perform(action, &stamp).map_err(CliError::of)?;
            let count = planned.proposal.changes.len();
            let noun = if count == 1 { "change" } else { "changes" };
            say(&format!("{} {noun} accepted", words::count_words(count)));
        }
    }
    Ok(Planned { shop: store.load_shop().map_err(CliError::of)?, ..planned })
}

fn proposed(shop: Shop, day: NaiveDate, fits: ShopFits, weeks: u32) -> Result<Planned, CliError> {
    let forecast_config = ForecastConfig::of(&shop);
    let forecast = project_shop(&shop, day, &forecast_config, &Arc::new(fits), &NoProgress).map_err(CliError::of)?;
    let due = due_list(&shop, &forecast);
    let config = PlanningConfig::settled(weeks);
    let basis = PlanBasis::of(&shop, &forecast, &due, day, &config);
    let proposal = propose(&basis, &config, &NoPlanProgress).map_err(CliError::of)?;
    Ok(Planned { shop, due, basis, proposal })
}
