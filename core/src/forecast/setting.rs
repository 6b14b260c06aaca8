//! The setting dimension in its own unit: where it is, how it drifts, whether it is out.

use super::Estimate;
use super::full::Modelled;
use super::history::Stretch;
use crate::limits::Limits;
use crate::units::Millimetres;
use chrono::NaiveDate;

/// Where the setting dimension is and where it goes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Setting {
    pub(super) now: Estimate<Millimetres>,
    /// Per 1,000 run hours, from two readings on.
    pub(super) drift: Option<Millimetres>,
    pub(super) is_out: bool,
    /// Since when it is out, by the readings.
    pub(super) out_since: Option<NaiveDate>,
}

impl Setting {
    /// `None` without any reading of it, or without a dimension in force; `readings`: how many there
    /// are in all.
    pub(super) fn of(model: &Modelled<'_>, limits: &Limits, current: &Stretch, readings: usize) -> Option<Self> {
        let (aim, tolerance) = limits.setting()?;
        let law = model.setting.as_ref()?;
        let (mut mean, sd) = law.now;
        // a last reading that fits nothing is no slip until another one says so
        let last = current.setting.iter().rfind(|point| !point.is_doubted);
        let stands_alone = last.filter(|point| law.set_aside.contains(&point.id) && point.y.abs() > 1.0);
        if let Some(point) = stands_alone {
            mean = point.y;
        }
        let now = Estimate {
            mean: Millimetres::new(aim.get() + mean * tolerance.get())?,
            sd: Millimetres::new(sd * tolerance.get())?,
        };
        let per_1000_h = law.drift * model.per_1000_h() * tolerance.get();
        let is_out = mean.abs() > 1.0;
        let counted =
            current.setting.iter().filter(|point| stands_alone.is_some() || !law.set_aside.contains(&point.id));
        let out_since = counted.rev().take_while(|point| point.y.abs() > 1.0).last().map(|point| point.day);
        Some(Self {
            now,
            drift: if readings > 1 { Millimetres::new(per_1000_h) } else { None },
            is_out,
            out_since: if is_out { out_since } else { None },
        })
    }
}
