//! Halls and machines.

use super::super::register::{
    Column, Field, Register, RegisterContext, RegisterRow, check_unique, figure_text, money, whole,
};
use crate::forms::draft::{Draft, FieldErrors, Reader};
use crate::widgets::choice::Offer;
use almanac_core::actions::{Action, Change};
use almanac_core::ids::MachineId;
use almanac_core::machine::{InvalidMachine, Machine};
use almanac_core::units::Money;
use almanac_core::words;

/// The register.
#[derive(Debug)]
pub struct Machines;

impl Register for Machines {
    fn word(&self) -> &'static str {
        "halls and machines"
    }

    fn one(&self) -> &'static str {
        "machine"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("machine", 1.0),
            Column::words("hall", 1.4),
            Column::words("description", 2.2),
            Column::words("line", 0.9),
            Column::figures("positions", 0.8),
            Column::figures("stop cost / h", 1.0),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut machines: Vec<_> = context.shop.machines.iter().collect();
        machines.sort_by(|a, b| (&a.1.hall, &a.1.name).cmp(&(&b.1.hall, &b.1.name)));
        machines
            .into_iter()
            .map(|(id, machine)| {
                let cost = machine.stop_cost_per_hour.map_or_else(|| words::UNKNOWN.to_owned(), words::money);
                let cells = vec![
                    machine.name.clone(),
                    machine.hall.clone(),
                    machine.description.clone(),
                    machine.line.clone().unwrap_or_default(),
                    machine.positions.to_string(),
                    cost,
                ];
                RegisterRow::new(id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        let currency = &context.shop.settings.currency;
        let halls = context.shop.halls().into_iter().map(|hall| Offer::new(hall, "")).collect();
        vec![
            Field::text("machine", "as it stands on it"),
            Field::offers("hall", "where it stands", halls),
            Field::text("description", ""),
            Field::text("line", "machines of one line stop together"),
            Field::figure("spindle positions", "1", ""),
            Field::figure("stop cost", "", &format!("{currency} per hour")),
            Field::figure("day below cost", "from the accepted risk", currency),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default().with("spindle positions", "1")) };
        let machine = context.shop.machines.get(&MachineId::from_row(id))?;
        Some(
            Draft::default()
                .with("machine", machine.name.clone())
                .with("hall", machine.hall.clone())
                .with("description", machine.description.clone())
                .with("line", machine.line.clone().unwrap_or_default())
                .with("spindle positions", machine.positions.to_string())
                .with("stop cost", figure_text(machine.stop_cost_per_hour.map(Money::get)))
                .with("day below cost", figure_text(machine.day_below_cost.map(Money::get))),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let machine = read(&mut reader, "machine");
        if let Some(machine) = &machine {
            let taken = context.shop.machines.iter().map(|(id, machine)| (id.row(), machine.name.as_str()));
            check_unique(&mut reader, "machine", &machine.name, id, taken);
        }
        let change = machine.map(|machine| match id {
            Some(id) => Change::Set(MachineId::from_row(id), machine),
            None => Change::Add(machine),
        });
        reader.finish(change.map(Action::Machine))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Machine(Change::Remove(MachineId::from_row(id))))
    }
}

/// A machine from its fields; its name stands in the field `name_key`.
pub fn read(reader: &mut Reader<'_>, name_key: &'static str) -> Option<Machine> {
    let name = reader.required_text(name_key);
    let hall = reader.required_text("hall");
    let machine = Machine {
        description: reader.text("description"),
        line: reader.optional_text("line"),
        stop_cost_per_hour: money(reader, "stop cost"),
        positions: whole(reader, "spindle positions", 1).unwrap_or(1),
        day_below_cost: money(reader, "day below cost"),
        ..Machine::named(&name?, &hall?)
    };
    match machine.checked() {
        Ok(machine) => Some(machine),
        Err(error) => {
            let key = match error {
                InvalidMachine::NoName | InvalidMachine::Spaces { .. } => name_key,
                InvalidMachine::NoHall(_) => "hall",
                InvalidMachine::Positions { .. } => "spindle positions",
                InvalidMachine::NegativeCost { .. } => "stop cost",
            };
            reader.wrong(key, error);
            None
        }
    }
}
