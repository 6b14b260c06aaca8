//! The pretended figures beside those of the shop as it stands.

use super::apply::{Pretended, place_of, usage_of};
use super::{InvalidWhatIf, WhatIf, words};
use crate::due::{DueList, Mark, due_list, must_not_run};
use crate::forecast::fits::ShopFits;
use crate::forecast::{
    Cancelled, ForecastBasis, ForecastConfig, GoverningLimit, Groups, Progress, ShopForecast, SpindleForecast,
    SpindleState, forecast_spindle,
};
use crate::ids::SpindleId;
use crate::limits::InForce;
use crate::shop::Shop;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The shop as it stands, projected.
#[derive(Debug, Clone, Copy)]
pub struct Basis<'a> {
    /// The shop as known on the as-of day.
    pub shop: &'a Shop,
    /// Its projection.
    pub forecast: &'a ShopForecast,
    /// The list made from that.
    pub due: &'a DueList,
    /// What it was projected with.
    pub fits: &'a Arc<ShopFits>,
    /// What its spindles have in common.
    pub groups: &'a Groups,
}

/// One spindle as it stands, and as pretended.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// As it stands.
    pub before: Arc<SpindleForecast>,
    /// As pretended.
    pub after: Arc<SpindleForecast>,
}

/// How a spindle stands, in short.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Service-by; `None`: beyond the horizon, or out of service.
    pub service_by: Option<NaiveDate>,
    /// The limit that is reached first.
    pub governing: Option<GoverningLimit>,
    /// State word.
    pub mark: Mark,
}

/// One spindle of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedRow {
    /// The spindle.
    pub spindle: SpindleId,
    /// Where it sits, else its name.
    pub place: String,
    /// As it stands.
    pub before: Standing,
    /// As pretended.
    pub after: Standing,
}

/// All of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparedShop {
    /// The projection with the pretended figures; spindles of which nothing is pretended keep theirs.
    pub forecast: Arc<ShopForecast>,
    /// The list made from it.
    pub due: Arc<DueList>,
    /// The spindles of which something is pretended: soonest pretended service-by first, then by place.
    pub rows: Vec<ComparedRow>,
    /// Both projections of those spindles.
    pub spindles: BTreeMap<SpindleId, Compared>,
    /// What is pretended, such as `usage × 2`.
    pub pretended: String,
    /// What follows from it, in one sentence.
    pub lead: String,
    /// What was not reckoned with as typed, and why; one sentence each.
    pub remarks: Vec<String>,
}

/// Why there is nothing to compare.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotCompared {
    /// Something cannot be pretended.
    #[error(transparent)]
    Invalid(#[from] InvalidWhatIf),
    /// Stopped from outside.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// Projects what is pretended of some spindles and sets it beside the shop as it stands.
///
/// # Errors
/// What cannot be pretended; [`Cancelled`] when `progress` asks to stop.
pub fn compare(
    basis: Basis<'_>,
    what_if: &WhatIf,
    spindles: &BTreeSet<SpindleId>,
    progress: &dyn Progress,
) -> Result<ComparedShop, NotCompared> {
    let as_of = basis.forecast.as_of;
    let known: BTreeSet<SpindleId> =
        spindles.iter().copied().filter(|id| basis.forecast.spindles.contains_key(id)).collect();
    let mut pretended = what_if.apply(basis.shop, as_of, &basis.forecast.config, &known)?;
    let mut compared = BTreeMap::new();
    let mut forecast = basis.forecast.clone();
    forecast.config = pretended.config;
    for (id, after) in project(basis, &pretended, &known, progress)? {
        let Some(before) = basis.forecast.spindles.get(&id) else { continue };
        let after = Arc::new(held(before, labelled(after, what_if)));
        forecast.spindles.insert(id, Arc::clone(&after));
        compared.insert(id, Compared { before: Arc::clone(before), after });
    }
    pretended.remarks.extend(words::usage_remark(&pretended, &compared, basis.shop, as_of));
    let due = due_list(&pretended.shop, &forecast);
    let rows = rows(basis, &due, &compared);
    let lead = words::lead(what_if, basis, &rows, &compared);
    Ok(ComparedShop {
        lead,
        pretended: words::condition(what_if, basis.shop, as_of),
        forecast: Arc::new(forecast),
        due: Arc::new(due),
        rows,
        spindles: compared,
        remarks: pretended.remarks,
    })
}

/// The pretended projections; group figures stay those of the shop as it stands.
fn project(
    basis: Basis<'_>,
    pretended: &Pretended,
    spindles: &BTreeSet<SpindleId>,
    progress: &dyn Progress,
) -> Result<Vec<(SpindleId, SpindleForecast)>, Cancelled> {
    let as_of = basis.forecast.as_of;
    let Pretended { shop, config, .. } = pretended;
    let total = spindles.len();
    let planned = |id: SpindleId| {
        basis.forecast.spindles.get(&id).map_or(pretended.usage, |before| usage_of(pretended.usage, before).0)
    };
    let mut projected = Vec::with_capacity(total);
    // one alone needs no histories of the others
    if let (Some(id), 1) = (spindles.first(), total) {
        let config = ForecastConfig { planned: planned(*id), ..*config };
        let forecast = forecast_spindle(shop, as_of, &config, basis.fits, basis.groups, *id);
        projected.extend(forecast.map(|forecast| (*id, forecast)));
        return Ok(projected);
    }
    let whole = ForecastBasis::of(shop, as_of, config, basis.fits, progress)?;
    for (done, id) in spindles.iter().enumerate() {
        if !progress.step(done, total) {
            return Err(Cancelled);
        }
        projected.extend(whole.project_as(*id, planned(*id)).map(|forecast| (*id, forecast)));
    }
    Ok(projected)
}

/// Pretended limits name no source but that they are pretended.
fn labelled(mut forecast: SpindleForecast, what_if: &WhatIf) -> SpindleForecast {
    fn label<T>(limit: Option<&mut InForce<T>>, is_pretended: bool) {
        if let Some(limit) = limit.filter(|_| is_pretended) {
            "what if, not in force".clone_into(&mut limit.source);
        }
    }
    let limits = &mut forecast.limits;
    label(Some(&mut limits.service_limit), what_if.service_limit.is_some());
    label(Some(&mut limits.stop_limit), what_if.stop_limit.is_some());
    label(limits.setting_tolerance.as_mut(), what_if.setting_tolerance.is_some());
    label(limits.every_months.as_mut(), what_if.every_months.is_some());
    label(limits.every_hours.as_mut(), what_if.every_hours.is_some());
    label(limits.every_cycles.as_mut(), what_if.every_cycles.is_some());
    forecast
}

/// What must not run as it stands is said not to run whatever is pretended.
fn held(before: &SpindleForecast, mut after: SpindleForecast) -> SpindleForecast {
    if must_not_run(before) {
        after.under_stop_limit = before.under_stop_limit;
        after.state = if after.state == SpindleState::NotMounted { after.state } else { SpindleState::OutOfService };
        after.reason.clone_from(&before.reason);
    }
    after
}

fn rows(basis: Basis<'_>, due: &DueList, compared: &BTreeMap<SpindleId, Compared>) -> Vec<ComparedRow> {
    let marks =
        |due: &DueList| -> BTreeMap<SpindleId, Mark> { due.rows.iter().map(|row| (row.spindle, row.mark)).collect() };
    let (before, after) = (marks(basis.due), marks(due));
    let standing = |forecast: &SpindleForecast, mark: Mark| Standing {
        service_by: forecast.service_by.filter(|_| mark != Mark::OutOfService),
        governing: forecast.governing,
        mark,
    };
    let mut rows: Vec<ComparedRow> = compared
        .iter()
        .filter_map(|(id, both)| {
            Some(ComparedRow {
                spindle: *id,
                place: place_of(basis.shop, *id, basis.forecast.as_of),
                before: standing(&both.before, *before.get(id)?),
                after: standing(&both.after, *after.get(id)?),
            })
        })
        .collect();
    rows.sort_by(|a, b| {
        let by = |row: &ComparedRow| (row.after.service_by.is_none(), row.after.service_by);
        by(a).cmp(&by(b)).then_with(|| a.place.cmp(&b.place)).then_with(|| a.spindle.cmp(&b.spindle))
    });
    rows
}

/// Places of spindles whose usage had to be held at the hours of a day.
pub(super) fn beyond_a_day(
    pretended: &Pretended,
    compared: &BTreeMap<SpindleId, Compared>,
    shop: &Shop,
    as_of: NaiveDate,
) -> Vec<String> {
    let held = compared.iter().filter(|(_, both)| usage_of(pretended.usage, &both.before).1);
    held.map(|(id, _)| place_of(shop, *id, as_of)).collect()
}
