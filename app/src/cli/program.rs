//! The program as a whole: a command, or the window, or what can be said without one.

use super::{Args, output::say, print_due_without_display, run};
use crate::start::{NoWindow, window};
use chrono::NaiveDateTime;
use clap::Parser as _;
use std::process::ExitCode;

/// Runs what the command line asks for. `now` is the local time of the machine.
#[must_use]
pub fn program(now: NaiveDateTime) -> ExitCode {
    let args = Args::parse(); // ends with 2 on wrong usage
    if let Some(command) = &args.command {
        return run(command, now);
    }
    match window(args.shop.clone()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(NoWindow::NoDisplay) => print_due_without_display(args.shop.as_deref(), now),
        Err(why) => {
            say(&why.to_string());
            ExitCode::from(1)
        }
    }
}
