//! The table: its head, and the rows in view.

use super::arrange::{Arranged, Item};
use super::axis::{self, TimeAxis};
use super::cells::{self, Look};
use super::columns::Columns;
use super::line::Line;
use super::strip::{self, InView};
use super::view::{DueView, SortBy};
use crate::charts::ebb::ebb;
use crate::charts::ebb_paint::{self, Place};
use crate::pages::PageContext;
use crate::theme::{MARGIN, TABLE_ROW, palette, sans, semibold, serif_semibold, size};
use almanac_core::ids::SpindleId;
use almanac_core::moment::DayRange;
use chrono::NaiveDate;
use eframe::egui::{self, Align2, Id, Key, Painter, Rect, Role, Sense, Stroke, UiBuilder, WidgetInfo, pos2, vec2};

/// Height of the head, months and weeks included.
pub(super) const HEAD: f32 = 38.0;
/// How far the chosen row reaches over the margins of the page.
const OVERHANG: f32 = 8.0;
/// Height of a reserve of 10 % in the ebb.
const EBB_HEIGHT: f32 = 16.0;

/// What the table shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Table<'a> {
    pub(super) context: &'a PageContext<'a>,
    pub(super) lines: &'a [Line],
    pub(super) arranged: &'a Arranged,
    pub(super) view: &'a DueView,
    pub(super) columns: &'a Columns,
    /// Service-by dates of the rows shown, sorted.
    pub(super) service_by: &'a [NaiveDate],
    pub(super) chosen: Option<SpindleId>,
    /// Where to scroll to, if that is to change.
    pub(super) scroll_to: Option<f32>,
}

/// What the user did.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    /// A row was clicked or got the focus.
    pub(super) chose: Option<SpindleId>,
    /// It is to be opened.
    pub(super) opens: bool,
    /// The strip asks for another part.
    pub(super) scroll_to: Option<f32>,
    /// How far the list is scrolled.
    pub(super) offset: f32,
}

/// The id of a row: the same wherever it stands.
pub(super) fn row_id(spindle: SpindleId) -> Id {
    Id::unique(("due row", spindle.row()))
}

impl Table<'_> {
    /// `None` in a window too narrow for it.
    fn axis(&self) -> Option<TimeAxis> {
        self.columns.axis.map(|x| TimeAxis { today: self.context.as_of, x, weeks: self.view.weeks })
    }

    /// The head; answers by which column the user wants to sort.
    pub(super) fn head(&self, ui: &mut egui::Ui, area: Rect) -> Option<SortBy> {
        let colours = palette(ui);
        let painter = ui.painter().clone();
        let words_y = area.top() + 25.0;
        if let Some(axis) = self.axis() {
            self.axis_head(ui, area, &axis);
        }
        if let Some(x) = self.columns.days {
            let head = if self.context.what_if.is_some() { "in force" } else { "days" };
            painter.text(pos2(x, words_y), Align2::RIGHT_CENTER, head, sans(size::LABEL), colours.ink2);
        }
        let mut wanted = None;
        for column in SortBy::ALL {
            if self.column_head(ui, column, words_y) {
                wanted = Some(column);
            }
        }
        let rule = area.top() + HEAD - 2.5;
        painter.hline(area.left() + MARGIN..=self.columns.right, rule, Stroke::new(1.0, colours.ink));
        wanted
    }

    /// Months and services due over the axis, and what the figures count.
    fn axis_head(&self, ui: &egui::Ui, area: Rect, axis: &TimeAxis) {
        let colours = palette(ui);
        let painter = ui.painter();
        axis::paint_head(painter, axis, area, colours, self.service_by);
        let counted = if axis::counts_weeks(axis) { "week by week" } else { "month by month" };
        let at = pos2(axis.x.min - 8.0, area.top() + 6.0);
        let label = format!("services due, {counted}");
        let label = painter.text(at, Align2::RIGHT_CENTER, label, sans(size::LABEL), colours.ink2);
        let figures = Rect::from_x_y_ranges(label.left()..=axis.x.max, area.top()..=area.top() + 34.0);
        let response = ui.interact(figures, ui.scope_id().with("services due"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, axis::counts_in_words(axis, self.service_by)));
    }

    fn column_head(&self, ui: &mut egui::Ui, column: SortBy, y: f32) -> bool {
        let Some((span, is_right)) = self.columns.head(column) else { return false };
        let colours = palette(ui);
        let is_sorted = self.view.sort == column;
        let area = Rect::from_x_y_ranges(span, y - 9.0..=y + 9.0);
        let response = ui.interact(area, ui.scope_id().with(("head", column)), Sense::click());
        let order = match (is_sorted, self.view.descending) {
            (true, true) => ", sorted, largest first",
            (true, false) => ", sorted",
            _ => "",
        };
        let name = format!("sort by {}{order}", column.label());
        response.widget_info(|| WidgetInfo::labeled(Role::ColumnHeader, ui.is_enabled(), &name));
        let font = if is_sorted { semibold(size::LABEL) } else { sans(size::LABEL) };
        let ink = if is_sorted || response.hovered() { colours.ink } else { colours.ink2 };
        let painter = ui.painter();
        let (x, align) = if is_right { (span.max, Align2::RIGHT_CENTER) } else { (span.min, Align2::LEFT_CENTER) };
        let words = painter.text(pos2(x, y), align, column.head(), font, ink);
        if is_sorted {
            sort_mark(painter, pos2(words.left() - 7.0, y - 0.5), self.view.descending, ink);
        }
        response.clicked()
    }

    /// What stands behind head and rows: closures under the months, month rules, today's upright.
    pub(super) fn ground(&self, ui: &egui::Ui, head: Rect, rows: Rect) {
        let Some(axis) = self.axis() else { return };
        let colours = palette(ui);
        let closures: Vec<DayRange> = self.context.shop.closures.iter().map(|row| row.value.days).collect();
        let ground = head.union(rows);
        let behind = Rect::from_x_y_ranges(ground.x_range(), head.top() + 17.0..=rows.bottom());
        axis::paint_ground(ui.painter(), &axis, behind, colours, &closures);
        axis::paint_months(ui.painter(), &axis, ground, colours);
        axis::paint_today(ui.painter(), &axis, ground, colours);
    }

    /// The rows in view.
    pub(super) fn rows(&self, ui: &mut egui::Ui, page: Rect, area: Rect) -> Did {
        let axis = self.axis();
        let mut did = Did::default();
        let mut view =
            InView { offset: 0.0, height: area.height(), whole: self.arranged.items.len() as f32 * TABLE_ROW };
        ui.scope_builder(UiBuilder::new().max_rect(area).id_salt("due list"), |ui| {
            ui.spacing_mut().item_spacing = vec2(0.0, 0.0);
            ui.spacing_mut().scroll.fade.strength = 0.0;
            let shown = strip::list_area("due rows", self.scroll_to).show_rows(
                ui,
                TABLE_ROW,
                self.arranged.items.len(),
                |ui, range| {
                    self.name_list(ui);
                    let top = ui.max_rect().top();
                    for (nth, place) in range.enumerate() {
                        let y = top + nth as f32 * TABLE_ROW;
                        let left = page.left() + MARGIN - OVERHANG;
                        let right = page.right() - MARGIN + OVERHANG;
                        let rect = Rect::from_x_y_ranges(left..=right, y..=y + TABLE_ROW);
                        self.item(ui, rect, place, axis.as_ref(), &mut did);
                    }
                },
            );
            view.offset = shown.state.clamped_offset().y;
        });
        if view.whole > area.height() + 0.5 {
            let x = page.right() - strip::WIDTH..=page.right();
            did.scroll_to = strip::show(
                ui,
                Rect::from_x_y_ranges(x, area.y_range()),
                self.arranged.items.len(),
                &self.arranged.accents,
                view,
            );
        }
        did.offset = view.offset;
        did
    }

    /// Tells a screen reader that the rows are one list.
    fn name_list(&self, ui: &egui::Ui) {
        ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
            node.set_role(egui::accesskit::Role::ListBox);
            node.set_label("spindles, soonest service-by first unless sorted otherwise");
            node.set_size_of_set(self.arranged.shown);
        });
    }

    fn item(&self, ui: &mut egui::Ui, rect: Rect, place: usize, axis: Option<&TimeAxis>, did: &mut Did) {
        match self.arranged.items.get(place) {
            Some(Item::Group { title, count }) => self.group_head(ui, rect, title, *count),
            Some(Item::Row(index)) => {
                if let Some(line) = self.lines.get(*index) {
                    self.row(ui, rect, place, line, axis, did);
                }
            }
            None => {}
        }
    }

    fn group_head(&self, ui: &mut egui::Ui, rect: Rect, title: &str, count: usize) {
        let colours = palette(ui);
        let painter = ui.painter();
        let left = rect.left() + OVERHANG;
        let y = rect.center().y + 2.0;
        let words = painter.text(pos2(left, y), Align2::LEFT_CENTER, title, serif_semibold(size::BODY), colours.ink);
        let many = if count == 1 { "1 spindle".to_owned() } else { format!("{count} spindles") };
        let at = pos2(words.right() + 10.0, y);
        painter.text(at, Align2::LEFT_CENTER, &many, sans(size::LABEL), colours.ink2);
        painter.hline(left..=self.columns.right, rect.bottom() - 0.5, Stroke::new(1.0, colours.rule2));
        let response = ui.interact(rect, ui.scope_id().with(("group", title)), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Heading, true, format!("{title}, {many}")));
    }

    fn row(&self, ui: &mut egui::Ui, rect: Rect, place: usize, line: &Line, axis: Option<&TimeAxis>, did: &mut Did) {
        let is_chosen = self.chosen == Some(line.spindle);
        let id = row_id(line.spindle);
        // Tab stops at the chosen row only; arrows walk the others
        let tabs = ui.input(|input| input.key_pressed(Key::Tab));
        let sense = if tabs && !is_chosen { Sense::CLICK } else { Sense::click() };
        let response = ui.interact(rect, id, sense);
        response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, ui.is_enabled(), is_chosen, &line.sentence));
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_selected(is_chosen);
            node.set_position_in_set(self.arranged.nth_row(place));
        });
        if response.clicked() || (response.has_focus() && !is_chosen) {
            did.chose = Some(line.spindle);
            response.request_focus();
        }
        did.opens |= response.double_clicked();

        let colours = palette(ui);
        let ground = if is_chosen { colours.tint } else { colours.paper };
        if is_chosen {
            ui.painter().rect_filled(rect, 0.0, colours.tint);
        } else if response.hovered() {
            ui.painter().rect_filled(rect, 0.0, colours.tint.gamma_multiply(0.6));
        }
        let unit = self.context.shop.settings.force_unit.symbol();
        let look = Look { colours, unit, is_current: self.context.is_current };
        let painter = ui.painter();
        let y = rect.center().y - 0.5;
        cells::paint(ui, painter, self.columns, line, y, &look);
        if let Some(axis) = axis {
            self.paint_ebb(painter, line, axis, rect, ground, colours);
        }
    }

    fn paint_ebb(
        &self,
        painter: &Painter,
        line: &Line,
        axis: &TimeAxis,
        rect: Rect,
        ground: egui::Color32,
        colours: &crate::theme::Palette,
    ) {
        let base = rect.top() + 18.5;
        let place = Place {
            x: axis.x,
            today: axis.day(axis.today),
            day_width: axis.day_width(),
            base,
            height: EBB_HEIGHT,
            ground,
            row: rect.y_range(),
        };
        let row = self.context.due.and_then(|due| line.row.and_then(|index| due.rows.get(index)));
        let shape = row.map(|row| ebb(row, self.context.as_of, line.is_near)).unwrap_or_default();
        ebb_paint::paint(painter, &place, &shape, colours);
    }
}

/// A small triangle before the head by which the rows are sorted.
pub(in crate::pages) fn sort_mark(painter: &Painter, at: egui::Pos2, descending: bool, ink: egui::Color32) {
    let tip = if descending { -2.5 } else { 2.5 };
    let corners = vec![at + vec2(-3.5, -tip), at + vec2(3.5, -tip), at + vec2(0.0, tip)];
    painter.add(egui::Shape::convex_polygon(corners, ink, Stroke::NONE));
}
