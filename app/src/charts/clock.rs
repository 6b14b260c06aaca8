//! What a chart is drawn over: the date, run hours or clamp cycles.

use super::dates::day_of;
use almanac_core::exposure::{ExposureBook, SpindleExposure, Track};
use almanac_core::ids::SpindleId;
use std::sync::Arc;

/// What runs along the chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Axis {
    /// The calendar.
    #[default]
    Date,
    /// The spindle's own run hours.
    RunHours,
    /// The spindle's own clamp cycles.
    ClampCycles,
}

impl Axis {
    /// All, in the order in which a key goes through them.
    pub const ALL: [Self; 3] = [Self::Date, Self::RunHours, Self::ClampCycles];

    /// The word on the screen.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Date => "date",
            Self::RunHours => "run hours",
            Self::ClampCycles => "clamp cycles",
        }
    }

    /// The one after it.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Date => Self::RunHours,
            Self::RunHours => Self::ClampCycles,
            Self::ClampCycles => Self::Date,
        }
    }
}

/// One spindle's run hours and clamp cycles by day.
#[derive(Debug, Clone)]
pub struct Clock {
    book: Arc<ExposureBook>,
    spindle: SpindleId,
}

impl Clock {
    /// The clock of a spindle.
    #[must_use]
    pub const fn new(book: Arc<ExposureBook>, spindle: SpindleId) -> Self {
        Self { book, spindle }
    }

    fn exposure(&self) -> Option<&SpindleExposure> {
        self.book.spindles.get(&self.spindle)
    }

    /// What a meter counts for this spindle on that axis; `None` for dates and without a meter.
    #[must_use]
    pub fn track(&self, axis: Axis) -> Option<&Track> {
        match axis {
            Axis::Date => None,
            Axis::RunHours => self.exposure()?.hours.as_ref(),
            Axis::ClampCycles => self.exposure()?.cycles.as_ref(),
        }
    }

    /// The calendar by which the tracks run.
    #[must_use]
    pub fn calendar(&self) -> &almanac_core::calendar::WorkingCalendar {
        &self.book.calendar
    }

    /// Where a day (a number of [`super::dates`]) stands on an axis; `None` without a meter.
    #[must_use]
    pub fn at(&self, axis: Axis, day: f64) -> Option<f64> {
        if axis == Axis::Date {
            return Some(day);
        }
        let track = self.track(axis)?;
        let date = day_of(day)?;
        let at_start = track.at(&self.book.calendar, date);
        let at_end = date.succ_opt().map_or(at_start, |next| track.at(&self.book.calendar, next));
        Some(at_start + (at_end - at_start) * day.rem_euclid(1.0))
    }

    /// Whether anything can be drawn over that axis.
    #[must_use]
    pub fn knows(&self, axis: Axis) -> bool {
        axis == Axis::Date || self.track(axis).is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::super::dates::day_number;
    use super::*;
    use almanac_core::ids::{MachineId, MeterReadingId, MountingId, Row};
    use almanac_core::interface::Interface;
    use almanac_core::machine::{Machine, Position};
    use almanac_core::meter::{MeterOwner, MeterReading};
    use almanac_core::moment::Moment;
    use almanac_core::mounting::Mounting;
    use almanac_core::shop::Shop;
    use almanac_core::spindle::Spindle;
    use almanac_core::units::{Kilonewtons, RunHours};

    #[test]
    fn a_clock_runs_with_the_meter_and_knows_what_it_has() {
        let spindle = SpindleId::from_row(1);
        let position = Position { machine: MachineId::from_row(1), number: 1 };
        let day = |text: &str| almanac_core::moment::parse_iso_date(text).unwrap();
        let mut shop = Shop::default();
        Arc::make_mut(&mut shop.machines).insert(position.machine, Machine::named("R-04", "Router hall"));
        let interface = Interface::parse("HSK-A63").unwrap();
        let nominal = Kilonewtons::new(18.0).unwrap();
        Arc::make_mut(&mut shop.spindles).insert(spindle, Spindle::named("S-0117", interface, nominal));
        let mounting = Mounting { spindle, position, mounted_on: day("2026-01-05"), removed_on: None };
        Arc::make_mut(&mut shop.mountings).push(Row { id: MountingId::from_row(1), value: mounting });
        for (id, text, hours) in [(1, "2026-01-05", 100.0), (2, "2026-02-02", 300.0)] {
            let value = MeterReading {
                owner: MeterOwner::Position(position),
                at: Moment::day(day(text)),
                run_hours: RunHours::new(hours),
                clamp_cycles: None,
                meter_replaced: false,
                recorded_on: None,
                replaced_on: None,
            };
            Arc::make_mut(&mut shop.meters).push(Row { id: MeterReadingId::from_row(id), value });
        }
        let book = ExposureBook::of(&shop.sorted(), day("2026-03-02"), 365);
        let clock = Clock::new(Arc::new(book), spindle);
        assert!(clock.knows(Axis::RunHours) && !clock.knows(Axis::ClampCycles));
        let hours = |text: &str| clock.at(Axis::RunHours, day_number(day(text))).unwrap();
        // 200 h on 20 working days are 10 h a day
        assert!((hours("2026-01-06") - hours("2026-01-05") - 10.0).abs() < 1e-6);
        assert!((hours("2026-02-03") - hours("2026-02-02") - 10.0).abs() < 1e-6);
        assert_eq!(clock.at(Axis::ClampCycles, 20_000.0), None);
        assert_eq!(clock.at(Axis::Date, 20_000.0), Some(20_000.0));
    }

    #[test]
    fn the_key_goes_round() {
        assert_eq!(Axis::ALL.map(Axis::next), [Axis::RunHours, Axis::ClampCycles, Axis::Date]);
    }
}
