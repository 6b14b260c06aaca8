//! Mountings: which spindle sat where from when to when.

use super::super::register::{Column, Field, Register, RegisterContext, RegisterRow, day_text, spindle_offers};
use crate::forms::draft::{Draft, FieldErrors, Reader};
use crate::widgets::choice::Offer;
use almanac_core::actions::{Action, Change};
use almanac_core::ids::{MountingId, SpindleId};
use almanac_core::machine::Position;
use almanac_core::mounting::{InvalidMounting, Mounting};
use almanac_core::shop::Shop;
use almanac_core::typed_date::Lean;

/// The register.
#[derive(Debug)]
pub struct Mountings;

impl Register for Mountings {
    fn word(&self) -> &'static str {
        "mountings"
    }

    fn one(&self) -> &'static str {
        "mounting"
    }

    fn name_key(&self) -> &'static str {
        "position"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("position", 1.0),
            Column::words("spindle", 1.0),
            Column::words("mounted on", 1.0),
            Column::words("removed on", 1.0),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let shop = context.shop;
        let mut rows: Vec<RegisterRow> = shop
            .mountings
            .iter()
            .map(|row| {
                let removed = row.removed_on.map_or_else(|| "still there".to_owned(), |day| day.to_string());
                let cells = vec![
                    shop.position_label(row.position),
                    spindle_name(shop, row.spindle),
                    row.mounted_on.to_string(),
                    removed,
                ];
                RegisterRow::new(row.id.row(), cells)
            })
            .collect();
        rows.sort_by(|a, b| a.cells.cmp(&b.cells));
        rows
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::offers("position", "R-04, or R-07/2", position_offers(context.shop)),
            Field::offers("spindle", "which sits there", spindle_offers(context)),
            Field::day("mounted on", "2026-03-17, 17.3."),
            Field::day("removed on", "empty: still there"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default().with("mounted on", context.today.to_string())) };
        let row = context.shop.mountings.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("position", context.shop.position_label(row.position))
                .with("spindle", spindle_name(context.shop, row.spindle))
                .with("mounted on", row.mounted_on.to_string())
                .with("removed on", day_text(row.removed_on)),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let shop = context.shop;
        let mut reader = Reader::new(draft, context.today);
        let position =
            reader.required("position", "a position of the list, such as R-04", |text| position_named(shop, text));
        let spindle = reader.required("spindle", "a spindle of the list", |text| shop.spindle_named(text));
        let mounted_on = reader.required_day("mounted on", Lean::Back);
        let removed_on = reader.day("removed on", Lean::Back);
        let mounting = position.zip(spindle).zip(mounted_on).map(|((position, spindle), mounted_on)| Mounting {
            spindle,
            position,
            mounted_on,
            removed_on,
        });
        if let Some((key, error)) = mounting.and_then(|mounting| broken_rule(shop, &mounting, id)) {
            reader.wrong(key, error);
        }
        let change = mounting.map(|mounting| match id {
            Some(id) => Change::Set(MountingId::from_row(id), mounting),
            None => Change::Add(mounting),
        });
        reader.finish(change.map(Action::Mounting))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Mounting(Change::Remove(MountingId::from_row(id))))
    }
}

fn spindle_name(shop: &Shop, id: SpindleId) -> String {
    shop.spindles.get(&id).map(|spindle| spindle.name.clone()).unwrap_or_default()
}

/// The rule that a stay breaks, with the field to which it belongs.
fn broken_rule(shop: &Shop, mounting: &Mounting, id: Option<i64>) -> Option<(&'static str, InvalidMounting)> {
    if let Some(removed) = mounting.removed_on.filter(|removed| *removed <= mounting.mounted_on) {
        let mounted = mounting.mounted_on;
        return Some(("removed on", InvalidMounting::EndBeforeStart { mounted, removed }));
    }
    let other = shop.mountings.iter().find(|row| {
        let shares = row.spindle == mounting.spindle || row.position == mounting.position;
        Some(row.id.row()) != id && shares && row.overlaps(mounting)
    })?;
    let (spindle, position) = (spindle_name(shop, other.spindle), shop.position_label(other.position));
    let from = other.mounted_on;
    Some(if other.spindle == mounting.spindle {
        ("spindle", InvalidMounting::SpindleElsewhere { spindle, position, from })
    } else {
        ("position", InvalidMounting::PositionTaken { position, spindle, from })
    })
}

/// Every position of the shop.
#[must_use]
pub fn position_offers(shop: &Shop) -> Vec<Offer> {
    positions(shop)
        .map(|position| {
            let hall = shop.machines.get(&position.machine).map_or("", |machine| machine.hall.as_str());
            Offer::new(shop.position_label(position), hall)
        })
        .collect()
}

/// The position of that label.
#[must_use]
pub fn position_named(shop: &Shop, label: &str) -> Option<Position> {
    positions(shop).find(|position| shop.position_label(*position).eq_ignore_ascii_case(label))
}

fn positions(shop: &Shop) -> impl Iterator<Item = Position> + '_ {
    shop.machines
        .iter()
        .flat_map(|(id, machine)| (1..=machine.positions).map(|number| Position { machine: *id, number }))
}
