//! Spindles with their limits.

use super::super::limit_fields;
use super::super::register::{
    Column, Field, Register, RegisterContext, RegisterRow, check_unique, day_text, force, interface_offers, typed,
};
use crate::forms::draft::{Draft, FieldErrors, Key, Reader};
use almanac_core::actions::{Action, Change};
use almanac_core::ids::SpindleId;
use almanac_core::interface::Interface;
use almanac_core::limits::{FROM_MEMORY, offered_nominal_force};
use almanac_core::shop::Shop;
use almanac_core::spindle::{InvalidSpindle, Spindle};
use almanac_core::typed_date::Lean;
use almanac_core::words;

/// The field of the nominal force.
const NOMINAL_FORCE: Key = "nominal force";

/// The register.
#[derive(Debug)]
pub struct Spindles;

impl Register for Spindles {
    fn word(&self) -> &'static str {
        "spindles"
    }

    fn one(&self) -> &'static str {
        "spindle"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("spindle", 1.1),
            Column::words("position", 1.0),
            Column::words("interface", 1.2),
            Column::figures("nominal", 0.9),
            Column::figures("service %", 0.8),
            Column::figures("stop %", 0.7),
            Column::words("installed", 1.0),
            Column::words("notes", 1.4),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let shop = context.shop;
        let mut spindles: Vec<_> = shop.spindles.iter().collect();
        spindles.sort_by(|a, b| a.1.name.cmp(&b.1.name));
        spindles
            .into_iter()
            .map(|(id, spindle)| {
                let limits = shop.limits_of(spindle);
                let place = match shop.position_on(*id, context.today) {
                    _ if spindle.is_out_on(context.today) => "taken out".to_owned(),
                    Some(position) => shop.position_label(position),
                    None => "not mounted".to_owned(),
                };
                let cells = vec![
                    spindle.name.clone(),
                    place,
                    spindle.interface.to_string(),
                    words::force_with_unit(spindle.nominal_force, spindle.nominal_force, shop.settings.force_unit),
                    words::percent_short(limits.service_limit.value),
                    words::percent_short(limits.stop_limit.value),
                    spindle.installed_on.map_or_else(|| words::UNKNOWN.to_owned(), |day| day.to_string()),
                    spindle.notes.clone(),
                ];
                RegisterRow::new(id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        let shop = context.shop;
        let mut fields = vec![
            Field::text("spindle", "serial or shop number"),
            Field::offers("tool interface", "HSK-A63", interface_offers(shop)),
            Field::figure("nominal force", "", shop.settings.force_unit.symbol()),
            Field::day("installed on", "new on that day; empty: found mid-life"),
            Field::day("out of service on", ""),
            Field::text("notes", ""),
            Field::section("Its own limits, where it has some"),
        ];
        fields.extend(limit_fields::fields(shop));
        fields
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default()) };
        let spindle = context.shop.spindles.get(&SpindleId::from_row(id))?;
        let mut draft = Draft::default()
            .with("spindle", spindle.name.clone())
            .with("tool interface", spindle.interface.to_string())
            .with("nominal force", typed(spindle.nominal_force.get(), context.shop.settings.force_unit))
            .with("installed on", day_text(spindle.installed_on))
            .with("out of service on", day_text(spindle.out_of_service_on))
            .with("notes", spindle.notes.clone());
        limit_fields::put(&mut draft, &spindle.limits, context.shop);
        Some(draft)
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let old = id.and_then(|id| context.shop.spindles.get(&SpindleId::from_row(id)));
        let spindle = read(&mut reader, context.shop, old);
        if let Some(spindle) = &spindle {
            let taken = context.shop.spindles.iter().map(|(id, spindle)| (id.row(), spindle.name.as_str()));
            check_unique(&mut reader, "spindle", &spindle.name, id, taken);
        }
        let change = spindle.map(|spindle| match id {
            Some(id) => Change::Set(SpindleId::from_row(id), spindle),
            None => Change::Add(spindle),
        });
        reader.finish(change.map(Action::Spindle))
    }

    fn remark(&self, context: &RegisterContext<'_>, draft: &Draft) -> Option<(Key, String)> {
        Some((NOMINAL_FORCE, force_question(draft, context.shop)?))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Spindle(Change::Remove(SpindleId::from_row(id))))
    }
}

/// What is asked about a nominal force that is more than twice, or less than half, of the one that
/// is remembered for the tool interface. It keeps nothing from being saved: the spindle builder's
/// value rules.
#[must_use]
pub fn force_question(draft: &Draft, shop: &Shop) -> Option<String> {
    let interface = Interface::parse(draft.trimmed("tool interface"))?;
    let remembered = offered_nominal_force(&interface)?;
    let said = force(draft.trimmed(NOMINAL_FORCE), shop)?;
    let ratio = said.get() / remembered.get();
    let beyond = if ratio > 2.0 {
        "more than twice"
    } else if ratio > 0.0 && ratio < 0.5 {
        "less than half of"
    } else {
        return None;
    };
    let unit = shop.settings.force_unit;
    let shown = |value| words::force_with_unit(value, value, unit);
    let (said, remembered) = (shown(said), shown(remembered));
    Some(format!("Is {said} right? It is {beyond} the {remembered} for {interface} ({FROM_MEMORY})."))
}

/// A spindle from its fields. Where the nominal force stands as it was, its digits stay.
pub fn read(reader: &mut Reader<'_>, shop: &Shop, old: Option<&Spindle>) -> Option<Spindle> {
    let name = reader.required_text("spindle");
    let interface = reader.required("tool interface", "a tool interface such as HSK-A63", Interface::parse);
    let unit = shop.settings.force_unit;
    let force_typed = reader.text("nominal force");
    let unchanged = old.filter(|old| typed(old.nominal_force.get(), unit) == force_typed).map(|old| old.nominal_force);
    let read_force = |text: &str| unchanged.or_else(|| force(text, shop));
    let nominal = reader.required("nominal force", "a force such as 18 kN", read_force);
    let limits = limit_fields::read(reader, shop, old.map(|old| &old.limits));
    let installed_on = reader.day("installed on", Lean::Back);
    let out_of_service_on = reader.day("out of service on", Lean::Back);
    let notes = reader.text("notes");
    // what the planner said of its next service is none of this form
    let not_before = old.and_then(|old| old.not_before);
    let said = Spindle::named(&name?, interface?, nominal?);
    let spindle = Spindle { limits, installed_on, out_of_service_on, notes, not_before, ..said };
    match spindle.checked() {
        Ok(spindle) => Some(spindle),
        Err(error) => {
            let key = match &error {
                InvalidSpindle::NoName | InvalidSpindle::Spaces(_) => "spindle",
                InvalidSpindle::NominalForce(_) => "nominal force",
                InvalidSpindle::OutBeforeInstalled { .. } => "out of service on",
                other => limit_fields::field_of(other),
            };
            reader.wrong(key, error);
            None
        }
    }
}
