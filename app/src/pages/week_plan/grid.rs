//! The grid on the screen: weeks over it, rows of trays, blocks that can be chosen and dragged.

use super::layout::{Grid, GridRow, RowOf, TrayBox};
use super::nav::block_of;
use super::paint::{self, Look};
use super::place::{NAMES, Places, TRAY_HEAD, TrayPlace, block_rect, with_head};
use crate::theme::{palette, sans, semibold, serif_semibold, size};
use crate::widgets::text;
use almanac_core::planning::proposal::{Placement, ServiceKey};
use almanac_core::planning::week_view::{PlanBlock, WeekView, block_sentence, hours};
use almanac_core::shop::Shop;
use almanac_core::units::{Minutes, Money};
use almanac_core::words;
use chrono::{Datelike as _, NaiveDate};
use eframe::egui::{
    self, Align2, Id, Key, Painter, Pos2, Rect, Role, ScrollArea, Sense, Stroke, UiBuilder, WidgetInfo, pos2, vec2,
};

/// Height of the week numbers and dates over the grid.
pub(super) const HEAD: f32 = 40.0;

/// Room for the bar of the scroll.
const BAR: f32 = 9.0;

/// A service on its way to another tray.
#[derive(Debug, Clone, Copy)]
pub(super) struct Aimed<'a> {
    pub(super) service: ServiceKey,
    pub(super) tray: Option<usize>,
    /// Where it would stand there; `None`: not weighed yet.
    pub(super) place: Option<&'a Placement>,
    /// A rule stands against it.
    pub(super) is_broken: bool,
}

/// What the grid shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct GridUi<'a> {
    pub(super) shop: &'a Shop,
    pub(super) plan: &'a WeekView,
    pub(super) grid: &'a Grid,
    pub(super) as_of: NaiveDate,
    pub(super) is_current: bool,
    pub(super) chosen: Option<ServiceKey>,
    pub(super) aimed: Option<Aimed<'a>>,
    /// The chosen block is to come into view.
    pub(super) scrolls: bool,
    /// Blocks can be dragged.
    pub(super) can_move: bool,
}

/// What the user did in it.
#[derive(Debug, Clone, Default)]
pub(super) struct Did {
    /// A block was clicked or got the focus.
    pub(super) chose: Option<ServiceKey>,
    pub(super) double_clicked: bool,
    /// A block is dragged.
    pub(super) dragged: Option<ServiceKey>,
    /// The tray under a dragged block, or that was clicked while a service is moved.
    pub(super) aimed_at: Option<usize>,
    /// It was let go.
    pub(super) dropped: bool,
    /// A tray of many blocks was clicked.
    pub(super) opened: Option<usize>,
    /// What stands under the pointer, in words.
    pub(super) read_out: Option<String>,
}

/// The id of a block: the same wherever it stands.
pub(super) fn block_id(service: ServiceKey) -> Id {
    Id::unique(("plan block", service))
}

impl GridUi<'_> {
    /// Weeks by number and date, and the rule under them.
    pub(super) fn head(&self, ui: &egui::Ui, area: Rect, places: &Places) {
        let colours = palette(ui);
        let painter = ui.painter();
        let date_y = area.top() + 26.0;
        text::left(painter, pos2(area.left(), date_y), "week of", sans(size::LABEL), colours.ink2);
        for (week, monday) in self.grid.mondays.iter().enumerate() {
            let x = area.left() + places.columns.get(week).copied().unwrap_or_default() + 5.0;
            let number = monday.iso_week().week().to_string();
            text::left(painter, pos2(x, area.top() + 10.0), &number, sans(size::LABEL), colours.ink2);
            let date = words::day_month(*monday, self.as_of);
            text::left(painter, pos2(x, date_y), &date, semibold(size::BODY), colours.ink);
        }
        painter.hline(area.x_range(), area.bottom() - 0.5, Stroke::new(1.0, colours.ink));
    }

    /// The rows, scrolled where they are taller than the area.
    pub(super) fn rows(&self, ui: &mut egui::Ui, area: Rect, places: &Places) -> Did {
        let mut did = Did::default();
        // room for the bar of the scroll beside the last week
        let with_bar = area.with_max_x(area.right() + BAR);
        ui.scope_builder(UiBuilder::new().max_rect(with_bar).id_salt("week plan"), |ui| {
            ui.spacing_mut().item_spacing = vec2(0.0, 0.0);
            ui.spacing_mut().scroll.fade.strength = 0.0;
            let scroll = ScrollArea::vertical().id_salt("week plan rows").auto_shrink(false).animated(false);
            let scroll = scroll.content_margin(0.0).scroll_source(egui::scroll_area::ScrollSource {
                drag: egui::scroll_area::DragScroll::Never,
                ..egui::scroll_area::ScrollSource::default()
            });
            scroll.show_viewport(ui, |ui, viewport| {
                ui.set_height(places.height.max(viewport.height()));
                self.name_list(ui);
                let origin = ui.max_rect().min;
                self.content(ui, origin, viewport, area, places, &mut did);
            });
        });
        did
    }

    fn name_list(&self, ui: &egui::Ui) {
        ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
            node.set_role(egui::accesskit::Role::ListBox);
            node.set_label("services in their downtime windows, by week");
            node.set_size_of_set(self.plan.blocks.len());
        });
    }

    fn content(&self, ui: &mut egui::Ui, origin: Pos2, viewport: Rect, area: Rect, places: &Places, did: &mut Did) {
        let colours = palette(ui);
        let painter = ui.painter().clone();
        let whole = Rect::from_min_size(origin, vec2(area.width(), places.height.max(viewport.height())));
        self.closed_weeks(&painter, ui, whole, places);
        for x in places.columns.iter().skip(1).take(self.grid.mondays.len().saturating_sub(1)) {
            painter.vline(origin.x + x + 0.5, whole.y_range(), Stroke::new(1.0, colours.rule));
        }
        for (row, (top, bottom)) in self.grid.rows.iter().zip(&places.rows) {
            if viewport.max.y < *top || *bottom < viewport.min.y {
                continue;
            }
            let span = Rect::from_min_max(pos2(origin.x, origin.y + top), pos2(whole.right(), origin.y + bottom));
            self.row_name(ui, span, row, places);
            if *bottom < places.height - 1.0 {
                painter.hline(span.x_range(), span.bottom() - 0.5, Stroke::new(1.0, colours.rule2));
            }
        }
        self.closure_words(ui, origin, places);
        let offset = origin.to_vec2();
        for tray in &places.trays {
            if viewport.max.y + TRAY_HEAD < tray.body.top() || tray.body.bottom() + TRAY_HEAD < viewport.min.y {
                continue;
            }
            let at = TrayPlace { body: tray.body.translate(offset), ..*tray };
            self.tray(ui, &at, places.hour, did);
        }
        self.aimed_block(ui, offset, places, did);
        self.drag(ui, offset, places, did);
    }

    /// A hall with what an hour of standstill costs there, or a technician with the services.
    fn row_name(&self, ui: &egui::Ui, span: Rect, row: &GridRow, _places: &Places) {
        let colours = palette(ui);
        let font = serif_semibold(size::SECTION);
        let painter = ui.painter();
        let room = NAMES - 2.0;
        let title = painter.layout(row.of.title().to_owned(), font, colours.ink, room);
        let at = pos2(span.left(), span.top() + 9.0);
        let below = at.y + title.size().y + 9.0;
        painter.galley(at, title, colours.ink);
        let note = self.row_note(&row.of);
        let note_galley = painter.layout(note.clone(), sans(size::LABEL), colours.ink2, room);
        painter.galley(pos2(span.left(), below - 7.0), note_galley, colours.ink2);
        let name = Rect::from_min_size(span.min, vec2(NAMES, span.height()));
        let response = ui.interact(name, ui.scope_id().with(("plan row", row.of.title())), Sense::hover());
        let words = format!("{}, {note}", row.of.title());
        response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, &words));
    }

    fn row_note(&self, of: &RowOf) -> String {
        match of {
            RowOf::Hall(hall) => {
                let costs = || {
                    let here = self.shop.machines.values().filter(|machine| machine.hall == *hall);
                    here.filter_map(|machine| machine.stop_cost_per_hour)
                };
                let low = costs().min_by(Money::total_cmp);
                let high = costs().max_by(Money::total_cmp);
                let currency = &self.shop.settings.currency;
                match (low, high) {
                    (Some(low), Some(high)) if words::money(low) == words::money(high) => {
                        format!("{} an hour", words::money_in(low, currency))
                    }
                    (Some(low), Some(high)) => {
                        format!("{} to {} an hour", words::money_in(low, currency), words::money(high))
                    }
                    _ => "no stop cost".to_owned(),
                }
            }
            RowOf::Technician(name) => {
                let here = self.plan.blocks.iter().filter(|block| !block.standing.is_left_behind());
                let count = here.filter(|block| RowOf::Technician(name.clone()).holds(block)).count();
                match count {
                    1 => "1 service".to_owned(),
                    many => format!("{} services", words::number(many as f64, 0)),
                }
            }
        }
    }

    /// The ground of weeks that are closed as a whole.
    fn closed_weeks(&self, painter: &Painter, ui: &egui::Ui, whole: Rect, places: &Places) {
        for (week, monday) in self.grid.mondays.iter().enumerate() {
            let is_closed = self.plan.weeks.iter().any(|one| one.monday == *monday && one.closed.is_some());
            let edges = places.columns.get(week).zip(places.columns.get(week + 1));
            if let Some((from, to)) = edges.filter(|_| is_closed) {
                let x = whole.left() + from + 1.0..=whole.left() + to;
                painter.rect_filled(Rect::from_x_y_ranges(x, whole.y_range()), 0.0, palette(ui).shade);
            }
        }
    }

    /// A dash where nothing may stop, and closures in words where there is room for them.
    fn closure_words(&self, ui: &egui::Ui, origin: Pos2, places: &Places) {
        let colours = palette(ui);
        let painter = ui.painter();
        for (week, monday) in self.grid.mondays.iter().enumerate() {
            let closures = self.plan.weeks.iter().find(|one| one.monday == *monday).map(|one| &one.closures);
            let mut lines: Vec<String> = closures.into_iter().flatten().map(|days| format!("{days} closed")).collect();
            let x = origin.x + places.columns.get(week).copied().unwrap_or_default() + 5.0;
            let width = places.columns.get(week + 1).copied().unwrap_or_default() + origin.x - x - 6.0;
            for (row, (top, bottom)) in self.grid.rows.iter().zip(&places.rows) {
                let trays = places.trays.iter().filter(|tray| tray.week == week && tray.row < places.rows.len());
                let used = trays
                    .filter(|tray| (*top..*bottom).contains(&tray.body.center().y))
                    .map(|tray| tray.body.bottom())
                    .fold(*top, f32::max);
                let is_empty = row.cells.get(week).is_none_or(|cell| cell.trays.is_empty());
                if is_empty {
                    let at = pos2(x, origin.y + top + 16.0);
                    text::left(painter, at, "\u{2013}", sans(size::BODY), colours.ink2);
                }
                let mut y = if is_empty { top + 26.0 } else { used + 6.0 };
                while let Some(line) = lines.first() {
                    let galley = painter.layout(line.clone(), sans(size::LABEL), colours.ink2, width);
                    if *bottom - 4.0 < y + galley.size().y {
                        break;
                    }
                    let height = galley.size().y;
                    painter.galley(pos2(x, origin.y + y), galley, colours.ink2);
                    y += height + 2.0;
                    lines.remove(0);
                }
            }
        }
    }

    fn box_of(&self, place: &TrayPlace) -> Option<&TrayBox> {
        self.grid.rows.get(place.row)?.cells.get(place.week)?.trays.get(place.nth)
    }

    fn tray(&self, ui: &mut egui::Ui, place: &TrayPlace, hour: f32, did: &mut Did) {
        let Some(tray) = self.box_of(place) else { return };
        let colours = palette(ui);
        let painter = ui.painter().clone();
        let head_y = place.body.top() - TRAY_HEAD / 2.0 - 1.0;
        let mut day = tray.start.format("%a %-d").to_string();
        if let Some(shown_for) = &tray.shown_for {
            day = format!("{day}  {shown_for}");
        }
        let length = match tray.tray {
            Some(_) => format!("{} h", hours(Minutes::new(f64::from(tray.hours) * 60.0).unwrap_or_default())),
            None => "no window".to_owned(),
        };
        let width = |text: &str, font| painter.layout_no_wrap(text.to_owned(), font, colours.ink).size().x;
        let both = width(&day, semibold(size::BODY)) + width(&length, sans(size::LABEL)) + 5.0;
        let mut room = place.body.width() - 1.0;
        // the ticks show the length too: where both find no room, it gives way to what the window is for
        if both <= room || tray.shown_for.is_none() || tray.tray.is_none() {
            let at = pos2(place.body.right(), head_y);
            room = text::right(&painter, at, &length, sans(size::LABEL), colours.ink2).left() - place.body.left() - 5.0;
        }
        let ink = if tray.tray.is_some() { colours.ink } else { colours.act };
        text::left_cut(&painter, pos2(place.body.left() + 1.0, head_y), &day, semibold(size::BODY), ink, room);
        let is_aimed_at = self.aimed.is_some_and(|aimed| aimed.tray.is_some() && aimed.tray == tray.tray);
        let id = ui.scope_id().with(("tray", place.row, tray.tray, tray.start));
        let response = ui.interact(with_head(place.body), id, Sense::CLICK);
        let sentence = self.tray_sentence(tray);
        response.widget_info(|| WidgetInfo::labeled(Role::Group, true, &sentence));
        if response.hovered() {
            did.read_out = Some(sentence);
        }
        if response.clicked() {
            match (self.aimed, tray.is_counted) {
                (Some(_), _) => did.aimed_at = tray.tray,
                (None, true) => did.opened = tray.tray,
                (None, false) => {}
            }
        }
        if tray.tray.is_some() {
            paint::tray(&painter, colours, place.body, hour, tray.is_running, is_aimed_at);
        }
        if tray.is_counted {
            self.counted(ui, place, hour, tray);
            return;
        }
        let mut chosen = None;
        for block_box in &tray.blocks {
            let Some(block) = self.plan.blocks.get(block_box.block) else { continue };
            let rect = block_rect(place.body, hour, block_box);
            self.block(ui, rect, block, did);
            if super::nav::can_be_chosen(block) && self.chosen == Some(block.key()) {
                chosen = Some(rect);
            }
        }
        if let Some(rect) = chosen {
            paint::frame(&painter, colours, rect);
        }
    }

    fn counted(&self, ui: &egui::Ui, place: &TrayPlace, hour: f32, tray: &TrayBox) {
        let of_tray = || tray.blocks.iter().filter_map(|one| self.plan.blocks.get(one.block));
        let there = of_tray().filter(|block| !block.standing.is_left_behind());
        let (count, minutes) = there.fold((0, 0), |(count, sum), block| (count + 1, sum + block.service.minutes));
        let first = match count {
            1 => "1 service".to_owned(),
            many => format!("{} services", words::number(f64::from(many), 0)),
        };
        let second = format!("{} h of work", hours(Minutes::new(minutes as f64).unwrap_or_default()));
        let filled = tray.blocks.iter().map(|one| one.to).fold(0.0, f32::max) * hour;
        let is_chosen = of_tray().any(|block| Some(block.key()) == self.chosen);
        paint::count(ui.painter(), palette(ui), place.body, filled, [&first, &second], is_chosen);
    }

    fn tray_sentence(&self, tray: &TrayBox) -> String {
        let there = tray
            .blocks
            .iter()
            .filter_map(|one| self.plan.blocks.get(one.block))
            .filter(|block| !block.standing.is_left_behind());
        let count = match there.count() {
            0 => "nothing in it".to_owned(),
            1 => "one service in it".to_owned(),
            many => format!("{} services in it", words::count_words(many)),
        };
        let day = words::date_weekday(tray.start.date(), self.as_of);
        let Some(of) = tray.tray.and_then(|index| self.plan.trays.get(index)) else {
            return format!("{day}, in no downtime window: {count}.");
        };
        let machine = of.machine.and_then(|machine| self.shop.machines.get(&machine));
        let machine = machine.map(|machine| format!(", {} only", machine.name)).unwrap_or_default();
        let what = if of.what.is_empty() { String::new() } else { format!(", {}", of.what) };
        let mut sentence = format!(
            "{day}, {} to {}, {}{machine}{what}: a stop costs {} % of the stop cost",
            of.start.format("%H:%M"),
            of.end.format("%H:%M"),
            of.hall,
            words::percent_short(of.stop_factor)
        );
        if 0.0 < of.premium_per_hour.get() {
            let premium = words::money_in(of.premium_per_hour, &self.shop.settings.currency);
            sentence.push_str(&format!(", {premium} extra per person and hour"));
        }
        format!("{sentence}; {count}.")
    }

    fn block(&self, ui: &mut egui::Ui, rect: Rect, block: &PlanBlock, did: &mut Did) {
        let service = block.key();
        let can_be_chosen = super::nav::can_be_chosen(block);
        let is_chosen = can_be_chosen && self.chosen == Some(service);
        let is_moving = can_be_chosen && self.aimed.is_some_and(|aimed| aimed.service == service);
        let sentence = block_sentence(block, self.as_of);
        let id = if can_be_chosen { block_id(service) } else { Id::unique(("plan ghost", service)) };
        // Tab stops at the chosen block only; arrows walk the others
        let tabs = ui.input(|input| input.key_pressed(Key::Tab));
        let sense = match (can_be_chosen, tabs && !is_chosen) {
            (false, _) => Sense::hover(),
            (true, true) => Sense::CLICK | Sense::DRAG,
            (true, false) => Sense::click_and_drag(),
        };
        let response = ui.interact(rect, id, sense);
        let role = if can_be_chosen { Role::ListBoxOption } else { Role::Label };
        response.widget_info(|| WidgetInfo::selected(role, ui.is_enabled(), is_chosen, &sentence));
        if can_be_chosen {
            ui.ctx().accesskit_node_builder(id, |node| node.set_selected(is_chosen));
        }
        if is_chosen && self.scrolls {
            ui.scroll_to_rect(rect.expand(12.0), None);
        }
        if response.hovered() {
            did.read_out = Some(sentence);
        }
        if can_be_chosen && (response.clicked() || response.drag_started() || (response.has_focus() && !is_chosen)) {
            did.chose = Some(service);
            response.request_focus();
        }
        did.double_clicked |= response.double_clicked();
        if self.can_move && can_be_chosen && (response.dragged() || response.drag_stopped()) {
            did.dragged = Some(service);
            did.dropped |= response.drag_stopped();
        }
        let look = Look { is_hovered: response.hovered(), is_old: !self.is_current, is_moving };
        paint::block(ui, ui.painter(), rect, block, self.as_of, look);
    }

    /// The service where it is being moved to, and an arrow from where it stands.
    fn aimed_block(&self, ui: &egui::Ui, offset: egui::Vec2, places: &Places, did: &mut Did) {
        let Some(aimed) = self.aimed else { return };
        let Some(target) = aimed.tray.and_then(|tray| places.tray(tray)) else { return };
        let (Some(tray), Some(from)) = (self.box_of(target), block_of(self.plan, aimed.service)) else {
            self.aimed_without_place(ui, offset, target, places);
            return;
        };
        let Some(block) = self.plan.blocks.get(from) else { return };
        let mut moved = block.clone();
        moved.standing = almanac_core::planning::week_view::Standing::Booked;
        let hours_from = |at: chrono::NaiveDateTime| (at - tray.start).num_minutes() as f32 / 60.0;
        let (start, end) = match aimed.place {
            Some(place) => {
                moved.service.place = place.clone();
                (hours_from(place.start), hours_from(place.end))
            }
            None => (0.0, block.service.minutes as f32 / 60.0),
        };
        let place = super::layout::BlockBox { block: from, from: start, to: end, lane: 0, lanes: 1 };
        let mut rect = block_rect(target.body.translate(offset), places.hour, &place);
        // over the top of its tray, but not over the row above
        if let Some((top, _)) = places.rows.get(target.row) {
            rect.min.y = rect.min.y.max(offset.y + top + 2.0).min(rect.max.y - 12.0);
        }
        let colours = palette(ui);
        let painter = ui.painter();
        paint::block(ui, painter, rect, &moved, self.as_of, Look::default());
        let pen = Stroke::new(2.0, if aimed.is_broken { colours.act } else { colours.ink });
        painter.rect_stroke(rect, 0.0, pen, egui::StrokeKind::Inside);
        let stands = places.trays.iter().find_map(|place| {
            let of = self.box_of(place)?.blocks.iter().find(|one| one.block == from)?;
            Some(block_rect(place.body.translate(offset), places.hour, of))
        });
        if let Some(stands) = stands.filter(|stands| !stands.intersects(rect)) {
            paint::arrow(painter, colours, stands, rect);
        }
        if ui.rect_contains_pointer(rect) {
            did.read_out = Some(block_sentence(&moved, self.as_of));
        }
    }

    /// A service that has no place yet: its outline on the floor of the tray.
    fn aimed_without_place(&self, ui: &egui::Ui, offset: egui::Vec2, target: &TrayPlace, places: &Places) {
        let Some(aimed) = self.aimed else { return };
        let colours = palette(ui);
        let body = target.body.translate(offset);
        let start = self.box_of(target).map(|tray| tray.start).unwrap_or_default();
        let hours_from = |at: chrono::NaiveDateTime| (at - start).num_minutes() as f32 / 60.0;
        let (from, to) = aimed.place.map_or((0.0, 1.5), |place| (hours_from(place.start), hours_from(place.end)));
        let place = super::layout::BlockBox { block: 0, from, to, lane: 0, lanes: 1 };
        let rect = block_rect(body, places.hour, &place);
        let painter = ui.painter();
        painter.rect_filled(rect, 0.0, colours.field);
        let pen = Stroke::new(2.0, if aimed.is_broken { colours.act } else { colours.ink });
        painter.rect_stroke(rect, 0.0, pen, egui::StrokeKind::Inside);
        let position = self.shop.position_on(aimed.service.spindle, self.as_of);
        let label = position.map(|position| self.shop.position_label(position)).unwrap_or_default();
        painter.text(rect.left_top() + vec2(8.0, 9.5), Align2::LEFT_CENTER, label, semibold(size::BODY), colours.ink);
        if let Some(who) = aimed.place.map(|place| place.technicians.join(", ")) {
            let at = rect.left_top() + vec2(8.0, 23.5);
            text::left_cut(painter, at, &who, sans(size::LABEL), colours.ink2, rect.width() - 10.0);
        }
    }

    /// A dragged block aims at the tray under the pointer.
    fn drag(&self, ui: &egui::Ui, offset: egui::Vec2, places: &Places, did: &mut Did) {
        if did.dragged.is_none() {
            return;
        }
        let pointer = ui.input(|input| input.pointer.latest_pos());
        let under = pointer.and_then(|at| places.tray_at(at - offset)).and_then(|place| place.tray);
        did.aimed_at = under.or(did.aimed_at);
        if let Some(at) = pointer {
            ui.ctx().set_cursor_icon(egui::CursorIcon::Grabbing);
            let colours = palette(ui);
            let hand = Rect::from_center_size(at + vec2(12.0, 14.0), vec2(8.0, 8.0));
            ui.painter().rect_stroke(hand, 0.0, Stroke::new(1.5, colours.ink), egui::StrokeKind::Inside);
        }
    }
}
