//! The program: without a command the window, with one the commands that need none.

use std::process::ExitCode;

fn main() -> ExitCode {
    drawbar_almanac::cli::program(chrono::Local::now().naive_local())
}
