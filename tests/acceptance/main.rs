//! Acceptance.
#![expect(clippy::unwrap_used, reason = "a test that panics has failed, and says where")]

mod bad_input;
mod cli;
mod due;
mod due_page;
mod ebb;
mod external_checks;
mod fields;
mod fits;
mod forms;
mod full_model;
mod house_rules;
mod import_export;
mod import_questions;
mod import_told;
mod killed;
mod left_out;
mod migrations;
mod projection;
mod sample_shop;
mod shop_file;
mod shop_page;
mod spindle_page;
mod undo;
mod window;
mod window_import;
