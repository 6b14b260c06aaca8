//! What tests, benches and the demo generator share.

pub mod fleet;
