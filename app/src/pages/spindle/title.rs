//! Title and reason: which spindle, how it stands, and by when it needs its service.

use super::view::View;
use crate::pages::{Page, Request, Requests};
use crate::theme::{sans, semibold, serif, serif_semibold, size};
use crate::widgets::line::TextLine;
use crate::widgets::mark;
use almanac_core::due::{DueRow, Mark, NO_PLACE};
use almanac_core::forecast::{SpindleForecast, SpindleState};
use almanac_core::words;
use eframe::egui::text::{LayoutJob, TextFormat};
use eframe::egui::{self, Rect, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// Draws title and reason at the top of a place; gives the y under their rule.
pub(super) fn ui(ui: &mut egui::Ui, place: Rect, view: &View<'_>, requests: &mut Requests) -> f32 {
    let base = place.top() + 31.0;
    let left_end = neighbours_ui(ui, place.right(), base, view, requests);
    let state_left = state_ui(ui, left_end - 32.0, base, view);
    name_ui(ui, place.left(), state_left - 16.0, base, view);
    reason_ui(ui, place, base + 12.0, view)
}

fn name_ui(ui: &egui::Ui, left: f32, right: f32, base: f32, view: &View<'_>) {
    let c = view.colours;
    let shop = view.context.shop;
    let position = view.position();
    let mut line = TextLine::new();
    if let Some(position) = &position {
        line.push(0.0, position.clone(), serif_semibold(size::TITLE), c.ink);
    }
    let name_font = if position.is_some() { serif(size::TITLE) } else { serif_semibold(size::TITLE) };
    line.push(7.0, view.spindle.name.clone(), name_font, c.ink);
    let mut facts = vec![view.spindle.interface.as_str().to_owned()];
    let mounting = shop.mountings_of(view.id).iter().rev().find(|mounting| mounting.covers(view.as_of()));
    if let Some(machine) = mounting.and_then(|mounting| shop.machines.get(&mounting.position.machine)) {
        facts.push(machine.hall.clone());
    }
    facts.push(format!("nominal {}", plain_force(view)));
    facts.push(match mounting {
        Some(mounting) => format!("in this machine since {}", long_with_year(mounting.mounted_on)),
        None => last_place(view),
    });
    for (index, fact) in facts.into_iter().enumerate() {
        line.push(if index == 0 { 18.0 } else { 8.0 }, fact, sans(size::LABEL), c.ink2);
    }
    let (rect, cut) = line.paint(ui.painter(), pos2(left, base), right - left);
    let said = ui.interact(rect, ui.scope_id().with("spindle title"), Sense::hover());
    said.widget_info(|| WidgetInfo::labeled(Role::Heading, true, line.plain()));
    if cut {
        said.on_hover_text(line.plain());
    }
}

/// Nominal force as short as it can be.
fn plain_force(view: &View<'_>) -> String {
    let unit = view.force_unit();
    let decimals = if unit == almanac_core::units::Unit::Kilonewton { 2 } else { 0 };
    let figure = words::number(unit.from_base(view.spindle.nominal_force.get()), decimals);
    let figure = if figure.contains('.') { figure.trim_end_matches('0').trim_end_matches('.') } else { &figure };
    format!("{figure} {unit}")
}

fn long_with_year(day: chrono::NaiveDate) -> String {
    day.format("%-d %B %Y").to_string()
}

fn last_place(view: &View<'_>) -> String {
    if let Some(out) = view.spindle.out_of_service_on.filter(|out| *out <= view.as_of()) {
        return format!("out of service since {}", long_with_year(out));
    }
    let last = view.context.shop.mountings_of(view.id).iter().rev().find(|mounting| mounting.removed_on.is_some());
    match last.and_then(|mounting| Some((mounting.position, mounting.removed_on?))) {
        Some((position, removed)) => {
            let label = view.context.shop.position_label(position);
            format!("not mounted; in {label} until {}", long_with_year(removed))
        }
        None => "not mounted yet".to_owned(),
    }
}

/// The words of the state mark, with the booking.
pub(super) fn state_words(view: &View<'_>) -> String {
    let Some(row) = view.row else { return String::new() };
    let in_force = view.context.what_if.and_then(|what_if| what_if.row_before(view.id));
    let words = words_of(view, row);
    match in_force.is_some_and(|in_force| in_force.mark != row.mark) {
        true => format!("what if: {words}"),
        false => words,
    }
}

fn words_of(view: &View<'_>, row: &DueRow) -> String {
    let Some(booking) = &row.booking else { return row.mark.label().to_owned() };
    let when = booking.day.map_or_else(
        || NO_PLACE.to_owned(),
        |day| format!("{} {}", day.format("%a"), words::date_long(day, view.as_of())),
    );
    let placed = match row.mark {
        mark if booking.is_overdue(view.as_of()) => format!("{}; was to start {when}, not done", mark.label()),
        Mark::Booked | Mark::BookedLate => format!("{} {when}", row.mark.label()),
        mark if booking.start.is_some() => format!("{}; booked {when}", mark.label()),
        mark => format!("{}; {when}", mark.label()),
    };
    format!("{placed}, order {}", booking.name)
}

/// Draws mark and words so that they end at `right`; gives where they begin.
fn state_ui(ui: &egui::Ui, right: f32, base: f32, view: &View<'_>) -> f32 {
    let Some(state) = view.mark() else { return right };
    let text = state_words(view);
    let booking = view.row.and_then(|row| row.booking.as_ref());
    let is_overdue = booking.is_some_and(|booking| booking.is_overdue(view.as_of()));
    let is_urgent = is_overdue || (state.needs_action() && state != Mark::BookedLate);
    let ink = if is_urgent { view.colours.act } else { view.colours.ink };
    let line = TextLine::new().with(0.0, text.clone(), semibold(size::BODY), ink);
    let rect = line.paint_right(ui.painter(), pos2(right, base));
    mark::paint(ui, ui.painter(), pos2(rect.left() - 12.0, base - 4.5), state);
    let said = ui.interact(rect, ui.scope_id().with("spindle state"), Sense::hover());
    said.widget_info(|| WidgetInfo::labeled(Role::Label, true, text.as_str()));
    rect.left() - 18.0
}

/// The spindles before and after it in due order, as buttons; gives where they begin.
fn neighbours_ui(ui: &egui::Ui, right: f32, base: f32, view: &View<'_>, requests: &mut Requests) -> f32 {
    let [before, after] = view.neighbours();
    let mut edge = right;
    let entries = [(after, "\u{203a}", "next"), (before, "\u{2039}", "previous")];
    for (neighbour, sign, which) in entries {
        let Some((id, label)) = neighbour else { continue };
        let text = if which == "next" { format!("{label} {sign}") } else { format!("{sign} {label}") };
        let galley = ui.painter().layout_no_wrap(text, sans(size::LABEL), view.colours.ink2);
        let corner = pos2(edge - galley.size().x, base - crate::widgets::line::base_line(&galley));
        let rect = Rect::from_min_size(corner, galley.size());
        let response = ui.interact(rect.expand2(vec2(4.0, 4.0)), ui.scope_id().with(which), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("{which} spindle, {label}")));
        ui.painter().galley(corner, galley, view.colours.ink2);
        if response.hovered() {
            ui.painter().hline(rect.x_range(), base + 3.0, Stroke::new(1.0, view.colours.ink2));
        }
        if response.clicked() {
            requests.push(Request::Go(Page::Spindle(id)));
        }
        edge = rect.left() - 12.0;
    }
    edge
}

/// The bold beginning of the reason line.
fn verdict(view: &View<'_>) -> String {
    view.forecast.map_or_else(String::new, |forecast| verdict_of(view, forecast, view.mark()))
}

fn verdict_of(view: &View<'_>, forecast: &SpindleForecast, mark: Option<Mark>) -> String {
    if forecast.state == SpindleState::NotMounted {
        return "Not mounted.".to_owned();
    }
    if mark == Some(Mark::DoNotRun) || forecast.is_read_under_stop_limit() {
        return "Do not run.".to_owned();
    }
    if forecast.needs_first_reading(view.as_of()) {
        return "Measure first.".to_owned();
    }
    match forecast.service_by {
        _ if mark == Some(Mark::OutOfService) => "Out of service.".to_owned(),
        Some(day) if day <= view.as_of() => "Service now.".to_owned(),
        Some(day) => format!("Service by {}.", words::date_weekday(day, view.as_of())),
        None => {
            let horizon = view.context.forecast.map_or(almanac_core::forecast::HORIZON_DAYS, |f| f.config.horizon_days);
            let end = view.as_of().checked_add_days(chrono::Days::new(u64::from(horizon)));
            end.map_or_else(String::new, |end| format!("Service after {}.", words::month_year(end)))
        }
    }
}

/// The bold beginning of the reason line where figures are pretended, and the date in force.
fn pretended_verdict(view: &View<'_>) -> Option<(String, String)> {
    let before = view.before()?;
    let pretended = verdict(view);
    let mark = view.context.what_if.and_then(|what_if| what_if.row_before(view.id)).map(|row| row.mark);
    let in_force = verdict_of(view, before, mark);
    // what must not run is not said any softer in a what-if
    if in_force == "Do not run." {
        return None;
    }
    let lower = |text: String| text.chars().take(1).flat_map(char::to_lowercase).chain(text.chars().skip(1)).collect();
    let (pretended, in_force): (String, String) = (lower(pretended), lower(in_force));
    Some((format!("What if: {pretended}"), format!("In force: {in_force}")))
}

/// The whole reason line as it is said.
pub(super) fn reason(view: &View<'_>) -> (String, String) {
    match view.forecast {
        Some(forecast) => {
            let bold = verdict(view);
            // a reason that repeats the bold words goes on after them
            let rest = forecast
                .reason
                .strip_prefix(bold.trim_end_matches('.'))
                .map(|rest| rest.trim_start_matches([':', '.', ',', ' ']));
            let mut rest = rest.map_or_else(|| forecast.reason.clone(), words::capital);
            if let Some((bold, in_force)) = pretended_verdict(view) {
                return (bold, format!("{in_force} {rest}"));
            }
            for reading in view.context.due.iter().flat_map(|due| &due.worth_reading) {
                if reading.spindle == view.id {
                    rest = format!("{rest} {}", reading.sentence(view.as_of())).trim_start().to_owned();
                }
            }
            (bold, rest)
        }
        None => ("Not computed yet.".to_owned(), "The dates of this spindle follow in a moment.".to_owned()),
    }
}

fn reason_ui(ui: &egui::Ui, place: Rect, top: f32, view: &View<'_>) -> f32 {
    let (bold, rest) = reason(view);
    let must_stop = bold == "Do not run.";
    let bold_ink = if must_stop { view.colours.act } else { view.figure_ink() };
    let mut job = LayoutJob::default();
    job.wrap.max_width = place.width();
    job.wrap.max_rows = 3;
    let format = |font, color| TextFormat { font_id: font, color, ..TextFormat::default() };
    // a figure stays with its unit where the line breaks
    let rest_painted = rest.replace(" %", "\u{a0}%").replace(" kN", "\u{a0}kN").replace(" lbf", "\u{a0}lbf");
    job.append(&bold, 0.0, format(serif_semibold(size::REASON), bold_ink));
    job.append(&rest_painted, 9.0, format(serif(size::REASON), view.figure_ink()));
    let galley = ui.painter().layout_job(job);
    let rect = Rect::from_min_size(pos2(place.left(), top), galley.size());
    ui.painter().galley(rect.min, galley, view.colours.ink);
    let said = ui.interact(rect, ui.scope_id().with("spindle reason"), Sense::hover());
    said.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{bold} {rest}").trim().to_owned()));
    let rule = (rect.bottom() + 7.0).max(place.top() + 71.0).round() + 0.5;
    ui.painter().hline(place.x_range(), rule, Stroke::new(1.0, view.colours.rule));
    rule
}
