//! The shop folder: the whole shop as CSV files, in one fixed order.
//!
//! Two shops with the same content give the same bytes, whatever their row ids are; so this also
//! decides whether two shops are equal ([`Shop::same_content`]). Records that are equal in all
//! fields (doubt aside) are one record, as the import has it, and are written once.

use super::cells::{self, Cells, OwnerName};
use super::csv_text::CsvText;
use super::whole_file::{WriteError, write_together};
use crate::ids::{MachineId, Row, SpindleId};
use crate::meter::MeterOwner;
use crate::reading::{Phase, Reading};
use crate::settings::ShopSettings;
use crate::shop::Shop;
use crate::tables::FolderTable;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

impl Shop {
    /// Whether two shops say the same in every table of the shop folder; row ids may differ.
    #[must_use]
    pub fn same_content(&self, other: &Self) -> bool {
        folder_files(self) == folder_files(other)
    }
}

/// All files of the shop folder with their bytes, header rows included, also those without rows.
#[must_use]
pub fn folder_files(shop: &Shop) -> Vec<(&'static str, Vec<u8>)> {
    FolderTable::ALL.into_iter().map(|table| (table.file_name(), file_of(table, rows(shop, table)))).collect()
}

/// Writes the shop folder: made if missing, other files in it stay. No file is ever half written.
///
/// # Errors
/// The folder or file that could not be written.
pub fn write_folder(shop: &Shop, folder: &Path) -> Result<(), WriteError> {
    fs::create_dir_all(folder).map_err(|cause| WriteError { path: folder.to_owned(), cause })?;
    let files: Vec<_> = folder_files(shop).into_iter().map(|(name, bytes)| (folder.join(name), bytes)).collect();
    write_together(&files)
}

fn file_of(table: FolderTable, rows: Vec<Cells>) -> Vec<u8> {
    let mut csv = CsvText::new();
    for column in table.columns() {
        csv.plain(column.name);
    }
    csv.end_row();
    for row in rows {
        for (column, cell) in table.columns().iter().zip(&row) {
            if column.text {
                csv.text(cell);
            } else {
                csv.plain(cell);
            }
        }
        csv.end_row();
    }
    csv.finish().into_bytes()
}

fn sorted(rows: impl Iterator<Item = Cells>) -> Vec<Cells> {
    let mut rows: Vec<Cells> = rows.collect();
    rows.sort();
    rows
}

fn sorted_once(rows: impl Iterator<Item = Cells>) -> Vec<Cells> {
    let mut rows = sorted(rows);
    rows.dedup();
    rows
}

fn rows(shop: &Shop, table: FolderTable) -> Vec<Cells> {
    let spindle = |id: SpindleId| shop.spindles.get(&id).map(|spindle| spindle.name.as_str()).unwrap_or_default();
    let machine = |id: MachineId| shop.machines.get(&id).map(|machine| machine.name.as_str()).unwrap_or_default();
    match table {
        FolderTable::Shop => {
            ShopSettings::KEYS.iter().map(|key| vec![(*key).to_owned(), shop.settings.text_of(key)]).collect()
        }
        FolderTable::Machines => sorted(shop.machines.values().map(cells::machine)),
        FolderTable::Spindles => sorted(shop.spindles.values().map(cells::spindle)),
        FolderTable::Limits => sorted(shop.interface_limits.iter().map(|row| cells::interface_limits(row))),
        FolderTable::Mountings => sorted(
            shop.mountings.iter().map(|row| cells::mounting(row, spindle(row.spindle), machine(row.position.machine))),
        ),
        FolderTable::Meters => sorted_once(shop.meters.iter().map(|row| {
            let owner = match row.owner {
                MeterOwner::Spindle(id) => OwnerName::Spindle(spindle(id)),
                MeterOwner::Position(at) => OwnerName::Position(machine(at.machine), at.number),
            };
            cells::meter(row, owner)
        })),
        FolderTable::Readings => reading_rows(shop),
        FolderTable::Services => sorted_once(shop.services.iter().map(|row| cells::service(row, spindle(row.spindle)))),
        FolderTable::Closures => sorted_once(shop.closures.iter().map(|row| cells::closure(row))),
        FolderTable::Gauges => sorted(shop.gauges.iter().map(|row| cells::gauge(row))),
        FolderTable::Crew => sorted(shop.technicians.iter().map(|row| cells::technician(row))),
        FolderTable::Downtime => {
            sorted_once(shop.downtimes.iter().map(|row| cells::downtime(row, |id| machine(id).to_owned())))
        }
        FolderTable::Parts => sorted(shop.parts.iter().map(|row| cells::part(row))),
        FolderTable::Deliveries => sorted_once(shop.deliveries.iter().map(|row| cells::delivery(row))),
        FolderTable::Kits => sorted(shop.kit_lines.iter().map(|row| cells::kit_line(row))),
        FolderTable::ServiceKinds => sorted(shop.service_kinds.iter().map(|row| cells::service_kind(row))),
        FolderTable::Orders => sorted(shop.orders.iter().map(|row| cells::order(row, spindle(row.spindle)))),
    }
}

/// Readings by spindle, moment and phase as the phases follow on a day, equal ones once.
fn reading_rows(shop: &Shop) -> Vec<Cells> {
    let name = |reading: &Reading| shop.spindles.get(&reading.spindle).map(|s| s.name.as_str()).unwrap_or_default();
    let phase = |reading: &Reading| Phase::ALL.iter().position(|phase| *phase == reading.phase);
    let mut rows: Vec<(&str, &Row<_, Reading>, Cells)> =
        shop.readings.iter().map(|row| (name(row), row, cells::reading(row, name(row)))).collect();
    rows.sort_by(|(name_a, a, cells_a), (name_b, b, cells_b)| {
        (name_a, a.at, phase(a), cells_a).cmp(&(name_b, b.at, phase(b), cells_b))
    });
    let mut seen = BTreeSet::new();
    rows.into_iter()
        .filter(|(name, row, _)| seen.insert(cells::reading_identity(row, name)))
        .map(|(_, _, cells)| cells)
        .collect()
}
