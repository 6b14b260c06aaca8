//! Work orders, in their simplest form: add, change, remove.

use super::super::register::{
    Column, Field, Register, RegisterContext, RegisterRow, check_unique, day_text, figure_text, spindle_offers,
};
use crate::forms::draft::{Draft, FieldErrors, Reader, plain_number};
use almanac_core::actions::{Action, Change};
use almanac_core::ids::OrderId;
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::order_number::OrderNumbers;
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::typed_date::{Lean, parse_typed_date};
use almanac_core::units::RunHours;
use almanac_core::words;
use chrono::NaiveDate;

/// The register.
#[derive(Debug)]
pub struct Orders;

impl Register for Orders {
    fn word(&self) -> &'static str {
        "orders"
    }

    fn one(&self) -> &'static str {
        "order"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("order", 0.8),
            Column::words("state", 0.9),
            Column::words("spindle", 0.9),
            Column::words("service", 0.7),
            Column::words("service by", 1.0),
            Column::words("start", 1.3),
            Column::words("technicians", 1.3),
            Column::words("closed on", 1.0),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut orders: Vec<_> = context.shop.orders.iter().collect();
        // open ones first, then the newest number
        orders.sort_by(|a, b| {
            let open = |order: &Order| !order.is_open_on(context.today);
            (open(a), std::cmp::Reverse(&a.name)).cmp(&(open(b), std::cmp::Reverse(&b.name)))
        });
        orders
            .into_iter()
            .map(|row| {
                let day = |day: Option<NaiveDate>| day.map_or_else(|| words::UNKNOWN.to_owned(), |day| day.to_string());
                let start = row.start.map_or_else(|| "not placed".to_owned(), |at| at.to_string().replace('T', " "));
                let spindle = context.shop.spindles.get(&row.spindle);
                let cells = vec![
                    row.name.clone(),
                    row.state.key().to_owned(),
                    spindle.map(|spindle| spindle.name.clone()).unwrap_or_default(),
                    row.kind.key().to_owned(),
                    day(row.service_by),
                    start,
                    row.technicians.join("; "),
                    day(row.closed_on),
                ];
                RegisterRow::new(row.id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::text("order", "number"),
            Field::offers("spindle", "which is serviced", spindle_offers(context)),
            Field::words("kind", &["minor", "major"]),
            Field::words("state", &["planned", "issued", "under way", "done", "partly done", "not done"]),
            Field::day("opened on", "2026-03-17, 17.3."),
            Field::day_ahead("service by", "2026-03-17, +14"),
            Field::text("start", "2026-03-14 06:00; empty: not placed"),
            Field::figure("duration", "", "h"),
            Field::text("technicians", "who leads first; separated by ;"),
            Field::tick("held", "held: a new proposal leaves it alone"),
            Field::day("closed on", "empty: open"),
            Field::text("note", "why it stands there"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else {
            let draft = Draft::default()
                .with("order", OrderNumbers::of(context.shop, context.today).next().unwrap_or_default())
                .with("kind", "minor")
                .with("state", "planned")
                .with("opened on", context.today.to_string());
            return Some(draft);
        };
        let order = context.shop.orders.iter().find(|row| row.id.row() == id)?;
        let spindle = context.shop.spindles.get(&order.spindle)?;
        let mut draft = Draft::default()
            .with("order", order.name.clone())
            .with("spindle", spindle.name.clone())
            .with("kind", order.kind.key())
            .with("state", order.state.key())
            .with("opened on", day_text(order.opened_on))
            .with("service by", day_text(order.service_by))
            .with("start", order.start.map(|at| at.to_string().replace('T', " ")).unwrap_or_default())
            .with("duration", figure_text(order.duration.map(RunHours::get)))
            .with("technicians", order.technicians.join("; "))
            .with("closed on", day_text(order.closed_on))
            .with("note", order.note.clone());
        draft.set_tick("held", order.held);
        Some(draft)
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let (shop, today) = (context.shop, context.today);
        let mut reader = Reader::new(draft, today);
        let name = reader.required_text("order");
        if let Some(name) = &name {
            let taken = shop.orders.iter().map(|row| (row.id.row(), row.name.as_str()));
            check_unique(&mut reader, "order", name, id, taken);
        }
        let spindle = reader.required("spindle", "a spindle of the list", |text| shop.spindle_named(text));
        let kind = reader.required("kind", "minor or major", Kind::from_key);
        let state = reader.required("state", "a state of the list", OrderState::from_key);
        let opened_on = reader.day("opened on", Lean::Back);
        let service_by = reader.day("service by", Lean::Ahead);
        let moment = |text: &str| {
            Moment::parse(text).or_else(|| parse_typed_date(text, today, Lean::Ahead).ok().map(Moment::day))
        };
        let start = reader.optional("start", "a day, maybe with a time, such as 2026-03-14 06:00", moment);
        let above_zero = |text: &str| plain_number(text).filter(|hours| *hours > 0.0);
        let duration = reader.optional("duration", "hours above 0", above_zero).and_then(RunHours::new);
        let technicians = technicians(&mut reader, shop);
        let closed_on = reader.day("closed on", Lean::Back);
        let note = reader.text("note");
        if let (Some(opened), Some(closed)) = (opened_on, closed_on)
            && closed < opened
        {
            reader.wrong("closed on", format!("{closed} lies before it was opened on {opened}"));
        }
        if state.is_some_and(|state| !state.is_open()) && closed_on.is_none() {
            reader.missing("closed on");
        }
        let order = name.zip(spindle).zip(kind).zip(state).map(|(((name, spindle), kind), state)| Order {
            name,
            spindle,
            kind,
            state,
            opened_on,
            service_by,
            start,
            duration,
            technicians,
            held: draft.is_ticked("held"),
            closed_on,
            note: note.clone(),
        });
        let change = order.map(|order| match id {
            Some(id) => Change::Set(OrderId::from_row(id), order),
            None => Change::Add(order),
        });
        reader.finish(change.map(Action::Order))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Order(Change::Remove(OrderId::from_row(id))))
    }
}

fn technicians(reader: &mut Reader<'_>, shop: &Shop) -> Vec<String> {
    let text = reader.text("technicians");
    let names: Vec<String> =
        text.split(';').map(str::trim).filter(|name| !name.is_empty()).map(ToOwned::to_owned).collect();
    let unknown = names.iter().find(|name| !shop.technicians.iter().any(|technician| technician.name == **name));
    if let Some(name) = unknown.filter(|_| !shop.technicians.is_empty()) {
        reader.wrong("technicians", format!("'{name}' is not in the crew"));
    }
    names
}
