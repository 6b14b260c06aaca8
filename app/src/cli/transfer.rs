//! `import`, `export`, `backup`, `check`.

use super::CliError;
use super::args::{BackupArgs, CheckArgs, ExportArgs, Format, ImportArgs};
use super::output::{deliver, say};
use super::report_text::{report_csv, report_json, report_table};
use super::shop_argument::{load, must_be_file};
use almanac_core::actions::Action;
use almanac_core::export::folder::write_folder;
use almanac_core::forecast::NoProgress;
use almanac_core::import::{ImportLimits, ImportOutcome, ImportReport, import_paths_listing};
use almanac_core::shop::Shop;
use almanac_core::store::{Access, StepStamp, Store, backup_file, check_file};
use almanac_core::words;
use chrono::NaiveDateTime;
use std::process::ExitCode;

/// Who is at the keyboard, for the journal.
#[must_use]
pub fn login_name() -> String {
    ["USER", "LOGNAME", "USERNAME"]
        .into_iter()
        .find_map(|name| std::env::var(name).ok().filter(|value| !value.is_empty()))
        .unwrap_or_else(|| "unknown".to_owned())
}

/// The sentence of a shop folder that is not used because rows of it are refused.
pub(super) fn refusal(report: &ImportReport) -> CliError {
    /// More than these are counted, not listed.
    const LISTED: usize = 20;
    let count = report.refused_count;
    let (rows, them) = if count == 1 {
        ("1 row is refused".to_owned(), "it")
    } else {
        (format!("{} rows are refused", with_commas(count)), "them")
    };
    let mut sentence = format!(
        "{rows}, so nothing was read: mend {them}, or import the folder into a shop file with --accept-good-rows"
    );
    let mut told = 0;
    for refused in report.refused.iter().take(LISTED) {
        told += refused.rows;
        sentence.push_str("\n  ");
        sentence.push_str(&refused.to_string());
    }
    if count > told {
        sentence.push_str(&format!("\n  ... and {} more", with_commas(count - told)));
    }
    CliError::Sentence(sentence)
}

/// A count as sentences print it.
fn with_commas(count: usize) -> String {
    words::number(count as f64, 0)
}

pub(super) fn import(args: &ImportArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    must_be_file(&args.shop, "import")?;
    let is_new = !args.shop.exists();
    let store = if is_new {
        None
    } else {
        let access = if args.dry_run { Access::ReadOnly } else { Access::ReadWrite };
        Some(Store::open(&args.shop, access).map_err(CliError::of)?)
    };
    let known = match &store {
        Some(store) => store.load_shop().map_err(CliError::of)?,
        None => Shop::default(),
    };
    let outcome =
        import_paths_listing(&args.paths, &known, now.date(), ImportLimits::ALL, &NoProgress).map_err(CliError::of)?;
    let may_apply = outcome.may_apply(args.accept_good_rows);
    let text = match args.format {
        Format::Table => report_table(&outcome.report, args.dry_run, may_apply),
        Format::Csv => report_csv(&outcome.report),
        Format::Json => report_json(&outcome.report, may_apply && !args.dry_run).map_err(CliError::of)?,
    };
    if may_apply && !args.dry_run {
        write(args, store, outcome, now)?;
    }
    deliver(text.as_bytes(), args.out.as_deref())?;
    if may_apply {
        return Ok(ExitCode::SUCCESS);
    }
    say("nothing was read in: rows are refused (--accept-good-rows takes the others)");
    Ok(ExitCode::from(1))
}

/// Puts the batch into the shop file as one step; an import that brings nothing leaves no step.
fn write(args: &ImportArgs, store: Option<Store>, outcome: ImportOutcome, now: NaiveDateTime) -> Result<(), CliError> {
    if outcome.batch.is_empty() {
        // no shop file is made for nothing
        return Ok(());
    }
    let is_new = store.is_none();
    let mut store = match store {
        Some(store) => store,
        None => Store::create(&args.shop).map_err(CliError::of)?,
    };
    let stamp = StepStamp { at: now, who: login_name() };
    let done = store.perform(Action::Import(Box::new(outcome.batch)), &stamp).map_err(CliError::of);
    drop(store);
    if done.is_err() && is_new {
        // an empty shop that nobody asked for; the error that led here is the one to report
        drop(std::fs::remove_file(&args.shop));
    }
    done.map(drop)
}

pub(super) fn export(args: &ExportArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let loaded = load(&args.shop, now.date())?;
    write_folder(&loaded.shop, &args.folder).map_err(CliError::of)?;
    Ok(ExitCode::SUCCESS)
}

pub(super) fn backup(args: &BackupArgs) -> Result<ExitCode, CliError> {
    must_be_file(&args.shop, "backup")?;
    backup_file(&args.shop, &args.file).map_err(CliError::of)?;
    Ok(ExitCode::SUCCESS)
}

pub(super) fn check(args: &CheckArgs, now: NaiveDateTime) -> Result<ExitCode, CliError> {
    let faults = if args.shop.is_dir() {
        load(&args.shop, now.date())?;
        Vec::new()
    } else {
        check_file(&args.shop).map_err(CliError::of)?
    };
    if faults.is_empty() {
        deliver(b"no fault found\n", None)?;
        return Ok(ExitCode::SUCCESS);
    }
    let mut text = faults.join("\n");
    text.push('\n');
    deliver(text.as_bytes(), None)?;
    let count = faults.len();
    say(&if count == 1 { "1 fault found".to_owned() } else { format!("{} faults found", with_commas(count)) });
    Ok(ExitCode::from(1))
}
