//! Rows of the work-order list, as other systems and spreadsheets give it back.
//!
//! The list shows an order as it stands today; what is read back is what a person may have changed
//! in it: state, start, duration, technicians, kind of service. All else (place, force, reason, the
//! service-by of today) only tells. A row that says what the shop says changes nothing. Changes obey
//! what the orders page obeys: states along their paths, `done` only with a recorded service,
//! technicians with the skill and in one place at a time.

use super::register::Landing;
use super::registers::{given_twice, kind};
use super::row::{Fault, Field, Range, RowReader};
use super::run::Importer;
use super::stock::{blank_order, names};
use crate::order::{Order, OrderState};
use crate::orders_list::{StepRefused, is_free, may_lead, with_state};
use crate::units::RunHours;

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

impl Importer<'_> {
    /// What becomes of a row; `None` where it is to book.
    pub(super) fn listed_order(&mut self, row: &RowReader<'_>) -> Result<Option<Landing>, Fault> {
        let state_field = row.at("state");
        if state_field.text.trim().eq_ignore_ascii_case(TO_BOOK) {
            *self.to_book.entry(row.place.file).or_insert(0) += 1;
            return Ok(None);
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
        if order.technicians != before.technicians || order.start != before.start || order.duration != before.duration {
            self.check_crew(row, &order, id, &before)?;
        }
        if state != order.state {
            order = with_state(self.shop, &order, state, present).map_err(|why| of_state(state_field, &name, &why))?;
        }
        let landing = self.orders.put(name, order, row.place).map_err(|before| given_twice(field, before))?;
        Ok(Some(landing))
    }

    /// The rules for who does an order, where that or its time changed.
    fn check_crew(
        &self,
        row: &RowReader<'_>,
        order: &Order,
        id: Option<crate::ids::OrderId>,
        before: &Order,
    ) -> Result<(), Fault> {
        let field = row.at("technician");
        let refused = |why: StepRefused| {
            field.fault(format!("order {} {why}", order.name), "name somebody else, or another start")
        };
        if let Some(lead) = order.technicians.first() {
            if before.technicians.first() == Some(lead) {
                is_free(self.shop, order, id, lead).map_err(refused)?;
            } else {
                may_lead(self.shop, order, id, lead).map_err(refused)?;
            }
        }
        for other in order.technicians.iter().skip(1) {
            is_free(self.shop, order, id, other).map_err(refused)?;
        }
        Ok(())
    }
}

/// The kind of service, under the name that the list has for it.
fn field_of_service<'a>(row: &RowReader<'a>) -> Field<'a> {
    let mut field = row.at("kind");
    field.column = "service";
    field
}

fn of_state(field: Field<'_>, name: &str, why: &StepRefused) -> Fault {
    let mend = match why {
        StepRefused::NeedsService => "record the service, which closes the order",
        StepRefused::Because(_) => {
            "go one step at a time: planned, issued, under way, then done, partly done or not done"
        }
    };
    field.fault(format!("order {name} {why}"), mend)
}
