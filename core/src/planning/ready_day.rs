//! The day before which a spindle's next service is not to be done, as the planner says.

use crate::actions::{Action, Change};
use crate::ids::SpindleId;
use crate::shop::Shop;
use crate::spindle::{NotBefore, Spindle};
use crate::words;
use chrono::NaiveDate;

/// A day that cannot be the first one for a service.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{said} is no later than {today}, from which on it may be done anyway: say a later day, or leave it empty")]
pub struct NotLater {
    said: String,
    today: String,
}

impl Shop {
    /// The day before which the next service of a spindle is not to be done; `None`: at any time. What
    /// was said is void once that day has come, and once the spindle was served on a later day than it was
    /// said; it is not known before it was said.
    #[must_use]
    pub fn ready_day(&self, spindle: SpindleId, as_of: NaiveDate) -> Option<NaiveDate> {
        let NotBefore { day, said_on } = self.spindles.get(&spindle)?.not_before?;
        let counts = |replaced_on: Option<NaiveDate>| replaced_on.is_none_or(|replaced| as_of < replaced);
        let was_served = said_on.is_some_and(|said_on| {
            let mut services = self.services_of(spindle).iter();
            services.any(|row| said_on < row.at.date && row.at.date <= as_of && counts(row.replaced_on))
        });
        let is_known = said_on.is_none_or(|said_on| said_on <= as_of);
        (is_known && as_of < day && !was_served).then_some(day)
    }
}

/// The step by which the planner says from which day on a spindle's next service may be done; `None`
/// where that is said already, or the shop does not have the spindle.
///
/// # Errors
/// A day that is not later than the one on which it is said.
pub fn say_not_before(
    shop: &Shop,
    spindle: SpindleId,
    day: Option<NaiveDate>,
    today: NaiveDate,
) -> Result<Option<Action>, NotLater> {
    if let Some(day) = day.filter(|day| *day <= today) {
        let in_words = |day| words::date_long(day, today);
        return Err(NotLater { said: in_words(day), today: in_words(today) });
    }
    let Some(row) = shop.spindles.get(&spindle) else { return Ok(None) };
    if shop.ready_day(spindle, today) == day {
        return Ok(None);
    }
    let place = shop.position_on(spindle, today).map(|position| shop.position_label(position));
    let place = place.unwrap_or_else(|| row.name.clone());
    let label = match day {
        Some(day) => format!("Service of {place} not before {}", words::date_long(day, today)),
        None => format!("Service of {place} at any time"),
    };
    let not_before = day.map(|day| NotBefore { day, said_on: Some(today) });
    let change = Change::Set(spindle, Spindle { not_before, ..row.clone() });
    Ok(Some(Action::Together(label, vec![Action::Spindle(change)])))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{Row, ServiceId};
    use crate::interface::Interface;
    use crate::moment::parse_iso_date;
    use crate::service::{Kind, Service};
    use crate::units::Kilonewtons;
    use std::sync::Arc;

    fn day(text: &str) -> NaiveDate {
        parse_iso_date(text).unwrap()
    }

    const ID: SpindleId = SpindleId::from_row(1);

    fn shop() -> Shop {
        let force = Kilonewtons::new(18.0).unwrap();
        let spindle = Spindle::named("S-0117", Interface::parse("HSK-A63").unwrap(), force);
        Shop { spindles: Arc::new([(ID, spindle)].into_iter().collect()), ..Shop::default() }
    }

    fn after(shop: &Shop, action: Action) -> Shop {
        let Action::Together(_, steps) = action else { panic!("not one step") };
        let mut shop = shop.clone();
        for step in steps {
            let Action::Spindle(Change::Set(id, spindle)) = step else { panic!("not a spindle") };
            Arc::make_mut(&mut shop.spindles).insert(id, spindle);
        }
        shop
    }

    fn served(shop: &Shop, on: &str) -> Shop {
        let service = Row { id: ServiceId::from_row(1), value: Service::of(ID, day(on).into(), Kind::Minor) };
        Shop { services: Arc::new(vec![service]), ..shop.clone() }
    }

    #[test]
    fn a_later_day_holds_until_it_comes_or_the_spindle_is_served() {
        let today = day("2026-03-02");
        let action = say_not_before(&shop(), ID, Some(day("2026-03-14")), today).unwrap().unwrap();
        let Action::Together(label, _) = &action else { panic!("not one step") };
        assert_eq!(label, "Service of S-0117 not before 14 March");
        let shop = after(&shop(), action);
        assert_eq!(shop.ready_day(ID, today), Some(day("2026-03-14")));
        assert_eq!(shop.ready_day(ID, day("2026-03-13")), Some(day("2026-03-14")));
        assert_eq!(shop.ready_day(ID, day("2026-03-14")), None, "the day has come");
        assert_eq!(shop.ready_day(ID, day("2026-03-01")), None, "nobody had said it");
        let this_morning = served(&shop, "2026-03-02");
        assert_eq!(this_morning.ready_day(ID, today), Some(day("2026-03-14")), "said of the next service");
        assert_eq!(served(&shop, "2026-03-01").ready_day(ID, today), Some(day("2026-03-14")), "an older service");
        assert_eq!(served(&shop, "2026-03-05").ready_day(ID, day("2026-03-06")), None, "it was done all the same");
        assert_eq!(say_not_before(&shop, ID, Some(day("2026-03-14")), today), Ok(None), "said already");
        let action = say_not_before(&shop, ID, None, today).unwrap().unwrap();
        assert_eq!(after(&shop, action).ready_day(ID, today), None);
    }

    #[test]
    fn a_day_that_is_over_is_refused_in_words() {
        let refused = say_not_before(&shop(), ID, Some(day("2026-02-14")), day("2026-03-02")).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "14 February is no later than 2 March, from which on it may be done anyway: say a later day, or leave it \
             empty"
        );
    }
}
