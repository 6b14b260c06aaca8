//! An import batch on a snapshot: for previews, and for folders that are only looked at.

use crate::actions::{ImportBatch, Table};
use crate::ids::Row;
use crate::shop::Shop;
use std::collections::BTreeMap;
use std::sync::Arc;

impl ImportBatch {
    /// The shop with the rows of this batch in it.
    #[must_use]
    pub fn apply_to(&self, shop: &Shop) -> Shop {
        let mut after = shop.clone();
        if let Some(settings) = &self.settings {
            after.settings = Arc::new(settings.clone());
        }
        put_in_map(&mut after.machines, &self.machines);
        put_in_map(&mut after.spindles, &self.spindles);
        put_in_list(&mut after.interface_limits, &self.interface_limits);
        put_in_list(&mut after.mountings, &self.mountings);
        put_in_list(&mut after.meters, &self.meters);
        put_in_list(&mut after.readings, &self.readings);
        put_in_list(&mut after.services, &self.services);
        put_in_list(&mut after.closures, &self.closures);
        put_in_list(&mut after.gauges, &self.gauges);
        put_in_list(&mut after.technicians, &self.technicians);
        put_in_list(&mut after.downtimes, &self.downtimes);
        put_in_list(&mut after.parts, &self.parts);
        put_in_list(&mut after.deliveries, &self.deliveries);
        put_in_list(&mut after.kit_lines, &self.kit_lines);
        put_in_list(&mut after.service_kinds, &self.service_kinds);
        put_in_list(&mut after.orders, &self.orders);
        after.sorted()
    }

    /// Whether it brings nothing new and changes nothing.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self { source: self.source.clone(), rows: self.rows, ..Self::default() }
    }
}

fn put_in_map<I: Ord + Copy, T: Clone>(rows: &mut Arc<BTreeMap<I, T>>, table: &Table<I, T>) {
    if table.added.is_empty() && table.changed.is_empty() {
        return;
    }
    let rows = Arc::make_mut(rows);
    for row in table.added.iter().chain(&table.changed) {
        rows.insert(row.id, row.value.clone());
    }
}

fn put_in_list<I: Ord + Copy, T: Clone>(rows: &mut Arc<Vec<Row<I, T>>>, table: &Table<I, T>) {
    if table.added.is_empty() && table.changed.is_empty() {
        return;
    }
    let rows = Arc::make_mut(rows);
    let changed: BTreeMap<I, &T> = table.changed.iter().map(|row| (row.id, &row.value)).collect();
    for row in rows.iter_mut() {
        if let Some(value) = changed.get(&row.id) {
            row.value = (*value).clone();
        }
    }
    rows.extend(table.added.iter().cloned());
}
