//! What a person does to an order on the list: one step along a sensible path, or why not, in words.

use super::span;
use crate::actions::{Action, Change};
use crate::ids::{OrderId, Row};
use crate::order::{Order, OrderState};
use crate::shop::Shop;
use chrono::NaiveDate;

/// One thing that can be done to orders.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OrderStep {
    /// Hand it out.
    Issue,
    /// The work has begun.
    Begin,
    /// Close it: its service is recorded.
    Done,
    /// Something is left to do.
    PartlyDone,
    /// Close it: it did not happen.
    NotDone,
    /// Fix its place.
    Hold,
    /// Let a new plan move it.
    Release,
    /// Somebody leads it; whoever was second stays.
    Assign(String),
    /// Take a planned one off the list.
    TakeOff,
}

impl OrderStep {
    /// What the journal says was done to orders, before their number or count.
    #[must_use]
    pub(super) fn journal_verb(&self) -> String {
        match self {
            Self::Issue => "Issue".to_owned(),
            Self::Begin => "Mark under way".to_owned(),
            Self::Done => "Close as done".to_owned(),
            Self::PartlyDone => "Mark partly done".to_owned(),
            Self::NotDone => "Close as not done".to_owned(),
            Self::Hold => "Hold".to_owned(),
            Self::Release => "Release".to_owned(),
            Self::Assign(who) => format!("Give {who}"),
            Self::TakeOff => "Take off".to_owned(),
        }
    }

    /// What is said when it is done, such as `3 orders issued`.
    #[must_use]
    pub(super) fn done_words(&self) -> String {
        match self {
            Self::Issue => "issued".to_owned(),
            Self::Begin => "marked under way".to_owned(),
            Self::Done => "closed as done".to_owned(),
            Self::PartlyDone => "marked partly done".to_owned(),
            Self::NotDone => "closed as not done".to_owned(),
            Self::Hold => "held".to_owned(),
            Self::Release => "released".to_owned(),
            Self::Assign(who) => format!("given to {who}"),
            Self::TakeOff => "taken off".to_owned(),
        }
    }

    const fn target(&self) -> Option<OrderState> {
        match self {
            Self::Issue => Some(OrderState::Issued),
            Self::Begin => Some(OrderState::UnderWay),
            Self::Done => Some(OrderState::Done),
            Self::PartlyDone => Some(OrderState::PartlyDone),
            Self::NotDone => Some(OrderState::NotDone),
            Self::Hold | Self::Release | Self::Assign(_) | Self::TakeOff => None,
        }
    }
}

/// Why a step is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StepRefused {
    /// In words that follow the number of the order, such as `is planned: issue it first`.
    #[error("{0}")]
    Because(String),
    /// It can only be closed as done with its service, which is not recorded yet.
    #[error("has no recorded service yet")]
    NeedsService,
}

impl StepRefused {
    fn because(words: impl Into<String>) -> Self {
        Self::Because(words.into())
    }
}

/// Whether an order may go from one state to another by hand.
///
/// # Errors
/// Why not, in words that follow the number of the order.
pub fn may_become(from: OrderState, to: OrderState) -> Result<(), StepRefused> {
    use OrderState::{Done, Issued, NotDone, PartlyDone, Planned, UnderWay};
    match (from, to) {
        (from, to) if from == to => Err(StepRefused::because(format!("is {} already", from.key()))),
        (Done | NotDone, _) => Err(StepRefused::because(format!("is closed as {}", from.key()))),
        (Planned, Issued)
        | (Issued | PartlyDone, UnderWay)
        | (Issued | UnderWay, PartlyDone)
        | (Planned | Issued | UnderWay | PartlyDone, Done | NotDone) => Ok(()),
        (Planned, UnderWay | PartlyDone) => Err(StepRefused::because("is planned: issue it first")),
        (_, Planned | Issued | UnderWay | PartlyDone) => {
            Err(StepRefused::because(format!("is {} already", from.key())))
        }
    }
}

fn closed(order: &Order) -> StepRefused {
    StepRefused::because(format!("is closed as {}", order.state.key()))
}

/// Whether a service of that order is recorded and counts on a day.
#[must_use]
pub fn has_service(shop: &Shop, order: &Order, day: NaiveDate) -> bool {
    shop.services_of(order.spindle).iter().any(|service| {
        service.order.as_deref() == Some(order.name.as_str())
            && service.at.date <= day
            && service.replaced_on.is_none_or(|replaced| day < replaced)
    })
}

/// The order after a change of state on a day, with the day on which it was closed.
///
/// # Errors
/// The path is not a sensible one, or `done` without a recorded service.
pub fn with_state(shop: &Shop, order: &Order, to: OrderState, day: NaiveDate) -> Result<Order, StepRefused> {
    if order.is_closed() && order.state != to {
        return Err(closed(order));
    }
    may_become(order.state, to)?;
    if to == OrderState::Done && !has_service(shop, order, day) {
        return Err(StepRefused::NeedsService);
    }
    if to == OrderState::Issued && order.start.is_none() {
        return Err(StepRefused::because("has no day yet"));
    }
    let closed_on = (!to.is_open()).then(|| order.opened_on.map_or(day, |opened| opened.max(day)));
    Ok(Order { state: to, closed_on, ..order.clone() })
}

/// The change that a step makes to an order on a day.
///
/// # Errors
/// Why it is not taken.
pub fn step_action(
    shop: &Shop,
    row: &Row<OrderId, Order>,
    step: &OrderStep,
    day: NaiveDate,
) -> Result<Action, StepRefused> {
    let order = &row.value;
    let set = |order: Order| Ok(Action::Order(Change::Set(row.id, order)));
    if let Some(to) = step.target() {
        return set(with_state(shop, order, to, day)?);
    }
    if order.is_closed() {
        return Err(closed(order));
    }
    match step {
        OrderStep::TakeOff if order.state == OrderState::Planned => Ok(Action::Order(Change::Remove(row.id))),
        OrderStep::TakeOff => {
            Err(StepRefused::because(format!("is {}: close it as not done instead", order.state.key())))
        }
        OrderStep::Hold if order.held => Err(StepRefused::because("is held already")),
        OrderStep::Hold if order.start.is_none() => Err(StepRefused::because("has no place to hold yet")),
        OrderStep::Hold => set(Order { held: true, ..order.clone() }),
        OrderStep::Release if !order.held => Err(StepRefused::because("is not held")),
        OrderStep::Release => set(Order { held: false, ..order.clone() }),
        OrderStep::Assign(who) => set(with_leader(shop, row, who)?),
        // all other steps have a state as their target
        _ => set(order.clone()),
    }
}

/// The order led by somebody else.
///
/// # Errors
/// Already so, not a technician of this shop, without the skill, or at another service then.
pub(super) fn with_leader(shop: &Shop, row: &Row<OrderId, Order>, who: &str) -> Result<Order, StepRefused> {
    let order = &row.value;
    if order.technicians.first().is_some_and(|first| first == who) {
        return Err(StepRefused::because(format!("is led by {who} already")));
    }
    may_lead(shop, order, Some(row.id), who)?;
    let others = order.technicians.iter().skip(1).filter(|other| *other != who).cloned();
    let technicians = std::iter::once(who.to_owned()).chain(others).collect();
    Ok(Order { technicians, ..order.clone() })
}

/// Whether somebody may lead an order: known to the shop, with the skill, and at no other service
/// at its time. A shop without technicians takes any name.
///
/// # Errors
/// Why not.
pub fn may_lead(shop: &Shop, order: &Order, id: Option<OrderId>, who: &str) -> Result<(), StepRefused> {
    can_lead(shop, order, who)?;
    is_free(shop, order, id, who)
}

/// Whether somebody may lead such a service at all: known to the shop, and with the skill. A shop
/// without technicians takes any name.
///
/// # Errors
/// Why not.
pub fn can_lead(shop: &Shop, order: &Order, who: &str) -> Result<(), StepRefused> {
    if shop.technicians.is_empty() {
        return Ok(());
    }
    let Some(technician) = shop.technicians.iter().find(|technician| technician.name == who) else {
        return Err(StepRefused::because(format!("cannot be given to {who}, who is no technician of this shop")));
    };
    if technician.skills.contains(&order.kind) {
        return Ok(());
    }
    let kind = order.kind.key();
    Err(StepRefused::because(format!("is a {kind} service, which {who} does not lead")))
}

/// Whether somebody is at no other service at the time of an order, lockouts included.
///
/// # Errors
/// At which one.
pub fn is_free(shop: &Shop, order: &Order, id: Option<OrderId>, who: &str) -> Result<(), StepRefused> {
    match span::clash(shop, order, id, who) {
        Some(other) => Err(StepRefused::because(format!("lies at the time of {}, at which {who} is", other.name))),
        None => Ok(()),
    }
}
