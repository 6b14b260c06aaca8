//! Records services with their readings into a shop file, one step after the other, until it is
//! killed. After each step that is safely stored it prints the step's number.

use almanac_core::actions::Action;
use almanac_core::moment::Moment;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, Service};
use almanac_core::store::{Access, StepStamp, Store};
use almanac_core::units::Unit;
use almanac_tests::killed::{READINGS_A_STEP, note_of};
use chrono::{Days, NaiveDate};
use std::error::Error;
use std::io::Write as _;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args().nth(1).ok_or("usage: record_until_killed SHOP")?;
    let mut store = Store::open(Path::new(&path), Access::ReadWrite)?;
    let shop = store.load_shop()?;
    let spindle = *shop.spindles.keys().next().ok_or("the shop has no spindle")?;
    let first = NaiveDate::from_ymd_opt(2026, 1, 1).ok_or("no such day")?;
    let already = shop.services.len();
    for step in already.. {
        let day = first.checked_add_days(Days::new(step as u64)).ok_or("the calendar ends")?;
        let mut service = Service::of(spindle, Moment::day(day), Kind::Minor);
        service.note = note_of(step);
        let readings = (0..READINGS_A_STEP)
            .filter_map(|number| {
                let phase = if number % 2 == 0 { Phase::AsFound } else { Phase::AsLeft };
                let strokes = vec![Stroke::parse(&format!("16.{number}"), Unit::Kilonewton)?];
                let mut reading = Reading::of(spindle, Moment::day(day), phase, Unit::Kilonewton, strokes);
                reading.note = note_of(step);
                Some(reading)
            })
            .collect();
        let stamp = StepStamp { at: day.and_hms_opt(8, 0, 0).ok_or("no such time")?, who: "test".to_owned() };
        store.perform(Action::RecordService(service, readings), &stamp)?;
        let mut stdout = std::io::stdout().lock();
        writeln!(stdout, "{step}")?;
        stdout.flush()?;
    }
    Ok(())
}
