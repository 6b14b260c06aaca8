//! The full forecast model: a saw-tooth state-space model per spindle, pooled by tool interface.
//!
//! Force is in percent of the spindle's nominal; exposure in *reference intervals* (2,000 run
//! hours, or as many clamp cycles as the interface makes in them); days are whole numbers from any
//! day 0. Everything here is plain numbers on purpose: the types with units end at the door.
//!
//! State of a spindle: force now `L`, loss rate of this interval `b`, the spindle's own mean rate
//! `B`, the level `C` that a minor service would bring back, its lasting loss rate `D`.

pub mod coordinate_search;
pub mod crossing;
pub mod event_rates;
pub mod filter;
pub mod gaussian_crossing;
pub mod group_fit;
pub mod humps;
pub mod improvements;
pub mod lognormal_rate;
pub mod meter;
pub mod next_reading;
pub mod normal;
pub mod observed;
pub mod out_table;
pub mod parameters;
pub mod predicted;
pub mod rising;
pub mod setting_dimension;
pub mod shop_fit;
pub mod spindle;
mod stops;
pub mod stroke_list;
pub mod strokes;
pub mod undecided;
pub mod usage;
pub mod usage_ahead;
pub mod usage_fit;
mod wide;
pub mod working_days;

#[cfg(test)]
mod fixture_tests;
#[cfg(test)]
mod improvement_tests;
#[cfg(test)]
mod next_reading_tests;
#[cfg(test)]
mod sleep_study_tests;
