//! A short list over a key of the foot.

use eframe::egui::{self, Button, Popup, PopupCloseBehavior, Response};

/// A list over its key. Opened from the keyboard it hands the focus to the entry in force.
pub fn menu(ui: &egui::Ui, anchor: &Response, opens: bool, width: f32, entries: impl FnOnce(&mut egui::Ui, bool)) {
    let id = Popup::default_response_id(anchor);
    let wants_focus = id.with("wants focus");
    if opens {
        Popup::open_id(ui.ctx(), id);
        ui.data_mut(|data| data.insert_temp(wants_focus, true));
    }
    Popup::menu(anchor).close_behavior(PopupCloseBehavior::CloseOnClick).width(width).show(|ui| {
        // the first pass only measures: a focus given there would be lost
        let focus = !ui.is_sizing_pass() && ui.data_mut(|data| data.remove_temp::<bool>(wants_focus)).is_some();
        entries(ui, focus);
    });
}

/// An entry of it.
pub fn entry(ui: &mut egui::Ui, words: &str, is_current: bool, focus: bool) -> Response {
    let response = ui.add(Button::selectable(is_current, words));
    if focus {
        response.request_focus();
    }
    response
}
