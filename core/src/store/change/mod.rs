//! What each action writes: the rules, then the rows, then the label of the step.

mod import;
mod machines;
mod mountings;
mod names;
mod planning;
mod records;
mod registers;
mod rules;
mod spindles;
mod stock;

pub(super) use import::first_overlap;
pub(crate) use import::import;
pub(crate) use machines::add_with_spindles;
pub(crate) use mountings::exchange;
pub(super) use mountings::overlap as mounting_overlap;
pub(crate) use records::{record, record_service};
pub(crate) use registers::{change, settings as settings_row};
pub(super) use rules::{Checked, DATED};

#[cfg(test)]
mod tests;
