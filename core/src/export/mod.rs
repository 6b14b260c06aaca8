//! What leaves the shop as files.

pub mod cells;
pub mod csv_text;
pub mod folder;
pub mod ics;
pub mod whole_file;

pub use whole_file::{WriteError, write_together, write_whole};
