//! Hours by week: crew hours under the grid, and half a year of need, placed dark and likely light.

use super::layout::Grid;
use super::place::{NAMES, Places};
use crate::theme::{palette, sans, semibold, serif_semibold, size};
use crate::widgets::text;
use almanac_core::planning::week_view::{WeekHours, WeekView, hours};
use almanac_core::units::Minutes;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Rect, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// Height of the line of crew hours.
pub(super) const CREW: f32 = 26.0;
/// Height of the half year.
pub(super) const NEED: f32 = 94.0;

/// Crew hours of the weeks shown, placed of those that are there.
pub(super) fn crew(ui: &egui::Ui, area: Rect, plan: &WeekView, grid: &Grid, places: &Places, as_of: NaiveDate) {
    let colours = palette(ui);
    let painter = ui.painter();
    painter.hline(area.x_range(), area.top() + 0.5, Stroke::new(1.0, colours.ink));
    let y = area.top() + 13.0;
    text::left(painter, pos2(area.left(), y), "crew hours", sans(size::LABEL), colours.ink2);
    for (index, monday) in grid.mondays.iter().enumerate() {
        let Some(week) = plan.weeks.iter().find(|week| week.monday == *monday) else { continue };
        let x = area.left() + places.columns.get(index).copied().unwrap_or_default() + 5.0;
        let is_over = week.crew.get() + 0.5 < week.placed.get();
        let (font, ink) = match (is_over, 0.0 < week.placed.get()) {
            (true, _) => (semibold(size::BODY), colours.act),
            (_, true) => (semibold(size::BODY), colours.ink),
            _ => (sans(size::BODY), colours.ink2),
        };
        let words = format!("{} of {}", rounded(week.placed), rounded(week.crew));
        let drawn = text::left(painter, pos2(x, y), &words, font, ink);
        let response = ui.interact(drawn, ui.scope_id().with(("crew", index)), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, week_sentence(week, as_of)));
    }
}

/// Hours to a half, without a needless decimal.
fn rounded(minutes: Minutes) -> String {
    let halves = (minutes.get() / 30.0).round() * 30.0;
    hours(Minutes::new(halves).unwrap_or_default())
}

fn week_sentence(week: &WeekHours, as_of: NaiveDate) -> String {
    let closed = week.closed.as_ref().map(|closed| format!("; {closed}")).unwrap_or_default();
    format!(
        "Week {} of {}: {} h placed, {} h likely and not yet placed, the crew has {} h{closed}.",
        week.number,
        words::date_long(week.monday, as_of),
        rounded(week.placed),
        rounded(week.likely),
        rounded(week.crew)
    )
}

/// What was clicked and what lies under the pointer.
#[derive(Debug, Clone, Default)]
pub(super) struct Did {
    /// The week to show.
    pub(super) week: Option<usize>,
    pub(super) read_out: Option<String>,
}

/// The half year as bars.
pub(super) fn need(ui: &egui::Ui, area: Rect, plan: &WeekView, grid: &Grid, as_of: NaiveDate) -> Did {
    let colours = palette(ui);
    let painter = ui.painter();
    let mut did = Did::default();
    let weeks = plan.weeks.get(..plan.weeks.len().min(26)).unwrap_or_default();
    if weeks.is_empty() {
        return did;
    }
    let title = format!("{} weeks", weeks.len());
    text::left(painter, pos2(area.left(), area.top() + 14.0), &title, serif_semibold(size::SECTION), colours.ink);
    let crew = weeks.iter().map(|week| week.crew).max_by(Minutes::total_cmp).unwrap_or_default();
    let note = format!("hours needed,\ncrew has {}", rounded(crew));
    let galley = painter.layout(note, sans(size::LABEL), colours.ink2, NAMES);
    painter.galley(pos2(area.left(), area.top() + 26.0), galley, colours.ink2);

    let whole = |week: &WeekHours| (week.placed + week.likely).get() / 60.0;
    let most = weeks.iter().map(whole).fold(0.5, f64::max);
    let base = area.bottom() - 22.0;
    let height = base - (area.top() + 24.0);
    let scale = height / most as f32;
    let left = area.left() + NAMES;
    let step = (area.right() - left) / weeks.len() as f32;
    closures(ui, weeks, area, (left, step, base));
    let tick = nice_tick(most);
    let y = base - tick as f32 * scale;
    let dots =
        egui::Shape::dashed_line(&[pos2(left, y), pos2(area.right(), y)], Stroke::new(1.0, colours.rule2), 2.0, 3.0);
    for (index, week) in weeks.iter().enumerate() {
        let x = left + step * index as f32;
        let bar = |from: f64, upto: f64| {
            let (low, high) = (base - from as f32 * scale, base - upto as f32 * scale);
            Rect::from_min_max(pos2(x + 2.5, high), pos2(x + step - 2.5, low))
        };
        let (placed, both) = (week.placed.get() / 60.0, whole(week));
        if placed < both {
            painter.rect_filled(bar(placed, both), 0.0, colours.pale);
            painter.hline(bar(placed, both).x_range(), bar(placed, both).top(), Stroke::new(1.0, colours.mid));
        }
        if 0.0 < placed {
            painter.rect_filled(bar(0.0, placed), 0.0, colours.deep);
        }
        let is_shown = grid.mondays.contains(&week.monday);
        let (font, ink) =
            if is_shown { (semibold(size::SMALL), colours.ink) } else { (sans(size::SMALL), colours.ink2) };
        let at = pos2(x + step / 2.0, base + 10.0);
        painter.text(at, egui::Align2::CENTER_CENTER, week.number.to_string(), font, ink);
        let column = Rect::from_min_max(pos2(x, area.top() + 24.0), pos2(x + step, area.bottom()));
        let response = ui.interact(column, ui.scope_id().with(("need", index)), Sense::CLICK);
        let sentence = week_sentence(week, as_of);
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &sentence));
        if response.clicked() {
            did.week = Some(index);
        }
        if response.hovered() {
            painter.rect_stroke(
                column.shrink2(vec2(1.0, 0.0)),
                0.0,
                Stroke::new(1.0, colours.rule2),
                egui::StrokeKind::Inside,
            );
            did.read_out = Some(sentence);
        }
    }
    painter.extend(dots);
    let unit = format!("{} h", words::number(tick, if tick < 1.0 { 1 } else { 0 }));
    text::left(painter, pos2(area.right() + 4.0, y), &unit, sans(size::SMALL), colours.ink2);
    painter.hline(left..=area.right(), base + 0.5, Stroke::new(1.0, colours.ink));
    legend(ui, pos2(left + step * 8.0, area.top() + 14.0));
    did
}

/// Weeks that are closed as a whole, each closure in words where it begins.
fn closures(ui: &egui::Ui, weeks: &[WeekHours], area: Rect, (left, step, base): (f32, f32, f32)) {
    let colours = palette(ui);
    let painter = ui.painter();
    let closed = || weeks.iter().enumerate().filter_map(|(index, week)| Some((index, week.closed.as_ref()?)));
    let x = |index: usize| left + step * index as f32;
    for (index, _) in closed() {
        let ground = Rect::from_min_max(pos2(x(index), area.top() + 8.0), pos2(x(index) + step, base));
        painter.rect_filled(ground, 0.0, colours.shade);
    }
    let mut said = None;
    for (index, words) in closed() {
        if said.replace(words) != Some(words) {
            let room = area.right() - x(index);
            let at = pos2(x(index) + 6.0, area.top() + 17.0);
            text::left_cut(painter, at, words, sans(size::LABEL), colours.ink2, room);
        }
    }
}

fn legend(ui: &egui::Ui, at: egui::Pos2) {
    let colours = palette(ui);
    let painter = ui.painter();
    let mut x = at.x;
    for (fill, words) in [(colours.deep, "placed"), (colours.pale, "likely, not yet placed")] {
        let square = Rect::from_center_size(pos2(x + 6.0, at.y), vec2(12.0, 9.0));
        painter.rect_filled(square, 0.0, fill);
        if fill == colours.pale {
            painter.hline(square.x_range(), square.top(), Stroke::new(1.0, colours.mid));
        }
        x = text::left(painter, pos2(x + 17.0, at.y), words, sans(size::LABEL), colours.ink2).right() + 14.0;
    }
}

/// The largest of 1, 2 and 5 times a power of ten that lies well under the highest bar.
fn nice_tick(most: f64) -> f64 {
    let mut tick = 0.5;
    for power in 0..6 {
        for times in [1.0, 2.0, 5.0] {
            let next = times * 10_f64.powi(power);
            if next <= most * 0.9 {
                tick = next;
            }
        }
    }
    tick
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tick_is_a_round_figure_under_the_highest_bar() {
        assert!((nice_tick(12.0) - 10.0).abs() < 1e-12);
        assert!((nice_tick(5.0) - 2.0).abs() < 1e-12);
        assert!((nice_tick(0.7) - 0.5).abs() < 1e-12);
        assert!((nice_tick(230.0) - 200.0).abs() < 1e-12);
    }

    #[test]
    fn hours_are_said_to_the_half() {
        let text = |minutes: f64| rounded(Minutes::new(minutes).unwrap());
        assert_eq!((text(451.0), text(118.0), text(3.0)), ("7.5".to_owned(), "2".to_owned(), "0".to_owned()));
    }
}
