//! The window without a display: fixed size, colours, time and folders; driven through the names
//! that a screen reader reads.

use chrono::{NaiveDate, NaiveDateTime};
use drawbar_almanac::app::{App, Surroundings};
use drawbar_almanac::path_picker::{PathPicker, Pick};
use drawbar_almanac::preferences::Folders;
use drawbar_almanac::theme;
use eframe::egui::{Context, Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// How long anything may take on a loaded machine before a test gives up.
const PATIENCE: Duration = Duration::from_secs(60);

/// Noon of a Monday in March.
#[must_use]
pub fn usual_time() -> NaiveDateTime {
    NaiveDate::from_ymd_opt(2026, 3, 2).and_then(|day| day.and_hms_opt(12, 0, 0)).unwrap_or_default()
}

/// A dialog that answers at once with what the test wants.
#[derive(Debug, Default)]
struct FixedAnswer(Option<PathBuf>);

impl PathPicker for FixedAnswer {
    fn pick(&mut self, ctx: &Context, _question: Pick) -> Receiver<Option<PathBuf>> {
        let (sender, answer) = channel();
        let _open = sender.send(self.0.clone());
        ctx.request_repaint();
        answer
    }
}

/// How a window starts.
#[derive(Debug)]
pub struct Start {
    /// Size in points.
    pub size: [f32; 2],
    /// Colours.
    pub theme: Theme,
    /// What stands for now.
    pub now: NaiveDateTime,
    /// What the path dialog answers.
    pub dialog: Option<PathBuf>,
}

impl Default for Start {
    fn default() -> Self {
        Self { size: [1280.0, 800.0], theme: Theme::Light, now: usual_time(), dialog: None }
    }
}

/// A window with folders of its own.
pub struct Window {
    /// The harness, for what is not here.
    pub harness: Harness<'static, App>,
    folder: PathBuf,
}

impl Window {
    /// A window whose config, data and home folders lie in `folder`, opened on a path or none.
    #[must_use]
    pub fn open(folder: &Path, path: Option<PathBuf>) -> Self {
        Self::open_with(folder, path, Start::default())
    }

    /// The same, started another way.
    #[must_use]
    pub fn open_with(folder: &Path, path: Option<PathBuf>, start: Start) -> Self {
        let folders = Folders {
            config: folder.join("config"),
            data: folder.join("data"),
            home: folder.to_owned(),
            current: folder.to_owned(),
        };
        let Start { size, theme, now, dialog } = start;
        let harness = Harness::builder()
            .with_size(size)
            .with_theme(theme)
            .with_max_steps(12)
            .with_context_setup(theme::install)
            .build_eframe(move |creation| {
                let outside = Surroundings {
                    clock: Box::new(move || now),
                    folders,
                    who: "tester".to_owned(),
                    picker: Box::new(FixedAnswer(dialog)),
                };
                App::new(&creation.egui_ctx, outside, path)
            });
        let mut window = Self { harness, folder: folder.to_owned() };
        window.settle();
        window
    }

    /// The folder of this window.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Goes on until nothing is on its way and the window has come to rest.
    ///
    /// # Panics
    /// It does not within a minute.
    #[track_caller]
    pub fn settle(&mut self) {
        let begun = Instant::now();
        let mut restless = 0;
        loop {
            let ran = self.harness.try_run();
            match (ran, self.harness.state().is_busy()) {
                (Ok(_), false) => return,
                // at rest and yet it paints on and on: says so, but not of work that ended just now
                (Err(error), false) => {
                    restless += 1;
                    assert!(restless < 3, "{error}");
                }
                (_, true) => restless = 0,
            }
            assert!(begun.elapsed() < PATIENCE, "the window does not come to rest");
            std::thread::sleep(Duration::from_millis(5));
            self.harness.step();
        }
    }

    /// Presses a key.
    #[track_caller]
    pub fn key(&mut self, key: Key) {
        self.harness.key_press(key);
        self.settle();
    }

    /// Presses a key together with others.
    #[track_caller]
    pub fn keys(&mut self, modifiers: Modifiers, key: Key) {
        self.harness.key_press_modifiers(modifiers, key);
        self.settle();
    }

    /// Presses Ctrl and a key.
    #[track_caller]
    pub fn ctrl(&mut self, key: Key) {
        self.keys(Modifiers::COMMAND, key);
    }

    /// Types into the field of that name in place of what stands there.
    #[track_caller]
    pub fn type_into(&mut self, field: &str, text: &str) {
        self.harness.get_by_role_and_label(Role::TextInput, field).focus();
        self.harness.run();
        self.ctrl(Key::A);
        self.harness.get_by_role_and_label(Role::TextInput, field).type_text(text);
        self.settle();
    }

    /// Clicks the button of that name.
    #[track_caller]
    pub fn click(&mut self, name: &str) {
        self.harness.get_by_role_and_label(Role::Button, name).click();
        self.settle();
    }

    /// Whether something of that name is on the screen.
    #[must_use]
    pub fn shows(&self, name: &str) -> bool {
        self.harness.query_all_by_label(name).next().is_some()
    }

    /// Whether something is on the screen whose name holds that text.
    #[must_use]
    pub fn says(&self, part: &str) -> bool {
        self.harness.query_all_by_label_contains(part).next().is_some()
    }

    /// Whether a button can be pressed.
    #[must_use]
    #[track_caller]
    pub fn is_enabled(&self, button: &str) -> bool {
        !self.harness.get_by_role_and_label(Role::Button, button).accesskit_node().is_disabled()
    }

    /// Everything on the screen that has a name, for the message of a failing test.
    #[must_use]
    pub fn all_names(&self) -> Vec<String> {
        self.harness
            .query_all_by(|node| node.label().is_some() || node.value().is_some())
            .filter_map(|node| node.accesskit_node().label().or_else(|| node.accesskit_node().value()))
            .collect()
    }

    /// Fails with all names where nothing on the screen says that.
    #[track_caller]
    pub fn must_say(&self, part: &str) {
        assert!(self.says(part), "nothing says '{part}'; on the screen: {:#?}", self.all_names());
    }

    /// Fails where something on the screen says that.
    #[track_caller]
    pub fn must_not_say(&self, part: &str) {
        assert!(!self.says(part), "'{part}' is on the screen");
    }

    /// Closes the window as its frame does.
    pub fn close(self) {
        let mut app = self.harness.into_state();
        eframe::App::on_exit(&mut app, None);
    }
}
