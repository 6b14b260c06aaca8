//! The work-order list: every open order, and every spindle that needs one and has none.

mod bulk;
mod format;
mod sentence;
mod span;
mod steps;
mod totals;

pub use bulk::{Bulk, book_lines, step_on_lines, step_on_orders};
pub use format::{COLUMNS, to_csv, to_json, to_table};
pub use sentence::{line_sentence, orders_lead};
pub use span::{OrderSpan, OrderSpans};
pub use steps::{
    OrderStep, StepRefused, can_lead, has_service, is_free, may_become, may_lead, step_action, with_state,
};
pub use totals::{Totals, totals};

use crate::due::{DueList, DueRow, KitReady, Mark};
use crate::forecast::GoverningLimit;
use crate::ids::{MachineId, OrderId, SpindleId};
use crate::machine::Position;
use crate::moment::Moment;
use crate::order::{Order, OrderState};
use crate::part::ServiceKind;
use crate::service::Kind;
use crate::shop::Shop;
use crate::spindle::Spindle;
use crate::units::{ClampCycles, Kilonewtons, Money, Percent, RunHours};
use crate::windows::{RUNNING_SHIFT_PCT, Windows};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// How far a line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LineState {
    /// A service is due and has no order.
    ToBook,
    /// The state of its order.
    Order(OrderState),
}

impl LineState {
    /// The words of files and screen.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::ToBook => "to book",
            Self::Order(state) => state.key(),
        }
    }
}

/// One line of the list, in the order of its columns.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderLine {
    /// The order; `None`: to book.
    pub id: Option<OrderId>,
    /// The spindle.
    pub spindle_id: SpindleId,
    /// Its mark on the due list.
    pub mark: Mark,
    /// Number of the order; empty where it is to book.
    pub order: String,
    /// How far it is.
    pub state: LineState,
    /// Whether something is still to be done; an order closed as partly done is not open.
    pub is_open: bool,
    /// The hall; empty where the spindle is not mounted.
    pub hall: String,
    /// The machine.
    pub machine: String,
    /// Which of its spindles.
    pub position: Option<u32>,
    /// Machine and position as they are shown, such as `R-07/2`.
    pub place: String,
    /// The spindle's name.
    pub spindle: String,
    /// Its tool interface.
    pub interface: String,
    /// Which service.
    pub service: Kind,
    /// The limit that is reached first.
    pub governing_limit: Option<GoverningLimit>,
    /// Why, in one sentence.
    pub reason: String,
    /// The latest date for it.
    pub service_by: Option<NaiveDate>,
    /// Start of the placement, with the lockout where it begins a stop.
    pub start: Option<Moment>,
    /// The day of the shop in which the start lies: a night shift is one day.
    pub day: Option<NaiveDate>,
    /// End of the placement: lockout, where it begins a stop, and work; `None` without a time.
    pub end: Option<Moment>,
    /// How long it takes, lockout not counted.
    pub duration: Option<RunHours>,
    /// Who does it; the one who leads stands first.
    pub technicians: Vec<String>,
    /// Whether the planner fixed it.
    pub held: bool,
    /// Whether the kit is there.
    pub kit: Option<KitReady>,
    /// Today's force; `None` where it was never measured.
    pub force_now: Option<Kilonewtons>,
    /// The same in percent of nominal.
    pub force_now_pct: Option<Percent>,
    /// The service limit.
    pub service_limit: Kilonewtons,
    /// The spindle's own run hours.
    pub run_hours: Option<RunHours>,
    /// The spindle's own clamp cycles.
    pub clamp_cycles: Option<ClampCycles>,
    /// What the stop costs where it is placed.
    pub stop_cost: Option<Money>,
    /// What stands beside the order, then beside the spindle.
    pub notes: String,
}

impl OrderLine {
    /// The day on which the kit is complete: the as-of day where it is here.
    #[must_use]
    pub fn kit_ready_on(&self, as_of: NaiveDate) -> Option<NaiveDate> {
        match self.kit? {
            KitReady::Here => Some(as_of),
            KitReady::On(day) => Some(day),
            KitReady::Missing => None,
        }
    }
}

/// The lines of a shop on the day of its due list: open orders and spindles to book, by service-by;
/// with `all` the closed orders too.
#[must_use]
pub fn order_lines(shop: &Shop, due: &DueList, all: bool) -> Vec<OrderLine> {
    let as_of = due.as_of;
    let shop = shop.known_on(as_of);
    let builder = Builder::new(&shop, due);
    let open = shop.open_orders_on(as_of);
    let of = |id: OrderId, order: &Order, spans: &OrderSpans<'_>| builder.of_order(id, order, spans);
    let (standing, over): (Vec<_>, Vec<_>) =
        shop.orders.iter().map(|row| (row.id, &row.value)).partition(|(_, order)| order.is_open_on(as_of));
    // stops are made by what is open, as in a plan; those of closed orders by all that took place
    let spans = OrderSpans::of(&shop, &builder.windows, standing.iter().copied());
    let mut lines: Vec<OrderLine> = standing.into_iter().filter_map(|(id, order)| of(id, order, &spans)).collect();
    if all {
        let took_place = shop.orders.iter().filter(|order| order.state != OrderState::NotDone);
        let spans = OrderSpans::of(&shop, &builder.windows, took_place.map(|row| (row.id, &row.value)));
        lines.extend(over.into_iter().filter_map(|(id, order)| of(id, order, &spans)));
    }
    let to_book = due
        .rows
        .iter()
        .filter(|row| row.booking.is_none() && matches!(row.mark, Mark::DoNotRun | Mark::PastLimit | Mark::ToBook))
        // the figures may be older than an order written since
        .filter(|row| !open.contains_key(&row.spindle));
    lines.extend(to_book.filter_map(|row| builder.to_book(row)));
    lines.sort_by(|a, b| {
        let by = |line: &OrderLine| (line.service_by.is_none(), line.service_by, line.start.is_none(), line.start);
        by(a).cmp(&by(b)).then_with(|| a.spindle.cmp(&b.spindle)).then_with(|| a.order.cmp(&b.order))
    });
    lines
}

struct Builder<'a> {
    shop: &'a Shop,
    as_of: NaiveDate,
    rows: BTreeMap<SpindleId, &'a DueRow>,
    windows: Windows,
    line_cost: BTreeMap<MachineId, Money>,
}

impl<'a> Builder<'a> {
    fn new(shop: &'a Shop, due: &'a DueList) -> Self {
        let first = shop.orders.iter().filter_map(|order| order.start).map(|start| start.date).min();
        let last = shop.orders.iter().filter_map(|order| order.start).map(|start| start.date).max();
        let windows = match (first, last) {
            // the day before, for a window over midnight
            (Some(first), Some(last)) => Windows::between(shop, first.pred_opt().unwrap_or(first), last),
            _ => Windows::default(),
        };
        Self {
            shop,
            as_of: due.as_of,
            rows: due.rows.iter().map(|row| (row.spindle, row)).collect(),
            windows,
            line_cost: line_costs(shop),
        }
    }

    fn of_order(&self, id: OrderId, order: &Order, spans: &OrderSpans<'_>) -> Option<OrderLine> {
        let spindle = self.shop.spindles.get(&order.spindle)?;
        let row = *self.rows.get(&order.spindle)?;
        let is_open = order.is_open_on(self.as_of);
        // what was closed later was open then; how far it was is not on record
        let state = if is_open && !order.state.is_open() { OrderState::Planned } else { order.state };
        let day = order.start.map_or(self.as_of, |start| start.date);
        let position = if is_open { self.shop.position_on(order.spindle, self.as_of) } else { None }
            .or_else(|| self.shop.position_on(order.spindle, day));
        let span = spans.span(id, order);
        let end = span.map(|(_, end)| Moment { date: end.date(), time: Some(end.time()) });
        let is_in_row = row.booking.as_ref().is_some_and(|booking| booking.order == id);
        let mut line = self.line(spindle, row, position);
        line.id = Some(id);
        line.order.clone_from(&order.name);
        line.state = LineState::Order(state);
        line.is_open = is_open;
        line.service = order.kind;
        line.start = order.start;
        line.day = order.start.map(|start| self.shop.settings.day_of_start(start));
        line.end = end;
        line.duration = order.duration;
        line.technicians.clone_from(&order.technicians);
        line.notes = joined(&order.note, &line.notes);
        line.held = order.held;
        line.stop_cost = self.stop_cost(position, order, span);
        if !is_in_row {
            line.kit = None;
        }
        if is_open {
            line.service_by = line.service_by.or(order.service_by);
        } else {
            // what a closed order was for is over: today's reasons are not its own
            line.service_by = order.service_by;
            line.governing_limit = None;
            line.reason = String::new();
        }
        Some(line)
    }

    fn to_book(&self, row: &DueRow) -> Option<OrderLine> {
        let spindle = self.shop.spindles.get(&row.spindle)?;
        let mut line = self.line(spindle, row, self.shop.position_on(row.spindle, self.as_of));
        line.duration = RunHours::new(usual_minutes(self.shop, spindle, row.service) / 60.0);
        Some(line)
    }

    /// Everything that does not come from an order.
    fn line(&self, spindle: &Spindle, row: &DueRow, position: Option<Position>) -> OrderLine {
        let forecast = &*row.forecast;
        let machine = position.and_then(|position| self.shop.machines.get(&position.machine));
        let force_now = forecast.force_measured.then_some(forecast.force_now.mean);
        OrderLine {
            id: None,
            spindle_id: row.spindle,
            mark: row.mark,
            order: String::new(),
            state: LineState::ToBook,
            is_open: true,
            hall: machine.map(|machine| machine.hall.clone()).unwrap_or_default(),
            machine: machine.map(|machine| machine.name.clone()).unwrap_or_default(),
            position: position.map(|position| position.number),
            place: position.map(|position| self.shop.position_label(position)).unwrap_or_default(),
            spindle: spindle.name.clone(),
            interface: spindle.interface.to_string(),
            service: row.service,
            governing_limit: forecast.governing,
            reason: forecast.reason.clone(),
            service_by: forecast.service_by,
            start: None,
            day: None,
            end: None,
            duration: None,
            technicians: Vec::new(),
            held: false,
            kit: row.kit,
            force_now,
            force_now_pct: force_now.map(|force| force.percent_of(forecast.limits.nominal_force.value)),
            service_limit: forecast.limits.service_limit_force(),
            run_hours: forecast.run_hours,
            clamp_cycles: forecast.clamp_cycles,
            stop_cost: None,
            notes: spindle.notes.clone(),
        }
    }

    /// Work, and the lockout where it begins a stop, at the stop cost of the line, by the window in
    /// which it lies.
    fn stop_cost(&self, position: Option<Position>, order: &Order, span: Option<OrderSpan>) -> Option<Money> {
        let machine = position?.machine;
        let per_hour = self.line_cost.get(&machine)?.get();
        let window = self.windows.at(machine, order.start?.date_time());
        let factor = window.map_or(RUNNING_SHIFT_PCT, |window| window.stop_factor.get());
        let work = order.duration?.get();
        let hours = match span {
            Some((from, to)) => (to - from).num_minutes() as f64 / 60.0,
            None => work + self.shop.settings.lockout.get() / 60.0,
        };
        Money::new(per_hour * factor / 100.0 * hours)
    }
}

/// Minutes of a service by the shop's list, else the usual ones.
#[must_use]
pub fn usual_minutes(shop: &Shop, spindle: &Spindle, kind: Kind) -> f64 {
    shop.service_kinds
        .iter()
        .find(|row| row.kind == kind && row.interface == spindle.interface)
        .map_or_else(|| ServiceKind::usual_minutes(kind), |row| row.minutes)
        .get()
}

/// What an hour of standstill costs per machine: its whole line stands.
fn line_costs(shop: &Shop) -> BTreeMap<MachineId, Money> {
    let mut by_line: BTreeMap<&str, Money> = BTreeMap::new();
    for machine in shop.machines.values() {
        if let Some(line) = &machine.line {
            let sum = by_line.entry(line).or_default();
            *sum = *sum + machine.stop_cost_per_hour.unwrap_or_default();
        }
    }
    shop.machines
        .iter()
        .map(|(id, machine)| {
            let of_line = machine.line.as_ref().and_then(|line| by_line.get(line.as_str())).copied();
            (*id, of_line.or(machine.stop_cost_per_hour).unwrap_or_default())
        })
        .collect()
}

/// Two notes in one.
fn joined(first: &str, second: &str) -> String {
    [first, second].into_iter().filter(|note| !note.is_empty()).collect::<Vec<_>>().join("; ")
}
