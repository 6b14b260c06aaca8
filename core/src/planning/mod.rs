//! From service-by dates to places in downtime windows: with start, people and cost, or left with a reason.
//!
//! * [`problem`]: the problem in whole numbers, [`instance`](problem) files and shops alike.
//! * [`proposal`]: what a planner sees of a plan.
//!
//! Pure: no disk, no clock, no chance but that of a fixed seed. Same input, same plan.

pub mod problem;
pub mod proposal;
