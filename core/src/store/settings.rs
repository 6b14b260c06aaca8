//! The one row of settings.

use super::StoreError;
use super::columns::{Column as _, Fields};
use super::tables::{ShopTable, storable};
use crate::settings::ShopSettings;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

const COLUMNS: [&str; 15] = [
    "name",
    "as_of",
    "accepted_risk_share",
    "length_unit",
    "force_unit",
    "currency",
    "booking_horizon_days",
    "weekday_weights",
    "day_begins",
    "order_pattern",
    "labour_per_hour",
    "lockout_min",
    "visit_cost",
    "move_cost_per_week",
    "left_cost",
];

fn values(settings: &ShopSettings) -> [Value; 15] {
    [
        settings.name.to_value(),
        settings.as_of.to_value(),
        settings.accepted_risk.to_value(),
        settings.length_unit.to_value(),
        settings.force_unit.to_value(),
        settings.currency.to_value(),
        settings.booking_horizon_days.to_value(),
        settings.weekday_weights.to_value(),
        settings.day_begins.to_value(),
        settings.order_pattern.to_value(),
        settings.labour_per_hour.to_value(),
        settings.lockout.to_value(),
        settings.visit_cost.to_value(),
        settings.move_cost_per_week.to_value(),
        settings.left_cost.to_value(),
    ]
}

/// The settings; the starting values where nothing was ever set.
pub(super) fn load(connection: &Connection) -> Result<ShopSettings, StoreError> {
    let sql = format!("SELECT id, {} FROM shop_settings", COLUMNS.join(", "));
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query([])?;
    let Some(row) = rows.next()? else {
        return Ok(ShopSettings::default());
    };
    let mut fields = Fields::of(row, "shop_settings", &COLUMNS);
    Ok(ShopSettings {
        name: fields.take()?,
        as_of: fields.take()?,
        accepted_risk: fields.take()?,
        length_unit: fields.take()?,
        force_unit: fields.take()?,
        currency: fields.take()?,
        booking_horizon_days: fields.take()?,
        weekday_weights: fields.take()?,
        day_begins: fields.take()?,
        order_pattern: fields.take()?,
        labour_per_hour: fields.take()?,
        lockout: fields.take()?,
        visit_cost: fields.take()?,
        move_cost_per_week: fields.take()?,
        left_cost: fields.take()?,
    })
}

/// Puts the settings in place of those that are there.
pub(super) fn save(connection: &Connection, settings: &ShopSettings) -> Result<(), StoreError> {
    let marks = vec!["?"; COLUMNS.len()].join(", ");
    let updates = COLUMNS.map(|column| format!("{column} = excluded.{column}")).join(", ");
    // an upsert, since REPLACE would hide the old row from the triggers of the journal
    let sql = format!(
        "INSERT INTO shop_settings (id, {}) VALUES (1, {marks}) ON CONFLICT (id) DO UPDATE SET {updates}",
        COLUMNS.join(", ")
    );
    let values = values(settings);
    storable(ShopTable::Settings, &values)?;
    connection
        .prepare_cached(&sql)?
        .execute(params_from_iter(&values))
        .map_err(|error| StoreError::of_write(error, ShopTable::Settings, &values))?;
    Ok(())
}
