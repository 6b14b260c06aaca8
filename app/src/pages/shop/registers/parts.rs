//! Parts, and what is on order.

use super::super::register::{
    Column, Field, Register, RegisterContext, RegisterRow, amount, check_unique, figure_text, money, part_offers, whole,
};
use crate::forms::draft::{Draft, FieldErrors, Reader, plain_number};
use almanac_core::actions::{Action, Change};
use almanac_core::ids::{DeliveryId, PartId};
use almanac_core::part::{Delivery, Part};
use almanac_core::typed_date::Lean;
use almanac_core::units::Money;
use almanac_core::words;

/// Parts on the shelf.
#[derive(Debug)]
pub struct Parts;

impl Register for Parts {
    fn word(&self) -> &'static str {
        "parts"
    }

    fn one(&self) -> &'static str {
        "part"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("part", 1.4),
            Column::words("description", 1.8),
            Column::figures("here", 0.6),
            Column::words("unit", 0.7),
            Column::figures("order below", 0.9),
            Column::figures("lead days", 0.8),
            Column::figures("price", 0.8),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut parts: Vec<_> = context.shop.parts.iter().collect();
        parts.sort_by(|a, b| a.name.cmp(&b.name));
        parts
            .into_iter()
            .map(|row| {
                let cells = vec![
                    row.name.clone(),
                    row.description.clone(),
                    row.on_hand.to_string(),
                    row.unit.clone(),
                    figure_text(row.reorder_point),
                    row.lead_time_days.map(|days| days.to_string()).unwrap_or_default(),
                    row.price.map_or_else(|| words::UNKNOWN.to_owned(), words::money),
                ];
                let needs_action = row.reorder_point.is_some_and(|point| row.on_hand < point);
                RegisterRow { needs_action, ..RegisterRow::new(row.id.row(), cells) }
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::text("part", "name"),
            Field::text("description", ""),
            Field::figure("on hand", "0", "in its unit"),
            Field::text("unit", "piece, tube, set"),
            Field::figure("order below", "", "in its unit"),
            Field::figure("lead time", "", "days"),
            Field::figure("price", "", &context.shop.settings.currency),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default()) };
        let part = context.shop.parts.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("part", part.name.clone())
                .with("description", part.description.clone())
                .with("on hand", part.on_hand.to_string())
                .with("unit", part.unit.clone())
                .with("order below", figure_text(part.reorder_point))
                .with("lead time", part.lead_time_days.map(|days| days.to_string()).unwrap_or_default())
                .with("price", figure_text(part.price.map(Money::get))),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let name = reader.required_text("part");
        if let Some(name) = &name {
            let taken = context.shop.parts.iter().map(|row| (row.id.row(), row.name.as_str()));
            check_unique(&mut reader, "part", name, id, taken);
            if name.contains([';', '=']) {
                reader.wrong("part", "a part has no ; or = in its name");
            }
        }
        let on_hand = amount(&mut reader, "on hand").unwrap_or_default();
        let part = Part {
            name: name.clone().unwrap_or_default(),
            description: reader.text("description"),
            on_hand,
            unit: reader.text("unit"),
            lead_time_days: whole(&mut reader, "lead time", 0),
            price: money(&mut reader, "price"),
            reorder_point: amount(&mut reader, "order below"),
        };
        let change = name.map(|_| match id {
            Some(id) => Change::Set(PartId::from_row(id), part),
            None => Change::Add(part),
        });
        reader.finish(change.map(Action::Part))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Part(Change::Remove(PartId::from_row(id))))
    }
}

/// What is on order.
#[derive(Debug)]
pub struct Deliveries;

impl Register for Deliveries {
    fn word(&self) -> &'static str {
        "deliveries"
    }

    fn one(&self) -> &'static str {
        "delivery"
    }

    fn name_key(&self) -> &'static str {
        "part"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("part", 1.4),
            Column::words("expected on", 1.0),
            Column::figures("quantity", 0.7),
            Column::words("note", 2.0),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut deliveries: Vec<_> = context.shop.deliveries.iter().collect();
        deliveries.sort_by(|a, b| (a.expected_on, &a.part).cmp(&(b.expected_on, &b.part)));
        deliveries
            .into_iter()
            .map(|row| {
                let late = row.expected_on < context.today;
                let when = if late { format!("{}, late", row.expected_on) } else { row.expected_on.to_string() };
                let cells = vec![row.part.clone(), when, row.quantity.to_string(), row.note.clone()];
                RegisterRow { needs_action: late, ..RegisterRow::new(row.id.row(), cells) }
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::offers("part", "name", part_offers(context.shop)),
            Field::day_ahead("expected on", "2026-03-17, +14"),
            Field::figure("quantity", "", "in its unit"),
            Field::text("note", "number of the order, supplier"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default()) };
        let row = context.shop.deliveries.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("part", row.part.clone())
                .with("expected on", row.expected_on.to_string())
                .with("quantity", row.quantity.to_string())
                .with("note", row.note.clone()),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let part = known_part(&mut reader, context);
        let expected_on = reader.required_day("expected on", Lean::Ahead);
        let quantity = quantity(&mut reader);
        let note = reader.text("note");
        let delivery = part.zip(expected_on).zip(quantity).map(|((part, expected_on), quantity)| Delivery {
            part,
            expected_on,
            quantity,
            note,
        });
        let change = delivery.map(|delivery| match id {
            Some(id) => Change::Set(DeliveryId::from_row(id), delivery),
            None => Change::Add(delivery),
        });
        reader.finish(change.map(Action::Delivery))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Delivery(Change::Remove(DeliveryId::from_row(id))))
    }
}

/// A part of the register.
pub fn known_part(reader: &mut Reader<'_>, context: &RegisterContext<'_>) -> Option<String> {
    let part = reader.required_text("part")?;
    if !context.shop.parts.iter().any(|row| row.name == part) {
        reader.wrong("part", format!("'{part}' is not in the parts of this shop; add it there first"));
    }
    Some(part)
}

/// A quantity above 0.
pub fn quantity(reader: &mut Reader<'_>) -> Option<f64> {
    let above_zero = |text: &str| plain_number(text).filter(|figure| *figure > 0.0);
    reader.required("quantity", "a figure above 0", above_zero)
}
