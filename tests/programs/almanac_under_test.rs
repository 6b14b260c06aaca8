//! The program itself, built beside the tests so that they can start it.

use std::process::ExitCode;

fn main() -> ExitCode {
    drawbar_almanac::cli::program(chrono::Local::now().naive_local())
}
