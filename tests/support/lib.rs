//! What tests, benches and the demo generator share.

pub mod due_list;
pub mod fleet;
pub mod harness;
pub mod sample_shop;

pub mod form_shop;
