//! The part of a shop that bears on one spindle, so that going back to a day costs little.

use crate::ids::SpindleId;
use crate::machine::Position;
use crate::meter::MeterOwner;
use crate::shop::Shop;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A shop, ready to be taken apart.
#[derive(Debug)]
pub(super) struct Parts<'a> {
    shop: &'a Shop,
    sat_in: BTreeMap<Position, BTreeSet<SpindleId>>,
}

impl<'a> Parts<'a> {
    pub(super) fn of(shop: &'a Shop) -> Self {
        let mut sat_in: BTreeMap<Position, BTreeSet<SpindleId>> = BTreeMap::new();
        for mounting in shop.mountings.iter() {
            sat_in.entry(mounting.position).or_default().insert(mounting.spindle);
        }
        Self { shop, sat_in }
    }

    /// The records of a spindle, of the meters that ever counted for it, and of the spindles that
    /// shared its positions (they say how long those meters ran). Settings, limits and closures as
    /// they are.
    pub(super) fn of_spindle(&self, id: SpindleId) -> Shop {
        let shop = self.shop;
        let positions: BTreeSet<Position> = shop.mountings_of(id).iter().map(|row| row.position).collect();
        let others = positions.iter().filter_map(|position| self.sat_in.get(position)).flatten().copied();
        let involved: BTreeSet<SpindleId> = others.chain([id]).collect();
        let owners: BTreeSet<MeterOwner> = positions
            .iter()
            .map(|position| MeterOwner::Position(*position))
            .chain(involved.iter().map(|spindle| MeterOwner::Spindle(*spindle)))
            .collect();
        let spindles = involved.iter().filter_map(|id| Some((*id, shop.spindles.get(id)?.clone()))).collect();
        Shop {
            spindles: Arc::new(spindles),
            mountings: Arc::new(involved.iter().flat_map(|id| shop.mountings_of(*id)).cloned().collect()),
            meters: Arc::new(owners.iter().flat_map(|owner| shop.meters_of(*owner)).cloned().collect()),
            readings: Arc::new(involved.iter().flat_map(|id| shop.readings_of(*id)).cloned().collect()),
            services: Arc::new(shop.services_of(id).to_vec()),
            orders: Arc::default(),
            ..shop.clone()
        }
    }
}
