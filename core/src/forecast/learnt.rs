//! What a shop taught, in the figures of the trade: how each tool interface drifts, and how usage
//! behaves. From the parameters of a fit; the words to it stand in `learnt_words`.

use super::fits::{InterfaceFit, LEAST_SPINDLES, ShopFits};
use super::model::event_rates::EventRates;
use super::model::observed::Clock;
use super::model::parameters::at;
use super::model::usage::UsageParameters;
use super::refit::{RefitReason, needs_refit};
use crate::interface::Interface;
use crate::shop::Shop;
use crate::units::Percent;
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// What the figures of an interface rest on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Its own spindles.
    Own,
    /// All spindles of the shop: too few of its own were measured.
    All,
    /// General experience, weakly informative and to be confirmed: nothing was measured.
    Experience,
}

/// How sure it is by what the drift is counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ClockSurety {
    /// Both explain the readings about equally well, or spindles are too few.
    CannotYetTell,
    /// The weight of the chosen one against the other, in percent.
    Sure(Percent),
}

/// How the loss goes with the time since the last service.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DriftShape {
    /// It slows down.
    Slows,
    /// It speeds up.
    SpeedsUp,
    /// It is the same all along.
    Steady,
    /// The readings do not tell.
    CannotYetTell,
}

/// What was learnt of one tool interface.
#[derive(Debug, Clone, PartialEq)]
pub struct InterfaceLearnt {
    /// Which; `None`: all spindles together.
    pub interface: Option<Interface>,
    /// What the figures rest on.
    pub basis: Basis,
    /// Spindles of this interface that were measured.
    pub spindles: usize,
    /// Their force readings.
    pub readings: usize,
    /// Loss per 1,000 run hours, over the first 2,000 after a service, in percent of nominal: the
    /// middle of the spindles.
    pub loss_per_1000_h: Percent,
    /// A quarter of the spindles lose less than the first, a quarter more than the second.
    pub loss_quarters: [Percent; 2],
    /// What the drift is counted in.
    pub clock: Clock,
    /// How sure that is.
    pub clock_surety: ClockSurety,
    /// How the loss goes with time.
    pub shape: DriftShape,
    /// Scatter of a reading from one set-up of the gauge to the next, one standard deviation in
    /// percent of the reading.
    pub set_up_scatter: Percent,
    /// The same from stroke to stroke.
    pub stroke_scatter: Percent,
    /// Force when new or after a major service, in percent of nominal.
    pub level_when_new: Percent,
    /// Scatter of what a minor service restores, one standard deviation in percent of nominal.
    pub restore_scatter: Percent,
    /// What 1,000 run hours take that a minor service does not give back, in percent of nominal.
    pub lasting_per_1000_h: Percent,
    /// How many faults of the records are reckoned with; `None` where it was learnt before they were counted.
    pub faults: Option<RecordFaults>,
    /// Drops at once, per 1,000 run hours.
    pub steps_per_1000_h: f64,
    /// A spindle drops at once every so many years.
    pub years_per_step: f64,
}

/// How many faults of the records are reckoned with: from the readings, and where they are few from experience.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RecordFaults {
    /// Wrong readings: the wrong adapter, a gauge not zeroed, the wrong spindle. In percent of all.
    pub wrong: Percent,
    /// Services that nobody logged, in percent of the readings that are not as-left.
    pub unlogged: Percent,
}

impl RecordFaults {
    fn of(rates: EventRates) -> Option<Self> {
        let EventRates { gross_chance, unlogged_chance, .. } = rates;
        let usual = EventRates::USUAL;
        let is_counted = gross_chance.total_cmp(&usual.gross_chance).is_ne()
            || unlogged_chance.total_cmp(&usual.unlogged_chance).is_ne();
        let percent = |chance: f64| Percent::new(100.0 * chance).filter(|_| is_counted);
        Some(Self { wrong: percent(gross_chance)?, unlogged: percent(unlogged_chance)? })
    }
}

/// How usage behaves over the shop.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsageLearnt {
    /// Counted in what.
    pub clock: Clock,
    /// Years between lasting changes of one spindle.
    pub years_per_change: f64,
    /// Size of such a change, in percent of the usage before.
    pub change: Percent,
    /// How far usage wanders within a year besides, in percent.
    pub wanders: Percent,
    /// Years between stops of one spindle.
    pub years_per_stop: f64,
    /// Working days that a stop takes, in the mean.
    pub stop_days: f64,
}

/// All that was learnt of a shop.
#[derive(Debug, Clone, PartialEq)]
pub struct ShopLearnt {
    /// The last day that was known to it.
    pub fitted_on: NaiveDate,
    /// Readings it rests on, those of the setting dimension among them.
    pub readings: usize,
    /// Each interface of the shop, in order.
    pub interfaces: Vec<InterfaceLearnt>,
    /// All spindles together, where more than one interface was measured.
    pub all: Option<InterfaceLearnt>,
    /// Per clock by which an interface of the shop counts.
    pub usage: Vec<UsageLearnt>,
    /// Nothing was measured, or learning was stopped.
    pub is_weak: bool,
    /// Why it is to be learnt anew.
    pub outdated: Option<RefitReason>,
}

/// What a fit says of a shop as known on a day ([`Shop::known_on`]).
#[must_use]
pub fn learnt(fits: &ShopFits, known: &Shop, as_of: NaiveDate) -> ShopLearnt {
    let names: BTreeSet<&Interface> = known.spindles.values().map(|spindle| &spindle.interface).collect();
    let days_per_year = known.settings.weekday_weights.iter().sum::<f64>() / 7.0 * 365.25;
    let interfaces: Vec<InterfaceLearnt> = names
        .into_iter()
        .map(|name| {
            let (spindles, readings) = measured(known, name);
            let basis = match (fits.interfaces.contains_key(name), fits.all.clock_objectives) {
                (true, _) => Basis::Own,
                (false, Some(_)) => Basis::All,
                (false, None) => Basis::Experience,
            };
            let of = InterfaceLearnt::of(fits.of(name), basis, days_per_year);
            match basis {
                Basis::Own => InterfaceLearnt { interface: Some(name.clone()), ..of },
                Basis::All | Basis::Experience => {
                    InterfaceLearnt { interface: Some(name.clone()), spindles, readings, ..of }
                }
            }
        })
        .collect();
    let clocks: Vec<Clock> = interfaces.iter().map(|of| of.clock).collect();
    let usage = [(Clock::Hours, &fits.usage.hours), (Clock::Cycles, &fits.usage.cycles)]
        .into_iter()
        .filter(|(clock, _)| clocks.contains(clock))
        .map(|(clock, law)| UsageLearnt::of(clock, law))
        .collect();
    let has_all = fits.all.clock_objectives.is_some() && interfaces.len() > 1;
    ShopLearnt {
        fitted_on: fits.fitted_on,
        readings: fits.readings,
        all: has_all.then(|| InterfaceLearnt::of(&fits.all, Basis::Own, days_per_year)),
        interfaces,
        usage,
        is_weak: fits.is_weak(),
        outdated: needs_refit(fits, known, as_of),
    }
}

/// Spindles of an interface that were measured, and their force readings.
fn measured(known: &Shop, interface: &Interface) -> (usize, usize) {
    let force = |reading: &crate::reading::Reading| reading.quantity() == crate::units::Quantity::ClampForce;
    known
        .spindles
        .iter()
        .filter(|(_, spindle)| spindle.interface == *interface)
        .map(|(id, _)| known.readings_of(*id).iter().filter(|row| force(row)).count())
        .filter(|readings| *readings > 0)
        .fold((0, 0), |(spindles, readings), more| (spindles + 1, readings + more))
}

/// Half of a normal law lies within so many standard deviations of its middle.
const QUARTER: f64 = 0.674_489_750_196_081_7;
/// Both clocks count as equal while the objectives differ by less.
const CLOCKS_ALIKE: f64 = 1.0;
/// A curvature is told from a straight line at two standard deviations.
const CLEARLY: f64 = 2.0;
/// Within such a logarithm of the curvature the drift is as good as straight: after half of an
/// interval 45 to 55 % of its loss are there (common practice, no source).
const STRAIGHT: f64 = 0.15;

/// Mean loss per 1,000 run hours of the spindles of a group, by its fit, in percent of nominal: quarter
/// below, middle, quarter above. The rates of the spindles as the projection takes them: lognormal of the
/// mean and the spread that were fitted.
pub(super) fn loss_between_spindles(fit: &InterfaceFit) -> [f64; 3] {
    let parameters = &fit.parameters;
    let log_variance = parameters.cvu.powi(2).ln_1p();
    let middle = parameters.beta * (-0.5 * log_variance).exp() * fit.intervals_per_1000_h();
    let quarter = (QUARTER * log_variance.sqrt()).exp();
    [middle / quarter, middle, middle * quarter]
}

impl InterfaceLearnt {
    fn of(fit: &InterfaceFit, basis: Basis, days_per_year: f64) -> Self {
        let parameters = &fit.parameters;
        let percent = |value: f64| Percent::new(value).unwrap_or_default();
        let [low, middle, high] = loss_between_spindles(fit);
        let intervals_per_year = fit.counting.prior_level / fit.counting.reference * days_per_year;
        Self {
            interface: None,
            basis,
            spindles: fit.spindles,
            readings: fit.readings,
            loss_per_1000_h: percent(middle),
            loss_quarters: [percent(low), percent(high)],
            clock: fit.counting.clock,
            clock_surety: clock_surety(fit),
            shape: shape(parameters.p, parameters.variances[at::P]),
            set_up_scatter: percent(parameters.sb),
            stroke_scatter: percent(parameters.ss),
            level_when_new: percent(parameters.a0),
            restore_scatter: percent(parameters.sr),
            lasting_per_1000_h: percent(parameters.delta * fit.intervals_per_1000_h()),
            faults: RecordFaults::of(parameters.rates()),
            steps_per_1000_h: parameters.step_hazard * fit.intervals_per_1000_h(),
            years_per_step: 1.0 / (parameters.step_hazard * intervals_per_year),
        }
    }
}

/// By the weights of both clocks, each exp(-objective).
fn clock_surety(fit: &InterfaceFit) -> ClockSurety {
    let Some((hours, cycles)) = fit.clock_objectives else { return ClockSurety::CannotYetTell };
    let ahead = match fit.counting.clock {
        Clock::Hours => cycles - hours,
        Clock::Cycles => hours - cycles,
    };
    if fit.spindles < LEAST_SPINDLES || ahead < CLOCKS_ALIKE {
        return ClockSurety::CannotYetTell;
    }
    ClockSurety::Sure(Percent::new(100.0 / (1.0 + (-ahead).exp())).unwrap_or_default())
}

fn shape(curvature: f64, log_variance: f64) -> DriftShape {
    let (middle, wide) = (curvature.ln(), CLEARLY * log_variance.max(0.0).sqrt());
    if middle + wide < 0.0 {
        DriftShape::Slows
    } else if middle - wide > 0.0 {
        DriftShape::SpeedsUp
    } else if middle.abs() + wide < STRAIGHT {
        DriftShape::Steady
    } else {
        DriftShape::CannotYetTell
    }
}

impl UsageLearnt {
    fn of(clock: Clock, law: &UsageParameters) -> Self {
        Self {
            clock,
            years_per_change: 1.0 / law.change_hazard,
            change: Percent::new(100.0 * law.change_size).unwrap_or_default(),
            wanders: Percent::new(100.0 * law.wandering.sqrt()).unwrap_or_default(),
            years_per_stop: 1.0 / law.stops_per_year,
            stop_days: law.stop_days,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(spindles: usize, objectives: (f64, f64), change: impl FnOnce(&mut InterfaceFit)) -> InterfaceLearnt {
        let mut fit = InterfaceFit { spindles, clock_objectives: Some(objectives), ..InterfaceFit::weak() };
        change(&mut fit);
        InterfaceLearnt::of(&fit, Basis::Own, 250.0)
    }

    #[test]
    fn faults_are_said_once_they_were_counted() {
        let with = |gross_chance: f64| {
            fit(9, (10.0, 12.0), |fit| fit.parameters.gross_chance = gross_chance).faults.map(|faults| faults.wrong)
        };
        assert_eq!(with(EventRates::USUAL.gross_chance), None);
        assert_eq!(with(0.04), Percent::new(4.0));
    }

    #[test]
    fn the_figures_of_a_group_worked_out_by_hand() {
        let of = fit(9, (10.0, 12.0), |fit| {
            fit.parameters.beta = 12.0;
            fit.parameters.cvu = 0.5;
            fit.parameters.delta = 0.8;
            fit.parameters.step_hazard = 0.02;
        });
        // 12 % in 2,000 h; the middle of a lognormal law of spread 0.5 is its mean by sqrt(1.25)
        assert!((of.loss_per_1000_h.get() - 6.0 / 1.25_f64.sqrt()).abs() < 1e-12);
        let [low, high] = of.loss_quarters.map(Percent::get);
        assert!((low * high - of.loss_per_1000_h.get().powi(2)).abs() < 1e-9);
        // ln(high / middle) = 0.6745 x sqrt(ln 1.25) = 0.3186
        assert!(((high / of.loss_per_1000_h.get()).ln() - 0.318_6).abs() < 1e-4);
        assert!((of.lasting_per_1000_h.get() - 0.4).abs() < 1e-12);
        assert!((of.steps_per_1000_h - 0.01).abs() < 1e-12);
        // 8 h on 250 working days a year are one interval of 2,000 h
        assert!((of.years_per_step - 50.0).abs() < 1e-9);
    }

    #[test]
    fn cycles_are_turned_into_hours() {
        let of = fit(9, (12.0, 10.0), |fit| {
            fit.counting.clock = Clock::Cycles;
            fit.cycles_per_hour = 20.0;
            fit.counting.reference = 40_000.0;
            fit.counting.prior_level = 160.0;
            fit.parameters.beta = 10.0;
            fit.parameters.cvu = 1e-9;
        });
        assert!((of.loss_per_1000_h.get() - 5.0).abs() < 1e-6);
        assert!((of.years_per_step - 1.0 / of.steps_per_1000_h / 2.0).abs() < 1e-9, "2,000 h a year");
    }

    #[test]
    fn the_clock_is_said_only_where_it_can_be_told() {
        // exp(-2) = 0.1353: 88.08 %
        let ClockSurety::Sure(share) = fit(3, (10.0, 12.0), |_| ()).clock_surety else { panic!("it can be told") };
        assert!((share.get() - 88.08).abs() < 0.01);
        assert_eq!(fit(2, (10.0, 12.0), |_| ()).clock_surety, ClockSurety::CannotYetTell);
        assert_eq!(fit(9, (10.0, 10.9), |_| ()).clock_surety, ClockSurety::CannotYetTell);
        // hours are kept although cycles are a little ahead
        assert_eq!(fit(9, (10.9, 10.0), |_| ()).clock_surety, ClockSurety::CannotYetTell);
    }

    #[test]
    fn the_shape_is_said_only_where_it_can_be_told() {
        assert_eq!(shape(0.7, 0.01), DriftShape::Slows);
        assert_eq!(shape(1.4, 0.01), DriftShape::SpeedsUp);
        assert_eq!(shape(0.9, 0.01), DriftShape::CannotYetTell);
        assert_eq!(shape(1.02, 0.002), DriftShape::Steady);
        assert_eq!(shape(1.0, 0.15 * 0.15), DriftShape::CannotYetTell);
    }

    #[test]
    fn without_history_all_is_from_experience() {
        let day = NaiveDate::default();
        let none = learnt(&ShopFits::weak(day), &Shop::default(), day);
        assert!(none.is_weak && none.interfaces.is_empty() && none.all.is_none());
        assert_eq!(none.outdated, None);
    }
}
