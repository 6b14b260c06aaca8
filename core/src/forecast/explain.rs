//! Why: the reason of a forecast in one sentence that names its numbers.

use super::interval_dates::{IntervalEnd, IntervalEnds};
use super::model::filter::STEP_LASTING;
use super::{Crossing, GoverningLimit, SpindleForecast, SpindleState, UnderStopLimit};
use crate::spindle::Spindle;
use crate::units::{Kilonewtons, Percent, Unit};
use crate::words::{self, date_long, month_year, percent_short};
use chrono::NaiveDate;

/// What the sentence is made from.
pub(super) struct Explained<'a> {
    /// Complete but for the sentence.
    pub(super) forecast: &'a SpindleForecast,
    pub(super) spindle: &'a Spindle,
    /// Position and since when; `None`: not mounted.
    pub(super) place: Option<(String, NaiveDate)>,
    pub(super) as_of: NaiveDate,
    pub(super) risk: f64,
    /// Last day of the horizon.
    pub(super) last: NaiveDate,
    pub(super) ends: &'a IntervalEnds,
    /// The day from which intervals count.
    pub(super) start: NaiveDate,
    pub(super) length_unit: Unit,
    pub(super) force_unit: Unit,
}

/// The sentence, with its full stop; further ones where it may be under the stop limit already, and where
/// a step drop took something for good.
pub(super) fn explain(about: &Explained<'_>) -> String {
    let why = why(about);
    [Some(why), about.perhaps_under_stop_limit(), about.lasting_step()]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ")
}

fn why(about: &Explained<'_>) -> String {
    let forecast = about.forecast;
    let stop = forecast.limits.stop_limit_force();
    if about.spindle.is_out_on(about.as_of) {
        let day = about.spindle.out_of_service_on.map(|day| date_long(day, about.as_of)).unwrap_or_default();
        return format!("Taken out of service on {day}.");
    }
    match forecast.under_stop_limit {
        Some(UnderStopLimit::Read(on)) => {
            let serviced = forecast.last_service.filter(|day| on < *day && !forecast.is_passed);
            let serviced =
                serviced.map(|day| format!(", and not within limits since the service of {}", about.date(day)));
            return format!(
                "Read under the stop limit of {}{}: do not run it until it is measured within limits.",
                about.force(stop),
                serviced.unwrap_or_default()
            );
        }
        Some(UnderStopLimit::Estimated) if forecast.state != SpindleState::NotMounted => {
            return format!(
                "The force is estimated at {}, under the stop limit of {}: do not run it until it is measured within limits.",
                about.force(forecast.force_now.mean),
                about.force(stop)
            );
        }
        _ => {}
    }
    if forecast.state == SpindleState::NotMounted {
        return "Not mounted: it makes no run hours, so nothing comes due.".to_owned();
    }
    if forecast.is_passed {
        return about.passed();
    }
    if forecast.needs_first_reading(about.as_of) {
        return about.measure_first();
    }
    match forecast.governing {
        Some(limit) => about.ahead(limit),
        None => format!(
            "{} no limit is reached before {} with more than {} risk.",
            about.usage(),
            month_year(about.last),
            about.risk()
        ),
    }
}

impl Explained<'_> {
    fn force(&self, force: Kilonewtons) -> String {
        words::force_with_unit(force, self.forecast.limits.nominal_force.value, self.force_unit)
    }

    /// That it may be under the stop limit already.
    fn perhaps_under_stop_limit(&self) -> Option<String> {
        let chance = words::chance(self.forecast.perhaps_under_stop_limit()?);
        let stop = self.force(self.forecast.limits.stop_limit_force());
        Some(format!("Perhaps ({chance}) under the stop limit of {stop} already: measure it before it runs on."))
    }

    /// What a step drop since the last service took for good, and what gets it back. Nothing of one that
    /// is less likely than not, nor after a service: what that left tells more.
    fn lasting_step(&self) -> Option<String> {
        let forecast = self.forecast;
        if self.spindle.is_out_on(self.as_of) {
            return None;
        }
        let is_since = |day: NaiveDate| forecast.last_service.is_none_or(|service| service < day);
        let step = forecast.steps.iter().rev().find(|step| step.weight.get() > 50.0 && is_since(step.by))?;
        let lasting = Percent::new(STEP_LASTING * step.size.get())?;
        Some(format!(
            "Some {} % of the drop at once is lasting, as with a broken spring: a minor service will not bring it back, a major service will.",
            words::number(lasting.get(), 0)
        ))
    }

    /// What to do with a spindle of which only the figures of others are known.
    fn measure_first(&self) -> String {
        let forecast = self.forecast;
        let place = self
            .place
            .as_ref()
            .map_or_else(String::new, |(label, since)| format!("; in {label} since {}", self.date(*since)));
        let known = match (forecast.last_service, self.spindle.installed_on) {
            (Some(day), _) => format!("{place}, last service on {}", self.date(day)),
            (None, Some(day)) => format!("{place}, new on {}", self.date(day)),
            (None, None) => format!("{place} without a recorded service"),
        };
        let group = match forecast.interface_spindles {
            0..3 => String::new(),
            count => {
                let (interface, force) = (&self.spindle.interface, self.force(forecast.force_now.mean));
                format!(" By the figures of {count} {interface} spindles its force is about {force}.")
            }
        };
        format!("Never measured{known}: measure it first.{group}")
    }

    fn risk(&self) -> String {
        format!("{} %", percent_short(Percent::new(self.risk * 100.0).unwrap_or_default()))
    }

    fn date(&self, day: NaiveDate) -> String {
        date_long(day, self.as_of)
    }

    /// `At 11.4 h a working day`.
    fn usage(&self) -> String {
        match (self.forecast.hours_per_day, self.forecast.cycles_per_day) {
            (Some(hours), _) => format!("At {} h a working day", words::hours_per_day(hours)),
            (None, Some(cycles)) => format!("At {} clamp cycles a working day", words::cycles(cycles)),
            (None, None) => "By working days".to_owned(),
        }
    }

    /// `between 10 March and 11 May; 10 % risk by 17 March`, as far as it lies within the horizon.
    fn between(&self, crossing: Option<&Crossing>) -> String {
        let [early, .., late] = crossing.copied().unwrap_or_default().days;
        let span = match (early, late) {
            (Some(early), Some(late)) if early == late => format!("about {}", self.date(early)),
            (Some(early), Some(late)) if early <= self.as_of => format!("by {}", self.date(late)),
            (Some(early), Some(late)) => format!("between {} and {}", self.date(early), self.date(late)),
            (Some(early), None) if early <= self.as_of => {
                format!("perhaps already, or after {}", month_year(self.last))
            }
            (Some(early), None) => {
                format!("between {} and some time after {}", self.date(early), month_year(self.last))
            }
            (None, _) => format!("hardly before {}", month_year(self.last)),
        };
        let by = match self.forecast.service_by {
            Some(day) if self.as_of < day => format!("by {}", self.date(day)),
            _ => "already today".to_owned(),
        };
        format!("{span}; {} risk {by}", self.risk())
    }

    fn setting(&self) -> String {
        let unit = if self.length_unit == Unit::Inch { Unit::Inch } else { Unit::Millimetre };
        self.forecast.limits.setting().map_or_else(String::new, |(aim, tolerance)| {
            format!("{} ± {} {unit}", words::length_in(aim, unit), words::length_in(tolerance, unit))
        })
    }

    fn interval(&self, limit: GoverningLimit) -> String {
        let limits = &self.forecast.limits;
        match limit {
            GoverningLimit::RunHours => {
                limits.every_hours.as_ref().map(|v| format!("{} run hours", words::hours(v.value))).unwrap_or_default()
            }
            GoverningLimit::ClampCycles => limits
                .every_cycles
                .as_ref()
                .map(|v| format!("{} clamp cycles", words::cycles(v.value)))
                .unwrap_or_default(),
            _ => limits
                .every_months
                .as_ref()
                .map(|v| if v.value == 1 { "1 month".to_owned() } else { format!("{} months", v.value) })
                .unwrap_or_default(),
        }
    }

    fn end_of(&self, limit: GoverningLimit) -> Option<IntervalEnd> {
        self.ends.all().find(|(known, _)| *known == limit).map(|(_, end)| end)
    }

    fn passed(&self) -> String {
        let forecast = self.forecast;
        match forecast.governing {
            Some(GoverningLimit::Force) | None => {
                let since = match forecast.passed_since {
                    Some(day) if day < self.as_of => format!(", since about {}", self.date(day)),
                    _ => String::new(),
                };
                format!(
                    "The force is estimated at {}, under the service limit of {}{since}.",
                    self.force(forecast.force_now.mean),
                    self.force(forecast.limits.service_limit_force())
                )
            }
            Some(GoverningLimit::SettingDimension) => {
                let now = forecast.setting_now.map(|now| words::length_with_unit(now.mean, self.length_unit));
                format!(
                    "The setting dimension is estimated at {}, outside {}.",
                    now.unwrap_or_default(),
                    self.setting()
                )
            }
            Some(limit) => {
                let ended = self.end_of(limit).map(|end| end.expected.unwrap_or(end.day));
                let ended = ended.map(|day| self.date(day)).unwrap_or_default();
                let interval = self.interval(limit);
                format!("The interval of {interval}, counted from {}, was over on {ended}.", self.date(self.start))
            }
        }
    }

    fn ahead(&self, limit: GoverningLimit) -> String {
        let forecast = self.forecast;
        match limit {
            GoverningLimit::Force => {
                let force = self.force(forecast.limits.service_limit_force());
                let between = self.between(forecast.cross_service_limit.as_ref());
                format!("{} the force reaches {force} {between}.", self.usage())
            }
            GoverningLimit::SettingDimension => {
                let between = self.between(forecast.cross_setting_dimension.as_ref());
                format!("{} the setting dimension leaves {} {between}.", self.usage(), self.setting())
            }
            GoverningLimit::Calendar => {
                let end = self.end_of(limit).map(|end| self.date(end.day)).unwrap_or_default();
                format!("The interval of {} since {} ends on {end}.", self.interval(limit), self.date(self.start))
            }
            GoverningLimit::RunHours | GoverningLimit::ClampCycles => {
                let end = self.end_of(limit);
                let expected = end.map(|end| match end.expected {
                    Some(day) if day <= self.last => format!("about {}", self.date(day)),
                    _ => format!("after {}", month_year(self.last)),
                });
                let by = end.map(|end| self.date(end.day)).unwrap_or_default();
                format!(
                    "{} the interval of {} since {} ends {}; {} risk by {by}.",
                    self.usage(),
                    self.interval(limit),
                    self.date(self.start),
                    expected.unwrap_or_default(),
                    self.risk()
                )
            }
        }
    }
}
