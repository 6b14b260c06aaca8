//! The forecast scored on the past of a shop: nothing later leaks in, the bands hold what they say,
//! and the command says so in words, rows and JSON.

use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::full::ModelBasis;
use almanac_core::forecast::track_record::{BANDS, TrackRecord, track_record};
use almanac_core::forecast::{Cancelled, ForecastConfig, NoProgress, Progress};
use almanac_core::ids::{ReadingId, Row};
use almanac_core::moment::parse_iso_date;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::shop::Shop;
use almanac_tests::fleet::{fleet, last_day};
use almanac_tests::small_shop;
use chrono::{Datelike as _, Days, NaiveDate};
use std::cell::Cell;
use std::sync::Arc;

fn generated(spindles: usize, seed: u64) -> Shop {
    fleet(spindles, seed).apply_to(&Shop::default()).sorted()
}

fn scored(shop: &Shop, as_of: NaiveDate, kept: &[Arc<ShopFits>]) -> TrackRecord {
    track_record(shop, as_of, &ForecastConfig::of(shop), kept, &NoProgress).unwrap()
}

fn day(text: &str) -> NaiveDate {
    parse_iso_date(text).unwrap()
}

/// Three and a half years of a generated fleet: enough to score, quick to score.
fn young() -> NaiveDate {
    last_day() - Days::new(2400)
}

#[test]
fn the_bands_hold_what_they_say_and_beat_the_line() {
    let shop = generated(24, 11);
    let record = scored(&shop, last_day(), &[]);
    let summary = record.summary();
    assert!(summary.scored > 600, "{summary:?}");
    for (band, inside) in BANDS.into_iter().zip(summary.inside) {
        let (share, count) = (f64::from(band.percent) / 100.0, summary.scored as f64);
        // readings of one spindle and one quarter share what was not known: four binomial sds
        let reach = 4.0 * (count * share * (1.0 - share)).sqrt();
        let away = (inside as f64 - count * share).abs();
        assert!(away <= reach, "{} %: {inside} of {count}", band.percent);
    }
    let [crps, naive, beside] =
        [summary.crps, summary.naive_crps, summary.crps_beside_naive].map(|score| score.unwrap().get());
    assert!(beside < naive && crps < naive, "{summary:?}");
    assert!(summary.median_miss.unwrap() < summary.naive_median_miss.unwrap(), "{summary:?}");
    assert!(summary.bias.unwrap().get().abs() < 0.3, "{summary:?}");
    for pair in record.readings.windows(2) {
        assert!((pair[0].day, pair[0].spindle) <= (pair[1].day, pair[1].spindle));
    }
}

/// What was scored up to a day is the same whether or not anything later ever happened.
#[test]
fn nothing_that_happened_later_counts() {
    let whole = generated(5, 21);
    let day = young();
    let then = scored(&whole, day, &[]);
    assert!(then.readings.len() > 20, "{}", then.readings.len());
    let mut cut = whole.clone();
    cut.readings = Arc::new(cut.readings.iter().filter(|r| r.at.date <= day).cloned().collect());
    cut.meters = Arc::new(cut.meters.iter().filter(|m| m.at.date <= day).cloned().collect());
    cut.services = Arc::new(cut.services.iter().filter(|s| s.at.date <= day).cloned().collect());
    assert_eq!(then, scored(&cut, day, &[]));
    // half a year on, the earlier scores still stand
    let later = scored(&whole, day + Days::new(180), &[]);
    assert!(later.readings.len() > then.readings.len());
    assert_eq!(later.readings[..then.readings.len()], then.readings[..]);
}

fn in_percent(shop: &Shop, reading: &Reading, percent: f64) -> Vec<Stroke> {
    let nominal = shop.spindles[&reading.spindle].nominal_force.get();
    let force = format!("{:.2}", nominal * percent / 100.0);
    vec![Stroke::parse(&force, reading.unit).unwrap(); 3]
}

#[test]
fn a_correction_counts_from_the_day_on_which_it_was_made() {
    let plain = generated(5, 33);
    let until = young();
    let before = scored(&plain, until, &[]);
    // a reading in the middle is replaced 200 days later by one 6 % lower
    let target = before.readings[before.readings.len() / 2];
    let made = target.day + Days::new(200);
    assert!(made < until);
    let mut corrected = plain.clone();
    let readings = Arc::make_mut(&mut corrected.readings);
    let at = readings.iter().position(|row| row.id == target.reading).unwrap();
    let mut replacement = readings[at].clone();
    replacement.value.strokes = in_percent(&plain, &replacement, target.read.get() - 6.0);
    replacement.value.recorded_on = Some(made);
    replacement.id = ReadingId::from_row(1_000_000);
    readings[at].value.replaced_on = Some(made);
    readings.push(replacement);
    let corrected = corrected.sorted();
    let after = scored(&corrected, until, &[]);
    assert_eq!(before.readings.len(), after.readings.len());
    let mut changed = 0;
    for (old, new) in before.readings.iter().zip(&after.readings) {
        if old.reading == target.reading {
            // what it is held against is the corrected figure; its own forecast is what it was
            assert!((old.read.get() - new.read.get() - 6.0).abs() < 0.5);
            assert_eq!((old.forecast, old.sd, old.naive), (new.forecast, new.sd, new.naive));
        } else if old.from < made {
            assert_eq!(old, new, "forecast before the correction was made");
        } else {
            changed += usize::from(old != new);
        }
    }
    assert!(changed > 0, "and later ones take it into account");
}

#[test]
fn a_service_counts_once_it_is_on_record() {
    let plain = generated(5, 33);
    let until = young();
    let before = scored(&plain, until, &[]);
    // the first service after which a reading is scored is entered only after that reading
    let (index, next) = plain
        .services
        .iter()
        .enumerate()
        .find_map(|(index, service)| {
            let after = before.readings.iter().find(|r| r.spindle == service.spindle && r.day > service.at.date)?;
            Some((index, *after))
        })
        .unwrap();
    let mut late = plain.clone();
    let service = &mut Arc::make_mut(&mut late.services)[index].value;
    service.recorded_on = Some(next.day + Days::new(5));
    let (spindle, served) = (service.spindle, service.at.date);
    // so are its as-left readings
    for row in Arc::make_mut(&mut late.readings) {
        if row.spindle == spindle && row.at.date == served && row.phase == Phase::AsLeft {
            row.value.recorded_on = Some(next.day + Days::new(5));
        }
    }
    let after = scored(&late, until, &[]);
    let found = after.readings.iter().find(|r| r.reading == next.reading).unwrap();
    assert!(found.forecast.get() < next.forecast.get() - 5.0, "worn on, as far as was known: {found:?}, {next:?}");
    assert!(!found.is_inside(BANDS[2]));
}

#[test]
fn a_kept_fit_never_counts_before_its_day() {
    let shop = generated(5, 21);
    let until = young();
    let plain = scored(&shop, until, &[]);
    // a fit of another shop, so that it would show
    let other = generated(8, 99);
    let fitted_on = plain.readings[plain.readings.len() / 2].from;
    let mut fits = ShopFits::fit(&other.known_on(last_day()), last_day(), &NoProgress).unwrap();
    fits.fitted_on = fitted_on;
    let with = scored(&shop, until, &[Arc::new(fits.clone())]);
    assert_eq!(plain.readings.len(), with.readings.len());
    let quarter = |day: NaiveDate| (day.year(), day.month0() / 3);
    let mut taken = 0;
    for (old, new) in plain.readings.iter().zip(&with.readings) {
        if new.from < fitted_on || quarter(new.from) != quarter(fitted_on) {
            assert_eq!(old, new, "before it, or once a newer one was made");
        } else {
            taken += usize::from(old.forecast != new.forecast);
        }
    }
    assert!(taken > 0, "and it does count from its day on");
    fits.fitted_on = until + Days::new(1);
    assert_eq!(plain, scored(&shop, until, &[Arc::new(fits)]));
}

/// The date of a crossing is the one that the model gives when the whole shop is looked at from that
/// day, and a reading is forecast from the force that it says the spindle had the day before.
#[test]
fn scores_are_those_of_the_model_itself() {
    let shop = generated(6, 7);
    let until = last_day() - Days::new(1200);
    let record = scored(&shop, until, &[]);
    let config = ForecastConfig::of(&shop);
    let quarter_of = |day: NaiveDate| NaiveDate::from_ymd_opt(day.year(), day.month0() / 3 * 3 + 1, 1).unwrap();
    assert!(record.crossings.len() >= 3, "{}", record.crossings.len());
    for crossing in record.crossings.iter().take(4) {
        let start = quarter_of(crossing.from);
        let fits = ShopFits::fit(&shop.known_on(start), start, &NoProgress).unwrap();
        let known = shop.known_on(crossing.from);
        let forecast = ModelBasis::new(&known, crossing.from, &fits, config).project(crossing.spindle).unwrap();
        // the second quantile is that of the accepted risk, 10 %
        assert_eq!(crossing.service_by, forecast.service_limit.days[1], "{crossing:?}");
        assert!(crossing.after <= crossing.day && crossing.day <= crossing.by);
        assert_eq!(crossing.day - crossing.from, chrono::TimeDelta::days(60));
    }
    for reading in record.readings.iter().step_by(record.readings.len() / 5) {
        let start = quarter_of(reading.from);
        let fits = ShopFits::fit(&shop.known_on(start), start, &NoProgress).unwrap();
        let known = shop.known_on(reading.from);
        let forecast = ModelBasis::new(&known, reading.from, &fits, config).project(reading.spindle).unwrap();
        let (now, sd) = forecast.force_now;
        // one day of wear and the gauge lie between
        assert!((reading.forecast.get() - now.get()).abs() < 0.15, "{reading:?}, {now:?}");
        assert!(reading.sd > sd);
    }
}

/// One spindle with history, by its own meter; a week has 5.3 working days and makes 50 h.
fn hand_shop(readings: &str) -> Shop {
    let meters = format!(
        "{}S-0118,,,2024-06-03,0,,\nS-0118,,,2024-09-02,650,,\nS-0118,,,2024-12-02,1300,,\nS-0118,,,2025-06-02,2600,,\n",
        small_shop::METERS
    );
    let mountings = format!("{}S-0118,R-04,1,2024-05-01,\n", small_shop::MOUNTINGS);
    let text = format!("spindle,date,phase,quantity,unit,stroke_1,stroke_2,run_hours,doubt\n{readings}");
    let files: [(&str, &[u8]); 3] =
        [("meters.csv", meters.as_bytes()), ("mountings.csv", mountings.as_bytes()), ("readings.csv", text.as_bytes())];
    let outcome = small_shop::run(&files, &small_shop::shop());
    assert_eq!(outcome.report.refused, []);
    outcome.batch.apply_to(&small_shop::shop()).sorted()
}

fn row(day: &str, phase: &str, percent: f64, doubt: &str) -> String {
    format!("S-0118,{day},{phase},clamp_force,kN,{:.2},,,{doubt}\n", 0.18 * percent)
}

#[test]
fn what_is_scored_by_hand() {
    let rows = [
        row("2024-06-10", "routine", 98.0, ""),
        row("2024-07-10", "routine", 95.0, ""), // 30 days: scored
        row("2024-08-08", "routine", 93.0, ""), // 29 days: not
        row("2024-10-07", "routine", 89.0, ""), // scored
        row("2024-12-09", "as_found", 45.0, "looks like a slip"), // doubted
        row("2025-02-10", "routine", 82.0, ""), // scored
        row("2025-04-14", "as_found", 78.0, ""), // scored, and under the limit of 80 %
        row("2025-04-14", "as_left", 97.0, ""), // as left: never
        row("2025-04-28", "routine", 97.0, ""), // 14 days: not
    ];
    let mut shop = hand_shop(&rows.concat());
    let spindle = shop.spindle_named("S-0118").unwrap();
    Arc::make_mut(&mut shop.services).push(Row {
        id: almanac_core::ids::ServiceId::from_row(1),
        value: almanac_core::service::Service::of(
            spindle,
            day("2025-04-14").into(),
            almanac_core::service::Kind::Minor,
        ),
    });
    let record = scored(&shop, small_shop::today(), &[]);
    let days: Vec<String> = record.readings.iter().map(|reading| reading.day.to_string()).collect();
    assert_eq!(days, ["2024-07-10", "2024-10-07", "2025-02-10", "2025-04-14"]);
    assert_eq!(record.doubted, 1);
    // 82 to 78 % crosses 80 % half way of the exposure: 9 weeks are 47.7 working days, and 23.85 of them
    // are over after four weeks, Monday, Tuesday and part of Wednesday
    let [crossing] = record.crossings[..] else { panic!("{:?}", record.crossings) };
    assert_eq!((crossing.after, crossing.by), (day("2025-02-10"), day("2025-04-14")));
    assert_eq!(crossing.day, day("2025-03-12"));
    assert_eq!(crossing.from, crossing.day - Days::new(60));
    // the line of 7 October goes through 98, 95 and 93 % at 50, 268.9 and 478.3 h: 95.33 % at 265.7 h,
    // less 0.01169 % an hour; 35 days after the meter showed 650 h it is at 900 h
    let naive = record.readings[1].naive.unwrap().get();
    assert!((naive - 87.92).abs() < 0.1, "{naive}");
    // fewer than 20: counts only
    let told = almanac_core::forecast::track_record::to_table(&record);
    assert!(told.starts_with("Of 4 readings forecast since July 2024, "), "{told}");
    assert!(told.contains("of 4 ") && !told.contains("of 4,"), "{told}");
    assert!(told.contains("One doubted reading is not scored."), "{told}");
}

#[test]
fn a_crossing_soon_after_a_service_could_not_be_forecast() {
    // known since 3 June 2024, crossed within 60 days
    let rows = [row("2024-06-10", "routine", 84.0, ""), row("2024-07-15", "routine", 76.0, "")];
    let record = scored(&hand_shop(&rows.concat()), small_shop::today(), &[]);
    assert_eq!((record.crossings.len(), record.too_soon), (0, 1), "{record:?}");
    let told = almanac_core::forecast::track_record::to_table(&record);
    assert!(
        told.contains("One crossing less than 60 days after a service or the first record is not scored."),
        "{told}"
    );
}

#[test]
fn it_tells_how_far_it_is_and_can_be_stopped() {
    struct Count(Cell<usize>, usize);
    impl Progress for Count {
        fn step(&self, done: usize, total: usize) -> bool {
            assert!(done <= total, "{done} of {total}");
            self.0.set(self.0.get() + 1);
            self.0.get() < self.1
        }
    }
    let shop = generated(3, 1);
    let config = ForecastConfig::of(&shop);
    let until = last_day() - Days::new(3000);
    let all = Count(Cell::new(0), usize::MAX);
    track_record(&shop, until, &config, &[], &all).unwrap();
    let steps = all.0.get();
    assert!(steps > 10, "{steps}");
    for stop in [1, 5, steps / 2, steps] {
        let progress = Count(Cell::new(0), stop);
        assert_eq!(track_record(&shop, until, &config, &[], &progress), Err(Cancelled), "at step {stop}");
    }
}

#[test]
fn an_empty_shop_has_nothing_to_score() {
    let record = scored(&Shop::default(), small_shop::today(), &[]);
    assert!(record.readings.is_empty() && record.crossings.is_empty());
    assert_eq!(record.summary().bias, None);
}
