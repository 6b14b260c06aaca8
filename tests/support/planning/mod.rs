//! Planning problems for tests and benches, and tiny ones with the cheapest plan found by trying everything.

pub mod brute_force;
pub mod instances;
pub mod tiny_shop;
