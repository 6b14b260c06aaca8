//! Services in their trays, as booked and as proposed.

use super::super::proposal::{PlacedService, Proposal, ServiceKey};
use crate::due::{DueList, Mark};
use crate::ids::{MachineId, OrderId, SpindleId};
use crate::order::OrderState;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// How a block stands against what is booked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It is booked so.
    Booked,
    /// Proposed; it has no place yet.
    Added,
    /// Proposed; it is booked in another window.
    MovedHere,
    /// Booked here; the proposal puts it elsewhere.
    MovedAway,
    /// Proposed: same window, another time or other people.
    Rearranged,
    /// Booked here; the proposal takes it off the plan.
    TakenOff,
}

impl Standing {
    /// Whether the proposal changes something here that is not accepted yet.
    #[must_use]
    pub const fn is_open(self) -> bool {
        !matches!(self, Self::Booked)
    }

    /// Whether it is where the service stands if nothing is accepted.
    #[must_use]
    pub const fn is_left_behind(self) -> bool {
        matches!(self, Self::MovedAway | Self::TakenOff)
    }

    /// The word on the block; empty for what is booked.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Booked => "",
            Self::Added => "proposed",
            Self::MovedHere => "moved here",
            Self::MovedAway => "from here",
            Self::Rearranged => "another time",
            Self::TakenOff => "taken off",
        }
    }
}

/// The order behind a block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BlockOrder {
    /// The order.
    pub id: OrderId,
    /// Its number.
    pub name: String,
    /// How far it is.
    pub state: OrderState,
    /// The planner fixed it.
    pub held: bool,
}

impl BlockOrder {
    /// Whether the work has begun.
    #[must_use]
    pub const fn has_begun(&self) -> bool {
        matches!(self.state, OrderState::UnderWay | OrderState::PartlyDone)
    }
}

/// A service in a tray.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanBlock {
    /// Name of the spindle.
    pub name: String,
    /// Where the spindle sits, such as `R-07/1`; its own name where it sits nowhere.
    pub position: String,
    /// Its machine.
    pub machine: Option<MachineId>,
    /// Its hall; empty where it sits nowhere.
    pub hall: String,
    /// The day of the shop on which it starts: in a night shift the one before midnight.
    pub day: NaiveDate,
    /// Its state.
    pub mark: Mark,
    /// The planner's first day for it, where that lies ahead.
    pub not_before: Option<NaiveDate>,
    /// How it stands against what is booked.
    pub standing: Standing,
    /// Its open order.
    pub order: Option<BlockOrder>,
    /// The service with its place.
    pub service: PlacedService,
}

impl PlanBlock {
    /// The spindle.
    #[must_use]
    pub const fn spindle(&self) -> SpindleId {
        self.service.spindle
    }

    /// Which service it is.
    #[must_use]
    pub const fn key(&self) -> ServiceKey {
        self.service.key()
    }

    /// Whether the planner fixed its order.
    #[must_use]
    pub fn is_held(&self) -> bool {
        self.order.as_ref().map_or(self.service.held, |order| order.held)
    }

    /// Whether it stays only since its spindle waits for another order first.
    #[must_use]
    pub fn is_kept(&self) -> bool {
        self.service.held
            && !self.is_held()
            && self.order.as_ref().is_some_and(|order| order.state == OrderState::Planned)
    }

    /// Whether it starts before the day from which on the planner wants it done.
    #[must_use]
    pub fn is_too_early(&self) -> bool {
        self.not_before.is_some_and(|day| self.day < day)
    }

    /// Whether it starts after its service-by date.
    #[must_use]
    pub fn is_late(&self) -> bool {
        self.service.service_by.is_some_and(|by| by < self.day)
    }

    /// Whether the service is due by now.
    #[must_use]
    pub fn is_due_now(&self, as_of: NaiveDate) -> bool {
        self.service.service_by.is_some_and(|by| by <= as_of)
    }

    /// Whether its order is handed out or being worked on: only its number moves it then.
    #[must_use]
    pub fn is_issued(&self) -> bool {
        self.order.as_ref().is_some_and(|order| matches!(order.state, OrderState::Issued | OrderState::UnderWay))
    }
}

/// All blocks: what is booked, and what a proposal would make of it, by start and position.
#[must_use]
pub fn blocks(shop: &Shop, due: &DueList, booked: &Proposal, proposed: Option<&Proposal>) -> Vec<PlanBlock> {
    let maker = Maker::new(shop, due);
    let Some(proposed) = proposed else {
        return sorted(booked.placed.iter().map(|service| maker.block(service, Standing::Booked)).collect());
    };
    let mut before: Vec<&PlacedService> = booked.placed.iter().collect();
    // those that are surely the same first, so that none takes the place of another
    let sure: Vec<Option<&PlacedService>> =
        proposed.placed.iter().map(|service| take(&mut before, |one| one.key() == service.key())).collect();
    let mut blocks = Vec::with_capacity(proposed.placed.len());
    for (service, sure) in proposed.placed.iter().zip(sure) {
        let there = sure.or_else(|| take(&mut before, |one| one.key().may_be(service.key())));
        let standing = match there {
            None => Standing::Added,
            Some(there) if is_same(there, service) => Standing::Booked,
            Some(there) if there.place.tray == service.place.tray && there.place.tray.is_some() => Standing::Rearranged,
            Some(there) => {
                blocks.push(maker.block(there, Standing::MovedAway));
                Standing::MovedHere
            }
        };
        blocks.push(maker.block(service, standing));
    }
    blocks.extend(before.into_iter().map(|service| maker.block(service, Standing::TakenOff)));
    sorted(blocks)
}

/// Takes the first booked service that fits out of those that are left.
fn take<'p>(booked: &mut Vec<&'p PlacedService>, fits: impl Fn(&PlacedService) -> bool) -> Option<&'p PlacedService> {
    booked.iter().position(|one| fits(one)).map(|index| booked.remove(index))
}

fn is_same(a: &PlacedService, b: &PlacedService) -> bool {
    (a.place.start, &a.place.technicians) == (b.place.start, &b.place.technicians)
}

fn sorted(mut blocks: Vec<PlanBlock>) -> Vec<PlanBlock> {
    blocks.sort_by(|a, b| {
        (a.service.place.start, &a.position, a.standing.is_left_behind()).cmp(&(
            b.service.place.start,
            &b.position,
            b.standing.is_left_behind(),
        ))
    });
    blocks
}

/// What blocks are put together from.
struct Maker<'a> {
    shop: &'a Shop,
    as_of: NaiveDate,
    marks: BTreeMap<SpindleId, Mark>,
}

impl<'a> Maker<'a> {
    fn new(shop: &'a Shop, due: &DueList) -> Self {
        let marks = due.rows.iter().map(|row| (row.spindle, row.mark)).collect();
        Self { shop, as_of: due.as_of, marks }
    }

    fn block(&self, service: &PlacedService, standing: Standing) -> PlanBlock {
        let name = self.shop.spindles.get(&service.spindle).map(|spindle| spindle.name.clone()).unwrap_or_default();
        let position = self.shop.position_on(service.spindle, self.as_of);
        let machine = position.map(|position| position.machine);
        let order = service.order.and_then(|id| {
            let row = self.shop.orders.iter().find(|row| row.id == id)?;
            Some(BlockOrder { id, name: row.name.clone(), state: row.state, held: row.held })
        });
        let mut block = PlanBlock {
            not_before: self.shop.ready_day(service.spindle, self.as_of),
            position: position.map_or_else(|| name.clone(), |position| self.shop.position_label(position)),
            hall: machine
                .and_then(|machine| self.shop.machines.get(&machine))
                .map(|machine| machine.hall.clone())
                .unwrap_or_default(),
            machine,
            day: self.shop.settings.day_of(service.place.start),
            name,
            mark: self.marks.get(&service.spindle).copied().unwrap_or(Mark::Clear),
            standing,
            order,
            service: service.clone(),
        };
        if block.is_kept() || block.order.as_ref().is_some_and(|order| order.has_begun()) {
            block.not_before = None;
        }
        block
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::proposal::{Costs, Placement};
    use super::*;
    use crate::moment::parse_iso_date;
    use crate::service::Kind;
    use crate::units::Percent;

    fn placed(spindle: i64, tray: usize, day: &str, hour: u32) -> PlacedService {
        let start = parse_iso_date(day).unwrap().and_hms_opt(hour, 0, 0).unwrap();
        PlacedService {
            spindle: SpindleId::from_row(spindle),
            kind: Kind::Minor,
            minutes: 90,
            order: None,
            place: Placement {
                tray: Some(tray),
                start,
                end: start + chrono::TimeDelta::minutes(120),
                technicians: vec!["Brook".to_owned()],
            },
            held: false,
            service_by: None,
            moved_from: None,
            costs: Costs::default(),
            chance_crossed: Percent::ZERO,
            why: String::new(),
        }
    }

    fn plan(placed: Vec<PlacedService>) -> Proposal {
        let day = parse_iso_date("2026-03-02").unwrap();
        Proposal {
            as_of: day,
            last: day,
            placed,
            left: Vec::new(),
            costs: Costs::default(),
            cheapest_possible: None,
            changes: Vec::new(),
            remarks: Vec::new(),
            clashes: Vec::new(),
        }
    }

    #[test]
    fn each_service_stands_as_the_proposal_changes_it() {
        let shop = Shop::default();
        let due = DueList {
            as_of: parse_iso_date("2026-03-02").unwrap(),
            booking_horizon_days: 60,
            rows: Vec::new(),
            lead: crate::due::LeadLine::default(),
            worth_reading: Vec::new(),
        };
        let booked = plan(vec![
            placed(1, 0, "2026-03-07", 7),
            placed(2, 0, "2026-03-07", 9),
            placed(3, 1, "2026-03-14", 7),
            placed(4, 1, "2026-03-14", 9),
        ]);
        let proposed = plan(vec![
            placed(1, 0, "2026-03-07", 7),
            placed(2, 0, "2026-03-07", 11),
            placed(3, 0, "2026-03-07", 9),
            placed(5, 1, "2026-03-14", 7),
        ]);
        let stand = |plan: Option<&Proposal>| -> Vec<(i64, Standing)> {
            blocks(&shop, &due, &booked, plan).iter().map(|block| (block.spindle().row(), block.standing)).collect()
        };
        assert_eq!(
            stand(Some(&proposed)),
            [
                (1, Standing::Booked),
                (3, Standing::MovedHere),
                (2, Standing::Rearranged),
                (5, Standing::Added),
                (3, Standing::MovedAway),
                (4, Standing::TakenOff),
            ]
        );
        assert!(stand(None).iter().all(|(_, standing)| *standing == Standing::Booked));
    }

    #[test]
    fn two_orders_of_one_spindle_are_two_services_wherever_they_stand() {
        let of = |order: i64, tray: usize, day: &str| PlacedService {
            order: Some(OrderId::from_row(order)),
            ..placed(1, tray, day, 7)
        };
        let due = DueList {
            as_of: parse_iso_date("2026-03-02").unwrap(),
            booking_horizon_days: 60,
            rows: Vec::new(),
            lead: crate::due::LeadLine::default(),
            worth_reading: Vec::new(),
        };
        // the first order goes where the second one stood, which is no move of the second
        let booked = plan(vec![of(1, 0, "2026-03-07"), of(2, 1, "2026-03-14")]);
        let proposed = plan(vec![of(1, 1, "2026-03-14"), of(2, 1, "2026-03-14")]);
        let blocks = blocks(&Shop::default(), &due, &booked, Some(&proposed));
        let stand: Vec<(i64, Standing)> =
            blocks.iter().map(|block| (block.key().order.unwrap().row(), block.standing)).collect();
        assert_eq!(stand, [(1, Standing::MovedAway), (1, Standing::MovedHere), (2, Standing::Booked)]);
    }
}
