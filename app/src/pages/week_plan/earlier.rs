//! Open orders from before the plan, which no week of it shows: one line each, and for the chosen
//! one what to do next.

use super::lines::{Line, counted, listed, rest};
use super::nav;
use super::panel::{paragraph, section};
use crate::pages::PageContext;
use crate::theme::{palette, sans, semibold, size};
use crate::widgets::foot::{FootKey, foot_key};
use crate::widgets::text;
use almanac_core::orders_list::OrderStep;
use almanac_core::planning::proposal::{LeftService, ServiceKey};
use almanac_core::planning::week_view::{EarlierOrder, WeekView};
use almanac_core::words;
use eframe::egui::{self, Id, pos2, vec2};

/// The id of its line.
pub(super) fn line_id(service: ServiceKey) -> Id {
    Id::unique(("plan earlier", service))
}

/// That of a service, wherever a proposal would put it.
pub(super) fn known(view: &WeekView, service: Option<ServiceKey>) -> Option<&EarlierOrder> {
    view.earlier.iter().find(|order| Some(order.service) == service)
}

/// That of a service, where it is one and stands nowhere else: a proposal may give it a new place.
pub(super) fn of(view: &WeekView, service: Option<ServiceKey>) -> Option<&EarlierOrder> {
    let order = known(view, service)?;
    let block = nav::block_of(view, order.service).and_then(|index| view.blocks.get(index));
    block.is_none_or(|block| block.day <= order.day).then_some(order)
}

/// Those that have a line of their own.
pub(super) fn lines(view: &WeekView) -> &[EarlierOrder] {
    listed(&view.earlier)
}

/// What was asked for about the chosen one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Asked {
    Step(Say),
    Move,
}

/// What can be said of an order whose day is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Say {
    Done,
    PartlyDone,
    NotDone,
}

impl Say {
    pub(super) const fn step(self) -> OrderStep {
        match self {
            Self::Done => OrderStep::Done,
            Self::PartlyDone => OrderStep::PartlyDone,
            Self::NotDone => OrderStep::NotDone,
        }
    }
}

/// The chosen one, with its steps; `left`: why it found no place in the plan.
pub(super) fn chosen(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    order: &EarlierOrder,
    left: Option<&LeftService>,
) -> Option<Asked> {
    let colours = palette(ui);
    section(ui, &order.position);
    let mut about = vec![
        order.name.clone(),
        format!("{} service", order.kind.key()),
        order.technicians.join(", "),
        format!("order {}", order.number),
    ];
    about.retain(|part| !part.is_empty());
    paragraph(ui, &about.join(", "), sans(size::BODY), colours.ink2);
    stands(ui, context, order);
    paragraph(ui, order.next(), sans(size::BODY), colours.ink);
    if let Some(left) = left {
        paragraph(ui, &left.words, sans(size::BODY), colours.ink2);
    }
    keys(ui, context, order, true)
}

/// The chosen one, to which a proposal gives a new place: how its order stands, and what may be said
/// of it all the same.
pub(super) fn placed_anew(ui: &mut egui::Ui, context: &PageContext<'_>, order: &EarlierOrder) -> Option<Asked> {
    ui.add_space(4.0);
    stands(ui, context, order);
    keys(ui, context, order, false)
}

fn stands(ui: &mut egui::Ui, context: &PageContext<'_>, order: &EarlierOrder) {
    let colours = palette(ui);
    let stands = format!("{}.", words::capital(&order.stands(context.as_of)));
    let (font, ink) =
        if order.needs_action() { (semibold(size::BODY), colours.act) } else { (sans(size::BODY), colours.ink) };
    paragraph(ui, &stands, font, ink);
}

fn keys(ui: &mut egui::Ui, context: &PageContext<'_>, order: &EarlierOrder, with_move: bool) -> Option<Asked> {
    ui.add_space(6.0);
    let is_open = context.entry_closed.is_none();
    let mut asked = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(14.0, 6.0);
        let steps = [("D", "done", Say::Done), ("L", "partly done", Say::PartlyDone), ("N", "not done", Say::NotDone)];
        for (printed, does, say) in steps {
            if foot_key(ui, FootKey { printed, does }, is_open).clicked() {
                asked = Some(Asked::Step(say));
            }
        }
        let may_move = is_open && order.stays_because().is_none();
        if with_move && foot_key(ui, FootKey { printed: "M", does: "to a later window" }, may_move).clicked() {
            asked = Some(Asked::Move);
        }
    });
    asked
}

/// Draws the lines; answers which one was chosen.
pub(super) fn ui(
    ui: &mut egui::Ui,
    context: &PageContext<'_>,
    earlier: &[EarlierOrder],
    chosen: Option<ServiceKey>,
) -> Option<ServiceKey> {
    section(ui, "Open from earlier days");
    ui.add_space(4.0);
    let mut chose = None;
    for order in listed(earlier) {
        if line(ui, context, order, chosen == Some(order.service)) {
            chose = Some(order.service);
        }
        ui.add_space(4.0);
    }
    if let Some(more) = rest(earlier) {
        counted(ui, &format!("and {} more: see the orders", words::number(more as f64, 0)));
    }
    chose
}

fn line(ui: &mut egui::Ui, context: &PageContext<'_>, order: &EarlierOrder, is_chosen: bool) -> bool {
    let sentence = order.sentence(context.as_of);
    let id = line_id(order.service);
    let line = Line { id, height: 38.0, reach: vec2(6.0, 1.0), is_chosen, sentence: &sentence };
    line.ui(ui, |ui, rect| {
        let (colours, painter) = (palette(ui), ui.painter());
        let (font, ink) =
            if order.needs_action() { (semibold(size::LABEL), colours.act) } else { (sans(size::LABEL), colours.ink2) };
        let y = rect.top() + 10.0;
        let day = words::date_short(order.day, context.as_of);
        let day = text::right(painter, pos2(rect.right(), y), &day, font, ink);
        let place = text::left(painter, pos2(rect.left(), y), &order.position, semibold(size::BODY), colours.ink);
        let room = day.left() - place.right() - 18.0;
        let number = pos2(place.right() + 10.0, y);
        text::left_cut(painter, number, &order.number, sans(size::LABEL), colours.ink2, room);
        let who = order.technicians.join(", ");
        let state = [order.state.key(), &who].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>();
        let below = pos2(rect.left(), rect.top() + 27.0);
        text::left_cut(painter, below, &state.join(", "), sans(size::BODY), colours.ink2, rect.width());
    })
}
