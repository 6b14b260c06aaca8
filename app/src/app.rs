//! The window: one document, one way in, one way out; what the worker computes comes in between.

mod arrivals;
mod commands;
mod files;
mod orders_out;
mod planning;
mod situation;

pub(crate) use situation::{PROGRAM, with_progress};

use crate::command::Command;
use crate::document::{Document, Opened, Revisions};
use crate::forms::FormPanel;
use crate::notices::Notices;
use crate::pages::due::DuePage;
use crate::pages::import::ImportPage;
use crate::pages::orders::OrdersPage;
use crate::pages::shop::ShopPage;
use crate::pages::spindle::SpindlePage;
use crate::pages::week_plan::WeekPlanPage;
use crate::pages::{Page, Request, Requests, welcome};
use crate::path_picker::{DesktopDialogs, PathPicker};
use crate::planner::Planner;
use crate::preferences::{Folders, Preferences};
use crate::results::Results;
use crate::task::Task;
use crate::theme::palette;
use crate::view_state::ViewState;
use crate::what_if::{self, WhatIfMode};
use crate::widgets::path_line::PathLine;
use crate::widgets::{head, keys_list, notice_line};
use crate::worker::Worker;
use almanac_core::ids::SpindleId;
use chrono::{Local, NaiveDate, NaiveDateTime};
use eframe::egui::{self, Key, Modifiers, Popup};
use std::path::PathBuf;
use std::thread::JoinHandle;

/// Width of the panel with a form.
const FORM_WIDTH: f32 = 440.0;

/// Tells the time; tests give one that stands still.
pub type Clock = Box<dyn Fn() -> NaiveDateTime>;

/// What a window needs from outside.
pub struct Surroundings {
    /// Tells the time.
    pub clock: Clock,
    /// Where the program keeps what is its own.
    pub folders: Folders,
    /// Login name, for the journal.
    pub who: String,
    /// Dialogs for paths.
    pub picker: Box<dyn PathPicker>,
}

impl std::fmt::Debug for Surroundings {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Surroundings").field("folders", &self.folders).field("who", &self.who).finish_non_exhaustive()
    }
}

impl Surroundings {
    /// The real ones: the system's clock, the user's folders and name, the desktop's dialogs.
    #[must_use]
    pub fn of_system() -> Self {
        let variable = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty());
        let who = variable("USER").or_else(|| variable("LOGNAME")).map(|name| name.to_string_lossy().into_owned());
        Self {
            clock: Box::new(|| Local::now().naive_local()),
            folders: Folders::of_user(|name| variable(name).map(PathBuf::from)),
            who: who.unwrap_or_else(|| "unknown".to_owned()),
            picker: Box::new(DesktopDialogs),
        }
    }
}

/// An errand that ends with a sentence.
type Errand = Task<Result<String, String>>;

/// A shop on its way: `None` where the user stopped it, else a sentence why not.
type OpeningTask = Task<Result<Option<Opened>, String>>;

/// The window.
#[derive(Debug)]
pub struct App {
    outside: Surroundings,
    preferences: Preferences,
    revisions: Revisions,
    document: Option<Document>,
    /// What is being opened, and from where.
    opening: Option<(OpeningTask, PathBuf)>,
    closing: Vec<JoinHandle<()>>,
    worker: Option<Worker>,
    results: Results,
    errands: Vec<Errand>,
    view: ViewState,
    due: DuePage,
    orders: OrdersPage,
    spindle: SpindlePage,
    shop: ShopPage,
    week_plan: WeekPlanPage,
    planner: Planner,
    import: ImportPage,
    forms: FormPanel,
    what_if: WhatIfMode,
    path_line: Option<PathLine>,
    requests: Requests,
    notices: Notices,
    refused: Option<welcome::Refused>,
    today: NaiveDate,
    /// Of which spindle the last action recorded something.
    recorded_of: Option<SpindleId>,
    /// What was said of it, until its new date is there.
    recorded: Option<(String, SpindleId)>,
    /// A field was typed in, or a menu was open: Esc belongs to those first.
    held_escape: bool,
    title: String,
    /// The user asked to learn from the shop anew.
    learn_anew: bool,
}

impl App {
    /// A window; with a path it opens that.
    #[must_use]
    pub fn new(ctx: &egui::Context, outside: Surroundings, path: Option<PathBuf>) -> Self {
        ctx.options_mut(|options| {
            options.zoom_with_keyboard = false; // 80 to 160 % is ours
            options.fallback_theme = egui::Theme::Light;
        });
        let mut notices = Notices::default();
        let preferences = Preferences::load(&outside.folders).unwrap_or_else(|sentence| {
            notices.trouble(&sentence);
            Preferences::default()
        });
        let worker = Worker::start(ctx).map_err(|sentence| notices.trouble(&sentence)).ok();
        let today = (outside.clock)().date();
        let mut app = Self {
            outside,
            preferences,
            revisions: Revisions::default(),
            document: None,
            opening: None,
            closing: Vec::new(),
            worker,
            results: Results::default(),
            errands: Vec::new(),
            view: ViewState::default(),
            due: DuePage::default(),
            orders: OrdersPage::default(),
            spindle: SpindlePage::default(),
            shop: ShopPage::default(),
            week_plan: WeekPlanPage::default(),
            planner: Planner::default(),
            import: ImportPage::default(),
            forms: FormPanel::default(),
            what_if: WhatIfMode::default(),
            path_line: None,
            requests: Requests::default(),
            notices,
            refused: None,
            today,
            recorded_of: None,
            recorded: None,
            held_escape: false,
            title: PROGRAM.to_owned(),
            learn_anew: false,
        };
        app.apply_preferences(ctx);
        if let Some(path) = path {
            app.open_path(ctx, path);
        }
        app
    }

    /// The open shop, for tests and pages.
    #[must_use]
    pub const fn document(&self) -> Option<&Document> {
        self.document.as_ref()
    }

    /// The open page.
    #[must_use]
    pub const fn page(&self) -> Page {
        self.view.page()
    }

    /// Whether something is still on its way: opening, writing, computing.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.opening.is_some()
            || !self.errands.is_empty()
            || self.import.is_busy()
            || self.what_if.is_busy()
            || self.planner.is_busy()
            || self.orders.is_busy()
            || self.document.as_ref().is_some_and(Document::is_busy)
            || self.worker.as_ref().is_some_and(Worker::is_busy)
    }

    fn page_ui(&mut self, ui: &mut egui::Ui) {
        if self.view.keys_shown {
            if keys_list::ui(ui) {
                self.view.keys_shown = false;
            }
            return;
        }
        let page = self.view.page();
        let closed = self.entry_closed();
        let Some(context) =
            situation::context(self.document.as_ref(), &self.results, self.worker.as_ref(), closed.as_deref())
        else {
            let shown = welcome::Shown {
                recent: &self.recent_shown(),
                refused: self.refused.as_ref(),
                opening: self.opening.as_ref().map(|(task, _)| (task.what.as_str(), task.progress())),
            };
            if let Some(asked) = welcome::ui(ui, &shown) {
                self.asked_in_welcome(ui.ctx(), asked);
            }
            return;
        };
        let chosen = match page {
            Page::Spindle(spindle) => Some(spindle),
            _ => self.due.chosen(),
        };
        let esc_is_free = !self.held_escape && self.path_line.is_none() && self.view.typed_day.is_none();
        let subject = what_if::Subject { spindle: chosen, shown: self.due.shown(), page };
        let in_force = self.document.as_ref().map(Document::snapshot).zip(self.results.figures());
        if let Err(sentence) = self.what_if.frame(ui, &context, subject, (in_force, esc_is_free)) {
            self.notices.trouble(&sentence);
        }
        let shown = self.what_if.shown();
        let context = what_if::over(context, shown.as_deref());
        if self.forms.is_open() {
            let frame = egui::Frame::new().fill(palette(ui).paper);
            egui::Panel::right("form").exact_size(FORM_WIDTH).resizable(false).frame(frame).show(ui, |ui| {
                self.forms.ui(ui, &context, &mut self.requests);
            });
        }
        let held_keys = if self.forms.has_focus() { ui.input_mut(take_keys_pressed) } else { Vec::new() };
        let mut import_asked = None;
        let frame = egui::Frame::new().fill(palette(ui).paper);
        egui::CentralPanel::default().frame(frame).show(ui, |ui| match page {
            Page::Due | Page::Welcome => self.due.ui(ui, &context, &mut self.requests),
            Page::Import => import_asked = self.import.ui(ui, &context),
            Page::Spindle(spindle) => self.spindle.ui(ui, spindle, &context, &mut self.requests),
            Page::WeekPlan => self.week_plan.ui(ui, &context, &self.planner.shown(), &mut self.requests),
            Page::Orders => self.orders.ui(ui, &context, self.planner.plan(), &mut self.requests),
            Page::Shop => self.shop.ui(ui, &context, &mut self.requests),
        });
        ui.input_mut(|input| input.events.extend(held_keys));
        self.asked_in_import(ui.ctx(), import_asked);
    }

    /// Esc, where nobody else took it: the notice, then the form, then the page.
    fn leave_with_escape(&mut self, ui: &egui::Ui) {
        if self.held_escape || !ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) {
            return;
        }
        if self.path_line.take().is_some() {
            return;
        }
        if self.view.keys_shown {
            self.view.keys_shown = false;
        } else if self.notices.current().is_some() {
            self.notices.dismiss();
        } else if let Some((opening, _)) = &self.opening {
            opening.stop();
        } else if self.forms.is_open() {
            self.requests.push(Request::CloseForm);
        } else if self.worker.as_ref().is_some_and(Worker::is_slow) {
            self.run(ui.ctx(), Command::StopUpdating);
        } else if self.import.is_busy() && self.view.page() == Page::Import {
            self.import.stop();
        } else if self.document.is_some() {
            self.view.back();
        }
    }
}

/// Takes what was typed out of the input: it is meant for the form, and the keys of the page rest.
fn take_keys_pressed(input: &mut egui::InputState) -> Vec<egui::Event> {
    let is_typed = |event: &egui::Event| matches!(event, egui::Event::Key { .. } | egui::Event::Text(_));
    input.events.extract_if(.., |event| is_typed(event)).collect()
}

impl eframe::App for App {
    fn logic(&mut self, ctx: &egui::Context, _frame: &mut eframe::Frame) {
        self.take_arrivals(ctx);
        self.take_keys(ctx);
        self.take_dropped(ctx);
        self.drain_requests(ctx);
        self.request_figures();
        self.request_plan(ctx);
        self.wake_at_midnight(ctx);
        self.set_title(ctx);
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        let ground = ui.max_rect();
        ui.painter().rect_filled(ground, 0.0, palette(ui).paper);
        let recent = self.recent_shown();
        let mut typed = self.view.typed_day.take();
        let asked = head::ui(ui, &self.head(&recent), &mut typed);
        self.view.typed_day = typed;
        self.path_line_ui(ui);
        notice_line::give(ui.ctx(), self.notices.current(), self.notices.waiting());
        self.page_ui(ui);
        notice_line::show(ui); // where the page has no foot
        match notice_line::take_answer(ui.ctx()) {
            Some(notice_line::Answer::Dismissed) => self.notices.dismiss(),
            Some(notice_line::Answer::Mend(command)) => {
                self.notices.dismiss();
                self.run(ui.ctx(), command);
            }
            None => {}
        }
        self.asked_in_head(ui.ctx(), asked);
        self.leave_with_escape(ui);
        self.held_escape = ui.ctx().text_edit_focused() || Popup::is_any_open(ui.ctx());
        self.drain_requests(ui.ctx());
        self.keep_views();
    }

    fn on_exit(&mut self, _gl: Option<&eframe::glow::Context>) {
        if let Some(document) = self.document.take() {
            self.leave(document);
        }
        for thread in self.closing.drain(..) {
            // A fault there was already told, or there is nobody left to tell.
            let _fault = thread.join();
        }
    }
}
