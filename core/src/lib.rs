//! The logic of Drawbar Almanac.
pub mod ids;
pub mod interface;
pub mod limits;
pub mod moment;
pub mod units;
