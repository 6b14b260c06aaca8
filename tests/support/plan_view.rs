//! A week plan made by hand over the shop of [`crate::due_list`]: ten services booked or
//! proposed, one left, for tests of the page that must not hang on the search behind the plan.

use crate::due_list::{self, DueFixture, as_of};
use almanac_core::ids::{DowntimeId, OrderId, Row, SpindleId};
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::planning::problem::LeftReason;
use almanac_core::planning::proposal::{
    BrokenRule, Costs, LeftService, PlacedService, Placement, PlanChange, PlanChangeKind, Proposal, ServiceKey, Tray,
    Weighed,
};
use almanac_core::planning::week_view::WeekView;
use almanac_core::service::Kind;
use almanac_core::units::{Money, Percent, RunHours};
use chrono::{Days, NaiveDate, NaiveDateTime, TimeDelta};
use std::sync::Arc;

/// The shop and its plans.
#[derive(Debug, Clone)]
pub struct PlanFixture {
    /// The shop with its due list.
    pub due: DueFixture,
    /// Downtime windows.
    pub trays: Vec<Tray>,
    /// What is booked.
    pub booked: Proposal,
    /// What is proposed over it.
    pub proposed: Proposal,
}

/// Hall, day (month, day), first hour, hours, stop factor.
type ShortTray = (&'static str, (u32, u32), u32, u32, f64);

const TRAYS: [ShortTray; 15] = [
    ("Turning hall", (3, 2), 8, 6, 100.0),
    ("Router hall", (3, 7), 7, 6, 15.0),
    ("Mould hall", (3, 7), 7, 4, 15.0),
    ("Router hall", (3, 14), 7, 6, 15.0),
    ("Mould hall", (3, 14), 7, 4, 15.0),
    ("Router hall", (3, 19), 12, 2, 40.0),
    ("Mould hall", (3, 21), 7, 4, 15.0),
    ("Router hall", (3, 28), 7, 6, 15.0),
    ("Turning hall", (3, 28), 7, 4, 15.0),
    ("Mould hall", (3, 31), 12, 2, 40.0),
    ("Router hall", (4, 11), 7, 6, 15.0),
    ("Mould hall", (4, 11), 7, 4, 15.0),
    ("Turning hall", (4, 18), 7, 4, 15.0),
    ("Router hall", (4, 25), 7, 6, 15.0),
    ("Mould hall", (4, 25), 7, 6, 15.0),
];

fn day(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, month, day).unwrap_or_default()
}

fn percent(value: f64) -> Percent {
    Percent::new(value).unwrap_or_default()
}

/// An amount.
#[must_use]
pub fn money(value: f64) -> Money {
    Money::new(value).unwrap_or_default()
}

fn trays() -> Vec<Tray> {
    TRAYS
        .into_iter()
        .enumerate()
        .map(|(nth, (hall, (month, of_month), from, hours, factor))| {
            let start = day(month, of_month).and_hms_opt(from, 0, 0).unwrap_or_default();
            Tray {
                downtime: DowntimeId::from_row(nth as i64 + 1),
                hall: hall.to_owned(),
                machine: None,
                start,
                end: start + TimeDelta::hours(i64::from(hours)),
                what: if factor < 50.0 { "Saturday".to_owned() } else { "running shift".to_owned() },
                stop_factor: percent(factor),
                premium_per_hour: money(if factor < 20.0 { 14.0 } else { 0.0 }),
            }
        })
        .collect()
}

/// The place of a row of the due list that sits there, from an hour after the start of its tray.
fn placed(due: &DueFixture, trays: &[Tray], position: &str, tray: usize, after: i64, who: &str) -> PlacedService {
    let row = due.due.rows.iter().find(|row| row.position.as_deref() == Some(position));
    let start = trays.get(tray).map(|tray| tray.start).unwrap_or_default() + TimeDelta::hours(after);
    let minutes = if position == "T-04" { 330 } else { 90 };
    PlacedService {
        spindle: row.map_or_else(|| SpindleId::from_row(0), |row| row.spindle),
        kind: if position == "T-04" { Kind::Major } else { Kind::Minor },
        minutes,
        order: None,
        place: Placement {
            tray: Some(tray),
            start,
            end: start + TimeDelta::minutes(minutes + 30),
            technicians: vec![who.to_owned()],
        },
        held: false,
        service_by: row.and_then(|row| row.forecast.service_by),
        moved_from: None,
        costs: Costs {
            stop: money(58.0),
            risk: money(96.0),
            early: money(14.0),
            visit: money(60.0),
            ..Costs::default()
        },
        chance_crossed: percent(6.0),
        why: "The last window before its service-by date.".to_owned(),
    }
}

fn plan(placed: Vec<PlacedService>, left: Vec<LeftService>, changes: Vec<PlanChange>) -> Proposal {
    Proposal {
        as_of: as_of(),
        last: as_of().checked_add_days(Days::new(181)).unwrap_or_default(),
        placed,
        left,
        costs: Costs { stop: money(3_000.0), risk: money(1_310.0), ..Costs::default() },
        cheapest_possible: Some(money(4_280.0)),
        changes,
        remarks: Vec::new(),
        clashes: Vec::new(),
    }
}

/// Gives a booked service its order, in the shop too.
fn with_order(due: &mut DueFixture, mut service: PlacedService, number: i64, state: OrderState) -> PlacedService {
    let id = OrderId::from_row(number);
    service.order = Some(id);
    service.held |= state == OrderState::Issued;
    let start: NaiveDateTime = service.place.start;
    let value = Order {
        name: format!("26-{number:03}"),
        spindle: service.spindle,
        kind: service.kind,
        state,
        opened_on: Some(as_of()),
        service_by: service.service_by,
        start: Some(Moment { date: start.date(), time: Some(start.time()) }),
        duration: RunHours::new(service.minutes as f64 / 60.0),
        technicians: service.place.technicians.clone(),
        held: service.held,
        closed_on: None,
        note: String::new(),
    };
    Arc::make_mut(&mut due.shop.orders).push(Row { id, value });
    service
}

/// Six booked services; a proposal that moves R-09 and adds and M-02; M-06 stays left.
#[must_use]
pub fn plan_fixture() -> PlanFixture {
    let mut due = due_list::twenty_seven();
    Arc::make_mut(&mut due.shop.settings).currency = "EUR".to_owned();
    Arc::make_mut(&mut due.shop.settings).accepted_risk = 0.1;
    let trays = trays();
    let at = |due: &DueFixture, position: &str, tray, after, who| placed(due, &trays, position, tray, after, who);
    let t04 = at(&due, "T-04", 0, 0, "Brook");
    let t04 = with_order(&mut due, t04, 36, OrderState::Issued);
    let r07 = at(&due, "R-07/1", 1, 0, "Thorne");
    let r07 = with_order(&mut due, r07, 38, OrderState::Planned);
    let r04 = PlacedService { held: true, ..at(&due, "R-04", 3, 0, "Thorne") };
    let r04 = with_order(&mut due, r04, 41, OrderState::Planned);
    let r09 = at(&due, "R-09", 3, 2, "Aldous");
    let r09 = with_order(&mut due, r09, 43, OrderState::Planned);
    let r03 = at(&due, "R-03/2", 10, 0, "Thorne");
    let r03 = with_order(&mut due, r03, 44, OrderState::Planned);
    let m01 = at(&due, "M-01", 14, 0, "Marlow");
    let m01 = with_order(&mut due, m01, 46, OrderState::Planned);
    let booked = [t04, r07, r04, r09.clone(), r03, m01].to_vec();

    let moved = PlacedService {
        place: at(&due, "R-09", 7, 2, "Aldous").place,
        moved_from: Some(r09.place.start),
        ..r09.clone()
    };
    let added = [at(&due, "M-02", 2, 0, "Marlow"), at(&due, "R-01", 7, 0, "Aldous"), at(&due, "R-08", 7, 4, "Aldous")];
    let mut proposed: Vec<PlacedService> = booked.iter().filter(|one| one.spindle != r09.spindle).cloned().collect();
    let change = |service: &PlacedService, kind, why: &str| PlanChange {
        spindle: service.spindle,
        order: service.order,
        kind,
        why: why.to_owned(),
    };
    let mut changes = vec![change(&moved, PlanChangeKind::Moved, "shares a visit with R-01, saves €60")];
    changes.extend(added.iter().map(|service| change(service, PlanChangeKind::Added, "same visit")));
    proposed.push(moved);
    proposed.extend(added);
    proposed.sort_by_key(|service| (service.place.start, service.spindle));
    let m06 = due.due.rows.iter().find(|row| row.position.as_deref() == Some("M-06"));
    let left = LeftService {
        spindle: m06.map_or_else(|| SpindleId::from_row(0), |row| row.spindle),
        kind: Kind::Minor,
        minutes: 90,
        order: None,
        service_by: m06.and_then(|row| row.forecast.service_by),
        reason: LeftReason::Parts,
        words: "The HSK-A63 kit arrives Thu 26 March, after the last window, Sat 21 March.".to_owned(),
        cost: money(2_000.0),
        for_next_plan: false,
    };
    let booked = plan(booked, vec![left.clone()], Vec::new());
    let proposed = plan(proposed, vec![left], changes);
    PlanFixture { due, trays, booked, proposed }
}

impl PlanFixture {
    /// As the page shows it, with the proposal or without.
    #[must_use]
    pub fn view(&self, with_proposal: bool) -> WeekView {
        let proposed = with_proposal.then_some(&self.proposed);
        let figures = (&self.due.forecast, &self.due.due);
        WeekView::of(&self.due.shop, figures, &self.trays, &self.booked, proposed)
    }

    /// The spindle in a position.
    ///
    /// # Panics
    /// Nothing sits there.
    #[must_use]
    pub fn spindle(&self, position: &str) -> SpindleId {
        let rows = &self.due.due.rows;
        rows.iter().find(|row| row.position.as_deref() == Some(position)).expect("a position of the list").spindle
    }

    /// The service of a spindle in a position: as proposed, else as booked or left.
    ///
    /// # Panics
    /// Nothing is due there.
    #[must_use]
    pub fn service(&self, position: &str) -> ServiceKey {
        let spindle = self.spindle(position);
        let placed = self.proposed.placed.iter().chain(&self.booked.placed).map(PlacedService::key);
        let mut all = placed.chain(self.proposed.left.iter().map(LeftService::key));
        all.find(|service| service.spindle == spindle).expect("a service of the plan")
    }

    /// A second open order of a spindle, in another tray: it keeps its place.
    ///
    /// # Panics
    /// Nothing is due there.
    pub fn add_further(&mut self, position: &str, number: i64, tray: usize, after: i64) {
        let service = PlacedService { held: true, ..placed(&self.due, &self.trays, position, tray, after, "Aldous") };
        let mut service = with_order(&mut self.due, service, number, OrderState::Planned);
        service.why = "Its spindle waits for another order first: it stays where it is.".to_owned();
        if let Some(row) = Arc::make_mut(&mut self.due.shop.orders).last_mut() {
            row.value.held = false;
        }
        for plan in [&mut self.booked, &mut self.proposed] {
            plan.placed.push(service.clone());
            plan.placed.sort_by_key(|service| (service.place.start, service.spindle));
        }
    }

    /// An order of a spindle from so many days before the plan, as the plan stands to it: a held one
    /// is placed there, a planned one has no place.
    ///
    /// # Panics
    /// Nothing sits there.
    pub fn add_earlier(&mut self, position: &str, number: i64, state: OrderState, days_ago: i64) {
        let mut service = placed(&self.due, &self.trays, position, 0, 0, "Marlow");
        let start = as_of().and_hms_opt(7, 0, 0).unwrap_or_default() - TimeDelta::days(days_ago);
        service.place = Placement { tray: None, start, end: start + TimeDelta::minutes(90), ..service.place };
        service.held = state != OrderState::Planned;
        let service = with_order(&mut self.due, service, number, state);
        if service.held {
            for plan in [&mut self.booked, &mut self.proposed] {
                plan.placed.insert(0, service.clone());
            }
        }
    }

    /// A place in a tray, weighed, with rules that it breaks.
    #[must_use]
    pub fn weighed(&self, position: &str, tray: usize, broken: Vec<BrokenRule>) -> Weighed {
        let service = placed(&self.due, &self.trays, position, tray, 0, "Marlow");
        Weighed {
            here: service.costs,
            there: Costs { risk: money(412.0), moved: money(40.0), ..service.costs },
            chance_here: percent(6.0),
            chance_there: percent(24.0),
            place: service.place,
            broken,
        }
    }
}
