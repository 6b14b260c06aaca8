//! Gestures: from keys, the menu and pages to what they do.

use super::App;
use crate::command::Command;
use crate::document::OpenWhat;
use crate::pages::{Page, Request};
use crate::preferences::{Colours, SCALE_MAX, SCALE_MIN};
use crate::view_state::TypedDay;
use crate::widgets::head::Asked;
use crate::widgets::menu;
use crate::widgets::path_line::Purpose;
use almanac_core::actions::{Action, Recording};
use almanac_core::ids::SpindleId;
use chrono::{Days, Months, NaiveDate};
use eframe::egui::{self, Popup, ThemePreference};
use std::path::PathBuf;

/// One press of larger or smaller, in percent.
const SCALE_STEP: u32 = 10;

impl App {
    /// Takes the keys of commands; fields keep theirs while one is being typed in.
    pub(super) fn take_keys(&mut self, ctx: &egui::Context) {
        let typing = ctx.text_edit_focused();
        let situation = self.situation();
        // Longer combinations first: Ctrl Shift S is not Ctrl S.
        let mut commands: Vec<Command> = Command::ALL.to_vec();
        commands.sort_by_key(|command| !command.shortcut().is_some_and(|keys| keys.modifiers.shift));
        for command in commands {
            let Some(shortcut) = command.shortcut() else { continue };
            if (typing && command.yields_to_fields()) || !command.is_enabled(situation) {
                continue;
            }
            let mut pressed = ctx.input_mut(|input| input.consume_shortcut(&shortcut));
            if command == Command::Redo {
                let other =
                    egui::KeyboardShortcut::new(egui::Modifiers::COMMAND.plus(egui::Modifiers::SHIFT), egui::Key::Z);
                pressed |= ctx.input_mut(|input| input.consume_shortcut(&other));
            }
            if command == Command::Larger {
                // On many keyboards + is a shifted =.
                let other = egui::KeyboardShortcut::new(egui::Modifiers::COMMAND, egui::Key::Equals);
                pressed |= ctx.input_mut(|input| input.consume_shortcut(&other));
            }
            if pressed {
                self.run(ctx, command);
            }
        }
    }

    /// Does a command.
    pub(super) fn run(&mut self, ctx: &egui::Context, command: Command) {
        if !command.is_enabled(self.situation()) {
            if let Some(closed) = self.entry_closed() {
                self.notices.trouble(&closed);
            }
            return;
        }
        match command {
            Command::GoDue => self.go(Page::Due),
            Command::GoPlan => self.go(Page::WeekPlan),
            Command::GoOrders => self.go(Page::Orders),
            Command::GoShop => self.go(Page::Shop),
            Command::NewShop => {
                self.start_opening(ctx, OpenWhat::New, "making a new shop".to_owned(), PathBuf::new());
            }
            Command::Open => self.ask_path(Purpose::Open),
            Command::OpenFolder => self.ask_path(Purpose::OpenFolder),
            Command::OpenSample => {
                self.start_opening(ctx, OpenWhat::Sample, "opening the sample shop".to_owned(), PathBuf::new());
            }
            Command::Import => self.ask_path(Purpose::Import),
            Command::Save => self.save(),
            Command::SaveAs => self.ask_path(Purpose::SaveAs),
            Command::Backup => self.ask_path(Purpose::Backup),
            Command::ExportList if self.what_if.is_on() => {
                self.notices.trouble("the list holds the figures in force: end the what-if with Esc, then export");
            }
            Command::ExportList => self.ask_path(Purpose::ExportList),
            Command::ExportCalendar if self.what_if.is_on() => {
                self.notices.trouble("the calendar holds the orders in force: end the what-if with Esc, then write it");
            }
            Command::ExportCalendar => self.ask_path(Purpose::ExportCalendar),
            Command::ExportFolder => self.ask_path(Purpose::ExportFolder),
            Command::CloseShop => self.close_shop(),
            Command::Quit => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            Command::Undo | Command::Redo => self.step(command),
            Command::TypeDay => self.view.typed_day = Some(TypedDay::default()),
            Command::DayBack => self.look(|day| day.checked_sub_days(Days::new(1))),
            Command::DayForward => self.look(|day| day.checked_add_days(Days::new(1))),
            Command::MonthBack => self.look(|day| day.checked_sub_months(Months::new(1))),
            Command::MonthForward => self.look(|day| day.checked_add_months(Months::new(1))),
            Command::Present => self.look(|_| Some(NaiveDate::MAX)),
            Command::Renew => {
                if let Some(document) = &mut self.document {
                    document.renew(self.today);
                }
            }
            Command::StopUpdating => {
                if let Some(worker) = &mut self.worker {
                    worker.stop();
                }
            }
            Command::LearnAnew => self.learn_anew = true,
            Command::SwitchTheme => {
                let dark = ctx.theme() == egui::Theme::Dark;
                self.set_colours(ctx, if dark { Colours::Light } else { Colours::Dark });
            }
            Command::ThemeAutomatic => self.set_colours(ctx, Colours::Automatic),
            Command::ThemeLight => self.set_colours(ctx, Colours::Light),
            Command::ThemeDark => self.set_colours(ctx, Colours::Dark),
            Command::Larger => self.set_scale(ctx, self.preferences.scale_percent + SCALE_STEP),
            Command::Smaller => self.set_scale(ctx, self.preferences.scale_percent.saturating_sub(SCALE_STEP)),
            Command::UsualSize => self.set_scale(ctx, 100),
            Command::Menu => Popup::toggle_id(ctx, menu::id()),
            Command::Keys => self.view.keys_shown = !self.view.keys_shown,
        }
    }

    /// Goes to a page; what was merely said about the one before goes.
    pub(super) fn go(&mut self, page: Page) {
        self.view.keys_shown = false;
        self.notices.forget_said();
        self.view.go(page);
    }

    fn step(&mut self, command: Command) {
        let stamp = self.stamp();
        let Some(document) = &mut self.document else { return };
        if command == Command::Undo { document.undo(stamp) } else { document.redo(stamp) }
    }

    fn look(&mut self, from_day: impl Fn(NaiveDate) -> Option<NaiveDate>) {
        let Some(document) = &mut self.document else { return };
        if let Some(day) = from_day(document.day()) {
            document.look_as_of(day, self.today);
        }
    }

    fn close_shop(&mut self) {
        if let Some(document) = self.document.take() {
            self.leave(document);
        }
        self.path_line = None;
        self.start_pages(Page::Welcome);
    }

    fn set_colours(&mut self, ctx: &egui::Context, colours: Colours) {
        self.preferences.colours = colours;
        self.apply_colours(ctx);
        // the frame that is under way has its colours already: another one shows the new ones
        ctx.request_repaint();
        self.store_preferences();
    }

    fn apply_colours(&self, ctx: &egui::Context) {
        ctx.set_theme(match self.preferences.colours {
            Colours::Automatic => ThemePreference::System,
            Colours::Light => ThemePreference::Light,
            Colours::Dark => ThemePreference::Dark,
        });
    }

    fn set_scale(&mut self, ctx: &egui::Context, percent: u32) {
        self.preferences.scale_percent = percent.clamp(SCALE_MIN, SCALE_MAX);
        ctx.set_zoom_factor(self.preferences.scale_percent as f32 / 100.0);
        self.store_preferences();
    }

    /// Colours and scale as they were left; a first start keeps what the window came up with.
    pub(super) fn apply_preferences(&mut self, ctx: &egui::Context) {
        self.due = super::DuePage::new(self.preferences.due.clone());
        self.orders = super::OrdersPage::new(self.preferences.orders.clone());
        if self.preferences.colours != Colours::Automatic {
            self.apply_colours(ctx);
        }
        if self.preferences.scale_percent != 100 {
            ctx.set_zoom_factor(self.preferences.scale_percent as f32 / 100.0);
        }
    }

    /// Keeps order, groups and axis of the lists as soon as they change.
    pub(super) fn keep_views(&mut self) {
        let (due, orders) = (self.due.view.kept(), self.orders.view.kept());
        if due != self.preferences.due || orders != self.preferences.orders {
            (self.preferences.due, self.preferences.orders) = (due, orders);
            self.store_preferences();
        }
    }

    pub(super) fn store_preferences(&mut self) {
        if let Err(error) = self.preferences.store(&self.outside.folders) {
            let place = self.outside.folders.shown(&self.outside.folders.config);
            self.notices.trouble(&format!("the preferences could not be kept: {error}: {place}"));
        }
    }

    /// Does what was asked for in the head.
    pub(super) fn asked_in_head(&mut self, ctx: &egui::Context, asked: Option<Asked>) {
        match asked {
            Some(Asked::Run(command)) => self.run(ctx, command),
            Some(Asked::OpenRecent(path)) => self.open_path(ctx, path),
            Some(Asked::LookAsOf(day)) => self.requests.push(Request::LookAsOf(day)),
            None => {}
        }
    }

    /// Does what the pages asked for, in their order.
    pub(super) fn drain_requests(&mut self, ctx: &egui::Context) {
        let requests = self.requests.take();
        if !requests.is_empty() {
            ctx.request_repaint();
        }
        for request in requests {
            match request {
                Request::Perform(action) => self.perform(action),
                Request::Go(page) => self.go(page),
                Request::Back => self.view.back(),
                Request::OpenForm(form) => self.open_form(form),
                Request::CloseForm => self.forms.close(),
                Request::WhatIf(of) => self.begin_what_if(of),
                Request::LookAsOf(day) => self.look(|_| Some(day)),
                Request::ExportList => self.run(ctx, Command::ExportList),
                Request::ExportParts => self.ask_path(Purpose::ExportParts),
                Request::Run(command) => self.run(ctx, command),
                Request::Plan(ask) => self.plan_ask(ctx, ask),
                Request::Notice(sentence) => self.notices.said(&sentence),
                Request::Trouble(sentence) => self.notices.trouble(&sentence),
            }
        }
    }

    /// What stands in an open form is kept until the what-if ends.
    fn begin_what_if(&mut self, of: crate::what_if::Of) {
        self.forms.close();
        self.notices.forget_said();
        self.what_if.begin(of);
    }

    pub(super) fn perform(&mut self, action: Box<Action>) {
        if let Some(closed) = self.entry_closed() {
            self.notices.trouble(&closed);
            return;
        }
        self.notices.forget_said();
        self.recorded_of = spindle_of(&action);
        let stamp = self.stamp();
        if let Some(document) = &mut self.document {
            document.perform(action, stamp);
        }
    }

    fn open_form(&mut self, form: crate::pages::Form) {
        if let Some(closed) = self.entry_closed() {
            if self.what_if.is_on() {
                self.notices.trouble(&closed);
            } else {
                self.notices.trouble_with(&closed, Command::Present);
            }
            return;
        }
        if let Some(context) =
            super::situation::context(self.document.as_ref(), &self.results, self.worker.as_ref(), None)
        {
            self.notices.forget_said();
            self.forms.open(form, &context);
        }
    }
}

/// The spindle of which a reading or a service is recorded.
const fn spindle_of(action: &Action) -> Option<SpindleId> {
    match action {
        Action::Reading(Recording::Record(reading) | Recording::Correct(_, reading, _)) => Some(reading.spindle),
        Action::RecordService(service, _)
        | Action::Service(Recording::Record(service) | Recording::Correct(_, service, _)) => Some(service.spindle),
        _ => None,
    }
}
