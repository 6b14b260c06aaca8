//! The rows of a shop, spindle by spindle and meter by meter: each table is gone through once.
//!
//! Tables are sorted by spindle or owner and then by moment ([`Shop::sorted`]), so the first row of
//! each is the oldest.

use crate::ids::{MeterReadingId, MountingId, ReadingId, Row, SpindleId};
use crate::machine::Position;
use crate::meter::{MeterOwner, MeterReading};
use crate::mounting::Mounting;
use crate::reading::Reading;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::BTreeSet;

pub(super) type MeterRow = Row<MeterReadingId, MeterReading>;
pub(super) type ReadingRow = Row<ReadingId, Reading>;

/// The rows of one spindle, oldest first.
#[derive(Debug, Clone, Copy)]
pub(super) struct OwnRows<'s> {
    pub(super) spindle: SpindleId,
    pub(super) mountings: &'s [Row<MountingId, Mounting>],
    /// Of the meter that travels with it.
    pub(super) meters: &'s [MeterRow],
    pub(super) readings: &'s [ReadingRow],
    /// First day in its history: mounting, meter, reading or service.
    pub(super) first_record: Option<NaiveDate>,
}

impl<'s> OwnRows<'s> {
    fn of(shop: &'s Shop, spindle: SpindleId) -> Self {
        let (mountings, readings) = (shop.mountings_of(spindle), shop.readings_of(spindle));
        let meters = shop.meters_of(MeterOwner::Spindle(spindle));
        let days = [
            mountings.first().map(|row| row.mounted_on),
            meters.first().map(|row| row.at.date),
            readings.first().map(|row| row.at.date),
            shop.services_of(spindle).first().map(|row| row.at.date),
        ];
        Self { spindle, mountings, meters, readings, first_record: days.into_iter().flatten().min() }
    }
}

/// The rows that tell the exposure of some spindles.
#[derive(Debug)]
pub(super) struct Records<'s> {
    /// Of these spindles and of those who sat in their places, by spindle.
    pub(super) spindles: Vec<OwnRows<'s>>,
    /// What the meters of positions showed.
    pub(super) positions: Vec<(Position, &'s [MeterRow])>,
    /// Readings of the force that say what a meter showed, by spindle.
    pub(super) with_meter: Vec<&'s ReadingRow>,
    /// The one spindle whose meters are asked for; `None`: those of all.
    pub(super) only: Option<SpindleId>,
}

impl<'s> Records<'s> {
    /// Of all spindles of a shop, with the first day of all that is on record.
    pub(super) fn of_all(shop: &'s Shop) -> (Self, Option<NaiveDate>) {
        let mut with_meter = Vec::new();
        // seen as they are cut, while they are at hand
        let seen = |rows: &'s [ReadingRow]| with_meter.extend(rows.iter().filter(|row| shows_meter(row)));
        let mut mountings = Chunks::of(&shop.mountings, |row| row.spindle, |row| row.mounted_on, |_| {});
        let mut meters = Chunks::of(&shop.meters, |row| row.owner, |row| row.at.date, |_| {});
        let mut readings = Chunks::of(&shop.readings, |row| row.spindle, |row| row.at.date, seen);
        let mut services = Chunks::of(&shop.services, |row| row.spindle, |row| row.at.date, |_| {});
        let spindles = shop.spindles.keys().map(|id| {
            let (mounted, mountings) = mountings.next_of(*id);
            let (metered, meters) = meters.next_of(MeterOwner::Spindle(*id));
            let (read, readings) = readings.next_of(*id);
            let (serviced, _) = services.next_of(*id);
            let first_record = [mounted, metered, read, serviced].into_iter().flatten().min();
            OwnRows { spindle: *id, mountings, meters, readings, first_record }
        });
        let spindles = spindles.collect();
        let installed = shop.spindles.values().filter_map(|spindle| spindle.installed_on).min();
        let earliest = [mountings.earliest(), meters.earliest(), readings.earliest(), services.earliest(), installed];
        let at_positions = meters.chunks.iter().filter_map(|chunk| Some((position_of(chunk.key)?, chunk.rows)));
        let positions = at_positions.collect();
        (Self { spindles, positions, with_meter, only: None }, earliest.into_iter().flatten().min())
    }

    /// Of one spindle: only the rows of its places and of those who sat there.
    pub(super) fn of_one(shop: &'s Shop, spindle: SpindleId) -> Self {
        let places: BTreeSet<Position> = shop.mountings_of(spindle).iter().map(|row| row.position).collect();
        let there = shop.mountings.iter().filter(|row| places.contains(&row.position)).map(|row| row.spindle);
        let sitters: BTreeSet<SpindleId> = there.chain([spindle]).collect();
        let meters_at = |position| shop.meters_of(MeterOwner::Position(position));
        let spindles: Vec<OwnRows<'s>> = sitters.into_iter().map(|id| OwnRows::of(shop, id)).collect();
        Self {
            with_meter: spindles.iter().flat_map(|rows| rows.readings).filter(|row| shows_meter(row)).collect(),
            spindles,
            positions: places
                .into_iter()
                .map(|position| (position, meters_at(position)))
                .filter(|(_, rows)| !rows.is_empty())
                .collect(),
            only: Some(spindle),
        }
    }

    /// The first day on record of one of its spindles, or of a meter that counts for it.
    pub(super) fn earliest_of(&self, spindle: SpindleId, shop: &Shop) -> Option<NaiveDate> {
        let own = self.spindles.iter().find(|rows| rows.spindle == spindle).and_then(|rows| rows.first_record);
        let installed = shop.spindles.get(&spindle).and_then(|spindle| spindle.installed_on);
        let at_places = self.positions.iter().filter_map(|(_, rows)| rows.first()).map(|row| row.at.date);
        at_places.chain(own).chain(installed).min()
    }
}

fn shows_meter(reading: &Reading) -> bool {
    reading.run_hours.is_some() || reading.clamp_cycles.is_some()
}

fn position_of(owner: MeterOwner) -> Option<Position> {
    match owner {
        MeterOwner::Position(position) => Some(position),
        MeterOwner::Spindle(_) => None,
    }
}

/// A sorted table cut where its key changes.
struct Chunks<'s, K, T> {
    chunks: Vec<Chunk<'s, K, T>>,
    /// Where the next key is looked for.
    at: usize,
}

/// Its rows of one key.
struct Chunk<'s, K, T> {
    key: K,
    /// Day of the first one.
    first: NaiveDate,
    rows: &'s [T],
}

impl<'s, K: Ord + Copy, T> Chunks<'s, K, T> {
    /// Cuts a table; every chunk is shown to `see` as it is cut.
    fn of(sorted: &'s [T], key: impl Fn(&T) -> K, day: impl Fn(&T) -> NaiveDate, mut see: impl FnMut(&'s [T])) -> Self {
        let mut chunks = Vec::new();
        for rows in sorted.chunk_by(|a, b| key(a) == key(b)) {
            see(rows);
            chunks.extend(rows.first().map(|row| Chunk { key: key(row), first: day(row), rows }));
        }
        Self { chunks, at: 0 }
    }

    /// The rows of a key, with the day of the first one; keys are asked for in ascending order.
    fn next_of(&mut self, wanted: K) -> (Option<NaiveDate>, &'s [T]) {
        let rest = self.chunks.get(self.at..).unwrap_or_default();
        self.at += rest.iter().position(|chunk| chunk.key >= wanted).unwrap_or(rest.len());
        match self.chunks.get(self.at) {
            Some(chunk) if chunk.key == wanted => (Some(chunk.first), chunk.rows),
            _ => (None, &[]),
        }
    }

    /// The first day of all rows.
    fn earliest(&self) -> Option<NaiveDate> {
        self.chunks.iter().map(|chunk| chunk.first).min()
    }
}
