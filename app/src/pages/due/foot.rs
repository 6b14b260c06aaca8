//! The foot of the page: its keys with their menus, and beside them the legend or how far the
//! figures are; above, the reason of the chosen row.

use super::line::Line;
use super::view::{DueView, GroupBy, SortBy};
use crate::charts::ebb_paint;
use crate::pages::PageContext;
use crate::theme::{MARGIN, palette, sans, serif_semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::foot_menu::{entry, menu};
use crate::widgets::{mark::rhombus, text};
use crate::worker::Doing;
use almanac_core::ids::SpindleId;
use eframe::egui::{self, FontId, Rect, Response, RichText, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// Height of the reason line.
pub(in crate::pages) const REASON: f32 = 22.0;

/// What the foot is asked and told.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foot<'a> {
    pub(super) context: &'a PageContext<'a>,
    /// A row is chosen.
    pub(super) has_choice: bool,
    /// The keys S and G were pressed: their menus open.
    pub(super) opens_sort: bool,
    pub(super) opens_group: bool,
    /// The key N was pressed: the readings worth taking.
    pub(super) opens_next: bool,
}

/// What the user did there.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Did {
    pub(super) opens: bool,
    pub(super) finds: bool,
    pub(super) filters: bool,
    pub(super) exports: bool,
    pub(super) stops: bool,
    pub(super) renews: bool,
    pub(super) pretends: bool,
    /// A spindle chosen among the readings worth taking.
    pub(super) goes_to: Option<SpindleId>,
}

impl Foot<'_> {
    /// The keys, and at the right the legend, or how far an update is.
    pub(super) fn keys(&self, ui: &mut egui::Ui, view: &mut DueView) -> Did {
        let mut did = Did::default();
        // the line above belongs to the foot too: its keys stand nearer to it than to the edge
        ui.spacing_mut().item_spacing.x = 17.0;
        let key = |printed, does| FootKey { printed, does };
        did.opens = foot_key(ui, key("Enter", "open"), self.has_choice).clicked();
        did.finds = foot_key(ui, key("/", "find"), true).clicked();
        did.filters = foot_key(ui, key("F", "filter"), true).clicked();
        let sort = foot_key(ui, key("S", "sort"), true);
        let group = foot_key(ui, key("G", "group"), true);
        did.pretends = foot_key(ui, key("W", "what if"), !self.context.shop.spindles.is_empty()).clicked();
        did.exports = foot_key(ui, key("E", "export list"), !self.context.shop.spindles.is_empty()).clicked();
        if foot_key(ui, key("+", "more weeks"), view.weeks < 104).clicked() {
            view.more_weeks();
        }
        if foot_key(ui, key("\u{2212}", "fewer weeks"), view.weeks > 13).clicked() {
            view.fewer_weeks();
        }
        if self.context.due.is_some_and(|due| !due.worth_reading.is_empty()) {
            let next = foot_key(ui, key("N", "next readings"), true);
            did.goes_to = super::next::menu(ui, &next, self.opens_next, self.context);
        }
        sort_menu(ui, &sort, self.opens_sort, view);
        group_menu(ui, &group, self.opens_group, view);

        let left = ui.cursor().left();
        let rect = ui.max_rect();
        let free = Rect::from_x_y_ranges(left..=rect.right(), rect.y_range());
        if let Some(words) = updating(self.context) {
            let is_running = self.context.doing.is_some();
            let clicked = update(ui, &words, self.context.doing);
            did.stops = clicked && is_running;
            did.renews = clicked && !is_running;
        } else {
            legend(ui, free);
        }
        did
    }

    /// The chosen row in one sentence, under the ink rule that ends the table.
    pub(super) fn reason(&self, ui: &mut egui::Ui, area: Rect, line: Option<&Line>) {
        let colours = palette(ui);
        let span = area.left() + MARGIN..=area.right() - MARGIN;
        ui.painter().hline(span, area.top() + 0.5, Stroke::new(1.0, colours.ink));
        let Some(line) = line else { return };
        let y = area.top() + 15.0;
        let place = if line.is_mounted { line.position.as_str() } else { "not mounted" };
        let name = format!("{place}  {}", line.name);
        let at = pos2(area.left() + MARGIN, y - 0.5);
        let name = text::left(ui.painter(), at, &name, serif_semibold(size::BODY), colours.ink);
        let at = pos2(name.right() + 16.0, y);
        let ink = if self.context.is_current { colours.ink } else { colours.ink2 };
        let room = (area.right() - MARGIN - at.x).max(0.0);
        text::left_cut(ui.painter(), at, &line.reason, sans(size::BODY), ink, room);
        let rect = Rect::from_x_y_ranges(area.left() + MARGIN..=area.right() - MARGIN, y - 9.0..=y + 9.0);
        let response = ui.interact(rect, ui.scope_id().with("reason"), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &line.reason));
    }
}

/// `updating, 412 of 2,000` while figures are worked out; what the old ones are while they are not.
fn updating(context: &PageContext<'_>) -> Option<String> {
    match context.doing {
        Some(doing) => Some(doing.in_words()),
        None => {
            (!context.is_current && context.due.is_some()).then(|| "figures from before the last change".to_owned())
        }
    }
}

/// The words, and the key that stops or starts an update.
fn update(ui: &mut egui::Ui, words: &str, doing: Option<Doing>) -> bool {
    let colours = palette(ui);
    ui.label(RichText::new(words).font(sans(size::LABEL)).color(colours.ink));
    let key = match doing {
        Some(doing) => FootKey { printed: "Esc", does: doing.stops() },
        None => FootKey { printed: "R", does: "renew" },
    };
    foot_key(ui, key, true).clicked()
}

fn sort_menu(ui: &egui::Ui, anchor: &Response, opens: bool, view: &mut DueView) {
    let current = view.sort;
    menu(ui, anchor, opens, 210.0, |ui, focus| {
        for column in SortBy::ALL {
            let is_current = column == current;
            let turned = if is_current { ", the other way round" } else { "" };
            let response = entry(ui, &format!("{}{turned}", column.label()), is_current, focus && is_current);
            if response.clicked() {
                view.sort_by(column);
                ui.close();
            }
        }
    });
}

fn group_menu(ui: &egui::Ui, anchor: &Response, opens: bool, view: &mut DueView) {
    let current = view.group;
    menu(ui, anchor, opens, 210.0, |ui, focus| {
        for group in GroupBy::ALL {
            if entry(ui, group.label(), group == current, focus && group == current).clicked() {
                view.group = group;
                ui.close();
            }
        }
    });
}

/// One sign of the legend.
#[derive(Debug, Clone, Copy)]
enum Sign {
    Counted,
    Likely,
    Booked,
    LastWindow,
    FixedDate,
    Setting,
}

const LEGEND: [(Sign, f32, &str); 6] = [
    (Sign::Counted, 16.0, "reserve to count on"),
    (Sign::Likely, 16.0, "likely"),
    (Sign::Booked, 8.0, "booked"),
    (Sign::LastWindow, 9.0, "last window"),
    (Sign::FixedDate, 3.0, "fixed date"),
    (Sign::Setting, 6.0, "setting dimension"),
];

/// What the marks of the ebb say, as many as find room, ending at the right margin.
fn legend(ui: &egui::Ui, free: Rect) {
    let colours = palette(ui);
    let painter = ui.painter();
    let font = || -> FontId { sans(size::LABEL) };
    let width = |words: &str| painter.layout_no_wrap(words.to_owned(), font(), colours.ink2).size().x;
    let gap = 16.0;
    let widths: Vec<f32> = LEGEND.iter().map(|(_, sign, words)| sign + 5.0 + width(words)).collect();
    let mut shown = LEGEND.len();
    let total = |shown: usize| widths.iter().take(shown).sum::<f32>() + gap * shown.saturating_sub(1) as f32;
    while shown > 0 && total(shown) > free.width() - 8.0 {
        shown -= 1;
    }
    let mut x = free.right() - total(shown);
    let y = free.center().y;
    for ((sign, sign_width, words), width) in LEGEND.iter().zip(&widths).take(shown) {
        let middle = pos2(x + sign_width / 2.0, y);
        let block = Rect::from_center_size(middle, vec2(*sign_width, 10.0));
        match sign {
            Sign::Counted => {
                painter.rect_filled(block, 0.0, colours.deep);
            }
            Sign::Likely => {
                painter.rect_filled(block, 0.0, colours.pale);
                painter.hline(block.x_range(), block.top(), Stroke::new(1.0, colours.mid));
            }
            Sign::Booked => {
                painter.add(rhombus(middle, 5.5, colours.ink, Stroke::NONE));
            }
            Sign::LastWindow => ebb_paint::ring(painter, middle, colours.act, colours.paper),
            Sign::FixedDate => ebb_paint::bar(painter, middle.x, y - 6.0, y + 6.0, colours.ink),
            Sign::Setting => ebb_paint::notch(painter, x, y - 6.0, y + 6.0, colours.ink),
        }
        text::left(painter, pos2(x + sign_width + 5.0, y), words, font(), colours.ink2);
        x += width + gap;
    }
}
