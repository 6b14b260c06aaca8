//! Drawbar Almanac: the window and the headless commands over `almanac_core`.

pub mod app;
pub mod charts;
pub mod cli;
pub mod clock;
pub mod command;
pub mod document;
pub mod forms;
pub mod notices;
pub mod pages;
pub mod path_picker;
pub mod planner;
pub mod preferences;
pub mod results;
pub mod start;
pub mod task;
pub mod theme;
pub mod view_state;
pub mod what_if;
pub mod widgets;
pub mod worker;
