//! Kits, and how long a service takes.

use super::super::register::{Column, Field, Register, RegisterContext, RegisterRow, interface_offers, part_offers};
use super::parts::{known_part, quantity};
use crate::forms::draft::{Draft, FieldErrors, Reader, plain_number};
use almanac_core::actions::{Action, Change};
use almanac_core::ids::{KitLineId, ServiceKindId};
use almanac_core::interface::Interface;
use almanac_core::part::{KitLine, ServiceKind};
use almanac_core::service::Kind;
use almanac_core::units::{Minutes, Quantity};

/// What one service takes.
#[derive(Debug)]
pub struct Kits;

impl Register for Kits {
    fn word(&self) -> &'static str {
        "kits"
    }

    fn one(&self) -> &'static str {
        "kit line"
    }

    fn name_key(&self) -> &'static str {
        "tool interface"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("interface", 1.2),
            Column::words("service", 0.8),
            Column::words("part", 1.6),
            Column::figures("quantity", 0.7),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut lines: Vec<_> = context.shop.kit_lines.iter().collect();
        lines.sort_by(|a, b| (&a.interface, a.kind, &a.part).cmp(&(&b.interface, b.kind, &b.part)));
        lines
            .into_iter()
            .map(|row| {
                let kind = row.kind.key().to_owned();
                let cells = vec![row.interface.to_string(), kind, row.part.clone(), row.quantity.to_string()];
                RegisterRow::new(row.id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::offers("tool interface", "HSK-A63", interface_offers(context.shop)),
            Field::words("kind", &["minor", "major"]),
            Field::offers("part", "name", part_offers(context.shop)),
            Field::figure("quantity", "1", "in its unit"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default().with("kind", "minor").with("quantity", "1")) };
        let row = context.shop.kit_lines.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("tool interface", row.interface.to_string())
                .with("kind", row.kind.key())
                .with("part", row.part.clone())
                .with("quantity", row.quantity.to_string()),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let interface = reader.required("tool interface", "a tool interface such as HSK-A63", Interface::parse);
        let kind = reader.required("kind", "minor or major", Kind::from_key);
        let part = known_part(&mut reader, context);
        let quantity = quantity(&mut reader);
        let line = interface.zip(kind).zip(part).zip(quantity);
        let line = line.map(|(((interface, kind), part), quantity)| KitLine { interface, kind, part, quantity });
        if let Some(line) = &line {
            let same =
                |row: &KitLine| row.interface == line.interface && row.kind == line.kind && row.part == line.part;
            if context.shop.kit_lines.iter().any(|row| Some(row.id.row()) != id && same(&row.value)) {
                reader.wrong("part", "this kit already holds it");
            }
        }
        let change = line.map(|line| match id {
            Some(id) => Change::Set(KitLineId::from_row(id), line),
            None => Change::Add(line),
        });
        reader.finish(change.map(Action::KitLine))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::KitLine(Change::Remove(KitLineId::from_row(id))))
    }
}

/// How long a service of a kind takes.
#[derive(Debug)]
pub struct ServiceKinds;

impl Register for ServiceKinds {
    fn word(&self) -> &'static str {
        "service times"
    }

    fn one(&self) -> &'static str {
        "service time"
    }

    fn name_key(&self) -> &'static str {
        "tool interface"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("interface", 1.2),
            Column::words("service", 0.8),
            Column::figures("minutes", 0.7),
            Column::figures("crew", 0.5),
            Column::words("gauge", 1.2),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut kinds: Vec<_> = context.shop.service_kinds.iter().collect();
        kinds.sort_by(|a, b| (&a.interface, a.kind).cmp(&(&b.interface, b.kind)));
        kinds
            .into_iter()
            .map(|row| {
                let cells = vec![
                    row.interface.to_string(),
                    row.kind.key().to_owned(),
                    row.minutes.get().to_string(),
                    row.crew.to_string(),
                    row.gauge_quantity.map(Quantity::label).unwrap_or_default().to_owned(),
                ];
                RegisterRow::new(row.id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::offers("tool interface", "HSK-A63", interface_offers(context.shop)),
            Field::words("kind", &["minor", "major"]),
            Field::figure("minutes", "", "min without lockout"),
            Field::words("crew", &["1", "2"]),
            Field::words("gauge for", &["clamp force", "setting dimension", "none"]),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else {
            let draft = Draft::default().with("kind", "minor").with("crew", "1").with("gauge for", "clamp force");
            return Some(draft);
        };
        let row = context.shop.service_kinds.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("tool interface", row.interface.to_string())
                .with("kind", row.kind.key())
                .with("minutes", row.minutes.get().to_string())
                .with("crew", row.crew.to_string())
                .with("gauge for", row.gauge_quantity.map_or("none", Quantity::label)),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let interface = reader.required("tool interface", "a tool interface such as HSK-A63", Interface::parse);
        let kind = reader.required("kind", "minor or major", Kind::from_key);
        let day = |text: &str| plain_number(text).filter(|minutes| *minutes > 0.0 && *minutes <= 10_080.0);
        let minutes = reader.required("minutes", "minutes above 0, at most a week", day).and_then(Minutes::new);
        let crew = reader.required("crew", "1 or 2", |text| text.parse::<u32>().ok().filter(|n| (1..=2).contains(n)));
        let gauge_quantity = Quantity::from_key(draft.get("gauge for"));
        let made = interface.zip(kind).zip(minutes).zip(crew);
        let made = made.map(|(((interface, kind), minutes), crew)| ServiceKind {
            interface,
            kind,
            minutes,
            crew,
            gauge_quantity,
        });
        if let Some(made) = &made {
            let same = |row: &ServiceKind| row.interface == made.interface && row.kind == made.kind;
            if context.shop.service_kinds.iter().any(|row| Some(row.id.row()) != id && same(&row.value)) {
                reader.wrong("kind", "there is already a time for this interface and kind");
            }
        }
        let change = made.map(|made| match id {
            Some(id) => Change::Set(ServiceKindId::from_row(id), made),
            None => Change::Add(made),
        });
        reader.finish(change.map(Action::ServiceKind))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::ServiceKind(Change::Remove(ServiceKindId::from_row(id))))
    }
}
