//! The calibration command: its scores by hand, its fleets by seed, and one small run.

use almanac_core::forecast::model::improvements::Improvements;
use almanac_tests::calibration::chance::{dice, gamma, normal, student};
use almanac_tests::calibration::fleet::{AS_OF, Fleet, HORIZON, LIMIT, Simulated, calendar, simulate};
use almanac_tests::calibration::forecasters::{LAST_YEAR, WHOLE_RECORD, naive};
use almanac_tests::calibration::run::{fleet_scores, row_scores};
use almanac_tests::calibration::score::{SHARES, Scored, TAUS, crps_from_quantiles, median, pinball, pool, pool_naive};
use almanac_tests::calibration::truth::Scenario;

/// A law that is sure of one day.
const fn sure(day: f64) -> [Option<f64>; SHARES] {
    [Some(day); SHARES]
}

/// Quantiles 10, 20, .. 190 days.
fn even() -> [Option<f64>; SHARES] {
    std::array::from_fn(|i| Some(10.0 * (i + 1) as f64))
}

#[test]
fn scores_by_hand() {
    assert!((pinball(120.0, 100.0, 0.9) - 18.0).abs() < 1e-12);
    assert!((pinball(80.0, 100.0, 0.9) - 2.0).abs() < 1e-12);
    // of a single date: the absolute error
    assert!((crps_from_quantiles(130.0, &[100.0; SHARES]) - 30.0).abs() < 1e-9);
    assert!((crps_from_quantiles(70.0, &[100.0; SHARES]) - 30.0).abs() < 1e-9);
    // at the middle of an even law: 2/19 sum of tau (100 - q) below and (1 - tau) (q - 100) above
    // = 2/19 * 2 * (0.05*90 + 0.10*80 + ... + 0.45*10) = 4/19 * 82.5
    let q: [f64; SHARES] = std::array::from_fn(|i| 10.0 * (i + 1) as f64);
    assert!((crps_from_quantiles(100.0, &q) - 4.0 / 19.0 * 82.5).abs() < 1e-9);
}

#[test]
fn bands_late_and_clear_by_hand() {
    let inside = Scored::of(&even(), Some(100.0));
    assert_eq!((inside.inside, inside.is_clear, inside.is_late), ([true, true, true], true, false));
    assert!(inside.error < 1e-12);
    // between the 10 % and the 25 % date
    let early = Scored::of(&even(), Some(30.0));
    assert_eq!((early.inside, early.is_late), ([true, true, false], false));
    assert!((early.error - 70.0).abs() < 1e-12);
    // between the 5 % and the 10 % date
    assert_eq!(Scored::of(&even(), Some(15.0)).inside, [true, false, false]);
    assert!(Scored::of(&even(), Some(15.0)).is_late);
    assert_eq!(Scored::of(&even(), Some(185.0)).inside, [true, false, false]);
    assert!(!Scored::of(&even(), Some(185.0)).is_late);
    assert_eq!(Scored::of(&even(), None).inside, [false, false, false]);
    // surely below already, surely beyond the horizon: inside, and not clear
    let below = Scored::of(&sure(0.0), Some(0.0));
    assert_eq!((below.inside, below.is_clear, below.is_late), ([true; 3], false, false));
    let beyond = Scored::of(&[None; SHARES], None);
    assert_eq!((beyond.inside, beyond.is_clear, beyond.is_late), ([true; 3], false, false));
    assert!(beyond.crps.abs() < 1e-12);
    // said to be far, crossed at once
    let missed = Scored::of(&[None; SHARES], Some(0.0));
    assert_eq!((missed.inside, missed.is_late), ([false; 3], true));
    assert!((missed.error - HORIZON as f64).abs() < 1e-9);
    // the 95 % date beyond the horizon: not clear
    let mut open = even();
    open[SHARES - 1] = None;
    assert!(!Scored::of(&open, Some(100.0)).is_clear);
}

#[test]
fn pools_by_hand() {
    let scored = [
        Scored::of(&even(), Some(100.0)),
        Scored::of(&even(), Some(15.0)),
        Scored::of(&even(), Some(140.0)),
        Scored::of(&sure(0.0), Some(0.0)),
    ];
    let naive = [Some(110.0), None, Some(140.0), Some(50.0)];
    let law = pool(&scored, &naive);
    assert_eq!(law.inside, [100.0, 75.0, 75.0]);
    assert!((law.clear - 200.0 / 3.0).abs() < 1e-9);
    assert!((law.late - 25.0).abs() < 1e-12);
    // of the three clear ones only that of day 15
    assert!((law.before_middle - 100.0 / 3.0).abs() < 1e-9);
    // errors 0, 85, 40, 0; where naive answers 0, 40, 0
    assert!((law.error - 20.0).abs() < 1e-12);
    assert!(law.error_where_naive.abs() < 1e-12);
    let naive = pool_naive(&naive, &[Some(100.0), Some(1800.0), None, Some(0.0)]);
    // errors 10, 1825 - 140, 50; no answer counts as the horizon
    assert!((naive.error - 50.0).abs() < 1e-12);
    assert!((naive.crps - (10.0 + 25.0 + 1685.0 + 50.0) / 4.0).abs() < 1e-9);
    assert!((naive.no_answer - 25.0).abs() < 1e-12);
    assert!((median(vec![3.0, 1.0, 2.0, 10.0]) - 2.5).abs() < 1e-12);
}

#[test]
fn chance_follows_its_laws() {
    let mut chance = dice(7, &[1, 2]);
    let moments = |draws: &[f64]| {
        let n = draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / n;
        (mean, draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n)
    };
    let n = 20_000;
    let (mean, variance) = moments(&(0..n).map(|_| normal(&mut chance)).collect::<Vec<_>>());
    assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05, "{mean} {variance}");
    for shape in [0.3, 1.0, 8.0] {
        let (mean, variance) = moments(&(0..n).map(|_| gamma(&mut chance, shape)).collect::<Vec<_>>());
        assert!(
            (mean / shape - 1.0).abs() < 0.06 && (variance / shape - 1.0).abs() < 0.12,
            "{shape}: {mean} {variance}"
        );
    }
    // half of t with 3 degrees of freedom lies within 0.7649 (tables of Student's law)
    let within = (0..n).filter(|_| student(&mut chance, 3.0).abs() < 0.7649).count();
    assert!((within as f64 / f64::from(n) - 0.5).abs() < 0.015, "{within}");
}

#[test]
fn a_seed_makes_its_fleet_and_no_other() {
    let calendar = calendar();
    let fleet = |seed, number, spindles| simulate(seed, Scenario::AllTogether, number, spindles, &calendar);
    let (one, again, other) = (fleet(1, 0, 4), fleet(1, 0, 6), fleet(2, 0, 4));
    for (a, b) in one.spindles.iter().zip(&again.spindles) {
        assert_eq!(a.observed, b.observed, "a spindle does not depend on how many there are");
        assert_eq!(a.crossing, b.crossing);
    }
    assert_ne!(one.spindles[0].observed, other.spindles[0].observed);
    assert_ne!(one.spindles[0].observed, fleet(1, 1, 4).spindles[0].observed);
}

#[test]
fn mature_rows_share_their_fleets_but_for_what_a_scenario_adds() {
    let calendar = calendar();
    let fleet = |scenario| simulate(4, scenario, 0, 40, &calendar);
    let modelled = fleet(Scenario::AsModelled);
    let same = |other: &Fleet, what: &dyn Fn(&Simulated) -> String| {
        modelled.spindles.iter().zip(&other.spindles).filter(|(a, b)| what(a) == what(b)).count()
    };
    let start = |spindle: &Simulated| format!("{} {}", spindle.observed.start, spindle.observed.known_start);
    let first_reading = |spindle: &Simulated| format!("{:?}", spindle.observed.happenings.first());
    for scenario in [Scenario::HeavyTails, Scenario::GrossEntries, Scenario::StepDrops, Scenario::UsageChanged] {
        let other = fleet(scenario);
        assert_eq!(other.truth.loss.to_bits(), modelled.truth.loss.to_bits(), "{}", scenario.name());
        assert_eq!(same(&other, &start), 40, "{}", scenario.name());
        if scenario != Scenario::HeavyTails {
            // one reading in 25 is a gross error, a spring breaks in 33,000 hours
            assert!(same(&other, &first_reading) >= 33, "{}", scenario.name());
        }
        assert!(same(&other, &|s| format!("{:?}", s.crossing)) < 40, "{} adds nothing", scenario.name());
    }
    let young = fleet(Scenario::Young);
    assert!(same(&young, &start) < 40, "young fleets are others");
}

#[test]
fn a_naive_date_lies_inside_the_horizon_or_is_none() {
    let calendar = calendar();
    let fleet = simulate(6, Scenario::UsageChanged, 0, 120, &calendar);
    let [record, year] = [WHOLE_RECORD, LAST_YEAR].map(|over_days| naive(&fleet, &calendar, over_days));
    for answer in record.iter().chain(&year).flatten() {
        assert!((0.0..=HORIZON as f64).contains(answer), "{answer}");
    }
    assert!(record.iter().any(Option::is_none) && record.iter().flatten().count() > 90);
    assert_ne!(record, year, "usage changed within the year");
}

#[test]
fn nothing_is_on_record_that_lies_ahead() {
    let calendar = calendar();
    for scenario in Scenario::ALL {
        let fleet = simulate(3, scenario, 0, 20, &calendar);
        for spindle in &fleet.spindles {
            let observed = &spindle.observed;
            assert!(observed.happenings.iter().all(|(day, _)| *day <= AS_OF as i64 && *day as f64 >= observed.start));
            assert!(observed.meter.hours.knots().iter().all(|knot| knot.day <= AS_OF as f64));
            assert!(observed.meter.hours.knots().windows(2).all(|pair| pair[0].sum <= pair[1].sum));
            assert!(spindle.crossing.is_none_or(|day| (0.0..=HORIZON as f64).contains(&day)));
            if matches!(scenario, Scenario::Young | Scenario::YoungFive) {
                assert!(observed.strokes().count() <= 2);
            }
        }
        // the question is an open one
        let ahead = fleet.spindles.iter().filter(|s| s.crossing.is_some_and(|day| day > 0.0)).count();
        assert!(ahead >= 8, "{}: only {ahead} of 20 cross {LIMIT} % ahead", scenario.name());
    }
}

#[test]
fn a_perfect_forecast_scores_what_it_should() {
    // dates from lognormal laws of many sizes, forecast by just these laws
    let mut chance = dice(11, &[]);
    // standard normal quantiles of 5, 10, .. 95 % (tables)
    let z: [f64; SHARES] = [
        -1.6449, -1.2816, -1.0364, -0.8416, -0.6745, -0.5244, -0.3853, -0.2533, -0.1257, 0.0, 0.1257, 0.2533, 0.3853,
        0.5244, 0.6745, 0.8416, 1.0364, 1.2816, 1.6449,
    ];
    let scored: Vec<Scored> = (0..20_000)
        .map(|_| {
            let (middle, spread) = (chance.between(100.0, 500.0), chance.between(0.1, 0.4));
            let law = z.map(|z| Some(middle * (spread * z).exp()));
            Scored::of(&law, Some(middle * (spread * normal(&mut chance)).exp()))
        })
        .collect();
    let law = pool(&scored, &vec![None; scored.len()]);
    for (inside, ideal) in law.inside.into_iter().zip([90.0, 80.0, 50.0]) {
        assert!((inside - ideal).abs() < 1.2, "{inside} against {ideal}");
    }
    assert!((law.clear - 80.0).abs() < 1.2, "{}", law.clear);
    assert!((law.late - 10.0).abs() < 1.0, "{}", law.late);
    assert_eq!(TAUS.len(), SHARES);
}

#[test]
fn one_small_fleet_is_forecast_sanely() {
    let calendar = calendar();
    let row = row_scores(
        Scenario::AsModelled,
        &[fleet_scores(5, Scenario::AsModelled, 0, 60, &calendar, Improvements::all())],
    );
    assert_eq!(row.spindles, 60);
    // 60 spindles: a share of 80 % scatters by 5
    let law = row.plain;
    assert!((65.0..=98.0).contains(&law.inside[1]), "80 % band: {}", law.inside[1]);
    assert!(law.inside[2] <= law.inside[1] && law.inside[1] <= law.inside[0]);
    assert!(law.late <= 22.0, "late: {}", law.late);
    assert!(law.crps < row.naive.crps, "CRPS {} against {} of the naive line", law.crps, row.naive.crps);
}
