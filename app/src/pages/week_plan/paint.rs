//! Trays and blocks as they are painted.

use crate::theme::{Palette, palette, sans, semibold, size};
use crate::widgets::{mark, text};
use almanac_core::due::Mark;
use almanac_core::planning::week_view::{PlanBlock, Standing, hours};
use almanac_core::service::Kind;
use almanac_core::units::Minutes;
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Color32, Painter, Rect, Shape, Stroke, StrokeKind, pos2, vec2};

/// Height of a line of words in a block.
const LINE: f32 = 14.0;
/// A narrower block shows its position and little else.
const NARROW: f32 = 72.0;

/// How a block is shown.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Look {
    pub(super) is_hovered: bool,
    /// The figures behind it are older than the shop.
    pub(super) is_old: bool,
    /// It is being moved away from here.
    pub(super) is_moving: bool,
}

/// An open box: sides and floor, hours as ticks; a running shift is dashed in the accent all round.
pub(super) fn tray(painter: &Painter, colours: &Palette, body: Rect, hour: f32, is_running: bool, is_aimed_at: bool) {
    painter.rect_filled(body, 0.0, colours.field);
    let ticks = (body.height() / hour + 0.01).ceil() as usize;
    for nth in 1..ticks {
        let y = body.bottom() - hour * nth as f32;
        painter.hline(body.left()..=body.left() + 5.0, y, Stroke::new(1.0, colours.rule2));
    }
    if is_running {
        let pen = Stroke::new(1.3, colours.act);
        let corners = [body.left_top(), body.right_top(), body.right_bottom(), body.left_bottom(), body.left_top()];
        painter.extend(Shape::dashed_line(&corners, pen, 3.5, 2.5));
        return;
    }
    let pen = Stroke::new(if is_aimed_at { 2.0 } else { 1.0 }, colours.ink);
    painter.line_segment([body.left_top(), body.left_bottom()], pen);
    painter.line_segment([body.left_bottom(), body.right_bottom()], pen);
    painter.line_segment([body.right_bottom(), body.right_top()], pen);
}

/// A block with its words.
pub(super) fn block(ui: &egui::Ui, painter: &Painter, rect: Rect, block: &PlanBlock, as_of: NaiveDate, look: Look) {
    let colours = palette(ui);
    let is_wrong = matches!(block.mark, Mark::DoNotRun | Mark::PastLimit);
    let is_ghost = block.standing.is_left_behind() || look.is_moving;
    let (ground, edge) = match (is_ghost, is_wrong) {
        (true, _) => (colours.field, colours.ink2),
        (false, true) => (colours.act_tint, colours.act),
        (false, false) => (colours.tint, colours.mid),
    };
    painter.rect_filled(rect, 0.0, if look.is_hovered && !is_wrong && !is_ghost { colours.faint } else { ground });
    if is_ghost || block.standing.is_open() {
        let inner = rect.shrink(0.5);
        let corners =
            [inner.left_top(), inner.right_top(), inner.right_bottom(), inner.left_bottom(), inner.left_top()];
        let pen = if is_ghost { Stroke::new(1.0, colours.edge) } else { Stroke::new(1.5, colours.deep) };
        painter.extend(Shape::dashed_line(&corners, pen, 4.0, 3.0));
    } else {
        painter.rect_stroke(rect, 0.0, Stroke::new(1.0, edge), StrokeKind::Inside);
    }
    if block.service.held && !is_ghost {
        painter.rect_filled(Rect::from_min_size(rect.min, vec2(3.0, rect.height())), 0.0, colours.ink);
    }
    words_of(ui, painter, rect, block, as_of, look, is_ghost);
}

/// The frame of the chosen block: painted after its neighbours, so that none lies over it.
pub(super) fn frame(painter: &Painter, colours: &Palette, rect: Rect) {
    painter.rect_stroke(rect.expand(1.0), 0.0, Stroke::new(2.0, colours.ink), StrokeKind::Outside);
}

/// The words in a block, as many as find room.
fn words_of(
    ui: &egui::Ui,
    painter: &Painter,
    rect: Rect,
    block: &PlanBlock,
    as_of: NaiveDate,
    look: Look,
    is_ghost: bool,
) {
    let colours = palette(ui);
    let painter = painter.with_clip_rect(rect.intersect(painter.clip_rect()));
    let strong = if look.is_old || is_ghost { colours.ink2 } else { colours.ink };
    let (left, right) = (rect.left() + 7.0, rect.right() - 6.0);
    let mut y = rect.top() + 9.5;
    let is_narrow = rect.width() < NARROW;
    let left = if is_narrow { rect.left() + 4.0 } else { left };
    let font = if is_narrow { size::SMALL } else { size::BODY };
    let width = |text: &str, font| painter.layout_no_wrap(text.to_owned(), font, strong).size().x;
    let place_font = if is_ghost { sans(font) } else { semibold(font) };
    let mut room = rect.right() - 2.0 - left;
    let length = format!("{} h", hours(Minutes::new(block.service.minutes as f64).unwrap_or_default()));
    // where both find no room, the length, which the height shows too, gives way to the position
    let both = width(&block.position, place_font.clone()) + 4.0 + width(&length, sans(size::LABEL));
    if !is_narrow && both <= right - left {
        let taken = text::right(&painter, pos2(right, y), &length, sans(size::LABEL), colours.ink2);
        room = taken.left() - 4.0 - left;
    }
    text::left_cut(&painter, pos2(left, y), &block.position, place_font, strong, room);
    y += LINE;
    let fits = |y: f32| y + LINE / 2.0 + 0.5 <= rect.bottom();
    if is_ghost && fits(y) {
        let word = if look.is_moving { "from here" } else { block.standing.word() };
        text::left_cut(&painter, pos2(left, y), word, sans(size::LABEL), colours.ink2, rect.right() - 2.0 - left);
        return;
    }
    if !fits(y) {
        return;
    }
    let who = block.service.place.technicians.join(", ");
    let mut room = rect.right() - 2.0 - left;
    let (by, ink, font) = service_by(block, as_of, colours);
    // and the date, where nobody must act on it, to the people
    let both = width(&who, sans(size::LABEL)) + 4.0 + width(&by, font.clone());
    if !is_narrow && (both <= right - left || ink == colours.act) {
        let taken = text::right(&painter, pos2(right, y), &by, font, ink);
        room = taken.left() - 4.0 - left;
    }
    text::left_cut(&painter, pos2(left, y), &who, sans(size::LABEL), colours.ink2, room);
    y += LINE + 0.5;
    for line in further(block) {
        if !fits(y) {
            break;
        }
        let mut x = left;
        if let Line::State(state) = line {
            mark::paint(ui, &painter, pos2(x + 5.0, y + 0.5), state);
            x += 14.0;
        }
        let words = if is_narrow { line.short() } else { line.text() };
        let (ink, font) = match line {
            Line::Early => (colours.act, semibold(size::LABEL)),
            Line::State(state) if state.needs_action() => (colours.act, semibold(size::LABEL)),
            Line::Word(_) | Line::Standing(_) => (strong, semibold(size::LABEL)),
            _ => (colours.ink2, sans(size::LABEL)),
        };
        text::left_cut(&painter, pos2(x, y), words, font, ink, rect.right() - 2.0 - x);
        y += LINE;
    }
}

/// What else is to be said, what matters most first.
#[derive(Debug, Clone, Copy)]
enum Line {
    State(Mark),
    Standing(Standing),
    Word(&'static str),
    /// Before the day from which on the planner wants it done.
    Early,
    Kind(&'static str),
}

impl Line {
    const fn text(self) -> &'static str {
        match self {
            Self::State(mark) => mark.label(),
            Self::Standing(standing) => standing.word(),
            Self::Early => "too early",
            Self::Word(word) | Self::Kind(word) => word,
        }
    }

    /// The same where there is little room; the outline and the read-out say the rest.
    const fn short(self) -> &'static str {
        match self {
            Self::State(Mark::DoNotRun) => "stop",
            Self::State(_) => "past",
            Self::Standing(Standing::Added) => "new",
            Self::Standing(Standing::MovedHere) => "moved",
            Self::Standing(Standing::Rearranged) => "time",
            Self::Kind(_) => "major",
            other => other.text(),
        }
    }
}

fn further(block: &PlanBlock) -> Vec<Line> {
    let mut lines = Vec::new();
    if matches!(block.mark, Mark::DoNotRun | Mark::PastLimit) {
        lines.push(Line::State(block.mark));
    }
    if block.is_too_early() {
        lines.push(Line::Early);
    }
    if block.standing.is_open() {
        lines.push(Line::Standing(block.standing));
    }
    if block.is_issued() {
        lines.push(Line::Word("issued"));
    } else if block.is_kept() {
        lines.push(Line::Word("kept"));
    } else if block.service.held {
        lines.push(Line::Word("held"));
    }
    if block.service.kind == Kind::Major {
        lines.push(Line::Kind("major service"));
    }
    lines
}

/// `17 Mar`, or `now`; in the accent where it is due by now or placed too late.
fn service_by(block: &PlanBlock, as_of: NaiveDate, colours: &Palette) -> (String, Color32, egui::FontId) {
    let words = match block.service.service_by {
        Some(by) if by <= as_of => "now".to_owned(),
        Some(by) => words::day_month(by, as_of),
        None => String::new(),
    };
    if block.is_due_now(as_of) || block.is_late() {
        (words, colours.act, semibold(size::LABEL))
    } else {
        (words, colours.ink2, sans(size::LABEL))
    }
}

/// How many stand in a tray that holds more than can be shown.
pub(super) fn count(painter: &Painter, colours: &Palette, body: Rect, filled: f32, words: [&str; 2], is_chosen: bool) {
    let top = body.bottom() - 2.5 - filled.min(body.height() - 2.5);
    let rect = Rect::from_min_max(pos2(body.left() + 2.5, top), body.max - vec2(2.5, 2.5));
    painter.rect_filled(rect, 0.0, colours.tint);
    let pen = if is_chosen { Stroke::new(2.0, colours.ink) } else { Stroke::new(1.0, colours.mid) };
    painter.rect_stroke(rect, 0.0, pen, StrokeKind::Inside);
    let left = rect.left() + 7.0;
    let y = (rect.bottom() - 2.0 * LINE).max(body.top()) + 4.0;
    let [first, second] = words;
    let room = rect.width() - 9.0;
    text::left_cut(painter, pos2(left, y), first, semibold(size::BODY), colours.ink, room);
    text::left_cut(painter, pos2(left, y + LINE), second, sans(size::LABEL), colours.ink2, room);
}

/// From where a service stood to where it is being moved.
pub(super) fn arrow(painter: &Painter, colours: &Palette, from: Rect, to: Rect) {
    let forwards = from.center().x < to.center().x;
    let start = if forwards { from.right_center() } else { from.left_center() };
    let end = if forwards { to.left_center() } else { to.right_center() };
    let (start, end) = if (from.center().x - to.center().x).abs() < 4.0 {
        match from.center().y < to.center().y {
            true => (from.center_bottom(), to.center_top()),
            false => (from.center_top(), to.center_bottom()),
        }
    } else {
        (start, end)
    };
    let along = end - start;
    if along.length() < 4.0 {
        return;
    }
    let (along, pen) = (along.normalized(), Stroke::new(1.5, colours.ink));
    painter.line_segment([start, end - along * 6.0], pen);
    let across = vec2(-along.y, along.x) * 4.0;
    let head = vec![end, end - along * 8.0 + across, end - along * 8.0 - across];
    painter.add(Shape::convex_polygon(head, colours.ink, Stroke::NONE));
}
