//! One run of an import: the tables as they grow, and the order in which files are read.

use super::ImportOutcome;
use super::doubts;
use super::files::Unusable;
use super::files::{self, Opened};
use super::listed_orders::PendingOrder;
use super::mountings::PendingMounting;
use super::register::{Landing, Place, Records, Register};
use super::report::{FileReport, ImportLimits, ImportReport, Refused, with_commas};
use super::row::{Fault, Layout, RowReader};
use super::source::{ImportError, Source};
use super::text::Record;
use crate::actions::ImportBatch;
use crate::closure::Closure;
use crate::crew::Technician;
use crate::downtime::Downtime;
use crate::forecast::{Cancelled, Progress};
use crate::gauge::Gauge;
use crate::ids::{
    ClosureId, DeliveryId, DowntimeId, GaugeId, InterfaceLimitsId, KitLineId, MachineId, MeterReadingId, MountingId,
    OrderId, PartId, ReadingId, ServiceId, ServiceKindId, SpindleId, TechnicianId,
};
use crate::interface::Interface;
use crate::limits::InterfaceLimits;
use crate::machine::Machine;
use crate::meter::MeterReading;
use crate::mounting::Mounting;
use crate::order::Order;
use crate::part::{Delivery, KitLine, Part, ServiceKind};
use crate::reading::Reading;
use crate::service::{Kind, Service};
use crate::settings::ShopSettings;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::tables::FolderTable;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// Rows between two looks at whether to go on.
const ROWS_PER_STEP: usize = 256;

/// For so many refused rows the nearest name is looked for: it costs time.
const MENDED: usize = 10_000;

/// A run.
pub(super) struct Importer<'a> {
    pub(super) shop: &'a Shop,
    pub(super) report: ImportReport,
    pub(super) settings: ShopSettings,
    pub(super) settings_given: BTreeMap<String, Place>,
    pub(super) machines: Register<String, MachineId, Machine>,
    pub(super) spindles: Register<String, SpindleId, Spindle>,
    pub(super) limits: Register<Option<Interface>, InterfaceLimitsId, InterfaceLimits>,
    pub(super) mountings: Register<(SpindleId, NaiveDate), MountingId, Mounting>,
    pub(super) pending_mountings: Vec<PendingMounting>,
    /// Rows of work-order lists, which are judged together.
    pub(super) pending_orders: Vec<PendingOrder>,
    pub(super) gauges: Register<String, GaugeId, Gauge>,
    pub(super) crew: Register<String, TechnicianId, Technician>,
    pub(super) parts: Register<String, PartId, Part>,
    pub(super) kits: Register<(Interface, Kind, String), KitLineId, KitLine>,
    pub(super) kinds: Register<(Interface, Kind), ServiceKindId, ServiceKind>,
    pub(super) orders: Register<String, OrderId, Order>,
    pub(super) meters: Records<MeterReadingId, MeterReading>,
    pub(super) readings: Records<ReadingId, Reading>,
    /// New readings whose doubt is settled: they are not asked about.
    pub(super) settled: BTreeSet<ReadingId>,
    pub(super) services: Records<ServiceId, Service>,
    pub(super) closures: Records<ClosureId, Closure>,
    pub(super) downtimes: Records<DowntimeId, Downtime>,
    pub(super) deliveries: Records<DeliveryId, Delivery>,
    /// Names of machines and spindles whose own rows were refused, for the mend of rows after them.
    pub(super) refused_names: BTreeSet<(FolderTable, String)>,
    /// Files that could not be read, or not to their end, by what they hold.
    pub(super) unread: BTreeMap<FolderTable, String>,
    /// The present of the machine, where the shop names none.
    pub(super) today: NaiveDate,
    /// Rows of work-order lists that have no order yet, by their file.
    pub(super) to_book: BTreeMap<usize, usize>,
    refused: Vec<(Place, Refused)>,
    /// Rows of a file that wait for an unread one: the first one, and how many.
    waiting: BTreeMap<(usize, FolderTable), (Place, usize)>,
    limits_of_report: ImportLimits,
}

/// A register with the rows of a table of the shop.
macro_rules! register {
    ($rows:expr, $id:ident, |$row:ident| $key:expr) => {
        Register::of($rows.iter().map(|$row| ($key, $row.id, $row.value.clone())), $id::row, $id::from_row)
    };
}

impl<'a> Importer<'a> {
    pub(super) fn new(shop: &'a Shop, limits_of_report: ImportLimits) -> Self {
        let machines = shop.machines.iter().map(|(id, machine)| (machine.name.clone(), *id, machine.clone()));
        let spindles = shop.spindles.iter().map(|(id, spindle)| (spindle.name.clone(), *id, spindle.clone()));
        Self {
            shop,
            report: ImportReport::default(),
            settings: (*shop.settings).clone(),
            settings_given: BTreeMap::new(),
            machines: Register::of(machines, MachineId::row, MachineId::from_row),
            spindles: Register::of(spindles, SpindleId::row, SpindleId::from_row),
            limits: register!(shop.interface_limits, InterfaceLimitsId, |row| row.interface.clone()),
            mountings: register!(shop.mountings, MountingId, |row| (row.spindle, row.mounted_on)),
            pending_mountings: Vec::new(),
            pending_orders: Vec::new(),
            gauges: register!(shop.gauges, GaugeId, |row| row.name.clone()),
            crew: register!(shop.technicians, TechnicianId, |row| row.name.clone()),
            parts: register!(shop.parts, PartId, |row| row.name.clone()),
            kits: register!(shop.kit_lines, KitLineId, |row| (row.interface.clone(), row.kind, row.part.clone())),
            kinds: register!(shop.service_kinds, ServiceKindId, |row| (row.interface.clone(), row.kind)),
            orders: register!(shop.orders, OrderId, |row| row.name.clone()),
            meters: Records::after(shop.meters.iter().map(|row| row.id.row()), MeterReadingId::from_row),
            readings: Records::after(shop.readings.iter().map(|row| row.id.row()), ReadingId::from_row),
            settled: BTreeSet::new(),
            services: Records::after(shop.services.iter().map(|row| row.id.row()), ServiceId::from_row),
            closures: Records::after(shop.closures.iter().map(|row| row.id.row()), ClosureId::from_row),
            downtimes: Records::after(shop.downtimes.iter().map(|row| row.id.row()), DowntimeId::from_row),
            deliveries: Records::after(shop.deliveries.iter().map(|row| row.id.row()), DeliveryId::from_row),
            refused_names: BTreeSet::new(),
            unread: BTreeMap::new(),
            today: NaiveDate::MIN,
            to_book: BTreeMap::new(),
            refused: Vec::new(),
            waiting: BTreeMap::new(),
            limits_of_report,
        }
    }

    /// Reads all sources, tables in their order whatever the order of the files.
    pub(super) fn run(
        mut self,
        sources: &[Source],
        today: NaiveDate,
        progress: &dyn Progress,
    ) -> Result<ImportOutcome, ImportError> {
        let total: u64 = sources.iter().map(Source::size).sum();
        self.today = today;
        self.report.files = sources
            .iter()
            .map(|source| FileReport { file: source.name().to_owned(), ..FileReport::default() })
            .collect();
        // lists come last: their rows change orders that another file may bring
        let mut opened: Vec<(FolderTable, bool, usize)> = Vec::new();
        for (file, source) in sources.iter().enumerate() {
            match files::open(source)? {
                Ok(known) => opened.push((known.table, known.is_list(), file)),
                Err(Unusable::Faulty(fault, row)) => {
                    if let Some(table) = source.known_table() {
                        self.unread.insert(table, source.name().to_owned());
                    }
                    self.refuse(Place { file, row }, *fault);
                }
                Err(Unusable::OwnList(list)) => {
                    let text = format!("this is {list}: nothing in it is for a shop folder; it was left out");
                    self.report.note(source.name(), text);
                }
            }
        }
        opened.sort();
        let mut done = 0;
        for (index, (table, _, file)) in opened.iter().enumerate() {
            if let Some(source) = sources.get(*file) {
                self.read_file(source, *file, &|taken| {
                    let here = usize::try_from(done + taken).unwrap_or(usize::MAX);
                    progress.step(here, usize::try_from(total).unwrap_or(usize::MAX))
                })?;
                done += source.size();
            }
            let last_of_table = opened.get(index + 1).is_none_or(|(next, ..)| next != table);
            if last_of_table && *table == FolderTable::Mountings {
                self.settle_mountings();
            }
        }
        self.settle_orders();
        let all = usize::try_from(total).unwrap_or(usize::MAX);
        self.finish(sources, today, &|| progress.step(all, all))
    }

    fn read_file(&mut self, source: &Source, file: usize, go_on: &dyn Fn(u64) -> bool) -> Result<(), ImportError> {
        let Ok(Opened { mut reader, layout, columns, table }) = files::open(source)? else {
            return Ok(());
        };
        if layout.is_list {
            self.report.note(source.name(), super::listed_orders::WHAT_IT_IS.to_owned());
        }
        if let Some(report) = self.report.files.get_mut(file) {
            report.table = Some(table);
            report.columns = columns;
        }
        for name in files::left_out(&layout) {
            self.report.note(source.name(), name);
        }
        let mut record = Record::default();
        let mut blank_rows = 0_usize;
        for count in 0_usize.. {
            if count.is_multiple_of(ROWS_PER_STEP) && !go_on(reader.taken.min(source.size())) {
                return Err(Cancelled.into());
            }
            match reader.read(&mut record) {
                Ok(false) => break,
                Ok(true) if record.is_blank() => blank_rows += usize::from(record.len() > 1),
                Ok(true) => self.take_row(&layout, &record, file),
                Err(stop) => {
                    let (fault, row) = files::fault_of(source.system_failure(stop)?, record.line);
                    self.unread.insert(table, source.name().to_owned());
                    self.refuse(Place { file, row }, fault);
                    break;
                }
            }
        }
        if blank_rows > 0 {
            self.report.note(source.name(), format!("{blank_rows} rows without any value were left out"));
        }
        if let Some(rows) = self.to_book.get(&file) {
            self.report.note(source.name(), super::listed_orders::left_to_book(*rows));
        }
        Ok(())
    }

    fn take_row(&mut self, layout: &Layout, record: &Record, file: usize) {
        let place = Place { file, row: record.line };
        let landing =
            RowReader::new(layout, record, place, self.refused.len() < MENDED.min(self.limits_of_report.listed))
                .and_then(|row| {
                    if layout.is_list {
                        self.listed_order(&row).map(|()| None)
                    } else {
                        self.read_row(layout.table, &row)
                    }
                });
        match landing {
            Ok(Some(landing)) => self.count(place, landing, true),
            Ok(None) => {}
            Err(fault) => self.refuse(place, fault),
        }
    }

    /// What becomes of a row; `None` where that is only known after the whole table.
    fn read_row(&mut self, table: FolderTable, row: &RowReader<'_>) -> Result<Option<Landing>, Fault> {
        let landing = match table {
            FolderTable::Shop => self.setting(row),
            FolderTable::Machines => self.machine(row),
            FolderTable::Spindles => self.spindle(row),
            FolderTable::Limits => self.interface_limits(row),
            FolderTable::Mountings => return self.mounting(row).map(|()| None),
            FolderTable::Gauges => self.gauge(row),
            FolderTable::Crew => self.technician(row),
            FolderTable::Parts => self.part(row),
            FolderTable::Deliveries => self.delivery(row),
            FolderTable::Kits => self.kit_line(row),
            FolderTable::ServiceKinds => self.service_kind(row),
            FolderTable::Closures => self.closure(row),
            FolderTable::Downtime => self.downtime(row),
            FolderTable::Meters => self.meter(row),
            FolderTable::Readings => self.reading(row),
            FolderTable::Services => self.service(row),
            FolderTable::Orders => self.order(row),
        };
        landing.map(Some)
    }

    /// Counts a row in its file.
    pub(super) fn count(&mut self, place: Place, landing: Landing, up: bool) {
        if let Some(file) = self.report.files.get_mut(place.file) {
            let counter = match landing {
                Landing::New => &mut file.new,
                Landing::Changed => &mut file.changed,
                Landing::Here => &mut file.already_here,
            };
            *counter = if up { *counter + 1 } else { counter.saturating_sub(1) };
        }
    }

    /// Notes a refused row; only the first ones are listed, and those that wait for a file in one.
    pub(super) fn refuse(&mut self, place: Place, fault: Fault) {
        self.report.refused_count += 1;
        if let Some(file) = self.report.files.get_mut(place.file) {
            file.refused += 1;
            if let Some(table) = fault.waits_for {
                self.waiting.entry((place.file, table)).or_insert((place, 0)).1 += 1;
            } else if self.refused.len() < self.limits_of_report.listed {
                let Fault { column, value, why, mend, .. } = fault;
                let value = shortened(&value);
                let refused = Refused { file: file.file.clone(), row: place.row, column, value, why, mend, rows: 1 };
                self.refused.push((place, refused));
            }
        }
    }

    /// One refused row for all rows of a file that wait for another one.
    fn tell_waiting(&mut self) {
        for ((file, table), (place, rows)) in std::mem::take(&mut self.waiting) {
            let (Some(report), Some(unread)) = (self.report.files.get(file), self.unread.get(&table)) else { continue };
            let wait = if rows == 1 { "1 row waits".to_owned() } else { format!("{} rows wait", with_commas(rows)) };
            let refused = Refused {
                file: report.file.clone(),
                row: place.row,
                column: String::new(),
                value: String::new(),
                why: format!("{wait} for {unread}, which is refused"),
                mend: format!("mend {unread} first"),
                rows,
            };
            self.refused.push((place, refused));
        }
    }

    /// What the journal says it was: the file that brings rows, or how many do.
    fn source_words(&self, sources: &[Source]) -> String {
        let brings: Vec<usize> = (0..self.report.files.len())
            .filter(|file| self.report.files.get(*file).is_some_and(|file| file.new + file.changed > 0))
            .collect();
        match brings[..] {
            [] => String::new(),
            [one] => sources.get(one).map(|source| source.file_name().to_owned()).unwrap_or_default(),
            [..] => format!("{} files", brings.len()),
        }
    }

    /// The rows of all registers that are new or changed so far.
    pub(super) fn registers_batch(&self) -> ImportBatch {
        ImportBatch {
            settings: (self.settings != *self.shop.settings).then(|| self.settings.clone()),
            machines: self.machines.table(),
            spindles: self.spindles.table(),
            interface_limits: self.limits.table(),
            mountings: self.mountings.table(),
            gauges: self.gauges.table(),
            technicians: self.crew.table(),
            parts: self.parts.table(),
            kit_lines: self.kits.table(),
            service_kinds: self.kinds.table(),
            orders: self.orders.table(),
            ..ImportBatch::default()
        }
    }

    fn finish(
        mut self,
        sources: &[Source],
        today: NaiveDate,
        go_on: &dyn Fn() -> bool,
    ) -> Result<ImportOutcome, ImportError> {
        self.tell_waiting();
        let registers = ImportBatch {
            source: self.source_words(sources),
            rows: self.report.new_rows() + self.report.changed(),
            ..self.registers_batch()
        };
        let with_registers = registers.apply_to(self.shop);
        let present = self.settings.as_of.unwrap_or(today);
        doubts::question(&mut self, &with_registers, present, go_on)?;
        let mut batch = registers;
        batch.meters.added = self.meters.added;
        batch.readings.added = self.readings.added;
        batch.services.added = self.services.added;
        batch.closures.added = self.closures.added;
        batch.downtimes.added = self.downtimes.added;
        batch.deliveries.added = self.deliveries.added;
        self.refused.sort_by_key(|(place, _)| *place);
        self.report.refused = self.refused.into_iter().map(|(_, refused)| refused).collect();
        self.report.notes.sort();
        Ok(ImportOutcome { batch, report: self.report })
    }

    /// How many questions are listed.
    pub(super) const fn listed(&self) -> usize {
        self.limits_of_report.listed
    }
}

/// The text, cut where it is too long to be read in a report.
fn shortened(text: &str) -> String {
    const LONGEST: usize = 80;
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{} ...", text.get(..end).unwrap_or_default()),
        None => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_values_are_cut_between_letters() {
        assert_eq!(shortened("kurz"), "kurz");
        assert_eq!(shortened(&"ü".repeat(100)), format!("{} ...", "ü".repeat(80)));
    }
}
