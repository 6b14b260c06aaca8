//! Actions by chance, valid and invalid, over few names, days and rows, so that they meet each other.

use almanac_core::actions::{Action, Change, ImportBatch, Recording, Table};
use almanac_core::closure::Closure;
use almanac_core::crew::{Technician, parse_shifts};
use almanac_core::downtime::{Downtime, WindowScope};
use almanac_core::gauge::Gauge;
use almanac_core::ids::{MachineId, Row, SpindleId};
use almanac_core::interface::Interface;
use almanac_core::limits::{InterfaceLimits, LimitValues};
use almanac_core::machine::{Machine, Position};
use almanac_core::meter::{MeterOwner, MeterReading};
use almanac_core::moment::{DayRange, Moment};
use almanac_core::mounting::Mounting;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::{Delivery, KitLine, Part, ServiceKind};
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, PartQuantity, Service};
use almanac_core::settings::ShopSettings;
use almanac_core::spindle::{NotBefore, Spindle};
use almanac_core::units::{ClampCycles, Kilonewtons, Millimetres, Minutes, Money, Percent, Quantity, RunHours, Unit};
use chrono::{Days, NaiveDate, NaiveTime};
use proptest::collection::vec;
use proptest::option::{of, weighted};
use proptest::prelude::*;
use proptest::sample::select;

/// The most rows of a table that an action names; some of them are never there.
const ROWS: i64 = 5;

fn day() -> impl Strategy<Value = NaiveDate> {
    (0..9_u64).prop_map(|step| NaiveDate::from_ymd_opt(2026, 1, 5).unwrap_or_default() + Days::new(17 * step))
}

fn moment() -> impl Strategy<Value = Moment> {
    (day(), of((0..24_u32, 0..60_u32, select(vec![0_u32, 30]))))
        .prop_map(|(date, time)| Moment { date, time: time.and_then(|(h, m, s)| NaiveTime::from_hms_opt(h, m, s)) })
}

fn days() -> impl Strategy<Value = DayRange> {
    (day(), day()).prop_map(|(first, last)| DayRange { first, last: first.max(last) })
}

/// Figures that are hard to keep, most of them allowed.
fn figure() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.0..20_000.0_f64,
        1 => select(vec![0.1 + 0.2, 4.5e-17, f64::MIN_POSITIVE, f64::MAX, 1.0 / 3.0, 9_007_199_254_740_992.0]),
        1 => select(vec![0.0, -1.0]),
    ]
}

fn name(prefix: &'static str) -> impl Strategy<Value = String> {
    prop_oneof![
        12 => (1..4_u32).prop_map(move |number| format!("{prefix}-{number}")),
        1 => select(vec!["", " ", "it's, \"5\" µm\n", "a;b", "\u{0}NULL"]).prop_map(str::to_owned),
    ]
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![Just(String::new()), "\\PC{0,12}", Just("it's, -- \"5\"\nµm".to_owned())]
}

fn interface() -> impl Strategy<Value = Interface> {
    select(vec!["HSK-A63", "PSC 63", "own taper"]).prop_filter_map("an interface", Interface::parse)
}

fn kind() -> impl Strategy<Value = Kind> {
    select(Kind::ALL.to_vec())
}

fn hours() -> impl Strategy<Value = Option<RunHours>> {
    of(figure()).prop_map(|value| value.and_then(RunHours::new))
}

fn cycles() -> impl Strategy<Value = Option<ClampCycles>> {
    of(figure()).prop_map(|value| value.and_then(ClampCycles::new))
}

fn money() -> impl Strategy<Value = Option<Money>> {
    of(figure()).prop_map(|value| value.and_then(Money::new))
}

fn spindle_id() -> impl Strategy<Value = SpindleId> {
    (1..=ROWS).prop_map(SpindleId::from_row)
}

fn position() -> impl Strategy<Value = Position> {
    ((1..=3_i64).prop_map(MachineId::from_row), prop_oneof![8 => 1..=2_u32, 1 => 3..=4_u32])
        .prop_map(|(machine, number)| Position { machine, number })
}

fn machine() -> impl Strategy<Value = Machine> {
    (name("R"), name("hall"), text(), of(name("line")), money(), prop_oneof![9 => 1..=3_u32, 1 => Just(0)], money())
        .prop_map(|(name, hall, description, line, stop_cost_per_hour, positions, day_below_cost)| Machine {
            name,
            hall,
            description,
            line,
            stop_cost_per_hour,
            positions,
            day_below_cost,
        })
}

fn limits() -> impl Strategy<Value = LimitValues> {
    let millimetres = || of(figure()).prop_map(|value| value.and_then(Millimetres::new));
    let share = || weighted(0.3, 50.0..100.0_f64).prop_map(|value| value.and_then(Percent::new));
    (share(), share(), millimetres(), millimetres(), of(0..24_u32), hours(), cycles(), of(text())).prop_map(
        |(service, stop, setting_dimension, setting_tolerance, every_months, every_hours, every_cycles, source)| {
            LimitValues {
                nominal_force: None,
                service_limit: service,
                stop_limit: stop,
                setting_dimension,
                setting_tolerance,
                every_months,
                every_hours,
                every_cycles,
                source,
            }
        },
    )
}

fn spindle() -> impl Strategy<Value = Spindle> {
    (
        name("S"),
        interface(),
        0.0..40.0_f64,
        prop_oneof![3 => Just(LimitValues::default()), 1 => limits()],
        weighted(0.3, day()),
        weighted(0.2, day()),
        text(),
        weighted(0.3, (day(), weighted(0.8, day()))),
    )
        .prop_map(|(name, interface, force, limits, installed_on, out_of_service_on, notes, not_before)| Spindle {
            name,
            interface,
            nominal_force: Kilonewtons::new(force).unwrap_or_default(),
            limits,
            installed_on,
            out_of_service_on,
            notes,
            not_before: not_before.map(|(day, said_on)| NotBefore { day, said_on }),
        })
}

fn interface_limits() -> impl Strategy<Value = InterfaceLimits> {
    (of(interface()), limits()).prop_map(|(interface, values)| InterfaceLimits { interface, values })
}

fn mounting() -> impl Strategy<Value = Mounting> {
    (spindle_id(), position(), day(), weighted(0.8, day()))
        .prop_map(|(spindle, position, mounted_on, removed_on)| Mounting { spindle, position, mounted_on, removed_on })
}

fn meter() -> impl Strategy<Value = MeterReading> {
    let owner = prop_oneof![spindle_id().prop_map(MeterOwner::Spindle), position().prop_map(MeterOwner::Position)];
    (owner, moment(), hours(), cycles(), any::<bool>(), of(day()), weighted(0.1, day())).prop_map(
        |(owner, at, run_hours, clamp_cycles, meter_replaced, recorded_on, replaced_on)| MeterReading {
            owner,
            at,
            run_hours,
            clamp_cycles,
            meter_replaced,
            recorded_on,
            replaced_on,
        },
    )
}

fn strokes(unit: Unit) -> impl Strategy<Value = Vec<Stroke>> {
    let typed = prop_oneof![9 => "[1-9][0-9]?\\.[0-9]{1,3}", 1 => Just("0".to_owned()), 1 => Just("1e-3".to_owned())];
    vec(typed, 0..=6).prop_map(move |typed| typed.iter().filter_map(|text| Stroke::parse(text, unit)).collect())
}

fn reading() -> impl Strategy<Value = Reading> {
    let what = select(Unit::ALL.to_vec()).prop_flat_map(|unit| (Just(unit), strokes(unit)));
    let rest = (hours(), cycles(), of(name("F")), of(any::<bool>()), of(name("T")), text(), of(text()));
    (spindle_id(), moment(), select(Phase::ALL.to_vec()), what, rest, weighted(0.2, day()), weighted(0.1, day()))
        .prop_map(|(spindle, at, phase, (unit, strokes), rest, recorded_on, replaced_on)| {
            let (run_hours, clamp_cycles, gauge, zero_checked, technician, note, doubt) = rest;
            Reading {
                spindle,
                at,
                phase,
                unit,
                strokes,
                run_hours,
                clamp_cycles,
                gauge,
                zero_checked,
                technician,
                note,
                recorded_on,
                replaced_on,
                doubt,
            }
        })
}

fn service() -> impl Strategy<Value = Service> {
    let parts = vec((name("part"), 0.001..50.0_f64), 0..3)
        .prop_map(|parts| parts.into_iter().map(|(part, quantity)| PartQuantity { part, quantity }).collect());
    (
        spindle_id(),
        moment(),
        kind(),
        of(name("26")),
        of(name("T")),
        hours(),
        (text(), text()),
        parts,
        weighted(0.2, day()),
    )
        .prop_map(|(spindle, at, kind, order, technician, stop_hours, (findings, note), parts, recorded_on)| {
            Service {
                spindle,
                at,
                kind,
                order,
                technician,
                stop_hours,
                findings,
                parts,
                note,
                recorded_on,
                replaced_on: None,
            }
        })
}

fn closure() -> impl Strategy<Value = Closure> {
    (day(), day(), text()).prop_map(|(first, last, what)| Closure { days: DayRange { first, last }, what })
}

fn gauge() -> impl Strategy<Value = Gauge> {
    let dates = (of(day()), of(day()), vec(days(), 0..3));
    (
        name("F"),
        select(Quantity::ALL.to_vec()),
        of(figure()),
        of(select(Unit::ALL.to_vec())),
        of(figure()),
        dates,
        text(),
        of(0..9_u32),
    )
        .prop_map(|(name, quantity, range_max, unit, resolution, dates, certificate, services_per_day)| Gauge {
            name,
            quantity,
            range_max,
            unit,
            resolution,
            calibrated_on: dates.0,
            calibration_due: dates.1,
            certificate,
            services_per_day,
            out: dates.2,
        })
}

fn technician() -> impl Strategy<Value = Technician> {
    let shifts = select(vec!["", "Mon-Fri 06:00-14:00", "Fri-Mon 22:00-06:00; Sat 07:00-12:00"]);
    (name("T"), vec(kind(), 0..3), shifts, hours(), vec(days(), 0..3)).prop_map(
        |(name, skills, shifts, hours_per_day, absent)| Technician {
            name,
            skills,
            shifts: parse_shifts(shifts).unwrap_or_default(),
            hours_per_day,
            absent,
        },
    )
}

fn downtime() -> impl Strategy<Value = Downtime> {
    let scope = prop_oneof![
        Just(WindowScope::AllHalls),
        name("hall").prop_map(WindowScope::Hall),
        (1..=3_i64).prop_map(|row| WindowScope::Machine(MachineId::from_row(row))),
    ];
    let share = of(figure()).prop_map(|value| value.and_then(Percent::new));
    (moment(), moment(), scope, text(), share, money(), of(Just("FREQ=WEEKLY;BYDAY=SA".to_owned()))).prop_map(
        |(start, end, scope, what, stop_factor, premium_per_hour, repeat)| Downtime {
            start,
            end,
            scope,
            what,
            stop_factor,
            premium_per_hour,
            repeat,
        },
    )
}

fn part() -> impl Strategy<Value = Part> {
    (name("part"), text(), figure(), text(), of(0..90_u32), money(), of(figure())).prop_map(
        |(name, description, on_hand, unit, lead_time_days, price, reorder_point)| Part {
            name,
            description,
            on_hand,
            unit,
            lead_time_days,
            price,
            reorder_point,
        },
    )
}

fn delivery() -> impl Strategy<Value = Delivery> {
    (name("part"), day(), figure(), text()).prop_map(|(part, expected_on, quantity, note)| Delivery {
        part,
        expected_on,
        quantity,
        note,
    })
}

fn kit_line() -> impl Strategy<Value = KitLine> {
    (interface(), kind(), name("part"), figure()).prop_map(|(interface, kind, part, quantity)| KitLine {
        interface,
        kind,
        part,
        quantity,
    })
}

fn service_kind() -> impl Strategy<Value = ServiceKind> {
    (interface(), kind(), figure(), 0..4_u32, of(select(Quantity::ALL.to_vec()))).prop_map(
        |(interface, kind, minutes, crew, gauge_quantity)| ServiceKind {
            interface,
            kind,
            minutes: Minutes::new(minutes).unwrap_or_default(),
            crew,
            gauge_quantity,
        },
    )
}

fn order() -> impl Strategy<Value = Order> {
    let dates = (of(day()), of(day()), of(moment()), weighted(0.3, day()));
    (
        name("26"),
        spindle_id(),
        kind(),
        select(OrderState::ALL.to_vec()),
        dates,
        hours(),
        vec(name("T"), 0..3),
        any::<bool>(),
        text(),
    )
        .prop_map(|(name, spindle, kind, state, dates, duration, technicians, held, note)| Order {
            name,
            spindle,
            kind,
            state,
            opened_on: dates.0,
            service_by: dates.1,
            start: dates.2,
            duration,
            technicians,
            held,
            closed_on: dates.3,
            note,
        })
}

fn settings() -> impl Strategy<Value = ShopSettings> {
    let shares = vec(0.0..1.0_f64, 7).prop_filter_map("seven", |shares| <[f64; 7]>::try_from(shares).ok());
    (text(), of(day()), 0.0..0.6_f64, shares, 0..2000_u32, 0..24_u32, figure()).prop_map(
        |(name, as_of, accepted_risk, weekday_weights, booking_horizon_days, hour, cost)| ShopSettings {
            name,
            as_of,
            accepted_risk,
            weekday_weights,
            booking_horizon_days,
            day_begins: NaiveTime::from_hms_opt(hour, 30, 0).unwrap_or_default(),
            visit_cost: Money::new(cost).unwrap_or_default(),
            ..ShopSettings::default()
        },
    )
}

/// An id of any table from its row.
trait FromRow: Sized + std::fmt::Debug + Clone {
    fn of(row: i64) -> Self;
}

macro_rules! from_row {
    ($($name:ident),*) => {$(
        impl FromRow for almanac_core::ids::$name {
            fn of(row: i64) -> Self {
                Self::from_row(row)
            }
        }
    )*};
}
from_row!(
    ClosureId,
    DeliveryId,
    DowntimeId,
    GaugeId,
    InterfaceLimitsId,
    KitLineId,
    MachineId,
    MeterReadingId,
    MountingId,
    OrderId,
    PartId,
    ReadingId,
    ServiceId,
    ServiceKindId,
    SpindleId,
    TechnicianId
);

fn change<I: FromRow, T: std::fmt::Debug + Clone>(
    value: impl Strategy<Value = T>,
) -> impl Strategy<Value = Change<I, T>> {
    (value, 1..=ROWS, 0..6_u32).prop_map(|(value, row, what)| match what {
        0..=2 => Change::Add(value),
        3 | 4 => Change::Set(I::of(row), value),
        _ => Change::Remove(I::of(row)),
    })
}

fn recording<I: FromRow, T: std::fmt::Debug + Clone>(
    value: impl Strategy<Value = T>,
) -> impl Strategy<Value = Recording<I, T>> {
    (value, 1..=ROWS, day(), 0..6_u32).prop_map(|(value, row, on, what)| match what {
        0..=2 => Recording::Record(value),
        3 | 4 => Recording::Correct(I::of(row), value, on),
        _ => Recording::Withdraw(I::of(row), on),
    })
}

/// New rows far from those of single actions, and changes of those.
fn table<I: FromRow, T: std::fmt::Debug + Clone>(
    value: impl Strategy<Value = T> + Clone,
) -> impl Strategy<Value = Table<I, T>> {
    let added = proptest::collection::btree_map(100..140_i64, value.clone(), 0..2);
    let changed = weighted(0.1, (1..=ROWS, value));
    (added, changed).prop_map(|(added, changed)| Table {
        added: added.into_iter().map(|(row, value)| Row { id: I::of(row), value }).collect(),
        changed: changed.into_iter().map(|(row, value)| Row { id: I::of(row), value }).collect(),
    })
}

fn batch() -> impl Strategy<Value = ImportBatch> {
    let first = (
        weighted(0.2, settings().boxed()),
        table(machine().boxed()),
        table(spindle().boxed()),
        table(interface_limits().boxed()),
        table(mounting().boxed()),
        table(meter().boxed()),
    );
    let second = (
        table(reading().boxed()),
        table(service().boxed()),
        table(closure().boxed()),
        table(gauge().boxed()),
        table(technician().boxed()),
        table(downtime().boxed()),
    );
    let third = (
        table(part().boxed()),
        table(delivery().boxed()),
        table(kit_line().boxed()),
        table(service_kind().boxed()),
        table(order().boxed()),
    );
    // all tables at once would seldom be valid: two of the three groups stay empty
    (first, second, third, 0..3_u32).prop_map(|(first, second, third, which)| {
        let mut batch = ImportBatch { source: "by chance".to_owned(), ..ImportBatch::default() };
        match which {
            0 => {
                (
                    batch.settings,
                    batch.machines,
                    batch.spindles,
                    batch.interface_limits,
                    batch.mountings,
                    batch.meters,
                ) = first;
            }
            1 => {
                (batch.readings, batch.services, batch.closures, batch.gauges, batch.technicians, batch.downtimes) =
                    second;
            }
            _ => (batch.parts, batch.deliveries, batch.kit_lines, batch.service_kinds, batch.orders) = third,
        }
        batch
    })
}

fn single() -> BoxedStrategy<Action> {
    let exchange = (position(), of(spindle_id()), day()).prop_map(|(position, incoming, on)| Action::ExchangeSpindle {
        position,
        incoming,
        on,
    });
    let with_spindles = (machine(), vec((spindle(), 1..=3_u32, day()), 0..3))
        .prop_map(|(machine, spindles)| Action::AddMachineWithSpindles(machine, spindles));
    let served = (service(), vec(reading(), 0..3), any::<bool>()).prop_map(|(service, mut readings, own)| {
        for reading in readings.iter_mut().filter(|_| own) {
            reading.spindle = service.spindle;
        }
        Action::RecordService(service, readings)
    });
    prop_oneof![
        1 => settings().prop_map(Action::Settings).boxed(),
        4 => change(machine()).prop_map(Action::Machine).boxed(),
        5 => change(spindle()).prop_map(Action::Spindle).boxed(),
        1 => change(interface_limits()).prop_map(Action::InterfaceLimits).boxed(),
        4 => change(mounting()).prop_map(Action::Mounting).boxed(),
        2 => exchange.boxed(),
        2 => with_spindles.boxed(),
        3 => recording(meter()).prop_map(Action::Meter).boxed(),
        4 => recording(reading()).prop_map(Action::Reading).boxed(),
        2 => served.boxed(),
        2 => recording(service()).prop_map(Action::Service).boxed(),
        1 => change(closure()).prop_map(Action::Closure).boxed(),
        1 => change(gauge()).prop_map(Action::Gauge).boxed(),
        1 => change(technician()).prop_map(Action::Technician).boxed(),
        1 => change(downtime()).prop_map(Action::Downtime).boxed(),
        2 => change(part()).prop_map(Action::Part).boxed(),
        1 => change(delivery()).prop_map(Action::Delivery).boxed(),
        1 => change(kit_line()).prop_map(Action::KitLine).boxed(),
        1 => change(service_kind()).prop_map(Action::ServiceKind).boxed(),
        2 => change(order()).prop_map(Action::Order).boxed(),
        2 => batch().prop_map(|batch| Action::Import(Box::new(batch))).boxed(),
    ]
    .boxed()
}

/// Any action that a user can do.
pub fn any_action() -> impl Strategy<Value = Action> {
    prop_oneof![
        12 => single(),
        1 => vec(single(), 1..3).prop_map(|actions| Action::Together("Several changes".to_owned(), actions)),
    ]
}

/// The name of an action's variant.
#[must_use]
pub const fn variant(action: &Action) -> &'static str {
    match action {
        Action::Settings(_) => "Settings",
        Action::Machine(_) => "Machine",
        Action::Spindle(_) => "Spindle",
        Action::InterfaceLimits(_) => "InterfaceLimits",
        Action::Mounting(_) => "Mounting",
        Action::ExchangeSpindle { .. } => "ExchangeSpindle",
        Action::AddMachineWithSpindles(..) => "AddMachineWithSpindles",
        Action::Meter(_) => "Meter",
        Action::Reading(_) => "Reading",
        Action::RecordService(..) => "RecordService",
        Action::Service(_) => "Service",
        Action::Closure(_) => "Closure",
        Action::Gauge(_) => "Gauge",
        Action::Technician(_) => "Technician",
        Action::Downtime(_) => "Downtime",
        Action::Part(_) => "Part",
        Action::Delivery(_) => "Delivery",
        Action::KitLine(_) => "KitLine",
        Action::ServiceKind(_) => "ServiceKind",
        Action::Order(_) => "Order",
        Action::Import(_) => "Import",
        Action::Together(..) => "Together",
    }
}

/// How many variants there are; [`variant`] does not compile without a new one.
pub const VARIANTS: usize = 22;
