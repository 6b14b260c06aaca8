//! Which service of a plan is meant: one spindle may have several open orders.

use super::proposal::{LeftService, PlacedService, PlanChange};
use crate::ids::{OrderId, SpindleId};

/// A service of a plan: the spindle, and the order where there is one already.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ServiceKey {
    /// The spindle.
    pub spindle: SpindleId,
    /// Its open order; `None`: not booked yet.
    pub order: Option<OrderId>,
}

impl ServiceKey {
    /// Whether another key may mean the same service: an order that was opened since one of them was
    /// taken is no other service.
    #[must_use]
    pub fn may_be(self, other: Self) -> bool {
        self == other || (self.spindle == other.spindle && (self.order.is_none() || other.order.is_none()))
    }
}

impl PlacedService {
    /// Which service it is.
    #[must_use]
    pub const fn key(&self) -> ServiceKey {
        ServiceKey { spindle: self.spindle, order: self.order }
    }
}

impl LeftService {
    /// Which service it is.
    #[must_use]
    pub const fn key(&self) -> ServiceKey {
        ServiceKey { spindle: self.spindle, order: self.order }
    }
}

impl PlanChange {
    /// Which service it is about.
    #[must_use]
    pub const fn key(&self) -> ServiceKey {
        ServiceKey { spindle: self.spindle, order: self.order }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_order_opened_since_is_no_other_service_but_two_orders_are_two() {
        let key = |spindle: i64, order: Option<i64>| ServiceKey {
            spindle: SpindleId::from_row(spindle),
            order: order.map(OrderId::from_row),
        };
        assert!(key(1, None).may_be(key(1, Some(7))));
        assert!(key(1, Some(7)).may_be(key(1, Some(7))));
        assert!(!key(1, Some(7)).may_be(key(1, Some(8))));
        assert!(!key(1, None).may_be(key(2, None)));
    }
}
