//! The line under the head in which a path is typed or browsed for: no box over the page.

use super::foot::{FootKey, foot_key};
use super::line_keys::{self, Ended};
use crate::path_picker::{Pick, Wanted};
use crate::preferences::Folders;
use crate::theme::{MARGIN, palette, sans, semibold, size};
use eframe::egui::{self, Id, Key, Margin, Modifiers, RichText, Stroke, vec2};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, TryRecvError};

/// What the path is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// A shop file or folder to open.
    Open,
    /// A shop folder to open as a shop without a name.
    OpenFolder,
    /// Files or a folder to import.
    Import,
    /// Where the shop goes on.
    SaveAs,
    /// Where the copy goes.
    Backup,
    /// Where the list goes.
    ExportList,
    /// Where the calendar goes.
    ExportCalendar,
    /// Where the parts list goes.
    ExportParts,
    /// Where the folder goes.
    ExportFolder,
}

impl Purpose {
    /// What stands before the field.
    #[must_use]
    pub const fn prompt(self) -> &'static str {
        match self {
            Self::Open => "Open the shop",
            Self::OpenFolder => "Open the shop folder",
            Self::Import => "Import the file or folder",
            Self::SaveAs => "Save the shop as",
            Self::Backup => "Write a backup to",
            Self::ExportList => "Write the list to",
            Self::ExportCalendar => "Write the calendar to",
            Self::ExportParts => "Write the parts list to",
            Self::ExportFolder => "Write the shop folder to",
        }
    }

    /// What Enter does.
    const fn verb(self) -> &'static str {
        match self {
            Self::Open | Self::OpenFolder => "open",
            Self::Import => "look through",
            Self::SaveAs => "save",
            Self::Backup | Self::ExportList | Self::ExportCalendar | Self::ExportParts | Self::ExportFolder => "write",
        }
    }

    /// Whether a file is written that may stand there already.
    const fn may_replace(self) -> bool {
        matches!(self, Self::ExportList | Self::ExportCalendar | Self::ExportParts)
    }

    const fn wanted(self) -> Wanted {
        match self {
            Self::Open | Self::Import => Wanted::File,
            Self::OpenFolder | Self::ExportFolder => Wanted::Folder,
            Self::SaveAs | Self::Backup | Self::ExportList | Self::ExportCalendar | Self::ExportParts => {
                Wanted::NewFile
            }
        }
    }

    const fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Open | Self::SaveAs | Self::Backup => &["almanac"],
            Self::Import | Self::ExportList | Self::ExportParts => &["csv"],
            Self::ExportCalendar => &["ics"],
            Self::OpenFolder | Self::ExportFolder => &[],
        }
    }

    /// The path that is meant: shop files get their ending.
    fn completed(self, mut path: PathBuf) -> PathBuf {
        if matches!(self, Self::SaveAs | Self::Backup) && path.extension().is_none() {
            path.set_extension("almanac");
        }
        path
    }
}

/// The open line.
#[derive(Debug)]
pub struct PathLine {
    purpose: Purpose,
    text: String,
    trouble: Option<String>,
    /// The path for which Enter once more replaces what is there.
    replaces: Option<PathBuf>,
    had_focus: bool,
    /// What stands there was proposed and nothing was typed yet.
    is_proposed: bool,
    browsing: Option<Receiver<Option<PathBuf>>>,
}

/// What came of it in this frame.
#[derive(Debug, PartialEq, Eq)]
pub enum Answer {
    /// Still typing.
    Open,
    /// Left without a path.
    Left,
    /// The dialog is wanted.
    Browse(Pick),
    /// A path.
    Path(Purpose, PathBuf),
}

fn field_id() -> Id {
    Id::unique("path being typed")
}

impl PathLine {
    /// A line with a path to start from, as it is shown.
    #[must_use]
    pub const fn new(purpose: Purpose, text: String) -> Self {
        Self { purpose, text, trouble: None, replaces: None, had_focus: false, is_proposed: true, browsing: None }
    }

    /// What it is for.
    #[must_use]
    pub const fn purpose(&self) -> Purpose {
        self.purpose
    }

    /// The path did not do; the line stays with the sentence.
    pub fn refuse(&mut self, sentence: String) {
        self.trouble = Some(sentence);
        self.had_focus = false;
    }

    /// The dialog was asked; its answer comes in here.
    pub fn wait_for(&mut self, answer: Receiver<Option<PathBuf>>) {
        self.browsing = Some(answer);
    }

    /// Draws the line.
    pub fn ui(&mut self, ui: &mut egui::Ui, folders: &Folders) -> Answer {
        let colours = palette(ui);
        let mut answer = self.take_browsed();
        let margin = Margin { left: MARGIN as i8, right: MARGIN as i8, top: 6, bottom: 6 };
        egui::Panel::top("path line")
            .resizable(false)
            .show_separator_line(false)
            .frame(egui::Frame::new().fill(colours.tint).inner_margin(margin))
            .show(ui, |ui| {
                ui.horizontal(|ui| {
                    ui.label(RichText::new(self.purpose.prompt()).font(semibold(size::BODY)));
                    if let Some(typed) = self.field(ui, folders) {
                        answer = typed;
                    }
                    ui.spacing_mut().item_spacing.x = 16.0;
                    if foot_key(ui, FootKey { printed: "Enter", does: self.purpose.verb() }, true).clicked() {
                        answer = self.accepted(folders);
                    }
                    let browse = foot_key(ui, FootKey { printed: "Ctrl B", does: "browse" }, self.browsing.is_none());
                    let key = ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, Key::B));
                    if browse.clicked() || (key && self.browsing.is_none()) {
                        answer = Answer::Browse(self.question(folders));
                    }
                    if foot_key(ui, FootKey { printed: "Esc", does: "leave" }, true).clicked() {
                        answer = Answer::Left;
                    }
                });
                if let Some(trouble) = &self.trouble {
                    ui.label(RichText::new(trouble).font(sans(size::BODY)).color(colours.act));
                }
            });
        answer
    }

    fn field(&mut self, ui: &mut egui::Ui, folders: &Folders) -> Option<Answer> {
        let colours = palette(ui);
        let keys_width = 250.0;
        let width = (ui.available_width() - keys_width).clamp(160.0, 720.0);
        let edit = egui::TextEdit::singleline(&mut self.text)
            .id(field_id())
            .font(sans(size::ENTRY))
            .align(egui::Align2::LEFT_CENTER)
            .frame(egui::Frame::new().fill(colours.field).inner_margin(Margin::symmetric(6, 3)))
            .desired_width(width);
        let response = ui.add_sized(vec2(width, 26.0), edit);
        ui.painter().hline(response.rect.x_range(), response.rect.bottom(), Stroke::new(1.5, colours.edge));
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_label(self.purpose.prompt()));
        if response.changed() {
            self.trouble = None;
            self.replaces = None;
        }
        if !self.had_focus {
            response.request_focus();
            self.had_focus = true;
            // What was proposed goes with the first letter; what was refused is typed on.
            let from = if self.is_proposed { 0 } else { self.text.chars().count() };
            select_from(ui.ctx(), response.id, from, &self.text);
            self.is_proposed = false;
            return None;
        }
        match line_keys::take(ui, &response)? {
            Ended::Enter => Some(self.accepted(folders)),
            Ended::Escape => Some(Answer::Left),
            Ended::Elsewhere => None,
        }
    }

    /// Enter: the path, or a sentence why not yet.
    fn accepted(&mut self, folders: &Folders) -> Answer {
        if self.text.trim().is_empty() {
            self.refuse("Type a path, such as ~/shop.almanac, or browse with Ctrl B".to_owned());
            return Answer::Open;
        }
        let path = self.purpose.completed(folders.resolve(&self.text));
        if self.purpose.may_replace() && path.is_file() && self.replaces.as_ref() != Some(&path) {
            self.refuse(format!("{} is already there; Enter once more replaces it", folders.shown(&path)));
            self.replaces = Some(path);
            return Answer::Open;
        }
        Answer::Path(self.purpose, path)
    }

    fn question(&self, folders: &Folders) -> Pick {
        let path = folders.resolve(&self.text);
        let folder = if path.is_dir() { Some(path.as_path()) } else { path.parent() };
        Pick {
            title: self.purpose.prompt(),
            wanted: self.purpose.wanted(),
            folder: folder.map_or_else(|| folders.home.clone(), Path::to_owned),
            name: path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default(),
            endings: self.purpose.endings(),
        }
    }

    /// What the dialog answered. A dialog that wrote the name asked about replacing by itself.
    fn take_browsed(&mut self) -> Answer {
        let Some(browsing) = &self.browsing else { return Answer::Open };
        match browsing.try_recv() {
            Err(TryRecvError::Empty) => return Answer::Open,
            Ok(Some(path)) => {
                self.browsing = None;
                return Answer::Path(self.purpose, self.purpose.completed(path));
            }
            Ok(None) | Err(TryRecvError::Disconnected) => {}
        }
        self.browsing = None;
        self.refuse("Nothing was chosen; where no dialog opens, type the path".to_owned());
        Answer::Open
    }
}

/// Selects from a letter to the end; the cursor stands at the end.
fn select_from(ctx: &egui::Context, id: Id, from: usize, text: &str) {
    let mut state = egui::TextEdit::load_state(ctx, id).unwrap_or_default();
    let (from, end) = (egui::text::CCursor::new(from), egui::text::CCursor::new(text.chars().count()));
    state.cursor.set_char_range(Some(egui::text::CCursorRange::two(from, end)));
    egui::TextEdit::store_state(ctx, id, state);
}
