//! The full model on the demo, whose stories are known, and its crossing law against chance itself.

use almanac_core::forecast::fits::ShopFits;
use almanac_core::forecast::full::ModelBasis;
use almanac_core::forecast::model::crossing::{Crossing, CrossingInput};
use almanac_core::forecast::model::filter::{STEP_MEAN, STEP_SD};
use almanac_core::forecast::model::usage_ahead::LogNormal;
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

/// What paths are drawn from: the assumptions of the law, in its own terms.
struct Assumed {
    level: f64,
    input: CrossingInput,
    usage: Vec<LogNormal>,
}

/// Variances of level and rate, and their covariance.
const LEVEL_VARIANCE: f64 = 0.5;
const RATE_VARIANCE: f64 = 6.0;
const COVARIANCE: f64 = -0.4;
const GRID: [f64; 8] = [0.2, 0.4, 0.6, 0.8, 1.0, 1.3, 1.7, 2.2];
const PATHS: u32 = 40_000;

impl Assumed {
    /// Without a step, and usage one lognormal.
    fn plain() -> Self {
        let input =
            CrossingInput { log_rate: (2.15, 0.06), usage_variance: 0.05, q: 2.0, limit: 80.0, step_hazard: 0.0 };
        Self { level: 88.0, usage: vec![LogNormal { weight: 1.0, mean: 0.0, variance: input.usage_variance }], input }
    }

    /// State and covariance as the filter would give them; a rate beside its lognormal is not looked at.
    fn state(&self) -> ([f64; 5], [[f64; 5]; 5]) {
        let mut p = [[0.0; 5]; 5];
        (p[0][0], p[1][1], p[0][1], p[1][0]) = (LEVEL_VARIANCE, RATE_VARIANCE, COVARIANCE, COVARIANCE);
        ([self.level, 9.0, 9.0, 98.0, 0.0], p)
    }

    fn usage_of(&self, dice: &mut Dice) -> f64 {
        let mut left = dice.unit();
        let law = self.usage.iter().find(|law| {
            left -= law.weight;
            left < 0.0
        });
        let law = law.or_else(|| self.usage.last()).unwrap();
        (law.mean + law.variance.sqrt() * normal(dice)).exp()
    }

    /// The share of drawn paths that were under the limit by each point of the grid, and by how much it
    /// may be off: one standard error.
    ///
    /// Between the points of a path the chance that a Brownian bridge dips below the limit is exact
    /// (Karatzas and Shreve 1991, 4.3.40), so a coarse grid makes no error. A step falls at its own moment.
    fn drawn(&self, seed: u64) -> [(f64, f64); 8] {
        let CrossingInput { log_rate: (log_mean, log_variance), q, limit, step_hazard, .. } = self.input;
        let mut dice = Dice::new(seed);
        let slope = COVARIANCE / RATE_VARIANCE;
        let mean_rate = (log_mean + 0.5 * log_variance).exp();
        let mut sums = [(0.0, 0.0); 8];
        for _ in 0..PATHS {
            let b = (log_mean + log_variance.sqrt() * normal(&mut dice)).exp();
            let r = b * self.usage_of(&mut dice);
            let start_sd = (LEVEL_VARIANCE - slope * COVARIANCE).sqrt();
            let mut force = self.level + slope * (b - mean_rate) + start_sd * normal(&mut dice);
            let step_at = if step_hazard > 0.0 { -(1.0 - dice.unit()).ln() / step_hazard } else { f64::INFINITY };
            let size = STEP_MEAN + STEP_SD * normal(&mut dice);
            // the chance that this path has not crossed so far
            let mut alive = if force > limit { 1.0 } else { 0.0 };
            let mut last = 0.0;
            let mut on_to = |force: &mut f64, alive: &mut f64, g: f64| {
                let x = g - last;
                let next = *force - r * x + (q * x).sqrt() * normal(&mut dice);
                *alive *= if next <= limit {
                    0.0
                } else {
                    1.0 - (-2.0 * (*force - limit).max(0.0) * (next - limit) / (q * x)).exp()
                };
                (*force, last) = (next, g);
            };
            let mut is_whole = true;
            for (sum, g) in sums.iter_mut().zip(GRID) {
                if is_whole && step_at < g {
                    on_to(&mut force, &mut alive, step_at);
                    force -= size;
                    is_whole = false;
                    if force <= limit {
                        alive = 0.0;
                    }
                }
                on_to(&mut force, &mut alive, g);
                *sum = (sum.0 + 1.0 - alive, sum.1 + (1.0 - alive).powi(2));
            }
        }
        let paths = f64::from(PATHS);
        sums.map(|(sum, squares)| {
            let mean = sum / paths;
            (mean, ((squares / paths - mean * mean).max(0.0) / paths).sqrt())
        })
    }
}

/// Four standard errors of the drawn share, and what the law itself may be off.
#[track_caller]
fn assert_like_drawn(law: &Crossing, assumed: &Assumed, seed: u64, own_error: f64) {
    for ((drawn, error), g) in assumed.drawn(seed).into_iter().zip(GRID) {
        let said = law.cdf(g);
        assert!((drawn - said).abs() < 4.0 * error + own_error, "by {g}: drawn {drawn} ± {error}, said {said}");
    }
}

/// What the 13 nodes leave off a share.
const NODES_ERROR: f64 = 0.004;
/// After a step the law asks where a path is, not where it was: the few that came back above the limit are
/// not counted.
const COME_BACK: f64 = 0.002;

#[test]
fn the_crossing_law_is_that_of_drawn_paths() {
    let assumed = Assumed::plain();
    let (state, p) = assumed.state();
    assert_like_drawn(&Crossing::new(&state, &p, &assumed.input), &assumed, 20_260_302, NODES_ERROR);
}

#[test]
fn the_crossing_law_with_a_step_is_that_of_drawn_paths() {
    for (level, step_hazard) in [(88.0, 0.03), (88.0, 0.3), (95.0, 0.3), (84.0, 1.0)] {
        let plain = Assumed::plain();
        let assumed = Assumed { level, input: CrossingInput { step_hazard, ..plain.input }, ..plain };
        let (state, p) = assumed.state();
        let law = Crossing::new(&state, &p, &assumed.input);
        assert_like_drawn(&law, &assumed, 20_260_303, NODES_ERROR + COME_BACK);
    }
}

#[test]
fn the_crossing_law_with_usage_as_a_mixture_is_that_of_drawn_paths() {
    let law = |weight, mean, variance| LogNormal { weight, mean, variance };
    let two = vec![law(0.5, 0.05, 0.03), law(0.5, -0.6, 0.08)];
    // the nodes lie 0.45 apart here, wider than a hump: a share may be off by more
    let far_apart = vec![law(0.45, 0.1, 0.02), law(0.3, -0.9, 0.02), law(0.25, 0.6, 0.1)];
    for (usage, own_error) in [(two, NODES_ERROR), (far_apart, 0.012)] {
        for (step_hazard, come_back) in [(0.0, 0.0), (0.3, COME_BACK)] {
            let plain = Assumed::plain();
            let input = CrossingInput { step_hazard, ..plain.input };
            let assumed = Assumed { usage: usage.clone(), input, ..plain };
            let (state, p) = assumed.state();
            let law = Crossing::with_usage(&state, &p, &assumed.input, &usage);
            assert_like_drawn(&law, &assumed, 20_260_304, own_error + come_back);
        }
    }
}
