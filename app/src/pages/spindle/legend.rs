//! What the marks of the drift chart mean, under it: in as many lines as the width takes.

use super::view::View;
use crate::charts::marks;
use crate::theme::{sans, size};
use almanac_core::reading::Phase;
use eframe::egui::{self, Color32, Painter, Pos2, Rect, Role, Sense, Stroke, WidgetInfo, pos2, vec2};

/// One mark with its word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Entry {
    Reading(Phase),
    Stroke,
    Service,
    Step,
    Fan,
    Replaced,
}

/// Which entries are worth a place beyond those that always stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Shown {
    pub(super) steps: bool,
    pub(super) replaced: bool,
}

/// Height of a line.
const PITCH: f32 = 17.0;
/// Where lines begin: at the plot.
const INDENT: f32 = 42.0;
/// Between two entries.
const GAP: f32 = 20.0;
/// Shares of the fan, with the room of swatch and gap before and after the word.
const SHARES: [&str; 3] = ["50 %", "80 %", "90 %"];
const SWATCH: f32 = 19.0;
const SHARE_GAP: f32 = 10.0;

impl Entry {
    const fn word(self) -> &'static str {
        match self {
            Self::Reading(phase) => phase.label(),
            Self::Stroke => "single stroke",
            Self::Service => "service",
            Self::Step => "drop at once",
            Self::Fan => "of where the force may go",
            Self::Replaced => "no longer counts",
        }
    }

    fn all(shown: Shown) -> Vec<Self> {
        let mut all = [Phase::AsFound, Phase::AsLeft, Phase::Routine].map(Self::Reading).to_vec();
        all.extend([Self::Stroke, Self::Service]);
        all.extend(shown.steps.then_some(Self::Step));
        all.push(Self::Fan);
        all.extend(shown.replaced.then_some(Self::Replaced));
        all
    }

    /// From its mark to the end of its word.
    fn width(self, painter: &Painter) -> f32 {
        let shares = if self == Self::Fan {
            SHARES.iter().map(|share| SWATCH + width_of(painter, share) + SHARE_GAP).sum()
        } else {
            9.0
        };
        shares + width_of(painter, self.word())
    }

    fn paint(self, painter: &Painter, at: Pos2, view: &View<'_>) {
        let c = view.colours;
        let word = |x: f32, text: &str| {
            crate::widgets::text::left(painter, pos2(x, at.y), text, sans(size::LABEL), c.ink2).right()
        };
        let mut x = at.x + 9.0;
        match self {
            Self::Reading(phase) => marks::reading(painter, at, phase, c.ink, c.paper),
            Self::Stroke => {
                painter.circle_filled(at, 1.0, c.ink2);
            }
            Self::Service => marks::service(painter, at, false, c.ink),
            Self::Step => {
                for y in [at.y - 3.0, at.y + 3.0] {
                    painter.hline(at.x - 5.0..=at.x + 5.0, y, Stroke::new(2.4, c.act));
                }
            }
            Self::Replaced => marks::cross(painter, at, 3.2, Stroke::new(1.2, c.ink3)),
            Self::Fan => {
                x = at.x;
                for (fill, share) in [c.mid, c.pale, c.faint].into_iter().zip(SHARES) {
                    let swatch = Rect::from_min_size(pos2(x, at.y - 5.0), vec2(14.0, 10.0));
                    painter.rect_filled(swatch, 0.0, fill);
                    x = word(x + SWATCH, share) + SHARE_GAP;
                }
            }
        }
        word(x, self.word());
    }
}

fn width_of(painter: &Painter, text: &str) -> f32 {
    painter.layout_no_wrap(text.to_owned(), sans(size::LABEL), Color32::BLACK).size().x
}

/// How many of the entries stand in each line.
fn lines(widths: &[f32], room: f32) -> Vec<usize> {
    let mut lines = Vec::new();
    let (mut count, mut taken) = (0, 0.0);
    for width in widths {
        if count > 0 && taken + GAP + width > room {
            lines.push(count);
            (count, taken) = (0, 0.0);
        }
        taken += if count > 0 { GAP + width } else { *width };
        count += 1;
    }
    lines.push(count);
    lines
}

fn widths(painter: &Painter, entries: &[Entry]) -> Vec<f32> {
    entries.iter().map(|entry| entry.width(painter)).collect()
}

/// The height it takes at a width.
pub(super) fn height(ui: &egui::Ui, width: f32, shown: Shown) -> f32 {
    let entries = Entry::all(shown);
    let lines = lines(&widths(ui.painter(), &entries), width - INDENT).len();
    24.0 + PITCH * (lines.max(1) - 1) as f32
}

/// Draws it into a place of that height.
pub(super) fn ui(ui: &egui::Ui, place: Rect, view: &View<'_>, shown: Shown) {
    let entries = Entry::all(shown);
    let widths = widths(ui.painter(), &entries);
    let mut rest = entries.iter().zip(&widths);
    let mut y = (place.top() + 12.0).round();
    for count in lines(&widths, place.width() - INDENT) {
        let mut x = place.left() + INDENT;
        for (entry, width) in rest.by_ref().take(count) {
            entry.paint(ui.painter(), pos2(x, y), view);
            let rect = Rect::from_min_size(pos2(x - 5.0, y - PITCH / 2.0), vec2(width + 5.0, PITCH));
            let said = ui.interact(rect, ui.scope_id().with(("legend", entry.word())), Sense::hover());
            said.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("mark: {}", entry.word())));
            x += width + GAP;
        }
        y += PITCH;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_wrap_where_the_width_ends() {
        assert_eq!(lines(&[50.0, 50.0, 50.0], 190.0), [3]);
        assert_eq!(lines(&[50.0, 50.0, 50.0], 189.0), [2, 1]);
        assert_eq!(lines(&[50.0, 500.0, 50.0], 100.0), [1, 1, 1]);
    }
}
