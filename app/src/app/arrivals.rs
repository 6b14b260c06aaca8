//! What comes in from the threads, once a frame.

use super::App;
use crate::command::Command;
use crate::document::{Answer, Change, Document, Naming};
use crate::pages::Page;
use crate::pages::welcome::Refused;
use crate::task::Outcome;
use crate::widgets::path_line::Purpose;
use crate::worker::{Job, Learning, News};
use almanac_core::due::Mark;
use almanac_core::words;
use eframe::egui;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

impl App {
    /// Takes in what the threads have ready.
    pub(super) fn take_arrivals(&mut self, ctx: &egui::Context) {
        self.take_opened(ctx);
        self.take_answers();
        self.take_figures();
        self.what_if.take_answers();
        self.take_plans();
        self.take_errands();
        self.closing.retain(|thread| !thread.is_finished());
    }

    fn take_opened(&mut self, ctx: &egui::Context) {
        let Some((opening, path)) = &self.opening else { return };
        let result = match opening.poll() {
            Outcome::Running => return,
            Outcome::Done(result) => result,
            Outcome::Lost => Err(format!("a fault in the program while {}", opening.what)),
        };
        let path = path.clone();
        self.opening = None;
        let opened = match result {
            Ok(Some(opened)) => opened,
            Ok(None) => {
                self.notices.said("stopped; nothing was opened");
                return;
            }
            Err(sentence) => {
                self.preferences.forget(&path);
                self.store_preferences();
                self.refuse_opening(&sentence, &path);
                return;
            }
        };
        let said = opened.said.clone();
        let look_through = opened.look_through.clone();
        match Document::start(ctx, opened, &self.revisions) {
            Ok(document) => self.take_over(document),
            Err(sentence) => self.notices.trouble(&sentence),
        }
        for sentence in said {
            self.notices.said(&sentence);
        }
        if !look_through.is_empty() {
            self.look_through(ctx, look_through);
        }
    }

    /// A file that cannot be opened: on the welcome page where no shop is open, else as a notice.
    fn refuse_opening(&mut self, sentence: &str, path: &Path) {
        if self.document.is_none() {
            let sentence = almanac_core::words::capital(sentence);
            self.refused = Some(Refused { sentence, was_left_alone: path.exists() });
        } else {
            self.notices.trouble(sentence);
        }
    }

    /// Another document takes the place of the open one.
    fn take_over(&mut self, document: Document) {
        if let Some(left) = self.document.take() {
            self.leave(left);
        }
        self.preferences.remember(document.path(), &document.snapshot().whole.settings.name);
        self.store_preferences();
        self.document = Some(document);
        self.refused = None;
        self.path_line = None;
        self.start_pages(Page::Due);
    }

    /// Everything that belonged to the shop before goes.
    pub(super) fn start_pages(&mut self, page: Page) {
        self.results.clear();
        self.what_if = super::WhatIfMode::default();
        if let Some(worker) = &mut self.worker {
            worker.give_up();
        }
        self.notices.clear();
        self.due = super::DuePage::new(self.preferences.due.clone());
        self.orders = super::OrdersPage::new(self.preferences.orders.clone());
        self.spindle = super::SpindlePage::default();
        self.shop = super::ShopPage::default();
        self.week_plan = super::WeekPlanPage::default();
        self.planner.give_up();
        self.import = super::ImportPage::default();
        self.forms = super::FormPanel::default();
        self.view.start_at(page);
    }

    /// Leaves a document: an untitled one in which nothing was changed is no longer remembered.
    pub(super) fn leave(&mut self, document: Document) {
        if document.naming() == Naming::Untitled && document.snapshot().is_untouched && !document.is_busy() {
            self.preferences.forget(document.path());
            self.store_preferences();
        } else if self.preferences.rename(document.path(), &document.snapshot().whole.settings.name) {
            self.store_preferences();
        }
        self.closing.push(document.close());
    }

    /// The title of the window names the shop.
    pub(super) fn set_title(&mut self, ctx: &egui::Context) {
        let name = self.document.as_ref().map(|document| document.snapshot().whole.settings.name.as_str());
        let title = match name {
            Some(name) if !name.is_empty() => format!("{name} \u{2013} {}", super::PROGRAM),
            _ => super::PROGRAM.to_owned(),
        };
        let title = if self.what_if.is_on() { format!("What if \u{2013} {title}") } else { title };
        if self.title != title {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.title = title;
        }
    }

    fn take_answers(&mut self) {
        let now = (self.outside.clock)();
        let Some(document) = &mut self.document else { return };
        let answers = match document.poll(now) {
            Ok(answers) => answers,
            Err(sentence) => {
                self.notices.trouble(&sentence);
                return;
            }
        };
        for answer in answers {
            self.planner.shop_answered(match &answer {
                Answer::Changed(snapshot, Change::Performed(_)) => Some(snapshot.revision),
                _ => None,
            });
            match answer {
                Answer::Changed(_, Change::Undone(label)) => self.notices.said(&format!("taken back: {label}")),
                Answer::Changed(_, Change::Redone(label)) => self.notices.said(&format!("done again: {label}")),
                Answer::Changed(snapshot, Change::Performed(changed)) => {
                    if let Some(summary) = self.import.written() {
                        self.view.go(Page::Due);
                        self.notices.said(&format!("imported: {summary}; Ctrl Z takes it back"));
                    } else if !changed {
                        self.notices.said("nothing changed: it already stood so");
                    } else if let Some(recorded) = snapshot.undo.as_deref().and_then(recorded) {
                        self.notices.said(&format!("{recorded}; Ctrl Z takes it back"));
                        self.recorded = self.recorded_of.take().map(|spindle| (recorded, spindle));
                    }
                }
                Answer::Changed(_, Change::Looked) | Answer::Kept => {}
                Answer::Failed(sentence) => {
                    if !self.import.not_written(&sentence) {
                        self.notices.trouble(&sentence);
                    }
                }
                Answer::PathFailed(sentence) => self.path_failed(&sentence),
                Answer::SavedAs(path) => {
                    self.close_path_line(&[Purpose::SaveAs]);
                    self.preferences
                        .recent
                        .retain(|known| !known.path.starts_with(&self.outside.folders.data) || known.path.exists());
                    let name = self.document.as_ref().map(|document| document.snapshot().whole.settings.name.clone());
                    self.preferences.remember(&path, &name.unwrap_or_default());
                    self.store_preferences();
                    self.notices.said(&format!("saved as {}", self.outside.folders.shown(&path)));
                }
                Answer::Wrote(what, path) => {
                    self.close_path_line(&[Purpose::Backup, Purpose::ExportFolder]);
                    self.notices.said(&format!("wrote {what}: {}", self.outside.folders.shown(&path)));
                }
            }
        }
    }

    /// A path did not do: said in the line in which it was typed.
    fn path_failed(&mut self, sentence: &str) {
        match &mut self.path_line {
            Some(line) => line.refuse(almanac_core::words::capital(sentence)),
            None => self.notices.trouble(sentence),
        }
    }

    fn close_path_line(&mut self, purposes: &[Purpose]) {
        if self.path_line.as_ref().is_some_and(|line| purposes.contains(&line.purpose())) {
            self.path_line = None;
        }
    }

    fn take_figures(&mut self) {
        let now = (self.outside.clock)();
        let Some(worker) = &mut self.worker else { return };
        for news in worker.poll() {
            match (news, &mut self.document) {
                (News::Figures(computed), _) => {
                    if let Some(sentence) = self.results.accept(computed, now) {
                        self.notices.trouble(&sentence);
                    }
                }
                (News::Learnt(fits), Some(document)) => document.keep_fits(fits),
                (News::LearningStopped, Some(document)) => {
                    document.stop_learning(true);
                    let rest = match document.fits() {
                        Some(_) => "figures rest on what was learnt before",
                        None => "dates rest on weak information from experience, to be confirmed",
                    };
                    self.notices.said_with(&format!("learning was stopped: {rest}"), Command::LearnAnew);
                }
                (News::Learnt(_) | News::LearningStopped, None) => {}
            }
        }
        self.say_new_date();
    }

    /// Adds to what was said of a reading or service what follows from it, once that is worked out.
    fn say_new_date(&mut self) {
        let Some(document) = &self.document else { return };
        let snapshot = document.snapshot();
        if document.is_busy() || !self.results.is_current(snapshot.revision) {
            return;
        }
        let Some((recorded, spindle)) = self.recorded.take() else { return };
        let row = self.results.figures().and_then(|figures| figures.due.rows.iter().find(|row| row.spindle == spindle));
        let follows = row.and_then(|row| match row.mark {
            Mark::DoNotRun | Mark::PastLimit => Some(row.mark.label().to_owned()),
            _ => row.forecast.service_by.map(|by| format!("service by {}", words::date_long(by, snapshot.as_of))),
        });
        let before = format!("{recorded}; Ctrl Z takes it back");
        if let Some(follows) = follows
            && self.notices.current().is_some_and(|notice| notice.text == before)
        {
            self.notices.said(&format!("{recorded}: {follows}; Ctrl Z takes it back"));
        }
    }

    fn take_errands(&mut self) {
        let mut running = Vec::new();
        for errand in std::mem::take(&mut self.errands) {
            match errand.poll() {
                Outcome::Running => running.push(errand),
                Outcome::Done(Ok(sentence)) => {
                    self.close_path_line(&[Purpose::ExportList, Purpose::ExportCalendar, Purpose::ExportParts]);
                    self.notices.said(&sentence);
                }
                Outcome::Done(Err(sentence)) => self.path_failed(&sentence),
                Outcome::Lost => self.notices.trouble(&format!("a fault in the program while {}", errand.what)),
            }
        }
        self.errands = running;
    }

    /// Asks the worker for figures of the shop as it stands now.
    pub(super) fn request_figures(&mut self) {
        let learn_anew = std::mem::take(&mut self.learn_anew);
        let (Some(document), Some(worker)) = (&mut self.document, &mut self.worker) else { return };
        if learn_anew {
            document.stop_learning(false);
        }
        let snapshot = document.snapshot();
        if worker.revision() < snapshot.revision || learn_anew {
            let learning = match (learn_anew, document.is_learning_stopped()) {
                (true, _) => Learning::Anew,
                (false, true) => Learning::Not,
                (false, false) => Learning::AsNeeded,
            };
            worker.request(Job {
                shop: document.id(),
                revision: snapshot.revision,
                known: Arc::clone(&snapshot.known),
                as_of: snapshot.as_of,
                fits: document.fits().cloned(),
                learning,
            });
        }
    }

    /// With a new day the present moves on; a window left open notices at midnight.
    pub(super) fn wake_at_midnight(&mut self, ctx: &egui::Context) {
        let now = (self.outside.clock)();
        if now.date() != self.today {
            self.today = now.date();
            if let Some(document) = &mut self.document {
                document.renew(self.today);
            }
        }
        let next = now.date().succ_opt().map(|day| day.and_time(chrono::NaiveTime::MIN) - now);
        if let Some(wait) = next.and_then(|wait| wait.to_std().ok()) {
            ctx.request_repaint_after(wait + Duration::from_secs(1));
        }
    }
}

/// What was recorded, from the name of its step: `Recorded reading of S-0117`.
fn recorded(step: &str) -> Option<String> {
    let said =
        [("Record ", "Recorded "), ("Correct ", "Corrected "), ("Withdraw ", "Withdrew "), ("Issue ", "Issued ")];
    said.iter().find_map(|(does, did)| step.strip_prefix(does).map(|what| format!("{did}{what}")))
}
