//! From service-by dates to places in downtime windows: with start, people and cost, or left with a reason.
//!
//! * [`problem`]: the problem in whole numbers, [`instance`] files and shops alike; [`names`] of its indices.
//! * [`costs`]: what a place costs, to the cent.
//! * [`check`]: every rule and cost of a finished plan, written independently of the search.
//! * [`candidates`]: where each service could be done, and why one cannot.
//! * [`search`]: the search for a cheap plan.
//! * [`bound`]: a cost that no plan can undercut.
//! * [`basis`]: a shop as such a problem.
//! * [`proposal`]: what a planner sees of a plan; [`propose`] makes one, [`accept`] turns it into orders,
//!   [`since`] tells what came in between, [`by_hand`] weighs a place that the planner tries, [`ready_day`]
//!   says from when on one may be done, [`mod@format`] writes it out.
//! * [`week_view`]: what the week plan shows of it; [`parts_waiting`]: kits ahead, and what to order by when.
//!
//! Pure: no disk, no clock, no chance but that of a fixed seed. Same input, same plan.

pub mod accept;
pub mod basis;
pub mod bound;
pub mod broken;
pub mod by_hand;
pub mod candidates;
mod chance;
mod changes;
pub mod check;
#[cfg(test)]
mod check_tests;
mod clashes;
pub mod costs;
mod day_sheet;
mod describe;
mod fit;
pub mod format;
pub mod instance;
mod instance_field;
mod left_words;
pub mod names;
pub mod parts_waiting;
pub mod problem;
pub mod proposal;
pub mod propose;
pub mod ready_day;
pub mod search;
mod service_key;
pub mod since;
mod standing;
mod taken_since;
pub mod week_view;
mod why;
