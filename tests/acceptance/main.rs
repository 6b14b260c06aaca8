//! Acceptance.

mod sample_shop;
mod shop_file;
