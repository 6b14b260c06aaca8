//! The crew.

use super::super::register::{
    Column, Field, Register, RegisterContext, RegisterRow, check_unique, figure_text, parse_ranges, ranges_text,
};
use crate::forms::draft::{Draft, FieldErrors, Reader, plain_number};
use almanac_core::actions::{Action, Change};
use almanac_core::crew::{Technician, parse_shifts};
use almanac_core::ids::TechnicianId;
use almanac_core::service::Kind;
use almanac_core::units::RunHours;

/// The register.
#[derive(Debug)]
pub struct Crew;

const LEADS: [(Kind, &str); 2] = [(Kind::Minor, "leads minor"), (Kind::Major, "leads major")];

impl Register for Crew {
    fn word(&self) -> &'static str {
        "crew"
    }

    fn one(&self) -> &'static str {
        "technician"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("technician", 1.0),
            Column::words("leads", 0.9),
            Column::words("shifts", 2.0),
            Column::figures("hours a day", 0.8),
            Column::words("absent", 2.0),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut crew: Vec<_> = context.shop.technicians.iter().collect();
        crew.sort_by(|a, b| a.name.cmp(&b.name));
        crew.into_iter()
            .map(|row| {
                let skills: Vec<&str> = row.skills.iter().map(|kind| kind.key()).collect();
                let cells = vec![
                    row.name.clone(),
                    skills.join(", "),
                    shifts_text(&row.value),
                    figure_text(row.hours_per_day.map(RunHours::get)),
                    ranges_text(&row.absent),
                ];
                RegisterRow::new(row.id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, _context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::text("technician", "name"),
            Field::tick(LEADS[0].1, "can lead minor services"),
            Field::tick(LEADS[1].1, "can lead major services"),
            Field::text("shifts", "Mon-Fri 06:00-14:00; Sat 07:00-12:00"),
            Field::figure("hours a day", "the whole shift", "h at services"),
            Field::text("absent", "2026-04-01/2026-04-12; …"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default().with(LEADS[0].1, "yes")) };
        let row = context.shop.technicians.iter().find(|row| row.id.row() == id)?;
        let mut draft = Draft::default()
            .with("technician", row.name.clone())
            .with("shifts", shifts_text(&row.value))
            .with("hours a day", figure_text(row.hours_per_day.map(RunHours::get)))
            .with("absent", ranges_text(&row.absent));
        for (kind, key) in LEADS {
            draft.set_tick(key, row.skills.contains(&kind));
        }
        Some(draft)
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let name = reader.required_text("technician");
        let shifts = reader.optional("shifts", "shifts such as Mon-Fri 06:00-14:00; Sat 07:00-12:00", parse_shifts);
        let day = |text: &str| plain_number(text).filter(|hours| *hours > 0.0 && *hours <= 24.0);
        let hours_per_day = reader.optional("hours a day", "hours above 0, at most 24", day).and_then(RunHours::new);
        let absent = reader.optional("absent", "days such as 2026-04-01/2026-04-12; 2026-05-02", parse_ranges);
        if let Some(name) = &name {
            let taken = context.shop.technicians.iter().map(|row| (row.id.row(), row.name.as_str()));
            check_unique(&mut reader, "technician", name, id, taken);
        }
        let technician = name.map(|name| Technician {
            name,
            skills: LEADS.into_iter().filter(|(_, key)| draft.is_ticked(key)).map(|(kind, _)| kind).collect(),
            shifts: shifts.unwrap_or_default(),
            hours_per_day,
            absent: absent.unwrap_or_default(),
        });
        let change = technician.map(|technician| match id {
            Some(id) => Change::Set(TechnicianId::from_row(id), technician),
            None => Change::Add(technician),
        });
        reader.finish(change.map(Action::Technician))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Technician(Change::Remove(TechnicianId::from_row(id))))
    }
}

fn shifts_text(technician: &Technician) -> String {
    technician.shifts.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}
