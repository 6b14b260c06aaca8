//! Planning problems for tests and benches.

pub mod instances;
