//! The facts beside the chart: figures, and where every limit comes from.

use super::record::due_words;
use super::view::View;
use crate::theme::{sans, semibold, serif_semibold, size};
use crate::widgets::text::{left_cut, right};
use almanac_core::forecast::{SpindleForecast, UnderStopLimit};
use almanac_core::limits::InForce;
use almanac_core::words;
use eframe::egui::{self, Rect, Role, ScrollArea, Sense, Stroke, UiBuilder, WidgetInfo, pos2, vec2};

/// One line of the facts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fact {
    /// A hairline stands before it.
    pub(super) opens_group: bool,
    pub(super) label: String,
    pub(super) is_part: bool,
    pub(super) figure: String,
    pub(super) aside: String,
    /// A person must act on it.
    pub(super) is_bad: bool,
    /// What a longer look shows, such as the source of a limit.
    pub(super) hint: String,
}

fn fact(label: impl Into<String>, figure: impl Into<String>, aside: impl Into<String>) -> Fact {
    Fact {
        opens_group: false,
        label: label.into(),
        is_part: false,
        figure: figure.into(),
        aside: aside.into(),
        is_bad: false,
        hint: String::new(),
    }
}

impl Fact {
    fn part(mut self) -> Self {
        self.is_part = true;
        self
    }

    fn bad(mut self, is_bad: bool) -> Self {
        self.is_bad = is_bad;
        self
    }

    fn sourced<T>(mut self, limit: &InForce<T>) -> Self {
        let source = if limit.source.is_empty() { "no source given" } else { &limit.source };
        self.hint = format!("{}: {source}", limit.step.label());
        self
    }

    /// With the figure in force in place of what stands aside, where the two differ.
    fn beside(mut self, in_force: &[Self]) -> Self {
        let name = |fact: &Self| fact.label.split(',').next().unwrap_or_default().to_owned();
        if let Some(other) = in_force.iter().find(|other| name(other) == name(&self)) {
            if other.figure != self.figure {
                self.aside = format!("is {}", other.figure);
            } else if other.label != self.label {
                self.aside = format!("is {}", other.label.split_once(", ").map_or("open", |(_, when)| when));
            }
        }
        self
    }

    /// As it is said.
    pub(super) fn plain(&self) -> String {
        let text = format!("{} {} {}", self.label, self.figure, self.aside);
        let text = if self.hint.is_empty() { text } else { format!("{text}; {}", self.hint) };
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// All facts of a spindle; of pretended figures with those in force beside them.
pub(super) fn facts(view: &View<'_>, forecast: &SpindleForecast) -> Vec<Fact> {
    let pretended = facts_of(view, forecast);
    let Some(before) = view.before() else { return pretended };
    let by = |forecast: &SpindleForecast| match forecast.service_by {
        Some(day) if day <= view.as_of() => "now".to_owned(),
        Some(day) => words::date_short(day, view.as_of()),
        None => words::UNKNOWN.to_owned(),
    };
    let mut facts = vec![fact("service by, what if", by(forecast), format!("is {}", by(before)))];
    let in_force = facts_of(view, before);
    facts.extend(pretended.into_iter().map(|row| row.beside(&in_force)));
    facts
}

fn facts_of(view: &View<'_>, forecast: &SpindleForecast) -> Vec<Fact> {
    let mut facts = force_facts(view, forecast);
    facts.extend(wear_facts(view, forecast));
    facts.extend(use_facts(view, forecast));
    facts.extend(limit_facts(view, forecast));
    facts
}

fn force_facts(view: &View<'_>, forecast: &SpindleForecast) -> Vec<Fact> {
    let nominal = forecast.limits.nominal_force.value;
    let now = forecast.force_now;
    let share = format!("{} %", words::percent(now.mean.percent_of(nominal)));
    let is_under = forecast.reserve.get() < 0.0;
    let figure = format!("{} ± {} {}", view.mean_force(now.mean), view.force_spread(now.sd), view.force_unit());
    let label = if forecast.force_measured { "force now" } else { "force, not measured" };
    let mut facts = vec![
        fact(label, figure, share).bad(is_under && forecast.force_measured),
        fact("reserve above the service limit", format!("{} %", words::reserve(forecast.reserve)), "")
            .bad(is_under && forecast.force_measured),
    ];
    let stop_label = "under the stop limit, 10 % risk by";
    let already = "under the stop limit already";
    if let Some(known) = forecast.under_stop_limit {
        let how = match known {
            UnderStopLimit::Read(_) => "as last read",
            UnderStopLimit::Estimated => "by the estimate",
        };
        facts.push(fact("under the stop limit", how, "").bad(true));
    } else if let Some(chance) = forecast.perhaps_under_stop_limit() {
        facts.push(fact(already, words::chance(chance), "chance").bad(true));
    } else if let Some(day) = forecast.cross_stop_limit.and_then(|crossing| crossing.days[1]) {
        facts.push(fact(stop_label, words::date_short(day, view.as_of()), crossing_aside(view, day)));
    }
    facts
}

fn crossing_aside(view: &View<'_>, day: chrono::NaiveDate) -> String {
    if day <= view.as_of() { "now".to_owned() } else { String::new() }
}

fn wear_facts(view: &View<'_>, forecast: &SpindleForecast) -> Vec<Fact> {
    let percent = |share| format!("{} %", words::percent(share));
    let mut facts = Vec::new();
    facts.push(match forecast.loss_per_1000_h {
        Some(loss) => fact("loses per 1,000 h", percent(loss.mean), format!("± {} %", words::percent(loss.sd))),
        None => fact("loses per 1,000 h", words::UNKNOWN, ""),
    });
    if let Some([low, middle, high]) = forecast.interface_loss_per_1000_h {
        let label = format!("{} in this shop", view.spindle.interface);
        let aside = format!("{} to {} %", words::percent(low), words::percent(high));
        facts.push(fact(label, percent(middle), aside).part());
    }
    let known = |share: Option<_>| share.map_or_else(|| words::UNKNOWN.to_owned(), percent);
    facts.push(fact("recoverable loss", known(forecast.recoverable_loss), ""));
    facts.push(fact("lasting loss", known(forecast.lasting_loss), ""));
    let major = match forecast.major_service_by {
        Some(day) if day <= view.as_of() => "now".to_owned(),
        Some(day) => words::month_year(day),
        None => words::UNKNOWN.to_owned(),
    };
    let aside = if forecast.major_service_by.is_some() { "50 %" } else { "" };
    let is_now = forecast.major_service_by.is_some_and(|day| day <= view.as_of());
    facts.push(fact("major service by", major, aside).bad(is_now));
    opened(facts)
}

fn opened(mut facts: Vec<Fact>) -> Vec<Fact> {
    if let Some(first) = facts.first_mut() {
        first.opens_group = true;
    }
    facts
}

fn use_facts(view: &View<'_>, forecast: &SpindleForecast) -> Vec<Fact> {
    let unknown = || words::UNKNOWN.to_owned();
    let since = forecast.last_service.map_or_else(
        || "since the first record".to_owned(),
        |day| format!("since last service, {}", day.format("%-d %b %Y")),
    );
    let hours = |value: Option<_>| value.map_or_else(unknown, |h| format!("{} h", words::hours(h)));
    let cycles = |value: Option<_>| value.map_or_else(String::new, |c| format!("{} cycles", words::cycles(c)));
    let a_day = forecast.cycles_per_day.map_or_else(String::new, |c| format!("{} cycles a day", words::cycles(c)));
    let usage = forecast.hours_per_day.map_or_else(unknown, |h| format!("{} h", words::hours_per_day(h)));
    let mut facts = vec![
        fact(since, hours(forecast.hours_since_service), cycles(forecast.cycles_since_service)),
        fact("usage of a working day", usage, a_day),
        fact("in all", hours(forecast.run_hours), cycles(forecast.clamp_cycles)),
    ];
    let unit = view.length_unit();
    let tolerance = forecast.limits.setting().map_or_else(String::new, |(aim, tolerance)| {
        format!("{} ± {}", words::length_in(aim, unit), words::length_with_unit(tolerance, unit))
    });
    if forecast.setting_now.is_some() || !tolerance.is_empty() {
        let figure = forecast.setting_now.map_or_else(unknown, |now| words::length_with_unit(now.mean, unit));
        facts.push(fact("setting dimension", figure, tolerance).bad(forecast.setting_out_of_tolerance));
    }
    if let Some(drift) = forecast.setting_drift_per_1000_h {
        let decimals = if unit == almanac_core::units::Unit::Inch { 4 } else { 3 };
        let figure = format!("{} {unit}", words::signed(unit.from_base(drift.get()), decimals));
        facts.push(fact("drift", figure, "per 1,000 h").part());
    }
    opened(facts)
}

fn limit_facts(view: &View<'_>, forecast: &SpindleForecast) -> Vec<Fact> {
    let limits = &forecast.limits;
    let due = |label: &str, day: Option<chrono::NaiveDate>| match day {
        Some(day) if day <= view.as_of() => format!("{label}, over since {}", due_words(day, view.as_of())),
        Some(day) => format!("{label}, due {}", due_words(day, view.as_of())),
        None => label.to_owned(),
    };
    let passed = |day: Option<chrono::NaiveDate>| day.is_some_and(|day| day <= view.as_of());
    let share = |limit: &InForce<_>| format!("{} %", words::percent_short(limit.value));
    let mut facts = vec![
        fact("service limit", share(&limits.service_limit), limits.service_limit.step.label())
            .sourced(&limits.service_limit),
        fact("stop limit", share(&limits.stop_limit), limits.stop_limit.step.label()).sourced(&limits.stop_limit),
    ];
    if let Some(tolerance) = &limits.setting_tolerance {
        let unit = view.length_unit();
        let figure = format!("± {}", words::length_with_unit(tolerance.value, unit));
        facts.push(fact("setting tolerance", figure, tolerance.step.label()).sourced(tolerance));
    }
    if let Some(months) = &limits.every_months {
        let figure = format!("{} months", months.value);
        let label = due("calendar interval", forecast.due_calendar);
        facts.push(fact(label, figure, months.step.label()).sourced(months).bad(passed(forecast.due_calendar)));
    }
    if let Some(hours) = &limits.every_hours {
        let figure = format!("{} h", words::hours(hours.value));
        let label = due("run hours", forecast.due_run_hours);
        facts.push(fact(label, figure, hours.step.label()).sourced(hours).bad(passed(forecast.due_run_hours)));
    }
    if let Some(cycles) = &limits.every_cycles {
        let figure = format!("{} cycles", words::cycles(cycles.value));
        let label = due("clamp cycles", forecast.due_clamp_cycles);
        facts.push(fact(label, figure, cycles.step.label()).sourced(cycles).bad(passed(forecast.due_clamp_cycles)));
    }
    opened(facts)
}

/// The sources that stand behind the limits, each with what it is for.
pub(super) fn sources(forecast: &SpindleForecast) -> Vec<String> {
    fn source<T>(limit: &InForce<T>) -> &str {
        if limit.source.is_empty() { "no source given" } else { &limit.source }
    }
    let limits = &forecast.limits;
    let all = [
        ("service limit", Some(source(&limits.service_limit))),
        ("stop limit", Some(source(&limits.stop_limit))),
        ("setting dimension", limits.setting_dimension.as_ref().map(source)),
        ("setting tolerance", limits.setting_tolerance.as_ref().map(source)),
        ("calendar", limits.every_months.as_ref().map(source)),
        ("run hours", limits.every_hours.as_ref().map(source)),
        ("clamp cycles", limits.every_cycles.as_ref().map(source)),
    ];
    let mut named: Vec<(&str, Vec<&str>)> = Vec::new();
    for (what, source) in all.into_iter().filter_map(|(what, source)| Some((what, source?))) {
        match named.iter_mut().find(|(known, _)| *known == source) {
            Some((_, what_for)) => what_for.push(what),
            None => named.push((source, vec![what])),
        }
    }
    if let [(source, _)] = named.as_slice() {
        return vec![format!("All limits: {source}")];
    }
    let line = |what: &[&str], source: &str| format!("{}: {source}", words::capital(&what.join(", ")));
    named.into_iter().map(|(source, what)| line(&what, source)).collect()
}

const FIGURE_RIGHT: f32 = 272.0;
const ASIDE: f32 = 280.0;

/// Draws the facts into a place; they scroll where they do not fit.
pub(super) fn ui(ui: &mut egui::Ui, place: Rect, view: &View<'_>) {
    let c = view.colours;
    let base = pos2(place.left(), place.top() + 19.0);
    let head = crate::widgets::line::TextLine::new().with(0.0, "Facts", serif_semibold(size::SECTION), c.ink);
    let head = match view.before() {
        Some(_) => head.with(12.0, "pretended, beside what is in force", sans(size::LABEL), c.ink2),
        None => head,
    };
    head.paint(ui.painter(), base, place.width());
    let Some(forecast) = view.forecast else { return };
    let rows = facts(view, forecast);
    let named = sources(forecast);
    let warnings: Vec<String> = forecast.warnings.iter().map(|warning| words::capital(warning)).collect();
    let groups = rows.iter().filter(|row| row.opens_group).count() as f32;
    let body = Rect::from_min_max(pos2(place.left(), place.top() + 31.0), place.max);
    let mut child = ui.new_child(UiBuilder::new().max_rect(body).id_salt("facts"));
    child.spacing_mut().scroll = super::thin_scroll();
    ScrollArea::vertical().id_salt("facts").auto_shrink(false).show(&mut child, |ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        let width = ui.available_width();
        let height_of =
            |text: &String| ui.painter().layout(text.clone(), sans(size::LABEL), c.ink, width).size().y + 1.0;
        let head = if warnings.is_empty() { 0.0 } else { 24.0 };
        let below: f32 = named.iter().chain(&warnings).map(height_of).sum::<f32>() + head + 8.0;
        let pitch = ((body.height() - below - groups * 7.0) / rows.len().max(1) as f32).clamp(16.5, 20.0);
        if !warnings.is_empty() {
            // before all figures, so that the last of them is cut and not what weakens them
            let head = egui::RichText::new("What weakens these figures").font(semibold(size::LABEL)).color(c.ink);
            ui.label(head);
            for warning in &warnings {
                paragraph(ui, warning, c.ink);
            }
            ui.add_space(6.0);
        }
        for row in &rows {
            if row.opens_group {
                let (line, _) = ui.allocate_exact_size(vec2(ui.available_width(), 7.0), Sense::hover());
                ui.painter().hline(line.x_range(), line.center().y.round() + 0.5, Stroke::new(1.0, c.rule));
            }
            row_ui(ui, row, pitch, view);
        }
        ui.add_space(3.0);
        for source in &named {
            paragraph(ui, source, c.ink2);
        }
        ui.add_space(4.0);
    });
}

fn paragraph(ui: &mut egui::Ui, text: &str, ink: egui::Color32) {
    ui.add(egui::Label::new(egui::RichText::new(text).font(sans(size::LABEL)).color(ink)).wrap());
    ui.add_space(1.0);
}

fn row_ui(ui: &mut egui::Ui, row: &Fact, pitch: f32, view: &View<'_>) {
    let c = view.colours;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), pitch), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, row.plain()));
    let middle = rect.center().y;
    let painter = ui.painter();
    let ink = if row.is_bad { c.act } else { view.figure_ink() };
    let figure_right = rect.left() + FIGURE_RIGHT.min(rect.width() - 60.0);
    let figure = right(painter, pos2(figure_right, middle), &row.figure, semibold(size::BODY), ink);
    let indent = if row.is_part { 12.0 } else { 0.0 };
    let label_room = figure.left() - 8.0 - rect.left() - indent;
    left_cut(painter, pos2(rect.left() + indent, middle), &row.label, sans(size::BODY), c.ink2, label_room);
    let aside_left = rect.left() + (ASIDE - FIGURE_RIGHT) + (figure_right - rect.left());
    let room = rect.right() - aside_left;
    left_cut(painter, pos2(aside_left, middle + 0.5), &row.aside, sans(size::SMALL), c.ink2, room);
    if !row.hint.is_empty() {
        response.on_hover_text(&row.hint);
    }
}
