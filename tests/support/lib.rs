//! What tests, benches and the demo generator share.

pub mod fleet;
pub mod sample_shop;

pub mod form_shop;
