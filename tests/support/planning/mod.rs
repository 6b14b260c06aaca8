//! Planning problems for tests and benches, and tiny ones with the cheapest plan found by trying everything.

pub mod assignment;
pub mod brute_force;
pub mod instances;
pub mod plain;
pub mod tiny;
pub mod tiny_shop;
