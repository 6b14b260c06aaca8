//! From a plan to orders: what is accepted becomes a work order in state `planned`, as one step
//! that can be undone.

use super::proposal::{PlacedService, Placement, PlanChange, PlanChangeKind, Proposal, ServiceKey};
use super::since::Since;
use crate::actions::{Action, Change};
use crate::ids::{OrderId, Row, SpindleId};
use crate::moment::Moment;
use crate::order::{Order, OrderState};
use crate::order_number::OrderNumbers;
use crate::service::Kind;
use crate::shop::Shop;
use crate::units::RunHours;
use crate::words;
use chrono::{NaiveDate, NaiveDateTime};

/// Which lines of [`Proposal::changes`] are accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lines<'a> {
    /// All of them.
    All,
    /// Those of these places in the list.
    Some(&'a [usize]),
}

impl Lines<'_> {
    pub(super) fn has(self, index: usize) -> bool {
        match self {
            Self::All => true,
            Self::Some(lines) => lines.contains(&index),
        }
    }
}

/// The step that accepts lines of a proposal; `None` where nothing would change. `shop` is the
/// whole shop as it stands now, not only what was known on a day: numbers of orders never repeat. An
/// order that was opened since the proposal is the one that is meant; one that may not be moved any
/// more stays as it is, see [`overtaken`], and so does one whose place is no longer to be had, see
/// [`no_longer`](super::since::no_longer).
#[must_use]
pub fn accept(shop: &Shop, proposal: &Proposal, lines: Lines<'_>) -> Option<Action> {
    let mut numbers = OrderNumbers::of(shop, proposal.as_of);
    let since = Since::of(shop, proposal);
    let mut actions = Vec::new();
    for (index, change) in proposal.changes.iter().enumerate() {
        if !lines.has(index) || since.stands_against(change).is_some() {
            continue;
        }
        let order = match now(shop, proposal, change) {
            Now::NoneYet => None,
            Now::Movable(row) => Some(row),
            Now::Fixed(_) | Now::Gone => continue,
        };
        actions.extend(if change.kind == PlanChangeKind::TakenOff {
            order.filter(|row| row.start.is_some()).map(without_place)
        } else {
            let placed = proposal.placed.iter().find(|p| p.key() == change.key());
            placed.and_then(|placed| placing(proposal, placed, order, &mut numbers))
        });
    }
    let label = match actions.len() {
        0 => return None,
        1 => "Accept one placement".to_owned(),
        count => format!("Accept {} placements", words::count_words(count)),
    };
    Some(Action::Together(label, actions))
}

/// The orders of accepted lines that stay as they are, since they were held, issued, begun or closed
/// after the proposal was made; those that were taken away are not among them.
#[must_use]
pub fn overtaken(shop: &Shop, proposal: &Proposal, lines: Lines<'_>) -> Vec<String> {
    let changes = proposal.changes.iter().enumerate().filter(|(index, _)| lines.has(*index));
    changes
        .filter_map(|(_, change)| match now(shop, proposal, change) {
            Now::Fixed(row) if !is_there(row, proposal, change) => Some(row.name.clone()),
            _ => None,
        })
        .collect()
}

/// The order of a line of a proposal as the shop has it now.
enum Now<'s> {
    /// The service has none yet.
    NoneYet,
    /// Without a place, or planned and not held: it may be moved.
    Movable(&'s Row<OrderId, Order>),
    /// Held, issued, begun or closed.
    Fixed(&'s Row<OrderId, Order>),
    /// Taken away.
    Gone,
}

fn now<'s>(shop: &'s Shop, proposal: &Proposal, change: &PlanChange) -> Now<'s> {
    let row = match change.order {
        Some(id) => order_of(shop, id),
        None => match open_order_of(shop, change.spindle, proposal.as_of) {
            Some(row) => Some(row),
            None => return Now::NoneYet,
        },
    };
    match row {
        None => Now::Gone,
        Some(row) if !row.is_open_on(proposal.as_of) => Now::Fixed(row),
        Some(row) if row.start.is_none() || (row.state == OrderState::Planned && !row.held) => Now::Movable(row),
        Some(row) => Now::Fixed(row),
    }
}

/// The open order of a spindle that had none when the plan was made.
fn open_order_of(shop: &Shop, spindle: SpindleId, as_of: NaiveDate) -> Option<&Row<OrderId, Order>> {
    let mut open = shop.orders.iter().filter(|row| row.spindle == spindle && row.is_open_on(as_of));
    open.next()
}

/// Whether an order stands where a line would put it.
fn is_there(row: &Order, proposal: &Proposal, change: &PlanChange) -> bool {
    let placed = proposal.placed.iter().find(|p| p.key() == change.key());
    placed.is_some_and(|placed| row.start == Some(moment(placed.place.start)))
}

fn order_of(shop: &Shop, id: OrderId) -> Option<&Row<OrderId, Order>> {
    shop.orders.iter().find(|row| row.id == id)
}

/// The order of a placed service, new or with another start; `None` where it stands like that.
fn placing(
    proposal: &Proposal,
    placed: &PlacedService,
    row: Option<&Row<OrderId, Order>>,
    numbers: &mut OrderNumbers,
) -> Option<Action> {
    let order = match row {
        Some(row) => row.value.clone(),
        None => planned(numbers, proposal.as_of, placed.spindle, placed.kind, placed.service_by)?,
    };
    let order = at(&order, &placed.place, placed.minutes);
    match row {
        Some(row) if order == row.value => None,
        row => Some(written(row, order)),
    }
}

/// A new planned order, without a place yet; `None` where no number is left.
fn planned(
    numbers: &mut OrderNumbers,
    as_of: NaiveDate,
    spindle: SpindleId,
    kind: Kind,
    service_by: Option<NaiveDate>,
) -> Option<Order> {
    Some(Order {
        name: numbers.next()?,
        spindle,
        kind,
        state: OrderState::Planned,
        opened_on: Some(as_of),
        service_by,
        start: None,
        duration: None,
        technicians: Vec::new(),
        held: false,
        closed_on: None,
        note: String::new(),
    })
}

/// The action that gives an order's row, or a new one, these values.
fn written(row: Option<&Row<OrderId, Order>>, order: Order) -> Action {
    Action::Order(match row {
        Some(row) => Change::Set(row.id, order),
        None => Change::Add(order),
    })
}

/// An order at a place.
fn at(order: &Order, place: &Placement, minutes: i64) -> Order {
    Order {
        start: Some(moment(place.start)),
        duration: RunHours::new(minutes as f64 / 60.0),
        technicians: place.technicians.clone(),
        ..order.clone()
    }
}

const fn moment(start: NaiveDateTime) -> Moment {
    Moment { date: start.date(), time: Some(start.time()) }
}

/// The same order without its place.
fn without_place(row: &Row<OrderId, Order>) -> Action {
    let order = Order { start: None, technicians: Vec::new(), held: false, ..row.value.clone() };
    Action::Order(Change::Set(row.id, order))
}

/// What a place by hand is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByHand<'a> {
    /// Which service.
    pub service: ServiceKey,
    /// Where to, as [`weigh`](super::by_hand::weigh) said.
    pub place: &'a Placement,
    /// Why a rule is broken; with a note the order is held.
    pub note: Option<&'a str>,
}

/// The step that puts one service where the planner wants it; a new order where it has none.
/// `None` where the proposal does not know the service, or its order was taken away.
#[must_use]
pub fn place_by_hand(shop: &Shop, current: &Proposal, by_hand: &ByHand<'_>) -> Option<Action> {
    let mut numbers = OrderNumbers::of(shop, current.as_of);
    let placed = current.placed.iter().find(|p| p.key() == by_hand.service);
    let left = current.left.iter().find(|l| l.key() == by_hand.service);
    let (kind, minutes, service_by) = match (placed, left) {
        (Some(placed), _) => (placed.kind, placed.minutes, placed.service_by),
        (None, Some(left)) => (left.kind, left.minutes, left.service_by),
        (None, None) => return None,
    };
    let row = match by_hand.service.order {
        Some(id) => Some(order_of(shop, id)?),
        None => open_order_of(shop, by_hand.service.spindle, current.as_of),
    };
    let order = match row {
        Some(row) => row.value.clone(),
        None => planned(&mut numbers, current.as_of, by_hand.service.spindle, kind, service_by)?,
    };
    let mut order = at(&order, by_hand.place, minutes);
    if let Some(note) = by_hand.note.map(str::trim).filter(|note| !note.is_empty()) {
        order.held = true;
        note.clone_into(&mut order.note);
    }
    let day = words::date_short(by_hand.place.start.date(), current.as_of);
    let label = format!("Place order {} on {day}", order.name);
    Some(Action::Together(label, vec![written(row, order)]))
}

/// The step that holds or releases the place of an order; `None` for one the shop does not have or
/// that has no place.
#[must_use]
pub fn hold(shop: &Shop, order: OrderId, held: bool) -> Option<Action> {
    let row = order_of(shop, order).filter(|row| row.start.is_some())?;
    let verb = if held { "Hold" } else { "Release" };
    let change = Change::Set(row.id, Order { held, ..row.value.clone() });
    Some(Action::Together(format!("{verb} order {}", row.name), vec![Action::Order(change)]))
}

/// The step that takes an order off the plan: it stays open, without a place. `None` for one the
/// shop does not have, that has no place, or whose work has begun.
#[must_use]
pub fn take_off(shop: &Shop, order: OrderId) -> Option<Action> {
    let row = order_of(shop, order).filter(|row| row.start.is_some())?;
    if !matches!(row.state, OrderState::Planned | OrderState::Issued) {
        return None;
    }
    Some(Action::Together(format!("Take order {} off the plan", row.name), vec![without_place(row)]))
}
