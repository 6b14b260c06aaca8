//! Handing out what is planned.

use super::blocks::{PlanBlock, Standing};
use crate::actions::{Action, Change};
use crate::ids::OrderId;
use crate::order::OrderState;
use crate::shop::Shop;

/// The orders of blocks that can be issued: planned ones that stand where they are booked. What a
/// proposal would put elsewhere is accepted first, or one place is looked at and another handed out.
#[must_use]
pub fn issuable<'b>(blocks: impl IntoIterator<Item = &'b PlanBlock>) -> Vec<OrderId> {
    blocks
        .into_iter()
        .filter(|block| block.standing == Standing::Booked)
        .filter_map(|block| block.order.as_ref())
        .filter(|order| order.state == OrderState::Planned)
        .map(|order| order.id)
        .collect()
}

/// Issues planned orders as one step; `None` where none of them can be issued.
#[must_use]
pub fn issue(shop: &Shop, orders: &[OrderId]) -> Option<Action> {
    let rows: Vec<_> = shop
        .orders
        .iter()
        .filter(|row| orders.contains(&row.id) && row.state == OrderState::Planned && row.start.is_some())
        .collect();
    let label = match rows.as_slice() {
        [] => return None,
        [one] => format!("Issue order {}", one.name),
        many => format!("Issue {} orders", many.len()),
    };
    let changes = rows.into_iter().map(|row| {
        let mut order = row.value.clone();
        order.state = OrderState::Issued;
        Action::Order(Change::Set(row.id, order))
    });
    Some(Action::Together(label, changes.collect()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{Row, SpindleId};
    use crate::moment::Moment;
    use crate::order::Order;
    use crate::service::Kind;
    use std::sync::Arc;

    fn order(row: i64, state: OrderState, start: Option<&str>) -> Row<OrderId, Order> {
        let value = Order {
            name: format!("26-{row:03}"),
            spindle: SpindleId::from_row(row),
            kind: Kind::Minor,
            state,
            opened_on: None,
            service_by: None,
            start: start.and_then(Moment::parse),
            duration: None,
            technicians: Vec::new(),
            held: false,
            closed_on: None,
            note: String::new(),
        };
        Row { id: OrderId::from_row(row), value }
    }

    #[test]
    fn planned_orders_with_a_start_are_issued_together() {
        let orders = Arc::new(vec![
            order(1, OrderState::Planned, Some("2026-03-14T07:00")),
            order(2, OrderState::Issued, Some("2026-03-14T07:00")),
            order(3, OrderState::Planned, None),
            order(4, OrderState::Planned, Some("2026-03-21T07:00")),
        ]);
        let shop = Shop { orders, ..Shop::default() };
        let ids: Vec<OrderId> = (1..=4).map(OrderId::from_row).collect();
        let Some(Action::Together(label, changes)) = issue(&shop, &ids) else { panic!("something can be issued") };
        assert_eq!((label.as_str(), changes.len()), ("Issue 2 orders", 2));
        assert!(issue(&shop, &ids[1..3]).is_none());
        let Some(Action::Together(label, _)) = issue(&shop, &ids[..1]) else { panic!("one can be issued") };
        assert_eq!(label, "Issue order 26-001");
    }
}
