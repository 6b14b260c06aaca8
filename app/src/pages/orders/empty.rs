//! What stands in the list while it has no lines: one sentence, and the key that helps.

use crate::pages::PageContext;
use crate::theme::{MARGIN, TABLE_ROW, palette, serif, size};
use crate::widgets::foot::{FootKey, foot_key};
use eframe::egui::{self, Align, Layout, Rect, RichText, UiBuilder, vec2};

/// What the user wants instead of an empty list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mend {
    /// No filter.
    ShowAll,
    /// Closed orders too.
    ShowClosed,
    /// The due page.
    GoDue,
}

/// Says why no line is there; `all`: lines without the filter.
pub(super) fn show(
    ui: &mut egui::Ui,
    area: Rect,
    context: &PageContext<'_>,
    (all, closed): (usize, bool),
) -> Option<Mend> {
    let has_orders = !context.shop.orders.is_empty();
    let (words, key, mend) = if context.shop.spindles.is_empty() {
        let words = "No spindles yet, so there is nothing to order. Begin on the due page:";
        (words.to_owned(), FootKey { printed: "Ctrl 1", does: "due" }, Mend::GoDue)
    } else if context.due.is_none() {
        ("The list is being worked out.".to_owned(), FootKey { printed: "Ctrl 1", does: "due" }, Mend::GoDue)
    } else if all > 0 {
        let words = if all == 1 { "The one line".to_owned() } else { format!("None of the {all} lines") };
        let fits = if all == 1 { "does not fit this filter." } else { "fits this filter." };
        (format!("{words} {fits}"), FootKey { printed: "Esc", does: "show all again" }, Mend::ShowAll)
    } else if has_orders && !closed {
        let words = "No order is open, and nothing is to book within the booking horizon.";
        (words.to_owned(), FootKey { printed: "C", does: "show closed orders" }, Mend::ShowClosed)
    } else {
        let words = "No order was written yet, and nothing is to book. What comes due stands on the due page:";
        (words.to_owned(), FootKey { printed: "Ctrl 1", does: "due" }, Mend::GoDue)
    };
    let rect = Rect::from_min_size(area.left_top() + vec2(MARGIN, TABLE_ROW), vec2(area.width() - 2.0 * MARGIN, 26.0));
    let builder = UiBuilder::new().max_rect(rect).layout(Layout::left_to_right(Align::Center)).id_salt("no orders");
    ui.scope_builder(builder, |ui| {
        ui.spacing_mut().item_spacing.x = 12.0;
        ui.label(RichText::new(words).font(serif(size::REASON)).color(palette(ui).ink));
        foot_key(ui, key, true).clicked().then_some(mend)
    })
    .inner
}
