//! Calibration: are forecast bands as wide as they claim, on simulated fleets whose true dates are
//! known? `cargo run --release -p almanac-tests --bin calibration` prints the table.

pub mod bars;
pub mod chance;
pub mod fleet;
pub mod forecasters;
pub mod run;
pub mod score;
pub mod table;
pub mod truth;
pub mod usage;
pub mod wear;
