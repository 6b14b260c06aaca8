//! Acceptance.

mod sample_shop;
