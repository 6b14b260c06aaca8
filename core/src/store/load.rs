//! The shop as a snapshot: one pass per table.

use super::tables::{Changes, ShopTable, Stored, load_all};
use super::{StoreError, settings};
use crate::ids::Row;
use crate::shop::Shop;
use rusqlite::Connection;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Everything.
pub(super) fn shop(connection: &Connection) -> Result<Shop, StoreError> {
    let all = Changes { tables: ShopTable::ALL.into_iter().collect() };
    reload(connection, &Shop::default(), &all)
}

/// The shop with the touched tables read again; the others stay shared.
pub(super) fn reload(connection: &Connection, known: &Shop, changes: &Changes) -> Result<Shop, StoreError> {
    // all tables as of one moment, even while another program writes
    let moment = connection.unchecked_transaction()?;
    let mut shop = known.clone();
    for table in &changes.tables {
        match table {
            ShopTable::Settings => shop.settings = Arc::new(settings::load(&moment)?),
            ShopTable::Machines => shop.machines = by_id(&moment)?,
            ShopTable::Spindles => shop.spindles = by_id(&moment)?,
            ShopTable::InterfaceLimits => shop.interface_limits = Arc::new(load_all(&moment)?),
            ShopTable::Mountings => {
                shop.mountings = sorted(load_all(&moment)?, |row: &Row<_, crate::mounting::Mounting>| {
                    (row.spindle, row.mounted_on, row.id)
                });
            }
            ShopTable::Meters => {
                shop.meters =
                    sorted(load_all(&moment)?, |row: &Row<_, crate::meter::MeterReading>| (row.owner, row.at, row.id));
            }
            ShopTable::Readings => {
                shop.readings =
                    sorted(load_all(&moment)?, |row: &Row<_, crate::reading::Reading>| (row.spindle, row.at, row.id));
            }
            ShopTable::Services => {
                shop.services =
                    sorted(load_all(&moment)?, |row: &Row<_, crate::service::Service>| (row.spindle, row.at, row.id));
            }
            ShopTable::Closures => shop.closures = Arc::new(load_all(&moment)?),
            ShopTable::Gauges => shop.gauges = Arc::new(load_all(&moment)?),
            ShopTable::Technicians => shop.technicians = Arc::new(load_all(&moment)?),
            ShopTable::Downtimes => shop.downtimes = Arc::new(load_all(&moment)?),
            ShopTable::Parts => shop.parts = Arc::new(load_all(&moment)?),
            ShopTable::Deliveries => shop.deliveries = Arc::new(load_all(&moment)?),
            ShopTable::KitLines => shop.kit_lines = Arc::new(load_all(&moment)?),
            ShopTable::ServiceKinds => shop.service_kinds = Arc::new(load_all(&moment)?),
            ShopTable::Orders => shop.orders = Arc::new(load_all(&moment)?),
        }
    }
    Ok(shop)
}

fn by_id<T: Stored>(connection: &Connection) -> Result<Arc<BTreeMap<T::Id, T>>, StoreError>
where
    T::Id: Ord,
{
    Ok(Arc::new(load_all(connection)?.into_iter().map(|row| (row.id, row.value)).collect()))
}

/// The order of [`Shop::sorted`], for one table: sharing the others forbids sorting them all.
fn sorted<T, K: Ord>(mut rows: Vec<T>, key: impl Fn(&T) -> K) -> Arc<Vec<T>> {
    rows.sort_by_key(key);
    Arc::new(rows)
}
