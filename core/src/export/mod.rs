//! What leaves the shop as files.

pub mod cells;
pub mod csv_text;
pub mod folder;
