//! The full model on the demo, whose stories are known, and its crossing law against chance itself.

use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::full::ModelBasis;
use almanac_core::forecast::model::crossing::{Crossing, CrossingInput};
use almanac_core::forecast::{ForecastConfig, NoProgress, Verdict};
use almanac_core::import::import_paths;
use almanac_core::moment::parse_iso_date;
use almanac_core::shop::Shop;
use almanac_tests::fleet::Dice;
use chrono::NaiveDate;
use std::path::Path;

fn demo() -> (Shop, NaiveDate) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-shop");
    let day = parse_iso_date("2026-03-02").unwrap();
    let outcome = import_paths(&[folder], &Shop::default(), day, &NoProgress).unwrap();
    (outcome.batch.apply_to(&Shop::default()).sorted(), day)
}

#[test]
fn the_stories_of_the_demo_are_told_apart() {
    let (shop, day) = demo();
    let known = shop.known_on(day);
    let fits = ShopFits::fit(&known, day, &NoProgress).unwrap();
    let basis = ModelBasis::new(&known, day, &fits, ForecastConfig::of(&known));
    for (id, spindle) in known.spindles.iter() {
        let forecast = basis.project(*id).unwrap();
        let name = &spindle.name;
        for crossing in [Some(forecast.service_limit), Some(forecast.stop_limit), forecast.setting_dimension] {
            let days = crossing.map(|crossing| crossing.days).unwrap_or_default();
            assert!(days.iter().flatten().is_sorted(), "{name}: {days:?}");
            assert!(days.iter().flatten().all(|date| *date >= day), "{name}: {days:?}");
        }
        let service_limit = known.limits_of(spindle).service_limit.value;
        if forecast.force_now.0.get() < service_limit.get() - 3.0 * forecast.force_now.1.get()
            && known.position_on(*id, day).is_some()
        {
            assert_eq!(forecast.risk_day, Some(day), "{name} is below its limit already");
        }
        for reading in &forecast.readings {
            let w = reading.weights;
            let sum = w.ok + w.doubtful + w.step_drop + w.unlogged_service;
            assert!((sum - 1.0).abs() < 1e-9, "{name}: weights of {} sum to {sum}", reading.day);
        }
    }
    // a broken disc spring on T-04: a step drop
    let broken = basis.project(known.spindle_named("S-0126").unwrap()).unwrap();
    let drop = broken.readings.iter().find(|r| r.day == parse_iso_date("2026-02-27").unwrap()).unwrap();
    assert_eq!(drop.verdict, Verdict::StepDrop, "{drop:?}");
    // the slip of the keyboard is doubted wherever it stands, and nothing rests on it
    let slips: Vec<_> = known.readings.iter().filter(|r| r.strokes.iter().any(|s| s.typed == "169")).collect();
    assert_eq!(slips.len(), 1);
    let with_slip = basis.project(slips[0].spindle).unwrap();
    assert!(with_slip.force_now.0.get() < 105.0, "{:?}", with_slip.force_now);
}

/// A standard normal number: Box and Muller 1958.
fn normal(dice: &mut Dice) -> f64 {
    let radius = (-2.0 * (1.0 - dice.unit()).ln()).sqrt();
    radius * (std::f64::consts::TAU * dice.unit()).cos()
}

/// The law without steps against paths drawn from the same assumptions. Between the points of a
/// path the chance that a Brownian bridge dips below the limit is exact (Karatzas and Shreve 1991,
/// 4.3.40), so a coarse grid makes no error.
#[test]
fn the_crossing_law_is_that_of_drawn_paths() {
    let (level, rate, limit, q) = (88.0, 9.0_f64, 80.0, 2.0);
    let (log_mean, log_variance, usage_variance) = (2.15, 0.06, 0.05);
    let (level_variance, covariance, rate_variance) = (0.5, -0.4, 6.0);
    let mut p = [[0.0; 5]; 5];
    (p[0][0], p[1][1], p[0][1], p[1][0]) = (level_variance, rate_variance, covariance, covariance);
    let input = CrossingInput { log_rate: (log_mean, log_variance), usage_variance, q, limit, step_hazard: 0.0 };
    let law = Crossing::new(&[level, rate, rate, 98.0, 0.0], &p, &input);

    let mut dice = Dice::new(20_260_302);
    let grid = [0.2, 0.4, 0.6, 0.8, 1.0, 1.3, 1.7, 2.2];
    let paths = 40_000;
    let mut crossed = [0.0; 8];
    let slope = covariance / rate_variance;
    let mean_rate = (log_mean + 0.5 * log_variance).exp();
    for _ in 0..paths {
        let b = (log_mean + log_variance.sqrt() * normal(&mut dice)).exp();
        let r = b * (usage_variance.sqrt() * normal(&mut dice)).exp();
        let start_sd = (level_variance - slope * covariance).sqrt();
        let mut force = level + slope * (b - mean_rate) + start_sd * normal(&mut dice);
        // the chance that this path has not crossed so far
        let mut alive = if force > limit { 1.0 } else { 0.0 };
        let mut last = 0.0;
        for (total, g) in crossed.iter_mut().zip(grid) {
            let step = g - last;
            let next = force - r * step + (q * step).sqrt() * normal(&mut dice);
            if next <= limit {
                alive = 0.0;
            } else {
                alive *= 1.0 - (-2.0 * (force - limit).max(0.0) * (next - limit) / (q * step)).exp();
            }
            (force, last) = (next, g);
            *total += 1.0 - alive;
        }
    }
    for (total, g) in crossed.into_iter().zip(grid) {
        let drawn = total / f64::from(paths);
        let said = law.cdf(g);
        // four standard errors of the drawn share, and the 13 nodes' own error
        let tolerance = 4.0 * (said * (1.0 - said) / f64::from(paths)).sqrt() + 0.004;
        assert!((drawn - said).abs() < tolerance, "by {g}: drawn {drawn}, said {said}");
    }
}
