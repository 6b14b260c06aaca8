//! Steps on several lines of the list at once: one action, one label for the journal, and what was
//! left out, in words.

use super::steps::{OrderStep, StepRefused, step_action};
use super::{OrderLine, usual_minutes};
use crate::actions::{Action, Change};
use crate::ids::{OrderId, Row, SpindleId};
use crate::order::{Order, OrderState};
use crate::order_number::OrderNumbers;
use crate::shop::Shop;
use crate::units::RunHours;
use crate::words::{self, capital, count_words};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// How many refusals are told in full; the rest are counted.
const TOLD: usize = 3;

/// What a step on several lines comes to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bulk {
    /// The change; `None`: nothing can be done.
    pub action: Option<Action>,
    /// How many lines it changes.
    pub taken: usize,
    /// Lines that are left as they are, with why: number of the order or name of the spindle first.
    pub refused: Vec<String>,
    /// The first order that could only be closed with its service: whose form to open.
    pub needs_service: Option<SpindleId>,
    /// What was done, such as `3 orders issued`; empty where nothing was.
    done: String,
}

impl Bulk {
    /// What was done and what was not, in one sentence without a full stop.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut parts = Vec::new();
        if !self.done.is_empty() {
            parts.push(self.done.clone());
        }
        parts.extend(self.refused.iter().take(TOLD).cloned());
        let more = self.refused.len().saturating_sub(TOLD);
        if more > 0 {
            parts.push(format!("{} more are left as they are", count_words(more)));
        }
        parts.join("; ")
    }

    fn together(actions: Vec<Action>, label: String, done: String, refused: Vec<String>) -> Self {
        let taken = actions.len();
        let action = (taken > 0).then_some(Action::Together(label, actions));
        Self { action, taken, refused, needs_service: None, done: if taken > 0 { done } else { String::new() } }
    }
}

/// Takes a step on every order among the lines; `whole` is the whole shop, `day` its present.
#[must_use]
pub fn step_on_lines(whole: &Shop, lines: &[&OrderLine], step: &OrderStep, day: NaiveDate) -> Bulk {
    let (with_order, without): (Vec<&OrderLine>, Vec<&OrderLine>) =
        lines.iter().partition(|line| line.id.is_some_and(|id| whole.orders.iter().any(|row| row.id == id)));
    let orders: Vec<OrderId> = with_order.iter().filter_map(|line| line.id).collect();
    let mut bulk = step_on_orders(whole, &orders, step, day);
    let to_book = without.into_iter().map(|line| format!("{} has no order yet: book it first", line.spindle));
    bulk.refused.splice(0..0, to_book);
    bulk
}

/// Takes a step on orders; `whole` is the whole shop, `day` its present. What the shop has no order
/// of is left out.
#[must_use]
pub fn step_on_orders(whole: &Shop, orders: &[OrderId], step: &OrderStep, day: NaiveDate) -> Bulk {
    let rows: BTreeMap<OrderId, &Row<OrderId, Order>> = whole.orders.iter().map(|row| (row.id, row)).collect();
    let (mut actions, mut refused, mut needs_service) = (Vec::new(), Vec::new(), None);
    let mut changed: Vec<&str> = Vec::new();
    // each step sees the orders as the ones before it leave them: nobody is given two at one time
    let mut after = whole.clone();
    for row in orders.iter().filter_map(|id| rows.get(id).copied()) {
        match step_action(&after, row, step, day) {
            Ok(action) => {
                if matches!(step, OrderStep::Assign(_)) {
                    apply(&mut after, &action);
                }
                changed.push(&row.name);
                actions.push(action);
            }
            Err(why) => {
                if why == StepRefused::NeedsService {
                    needs_service.get_or_insert(row.spindle);
                }
                refused.push(format!("{} {why}", row.name));
            }
        }
    }
    let (what, done) = match changed[..] {
        [one] => (format!("order {one}"), format!("order {one} {}", step.done_words())),
        _ => {
            let count = words::number(changed.len() as f64, 0);
            (format!("{count} orders"), format!("{count} orders {}", step.done_words()))
        }
    };
    let label = format!("{} {what}", step.journal_verb());
    Bulk { needs_service, ..Bulk::together(actions, label, done, refused) }
}

/// One order changed in a copy of the shop.
fn apply(shop: &mut Shop, action: &Action) {
    if let Action::Order(Change::Set(id, order)) = action
        && let Some(row) = std::sync::Arc::make_mut(&mut shop.orders).iter_mut().find(|row| row.id == *id)
    {
        row.value = order.clone();
    }
}

/// Opens a planned order for every line that is to book, with the next numbers of the shop's
/// pattern; `whole` is the whole shop, `day` its present. Day and technician come later.
#[must_use]
pub fn book_lines(whole: &Shop, lines: &[&OrderLine], day: NaiveDate) -> Bulk {
    let mut numbers = OrderNumbers::of(whole, day);
    let (mut actions, mut refused, mut booked) = (Vec::new(), Vec::new(), Vec::new());
    for line in lines {
        if line.id.is_some() {
            refused.push(format!("{} has order {} already", line.spindle, line.order));
            continue;
        }
        let Some((spindle, name)) = whole.spindles.get(&line.spindle_id).zip(numbers.next()) else { continue };
        let order = Order {
            name: name.clone(),
            spindle: line.spindle_id,
            kind: line.service,
            state: OrderState::Planned,
            opened_on: Some(day),
            service_by: line.service_by,
            start: None,
            duration: RunHours::new(usual_minutes(whole, spindle, line.service) / 60.0),
            technicians: Vec::new(),
            held: false,
            closed_on: None,
            note: String::new(),
        };
        booked.push((name, line.spindle.as_str()));
        actions.push(Action::Order(Change::Add(order)));
    }
    let (label, done) = match &booked[..] {
        [(name, spindle)] => (format!("Book {spindle} as order {name}"), format!("{spindle} booked as order {name}")),
        [(first, _), .., (last, _)] => {
            let count = count_words(booked.len());
            (
                format!("Book {count} services"),
                format!("{} services booked as orders {first} to {last}", capital(&count)),
            )
        }
        [] => (String::new(), String::new()),
    };
    Bulk::together(actions, label, done, refused)
}
