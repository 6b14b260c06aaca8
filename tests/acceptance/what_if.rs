//! What if: pretended shops beside the shop as it stands, and that nothing of it stays.

use almanac_core::due::{DueList, Mark, due_list};
use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::{
    ForecastBasis, ForecastConfig, Groups, NoProgress, PlannedUsage, ShopForecast, SpindleForecast, project_shop,
};
use almanac_core::ids::SpindleId;
use almanac_core::moment::parse_iso_date;
use almanac_core::reading::{Phase, Stroke};
use almanac_core::service::Kind;
use almanac_core::shop::Shop;
use almanac_core::units::{ClampCycles, Kilonewtons, Millimetres, Percent, RunHours, Unit};
use almanac_core::what_if::{Basis, ComparedShop, PretendedReading, PretendedService, WhatIf, compare};
use almanac_tests::fleet::{fleet, last_day};
use almanac_tests::hand_shop::{HandShop, day};
use chrono::{Days, NaiveDate};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A shop as it stands.
pub(crate) struct Stand {
    shop: Shop,
    pub(crate) forecast: ShopForecast,
    due: DueList,
    pub(crate) fits: Arc<ShopFits>,
    groups: Groups,
}

impl Stand {
    pub(crate) fn of(shop: Shop, as_of: NaiveDate) -> Self {
        let shop = shop.known_on(as_of);
        let config = ForecastConfig::of(&shop);
        let fits = Arc::new(ShopFits::fit(&shop, as_of, &NoProgress).unwrap());
        let forecast = project_shop(&shop, as_of, &config, &fits, &NoProgress).unwrap();
        let groups = ForecastBasis::of(&shop, as_of, &config, &fits, &NoProgress).unwrap().groups().clone();
        let due = due_list(&shop, &forecast);
        Self { shop, forecast, due, fits, groups }
    }

    fn fleet() -> Self {
        Self::of(fleet(20, 4).apply_to(&Shop::default()).sorted(), last_day())
    }

    fn all(&self) -> BTreeSet<SpindleId> {
        self.shop.spindles.keys().copied().collect()
    }

    fn compare(&self, what_if: &WhatIf, of: &BTreeSet<SpindleId>) -> Result<ComparedShop, String> {
        let basis = Basis {
            shop: &self.shop,
            forecast: &self.forecast,
            due: &self.due,
            fits: &self.fits,
            groups: &self.groups,
        };
        compare(basis, what_if, of, &NoProgress).map_err(|error| error.to_string())
    }

    pub(crate) fn of_all(&self, what_if: &WhatIf) -> ComparedShop {
        self.compare(what_if, &self.all()).unwrap()
    }

    fn of_one(&self, what_if: &WhatIf, spindle: SpindleId) -> ComparedShop {
        self.compare(what_if, &BTreeSet::from([spindle])).unwrap()
    }

    /// A measured spindle whose date lies well ahead.
    fn usual(&self) -> (SpindleId, &SpindleForecast) {
        let soon = self.forecast.as_of + Days::new(40);
        let found = self.forecast.spindles.iter().find(|(_, forecast)| {
            forecast.force_measured && !forecast.is_passed && forecast.service_by.is_some_and(|by| by > soon)
        });
        found.map(|(id, forecast)| (*id, &**forecast)).unwrap()
    }
}

fn percent(value: f64) -> Percent {
    Percent::new(value).unwrap()
}

fn usage(times: f64) -> WhatIf {
    WhatIf { usage: PlannedUsage::Share(percent(times * 100.0)), ..WhatIf::default() }
}

/// Every pretended date against the one in force: none may be on the wrong side.
#[track_caller]
fn all_dates(compared: &ComparedShop, fits: impl Fn(NaiveDate, NaiveDate) -> bool) -> usize {
    let mut changed = 0;
    for row in &compared.rows {
        let (before, after) =
            (row.before.service_by.unwrap_or(NaiveDate::MAX), row.after.service_by.unwrap_or(NaiveDate::MAX));
        assert!(fits(before, after), "{}: {before} in force, {after} pretended", row.place);
        changed += usize::from(before != after);
    }
    changed
}

#[test]
fn more_usage_brings_dates_forward_and_less_puts_them_off() {
    let stand = Stand::fleet();
    let whole = stand.shop.clone();
    let doubled = stand.of_all(&usage(2.0));
    assert_eq!(doubled.rows.len(), 20);
    assert!(all_dates(&doubled, |before, after| after <= before) > 10);
    assert!(doubled.lead.starts_with("With usage × 2, "), "{}", doubled.lead);
    assert!(doubled.lead.contains("; the first to change is "), "{}", doubled.lead);
    assert!(all_dates(&stand.of_all(&usage(0.5)), |before, after| before <= after) > 10);
    assert_eq!(stand.shop, whole, "the shop is as it was");
}

#[test]
fn the_same_usage_changes_nothing() {
    let stand = Stand::fleet();
    let same = stand.of_all(&usage(1.0));
    assert_eq!(all_dates(&same, |before, after| before == after), 0);
    assert!(same.lead.ends_with("as many as it stands; no date changes."), "{}", same.lead);
}

#[test]
fn hours_a_day_and_a_factor_say_the_same() {
    let stand = Stand::fleet();
    let (id, before) = stand.usual();
    let hours = RunHours::new(before.hours_per_day.unwrap().get() * 1.5).unwrap();
    let by_hours = WhatIf { usage: PlannedUsage::HoursPerDay(hours), ..WhatIf::default() };
    let (one, other) = (stand.of_one(&by_hours, id), stand.of_one(&usage(1.5), id));
    assert_eq!(one.rows[0].after.service_by, other.rows[0].after.service_by);
    assert_ne!(one.rows[0].after.service_by, one.rows[0].before.service_by);
}

#[test]
fn one_spindle_alone_has_the_date_that_it_has_among_all() {
    let stand = Stand::fleet();
    for what_if in [usage(2.0), WhatIf { accepted_risk: Some(percent(2.0)), ..WhatIf::default() }] {
        let all = stand.of_all(&what_if);
        for row in all.rows.iter().take(6) {
            let alone = stand.of_one(&what_if, row.spindle);
            assert_eq!(alone.rows[0].after, row.after, "{}", row.place);
            assert_eq!(alone.spindles.len(), 1);
        }
    }
}

#[test]
fn less_accepted_risk_is_never_later() {
    let stand = Stand::fleet();
    let careful = WhatIf { accepted_risk: Some(percent(2.0)), ..WhatIf::default() };
    let bold = WhatIf { accepted_risk: Some(percent(40.0)), ..WhatIf::default() };
    assert!(all_dates(&stand.of_all(&careful), |before, after| after <= before) > 5);
    assert!(all_dates(&stand.of_all(&bold), |before, after| before <= after) > 5);
}

#[test]
fn tighter_limits_are_never_later() {
    let stand = Stand::fleet();
    let tighter = [
        WhatIf { service_limit: Some(percent(86.0)), ..WhatIf::default() },
        WhatIf { every_months: Some(2), ..WhatIf::default() },
        WhatIf { every_hours: RunHours::new(300.0), ..WhatIf::default() },
        WhatIf { every_cycles: ClampCycles::new(3000.0), ..WhatIf::default() },
    ];
    for what_if in tighter {
        let compared = stand.of_all(&what_if);
        assert!(all_dates(&compared, |before, after| after <= before) > 0, "{what_if:?}");
    }
}

#[test]
fn a_pretended_reading_draws_the_force_towards_it() {
    let stand = Stand::fleet();
    let (id, before) = stand.usual();
    let low = Kilonewtons::new(before.force_now.mean.get() * 0.96).unwrap();
    let strokes = vec![Stroke::parse(&format!("{:.2}", low.get()), Unit::Kilonewton).unwrap(); 3];
    let reading =
        PretendedReading { unit: Unit::Kilonewton, strokes, phase: Phase::Routine, day: stand.forecast.as_of };
    let what_if = WhatIf { reading: Some(reading), ..WhatIf::default() };
    let compared = stand.of_one(&what_if, id);
    let after = &compared.spindles[&id].after;
    assert!(after.force_now.mean < before.force_now.mean, "{:?} to {:?}", before.force_now, after.force_now);
    assert!(after.service_by <= before.service_by);
    assert!(compared.lead.contains("a routine reading of"), "{}", compared.lead);
    let others = stand.compare(&what_if, &stand.all()).unwrap_err();
    assert!(others.contains("of one spindle, not of 20"), "{others}");
}

#[test]
fn a_pretended_service_puts_the_date_off() {
    let stand = Stand::fleet();
    let (id, before) = stand.usual();
    let day = stand.forecast.as_of;
    let service = Some(PretendedService { kind: Kind::Minor, day });
    let compared = stand.of_one(&WhatIf { service, ..WhatIf::default() }, id);
    let after = &compared.spindles[&id].after;
    assert_eq!(after.last_service, Some(day));
    assert!(after.service_by.unwrap_or(NaiveDate::MAX) > before.service_by.unwrap());
}

#[test]
fn a_stop_limit_in_force_is_never_undercut() {
    let stand = Stand::fleet();
    let (id, before) = stand.usual();
    let in_force = before.limits.stop_limit.value;
    let what_if = WhatIf { stop_limit: Some(percent(50.0)), service_limit: Some(percent(55.0)), ..WhatIf::default() };
    let compared = stand.of_one(&what_if, id);
    let limits = &compared.spindles[&id].after.limits;
    assert_eq!((limits.stop_limit.value, limits.service_limit.value), (in_force, in_force));
    assert_eq!(compared.remarks.len(), 2, "{:?}", compared.remarks);
    for remark in &compared.remarks {
        assert!(remark.contains("stay") && remark.contains("must not run"), "{remark}");
    }
    // the lower stop limit alone changes nothing but what is said
    let alone = stand.of_one(&WhatIf { stop_limit: Some(percent(50.0)), ..WhatIf::default() }, id);
    assert_eq!(alone.rows[0].after, alone.rows[0].before);
    assert!(alone.remarks[0].contains("limits in force stay as they are"), "{:?}", alone.remarks);
    // above the service limit it is refused with the place
    let high = stand.compare(&WhatIf { stop_limit: Some(percent(95.0)), ..WhatIf::default() }, &[id].into());
    let sentence = high.unwrap_err();
    assert!(sentence.starts_with("stop limit 95 % is not below the service limit 80 % of "), "{sentence}");
    assert!(sentence.ends_with("lower the one or raise the other"), "{sentence}");
}

#[test]
fn what_must_not_run_must_not_run_whatever_is_pretended() {
    let mut made = HandShop::new();
    let machine = made.machine("R-01");
    let spindle = made.spindle("S-1", 18.0, Some(day(0)));
    made.mount(spindle, machine, day(0), None);
    made.hours_at(machine, day(0), 0.0);
    made.hours_at(machine, day(200), 2000.0);
    made.force(spindle, day(10), 17.3);
    made.force(spindle, day(100), 15.6);
    made.force(spindle, day(150), 13.8);
    made.force(spindle, day(185), 12.2);
    made.force(spindle, day(199), 11.5);
    let stand = Stand::of(made.shop(), day(200));
    assert_eq!(stand.due.rows[0].mark, Mark::DoNotRun);
    let strokes = vec![Stroke::parse("17.2", Unit::Kilonewton).unwrap()];
    let reading = PretendedReading { unit: Unit::Kilonewton, strokes, phase: Phase::AsLeft, day: day(200) };
    for what_if in [
        usage(0.1),
        WhatIf { stop_limit: Some(percent(40.0)), service_limit: Some(percent(45.0)), ..WhatIf::default() },
        WhatIf {
            service: Some(PretendedService { kind: Kind::Major, day: day(200) }),
            reading: Some(reading),
            ..WhatIf::default()
        },
    ] {
        let compared = stand.of_one(&what_if, spindle);
        assert_eq!(compared.due.rows[0].mark, Mark::DoNotRun, "{what_if:?}");
        assert!(compared.lead.starts_with("R-01 must not run, whatever is pretended."), "{}", compared.lead);
        assert_eq!(compared.spindles[&spindle].after.reason, stand.forecast.spindles[&spindle].reason);
    }
}

#[test]
fn a_spindle_taken_out_of_service_is_said_to_be_that() {
    let mut made = HandShop::new();
    let mut wearing = |name: &str| {
        let machine = made.machine(name);
        let spindle = made.spindle(&format!("S-{name}"), 18.0, Some(day(0)));
        made.mount(spindle, machine, day(0), None);
        for (on, hours, force) in [(0, 0.0, 17.3), (100, 1000.0, 15.6), (200, 2000.0, 13.8)] {
            made.hours_at(machine, day(on), hours);
            made.force(spindle, day(on), force);
        }
        spindle
    };
    let (gone, other) = (wearing("R-01"), wearing("R-02"));
    made.change_spindle(gone, |spindle| spindle.out_of_service_on = Some(day(199)));
    let shelf = made.spindle("S-shelf", 18.0, None);
    let stand = Stand::of(made.shop(), day(200));
    assert_eq!(stand.due.row(gone).map(|row| row.mark), Some(Mark::OutOfService));
    assert_eq!(stand.of_one(&usage(2.0), gone).lead, "R-01 is out of service, so no date follows from it.");
    assert_eq!(stand.of_one(&usage(2.0), shelf).lead, "S-shelf is not mounted, so no date follows from it.");
    // among several it is not counted either
    let both = stand.compare(&usage(2.0), &[gone, other].into()).unwrap();
    assert!(both.lead.contains(", one spindle needs service before "), "{}", both.lead);
}

#[test]
fn usage_is_held_at_the_hours_of_a_day() {
    let stand = Stand::fleet();
    let (id, _) = stand.usual();
    let nine = stand.of_one(&usage(9.0), id);
    assert!(nine.remarks.iter().any(|remark| remark.ends_with("reckoned with 24 h a working day.")), "{nine:?}");
    let most = WhatIf { usage: PlannedUsage::HoursPerDay(RunHours::new(24.0).unwrap()), ..WhatIf::default() };
    assert_eq!(nine.rows[0].after, stand.of_one(&most, id).rows[0].after);
}

#[test]
fn what_does_not_fit_is_said_with_the_value_and_the_mend() {
    let today = parse_iso_date("2026-03-02").unwrap();
    let later = today + Days::new(3);
    let stroke = |typed: &str| Stroke::parse(typed, Unit::Kilonewton).unwrap();
    let reading = |strokes, day| Some(PretendedReading { unit: Unit::Kilonewton, strokes, phase: Phase::Routine, day });
    let cases = [
        (usage(0.0), "usage × 0 does not fit; expected above 0 and at most 10, such as 2 for a second shift"),
        (
            WhatIf { usage: PlannedUsage::HoursPerDay(RunHours::new(25.0).unwrap()), ..WhatIf::default() },
            "usage of 25 h a working day does not fit; expected above 0 and at most 24",
        ),
        (
            WhatIf { accepted_risk: Some(percent(80.0)), ..WhatIf::default() },
            "accepted risk 80 % does not fit; expected 0.1 to 50",
        ),
        (
            WhatIf { service_limit: Some(percent(101.0)), ..WhatIf::default() },
            "service limit 101 % does not fit; expected above 0 and at most 100",
        ),
        (
            WhatIf { stop_limit: Some(percent(85.0)), service_limit: Some(percent(80.0)), ..WhatIf::default() },
            "stop limit 85 % is not below the service limit 80 %; lower the one or raise the other",
        ),
        (
            WhatIf { setting_tolerance: Millimetres::new(0.0), ..WhatIf::default() },
            "setting tolerance 0 mm does not fit; expected above 0",
        ),
        (WhatIf { every_months: Some(0), ..WhatIf::default() }, "interval of 0 months does not fit; expected 1 to 600"),
        (
            WhatIf { every_hours: RunHours::new(-5.0), ..WhatIf::default() },
            "interval in run hours -5 h does not fit; expected above 0",
        ),
        (
            WhatIf { reading: reading(vec![stroke("15.2")], later), ..WhatIf::default() },
            "a reading on 2026-03-05 lies after 2026-03-02; give 2026-03-02 or an earlier day",
        ),
        (WhatIf { reading: reading(vec![], today), ..WhatIf::default() }, "a reading has 1 to 5 strokes, not 0"),
        (
            WhatIf { service: Some(PretendedService { kind: Kind::Minor, day: later }), ..WhatIf::default() },
            "a service on 2026-03-05 lies after 2026-03-02; give 2026-03-02 or an earlier day, \
             a service to come belongs to the plan",
        ),
    ];
    for (what_if, sentence) in cases {
        assert_eq!(what_if.checked(today).unwrap_err().to_string(), sentence);
    }
}
