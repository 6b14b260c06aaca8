//! Rows of the work-order list, as other systems and spreadsheets give it back.
//!
//! The list shows an order as it stands today; what is read back is what a person may have changed
//! in it: state, start, duration, technicians, kind of service. All else (place, force, reason, the
//! service-by of today) only tells. A row that says what the shop says changes nothing. Changes obey
//! what the orders page obeys: states along their paths, `done` only with a recorded service,
//! technicians with the skill and in one place at a time. Whether they do is only known when all
//! rows are there: rows are judged by the shop as it is after the whole import, so that two orders
//! may swap their people, and no two rows give one person the same hour.

use super::register::{Landing, Place};
use super::registers::kind;
use super::row::{Fault, Field, Range, RowReader};
use super::run::Importer;
use super::stock::{blank_order, names};
use crate::actions::ImportBatch;
use crate::ids::{OrderId, Row};
use crate::order::{Order, OrderState};
use crate::orders_list::{StepRefused, can_lead, is_free, with_state};
use crate::shop::Shop;
use crate::units::RunHours;
use std::sync::Arc;

/// What the report says of such a file.
pub(super) const WHAT_IT_IS: &str =
    "a work-order list: state, service, start, duration and technician are taken from it, all else in it only tells";

/// What the report says of rows without an order.
pub(super) fn left_to_book(rows: usize) -> String {
    match rows {
        1 => "1 row to book has no order yet and was left out".to_owned(),
        many => format!("{many} rows to book have no order yet and were left out"),
    }
}

/// The word in the state of a row without an order.
const TO_BOOK: &str = "to book";

/// A row of a list until all are read.
#[derive(Debug)]
pub(super) struct PendingOrder {
    place: Place,
    /// As it was before the row.
    before: Order,
    /// As the row has it, but for its state.
    order: Order,
    state: OrderState,
    /// The fields that say so, as they stand in the file.
    typed: Typed,
}

/// Fields of a row: column and text.
#[derive(Debug)]
struct Typed {
    order: (&'static str, String),
    state: (&'static str, String),
    service: (&'static str, String),
    start: (&'static str, String),
    duration: (&'static str, String),
    technician: (&'static str, String),
}

impl Typed {
    fn of(row: &RowReader<'_>) -> Self {
        let typed = |column: &'static str| (column, row.at(column).text.to_owned());
        Self {
            order: typed("order"),
            state: typed("state"),
            service: (SERVICE, row.at("kind").text.to_owned()),
            start: typed("start"),
            duration: typed("duration_h"),
            technician: typed("technician"),
        }
    }
}

fn fault(field: &(&'static str, String), why: impl Into<String>, mend: impl Into<String>) -> Fault {
    let (column, value) = (field.0.to_owned(), field.1.clone());
    Fault { column, value, why: why.into(), mend: mend.into(), waits_for: None }
}

impl Importer<'_> {
    /// Reads a row; what becomes of it is known after all of them. One that is to book is counted.
    pub(super) fn listed_order(&mut self, row: &RowReader<'_>) -> Result<(), Fault> {
        let state_field = row.at("state");
        if state_field.text.trim().eq_ignore_ascii_case(TO_BOOK) {
            *self.to_book.entry(row.place.file).or_insert(0) += 1;
            return Ok(());
        }
        let field = row.at("order");
        let name = field.needed_listed_name()?;
        let spindle_field = row.at("spindle");
        let (spindle, _) = self.spindle_named(spindle_field)?;
        let service = kind(field_of_service(row))?;
        let words: Vec<&'static str> = OrderState::ALL.into_iter().map(OrderState::key).collect();
        let state = state_field.needed(state_field.word(OrderState::from_key, "a state of an order", &words)?)?;
        let present = self.settings.as_of.unwrap_or(self.today);
        let (id, before) = match self.orders.get(&name) {
            Some(entry) => (Some(entry.id), entry.value.clone()),
            None => {
                let mut new = blank_order(&name, spindle, service, OrderState::Planned);
                new.opened_on = Some(present);
                row.set("service_by", &mut new.service_by, Field::date)?;
                (None, new)
            }
        };
        if before.spindle != spindle {
            let known = self.shop.spindles.get(&before.spindle).map_or("another one", |spindle| &spindle.name);
            return Err(spindle_field.fault(
                format!("is not the spindle of order {name}, which is {known}"),
                "leave the spindle as it is, or give the row an order number of its own",
            ));
        }
        let mut order = Order { kind: service, ..before.clone() };
        row.set("start", &mut order.start, Field::moment)?;
        row.set("duration_h", &mut order.duration, |f| {
            let typed = f.quantity(RunHours::new, Range::AboveZero)?;
            // the list gives two decimals: the same figure is the same duration
            let is_same =
                typed.zip(before.duration).is_some_and(|(typed, known)| (typed.get() - known.get()).abs() < 0.005_1);
            Ok(if is_same { before.duration } else { typed })
        })?;
        row.set("technician", &mut order.technicians, |f| Ok(names(f)))?;
        let is_edited = order != before;
        if is_edited && id.is_some() && before.is_closed() {
            let why = format!("belongs to order {name}, which is closed as {}", before.state.key());
            return Err(field.fault(why, "leave closed orders as they are; a service is corrected on its spindle"));
        }
        let typed = Typed::of(row);
        self.pending_orders.push(PendingOrder { place: row.place, before, order, state, typed });
        Ok(())
    }

    /// Takes the rows of lists in and refuses those that break a rule of the page.
    pub(super) fn settle_orders(&mut self) {
        let pending = std::mem::take(&mut self.pending_orders);
        if pending.is_empty() {
            return;
        }
        let present = self.settings.as_of.unwrap_or(self.today);
        let mut after = self.shop_with_rows();
        let mut landed: Vec<(OrderId, PendingOrder)> = Vec::new();
        for row in pending {
            match self.put_listed(&row, &after, present) {
                Ok((_, Landing::Here)) => self.count(row.place, Landing::Here, true),
                Ok((id, landing)) => {
                    self.count(row.place, landing, true);
                    landed.push((id, row));
                }
                Err(fault) => self.refuse(row.place, fault),
            }
        }
        for (id, row) in &landed {
            set_order(&mut after, *id, self.orders.get(&row.order.name).map(|entry| &entry.value));
        }
        // Of two rows that clash the later one goes. A row taken back puts its order where it was,
        // where another row may have moved something to: hence until all is quiet.
        loop {
            let before = landed.len();
            let mut kept = Vec::with_capacity(before);
            for (id, row) in landed.into_iter().rev() {
                let Err(fault) = row.check(&after, id) else {
                    kept.push((id, row));
                    continue;
                };
                if let Some(landing) = self.orders.take_back(&row.order.name) {
                    self.count(row.place, landing, false);
                }
                set_order(&mut after, id, self.orders.get(&row.order.name).map(|entry| &entry.value));
                self.refuse(row.place, fault);
            }
            kept.reverse();
            if kept.len() == before {
                return;
            }
            landed = kept;
        }
    }

    /// The shop with everything that this run brings but the rows of lists.
    fn shop_with_rows(&self) -> Shop {
        let mut batch: ImportBatch = self.registers_batch();
        batch.services.added.clone_from(&self.services.added);
        batch.apply_to(self.shop)
    }

    /// Takes an order in, with its new state.
    fn put_listed(
        &mut self,
        row: &PendingOrder,
        after: &Shop,
        present: chrono::NaiveDate,
    ) -> Result<(OrderId, Landing), Fault> {
        let name = &row.order.name;
        let mut order = row.order.clone();
        if row.state != order.state {
            order =
                with_state(after, &order, row.state, present).map_err(|why| of_state(&row.typed.state, name, &why))?;
        }
        let landing = self.orders.put(name.clone(), order, row.place).map_err(|before| {
            let why = format!("stands with another content in row {} already", before.row);
            fault(&row.typed.order, why, "leave one of the two rows out")
        })?;
        let id = self.orders.get(name).map_or(OrderId::from_row(0), |entry| entry.id);
        Ok((id, landing))
    }
}

impl PendingOrder {
    /// The rules for who does an order, where that, its time or its kind changed.
    fn check(&self, after: &Shop, id: OrderId) -> Result<(), Fault> {
        let (before, order) = (&self.before, &self.order);
        let lead = order.technicians.first();
        let new_people = order.technicians != before.technicians;
        let refused = |field: &(&'static str, String), why: &StepRefused, mend: &str| {
            fault(field, format!("order {} {why}", order.name), mend)
        };
        if let Some(lead) = lead {
            let new_lead = before.technicians.first() != Some(lead);
            if new_lead {
                let mend = "name somebody of the crew who leads such services";
                can_lead(after, order, lead).map_err(|why| refused(&self.typed.technician, &why, mend))?;
            } else if order.kind != before.kind {
                let mend = "name somebody else to lead it, or leave the service as it is";
                can_lead(after, order, lead).map_err(|why| refused(&self.typed.service, &why, mend))?;
            }
        }
        let changed = if new_people {
            &self.typed.technician
        } else if order.start != before.start {
            &self.typed.start
        } else if order.duration != before.duration {
            &self.typed.duration
        } else if order.kind != before.kind && order.duration.is_none() {
            // it takes as long as such services do
            &self.typed.service
        } else {
            return Ok(());
        };
        for who in &order.technicians {
            is_free(after, order, Some(id), who)
                .map_err(|why| refused(changed, &why, "name somebody else, or another start"))?;
        }
        Ok(())
    }
}

/// Puts an order into a shop, or takes it out.
fn set_order(shop: &mut Shop, id: OrderId, order: Option<&Order>) {
    let orders = Arc::make_mut(&mut shop.orders);
    match (orders.iter().position(|row| row.id == id), order) {
        (Some(place), Some(order)) => {
            if let Some(row) = orders.get_mut(place) {
                row.value = order.clone();
            }
        }
        (Some(place), None) => {
            orders.remove(place);
        }
        (None, Some(order)) => orders.push(Row { id, value: order.clone() }),
        (None, None) => {}
    }
}

/// The name that lists have for the kind.
const SERVICE: &str = "service";

/// The kind of service, under the name that the list has for it.
fn field_of_service<'a>(row: &RowReader<'a>) -> Field<'a> {
    let mut field = row.at("kind");
    field.column = SERVICE;
    field
}

fn of_state(field: &(&'static str, String), name: &str, why: &StepRefused) -> Fault {
    let mend = match why {
        StepRefused::NeedsService => "record the service, which closes the order",
        StepRefused::Because(_) => {
            "go one step at a time: planned, issued, under way, then done, partly done or not done"
        }
    };
    fault(field, format!("order {name} {why}"), mend)
}
