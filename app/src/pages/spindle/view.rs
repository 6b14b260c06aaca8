//! What the parts of the page look at: the spindle with all that belongs to it.

use crate::pages::PageContext;
use crate::theme::{Palette, palette};
use almanac_core::due::{DueRow, Mark};
use almanac_core::forecast::SpindleForecast;
use almanac_core::ids::{ReadingId, Row, SpindleId};
use almanac_core::reading::Reading;
use almanac_core::spindle::Spindle;
use almanac_core::units::{Kilonewtons, Millimetres, Unit};
use almanac_core::words;
use chrono::NaiveDate;
use eframe::egui::{self, Color32};

/// The spindle of the page.
#[derive(Debug, Clone, Copy)]
pub(super) struct View<'a> {
    pub(super) context: &'a PageContext<'a>,
    pub(super) id: SpindleId,
    pub(super) spindle: &'a Spindle,
    pub(super) forecast: Option<&'a SpindleForecast>,
    pub(super) row: Option<&'a DueRow>,
    pub(super) colours: &'static Palette,
}

impl<'a> View<'a> {
    /// The spindle in the shop; `None` where it is not there (any more).
    pub(super) fn of(ui: &egui::Ui, context: &'a PageContext<'a>, id: SpindleId) -> Option<Self> {
        let spindle = context.shop.spindles.get(&id)?;
        let forecast = context.forecast.and_then(|forecast| forecast.spindles.get(&id)).map(AsRef::as_ref);
        let row = context.due.and_then(|due| due.rows.iter().find(|row| row.spindle == id));
        Some(Self { context, id, spindle, forecast, row, colours: palette(ui) })
    }

    pub(super) fn as_of(&self) -> NaiveDate {
        self.context.as_of
    }

    /// The figures in force, where those of this spindle are pretended.
    pub(super) fn before(&self) -> Option<&'a SpindleForecast> {
        self.context.what_if?.before_of(self.id)
    }

    pub(super) fn mark(&self) -> Option<Mark> {
        self.row.map(|row| row.mark)
    }

    /// Ink of figures: second ink while they belong to an earlier state of the shop.
    pub(super) fn figure_ink(&self) -> Color32 {
        if self.context.is_current { self.colours.ink } else { self.colours.ink2 }
    }

    /// Why the projection leaves a reading out; `None`: it does not.
    pub(super) fn left_out(&self, reading: ReadingId) -> Option<&str> {
        let left_out = &self.forecast?.left_out;
        left_out.iter().find(|(id, _)| *id == reading).map(|(_, why)| why.as_str())
    }

    /// That a person or the projection doubts a reading, and why; `None`: nobody does.
    pub(super) fn doubt(&self, reading: &Row<ReadingId, Reading>) -> Option<String> {
        match (self.left_out(reading.id), &reading.doubt) {
            (Some(why), _) => Some(format!("doubted: {why}")),
            (None, Some(why)) if !why.is_empty() => Some(format!("doubted: {why}")),
            (None, Some(_)) => Some("doubted".to_owned()),
            (None, None) => None,
        }
    }

    /// Unit of forces on the screen.
    pub(super) fn force_unit(&self) -> Unit {
        self.context.shop.settings.force_unit
    }

    /// Unit of lengths on the screen.
    pub(super) fn length_unit(&self) -> Unit {
        self.context.shop.settings.length_unit
    }

    /// A force with its unit.
    pub(super) fn force(&self, force: Kilonewtons) -> String {
        words::force_with_unit(force, self.spindle.nominal_force, self.force_unit())
    }

    /// A force that is a mean of strokes, with two decimals and without its unit.
    pub(super) fn mean_force(&self, force: Kilonewtons) -> String {
        match self.force_unit() {
            Unit::Kilonewton => words::number(force.get(), 2),
            unit => words::force_in(force, self.spindle.nominal_force, unit),
        }
    }

    /// An uncertainty of a force without its unit: one decimal more than the force has.
    pub(super) fn force_spread(&self, force: Kilonewtons) -> String {
        match self.force_unit() {
            Unit::Kilonewton => words::number(force.get(), 2),
            unit => words::number(unit.from_base(force.get()), 0),
        }
    }

    /// A length without its unit.
    pub(super) fn length(&self, length: Millimetres) -> String {
        words::length_in(length, self.length_unit())
    }

    /// Where it sits, such as `R-04`; its own name where it is not mounted.
    pub(super) fn position(&self) -> Option<String> {
        let position = self.context.shop.position_on(self.id, self.as_of())?;
        Some(self.context.shop.position_label(position))
    }

    /// The spindles before and after it in the order of the due list; of the one in force while
    /// something is pretended, or what is pretended of a spindle would change the way back.
    pub(super) fn neighbours(&self) -> [Option<(SpindleId, String)>; 2] {
        let in_force = self.context.what_if.map(|what_if| &*what_if.before_due);
        let order: Vec<(SpindleId, String)> = match in_force.or(self.context.due) {
            Some(due) => due
                .rows
                .iter()
                .map(|row| (row.spindle, row.position.clone().unwrap_or_else(|| row.name.clone())))
                .collect(),
            None => self.context.shop.spindles.iter().map(|(id, spindle)| (*id, spindle.name.clone())).collect(),
        };
        let here = order.iter().position(|(id, _)| *id == self.id);
        let at = |index: Option<usize>| index.and_then(|index| order.get(index).cloned());
        [at(here.and_then(|here| here.checked_sub(1))), at(here.map(|here| here + 1))]
    }
}
