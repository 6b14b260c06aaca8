//! What each improvement changes, each against the plain model.

use super::crossing::{Crossing, CrossingInput};
use super::event_rates::event_rates;
use super::filter::{Event, Filter, Occasion};
use super::group_fit::History;
use super::humps::Hump;
use super::improvements::Improvements;
use super::lognormal_rate::lognormal_rate;
use super::observed::Built;
use super::parameters::{COUNT, Parameters};
use super::spindle::{Asked, limit_forecast};
use super::usage::UsageParameters;
use super::usage_ahead::{LogNormal, usage_ahead};
use super::working_days::WorkingDays;

/// Repeatable chance (the multiplier of Knuth's MMIX): even numbers from 0 to 1.
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Roughly normal: twelve even ones.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// Parameters without uncertainty of their own.
fn sure(improvements: Improvements) -> Parameters {
    Parameters { variances: [0.0; COUNT], ss: 1.0, ..Parameters::weak() }.with(improvements)
}

#[test]
fn one_lognormal_of_usage_is_the_plain_crossing_law() {
    let mut p = [[0.0; 5]; 5];
    (p[0][0], p[1][1], p[0][1], p[1][0]) = (0.5, 6.0, -0.4, -0.4);
    let state = [88.0, 9.0, 9.0, 98.0, 0.0];
    let input = CrossingInput { log_rate: (2.15, 0.06), usage_variance: 0.05, q: 2.0, limit: 80.0, step_hazard: 0.05 };
    let plain = Crossing::new(&state, &p, &input);
    let half = LogNormal { weight: 0.5, mean: 0.0, variance: 0.05 };
    let mixed = Crossing::with_usage(&state, &p, &input, &[half, half]);
    for g in [0.1, 0.5, 0.9, 1.5, 3.0] {
        assert!((plain.cdf(g) - mixed.cdf(g)).abs() < 1e-9, "{g}: {} {}", plain.cdf(g), mixed.cdf(g));
    }
}

#[test]
fn a_mixture_of_laws_is_their_mean() {
    let p = [[0.0; 5]; 5];
    let law = |level: f64| {
        let input =
            CrossingInput { log_rate: (2.15, 0.06), usage_variance: 0.05, q: 2.0, limit: 80.0, step_hazard: 0.05 };
        Crossing::new(&[level, 9.0, 9.0, 98.0, 0.0], &p, &input)
    };
    let mixed = Crossing::mixed([(0.3, law(84.0)), (0.7, law(92.0))]).unwrap();
    for g in [0.2, 0.8, 1.6] {
        let mean = 0.3 * law(84.0).cdf(g) + 0.7 * law(92.0).cdf(g);
        assert!((mixed.cdf(g) - mean).abs() < 1e-12);
    }
    let moved = mixed.with_limit_higher_by(1.5);
    let mean = 0.3 * law(82.5).cdf(0.8) + 0.7 * law(90.5).cdf(0.8);
    assert!((moved.cdf(0.8) - mean).abs() < 1e-12, "moved to another limit");
    let middle = mixed.quantile(0.5, 20.0).unwrap();
    assert!((mixed.cdf(middle) - 0.5).abs() < 1e-9);
}

#[test]
fn changes_to_come_lead_back_to_the_middle() {
    let mut par = UsageParameters::weak();
    (par.reversion, par.change_size, par.wandering, par.change_hazard) = (1.0, 1e-6, 0.0, 0.8);
    let hump = Hump { weight: 1.0, level: 8.0, variance: 0.0 };
    let years = 2.0;
    let laws = usage_ahead(&[hump], 4.0, 8.0, years, &par);
    let mean: f64 = laws.iter().map(|law| law.weight * 8.0 * law.mean.exp()).sum();
    // the same by adding up over the moment of the change
    let steps = 20_000;
    let mut exact = (-par.change_hazard * years).exp() * 8.0;
    for i in 0..steps {
        let t = (f64::from(i) + 0.5) / f64::from(steps) * years;
        let density = par.change_hazard * (-par.change_hazard * t).exp() * years / f64::from(steps);
        exact += density * (t / years * 8.0 + (1.0 - t / years) * 4.0);
    }
    assert!((mean - exact).abs() < 1e-3, "{mean} {exact}");
}

/// The spread of dates when nothing but usage is unsure: the exposure of the crossing is given then,
/// and the working days to it spread as usage does, whatever the curvature.
#[test]
fn an_error_of_usage_bends_with_the_drift_clock() {
    let variance = 0.04_f64;
    let spread = |improvements: Improvements| {
        let mut par = sure(improvements);
        (par.p, par.q, par.step_hazard) = (1.4, 1e-6, 0.0);
        let mut filter = Filter::new(&par, true);
        filter.mean = [98.0, 10.0, 10.0, 98.0, 0.0];
        filter.covariance = [[0.0; 5]; 5];
        (filter.covariance[0][0], filter.covariance[1][1]) = (1e-6, 1e-6);
        filter.rate_prior = (10.0, 1e-6);
        let calendar = WorkingDays::new(std::iter::repeat_n(1.0, 4000));
        let built = Built {
            events: Vec::new(),
            days: Vec::new(),
            dimension_events: Vec::new(),
            usage: 0.005,
            usage_variance: variance,
            usage_growth: 0.0,
            usage_law: None,
            since_service: 0.0,
            unread: 0.0,
        };
        let asked = Asked { as_of: 0, horizon_days: 3000 };
        let [early, late] = limit_forecast(&par, &filter, &built, &calendar, asked, 80.0).quantiles(&[0.1, 0.9]);
        (late.unwrap() / early.unwrap()).ln()
    };
    let exact = 2.0 * 1.281_551_565_5 * variance.sqrt();
    let bent = spread(Improvements { curved_usage: true, ..Improvements::none() });
    // without other scatter the 13 nodes make stairs
    assert!((bent / exact - 1.0).abs() < 0.12, "{bent} {exact}");
    let plain = spread(Improvements::none());
    assert!(plain < 0.85 * exact, "the plain model: {plain} {exact}");
}

#[test]
fn a_rate_known_to_a_factor_has_its_middle_at_the_fitted_one() {
    let middle = |improvements: Improvements| {
        let par = Parameters::weak().with(improvements);
        let filter = Filter::new(&par, true);
        let (mean, _) = lognormal_rate(filter.rate_prior, filter.rate_prior, 0.05 * par.beta);
        mean.exp() / par.beta
    };
    let improved = middle(Improvements { unsure_rate: true, ..Improvements::none() });
    // 1 but for the spreads between spindles and intervals, whose mean, not middle, is the fitted one
    assert!((0.85..1.0).contains(&improved), "{improved}");
    assert!(middle(Improvements::none()) < 0.8);
}

/// Histories with small steps that no single reading shows clearly.
fn stepping(hazard: f64) -> Vec<History> {
    let mut chance = Chance(20_260_302);
    (0..120)
        .map(|_| {
            let mut force = 98.0;
            let mut events = Vec::new();
            for i in 0..8 {
                let s = 0.2 * f64::from(i);
                events.push(Event::Move { from: s, to: s + 0.2 });
                force -= 2.0;
                if chance.even() < hazard * 0.2 {
                    force -= (9.0 + 4.0 * chance.normal()).max(1.0);
                }
                let y = force + 1.2 * chance.normal();
                events.push(Event::Read { y, strokes: 3.0, occasion: Occasion::Routine });
            }
            History { events, known_start: true }
        })
        .collect()
}

#[test]
fn steps_are_counted_by_their_expected_number() {
    let hazard = 0.2;
    let histories = stepping(hazard);
    let histories: Vec<&History> = histories.iter().collect();
    let of = |improvements: Improvements| {
        let par = Parameters { sb: 1.2, ss: 0.1, ..sure(improvements) };
        event_rates(&par, &histories).step_hazard
    };
    let counted = of(Improvements { step_rate: true, ..Improvements::none() });
    let clear = of(Improvements::none());
    assert!((counted / hazard - 1.0).abs() < 0.35, "{counted}");
    assert!((clear - hazard).abs() > (counted - hazard).abs(), "{clear} {counted}");
}

/// Histories in which so many readings of a hundred are off by so much, and after so many of a hundred months the
/// spindle was serviced and nobody said so.
fn with_faults(gross: f64, by: f64, unlogged: f64) -> Vec<History> {
    let mut chance = Chance(20_260_303);
    (0..150)
        .map(|_| {
            let (mut force, mut from, mut events) = (98.0, 0.0, Vec::new());
            for _ in 0..10 {
                events.push(Event::Move { from, to: from + 0.2 });
                from += 0.2;
                force -= 2.0;
                if 100.0 * chance.even() < unlogged {
                    force = 98.0;
                }
                let off = if 100.0 * chance.even() < gross { by } else { 0.0 };
                let off = if chance.even() < 0.5 { -off } else { off };
                let y = force + off + 1.2 * chance.normal();
                events.push(Event::Read { y, strokes: 3.0, occasion: Occasion::Routine });
            }
            History { events, known_start: true }
        })
        .collect()
}

#[test]
fn faults_of_the_records_are_counted_where_they_are() {
    let found = |gross: f64, by: f64, unlogged: f64, improvements: Improvements| {
        let histories = with_faults(gross, by, unlogged);
        let par = Parameters { sb: 1.2, ss: 0.1, ..sure(improvements) };
        event_rates(&par, &histories.iter().collect::<Vec<_>>())
    };
    let counts =
        Improvements { step_rate: true, record_faults: true, undecided_readings: true, ..Improvements::none() };
    let clean = found(0.0, 0.0, 0.0, counts);
    // 1,500 readings without a fault beside one in 100 and one in 200 of the priors
    assert!(clean.gross_chance < 0.002 && clean.unlogged_chance < 0.002, "{clean:?}");
    for by in [10.0, 14.0, 25.0] {
        let gross = found(6.0, by, 0.0, counts);
        assert!((0.03..0.08).contains(&gross.gross_chance) && gross.unlogged_chance < 0.01, "{by}: {gross:?}");
        assert!(gross.step_hazard < 0.03, "{by}: {gross:?}");
    }
    let unlogged = found(0.0, 0.0, 4.0, counts);
    assert!((0.015..0.05).contains(&unlogged.unlogged_chance) && unlogged.gross_chance < 0.01, "{unlogged:?}");
    let steps_alone = found(6.0, 25.0, 4.0, Improvements { step_rate: true, ..Improvements::none() });
    assert_eq!((steps_alone.gross_chance, steps_alone.unlogged_chance), (0.01, 0.005));
}

#[test]
fn an_undecided_reading_keeps_two_states_until_others_decide() {
    let par = sure(Improvements { undecided_readings: true, ..Improvements::none() });
    let read = |y: f64| Event::Read { y, strokes: 3.0, occasion: Occasion::Routine };
    let run = |readings: &[f64]| {
        let mut events = Vec::new();
        for (i, y) in readings.iter().enumerate() {
            let s = 0.1 * i as f64;
            events.extend([Event::Move { from: s, to: s + 0.1 }, read(*y)]);
        }
        Filter::new(&par, true).run(&events)
    };
    let steady = [97.0, 96.0, 95.0, 94.0];
    let with = |more: &[f64]| run(&[&steady[..], more].concat());
    let open = with(&[84.0]);
    let levels: Vec<f64> = open.apart().map(|state| state.mean[0]).collect();
    assert!(levels.iter().any(|level| *level < 88.0) && levels.iter().any(|level| *level > 91.0), "{levels:?}");
    let sum: f64 = open.apart().map(|state| state.weight).sum();
    assert!((sum - 1.0).abs() < 1e-9);
    let near = |filter: &Filter<'_>, low: f64, high: f64| -> f64 {
        filter.bank.iter().filter(|(_, s)| (low..high).contains(&s.mean[0])).map(|(weight, _)| weight).sum()
    };
    assert!(near(&with(&[84.0, 83.0]), 80.0, 86.0) > 0.95, "it was a step");
    assert!(near(&with(&[84.0, 92.0]), 89.0, 95.0) > 0.95, "it was a slip");
    assert!(run(&steady).apart().next().is_none(), "nothing is open");
}

#[test]
fn a_search_for_dates_gives_the_dates_of_an_exact_one() {
    let (mut chance, mut off) = (Chance(99), Vec::new());
    // no weekends, so that a moment a second earlier is no Friday in place of a Monday
    let calendar = WorkingDays::new(std::iter::repeat_n(1.0, 6000));
    let shares = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];
    for _ in 0..300 {
        let mut events = Vec::new();
        let (loss, mut y) = (3.0 + 9.0 * chance.even(), 98.0);
        let count = 2 + (8.0 * chance.even()) as usize;
        for i in 0..count {
            let from = 0.1 * i as f64;
            events.push(Event::Move { from, to: from + 0.1 });
            y -= 0.1 * loss * (0.5 + chance.even());
            events.push(Event::Read { y: y + chance.normal(), strokes: 3.0, occasion: Occasion::Routine });
        }
        let built = Built {
            days: Vec::new(),
            events,
            dimension_events: Vec::new(),
            usage: 0.002 + 0.006 * chance.even(),
            usage_variance: 0.02 + 0.2 * chance.even(),
            usage_growth: 0.05,
            usage_law: None,
            since_service: 0.1 * count as f64,
            unread: 0.05 * chance.even(),
        };
        let days = |improvements: Improvements| {
            let par = sure(improvements);
            let filter = Filter::new(&par, true).run(&built.events);
            let asked = Asked { as_of: 100, horizon_days: 5000 };
            limit_forecast(&par, &filter, &built, &calendar, asked, 80.0).quantiles(&shares)
        };
        let near = days(Improvements::all());
        let exact = days(Improvements { dates_suffice: false, ..Improvements::all() });
        for pair in exact.into_iter().zip(near) {
            match pair {
                (Some(exact), Some(near)) => off.push((exact - near).abs()),
                (exact, near) => assert_eq!(exact, near),
            }
        }
    }
    off.sort_by(f64::total_cmp);
    let (mean, worst) = (off.iter().sum::<f64>() / off.len() as f64, off[off.len() - 1]);
    assert!(off.len() > 1000, "{}", off.len());
    let within = |days: f64| off.partition_point(|off| *off < days) as f64 / off.len() as f64;
    assert!(mean < 1e-3 && within(0.01) > 0.999 && worst < 0.5, "days: mean {mean}, worst {worst}, {}", within(0.01));
}
