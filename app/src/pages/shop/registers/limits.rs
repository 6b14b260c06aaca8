//! The shop's limits per interface, or for all.

use super::super::limit_fields;
use super::super::register::{Column, Field, Register, RegisterContext, RegisterRow, force, interface_offers, typed};
use crate::forms::draft::{Draft, FieldErrors, Reader};
use crate::widgets::choice::Offer;
use almanac_core::actions::{Action, Change};
use almanac_core::ids::InterfaceLimitsId;
use almanac_core::interface::Interface;
use almanac_core::limits::{InterfaceLimits, LimitValues};
use almanac_core::units::{ClampCycles, Millimetres, Percent, RunHours};
use almanac_core::words;

/// The register.
#[derive(Debug)]
pub struct ShopLimits;

/// What stands for all interfaces.
const ALL: &str = "*";

impl Register for ShopLimits {
    fn word(&self) -> &'static str {
        "limits"
    }

    fn one(&self) -> &'static str {
        "set of limits"
    }

    fn name_key(&self) -> &'static str {
        "tool interface"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("interface", 1.4),
            Column::figures("service %", 0.8),
            Column::figures("stop %", 0.7),
            Column::figures("setting", 1.3),
            Column::figures("months", 0.8),
            Column::figures("run hours", 0.9),
            Column::figures("cycles", 0.9),
            Column::words("source", 1.8),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let unit = context.shop.settings.length_unit;
        let length = |value: Option<Millimetres>| value.map(|value| words::length_in(value, unit));
        let mut rows: Vec<RegisterRow> = context
            .shop
            .interface_limits
            .iter()
            .map(|row| {
                let LimitValues { service_limit, stop_limit, every_months, every_hours, every_cycles, .. } = row.values;
                let setting = match (length(row.values.setting_dimension), length(row.values.setting_tolerance)) {
                    (Some(aimed), Some(tolerance)) => Some(format!("{aimed} ± {tolerance} {unit}")),
                    (aimed, tolerance) => aimed.or(tolerance),
                };
                let cells = [
                    Some(row.interface.as_ref().map_or_else(|| "all (*)".to_owned(), ToString::to_string)),
                    service_limit.map(words::percent_short),
                    stop_limit.map(words::percent_short),
                    setting,
                    every_months.map(|months| months.to_string()),
                    every_hours.map(|hours| words::number(hours.get(), 0)),
                    every_cycles.map(|cycles| words::number(cycles.get(), 0)),
                    row.values.source.clone(),
                ];
                let cells = cells.map(|cell| cell.unwrap_or_else(|| words::UNKNOWN.to_owned())).to_vec();
                RegisterRow::new(row.id.row(), cells)
            })
            .collect();
        rows.sort_by(|a, b| a.cells.cmp(&b.cells));
        rows
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        let mut offers = interface_offers(context.shop);
        offers.insert(0, Offer::new(ALL, "all interfaces of this shop"));
        let unit = context.shop.settings.force_unit.symbol();
        let mut fields = vec![
            Field::offers("tool interface", "* for all", offers),
            Field::figure("nominal force", "offered to new spindles", unit),
        ];
        fields.extend(limit_fields::fields(context.shop));
        fields
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default()) };
        let row = context.shop.interface_limits.iter().find(|row| row.id.row() == id)?;
        let interface = row.interface.as_ref().map_or_else(|| ALL.to_owned(), ToString::to_string);
        let nominal = row.values.nominal_force.map(|force| typed(force.get(), context.shop.settings.force_unit));
        let mut draft =
            Draft::default().with("tool interface", interface).with("nominal force", nominal.unwrap_or_default());
        limit_fields::put(&mut draft, &row.values, context.shop);
        Some(draft)
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let shop = context.shop;
        let mut reader = Reader::new(draft, context.today);
        let name = reader.required_text("tool interface");
        let interface = name.as_deref().filter(|name| *name != ALL).and_then(Interface::parse);
        let old = shop.interface_limits.iter().find(|row| Some(row.id.row()) == id);
        let unit = shop.settings.force_unit;
        let old_force = old.and_then(|old| old.values.nominal_force);
        let read_force = |text: &str| {
            let kept = old_force.filter(|force| typed(force.get(), unit) == text);
            kept.or_else(|| force(text, shop)).filter(|force| force.get() > 0.0)
        };
        let nominal_force = reader.optional("nominal force", "a force above 0 such as 18 kN", read_force);
        let values = LimitValues { nominal_force, ..limit_fields::read(&mut reader, shop, old.map(|old| &old.values)) };
        let taken = shop.interface_limits.iter().any(|row| Some(row.id.row()) != id && row.interface == interface);
        if let Some(name) = name.as_deref().filter(|_| taken) {
            reader.wrong("tool interface", format!("there are already limits for '{name}'"));
        }
        let is_empty = LimitValues { source: None, ..values.clone() } == LimitValues::default();
        if is_empty {
            reader.missing("a limit");
        }
        let limits = name.filter(|_| !is_empty).map(|_| InterfaceLimits { interface, values });
        let change = limits.map(|limits| match id {
            Some(id) => Change::Set(InterfaceLimitsId::from_row(id), limits),
            None => Change::Add(limits),
        });
        reader.finish(change.map(Action::InterfaceLimits))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::InterfaceLimits(Change::Remove(InterfaceLimitsId::from_row(id))))
    }
}

/// One limit with its value at each step, the step in force, and its source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitSteps {
    /// Which limit.
    pub limit: &'static str,
    /// Built in, shop, interface, this spindle; empty where the step says nothing.
    pub values: [String; 4],
    /// Which of them is in force.
    pub in_force: Option<usize>,
    /// The source that the step in force names.
    pub source: String,
}

/// The steps of every limit, for an interface and maybe a spindle's own values.
#[must_use]
pub fn steps(
    shop: &almanac_core::shop::Shop,
    interface: Option<&Interface>,
    spindle: Option<&LimitValues>,
) -> Vec<LimitSteps> {
    let of = |wanted: Option<&Interface>| {
        let found = shop.interface_limits.iter().find(|row| row.interface.as_ref() == wanted);
        found.map(|row| row.values.clone()).unwrap_or_default()
    };
    let built_in = interface.map(almanac_core::limits::built_in).unwrap_or_default();
    let by_interface = if interface.is_some() { of(interface) } else { LimitValues::default() };
    let all = [built_in, of(None), by_interface, spindle.cloned().unwrap_or_default()];
    let length = shop.settings.length_unit;
    type Show<'s> = Box<dyn Fn(&LimitValues) -> Option<String> + 's>;
    let rows: [(&'static str, Show<'_>); 7] = [
        ("service limit", Box::new(|v| v.service_limit.map(|p: Percent| format!("{} %", words::percent_short(p))))),
        ("stop limit", Box::new(|v| v.stop_limit.map(|p: Percent| format!("{} %", words::percent_short(p))))),
        ("setting", Box::new(move |v| v.setting_dimension.map(|mm| words::length_with_unit(mm, length)))),
        ("tolerance", Box::new(move |v| v.setting_tolerance.map(|mm| words::length_with_unit(mm, length)))),
        ("months", Box::new(|v| v.every_months.map(|months| months.to_string()))),
        ("run hours", Box::new(|v| v.every_hours.map(|h: RunHours| words::hours(h)))),
        ("clamp cycles", Box::new(|v| v.every_cycles.map(|c: ClampCycles| words::cycles(c)))),
    ];
    rows.into_iter()
        .map(|(limit, show)| {
            let values = all.each_ref().map(|values| show(values).unwrap_or_default());
            let in_force = values.iter().rposition(|value| !value.is_empty());
            let source = in_force.and_then(|at| all.get(at)).and_then(|values| values.source.clone());
            LimitSteps { limit, values, in_force, source: source.unwrap_or_default() }
        })
        .collect()
}
