//! Mountings: taken in together, because whether two overlap is only known when all are there.

use super::register::{Landing, Place};
use super::registers::not_before;
use super::row::{Fault, RowReader};
use super::run::Importer;
use crate::ids::SpindleId;
use crate::machine::Position;
use crate::mounting::Mounting;
use chrono::NaiveDate;
use std::collections::BTreeMap;

type Key = (SpindleId, NaiveDate);

/// A row of `mountings.csv` until all are read.
#[derive(Debug)]
pub(super) struct PendingMounting {
    mounting: Mounting,
    place: Place,
    /// As the row has it.
    mounted_on: String,
}

impl Importer<'_> {
    pub(super) fn mounting(&mut self, row: &RowReader<'_>) -> Result<(), Fault> {
        let (spindle, installed) = self.spindle_named(row.at("spindle"))?;
        let (position, _) = self.position(row)?;
        let (from, to) = (row.at("mounted_on"), row.at("removed_on"));
        let mounted_on = from.needed(from.date()?)?;
        not_before(from, mounted_on, installed)?;
        let known = self.mountings.get(&(spindle, mounted_on)).and_then(|entry| entry.value.removed_on);
        let mut mounting = Mounting { spindle, position, mounted_on, removed_on: known };
        row.set("removed_on", &mut mounting.removed_on, |field| field.date())?;
        if mounting.removed_on.is_some_and(|removed| removed <= mounted_on) {
            return Err(to.fault(
                format!("does not lie after mounted_on, {mounted_on}"),
                "write the first day on which it is no longer there, or leave it empty",
            ));
        }
        let mounted_on = from.text.trim().to_owned();
        self.pending_mountings.push(PendingMounting { mounting, place: row.place, mounted_on });
        Ok(())
    }

    /// Takes the mountings in and refuses those that overlap others.
    pub(super) fn settle_mountings(&mut self) {
        let mut landed: BTreeMap<Key, PendingMounting> = BTreeMap::new();
        for pending in std::mem::take(&mut self.pending_mountings) {
            let key = (pending.mounting.spindle, pending.mounting.mounted_on);
            match self.mountings.put(key, pending.mounting, pending.place) {
                Ok(landing) => {
                    self.count(pending.place, landing, true);
                    if landing != Landing::Here {
                        landed.insert(key, pending);
                    }
                }
                Err(before) => {
                    let fault = pending.fault(
                        format!("stands with another content in row {} already", before.row),
                        "leave one of the two rows out".to_owned(),
                    );
                    self.refuse(pending.place, fault);
                }
            }
        }
        // taking a changed row back may bring an older overlap to light, hence until all is quiet
        loop {
            let clashes = self.clashes(&landed);
            if clashes.is_empty() {
                return;
            }
            for (key, other) in clashes {
                let Some(pending) = landed.remove(&key) else { continue };
                let fault = self.overlap_fault(&pending, &other);
                if let Some(landing) = self.mountings.take_back(&key) {
                    self.count(pending.place, landing, false);
                }
                self.refuse(pending.place, fault);
            }
        }
    }

    /// Rows of this run that overlap another mounting, with that one; of two rows the later one.
    fn clashes(&self, landed: &BTreeMap<Key, PendingMounting>) -> BTreeMap<Key, Mounting> {
        let mut by_spindle: BTreeMap<SpindleId, Vec<Mounting>> = BTreeMap::new();
        let mut by_position: BTreeMap<Position, Vec<Mounting>> = BTreeMap::new();
        for (_, entry) in self.mountings.iter() {
            by_spindle.entry(entry.value.spindle).or_default().push(entry.value);
            by_position.entry(entry.value.position).or_default().push(entry.value);
        }
        let mut clashes = BTreeMap::new();
        let place = |m: &Mounting| landed.get(&(m.spindle, m.mounted_on)).map(|pending| pending.place);
        for mut stays in by_spindle.into_values().chain(by_position.into_values()) {
            stays.sort_by_key(|stay| (stay.mounted_on, stay.spindle));
            let mut latest: Option<Mounting> = None;
            for stay in stays {
                let Some(before) = latest.filter(|before| before.overlaps(&stay)) else {
                    latest = Some(stay);
                    continue;
                };
                // only rows of this run can be refused, of two the one that stands later
                if place(&stay) >= place(&before) && place(&stay).is_some() {
                    clashes.entry((stay.spindle, stay.mounted_on)).or_insert(before);
                } else if place(&before).is_some() {
                    clashes.entry((before.spindle, before.mounted_on)).or_insert(stay);
                    latest = Some(stay);
                }
            }
        }
        clashes
    }

    fn overlap_fault(&self, pending: &PendingMounting, other: &Mounting) -> Fault {
        let stay = |mounting: &Mounting| {
            let spindle = self.spindles.iter().find(|(_, entry)| entry.id == mounting.spindle);
            let machine = self.machines.iter().find(|(_, entry)| entry.id == mounting.position.machine);
            let end = mounting.removed_on.map(|day| format!(" to {day}")).unwrap_or_default();
            format!(
                "{} in {} from {}{end}",
                spindle.map(|(name, _)| name.as_str()).unwrap_or_default(),
                machine.map(|(_, entry)| entry.value.position_label(mounting.position.number)).unwrap_or_default(),
                mounting.mounted_on,
            )
        };
        let given = self.mountings.get(&(other.spindle, other.mounted_on)).and_then(|entry| entry.given);
        let row = given.map(|place| format!(" (row {})", place.row)).unwrap_or_default();
        let why = format!("{} overlaps {}{row}", stay(&pending.mounting), stay(other));
        pending.fault(why, "end the earlier stay with removed_on, or correct the days or the position".to_owned())
    }
}

impl PendingMounting {
    fn fault(&self, why: String, mend: String) -> Fault {
        Fault { column: "mounted_on".to_owned(), value: self.mounted_on.clone(), why, mend, waits_for: None }
    }
}
