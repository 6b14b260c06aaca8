//! What the full model costs for 1,000 spindles with ten years of history, step by step, as ratios
//! to reading the same rows straight from SQLite in the same run and to a plain scalar program.
//!
//! `cargo bench --bench forecast`; a number behind `--` is taken as the number of spindles. Every
//! figure is processor time on one thread, the shortest of several runs; only where it says so it is
//! time by the clock of work that is spread over the processors, beside reading by the clock.

use almanac_core::actions::Action;
use almanac_core::best_interval::best_intervals;
use almanac_core::exposure::ExposureBook;
use almanac_core::forecast::fits::{InterfaceFit, ShopFits};
use almanac_core::forecast::full::ModelBasis;
use almanac_core::forecast::model::filter::Filter;
use almanac_core::forecast::model::improvements::Improvements;
use almanac_core::forecast::model::observed::{Built, Clock, Observed, build};
use almanac_core::forecast::model::setting_dimension::DimensionFilter;
use almanac_core::forecast::model::shop_fit::{Group, fit_clocks, fit_usage_of};
use almanac_core::forecast::model::spindle::{Asked, dimension_forecast, limit_forecast, major_service};
use almanac_core::forecast::next_reading::next_readings;
use almanac_core::forecast::{ForecastBasis, ForecastConfig, NoProgress, QUANTILES, forecast_spindle, project_shop};
use almanac_core::ids::{ReadingId, SpindleId};
use almanac_core::moment::Moment;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::shop::Shop;
use almanac_core::store::{StepStamp, Store};
use almanac_core::units::{Quantity, Unit};
use almanac_tests::fleet::{Rounds, fleet_read, last_day};
use almanac_tests::measure::{least_elapsed, least_time, load_average, read_rows};
use std::error::Error;
use std::hint::black_box;
use std::io::Write;
use std::sync::Arc;
use std::time::Duration;

const RUNS: usize = 5;
/// 27 rounds, and six as-left readings on average.
const ROUNDS: Rounds = Rounds { days_between_readings: 131, reads_settings: true };

/// What a plain scalar program in another language needs per 1,000 spindles with the same history,
/// on one core of the machine on which it was measured.
mod plain {
    pub(super) const METERS_AND_USAGE: f64 = 2.0;
    pub(super) const FILTER: f64 = 1.7;
    pub(super) const ONE_LIMIT: f64 = 15.0;
    pub(super) const SETTING_DIMENSION: f64 = 0.7;
    /// Usage, filter, both force limits and the setting dimension.
    pub(super) const ALL: f64 = METERS_AND_USAGE + FILTER + 2.0 * ONE_LIMIT + SETTING_DIMENSION;
}

/// Every figure of a run beside the baseline.
struct Report<'a, W> {
    out: &'a mut W,
    straight: Duration,
    /// The same by the clock.
    straight_elapsed: Duration,
    spindles: f64,
}

impl<W: Write> Report<'_, W> {
    /// One line: time, share of the reading, and of the plain program's time where that is known.
    fn line(&mut self, what: &str, time: Duration, plain: Option<f64>) -> std::io::Result<()> {
        let ratio = time.as_secs_f64() / self.straight.as_secs_f64();
        write!(self.out, "  {what:<44} {ratio:>8.3}   {time:>9.2?}")?;
        if let Some(seconds) = plain {
            let here = time.as_secs_f64() / self.spindles * 1000.0;
            write!(self.out, "   1/{:.0} of the plain program", seconds / here)?;
        }
        writeln!(self.out)
    }

    /// One line of work that is spread over the processors.
    fn spread_line(&mut self, what: &str, elapsed: Duration) -> std::io::Result<f64> {
        let ratio = elapsed.as_secs_f64() / self.straight_elapsed.as_secs_f64();
        let processors = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        writeln!(self.out, "  {what:<44} {ratio:>8.3}   {elapsed:>9.2?}   by the clock, {processors} processors")?;
        Ok(ratio)
    }

    fn target(&mut self, what: &str, reached: f64, most: f64) -> std::io::Result<()> {
        let word = if reached <= most { "met" } else { "MISSED" };
        writeln!(self.out, "  target {word}: {what}: {reached:.5}, at most {most:.5}")
    }
}

fn shop_of(spindles: usize, path: &std::path::Path) -> Result<Shop, Box<dyn Error>> {
    let stamp = StepStamp { at: last_day().and_hms_opt(8, 0, 0).unwrap_or_default(), who: "bench".to_owned() };
    let mut store = Store::create(path)?;
    store.perform(Action::Import(Box::new(fleet_read(spindles, 1, ROUNDS))), &stamp)?;
    Ok(store.load_shop()?)
}

/// The same shop with one more reading of a spindle.
fn with_one_reading(shop: &Shop, id: SpindleId) -> Shop {
    let strokes = (0..3).filter_map(|i| Stroke::parse(&format!("{}", 14.0 + 0.05 * f64::from(i)), Unit::Kilonewton));
    let reading = Reading::of(id, Moment::day(last_day()), Phase::Routine, Unit::Kilonewton, strokes.collect());
    let mut more = shop.clone();
    let next = shop.readings.iter().map(|row| row.id.row()).max().unwrap_or(0) + 1;
    let row = almanac_core::ids::Row { id: ReadingId::from_row(next), value: reading };
    Arc::make_mut(&mut more.readings).push(row);
    more.sorted()
}

struct Step<'a> {
    fit: &'a InterfaceFit,
    observed: &'a Observed,
    built: Built,
    service_limit: f64,
    stop_limit: f64,
}

fn steps<'a>(
    shop: &Shop,
    basis: &ModelBasis<'_>,
    fits: &'a ShopFits,
    observed: &'a [(SpindleId, Observed)],
) -> Vec<Step<'a>> {
    let (working, as_of) = basis.calendar();
    observed
        .iter()
        .filter_map(|(id, observed)| {
            let spindle = shop.spindles.get(id)?;
            let limits = shop.limits_of(spindle);
            let fit = fits.of(&spindle.interface);
            let usage = fits.usage.of(fit.counting.clock);
            let built = build(observed, working, &fit.counting, as_of, fit.parameters.ss, usage);
            let (service_limit, stop_limit) = (limits.service_limit.value.get(), limits.stop_limit.value.get());
            Some(Step { fit, observed, built, service_limit, stop_limit })
        })
        .collect()
}

fn model_steps(report: &mut Report<'_, impl Write>, shop: &Shop, fits: &ShopFits) -> Result<(), Box<dyn Error>> {
    let config = ForecastConfig::of(shop);
    let basis = ModelBasis::new(shop, last_day(), fits, config);
    let exposure = least_time(RUNS, || {
        black_box(ExposureBook::of(shop, last_day(), config.horizon_days));
    });
    report.line("exposure of every spindle", exposure, None)?;
    let mut observed: Vec<(SpindleId, Observed)> = Vec::new();
    let time = least_time(RUNS, || {
        observed = shop.spindles.keys().filter_map(|id| Some((*id, basis.observed(*id)?))).collect();
    });
    report.line("records in the terms of the model", time, None)?;
    let mut all = Vec::new();
    let usage = least_time(RUNS, || all = steps(shop, &basis, fits, &observed));
    report.line("usage, and records to events", usage, None)?;
    report.line("meters and usage: these three", exposure + time + usage, Some(plain::METERS_AND_USAGE))?;
    let mut filters = Vec::new();
    let time = least_time(RUNS, || {
        filters = all
            .iter()
            .map(|step| Filter::new(&step.fit.parameters, step.observed.known_start).run(&step.built.events))
            .collect();
    });
    report.line("filter", time, Some(plain::FILTER))?;
    let (working, as_of) = basis.calendar();
    let asked = Asked { as_of, horizon_days: i64::from(config.horizon_days) };
    let limit = |of: fn(&Step<'_>) -> f64| {
        least_time(RUNS, || {
            for (step, filter) in all.iter().zip(&filters) {
                let law = limit_forecast(&step.fit.parameters, filter, &step.built, working, asked, of(step));
                black_box(law.quantiles(&QUANTILES));
            }
        })
    };
    report.line("service limit, seven quantiles", limit(|step| step.service_limit), Some(plain::ONE_LIMIT))?;
    report.line("stop limit, seven quantiles", limit(|step| step.stop_limit), Some(plain::ONE_LIMIT))?;
    let time = least_time(RUNS, || {
        for step in &all {
            let filter = DimensionFilter::run(&step.built.dimension_events, &step.fit.dimension);
            black_box(dimension_forecast(&step.fit.dimension, &filter, &step.built, working, asked, &QUANTILES));
        }
    });
    report.line("setting dimension, seven quantiles", time, Some(plain::SETTING_DIMENSION))?;
    let time = least_time(RUNS, || {
        for (step, filter) in all.iter().zip(&filters) {
            let par = &step.fit.parameters;
            black_box(major_service(par, filter, &step.built, working, asked, 90.0, &[0.1, 0.5, 0.9]));
        }
    });
    report.line("major service, three quantiles", time, None)?;
    Ok(())
}

/// Groups with both clocks, and the usage law, on the largest interface.
fn fits(report: &mut Report<'_, impl Write>, shop: &Shop, fits: &ShopFits) -> Result<(), Box<dyn Error>> {
    let basis = ModelBasis::new(shop, last_day(), fits, ForecastConfig::of(shop));
    let (working, as_of) = basis.calendar();
    let Some(interface) = shop.spindles.values().next().map(|spindle| &spindle.interface) else { return Ok(()) };
    let group: Vec<Observed> = shop
        .spindles
        .iter()
        .filter(|(_, spindle)| spindle.interface == *interface)
        .filter_map(|(id, _)| basis.observed(*id))
        .take(200)
        .collect();
    let spindles: Vec<&Observed> = group.iter().collect();
    let cycles_per_hour = fits.of(interface).cycles_per_hour;
    let fit =
        || fit_clocks(Group { spindles: &spindles, cycles_per_hour }, working, as_of, Improvements::all(), &|| true);
    let fitted = fit()?;
    let time = least_time(3, || {
        black_box(fit().is_ok());
    });
    report.line(&format!("group fit of {} spindles, both clocks", spindles.len()), time, None)?;
    let seconds = time.as_secs_f64();
    let usage = least_time(3, || {
        let groups = std::iter::once((&fitted, spindles.as_slice()));
        black_box(fit_usage_of(fitted.counting.clock, groups, as_of, Improvements::all(), &|| true).is_ok());
    });
    report.line("usage law of its 60 spindles at most", usage, None)?;
    let whole = least_time(1, || {
        black_box(ShopFits::fit(shop, last_day(), &NoProgress).is_ok());
    });
    report.line("everything that a shop teaches", whole, None)?;
    report.target("group fit of 200 spindles, both clocks, in s", seconds, 0.5)?;
    Ok(())
}

fn measure(spindles: usize, out: &mut impl Write) -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("shop.almanac");
    let shop = shop_of(spindles, &path)?;
    let values = read_rows(&path)?;
    let straight = least_time(7, || {
        black_box(read_rows(&path).unwrap_or_default());
    });
    let of = |quantity| shop.readings.iter().filter(|row| row.quantity() == quantity).count();
    writeln!(
        out,
        "{spindles} spindles, ten years: {} force readings, {} of the setting dimension, {} meter readings, {values} values",
        of(Quantity::ClampForce),
        of(Quantity::SettingDimension),
        shop.meters.len(),
    )?;
    if let Some(load) = load_average() {
        writeln!(out, "load of the machine: {load}")?;
    }
    let straight_elapsed = least_elapsed(7, || {
        black_box(read_rows(&path).unwrap_or_default());
    });
    writeln!(out, "read straight from SQLite: {straight:.2?} = 1; by the clock {straight_elapsed:.2?}")?;
    let fitted = Arc::new(ShopFits::fit(&shop, last_day(), &NoProgress)?);
    let cycles = fitted.interfaces.values().filter(|fit| fit.counting.clock == Clock::Cycles).count();
    writeln!(out, "{} interfaces fitted, {cycles} of them by clamp cycles", fitted.interfaces.len())?;
    let mut report = Report { out, straight, straight_elapsed, spindles: spindles as f64 };
    model_steps(&mut report, &shop, &fitted)?;
    let config = ForecastConfig::of(&shop);
    let whole = least_time(RUNS, || {
        let basis = ModelBasis::new(&shop, last_day(), &fitted, config);
        for id in shop.spindles.keys() {
            black_box(basis.project(*id));
        }
    });
    report.line("the model, rows to dates: all of these", whole, Some(plain::ALL))?;
    report.target("the model beside reading its rows", whole.as_secs_f64() / straight.as_secs_f64(), 0.5)?;
    let elapsed = least_elapsed(2 * RUNS, || {
        let basis = ModelBasis::new(&shop, last_day(), &fitted, config);
        black_box(basis.project_all(&NoProgress).is_ok());
    });
    let ratio = report.spread_line("the same, spread over the processors", elapsed)?;
    report.target("spread over the processors, beside reading its rows", ratio, 0.5)?;
    let per_thousand = whole.as_secs_f64() / spindles as f64 * 1000.0;
    report.target("the model beside the plain program", per_thousand / plain::ALL, 1.0 / 50.0)?;
    wired(&mut report, &shop, &fitted, whole)?;
    fits(&mut report, &shop, &fitted)?;
    Ok(())
}

/// What lists and screens call: the whole shop, and one spindle after one reading.
fn wired(
    report: &mut Report<'_, impl Write>,
    shop: &Shop,
    fitted: &Arc<ShopFits>,
    rows_to_dates: Duration,
) -> Result<(), Box<dyn Error>> {
    let config = ForecastConfig::of(shop);
    let whole = least_time(RUNS, || {
        let basis = ForecastBasis::of(shop, last_day(), &config, fitted, &NoProgress);
        for id in shop.spindles.keys() {
            black_box(basis.as_ref().map(|basis| basis.project(*id)).is_ok());
        }
    });
    report.line("the same with sentences, fans, chances", whole, Some(plain::ALL))?;
    let elapsed = least_elapsed(RUNS, || {
        black_box(project_shop(shop, last_day(), &config, fitted, &NoProgress).is_ok());
    });
    report.spread_line("project_shop", elapsed)?;
    let basis = ForecastBasis::of(shop, last_day(), &config, fitted, &NoProgress)?;
    let forecast = basis.project_all(&NoProgress)?;
    let mut listed = 0;
    let elapsed = least_elapsed(3, || {
        listed = next_readings(&basis, &forecast, &NoProgress).map_or(0, |readings| readings.len());
    });
    report.spread_line("readings worth taking", elapsed)?;
    let candidates = forecast.spindles.values().filter(|forecast| forecast.service_by.is_some()).count();
    writeln!(report.out, "    {listed} listed; {candidates} spindles have a service-by date")?;
    let time = least_time(3, || {
        black_box(best_intervals(shop, last_day(), fitted, &NoProgress).is_ok());
    });
    report.line("best interval of every interface", time, None)?;
    let Some(id) = shop.spindles.keys().nth(shop.spindles.len() / 2).copied() else { return Ok(()) };
    let more = with_one_reading(shop, id);
    let one = least_time(4 * RUNS, || {
        black_box(forecast_spindle(&more, last_day(), &config, fitted, basis.groups(), id));
    });
    report.line("one spindle after one more reading", one, None)?;
    report.target("one spindle beside the whole shop", one.as_secs_f64() / whole.as_secs_f64(), 1.0 / 300.0)?;
    writeln!(report.out, "    and 1/{:.0} of the model alone", rows_to_dates.as_secs_f64() / one.as_secs_f64())?;
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let spindles = std::env::args().filter_map(|word| word.parse::<usize>().ok()).next_back().unwrap_or(1000);
    measure(spindles, &mut std::io::stdout().lock())
}
