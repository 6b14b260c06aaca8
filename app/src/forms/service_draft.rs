//! A service as typed, with its readings, parts and order, and what it becomes.

use super::draft::{Draft, FieldErrors, Key, Reader, plain_number};
use super::part_rows::{self, PartRow, part_keys};
use super::reading_draft;
use almanac_core::actions::{Action, Change, Recording};
use almanac_core::expected::{meter_owner, meter_room};
use almanac_core::ids::{OrderId, Row, ServiceId, SpindleId};
use almanac_core::meter::MeterReading;
use almanac_core::moment::Moment;
use almanac_core::order::{Order, OrderState};
use almanac_core::part::Part;
use almanac_core::reading::{Phase, Reading, Stroke};
use almanac_core::service::{Kind, PartQuantity, Service};
use almanac_core::shop::Shop;
use almanac_core::units::{Kilonewtons, Quantity, RunHours, Unit};
use almanac_core::words;
use chrono::NaiveDate;

/// Force strokes before the service.
pub const FOUND: [Key; 5] =
    ["as found stroke 1", "as found stroke 2", "as found stroke 3", "as found stroke 4", "as found stroke 5"];
/// Force strokes after it.
pub const LEFT: [Key; 5] =
    ["as left stroke 1", "as left stroke 2", "as left stroke 3", "as left stroke 4", "as left stroke 5"];
/// All force strokes.
pub const FORCE: [Key; 10] =
    [FOUND[0], FOUND[1], FOUND[2], FOUND[3], FOUND[4], LEFT[0], LEFT[1], LEFT[2], LEFT[3], LEFT[4]];
/// Setting dimension before the service.
pub const SETTING_FOUND: [Key; 3] = ["setting as found 1", "setting as found 2", "setting as found 3"];
/// Setting dimension after it.
pub const SETTING_LEFT: [Key; 3] = ["setting as left 1", "setting as left 2", "setting as left 3"];
/// All readings of the setting dimension.
pub const SETTING: [Key; 6] =
    [SETTING_FOUND[0], SETTING_FOUND[1], SETTING_FOUND[2], SETTING_LEFT[0], SETTING_LEFT[1], SETTING_LEFT[2]];
/// How an order can end.
pub const ORDER_ENDS: [&str; 3] = ["done", "partly done", "not done"];
/// The lockout tick.
pub const LOCKOUT: Key = "lockout";
/// Ticks that say that something was not measured.
pub const NOT_MEASURED: [Key; 3] = ["as found not measured", "as left not measured", "setting dimension not measured"];

/// Of which spindle the service is, and which one it corrects.
#[derive(Debug, Clone, Copy)]
pub struct ServiceTarget<'a> {
    /// The shop as it stands.
    pub shop: &'a Shop,
    /// The spindle.
    pub spindle: SpindleId,
    /// The service in whose place this one comes.
    pub correcting: Option<ServiceId>,
    /// The day that stands for now.
    pub today: NaiveDate,
}

/// Why the strokes of each reading are doubted.
#[derive(Debug, Clone, Default)]
pub struct Doubts {
    /// Force as found.
    pub found: Option<String>,
    /// Force as left.
    pub left: Option<String>,
    /// Setting dimension as found.
    pub setting_found: Option<String>,
    /// Setting dimension as left.
    pub setting_left: Option<String>,
}

/// The action of a draft: service, readings, meter, stock and order in one step.
///
/// # Errors
/// What is missing or wrong, field by field.
pub fn parse(draft: &Draft, target: &ServiceTarget<'_>, doubts: Doubts) -> Result<Action, FieldErrors> {
    let mut reader = Reader::new(draft, target.today);
    let order = order(draft, &mut reader, target);
    if order.as_ref().is_some_and(|(_, end)| *end == OrderState::NotDone) {
        return not_done(reader, target, order);
    }
    let at = reader.past_moment("date");
    let kind = reader.required("kind", "minor or major", Kind::from_key);
    let technician = reading_draft::technician(&mut reader, target.shop);
    let stop_hours = reader.optional("stop hours", "hours such as 1.5", plain_number).and_then(RunHours::new);
    if let Some(at) = at {
        check_installed(&mut reader, target, at);
    }
    let parts = parts(draft, &mut reader, target.shop);
    let service = at.zip(kind).map(|(at, kind)| Service {
        order: order.as_ref().map(|(row, _)| row.name.clone()).or_else(|| old_order(draft, target)),
        technician: technician.clone(),
        stop_hours,
        findings: reader.text("findings"),
        parts: parts.clone(),
        note: reader.text("note"),
        recorded_on: (at.date != target.today).then_some(target.today),
        ..Service::of(target.spindle, at, kind)
    });
    let service = service.and_then(|service| match service.checked() {
        Ok(service) => Some(service),
        Err(error) => {
            reader.wrong("stop hours", error);
            None
        }
    });
    if let Some(old) = target.correcting {
        let action = service.map(|service| Action::Service(Recording::Correct(old, service, target.today)));
        return reader.finish(action);
    }
    if !draft.is_ticked(LOCKOUT) {
        reader.missing("the lockout tick");
    }
    let readings = readings(draft, &mut reader, target, at, technician, doubts);
    let name = target.shop.spindles.get(&target.spindle).map_or("", |spindle| spindle.name.as_str());
    let action = service.map(|service| {
        let mut steps = Vec::new();
        let (readings, meter) = readings;
        steps.push(Action::RecordService(service, readings));
        steps.extend(meter.map(|meter| Action::Meter(Recording::Record(meter))));
        steps.extend(stock(target.shop, &parts));
        let what = match &order {
            Some((row, _)) => format!("Record service of {name}, order {}", row.name),
            None => format!("Record service of {name}"),
        };
        steps.extend(order.map(|(row, end)| close(row, end, target.today)));
        Action::Together(what, steps)
    });
    reader.finish(action)
}

fn not_done(
    mut reader: Reader<'_>,
    target: &ServiceTarget<'_>,
    order: Option<(&Row<OrderId, Order>, OrderState)>,
) -> Result<Action, FieldErrors> {
    let reason = reader.required_text("note");
    let action = order.zip(reason).map(|((row, end), reason)| {
        Action::Together(format!("Close order {} as not done: {reason}", row.name), vec![close(row, end, target.today)])
    });
    reader.finish(action)
}

/// The order that is closed, and how it ends.
fn order<'a>(
    draft: &Draft,
    reader: &mut Reader<'_>,
    target: &ServiceTarget<'a>,
) -> Option<(&'a Row<OrderId, Order>, OrderState)> {
    if target.correcting.is_some() {
        return None;
    }
    let name = reader.optional_text("order")?;
    let mine = |row: &&Row<OrderId, Order>| row.name == name && row.spindle == target.spindle;
    let Some(row) = target.shop.orders.iter().find(mine).filter(|row| row.is_open_on(target.today)) else {
        reader.wrong(
            "order",
            format!("'{name}' is no open order of this spindle; take one of the list or leave it empty"),
        );
        return None;
    };
    let end = reader.required("order is", "done, partly done or not done", OrderState::from_key)?;
    let _ = draft;
    Some((row, end))
}

/// A correction keeps or changes the number of the order as text.
fn old_order(draft: &Draft, target: &ServiceTarget<'_>) -> Option<String> {
    let text = draft.trimmed("order");
    (target.correcting.is_some() && !text.is_empty()).then(|| text.to_owned())
}

/// What is left to do keeps an order open; else it is closed today.
fn close(row: &Row<OrderId, Order>, end: OrderState, today: NaiveDate) -> Action {
    let closed_on = (end != OrderState::PartlyDone).then_some(today);
    Action::Order(Change::Set(row.id, Order { state: end, closed_on, ..row.value.clone() }))
}

fn check_installed(reader: &mut Reader<'_>, target: &ServiceTarget<'_>, at: Moment) {
    let Some(spindle) = target.shop.spindles.get(&target.spindle) else { return };
    if let Some(installed) = spindle.installed_on.filter(|installed| at.date < *installed) {
        reader.wrong("date", format!("{} lies before {} was installed on {installed}", at.date, spindle.name));
    }
}

fn parts(draft: &Draft, reader: &mut Reader<'_>, shop: &Shop) -> Vec<PartQuantity> {
    let mut parts = Vec::new();
    for (part_key, quantity_key) in (0..part_rows::count(draft)).map(part_keys) {
        let name = draft.trimmed(part_key);
        if name.is_empty() {
            continue;
        }
        if !shop.parts.is_empty() && !shop.parts.iter().any(|part| part.name == name) {
            reader.wrong(part_key, format!("'{name}' is not in the parts of this shop"));
        }
        if name.contains([';', '=']) {
            reader.wrong(part_key, "a part has no ; or = in its name");
        }
        let typed = if draft.trimmed(quantity_key).is_empty() {
            Some(1.0)
        } else {
            let above_zero = |text: &str| plain_number(text).filter(|figure| *figure > 0.0);
            reader.optional(quantity_key, "a figure above 0", above_zero)
        };
        parts.extend(typed.map(|quantity| PartQuantity { part: name.to_owned(), quantity }));
    }
    parts
}

/// The stock after the parts were taken; never under nothing.
fn stock(shop: &Shop, used: &[PartQuantity]) -> Vec<Action> {
    let taken = |name: &str| used.iter().filter(|used| used.part == name).map(|used| used.quantity).sum::<f64>();
    shop.parts
        .iter()
        .filter(|row| taken(&row.name) > 0.0)
        .map(|row| {
            let on_hand = (row.on_hand - taken(&row.name)).max(0.0);
            Action::Part(Change::Set(row.id, Part { on_hand, ..row.value.clone() }))
        })
        .collect()
}

type Taken = (Vec<Reading>, Option<MeterReading>);

/// As found, then as left; the meter figures go with the first reading, else into one of their own.
fn readings(
    draft: &Draft,
    reader: &mut Reader<'_>,
    target: &ServiceTarget<'_>,
    at: Option<Moment>,
    technician: Option<String>,
    doubts: Doubts,
) -> Taken {
    let room = at.map(|at| meter_room(target.shop, target.spindle, at.date, None));
    let (run_hours, clamp_cycles) = reading_draft::counts(reader, room.as_ref());
    let force_unit = reader.required("unit", "kN, lbf or N", Unit::from_symbol);
    let setting_unit = reader.required("setting unit", "mm or in", Unit::from_symbol);
    let force_gauge = gauge(reader, target.shop, "gauge", Quantity::ClampForce);
    let setting_gauge = gauge(reader, target.shop, "setting gauge", Quantity::SettingDimension);
    require_measured(draft, reader, target);
    let (Some(at), Some(force_unit), Some(setting_unit)) = (at, force_unit, setting_unit) else {
        return (Vec::new(), None);
    };
    let zero = match draft.trimmed("zero checked") {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    let recorded_on = (at.date != target.today).then_some(target.today);
    let mut made = |phase: Phase, unit: Unit, keys: &[Key], gauge: &Option<String>, doubt: Option<String>| {
        let strokes: Vec<Stroke> = reading_draft::strokes(draft, reader, keys, unit);
        (!strokes.is_empty()).then(|| Reading {
            gauge: gauge.clone(),
            technician: technician.clone(),
            zero_checked: zero,
            recorded_on,
            doubt,
            ..Reading::of(target.spindle, at, phase, unit, strokes)
        })
    };
    let all = [
        made(Phase::AsFound, force_unit, &FOUND, &force_gauge, doubts.found),
        made(Phase::AsFound, setting_unit, &SETTING_FOUND, &setting_gauge, doubts.setting_found),
        made(Phase::AsLeft, setting_unit, &SETTING_LEFT, &setting_gauge, doubts.setting_left),
        made(Phase::AsLeft, force_unit, &LEFT, &force_gauge, doubts.left),
    ];
    let mut readings: Vec<Reading> = all.into_iter().flatten().collect();
    let has_counts = run_hours.is_some() || clamp_cycles.is_some();
    if let Some(first) = readings.first_mut() {
        first.run_hours = run_hours;
        first.clamp_cycles = clamp_cycles;
        return (readings, None);
    }
    let meter = has_counts.then(|| MeterReading {
        owner: meter_owner(target.shop, target.spindle, at.date),
        at,
        run_hours,
        clamp_cycles,
        meter_replaced: false,
        recorded_on,
        replaced_on: None,
    });
    (readings, meter)
}

fn gauge(reader: &mut Reader<'_>, shop: &Shop, key: Key, quantity: Quantity) -> Option<String> {
    let name = reader.optional_text(key)?;
    match shop.gauge_named(&name) {
        Some(gauge) if gauge.quantity != quantity => {
            reader.wrong(key, format!("{name} measures {}", gauge.quantity.label()));
        }
        None if !shop.gauges.is_empty() => {
            reader.wrong(key, format!("'{name}' is not a gauge of this shop; take one of the list"));
        }
        _ => {}
    }
    Some(name)
}

fn require_measured(draft: &Draft, reader: &mut Reader<'_>, target: &ServiceTarget<'_>) {
    let any = |keys: &[Key]| keys.iter().any(|key| !draft.trimmed(key).is_empty());
    if !any(&FOUND) && !draft.is_ticked(NOT_MEASURED[0]) {
        reader.missing("as found force");
    }
    let has_setting =
        target.shop.spindles.get(&target.spindle).is_some_and(|s| target.shop.limits_of(s).setting().is_some());
    if has_setting && !any(&SETTING_LEFT) && !draft.is_ticked(NOT_MEASURED[2]) {
        reader.missing("setting dimension as left");
    }
    if !any(&LEFT) && !draft.is_ticked(NOT_MEASURED[1]) {
        reader.missing("as left force");
    }
}

/// How a force as left stands against the limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AsLeft {
    /// Nothing was measured.
    NotMeasured,
    /// Under the stop limit: the spindle must not run.
    UnderStopLimit,
    /// Under the service limit: a minor service no longer does.
    UnderServiceLimit,
    /// Above both.
    WithinLimits,
}

/// The force as left of a draft against the limits in force, and its sentence.
#[must_use]
pub fn as_left(draft: &Draft, target: &ServiceTarget<'_>) -> (AsLeft, String) {
    let unit = Unit::from_symbol(draft.get("unit")).unwrap_or(Unit::Kilonewton);
    let mean = super::strokes::mean_base(draft, &LEFT, unit).and_then(Kilonewtons::new);
    let spindle = target.shop.spindles.get(&target.spindle);
    let Some((mean, limits)) = mean.zip(spindle.map(|spindle| target.shop.limits_of(spindle))) else {
        return (AsLeft::NotMeasured, String::new());
    };
    let share = words::percent(mean.percent_of(limits.nominal_force.value));
    if mean < limits.stop_limit_force() {
        let stop = words::percent_short(limits.stop_limit.value);
        return (
            AsLeft::UnderStopLimit,
            format!("As left {share} %, under the stop limit of {stop} %: do not run it."),
        );
    }
    if mean < limits.service_limit_force() {
        let service = words::percent_short(limits.service_limit.value);
        let sentence = format!("As left {share} %, under the service limit of {service} %: a major service is due.");
        return (AsLeft::UnderServiceLimit, sentence);
    }
    (AsLeft::WithinLimits, format!("As left {share} % of nominal."))
}

/// A service back in its fields, to be corrected.
#[must_use]
pub fn draft_of(service: &Service) -> Draft {
    let mut draft = Draft::default()
        .with("date", service.at.to_string())
        .with("kind", service.kind.key())
        .with("order", service.order.clone().unwrap_or_default())
        .with("technician", service.technician.clone().unwrap_or_default())
        .with("stop hours", service.stop_hours.map(|hours| hours.get().to_string()).unwrap_or_default())
        .with("findings", service.findings.clone())
        .with("note", service.note.clone());
    let parts: Vec<PartRow> =
        service.parts.iter().map(|used| PartRow::new(&used.part, &used.quantity.to_string())).collect();
    part_rows::put(&mut draft, &parts);
    draft
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::moment::parse_iso_date;

    #[test]
    fn a_service_comes_back_from_its_fields_unchanged() {
        let day = |text: &str| parse_iso_date(text).unwrap();
        let parts = (1..=12).map(|n| PartQuantity { part: format!("part no. {n}"), quantity: f64::from(n) + 0.25 });
        let spindle = SpindleId::from_row(1);
        let service = Service {
            order: Some("26-014".to_owned()),
            technician: Some("Thorne".to_owned()),
            stop_hours: RunHours::new(1.375),
            findings: "collar worn".to_owned(),
            parts: parts.collect(),
            note: "slow unclamp".to_owned(),
            recorded_on: Some(day("2026-03-02")),
            ..Service::of(spindle, Moment::day(day("2026-02-16")), Kind::Major)
        };
        let (shop, correcting, today) = (Shop::default(), Some(ServiceId::from_row(1)), day("2026-03-02"));
        let target = ServiceTarget { shop: &shop, spindle, correcting, today };
        let action = parse(&draft_of(&service), &target, Doubts::default()).unwrap();
        assert_eq!(action, Action::Service(Recording::Correct(ServiceId::from_row(1), service, today)));
    }
}
