//! `due`, `orders` and `calendar`: what is to be done, for people and for scripts.

use super::CliError;
use super::args::{CalendarArgs, DueArgs, Format, OrdersArgs};
use super::output::{deliver, say};
use super::shop_argument::load;
use crate::clock::in_utc;
use almanac_core::due::{self, DueList, due_list};
use almanac_core::export::ics::{self, CalendarOf};
use almanac_core::forecast::next_reading::next_readings;
use almanac_core::forecast::{ForecastBasis, ForecastConfig, NoProgress, ShopForecast};
use almanac_core::orders_list::{self, order_lines};
use almanac_core::shop::Shop;
use chrono::{NaiveDate, NaiveDateTime};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

/// A shop as known on a day, with its projection and due list.
struct Seen {
    shop: Shop,
    forecast: ShopForecast,
    due: DueList,
    basis: ForecastBasis,
}

impl Seen {
    /// The due list with the readings worth taking.
    fn due_with_readings(&self) -> Result<DueList, CliError> {
        let readings = next_readings(&self.basis, &self.forecast, &NoProgress).map_err(CliError::of)?;
        Ok(self.due.clone().with_readings(readings))
    }
}

/// The day from which a command looks: that of the command line, else the shop's present. One after
/// the present is remarked upon.
pub(super) fn day_of(shop: &Shop, as_of: Option<NaiveDate>, today: NaiveDate) -> NaiveDate {
    let present = shop.present(today);
    let day = as_of.unwrap_or(present);
    if day > present {
        let (day, present) = (day.format("%-d %B %Y"), present.format("%-d %B %Y"));
        say(&format!("{day} lies after the present, {present}: nothing is known since"));
    }
    day
}

/// Looks at a shop from a day: that of the command line, else the shop's present.
fn look(path: &Path, as_of: Option<NaiveDate>, today: NaiveDate) -> Result<Seen, CliError> {
    let loaded = load(path, today)?;
    let day = day_of(&loaded.shop, as_of, today);
    let shop = loaded.shop.known_on(day);
    let config = ForecastConfig::of(&shop);
    let fits = Arc::new(loaded.fits(&shop, day)?);
    let basis = ForecastBasis::of(&shop, day, &config, &fits, &NoProgress).map_err(CliError::of)?;
    let forecast = basis.project_all(&NoProgress).map_err(CliError::of)?;
    let due = due_list(&shop, &forecast);
    Ok(Seen { shop, forecast, due, basis })
}

pub(super) fn due(args: &DueArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let seen = look(&args.shop.shop, args.shop.as_of, now.date())?;
    let text = match args.print.format {
        Format::Table => due::to_table(&seen.shop, &seen.due_with_readings()?),
        Format::Csv => due::to_csv(&seen.due),
        Format::Json => due::to_json(&seen.shop, &seen.forecast, &seen.due_with_readings()?).map_err(CliError::of)?,
    };
    deliver(text.as_bytes(), args.print.out.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

pub(super) fn orders(args: &OrdersArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let seen = look(&args.shop.shop, args.shop.as_of, now.date())?;
    let lines = order_lines(&seen.shop, &seen.due, args.all);
    let text = match args.print.format {
        Format::Table => orders_list::to_table(&lines, seen.due.as_of),
        Format::Csv => orders_list::to_csv(&lines, seen.due.as_of),
        Format::Json => orders_list::to_json(&lines, seen.due.as_of).map_err(CliError::of)?,
    };
    deliver(text.as_bytes(), args.print.out.as_deref())?;
    Ok(ExitCode::SUCCESS)
}

pub(super) fn calendar(args: &CalendarArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let seen = look(&args.shop.shop, args.shop.as_of, now.date())?;
    let of = CalendarOf {
        technicians: args.technician.iter().cloned().collect(),
        halls: args.hall.iter().cloned().collect(),
    };
    let of = of.checked(&seen.shop).map_err(CliError::of)?;
    let lines = order_lines(&seen.shop, &seen.due, true);
    let calendar = ics::calendar(&seen.shop, &lines, &of, seen.due.as_of, in_utc(now));
    deliver(calendar.text.as_bytes(), Some(&args.out))?;
    Ok(ExitCode::SUCCESS)
}

/// The window could not open for want of a display: the due list instead, and a sentence that says
/// so. Without a shop there is nothing to list, only the sentence.
#[must_use]
pub fn print_due_without_display(shop: Option<&Path>, now: NaiveDateTime) -> ExitCode {
    let Some(shop) = shop else {
        say("there is no display, so no window can open; name a shop to get its due list, or see --help");
        return ExitCode::SUCCESS;
    };
    let printed = look(shop, None, now.date())
        .and_then(|seen| deliver(due::to_table(&seen.shop, &seen.due_with_readings()?).as_bytes(), None));
    match printed {
        Ok(()) | Err(CliError::NobodyReads) => {
            say("there is no display, so this is the due list instead of the window; other commands: --help");
            ExitCode::SUCCESS
        }
        Err(error) => {
            say(&error.to_string());
            ExitCode::from(1)
        }
    }
}
