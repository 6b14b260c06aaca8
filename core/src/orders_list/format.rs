//! The work-order list as CSV and JSON for other systems and as a table for people.

use super::OrderLine;
use crate::due::{KitReady, rounded};
use crate::export::csv_text::CsvText;
use crate::words;
use chrono::NaiveDate;
use serde_json::{Value, json};

/// The columns, in their order.
pub const COLUMNS: [&str; 24] = [
    "order",
    "state",
    "hall",
    "machine",
    "position",
    "spindle",
    "interface",
    "service",
    "governing_limit",
    "reason",
    "service_by",
    "start",
    "end",
    "duration_h",
    "technician",
    "kit",
    "kit_ready_on",
    "force_now_kn",
    "force_now_pct",
    "service_limit_kn",
    "run_hours",
    "clamp_cycles",
    "stop_cost",
    "notes",
];

/// What stands in a column.
enum Cell {
    /// Words, which may begin like a formula.
    Text(String),
    /// A date, a time or a fixed word.
    Plain(String),
    Number(f64),
    Empty,
}

/// The word for a kit.
fn kit_word(kit: KitReady) -> &'static str {
    match kit {
        KitReady::Here => "here",
        KitReady::On(_) => "on order",
        KitReady::Missing => "missing",
    }
}

/// The cells of a line in the order of [`COLUMNS`].
fn cells(line: &OrderLine, as_of: NaiveDate) -> [Cell; 24] {
    let text = |text: &str| if text.is_empty() { Cell::Empty } else { Cell::Text(text.to_owned()) };
    let plain = |text: Option<String>| text.map_or(Cell::Empty, Cell::Plain);
    let number =
        |value: Option<f64>, decimals| value.map_or(Cell::Empty, |value| Cell::Number(rounded(value, decimals)));
    [
        text(&line.order),
        Cell::Plain(line.state.label().to_owned()),
        text(&line.hall),
        text(&line.machine),
        number(line.position.map(f64::from), 0),
        text(&line.spindle),
        text(&line.interface),
        Cell::Plain(line.service.key().to_owned()),
        plain(line.governing_limit.map(|limit| limit.label().to_owned())),
        text(&line.reason),
        plain(line.service_by.map(|day| day.to_string())),
        plain(line.start.map(|start| start.to_string())),
        plain(line.end.map(|end| end.to_string())),
        number(line.duration.map(|duration| duration.get()), 2),
        text(&line.technicians.join("; ")),
        plain(line.kit.map(|kit| kit_word(kit).to_owned())),
        plain(line.kit_ready_on(as_of).map(|day| day.to_string())),
        number(line.force_now.map(|force| force.get()), 3),
        number(line.force_now_pct.map(|share| share.get()), 2),
        number(Some(line.service_limit.get()), 3),
        number(line.run_hours.map(|hours| hours.get()), 1),
        number(line.clamp_cycles.map(|cycles| cycles.get()), 0),
        number(line.stop_cost.map(|cost| cost.get()), 2),
        text(&line.notes),
    ]
}

/// The list as CSV: RFC 4180, CRLF, harmless to spreadsheets.
#[must_use]
pub fn to_csv(lines: &[OrderLine], as_of: NaiveDate) -> String {
    let mut csv = CsvText::new();
    for column in COLUMNS {
        csv.plain(column);
    }
    csv.end_row();
    for line in lines {
        for cell in cells(line, as_of) {
            match cell {
                Cell::Text(text) => csv.text(&text),
                Cell::Plain(text) => csv.plain(&text),
                Cell::Number(value) => csv.number(value),
                Cell::Empty => csv.plain(""),
            };
        }
        csv.end_row();
    }
    csv.finish()
}

/// The list as a JSON array with the names of the columns, in their order; what is unknown is `null`.
///
/// # Errors
/// None that is known: all fields are plain figures and texts.
pub fn to_json(lines: &[OrderLine], as_of: NaiveDate) -> Result<String, serde_json::Error> {
    let mut text = String::from("[");
    for (index, line) in lines.iter().enumerate() {
        text.push_str(if index == 0 { "\n" } else { ",\n" });
        text.push_str("  {");
        for (place, (column, cell)) in COLUMNS.iter().zip(cells(line, as_of)).enumerate() {
            let value = match cell {
                Cell::Text(text) | Cell::Plain(text) => Value::from(text),
                Cell::Number(value) if value.fract() == 0.0 && value.abs() < 1e15 => json!(value as i64),
                Cell::Number(value) => Value::from(value),
                Cell::Empty => Value::Null,
            };
            text.push_str(if place == 0 { "\n" } else { ",\n" });
            text.push_str(&format!("    {}: {}", serde_json::to_string(column)?, serde_json::to_string(&value)?));
        }
        text.push_str("\n  }");
    }
    text.push_str(if lines.is_empty() { "]\n" } else { "\n]\n" });
    Ok(text)
}

/// The list as a table for people.
#[must_use]
pub fn to_table(lines: &[OrderLine], as_of: NaiveDate) -> String {
    if lines.is_empty() {
        return "No open order, and nothing to book.\n".to_owned();
    }
    let heads = ["order", "state", "place", "spindle", "service", "service by", "start", "who", "kit", "because of"];
    let rows = lines.iter().map(|line| {
        vec![
            line.order.clone(),
            line.state.label().to_owned(),
            line.place.clone(),
            line.spindle.clone(),
            line.service.key().to_owned(),
            line.service_by_words(as_of),
            line.start_words(as_of),
            line.technicians.join(", "),
            line.kit_words(as_of),
            line.governing_limit.map(|limit| limit.label().to_owned()).unwrap_or_default(),
        ]
    });
    let heads = heads.map(|head| (head, words::Align::Left));
    words::table(&heads, rows.collect())
}
