//! The shared calendar of the due page: days to places, months, weeks and services per week.

use crate::theme::{Palette, sans, semibold, size};
use crate::widgets::text;
use almanac_core::moment::DayRange;
use almanac_core::words;
use chrono::{Datelike as _, Days, Months, NaiveDate};
use eframe::egui::{Align2, Painter, Rangef, Rect, Stroke, pos2};

/// Weeks shown before today.
pub(super) const WEEKS_BACK: u32 = 3;

/// Where days stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TimeAxis {
    /// Today: the day from which is looked.
    pub(super) today: NaiveDate,
    /// Left and right end.
    pub(super) x: Rangef,
    /// Weeks ahead.
    pub(super) weeks: u32,
}

impl TimeAxis {
    /// Width of a day.
    pub(super) fn day_width(&self) -> f32 {
        self.x.span() / ((WEEKS_BACK + self.weeks) * 7) as f32
    }

    /// Where a number of days after today stands; not cut at the ends.
    pub(super) fn at(&self, days: f32) -> f32 {
        self.x.min + (days + (WEEKS_BACK * 7) as f32) * self.day_width()
    }

    /// Where a day begins.
    pub(super) fn day(&self, day: NaiveDate) -> f32 {
        self.at((day - self.today).num_days() as f32)
    }

    /// First day shown.
    pub(super) fn first(&self) -> NaiveDate {
        self.today.checked_sub_days(Days::new(u64::from(WEEKS_BACK) * 7)).unwrap_or(self.today)
    }

    /// First day after the right end.
    pub(super) fn end(&self) -> NaiveDate {
        self.today.checked_add_days(Days::new(u64::from(self.weeks) * 7)).unwrap_or(self.today)
    }
}

/// A month as far as the axis shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Month {
    /// Its first day.
    first: NaiveDate,
    /// Where it begins, not left of the axis.
    from: f32,
    /// Where it ends.
    to: f32,
}

fn months(axis: &TimeAxis) -> Vec<Month> {
    let mut list = Vec::new();
    let Some(mut first) = axis.first().with_day(1) else { return list };
    while first < axis.end() {
        let Some(next) = first.checked_add_months(Months::new(1)) else { break };
        list.push(Month { first, from: axis.day(first).max(axis.x.min), to: axis.day(next).min(axis.x.max) });
        first = next;
    }
    list
}

/// Under this width of a month only the quarters are named and ruled.
const NARROW_MONTH: f32 = 34.0;

/// Months that get a rule and a name, each as far as its name may reach.
fn named_months(axis: &TimeAxis) -> Vec<Month> {
    let all = months(axis);
    if axis.day_width() * 30.0 >= NARROW_MONTH {
        return all;
    }
    let begins_quarter = |month: &Month| month.first.month0().is_multiple_of(3) && month.from > axis.x.min;
    let starts: Vec<Month> = all.into_iter().filter(begins_quarter).collect();
    let ends = starts.iter().skip(1).map(|next| next.from).chain([axis.x.max]);
    starts.iter().zip(ends).map(|(month, to)| Month { to, ..*month }).collect()
}

/// How many services fall into one stretch of the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Count {
    /// First day of the stretch.
    from: NaiveDate,
    /// Middle of the stretch.
    x: f32,
    services: usize,
}

/// The services due in words: `services due, week by week: 3 in the week of 2 March, ...`.
pub(super) fn counts_in_words(axis: &TimeAxis, service_by: &[NaiveDate]) -> String {
    let stretch = if counts_weeks(axis) { "week of" } else { "month from" };
    let counts: Vec<String> = counts(axis, service_by)
        .iter()
        .filter(|count| count.services > 0)
        .map(|count| format!("{} in the {stretch} {}", count.services, words::date_long(count.from, axis.today)))
        .collect();
    let counted = if counts_weeks(axis) { "week by week" } else { "month by month" };
    if counts.is_empty() {
        return format!("services due, {counted}: none on this axis");
    }
    format!("services due, {counted}: {}", counts.join(", "))
}

/// Under this width of a week its figure no longer stands clear of the next.
const NARROWEST_WEEK: f32 = 11.0;

/// Whether the axis is wide enough for a figure per week; else it shows one per month.
pub(super) fn counts_weeks(axis: &TimeAxis) -> bool {
    axis.day_width() * 7.0 >= NARROWEST_WEEK
}

/// Services due per week (Monday first), from this week on; per month on a long axis. The dates
/// are sorted.
fn counts(axis: &TimeAxis, service_by: &[NaiveDate]) -> Vec<Count> {
    let mut edges = Vec::new();
    if counts_weeks(axis) {
        let back = u64::from(axis.today.weekday().num_days_from_monday());
        let mut day = axis.today.checked_sub_days(Days::new(back));
        while let Some(edge) = day.filter(|edge| *edge < axis.end()) {
            edges.push(edge);
            day = edge.checked_add_days(Days::new(7));
        }
        edges.extend(day);
    } else {
        edges.extend(months(axis).iter().map(|month| month.first).filter(|first| *first > axis.today));
        edges.extend(axis.today.with_day(1));
        edges.sort_unstable();
        edges.extend(edges.last().and_then(|last| last.checked_add_months(Months::new(1))));
    }
    edges
        .iter()
        .zip(edges.iter().skip(1))
        .filter_map(|(from, to)| {
            let x = (axis.day(*from).max(axis.x.min) + axis.day(*to).min(axis.x.max)) / 2.0;
            let before = |edge: &NaiveDate| service_by.partition_point(|day| day < edge);
            let services = before(to) - before(from);
            (x + 4.0 < axis.x.max).then_some(Count { from: *from, x, services })
        })
        .collect()
}

/// The head over the table: months, and under them the services due.
pub(super) fn paint_head(painter: &Painter, axis: &TimeAxis, area: Rect, colours: &Palette, service_by: &[NaiveDate]) {
    let painter = painter.with_clip_rect(Rect::from_x_y_ranges(axis.x.expand(1.0), area.y_range()));
    let months_y = area.top() + 6.0;
    let split = area.top() + 16.5;
    let weeks_y = area.top() + 25.0;
    let today = axis.day(axis.today);
    for month in named_months(axis) {
        let is_now = month.first.month() == axis.today.month() && month.first.year() == axis.today.year();
        let from = if is_now { month.from.max(today) } else { month.from };
        let ink = if is_now { colours.ink } else { colours.ink2 };
        let font = if is_now { semibold(size::LABEL) } else { sans(size::LABEL) };
        let begins_here = month.from > axis.x.min;
        let at = from + if begins_here || is_now { 3.0 } else { 0.0 };
        if let Some(name) = month_name(&painter, &month, font.clone(), month.to - at - 6.0) {
            text::left(&painter, pos2(at, months_y), &name, font, ink);
        }
    }
    painter.hline(axis.x, split, Stroke::new(1.0, colours.rule2));
    for count in counts(axis, service_by) {
        let at = pos2(count.x, weeks_y);
        match count.services {
            0 => painter.text(at, Align2::CENTER_CENTER, "·", sans(size::LABEL), colours.ink3),
            1 => painter.text(at, Align2::CENTER_CENTER, "1", sans(size::LABEL), colours.ink),
            many => painter.text(at, Align2::CENTER_CENTER, many.to_string(), semibold(size::LABEL), colours.ink),
        };
    }
}

/// The longest name of a month for which there is room.
fn month_name(painter: &Painter, month: &Month, font: eframe::egui::FontId, room: f32) -> Option<String> {
    let date = month.first;
    let names = if date.month() == 1 {
        vec![date.format("%B %Y"), date.format("%b %Y"), date.format("%Y")]
    } else {
        vec![date.format("%B"), date.format("%b")]
    };
    names.into_iter().map(|name| name.to_string()).find(|name| {
        let galley = painter.layout_no_wrap(name.clone(), font.clone(), eframe::egui::Color32::PLACEHOLDER);
        galley.size().x <= room
    })
}

/// Closures behind the rows.
pub(super) fn paint_ground(painter: &Painter, axis: &TimeAxis, area: Rect, colours: &Palette, closures: &[DayRange]) {
    for closure in closures {
        let from = axis.day(closure.first).max(axis.x.min);
        let to = closure.last.succ_opt().map_or(axis.x.max, |after| axis.day(after)).min(axis.x.max);
        if from < to {
            painter.rect_filled(Rect::from_x_y_ranges(from..=to, area.y_range()), 0.0, colours.shade);
        }
    }
}

/// Month rules behind the rows, from the months on.
pub(super) fn paint_months(painter: &Painter, axis: &TimeAxis, area: Rect, colours: &Palette) {
    let today = axis.day(axis.today);
    for month in named_months(axis) {
        if month.from > axis.x.min && (month.from - today).abs() > 4.0 {
            painter.vline(month.from, area.y_range(), Stroke::new(1.0, colours.rule));
        }
    }
}

/// Today's upright; rows repeat it over their own ground.
pub(super) fn paint_today(painter: &Painter, axis: &TimeAxis, area: Rect, colours: &Palette) {
    painter.vline(axis.day(axis.today), area.y_range(), Stroke::new(1.0, colours.ink));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        almanac_core::moment::parse_iso_date(text).unwrap()
    }

    /// 29 weeks of 17 px.
    fn axis(today: &str) -> TimeAxis {
        TimeAxis { today: day(today), x: Rangef::new(548.0, 1041.0), weeks: 26 }
    }

    #[test]
    fn today_stands_three_weeks_in() {
        let axis = axis("2026-03-02");
        assert!((axis.day(axis.today) - 599.0).abs() < 1e-3);
        assert!((axis.day(axis.end()) - 1041.0).abs() < 1e-3);
        assert_eq!(axis.first(), day("2026-02-09"));
    }

    #[test]
    fn weeks_run_from_monday_and_hold_what_is_due_now() {
        let axis = axis("2026-03-04"); // a Wednesday
        let due = [day("2026-03-04"), day("2026-03-04"), day("2026-03-08"), day("2026-03-09"), day("2026-09-30")];
        let counts: Vec<usize> = counts(&axis, &due).iter().map(|count| count.services).collect();
        assert_eq!(counts.get(..3), Some(&[3, 1, 0][..]));
        assert_eq!(counts.iter().sum::<usize>(), 4, "30 September lies beyond the axis");
        let said = "services due, week by week: 3 in the week of 2 March, 1 in the week of 9 March";
        assert_eq!(counts_in_words(&axis, &due), said);
    }

    #[test]
    fn a_long_axis_counts_months() {
        let axis = TimeAxis { weeks: 104, ..axis("2026-03-02") };
        assert!(!counts_weeks(&axis));
        let due = [day("2026-03-02"), day("2026-03-31"), day("2026-04-01")];
        let counts: Vec<usize> = counts(&axis, &due).iter().map(|count| count.services).collect();
        assert_eq!(counts.get(..2), Some(&[2, 1][..]));
    }

    #[test]
    fn a_long_axis_names_quarters() {
        let axis = TimeAxis { weeks: 104, ..axis("2026-03-02") };
        let named: Vec<u32> = named_months(&axis).iter().map(|month| month.first.month()).collect();
        assert_eq!(named, [4, 7, 10, 1, 4, 7, 10, 1]);
    }

    #[test]
    fn months_are_cut_at_the_ends() {
        let months = months(&axis("2026-03-02"));
        assert_eq!(months.len(), 7, "February to August");
        assert!(months.iter().all(|month| month.from >= 548.0 && month.to <= 1041.0 && month.from < month.to));
    }
}
