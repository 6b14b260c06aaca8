//! The program: without a subcommand the window, with one the commands that need none.

use drawbar_almanac::start;
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let path = std::env::args_os().nth(1).map(PathBuf::from);
    match start::window(path) {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{why}");
            ExitCode::FAILURE
        }
    }
}
