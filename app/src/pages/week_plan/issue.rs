//! Which planned orders are handed out: the chosen one, or all planned ones shown.

use crate::pages::{Request, Requests};
use crate::planner::Ask;
use crate::widgets::foot_menu::{self, entry};
use almanac_core::planning::week_view::{PlanBlock, issuable};
use eframe::egui::{Response, Ui};

/// Width of the menu.
const WIDTH: f32 = 260.0;

/// The menu over its key.
pub(super) fn menu(
    ui: &Ui,
    anchor: &Response,
    opens: bool,
    chosen: Option<&PlanBlock>,
    shown: Vec<&PlanBlock>,
    requests: &mut Requests,
) {
    let all = issuable(shown.iter().copied());
    let one = issuable(chosen);
    let chosen_words = chosen
        .zip(chosen.and_then(|block| block.order.as_ref()))
        .map(|(block, order)| format!("Issue order {} of {}", order.name, block.position));
    if all.is_empty() && one.is_empty() {
        if opens {
            let sentence = "no planned order is shown: accept a proposal first, or look at other weeks";
            requests.push(Request::Trouble(sentence.to_owned()));
        }
        return;
    }
    let mut issued = None;
    foot_menu::menu(ui, anchor, opens, WIDTH, |ui, focus| {
        let mut first = focus;
        if let Some(words) = chosen_words.as_ref().filter(|_| !one.is_empty())
            && entry(ui, words, false, std::mem::take(&mut first)).clicked()
        {
            issued = Some(one.clone());
            ui.close();
        }
        if !all.is_empty() {
            let words = match all.len() {
                1 => "Issue the one planned order shown".to_owned(),
                many => format!("Issue all {many} planned orders shown"),
            };
            if entry(ui, &words, false, first).clicked() {
                issued = Some(all.clone());
                ui.close();
            }
        }
    });
    if let Some(orders) = issued {
        requests.push(Request::Plan(Ask::Issue(orders)));
    }
}
