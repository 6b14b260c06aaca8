//! Which services have their kit, when services compete for the same parts.
//!
//! Stock and what is on order go to services in the order of their days; a service whose parts are
//! used up by earlier ones waits for the next delivery.

use crate::interface::Interface;
use crate::service::Kind;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Whether the kit of a service is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KitReady {
    /// On the shelf.
    Here,
    /// Complete on that day.
    On(NaiveDate),
    /// A part is missing and none is on order.
    Missing,
}

impl KitReady {
    /// Whether it is there on a day.
    #[must_use]
    pub fn is_there_on(self, day: NaiveDate) -> bool {
        match self {
            Self::Here => true,
            Self::On(ready) => ready <= day,
            Self::Missing => false,
        }
    }
}

/// Parts still free, by name: what arrives when, the stock first.
#[derive(Debug, Clone, Default)]
pub struct FreeParts<'a> {
    supplies: BTreeMap<&'a str, Vec<(NaiveDate, f64)>>,
}

/// Quantities that differ by less are equal.
const CRUMB: f64 = 1e-9;

impl<'a> FreeParts<'a> {
    /// Stock and deliveries of a shop; a delivery overdue on the as-of day is expected on it at the
    /// earliest.
    #[must_use]
    pub fn of(shop: &'a Shop, as_of: NaiveDate) -> Self {
        let mut supplies: BTreeMap<&str, Vec<(NaiveDate, f64)>> = BTreeMap::new();
        for part in shop.parts.iter() {
            supplies.entry(&part.value.name).or_default().push((NaiveDate::MIN, part.on_hand.max(0.0)));
        }
        for delivery in shop.deliveries.iter() {
            let arrives = (delivery.expected_on.max(as_of), delivery.quantity.max(0.0));
            supplies.entry(&delivery.value.part).or_default().push(arrives);
        }
        for list in supplies.values_mut() {
            list.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        }
        Self { supplies }
    }

    /// Takes the kit of one service, earliest supplies first; `None` where the shop lists no kit for
    /// it. What is missing is not taken.
    pub fn take(&mut self, shop: &'a Shop, interface: &Interface, kind: Kind) -> Option<KitReady> {
        let mut needs: BTreeMap<&str, f64> = BTreeMap::new();
        for line in shop.kit_lines.iter().filter(|line| line.kind == kind && line.interface == *interface) {
            *needs.entry(&line.value.part).or_default() += line.quantity.max(0.0);
        }
        if needs.is_empty() {
            return None;
        }
        let mut ready = KitReady::Here;
        for (part, quantity) in needs {
            match take_part(self.supplies.get_mut(part), quantity) {
                None => ready = KitReady::Missing,
                Some(day) if NaiveDate::MIN < day => {
                    ready = match ready {
                        KitReady::Here => KitReady::On(day),
                        KitReady::On(known) => KitReady::On(known.max(day)),
                        KitReady::Missing => KitReady::Missing,
                    };
                }
                Some(_) => {}
            }
        }
        Some(ready)
    }
}

/// Takes so much from supplies in their order; the day of the last one needed.
fn take_part(supplies: Option<&mut Vec<(NaiveDate, f64)>>, quantity: f64) -> Option<NaiveDate> {
    if quantity <= CRUMB {
        return Some(NaiveDate::MIN);
    }
    let supplies = supplies?;
    if supplies.iter().map(|(_, free)| free).sum::<f64>() < quantity - CRUMB {
        return None;
    }
    let (mut open, mut day) = (quantity, NaiveDate::MIN);
    for (arrives, free) in supplies.iter_mut() {
        if open <= CRUMB {
            break;
        }
        let taken = open.min(*free);
        if taken > 0.0 {
            *free -= taken;
            open -= taken;
            day = day.max(*arrives);
        }
    }
    Some(day)
}
