//! Rows of the registers: settings, machines, spindles, limits, gauges, crew, parts, kits,
//! durations, orders.

use super::names::nearest;
use super::register::{Entry, Landing, Place};
use super::row::{Fault, Field, Range, RowReader};
use super::run::Importer;
use crate::crew::{Technician, parse_shifts};
use crate::gauge::Gauge;
use crate::ids::{MachineId, SpindleId};
use crate::limits::{InterfaceLimits, LimitValues};
use crate::machine::Machine;
use crate::meter::MeterOwner;
use crate::order::{Order, OrderState};
use crate::part::{KitLine, Part, ServiceKind};
use crate::service::Kind;
use crate::settings::ShopSettings;
use crate::spindle::{Spindle, check_limits};
use crate::tables::FolderTable;
use crate::units::{ClampCycles, Kilonewtons, Millimetres, Minutes, Money, Percent, Quantity, RunHours, Unit};
use chrono::NaiveDate;

/// How many names of refused rows are kept for the mend of later rows.
const REFUSED_NAMES: usize = 10_000;

fn given_twice(field: Field<'_>, before: Place) -> Fault {
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
        settings.set(&key, value_field.text).map_err(|wrong| value_field.fault("does not fit", wrong.to_string()))?;
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

    pub(super) fn gauge(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("gauge");
        let name = field.needed_listed_name()?;
        let measures = row.at("quantity");
        let measured = measures.needed(quantity(measures)?)?;
        let known = self.gauges.get(&name).map(|entry| entry.value.clone());
        let mut gauge = known.unwrap_or_else(|| Gauge::named(&name, measured));
        gauge.quantity = measured;
        row.set("range_max", &mut gauge.range_max, |f| f.number(Range::AboveZero))?;
        row.set("unit", &mut gauge.unit, unit)?;
        if let Some(unit) = gauge.unit {
            check_unit(row.at("unit"), unit, measured)?;
        }
        row.set("resolution", &mut gauge.resolution, |f| f.number(Range::AboveZero))?;
        row.set("calibrated_on", &mut gauge.calibrated_on, Field::date)?;
        row.set("calibration_due", &mut gauge.calibration_due, Field::date)?;
        row.set("certificate", &mut gauge.certificate, Field::free_text)?;
        row.set("services_per_day", &mut gauge.services_per_day, |f| f.whole(0))?;
        row.set("out", &mut gauge.out, Field::days)?;
        self.gauges.put(name, gauge, row.place).map_err(|before| given_twice(field, before))
    }

    pub(super) fn technician(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("technician");
        let name = field.needed_listed_name()?;
        let new = || Technician {
            name: name.clone(),
            skills: Vec::new(),
            shifts: Vec::new(),
            hours_per_day: None,
            absent: Vec::new(),
        };
        let mut technician = self.crew.get(&name).map_or_else(new, |entry| entry.value.clone());
        row.set("skills", &mut technician.skills, skills)?;
        row.set("shifts", &mut technician.shifts, |f| {
            let mend = "write shifts such as Mon-Fri 06:00-14:00; Sat 07:00-12:00";
            parse_shifts(f.text).ok_or_else(|| f.fault("is not a list of shifts", mend))
        })?;
        row.set("hours_per_day", &mut technician.hours_per_day, |f| f.quantity(RunHours::new, Range::FromZero))?;
        if technician.hours_per_day.is_some_and(|hours| hours.get() > 24.0) {
            return Err(row.at("hours_per_day").fault("is more than a day has", "write 0 to 24"));
        }
        row.set("absent", &mut technician.absent, Field::days)?;
        self.crew.put(name, technician, row.place).map_err(|before| given_twice(field, before))
    }

    pub(super) fn part(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("part");
        let name = field.needed_listed_name()?;
        let stock = row.at("on_hand");
        let on_hand = stock.needed(stock.number(Range::FromZero)?)?;
        let new = || Part {
            name: name.clone(),
            description: String::new(),
            on_hand,
            unit: String::new(),
            lead_time_days: None,
            price: None,
            reorder_point: None,
        };
        let mut part = self.parts.get(&name).map_or_else(new, |entry| entry.value.clone());
        part.on_hand = on_hand;
        row.set("description", &mut part.description, Field::free_text)?;
        row.set("unit", &mut part.unit, Field::free_text)?;
        row.set("lead_time_days", &mut part.lead_time_days, |f| f.whole(0))?;
        row.set("price", &mut part.price, |f| f.quantity(Money::new, Range::FromZero))?;
        row.set("reorder_point", &mut part.reorder_point, |f| f.number(Range::FromZero))?;
        self.parts.put(name, part, row.place).map_err(|before| given_twice(field, before))
    }

    pub(super) fn kit_line(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let interface = row.at("interface").interface()?;
        let kind = kind(row.at("kind"))?;
        let field = row.at("part");
        let part = field.needed_listed_name()?;
        let amount = row.at("quantity");
        let quantity = amount.needed(amount.number(Range::AboveZero)?)?;
        let line = KitLine { interface: interface.clone(), kind, part: part.clone(), quantity };
        self.kits.put((interface, kind, part), line, row.place).map_err(|before| given_twice(field, before))
    }

    pub(super) fn service_kind(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("interface");
        let interface = field.interface()?;
        let kind = kind(row.at("kind"))?;
        let minutes = row.at("minutes").quantity(Minutes::new, Range::AboveZero)?;
        let people = row.at("crew");
        let crew = people.whole(1)?.unwrap_or(1);
        if crew > 2 {
            return Err(people.fault("is more than two people", "write 1 or 2"));
        }
        let known = self.kinds.get(&(interface.clone(), kind)).and_then(|entry| entry.value.gauge_quantity);
        let minutes = minutes.unwrap_or_else(|| ServiceKind::usual_minutes(kind));
        let mut value = ServiceKind { interface: interface.clone(), kind, minutes, crew, gauge_quantity: known };
        row.set("gauge_quantity", &mut value.gauge_quantity, quantity)?;
        self.kinds.put((interface, kind), value, row.place).map_err(|before| given_twice(field, before))
    }

    pub(super) fn order(&mut self, row: &RowReader<'_>) -> Result<Landing, Fault> {
        let field = row.at("order");
        let name = field.needed_listed_name()?;
        let (spindle, _) = self.spindle_named(row.at("spindle"))?;
        let kind = kind(row.at("kind"))?;
        let states: Vec<&'static str> = OrderState::ALL.into_iter().map(OrderState::key).collect();
        let state_field = row.at("state");
        let state = state_field.needed(state_field.word(OrderState::from_key, "a state of an order", &states)?)?;
        let mut order = self
            .orders
            .get(&name)
            .map_or_else(|| blank_order(&name, spindle, kind, state), |entry| entry.value.clone());
        (order.spindle, order.kind, order.state) = (spindle, kind, state);
        row.set("opened_on", &mut order.opened_on, Field::date)?;
        row.set("service_by", &mut order.service_by, Field::date)?;
        row.set("start", &mut order.start, Field::moment)?;
        row.set("duration_h", &mut order.duration, |f| f.quantity(RunHours::new, Range::AboveZero))?;
        row.set("technician", &mut order.technicians, |f| {
            Ok(f.text.split(';').map(str::trim).filter(|name| !name.is_empty()).map(ToOwned::to_owned).collect())
        })?;
        row.set("held", &mut order.held, |f| Ok(f.yes_no()?.unwrap_or(false)))?;
        row.set("closed_on", &mut order.closed_on, Field::date)?;
        if let (Some(opened), Some(closed)) = (order.opened_on, order.closed_on)
            && closed < opened
        {
            return Err(row
                .at("closed_on")
                .fault(format!("lies before opened_on, {opened}"), "correct one of the two days"));
        }
        self.orders.put(name, order, row.place).map_err(|before| given_twice(field, before))
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
        Err(field.unknown("a spindle", self.spindles.iter().map(|(name, _)| name.as_str()), FolderTable::Spindles))
    }

    pub(super) fn machine_named(&self, field: Field<'_>) -> Result<&Entry<MachineId, Machine>, Fault> {
        let name = field.needed_name()?;
        if self.refused_names.contains(&(FolderTable::Machines, name.clone())) && self.machines.get(&name).is_none() {
            return Err(field.fault("is not a machine of this shop", "its own row was refused; mend that one first"));
        }
        self.machines.get(&name).ok_or_else(|| {
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

fn skills(field: Field<'_>) -> Result<Vec<Kind>, Fault> {
    let items = field.text.split(';').map(str::trim).filter(|item| !item.is_empty());
    items
        .map(|item| {
            Kind::from_key(item).ok_or_else(|| {
                field.fault(format!("'{item}' is not a kind of service"), "write minor, major or minor;major")
            })
        })
        .collect()
}

fn blank_order(name: &str, spindle: SpindleId, kind: Kind, state: OrderState) -> Order {
    Order {
        name: name.to_owned(),
        spindle,
        kind,
        state,
        opened_on: None,
        service_by: None,
        start: None,
        duration: None,
        technicians: Vec::new(),
        held: false,
        closed_on: None,
    }
}
