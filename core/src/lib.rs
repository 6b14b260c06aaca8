//! The logic of Drawbar Almanac: which spindle needs its gripper service before which date, and why.
//!
//! One document, one way in (an [`actions::Action`]), one way out (an immutable [`shop::Shop`]).
//! This crate knows no screen.

pub mod actions;
pub mod best_interval;
pub mod calendar;
pub mod cautions;
pub mod closure;
pub mod crew;
pub mod downtime;
pub mod due;
pub mod error;
pub mod expected;
pub mod export;
pub mod exposure;
pub mod forecast;
pub mod gauge;
pub mod ids;
pub mod import;
pub mod interface;
pub mod limits;
pub mod machine;
pub mod meter;
pub mod moment;
pub mod mounting;
pub mod order;
pub mod order_number;
pub mod orders_list;
pub mod part;
pub mod planning;
pub mod plausibility;
pub mod reading;
pub mod recurrence;
pub mod service;
pub mod service_costs;
pub mod settings;
pub mod shop;
pub mod spindle;
pub mod store;
pub mod tables;
pub mod typed_date;
pub mod units;
pub mod what_if;
pub mod windows;
pub mod words;
