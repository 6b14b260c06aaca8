//! From chances and intervals to the service-by date and the limit that governs it.

use super::GoverningLimit;
use super::ahead::{Crossed, DaysAhead, first_day};
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
    /// `force` and `setting`: their chances, with Student's quantile at the accepted risk; `passed`:
    /// what is passed already, in the order in which it counts.
    pub(super) fn of(
        force: (&Crossed, f64),
        setting: Option<(&Crossed, f64)>,
        ends: &IntervalEnds,
        passed: &[Passed],
        days: &DaysAhead,
        risk: f64,
    ) -> Self {
        let own = |(crossed, score): (&Crossed, f64)| crossed.first(days, risk, score).map(|index| days.day(index));
        let (force_day, setting_day) = (own(force), setting.and_then(own));
        let (force, setting) = (force.0, setting.map(|(setting, _)| setting));
        let together = match setting {
            None => force_day,
            Some(setting) => {
                let latest = force_day.into_iter().chain(setting_day).min();
                let until = latest.map_or(days.len(), |day| (day - days.as_of).num_days().max(0) as usize + 1);
                let chance = |index| 1.0 - (1.0 - force.chance(index)) * (1.0 - setting.chance(index));
                first_day(until, |index| chance(index) >= risk).map(|index| days.day(index)).or(latest)
            }
        };
        let mut candidates: Vec<(NaiveDate, GoverningLimit)> = Vec::new();
        candidates.extend(force_day.map(|day| (day, GoverningLimit::Force)));
        candidates.extend(setting_day.map(|day| (day, GoverningLimit::SettingDimension)));
        candidates.extend(ends.all().map(|(limit, end)| (end.day.max(days.as_of), limit)));
        candidates.sort_unstable();
        let hard = ends.all().map(|(_, end)| end.day.max(days.as_of)).min();
        let day = together.into_iter().chain(hard).min();
        if let Some(first) = passed.first() {
            return Self { day: Some(days.as_of), governing: Some(first.limit) };
        }
        let governing = candidates.first().map(|(_, limit)| *limit).or_else(|| {
            // neither alone reaches the accepted risk within the horizon, but both together do
            let setting = setting?;
            let last = days.len().saturating_sub(1);
            let force_leads = force.chance(last) >= setting.chance(last);
            day.map(|_| if force_leads { GoverningLimit::Force } else { GoverningLimit::SettingDimension })
        });
        Self { day, governing }
    }
}
