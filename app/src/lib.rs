//! Drawbar Almanac: the window and the headless commands over `almanac_core`.

pub mod charts;
pub mod command;
pub mod forms;
pub mod notices;
pub mod pages;
pub mod theme;
pub mod widgets;
