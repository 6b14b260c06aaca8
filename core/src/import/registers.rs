//! Rows of the registers: settings, machines, spindles, limits.

use super::names::nearest;
use super::register::{Entry, Landing, Place};
use super::row::{Fault, Field, Range, RowReader};
use super::run::Importer;
use crate::ids::{MachineId, SpindleId};
use crate::limits::{InterfaceLimits, LimitValues};
use crate::machine::Machine;
use crate::meter::MeterOwner;
use crate::service::Kind;
use crate::settings::{InvalidSetting, ShopSettings};
use crate::spindle::{NotBefore, Spindle, check_limits};
use crate::tables::FolderTable;
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Money, Percent, Quantity, RunHours, Unit};
use chrono::NaiveDate;

/// How many names of refused rows are kept for the mend of later rows.
const REFUSED_NAMES: usize = 10_000;

pub(super) fn given_twice(field: Field<'_>, before: Place) -> Fault {
    field.fault(format!("stands with another content in row {} already", before.row), "leave one of the two rows out")
}

pub(super) fn kind(field: Field<'_>) -> Result<Kind, Fault> {
    let kind = field.word(Kind::from_key, "a kind of service", &["minor", "major"])?;
    field.needed(kind)
}

pub(super) fn quantity(field: Field<'_>) -> Result<Option<Quantity>, Fault> {
    field.word(Quantity::from_key, "a quantity", &["clamp_force", "setting_dimension"])
}

pub(super) fn unit(field: Field<'_>) -> Result<Option<Unit>, Fault> {
    field.word(Unit::from_symbol, "a unit", &["kN", "lbf", "N", "mm", "in"])
}

/// A unit that measures something else than the quantity says.
pub(super) fn check_unit(field: Field<'_>, unit: Unit, quantity: Quantity) -> Result<(), Fault> {
    if unit.quantity() == quantity {
        return Ok(());
    }
    let mend = match quantity {
        Quantity::ClampForce => "write kN, lbf or N, or setting_dimension as quantity",
        Quantity::SettingDimension => "write mm or in, or clamp_force as quantity",
    };
    Err(field.fault(format!("does not measure a {}", quantity.label()), mend))
}

fn limit_values(row: &RowReader<'_>, values: &mut LimitValues) -> Result<(), Fault> {
    row.set("service_limit_pct", &mut values.service_limit, |f| f.quantity(Percent::new, Range::AboveZero))?;
    row.set("stop_limit_pct", &mut values.stop_limit, |f| f.quantity(Percent::new, Range::AboveZero))?;
    row.set("setting_dimension_mm", &mut values.setting_dimension, |f| f.quantity(Millimetres::new, Range::AboveZero))?;
    row.set("setting_tolerance_mm", &mut values.setting_tolerance, |f| f.quantity(Millimetres::new, Range::AboveZero))?;
    row.set("service_every_months", &mut values.every_months, |f| f.whole(1))?;
    row.set("service_every_hours", &mut values.every_hours, |f| f.quantity(RunHours::new, Range::AboveZero))?;
    row.set("service_every_cycles", &mut values.every_cycles, |f| f.quantity(ClampCycles::new, Range::AboveZero))?;
    row.set("limit_source", &mut values.source, Field::name)?;
    for (column, share) in [("service_limit_pct", values.service_limit), ("stop_limit_pct", values.stop_limit)] {
        if share.is_some_and(|share| share.get() > 100.0) {
            return Err(row.at(column).fault("is more than 100 % of nominal", "write a share from above 0 to 100"));
        }
    }
    check_limits(values).map_err(|wrong| {
        row.at("stop_limit_pct").fault(wrong.to_string(), "write a stop limit below the service limit")
    })
}

impl Importer<'_> {
    pub(super) fn setting(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let (key_field, value_field) = (row.at("key"), row.at("value"));
        let key = key_field.needed_name()?.to_ascii_lowercase();
        if !ShopSettings::KEYS.contains(&key.as_str()) {
            // a slip of the finger is refused; anything else may come from a newer version
            if let Some(near) = nearest(&key, ShopSettings::KEYS.into_iter()) {
                return Err(key_field.fault("is not a setting of a shop", format!("did you mean {near}?")));
            }
            let file = self.report.files.get(row.place.file).map(|file| file.file.clone()).unwrap_or_default();
            self.report.note(&file, format!("setting '{key}' in row {} is not known and was left out", row.place.row));
            return Ok(Landing::Here);
        }
        let mut settings = self.settings.clone();
        settings.set(&key, value_field.text).map_err(|wrong| match wrong {
            InvalidSetting::Value { key, expected, .. } => {
                value_field.fault(format!("does not fit {key}"), format!("write {expected}"))
            }
            InvalidSetting::UnknownKey(_) => key_field.fault("is not a setting of a shop", "leave the row out"),
        })?;
        let changes = settings != self.settings;
        match self.settings_given.get(&key) {
            Some(before) if changes => return Err(given_twice(key_field, *before)),
            _ => self.settings_given.insert(key, row.place),
        };
        self.settings = settings;
        Ok(if changes { Landing::Changed } else { Landing::Here })
    }

    pub(super) fn machine(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("machine");
        let name = field.needed_name()?;
        let result = self.machine_of(row, &name);
        self.settle(FolderTable::Machines, field, &name, result, |this, machine| {
            this.machines.put(name.clone(), machine, row.place)
        })
    }

    fn machine_of(&self, row: &RowReader<'_>, name: &str) -> Result<Machine, Fault> {
        let known = self.machines.get(&name.to_owned()).map(|entry| entry.value.clone());
        let mut machine = known.unwrap_or_else(|| Machine::named(name, ""));
        machine.hall = row.at("hall").needed_name()?;
        row.set("description", &mut machine.description, Field::free_text)?;
        row.set("line", &mut machine.line, Field::name)?;
        row.set("stop_cost_per_hour", &mut machine.stop_cost_per_hour, |f| f.quantity(Money::new, Range::FromZero))?;
        row.set("spindle_positions", &mut machine.positions, |f| Ok(f.whole(1)?.unwrap_or(1)))?;
        row.set("day_below_cost", &mut machine.day_below_cost, |f| f.quantity(Money::new, Range::FromZero))?;
        let positions = row.at("spindle_positions");
        if let Some(used) = self.machines.get(&machine.name).and_then(|entry| self.last_position(entry.id))
            && used > machine.positions
        {
            return Err(positions.fault(
                format!("is less than position {used}, which mountings or meters of this machine name"),
                format!("write {used} or more"),
            ));
        }
        machine.checked().map_err(|wrong| positions.fault(wrong.to_string(), "write 1 to 99"))
    }

    /// The highest position of a machine that the shop's records name.
    fn last_position(&self, machine: MachineId) -> Option<u32> {
        let mountings = self.shop.mountings.iter().map(|row| row.position);
        let meters = self.shop.meters.iter().filter_map(|row| match row.owner {
            MeterOwner::Position(position) => Some(position),
            MeterOwner::Spindle(_) => None,
        });
        mountings.chain(meters).filter(|position| position.machine == machine).map(|position| position.number).max()
    }

    /// The first day of which the shop has a record of a spindle.
    fn first_record(&self, spindle: SpindleId) -> Option<NaiveDate> {
        let first = [
            self.shop.mountings_of(spindle).first().map(|row| row.mounted_on),
            self.shop.readings_of(spindle).first().map(|row| row.at.date),
            self.shop.services_of(spindle).first().map(|row| row.at.date),
            self.shop.meters_of(MeterOwner::Spindle(spindle)).first().map(|row| row.at.date),
        ];
        first.into_iter().flatten().min()
    }

    pub(super) fn spindle(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("spindle");
        let name = field.needed_name()?;
        let result = self.spindle_of(row, &name);
        self.settle(FolderTable::Spindles, field, &name, result, |this, spindle| {
            this.spindles.put(name.clone(), spindle, row.place)
        })
    }

    fn spindle_of(&self, row: &RowReader<'_>, name: &str) -> Result<Spindle, Fault> {
        let interface = row.at("interface").interface()?;
        let force_field = row.at("nominal_force_kn");
        let force = force_field.needed(force_field.quantity(Kilonewtons::new, Range::AboveZero)?)?;
        let known = self.spindles.get(&name.to_owned()).map(|entry| entry.value.clone());
        let mut spindle = known.unwrap_or_else(|| Spindle::named(name, interface.clone(), force));
        (spindle.interface, spindle.nominal_force) = (interface, force);
        limit_values(row, &mut spindle.limits)?;
        row.set("installed_on", &mut spindle.installed_on, Field::date)?;
        if let (Some(installed), Some(entry)) = (spindle.installed_on, self.spindles.get(&spindle.name))
            && let Some(first) = self.first_record(entry.id).filter(|first| *first < installed)
        {
            return Err(row.at("installed_on").fault(
                format!("lies after the first record of this spindle, {first}"),
                "write the day on which it was new, or leave it empty where that is not known",
            ));
        }
        row.set("out_of_service_on", &mut spindle.out_of_service_on, Field::date)?;
        row.set("notes", &mut spindle.notes, Field::free_text)?;
        let known = spindle.not_before.map(|said| said.day);
        let mut not_before = known;
        row.set("service_not_before", &mut not_before, Field::date)?;
        // another day was said on another day
        let mut said_on = spindle.not_before.and_then(|said| said.said_on).filter(|_| not_before == known);
        row.set("not_before_said_on", &mut said_on, Field::date)?;
        if not_before.is_none() && said_on.is_some() {
            return Err(row.at("not_before_said_on").fault(
                "says when a first day for the service was said, but service_not_before has none",
                "write that day, or leave both empty",
            ));
        }
        spindle.not_before = NotBefore::of(not_before, said_on);
        spindle
            .checked()
            .map_err(|wrong| row.at("out_of_service_on").fault(wrong.to_string(), "correct one of the two days"))
    }

    /// Puts a machine or spindle in; remembers its name where it is refused.
    fn settle<T>(
        &mut self,
        table: FolderTable,
        field: Field<'_>,
        name: &str,
        result: Result<T, Fault>,
        put: impl FnOnce(&mut Self, T) -> Result<Landing, Place>,
    ) -> Result<Landing, Fault> {
        let landing = result.and_then(|value| put(self, value).map_err(|before| given_twice(field, before)));
        if landing.is_err() && self.refused_names.len() < REFUSED_NAMES {
            self.refused_names.insert((table, name.to_owned()));
        }
        landing
    }

    pub(super) fn interface_limits(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("interface");
        let interface = if field.text.trim() == "*" { None } else { Some(field.interface()?) };
        let known = self.limits.get(&interface).map(|entry| entry.value.values.clone());
        let mut values = known.unwrap_or_default();
        row.set("nominal_force_kn", &mut values.nominal_force, |f| f.quantity(Kilonewtons::new, Range::AboveZero))?;
        limit_values(row, &mut values)?;
        let limits = InterfaceLimits { interface: interface.clone(), values };
        self.limits.put(interface, limits, row.place).map_err(|before| given_twice(field, before))
    }

    /// The spindle of that name, with its first day where that is known.
    pub(super) fn spindle_named(&self, field: Field<'_>) -> Result<(SpindleId, Option<NaiveDate>), Fault> {
        let name = field.needed_name()?;
        if let Some(entry) = self.spindles.get(&name) {
            return Ok((entry.id, entry.value.installed_on));
        }
        if self.refused_names.contains(&(FolderTable::Spindles, name)) {
            return Err(field.fault("is not a spindle of this shop", "its own row was refused; mend that one first"));
        }
        if let Some(fault) = self.waiting(field, FolderTable::Spindles) {
            return Err(fault);
        }
        Err(field.unknown("a spindle", self.spindles.iter().map(|(name, _)| name.as_str()), FolderTable::Spindles))
    }

    /// The fault of a row that names what stands in a file that could not be read: no fault of its own.
    fn waiting(&self, field: Field<'_>, table: FolderTable) -> Option<Fault> {
        let file = self.unread.get(&table)?;
        let fault = field.fault(format!("waits for {file}, which is refused"), format!("mend {file} first"));
        Some(Fault { waits_for: Some(table), ..fault })
    }

    pub(super) fn machine_named(&self, field: Field<'_>) -> Result<&Entry<MachineId, Machine>, Fault> {
        let name = field.needed_name()?;
        if self.refused_names.contains(&(FolderTable::Machines, name.clone())) && self.machines.get(&name).is_none() {
            return Err(field.fault("is not a machine of this shop", "its own row was refused; mend that one first"));
        }
        self.machines.get(&name).ok_or_else(|| {
            if let Some(fault) = self.waiting(field, FolderTable::Machines) {
                return fault;
            }
            field.unknown("a machine", self.machines.iter().map(|(name, _)| name.as_str()), FolderTable::Machines)
        })
    }
}

/// A day before the spindle was new.
pub(super) fn not_before(field: Field<'_>, day: NaiveDate, installed: Option<NaiveDate>) -> Result<(), Fault> {
    match installed.filter(|installed| day < *installed) {
        Some(installed) => Err(field.fault(
            format!("lies before the spindle was installed, {installed}"),
            "check the day and the spindle, or correct installed_on in spindles.csv",
        )),
        None => Ok(()),
    }
}
