//! `track-record`: how good the forecast has been so far.

use super::CliError;
use super::args::{Format, TrackRecordArgs};
use super::output::{deliver, say};
use super::shop_argument::load;
use super::views::day_of;
use almanac_core::forecast::track_record::{self, nothing_to_score, to_csv, to_json, to_table};
use almanac_core::forecast::{ForecastConfig, NoProgress};
use chrono::NaiveDateTime;
use std::process::ExitCode;

pub(super) fn track_record(args: &TrackRecordArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let loaded = load(&args.shop.shop, now.date())?;
    let day = day_of(&loaded.shop, args.shop.as_of, now.date());
    let config = ForecastConfig::of(&loaded.shop);
    let kept = loaded.kept_fits()?;
    let record = track_record::track_record(&loaded.shop, day, &config, &kept, &NoProgress).map_err(CliError::of)?;
    if record.readings.is_empty() && args.print.format != Format::Table {
        say(&nothing_to_score());
    }
    let text = match args.print.format {
        Format::Table => to_table(&record),
        Format::Csv => to_csv(&loaded.shop, &record),
        Format::Json => to_json(&record).map_err(CliError::of)?,
    };
    deliver(text.as_bytes(), args.print.out.as_deref())?;
    Ok(ExitCode::SUCCESS)
}
