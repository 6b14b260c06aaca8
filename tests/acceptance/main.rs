//! Acceptance.

mod due;
mod import_export;
mod sample_shop;
mod shop_file;
mod undo;
mod window;
