//! The demo: an invented shop with five years of readings, made from a few figures per spindle and seeded chance.
//!
//! Same code, same bytes on every machine: only `+ - * /` and tables, random numbers of our own, no clock.
//! The folder `sample-shop/` at the top of the repository holds what [`files`] returns; a test compares the two.

mod calendar;
mod csv;
mod day;
mod fleet;
mod notes;
mod orders;
mod parts;
mod people;
mod random;
mod readings;
mod slips;
mod usage;
mod wear;

use std::{fs, io, path::Path};

/// All CSV files of the demo: name and text, in the order of the formats' description.
#[must_use]
pub fn files() -> Vec<(&'static str, String)> {
    let usage = usage::Usage::new();
    let lives: Vec<wear::Life> = fleet::SPINDLES.iter().map(|spindle| wear::Life::new(spindle, &usage)).collect();
    let (services, orders) = orders::services_and_orders(&lives);
    vec![
        ("shop.csv", people::shop()),
        ("machines.csv", fleet::machines()),
        ("spindles.csv", fleet::spindles()),
        ("limits.csv", fleet::limits()),
        ("mountings.csv", fleet::mountings()),
        ("meters.csv", usage.meters()),
        ("readings.csv", readings::table(&readings::readings(&lives, &usage))),
        ("services.csv", services),
        ("closures.csv", calendar::closures()),
        ("gauges.csv", people::gauges()),
        ("crew.csv", people::crew()),
        ("downtime.csv", calendar::downtime()),
        ("parts.csv", parts::parts()),
        ("deliveries.csv", parts::deliveries()),
        ("kits.csv", parts::kits()),
        ("service_kinds.csv", parts::service_kinds()),
        ("orders.csv", orders),
    ]
}

/// Writes the CSV files into a folder, which is made if it is missing; other files in it stay.
///
/// # Errors
/// When the folder cannot be made or a file cannot be written.
pub fn write(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    for (name, text) in files() {
        fs::write(folder.join(name), text)?;
    }
    Ok(())
}
