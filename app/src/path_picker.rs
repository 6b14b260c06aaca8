//! Choosing a path in a dialog of the desktop, away from the frame thread.

use eframe::egui;
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, channel};

/// What kind of path is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// A file that is there.
    File,
    /// A folder.
    Folder,
    /// A file to be written.
    NewFile,
}

/// A question to the desktop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pick {
    /// Title of the dialog.
    pub title: &'static str,
    /// What is wanted.
    pub wanted: Wanted,
    /// The folder to start in.
    pub folder: PathBuf,
    /// Name of a file to be written.
    pub name: String,
    /// Endings that are shown first, without the dot; empty: all.
    pub endings: &'static [&'static str],
}

/// Asks for a path; the answer comes later. `None`: nothing was chosen, or there is no dialog.
pub trait PathPicker {
    /// Asks; the context is woken with the answer.
    fn pick(&mut self, ctx: &egui::Context, question: Pick) -> Receiver<Option<PathBuf>>;
}

/// The dialogs of the desktop: its portal, or zenity.
#[derive(Debug, Default)]
pub struct DesktopDialogs;

impl PathPicker for DesktopDialogs {
    fn pick(&mut self, ctx: &egui::Context, question: Pick) -> Receiver<Option<PathBuf>> {
        let (sender, answer) = channel();
        let ctx = ctx.clone();
        let asked = std::thread::Builder::new().name("path dialog".to_owned()).spawn(move || {
            let mut dialog = rfd::FileDialog::new().set_title(question.title).set_directory(&question.folder);
            if !question.endings.is_empty() {
                dialog = dialog.add_filter(question.endings.join(", "), question.endings).add_filter("all", &["*"]);
            }
            let path = match question.wanted {
                Wanted::File => dialog.pick_file(),
                Wanted::Folder => dialog.pick_folder(),
                Wanted::NewFile => dialog.set_file_name(&question.name).save_file(),
            };
            // A path line closed meanwhile no longer waits for the answer.
            let _line_closed = sender.send(path);
            ctx.request_repaint();
        });
        // Without a thread the sender is gone, which reads like nothing chosen.
        drop(asked);
        answer
    }
}
