//! A proposal as JSON and CSV for other systems and as a table for people.

use super::proposal::{Costs, LeftService, PlacedService, PlanChangeKind, Proposal, Tray};
use super::week_view::lead;
use crate::due::DueList;
use crate::export::csv_text::CsvText;
use crate::ids::{MachineId, OrderId, SpindleId};
use crate::shop::Shop;
use crate::units::Money;
use crate::words::{self, Align};
use chrono::NaiveDateTime;
use serde_json::{Map, Value, json};

/// A moment as the files write it.
fn iso(moment: NaiveDateTime) -> String {
    moment.format("%Y-%m-%dT%H:%M").to_string()
}

/// An amount in whole cents, as plans are reckoned.
fn cents(money: Money) -> i64 {
    (money.get() * 100.0).round() as i64
}

/// The parts of a cost, by their words in the files.
fn parts(costs: &Costs) -> [(&'static str, Money); 8] {
    [
        ("stop", costs.stop),
        ("premium", costs.premium),
        ("risk", costs.risk),
        ("early", costs.early),
        ("move", costs.moved),
        ("lockout", costs.lockout),
        ("visit", costs.visit),
        ("left", costs.left),
    ]
}

fn parts_json(costs: &Costs) -> Value {
    let all = parts(costs).into_iter().map(|(name, money)| (name.to_owned(), json!(cents(money))));
    Value::Object(all.collect())
}

/// Names of a shop as a plan needs them.
struct Names<'a> {
    shop: &'a Shop,
    proposal: &'a Proposal,
}

impl Names<'_> {
    fn spindle(&self, spindle: SpindleId) -> String {
        self.shop.spindles.get(&spindle).map(|spindle| spindle.name.clone()).unwrap_or_default()
    }

    fn machine(&self, spindle: SpindleId) -> Option<MachineId> {
        self.shop.position_on(spindle, self.proposal.as_of).map(|position| position.machine)
    }

    fn place(&self, spindle: SpindleId) -> String {
        let position = self.shop.position_on(spindle, self.proposal.as_of);
        position.map(|position| self.shop.position_label(position)).unwrap_or_default()
    }

    fn hall(&self, spindle: SpindleId) -> String {
        let machine = self.machine(spindle).and_then(|machine| self.shop.machines.get(&machine));
        machine.map(|machine| machine.hall.clone()).unwrap_or_default()
    }

    /// The number of an order; of a new one that was accepted in the meantime the one it got.
    fn order(&self, spindle: SpindleId, order: Option<OrderId>, start: NaiveDateTime) -> Option<String> {
        let row = match order {
            Some(id) => self.shop.orders.iter().find(|row| row.id == id),
            None => self.shop.orders.iter().find(|row| {
                row.spindle == spindle
                    && row.is_open_on(self.proposal.as_of)
                    && row.start.is_some_and(|at| at.date_time() == start)
            }),
        };
        row.map(|row| row.name.clone())
    }

    /// Keys name a spindle; a further open order of one spindle names the order too.
    fn key(&self, taken: &Map<String, Value>, spindle: SpindleId, order: Option<String>) -> String {
        let name = self.spindle(spindle);
        if taken.contains_key(&name) { format!("{name} {}", order.unwrap_or_default()) } else { name }
    }
}

/// The proposal as one JSON object: the shape of a planned instance, keyed by spindle; money in
/// cents, moments local.
///
/// # Errors
/// None that is known: all fields are plain figures and texts.
pub fn to_json(shop: &Shop, trays: &[Tray], proposal: &Proposal) -> Result<String, serde_json::Error> {
    let names = Names { shop, proposal };
    let mut plan = Map::new();
    for placed in &proposal.placed {
        let order = names.order(placed.spindle, placed.order, placed.place.start);
        let key = names.key(&plan, placed.spindle, order.clone());
        plan.insert(key, placed_json(&names, trays, placed, order));
    }
    let (mut left, mut left_words) = (Map::new(), Map::new());
    for service in &proposal.left {
        let order =
            service.order.and_then(|id| shop.orders.iter().find(|row| row.id == id)).map(|row| row.name.clone());
        let key = names.key(&left, service.spindle, order);
        left.insert(key.clone(), json!(service.reason.key()));
        left_words.insert(key, json!(service.words));
    }
    let changes: Vec<Value> = proposal
        .changes
        .iter()
        .map(|change| json!({"spindle": names.spindle(change.spindle), "change": word(change.kind), "why": change.why}))
        .collect();
    let object = json!({
        "shop": shop.settings.name,
        "as_of": proposal.as_of.to_string(),
        "last": proposal.last.to_string(),
        "cost": cents(proposal.costs.total()),
        "bound": proposal.cheapest_possible.map(cents),
        "parts": parts_json(&proposal.costs),
        "plan": plan,
        "left": left,
        "left_words": left_words,
        "changes": changes,
        "clashes": said(proposal).collect::<Vec<_>>(),
    });
    let mut text = serde_json::to_string_pretty(&object)?;
    text.push('\n');
    Ok(text)
}

fn placed_json(names: &Names<'_>, trays: &[Tray], placed: &PlacedService, order: Option<String>) -> Value {
    json!({
        "window": window(trays, placed),
        "start": iso(placed.place.start),
        "end": iso(placed.place.end),
        "technicians": placed.place.technicians,
        "machine": names.machine(placed.spindle).and_then(|id| names.shop.machines.get(&id)).map(|m| m.name.clone()),
        "hall": names.hall(placed.spindle),
        "service": placed.kind.key(),
        "order": order,
        "held": placed.held,
        "moved_from": placed.moved_from.map(iso),
        "service_by": placed.service_by.map(|day| day.to_string()),
        "chance_crossed_pct": (placed.chance_crossed.get() * 10.0).round() / 10.0,
        "parts": parts_json(&placed.costs),
        "cost": cents(placed.costs.total()),
        "why": placed.why,
    })
}

/// A window by its interval, such as `2026-03-07T07:00/2026-03-07T13:00`.
fn window(trays: &[Tray], placed: &PlacedService) -> Option<String> {
    let tray = trays.get(placed.place.tray?)?;
    Some(format!("{}/{}", iso(tray.start), iso(tray.end)))
}

const fn word(kind: PlanChangeKind) -> &'static str {
    match kind {
        PlanChangeKind::Added => "added",
        PlanChangeKind::Moved => "moved",
        PlanChangeKind::Rearranged => "rearranged",
        PlanChangeKind::TakenOff => "taken off",
    }
}

/// The columns of the CSV; money in the shop's currency.
pub const COLUMNS: [&str; 25] = [
    "spindle",
    "state",
    "hall",
    "machine",
    "place",
    "service",
    "service_by",
    "order",
    "held",
    "window",
    "start",
    "end",
    "technician",
    "moved_from",
    "cost",
    "stop",
    "premium",
    "risk",
    "early",
    "move",
    "lockout",
    "visit",
    "left",
    "chance_crossed_pct",
    "reason",
];

/// The proposal as CSV: RFC 4180, CRLF, harmless to spreadsheets; placed ones by start, then those left.
#[must_use]
pub fn to_csv(shop: &Shop, trays: &[Tray], proposal: &Proposal) -> String {
    let names = Names { shop, proposal };
    let mut csv = CsvText::new();
    for column in COLUMNS {
        csv.plain(column);
    }
    csv.end_row();
    for placed in &proposal.placed {
        begin(&mut csv, &names, placed.spindle, "placed");
        csv.plain(placed.kind.key()).plain(&placed.service_by.map(|day| day.to_string()).unwrap_or_default());
        csv.text(&names.order(placed.spindle, placed.order, placed.place.start).unwrap_or_default());
        csv.plain(if placed.held { "yes" } else { "no" });
        csv.plain(&window(trays, placed).unwrap_or_default());
        csv.plain(&iso(placed.place.start)).plain(&iso(placed.place.end));
        csv.text(&placed.place.technicians.join("; "));
        csv.plain(&placed.moved_from.map(iso).unwrap_or_default());
        money_cells(&mut csv, &placed.costs);
        csv.number((placed.chance_crossed.get() * 10.0).round() / 10.0);
        csv.text(&placed.why);
        csv.end_row();
    }
    for left in &proposal.left {
        begin(&mut csv, &names, left.spindle, if left.for_next_plan { "for the next plan" } else { "left" });
        csv.plain(left.kind.key()).plain(&left.service_by.map(|day| day.to_string()).unwrap_or_default());
        let order = left.order.and_then(|id| shop.orders.iter().find(|row| row.id == id));
        csv.text(order.map_or("", |row| row.value.name.as_str()));
        for _ in 0..6 {
            csv.plain("");
        }
        money_cells(&mut csv, &Costs { left: left.cost, ..Costs::default() });
        csv.plain("").text(&left.words);
        csv.end_row();
    }
    csv.finish()
}

fn begin(csv: &mut CsvText, names: &Names<'_>, spindle: SpindleId, state: &str) {
    let machine = names.machine(spindle).and_then(|id| names.shop.machines.get(&id));
    csv.text(&names.spindle(spindle)).plain(state).text(&names.hall(spindle));
    csv.text(machine.map_or("", |machine| machine.name.as_str())).text(&names.place(spindle));
}

fn money_cells(csv: &mut CsvText, costs: &Costs) {
    csv.number(cents(costs.total()) as f64 / 100.0);
    for (_, money) in parts(costs) {
        csv.number(cents(money) as f64 / 100.0);
    }
}

/// The proposal for people: a sentence, what is placed, what is not, what changes, what clashes.
#[must_use]
pub fn to_table(shop: &Shop, due: &DueList, proposal: &Proposal) -> String {
    let names = Names { shop, proposal };
    let as_of = proposal.as_of;
    let opening = lead(shop, due, proposal, true, &[]);
    let mut text = format!("{} {}\n", opening.first, opening.rest);
    if !proposal.placed.is_empty() {
        let heads = ["when", "place", "spindle", "service", "who", "service by", "order", "cost", "why"];
        let aligned = heads.map(|head| (head, if head == "cost" { Align::Right } else { Align::Left }));
        let rows = proposal.placed.iter().map(|placed| {
            let when = format!(
                "{} {}",
                words::date_short(placed.place.start.date(), as_of),
                placed.place.start.format("%H:%M")
            );
            let order = names.order(placed.spindle, placed.order, placed.place.start).unwrap_or_default();
            vec![
                when,
                names.place(placed.spindle),
                names.spindle(placed.spindle),
                placed.kind.key().to_owned(),
                placed.place.technicians.join(", "),
                by(placed.service_by, as_of),
                if placed.held { format!("{order}, held") } else { order },
                words::money(placed.costs.total()),
                placed.why.clone(),
            ]
        });
        text.push('\n');
        text.push_str(&words::table(&aligned, rows.collect()));
    }
    let (later, left): (Vec<&LeftService>, Vec<&LeftService>) =
        proposal.left.iter().partition(|left| left.for_next_plan);
    for (title, list) in [("Not placed:", left), ("For the next plan:", later)] {
        if list.is_empty() {
            continue;
        }
        let rows = list.iter().map(|left| {
            vec![
                names.place(left.spindle),
                names.spindle(left.spindle),
                left.kind.key().to_owned(),
                by(left.service_by, as_of),
                left.words.clone(),
            ]
        });
        let heads = ["place", "spindle", "service", "service by", "why"].map(|head| (head, Align::Left));
        text.push_str(&format!("\n{title}\n\n"));
        text.push_str(&words::table(&heads, rows.collect()));
    }
    if !proposal.changes.is_empty() {
        let rows = proposal.changes.iter().map(|change| {
            vec![
                names.place(change.spindle),
                word(change.kind).to_owned(),
                to_words(proposal, change.spindle, change.order),
                change.why.clone(),
            ]
        });
        let heads = ["place", "change", "to", "why"].map(|head| (head, Align::Left));
        text.push_str("\nChanged by this proposal:\n\n");
        text.push_str(&words::table(&heads, rows.collect()));
    }
    for (nth, sentence) in said(proposal).enumerate() {
        if nth == 0 {
            text.push('\n');
        }
        text.push_str(sentence);
        text.push('\n');
    }
    text
}

/// What is to be said of orders that cannot be planned as they stand, and of held ones that clash.
fn said(proposal: &Proposal) -> impl Iterator<Item = &String> {
    proposal.remarks.iter().chain(&proposal.clashes)
}

/// From where to where a change goes.
fn to_words(proposal: &Proposal, spindle: SpindleId, order: Option<OrderId>) -> String {
    let Some(placed) = proposal.placed.iter().find(|placed| placed.spindle == spindle && placed.order == order) else {
        return String::new();
    };
    let to = words::date_short(placed.place.start.date(), proposal.as_of);
    placed
        .moved_from
        .map_or_else(|| to.clone(), |from| format!("{} to {to}", words::date_short(from.date(), proposal.as_of)))
}

fn by(day: Option<chrono::NaiveDate>, as_of: chrono::NaiveDate) -> String {
    match day {
        Some(day) if day <= as_of => "now".to_owned(),
        Some(day) => words::date_short(day, as_of),
        None => words::UNKNOWN.to_owned(),
    }
}
