//! Rows of the registers: gauges, crew, parts, kits, durations, orders.

use super::register::Landing;
use super::registers::{check_unit, given_twice, kind, quantity, unit};
use super::row::{Fault, Field, Range, RowReader};
use super::run::Importer;
use crate::crew::{Technician, parse_shifts};
use crate::gauge::Gauge;
use crate::ids::SpindleId;
use crate::order::{Order, OrderState};
use crate::part::{KitLine, Part, ServiceKind};
use crate::service::Kind;
use crate::units::{Minutes, Money, RunHours};

impl Importer<'_> {
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
        if let (Some(done), Some(due)) = (gauge.calibrated_on, gauge.calibration_due)
            && due < done
        {
            return Err(row.at("calibration_due").fault(
                format!("lies before the calibration, {done}"),
                "write the day up to which the calibration holds, or leave it empty",
            ));
        }
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
        row.set("technician", &mut order.technicians, |f| Ok(names(f)))?;
        row.set("held", &mut order.held, |f| Ok(f.yes_no()?.unwrap_or(false)))?;
        row.set("closed_on", &mut order.closed_on, Field::date)?;
        row.set("note", &mut order.note, Field::free_text)?;
        if let (Some(opened), Some(closed)) = (order.opened_on, order.closed_on)
            && closed < opened
        {
            return Err(row
                .at("closed_on")
                .fault(format!("lies before opened_on, {opened}"), "correct one of the two days"));
        }
        self.orders.put(name, order, row.place).map_err(|before| given_twice(field, before))
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

/// Names separated by semicolons.
pub(super) fn names(field: Field<'_>) -> Vec<String> {
    field.text.split(';').map(str::trim).filter(|name| !name.is_empty()).map(ToOwned::to_owned).collect()
}

pub(super) fn blank_order(name: &str, spindle: SpindleId, kind: Kind, state: OrderState) -> Order {
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
        note: String::new(),
    }
}
