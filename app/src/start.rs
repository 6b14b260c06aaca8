//! Starting the window, and one sentence where that does not work; never a panic message.

use crate::app::{App, PROGRAM, Surroundings};
use crate::theme;
use eframe::egui::{IconData, ViewportBuilder};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Why there is no window (any more).
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoWindow {
    /// There is no display: what can be said without one is said without one.
    #[error("there is no display, so this is the due list instead of the window")]
    NoDisplay,
    /// A library of the system is missing; the text names the package.
    #[error("{0}")]
    MissingLibrary(&'static str),
    /// The system refused a window for another reason.
    #[error("the window could not be opened: {0}; the commands work without one, see --help")]
    Refused(String),
    /// A fault in the program.
    #[error("a fault in the program closed the window ({0}); what was entered is saved")]
    Fault(String),
}

const NO_X_LIBRARIES: &str = "the window needs libraries of X11 that are not installed: \
    apt-get install libx11-6 libx11-xcb1 libxcursor1 libxi6; the commands work without them, see --help";
const NO_KEYBOARD_LIBRARY: &str = "the window needs a keyboard library that is not installed: \
    apt-get install libxkbcommon-x11-0; the commands work without it, see --help";
const NO_GRAPHICS: &str = "the window needs OpenGL, which is not installed or not available: \
    apt-get install libegl1 libgl1-mesa-dri; the commands work without it, see --help";

/// Opens the window and stays in it until it is closed.
///
/// # Errors
/// [`NoWindow`], each one sentence.
pub fn window(path: Option<PathBuf>) -> Result<(), NoWindow> {
    let is_up = Arc::new(AtomicBool::new(false));
    let message = Arc::new(Mutex::new(None));
    let kept = Arc::clone(&message);
    let usual = std::panic::take_hook();
    // The window system's crates panic where a library is missing; the user gets a sentence.
    std::panic::set_hook(Box::new(move |panic| {
        let mut first = kept.lock().unwrap_or_else(PoisonError::into_inner);
        first.get_or_insert_with(|| {
            let place = panic.location().map(|place| format!(" at {}:{}", place.file(), place.line()));
            format!("{}{}", panic.payload_as_str().unwrap_or("no message"), place.unwrap_or_default())
        });
    }));
    let came_up = Arc::clone(&is_up);
    let ran = catch_unwind(AssertUnwindSafe(|| run(path, came_up)));
    std::panic::set_hook(usual);
    match ran {
        Ok(Ok(())) => Ok(()),
        Ok(Err(error)) => Err(why_refused(&error)),
        Err(_panic) => {
            let message = message.lock().unwrap_or_else(PoisonError::into_inner).take().unwrap_or_default();
            Err(why_panicked(&message, is_up.load(Ordering::Relaxed)))
        }
    }
}

fn run(path: Option<PathBuf>, came_up: Arc<AtomicBool>) -> eframe::Result {
    let viewport = ViewportBuilder::default()
        .with_title(PROGRAM)
        .with_app_id("drawbar-almanac")
        .with_inner_size([1280.0, 800.0])
        .with_min_inner_size([900.0, 560.0])
        .with_drag_and_drop(true)
        .with_icon(icon());
    let options = eframe::NativeOptions { viewport, ..Default::default() };
    eframe::run_native(
        "drawbar-almanac",
        options,
        Box::new(move |creation| {
            came_up.store(true, Ordering::Relaxed);
            theme::install(&creation.egui_ctx);
            Ok(Box::new(App::new(&creation.egui_ctx, Surroundings::of_system(), path)))
        }),
    )
}

fn why_refused(error: &eframe::Error) -> NoWindow {
    let text = error.to_string();
    match error {
        _ if text.contains("xlib") || text.contains("shared librar") => NoWindow::MissingLibrary(NO_X_LIBRARIES),
        eframe::Error::WinitEventLoop(_) => NoWindow::NoDisplay,
        eframe::Error::NoGlutinConfigs(..) | eframe::Error::Glutin(_) | eframe::Error::OpenGL(_) => {
            NoWindow::MissingLibrary(NO_GRAPHICS)
        }
        _ => NoWindow::Refused(text),
    }
}

fn why_panicked(message: &str, was_up: bool) -> NoWindow {
    let lower = message.to_lowercase();
    if was_up {
        NoWindow::Fault(message.to_owned())
    } else if lower.contains("xkbcommon") {
        NoWindow::MissingLibrary(NO_KEYBOARD_LIBRARY)
    } else if lower.contains("egl") || lower.contains("glutin") || lower.contains("opengl") {
        NoWindow::MissingLibrary(NO_GRAPHICS)
    } else if lower.contains("x11") || lower.contains("xlib") || lower.contains("xcb") {
        NoWindow::MissingLibrary(NO_X_LIBRARIES)
    } else {
        NoWindow::Refused(message.to_owned())
    }
}

/// The sign as the window's icon: two zigzag lines on paper.
fn icon() -> IconData {
    const SIDE: usize = 64;
    const WAVES: f32 = 3.0;
    let mut rgba = Vec::with_capacity(SIDE * SIDE * 4);
    for y in 0..SIDE {
        for x in 0..SIDE {
            let (x, y) = (x as f32 / SIDE as f32, y as f32 / SIDE as f32);
            let phase = ((x - 0.08) / 0.84 * WAVES).rem_euclid(1.0);
            let up = 1.0 - (2.0 * phase - 1.0).abs();
            let inside = (0.08..=0.92).contains(&x);
            let on_line = |level: f32| (y - (0.2 + 0.6 * level)).abs() < 0.09;
            let is_ink = inside && (on_line(up) || on_line(1.0 - up));
            rgba.extend(if is_ink { theme::ICON_INK } else { theme::ICON_PAPER });
        }
    }
    IconData { rgba, width: SIDE as u32, height: SIDE as u32 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_library_is_named_with_its_package() {
        let message = "Library libxkbcommon-x11.so could not be loaded. at src/x11.rs:59";
        assert_eq!(why_panicked(message, false), NoWindow::MissingLibrary(NO_KEYBOARD_LIBRARY));
        assert!(matches!(why_panicked("index out of bounds", true), NoWindow::Fault(_)));
        assert!(matches!(why_panicked("libEGL.so.1 not found", false), NoWindow::MissingLibrary(NO_GRAPHICS)));
    }
}
