//! Remakes the demo: `cargo run -p almanac-tests --bin sample_shop -- sample-shop`.

use std::path::Path;
use std::process::ExitCode;

use almanac_tests::sample_shop;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder] = arguments.as_slice() else {
        eprintln!("usage: sample_shop FOLDER");
        return ExitCode::from(2);
    };
    match sample_shop::write(Path::new(folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("cannot write the demo into {folder}: {error}");
            ExitCode::from(1)
        }
    }
}
