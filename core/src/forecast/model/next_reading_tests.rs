//! The worth of one more reading against plain simulation: states drawn from what the filter
//! holds, readings from the states, the same filter, and costs added up day by day.

use super::event_rates::EventRates;
use super::filter::{Event, Filter, Occasion, STEP_MEAN, STEP_SD, ServiceKind};
use super::humps::Hump;
use super::improvements::Improvements;
use super::next_reading::{ActingCost, Gain, Outlook};
use super::observed::{Built, UsageLaw};
use super::parameters::Parameters;
use super::setting_dimension::{DimensionFilter, DimensionParameters, GROSS_CHANCE};
use super::spindle::{Asked, limit_forecast};
use super::usage::UsageParameters;
use super::working_days::WorkingDays;
use statrs::distribution::{ContinuousCDF as _, Normal};

const AS_OF: i64 = 400;
const HORIZON: i64 = 1825;
const USAGE: f64 = 8.0 / 2000.0;
const COST: ActingCost = ActingCost { early: 0.7, below: 6.3, stopped: 0.0 };

fn calendar() -> WorkingDays {
    WorkingDays::new((0..AS_OF + HORIZON + 10).map(|day| if day % 7 < 5 { 1.0 } else { 0.0 }))
}

fn parameters() -> Parameters {
    Parameters { sb: 0.7, ss: 1.5, ..Parameters::at(&[0.0; 10], 1.5) }
}

/// As the product uses them, with rates of a group of its own.
fn finished() -> Parameters {
    let rates = EventRates { step_hazard: 0.05, gross_chance: 0.02, unlogged_chance: 0.01 };
    parameters().with(Improvements::all()).with_rates(rates)
}

/// The same where a gross error hardly ever happens. The points take each for one that is seen at once, so
/// they leave out what one is worth that looks like a step.
fn hardly_gross() -> Parameters {
    let rates = EventRates { step_hazard: 0.05, gross_chance: 1e-4, unlogged_chance: 0.01 };
    parameters().with(Improvements::all()).with_rates(rates)
}

fn read(y: f64) -> Event {
    Event::Read { y, strokes: 3.0, occasion: Occasion::Routine }
}

fn built(events: Vec<Event>) -> Built {
    let since_service = events.iter().fold(0.0, |reached, event| match event {
        Event::Move { to, .. } => *to,
        Event::Service(_) => 0.0,
        Event::Read { .. } => reached,
    });
    Built {
        days: vec![0; events.len()],
        dimension_events: Vec::new(),
        events,
        usage: USAGE,
        usage_variance: 0.02,
        usage_growth: 0.05,
        usage_law: None,
        since_service,
        unread: 0.0,
    }
}

/// Serviced, then read twice on its way down.
fn quiet() -> Vec<Event> {
    vec![
        Event::Move { from: 0.0, to: 1.0 },
        read(88.0),
        Event::Service(ServiceKind::Minor),
        read(97.0),
        Event::Move { from: 0.0, to: 0.5 },
        read(92.0),
        Event::Move { from: 0.5, to: 0.9 },
        read(87.6),
    ]
}

/// The same, but the last reading lies so low that a step and a gross error are both likely.
fn undecided() -> Vec<Event> {
    let mut events = quiet();
    events.pop();
    events.push(read(80.8));
    events
}

fn with_outlook<T>(events: Vec<Event>, cost: ActingCost, run: impl FnOnce(&Outlook<'_>) -> T) -> T {
    with_model(&parameters(), events, cost, run)
}

fn with_model<T>(
    parameters: &Parameters,
    events: Vec<Event>,
    cost: ActingCost,
    run: impl FnOnce(&Outlook<'_>) -> T,
) -> T {
    let calendar = calendar();
    let built = built(events);
    let filter = Filter::new(parameters, true).run(&built.events);
    run(&Outlook {
        parameters,
        filter: &filter,
        built: &built,
        calendar: &calendar,
        asked: Asked { as_of: AS_OF, horizon_days: HORIZON },
        service_limit: 80.0,
        stop_limit: 70.0,
        dimension: None,
        hard_day: None,
        cost,
    })
}

fn gain(events: Vec<Event>, day: i64) -> Gain {
    with_outlook(events, COST, |outlook| outlook.force_reading(day)).unwrap()
}

/// Chances that one drawn reading asks for at most.
const ASKED: usize = 6;

/// Draws that are spread evenly (the additive recurrence of Roberts 2018), each set of them moved by
/// another shift, so that the sets tell how far off they are (Cranley and Patterson 1976).
struct Draws {
    at: [f64; ASKED],
    step: [f64; ASKED],
    asked: usize,
}

impl Draws {
    fn of_set(set: u32) -> Self {
        // the root of x^7 = x + 1
        let root = (0..60).fold(1.1_f64, |x, _| (1.0 + x).powf(1.0 / (ASKED + 1) as f64));
        let step: [f64; ASKED] = std::array::from_fn(|i| root.powi(-(i as i32 + 1)));
        let at = std::array::from_fn(|i| (f64::from(set) * 0.618_034 + i as f64 * 0.414_214 + 0.137).fract());
        Self { at, step, asked: 0 }
    }

    /// On to the next reading.
    fn next(&mut self) {
        self.asked = 0;
        for (at, step) in self.at.iter_mut().zip(self.step) {
            *at = (*at + step).fract();
        }
    }

    fn unit(&mut self) -> f64 {
        self.asked += 1;
        self.at[self.asked - 1].clamp(1e-9, 1.0 - 1e-9)
    }

    fn normal(&mut self) -> f64 {
        Normal::standard().inverse_cdf(self.unit())
    }
}

/// Mean, and its standard error.
fn mean_of(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

/// Days between those that are looked at.
const EVERY: i64 = 5;

/// What is known of a spindle after one reading that was drawn.
struct Known {
    /// How much it counts for: what seldom happens is drawn more often.
    weight: f64,
    /// The chance of having crossed a limit by each day that is looked at, and the stop limit.
    crossed: Vec<f64>,
    stopped: Vec<f64>,
    /// Width of the band.
    band: f64,
}

/// Days from a reading to the end of what is looked at.
fn days_from(day: i64) -> Vec<f64> {
    (0..).map(|i| (day + EVERY * i) as f64).take_while(|t| *t <= (AS_OF + HORIZON) as f64).collect()
}

/// The day by which a chance is reached, straight between those that are looked at; the last where it
/// never is.
fn reached(share: f64, days: &[f64], chances: &[f64]) -> f64 {
    let at = chances.partition_point(|chance| *chance < share);
    match (at.checked_sub(1), days.get(at)) {
        (None, _) => days[0],
        (Some(before), Some(day)) => {
            let part = (share - chances[before]) / (chances[at] - chances[before]);
            days[before] + part * (day - days[before])
        }
        (Some(last), None) => days[last],
    }
}

/// Mean band, and the cost of the one day that is best for all readings less that of the best day for
/// each, both with their standard errors.
fn worth(outlook: &Outlook<'_>, days: &[f64], sets: &[Vec<Known>]) -> [(f64, f64); 2] {
    let ActingCost { early, below, stopped } = outlook.cost;
    let within = days.iter().filter(|day| outlook.hard_day.is_none_or(|hard| **day <= hard)).count();
    // cost of each day of service, up to a part that is the same for all of them
    let path_of = |known: &Known| {
        let mut path = vec![0.0];
        let steps = days.windows(2).zip(known.crossed.windows(2).zip(known.stopped.windows(2)));
        for (days, (crossed, standing)) in steps.take(within - 1) {
            let (crossed, standing) = (0.5 * (crossed[0] + crossed[1]), 0.5 * (standing[0] + standing[1]));
            let per_day = below * crossed - early * (1.0 - crossed) + stopped * standing;
            path.push(path[path.len() - 1] + (days[1] - days[0]) * per_day);
        }
        (known.weight, path)
    };
    let paths: Vec<Vec<(f64, Vec<f64>)>> = sets.iter().map(|set| set.iter().map(path_of).collect()).collect();
    let cheapest = |path: &[f64]| path.iter().copied().fold(f64::INFINITY, f64::min);
    let mean: Vec<f64> =
        (0..within).map(|i| weighed(paths.iter().flatten().map(|(weight, path)| (*weight, path[i])))).collect();
    let fixed = mean.iter().position(|cost| *cost <= cheapest(&mean)).unwrap();
    let saved_by =
        |set: &Vec<(f64, Vec<f64>)>| weighed(set.iter().map(|(weight, path)| (*weight, path[fixed] - cheapest(path))));
    let saved: Vec<f64> = paths.iter().map(saved_by).collect();
    let band_of = |set: &Vec<Known>| weighed(set.iter().map(|known| (known.weight, known.band)));
    let bands: Vec<f64> = sets.iter().map(band_of).collect();
    [mean_of(&bands), mean_of(&saved)]
}

/// The mean of some values, each with its weight.
fn weighed(values: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (weights, sum) = values.fold((0.0, 0.0), |(all, sum), (weight, value)| (all + weight, sum + weight * value));
    sum / weights
}

/// The chance of having crossed a limit by each day. Where usage is a mixture, usage is taken as if it
/// were known, and the chances are averaged over what it may be.
fn chances(
    outlook: &Outlook<'_>,
    filter: &Filter<'_>,
    (built, asked): (&Built, Asked),
    limit: f64,
    days: &[f64],
) -> Vec<f64> {
    let law = limit_forecast(outlook.parameters, filter, built, outlook.calendar, asked, limit);
    let Some(usage_law) = &built.usage_law else {
        return days.iter().map(|t| law.probability(*t)).collect();
    };
    let calendar = outlook.calendar;
    let middle = law.quantile(0.5).unwrap_or(days[days.len() - 1]);
    let years = (calendar.until(middle) - calendar.until(asked.as_of as f64)) / 260.0;
    let mut total = vec![0.0; days.len()];
    let scores: [f64; 9] = std::array::from_fn(|i| -3.2 + 0.8 * i as f64);
    let density = |z: f64| (-0.5 * z * z).exp();
    let all: f64 = scores.into_iter().map(density).sum();
    for usage in usage_law.ahead(years.clamp(0.1, 3.0), 1.0) {
        for z in scores {
            let ratio = (usage.mean + usage.variance.sqrt() * z).exp();
            let known = Built {
                usage: built.usage * ratio,
                usage_variance: 0.0,
                usage_growth: 0.0,
                usage_law: None,
                ..built.clone()
            };
            let law = limit_forecast(outlook.parameters, filter, &known, calendar, asked, limit);
            for (total, t) in total.iter_mut().zip(days) {
                *total += usage.weight * density(z) / all * law.probability(*t);
            }
        }
    }
    total
}

/// The chance that the setting dimension has left its tolerance by each day.
fn outside(outlook: &Outlook<'_>, filter: &DimensionFilter, day: i64, days: &[f64]) -> Vec<f64> {
    let (parameters, _) = outlook.dimension.unwrap();
    let usage_variance = outlook.built.usage_variance + outlook.built.usage_growth / 3.0;
    let law = filter.crossing(parameters.q, usage_variance);
    let mut highest: f64 = 0.0;
    let by = |t: &f64| {
        highest = highest.max(law.outside(USAGE * (outlook.calendar.until(*t) - outlook.calendar.until(day as f64))));
        highest
    };
    days.iter().map(by).collect()
}

/// The chance of having crossed either of two limits.
fn either(one: &[f64], other: &[f64]) -> Vec<f64> {
    one.iter().zip(other).map(|(one, other)| one + (1.0 - one) * other).collect()
}

/// The exposure that is expected until a day, and what is known and asked then.
fn at_the_reading(outlook: &Outlook<'_>, day: i64) -> (Event, Built, Asked) {
    let work = outlook.calendar.until(day as f64) - outlook.calendar.until(AS_OF as f64);
    let (from, to) = (outlook.built.since_service, outlook.built.since_service + USAGE * work);
    let built = Built { since_service: to, unread: 0.0, ..outlook.built.clone() };
    (Event::Move { from, to }, built, Asked { as_of: day, horizon_days: HORIZON - (day - AS_OF) })
}

/// Sets of draws.
const SETS: u32 = 8;

/// Band and saving of a force reading by simulation, each with its standard error.
fn simulated(outlook: &Outlook<'_>, day: i64, draws: usize) -> [(f64, f64); 2] {
    let parameters = outlook.parameters;
    let (until, built, asked) = at_the_reading(outlook, day);
    let mut moved = outlook.filter.clone();
    moved.apply(&until);
    let [gross, unlogged] = [parameters.gross_chance, parameters.unlogged_chance];
    let days = days_from(day);
    let beside = outlook.dimension.map(|(parameters, filter)| {
        let mut filter = filter.clone();
        filter.apply(&until, parameters);
        outside(outlook, &filter, day, &days)
    });
    let known_after = |draws: &mut Draws, kind: usize| {
        // one of the states that may hold, then its force and restorable level, drawn together
        let mut rest = draws.unit();
        let state = moved.open().iter().find(|(weight, _)| {
            rest -= weight;
            rest < 0.0
        });
        let state = state.map_or(&moved, |(_, state)| state);
        let (m, p) = (state.mean, state.covariance);
        let (noise, step) = (state.reading_variance(3.0).sqrt() * draws.normal(), state.step_chance());
        let slope = p[0][3] / p[0][0];
        let level = m[0] + p[0][0].sqrt() * draws.normal();
        let restorable = m[3] + slope * (level - m[0]) + (p[3][3] - slope * p[0][3]).max(0.0).sqrt() * draws.normal();
        // half of them ordinary, a quarter after a step
        let (weight, y) = match kind % 8 {
            0..4 => ((1.0 - gross - step - unlogged) / 4.0, level + noise),
            4..6 => (step / 2.0, level - (STEP_MEAN + STEP_SD * draws.normal()) + noise),
            6 => (unlogged, restorable + parameters.sr * draws.normal() + noise),
            _ => (gross, 200.0 * draws.unit()),
        };
        let mut after = moved.clone();
        after.apply(&read(y));
        let of = |limit| chances(outlook, &after, (&built, asked), limit, &days);
        let crossed = of(outlook.service_limit);
        let [low, high] = [0.1, 0.9].map(|share| reached(share, &days, &crossed));
        let stopped = if outlook.cost.stopped > 0.0 { of(outlook.stop_limit) } else { vec![0.0; days.len()] };
        let crossed = beside.as_ref().map_or_else(|| crossed.clone(), |beside| either(&crossed, beside));
        Known { weight, crossed, stopped, band: high - low }
    };
    worth(outlook, &days, &sets(draws, known_after))
}

/// The same of a reading of the setting dimension.
fn simulated_dimension(outlook: &Outlook<'_>, day: i64, draws: usize) -> [(f64, f64); 2] {
    let (parameters, now) = outlook.dimension.unwrap();
    let (until, built, asked) = at_the_reading(outlook, day);
    let (mut moved, mut force) = (now.clone(), outlook.filter.clone());
    moved.apply(&until, parameters);
    force.apply(&until);
    let days = days_from(day);
    let of = |limit| chances(outlook, &force, (&built, asked), limit, &days);
    let (worn, stopped) = (of(outlook.service_limit), of(outlook.stop_limit));
    let known_after = |draws: &mut Draws, kind: usize| {
        let level = moved.mean[0] + moved.covariance[0][0].sqrt() * draws.normal();
        let (weight, y) = match kind % 8 {
            0..7 => ((1.0 - GROSS_CHANCE) / 7.0, level + parameters.reading_sd * draws.normal()),
            _ => (GROSS_CHANCE, 20.0 * (draws.unit() - 0.5)),
        };
        let mut after = moved.clone();
        after.apply(&Event::Read { y, strokes: 1.0, occasion: Occasion::Routine }, parameters);
        let outside = outside(outlook, &after, day, &days);
        let [low, high] = [0.1, 0.9].map(|share| reached(share, &days, &outside));
        Known { weight, crossed: either(&worn, &outside), stopped: stopped.clone(), band: high - low }
    };
    worth(outlook, &days, &sets(draws, known_after))
}

/// What is known after so many draws, in sets.
fn sets(draws: usize, known_after: impl Fn(&mut Draws, usize) -> Known) -> Vec<Vec<Known>> {
    let set = |set| {
        let mut drawn = Draws::of_set(set);
        (0..draws / SETS as usize)
            .map(|kind| {
                drawn.next();
                known_after(&mut drawn, kind)
            })
            .collect()
    };
    (0..SETS).map(set).collect()
}

/// Four standard errors, and 2 % for the points and the steps of the integral.
#[track_caller]
fn agree(name: &str, gain: Gain, [band, saved]: [(f64, f64); 2]) {
    for (what, got, (want, error)) in [("band", gain.band_then, band), ("saved", gain.saved, saved)] {
        let within = 4.0 * error + 0.02 * want;
        assert!((got - want).abs() < within, "{name}, {what}: {got} against {want} within {within}");
    }
    assert!(0.0 < saved.0 - 3.0 * saved.1, "{name}: the simulation finds a saving");
}

#[test]
fn points_and_plain_simulation_agree() {
    let (plain, finished) = (parameters(), finished());
    for (name, model, events, later) in [
        ("quiet", &plain, quiet(), 10),
        ("undecided", &plain, undecided(), 10),
        ("quiet later", &plain, quiet(), 40),
        ("quiet, finished model", &finished, quiet(), 10),
        ("undecided, finished model", &finished, undecided(), 10),
    ] {
        with_model(model, events, COST, |outlook| {
            assert_eq!(outlook.filter.open().len() > 1, name == "undecided, finished model", "{name}");
            let gain = outlook.force_reading(AS_OF + later).unwrap();
            agree(name, gain, simulated(outlook, AS_OF + later, 1024));
        });
    }
}

/// Standing costs so much that the stop limit decides.
#[test]
fn days_below_the_stop_limit_count_as_simulated() {
    let model = hardly_gross();
    for (name, stopped) in [("dear", 40.0), ("dearer", 160.0)] {
        let cost = ActingCost { early: 0.7, below: 0.9, stopped };
        with_model(&model, quiet(), cost, |outlook| {
            let outlook = Outlook { stop_limit: 78.0, ..*outlook };
            agree(name, outlook.force_reading(AS_OF + 10).unwrap(), simulated(&outlook, AS_OF + 10, 1024));
        });
    }
}

/// It ran one shift or two of late.
fn two_levels() -> UsageLaw {
    let hump = |weight: f64, level: f64| Hump { weight, level, variance: 0.2 };
    let parameters = UsageParameters::weak().with(Improvements::all());
    UsageLaw { humps: vec![hump(0.6, 5.0), hump(0.4, 12.5)], middle: 8.0, level: 8.0, parameters }
}

#[test]
fn a_usage_of_two_levels_counts_as_simulated() {
    let model = hardly_gross();
    with_model(&model, quiet(), COST, |outlook| {
        let built = Built { usage_law: Some(two_levels()), ..outlook.built.clone() };
        let outlook = Outlook { built: &built, ..*outlook };
        agree("two levels", outlook.force_reading(AS_OF + 10).unwrap(), simulated(&outlook, AS_OF + 10, 256));
    });
}

#[test]
fn two_limits_and_an_interval_count_as_simulated() {
    let (model, parameters) = (hardly_gross(), DimensionParameters::default());
    let events = [Event::Move { from: 0.0, to: 0.5 }, read(-0.3), Event::Move { from: 0.5, to: 0.9 }, read(-0.5)];
    let filter = DimensionFilter::run(&events, &parameters);
    let dimension = Some((&parameters, &filter));
    let hard = (AS_OF + 10 + 15 * EVERY) as f64;
    for (name, cost, stop_limit, hard_day) in [
        ("two limits", COST, 70.0, None),
        ("two limits that cost little", ActingCost { early: 3.5, below: 3.5, stopped: 0.0 }, 70.0, None),
        ("two limits and a stop limit", ActingCost { stopped: 40.0, ..COST }, 78.0, None),
        ("two limits and an interval", COST, 70.0, Some(hard)),
    ] {
        with_model(&model, quiet(), cost, |outlook| {
            let outlook = Outlook { dimension, stop_limit, hard_day, ..*outlook };
            let day = AS_OF + 10;
            let force = outlook.force_reading(day).unwrap();
            agree(&format!("{name}, force"), force, simulated(&outlook, day, 1024));
            if hard_day.is_none() {
                let setting = outlook.dimension_reading(day).unwrap();
                agree(&format!("{name}, setting"), setting, simulated_dimension(&outlook, day, 1024));
            }
        });
    }
}

#[test]
fn an_undecided_step_is_worth_settling() {
    for model in [parameters(), finished()] {
        with_model(&model, undecided(), COST, |outlook| {
            let weights = outlook.filter.log.last().unwrap().weights;
            assert!((0.1..0.9).contains(&weights[2]), "undecided: {weights:?}");
        });
        // about as low, but steadily so
        let steady = vec![
            Event::Move { from: 0.0, to: 1.0 },
            read(84.0),
            Event::Service(ServiceKind::Minor),
            read(97.0),
            Event::Move { from: 0.0, to: 0.5 },
            read(88.5),
            Event::Move { from: 0.5, to: 0.9 },
            read(81.0),
        ];
        let gain = |events| with_model(&model, events, COST, |outlook| outlook.force_reading(AS_OF + 7)).unwrap();
        let (quiet, undecided) = (gain(steady), gain(undecided()));
        assert!(2.0 * quiet.saved < undecided.saved, "{quiet:?} {undecided:?}");
        assert!(quiet.band_then / quiet.band_now > undecided.band_then / undecided.band_now, "{quiet:?} {undecided:?}");
    }
}

#[test]
fn a_reading_right_after_another_is_worth_little() {
    let first = gain(quiet(), AS_OF + 30);
    let mut again = quiet();
    for _ in 0..4 {
        again.push(read(87.6));
    }
    let second = gain(again, AS_OF + 1);
    assert!(second.saved < 0.4 * first.saved, "{first:?} {second:?}");
    assert!(0.9 * second.band_now < second.band_then, "{second:?}");
}

#[test]
fn it_never_costs_and_always_says_the_same() {
    for level in [60.0, 72.0, 79.0, 80.0, 84.0, 95.0, 130.0] {
        for later in [0, 1, 30, 400] {
            for stopped in [0.0, 2000.0] {
                let events = vec![Event::Move { from: 0.0, to: 0.4 }, read(level)];
                let cost = ActingCost { stopped, ..COST };
                let gain = with_outlook(events.clone(), cost, |outlook| outlook.force_reading(AS_OF + later));
                let again = with_outlook(events, cost, |outlook| outlook.force_reading(AS_OF + later));
                assert_eq!(gain, again);
                let Some(gain) = gain else { continue };
                assert!(0.0 <= gain.saved && gain.saved.is_finite(), "{level} %, {later} days: {gain:?}");
                assert!(0.0 <= gain.band_then && gain.band_then.is_finite(), "{level} %, {later} days: {gain:?}");
            }
        }
    }
    let before = with_outlook(quiet(), COST, |outlook| outlook.force_reading(AS_OF - 1));
    assert_eq!(before, None, "a day that is over");
}

#[test]
fn a_setting_dimension_near_its_edge_is_worth_reading() {
    let parameters = DimensionParameters::default();
    let saved = |y: f64| {
        let events = [Event::Move { from: 0.0, to: 0.9 }, read(y)];
        let filter = DimensionFilter::run(&events, &parameters);
        with_outlook(quiet(), COST, |outlook| {
            let outlook = Outlook { dimension: Some((&parameters, &filter)), ..*outlook };
            outlook.dimension_reading(AS_OF + 7).unwrap()
        })
    };
    let (middle, edge) = (saved(0.1), saved(-0.7));
    assert!(2.0 * middle.saved < edge.saved, "{middle:?} {edge:?}");
    assert!(edge.band_then < edge.band_now);
    with_outlook(quiet(), COST, |outlook| assert_eq!(outlook.dimension_reading(AS_OF + 7), None));
}

#[test]
fn nothing_is_gained_where_an_interval_ends_first() {
    let events = vec![Event::Move { from: 0.0, to: 0.2 }, read(96.0)];
    let free = gain(events.clone(), AS_OF + 7);
    let bound = with_outlook(events, COST, |outlook| {
        Outlook { hard_day: Some((AS_OF + 20) as f64), ..*outlook }.force_reading(AS_OF + 7).unwrap()
    });
    assert!(bound.saved < 0.05 * free.saved, "{bound:?} {free:?}");
}
