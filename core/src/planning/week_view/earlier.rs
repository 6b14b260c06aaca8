//! Open orders whose place lies before the plan: work begun, and work of which nobody has said yet
//! what came of it.

use super::super::proposal::ServiceKey;
use crate::ids::OrderId;
use crate::order::OrderState;
use crate::service::Kind;
use crate::shop::Shop;
use crate::words::{capital, count_words, date_long, date_weekday};
use chrono::NaiveDate;

/// An open order from before the first day of the plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EarlierOrder {
    /// Which service.
    pub service: ServiceKey,
    /// The order.
    pub order: OrderId,
    /// Its number.
    pub number: String,
    /// How far it is.
    pub state: OrderState,
    /// Where the spindle sits; its own name where it sits nowhere.
    pub position: String,
    /// Name of the spindle.
    pub name: String,
    /// Whether it sits in a machine: only then it has windows to go to.
    pub is_mounted: bool,
    /// Which service.
    pub kind: Kind,
    /// The day of the shop on which it stands.
    pub day: NaiveDate,
    /// Who does it.
    pub technicians: Vec<String>,
}

impl EarlierOrder {
    /// Since when it is so, such as `issued, was to start on Thursday 26 February`.
    #[must_use]
    pub fn stands(&self, as_of: NaiveDate) -> String {
        let day = date_weekday(self.day, as_of);
        match self.state {
            OrderState::UnderWay => format!("under way since {day}"),
            OrderState::PartlyDone => format!("partly done, begun on {day}"),
            state => format!("{}, was to start on {day}", state.key()),
        }
    }

    /// What to do next, in one sentence.
    #[must_use]
    pub fn next(&self) -> &'static str {
        match (self.state, self.is_mounted) {
            (OrderState::UnderWay, _) => "Say what came of it.",
            (OrderState::PartlyDone, true) => "Give what is left a later window, or close it.",
            (OrderState::PartlyDone, false) => "Close it: its spindle sits in no machine.",
            (_, true) => "Say whether it was done, or give it a later window.",
            (_, false) => "Say whether it was done: its spindle sits in no machine.",
        }
    }

    /// Whether nobody works at it, so that somebody has to say what comes next.
    #[must_use]
    pub const fn needs_action(&self) -> bool {
        !matches!(self.state, OrderState::UnderWay)
    }

    /// Why it cannot be given another window as it stands; `None`: it can.
    #[must_use]
    pub fn stays_because(&self) -> Option<String> {
        if self.state == OrderState::UnderWay {
            let number = &self.number;
            return Some(format!(
                "order {number} is under way: say first that it is partly done, then the rest is moved"
            ));
        }
        (!self.is_mounted).then(|| format!("{} sits in no machine, so there is no window for it", self.name))
    }

    /// All about it, as the read-out and a screen reader say it.
    #[must_use]
    pub fn sentence(&self, as_of: NaiveDate) -> String {
        let who = if self.technicians.is_empty() { "nobody named".to_owned() } else { self.technicians.join(" and ") };
        let spindle = if self.is_mounted { format!(", spindle {}", self.name) } else { ", not mounted".to_owned() };
        format!(
            "{}{spindle}, {} service, {who}; order {}, {}. {}",
            self.position,
            self.kind.key(),
            self.number,
            self.stands(as_of),
            self.next()
        )
    }
}

/// The open orders that stand before a day, the oldest first.
#[must_use]
pub fn earlier(shop: &Shop, as_of: NaiveDate) -> Vec<EarlierOrder> {
    let mut found: Vec<EarlierOrder> = shop
        .orders
        .iter()
        .filter(|row| row.is_open_on(as_of))
        .filter_map(|row| {
            let day = shop.settings.day_of_start(row.start?);
            let spindle = shop.spindles.get(&row.spindle)?;
            let position = shop.position_on(row.spindle, as_of);
            (day < as_of).then(|| EarlierOrder {
                service: ServiceKey { spindle: row.spindle, order: Some(row.id) },
                order: row.id,
                number: row.name.clone(),
                state: row.state,
                position: position.map_or_else(|| spindle.name.clone(), |position| shop.position_label(position)),
                name: spindle.name.clone(),
                is_mounted: position.is_some(),
                kind: row.kind,
                day,
                technicians: row.technicians.clone(),
            })
        })
        .collect();
    found.sort_by(|a, b| (a.day, &a.position, &a.number).cmp(&(b.day, &b.position, &b.number)));
    found
}

/// How many there are, as a sentence; empty without any.
#[must_use]
pub(super) fn earlier_words(earlier: &[EarlierOrder], as_of: NaiveDate) -> String {
    let day = date_long(as_of, as_of);
    match earlier.iter().filter(|order| order.needs_action()).count() {
        0 => String::new(),
        1 => format!("One order from before {day} is still open."),
        many => format!("{} orders from before {day} are still open.", capital(&count_words(many))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{Row, SpindleId};
    use crate::interface::Interface;
    use crate::moment::{Moment, parse_iso_date};
    use crate::order::Order;
    use crate::settings::ShopSettings;
    use crate::spindle::Spindle;
    use crate::units::Kilonewtons;
    use std::sync::Arc;

    fn shop(orders: &[(&str, OrderState, &str)]) -> Shop {
        let force = Kilonewtons::new(18.0).unwrap();
        let spindle = Spindle::named("S-0117", Interface::parse("HSK-A63").unwrap(), force);
        let orders = orders.iter().enumerate().map(|(nth, (name, state, start))| Row {
            id: OrderId::from_row(nth as i64 + 1),
            value: Order {
                name: (*name).to_owned(),
                spindle: SpindleId::from_row(1),
                kind: Kind::Minor,
                state: *state,
                opened_on: None,
                service_by: None,
                start: Moment::parse(start),
                duration: None,
                technicians: vec!["Brook".to_owned()],
                held: false,
                closed_on: None,
                note: String::new(),
            },
        });
        Shop {
            orders: Arc::new(orders.collect()),
            spindles: Arc::new([(SpindleId::from_row(1), spindle)].into_iter().collect()),
            settings: Arc::new(ShopSettings {
                day_begins: chrono::NaiveTime::from_hms_opt(6, 0, 0).unwrap(),
                ..ShopSettings::default()
            }),
            ..Shop::default()
        }
    }

    #[test]
    fn open_orders_from_before_the_day_are_told_with_what_to_do() {
        let shop = shop(&[
            ("26-001", OrderState::Issued, "2026-02-26T07:00"),
            ("26-002", OrderState::Done, "2026-02-25T07:00"),
            ("26-003", OrderState::UnderWay, "2026-02-25T07:00"),
            ("26-004", OrderState::Planned, "2026-03-02T07:00"),
            ("26-005", OrderState::PartlyDone, "2026-02-24"),
            // a night shift that began on the day before
            ("26-006", OrderState::Planned, "2026-03-02T02:00"),
        ]);
        let as_of = parse_iso_date("2026-03-02").unwrap();
        let found = earlier(&shop, as_of);
        let numbers: Vec<&str> = found.iter().map(|order| order.number.as_str()).collect();
        assert_eq!(numbers, ["26-005", "26-003", "26-001", "26-006"]);
        assert_eq!(
            found[2].sentence(as_of),
            "S-0117, not mounted, minor service, Brook; order 26-001, issued, was to start on Thursday 26 February. \
             Say whether it was done: its spindle sits in no machine."
        );
        assert_eq!(found[1].stands(as_of), "under way since Wednesday 25 February");
        assert!(found[1].stays_because().unwrap().contains("partly done"));
        assert_eq!(earlier_words(&found, as_of), "Three orders from before 2 March are still open.");
        assert_eq!(earlier_words(&found[1..2], as_of), "", "what is being worked at waits for nobody");
    }
}
