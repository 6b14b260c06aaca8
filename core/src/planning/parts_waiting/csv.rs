//! The list of parts and their weeks as CSV: RFC 4180, CRLF, harmless to spreadsheets.

use super::PartsWaiting;
use crate::export::csv_text::CsvText;

/// Columns of the list.
pub const LIST_COLUMNS: [&str; 9] =
    ["part", "on_hand", "unit", "reorder_point", "lead_time_days", "short_on", "order_by", "order_quantity", "used_by"];

/// Columns of the weeks.
pub const WEEK_COLUMNS: [&str; 6] = ["part", "week_of", "arrives", "placed", "likely", "stock"];

/// One row for each part.
#[must_use]
pub fn list_to_csv(parts: &PartsWaiting) -> String {
    let mut csv = CsvText::new();
    for column in LIST_COLUMNS {
        csv.plain(column);
    }
    csv.end_row();
    for part in &parts.parts {
        csv.text(&part.name).number(rounded(part.on_hand)).text(&part.unit).number(rounded(part.reorder_point));
        csv.optional(part.lead_time_days);
        csv.plain(&part.short_on.map(|day| day.to_string()).unwrap_or_default());
        csv.plain(&part.order.map(|order| order.by.to_string()).unwrap_or_default());
        csv.optional(part.order.map(|order| rounded(order.quantity)));
        let used: Vec<&str> = part.uses.iter().map(|one| one.position.as_str()).collect();
        csv.text(&used.join("; "));
        csv.end_row();
    }
    csv.finish()
}

/// One row for each part and week.
#[must_use]
pub fn weeks_to_csv(parts: &PartsWaiting) -> String {
    let mut csv = CsvText::new();
    for column in WEEK_COLUMNS {
        csv.plain(column);
    }
    csv.end_row();
    for part in &parts.parts {
        for week in &part.weeks {
            csv.text(&part.name).plain(&week.monday.to_string());
            csv.number(rounded(week.arrives)).number(rounded(week.placed));
            csv.number(rounded(week.likely)).number(rounded(week.stock));
            csv.end_row();
        }
    }
    csv.finish()
}

/// Three decimals; never minus nothing.
fn rounded(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0 + 0.0
}
