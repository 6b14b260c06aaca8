//! Every numbered fixture of the reference implementation, recomputed here.
//!
//! With given parameters to 1e-9 (relative, absolute below 1); after a search the objective to 1e-6
//! and dates to 1e-4 relative. The fixtures were computed by a plain scalar program in another
//! language; `exact` values in the first come from an independent library. The Nile data are
//! published (Durbin and Koopman 2012). The sleep study is in [`super::sleep_study_tests`].

use super::crossing::{Crossing, CrossingInput};
use super::event_rates::{EventRates, STEP_HAZARD};
use super::filter::{Event, Filter, Occasion, ServiceKind, Verdict};
use super::gaussian_crossing::GaussianCrossing;
use super::group_fit::{History, objective};
use super::improvements::Improvements;
use super::lognormal_rate::lognormal_rate;
use super::meter::{Curve, Shown};
use super::normal;
use super::observed::{Clock, Counting, Happening, Observed, PerClock, build};
use super::parameters::{COUNT, Parameters};
use super::setting_dimension::{DimensionFilter, DimensionParameters, fit_dimension};
use super::shop_fit::{FittedGroup, Group, cycles_per_hour, fit_clocks, fit_usage_of};
use super::spindle::{Asked, dimension_forecast, limit_forecast, major_service};
use super::strokes::{pooled_stroke_sd, summarise};
use super::usage::{UsageParameters, usage_level};
use super::working_days::WorkingDays;
use serde_json::Value;
use std::collections::BTreeMap;

const NAMES: [&str; COUNT] = ["beta", "cvu", "cvv", "q", "sb", "sr", "a0", "sa", "delta", "p"];

pub(super) fn fixture(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

macro_rules! fixture {
    ($name:literal) => {
        fixture(include_str!(concat!("../../../../tests/fixtures/forecast/", $name, ".json")))
    };
}

pub(super) fn num(v: &Value) -> f64 {
    v.as_f64().unwrap()
}
pub(super) fn nums(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(num).collect()
}
pub(super) fn list(v: &Value) -> &[Value] {
    v.as_array().unwrap()
}

#[track_caller]
pub(super) fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    let scale = got.abs().max(want.abs()).max(1.0);
    assert!((got - want).abs() <= tolerance * scale, "{what}: {got} against {want}");
}

#[track_caller]
fn near_all(got: &[f64], want: &[f64], tolerance: f64, what: &str) {
    assert_eq!(got.len(), want.len(), "{what}");
    for (i, (g, w)) in got.iter().zip(want).enumerate() {
        near(*g, *w, tolerance, &format!("{what}[{i}]"));
    }
}

#[track_caller]
fn near_day(got: Option<f64>, want: &Value, tolerance: f64, what: &str) {
    match (got, want.as_f64()) {
        (Some(g), Some(w)) => near(g, w, tolerance, what),
        (None, None) => {}
        other => panic!("{what}: {other:?}"),
    }
}

fn calendar(v: &Value) -> WorkingDays {
    let days = v["ndays"].as_u64().unwrap() as usize;
    let first = v["day0_weekday"].as_u64().unwrap() as usize;
    let weights = nums(&v["weights"]);
    let mut all: Vec<f64> = (0..days).map(|i| weights[(first + i) % 7]).collect();
    for closure in list(&v["closures"]) {
        let (a, b) = (closure[0].as_u64().unwrap() as usize, closure[1].as_u64().unwrap() as usize);
        for weight in all.iter_mut().take(b + 1).skip(a) {
            *weight = 0.0;
        }
    }
    WorkingDays::new(all.into_iter())
}

fn parameters(v: &Value) -> Parameters {
    let [beta, cvu, cvv, q, sb, sr, a0, sa, delta, p] = NAMES.map(|name| num(&v[name]));
    Parameters {
        beta,
        cvu,
        cvv,
        q,
        sb,
        sr,
        a0,
        sa,
        delta,
        p,
        ss: num(&v["ss"]),
        variances: NAMES.map(|name| num(&v["var"][name])),
        step_hazard: v["lamJ"].as_f64().unwrap_or(STEP_HAZARD),
        ..Parameters::weak()
    }
}

fn occasion(text: &str) -> Occasion {
    match text {
        "routine" => Occasion::Routine,
        "as_found" => Occasion::AsFound,
        "as_left" => Occasion::AsLeft,
        other => panic!("{other}"),
    }
}

fn kind(text: &str) -> ServiceKind {
    if text == "major" { ServiceKind::Major } else { ServiceKind::Minor }
}

/// The records of a spindle up to as-of; the reference keeps strokes and dimension in one row.
fn observed(v: &Value, cal: &WorkingDays, as_of: i64) -> Observed {
    let nominal = num(&v["nominal_kn"]);
    let (aim, tolerance) = (num(&v["dim_nominal"]), num(&v["dim_tol"]));
    let until = |v: &Value| v[0].as_i64().unwrap() <= as_of;
    let mut happenings: Vec<(i64, Happening)> = Vec::new();
    for s in list(&v["services"]).iter().filter(|s| until(s)) {
        happenings.push((s[0].as_i64().unwrap(), Happening::Service(kind(s[1].as_str().unwrap()))));
    }
    for m in list(&v["meas"]).iter().filter(|m| until(m)) {
        let (day, when) = (m[0].as_i64().unwrap(), occasion(m[1].as_str().unwrap()));
        if let Some(strokes) = m[4].as_array() {
            let percent = strokes.iter().filter_map(Value::as_f64).map(|s| 100.0 * s / nominal).collect();
            happenings.push((day, Happening::Force(when, percent)));
        }
        if let Some(dimension) = m[5].as_f64() {
            happenings.push((day, Happening::Setting(when, (dimension - aim) / tolerance)));
        }
    }
    let curve = |meter: usize, reading: usize| {
        let meters = list(&v["meters"]).iter().filter(|m| until(m)).map(|m| Shown {
            day: m[0].as_i64().unwrap(),
            value: num(&m[meter]),
            is_new_meter: num(&m[3]) > 0.0,
        });
        let readings = list(&v["meas"]).iter().filter(|m| until(m)).filter_map(|m| {
            Some(Shown { day: m[0].as_i64().unwrap(), value: m[reading].as_f64()?, is_new_meter: false })
        });
        Curve::new(meters.chain(readings), cal)
    };
    let curves = PerClock { hours: curve(1, 2), cycles: curve(2, 3) };
    let last_day = |curve: &Curve| curve.knots().last().map(|knot| knot.day);
    Observed {
        start: num(&v["install"]),
        known_start: v["known_start"].as_bool().unwrap_or(true),
        happenings,
        read_until: PerClock { hours: last_day(&curves.hours), cycles: last_day(&curves.cycles) },
        meter: curves.clone(),
        exposure: curves,
        runs: true,
    }
    .sorted()
}

/// Hours and cycles that the meters of a spindle counted, replacements left out.
fn counted(v: &Value, as_of: i64) -> (f64, f64) {
    let rows: Vec<&Value> = list(&v["meters"]).iter().filter(|m| m[0].as_i64().unwrap() <= as_of).collect();
    let (mut hours, mut cycles) = (0.0, 0.0);
    for pair in rows.windows(2) {
        if num(&pair[1][3]) == 0.0 && num(&pair[1][1]) >= num(&pair[0][1]) {
            hours += num(&pair[1][1]) - num(&pair[0][1]);
            cycles += (num(&pair[1][2]) - num(&pair[0][2])).max(0.0);
        }
    }
    (hours, cycles)
}

fn usage_parameters(v: &Value) -> UsageParameters {
    UsageParameters {
        wandering: num(&v["rw"]),
        segment: num(&v["seg"]),
        change_size: num(&v["cv"]),
        change_hazard: num(&v["h"]),
        recent_hazard: num(&v["h_recent"]),
        ..UsageParameters::weak()
    }
}

fn check_events(events: &[Event], want: &[Value]) {
    assert_eq!(events.len(), want.len());
    for (event, want) in events.iter().zip(want) {
        match (*event, want[0].as_str().unwrap()) {
            (Event::Move { from, to }, "move") => {
                near_all(&[from, to], &[num(&want[1]), num(&want[2])], 1e-9, "move");
            }
            (Event::Service(k), "service") => assert_eq!(k, kind(want[1].as_str().unwrap())),
            (Event::Read { y, strokes, occasion: o }, "read") => {
                near_all(&[y, strokes], &[num(&want[1]), num(&want[2])], 1e-9, "read");
                assert_eq!(o, occasion(want[3].as_str().unwrap()));
            }
            other => panic!("{other:?}"),
        }
    }
}

const SHARES: [(&str, f64); 7] =
    [("0.05", 0.05), ("0.1", 0.1), ("0.25", 0.25), ("0.5", 0.5), ("0.75", 0.75), ("0.9", 0.9), ("0.95", 0.95)];

/// With what a spindle is projected.
struct Given<'a> {
    par: &'a Parameters,
    cal: &'a WorkingDays,
    counting: &'a Counting,
    asked: (i64, i64),
    usage: &'a UsageParameters,
}

/// One spindle against what the reference says of it; `days` is the tolerance of dates.
fn check_spindle(name: &str, spindle: &Observed, given: &Given<'_>, want: &Value, (tolerance, days): (f64, f64)) {
    let Given { par, cal, counting, asked: (as_of, horizon), usage } = *given;
    let built = build(spindle, cal, counting, as_of, par.ss, usage);
    let filter = Filter::new(par, spindle.known_start).run(&built.events);
    if let Some(steps) = want["steps"].as_array() {
        check_events(&built.events, steps);
    }
    let facts = [
        ("u", built.usage),
        ("vu", built.usage_variance),
        ("vu_year", built.usage_growth),
        ("s_now", built.since_service),
        ("unread", built.unread),
        ("loglik", filter.log_likelihood),
    ];
    for (key, got) in facts {
        near(got, num(&want[key]), tolerance, &format!("{name} {key}"));
    }
    near_all(&filter.mean, &nums(&want["state"]), tolerance, &format!("{name} state"));
    assert_eq!(list(&want["covariance"]).len(), filter.covariance.len(), "{name} covariance");
    for (row, want) in filter.covariance.iter().zip(list(&want["covariance"])) {
        near_all(row, &nums(want), tolerance, &format!("{name} covariance"));
    }
    near_all(&[filter.rate_prior.0, filter.rate_prior.1], &nums(&want["prior_b"]), tolerance, "prior_b");
    assert_eq!(list(&want["log"]).len(), filter.log.len(), "{name} log");
    for (got, want) in filter.log.iter().zip(list(&want["log"])) {
        let label = match got.verdict {
            Verdict::Ok => "ok",
            Verdict::Doubtful => "doubtful reading",
            Verdict::Step => "step drop",
            Verdict::UnloggedService => "service not logged?",
        };
        assert_eq!(label, want["label"].as_str().unwrap(), "{name}");
        near_all(&[got.y, got.expected, got.z], &["y", "pred", "z"].map(|k| num(&want[k])), tolerance, name);
        near_all(&got.weights, &["N", "O", "J", "U"].map(|k| num(&want[k])), tolerance, name);
    }
    let rate = (filter.mean[1], filter.covariance[1][1]);
    let log_rate = lognormal_rate(filter.rate_prior, rate, 0.05 * par.beta);
    near_all(&[log_rate.0, log_rate.1], &nums(&want["log_rate"]), tolerance, &format!("{name} log rate"));
    let asked = Asked { as_of, horizon_days: horizon };
    for limit in [80.0, 70.0] {
        let want = &want[format!("limit{limit}")];
        let got = limit_forecast(par, &filter, &built, cal, asked, limit);
        near_all(&[got.now, got.now_sd, got.rate], &["now", "now_sd", "rate"].map(|k| num(&want[k])), tolerance, name);
        near(filter.mean[3] - filter.mean[0], num(&want["recoverable"]), tolerance, name);
        near(par.a0 - filter.mean[3], num(&want["lasting"]), tolerance, name);
        for (key, share) in SHARES {
            let what = format!("{name} {limit} {key}");
            near_day(got.quantile(share), &want["quantile_day"][key], days, &what);
        }
        for (ahead, p) in want["probability_within_days"].as_object().unwrap() {
            let day = as_of as f64 + ahead.parse::<f64>().unwrap();
            near(got.probability(day), num(p), tolerance.max(days / 10.0), &format!("{name} within {ahead}"));
        }
        for pair in list(&want["cdf_G"]) {
            near(got.law().cdf(num(&pair[0])), num(&pair[1]), tolerance, &format!("{name} cdf"));
        }
    }
    let major = major_service(par, &filter, &built, cal, asked, 90.0, &[0.1, 0.5, 0.9]);
    for (got, key) in major.into_iter().zip(["0.1", "0.5", "0.9"]) {
        near_day(got, &want["overhaul90_day"][key], days, &format!("{name} major {key}"));
    }
    let par = DimensionParameters::default();
    let filter = DimensionFilter::run(&built.dimension_events, &par);
    let want = &want["dimension"];
    let facts = [filter.mean[0], filter.covariance[0][0].sqrt(), -filter.mean[1]];
    near_all(&facts, &["now", "now_sd", "rate"].map(|k| num(&want[k])), tolerance, &format!("{name} dimension"));
    near_all(&filter.set_aside, &nums(&want["flags"]), tolerance, name);
    let keys = ["0.05", "0.1", "0.5", "0.9", "0.95"];
    let dates = dimension_forecast(&par, &filter, &built, cal, asked, &[0.05, 0.1, 0.5, 0.9, 0.95]);
    for (got, key) in dates.into_iter().zip(keys) {
        near_day(got, &want["quant"][key], days, &format!("{name} dimension {key}"));
    }
}

fn as_of_and_horizon(input: &Value) -> (i64, i64) {
    (input["as_of"].as_i64().unwrap(), input["horizon_days"].as_i64().unwrap())
}

fn counting(input: &Value) -> Counting {
    Counting {
        clock: if input["clock"] == "cycles" { Clock::Cycles } else { Clock::Hours },
        reference: num(&input["x_ref"]),
        prior_level: num(&input["prior_u"]),
    }
}

#[test]
fn functions() {
    let f = fixture!("01_functions");
    let (input, want, exact) = (&f["input"], &f["expected"], &f["exact"]);
    let z = nums(&input["z"]);
    let phi: Vec<f64> = z.iter().map(|z| normal::cdf(*z)).collect();
    near_all(&phi, &nums(&want["phi"]), 1e-9, "phi");
    near_all(&phi, &nums(&exact["phi"]), 1e-9, "phi exact");
    let log: Vec<f64> = z.iter().map(|z| normal::log_cdf(*z)).collect();
    near_all(&log, &nums(&want["log_ndtr"]), 1e-9, "log_ndtr");
    for (i, c) in list(&input["inverse_gaussian"]).iter().enumerate() {
        let rate = num(&c["rate"]);
        let state = [80.0 + num(&c["margin"]), rate, rate, 98.0, 0.0];
        let input = CrossingInput {
            log_rate: (rate.ln(), 0.0),
            usage_variance: 0.0,
            q: num(&c["q"]),
            limit: 80.0,
            step_hazard: 0.0,
        };
        let law = Crossing::new(&state, &[[0.0; 5]; 5], &input);
        let got: Vec<f64> = nums(&c["G"]).into_iter().map(|g| law.cdf(g)).collect();
        near_all(&got, &nums(&want["inverse_gaussian"][i]), 1e-9, "inverse Gaussian");
        near_all(&got, &nums(&exact["inverse_gaussian"][i]), 1e-6, "inverse Gaussian exact");
    }
    for (i, c) in list(&input["crossing"]).iter().enumerate() {
        let mut p = [[0.0; 5]; 5];
        (p[0][0], p[1][1]) = (num(&c["P00"]), num(&c["P11"]));
        (p[0][1], p[1][0]) = (num(&c["P01"]), num(&c["P01"]));
        let rate = num(&c["rate"]);
        let given = CrossingInput {
            log_rate: (num(&c["mb"]), num(&c["vb"])),
            usage_variance: num(&c["vu"]),
            q: num(&c["q"]),
            limit: num(&c["limit"]),
            step_hazard: num(&c["lam"]),
        };
        let law = Crossing::new(&[num(&c["level"]), rate, rate, 98.0, 0.0], &p, &given);
        let got: Vec<f64> = nums(&c["G"]).into_iter().map(|g| law.cdf(g)).collect();
        near_all(&got, &nums(&want["crossing"][i]["cdf"]), 1e-9, "crossing");
        for (p, w) in nums(&c["p"]).into_iter().zip(list(&want["crossing"][i]["quantile"])) {
            near_day(law.quantile(p, 50.0), w, 1e-9, "crossing quantile");
        }
    }
    for (i, c) in list(&input["gauss_crossing"]).iter().enumerate() {
        let a = list(&c["args"]);
        let law = GaussianCrossing {
            level: num(&a[0]),
            level_variance: num(&a[1]),
            rate: num(&a[2]),
            rate_variance: num(&a[3]),
            covariance: num(&a[4]),
            q: num(&a[5]),
            low: a[6].as_f64(),
            high: a[7].as_f64(),
            usage_variance: num(&a[8]),
            step_hazard: a.get(9).and_then(Value::as_f64).unwrap_or(0.0),
        };
        let want = &want["gauss_crossing"][i];
        let x = nums(&c["x"]);
        let out: Vec<f64> = x.iter().map(|x| law.outside(*x)).collect();
        near_all(&out, &nums(&want["out"]), 1e-9, "outside");
        let cdf: Vec<f64> = x.iter().map(|x| law.cdf(*x)).collect();
        near_all(&cdf, &nums(&want["cdf"]), 1e-9, "Gaussian cdf");
        let table = law.table(5.0);
        for (p, w) in nums(&c["p"]).into_iter().zip(list(&want["quantile"])) {
            near_day(table.quantile(p), w, 1e-9, "Gaussian quantile");
        }
    }
    for (c, w) in list(&input["lognormal_rate"]).iter().zip(list(&want["lognormal_rate"])) {
        let got = lognormal_rate((num(&c[0]), num(&c[1])), (num(&c[2]), num(&c[3])), num(&c[4]));
        near_all(&[got.0, got.1], &nums(w), 1e-9, "lognormal rate");
    }
    for (c, w) in list(&input["strokes"]).iter().zip(list(&want["strokes"])) {
        let got = summarise(&nums(&c["strokes"]), num(&c["nominal"]), num(&c["ss"]));
        match (got, w.as_array()) {
            (Some(got), Some(_)) => {
                near_all(&[got.percent, got.count, got.dropped as f64], &nums(w), 1e-9, "strokes");
            }
            (None, None) => {}
            other => panic!("{other:?}"),
        }
    }
    let pooled: Vec<Vec<f64>> = list(&input["pooled"]).iter().map(nums).collect();
    near(pooled_stroke_sd(pooled.iter().map(Vec::as_slice)), num(&want["pooled_stroke_sd"]), 1e-9, "pooled");
}

/// A filter without hypotheses, for data that are no spindles.
pub(super) fn plain() -> Parameters {
    Parameters {
        variances: [0.0; COUNT],
        is_robust: false,
        is_proportional: false,
        ss: 0.0,
        p: 1.0,
        ..Parameters::weak()
    }
}

/// Durbin and Koopman: local level for the flow of the Nile at Aswan, variances 15099 and 1469.1.
#[test]
fn nile_local_level() {
    let f = fixture!("02_nile_local_level");
    let (input, want) = (&f["input"], &f["expected"]);
    let par = Parameters { q: num(&input["var_eta"]), sb: num(&input["var_eps"]).sqrt(), ..plain() };
    let mut filter = Filter::new(&par, true);
    filter.mean = [num(&input["m0"]), 0.0, 0.0, 0.0, 0.0];
    filter.covariance = [[0.0; 5]; 5];
    filter.covariance[0][0] = num(&input["P0"]);
    let (mut means, mut variances) = (Vec::new(), Vec::new());
    for (k, y) in nums(&input["y"]).into_iter().enumerate() {
        if k > 0 {
            filter.apply(&Event::Move { from: k as f64 - 1.0, to: k as f64 });
        }
        filter.apply(&Event::Read { y, strokes: 1.0, occasion: Occasion::Routine });
        means.push(filter.mean[0]);
        variances.push(filter.covariance[0][0]);
    }
    near_all(&means, &nums(&want["filtered_mean"]), 1e-9, "mean");
    near_all(&variances, &nums(&want["filtered_variance"]), 1e-9, "variance");
    near(filter.log_likelihood, num(&f["independent"]["loglik"]), 1e-9, "log-likelihood");
}

fn check_case(name: &str, spindle: &Value, input: &Value, want: &Value) {
    let given = Given {
        par: &parameters(&input["params"]),
        cal: &calendar(&input["calendar"]),
        counting: &counting(input),
        asked: as_of_and_horizon(input),
        usage: &UsageParameters::weak(),
    };
    let spindle = observed(spindle, given.cal, given.asked.0);
    check_spindle(name, &spindle, &given, want, (1e-9, 1e-9));
}

#[test]
fn a_clean_and_a_dirty_spindle() {
    for f in [fixture!("04_spindle_clean"), fixture!("05_spindle_dirty")] {
        check_case(f["about"].as_str().unwrap(), &f["input"]["spindle"], &f["input"], &f["expected"]);
    }
}

#[test]
fn edge_cases() {
    let f = fixture!("06_edge_cases");
    for (name, spindle) in f["input"]["cases"].as_object().unwrap() {
        check_case(name, spindle, &f["input"], &f["expected"][name]);
    }
}

#[test]
fn calendar_and_usage() {
    let f = fixture!("07_calendar_usage");
    let (input, want) = (&f["input"], &f["expected"]);
    let cal = calendar(&input["calendar"]);
    for pair in list(&want["A"]) {
        near(cal.until(num(&pair[0])), num(&pair[1]), 1e-9, "A");
    }
    for triple in list(&want["day_reaching"]) {
        near_day(cal.reaching(num(&triple[0]), num(&triple[1])), &triple[2], 1e-9, "day reaching");
    }
    for (name, curve) in input["curves"].as_object().unwrap() {
        let shown = list(&curve["meters"]).iter().map(|m| Shown {
            day: m[0].as_i64().unwrap(),
            value: num(&m[1]),
            is_new_meter: num(&m[2]) > 0.0,
        });
        let got = Curve::new(shown, &cal);
        let want = &want["curves"][name];
        near_all(&got.knots().iter().map(|knot| knot.day).collect::<Vec<_>>(), &nums(&want["days"]), 1e-9, name);
        near_all(&got.knots().iter().map(|knot| knot.sum).collect::<Vec<_>>(), &nums(&want["cumulative"]), 1e-9, name);
        for (law, par) in input["usage_params"].as_object().unwrap() {
            let as_of = num(&input["as_of"]);
            let level = usage_level(&got, as_of, num(&curve["prior_u"]), &usage_parameters(par));
            let want = &want["filter"][law];
            let facts = [level.level, level.log_variance, level.log_likelihood];
            near_all(&facts, &["u", "var_log_u", "loglik"].map(|k| num(&want[k])), 1e-9, name);
            for ((years, chance), want) in level.changes.iter().zip(list(&want["changes"])) {
                near_all(&[*years, *chance], &nums(want), 1e-9, name);
            }
        }
    }
}

#[test]
fn a_whole_shop_is_fitted_alike() {
    let f = fixture!("08_shop_fit");
    let (input, want) = (&f["input"], &f["expected"]);
    let cal = calendar(&input["calendar"]);
    let (as_of, horizon) = as_of_and_horizon(input);
    let raw = input["groups"].as_object().unwrap();
    let groups: BTreeMap<&String, Vec<Observed>> = raw
        .iter()
        .map(|(name, spindles)| (name, list(spindles).iter().map(|s| observed(s, &cal, as_of)).collect()))
        .collect();
    let refs: BTreeMap<&String, Vec<&Observed>> = groups.iter().map(|(n, s)| (*n, s.iter().collect())).collect();
    let fitted: BTreeMap<&String, FittedGroup> = refs
        .iter()
        .map(|(name, spindles)| {
            let counts = list(&raw[*name]).iter().map(|s| counted(s, as_of));
            let group = Group { spindles, cycles_per_hour: cycles_per_hour(counts) };
            (*name, fit_clocks(group, &cal, as_of, Improvements::none(), &|| true).unwrap())
        })
        .collect();
    let usage_of = |clock| {
        fit_usage_of(
            clock,
            fitted.iter().map(|(name, group)| (group, refs[name].as_slice())),
            as_of,
            Improvements::none(),
            &|| true,
        )
        .unwrap()
    };
    let (hours, cycles) = (usage_of(Clock::Hours), usage_of(Clock::Cycles));
    for (name, group) in &fitted {
        let want = &want["fits"][name.as_str()];
        assert_eq!(group.counting.clock == Clock::Cycles, want["clock"] == "cycles", "{name}");
        let facts = [group.counting.reference, group.counting.prior_level, group.ss];
        near_all(&facts, &["x_ref", "prior_u", "ss"].map(|k| num(&want[k])), 1e-9, name);
        near(group.objectives.0, num(&want["nlp"]["hours"]), 1e-6, name);
        near(group.objectives.1, num(&want["nlp"]["cycles"]), 1e-6, name);
        near(group.fit.objective, num(&want["par"]["nlp"]), 1e-6, name);
    }
    for (fit, key) in [(hours, "hours"), (cycles, "cycles")] {
        near(fit.unwrap().objective, num(&want["usage"][key]["nlp"]), 1e-6, key);
    }
    for (name, spindles) in &groups {
        let group = &fitted[name];
        let usage = if group.counting.clock == Clock::Hours { hours } else { cycles }.unwrap();
        for (i, spindle) in spindles.iter().enumerate() {
            let given = Given {
                par: &group.fit.parameters,
                cal: &cal,
                counting: &group.counting,
                asked: (as_of, horizon),
                usage: &usage.parameters,
            };
            let want = &want["spindles"][name.as_str()][i];
            check_spindle(&format!("{name} {i}"), spindle, &given, want, (1e-4, 1e-4));
        }
    }
    let (name, spindles) = groups.iter().next().unwrap();
    let group = &fitted[name];
    let weak = UsageParameters::weak();
    let built: Vec<_> = spindles.iter().map(|s| build(s, &cal, &group.counting, as_of, group.ss, &weak)).collect();
    let histories: Vec<History> =
        built.iter().map(|b| History { events: b.events.clone(), known_start: true }).collect();
    let centre = objective(
        &[0.0; COUNT],
        EventRates::USUAL,
        &histories.iter().collect::<Vec<_>>(),
        group.ss,
        Improvements::none(),
    );
    near(-centre, num(&want["log_posterior_at_prior_centre"]), 1e-9, "prior centre");
    let dimension =
        fit_dimension(&built.iter().map(|b| b.dimension_events.as_slice()).collect::<Vec<_>>(), &|| true).unwrap();
    near(dimension.objective, num(&want["fit_dim"]["nlp"]), 1e-6, "dimension fit");
}
