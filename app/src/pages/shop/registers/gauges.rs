//! Gauges with their calibration.

use super::super::register::{
    Column, Field, Register, RegisterContext, RegisterRow, amount, check_unique, day_text, figure_text, parse_ranges,
    ranges_text, whole,
};
use crate::forms::draft::{Draft, FieldErrors, Reader};
use almanac_core::actions::{Action, Change};
use almanac_core::gauge::Gauge;
use almanac_core::ids::GaugeId;
use almanac_core::typed_date::Lean;
use almanac_core::units::{Quantity, Unit};
use almanac_core::words;

/// The register.
#[derive(Debug)]
pub struct Gauges;

impl Register for Gauges {
    fn word(&self) -> &'static str {
        "gauges"
    }

    fn one(&self) -> &'static str {
        "gauge"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("gauge", 0.9),
            Column::words("measures", 1.3),
            Column::words("shows", 0.6),
            Column::figures("range to", 0.8),
            Column::words("calibrated", 1.0),
            Column::words("calibration due", 1.6),
            Column::words("certificate", 1.0),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut gauges: Vec<_> = context.shop.gauges.iter().collect();
        gauges.sort_by(|a, b| a.name.cmp(&b.name));
        gauges
            .into_iter()
            .map(|row| {
                let overdue = row.is_overdue_on(context.today);
                let due = match row.calibration_due {
                    Some(due) if overdue => format!("{due}, overdue"),
                    Some(due) => due.to_string(),
                    None => words::UNKNOWN.to_owned(),
                };
                let cells = vec![
                    row.name.clone(),
                    row.quantity.label().to_owned(),
                    row.unit.map(|unit| unit.symbol().to_owned()).unwrap_or_default(),
                    figure_text(row.range_max),
                    day_text(row.calibrated_on),
                    due,
                    row.certificate.clone(),
                ];
                RegisterRow { needs_action: overdue, ..RegisterRow::new(row.id.row(), cells) }
            })
            .collect()
    }

    fn fields(&self, _context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::text("gauge", "name on it"),
            Field::words("quantity", &["clamp force", "setting dimension"]),
            Field::words("unit", &["kN", "lbf", "N", "mm", "in"]),
            Field::figure("range to", "", "in its unit"),
            Field::figure("resolution", "", "in its unit"),
            Field::day("calibrated on", "2026-03-17, 17.3."),
            Field::day_ahead("calibration due", "2027-03-17"),
            Field::text("certificate", "number"),
            Field::figure("services per day", "any number", ""),
            Field::text("out", "2026-04-01/2026-04-12; …"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default().with("quantity", "clamp force")) };
        let gauge = context.shop.gauges.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("gauge", gauge.name.clone())
                .with("quantity", gauge.quantity.label())
                .with("unit", gauge.unit.map(Unit::symbol).unwrap_or_default())
                .with("range to", figure_text(gauge.range_max))
                .with("resolution", figure_text(gauge.resolution))
                .with("calibrated on", day_text(gauge.calibrated_on))
                .with("calibration due", day_text(gauge.calibration_due))
                .with("certificate", gauge.certificate.clone())
                .with("services per day", gauge.services_per_day.map(|n| n.to_string()).unwrap_or_default())
                .with("out", ranges_text(&gauge.out)),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let name = reader.required_text("gauge");
        let quantity = reader.required("quantity", "clamp force or setting dimension", Quantity::from_key);
        let unit = reader.optional("unit", "kN, lbf, N, mm or in", Unit::from_symbol);
        if let (Some(quantity), Some(unit)) = (quantity, unit)
            && unit.quantity() != quantity
        {
            reader.wrong("unit", format!("{} is not measured in {unit}", quantity.label()));
        }
        let range_max = amount(&mut reader, "range to");
        let resolution = amount(&mut reader, "resolution");
        let calibrated_on = reader.day("calibrated on", Lean::Back);
        let calibration_due = reader.day("calibration due", Lean::Ahead);
        if let (Some(done), Some(due)) = (calibrated_on, calibration_due)
            && due < done
        {
            reader.wrong("calibration due", format!("{due} lies before the calibration of {done}"));
        }
        let certificate = reader.text("certificate");
        let services_per_day = whole(&mut reader, "services per day", 1);
        let out = reader.optional("out", "days such as 2026-04-01/2026-04-12; 2026-05-02", parse_ranges);
        if let Some(name) = &name {
            let taken = context.shop.gauges.iter().map(|row| (row.id.row(), row.name.as_str()));
            check_unique(&mut reader, "gauge", name, id, taken);
        }
        let gauge = name.zip(quantity).map(|(name, quantity)| Gauge {
            range_max,
            unit,
            resolution,
            calibrated_on,
            calibration_due,
            certificate,
            services_per_day,
            out: out.unwrap_or_default(),
            ..Gauge::named(&name, quantity)
        });
        let change = gauge.map(|gauge| match id {
            Some(id) => Change::Set(GaugeId::from_row(id), gauge),
            None => Change::Add(gauge),
        });
        reader.finish(change.map(Action::Gauge))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Gauge(Change::Remove(GaugeId::from_row(id))))
    }
}
