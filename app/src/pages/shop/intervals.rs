//! The best interval of an interface beside the one that the shop keeps: in words, and as a curve of
//! what each interval costs.

use super::drift::said;
use crate::charts::scale::{marks, step_of};
use crate::charts::small::Small;
use crate::pages::PageContext;
use crate::theme::{Palette, palette, sans, size};
use almanac_core::best_interval::{BestInterval, IntervalCost};
use almanac_core::interface::Interface;
use almanac_core::words;
use eframe::egui::{self, Align2, Pos2, Rect, Role, Sense, Shape, Stroke, WidgetInfo, pos2, vec2};

const WIDTH: f32 = 460.0;
const HEIGHT: f32 = 132.0;
/// Intervals are drawn up to so many times the best one, and costs up to so many times the least.
const SHOWN_DAYS: f64 = 2.6;
const SHOWN_COST: f64 = 2.5;

/// Says what is known of an interface's intervals; the chosen one shows the curve too.
pub(super) fn ui(ui: &mut egui::Ui, context: &PageContext<'_>, interface: &Interface, is_chosen: bool) {
    let colours = palette(ui);
    let Some((_, known)) = context.intervals.iter().find(|(of, _)| of == interface) else { return };
    match known {
        Ok(best) => {
            said(ui, &best.words, colours.ink2);
            if is_chosen {
                curve_ui(ui, best, &context.shop.settings.currency, colours);
            }
        }
        Err(none) => said(ui, &none.words, colours.ink2),
    }
}

fn curve_ui(ui: &mut egui::Ui, best: &BestInterval, currency: &str, colours: &Palette) {
    let (place, response) = ui.allocate_exact_size(vec2(WIDTH.min(ui.available_width()), HEIGHT), Sense::hover());
    let told = format!("Cost of each interval of {} per spindle and year. {}", best.interface.as_str(), best.words);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &told));
    let least = best.curve.iter().map(|at| at.per_year.get()).fold(f64::INFINITY, f64::min);
    let Some(end) = best.curve.last().filter(|_| least.is_finite() && least > 0.0) else { return };
    let kept = best.fixed.map_or(0.0, |fixed| fixed.cost.days);
    let middle = best.optimum.map_or(end.days, |optimum| optimum.days).max(kept);
    let x_span = (0.0, (SHOWN_DAYS * middle).min(end.days));
    let y_span = (0.0, SHOWN_COST * least);
    let days = marks(x_span.0, x_span.1, step_of(x_span.0, x_span.1, 5));
    let last_day = days.len().saturating_sub(1);
    let x_marks: Vec<_> = days
        .iter()
        .enumerate()
        .map(|(index, days)| {
            let figure = words::number(*days, 0);
            (*days, if index == last_day { format!("{figure} days") } else { figure })
        })
        .collect();
    let costs = marks(y_span.0, y_span.1, step_of(y_span.0, y_span.1, 3));
    let y_marks: Vec<_> = costs.iter().map(|cost| (*cost, words::number(*cost, 0))).collect();
    let painter = ui.painter();
    let small = Small::paint(painter, place, (x_span, &x_marks), (y_span, &y_marks), colours);
    let inside = painter.with_clip_rect(small.plot.expand(1.0));
    let line: Vec<Pos2> =
        best.curve.iter().take_while(|at| at.days <= x_span.1).map(|at| small.at(at.days, at.per_year.get())).collect();
    inside.add(Shape::line(line, Stroke::new(1.8, colours.deep)));
    let unit = if currency.is_empty() { "a year".to_owned() } else { format!("{currency} a year") };
    painter.text(small.plot.left_top() + vec2(6.0, 0.0), Align2::LEFT_TOP, unit, sans(size::LABEL), colours.ink2);
    // the shorter one has its words at its left, so that they do not cross
    let mark = |at: IntervalCost, word: &str, is_dashed: bool, is_shorter: bool| {
        let x = painter.round_to_pixel_center(small.x.px(at.days));
        let stroke = Stroke::new(1.2, colours.ink);
        let ends = [pos2(x, small.plot.top()), pos2(x, small.plot.bottom())];
        if is_dashed {
            painter.extend(Shape::dashed_line(&ends, stroke, 5.0, 3.0));
        } else {
            painter.line_segment(ends, stroke);
        }
        painter.circle_filled(small.at(at.days, at.per_year.get().min(y_span.1)), 3.0, colours.ink);
        let text = format!("{word} {} days, {}", words::number(at.days, 0), words::money_in(at.per_year, currency));
        let galley = painter.layout_no_wrap(text, sans(size::LABEL), colours.ink);
        let to_right = x + 6.0;
        let to_left = x - 6.0 - galley.size().x;
        let has_room = |left: f32| left >= small.plot.left() && left + galley.size().x <= place.right();
        let (first, second) = if is_shorter { (to_left, to_right) } else { (to_right, to_left) };
        let left = if has_room(first) { first } else { second };
        let row = if is_shorter { 1.0 } else { 0.0 };
        let at = pos2(left, small.plot.top() + 2.0 + row * 16.0);
        painter.rect_filled(Rect::from_min_size(at, galley.size()), 0.0, colours.paper);
        painter.galley(at, galley, colours.ink);
    };
    let shop_is_longer = best.optimum.zip(best.fixed).is_none_or(|(best, fixed)| best.days <= fixed.cost.days);
    if let Some(optimum) = best.optimum {
        mark(optimum, "best", false, shop_is_longer);
    }
    if let Some(fixed) = best.fixed {
        mark(fixed.cost, "the shop's", true, !shop_is_longer);
    }
}
