//! From chances and intervals to the service-by date and the limit that governs it.

use super::GoverningLimit;
use super::full::Modelled;
use super::interval_dates::IntervalEnds;
use chrono::NaiveDate;

/// A limit that is already passed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Passed {
    pub(super) limit: GoverningLimit,
    pub(super) since: Option<NaiveDate>,
}

/// By when, and because of what.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct ServiceBy {
    pub(super) day: Option<NaiveDate>,
    pub(super) governing: Option<GoverningLimit>,
}

impl ServiceBy {
    /// `passed`: what is passed already, in the order in which it counts.
    pub(super) fn of(
        model: &Modelled<'_>,
        ends: &IntervalEnds,
        passed: &[Passed],
        as_of: NaiveDate,
        risk: f64,
    ) -> Self {
        if let Some(first) = passed.first() {
            return Self { day: Some(as_of), governing: Some(first.limit) };
        }
        let mut candidates: Vec<(NaiveDate, GoverningLimit)> = Vec::new();
        candidates.extend(model.force_day().map(|day| (day, GoverningLimit::Force)));
        candidates.extend(model.setting_day(risk).map(|day| (day, GoverningLimit::SettingDimension)));
        candidates.extend(ends.all().map(|(limit, end)| (end.day.max(as_of), limit)));
        candidates.sort_unstable();
        let hard = ends.all().map(|(_, end)| end.day.max(as_of)).min();
        let day = model.risk_day(risk).into_iter().chain(hard).min();
        let governing = candidates.first().map(|(_, limit)| *limit).or_else(|| {
            // neither alone reaches the accepted risk within the horizon, but both together do
            let (force, setting) = model.chances_at_the_end();
            day.map(|_| if force >= setting { GoverningLimit::Force } else { GoverningLimit::SettingDimension })
        });
        Self { day, governing }
    }
}
