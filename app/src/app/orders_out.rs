//! Writing the orders for other systems: the list as CSV, the booked services as a calendar.

use super::App;
use super::files::file_name;
use crate::clock::in_utc;
use crate::pages::Page;
use crate::task::Task;
use almanac_core::due::due_list;
use almanac_core::export::ics::{CalendarOf, calendar};
use almanac_core::export::whole_file::write_whole;
use almanac_core::forecast::{ForecastConfig, forecast_shop, project_shop};
use almanac_core::orders_list::{order_lines, to_csv};
use almanac_core::planning::parts_waiting::list_to_csv;
use almanac_core::words::count_words;
use eframe::egui;
use std::path::PathBuf;
use std::sync::Arc;

/// In which form the orders leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum OrdersAs {
    /// The work-order list.
    List,
    /// iCalendar.
    Calendar,
}

impl App {
    /// Writes what parts the plan takes and what to order, as CSV.
    pub(super) fn write_parts(&mut self, ctx: &egui::Context, path: PathBuf) {
        let Some(parts) = self.orders.parts().cloned() else { return };
        let shown = self.outside.folders.shown(&path);
        let errand = Task::start(ctx, "parts list", format!("writing {}", file_name(&path)), move |_| {
            write_whole(&path, list_to_csv(&parts).as_bytes()).map_err(|error| error.to_string())?;
            let count = parts.parts.len();
            let parts = if count == 1 { "part" } else { "parts" };
            Ok(format!("wrote the parts list, {} {parts}: {shown}", count_words(count)))
        });
        match errand {
            Ok(errand) => self.errands.push(errand),
            Err(sentence) => self.notices.trouble(&sentence),
        }
    }

    /// Writes the orders to a file, with figures of the shop as it stands.
    pub(super) fn write_orders(&mut self, ctx: &egui::Context, path: PathBuf, form: OrdersAs) {
        let Some(document) = &self.document else { return };
        let snapshot = document.snapshot();
        let (known, as_of) = (Arc::clone(&snapshot.known), snapshot.as_of);
        // Figures that are being renewed are waited for in the errand, not shown in a stale list.
        let due = self.results.figures().filter(|_| self.results.is_current(snapshot.revision));
        let due = due.map(|figures| Arc::clone(&figures.due));
        let fits = document.fits().cloned();
        let shown = self.outside.folders.shown(&path);
        let written_at = in_utc((self.outside.clock)());
        // beside a list of some people or halls the calendar is theirs
        let of = if self.view.page() == Page::Orders { self.orders.calendar_of() } else { CalendarOf::default() };
        let name = match form {
            OrdersAs::List => "work-order list",
            OrdersAs::Calendar => "calendar",
        };
        let errand = Task::start(ctx, name, format!("writing {}", file_name(&path)), move |pulse| {
            let due = match due {
                Some(due) => due,
                None => {
                    let config = ForecastConfig::of(&known);
                    let forecast = match fits {
                        Some(fits) => project_shop(&known, as_of, &config, &fits, pulse),
                        None => forecast_shop(&known, as_of, &config, pulse),
                    };
                    let forecast = forecast.map_err(|error| error.to_string())?;
                    Arc::new(due_list(&known, &forecast))
                }
            };
            let (text, what) = match form {
                OrdersAs::List => {
                    let lines = order_lines(&known, &due, false);
                    let rows = if lines.len() == 1 { "line" } else { "lines" };
                    (to_csv(&lines, as_of), format!("the work-order list, {} {rows}", count_words(lines.len())))
                }
                OrdersAs::Calendar => {
                    let lines = order_lines(&known, &due, true);
                    let made = calendar(&known, &lines, &of, as_of, written_at);
                    let services = if made.booked == 1 { "service" } else { "services" };
                    let whose = of.in_words();
                    let calendar = format!("the calendar {whose}").trim_end().to_owned();
                    (made.text, format!("{calendar}, {} booked {services}", count_words(made.booked)))
                }
            };
            write_whole(&path, text.as_bytes()).map_err(|error| error.to_string())?;
            Ok(format!("wrote {what}: {shown}"))
        });
        match errand {
            Ok(errand) => self.errands.push(errand),
            Err(sentence) => self.notices.trouble(&sentence),
        }
    }
}
