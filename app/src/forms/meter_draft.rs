//! A meter reading as typed, and what it becomes.

use super::draft::{Draft, FieldErrors, Reader, plain_number};
use super::reading_draft;
use almanac_core::actions::{Action, Recording};
use almanac_core::expected::{MeterRecord, meter_owner, meter_room};
use almanac_core::ids::{MeterReadingId, SpindleId};
use almanac_core::machine::Position;
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::shop::Shop;
use almanac_core::units::{ClampCycles, RunHours};
use almanac_core::words;
use chrono::NaiveDate;

/// The tick for the first reading of a new meter.
pub const NEW_METER: &str = "new meter";
/// Whose meter it is.
pub const METER_OF: &str = "meter of";
/// The meter travels with the spindle.
pub const OF_SPINDLE: &str = "spindle";
/// The meter stays at the machine position.
pub const OF_POSITION: &str = "position";

/// Of which spindle the meter is, and which reading this one corrects.
#[derive(Debug, Clone, Copy)]
pub struct MeterTarget<'a> {
    /// The shop as it stands.
    pub shop: &'a Shop,
    /// The spindle.
    pub spindle: SpindleId,
    /// The meter reading in whose place this one comes.
    pub correcting: Option<MeterReadingId>,
    /// The day that stands for now.
    pub today: NaiveDate,
}

/// The meter reading of a draft.
///
/// # Errors
/// What is missing or wrong, field by field.
pub fn parse(draft: &Draft, target: &MeterTarget<'_>) -> Result<MeterReading, FieldErrors> {
    let mut reader = Reader::new(draft, target.today);
    let at = reader.past_moment("date");
    let owner = at.and_then(|at| owner(draft, &mut reader, target, at.date));
    let meter_replaced = draft.is_ticked(NEW_METER);
    let leave_out = target.correcting.map(MeterRecord::Meter);
    let (run_hours, clamp_cycles) = if meter_replaced {
        let hours = reader.optional("run hours", "hours such as 12", plain_number).and_then(RunHours::new);
        let cycles = reader.optional("clamp cycles", "cycles such as 150", plain_number).and_then(ClampCycles::new);
        (hours, cycles)
    } else {
        let room = at.map(|at| meter_room(target.shop, target.spindle, at.date, leave_out));
        let same_meter = room.filter(|room| owner.is_none_or(|owner| owner == room.owner));
        reading_draft::counts(&mut reader, same_meter.as_ref())
    };
    let nothing = draft.trimmed("run hours").is_empty() && draft.trimmed("clamp cycles").is_empty();
    if nothing {
        reader.missing("run hours or clamp cycles");
    }
    let reading = at.zip(owner).filter(|_| !nothing && reader.is_clean()).map(|(at, owner)| MeterReading {
        owner,
        at,
        run_hours,
        clamp_cycles,
        meter_replaced,
        recorded_on: (at.date != target.today).then_some(target.today),
        replaced_on: None,
    });
    let reading = reading.and_then(|reading| match reading.checked() {
        Ok(reading) => Some(reading),
        Err(error) => {
            reader.wrong("run hours", error);
            None
        }
    });
    reader.finish(reading)
}

/// The action that records it or puts it in the place of another.
#[must_use]
pub fn action(reading: MeterReading, target: &MeterTarget<'_>) -> Action {
    match target.correcting {
        Some(old) => Action::Meter(Recording::Correct(old, reading, target.today)),
        None => Action::Meter(Recording::Record(reading)),
    }
}

fn owner(draft: &Draft, reader: &mut Reader<'_>, target: &MeterTarget<'_>, day: NaiveDate) -> Option<MeterOwner> {
    if draft.get(METER_OF) != OF_POSITION {
        return Some(MeterOwner::Spindle(target.spindle));
    }
    let position = target.shop.position_on(target.spindle, day).map(MeterOwner::Position);
    if position.is_none() {
        reader.wrong("date", format!("the spindle was not mounted on {}", words::date_long(day, target.today)));
    }
    position
}

/// Whether a spindle shows the meter of its position on a day.
#[must_use]
pub fn usual_owner(shop: &Shop, spindle: SpindleId, day: NaiveDate) -> &'static str {
    match meter_owner(shop, spindle, day) {
        MeterOwner::Position(_) => OF_POSITION,
        MeterOwner::Spindle(_) => OF_SPINDLE,
    }
}

/// A meter reading back in its fields.
#[must_use]
pub fn draft_of(reading: &MeterReading) -> Draft {
    let of = if matches!(reading.owner, MeterOwner::Position(_)) { OF_POSITION } else { OF_SPINDLE };
    let count = |figure: Option<f64>| figure.map(|figure| figure.to_string()).unwrap_or_default();
    let mut draft = Draft::default()
        .with("date", reading.at.to_string())
        .with(METER_OF, of)
        .with("run hours", count(reading.run_hours.map(RunHours::get)))
        .with("clamp cycles", count(reading.clamp_cycles.map(ClampCycles::get)));
    draft.set_tick(NEW_METER, reading.meter_replaced);
    draft
}

/// The spindle whose meter reading this is: its own, or the one that sat in the position.
#[must_use]
pub fn spindle_of(shop: &Shop, reading: &MeterReading) -> Option<SpindleId> {
    match reading.owner {
        MeterOwner::Spindle(spindle) => Some(spindle),
        MeterOwner::Position(position) => in_position(shop, position, reading.at.date),
    }
}

fn in_position(shop: &Shop, position: Position, day: NaiveDate) -> Option<SpindleId> {
    shop.spindle_in(position, day).or_else(|| {
        shop.mountings.iter().filter(|mounting| mounting.position == position).map(|mounting| mounting.spindle).next()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::ids::Row;
    use almanac_core::moment::{Moment, parse_iso_date};
    use std::sync::Arc;

    fn shop() -> Shop {
        let meter = MeterReading {
            owner: MeterOwner::Spindle(SpindleId::from_row(1)),
            at: Moment::day(parse_iso_date("2026-02-16").unwrap()),
            run_hours: RunHours::new(15_012.0),
            clamp_cycles: None,
            meter_replaced: false,
            recorded_on: None,
            replaced_on: None,
        };
        Shop { meters: Arc::new(vec![Row { id: MeterReadingId::from_row(1), value: meter }]), ..Shop::default() }
    }

    fn parse_it(draft: &Draft, correcting: Option<i64>) -> Result<MeterReading, FieldErrors> {
        let shop = shop();
        let target = MeterTarget {
            shop: &shop,
            spindle: SpindleId::from_row(1),
            correcting: correcting.map(MeterReadingId::from_row),
            today: parse_iso_date("2026-03-02").unwrap(),
        };
        parse(draft, &target)
    }

    #[test]
    fn a_meter_must_exceed_what_it_showed_unless_it_is_new() {
        let draft = Draft::default().with("date", "2026-03-02").with(METER_OF, OF_SPINDLE).with("run hours", "12");
        let errors = parse_it(&draft, None).unwrap_err();
        assert!(errors.of("run hours").unwrap().starts_with("12 must exceed 15,012, shown on 16 February"));
        let reading = parse_it(&draft.with(NEW_METER, "yes"), None).unwrap();
        assert!(reading.meter_replaced);
    }

    #[test]
    fn a_correction_is_not_held_against_the_record_it_replaces() {
        let draft = Draft::default().with("date", "2026-02-16").with(METER_OF, OF_SPINDLE).with("run hours", "14,012");
        assert!(parse_it(&draft, None).is_err());
        let reading = parse_it(&draft, Some(1)).unwrap();
        assert_eq!(reading.run_hours, RunHours::new(14_012.0));
        assert_eq!(reading.recorded_on, parse_iso_date("2026-03-02"));
    }

    #[test]
    fn nothing_typed_is_missing_not_wrong() {
        let errors = parse_it(&Draft::default().with("date", "2026-03-02"), None).unwrap_err();
        assert_eq!(errors.missing, ["run hours or clamp cycles"]);
    }
}
