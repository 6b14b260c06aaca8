//! Closures, and the downtime windows in which machines may be stopped.

use super::super::register::{Column, Field, Register, RegisterContext, RegisterRow, figure_text, money};
use crate::forms::draft::{Draft, FieldErrors, Reader, plain_number};
use crate::widgets::choice::Offer;
use almanac_core::actions::{Action, Change};
use almanac_core::closure::Closure;
use almanac_core::downtime::{Downtime, WindowScope};
use almanac_core::ids::{ClosureId, DowntimeId};
use almanac_core::moment::{DayRange, Moment};
use almanac_core::recurrence::Recurrence;
use almanac_core::shop::Shop;
use almanac_core::typed_date::Lean;
use almanac_core::units::{Money, Percent};
use almanac_core::windows;

/// Times in which the shop does not run.
#[derive(Debug)]
pub struct Closures;

impl Register for Closures {
    fn word(&self) -> &'static str {
        "closures"
    }

    fn one(&self) -> &'static str {
        "closure"
    }

    fn name_key(&self) -> &'static str {
        "what"
    }

    fn columns(&self) -> Vec<Column> {
        vec![Column::words("first day", 1.0), Column::words("last day", 1.0), Column::words("what", 2.5)]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut closures: Vec<_> = context.shop.closures.iter().collect();
        closures.sort_by_key(|row| row.days.first);
        closures
            .into_iter()
            .map(|row| {
                let cells = vec![row.days.first.to_string(), row.days.last.to_string(), row.what.clone()];
                RegisterRow::new(row.id.row(), cells)
            })
            .collect()
    }

    fn fields(&self, _context: &RegisterContext<'_>) -> Vec<Field> {
        vec![
            Field::day_ahead("first day", "2026-08-03, 3.8."),
            Field::day_ahead("last day", "both days included"),
            Field::text("what", "works holiday"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default()) };
        let row = context.shop.closures.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("first day", row.days.first.to_string())
                .with("last day", row.days.last.to_string())
                .with("what", row.what.clone()),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let first = reader.required_day("first day", Lean::Ahead);
        let last = reader.required_day("last day", Lean::Ahead);
        if let (Some(first), Some(last)) = (first, last)
            && last < first
        {
            reader.wrong("last day", format!("{last} lies before {first}"));
        }
        let what = reader.text("what");
        let closure = first.zip(last).map(|(first, last)| Closure { days: DayRange { first, last }, what });
        let change = closure.map(|closure| match id {
            Some(id) => Change::Set(ClosureId::from_row(id), closure),
            None => Change::Add(closure),
        });
        reader.finish(change.map(Action::Closure))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Closure(Change::Remove(ClosureId::from_row(id))))
    }
}

/// Downtime windows.
#[derive(Debug)]
pub struct Windows;

const ALL_HALLS: &str = "all halls";

impl Register for Windows {
    fn word(&self) -> &'static str {
        "downtime windows"
    }

    fn one(&self) -> &'static str {
        "downtime window"
    }

    fn name_key(&self) -> &'static str {
        "what"
    }

    fn columns(&self) -> Vec<Column> {
        vec![
            Column::words("start", 1.3),
            Column::words("end", 1.3),
            Column::words("for", 1.0),
            Column::words("what", 1.6),
            Column::figures("stop cost %", 0.8),
            Column::words("repeats", 1.8),
        ]
    }

    fn rows(&self, context: &RegisterContext<'_>) -> Vec<RegisterRow> {
        let mut windows: Vec<_> = context.shop.downtimes.iter().collect();
        windows.sort_by_key(|row| (row.start, row.end, row.id));
        windows
            .into_iter()
            .map(|row| {
                let complaint = windows::complaint(&row.value);
                let repeats = row.repeat.clone().unwrap_or_default();
                let cells = vec![
                    row.start.to_string().replace('T', " "),
                    row.end.to_string().replace('T', " "),
                    scope_text(context.shop, &row.scope),
                    row.what.clone(),
                    row.stop_factor.map_or_else(|| "100".to_owned(), |factor| factor.get().to_string()),
                    complaint.as_ref().map_or(repeats, ToString::to_string),
                ];
                RegisterRow { needs_action: complaint.is_some(), ..RegisterRow::new(row.id.row(), cells) }
            })
            .collect()
    }

    fn fields(&self, context: &RegisterContext<'_>) -> Vec<Field> {
        let mut scopes = vec![Offer::new(ALL_HALLS, "")];
        scopes.extend(context.shop.halls().into_iter().map(|hall| Offer::new(hall, "hall")));
        scopes.extend(context.shop.machines.values().map(|m| Offer::new(m.name.clone(), m.hall.clone())));
        let currency = &context.shop.settings.currency;
        vec![
            Field::text("start", "2026-03-14 06:00"),
            Field::text("end", "2026-03-14 14:00"),
            Field::offers("for", ALL_HALLS, scopes),
            Field::text("what", "Saturday, changeover, shutdown"),
            Field::figure("stop cost share", "100", "% (5 shutdown, 15 weekend)"),
            Field::figure("premium", "", &format!("{currency} per person and hour")),
            Field::text("repeats", "FREQ=WEEKLY;BYDAY=SA;UNTIL=20261231"),
        ]
    }

    fn draft(&self, context: &RegisterContext<'_>, id: Option<i64>) -> Option<Draft> {
        let Some(id) = id else { return Some(Draft::default().with("for", ALL_HALLS)) };
        let row = context.shop.downtimes.iter().find(|row| row.id.row() == id)?;
        Some(
            Draft::default()
                .with("start", row.start.to_string().replace('T', " "))
                .with("end", row.end.to_string().replace('T', " "))
                .with("for", scope_text(context.shop, &row.scope))
                .with("what", row.what.clone())
                .with("stop cost share", figure_text(row.stop_factor.map(Percent::get)))
                .with("premium", figure_text(row.premium_per_hour.map(Money::get)))
                .with("repeats", row.repeat.clone().unwrap_or_default()),
        )
    }

    fn parse(&self, context: &RegisterContext<'_>, draft: &Draft, id: Option<i64>) -> Result<Action, FieldErrors> {
        let mut reader = Reader::new(draft, context.today);
        let start = reader.required("start", "a day with a time such as 2026-03-14 06:00", Moment::parse);
        let end = reader.required("end", "a day with a time such as 2026-03-14 14:00", Moment::parse);
        if let (Some(start), Some(end)) = (start, end)
            && end.date_time() <= start.date_time()
        {
            reader.wrong("end", "the window ends before it starts");
        }
        let scope = reader.required("for", "all halls, a hall or a machine", |text| scope_named(context.shop, text));
        let what = reader.text("what");
        let share = |text: &str| plain_number(text).filter(|share| *share >= 0.0);
        let stop_factor = reader.optional("stop cost share", "a share of 0 % or more", share).and_then(Percent::new);
        let premium_per_hour = money(&mut reader, "premium");
        let repeat = reader.optional_text("repeats");
        if let Some(rule) = &repeat
            && let Err(error) = Recurrence::parse(rule)
        {
            reader.wrong("repeats", error);
        }
        let window = start.zip(end).zip(scope).map(|((start, end), scope)| Downtime {
            start,
            end,
            scope,
            what,
            stop_factor,
            premium_per_hour,
            repeat,
        });
        let change = window.map(|window| match id {
            Some(id) => Change::Set(DowntimeId::from_row(id), window),
            None => Change::Add(window),
        });
        reader.finish(change.map(Action::Downtime))
    }

    fn remove(&self, id: i64) -> Option<Action> {
        Some(Action::Downtime(Change::Remove(DowntimeId::from_row(id))))
    }
}

fn scope_text(shop: &Shop, scope: &WindowScope) -> String {
    match scope {
        WindowScope::AllHalls => ALL_HALLS.to_owned(),
        WindowScope::Hall(hall) => hall.clone(),
        WindowScope::Machine(id) => shop.machines.get(id).map(|machine| machine.name.clone()).unwrap_or_default(),
    }
}

fn scope_named(shop: &Shop, text: &str) -> Option<WindowScope> {
    if text.eq_ignore_ascii_case(ALL_HALLS) {
        return Some(WindowScope::AllHalls);
    }
    if let Some(hall) = shop.halls().into_iter().find(|hall| hall.eq_ignore_ascii_case(text)) {
        return Some(WindowScope::Hall(hall.to_owned()));
    }
    shop.machine_named(text).map(WindowScope::Machine)
}

#[cfg(test)]
mod tests {
    use super::*;
    use almanac_core::ids::Row;
    use std::sync::Arc;

    #[test]
    fn a_scope_is_read_back_by_its_text() {
        let shop = Shop::default();
        assert_eq!(scope_named(&shop, "All halls"), Some(WindowScope::AllHalls));
        assert_eq!(scope_named(&shop, "R-04"), None);
        let draft = Draft::default().with("premium", "-3");
        let today = chrono::NaiveDate::default();
        let mut reader = Reader::new(&draft, today);
        assert_eq!(money(&mut reader, "premium"), None);
        assert!(!reader.is_clean());
    }

    /// A row from a file that something else wrote: its repeats would be missing without a word.
    #[test]
    fn a_rule_that_cannot_be_read_is_told_in_its_row() {
        let row = |id: i64, repeat: &str| Row {
            id: DowntimeId::from_row(id),
            value: Downtime {
                start: Moment::parse("2026-03-07T07:00").unwrap(),
                end: Moment::parse("2026-03-07T13:00").unwrap(),
                scope: WindowScope::AllHalls,
                what: "Saturday".to_owned(),
                stop_factor: None,
                premium_per_hour: None,
                repeat: Some(repeat.to_owned()),
            },
        };
        let shop = Shop {
            downtimes: Arc::new(vec![row(1, "FREQ=WEEKLY;BYDAY=SA"), row(2, "FREQ=HOURLY")]),
            ..Shop::default()
        };
        let today = Moment::parse("2026-03-02").unwrap().date;
        let rows = Windows.rows(&RegisterContext { shop: &shop, today });
        assert_eq!((rows[0].cells[5].as_str(), rows[0].needs_action), ("FREQ=WEEKLY;BYDAY=SA", false));
        let said = &rows[1].cells[5];
        assert!(said.contains("cannot be read, so only the first window counts: 'FREQ=HOURLY' has no FREQ"), "{said}");
        assert!(rows[1].needs_action);
    }
}
