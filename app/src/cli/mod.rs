//! The headless commands: the same calls of the core as the window, text on stdout, one clear
//! sentence on stderr where the work could not be done.

mod args;
mod output;
mod plan;
mod program;
mod report_text;
mod shop_argument;
mod track_record;
mod transfer;
mod views;

pub use args::{Args, Command};
pub use program::program;
pub use shop_argument::{LoadedShop, load};
pub use transfer::login_name;
pub use views::print_due_without_display;

use chrono::NaiveDateTime;
use std::process::ExitCode;

/// Why a command could not do its work: one sentence, ready to print.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// In words.
    #[error("{0}")]
    Sentence(String),
    /// Whoever read the output went away; nothing to say.
    #[error("nobody reads the output")]
    NobodyReads,
}

impl CliError {
    /// From anything that speaks for itself.
    pub fn of(error: impl std::fmt::Display) -> Self {
        Self::Sentence(error.to_string())
    }
}

/// Runs a headless command. `now` is the local time of the machine.
#[must_use]
pub fn run(command: &Command, now: NaiveDateTime) -> ExitCode {
    let result = match command {
        Command::Due(args) => views::due(args, now),
        Command::Orders(args) => views::orders(args, now),
        Command::Plan(args) => plan::plan(args, now),
        Command::Calendar(args) => views::calendar(args, now),
        Command::TrackRecord(args) => track_record::track_record(args, now),
        Command::Import(args) => transfer::import(args, now),
        Command::Export(args) => transfer::export(args, now),
        Command::Backup(args) => transfer::backup(args),
        Command::Check(args) => transfer::check(args, now),
    };
    match result {
        Ok(code) => code,
        Err(CliError::NobodyReads) => ExitCode::SUCCESS,
        Err(error) => {
            output::say(&error.to_string());
            ExitCode::from(1)
        }
    }
}
