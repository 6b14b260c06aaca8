//! Settings of the shop.

use super::super::register::{Column, Field, Register, RegisterContext, RegisterRow};
use crate::forms::draft::{Draft, FieldErrors, Key, Reader};
use almanac_core::actions::Action;
use almanac_core::settings::ShopSettings;
use almanac_core::typed_date::{Lean, parse_typed_date};

/// The register.
#[derive(Debug)]
pub struct Settings;

/// The label, the key of the file, and what it is counted in.
const LABELS: [(Key, &str, &str); 15] = [
    ("name of the shop", "name", ""),
    ("stands for today", "as_of", ""),
    ("accepted risk", "accepted_risk", "share that may cross a limit"),
    ("lengths in", "length_unit", ""),
    ("forces in", "force_unit", ""),
    ("currency", "currency", ""),
    ("booking horizon", "booking_horizon_days", "days"),
    ("weekday weights", "weekday_weights", ""),
    ("day begins", "day_begins", ""),
    ("order pattern", "order_pattern", ""),
    ("labour", "labour_per_hour", "per person and hour"),
    ("lockout", "lockout_min", "min before a stop"),
    ("one visit", "visit_cost", "per hall and day"),
    ("moving a service", "move_cost_per_week", "per week of notice missing"),
    ("leaving a service", "left_cost", "per due service without a place"),
];

impl Register for Settings {
    fn word(&self) -> &'static str {
        "shop"
    }

    fn one(&self) -> &'static str {
        "setting"
    }

    fn columns(&self) -> Vec<Column> {
        vec![Column::words("setting", 1.2), Column::words("value", 1.6), Column::words("starting value", 1.2)]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let start = ShopSettings::default();
        let rows = LABELS.into_iter().enumerate().map(|(index, (label, key, unit))| {
            let value = |settings: &ShopSettings| {
                let text = settings.text_of(key);
                if unit.is_empty() || text.is_empty() { text } else { format!("{text} {unit}") }
            };
            let id = i64::try_from(index).unwrap_or(0);
            RegisterRow::new(id, vec![label.to_owned(), value(&context.shop.settings), start.text_of(key)])
        });
        rows.collect()
    }

    fn fields(&self, _context: &RegisterContext<'_>) -> Vec<Field> {
        LABELS
            .into_iter()
            .map(|(label, key, unit)| match key {
                "length_unit" => Field::words(label, &["mm", "in"]),
                "force_unit" => Field::words(label, &["kN", "lbf"]),
                "as_of" => Field::text(label, "empty: the real day"),
                "weekday_weights" => Field::text(label, "1;1;1;1;1;0;0, Monday first"),
                "name" | "currency" | "day_begins" | "order_pattern" => Field::text(label, ""),
                _ => Field::figure(label, "", unit),
            })
            .collect()
    }

    fn draft(&self, context: &RegisterContext<'_>, _id: Option<i64>) -> Option<Draft> {
        let mut draft = Draft::default();
        for (label, key, _) in LABELS {
            draft.set(label, context.shop.settings.text_of(key));
        }
        Some(draft)
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, _id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let mut settings = ShopSettings::clone(&context.shop.settings);
        for (label, key, _) in LABELS {
            let mut text = reader.text(label);
            if key == "as_of"
                && let Ok(day) = parse_typed_date(&text, context.today, Lean::Back)
            {
                text = day.to_string();
            }
            if let Err(error) = settings.set(key, &text) {
                reader.wrong(label, error.to_string().replace(key, label));
            }
        }
        reader.finish(Some(Action::Settings(settings)))
    }

    fn remove(&self, _id: i64) -> Option<Action> {
        None
    }

    fn can_add(&self) -> bool {
        false
    }
}
