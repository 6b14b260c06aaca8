//! From a shop and its forecast to a planning problem, and back to the shop's own names and dates.
//!
//! * [`days`](self): days of the shop, windows cut into trays, shifts, stock and gauges in whole numbers.
//! * Due is every mounted spindle whose service-by date lies in the horizon and that has no service
//!   under way, and every open order.

mod curves;
mod days;
mod jobs;
mod orders;
mod people;
mod stock;
mod trays;

pub(super) use days::Grid;
pub(super) use stock::{PlanPart, gauges, kit, part, taken};
pub(super) use trays::money;

use super::problem::{Job, Line, Plan, PlanWindow, Problem};
use super::proposal::{PlacedService, PlanningConfig, ServiceKey, Tray};
use crate::due::{DueList, Mark};
use crate::forecast::{GoverningLimit, ShopForecast, SpindleForecast};
use crate::ids::{MachineId, OrderId, SpindleId};
use crate::machine::Machine;
use crate::order::OrderState;
use crate::service::Kind;
use crate::shop::Shop;
use crate::units::{Money, Quantity};
use chrono::{NaiveDate, NaiveDateTime};
use std::collections::BTreeMap;
use std::sync::Arc;
use trays::CutWindow;

/// The longest plan, in weeks: five years, as far as a forecast looks.
const MOST_WEEKS: u32 = 260;

/// A service that the plan is about.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanService {
    /// The spindle.
    pub spindle: SpindleId,
    /// The machine in which it sits.
    pub machine: MachineId,
    /// Where it sits, such as `R-07/1`.
    pub position: String,
    /// The hall.
    pub hall: String,
    /// Which service.
    pub kind: Kind,
    /// Working minutes without lockout.
    pub minutes: i64,
    /// How many people.
    pub crew: usize,
    /// Its open order, where there is one.
    pub order: Option<OrderId>,
    /// How far that is.
    pub state: Option<OrderState>,
    /// The planner fixed it, or its order is issued or under way.
    pub held: bool,
    /// The latest date for it.
    pub service_by: Option<NaiveDate>,
    /// The limit that is reached first.
    pub governing: Option<GoverningLimit>,
    /// The planner's first day for it, where that lies ahead.
    pub not_before: Option<NaiveDate>,
    /// Whether the spindle must not run until it was serviced and measured.
    pub must_not_run: bool,
    /// Where its order stands.
    pub start: Option<NaiveDateTime>,
}

impl PlanService {
    /// Which service it is.
    #[must_use]
    pub const fn key(&self) -> ServiceKey {
        ServiceKey { spindle: self.spindle, order: self.order }
    }
}

/// A shop as a planning problem, with what turns a plan into its own words again.
#[derive(Debug, Clone)]
pub struct PlanBasis {
    pub(super) shop: Shop,
    pub(super) as_of: NaiveDate,
    /// The share that is accepted.
    pub(super) accepted_risk: f64,
    pub(super) grid: Grid,
    pub(super) trays: Vec<Tray>,
    pub(super) services: Vec<PlanService>,
    pub(super) forecasts: BTreeMap<SpindleId, Arc<SpindleForecast>>,
    /// Names of the technicians of the problem; those whom the shop does not know have an empty one.
    pub(super) technicians: Vec<String>,
    pub(super) parts: Vec<PlanPart>,
    pub(super) gauges: Vec<Quantity>,
    pub(super) problem: Problem,
    /// What is held or booked, as it stands.
    pub(super) booked: Plan,
    /// Held ones before or after the days of the plan.
    pub(super) outside: Vec<PlacedService>,
    /// The same as jobs, so that one can be given a place in the plan.
    pub(super) outside_jobs: Vec<(PlanService, Job)>,
    /// Booked ones that no plan could hold as they stand: in no tray, or with nobody named.
    pub(super) loose: Vec<PlacedService>,
    /// What cannot be planned as it stands, one sentence each.
    pub(super) remarks: Vec<String>,
}

impl PlanBasis {
    /// The planning problem of a shop on the day of its forecast. `due` is the list made from it.
    ///
    /// The shop is looked at as known on `as_of`; a forecast of another day gives other service-by
    /// dates, which the caller answers for.
    #[must_use]
    pub fn of(shop: &Shop, forecast: &ShopForecast, due: &DueList, as_of: NaiveDate, config: &PlanningConfig) -> Self {
        let shop = shop.known_on(as_of);
        let weeks = config.weeks.clamp(1, MOST_WEEKS);
        let grid = Grid::new(as_of, shop.settings.day_begins, weeks as usize * 7);
        let ground = Ground::of(&shop, &grid);
        let mut basis = Self {
            as_of,
            accepted_risk: forecast.config.accepted_risk,
            grid,
            services: Vec::new(),
            forecasts: forecast.spindles.clone(),
            technicians: shop.technicians.iter().map(|technician| technician.name.clone()).collect(),
            parts: Vec::new(),
            gauges: Vec::new(),
            booked: Plan::default(),
            outside: Vec::new(),
            outside_jobs: Vec::new(),
            loose: Vec::new(),
            remarks: Vec::new(),
            problem: Problem {
                days: grid.days(),
                lockout_min: shop.settings.lockout.get().max(0.0).round() as i64,
                visit_cost: trays::cents(shop.settings.visit_cost),
                halls: ground.halls.len(),
                lines: ground.lines,
                machines: ground.line_of,
                windows: ground.cut.iter().map(|cut| cut.window.clone()).collect(),
                technicians: shop
                    .technicians
                    .iter()
                    .map(|technician| people::person(&technician.value, &grid))
                    .collect(),
                ..Problem::default()
            },
            trays: ground.cut.into_iter().map(|cut| cut.tray).collect(),
            shop,
        };
        let marks: BTreeMap<SpindleId, Mark> = due.rows.iter().map(|row| (row.spindle, row.mark)).collect();
        jobs::Compiler::new(&mut basis, forecast, &ground.machines, &marks).compile();
        basis
    }

    /// The day from which it looks.
    #[must_use]
    pub const fn as_of(&self) -> NaiveDate {
        self.as_of
    }

    /// The last day of the plan.
    #[must_use]
    pub fn last(&self) -> NaiveDate {
        self.grid.date(self.grid.days().saturating_sub(1))
    }

    /// The downtime windows, by start.
    #[must_use]
    pub fn trays(&self) -> &[Tray] {
        &self.trays
    }

    /// What is due or has an open order, by service-by date.
    #[must_use]
    pub fn services(&self) -> &[PlanService] {
        &self.services
    }

    /// The problem in whole numbers; its first windows are the trays, its services those of
    /// [`PlanBasis::services`].
    #[must_use]
    pub const fn problem(&self) -> &Problem {
        &self.problem
    }

    /// What an hour of standstill of a machine's line costs.
    #[must_use]
    pub fn stop_cost_per_hour(&self, machine: MachineId) -> Money {
        line_cost(&self.shop, machine)
    }

    /// A service by its key. A plan from before its order was opened or closed means the one service
    /// of the spindle all the same; another order is another service.
    pub(super) fn find(&self, key: ServiceKey) -> Option<usize> {
        let found = |is: &dyn Fn(ServiceKey) -> bool| {
            let mut all = self.services.iter().enumerate().filter(|(_, of)| is(of.key())).map(|(index, _)| index);
            all.next().filter(|_| all.next().is_none())
        };
        found(&|of| of == key).or_else(|| found(&|of| of.may_be(key)))
    }

    /// The same problem with a held service from outside the plan among those that can be placed;
    /// `None` where there is no such one.
    pub(super) fn with_outside(&self, key: ServiceKey) -> Option<Self> {
        let (service, job) = self.outside_jobs.iter().find(|(service, _)| service.key() == key)?;
        let mut basis = self.clone();
        basis.services.push(service.clone());
        basis.problem.services.push(job.clone());
        basis.booked.places.push(None);
        Some(basis)
    }

    /// The names by which a plan speaks of a service: its place.
    pub(super) fn label(&self, service: usize) -> &str {
        self.services.get(service).map_or("", |service| service.position.as_str())
    }
}

/// What an hour of standstill costs: the machines of a line stop together.
fn line_cost(shop: &Shop, machine: MachineId) -> Money {
    let Some(described) = shop.machines.get(&machine) else { return Money::ZERO };
    match &described.line {
        None => described.stop_cost_per_hour.unwrap_or_default(),
        Some(line) => shop
            .machines
            .values()
            .filter(|other| other.line.as_ref() == Some(line))
            .filter_map(|other| other.stop_cost_per_hour)
            .sum(),
    }
}

/// Halls, lines, machines and windows of a shop.
struct Ground {
    halls: Vec<String>,
    machines: BTreeMap<MachineId, usize>,
    lines: Vec<Line>,
    line_of: Vec<usize>,
    cut: Vec<CutWindow>,
}

impl Ground {
    fn of(shop: &Shop, grid: &Grid) -> Self {
        let halls: Vec<String> = shop.halls().into_iter().map(ToOwned::to_owned).collect();
        let machines: BTreeMap<MachineId, usize> =
            shop.machines.keys().enumerate().map(|(index, id)| (*id, index)).collect();
        let (mut lines, mut line_of) = (Vec::new(), Vec::new());
        // machines of one line in two halls are two lines here, each at the cost of the whole
        let mut known: BTreeMap<(&str, &str), usize> = BTreeMap::new();
        for (id, machine) in shop.machines.iter() {
            let hall = halls.iter().position(|hall| *hall == machine.hall).unwrap_or(0);
            let add = |lines: &mut Vec<Line>| {
                lines.push(Line { hall, stop_cost_per_hour: trays::cents(line_cost(shop, *id)).max(0) });
                lines.len() - 1
            };
            let Machine { line, hall, .. } = machine;
            line_of.push(match line {
                None => add(&mut lines),
                Some(line) => *known.entry((line, hall)).or_insert_with(|| add(&mut lines)),
            });
        }
        let cut = trays::trays(shop, grid, &halls, &machines);
        Self { halls, machines, lines, line_of, cut }
    }
}

impl Problem {
    /// Adds a window and says where it stands.
    pub(super) fn add_window(&mut self, window: PlanWindow) -> usize {
        self.windows.push(window);
        self.windows.len() - 1
    }
}
