//! Files: opening, dropping, and the line in which a path is typed.

use super::App;
use super::orders_out::OrdersAs;
use crate::document::{Naming, OpenWhat, Opening, open};
use crate::pages::import::{self, Against};
use crate::pages::{Page, Request, welcome};
use crate::task::Task;
use crate::widgets::path_line::{Answer, PathLine, Purpose};
use almanac_core::actions::Action;
use almanac_core::store::StepStamp;
use eframe::egui;
use std::path::{Path, PathBuf};
use std::sync::Arc;

impl App {
    /// Who does something, and when.
    pub(super) fn stamp(&self) -> StepStamp {
        StepStamp { at: (self.outside.clock)(), who: self.outside.who.clone() }
    }

    /// Opens a file or folder.
    pub(super) fn open_path(&mut self, ctx: &egui::Context, path: PathBuf) {
        let path = std::path::absolute(&path).unwrap_or(path);
        if self.document.as_ref().is_some_and(|document| document.path() == path) {
            self.notices.said("this shop is open already");
            self.path_line = None;
            return;
        }
        let what = format!("opening {}", file_name(&path));
        self.start_opening(ctx, OpenWhat::Path(path.clone()), what, path);
    }

    /// Starts opening on a thread of its own.
    pub(super) fn start_opening(&mut self, ctx: &egui::Context, what: OpenWhat, words: String, path: PathBuf) {
        if let Some((running, _)) = &self.opening {
            running.stop();
        }
        let opening = Opening {
            what,
            folders: self.outside.folders.clone(),
            stamp: self.stamp(),
            today: self.today,
            revisions: self.revisions.clone(),
        };
        self.refused = None;
        self.path_line = None;
        match Task::start(ctx, "opening", words, move |pulse| open(&opening, pulse)) {
            Ok(task) => self.opening = Some((task, path)),
            Err(sentence) => self.notices.trouble(&sentence),
        }
    }

    /// Opens the line in which a path is typed, with a likely path in it.
    pub(super) fn ask_path(&mut self, purpose: Purpose) {
        let folders = &self.outside.folders;
        let folder = self.preferences.last_folder.clone().unwrap_or_else(|| folders.home.clone());
        let in_folder = |name: &str| folders.shown(&folder.join(name));
        let as_of = self.document.as_ref().map(|document| document.snapshot().as_of).unwrap_or(self.today);
        let text = match purpose {
            Purpose::Open | Purpose::OpenFolder | Purpose::Import => in_folder(""),
            Purpose::SaveAs => in_folder(&format!("{}.almanac", self.plain_name())),
            Purpose::Backup => in_folder(&format!("{}-{as_of}.almanac", self.plain_name())),
            Purpose::ExportList => in_folder("work-orders.csv"),
            Purpose::ExportCalendar => in_folder("services.ics"),
            Purpose::ExportParts => in_folder("parts-to-order.csv"),
            Purpose::ExportFolder => in_folder(&format!("{}-{as_of}", self.plain_name())),
        };
        self.view.keys_shown = false;
        self.path_line = Some(PathLine::new(purpose, text));
    }

    /// The shop's name as a file name: lower case, hyphens.
    fn plain_name(&self) -> String {
        let name = self.document.as_ref().map(|document| document.snapshot().whole.settings.name.to_lowercase());
        let words: Vec<String> = name
            .unwrap_or_default()
            .split(|letter: char| !letter.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_owned)
            .collect();
        if words.is_empty() { "shop".to_owned() } else { words.join("-") }
    }

    /// Draws the path line and does what was typed in it.
    pub(super) fn path_line_ui(&mut self, ui: &mut egui::Ui) {
        let Some(line) = &mut self.path_line else { return };
        match line.ui(ui, &self.outside.folders) {
            Answer::Open => {}
            Answer::Left => self.path_line = None,
            Answer::Browse(question) => line.wait_for(self.outside.picker.pick(ui.ctx(), question)),
            Answer::Path(purpose, path) => self.path_given(ui.ctx(), purpose, path),
        }
    }

    fn path_given(&mut self, ctx: &egui::Context, purpose: Purpose, path: PathBuf) {
        let folder = if path.is_dir() { Some(path.as_path()) } else { path.parent() };
        if let Some(folder) = folder.filter(|folder| folder.is_dir()) {
            self.preferences.last_folder = Some(folder.to_owned());
            self.store_preferences();
        }
        if matches!(purpose, Purpose::Open | Purpose::OpenFolder | Purpose::Import) && !path.exists() {
            let sentence = format!("There is nothing at {}", self.outside.folders.shown(&path));
            if let Some(line) = &mut self.path_line {
                line.refuse(sentence);
            }
            return;
        }
        match purpose {
            Purpose::Open | Purpose::OpenFolder => self.open_path(ctx, path),
            Purpose::Import => self.look_through(ctx, vec![path]),
            Purpose::ExportList => self.write_orders(ctx, path, OrdersAs::List),
            Purpose::ExportCalendar => self.write_orders(ctx, path, OrdersAs::Calendar),
            Purpose::ExportParts => self.write_parts(ctx, path),
            Purpose::SaveAs | Purpose::Backup | Purpose::ExportFolder => {
                let Some(document) = &mut self.document else { return };
                match purpose {
                    Purpose::SaveAs => document.save_as(path),
                    Purpose::Backup => document.backup(path),
                    _ => document.export_folder(path),
                }
            }
        }
    }

    /// Files dropped on the window: a shop file is opened; CSV files and folders are imported into
    /// the open shop, or opened as a shop of their own.
    pub(super) fn take_dropped(&mut self, ctx: &egui::Context) {
        let paths: Vec<PathBuf> = ctx.input_mut(|input| {
            std::mem::take(&mut input.raw.dropped_files).into_iter().map(|file| file.path().to_owned()).collect()
        });
        let Some(first) = paths.first() else { return };
        let is_shop_file = first.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("almanac"));
        if is_shop_file || (self.document.is_none() && paths.len() == 1) {
            self.open_path(ctx, first.clone());
        } else if self.document.is_none() {
            let words = format!("opening {} files", paths.len());
            self.start_opening(ctx, OpenWhat::Paths(paths.clone()), words, first.clone());
        } else {
            self.look_through(ctx, paths);
        }
    }

    /// Reads files for the import page.
    pub(super) fn look_through(&mut self, ctx: &egui::Context, paths: Vec<PathBuf>) {
        self.path_line = None;
        if let Some(closed) = self.entry_closed() {
            self.notices.trouble(&closed);
            return;
        }
        if let Some(against) = self.against() {
            self.import.start(ctx, paths, against);
            self.go(Page::Import);
        }
    }

    /// The shop against which an import is read.
    fn against(&self) -> Option<Against> {
        let snapshot = self.document.as_ref()?.snapshot();
        Some(Against { shop: Arc::clone(&snapshot.whole), revision: snapshot.revision, today: self.today })
    }

    /// What was asked for on the import page.
    pub(super) fn asked_in_import(&mut self, ctx: &egui::Context, asked: Option<import::Asked>) {
        let reads_again = matches!(asked, Some(import::Asked::ReadAgain)) || self.import.wants_reading();
        if let (true, Some(against)) = (reads_again, self.against()) {
            self.import.read_files(ctx, against);
            ctx.request_repaint();
        }
        match asked {
            Some(import::Asked::Write(batch)) => self.requests.perform(Action::Import(batch)),
            Some(import::Asked::Leave) => self.requests.push(Request::Back),
            Some(import::Asked::ReadAgain) | None => {}
        }
    }

    /// What was asked for on the welcome page.
    pub(super) fn asked_in_welcome(&mut self, ctx: &egui::Context, asked: welcome::Asked) {
        match asked {
            welcome::Asked::Run(command) => self.run(ctx, command),
            welcome::Asked::OpenRecent(path) => self.open_path(ctx, path),
            welcome::Asked::Stop => {
                if let Some((opening, _)) = &self.opening {
                    opening.stop();
                }
            }
        }
    }

    /// Ctrl S: all is saved already, or asks for a name.
    pub(super) fn save(&mut self) {
        let Some(document) = &self.document else { return };
        match (document.naming(), document.saved_at()) {
            (Naming::Untitled, _) => self.ask_path(Purpose::SaveAs),
            (Naming::Named, at) => {
                let at = at.map(|at| format!(", last at {}", at.format("%H:%M"))).unwrap_or_default();
                let path = self.outside.folders.shown(document.path());
                self.notices.said(&format!("everything is saved as it is typed{at}: {path}"));
            }
        }
    }
}

pub(super) fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}
