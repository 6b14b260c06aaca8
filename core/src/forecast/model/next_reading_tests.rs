//! The worth of one more reading against plain simulation: states drawn from what the filter
//! holds, readings from the states, the same filter, and costs added up day by day.

use super::event_rates::EventRates;
use super::filter::{Event, Filter, Occasion, STEP_MEAN, STEP_SD, ServiceKind};
use super::improvements::Improvements;
use super::next_reading::{ActingCost, Gain, Outlook};
use super::observed::Built;
use super::parameters::Parameters;
use super::setting_dimension::{DimensionFilter, DimensionParameters};
use super::spindle::{Asked, limit_forecast};
use super::working_days::WorkingDays;

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

/// xorshift64*.
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        ((self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }
    /// Box and Muller 1958.
    fn normal(&mut self) -> f64 {
        (-2.0 * self.unit().ln()).sqrt() * (std::f64::consts::TAU * self.unit()).cos()
    }
}

/// Mean, and its standard error.
fn mean_of(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

/// Band and saving by simulation, each with its standard error.
fn simulated(outlook: &Outlook<'_>, day: i64, draws: usize) -> [(f64, f64); 2] {
    let parameters = outlook.parameters;
    let mut dice = Dice(20_260_302);
    let work = outlook.calendar.until(day as f64) - outlook.calendar.until(AS_OF as f64);
    let mut moved = outlook.filter.clone();
    let (from, to) = (outlook.built.since_service, outlook.built.since_service + USAGE * work);
    moved.apply(&Event::Move { from, to });
    let built = Built { since_service: to, unread: 0.0, ..outlook.built.clone() };
    let asked = Asked { as_of: day, horizon_days: HORIZON - (day - AS_OF) };
    let [gross, unlogged] = [parameters.gross_chance, parameters.unlogged_chance];
    let days: Vec<f64> = (0..).map(|i| (day + 8 * i) as f64).take_while(|t| *t < (AS_OF + 1400) as f64).collect();
    let mut bands = Vec::new();
    let mut costs: Vec<Vec<f64>> = Vec::new();
    for _ in 0..draws {
        // one of the states that may hold, then its force and restorable level, drawn together
        let mut rest = dice.unit();
        let state = moved.open().iter().find(|(weight, _)| {
            rest -= weight;
            rest < 0.0
        });
        let state = state.map_or(&moved, |(_, state)| state);
        let (m, p) = (state.mean, state.covariance);
        let (noise, step) = (state.reading_variance(3.0).sqrt(), state.step_chance());
        let (a, b) = (dice.normal(), dice.normal());
        let slope = p[0][3] / p[0][0];
        let level = m[0] + p[0][0].sqrt() * a;
        let restorable = m[3] + slope * (level - m[0]) + (p[3][3] - slope * p[0][3]).max(0.0).sqrt() * b;
        let kind = dice.unit();
        let y = if kind < gross {
            200.0 * dice.unit()
        } else if kind < gross + step {
            level - (STEP_MEAN + STEP_SD * dice.normal()) + noise * dice.normal()
        } else if kind < gross + step + unlogged {
            restorable + parameters.sr * dice.normal() + noise * dice.normal()
        } else {
            level + noise * dice.normal()
        };
        let mut after = moved.clone();
        after.apply(&read(y));
        let law = limit_forecast(parameters, &after, &built, outlook.calendar, asked, outlook.service_limit);
        let [low, high] = law.quantiles(&[0.1, 0.9]);
        bands.push(high.unwrap() - low.unwrap());
        // cost of each day of service, up to a part that is the same for all of them
        let (mut total, mut path, mut before) = (0.0, vec![0.0], law.probability(days[0]));
        for pair in days.windows(2) {
            let crossed = law.probability(pair[1]);
            let between = 0.5 * (before + crossed);
            total += (pair[1] - pair[0]) * (COST.below * between - COST.early * (1.0 - between));
            path.push(total);
            before = crossed;
        }
        costs.push(path);
    }
    let cheapest = |path: &[f64]| path.iter().copied().fold(f64::INFINITY, f64::min);
    let mean: Vec<f64> = (0..days.len()).map(|i| mean_of(&costs.iter().map(|c| c[i]).collect::<Vec<_>>()).0).collect();
    let fixed = mean.iter().position(|cost| *cost <= cheapest(&mean)).unwrap();
    let saved: Vec<f64> = costs.iter().map(|path| path[fixed] - cheapest(path)).collect();
    [mean_of(&bands), mean_of(&saved)]
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
            let [band, saved] = simulated(outlook, AS_OF + later, 1000);
            for (what, got, (want, error)) in [("band", gain.band_then, band), ("saved", gain.saved, saved)] {
                // four standard errors, and 2 % for the points and the steps of the integral
                let within = 4.0 * error + 0.02 * want;
                assert!((got - want).abs() < within, "{name}, {what}: {got} against {want} within {within}");
            }
            assert!(0.0 < saved.0 - 3.0 * saved.1, "{name}: the simulation finds a saving");
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
